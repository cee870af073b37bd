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

use std::collections::VecDeque;

use super::frame::{Count, Frame, brighten};
use crate::floor::model::Delivery;
use crate::floor::tables::UNIVERSE_SLOTS;
use crate::units::{Draw, Time};

pub use super::frame::Content;

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
    frames: VecDeque<Frame>,
    spare: Vec<Frame>,
    rules: Delivery,
    most_frames: usize,
    synced: bool,
    most: Vec<Draw>,
    since_reply: Vec<Draw>,
    /// In each slot the brightest that was sent since then.
    brightest: Box<[u8; UNIVERSE_SLOTS]>,
    silent: bool,
}

impl Held {
    /// Nothing was sent yet: the node may be showing anything up to `full`.
    pub fn new(full: &[Draw], now: Time, rules: Delivery) -> Self {
        let before = Frame {
            sent: full.to_vec(),
            asked: vec![Draw::ZERO; full.len()],
            content: Box::new(Content {
                sent: [255; UNIVERSE_SLOTS],
                ..Content::DARK
            }),
            last_sent: now,
            known: false,
            newer: Count::default(),
            syncs: Count::default(),
        };
        Self {
            frames: VecDeque::from([before]),
            spare: Vec::new(),
            rules,
            most_frames: MOST_FRAMES,
            synced: false,
            most: full.to_vec(),
            since_reply: vec![Draw::ZERO; full.len()],
            brightest: Box::new([0; UNIVERSE_SLOTS]),
            silent: false,
        }
    }

