//! Orders for the data plane, and its answers.

use std::time::Duration;

use axum::http::StatusCode;
use axum::response::Response;
use tokio::sync::mpsc::error::TrySendError;
use tokio::sync::oneshot;

use super::problem::problem;
use super::{Source, timers};
use crate::engine::command::Command;
use crate::engine::snapshot::PatternState;
use crate::pattern::Refused;

/// Time before an order that found the queue full is given again.
const AGAIN: Duration = Duration::from_millis(100);

/// An order, and where its answer goes.
pub type Order = (
    Command,
    oneshot::Sender<Result<Option<PatternState>, Refused>>,
);

/// Why an order was not followed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NotDone {
    /// The queue is full.
    #[error("too many orders at once: try again")]
    Busy,
    /// The data plane has ended.
    #[error("litfloor is ending")]
    Ended,
    /// The order itself is at fault.
    #[error(transparent)]
    Refused(#[from] Refused),
}

impl<T> From<TrySendError<T>> for NotDone {
    fn from(why: TrySendError<T>) -> Self {
        match why {
            TrySendError::Full(_) => Self::Busy,
            TrySendError::Closed(_) => Self::Ended,
        }
    }
}

impl NotDone {
    /// What who asked is told; an order that is itself at fault is told with `refused`.
    pub(super) fn told(self, refused: StatusCode) -> Response {
        let text = self.to_string();
        match self {
            Self::Busy => problem(StatusCode::SERVICE_UNAVAILABLE, "busy", text),
            Self::Ended => problem(StatusCode::SERVICE_UNAVAILABLE, "ending", text),
            Self::Refused(why) => problem(refused, why.code, text),
        }
    }
}

impl Source {
    /// Gives an order and waits for the answer: the pattern that is shown then. A full queue is
    /// never waited for.
    ///
    /// # Errors
    /// Says whether the order, the queue or the data plane is at fault.
    pub async fn command(&self, command: Command) -> Result<Option<PatternState>, NotDone> {
        let (answer, answered) = oneshot::channel();
        self.commands.try_send((command, answer))?;
        Ok(answered.await.map_err(|_| NotDone::Ended)??)
    }

    /// Gives an order that must not get lost: while the queue is full it is given again.
    pub async fn surely(&self, command: &Command) {
        while let Err(NotDone::Busy) = self.command(command.clone()).await {
            timers::until(timers::now() + AGAIN).await;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    use std::sync::Arc;

    use tokio::sync::{mpsc, watch};

    fn source(commands: mpsc::Sender<Order>) -> Source {
        Source {
            floor: watch::channel(super::super::testing::view(1)).1,
            state: watch::channel(Arc::default()).1,
            levels: watch::channel(Arc::default()).1,
            watchers: Arc::default(),
            slots: watch::channel(Arc::default()).1,
            slot_watchers: Arc::default(),
            voltages: watch::channel(Arc::default()).1,
            commands,
            reload: mpsc::channel(1).0,
            archive: Arc::new(super::super::testing::MadeUp),
            energy: watch::channel(Arc::default()).1,
            dropped: watch::channel(None).1,
            simulation: None,
            survey: super::super::Surveys::channels().0,
            faults: super::super::Faults::channels().0,
            book: None,
        }
    }

    #[tokio::test]
    async fn an_order_is_answered_refused_or_busy() {
        let (commands, mut orders) = mpsc::channel(1);
        let source = source(commands);
        let plane = async {
            let (command, answer) = orders.recv().await.unwrap();
            assert_eq!(command, Command::Stop);
            answer.send(Err(Refused::new("no", "No."))).unwrap();
        };
        let (told, ()) = tokio::join!(source.command(Command::Stop), plane);
        assert_eq!(told, Err(NotDone::Refused(Refused::new("no", "No."))));
        // Nobody takes the first, so the second does not fit; and it does not wait.
        let (answer, answered) = oneshot::channel();
        source.commands.try_send((Command::Stop, answer)).unwrap();
        assert_eq!(source.command(Command::Stop).await, Err(NotDone::Busy));
        // The plane ends with an order unanswered.
        drop(orders);
        assert!(answered.await.is_err());
        assert_eq!(source.command(Command::Stop).await, Err(NotDone::Ended));
    }
}
