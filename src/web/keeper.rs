//! The task beside the routes: it watches over the data plane and writes the history.

use std::sync::{Arc, Mutex};

use tokio::sync::watch;

use super::health::{self, Health};
use super::history::{self, Ring};
use crate::engine::snapshot::State;

/// The task beside the routes. It ends only when the data plane does, so whoever runs it can
/// take its end as a fault.
#[derive(Debug)]
pub struct Keeper {
    state: watch::Receiver<Arc<State>>,
    history: Arc<Mutex<Ring>>,
    health: watch::Sender<Health>,
}

impl Keeper {
    pub(super) fn new(
        state: watch::Receiver<Arc<State>>,
        history: Arc<Mutex<Ring>>,
    ) -> (Self, watch::Receiver<Health>) {
        let (sender, receiver) = watch::channel(Health::Starting);
        (
            Self {
                state,
                history,
                health: sender,
            },
            receiver,
        )
    }

    /// Runs until the sender of the states is gone.
    pub async fn run(self) {
        tokio::join!(
            health::follow(self.state.clone(), self.health),
            history::sample(self.state, &self.history),
        );
    }
}
