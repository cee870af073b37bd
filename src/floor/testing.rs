//! A small floor written by hand, for the tests of everything above.
//!
//! ```text
//!        A            B
//! 1  4 pixels GRB  4 pixels GRB    node north, from 0:0:1 slot 1
//! 2  2 pixels      (empty)         node south, from 0:0:2 slot 501, straddling into 0:0:3
//!    16-bit RGBW
//! ```

use super::model::{
    Byte, CapSettings, Circuit, Colour, Delivery, Drive, Feed, Floor, Grid, Lead, Load, Merge,
    Node, Packing, Panel, PanelKind, PixelKind, Run, Sharing, Signal, SlotRole, Supply, WhenEnded,
    WhenLost,
};
use super::tables::{InUniverse, OutUniverse, PanelRow, Part, Pattern, Tables, UNIVERSE_SLOTS};
use crate::units::{Amps, Draw, Millimetres, Volts};
use crate::wire::PortAddress;

fn address(text: &str) -> PortAddress {
    text.parse().unwrap()
}

fn whole(colour: Colour) -> SlotRole {
    SlotRole {
        colour,
        byte: Byte::Whole,
        full_ua: 18_500,
    }
}

fn halves(colour: Colour) -> [SlotRole; 2] {
    let coarse = Byte::Coarse { partner: 1 };
    let fine = Byte::Fine { partner: -1 };
    [coarse, fine].map(|byte| SlotRole {
        colour,
        byte,
        full_ua: 20_000,
    })
}

fn panel(position: &str, kind: usize, run: usize, feed: usize) -> Panel {
    Panel {
        position: position.parse().unwrap(),
        kind,
        turn_deg: 0,
        mirrored: false,
        serial: String::new(),
        lead: Lead::default(),
        run,
        feed,
    }
}

fn node(name: &str, host: u8) -> Node {
    let ip = std::net::Ipv4Addr::new(127, 0, 0, host);
    Node {
        name: name.into(),
        address: std::net::SocketAddrV4::new(ip, 6454),
    }
}

/// A driver that keeps its current.
const DRIVER: Load = Load::ConstantCurrent {
    dark_volts: 0.0,
    full_volts: 0.5,
};

fn kinds() -> (Vec<PixelKind>, Vec<PanelKind>) {
    let pixels = vec![
        PixelKind {
            name: "group of three".into(),
            slots: [Colour::Green, Colour::Red, Colour::Blue]
                .map(whole)
                .to_vec(),
            volts: Volts(12.0),
            idle_ua: 2_600,
            limit_ua: None,
            load: DRIVER,
            drive: Drive::default(),
        },
        PixelKind {
            name: "fine".into(),
            slots: Colour::ALL.into_iter().flat_map(halves).collect(),
            volts: Volts(12.0),
            idle_ua: 1_000,
            limit_ua: None,
            load: DRIVER,
            drive: Drive::default(),
        },
    ];
    let panels = vec![
        PanelKind {
            name: "square".into(),
            pixel_kind: 0,
            pixels_mm: vec![
                [100.0, 100.0],
                [300.0, 100.0],
                [300.0, 300.0],
                [100.0, 300.0],
            ],
            segments: vec![3, 1],
            switches: 4,
            rated_a: Some(Amps(2.0)),
            strip: None,
            tail: None,
        },
        PanelKind {
            name: "pair".into(),
            pixel_kind: 1,
            pixels_mm: vec![[100.0, 200.0], [300.0, 200.0]],
            segments: vec![2],
            switches: 0,
            rated_a: None,
            strip: None,
            tail: None,
        },
    ];
    (pixels, panels)
}

