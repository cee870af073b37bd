use super::*;
use crate::floor::testing;

#[test]
fn the_drawn_corner_goes_round_with_the_panel() {
    let sheet = |turn_deg, mirrored| {
        let mut floor = testing::floor();
        floor.panels[0].turn_deg = turn_deg;
        floor.panels[0].mirrored = mirrored;
        Sheet::of(&floor)
    };
    // The first pixel of a kind drawn with a single pixel in its upper left corner lies where
    // the drawn corner is: `panel_pixels_mm` turns it.
    for turn_deg in [0, 90, 180, 270] {
        for mirrored in [false, true] {
            let mut floor = testing::floor();
            floor.panel_kinds[0].pixels_mm = vec![[0.0, 0.0]];
            floor.panels[0].turn_deg = turn_deg;
            floor.panels[0].mirrored = mirrored;
            let [x, y] = floor.panel_pixels_mm(0).next().unwrap();
            let mut svg = String::new();
            let rect = floor.panel_rect_mm(0);
            top_corner(&sheet(turn_deg, mirrored).runs[0].panels[0], rect, &mut svg);
            assert!(
                svg.starts_with(&format!("<path d=\"M{x:.1} {y:.1}h")),
                "{turn_deg} {mirrored}: {svg}"
            );
        }
    }
}

#[test]
fn every_panel_has_position_serial_and_start_and_every_step_an_arrow() {
    let mut floor = testing::floor();
    floor.panels[1].serial = "P<1".into();
    let plans = plans(&floor, &Sheet::of(&floor));
    assert_eq!(plans.len(), 1);
    let svg = &plans[0].svg;
    for part in [
        ">A1<",
        ">B1<",
        ">A2<",
        ">0:0:1/13<",
        ">0:0:2/501<",
        ">P&lt;1<",
    ] {
        assert!(svg.contains(part), "{part} in\n{svg}");
    }
    assert_eq!(svg.matches("<rect").count(), 3);
    assert_eq!(svg.matches("class=\"way\"").count(), 1);
}

#[test]
fn a_large_floor_is_drawn_in_parts_that_have_every_panel_once() {
    let text = include_str!("../../../../config/large-floor.toml");
    let floor = crate::floor::parse("large-floor.toml", text).unwrap();
    let sheet = Sheet::of(&floor);
    let plans = plans(&floor, &sheet);
    // 24 columns in three parts of 8, 21 rows in two, and the overview.
    assert_eq!(plans.len(), 1 + 3 * 2);
    assert!(plans[1].caption.contains("Part 1 of 6, A1 to H10"));
    assert!(plans[6].caption.contains("Part 6 of 6, Q11 to X21"));
    let count = |of: &str, svg: &str| svg.matches(of).count();
    assert_eq!(count("<rect", &plans[0].svg), 500);
    assert!(
        !plans[0].svg.contains(">1:0:0/1<"),
        "addresses would be too small"
    );
    let parts = &plans[1..];
    for row in sheet.runs.iter().flat_map(|run| &run.panels) {
        for label in [
            format!(">{}<", row.position),
            format!(">{}<", row.serial),
            format!(">{}<", row.at_node.first),
        ] {
            let found: usize = parts.iter().map(|part| count(&label, &part.svg)).sum();
            assert_eq!(found, 1, "{label}");
        }
    }
}

#[test]
fn slices_are_few_even_and_whole() {
    assert_eq!(slices(24, 10), [0..8, 8..16, 16..24]);
    assert_eq!(slices(21, 12), [0..10, 10..21]);
    assert_eq!(slices(10, 10).len(), 1);
    assert_eq!(slices(11, 10), [0..5, 5..11]);
}

#[test]
fn letters_shrink_until_they_fit() {
    assert!((fitting("A1", 100.0, 1000.0) - 100.0).abs() < 1e-9);
    let size = fitting("127:15:15/512", 100.0, 400.0);
    assert!(size * LETTER * 13.0 <= 400.0 + 1e-9);
}
