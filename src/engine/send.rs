//! When a universe leaves: at once when it changed, again while an older frame may still be on
//! show, and every 900 ms when nothing changes.

use std::net::SocketAddrV4;

use super::Engine;
use super::out::{self, Numbers, Outlet};
use super::wheel::Wheel;
use super::{BUSY_TICK_MS, STEP_EVERY_MS, TRIM_EVERY_MS};
use crate::floor::tables::Tables;
use crate::power::cap::OutIndex;
use crate::power::peak;
use crate::units::Time;

/// Unchanged data is sent again after this time (Art-Net 4: 800 to 1,000 ms).
const KEEP_ALIVE_MS: u64 = 900;

/// A frame is repeated after this time while a sibling waits for the headroom …
const URGENT_REPEAT_MS: u64 = 10;

/// … and after this time while none does.
const REPEAT_MS: u64 = 40;

/// A universe that has not arrived is sent as black after this time from the start, so that what
/// its node showed before can be reckoned as gone. A console sends what stands still again after a
/// second at most (Art-Net 4): a litfloor that is started again must not darken that meanwhile.
const FIRST_AFTER_MS: u64 = 1_100;

/// A factor that is let up waits this long for the console's own next frame to carry it.
const PATIENCE_MS: u64 = 30;

// What the limiter reckons with for peaks.
const _: () = assert!(TRIM_EVERY_MS + STEP_EVERY_MS + BUSY_TICK_MS <= peak::FALLS_WITHIN_MS);
const _: () = assert!(REPEAT_MS + BUSY_TICK_MS <= peak::REPEATS_WITHIN_MS);

/// What is remembered of the universes that leave.
#[derive(Debug)]
pub(super) struct Leaving {
    outs: Vec<Out>,
    /// When each has to be looked at although nothing new came.
    wheel: Wheel,
    /// Those with something new to send that nobody has sent yet.
    marked: Vec<OutIndex>,
    /// Room for those that are looked at.
    looked: Vec<OutIndex>,
    pub(super) frames_out: u64,
    urgent: bool,
}

#[derive(Debug, Default, Clone)]
struct Out {
    numbers: Numbers,
    last: Option<Time>,
    due: bool,
}

impl Leaving {
    pub(super) fn new(tables: &Tables, now: Time) -> Self {
        let outs = vec![Out::default(); tables.outputs.len()];
        Self {
            wheel: Wheel::new(outs.len(), now),
            marked: Vec::with_capacity(outs.len()),
            looked: Vec::with_capacity(outs.len()),
            outs,
            frames_out: 0,
            urgent: false,
        }
    }

    /// Goes on where `before` is now, with `same` universe of it for each.
    pub(super) fn take_over(&mut self, before: &Self, same: &[Option<OutIndex>]) {
        for (out, was) in (0..).zip(same) {
            if let Some(was) = *was {
                let was = &before.outs[was as usize];
                self.outs[out as usize].clone_from(was);
                if was.due {
                    self.marked.push(out);
                }
            }
        }
        self.frames_out = before.frames_out;
        self.urgent = before.urgent;
    }

    /// As at the start; only what was counted goes on.
    pub(super) fn anew(before: &Self, tables: &Tables, now: Time) -> Self {
        Self {
            frames_out: before.frames_out,
            ..Self::new(tables, now)
        }
    }

    /// These have something new to send.
    pub(super) fn mark(&mut self, outs: &[OutIndex]) {
        for &out in outs {
            if !std::mem::replace(&mut self.outs[out as usize].due, true) {
                self.marked.push(out);
            }
        }
    }

    /// What is known of a universe's node has changed: it is to be looked at.
    pub(super) fn look_at(&mut self, out: OutIndex, now: Time) {
        self.wheel.no_later(out, now);
    }

    /// Reads what is needed to send another frame.
    pub(super) fn near(&self, out: OutIndex) -> u8 {
        u8::from(self.outs[out as usize].due) ^ u8::from(self.wheel.near(out))
    }

    /// Whether any has something new to send.
    pub(super) const fn any_marked(&self) -> bool {
        !self.marked.is_empty()
    }

    /// When a universe is to be looked at next.
    pub(super) fn next_due(&self) -> Time {
        self.wheel.next_due()
    }

    fn waited(&self, out: OutIndex, now: Time, ms: u64) -> bool {
        self.outs[out as usize]
            .last
            .is_none_or(|last| now.us_since(last) >= ms * 1_000)
    }
}

impl Engine {
    /// Sends what depends on an arriving universe that has just been shown: siblings that have
    /// to dim first.
    pub(super) fn send_universe(
        &mut self,
        index: usize,
        changed: bool,
        now: Time,
        outlet: &mut impl Outlet,
    ) {
        let tables = std::sync::Arc::clone(&self.tables);
        let outputs = &tables.universes[index].outputs;
        self.trim(outputs, now, outlet);
        for &out in outputs {
            self.send_shown(out, changed, now, outlet);
        }
    }

