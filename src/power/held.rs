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

/// The frames of one universe that its node may be showing.
#[derive(Debug, Clone)]
pub struct Held {
    frames: VecDeque<Frame>,
    spare: Vec<Frame>,
    rules: Delivery,
    synced: bool,
    most: Vec<Draw>,
    known: Vec<Draw>,
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
            synced: false,
            most: full.to_vec(),
            known: vec![Draw::ZERO; full.len()],
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
        held.known.clone_from(&held.since_reply);
        held.reckon();
        held
    }

    /// The most that may be drawn, for each element.
    pub fn most(&self) -> &[Draw] {
        &self.most
    }

    /// The same, without what the node showed before we came.
    pub fn known(&self) -> &[Draw] {
        &self.known
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
        if self.frames.len() >= MOST_FRAMES {
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
        self.known.fill(Draw::ZERO);
        self.most.fill(Draw::ZERO);
        for frame in &self.frames {
            for (at, &draw) in frame.sent.iter().enumerate() {
                self.most[at] = self.most[at].max(draw);
                if frame.known {
                    self.known[at] = self.known[at].max(draw);
                }
            }
        }
        if self.silent {
            for (at, &draw) in self.since_reply.iter().enumerate() {
                self.most[at] = self.most[at].max(draw);
                self.known[at] = self.known[at].max(draw);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RULES: Delivery = Delivery {
        copies: 3,
        late_ms: 20,
    };

    fn held() -> Held {
        Held::new(&[Draw(100)], Time::from_ms(0), RULES)
    }

    fn push(held: &mut Held, ms: u64, draw: u64) {
        let draws = &[Draw(draw)];
        held.push(Time::from_ms(ms), draws, draws, &Content::DARK);
        held.left(Time::from_ms(ms));
    }

    fn most_at(held: &mut Held, ms: u64) -> u64 {
        held.retire(Time::from_ms(ms));
        held.most()[0].0
    }

    #[test]
    fn what_was_there_before_us_counts_until_three_datagrams_are_surely_there() {
        let mut held = held();
        push(&mut held, 20, 10);
        held.left(Time::from_ms(30));
        assert_eq!(most_at(&mut held, 500), 100, "two may both be lost");
        held.left(Time::from_ms(500));
        assert_eq!(
            most_at(&mut held, 519),
            100,
            "the third may still be under way"
        );
        assert_eq!(most_at(&mut held, 520), 10);
        assert!(held.settled());
    }

    #[test]
    fn datagrams_that_could_be_overtaken_do_not_count() {
        let mut held = held();
        push(&mut held, 100, 50);
        // These leave while the one of 100 ms may still be under way: it could arrive last.
        push(&mut held, 105, 10);
        held.left(Time::from_ms(110));
        held.left(Time::from_ms(115));
        assert_eq!(most_at(&mut held, 200), 50);
        for ms in [200, 210, 220] {
            held.left(Time::from_ms(ms));
        }
        assert_eq!(most_at(&mut held, 239), 50);
        assert_eq!(most_at(&mut held, 240), 10);
    }

    #[test]
    fn while_nodes_wait_for_sync_three_syncs_must_follow() {
        let mut held = held();
        held.sync(Time::from_ms(1));
        push(&mut held, 30, 10);
        held.left(Time::from_ms(40));
        held.left(Time::from_ms(50));
        held.sync(Time::from_ms(60));
        for ms in [70, 80] {
            held.sync(Time::from_ms(ms));
        }
        assert_eq!(
            most_at(&mut held, 200),
            100,
            "the sync of 60 ms may have come before the frame"
        );
        held.sync(Time::from_ms(200));
        assert_eq!(most_at(&mut held, 219), 100);
        assert_eq!(most_at(&mut held, 220), 10);
        push(&mut held, 300, 5);
        held.sync_ended();
        for ms in [5_000, 5_010, 5_020] {
            held.left(Time::from_ms(ms));
        }
        assert_eq!(most_at(&mut held, 5_040), 5);
    }

    #[test]
    fn a_silent_node_may_show_anything_since_it_last_answered() {
        let mut held = held();
        let mut ms = 100;
        for draw in [80, 3, 3, 3, 3, 3, 3, 3] {
            push(&mut held, ms, draw);
            ms += 30;
        }
        assert_eq!(most_at(&mut held, ms + 100), 3);
        held.node_fell_silent();
        assert_eq!(most_at(&mut held, ms + 100), 80);
        push(&mut held, ms + 200, 1);
        assert_eq!(most_at(&mut held, ms + 9_000), 80);
        // It is back, but shows what it showed until new datagrams have surely arrived.
        held.node_answered(Time::from_ms(20_000));
        assert_eq!(most_at(&mut held, 20_010), 80);
        for ms in [20_020, 20_030, 20_040] {
            held.left(Time::from_ms(ms));
        }
        assert_eq!(most_at(&mut held, 20_059), 80);
        assert_eq!(most_at(&mut held, 20_060), 1);
    }

    #[test]
    fn under_a_fast_stream_old_frames_are_gone_in_time() {
        // 500 frames a second: far more in the promised 20 ms than are kept apart.
        let mut held = held();
        for step in 0..500 {
            push(&mut held, 100 + 2 * step, if step == 0 { 90 } else { 10 });
            held.retire(Time::from_ms(100 + 2 * step));
        }
        assert_eq!(held.most()[0].0, 10);
        assert!(held.frames.len() <= MOST_FRAMES);
    }

    /// One ampere part for each unit of the first slots, two elements: slots 1 and 2.
    fn of_slots(slots: &[u8; UNIVERSE_SLOTS]) -> Vec<Draw> {
        vec![Draw(slots[0].into()), Draw(slots[1].into())]
    }

    fn content(one: u8, other: u8) -> Content {
        let mut content = Content::DARK;
        (content.sent[0], content.sent[1]) = (one, other);
        content
    }

    #[test]
    fn what_may_be_on_show_is_reckoned_anew_by_its_slots() {
        let mut held = Held::new(&[Draw(100)], Time::from_ms(0), RULES);
        for (ms, one, other) in [(100, 200, 7), (200, 10, 9), (210, 5, 8)] {
            let (now, draws) = (Time::from_ms(ms), &[Draw(one.into())]);
            held.push(now, draws, draws, &content(one, other));
            held.left(now);
        }
        for ms in [220, 230, 240, 250] {
            held.left(Time::from_ms(ms));
        }
        // Only the last is on show, but before it two others may be: 210 ms is too soon after 200.
        held.retire(Time::from_ms(270));
        let carried = Held::carried(&held, RULES, None, of_slots);
        assert_eq!(carried.most(), [Draw(5), Draw(8)]);
        assert!(carried.settled() && carried.ours());
        assert_eq!(carried.newest(), [Draw(5), Draw(8)]);
    }

    #[test]
    fn what_a_longer_frame_holds_beyond_the_shorter_one_may_be_anything() {
        let mut held = Held::new(&[Draw(100)], Time::from_ms(0), RULES);
        for (ms, one) in [(100, 200), (200, 0)] {
            let (now, draws) = (Time::from_ms(ms), &[Draw(one.into())]);
            held.push(now, draws, draws, &content(one, 0));
            held.left(now);
        }
        for ms in [220, 240, 260, 280] {
            held.left(Time::from_ms(ms));
        }
        held.retire(Time::from_ms(400));
        assert_eq!(held.most(), [Draw(0)]);
        let carried = Held::carried(&held, RULES, Some(1), of_slots);
        assert_eq!(carried.most(), [Draw(0), Draw(255)]);
        assert!(!carried.ours() && carried.inherited());
        // A silent node may show the brightest that it ever got in the one slot, and anything in
        // the other, at the same time.
        held.node_fell_silent();
        let mut carried = Held::carried(&held, RULES, Some(1), of_slots);
        assert_eq!(carried.most(), [Draw(200), Draw(255)]);
        carried.node_answered(Time::from_ms(500));
        assert_eq!(carried.most(), [Draw(200), Draw(255)]);
    }

    #[test]
    fn other_promises_of_the_network_begin_to_count_anew() {
        let mut held = held();
        push(&mut held, 100, 50);
        push(&mut held, 200, 10);
        for ms in [220, 240] {
            held.left(Time::from_ms(ms));
        }
        let sums = |_: &[u8; UNIVERSE_SLOTS]| vec![Draw(7)];
        let rules = Delivery {
            copies: 5,
            late_ms: 20,
        };
        let mut carried = Held::carried(&held, rules, None, sums);
        carried.retire(Time::from_ms(300));
        assert!(!carried.settled());
        for ms in [300, 320, 340, 360, 380] {
            assert!(!carried.settled());
            carried.left(Time::from_ms(ms));
            carried.retire(Time::from_ms(ms + 20));
        }
        assert!(carried.settled());
    }

    #[test]
    fn many_frames_in_a_burst_are_never_forgotten() {
        let mut held = held();
        for step in 0..100 {
            push(&mut held, 100, 100 - step);
        }
        assert_eq!(most_at(&mut held, 100), 100);
        assert!(held.frames.len() <= MOST_FRAMES);
    }
}
