//! Opening sockets, with errors that say what to do.

use std::fmt;
use std::io;
use std::net::{SocketAddr, TcpListener, UdpSocket};

use socket2::{Domain, Protocol, Socket, Type};

use super::holder::{self, Holder};

/// What a console's burst may need: all universes back to back.
const BUFFER: usize = 8 << 20;

/// With less than this, bursts of 1,024 universes lost frames when they were tried.
const ENOUGH: usize = 4 << 20;

/// What Linux reckons for one datagram of 530 bytes in a socket's buffer: a buffer of 212,992 holds
/// 166 of them.
const OF_A_FRAME: usize = 1_280;

/// A socket that could not be opened.
#[derive(Debug, thiserror::Error)]
pub enum OpenError {
    /// Another program has the port.
    #[error(
        "{what} port {address} is taken by {}. Stop that program, or choose another address with \
         {flag}.",
        by_whom(by.as_deref())
    )]
    Taken {
        /// `UDP` or `TCP`, with its use.
        what: &'static str,
        /// What was asked for.
        address: SocketAddr,
        /// The option that changes it.
        flag: &'static str,
        /// Who has it, if the system tells.
        by: Option<Box<Holder>>,
    },
    /// The address is not one of this machine's.
    #[error(
        "this machine has no address {}. Give one of its own with {flag}, or 0.0.0.0 for all.",
        address.ip()
    )]
    NotOurs {
        /// What was asked for.
        address: SocketAddr,
        /// The option that changes it.
        flag: &'static str,
    },
    /// Something else.
    #[error("{what} port {address} can't be opened: {source}")]
    Other {
        /// `UDP` or `TCP`, with its use.
        what: &'static str,
        /// What was asked for.
        address: SocketAddr,
        /// What the system says.
        source: io::Error,
    },
}

/// Who has a port, for people.
pub fn by_whom(holder: Option<&Holder>) -> String {
    holder.map_or_else(|| "another program".to_owned(), Holder::to_string)
}

fn explain(
    what: &'static str,
    kind: holder::Kind,
    address: SocketAddr,
    flag: &'static str,
) -> impl FnOnce(io::Error) -> OpenError {
    move |source| match source.kind() {
        io::ErrorKind::AddrInUse => OpenError::Taken {
            what,
            address,
            flag,
            by: holder::of(kind, address).map(Box::new),
        },
        io::ErrorKind::AddrNotAvailable => OpenError::NotOurs { address, flag },
        _ => OpenError::Other {
            what,
            address,
            source,
        },
    }
}

/// What a socket's two buffers hold, in bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Buffers {
    receiving: usize,
    sending: usize,
}

/// Asks for large buffers, and reads back what was given. The kernel gives what `net.core.rmem_max` and
/// `net.core.wmem_max` allow, and more to root; less is no fault here.
fn enlarge(socket: &Socket) -> Buffers {
    let _ = socket.set_recv_buffer_size(BUFFER);
    let _ = socket.set_send_buffer_size(BUFFER);
    #[cfg(target_os = "linux")]
    {
        use nix::sys::socket::{setsockopt, sockopt};
        let _ = setsockopt(socket, sockopt::RcvBufForce, &BUFFER);
        let _ = setsockopt(socket, sockopt::SndBufForce, &BUFFER);
    }
    // Linux doubles what it is asked for, to allow for its own bookkeeping, and tells the double
    // (socket(7)).
    let asked = |told: io::Result<usize>| {
        let told = told.unwrap_or(0);
        if cfg!(target_os = "linux") {
            told / 2
        } else {
            told
        }
    };
    Buffers {
        receiving: asked(socket.recv_buffer_size()),
        sending: asked(socket.send_buffer_size()),
    }
}

/// Buffers that a burst may run over.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SmallBuffers {
    /// How small they are, and what that means.
    pub told: String,
    /// What to do about it, where that is known.
    pub to_do: Option<String>,
}