    /// Asks for what changed and sends it: siblings that have to dim first, then what falls, then
    /// what rises.
    pub(super) fn send_changed(&mut self, outs: &[OutIndex], now: Time, outlet: &mut impl Outlet) {
        for &out in outs {
            self.limiter.ask(out, self.picture.asked());
        }
        self.send_asked(outs, now, outlet);
    }

    /// Sends universes whose new pictures the limiter knows: what falls leaves before what rises.
    pub(super) fn send_asked(&mut self, outs: &[OutIndex], now: Time, outlet: &mut impl Outlet) {
        self.trim(outs, now, outlet);
        let (falling, rising): (Vec<_>, Vec<_>) =
            outs.iter().partition(|&&out| self.limiter.asks_less(out));
        for &out in falling.into_iter().chain(rising) {
            self.send_shown(out, true, now, outlet);
        }
    }

    fn send_shown(&mut self, out: OutIndex, changed: bool, now: Time, outlet: &mut impl Outlet) {
        let repeat = self.repeats(out, now, URGENT_REPEAT_MS);
        let due = changed || self.leaving.outs[out as usize].due;
        if due || repeat || self.limiter.waiting(out) {
            self.send(out, repeat, now, outlet);
        }
    }

    /// Whether an unchanged frame is worth sending once more.
    fn repeats(&self, out: OutIndex, now: Time, after_ms: u64) -> bool {
        let pause = if self.limiter.silent(out) {
            KEEP_ALIVE_MS
        } else {
            after_ms
        };
        self.limiter.unsettled(out) && self.leaving.waited(out, now, pause)
    }

    /// Sends universes with a factor that fell, except `but`, which follow by themselves.
    fn trim(&mut self, but: &[OutIndex], now: Time, outlet: &mut impl Outlet) {
        if !self.limiter.any_fallen() || now < self.last_trim.plus_ms(TRIM_EVERY_MS) {
            return;
        }
        self.send_fallen_but(but, now, outlet);
    }

    /// Sends at once all universes with a factor that fell.
    pub(super) fn send_fallen(&mut self, now: Time, outlet: &mut impl Outlet) {
        self.send_fallen_but(&[], now, outlet);
    }

    fn send_fallen_but(&mut self, but: &[OutIndex], now: Time, outlet: &mut impl Outlet) {
        self.last_trim = now;
        while let Some(out) = self.limiter.next_fallen() {
            if but.contains(&out) {
                // It is sent next, after its siblings, even if nothing else in it changed.
                self.leaving.mark(&[out]);
            } else {
                self.send(out, false, now, outlet);
            }
        }
    }

    /// Makes a universe's capped frame and sends it if it is new or `repeat`.
    fn send(&mut self, out: OutIndex, repeat: bool, now: Time, outlet: &mut impl Outlet) {
        if !self.leads() {
            self.leaving.outs[out as usize].due = false;
            self.leaving.wheel.plan(out, now.plus_ms(KEEP_ALIVE_MS));
            return;
        }
        let universe = &self.tables.outputs[out as usize];
        // A node that checks sequences would take our first numbers for old ones of the daemon
        // before us. Zero means that packets are not numbered, and is always taken.
        let numbered = !self.limiter.inherited(out);
        let Some(frame) = self.limiter.frame(out, self.picture.asked(), now, repeat) else {
            self.leaving.outs[out as usize].due = false;
            return;
        };
        let leaving = &mut self.leaving.outs[out as usize];
        let taken = universe.node.is_none_or(|node| {
            let to = self.nodes.address(node as usize);
            let number = if numbered { leaving.numbers.next() } else { 0 };
            let taken = out::send_frame(outlet, &frame, universe.port_address, to, number);
            self.nodes.count(node as usize, taken, now);
            self.leaving.frames_out += u64::from(taken);
            if taken {
                self.syncs.frame_left();
            }
            taken
        });
        let leaving = &mut self.leaving.outs[out as usize];
        leaving.last = Some(now);
        leaving.due = false;
        if taken {
            self.limiter.left(out, now);
        }
        self.leaving.urgent |= self.limiter.waiting(out);
        let pause_ms = self.pause_ms(out);
        self.leaving.wheel.plan(out, now.plus_ms(pause_ms));
    }

    /// After how long a universe is sent once more if nothing new comes.
    fn pause_ms(&self, out: OutIndex) -> u64 {
        if self.limiter.unsettled(out) && !self.limiter.silent(out) {
            REPEAT_MS
        } else {
            KEEP_ALIVE_MS
        }
    }

