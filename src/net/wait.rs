//! Waiting for a datagram, an order or a time, whichever comes first.
//!
//! On Linux one call of poll(2) waits for all: orders ring a bell that is a file descriptor too. Elsewhere
//! the runtime waits.

use std::io;
use std::net::UdpSocket;
#[cfg(target_os = "linux")]
use std::rc::Rc;

use tokio::io::Interest;

use super::batch::Way;
use super::clock::Clock;
use crate::units::Time;

#[cfg(target_os = "linux")]
mod linux;

/// Waits.
#[derive(Debug, Clone)]
pub(super) enum Wait {
    /// In one call.
    #[cfg(target_os = "linux")]
    Poll(Rc<linux::Poll>),
    /// By a runtime.
    Runtime(std::sync::Arc<tokio::net::UdpSocket>),
}

/// What has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Came {
    /// Datagrams.
    Datagrams,
    /// The time.
    Time,
}

/// Runs `main` on this thread with something that waits for `socket`.
///
/// # Errors
/// What the system says when it can't be waited.
pub(super) fn run<T>(
    socket: &UdpSocket,
    way: Way,
    clock: Clock,
    main: impl AsyncFnOnce(Wait) -> io::Result<T>,
) -> io::Result<T> {
    #[cfg(target_os = "linux")]
    if way == Way::Batched {
        let poll = Rc::new(linux::Poll::new(socket.try_clone()?, clock)?);
        return poll.block_on(main(Wait::Poll(Rc::clone(&poll))))?;
    }
    let _ = (way, clock);
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()?;
    runtime.block_on(async {
        let ready = tokio::net::UdpSocket::from_std(socket.try_clone()?)?;
        main(Wait::Runtime(ready.into())).await
    })
}

impl Wait {
    /// Waits until something can be received, or until then. When it has come, say
    /// [`Self::nothing_is_left`] once it has all been taken.
    pub(super) async fn next(&self, until: Time, clock: Clock) -> Came {
        match self {
            #[cfg(target_os = "linux")]
            Self::Poll(poll) => poll.next(until).await,
            Self::Runtime(ready) => {
                tokio::select! {
                    biased;
                    _ = ready.readable() => Came::Datagrams,
                    () = tokio::time::sleep_until(clock.instant(until).into()) => Came::Time,
                }
            }
        }
    }

    /// Waits on this thread until something can be received, or until then. Nothing if somebody rings:
    /// let all run that waits for orders then. A runtime rings always.
    pub(super) fn alone(&self, until: Time) -> Option<Came> {
        match self {
            #[cfg(target_os = "linux")]
            Self::Poll(poll) => poll.alone(until),
            Self::Runtime(_) => None,
        }
    }

    /// Whether somebody has rung.
    pub(super) fn is_rung(&self) -> bool {
        match self {
            #[cfg(target_os = "linux")]
            Self::Poll(poll) => poll.is_rung(),
            Self::Runtime(_) => true,
        }
    }

    /// Waits until then.
    pub(super) async fn pause(&self, until: Time, clock: Clock) {
        match self {
            #[cfg(target_os = "linux")]
            Self::Poll(poll) => poll.pause(until).await,
            Self::Runtime(_) => tokio::time::sleep_until(clock.instant(until).into()).await,
        }
    }

    /// More can be received only when something has come again.
    pub(super) fn nothing_is_left(&self) {
        match self {
            // It looks anew each time.
            #[cfg(target_os = "linux")]
            Self::Poll(_) => {}
            Self::Runtime(ready) => {
                let nothing = || Err::<(), _>(io::ErrorKind::WouldBlock.into());
                let _ = ready.try_io(Interest::READABLE, nothing);
            }
        }
    }
}