impl fmt::Display for SmallBuffers {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.told)?;
        match &self.to_do {
            Some(to_do) => write!(f, " {to_do}"),
            None => Ok(()),
        }
    }
}

/// What to say of buffers that a burst may run over.
fn too_small(buffers: Buffers) -> Option<SmallBuffers> {
    let Buffers { receiving, sending } = buffers;
    let small: Vec<_> = [("rmem_max", receiving), ("wmem_max", sending)]
        .into_iter()
        .filter(|&(_, bytes)| bytes < ENOUGH)
        .collect();
    let &(_, least) = small.iter().min_by_key(|(_, bytes)| bytes)?;
    let frames = 2 * least / OF_A_FRAME;
    let told = format!(
        "The system gives the Art-Net socket buffers of {} KiB to receive and {} KiB to send: some \
         {frames} full frames. A console that sends more universes back to back may lose some of \
         them.",
        receiving >> 10,
        sending >> 10,
    );
    let to_do = cfg!(target_os = "linux").then(|| {
        let lines = |join: &str| {
            let lines: Vec<_> = small
                .iter()
                .map(|(name, _)| format!("net.core.{name}={BUFFER}"))
                .collect();
            lines.join(join)
        };
        format!(
            "As root, `sysctl -w {}` allows more from the next start of litfloor on; the same \
             without `sysctl -w`, one to a line, in /etc/sysctl.d/60-litfloor.conf keeps it so.",
            lines(" "),
        )
    });
    Some(SmallBuffers { told, to_do })
}

/// What to say of the buffers that this system gives an Art-Net socket of this user; nothing if a burst
/// fits.
///
/// # Errors
/// When no socket can be had.
pub fn small_buffers() -> io::Result<Option<SmallBuffers>> {
    let socket = Socket::new(Domain::IPV4, Type::DGRAM, Some(Protocol::UDP))?;
    Ok(too_small(enlarge(&socket)))
}

/// The same for a user whom the system gives no more than `net.core.rmem_max` and `net.core.wmem_max`
/// say; nothing where it does not tell.
pub fn small_buffers_of_others() -> Option<SmallBuffers> {
    let told = |name: &str| {
        let text = std::fs::read_to_string(format!("/proc/sys/net/core/{name}")).ok()?;
        text.trim().parse::<usize>().ok()
    };
    too_small(Buffers {
        receiving: told("rmem_max")?.min(BUFFER),
        sending: told("wmem_max")?.min(BUFFER),
    })
}

/// Opens the Art-Net socket: non-blocking, with a receive buffer for a console's burst.
///
/// # Errors
/// An [`OpenError`] if the address can't be had.
pub fn artnet(address: SocketAddr) -> Result<UdpSocket, OpenError> {
    let (socket, small) = artnet_quietly(address)?;
    if let Some(warning) = small {
        tracing::warn!("{warning}");
    }
    Ok(socket)
}

/// The same, without a word in the log of buffers that are small.
///
/// # Errors
/// An [`OpenError`] if the address can't be had.
pub fn artnet_quietly(address: SocketAddr) -> Result<(UdpSocket, Option<SmallBuffers>), OpenError> {
    let open = || {
        let socket = Socket::new(
            Domain::for_address(address),
            Type::DGRAM,
            Some(Protocol::UDP),
        )?;
        let small = too_small(enlarge(&socket));
        socket.set_nonblocking(true)?;
        socket.bind(&address.into())?;
        Ok((socket.into(), small))
    };
    open().map_err(explain(
        "UDP (Art-Net)",
        holder::Kind::Udp,
        address,
        "--artnet",
    ))
}

/// Opens a UDP socket at a port of the system's choice.
///
/// # Errors
/// When there is none to be had.
#[expect(
    clippy::disallowed_methods,
    reason = "this is where sockets are opened"
)]
pub fn any() -> io::Result<UdpSocket> {
    UdpSocket::bind((std::net::Ipv4Addr::UNSPECIFIED, 0))
}

