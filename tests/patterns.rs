//! Test patterns on a made-up clock: over the console's picture, under the same limits.

mod support;

use litfloor::engine::command::{Command, Step};
use litfloor::engine::snapshot::Severity;
use litfloor::pattern::{Cover, Light, Pace, Start, TestPattern};
use support::stage::{A, SLOTS, SYNC, Stage, dmx, floor};

const DARK: [u8; SLOTS] = [0; SLOTS];

fn alone(position: &str) -> Start {
    let position = position.to_owned();
    Start {
        level: 200,
        ..Start::new(TestPattern::Panel { position })
    }
}

fn start(stage: &mut Stage, start: Start) {
    assert!(stage.command(Command::Start(start)).unwrap().is_some());
}

#[test]
fn a_pattern_shows_without_any_console() {
    let mut stage = Stage::usual("");
    stage.pass(500);
    start(&mut stage, alone("B1"));
    assert_eq!((stage.sent(0), stage.sent(1)), (DARK, [200; SLOTS]));
    stage.pass(1_500);
    let state = stage.state();
    let pattern = state.pattern.unwrap();
    assert_eq!(pattern.what, "Panel B1 alone, white at 78 %");
    assert_eq!(
        (pattern.kind.as_str(), pattern.lit),
        ("panel", vec!["B1".to_owned()])
    );
    assert_eq!((pattern.covered_panels, pattern.covers_all), (2, true));
    assert_eq!(
        (pattern.step, pattern.steps, pattern.held),
        (None, None, false)
    );
    assert!((pattern.since_s - 1.5).abs() < 1e-9 && (pattern.ends_in_s - 298.5).abs() < 1e-9);
    let notice = state
        .notices
        .iter()
        .find(|notice| notice.code == "pattern_on")
        .unwrap();
    assert_eq!(notice.severity, Severity::Info);
    assert_eq!(
        notice.text,
        "A test pattern is shown in place of the console's picture on the whole floor: Panel B1 \
         alone, white at 78 %."
    );
}

#[test]
fn the_console_goes_on_underneath_and_is_back_at_once() {
    let mut stage = Stage::usual("");
    stage.console(A, &dmx(0, 1, &[11; SLOTS]));
    stage.console(A, &dmx(0, 2, &[12; SLOTS]));
    let cover = Cover::Panels(vec!["A1".to_owned()]);
    let pattern = TestPattern::All;
    start(
        &mut stage,
        Start {
            cover,
            level: 9,
            colour: Light::Red,
            ..Start::new(pattern)
        },
    );
    assert_eq!(
        (stage.sent(0), stage.sent(1)),
        ([9, 0, 0, 9, 0, 0], [12; SLOTS])
    );
    stage.pass(20);
    stage.news();
    stage.console(A, &dmx(0, 1, &[21; SLOTS]));
    stage.console(A, &dmx(0, 2, &[22; SLOTS]));
    assert_eq!(
        (stage.sent(0), stage.sent(1)),
        ([9, 0, 0, 9, 0, 0], [22; SLOTS])
    );
    let now = stage.now;
    stage.news();
    assert_eq!(stage.command(Command::Stop), Ok(None));
    assert_eq!((stage.sent(0), stage.sent(1)), ([21; SLOTS], [22; SLOTS]));
    let left: Vec<_> = stage
        .news()
        .iter()
        .filter_map(|left| left.dmx().map(|dmx| (left.at, dmx.1, dmx.2)))
        .collect();
    assert!(left.contains(&(now, 1, vec![21; SLOTS])), "{left:?}");
    assert!(!stage.has_notice("pattern_on"));
    assert_eq!(
        stage.command(Command::Stop),
        Ok(None),
        "once more does no harm"
    );
}

#[test]
fn it_ends_by_itself() {
    let mut stage = Stage::usual("");
    stage.console(A, &dmx(0, 1, &[11; SLOTS]));
    start(&mut stage, alone("B1"));
    stage.pass(299_999);
    assert_eq!((stage.sent(0), stage.sent(1)), (DARK, [200; SLOTS]));
    stage.pass(1);
    assert_eq!((stage.sent(0), stage.sent(1)), ([11; SLOTS], DARK));
    assert!(stage.state().pattern.is_none());
    for lasts_s in [0, 3_601] {
        let order = Start {
            lasts_s,
            ..alone("B1")
        };
        let refused = stage.command(Command::Start(order)).unwrap_err();
        assert_eq!(refused.code, "lasts_out_of_bounds");
        assert!(refused.text.contains("1 to 3600 s"), "{refused}");
    }
}

