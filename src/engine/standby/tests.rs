//! Two of them on a network that loses, delays and repeats what it likes.

use proptest::prelude::*;

use super::*;

const KEY: Key = [7; 32];

const SAYS: Says = Says {
    file: 5,
    floor_va: None,
    blind: false,
};

fn at(last: u8) -> SocketAddrV4 {
    SocketAddrV4::new(Ipv4Addr::new(10, 0, 0, last), 6454)
}

fn one(role: Role, run: u64, now: Time) -> Standby {
    let peer = if role == Role::First { at(2) } else { at(1) };
    Standby::new(
        Setup {
            role,
            peer,
            key: KEY,
            run,
        },
        now,
    )
}

/// Both, and what is between them.
struct Pair {
    now: Time,
    first: Option<Standby>,
    second: Option<Standby>,
    /// Whether beats arrive.
    joined: bool,
    /// All that was ever sent, for who sends it again.
    sent: Vec<Vec<u8>>,
    /// How long both have led, in milliseconds.
    both_ms: u64,
    /// How long none has, since it last was one.
    none_ms: u64,
}

impl Pair {
    fn new() -> Self {
        let now = Time::from_s(1);
        Self {
            now,
            first: Some(one(Role::First, 11, now)),
            second: Some(one(Role::Second, 22, now)),
            joined: true,
            sent: Vec::new(),
            both_ms: 0,
            none_ms: 0,
        }
    }

    fn who(&self) -> (bool, bool) {
        let leads = |one: &Option<Standby>| one.as_ref().is_some_and(Standby::leads);
        (leads(&self.first), leads(&self.second))
    }

    /// One millisecond.
    fn step(&mut self) {
        self.now = self.now.plus_ms(1);
        let now = self.now;
        let mut sent = Vec::new();
        for one in [&mut self.first, &mut self.second].into_iter().flatten() {
            if one.was_away(now) {
                one.listen(now);
            }
            one.decide(now);
            sent.extend(one.beat(now, SAYS));
        }
        if self.joined {
            for bytes in &sent {
                for one in [&mut self.first, &mut self.second].into_iter().flatten() {
                    one.hear(bytes, now);
                }
            }
        }
        self.sent.extend(sent);
        match self.who() {
            (true, true) => self.both_ms += 1,
            (false, false) => self.none_ms += 1,
            _ => self.none_ms = 0,
        }
    }

    fn run(&mut self, ms: u64) {
        for _ in 0..ms {
            self.step();
        }
    }
}

#[test]
fn the_first_leads_and_the_second_stands_by() {
    let mut pair = Pair::new();
    pair.run(100);
    assert_eq!(pair.who(), (true, false), "they have heard each other");
    pair.run(60_000);
    assert_eq!((pair.who(), pair.both_ms), ((true, false), 0));
}

#[test]
fn alone_it_leads_when_it_has_listened() {
    for role in [Role::First, Role::Second] {
        let mut alone = one(role, 1, Time::from_s(1));
        assert_eq!(alone.decide(Time::from_ms(1_599)), None);
        assert_eq!(alone.decide(Time::from_ms(1_600)), Some(Change::Lead));
        assert_eq!(alone.taken, 0, "from nobody");
    }
}

#[test]
fn the_second_takes_the_lead_within_half_a_second_and_gives_it_back() {
    let mut pair = Pair::new();
    pair.run(5_000);
    pair.first = None;
    pair.run(400);
    assert_eq!(pair.who(), (false, true));
    assert_eq!(pair.second.as_ref().unwrap().taken, 1);
    pair.run(5_000);
    pair.first = Some(one(Role::First, 12, pair.now));
    (pair.both_ms, pair.none_ms) = (0, 0);
    pair.run(WELL_AFTER_MS - 100);
    assert_eq!(
        pair.who(),
        (false, true),
        "the first hears the console for a while"
    );
    let mut longest = 0;
    for _ in 0..300 {
        pair.step();
        longest = longest.max(pair.none_ms);
    }
    assert_eq!((pair.who(), pair.both_ms), ((true, false), 0));
    assert!(longest <= 5, "{longest} ms without a lead");
    assert_eq!(pair.first.unwrap().taken, 0);
}

#[test]
fn who_says_that_it_ends_is_followed_at_once() {
    let mut pair = Pair::new();
    pair.run(5_000);
    let mut first = pair.first.take().unwrap();
    let last = first.last_beat(pair.now, SAYS);
    assert!(pair.second.as_mut().unwrap().hear(&last, pair.now));
    pair.step();
    assert_eq!(pair.who(), (false, true));
}

