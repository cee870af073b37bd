//! `ArtSync` (Art-Net 4): frames are held until it comes; without one for 4 s they are acted on
//! at once again; it is ignored while sources are merged and from another address than that of
//! the newest `ArtDmx`. And onwards: nodes get it after the frames of the set.

mod support;

use litfloor::engine::tally::Outcome;
use support::stage::{A, B, Left, SYNC, Stage, dmx, dmx_bytes, floor, node};

#[test]
fn frames_wait_for_sync_and_are_shown_with_it() {
    let mut stage = Stage::usual("");
    assert_eq!(stage.console(A, &dmx(0, 1, &[1; 6])), Outcome::Taken);
    assert_eq!(stage.console(A, SYNC), Outcome::Sync);
    assert_eq!(stage.console(A, &dmx(0, 1, &[2; 6])), Outcome::HeldForSync);
    assert_eq!(stage.console(A, &dmx(0, 2, &[3; 6])), Outcome::HeldForSync);
    stage.pass(100);
    assert_eq!((stage.asked(0), stage.asked(1)), ([1; 6], [0; 6]));
    assert!(stage.state().universes[0].synced);
    // The newest of several counts.
    stage.console(A, &dmx(0, 1, &[4; 6]));
    assert_eq!(stage.console(A, SYNC), Outcome::Sync);
    assert_eq!((stage.asked(0), stage.asked(1)), ([4; 6], [3; 6]));
    assert_eq!(stage.state().datagrams["held_for_sync"], 3);
}

#[test]
fn without_sync_for_four_seconds_frames_are_acted_on_at_once() {
    let mut stage = Stage::usual("");
    stage.console(A, &dmx(0, 1, &[1; 6]));
    stage.console(A, SYNC);
    stage.pass(3_900);
    assert_eq!(stage.console(A, &dmx(0, 1, &[2; 6])), Outcome::HeldForSync);
    stage.pass(90);
    assert_eq!(stage.asked(0), [1; 6]);
    stage.pass(60);
    assert_eq!(stage.asked(0), [2; 6], "what waited is shown");
    assert_eq!(stage.console(A, &dmx(0, 1, &[3; 6])), Outcome::Taken);
    assert_eq!(stage.asked(0), [3; 6]);
    assert!(!stage.state().universes[0].synced);
}

#[test]
fn a_sync_from_another_address_than_the_newest_frames_is_ignored() {
    let mut stage = Stage::usual("");
    assert_eq!(stage.console(A, SYNC), Outcome::SyncIgnored, "no frame yet");
    stage.console(A, &dmx(0, 1, &[1; 6]));
    assert_eq!(stage.console(B, SYNC), Outcome::SyncIgnored);
    assert_eq!(stage.console(A, &dmx(0, 1, &[2; 6])), Outcome::Taken);
    stage.console(A, SYNC);
    stage.console(A, &dmx(0, 1, &[3; 6]));
    assert_eq!(stage.console(B, SYNC), Outcome::SyncIgnored);
    assert_eq!(stage.asked(0), [2; 6]);
    stage.console(B, &dmx(0, 2, &[9; 6]));
    assert_eq!(stage.console(A, SYNC), Outcome::SyncIgnored, "B's is newer");
    assert_eq!(stage.state().datagrams["sync_ignored"], 4);
}

#[test]
fn while_two_sources_are_merged_nothing_waits() {
    let mut stage = Stage::usual("");
    stage.console(B, &dmx(0, 1, &[50; 6]));
    stage.console(A, &dmx(0, 1, &[1; 6]));
    stage.console(A, SYNC);
    assert_eq!(stage.console(A, &dmx(0, 1, &[60; 6])), Outcome::Taken);
    assert_eq!(stage.asked(0), [60; 6]);
    assert_eq!(stage.console(B, &dmx(0, 1, &[70; 6])), Outcome::Taken);
    assert_eq!(stage.asked(0), [70; 6]);
    // One that waited before the other source joined waits no longer.
    let mut stage = Stage::usual("");
    stage.console(A, &dmx(0, 1, &[1; 6]));
    stage.console(A, SYNC);
    stage.console(A, &dmx(0, 1, &[20; 6]));
    stage.console(B, &dmx(0, 1, &[2; 6]));
    assert_eq!(stage.asked(0), [20; 6]);
}