#[expect(
    clippy::disallowed_methods,
    reason = "this is where sockets are opened"
)]
fn listen(
    what: &'static str,
    address: SocketAddr,
    flag: &'static str,
) -> Result<TcpListener, OpenError> {
    let open = || {
        let listener = match TcpListener::bind(address) {
            Err(error) if error.kind() == io::ErrorKind::AddrNotAvailable => {
                let listener = beforehand(address).ok_or(error)?;
                tracing::warn!(
                    "{what}: this machine has no address {} now. The page is there when the address is; is it \
                     the one that {flag} was to have?",
                    address.ip()
                );
                listener
            }
            bound => bound?,
        };
        listener.set_nonblocking(true)?;
        Ok(listener)
    };
    open().map_err(explain(what, holder::Kind::Tcp, address, flag))
}

/// Listens at an address that this machine does not have yet: an access point that comes up late must not keep
/// the floor dark. Nothing where the system can't.
fn beforehand(address: SocketAddr) -> Option<TcpListener> {
    #[cfg(target_os = "linux")]
    {
        let socket = Socket::new(Domain::for_address(address), Type::STREAM, None).ok()?;
        match address {
            SocketAddr::V4(_) => socket.set_freebind_v4(true),
            SocketAddr::V6(_) => socket.set_freebind_v6(true),
        }
        .ok()?;
        socket.set_reuse_address(true).ok()?;
        socket.bind(&address.into()).ok()?;
        // As the standard library has it.
        socket.listen(128).ok()?;
        Some(socket.into())
    }
    #[cfg(not(target_os = "linux"))]
    {
        let _ = address;
        None
    }
}

/// Opens the dashboard's socket.
///
/// # Errors
/// An [`OpenError`] if the address can't be had.
pub fn http(address: SocketAddr) -> Result<TcpListener, OpenError> {
    listen("TCP (dashboard)", address, "--http")
}

/// Opens the socket of the dashboard for guests.
///
/// # Errors
/// An [`OpenError`] if the address can't be had.
pub fn guests(address: SocketAddr) -> Result<TcpListener, OpenError> {
    listen("TCP (guests)", address, "--guests")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn says_what_to_set_when_buffers_are_small() {
        let of = |receiving, sending| too_small(Buffers { receiving, sending });
        assert_eq!(of(ENOUGH, ENOUGH), None);
        // What Linux gives where nobody has set it: it holds twice the 166 frames of which the
        // bytes before doubling are made.
        let text = of(212_992, 212_992).unwrap().to_string();
        assert!(text.contains("208 KiB"), "{text}");
        assert!(text.contains("some 332 full frames"), "{text}");
        if cfg!(target_os = "linux") {
            let line = "sysctl -w net.core.rmem_max=8388608 net.core.wmem_max=8388608`";
            assert!(text.contains(line), "{text}");
            let text = of(ENOUGH - 1, ENOUGH).unwrap().to_string();
            assert!(
                text.contains("sysctl -w net.core.rmem_max=8388608`"),
                "{text}"
            );
        }
    }

    /// The kernel's own files say what it allows.
    #[cfg(target_os = "linux")]
    #[test]
    fn gets_what_the_system_allows() {
        let allowed = |name: &str| {
            let text = std::fs::read_to_string(format!("/proc/sys/net/core/{name}")).unwrap();
            text.trim().parse::<usize>().unwrap().min(BUFFER)
        };
        let socket = Socket::new(Domain::IPV4, Type::DGRAM, Some(Protocol::UDP)).unwrap();
        let buffers = enlarge(&socket);
        assert!(buffers.receiving >= allowed("rmem_max"), "{buffers:?}");
        assert!(buffers.sending >= allowed("wmem_max"), "{buffers:?}");
    }
}
