//! What a node may still be showing of one universe although something newer was sent.
//!
//! A datagram can be lost or late, and Art-Net tells nobody. So every frame that was sent stays
//! in the reckoning until a newer one is surely there, by what the floor file says of the network
//! (`[delivery]`): of `copies` datagrams of a universe in a row at least one arrives, and none
//! arrives later than `late_ms` after it was sent. A frame is therefore gone when `copies`
//! datagrams with newer content were sent after the last moment at which it could itself have
//! arrived, and the last of those had `late_ms` to arrive. It makes no difference whether the
//! node looks at sequence numbers.
//!
//! While nodes wait for `ArtSync`, a frame is gone when, after all that, `copies` syncs were sent
//! and the last had `late_ms` to arrive.

use super::frame::{Brightest, Count, Draws, Frame, low};
pub use super::frame::{Content, DARK};
use super::near::lines;
use super::ring::Ring;
use crate::floor::model::Delivery;
use crate::units::{Draw, Time};

/// Frames kept apart at most; beyond that the two youngest are taken together, which can only
/// reserve more. (Taking the oldest together would begin their count anew with every frame, so
/// that under a fast stream of frames none would ever be gone.)
const MOST_FRAMES: usize = 10;

/// The same where a limit may be passed for a short time. Frames that are taken together stay for
/// longer than each would have, so there are no peaks while more than [`CROWD`] are kept: then none
/// of the frames of a peak is ever taken together with a later one.
const MOST_FRAMES_WITH_PEAKS: usize = 24;

/// See there.
const CROWD: usize = 14;

/// The frames of one universe that its node may be showing.
#[derive(Debug, Clone)]
pub struct Held {
    /// The slots that were sent last.
    newest: Content,
    frames: Ring<Frame>,
    rules: Delivery,
    most_frames: usize,
    synced: bool,
    /// Whether the node may still be showing what it showed before we came.
    inherited: bool,
    most: Draws,
    /// The most that was asked for in any of the frames, for each element.
    most_asked: Draws,
    since_reply: Draws,
    /// The brightest that was sent since then.
    brightest: Brightest,
    silent: bool,
}

impl Held {
    /// Nothing was sent yet: the node may be showing anything up to `full`.
    pub fn new(full: &[Draw], now: Time, rules: Delivery) -> Self {
        let before = Frame {
            sent: Draws::from_slice(full),
            asked: Draws::from_elem(Draw::ZERO, full.len()),
            brightest: Brightest::ANY,
            last_sent: now,
            known: false,
            newer: Count::default(),
            syncs: Count::default(),
        };
        Self {
            newest: DARK,
            frames: Ring::of(before),
            rules,
            most_frames: MOST_FRAMES,
            synced: false,
            inherited: true,
            most: Draws::from_slice(full),
            most_asked: Draws::from_elem(Draw::ZERO, full.len()),
            since_reply: Draws::from_elem(Draw::ZERO, full.len()),
            brightest: Brightest::DARK,
            silent: false,
        }
    }

    /// What `before` says of the same universe of the same node, now that another floor file says the
    /// same about its slots.
    pub fn carried_as_it_is(mut before: Self, rules: Delivery) -> Self {
        // They may touch other elements.
        before.frames.forget_gone();
        before.go_by(rules);
        before
    }

    /// What the floor file says of its network.
    pub const fn rules(&self) -> Delivery {
        self.rules
    }

    fn go_by(&mut self, rules: Delivery) {
        if rules != self.rules {
            self.refused();
        }
        self.rules = rules;
    }

    /// The same now that the floor file says something else about its slots: `draws` gives what slots
    /// draw for each element. Of all frames but the newest it is known only how bright they were at
    /// most.
    ///
    /// `shorter` is how many slots its frames had, if they had fewer than they have now: nobody
    /// knows what the node holds in the rest.
    pub fn carried(
        before: Self,
        rules: Delivery,
        shorter: Option<u16>,
        mut draws: impl FnMut(&Content) -> Vec<Draw>,
    ) -> Self {
        let mut held = Self::carried_as_it_is(before, rules);
        let newest = held.ours().then(|| held.frames.len() - 1);
        for (at, frame) in held.frames.iter_mut().enumerate() {
            if let Some(from) = shorter {
                frame.brightest.unknown_from(from);
                frame.known = false;
                held.inherited = true;
            }
            frame.sent = if newest == Some(at) {
                let mut slots = held.newest;
                if let Some(from) = shorter {
                    slots[usize::from(from)..].fill(255);
                }
                draws(&slots).into()
            } else {
                draws(&frame.brightest.slots()).into()
            };
            // What was asked for is not known in slots. It matters for as long as such frames stay in
            // the reckoning, and only for how far a factor falls.
            frame.asked.clone_from(&frame.sent);
        }
        if let Some(from) = shorter {
            held.brightest.unknown_from(from);
        }
        held.since_reply = draws(&held.brightest.slots()).into();
        held.most.clone_from(&held.since_reply);
        held.most_asked.clone_from(&held.since_reply);
        held.reckon();
        held
    }

