//! `ArtSync`: holding what arrived until the source says so.
//!
//! Art-Net 4: after an `ArtSync`, a node holds `ArtDmx` until the next one; without one for four
//! seconds it acts at once again; one from another address than that of the newest `ArtDmx` is
//! ignored, and so are all while sources are merged.

use std::net::Ipv4Addr;

use crate::units::Time;

/// Without an `ArtSync` for so long frames are acted on at once (Art-Net 4).
pub const SYNC_ENDS_AFTER_MS: u64 = 4_000;

/// Whether frames wait, and for whom.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Syncing {
    source: Option<(Ipv4Addr, Time)>,
    newest_dmx_from: Option<Ipv4Addr>,
    merging: bool,
}

impl Syncing {
    /// Notes who sent the newest `ArtDmx`, and whether its universe has two sources.
    pub(super) const fn dmx_from(&mut self, from: Ipv4Addr, merging: bool) {
        self.newest_dmx_from = Some(from);
        self.merging = merging;
    }

    /// Takes an `ArtSync`; false if it is to be ignored.
    pub(super) fn sync(&mut self, from: Ipv4Addr, now: Time) -> bool {
        if self.newest_dmx_from != Some(from) {
            return false;
        }
        if self.merging {
            // Nothing may go on waiting for a sync that is ignored.
            self.source = None;
            return false;
        }
        self.source = Some((from, now));
        true
    }

    /// Whether frames from `from` wait.
    pub(super) fn holds(&self, from: Ipv4Addr, now: Time) -> bool {
        self.source
            .is_some_and(|(source, at)| source == from && !over(at, now))
    }

    /// Whether the mode has just ended; says so once.
    pub(super) fn ended(&mut self, now: Time) -> bool {
        let ended = self.source.is_some_and(|(_, at)| over(at, now));
        if ended {
            self.source = None;
        }
        ended
    }

    /// Whether frames of anyone wait.
    pub(super) const fn active(&self) -> bool {
        self.source.is_some()
    }
}

const fn over(at: Time, now: Time) -> bool {
    now.us_since(at) >= SYNC_ENDS_AFTER_MS * 1_000
}
