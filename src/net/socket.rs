//! Opening sockets, with errors that say what to do.

use std::io;
use std::net::{SocketAddr, TcpListener, UdpSocket};

use socket2::{Domain, Protocol, Socket, Type};

/// What a console's burst may need: all universes back to back.
const RECEIVE_BUFFER: usize = 8 << 20;

/// A socket that could not be opened.
#[derive(Debug, thiserror::Error)]
pub enum OpenError {
    /// Another program has the port.
    #[error(
        "{what} port {address} is taken by another program. Stop that program, or choose another \
         address with {flag}."
    )]
    Taken {
        /// `UDP` or `TCP`, with its use.
        what: &'static str,
        /// What was asked for.
        address: SocketAddr,
        /// The option that changes it.
        flag: &'static str,
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

fn explain(
    what: &'static str,
    address: SocketAddr,
    flag: &'static str,
) -> impl FnOnce(io::Error) -> OpenError {
    move |source| match source.kind() {
        io::ErrorKind::AddrInUse => OpenError::Taken {
            what,
            address,
            flag,
        },
        io::ErrorKind::AddrNotAvailable => OpenError::NotOurs { address, flag },
        _ => OpenError::Other {
            what,
            address,
            source,
        },
    }
}

/// Opens the Art-Net socket: non-blocking, with a receive buffer for a console's burst.
///
/// # Errors
/// An [`OpenError`] if the address can't be had.
pub fn artnet(address: SocketAddr) -> Result<UdpSocket, OpenError> {
    let open = || {
        let socket = Socket::new(
            Domain::for_address(address),
            Type::DGRAM,
            Some(Protocol::UDP),
        )?;
        // The kernel gives what net.core.rmem_max allows; less is no fault here.
        let _ = socket.set_recv_buffer_size(RECEIVE_BUFFER);
        let _ = socket.set_send_buffer_size(RECEIVE_BUFFER);
        socket.set_nonblocking(true)?;
        socket.bind(&address.into())?;
        Ok(socket.into())
    };
    open().map_err(explain("UDP (Art-Net)", address, "--artnet"))
}

/// Opens the dashboard's socket.
///
/// # Errors
/// An [`OpenError`] if the address can't be had.
#[expect(
    clippy::disallowed_methods,
    reason = "this is where sockets are opened"
)]
pub fn http(address: SocketAddr) -> Result<TcpListener, OpenError> {
    let open = || {
        let listener = TcpListener::bind(address)?;
        listener.set_nonblocking(true)?;
        Ok(listener)
    };
    open().map_err(explain("TCP (dashboard)", address, "--http"))
}