#[test]
fn it_ends_when_the_one_who_began_it_goes_away() {
    let mut stage = Stage::usual("");
    start(
        &mut stage,
        Start {
            owner: Some(7),
            ..alone("B1")
        },
    );
    assert!(stage.state().pattern.unwrap().ends_with_owner);
    assert!(stage.command(Command::OwnerGone(8)).unwrap().is_some());
    assert_eq!(stage.command(Command::OwnerGone(7)), Ok(None));
    assert_eq!(stage.sent(1), DARK);
    // Whoever takes over owns it, or nobody does.
    start(
        &mut stage,
        Start {
            owner: Some(7),
            ..alone("B1")
        },
    );
    start(&mut stage, alone("B1"));
    assert!(stage.command(Command::OwnerGone(7)).unwrap().is_some());
}

#[test]
fn it_walks_by_itself_and_by_hand() {
    let mut stage = Stage::usual("");
    let walk = |pace| Start {
        level: 50,
        ..Start::new(TestPattern::Walk { run: None, pace })
    };
    start(&mut stage, walk(Pace::StepMs(700)));
    let lit = |stage: &Stage| (stage.sent(0)[0], stage.sent(1)[0]);
    assert_eq!(lit(&stage), (50, 0));
    stage.pass(699);
    assert_eq!(lit(&stage), (50, 0));
    stage.pass(1);
    assert_eq!(lit(&stage), (0, 50));
    let state = stage.command(Command::Step(Step::By(1))).unwrap().unwrap();
    assert_eq!(
        (state.step, state.steps, state.held),
        (Some(0), Some(2), true)
    );
    stage.pass(5_000);
    assert_eq!(lit(&stage), (50, 0), "stepped by hand it stays");
    stage.command(Command::Step(Step::To(1))).unwrap();
    assert_eq!(lit(&stage), (0, 50));
    let refused = stage.command(Command::Step(Step::To(2))).unwrap_err();
    assert_eq!(refused.code, "no_such_step");
    assert_eq!(lit(&stage), (0, 50));
    start(&mut stage, walk(Pace::Held(1)));
    assert_eq!(lit(&stage), (0, 50));
}

#[test]
fn an_order_at_fault_changes_nothing() {
    let mut stage = Stage::usual("");
    let refused = stage.command(Command::Step(Step::By(1))).unwrap_err();
    assert_eq!(refused.code, "no_steps");
    start(&mut stage, alone("B1"));
    assert!(
        stage.command(Command::Step(Step::By(1))).is_err(),
        "it has no steps"
    );
    let refused = stage.command(Command::Start(alone("C1"))).unwrap_err();
    assert_eq!(refused.text, "There is no panel at C1. Panels: A1, B1.");
    assert_eq!((stage.sent(0), stage.sent(1)), (DARK, [200; SLOTS]));
}

#[test]
fn a_floor_that_is_only_watched_shows_no_pattern() {
    let mut stage = Stage::new(&floor(&[(0, "0:0:1")], 20.0, ""));
    let refused = stage.command(Command::Start(alone("A1"))).unwrap_err();
    assert_eq!(refused.code, "watch_only");
    assert!(refused.text.contains("only watches"), "{refused}");
    assert!(stage.state().pattern.is_none());
}

#[test]
fn a_lost_signal_does_not_disturb_it() {
    let fade = "[signal]\nlost_after_s = 1\nwhen_lost = \"fade\"\nfade_s = 2";
    let mut stage = Stage::usual(fade);
    stage.console(A, &dmx(0, 1, &[100; SLOTS]));
    stage.console(A, &dmx(0, 2, &[100; SLOTS]));
    let cover = Cover::Panels(vec!["B1".to_owned()]);
    start(
        &mut stage,
        Start {
            cover,
            ..alone("B1")
        },
    );
    // A second after it was lost, half of it is left.
    stage.pass(2_000);
    assert_eq!(stage.sent(1), [200; SLOTS]);
    assert!(
        (48..=52).contains(&stage.sent(0)[0]),
        "{}",
        stage.sent(0)[0]
    );
    stage.command(Command::Stop).unwrap();
    assert_eq!(
        stage.sent(0),
        stage.sent(1),
        "what was covered has faded underneath"
    );
    start(&mut stage, alone("B1"));
    stage.pass(2_000);
    assert_eq!(stage.sent(1), [200; SLOTS]);
    stage.command(Command::Stop).unwrap();
    assert_eq!((stage.sent(0), stage.sent(1)), (DARK, DARK));
}

