//! All nodes of the floor in one socket: they answer polls and count what they get.

use std::io::{self, IoSliceMut};
use std::net::{IpAddr, Ipv4Addr, SocketAddr, UdpSocket};
use std::os::fd::AsFd;
use std::time::Duration;

use artnet_protocol::{ArtCommand, PollReply};
use litfloor::wire::PortAddress;
use litfloor::wire::dmx::HEADER;
use nix::poll::{PollFd, PollFlags, ppoll};
use nix::sys::socket::{setsockopt, sockopt};
use quinn_udp::{BATCH_SIZE, RecvMeta, Transmit, UdpSockRef, UdpSocketState};
use socket2::SockRef;

use super::console::{FIRST, STAMP};
use super::floor::universes_of;

/// Room for one datagram: its stamp and all before it. The rest is not looked at, and not copied, so
/// that the nodes leave as much time as they can to the console.
const ROOM: usize = 64;

/// What arrived.
#[derive(Debug, Default, Clone, Copy)]
pub(crate) struct Arrived {
    /// Frames that are newer than what the node had.
    pub(crate) frames: u64,
    /// The same frame once more.
    pub(crate) repeats: u64,
    /// Frames that a newer one went past.
    pub(crate) skipped: u64,
    /// Frames older than what the node had, or with a stamp that was never sent: dimmed.
    pub(crate) odd: u64,
    /// Black ones.
    pub(crate) dark: u64,
    /// When the newest came, by the kernel's clock, where it is told to say so.
    pub(crate) at: Duration,
    /// The longest time between two frames.
    pub(crate) gap: Duration,
}

pub(crate) struct Sink {
    socket: UdpSocket,
    state: UdpSocketState,
    arena: Box<[u8]>,
    newest: Vec<u32>,
    pub(crate) arrived: Arrived,
    polls: u64,
}

impl Sink {
    #[expect(clippy::disallowed_methods, reason = "it is all the nodes")]
    pub(crate) fn new(universes: u32) -> io::Result<Self> {
        let socket = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0))?;
        let _ = SockRef::from(&socket).set_recv_buffer_size(8 << 20);
        let state = UdpSocketState::new(UdpSockRef::from(&socket))?;
        // Controllers take datagrams one by one; the kernel is to cut them apart while it sends, as
        // it does for most network cards.
        setsockopt(&socket, sockopt::UdpGroSegment, &false)?;
        let _ = SockRef::from(&socket).set_recv_tos_v4(false);
        let sink = Self {
            socket,
            state,
            arena: vec![0; BATCH_SIZE * ROOM].into_boxed_slice(),
            newest: vec![FIRST; universes as usize],
            arrived: Arrived::default(),
            polls: 0,
        };
        sink.stamp(false)?;
        Ok(sink)
    }

    pub(crate) fn port(&self) -> io::Result<u16> {
        Ok(self.socket.local_addr()?.port())
    }

    /// Whether the kernel says when something arrived.
    pub(crate) fn stamp(&self, stamps: bool) -> io::Result<()> {
        Ok(setsockopt(
            &self.socket,
            sockopt::ReceiveTimestampns,
            &stamps,
        )?)
    }

    /// Forgets what arrived.
    pub(crate) fn begin(&mut self) {
        self.arrived = Arrived::default();
    }

    /// Takes what waits, and says how many datagrams that were.
    pub(crate) fn take(&mut self) -> io::Result<usize> {
        let mut metas = [RecvMeta::default(); BATCH_SIZE];
        let mut rooms = self.arena.chunks_exact_mut(ROOM);
        let mut buffers: [IoSliceMut<'_>; BATCH_SIZE] =
            std::array::from_fn(|_| IoSliceMut::new(rooms.next().unwrap_or_default()));
        let socket = UdpSockRef::from(&self.socket);
        let count = match self.state.recv(socket, &mut buffers, &mut metas) {
            Ok(count) => count,
            Err(error) if error.kind() == io::ErrorKind::WouldBlock => return Ok(0),
            Err(error) => return Err(error),
        };
        for (at, meta) in metas[..count].iter().enumerate() {
            let bytes = &self.arena[at * ROOM..][..meta.len];
            match bytes.get(8..10) {
                Some([0x00, 0x50]) if bytes.len() >= HEADER + STAMP => {
                    let universe = usize::from(u16::from_le_bytes([bytes[14], bytes[15]]));
                    let stamp = &bytes[HEADER..HEADER + STAMP];
                    let stamp = u32::from_le_bytes([stamp[0], stamp[1], stamp[2], stamp[3]]);
                    count_in(
                        &mut self.arrived,
                        self.newest.get_mut(universe),
                        stamp,
                        meta,
                    );
                }
                Some([0x00, 0x20]) => answer(&self.socket, &self.state, meta, &mut self.polls),
                _ => {}
            }
        }
        Ok(count)
    }

    /// Waits until something arrives, or so long.
    pub(crate) fn wait(&self, most: Duration) -> io::Result<()> {
        let mut fds = [PollFd::new(self.socket.as_fd(), PollFlags::POLLIN)];
        match ppoll(&mut fds, Some(most.into()), None) {
            Ok(_) | Err(nix::errno::Errno::EINTR) => Ok(()),
            Err(error) => Err(error.into()),
        }
    }
}

