//! Tells whoever started litfloor how it goes, by the protocol of `sd_notify(3)`.
//!
//! `READY=1` when frames run, `STOPPING=1` when litfloor begins to end, and `WATCHDOG=1` only after the
//! data plane has published a state since the last one: a data plane that is stuck feeds nobody, and
//! systemd starts litfloor anew. Without a `NOTIFY_SOCKET` nothing is said.

use std::sync::Arc;

use tokio::sync::watch;

use crate::engine::snapshot::State;

/// Follows the states that the data plane publishes until it ends or litfloor `stop`s.
#[cfg(target_os = "linux")]
pub(super) async fn follow(
    mut state: watch::Receiver<Arc<State>>,
    mut stop: watch::Receiver<bool>,
) {
    use sd_notify::NotifyState::{Ready, Stopping, Watchdog};

    if std::env::var_os("NOTIFY_SOCKET").is_none() {
        return;
    }
    let fed = sd_notify::watchdog_enabled().is_some();
    // The state that it began with is none that the data plane has published.
    state.mark_unchanged();
    let mut manager = Manager::default();
    let mut ready = false;
    loop {
        tokio::select! {
            biased;
            stopped = stop.wait_for(|stop| *stop) => {
                drop(stopped);
                return manager.tell(&[Stopping]);
            }
            // About five times a second, which is not too often for anybody.
            changed = state.changed() => match (changed, ready, fed) {
                (Err(_), ..) => return manager.tell(&[Stopping]),
                (Ok(()), false, _) => {
                    ready = true;
                    manager.tell(if fed { &[Ready, Watchdog] } else { &[Ready] });
                }
                (Ok(()), true, true) => manager.tell(&[Watchdog]),
                (Ok(()), true, false) => {}
            },
        }
    }
}

#[cfg(target_os = "linux")]
#[derive(Default)]
struct Manager {
    deaf: bool,
}

#[cfg(target_os = "linux")]
impl Manager {
    fn tell(&mut self, what: &[sd_notify::NotifyState<'_>]) {
        let told = sd_notify::notify(what);
        // Said once, for it is tried five times a second.
        if let (Err(error), false) = (&told, self.deaf) {
            tracing::warn!(%error, "whoever started litfloor can't be told how it goes (NOTIFY_SOCKET)");
        }
        self.deaf = told.is_err();
    }
}

/// Where there is no such protocol nobody waits for it.
#[cfg(not(target_os = "linux"))]
pub(super) async fn follow(_: watch::Receiver<Arc<State>>, _: watch::Receiver<bool>) {}
