//! Finds the voltages of what is being sent, on a thread that may take its time.

use std::sync::Arc;

use tokio::sync::watch;

use crate::engine::sending::Sending;
use crate::engine::voltages::{VoltageFinder, Voltages};
use crate::net::clock::Clock;
use crate::web::FloorView;

/// Finds the voltages of everything that `sending` brings, until that ends. While one search
/// runs, whatever is sent in the meantime is passed over.
pub(super) async fn follow(
    mut sending: watch::Receiver<Arc<Sending>>,
    floor: watch::Receiver<Arc<FloorView>>,
    found: watch::Sender<Arc<Voltages>>,
    clock: Clock,
) {
    let mut finder: Option<(u32, VoltageFinder)> = None;
    let mut failed = false;
    while sending.changed().await.is_ok() {
        let newest = Arc::clone(&sending.borrow_and_update());
        let view = Arc::clone(&floor.borrow());
        let revision = view.document.revision;
        // Just replaced: what comes next belongs to the floor that is seen here.
        if newest.revision != revision {
            continue;
        }
        let last = finder.take().filter(|(of, _)| *of == revision);
        let search = tokio::task::spawn_blocking(move || {
            let began = clock.now();
            let (_, mut finder) = last.unwrap_or_else(|| {
                let (floor, tables) = (Arc::clone(&view.floor), Arc::clone(&view.tables));
                (revision, VoltageFinder::new(floor, tables))
            });
            let mut voltages = finder.find(&newest);
            voltages.took_ms = clock.now().s_since(began) * 1e3;
            (finder, voltages)
        });
        match search.await {
            Ok((used, voltages)) => {
                failed = false;
                finder = Some((revision, used));
                found.send_replace(Arc::new(voltages));
            }
            Err(error) => {
                // It would be told more than twice a second.
                if !std::mem::replace(&mut failed, true) {
                    tracing::error!(%error, "the voltages could not be found");
                }
            }
        }
    }
}
