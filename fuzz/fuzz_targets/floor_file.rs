//! The text of a floor file: read, checked, its faults told, its tables and its plan made.
#![no_main]

use std::net::{Ipv4Addr, SocketAddrV4};
use std::sync::Arc;

use libfuzzer_sys::fuzz_target;
use litfloor::engine::{Engine, Me};
use litfloor::floor::{self, Floor, Tables};
use litfloor::power::plan::{Asked, Plan};
use litfloor::units::Time;
use litfloor_fuzz::view_of;

/// On larger floors only the tables are made: the rest takes long without being otherwise.
const SMALL: usize = 1_000;

fn sound(text: &str, floor: Floor) {
    let tables = Tables::compile(&floor);
    let pixels: usize = floor
        .panels
        .iter()
        .map(|of| floor.panel_kinds[of.kind].pixels_mm.len())
        .sum();
    assert_eq!(tables.pixels_mm.len(), pixels);
    assert_eq!(
        floor::parse("floor.toml", text).as_ref(),
        Ok(&floor),
        "read twice, read otherwise"
    );
    if pixels > SMALL {
        return;
    }
    // The patch is the same both ways.
    for pixel in 0..tables.pixels_mm.len() as u32 {
        for place in tables.slots_of(pixel) {
            assert_eq!(tables.pixel_at(place).map(|found| found.pixel), Some(pixel));
        }
    }
    let plan = Plan::of(&floor, &tables, &Asked::default());
    serde_json::to_vec(&plan).expect("a plan can be written");
    let (floor, tables) = (Arc::new(floor), Arc::new(tables));
    let view = view_of(text, &floor, &tables, 1);
    serde_json::from_slice::<serde_json::Value>(&view.json()).expect("the floor is JSON");
    let me = Me {
        listener: SocketAddrV4::new(Ipv4Addr::UNSPECIFIED, 6454),
        interfaces: Vec::new(),
    };
    let engine = Engine::new(floor, tables, me, Time::from_ms(1));
    serde_json::to_vec(&engine.state(Time::from_ms(2))).expect("a state can be written");
}

fuzz_target!(|data: &[u8]| {
    let Ok(text) = std::str::from_utf8(data) else {
        return;
    };
    let faults = match floor::parse("floor.toml", text) {
        Ok(floor) => return sound(text, floor),
        Err(faults) => faults,
    };
    assert!(!faults.list().is_empty(), "refused without a reason");
    for fault in faults.list() {
        let labels = fault.labels.iter().map(|(at, _)| at);
        for at in fault.at.iter().chain(labels) {
            assert!(
                text.get(at.clone()).is_some(),
                "{at:?} is no place of the text: {fault:?}"
            );
        }
        assert!(
            !fault.message.is_empty() && !fault.help.is_empty(),
            "{fault:?}"
        );
    }
    let lines = text.matches('\n').count() + 1;
    for row in faults.rows() {
        assert!(
            row.line.is_none_or(|line| (1..=lines).contains(&line)),
            "{row:?}"
        );
        assert!(row.column.is_none_or(|column| column > 0), "{row:?}");
    }
    let plain = faults.render(false);
    let wild = |letter: char| letter.is_control() && letter != '\n' && letter != '\t';
    assert!(
        !plain.contains(wild),
        "the terminal is told what to do: {plain:?}"
    );
    faults.render(true);
});
