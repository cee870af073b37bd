//! What leaves: unicast to the nodes of the file and to nobody else, freshly numbered, repeated
//! every 800 to 1,000 ms (Art-Net 4), and what happens when the signal is lost.

mod support;

use std::collections::{BTreeMap, BTreeSet};
use std::net::{Ipv4Addr, SocketAddrV4};

use litfloor::engine::snapshot::SignalState;
use support::stage::{A, B, Left, SYNC, Stage, dmx, floor, node};

/// Frames that left for one universe: when, number, slots.
fn frames(left: &[Left], universe: u16) -> Vec<(u64, u8, Vec<u8>)> {
    left.iter()
        .filter_map(|left| {
            let (number, of, slots) = left.dmx()?;
            (of == universe).then_some((left.at.0 / 1_000, number, slots))
        })
        .collect()
}

#[test]
fn all_that_leaves_goes_unicast_to_nodes_of_the_file() {
    let mut stage = Stage::new(&floor(&[(1, "0:0:1"), (2, "0:0:2")], 20.0, ""));
    for level in 0..200_u8 {
        stage.console(A, &dmx(0, 1, &[level; 6]));
        stage.console(B, &dmx(0, 2, &[level; 6]));
        stage.console(B, &dmx(0, 3, &[level; 6]));
        stage.console(B, SYNC);
        // A reply of a stranger does not make it one of ours.
        let mut reply = b"Art-Net\0\x00\x21".to_vec();
        reply.resize(239, 0);
        stage.arrives(SocketAddrV4::new(Ipv4Addr::new(10, 9, 5, 5), 6454), &reply);
        stage.pass(40);
    }
    let to: BTreeSet<SocketAddrV4> = stage.left.iter().map(|left| left.to).collect();
    assert_eq!(to, BTreeSet::from([node(1), node(2)]));
    for left in &stage.left {
        if let Some((_, universe, _)) = left.dmx() {
            assert_eq!(left.to, node(u8::try_from(universe).unwrap()));
        }
    }
}

#[test]
fn numbers_count_from_1_to_255_for_each_universe() {
    let mut stage = Stage::usual("");
    for frame in 0..700_u32 {
        let level = u8::try_from(frame % 250).unwrap();
        stage.console(A, &dmx(7, 1, &[level; 6]));
        if frame % 2 == 0 {
            stage.console(A, &dmx(7, 2, &[level; 6]));
        }
        stage.pass(23);
    }
    for universe in [1, 2] {
        let numbers: Vec<u8> = frames(&stage.left, universe).iter().map(|f| f.1).collect();
        // Until what the node showed before is surely gone, packets are not numbered.
        let start = numbers.iter().position(|&n| n != 0).unwrap();
        assert!((1..=20).contains(&start), "{start}");
        for (at, &number) in numbers[start..].iter().enumerate() {
            assert_eq!(usize::from(number), at % 255 + 1);
        }
        assert!(numbers.len() > 255 + start);
    }
}

#[test]
fn unchanged_data_is_sent_again_every_800_to_1000_ms() {
    for console_sends_on in [false, true] {
        let mut stage = Stage::usual("[signal]\nwhen_lost = \"hold\"");
        stage.console(A, &dmx(0, 1, &[9; 6]));
        stage.pass(2_000);
        stage.left.clear();
        for _ in 0..800 {
            if console_sends_on {
                stage.console(A, &dmx(0, 1, &[9; 6]));
            }
            stage.pass(23);
        }
        // Also the one that has never arrived, as black.
        for (universe, level) in [(1, 9), (2, 0)] {
            let frames = frames(&stage.left, universe);
            assert!(frames.len() >= 18);
            for pair in frames.windows(2) {
                let gap = pair[1].0 - pair[0].0;
                assert!((800..=1_000).contains(&gap), "{gap} ms");
                assert_eq!(pair[1].2, [level; 6]);
            }
        }
    }
}

/// Nodes still show what a litfloor before this one sent, and the console repeats it once a second.
#[test]
fn a_new_start_darkens_nothing_that_a_console_still_sends() {
    let mut stage = Stage::usual("[signal]\nwhen_lost = \"hold\"");
    stage.pass(990);
    assert_eq!(frames(&stage.left, 1), [], "nobody has said what it shows");
    stage.console(A, &dmx(0, 1, &[9; 6]));
    stage.pass(1_000);
    let all = frames(&stage.left, 1);
    assert!(
        all.len() >= 3 && all.iter().all(|frame| frame.2 == [9; 6]),
        "{all:?}"
    );
    // What nobody sends is made dark then: what its node showed counts against all others until it is.
    let silent = frames(&stage.left, 2);
    assert!((1_050..=1_250).contains(&silent[0].0), "{} ms", silent[0].0);
    assert!(silent.iter().all(|frame| frame.2 == [0; 6]));
}