    /// Sends all that is due with the passing of time.
    pub(super) fn send_due(&mut self, now: Time, outlet: &mut impl Outlet) {
        self.trim(&[], now, outlet);
        self.leaving.urgent &= self.limiter.any_waiting();
        if self.looks_at_all() {
            self.send_all_due(now, outlet);
        } else {
            self.send_looked_at(now, outlet);
        }
        let mut later = std::mem::take(&mut self.leaving.looked);
        later.clear();
        while let Some(out) = self.limiter.next_risen() {
            if self.leaving.waited(out, now, PATIENCE_MS) {
                self.send(out, false, now, outlet);
            } else {
                later.push(out);
            }
        }
        for &out in &later {
            self.limiter.rises_later(out);
        }
        self.leaving.looked = later;
    }

    /// Whether every universe has to be looked at often.
    pub(super) fn looks_at_all(&self) -> bool {
        // A survey waits for every light to be surely on show; a peak goes by what may be.
        self.leaving.urgent || self.surveys.is_running() || self.limiter.goes_by_time()
    }

    /// Looks at every universe: some wait for what others leave free.
    fn send_all_due(&mut self, now: Time, outlet: &mut impl Outlet) {
        let freed = self.limiter.retire(now);
        let after = if self.leaving.urgent || self.surveys.is_running() {
            URGENT_REPEAT_MS
        } else {
            REPEAT_MS
        };
        for out in self.outs() {
            let leaving = &self.leaving.outs[out as usize];
            let repeat = self.is_alive(out, now)
                || (leaving.last.is_some() && self.repeats(out, now, after));
            if repeat || leaving.due || (freed && self.limiter.waiting(out)) {
                self.send(out, repeat, now, outlet);
            }
        }
        self.leaving.marked.clear();
    }

    /// Looks at those universes whose time has come, where nothing else goes by time.
    fn send_looked_at(&mut self, now: Time, outlet: &mut impl Outlet) {
        while let Some(out) = self.leaving.marked.pop() {
            if self.leaving.outs[out as usize].due {
                self.send(out, false, now, outlet);
            }
        }
        self.leaving.wheel.catch_up(now);
        let mut looked = std::mem::take(&mut self.leaving.looked);
        while self.leaving.wheel.take(now, &mut looked) {
            for &out in &looked {
                self.limiter.retire_one(out, now);
                let sent_before = self.leaving.outs[out as usize].last.is_some();
                let repeat =
                    self.is_alive(out, now) || (sent_before && self.repeats(out, now, REPEAT_MS));
                if repeat {
                    self.send(out, true, now, outlet);
                }
                let next = match self.leaving.outs[out as usize].last {
                    Some(last) => last.plus_ms(self.pause_ms(out)),
                    None => self.started.plus_ms(FIRST_AFTER_MS),
                };
                self.leaving.wheel.plan(out, next);
            }
        }
        self.leaving.looked = looked;
    }

    /// Whether a universe is sent for the sake of its node, which would think us gone.
    fn is_alive(&self, out: OutIndex, now: Time) -> bool {
        if self.leaving.outs[out as usize].last.is_some() {
            self.leaving.waited(out, now, KEEP_ALIVE_MS)
        } else {
            now >= self.started.plus_ms(FIRST_AFTER_MS)
        }
    }

    /// The system did not take a datagram that an [`Outlet`] gave as taken, because many leave in one
    /// call. To be told before anything else happens to the engine: none of what left for its node
    /// counts as arrived.
    pub fn refused(&mut self, to: SocketAddrV4, now: Time) {
        self.leaving.frames_out = self.leaving.frames_out.saturating_sub(1);
        let (tables, limiter) = (&self.tables, &mut self.limiter);
        let syncs = &mut self.syncs;
        self.nodes.refused(to, now, |node| {
            syncs.refused(node);
            for out in tables.outputs_of(node) {
                limiter.refused(out);
            }
        });
    }

    /// Whether a frame counts as arrived at the moment that it leaves, so that it has to leave at
    /// once: by the floor file nothing is late.
    pub fn leaves_at_once(&self) -> bool {
        self.floor.delivery.late_ms == 0
    }

    /// Takes back what is drawn above limits: nodes hold their last frame when litfloor has ended, and
    /// nobody is left to end a peak. Go on with ticks while [`Self::peaking`].
    pub fn end_peaks(&mut self, now: Time, outlet: &mut impl Outlet) {
        self.limiter.end_peaks(now);
        self.send_fallen(now, outlet);
    }

    /// Whether anything may be drawing more than its limit.
    pub fn peaking(&self) -> bool {
        self.limiter.peaking()
    }

    #[expect(
        clippy::cast_possible_truncation,
        reason = "counts are checked by the reader"
    )]
    pub(super) fn outs(&self) -> std::ops::Range<OutIndex> {
        0..self.tables.outputs.len() as OutIndex
    }
}
