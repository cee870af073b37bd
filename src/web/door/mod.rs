//! The door: takes connections in, keeps each within bounds, and hands what is asked to the routes.
//!
//! Whoever connects is a stranger until he has signed in, so nothing here may cost much: how many may
//! be there, how long a head may be and take, and how long a connection may be of no use are bounded.
//! What a connection may then ask is decided in [`manners`].

use std::convert::Infallible;
use std::io;
use std::net::SocketAddr;
use std::pin::pin;
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::body::Body;
use axum::http::{Request, StatusCode};
use axum::response::Response;
use hyper::body::Incoming;
use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper_util::rt::{TokioIo, TokioTimer};
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::{TcpListener, TcpStream};
use tokio_rustls::TlsAcceptor;
use tokio_rustls::rustls::ServerConfig;

use self::line::Line;
use self::manners::Manners;
use super::crowd::{Admitted, Crowd, Room, Seat, Stage};
use super::place::Place;
use super::timers;
use super::tls::Encryption;
use super::turned::Turned;

mod line;
mod manners;

pub use manners::Names;

/// How long one may take to send a head, to agree on encryption, or to ask for more.
const HEAD_WITHIN: Duration = Duration::from_secs(10);

/// Longest head, in bytes.
const LONGEST_HEAD: usize = 32 * 1_024;

/// Most headers in it.
const MOST_HEADERS: usize = 64;

/// How long a connection lives whose other end takes nothing and acknowledges nothing.
const TAKES_WITHIN: Duration = Duration::from_secs(20);

/// Wait before the next connection is taken when the system gives none.
const OUT_OF_BREATH: Duration = Duration::from_millis(200);

/// Connections of the door for all.
pub(super) const ROOM: Room = Room {
    all: 512,
    of_one: 256,
};

/// Connections of the door for guests, that these take no descriptors from the other one.
pub(super) const ROOM_FOR_GUESTS: Room = Room {
    all: 256,
    of_one: 64,
};

/// What TLS begins with (RFC 8446, section 5.1: a record of a handshake).
const HANDSHAKE: u8 = 22;

/// Who is let in here, and to what.
#[derive(Debug)]
pub struct Door {
    crowd: Arc<Crowd>,
    manners: Manners,
    tls: Option<Arc<ServerConfig>>,
    turned: Arc<Turned>,
}

impl Door {
    /// The door to `router` for operators and everybody else who is let onto the network.
    pub fn new(
        router: Router,
        names: Names,
        encryption: Option<&Encryption>,
        turned: Arc<Turned>,
    ) -> Self {
        Self::of(
            ROOM,
            Manners::new(router, names, encryption),
            encryption,
            turned,
        )
    }

    /// The door for guests: from here the floor can only be looked at.
    pub fn for_guests(
        router: Router,
        names: Names,
        encryption: Option<&Encryption>,
        turned: Arc<Turned>,
    ) -> Self {
        let manners = Manners::new(router, names, encryption).for_guests();
        Self::of(ROOM_FOR_GUESTS, manners, encryption, turned)
    }

    fn of(
        room: Room,
        manners: Manners,
        encryption: Option<&Encryption>,
        turned: Arc<Turned>,
    ) -> Self {
        Self {
            crowd: Crowd::new(room),
            manners,
            tls: encryption.map(Encryption::config),
            turned,
        }
    }

    /// Takes connections in for ever.
    pub async fn open(self, listener: TcpListener) {
        let door = Arc::new(self);
        loop {
            match listener.accept().await {
                Ok((stream, peer)) => door.come_in(stream, peer),
                Err(error) if of_the_other_end(&error) => {}
                Err(error) => {
                    door.turned.out_of_breath(&error);
                    timers::until(timers::now() + OUT_OF_BREATH).await;
                }
            }
        }
    }

    fn come_in(self: &Arc<Self>, stream: TcpStream, peer: SocketAddr) {
        let place = Place::of(peer.ip());
        let Some(admitted) = self.crowd.admit(place, Stage::Silent) else {
            self.turned.connection_refused(&self.crowd);
            // As far as it goes at once; who floods reads no answers.
            if self.tls.is_none() {
                let _ = stream.try_write(FULL);
            }
            return;
        };
        if admitted.instead_of.is_some() {
            self.turned.connection_gave_way(&self.crowd);
        }
        settle(&stream);
        let door = Arc::clone(self);
        tokio::spawn(async move { door.serve(stream, peer, admitted).await });
    }