#[test]
fn with_no_nodes_in_the_file_it_only_watches() {
    let mut stage = Stage::new(&floor(&[(0, "0:0:1"), (0, "0:0:2")], 20.0, ""));
    for level in 0..100 {
        stage.console(A, &dmx(0, 1, &[level; 6]));
        stage.console(A, SYNC);
        stage.pass(100);
    }
    assert!(stage.left.is_empty(), "no frames, no syncs, no polls");
    let state = stage.state();
    assert_eq!((stage.asked(0), state.frames_out), ([99; 6], 0));
    assert!(state.feeds[0].draw_a > 0.2, "still metered");
}

#[test]
fn two_nodes_can_output_the_same_universe() {
    let mut stage = Stage::new(&floor(&[(1, "0:0:1"), (2, "0:0:1")], 20.0, ""));
    stage.pass(1_000);
    stage.news();
    stage.console(A, &dmx(0, 1, &[44; 6]));
    let news = stage.news();
    let to: Vec<_> = news
        .iter()
        .map(|left| (left.to, left.dmx().unwrap().2))
        .collect();
    assert_eq!(to, [(node(1), vec![44; 6]), (node(2), vec![44; 6])]);
    assert_eq!((stage.sent(0), stage.sent(1)), ([44; 6], [44; 6]));
    // Both are in the sums: 4 pixels of 300 mA at 44 of 255.
    let draw_a = stage.state().feeds[0].draw_a;
    assert!((draw_a - 4.0 * 0.3 * 44.0 / 255.0).abs() < 1e-9, "{draw_a}");
}

#[test]
fn a_lost_signal_is_held_and_said() {
    let mut stage = Stage::usual("[signal]\nlost_after_s = 3\nwhen_lost = \"hold\"");
    assert_eq!(stage.state().signal, SignalState::Waiting);
    stage.console(A, &dmx(0, 1, &[80; 6]));
    assert_eq!(stage.state().signal, SignalState::Partial);
    assert!(stage.has_notice("signal_partial"));
    stage.console(A, &dmx(0, 2, &[80; 6]));
    assert_eq!(stage.state().signal, SignalState::Live);
    stage.pass(2_990);
    assert!(!stage.has_notice("signal_lost"));
    stage.pass(20);
    assert_eq!(stage.state().signal, SignalState::Lost);
    assert!(stage.has_notice("signal_lost"));
    assert!(stage.state().universes[0].lost);
    stage.pass(100_000);
    assert_eq!(stage.sent(0), [80; 6]);
}

#[test]
fn a_lost_signal_fades_to_black_in_the_time_that_the_file_says() {
    let text = "[signal]\nlost_after_s = 1.5\nwhen_lost = \"fade\"\nfade_s = 4";
    let mut stage = Stage::usual(text);
    stage.console(A, &dmx(0, 1, &[200; 6]));
    stage.console(A, &dmx(0, 2, &[100; 6]));
    stage.pass(1_490);
    assert_eq!(stage.sent(0), [200; 6]);
    let mut last = 200.0;
    for quarter in 1..=3_u32 {
        stage.pass(1_000);
        let level = f64::from(stage.sent(0)[0]);
        // Linear in light; a step every 25 ms or so.
        let wanted = 200.0 * (1.0 - f64::from(quarter) / 4.0);
        assert!((level - wanted).abs() < 6.0, "{level} for {wanted}");
        assert!(level < last);
        last = level;
    }
    stage.pass(1_100);
    assert_eq!((stage.sent(0), stage.sent(1)), ([0; 6], [0; 6]));
    let news = frames(&stage.left, 1);
    assert!(
        news.windows(2)
            .all(|pair| pair[1].2[0] <= pair[0].2[0] || pair[0].0 < 500)
    );
    assert!(stage.has_notice("signal_lost"));
    // A console that starts again is taken at once, also with the same picture and number.
    stage.news();
    stage.console(A, &dmx(1, 1, &[200; 6]));
    assert_eq!(stage.sent(0), [200; 6]);
    assert_eq!(frames(&stage.news(), 1)[0].2, [200; 6]);
    assert_eq!(stage.state().signal, SignalState::Partial);
}

#[test]
fn a_console_that_starts_again_after_a_loss_is_taken_at_once() {
    for first in [1, 254] {
        let mut stage = Stage::usual("");
        stage.console(A, &dmx(10, 1, &[5; 6]));
        stage.pass(3_500);
        assert!(stage.has_notice("signal_lost"));
        stage.console(A, &dmx(first, 1, &[6; 6]));
        assert_eq!(stage.sent(0), [6; 6]);
    }
}

