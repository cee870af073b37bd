//! Joints that open during small made-up shows, start to end; `examples/step_trials.rs` runs many big ones.

#[path = "support/dice.rs"]
#[expect(dead_code, reason = "others need more of it")]
mod dice;
#[path = "support/stepped.rs"]
mod stepped;

use stepped::{Content, Event, Kind, LooseJoint, Stage, feeds, one_sensor, show, walk};

/// Three panels of four segments on one feed.
fn one_feed() -> Kind {
    Kind {
        panels: 3,
        sensors: 1,
        ..feeds()
    }
}

fn opens(group: usize, at_s: f64) -> Event {
    Event {
        group,
        at_s,
        share: 0.0,
        held: false,
        until_s: f64::INFINITY,
    }
}

/// Groups of a panel come in pairs, supply and data, for each of its segments.
fn supply(panel: usize, segment: usize) -> usize {
    (panel * 4 + segment) * 2
}

#[test]
fn a_joint_that_opens_is_named_within_ten_seconds_and_taken_back_when_it_closes() {
    let mut stage = Stage::new(one_feed(), 0);
    let mut event = opens(supply(2, 1), 0.0);
    event.until_s = 11.0;
    let shown = show(&mut stage, 8.0, 17.0, &[event], |_, _| {});
    let [(s, opened)] = &shown.opened[..] else {
        panic!("{shown:?}");
    };
    assert!(*s <= 10.0, "{s}");
    assert_eq!((opened.panel, &opened.items[..]), (2, &[9, 10, 11][..]));
    assert!(shown.noticed_s.is_some_and(|s| s <= 1.0), "{shown:?}");
    assert_eq!(shown.closed.len(), 1, "{shown:?}");
    assert!(shown.last.opened.is_empty());
}

#[test]
fn segments_that_hold_their_last_picture_are_found() {
    let mut stage = Stage::new(one_feed(), 5);
    let mut event = opens(supply(1, 0) + 1, 0.0);
    event.held = true;
    let shown = show(&mut stage, 8.0, 10.0, &[event], |_, _| {});
    let [(_, opened)] = &shown.opened[..] else {
        panic!("{shown:?}");
    };
    assert!(opened.held, "{opened:?}");
    assert_eq!(opened.items, (4..12).collect::<Vec<u32>>());
}

/// All panels swell as one: nobody can tell which of them it is.
#[test]
fn where_content_does_not_tell_panels_apart_none_is_named_for_certain() {
    let kind = Kind {
        content: Content::Swell,
        ..one_feed()
    };
    let mut stage = Stage::new(kind, 0);
    let shown = show(&mut stage, 8.0, 4.0, &[opens(supply(1, 2), 0.0)], |_, _| {});
    let sure = shown.opened.iter().filter(|(_, one)| one.chance >= 0.999);
    assert_eq!(sure.count(), 0, "{shown:?}");
    assert!(shown.unclear > 0, "{shown:?}");
}

/// Each panel has one colour: which of its segments it is can't be told, the panel can.
#[test]
fn where_a_panel_has_one_colour_no_other_panel_is_told() {
    let kind = Kind {
        content: Content::Panels,
        ..one_feed()
    };
    let mut stage = Stage::new(kind, 2);
    let shown = show(&mut stage, 8.0, 7.0, &[opens(supply(2, 3), 0.0)], |_, _| {});
    let opened = shown.opened.iter().map(|(_, one)| one.panel);
    let panels: Vec<u32> = opened.chain(shown.panels.iter().map(|one| one.1)).collect();
    assert!(!panels.is_empty(), "{shown:?}");
    assert!(panels.iter().all(|panel| *panel == 2), "{shown:?}");
}

#[test]
fn nothing_is_told_of_a_sound_floor_even_if_its_sensor_jumps() {
    let mut stage = Stage::new(one_feed(), 3);
    let mut done = false;
    let shown = show(&mut stage, 8.0, 20.0, &[], |stage, s| {
        if s >= 8.0 && !done {
            done = true;
            stage.jump(0, 1.0, 0.0);
        }
    });
    assert_eq!(shown.opened, []);
    assert_eq!(shown.panels, []);
    assert!(shown.sensors >= 1, "{shown:?}");
}

#[test]
fn one_sensor_for_few_panels_does_as_well() {
    let kind = Kind {
        panels: 3,
        noise_a: 0.3,
        offset_a: 0.3,
        ..one_sensor()
    };
    let mut stage = Stage::new(kind, 9);
    let shown = show(
        &mut stage,
        8.0,
        10.0,
        &[opens(supply(2, 1), 0.0)],
        |_, _| {},
    );
    assert!(
        shown.opened.iter().any(|(_, one)| one.items == [9, 10, 11]),
        "{shown:?}"
    );
}

#[test]
fn a_joint_that_opens_under_feet_is_found_and_no_other() {
    let mut stage = Stage::new(one_feed(), 4);
    let group = supply(2, 1);
    let joint = LooseJoint { group, often: 0.9 };
    let walked = walk(&mut stage, 2, &[joint], 20, 60.0);
    let (presses, _, segment) = walked.found[0].expect("found");
    assert!(presses <= 20, "{walked:?}");
    assert_eq!(segment, Some(1), "{walked:?}");
    assert!(walked.wrong.is_empty(), "{walked:?}");
    assert!(walked.words.contains("visits by feet"), "{}", walked.words);
}

#[test]
fn people_on_a_sound_floor_break_nothing() {
    let mut stage = Stage::new(one_feed(), 6);
    let walked = walk(&mut stage, 2, &[], 0, 40.0);
    assert!(
        walked.wrong.is_empty() && walked.opened.is_empty(),
        "{walked:?}"
    );
}
