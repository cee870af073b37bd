//! What leaves, for who reckons with it beside the frames.

use super::Engine;
use crate::floor::tables::UNIVERSE_SLOTS;
use crate::units::Time;

/// The slots of every universe as they were sent last.
#[derive(Debug, Clone, Default)]
pub struct Sending {
    /// Revision of the floor that they belong to.
    pub revision: u32,
    /// Seconds since the daemon started.
    pub uptime_s: f64,
    /// 512 for each universe, in the order of [`Tables::outputs`](crate::floor::Tables::outputs).
    pub slots: Vec<u8>,
}

impl Engine {
    /// What was sent last of every universe; on a floor that is only watched, what arrived.
    pub fn sending(&self, now: Time) -> Sending {
        let mut slots = Vec::with_capacity(self.tables.outputs.len() * UNIVERSE_SLOTS);
        for out in self.outs() {
            slots.extend_from_slice(self.limiter.leaving(out));
        }
        Sending {
            revision: self.revision,
            uptime_s: now.s_since(self.started),
            slots,
        }
    }
}