#[test]
fn sync_goes_onwards_once_to_each_node_after_the_frames_of_the_set() {
    let runs = [(1, "0:0:1"), (1, "0:0:2"), (2, "0:0:3")];
    let mut stage = Stage::new(&floor(&runs, 20.0, ""));
    stage.pass(2_000);
    stage.console(A, &dmx(0, 1, &[1; 6]));
    stage.news();
    stage.console(A, SYNC);
    stage.news();
    for level in 2..20 {
        stage.pass(23);
        for universe in [1, 2, 3] {
            stage.console(A, &dmx(0, universe, &[level; 6]));
        }
        stage.news();
        stage.console(A, SYNC);
        let news = stage.news();
        let frames: Vec<u16> = news.iter().filter_map(|l| l.dmx().map(|d| d.1)).collect();
        let mut sorted = frames.clone();
        sorted.sort_unstable();
        assert_eq!(sorted, [1, 2, 3]);
        let syncs: Vec<_> = news[3..].iter().map(|l| (l.to, l.is_sync())).collect();
        assert_eq!(syncs, [(node(1), true), (node(2), true)]);
    }
}

/// Whoever sends many of them, perhaps from the console's forged address, makes no flood to the nodes of that.
#[test]
fn a_sync_that_shows_nothing_new_goes_onwards_once_a_second() {
    let mut stage = Stage::usual("");
    stage.pass(2_000);
    stage.console(A, &dmx(0, 1, &[1; 6]));
    assert_eq!(stage.console(A, SYNC), Outcome::Sync);
    stage.news();
    let (mut frames, mut syncs) = (0, 0);
    for _ in 0..2_500 {
        for _ in 0..10 {
            assert_eq!(stage.console(A, SYNC), Outcome::Sync);
        }
        stage.pass(1);
        let news = stage.news();
        syncs += news.iter().filter(|left| left.is_sync()).count();
        frames += news.iter().filter(|left| left.dmx().is_some()).count();
    }
    // Of 25,000 there is one after each frame that is repeated, and one a second.
    assert!(frames > 0 && syncs > 0);
    assert!(syncs <= frames + 3, "{syncs} for {frames} frames");
    // What is new is shown at once.
    stage.console(A, &dmx(0, 1, &[9; 6]));
    stage.console(A, SYNC);
    let news = stage.news();
    let (frame, sync) = (&news[0], &news[1]);
    assert!(frame.dmx().is_some() && sync.is_sync());
}

/// What the system refuses for one node, because its interface has gone, keeps no sync from another.
#[test]
fn a_node_that_can_t_be_reached_keeps_no_sync_from_the_others() {
    let runs = [(1, "0:0:1"), (2, "0:0:2")];
    let mut stage = Stage::new(&floor(&runs, 20.0, ""));
    stage.pass(2_000);
    let refuse = |stage: &mut Stage| {
        let news = stage.news();
        for _ in news.iter().filter(|left| left.to == node(2)) {
            stage.engine.refused(node(2), stage.now);
        }
        news
    };
    refuse(&mut stage);
    for level in 1..40 {
        for universe in [1, 2] {
            stage.console(A, &dmx(0, universe, &[level; 6]));
            refuse(&mut stage);
        }
        stage.console(A, SYNC);
        let news = refuse(&mut stage);
        let told = news.iter().any(|left| left.is_sync() && left.to == node(1));
        assert!(level == 1 || told, "after picture {level}");
        stage.pass(23);
        refuse(&mut stage);
    }
}

