//! Many datagrams in one call, in and out.
//!
//! A console sends all its universes back to back, and what costs time is the system calls. So
//! [`Inbox`] takes what waits in one call, and [`Outbox`] gathers what is to leave: consecutive
//! datagrams of one length to one address go to the system as one, which cuts them apart again (so
//! only the last may be shorter). Where the system has no such calls, both do the same one by one;
//! [`Way`] says which it is. Neither allocates once it is made, unless sending fails.
//!
//! Nothing else should send through an [`Outbox`]'s socket, or what leaves may overtake what waits.

use std::io;
use std::net::{SocketAddrV4, UdpSocket};

#[cfg(target_os = "linux")]
mod linux;
mod plain;
#[cfg(test)]
mod tests;

/// Most messages that one [`Inbox::receive`] takes. A message that the system has put together may
/// hold up to 64 datagrams.
pub const MESSAGES: usize = 32;

/// Most datagrams that an [`Inbox`] hands on at a time: few enough that all that they need finds room in
/// the nearest cache.
pub const TOGETHER: usize = 8;

/// Where a datagram is from, and its bytes.
pub type Arrived<'a> = (SocketAddrV4, &'a [u8]);

/// The largest payload of UDP over IPv4: 65,535 less the headers of IPv4 (20) and UDP (8).
pub const LARGEST: usize = 65_507;

/// Bytes that an [`Outbox`] gathers before it sends by itself, and datagrams.
const ARENA: usize = 256 << 10;
const WAITING: usize = 512;

/// How datagrams are received and sent.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// Many in one call.
    Batched,
    /// One by one, on any system.
    Plain,
}

impl Way {
    /// The best that this system has.
    pub const fn best() -> Self {
        if cfg!(target_os = "linux") {
            Self::Batched
        } else {
            Self::Plain
        }
    }

    /// What the log calls it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Batched => "batched",
            Self::Plain => "one by one",
        }
    }
}

/// Takes what waits in a socket.
#[derive(Debug)]
pub struct Inbox(Taking);

#[derive(Debug)]
enum Taking {
    #[cfg(target_os = "linux")]
    Batched(Box<linux::Inbox>),
    Plain(plain::Inbox),
}

impl Inbox {
    /// For this socket, which is made non-blocking. Falls back to [`Way::Plain`] where the other
    /// can't be had.
    ///
    /// # Errors
    /// When the socket can't be made non-blocking.
    pub fn new(socket: &UdpSocket, way: Way) -> io::Result<Self> {
        socket.set_nonblocking(true)?;
        #[cfg(target_os = "linux")]
        if way == Way::Batched {
            match linux::Inbox::new(socket) {
                Ok(inbox) => return Ok(Self(Taking::Batched(Box::new(inbox)))),
                Err(error) => tracing::warn!(%error, "datagrams can't be received in batches"),
            }
        }
        let _ = way;
        Ok(Self(Taking::Plain(plain::Inbox::new())))
    }

    /// How it receives.
    pub const fn way(&self) -> Way {
        match &self.0 {
            #[cfg(target_os = "linux")]
            Taking::Batched(_) => Way::Batched,
            Taking::Plain(_) => Way::Plain,
        }
    }

    /// Hands on what waits, in the order of its arrival, at most [`MESSAGES`] messages, and at most
    /// [`TOGETHER`] datagrams with where they are from at a time.
    ///
    /// # Errors
    /// What the system says, when nothing was received.
    pub fn receive(
        &mut self,
        socket: &UdpSocket,
        some: impl FnMut(&[Arrived<'_>]),
    ) -> io::Result<Taken> {
        match &mut self.0 {
            #[cfg(target_os = "linux")]
            Taking::Batched(inbox) => inbox.receive(socket, some),
            Taking::Plain(inbox) => inbox.receive(socket, some),
        }
    }
}

/// What an [`Inbox`] has taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Taken {
    /// How many datagrams.
    pub datagrams: usize,
    /// Whether nothing more waited.
    pub all: bool,
}

/// A datagram that waits in an [`Outbox`].
#[derive(Debug, Clone, Copy)]
struct Waiting {
    to: SocketAddrV4,
    start: usize,
    end: usize,
}

/// Gathers what is to leave.
#[derive(Debug)]
pub struct Outbox {
    arena: Vec<u8>,
    waiting: Vec<Waiting>,
    refused: Vec<(SocketAddrV4, io::Error)>,
    sending: Sending,
}

#[derive(Debug)]
enum Sending {
    #[cfg(target_os = "linux")]
    Batched(linux::Outbox),
    Plain,
}

impl Outbox {
    /// Empty.
    pub fn new(way: Way) -> Self {
        let sending = match way {
            #[cfg(target_os = "linux")]
            Way::Batched => Sending::Batched(linux::Outbox::new()),
            _ => Sending::Plain,
        };
        Self {
            arena: Vec::with_capacity(ARENA),
            waiting: Vec::with_capacity(WAITING),
            refused: Vec::new(),
            sending,
        }
    }

    /// Whether nothing waits.
    pub fn is_empty(&self) -> bool {
        self.waiting.is_empty() && self.refused.is_empty()
    }

    /// Lets a datagram of these parts wait until [`flush`](Self::flush), behind all that was put
    /// before. When there is no more room all that waits is sent first.
    pub fn put<const N: usize>(&mut self, socket: &UdpSocket, to: SocketAddrV4, parts: [&[u8]; N]) {
        let length: usize = parts.iter().map(|part| part.len()).sum();
        if self.arena.len() + length > ARENA || self.waiting.len() == WAITING {
            self.send(socket);
        }
        let start = self.arena.len();
        for part in parts {
            self.arena.extend_from_slice(part);
        }
        let end = self.arena.len();
        self.waiting.push(Waiting { to, start, end });
    }

    /// Sends all that waits and tells `refused` of every datagram since the last time that the
    /// system did not take. Nothing is waited for: what finds no room is refused.
    pub fn flush(&mut self, socket: &UdpSocket, mut refused: impl FnMut(SocketAddrV4, &io::Error)) {
        self.send(socket);
        for (to, error) in self.refused.drain(..) {
            refused(to, &error);
        }
    }

    fn send(&mut self, socket: &UdpSocket) {
        let refused = &mut self.refused;
        let refuse = |waiting: &Waiting, error: &io::Error| {
            refused.push((waiting.to, copy_of(error)));
        };
        match &mut self.sending {
            #[cfg(target_os = "linux")]
            Sending::Batched(outbox) => outbox.send(socket, &self.arena, &self.waiting, refuse),
            Sending::Plain => plain::send(socket, &self.arena, &self.waiting, refuse),
        }
        self.arena.clear();
        self.waiting.clear();
    }
}

/// The same error once more: one message may be many datagrams.
fn copy_of(error: &io::Error) -> io::Error {
    error
        .raw_os_error()
        .map_or_else(|| error.kind().into(), io::Error::from_raw_os_error)
}
