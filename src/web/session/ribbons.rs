//! The slots that a client looks at.

use std::sync::Arc;
use std::time::Duration;

use super::super::messages;
use super::pace::Pace;
use super::{Ended, Session, Watching};
use crate::engine::slots::Reference;
use crate::wire::PortAddress;

/// Time between two messages of slots, and the most universes in one.
const SLOTS_EVERY: Duration = Duration::from_millis(100);
const MOST_UNIVERSES: usize = 64;

/// The universes that a client looks at slot by slot.
pub(super) struct Ribbons {
    pub(super) universes: Vec<PortAddress>,
    pub(super) reference: Option<Reference>,
    pub(super) pace: Pace,
    /// Kept to be counted.
    _watching: Watching,
}

impl Session {
    /// The newest slots of the universes that this client looks at.
    pub(super) async fn send_slots(&mut self) -> Result<(), Ended> {
        let Some(ribbons) = &mut self.ribbons else {
            return Ok(());
        };
        ribbons.pace.sent();
        let newest = Arc::clone(&self.slots.borrow_and_update());
        let Ribbons {
            universes,
            reference,
            ..
        } = ribbons;
        if newest.revision != self.revision {
            return Ok(());
        }
        let message = messages::slots(&newest, universes, *reference, self.revision);
        self.send_bytes(message).await
    }

    /// The client looks at the slots of these universes.
    pub(super) fn look_at_slots(&mut self, named: &[String], reference: Option<Reference>) {
        let named = named.iter().take(MOST_UNIVERSES);
        let universes: Vec<_> = named.filter_map(|name| name.parse().ok()).collect();
        if universes.is_empty() {
            self.ribbons = None;
        } else if let Some(ribbons) = &mut self.ribbons {
            // The pace stays: no wish brings slots sooner.
            (ribbons.universes, ribbons.reference) = (universes, reference);
            ribbons.pace.due = true;
        } else {
            // What was published for others before may be old: the next that comes is sent.
            self.slots.mark_unchanged();
            let mut pace = Pace::new(SLOTS_EVERY);
            pace.due = false;
            self.ribbons = Some(Ribbons {
                universes,
                reference,
                pace,
                _watching: Watching::new(&self.shared.source.slot_watchers),
            });
        }
    }
}