#[test]
fn a_source_that_leaves_a_faded_floor_does_not_light_it_again() {
    let text = "[signal]\nlost_after_s = 1\nwhen_lost = \"fade\"\nfade_s = 1";
    let mut stage = Stage::usual(text);
    stage.console(A, &dmx(0, 1, &[200; 6]));
    stage.pass(1_000);
    stage.console(B, &dmx(0, 1, &[250; 6]));
    stage.pass(4_000);
    assert_eq!(stage.sent(0), [0; 6]);
    stage.left.clear();
    // A leaves 10 s after its last frame, B 1 s later.
    stage.pass(10_000);
    let lit = frames(&stage.left, 1)
        .iter()
        .any(|frame| frame.2.iter().any(|&slot| slot > 0));
    assert!(!lit, "a flash in the dark");
}

#[test]
fn a_sibling_that_must_dim_does_so_although_nothing_in_it_changed() {
    // Four panels of 0.6 A; each may draw 0.5 A (level 212), all together 1.216 A (516 steps).
    let runs = [(1, "0:0:1"), (1, "0:0:2"), (1, "0:0:3"), (1, "0:0:4")];
    let text = floor(&runs, 1.52, "[cap]\nlet_up_s = 0.2").replace(
        "rows = 1\n[[circuit]]",
        "rows = 1\nrated_a = 0.625\n[[circuit]]",
    );
    for (offset, pause) in (0..200).map(|at| (at % 50, 6 + at / 50)) {
        let mut stage = Stage::new(&text);
        for _ in 0..40 {
            for (universe, level) in [(1, 150), (2, 150), (3, 0), (4, 0)] {
                stage.console(A, &dmx(0, universe, &[level; 6]));
            }
            stage.pass(23);
        }
        assert_eq!(stage.sent(0), [150; 6]);
        stage.pass(offset);
        // One rises over its own panel's limit, then another over everyone's: within the pause
        // between two rounds to siblings. 1 and 2 stand still and are sent on and on.
        stage.console(A, &dmx(0, 4, &[255; 6]));
        stage.pass(3);
        stage.console(A, &dmx(0, 3, &[255; 6]));
        stage.pass(pause);
        for _ in 0..6 {
            stage.console(A, &dmx(0, 1, &[150; 6]));
            stage.console(A, &dmx(0, 2, &[150; 6]));
            stage.pass(23);
            stage.console(A, &dmx(0, 3, &[255; 6]));
        }
        // 724 steps are asked after the panels' own limits, 516 may be: 71.2 %.
        let levels = [stage.sent(0)[0], stage.sent(1)[0], stage.sent(2)[0]];
        assert!(
            levels[0] <= 107 && levels[1] <= 107,
            "{offset} {pause}: {levels:?}"
        );
        assert!(levels[2] >= 148, "{offset} {pause}: {levels:?} starves");
    }
}

#[test]
fn a_sync_that_the_system_did_not_take_is_not_counted() {
    let mut stage = Stage::new(&floor(&[(1, "0:0:1"), (1, "0:0:2")], 1.0, ""));
    let mut reserved: BTreeMap<bool, f64> = BTreeMap::new();
    for takes in [true, false] {
        stage.pass(10_000);
        stage.console(A, &dmx(0, 1, &[255; 6]));
        stage.console(A, SYNC);
        for _ in 0..5 {
            stage.pass(50);
            stage.console(A, SYNC);
        }
        // The frame that darkens leaves with the syncs; then only syncs, taken or not.
        stage.console(A, &dmx(0, 1, &[0; 6]));
        stage.console(A, SYNC);
        stage.pass(200);
        for _ in 0..5 {
            stage.takes = takes;
            stage.console(A, SYNC);
            stage.takes = true;
            stage.pass(50);
        }
        reserved.insert(takes, stage.state().supplies[0].reserved_a);
    }
    assert!(reserved[&true] < 1e-9, "{reserved:?}");
    assert!(
        reserved[&false] > 0.59,
        "it may still show the frame before"
    );
}

#[test]
fn frames_that_the_system_refuses_are_counted_and_sent_again() {
    let mut stage = Stage::usual("");
    stage.pass(1_000);
    stage.takes = false;
    stage.console(A, &dmx(0, 1, &[7; 6]));
    assert_eq!(stage.state().nodes[0].send_errors, 1);
    assert!(stage.has_notice("send_errors"));
    stage.takes = true;
    stage.news();
    stage.pass(100);
    assert_eq!(frames(&stage.news(), 1)[0].2, [7; 6]);
}
