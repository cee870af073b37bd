//! The calls of Linux: `recvmmsg` with UDP receive offload, and sends that the kernel cuts apart
//! (`UDP_SEGMENT`, Linux 4.18).

use std::io::{self, IoSlice, IoSliceMut};
use std::net::{Ipv4Addr, SocketAddr, SocketAddrV4, UdpSocket};

use nix::errno::Errno;
use nix::sys::socket::{setsockopt, sockopt};
use quinn_udp::{RecvMeta, UdpSockRef, UdpSocketState};
use socket2::{MsgHdr, SockAddr, SockRef};

use super::plain::send_one;
use super::{Arrived, LARGEST, MESSAGES, TOGETHER, Taken, Waiting};

/// Room for one message: as much as the kernel may put together.
const ROOM: usize = 65_535;

/// From one message's room to the next. Not a power of two, so that the beginnings of all do not
/// compete for the same lines of the cache.
const STRIDE: usize = ROOM + 1 + 9 * 64;

/// Most datagrams that the kernel cuts out of one message (`UDP_MAX_SEGMENTS` of Linux 4.18 to 6.8,
/// more since).
const LONGEST_TRAIN: usize = 64;

pub(super) struct Inbox {
    state: UdpSocketState,
    arena: Box<[u8]>,
    metas: [RecvMeta; MESSAGES],
}

impl std::fmt::Debug for Inbox {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Inbox").finish_non_exhaustive()
    }
}

impl Inbox {
    pub(super) fn new(socket: &UdpSocket) -> io::Result<Self> {
        let state = UdpSocketState::new(UdpSockRef::from(socket))?;
        // It has the kernel tell with every datagram when and where it came and of what kind it is,
        // which costs time and is not asked for here. A kernel that insists does no harm.
        let _ = setsockopt(socket, sockopt::ReceiveTimestampns, &false);
        let _ = setsockopt(socket, sockopt::Ipv4PacketInfo, &false);
        let _ = SockRef::from(socket).set_recv_tos_v4(false);
        Ok(Self {
            state,
            arena: vec![0; MESSAGES * STRIDE].into_boxed_slice(),
            metas: [RecvMeta::default(); MESSAGES],
        })
    }

