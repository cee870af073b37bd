//! Against the floor that was counted out by hand in `floor/testing.rs`.

use super::*;
use crate::floor::model::{Packing, Source};
use crate::floor::testing;

fn slot(floor: &Floor, asked: &str) -> Slot {
    Slot::of(floor, asked.parse().unwrap())
}

fn told(floor: &Floor, asked: &str) -> String {
    let mut out = Vec::new();
    slot(floor, asked).write(&mut out).unwrap();
    String::from_utf8(out).unwrap()
}

fn pixels(floor: &Floor, asked: &str) -> Result<String, String> {
    let mut out = Vec::new();
    Drivers::of(floor, &asked.parse().unwrap())?
        .write(&mut out)
        .unwrap();
    Ok(String::from_utf8(out).unwrap())
}

/// The testing floor, whose first run the console sends elsewhere.
fn elsewhere() -> Floor {
    let mut floor = testing::floor();
    floor.runs[0].source = Some(Source {
        start: "0:0:2".parse().unwrap(),
        slot: 1,
        packing: Packing::Packed,
    });
    floor
}

#[test]
fn a_slot_lights_its_pixel() {
    // Slot 20 of 0:0:1: B1 begins at 13, three slots a pixel GRB: the third pixel's red.
    let found = slot(&testing::floor(), "0:0:1/20");
    assert!(found.sides_agree);
    let [lit] = found.at_node.lights.as_slice() else {
        panic!("one pixel: {found:?}");
    };
    assert_eq!((lit.position.as_str(), lit.pixel, lit.pixels), ("B1", 3, 4));
    assert_eq!((lit.colour, lit.part), ("red", "whole"));
    // Segments of 3 and 1 pixels; the third pixel lies at 300, 300 mm.
    assert_eq!((lit.segment, lit.segments), (1, 2));
    assert!(lit.on_panel_mm.iter().all(|mm| (mm - 300.0).abs() < 1e-9));
    assert_eq!(slot(&testing::floor(), "1/24").at_node.lights[0].segment, 2);
}

#[test]
fn both_halves_of_a_level_are_told_apart() {
    // A2 is 16-bit RGBW from slot 501: its second pixel begins at 509 and goes on in 0:0:3.
    let floor = testing::floor();
    let part = |asked: &str| {
        let found = slot(&floor, asked);
        let lit = &found.at_console.lights[0];
        (lit.pixel, lit.colour, lit.part)
    };
    assert_eq!(part("0:0:2/501"), (1, "red", "coarse"));
    assert_eq!(part("0:0:2/512"), (2, "green", "fine"));
    assert_eq!(part("0:0:3/1"), (2, "blue", "coarse"));
    assert!(told(&floor, "0:0:3/4").contains("white, fine half"));
}

#[test]
fn the_console_and_the_node_are_told_apart() {
    let floor = elsewhere();
    // At the node it is B1, as above; no console sends it.
    let found = slot(&floor, "0:0:1/20");
    assert!(!found.sides_agree && found.at_console.lights.is_empty());
    assert_eq!(found.at_node.lights[0].position, "B1");
    assert_eq!(found.at_node.lights[0].at_console.to_string(), "0:0:2/20");
    let found = slot(&floor, "0:0:2/20");
    assert_eq!(found.at_console.lights[0].at_node.to_string(), "0:0:1/20");
    assert!(found.at_node.lights.is_empty());
    let text = told(&floor, "0:0:2/20");
    let (console, node) = text.split_once("At a node").unwrap();
    assert!(
        console.contains("B1") && node.contains("lights nothing"),
        "{text}"
    );
}

#[test]
fn a_slot_that_lights_nothing_is_told_its_neighbours() {
    let text = told(&testing::floor(), "0:0:1/30");
    // B1 ends at 24, A2 begins at 501 of the next universe: 482 + 501 slots on.
    assert!(
        text.contains("ends at 0:0:1/24 (1/24), 6 slots away"),
        "{text}"
    );
    assert!(
        text.contains("begins at 0:0:2/501 (2/501), 983 slots away"),
        "{text}"
    );
    let text = told(&testing::floor(), "9:0:0/1");
    assert!(text.contains("nothing in the floor file lies in universe 9:0:0"));
    assert!(text.contains("after    nothing"), "{text}");
    let mut floor = testing::floor();
    floor.panels[1].lead.spare_slots = 6;
    assert!(told(&floor, "0:0:1/15").contains("passed within run 1"));
}

#[test]
fn a_pixel_is_driven_by_its_slots() {
    let floor = elsewhere();
    let text = pixels(&floor, "b1:3").unwrap();
    for line in [
        "green        at the node 0:0:1/19 (1/19), from the console 0:0:2/19 (2/19)",
        "red          at the node 0:0:1/20",
        "blue         at the node 0:0:1/21",
    ] {
        assert!(text.contains(line), "{line} in\n{text}");
    }
    let text = pixels(&floor, "A2:2").unwrap();
    assert!(text.contains("blue coarse  0:0:3/1 (3/1)"), "{text}");
    assert_eq!(pixels(&floor, "A1").unwrap().matches("\nPixel ").count(), 4);
}

#[test]
fn a_serial_does_as_well_and_what_is_unknown_is_told_what_is_known() {
    let mut floor = testing::floor();
    assert!(pixels(&floor, "B2:1").unwrap_err().contains("nothing lies"));
    assert!(
        pixels(&floor, "x")
            .unwrap_err()
            .contains("gives no serials")
    );
    floor.panels[0].serial = "P17".into();
    floor.panels[1].serial = "A2".into();
    assert!(pixels(&floor, "p17:1").unwrap().starts_with("Panel A1"));
    let text = pixels(&floor, "A2").unwrap();
    assert!(text.starts_with("Panel A2") && text.contains("Note: A2 is read as a position"));
    let why = pixels(&floor, "P18:1").unwrap_err();
    assert!(why.contains("from A1 to B2; serials: A2, P17"), "{why}");
    let why = pixels(&floor, "A1:5").unwrap_err();
    assert!(
        why.contains("A1 has no pixel 5: its kind square has 4"),
        "{why}"
    );
}
