//! The history, the sums and the webhook: what is kept and told beside the frames.

use std::sync::Arc;

use tokio::sync::watch;
use tokio::task::JoinHandle;

use super::failure::Failure;
use super::{alarms, changes};
use crate::engine::snapshot::State;
use crate::net::webhook::{Caller, Patience};
use crate::power::tally::Energy;
use crate::store::{Place, Recorder};
use crate::web::FloorView;

/// What is kept and told beside the frames.
pub(super) struct Records {
    /// What writes the history.
    pub(super) recorder: Recorder,
    /// The sums since the start.
    pub(super) energy: watch::Receiver<Arc<Energy>>,
    tasks: [JoinHandle<()>; 3],
}

impl Records {
    /// Starts them.
    pub(super) fn start(
        history: Place,
        states: &watch::Receiver<Arc<State>>,
        floor: &watch::Receiver<Arc<FloorView>>,
    ) -> Result<Self, Failure> {
        let recorder = Recorder::start(history).map_err(Failure::machine)?;
        let (told, energy) = watch::channel(Arc::default());
        let caller = Caller::start(Patience::default()).map_err(Failure::machine)?;
        let tasks = [
            tokio::spawn(recorder.record(states.clone(), told)),
            tokio::spawn(alarms::follow(states.clone(), floor.clone(), caller)),
            tokio::spawn(changes::follow(states.clone())),
        ];
        Ok(Self {
            recorder,
            energy,
            tasks,
        })
    }

    /// Ends them; what has begun is still written.
    pub(super) fn end(self) -> JoinHandle<()> {
        self.tasks.iter().for_each(JoinHandle::abort);
        tokio::task::spawn_blocking(move || self.recorder.end())
    }
}
