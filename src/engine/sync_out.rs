//! `ArtSync` onwards: nodes are told to show what they got.
//!
//! Frames are not paced by anything but the console: what changed leaves at once. A sync makes nodes show
//! what came before it, so there is one for all nodes after frames, and otherwise one a second, which keeps
//! them waiting for the next (four seconds, Art-Net 4). That alone would not bound them: on a floor of many
//! universes a frame waits for nearly every sync that somebody forges, and each becomes one to every node.
//! So they are also some time apart. One that comes sooner is remembered and leaves when its time has come:
//! the frames have left before it, so nodes show them, that much later.
//!
//! What the system does not take is made up for at the next sync, to those nodes alone: one that can't be
//! reached makes no flood to the others.

use super::Engine;
use super::out::{self, Outlet};
use super::syncing::SYNC_ENDS_AFTER_MS;
use crate::units::Time;

/// Nodes are told again to wait for syncs after so long, if the console sends some and nothing else.
const SYNC_AGAIN_MS: u64 = 1_000;

/// Time between two syncs, to whichever nodes: a quarter of what a full universe takes on a DMX512 line (22.7 ms,
/// ANSI E1.11), so that whoever sends frames far faster still has each shown. No source for the quarter.
const SYNCS_APART_MS: u64 = 5;

/// Whom a sync is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum For {
    All,
    /// Those that missed one.
    Missed,
}

/// What is remembered of syncs that leave.
#[derive(Debug)]
pub(super) struct SyncOut {
    /// When any node was told last; nothing while nodes act at once.
    last: Option<Time>,
    /// When all were.
    all_told: Option<Time>,
    /// Whether a frame has left since then.
    unsynced: bool,
    /// Nodes to which the system refused something.
    missed: Vec<bool>,
    /// Whether one waits for its time.
    due: bool,
}

impl SyncOut {
    pub(super) fn new(nodes: usize) -> Self {
        Self {
            last: None,
            all_told: None,
            unsynced: true,
            missed: vec![false; nodes],
            due: false,
        }
    }

    /// Goes on where `before` is now, perhaps with other nodes.
    pub(super) fn take_over(&mut self, before: &Self) {
        self.last = before.last;
        self.all_told = before.all_told;
        self.unsynced = before.unsynced || before.missed.contains(&true);
        self.due = before.due;
    }

    /// A frame has left, which nodes show with the next sync.
    pub(super) const fn frame_left(&mut self) {
        self.unsynced = true;
    }

    /// Something did not reach a node: perhaps a sync.
    pub(super) fn refused(&mut self, node: usize) {
        self.missed[node] = true;
    }

    /// When the one that waits is to leave.
    pub(super) fn due(&self) -> Option<Time> {
        self.due.then(|| self.earliest())
    }

    fn earliest(&self) -> Time {
        self.last
            .map_or_else(Time::default, |last| last.plus_ms(SYNCS_APART_MS))
    }

    /// Who has something to show that it was not told to, or may forget to wait.
    fn wanted(&self, now: Time) -> Option<For> {
        let lately = |at: Time| now.us_since(at) < SYNC_AGAIN_MS * 1_000;
        if self.unsynced || !self.all_told.is_some_and(lately) {
            Some(For::All)
        } else {
            self.missed.contains(&true).then_some(For::Missed)
        }
    }
}

impl Engine {
    /// The console says that what it sent is to be shown.
    pub(super) fn sync_came(&mut self, now: Time, outlet: &mut impl Outlet) {
        if self.syncs.wanted(now).is_some() {
            self.syncs.due = true;
            self.send_due_syncs(now, outlet);
        }
    }

    /// Tells nodes to show what they got, if that is due.
    pub(super) fn send_due_syncs(&mut self, now: Time, outlet: &mut impl Outlet) {
        if self.syncs.due().is_none_or(|at| now < at) {
            return;
        }
        self.syncs.due = false;
        let Some(whom) = self.syncs.wanted(now) else {
            return;
        };
        let waiting = self.syncs.last.is_some();
        if !self.leads() || !self.limiter.may_sync(waiting, now) {
            // Nodes go on acting at once meanwhile.
            return;
        }
        for node in 0..self.nodes.len() {
            let outs = self.tables.outputs_of(node);
            if outs.is_empty() {
                // It shows nothing; what was refused for it was a poll.
                self.syncs.missed[node] = false;
                continue;
            }
            if whom == For::Missed && !self.syncs.missed[node] {
                continue;
            }
            // One that the system did not take shows nothing, so it must not be counted.
            let taken = out::send_sync(outlet, self.nodes.address(node));
            self.syncs.missed[node] = !taken;
            if taken {
                for out in outs {
                    self.limiter.sync(out, now);
                }
            }
        }
        self.syncs.last = Some(now);
        if whom == For::All {
            self.syncs.all_told = Some(now);
            self.syncs.unsynced = false;
        }
    }

    /// Nodes that got no sync for four seconds act at once again.
    pub(super) fn end_syncs(&mut self, now: Time) {
        let ends_after_ms = SYNC_ENDS_AFTER_MS + u64::from(self.floor.delivery.late_ms);
        let over = |at: Time| now.us_since(at) > ends_after_ms * 1_000;
        if self.syncs.last.is_some_and(over) {
            self.syncs.last = None;
            self.limiter.sync_ended();
        }
    }
}