    /// Reads what is needed to take another frame.
    pub(super) fn near(&self) -> u8 {
        let draws = [&self.most, &self.most_asked, &self.since_reply];
        let draws = draws.map(|draws| draws.first().map_or(0, |draw| draw.0));
        let ends = [self.frames.front(), self.frames.back()];
        let before = self.frames.len().checked_sub(2);
        let frames = ends
            .into_iter()
            .chain([before.and_then(|at| self.frames.get(at))]);
        let frames = frames.flatten().fold(0, |sum, frame| sum ^ frame.near());
        low(draws[0] ^ draws[1] ^ draws[2]) ^ frames ^ lines(&self.newest)
    }

    /// The most that may be drawn, for each element.
    pub fn most(&self) -> &[Draw] {
        &self.most
    }

    /// What the newest frame draws for each element; nothing if none was sent yet.
    pub fn newest(&self) -> Vec<Draw> {
        let newest = self.frames.back().filter(|frame| frame.known);
        newest.map_or_else(
            || vec![Draw::ZERO; self.most.len()],
            |frame| frame.sent.to_vec(),
        )
    }

    /// The slots that were sent last; dark if nothing was sent yet.
    pub fn newest_content(&self) -> &Content {
        if self.ours() { &self.newest } else { &DARK }
    }

    /// The most that was asked for in any frame that may be on show, for each element.
    pub fn most_asked(&self) -> &[Draw] {
        &self.most_asked
    }

    /// What was asked in every frame that may be on show, for each element.
    pub fn asked(&self) -> impl Iterator<Item = &[Draw]> {
        self.frames.iter().map(|frame| &*frame.asked)
    }

    /// Whether only the newest frame can be on show.
    pub fn settled(&self) -> bool {
        self.frames.len() == 1 && self.ours()
    }

    /// How many frames are kept apart at most: more if there are `peaks` on the floor.
    pub const fn keep_apart(&mut self, peaks: bool) {
        self.most_frames = if peaks {
            MOST_FRAMES_WITH_PEAKS
        } else {
            MOST_FRAMES
        };
    }

    /// Whether there are too many frames for a peak.
    pub fn crowded(&self) -> bool {
        self.frames.len() > CROWD
    }

    /// Whether anything was sent yet.
    pub fn ours(&self) -> bool {
        self.frames.back().is_some_and(|frame| frame.known)
    }

    /// Whether the node may still be showing what it showed before we came.
    pub const fn inherited(&self) -> bool {
        self.inherited
    }

    /// Whether the node has fallen silent, so that nothing counts as arrived.
    pub const fn silent(&self) -> bool {
        self.silent
    }

    /// A frame with new content is about to leave: `write` is given the one before to write over.
    pub fn push(
        &mut self,
        now: Time,
        sent: &[Draw],
        asked: &[Draw],
        write: impl FnOnce(&mut Content),
    ) {
        if self.frames.len() >= self.most_frames {
            self.merge_youngest();
        } else {
            self.frames.push(|| Frame::dark(sent.len()));
        }
        write(&mut self.newest);
        if let Some(frame) = self.frames.back_mut() {
            frame.sent.copy_from_slice(sent);
            frame.asked.copy_from_slice(asked);
            frame.brightest = Brightest::of(&self.newest);
            frame.last_sent = now;
            frame.known = true;
            frame.newer = Count::default();
            frame.syncs = Count::default();
            self.brightest.raise(&frame.brightest);
        }
        raise(&mut self.since_reply, sent);
        // One more frame makes nothing less.
        raise(&mut self.most, sent);
        raise(&mut self.most_asked, asked);
    }

    /// The newest frame has left, for the first time or once more, and the system took it.
    pub fn left(&mut self, now: Time) {
        let older = self.frames.len().saturating_sub(1);
        for frame in self.frames.iter_mut().take(older) {
            // Those behind it go after it, and most left later.
            if now < frame.last_sent.plus_ms(self.rules.late_ms.into()) {
                break;
            }
            frame.newer.one_more(now, self.rules);
        }
        if let Some(newest) = self.frames.back_mut() {
            newest.last_sent = now;
        }
    }