#[test]
fn when_the_network_is_whole_again_one_leads() {
    let mut pair = Pair::new();
    pair.run(5_000);
    pair.joined = false;
    pair.run(5_000);
    assert_eq!(pair.who(), (true, true), "neither hears the other");
    pair.joined = true;
    pair.both_ms = 0;
    pair.run(1_000);
    assert_eq!(pair.who(), (true, false));
    // "Two masters never fight for longer than one poll": ours is every 2.8 s.
    assert!(pair.both_ms <= BEAT_EVERY_MS + 1, "{} ms", pair.both_ms);
}

#[test]
fn who_was_away_listens_before_it_sends() {
    let mut pair = Pair::new();
    pair.run(5_000);
    let away = pair.first.take();
    pair.run(3_000);
    pair.first = away;
    pair.both_ms = 0;
    pair.run(200);
    assert_eq!((pair.who(), pair.both_ms), ((false, true), 0));
    pair.run(WELL_AFTER_MS);
    assert_eq!((pair.who(), pair.both_ms), ((true, false), 0));
}

/// What was sent while a process was stopped waits in its socket.
#[test]
fn what_waited_in_the_socket_says_nothing_of_now() {
    for stopped_is_first in [true, false] {
        let mut pair = Pair::new();
        pair.run(5_000);
        let before = pair.sent.len();
        let place = if stopped_is_first {
            &mut pair.first
        } else {
            &mut pair.second
        };
        let mut stopped = place.take().unwrap();
        pair.run(3_000);
        let now = pair.now;
        if stopped.was_away(now) {
            stopped.listen(now);
        }
        for bytes in &pair.sent[before..] {
            stopped.hear(bytes, now);
            assert_eq!(stopped.decide(now), None);
        }
        let place = if stopped_is_first {
            &mut pair.first
        } else {
            &mut pair.second
        };
        *place = Some(stopped);
        pair.both_ms = 0;
        pair.run(1_000);
        assert_eq!(
            (pair.who(), pair.both_ms),
            ((!stopped_is_first, stopped_is_first), 0)
        );
    }
}

#[test]
fn beats_that_are_sent_again_keep_nobody_alive() {
    let mut pair = Pair::new();
    pair.run(2_000);
    pair.first = Some(one(Role::First, 12, pair.now));
    pair.run(2_000);
    pair.first = None;
    let old = pair.sent.clone();
    for at_ms in 0..1_000_usize {
        pair.step();
        // All that the first ever sent, in both of its runs.
        let bytes = &old[at_ms % old.len()];
        let now = pair.now;
        pair.second.as_mut().unwrap().hear(bytes, now);
    }
    assert_eq!(pair.who(), (false, true));
    // Nor by who is started anew and has heard nothing yet.
    let mut late = one(Role::Second, 23, pair.now);
    for ms in 0..700 {
        let now = pair.now.plus_ms(ms);
        for bytes in &old {
            late.hear(bytes, now);
        }
        late.decide(now);
    }
    assert!(late.leads());
}

/// Whoever recorded a beat of every run that there was.
#[test]
fn recordings_are_no_use_after_many_restarts() {
    let mut pair = Pair::new();
    pair.run(2_000);
    for run in 0..2 * MOST_GONE as u64 {
        pair.first = Some(one(Role::First, 1_000_000 * (run + 1), pair.now));
        pair.run(1_000);
    }
    pair.run(WELL_AFTER_MS + 2_000);
    assert_eq!(pair.who(), (true, false));
    pair.both_ms = 0;
    let old = pair.sent.clone();
    for at_ms in 0..5_000_usize {
        pair.step();
        let now = pair.now;
        for bytes in &old[at_ms % old.len()..old.len().min(at_ms % old.len() + 3)] {
            pair.first.as_mut().unwrap().hear(bytes, now);
            pair.second.as_mut().unwrap().hear(bytes, now);
        }
    }
    assert_eq!((pair.who(), pair.both_ms), ((true, false), 0));
}