    /// What `before` says of the same universe of the same node, now that the floor file says
    /// something else about its slots: `draws` gives what slots draw for each element.
    ///
    /// `shorter` is how many slots its frames had, if they had fewer than they have now: nobody
    /// knows what the node holds in the rest.
    pub fn carried(
        before: &Self,
        rules: Delivery,
        shorter: Option<usize>,
        mut draws: impl FnMut(&[u8; UNIVERSE_SLOTS]) -> Vec<Draw>,
    ) -> Self {
        let mut held = before.clone();
        let unknown = shorter.unwrap_or(UNIVERSE_SLOTS)..;
        for frame in &mut held.frames {
            frame.content.sent[unknown.clone()].fill(255);
            frame.sent = draws(&frame.content.sent);
            frame.asked = draws(&frame.content.asked);
            frame.known &= shorter.is_none();
            if rules != before.rules {
                frame.newer = Count::default();
                frame.syncs = Count::default();
            }
        }
        held.brightest[unknown].fill(255);
        held.spare.clear();
        held.rules = rules;
        held.since_reply = draws(&held.brightest);
        held.most.clone_from(&held.since_reply);
        held.reckon();
        held
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
            |frame| frame.sent.clone(),
        )
    }

    /// What was asked in every frame that may be on show, for each element.
    pub fn asked(&self) -> impl Iterator<Item = &[Draw]> {
        self.frames.iter().map(|frame| frame.asked.as_slice())
    }

    /// Whether only the newest frame can be on show.
    pub fn settled(&self) -> bool {
        self.frames.len() == 1 && self.frames[0].known
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
    pub fn inherited(&self) -> bool {
        self.frames.iter().any(|frame| !frame.known)
    }

    /// Whether the node has fallen silent, so that nothing counts as arrived.
    pub const fn silent(&self) -> bool {
        self.silent
    }

    /// A frame with new content is about to leave.
    pub fn push(&mut self, now: Time, sent: &[Draw], asked: &[Draw], content: &Content) {
        if self.frames.len() >= self.most_frames {
            self.merge_youngest();
        }
        let mut frame = self.spare.pop().unwrap_or_else(|| Frame {
            sent: vec![Draw::ZERO; sent.len()],
            asked: vec![Draw::ZERO; asked.len()],
            content: Box::new(Content::DARK),
            last_sent: now,
            known: true,
            newer: Count::default(),
            syncs: Count::default(),
        });
        frame.sent.copy_from_slice(sent);
        frame.asked.copy_from_slice(asked);
        *frame.content = content.clone();
        frame.last_sent = now;
        frame.known = true;
        frame.newer = Count::default();
        frame.syncs = Count::default();
        self.frames.push_back(frame);
        for (most, &draw) in self.since_reply.iter_mut().zip(sent) {
            *most = draw.max(*most);
        }
        brighten(&mut self.brightest, &content.sent);
        self.reckon();
    }

    /// The newest frame has left, for the first time or once more, and the system took it.
    pub fn left(&mut self, now: Time) {
        let older = self.frames.len().saturating_sub(1);
        for frame in self.frames.iter_mut().take(older) {
            if now >= frame.last_sent.plus_ms(self.rules.late_ms.into()) {
                frame.newer.one_more(now, self.rules);
            }
        }
        if let Some(newest) = self.frames.back_mut() {
            newest.last_sent = now;
        }
    }

    /// An `ArtSync` leaves now: from here on nodes wait for one before they show a frame.
    pub fn sync(&mut self, now: Time) {
        self.synced = true;
        for frame in &mut self.frames {
            if frame.newer.is_done(now) {
                frame.syncs.one_more(now, self.rules);
            }
        }
    }

    /// No `ArtSync` was sent for so long that nodes act at once again. What was sent meanwhile
    /// may never have been shown, so the count begins anew.
    pub fn sync_ended(&mut self) {
        self.synced = false;
        for frame in &mut self.frames {
            frame.newer = Count::default();
            frame.syncs = Count::default();
        }
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
        self.brightest.fill(0);
        for frame in self.frames.iter().filter(|frame| frame.known) {
            brighten(&mut self.brightest, &frame.content.sent);
            for (most, &draw) in self.since_reply.iter_mut().zip(&frame.sent) {
                *most = draw.max(*most);
            }
        }
        self.reckon();
    }

    fn returned(&mut self, now: Time) {
        for frame in &mut self.frames {
            frame.newer = Count::default();
            frame.syncs = Count::default();
        }
        let mut meanwhile = self.spare.pop().unwrap_or_else(|| self.frames[0].clone());
        meanwhile.sent.copy_from_slice(&self.since_reply);
        // It keeps the draw reserved, but nobody asks for it any more.
        meanwhile.asked.fill(Draw::ZERO);
        meanwhile.content.sent = *self.brightest;
        meanwhile.content.asked.fill(0);
        meanwhile.last_sent = now;
        meanwhile.known = true;
        meanwhile.newer = Count::default();
        meanwhile.syncs = Count::default();
        self.frames.push_front(meanwhile);
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
        let before = self.frames.len();
        while self.frames.len() > 1 {
            let oldest = &self.frames[0];
            let gone = oldest.newer.is_done(now) && (!self.synced || oldest.syncs.is_done(now));
            if !gone {
                break;
            }
            if let Some(frame) = self.frames.pop_front() {
                self.spare.push(frame);
            }
        }
        let changed = self.frames.len() != before;
        if changed {
            self.reckon();
        }
        changed
    }

    fn merge_youngest(&mut self) {
        let (Some(newest), Some(before)) = (self.frames.pop_back(), self.frames.pop_back()) else {
            return;
        };
        let mut both = newest;
        for (to, &from) in both.sent.iter_mut().zip(&before.sent) {
            *to = from.max(*to);
        }
        for (to, &from) in both.asked.iter_mut().zip(&before.asked) {
            *to = from.max(*to);
        }
        both.content.brighten(&before.content);
        both.known &= before.known;
        self.frames.push_back(both);
        self.spare.push(before);
    }

    fn reckon(&mut self) {
        self.most.fill(Draw::ZERO);
        for frame in &self.frames {
            for (at, &draw) in frame.sent.iter().enumerate() {
                self.most[at] = self.most[at].max(draw);
            }
        }
        if self.silent {
            for (at, &draw) in self.since_reply.iter().enumerate() {
                self.most[at] = self.most[at].max(draw);
            }
        }
    }
}

#[cfg(test)]
mod tests;