    /// Of the datagrams that have left some did not, and nobody knows which: none counts. Call it
    /// before time passes.
    pub fn refused(&mut self) {
        for frame in self.frames.iter_mut() {
            frame.newer = Count::default();
            frame.syncs = Count::default();
        }
    }

    /// An `ArtSync` leaves now: from here on nodes wait for one before they show a frame.
    pub fn sync(&mut self, now: Time) {
        self.synced = true;
        for frame in self.frames.iter_mut() {
            if frame.newer.is_done(now) {
                frame.syncs.one_more(now, self.rules);
            }
        }
    }

    /// No `ArtSync` was sent for so long that nodes act at once again. What was sent meanwhile
    /// may never have been shown, so the count begins anew.
    pub fn sync_ended(&mut self) {
        self.synced = false;
        self.refused();
    }

    /// The node answered a poll at `now`: it is there and hears us. If it had been silent it may
    /// still be showing any of the frames since its last answer, for none of those that followed
    /// counts as arrived: only what is sent from now on does.
    pub fn node_answered(&mut self, now: Time) {
        if self.silent {
            self.silent = false;
            self.returned(now);
        }
        self.since_reply.fill(Draw::ZERO);
        self.brightest = Brightest::DARK;
        for frame in self.frames.iter().filter(|frame| frame.known) {
            self.brightest.raise(&frame.brightest);
            raise(&mut self.since_reply, &frame.sent);
        }
        self.reckon();
    }

    fn returned(&mut self, now: Time) {
        for frame in self.frames.iter_mut() {
            frame.newer = Count::default();
            frame.syncs = Count::default();
        }
        let elements = self.since_reply.len();
        let meanwhile = self.frames.push_front(|| Frame::dark(elements));
        meanwhile.sent.copy_from_slice(&self.since_reply);
        // It keeps the draw reserved, but nobody asks for it any more.
        meanwhile.asked.fill(Draw::ZERO);
        meanwhile.brightest = self.brightest;
        meanwhile.last_sent = now;
        meanwhile.known = true;
        meanwhile.newer = Count::default();
        meanwhile.syncs = Count::default();
    }

    /// The node no longer answers: it may be showing anything that was sent since it last did.
    pub fn node_fell_silent(&mut self) {
        self.silent = true;
        self.reckon();
    }

    /// Drops what can no longer be on show; says whether anything was.
    pub fn retire(&mut self, now: Time) -> bool {
        if self.silent {
            return false;
        }
        let mut changed = false;
        let mut less = false;
        while self.frames.len() > 1 {
            let Some(oldest) = self.frames.front() else {
                break;
            };
            let gone = oldest.newer.is_done(now) && (!self.synced || oldest.syncs.is_done(now));
            if !gone {
                break;
            }
            less |= reaches(&oldest.sent, &self.most) || reaches(&oldest.asked, &self.most_asked);
            self.frames.drop_front();
            changed = true;
        }
        if less {
            self.reckon();
        }
        if changed && self.inherited {
            self.inherited = self.frames.iter().any(|frame| !frame.known);
        }
        changed
    }

    /// Makes one of the two youngest, in the place of the elder. What is in that of the younger is to
    /// be written over.
    fn merge_youngest(&mut self) {
        let Some([both, newest]) = self.frames.youngest_two() else {
            return;
        };
        raise(&mut both.sent, &newest.sent);
        raise(&mut both.asked, &newest.asked);
        both.brightest.raise(&newest.brightest);
        both.known &= newest.known;
        both.last_sent = newest.last_sent;
        both.newer = newest.newer;
        both.syncs = newest.syncs;
    }

    fn reckon(&mut self) {
        self.most.fill(Draw::ZERO);
        self.most_asked.fill(Draw::ZERO);
        for frame in self.frames.iter() {
            raise(&mut self.most, &frame.sent);
            raise(&mut self.most_asked, &frame.asked);
        }
        if self.silent {
            raise(&mut self.most, &self.since_reply);
        }
    }
}

/// For each element the larger of both.
fn raise(most: &mut [Draw], draws: &[Draw]) {
    for (most, &draw) in most.iter_mut().zip(draws) {
        *most = draw.max(*most);
    }
}

/// Whether the most would be less at any element without these draws.
fn reaches(draws: &[Draw], most: &[Draw]) -> bool {
    draws
        .iter()
        .zip(most)
        .any(|(&draw, &most)| draw >= most && most > Draw::ZERO)
}

#[cfg(test)]
mod tests;