#[test]
fn recordings_of_other_nights_do_not_keep_the_two_from_hearing_each_other() {
    let mut before = Pair::new();
    let mut old = Vec::new();
    for night in 0..4 {
        before.first = Some(one(Role::First, 100_000_000 * (night + 1), before.now));
        before.second = Some(one(Role::Second, 900_000_000 * (night + 1), before.now));
        let begun = before.sent.len();
        before.run(1_000);
        old.push(before.sent[begun..].to_vec());
    }
    let mut pair = Pair::new();
    pair.run(2_000);
    pair.first = None;
    pair.run(1_000);
    pair.first = Some(one(Role::First, 3, pair.now));
    pair.both_ms = 0;
    for at_ms in 0..15_000_usize {
        pair.step();
        let now = pair.now;
        for night in &old {
            let bytes = &night[at_ms % night.len()];
            for one in [&mut pair.first, &mut pair.second] {
                one.as_mut().unwrap().hear(bytes, now);
            }
        }
    }
    // A poll comes every 2.5 to 3 s (Art-Net 4): they are never both on for longer.
    assert!(pair.both_ms <= 2_500, "{} ms", pair.both_ms);
    assert_eq!(pair.who(), (true, false));
}

#[test]
fn forged_beats_are_none() {
    let mut second = one(Role::Second, 22, Time::from_s(1));
    let mut forger = one(Role::First, 11, Time::from_s(1));
    forger.setup.key = [8; 32];
    let bytes = forger.beat(Time::from_s(1), SAYS).unwrap();
    assert!(!second.hear(&bytes, Time::from_s(1)));
    let mut first = one(Role::First, 11, Time::from_s(1));
    let bytes = first.beat(Time::from_s(1), SAYS).unwrap();
    assert!(
        second.hear(&bytes, Time::from_s(1)),
        "it may come from another address of the same machine"
    );
    let mut twin = one(Role::Second, 33, Time::from_s(1));
    let bytes = twin.beat(Time::from_s(1), SAYS).unwrap();
    assert!(!second.hear(&bytes, Time::from_s(1)), "of the same role");
}

#[test]
fn whoever_answers_polls_but_can_t_be_understood_is_not_fought() {
    let mut second = one(Role::Second, 22, Time::from_s(1));
    second.peer_answered(Time::from_ms(1_300));
    assert_eq!(second.decide(Time::from_s(2)), None);
    assert!(
        !second.deaf(Time::from_s(2)),
        "its beats may be on their way"
    );
    assert!(second.deaf(Time::from_ms(2_300)));
    // Until it answers no more.
    assert_eq!(second.decide(Time::from_s(12)), Some(Change::Lead));
}

#[test]
fn whoever_was_understood_and_is_silent_is_gone_and_not_deaf() {
    let mut pair = Pair::new();
    pair.run(2_000);
    let now = pair.now;
    pair.second.as_mut().unwrap().peer_answered(now);
    pair.first = None;
    pair.run(1_000);
    let second = pair.second.as_mut().unwrap();
    assert!(second.leads() && !second.deaf(pair.now));
    // Started again with another key it answers polls.
    second.peer_answered(pair.now);
    assert!(second.deaf(pair.now.plus_ms(DEAF_AFTER_MS)));
}

#[test]
fn whoever_answers_a_poll_before_its_first_beat_is_heard_is_not_deaf() {
    let mut pair = Pair::new();
    let now = pair.now;
    pair.first.as_mut().unwrap().peer_answered(now);
    pair.second.as_mut().unwrap().peer_answered(now);
    for _ in 0..2_000 {
        pair.run(1);
        for one in [&pair.first, &pair.second] {
            assert!(!one.as_ref().unwrap().deaf(pair.now));
        }
    }
}

proptest! {
    /// Whatever dies, comes back, is parted or joined: when all has been well for a while the first
    /// leads alone, and while both are joined they never both lead for longer than two beats in all.
    #[test]
    fn in_the_end_the_first_leads_alone(events in prop::collection::vec((0_u8..5, 1_u64..2_000), 0..12)) {
        let mut pair = Pair::new();
        let mut run = 100;
        for (what, ms) in events {
            run += 1;
            match what {
                0 => pair.first = None,
                1 => pair.second = None,
                2 => pair.joined = !pair.joined,
                3 => pair.first = Some(one(Role::First, run, pair.now)),
                _ => pair.second = Some(one(Role::Second, run, pair.now)),
            }
            pair.run(ms);
        }
        pair.joined = true;
        pair.first.get_or_insert_with(|| one(Role::First, 1_001, pair.now));
        pair.second.get_or_insert_with(|| one(Role::Second, 1_002, pair.now));
        pair.both_ms = 0;
        pair.run(WELL_AFTER_MS + 2_000);
        prop_assert_eq!(pair.who(), (true, false));
        prop_assert!(pair.both_ms <= 2 * BEAT_EVERY_MS + 2, "{} ms", pair.both_ms);
    }
}
