//! One by one, as any system can.

use std::io;
use std::net::{SocketAddr, SocketAddrV4, UdpSocket};

use super::{Arrived, MESSAGES, Taken, Waiting};

#[derive(Debug)]
pub(super) struct Inbox {
    buffer: Box<[u8]>,
}

impl Inbox {
    pub(super) fn new() -> Self {
        Self {
            buffer: vec![0; usize::from(u16::MAX)].into_boxed_slice(),
        }
    }

    pub(super) fn receive(
        &mut self,
        socket: &UdpSocket,
        mut some: impl FnMut(&[Arrived<'_>]),
    ) -> io::Result<Taken> {
        let (mut taken, mut all) = (0, false);
        while taken < MESSAGES {
            match socket.recv_from(&mut self.buffer) {
                Ok((length, from)) => {
                    taken += 1;
                    if let SocketAddr::V4(from) = from {
                        some(&[(from, &self.buffer[..length])]);
                    }
                }
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(error) if error.kind() == io::ErrorKind::WouldBlock => {
                    all = true;
                    break;
                }
                // What was taken is told first; an error that lasts comes again.
                Err(_) if taken > 0 => break,
                Err(error) => return Err(error),
            }
        }
        Ok(Taken {
            datagrams: taken,
            all,
        })
    }
}

/// Sends one datagram.
pub(super) fn send_one(socket: &UdpSocket, to: SocketAddrV4, bytes: &[u8]) -> io::Result<()> {
    loop {
        match socket.send_to(bytes, to) {
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            done => return done.map(|_| ()),
        }
    }
}

pub(super) fn send(
    socket: &UdpSocket,
    arena: &[u8],
    waiting: &[Waiting],
    mut refuse: impl FnMut(&Waiting, &io::Error),
) {
    for one in waiting {
        if let Err(error) = send_one(socket, one.to, &arena[one.start..one.end]) {
            refuse(one, &error);
        }
    }
}
