//! The call of Linux: poll(2) for the socket and the bell.

use std::cell::Cell;
use std::future::poll_fn;
use std::io;
use std::net::UdpSocket;
use std::os::fd::AsFd;
use std::pin::pin;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::task::{self, Context, Waker};

use nix::errno::Errno;
use nix::poll::{PollFd, PollFlags, PollTimeout};
use nix::sys::eventfd::{EfdFlags, EventFd};

use super::Came;
use crate::net::clock::Clock;
use crate::units::Time;

/// Rung by whoever has something for the thread that waits.
#[derive(Debug)]
struct Bell {
    event: EventFd,
    /// Since the thread last listened.
    rung: AtomicBool,
}

impl task::Wake for Bell {
    fn wake(self: Arc<Self>) {
        self.wake_by_ref();
    }

    fn wake_by_ref(self: &Arc<Self>) {
        if !self.rung.swap(true, Ordering::AcqRel) {
            // It can only fail when it was rung too often to count, and then it is heard.
            let _ = self.event.write(1);
        }
    }
}

/// Waits for a socket, a time and a bell.
#[derive(Debug)]
pub(in crate::net) struct Poll {
    socket: UdpSocket,
    bell: Arc<Bell>,
    clock: Clock,
    /// What is waited for: the socket, if so wanted, and this time.
    wanted: Cell<(bool, Time)>,
    came: Cell<Option<Came>>,
}

impl Poll {
    pub(super) fn new(socket: UdpSocket, clock: Clock) -> io::Result<Self> {
        let flags = EfdFlags::EFD_CLOEXEC | EfdFlags::EFD_NONBLOCK;
        let bell = Bell {
            event: EventFd::from_flags(flags)?,
            rung: AtomicBool::new(false),
        };
        Ok(Self {
            socket,
            bell: Arc::new(bell),
            clock,
            wanted: Cell::new((false, Time(u64::MAX))),
            came: Cell::new(None),
        })
    }

    pub(super) async fn next(&self, until: Time) -> Came {
        self.wait(true, until).await
    }

    pub(super) async fn pause(&self, until: Time) {
        self.wait(false, until).await;
    }

    pub(super) fn is_rung(&self) -> bool {
        self.bell.rung.load(Ordering::Acquire)
    }

    pub(super) fn alone(&self, until: Time) -> Option<Came> {
        while !self.is_rung() {
            self.wanted.set((true, until));
            // What can't be waited for here can't be there either, and is told there.
            self.look().ok()?;
            if let Some(came) = self.came.take() {
                return Some(came);
            }
        }
        None
    }

    /// Ready after the thread has looked, not before: whoever else waits has had a turn then.
    async fn wait(&self, listen: bool, until: Time) -> Came {
        self.came.set(None);
        self.wanted.set((listen, until));
        poll_fn(|_| {
            self.came
                .take()
                .map_or(task::Poll::Pending, task::Poll::Ready)
        })
        .await
    }

    /// Runs a future to its end on this thread, which waits here when the future does.
    pub(super) fn block_on<T>(&self, future: impl Future<Output = T>) -> io::Result<T> {
        let waker = Waker::from(Arc::clone(&self.bell));
        let mut context = Context::from_waker(&waker);
        let mut future = pin!(future);
        loop {
            self.bell.rung.store(false, Ordering::Release);
            if let task::Poll::Ready(done) = future.as_mut().poll(&mut context) {
                return Ok(done);
            }
            self.look()?;
        }
    }

    /// Waits until there is something to do.
    fn look(&self) -> io::Result<()> {
        let (listen, until) = self.wanted.get();
        let left_ms = until.us_since(self.clock.now()).div_ceil(1_000);
        let timeout = PollTimeout::try_from(left_ms).unwrap_or(PollTimeout::MAX);
        let interest = if listen {
            PollFlags::POLLIN
        } else {
            PollFlags::empty()
        };
        let mut fds = [
            PollFd::new(self.bell.event.as_fd(), PollFlags::POLLIN),
            PollFd::new(self.socket.as_fd(), interest),
        ];
        let fds = if listen { &mut fds[..] } else { &mut fds[..1] };
        match nix::poll::poll(fds, timeout) {
            Ok(_) => {}
            Err(Errno::EINTR) => return Ok(()),
            Err(error) => return Err(error.into()),
        }
        // An error of the socket counts: receiving takes it away.
        let came = |at: usize| fds.get(at).and_then(PollFd::any).unwrap_or(false);
        if came(0) {
            let _ = self.bell.event.read();
        }
        if came(1) {
            self.came.set(Some(Came::Datagrams));
        } else if self.clock.now() >= until {
            self.came.set(Some(Came::Time));
        }
        Ok(())
    }
}