fn count_in(arrived: &mut Arrived, newest: Option<&mut u32>, stamp: u32, meta: &RecvMeta) {
    /// No console sends so many frames of a universe that any went past unseen.
    const MOST_SKIPPED: u32 = 1 << 16;
    let Some(newest) = newest else {
        arrived.odd += 1;
        return;
    };
    if stamp == 0 {
        arrived.dark += 1;
        return;
    }
    match stamp.wrapping_sub(*newest) {
        0 => arrived.repeats += 1,
        ahead @ 1..MOST_SKIPPED => {
            arrived.frames += 1;
            arrived.skipped += u64::from(ahead - 1);
            *newest = stamp;
            if let Some(at) = meta.timestamp {
                if !arrived.at.is_zero() {
                    arrived.gap = arrived.gap.max(at.saturating_sub(arrived.at));
                }
                arrived.at = arrived.at.max(at);
            }
        }
        _ => arrived.odd += 1,
    }
}

/// Answers a poll as the node that it was sent to: four outputs a reply.
fn answer(socket: &UdpSocket, state: &UdpSocketState, meta: &RecvMeta, polls: &mut u64) {
    let Some(IpAddr::V4(own)) = meta.dst_ip else {
        return;
    };
    *polls += 1;
    let (SocketAddr::V4(_), Ok(at)) = (meta.addr, socket.local_addr()) else {
        return;
    };
    let universes: Vec<_> = universes_of(own)
        .filter_map(|number| PortAddress::new(u16::try_from(number).ok()?))
        .collect();
    for (index, ports) in (1..).zip(universes.chunks(4)) {
        let mut reply = PollReply {
            address: own,
            port: at.port(),
            version: [1, 0],
            port_address: [ports[0].net(), ports[0].sub_net()],
            num_ports: [0, 4],
            port_types: [0x80; 4],
            good_output: [0x80; 4],
            bind_ip: own.octets(),
            bind_index: index,
            status_2: 0x08,
            ..PollReply::default()
        };
        for (field, port) in reply.swout.iter_mut().zip(ports) {
            *field = port.universe();
        }
        let Ok(bytes) = ArtCommand::PollReply(Box::new(reply)).write_to_buffer() else {
            continue;
        };
        let transmit = Transmit {
            destination: meta.addr,
            ecn: None,
            contents: &bytes,
            segment_size: None,
            src_ip: Some(IpAddr::V4(own)),
        };
        // A node that does not answer once is asked again.
        let _ = state.try_send(UdpSockRef::from(socket), &transmit);
    }
}
