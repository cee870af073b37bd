//! What people are told, and how patterns are stepped.

use super::super::{Cover, Light, Pace, Show, Start, TestPattern};
use super::{at, floor, text};
use crate::floor::tables::Tables;
use crate::floor::testing;

#[test]
fn what_is_unknown_is_refused_with_what_is_known() {
    let floor = testing::demo();
    let tables = Tables::compile(&floor);
    let told = |start: Start| {
        let refused = Show::new(&start, &floor, &tables).unwrap_err();
        format!("{}: {refused}", refused.code)
    };
    let of = |pattern| told(Start::new(pattern));
    let panel = |position: &str| TestPattern::Panel {
        position: at(position),
    };
    assert_eq!(
        of(panel("D4")),
        "no_such_panel: There is no panel at D4. Panels: A1, B1, C1, D1, E1, F1, G1, H1 and 43 more."
    );
    assert!(of(panel("4D")).starts_with("no_such_panel: 4D is no position: a position is"));
    let last = floor.runs.len() - 1;
    assert_eq!(
        of(TestPattern::Run { run: 99 }),
        format!("no_such_run: There is no run with index 99: the floor has 0 to {last}.")
    );
    let universe = |text: &str| TestPattern::Universe {
        port_address: at(text),
    };
    assert!(of(universe("7:0:0")).contains("does not map universe 7:0:0. Mapped: 0:0:"));
    assert!(of(universe("seven")).contains("net:sub-net:universe"));
    let node = of(TestPattern::Node { node: at("attic") });
    assert!(
        node.starts_with("no_such_node: The floor file has no node \"attic\". Nodes: "),
        "{node}"
    );
    assert_eq!(
        of(TestPattern::Row { row: 8 }),
        "no_such_row: There is no row 8: the floor has rows 1 to 7."
    );
    for column in ["I", "A2", "", "4"] {
        let text = of(TestPattern::Column { column: at(column) });
        assert_eq!(
            text,
            format!("no_such_column: There is no column {column}: the floor has columns A to H.")
        );
    }
    let walk = |pace| TestPattern::Walk { run: None, pace };
    assert!(of(walk(Pace::StepMs(249))).starts_with("pace_out_of_bounds: A step lasts 250 to"));
    assert!(of(walk(Pace::StepMs(60_001))).contains("not 60001"));
    assert_eq!(
        of(walk(Pace::Held(51))),
        "no_such_step: There is no step 51: the pattern has steps 0 to 50."
    );
    let segment = |segment| TestPattern::Segment {
        position: at("A1"),
        segment,
    };
    for number in [0, 99] {
        let told = of(segment(number));
        let start = format!("no_such_segment: Panel A1 has no segment {number}: it has ");
        assert!(told.starts_with(&start), "{told}");
    }
    let cover = |positions: &[&str], pattern| Start {
        cover: Cover::Panels(positions.iter().map(|&position| at(position)).collect()),
        ..Start::new(pattern)
    };
    assert!(told(cover(&[], TestPattern::All)).starts_with("covers_nothing"));
    assert!(told(cover(&["A1", "Z9"], TestPattern::All)).contains("no panel at Z9"));
    assert!(told(cover(&["A1"], panel("C4"))).starts_with("lights_nothing"));
}

#[test]
fn words_say_what_is_shown() {
    let (floor, tables) = floor(&text([0; 4], 1, true));
    let words = |start: Start| Show::new(&start, &floor, &tables).unwrap().words(0);
    let position = at("B1");
    assert_eq!(
        words(Start::new(TestPattern::Panel { position })),
        "Panel B1 alone, white at 50 %"
    );
    let position = at("A1");
    assert_eq!(
        words(Start::new(TestPattern::Segment {
            position,
            segment: 2
        })),
        "Segment 2 of panel A1 alone, white at 50 %"
    );
    let walk = Start {
        level: 255,
        colour: Light::Cyan,
        ..Start::new(TestPattern::Walk {
            run: None,
            pace: Pace::Held(2),
        })
    };
    assert_eq!(
        words(walk),
        "Walk in wiring order: B2, 3 of 4, run 2 (south from 0:0:1/1), cyan at 100 %"
    );
    let pace = Pace::Held(3);
    assert_eq!(
        words(Start::new(TestPattern::Colours { pace })),
        "Every colour alone: white at 50 %"
    );
}

#[test]
fn steps_go_round_the_ends_and_stay() {
    let (floor, tables) = floor(&text([0; 4], 1, true));
    let pace = Pace::StepMs(500);
    let start = Start::new(TestPattern::Walk { run: None, pace });
    let mut show = Show::new(&start, &floor, &tables).unwrap();
    let steps: Vec<usize> = [0, 499, 500, 1_999, 2_000].map(|ms| show.step(ms)).into();
    assert_eq!(steps, [0, 0, 1, 3, 0]);
    assert_eq!(show.next_change_ms(499), Some(500));
    assert_eq!(show.next_change_ms(500), Some(1_000));
    show.go(-2, 500);
    assert!(show.is_held());
    assert_eq!((show.step(9_999), show.next_change_ms(500)), (3, None));
    show.go(i32::MAX, 0);
    // 3 + 2,147,483,647 = 2,147,483,650 = 4 × 536,870,912 + 2.
    assert_eq!(show.step(0), 2);
    assert!(show.go_to(4).is_err());
    assert_eq!(show.step(0), 2);
}
