//! The task beside the routes: it watches over the data plane, writes the history, and ends the
//! light of a walk when its floor is replaced.

use std::sync::Arc;

use tokio::sync::watch;

use super::health::{self, Health};
use super::{Shared, history, stepping};

/// The task beside the routes. It ends only when the data plane does, so whoever runs it can
/// take its end as a fault.
#[derive(Debug)]
pub struct Keeper {
    shared: Shared,
    health: watch::Sender<Health>,
}

impl Keeper {
    /// The task for these routes; it tells `health` how it goes.
    pub(super) const fn new(shared: Shared, health: watch::Sender<Health>) -> Self {
        Self { shared, health }
    }

    /// Runs until the sender of the states is gone.
    pub async fn run(self) {
        let Self { shared, health } = self;
        let state = || shared.source.state.clone();
        let watch = async {
            tokio::join!(
                health::follow(state(), health),
                history::sample(state(), &shared.history),
            )
        };
        tokio::select! {
            _ = watch => {}
            () = stepping::follow(Arc::clone(&shared)) => {}
        }
    }
}