    /// Serves one connection to its end.
    async fn serve(self: Arc<Self>, stream: TcpStream, peer: SocketAddr, admitted: Admitted) {
        let Admitted {
            seat, mut leave, ..
        } = admitted;
        let seat = Arc::new(seat);
        let Some(tls) = &self.tls else {
            let line = Line::new(stream, Arc::clone(&seat), leave);
            return self.talk(line, peer, &seat, false).await;
        };
        let mut first = [0];
        let peeked = tokio::select! {
            peeked = timers::within(HEAD_WITHIN, stream.peek(&mut first)) => peeked,
            _ = &mut leave => return,
        };
        match peeked {
            Ok(Ok(1)) => {}
            Ok(_) => return,
            Err(_) => return self.turned.too_slow(),
        }
        let line = Line::new(stream, Arc::clone(&seat), leave);
        if first[0] != HANDSHAKE {
            return self.talk(line, peer, &seat, true).await;
        }
        match timers::within(HEAD_WITHIN, TlsAcceptor::from(Arc::clone(tls)).accept(line)).await {
            Ok(Ok(stream)) => self.talk(stream, peer, &seat, false).await,
            Ok(Err(error)) => self.turned.no_encryption(&error),
            Err(_) => self.turned.too_slow(),
        }
    }

    /// HTTP until the connection ends, or becomes a WebSocket that goes on by itself. One that is
    /// `astray` speaks plainly where encryption is asked for.
    async fn talk<S>(&self, stream: S, peer: SocketAddr, seat: &Arc<Seat>, astray: bool)
    where
        S: AsyncRead + AsyncWrite + Unpin + Send + 'static,
    {
        let service = service_fn(|request: Request<Incoming>| async {
            seat.is(Stage::Asking);
            let request = request.map(Body::new);
            let answer: Response = if astray {
                self.manners.send_to_encryption(&request)
            } else {
                self.manners.receive(request, peer).await
            };
            seat.is(match answer.status() {
                StatusCode::SWITCHING_PROTOCOLS => Stage::Looking,
                _ => Stage::Answered,
            });
            Ok::<_, Infallible>(answer)
        });
        let mut http = http1::Builder::new();
        http.timer(TokioTimer::new())
            .header_read_timeout(HEAD_WITHIN)
            .max_header_size(LONGEST_HEAD)
            .max_headers(MOST_HEADERS);
        let connection = http.serve_connection(TokioIo::new(stream), service);
        if let Err(error) = pin!(connection.with_upgrades()).await {
            if error.is_timeout() {
                self.turned.too_slow();
            } else if error.is_parse() || error.is_parse_too_large() {
                self.turned.not_understood();
            }
            tracing::debug!(%error, %peer, "a connection has ended early");
        }
    }
}

/// What is written to who is not let in, without waiting whether it is read.
const FULL: &[u8] = b"HTTP/1.1 503 Service Unavailable\r\nConnection: close\r\nRetry-After: 5\r\n\
    Content-Type: text/plain\r\nContent-Length: 62\r\n\r\n\
    Too many connections are open from where you are; close some.\n";

/// Answers leave at once, and an end that is gone is noticed.
fn settle(stream: &TcpStream) {
    let _ = stream.set_nodelay(true);
    #[cfg(target_os = "linux")]
    {
        // Also one that answers but takes nothing: tcp(7), TCP_USER_TIMEOUT.
        let socket = socket2::SockRef::from(stream);
        let _ = socket.set_tcp_user_timeout(Some(TAKES_WITHIN));
    }
}

/// What befell one connection and none of the others.
fn of_the_other_end(error: &io::Error) -> bool {
    matches!(
        error.kind(),
        io::ErrorKind::ConnectionAborted
            | io::ErrorKind::ConnectionReset
            | io::ErrorKind::ConnectionRefused
    )
}