/// Whoever forges syncs among the frames of many universes finds one waiting nearly each time.
#[test]
fn syncs_leave_some_time_apart_and_one_that_comes_sooner_leaves_then() {
    let runs = [(1, "0:0:1"), (1, "0:0:2"), (2, "0:0:3")];
    let mut stage = Stage::new(&floor(&runs, 20.0, ""));
    stage.pass(2_000);
    let began = stage.now;
    let (mut level, mut last) = (0_u8, None);
    stage.news();
    let mut syncs = Vec::new();
    for at in 0..3_000_u16 {
        level = level.wrapping_add(7);
        stage.console(A, &dmx(0, 1 + at % 3, &[level; 6]));
        assert_eq!(stage.console(A, SYNC), Outcome::Sync);
        // Frames wait for nothing.
        let shown = stage.news();
        let is_it = |l: &support::stage::Left| l.dmx().is_some_and(|d| d.2[0] == level);
        assert!(shown.iter().any(is_it), "frame {at}");
        last = Some(stage.now);
        stage.pass(1);
        let passed = stage.news();
        let all = shown.iter().chain(&passed).filter(|l| l.is_sync());
        syncs.extend(all.map(|l| (l.at, l.to)));
    }
    // Three seconds, with one for each of two nodes every 5 ms.
    stage.pass(5);
    syncs.extend(
        stage
            .news()
            .iter()
            .filter(|l| l.is_sync())
            .map(|l| (l.at, l.to)),
    );
    for to in [node(1), node(2)] {
        let times: Vec<_> = syncs.iter().filter(|s| s.1 == to).map(|s| s.0).collect();
        assert!(times.windows(2).all(|two| two[1].us_since(two[0]) >= 5_000));
        assert!((590..=601).contains(&times.len()), "{}", times.len());
        // The last of all has been passed on, and nothing after it.
        assert!(times[times.len() - 1] >= last.unwrap());
        assert!(times[0] >= began);
    }
    stage.pass(500);
    assert!(!stage.news().iter().any(support::stage::Left::is_sync));
}

#[test]
fn no_sync_leaves_when_the_source_uses_none() {
    let mut stage = Stage::usual("");
    for level in 0..50 {
        stage.console(A, &dmx(0, 1, &[level; 6]));
        stage.console(B, SYNC);
        stage.pass(23);
    }
    assert!(stage.left.iter().all(|left| !left.is_sync()));
}

#[test]
fn what_falls_leaves_before_what_rises() {
    let mut stage = Stage::usual("");
    stage.console(A, &dmx(0, 2, &[200; 6]));
    stage.console(A, SYNC);
    stage.pass(500);
    stage.console(A, &dmx_bytes(0, 0, 1, 6, &[200; 6]));
    stage.console(A, &dmx_bytes(0, 0, 2, 6, &[10; 6]));
    stage.news();
    stage.console(A, SYNC);
    let order: Vec<u16> = stage
        .news()
        .iter()
        .filter_map(|l| l.dmx().map(|d| d.1))
        .collect();
    assert_eq!(order, [2, 1]);
}

/// litfloor is told to end, and its floor file wants a dark floor: nodes that wait for a sync get one after the
/// black frames, or they would go on showing what they have.
#[test]
fn what_is_made_dark_at_the_end_is_shown_by_nodes_that_wait_for_syncs() {
    for synced in [true, false] {
        let mut stage = Stage::usual("[signal]\nwhen_ended = \"dark\"");
        for universe in [1, 2] {
            stage.console(A, &dmx(0, universe, &[9; 6]));
        }
        if synced {
            assert_eq!(stage.console(A, SYNC), Outcome::Sync);
        }
        stage.pass(200);
        let left = stage.ends();
        let black = |universe| {
            left.iter()
                .rposition(|one| one.dmx() == Some((0, universe, vec![0; 6])))
        };
        let last = black(1).max(black(2)).unwrap();
        assert!(black(1).is_some() && black(2).is_some());
        let after = left[last..].iter().any(Left::is_sync);
        assert_eq!(after, synced);
        assert!(
            left.iter()
                .filter_map(Left::dmx)
                .all(|(.., slots)| slots == [0; 6])
        );
    }
    // By default all stays.
    let mut stage = Stage::usual("");
    stage.console(A, &dmx(0, 1, &[9; 6]));
    assert!(stage.ends().is_empty());
}
