//! Which slots a pattern lights, against the patch counted pixel by pixel.

use proptest::prelude::*;

use super::super::{Cover, Show, Start, TestPattern};
use super::{TURNS, at, floor, held, text};
use crate::floor::model::{Colour, Floor, Position};
use crate::floor::tables::{Tables, UNIVERSE_SLOTS};

/// Every kind of pattern, on the floor above.
fn patterns() -> Vec<TestPattern> {
    vec![
        TestPattern::All,
        TestPattern::Panel { position: at("B1") },
        TestPattern::Mark { position: at("A1") },
        TestPattern::Segment {
            position: at("A1"),
            segment: 2,
        },
        TestPattern::Pixel {
            position: at("B1"),
            pixel: 3,
        },
        TestPattern::Walk {
            run: None,
            pace: held(),
        },
        TestPattern::Walk {
            run: Some(1),
            pace: held(),
        },
        TestPattern::Run { run: 1 },
        TestPattern::Universe {
            port_address: at("0:0:1"),
        },
        TestPattern::Node { node: at("north") },
        TestPattern::Row { row: 2 },
        TestPattern::Column { column: at("a") },
        TestPattern::Colours { pace: held() },
        TestPattern::Labels,
        TestPattern::Joints { pace: held() },
    ]
}

/// Pixels that a pattern should light, panel by panel, from the floor alone. Labels apart.
fn wanted(floor: &Floor, tables: &Tables, pattern: &TestPattern, step: usize, pixel: u32) -> bool {
    let panel = tables
        .panels
        .iter()
        .position(|row| (row.first_pixel..row.first_pixel + row.pixels).contains(&pixel))
        .unwrap();
    let run = &floor.runs[floor.panels[panel].run];
    let Position { row, column } = floor.panels[panel].position;
    match pattern {
        TestPattern::All | TestPattern::Colours { .. } => true,
        TestPattern::Panel { position } | TestPattern::Mark { position } => {
            floor.panels[panel].position.to_string() == *position
        }
        TestPattern::Segment { position, segment } => {
            // The matrix has segments of 60 and 61 pixels.
            assert_eq!((position.as_str(), *segment), ("A1", 2));
            let first = tables.panels[panel].first_pixel;
            floor.panels[panel].position.to_string() == "A1"
                && (first + 60..first + 121).contains(&pixel)
        }
        TestPattern::Pixel {
            position,
            pixel: of,
        } => {
            let first = tables.panels[panel].first_pixel;
            floor.panels[panel].position.to_string() == *position && pixel == first + of - 1
        }
        TestPattern::Walk { run: None, .. } => {
            let order: Vec<_> = floor.runs.iter().flat_map(|run| &run.panels).collect();
            *order[step] == panel
        }
        TestPattern::Walk { run: Some(of), .. } => floor.runs[*of as usize].panels[step] == panel,
        TestPattern::Run { run } => floor.panels[panel].run == *run as usize,
        TestPattern::Universe { .. } => tables
            .slots_of(pixel)
            .iter()
            .any(|place| tables.outputs[place.output as usize].port_address.number() == 1),
        TestPattern::Node { .. } => run.node == Some(0),
        TestPattern::Row { row: of } => row + 1 == *of,
        TestPattern::Column { .. } => column == 0,
        TestPattern::Joints { .. } => {
            let row = &tables.panels[panel];
            let mut ends = row.segments.iter().scan(row.first_pixel, |end, count| {
                *end += count;
                Some(*end)
            });
            ends.position(|end| pixel < end) == Some(step)
        }
        TestPattern::Labels => unreachable!("they have a test of their own"),
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// A pattern lights the slots of its pixels and blackens those of the other covered ones;
    /// nothing else is touched. Which slots a pixel has, `Tables::slots_of` says.
    #[test]
    fn a_pattern_lights_exactly_the_slots_of_its_pixels(
        turns in prop::array::uniform4(prop::sample::select(TURNS.to_vec())),
        slot in 1_u16..=400,
        straddle in any::<bool>(),
        level in 1_u8..,
        cover in prop::collection::btree_set(prop::sample::select(vec!["A1", "B1", "A2", "B2"]), 0..4),
        all in any::<bool>(),
    ) {
        let (floor, tables) = floor(&text(turns, slot, straddle));
        let positions: Vec<String> = cover.iter().map(|&position| at(position)).collect();
        let covers = |panel: usize| all || positions.contains(&floor.panels[panel].position.to_string());
        for pattern in patterns() {
            if pattern == TestPattern::Labels { continue; }
            let cover = if all { Cover::All } else { Cover::Panels(positions.clone()) };
            let order = Start { cover, level, ..Start::new(pattern.clone()) };
            let Ok(mut show) = Show::new(&order, &floor, &tables) else { continue };
            for step in 0..show.steps() {
                show.go_to(u32::try_from(step).unwrap()).unwrap();
                let lit = show.lit(0);
                let mut slots = vec![[77_u8; UNIVERSE_SLOTS]; tables.outputs.len()];
                for (out, slots) in slots.iter_mut().enumerate() {
                    show.paint(&tables, &lit, 0, out, slots);
                }
                let mut expected = vec![[77_u8; UNIVERSE_SLOTS]; tables.outputs.len()];
                for (panel, row) in tables.panels.iter().enumerate() {
                    let kind = &tables.patterns[floor.panel_kinds[floor.panels[panel].kind].pixel_kind];
                    for pixel in row.first_pixel..row.first_pixel + row.pixels {
                        // Steps that light nothing are left out, so those of a part of a walk
                        // or of fewer colours are not numbered as on the whole floor.
                        let on = match &pattern {
                            TestPattern::Walk { .. } => show.panels(0) == [panel],
                            _ => wanted(&floor, &tables, &pattern, step, pixel),
                        };
                        for (role, place) in kind.slots.iter().zip(tables.slots_of(pixel)) {
                            let white = role.colour == Colour::White || kind.whole;
                            let colour = match pattern {
                                // Counted by hand for the matrix of 121 pixels: a quarter is 30.
                                TestPattern::Mark { .. } => {
                                    let colour = match pixel - row.first_pixel {
                                        0 => Colour::Red,
                                        1..=30 => Colour::Blue,
                                        _ => Colour::Green,
                                    };
                                    role.colour == colour
                                }
                                _ => lit.only.map_or(white, |only| only == role.colour),
                            };
                            if covers(panel) {
                                expected[place.output as usize][usize::from(place.slot)] =
                                    if on && colour { level } else { 0 };
                            }
                        }
                    }
                }
                prop_assert_eq!(&slots, &expected, "{:?} step {}", &pattern, step);
            }
        }
    }

    /// Along a walk, and along the joints, every pixel is lit once.
    #[test]
    fn a_whole_walk_lights_every_pixel_once(slot in 1_u16..=400, straddle in any::<bool>(), run in 0_u32..2) {
        let (floor, tables) = floor(&text([0, 90, 180, 270], slot, straddle));
        let walk = |run| TestPattern::Walk { run, pace: held() };
        for (pattern, runs) in [
            (walk(None), vec![0, 1]),
            (walk(Some(run)), vec![run as usize]),
            (TestPattern::Joints { pace: held() }, vec![0, 1]),
        ] {
            let mut show = Show::new(&Start::new(pattern.clone()), &floor, &tables).unwrap();
            let mut times = vec![0; tables.pixels_mm.len()];
            let mut walked = Vec::new();
            for step in 0..show.steps() {
                show.go_to(u32::try_from(step).unwrap()).unwrap();
                walked.extend_from_slice(show.panels(0));
                for (count, lit) in times.iter_mut().zip(show.lit(0).pixels) {
                    *count += u32::from(lit);
                }
            }
            for (panel, row) in tables.panels.iter().enumerate() {
                let expected = u32::from(runs.contains(&floor.panels[panel].run));
                for pixel in row.first_pixel..row.first_pixel + row.pixels {
                    prop_assert_eq!(times[pixel as usize], expected);
                }
            }
            if !matches!(pattern, TestPattern::Joints { .. }) {
                let wired: Vec<usize> = runs.iter().flat_map(|&run| floor.runs[run].panels.clone()).collect();
                prop_assert_eq!(walked, wired);
            }
        }
    }
}
