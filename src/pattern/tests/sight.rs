//! What eyes get: labels that are upright, and nothing that flashes fast.

use super::super::{LEAST_STEP_MS, Lit, Pace, Show, Start, TestPattern};
use super::{TURNS, floor, text};
use crate::floor::model::Floor;
use crate::floor::tables::Tables;
use crate::floor::testing;

/// What a viewer of the floor plan sees in a panel's square, sampled cell by cell from where the
/// lit pixels lie: as a person on the floor would, and not by any table of ours.
fn seen(floor: &Floor, panel: usize, lit: &[bool], cells: usize) -> Vec<String> {
    let (left, top, width, height) = floor.panel_rect_mm(panel);
    let mut picture = vec![vec!['.'; cells]; cells];
    for ([x, y], &lit) in floor.panel_pixels_mm(panel).zip(lit) {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            clippy::cast_precision_loss,
            reason = "a few cells"
        )]
        let cell = |at: f64, size: f64| (at / size * cells as f64) as usize;
        if lit {
            picture[cell(y - top, height)][cell(x - left, width)] = '#';
        }
    }
    picture.into_iter().map(String::from_iter).collect()
}

#[test]
fn labels_are_upright_under_every_turn() {
    let a1 = [
        "...........",
        "...........",
        "...........",
        "...#...#...",
        "..#.#.##...",
        "..###..#...",
        "..#.#..#...",
        "..#.#.###..",
        "...........",
        "...........",
        "...........",
    ];
    for turn in TURNS {
        let (floor, tables) = floor(&text([turn, 0, 0, 0], 1, true));
        let show = Show::new(&Start::new(TestPattern::Labels), &floor, &tables).unwrap();
        let lit = show.lit(0);
        assert_eq!(
            seen(&floor, 0, &lit.pixels[..121], 11),
            a1,
            "turned by {turn}"
        );
        // The pair of A2 blinks: column 1, row 2, after eight slots of dark.
        let first = tables.panels[2].first_pixel as usize;
        let blinked: String = (0..22)
            .map(|slot| {
                if show.lit(slot * 400).pixels[first] {
                    '#'
                } else {
                    '.'
                }
            })
            .collect();
        assert_eq!(blinked, "........#.....#.#.....");
        assert!(show.words(0).contains("blinked"));
    }
}

#[test]
fn nothing_flashes_more_than_three_times_a_second() {
    // WCAG 2.2, success criterion 2.3.1: a flash is a pair of opposing changes; three in any
    // second are the most. Counted for every pixel, and for the lit area of the whole floor.
    let floor = testing::demo();
    let tables = Tables::compile(&floor);
    let pace = Pace::StepMs(LEAST_STEP_MS);
    for pattern in [
        TestPattern::Labels,
        TestPattern::Walk { run: Some(0), pace },
        TestPattern::Walk { run: None, pace },
        TestPattern::Colours { pace },
        TestPattern::Joints { pace },
    ] {
        let show = Show::new(&Start::new(pattern.clone()), &floor, &tables).unwrap();
        let mut before = show.lit(0);
        let mut rises: Vec<Vec<u64>> = vec![Vec::new(); tables.pixels_mm.len() + 1];
        let mut falling = false;
        let mut changes = 0;
        let mut ms = 0;
        while let Some(next) = show.next_change_ms(ms).filter(|&next| next < 30_000) {
            assert!(
                next > ms && show.lit(next - 1) == before,
                "changed unannounced"
            );
            ms = next;
            let now = show.lit(ms);
            changes += u32::from(now != before);
            let count = |lit: &Lit| lit.pixels.iter().filter(|&&lit| lit).count();
            match count(&now).cmp(&count(&before)) {
                std::cmp::Ordering::Greater if falling => {
                    falling = false;
                    rises[0].push(ms);
                }
                std::cmp::Ordering::Less => falling = true,
                _ => {}
            }
            for (pixel, (&now, &before)) in now.pixels.iter().zip(&before.pixels).enumerate() {
                if now && !before {
                    rises[pixel + 1].push(ms);
                }
            }
            before = now;
        }
        assert!(changes > 5, "{pattern:?} changed only {changes} times");
        for moments in rises {
            for (at, &from) in moments.iter().enumerate() {
                let within = moments[at..].iter().take_while(|&&t| t < from + 1_000);
                assert!(within.count() <= 3, "{pattern:?}: {moments:?}");
            }
        }
    }
}
