use proptest::prelude::*;

use super::*;
use crate::floor::tables::UNIVERSE_SLOTS;

const RULES: Delivery = Delivery {
    copies: 3,
    late_ms: 20,
};

fn held() -> Held {
    Held::new(&[Draw(100)], Time::from_ms(0), RULES)
}

fn push(held: &mut Held, ms: u64, draw: u64) {
    let draws = &[Draw(draw)];
    held.push(Time::from_ms(ms), draws, draws, |slots| *slots = DARK);
    held.left(Time::from_ms(ms));
}

fn most_at(held: &mut Held, ms: u64) -> u64 {
    held.retire(Time::from_ms(ms));
    is_reckoned(held);
    held.most()[0].0
}

/// What is kept from frame to frame is what it would be if it were found anew.
fn is_reckoned(held: &Held) {
    let mut anew = held.clone();
    anew.reckon();
    assert_eq!(anew.most, held.most);
    assert_eq!(anew.most_asked, held.most_asked);
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

#[test]
fn what_the_system_did_not_take_counts_for_nothing() {
    let mut held = held();
    push(&mut held, 100, 50);
    push(&mut held, 200, 10);
    held.left(Time::from_ms(210));
    held.left(Time::from_ms(220));
    held.refused();
    assert_eq!(
        most_at(&mut held, 500),
        100,
        "not even the first is surely there"
    );
    for ms in [500, 510, 520] {
        held.left(Time::from_ms(ms));
    }
    assert_eq!(most_at(&mut held, 540), 10);
}

/// One ampere part for each unit of the first slots, two elements: slots 1 and 2.
fn of_slots(slots: &[u8; UNIVERSE_SLOTS]) -> Vec<Draw> {
    vec![Draw(slots[0].into()), Draw(slots[1].into())]
}

fn content(one: u8, other: u8) -> Content {
    let mut content = DARK;
    (content[0], content[1]) = (one, other);
    content
}

#[test]
fn what_may_be_on_show_is_reckoned_anew_by_its_slots() {
    let mut held = Held::new(&[Draw(100)], Time::from_ms(0), RULES);
    for (ms, one, other) in [(100, 200, 7), (200, 10, 9), (210, 5, 8)] {
        let (now, draws) = (Time::from_ms(ms), &[Draw(one.into())]);
        held.push(now, draws, draws, |slots| *slots = content(one, other));
        held.left(now);
    }
    for ms in [220, 230, 240, 250] {
        held.left(Time::from_ms(ms));
    }
    // Only the last is on show, but before it two others may be: 210 ms is too soon after 200.
    held.retire(Time::from_ms(270));
    let carried = Held::carried(held.clone(), RULES, None, of_slots);
    assert_eq!(carried.most(), [Draw(5), Draw(8)]);
    assert!(carried.settled() && carried.ours());
    assert_eq!(carried.newest(), [Draw(5), Draw(8)]);
}

#[test]
fn what_a_longer_frame_holds_beyond_the_shorter_one_may_be_anything() {
    let mut held = Held::new(&[Draw(100)], Time::from_ms(0), RULES);
    for (ms, one) in [(100, 200), (200, 0)] {
        let (now, draws) = (Time::from_ms(ms), &[Draw(one.into())]);
        held.push(now, draws, draws, |slots| *slots = content(one, 0));
        held.left(now);
    }
    for ms in [220, 240, 260, 280] {
        held.left(Time::from_ms(ms));
    }
    held.retire(Time::from_ms(400));
    assert_eq!(held.most(), [Draw(0)]);
    let carried = Held::carried(held.clone(), RULES, Some(1), of_slots);
    assert_eq!(carried.most(), [Draw(0), Draw(255)]);
    assert!(!carried.ours() && carried.inherited());
    // A silent node may show the brightest that it ever got in the one slot, and anything in
    // the other, at the same time.
    held.node_fell_silent();
    let mut carried = Held::carried(held.clone(), RULES, Some(1), of_slots);
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
    let mut carried = Held::carried(held.clone(), rules, None, sums);
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

proptest! {
    #[test]
    fn the_most_is_always_that_of_all_frames(
        steps in prop::collection::vec((0..6_u8, 0..40_u64, 0..100_u64), 1..200),
    ) {
        let mut held = held();
        let mut ms = 0;
        for (what, wait, draw) in steps {
            ms += wait;
            match what {
                0..3 => push(&mut held, ms, draw),
                3 => held.left(Time::from_ms(ms)),
                4 => held.node_answered(Time::from_ms(ms)),
                _ => held.node_fell_silent(),
            }
            is_reckoned(&held);
            held.retire(Time::from_ms(ms));
            is_reckoned(&held);
        }
    }
}