#[test]
fn it_does_not_wait_for_art_sync() {
    let mut stage = Stage::usual("");
    stage.console(A, &dmx(0, 1, &[1; SLOTS]));
    stage.console(A, SYNC);
    stage.console(A, &dmx(0, 1, &[2; SLOTS]));
    assert_eq!(stage.sent(0), [1; SLOTS], "held");
    start(&mut stage, alone("A1"));
    assert_eq!(stage.sent(0), [200; SLOTS]);
    stage.command(Command::Stop).unwrap();
    assert_eq!(stage.sent(0), [1; SLOTS], "still held");
    start(&mut stage, alone("A1"));
    stage.console(A, SYNC);
    assert_eq!(stage.sent(0), [200; SLOTS]);
    stage.command(Command::Stop).unwrap();
    assert_eq!(stage.sent(0), [2; SLOTS]);
}

#[test]
fn a_panel_is_alone_even_where_two_nodes_show_one_universe() {
    let mut stage = Stage::new(&floor(&[(1, "0:0:1"), (2, "0:0:1")], 20.0, ""));
    stage.console(A, &dmx(0, 1, &[30; SLOTS]));
    assert_eq!((stage.sent(0), stage.sent(1)), ([30; SLOTS], [30; SLOTS]));
    start(&mut stage, alone("B1"));
    assert_eq!((stage.sent(0), stage.sent(1)), (DARK, [200; SLOTS]));
    let cover = Cover::Panels(vec!["B1".to_owned()]);
    start(
        &mut stage,
        Start {
            cover,
            ..alone("B1")
        },
    );
    assert_eq!((stage.sent(0), stage.sent(1)), ([30; SLOTS], [200; SLOTS]));
}

#[test]
fn what_falls_leaves_before_what_rises_and_the_cap_holds() {
    // One panel at full is 2 × 0.3 A = 0.6 A; the supply may give 0.7 A × 0.8 = 0.56 A.
    let mut stage = Stage::new(&floor(&[(1, "0:0:1"), (1, "0:0:2")], 0.7, ""));
    stage.pass(1_000);
    let full = |position| Start {
        level: 255,
        ..alone(position)
    };
    start(&mut stage, full("B1"));
    // Long enough to be let up all the way.
    stage.pass(15_000);
    // 0.56 / 0.6 × 255 = 238.
    assert!(
        (236..=238).contains(&stage.sent(1)[0]),
        "{:?}",
        stage.sent(1)
    );
    // With half of it there is room for some of what rises, which must wait for its turn.
    let half = Start {
        level: 128,
        ..alone("B1")
    };
    start(&mut stage, half);
    stage.pass(15_000);
    assert_eq!(stage.sent(1), [128; SLOTS]);
    stage.news();
    start(&mut stage, full("A1"));
    assert_ne!(stage.sent(0), DARK);
    let universes: Vec<u16> = stage
        .news()
        .iter()
        .filter_map(|left| Some(left.dmx()?.1))
        .collect();
    assert_eq!(universes, [2, 1]);
    assert_eq!(stage.sent(1), DARK);
    stage.pass(15_000);
    assert!(
        (236..=238).contains(&stage.sent(0)[0]),
        "{:?}",
        stage.sent(0)
    );
    let supply = &stage.state().supplies[0];
    assert!(supply.draw_a <= 0.56 && supply.asked_a > 0.59, "{supply:?}");
}

/// WCAG 2.2, success criterion 2.3.1: no more than three flashes, each a pair of opposing changes,
/// in any one second. Someone holds a key down.
#[test]
fn no_order_makes_the_floor_flash() {
    let orders: [fn(u32) -> Command; 3] = [
        |_| Command::Step(Step::By(1)),
        |_| {
            Command::Start(Start {
                level: 255,
                ..Start::new(TestPattern::All)
            })
        },
        |turn| match turn % 2 {
            0 => Command::Stop,
            _ => Command::Start(Start {
                level: 255,
                ..Start::new(TestPattern::All)
            }),
        },
    ];
    for order in orders {
        let mut stage = Stage::usual("");
        stage.pass(500);
        let pace = Pace::Held(0);
        start(
            &mut stage,
            Start::new(TestPattern::Walk { run: None, pace }),
        );
        stage.pass(2_000);
        // When the light of the first universe changed, in milliseconds.
        let mut changes = Vec::new();
        let mut last = stage.sent(0);
        for turn in 0..90 {
            // Thirty times a second. An order that is refused changes nothing.
            let _ = stage.command(order(turn));
            for ms in 0..33 {
                stage.pass(1);
                if stage.sent(0) != last {
                    last = stage.sent(0);
                    changes.push(turn * 33 + ms);
                }
            }
        }
        for at in &changes {
            let within = changes
                .iter()
                .filter(|&&other| (*at..at + 1_000).contains(&other));
            assert!(within.count() < 6, "{changes:?}");
        }
        // It is held back, not swallowed.
        stage.pass(1_100);
        let pattern = stage.state().pattern;
        assert!(pattern.is_none_or(|pattern| pattern.starts_in_s == 0.0));
    }
}