    pub(super) fn receive(
        &mut self,
        socket: &UdpSocket,
        mut some: impl FnMut(&[Arrived<'_>]),
    ) -> io::Result<Taken> {
        let mut rooms = self.arena.chunks_exact_mut(STRIDE);
        let mut buffers: [IoSliceMut<'_>; MESSAGES] = std::array::from_fn(|_| {
            let room = rooms.next().unwrap_or_default();
            IoSliceMut::new(&mut room[..ROOM])
        });
        let received = self
            .state
            .recv(UdpSockRef::from(socket), &mut buffers, &mut self.metas);
        let messages = match received {
            Ok(messages) => messages,
            Err(error) if error.kind() == io::ErrorKind::WouldBlock => 0,
            Err(error) => return Err(error),
        };
        let mut taken = 0;
        let nowhere = SocketAddrV4::new(Ipv4Addr::UNSPECIFIED, 0);
        let mut together: [Arrived<'_>; TOGETHER] = [(nowhere, &[]); TOGETHER];
        let mut each = |from, bytes| {
            together[taken % TOGETHER] = (from, bytes);
            taken += 1;
            if taken.is_multiple_of(TOGETHER) {
                some(&together);
            }
        };
        for (meta, buffer) in self.metas[..messages].iter().zip(&buffers) {
            let SocketAddr::V4(from) = meta.addr else {
                continue;
            };
            if meta.len == 0 {
                each(from, &[]);
                continue;
            }
            for datagram in buffer[..meta.len].chunks(meta.stride.max(1)) {
                each(from, datagram);
            }
        }
        let rest = taken % TOGETHER;
        if rest > 0 {
            some(&together[..rest]);
        }
        Ok(Taken {
            datagrams: taken,
            // The kernel has gone on until nothing waited, or until there was no more room.
            all: messages < MESSAGES,
        })
    }
}

/// How long one header of a control message is: its own length, a level and a type.
const CONTROL_HEADER: usize = size_of::<usize>() + 2 * size_of::<i32>();

/// A control message with two bytes, up to where the next could begin.
const CONTROL: usize = (CONTROL_HEADER + 2).next_multiple_of(size_of::<usize>());

/// `SOL_UDP` and `UDP_SEGMENT`, from `linux/udp.h`.
const SOL_UDP: i32 = 17;
const UDP_SEGMENT: i32 = 103;

/// The control message that has the kernel cut a message into pieces of this length, laid out as
/// in cmsg(3).
fn cut_at(length: u16) -> [u8; CONTROL] {
    let mut control = [0; CONTROL];
    let own_length = CONTROL_HEADER + size_of::<u16>();
    let level_at = size_of::<usize>();
    control[..level_at].copy_from_slice(&own_length.to_ne_bytes());
    control[level_at..level_at + 4].copy_from_slice(&SOL_UDP.to_ne_bytes());
    control[level_at + 4..CONTROL_HEADER].copy_from_slice(&UDP_SEGMENT.to_ne_bytes());
    control[CONTROL_HEADER..own_length].copy_from_slice(&length.to_ne_bytes());
    control
}

#[derive(Debug)]
pub(super) struct Outbox {
    /// Whether the kernel and the network card cut messages apart.
    cuts: bool,
}

impl Outbox {
    pub(super) fn new() -> Self {
        Self { cuts: true }
    }

    pub(super) fn send(
        &mut self,
        socket: &UdpSocket,
        arena: &[u8],
        mut waiting: &[Waiting],
        mut refuse: impl FnMut(&Waiting, &io::Error),
    ) {
        while !waiting.is_empty() {
            let length = if self.cuts { train(waiting) } else { 1 };
            let (now, rest) = waiting.split_at(length);
            waiting = rest;
            if let [one] = now {
                if let Err(error) = send_one(socket, one.to, &arena[one.start..one.end]) {
                    refuse(one, &error);
                }
                continue;
            }
            if let Err(error) = send_train(socket, arena, now) {
                if self.not_cut(&error) {
                    super::plain::send(socket, arena, now, &mut refuse);
                } else {
                    for one in now {
                        refuse(one, &error);
                    }
                }
            }
        }
    }

    /// Whether an error is about cutting alone, so that the same datagrams may still leave one by
    /// one.
    fn not_cut(&mut self, error: &io::Error) -> bool {
        match error.raw_os_error().map(Errno::from_raw) {
            // This kernel or network card never will.
            Some(Errno::EIO | Errno::EINVAL | Errno::ENOPROTOOPT | Errno::EOPNOTSUPP) => {
                self.cuts = false;
                true
            }
            // A piece is larger than the network's packets: alone it is broken up on its way.
            Some(Errno::EMSGSIZE) => true,
            _ => false,
        }
    }
}

/// How many of the first datagrams may go as one message: to one address, all as long as the first
/// but for the last.
pub(super) fn train(waiting: &[Waiting]) -> usize {
    let Some(first) = waiting.first() else {
        return 0;
    };
    let each = first.end - first.start;
    if each == 0 {
        return 1;
    }
    let most = LONGEST_TRAIN.min(LARGEST / each).max(1);
    let alike = |one: &&Waiting| one.to == first.to && one.end - one.start == each;
    let same = waiting.iter().take(most).take_while(alike).count();
    match waiting.get(same) {
        Some(last)
            if same < most
                && last.to == first.to
                && (1..each).contains(&(last.end - last.start)) =>
        {
            same + 1
        }
        _ => same,
    }
}

fn send_train(socket: &UdpSocket, arena: &[u8], train: &[Waiting]) -> io::Result<()> {
    let [first, .., last] = train else {
        return Ok(());
    };
    let length = u16::try_from(first.end - first.start).map_err(|_| Errno::EMSGSIZE)?;
    let control = cut_at(length);
    let to = SockAddr::from(first.to);
    let bytes = [IoSlice::new(&arena[first.start..last.end])];
    let message = MsgHdr::new()
        .with_addr(&to)
        .with_buffers(&bytes)
        .with_control(&control);
    loop {
        match SockRef::from(socket).sendmsg(&message, 0) {
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            done => return done.map(|_| ()),
        }
    }
}