/// The floor that the picture above shows.
pub(crate) fn floor() -> Floor {
    let (pixel_kinds, panel_kinds) = kinds();
    let run = |node, start, slot, packing, panels| Run {
        node: Some(node),
        port: Some(1),
        start: address(start),
        slot,
        packing,
        source: None,
        panels,
    };
    let feed = |name: &str, supply, panels| Feed {
        name: name.into(),
        supply,
        fuse_a: Amps(10.0),
        panels,
        cable: None,
        link: None,
        far_cable: None,
        peak: None,
        slew_a_per_s: None,
    };
    Floor {
        name: "Test floor".into(),
        grid: Grid {
            columns: 2,
            rows: 2,
            panel_mm: [Millimetres(400.0), Millimetres(400.0)],
            gap_mm: Millimetres(10.0),
        },
        pixel_kinds,
        panel_kinds,
        panels: vec![
            panel("A1", 0, 0, 0),
            panel("B1", 0, 0, 0),
            panel("A2", 1, 1, 1),
        ],
        nodes: vec![node("north", 21), node("south", 22)],
        runs: vec![
            run(0, "0:0:1", 1, Packing::WholePixel, vec![0, 1]),
            run(1, "0:0:2", 501, Packing::Packed, vec![2]),
        ],
        circuits: vec![Circuit {
            name: "mains".into(),
            volts: Volts(230.0),
            rated_a: Amps(16.0),
        }],
        supplies: vec![Supply {
            name: "S1".into(),
            circuit: 0,
            volts: Volts(12.0),
            rated_a: Amps(50.0),
            efficiency: 0.88,
            power_factor: 0.95,
            short_a: None,
            sharing: Sharing::Alike,
            peak: None,
            slew_a_per_s: None,
        }],
        feeds: vec![feed("F1", 0, vec![0, 1]), feed("F2", 0, vec![2])],
        sensors: Vec::new(),
        inputs: Vec::new(),
        mqtt: None,
        signal: Signal {
            merge: Merge::Htp,
            lost_after_s: 3.0,
            when_lost: WhenLost::Fade { s: 2.0 },
            when_ended: WhenEnded::Hold,
        },
        delivery: Delivery {
            copies: 3,
            late_ms: 20,
        },
        cap: CapSettings {
            margin: 0.8,
            let_up_s: 1.5,
            floor_va: None,
        },
        plan: super::defaults::PLAN,
        alarm: super::defaults::ALARM,
        machine: super::defaults::MACHINE,
        network: super::model::NetworkSettings::default(),
    }
}

/// The demo's floor.
pub(crate) fn demo() -> Floor {
    super::parse("demo.toml", include_str!("../../config/demo.toml")).unwrap()
}

/// The tables of [`floor`], counted out by hand.
pub(crate) fn tables() -> Tables {
    let floor = floor();
    let inward = |port_address, slots, output| InUniverse {
        port_address: address(port_address),
        slots,
        outputs: vec![output],
    };
    let part = |panel, pattern, phase, dst, len, src, first_pixel| Part {
        panel,
        pattern,
        phase,
        dst,
        len,
        src,
        first_pixel,
    };
    let out = |node, port_address, slots, parts| OutUniverse {
        node: Some(node),
        port_address: address(port_address),
        slots,
        parts,
        unused: Vec::new(),
    };
    let second = u32::try_from(UNIVERSE_SLOTS).unwrap();
    let row = |first_pixel, pixels, feed, idle_ua, full_ua, segments| PanelRow {
        first_pixel,
        pixels,
        feed,
        idle: Draw::from_ua(idle_ua),
        full: Draw::from_ua(full_ua),
        segments,
    };
    Tables {
        universes: vec![
            inward("0:0:1", 24, 0),
            inward("0:0:2", 512, 1),
            inward("0:0:3", 4, 2),
        ],
        outputs: vec![
            out(
                0,
                "0:0:1",
                24,
                vec![part(0, 0, 0, 0, 12, 0, 0), part(1, 0, 0, 12, 12, 12, 4)],
            ),
            out(
                1,
                "0:0:2",
                512,
                vec![part(2, 1, 0, 500, 12, second + 500, 8)],
            ),
            out(1, "0:0:3", 4, vec![part(2, 1, 4, 0, 4, 2 * second, 9)]),
        ],
        patterns: floor
            .pixel_kinds
            .iter()
            .map(|kind| Pattern {
                slots: kind.slots.clone(),
                whole: kind.slots.iter().all(|slot| slot.byte == Byte::Whole),
                room: None,
            })
            .collect(),
        panels: vec![
            row(0, 4, 0, 4 * 2_600, 12 * 18_500, vec![3, 1]),
            row(4, 4, 0, 4 * 2_600, 12 * 18_500, vec![3, 1]),
            row(8, 2, 1, 2 * 1_000, 8 * 20_000, vec![2]),
        ],
        pixels_mm: [
            [100.0, 100.0],
            [300.0, 100.0],
            [300.0, 300.0],
            [100.0, 300.0],
            [510.0, 100.0],
            [710.0, 100.0],
            [710.0, 300.0],
            [510.0, 300.0],
            [100.0, 610.0],
            [300.0, 610.0],
        ]
        .into(),
    }
}

#[test]
fn compiling_gives_what_was_counted_by_hand() {
    let compiled = Tables::compile(&floor());
    let counted = tables();
    assert_eq!(format!("{compiled:#?}"), format!("{counted:#?}"));
}
