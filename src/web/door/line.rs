//! One connection: it holds its seat as long as it lives, and breaks when it must leave.

use std::io::{self, IoSlice};
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};

use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::sync::oneshot;

use super::super::crowd::Seat;

/// A connection with its seat. A WebSocket that is made of it keeps both.
#[derive(Debug)]
pub(super) struct Line<S> {
    stream: S,
    leave: oneshot::Receiver<()>,
    left: bool,
    _seat: Arc<Seat>,
}

impl<S> Line<S> {
    pub(super) const fn new(stream: S, seat: Arc<Seat>, leave: oneshot::Receiver<()>) -> Self {
        Self {
            stream,
            leave,
            left: false,
            _seat: seat,
        }
    }

    /// Fails once it must leave; until then whoever waits is woken when that comes.
    fn stays(&mut self, context: &mut Context<'_>) -> io::Result<()> {
        self.left = self.left || Pin::new(&mut self.leave).poll(context).is_ready();
        if self.left {
            return Err(io::ErrorKind::ConnectionAborted.into());
        }
        Ok(())
    }
}

impl<S: AsyncRead + Unpin> AsyncRead for Line<S> {
    fn poll_read(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        self.stays(context)?;
        Pin::new(&mut self.stream).poll_read(context, buffer)
    }
}

impl<S: AsyncWrite + Unpin> AsyncWrite for Line<S> {
    fn poll_write(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        bytes: &[u8],
    ) -> Poll<io::Result<usize>> {
        self.stays(context)?;
        Pin::new(&mut self.stream).poll_write(context, bytes)
    }

    fn poll_flush(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        self.stays(context)?;
        Pin::new(&mut self.stream).poll_flush(context)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(context)
    }

    fn poll_write_vectored(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        slices: &[IoSlice<'_>],
    ) -> Poll<io::Result<usize>> {
        self.stays(context)?;
        Pin::new(&mut self.stream).poll_write_vectored(context, slices)
    }

    fn is_write_vectored(&self) -> bool {
        self.stream.is_write_vectored()
    }
}

#[cfg(test)]
mod tests {
    use tokio::io::{AsyncReadExt, AsyncWriteExt, duplex};

    use super::super::super::crowd::{Crowd, Room, Stage};
    use super::super::super::place::Place;
    use super::*;

    #[tokio::test]
    async fn a_line_that_must_leave_breaks_and_wakes_who_waits() {
        let crowd = Crowd::new(Room { all: 1, of_one: 1 });
        let place = Place::of([10, 0, 0, 1].into());
        let admitted = crowd.admit(place, Stage::Silent).unwrap();
        let (mut far, near) = duplex(64);
        let mut line = Line::new(near, Arc::new(admitted.seat), admitted.leave);
        far.write_all(b"a").await.unwrap();
        assert_eq!(line.read_u8().await.unwrap(), b'a');
        let waits = tokio::spawn(async move {
            let ended = line.read_u8().await.unwrap_err().kind();
            let again = line.write_all(b"b").await.unwrap_err().kind();
            (ended, again)
        });
        let _other = crowd.admit(place, Stage::Silent).unwrap();
        let aborted = io::ErrorKind::ConnectionAborted;
        assert_eq!(waits.await.unwrap(), (aborted, aborted));
    }
}
