//! The bare forwarder: receives, sends on, nothing else. Where a universe goes is a division; all
//! else is what litfloor's own data plane uses.

use std::io;
use std::net::SocketAddrV4;
use std::os::fd::AsFd;

use litfloor::net::batch::{Inbox, Outbox, Way};
use litfloor::net::socket;
use nix::poll::{PollFd, PollFlags, PollTimeout, poll};

use super::floor::node_of;

/// Forwards until it is killed. Each universe goes to its node on this port.
pub(crate) fn forward(port: u16, at: SocketAddrV4, way: Way) -> io::Result<()> {
    let socket = socket::artnet(at.into()).map_err(io::Error::other)?;
    println!("Art-Net in: {}", socket.local_addr()?);
    let mut inbox = Inbox::new(&socket, way)?;
    let mut outbox = Outbox::new(way);
    loop {
        let mut fds = [PollFd::new(socket.as_fd(), PollFlags::POLLIN)];
        match poll(&mut fds, PollTimeout::NONE) {
            Ok(_) | Err(nix::errno::Errno::EINTR) => {}
            Err(error) => return Err(error.into()),
        }
        loop {
            let taken = inbox.receive(&socket, |some| {
                for (_, bytes) in some {
                    if let Some(&[low, high]) = bytes.get(14..16) {
                        let universe = u16::from_le_bytes([low, high]);
                        outbox.put(&socket, node_of(universe.into(), port), [bytes]);
                    }
                }
            })?;
            outbox.flush(&socket, |to, error| eprintln!("to {to}: {error}"));
            if taken.all {
                break;
            }
        }
    }
}
