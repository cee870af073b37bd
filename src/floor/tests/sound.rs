//! What sound files become, against values that we did not write.

use super::super::model::{
    Byte, Cable, Conductor, Fed, Floor, Load, Merge, Packing, Peak, Position, Strip, WhenLost,
};
use super::super::{SlotPlace, SlotSpan, Tables, defaults, parse, read, schema};
use super::BASE;
use crate::units::{Amps, Draw};
use crate::wire::PortAddress;

const PAGE: &str = include_str!("../../../docs/floor-file.md");

pub(super) fn floor(text: &str) -> Floor {
    parse("test.toml", text).unwrap_or_else(|faults| panic!("{faults}"))
}

#[test]
fn every_example_of_the_schema_is_toml() {
    for section in schema::ALL {
        for (key, example) in section.keys {
            let table =
                toml::de::DeTable::parse(example).unwrap_or_else(|e| panic!("{example}: {e}"));
            assert!(table.get_ref().contains_key(*key), "{example}");
        }
    }
}

#[test]
fn what_is_not_said_has_its_default() {
    let start = BASE.find("[signal]").unwrap();
    let end = BASE.find("[pixel.rgb]").unwrap();
    let floor = floor(&[&BASE[..start], &BASE[end..]].concat());
    assert_eq!(
        (floor.signal, floor.delivery, floor.cap),
        (defaults::SIGNAL, defaults::DELIVERY, defaults::CAP)
    );
    assert_eq!(floor.machine, defaults::MACHINE);
    assert_eq!(
        (floor.signal.merge, floor.signal.when_lost),
        (Merge::Htp, WhenLost::Hold)
    );
    assert_eq!(
        floor.nodes[0].address.port(),
        6454,
        "the UDP port of Art-Net"
    );
    assert_eq!(
        (
            floor.runs[1].slot,
            floor.runs[1].packing,
            floor.grid.gap_mm.0
        ),
        (1, Packing::WholePixel, 0.0)
    );
    assert_eq!(floor.panel_kinds[1].segments, [2], "one segment");
}

#[test]
fn what_is_said_of_the_machine_is_kept() {
    let machine = |said: &str| floor(&format!("{BASE}\n[machine]\n{said}\n")).machine;
    let both = machine("core = 0\nreal_time_priority = 49");
    assert_eq!((both.core, both.real_time_priority), (Some(0), Some(49)));
    let one = machine("core = 1023");
    assert_eq!((one.core, one.real_time_priority), (Some(1_023), None));
}

#[test]
fn what_is_said_of_voltages_and_cables_is_kept() {
    let (_, page) = PAGE.split_once("```toml\n").unwrap();
    let floor = floor(page.split_once("```").unwrap().0);
    let driver = Load::ConstantCurrent {
        dark_volts: 9.0,
        full_volts: 10.5,
    };
    let pixel = &floor.pixel_kinds[0];
    assert_eq!((pixel.load, pixel.limit_ua), (driver, Some(58_100)));
    let square = &floor.panel_kinds[0];
    let strip = Strip {
        ohm_per_m: 0.1,
        pitch_mm: Some(50.0),
        fed: Fed::Start,
    };
    assert_eq!(square.strip, Some(strip));
    let mm2 = |length_m, mm2| {
        Some(Cable {
            length_m,
            conductor: Conductor::Mm2(mm2),
        })
    };
    assert_eq!(square.tail, mm2(0.5, 2.5));
    let feed = &floor.feeds[0];
    assert_eq!((feed.cable, feed.far_cable), (mm2(5.0, 2.5), mm2(6.0, 2.5)));
    let link = Cable {
        length_m: 0.6,
        conductor: Conductor::Awg(12),
    };
    assert_eq!(feed.link, Some(link));
    let order: Vec<String> = feed
        .panels
        .iter()
        .map(|&panel| floor.panels[panel].position.to_string())
        .collect();
    assert_eq!(
        order,
        ["A1", "B1", "A2", "B2", "D1"],
        "as the file names them"
    );
    let supply = &floor.supplies[0];
    assert_eq!(supply.short_a, Some(Amps(35.0)));
    let peak = |percent, s| Some(Peak { percent, s });
    assert_eq!(
        (supply.peak, feed.peak),
        (peak(120.0, 1.0), peak(110.0, 2.0))
    );
    assert_eq!(
        (supply.slew_a_per_s, feed.slew_a_per_s),
        (Some(200.0), Some(100.0))
    );
    assert_eq!(floor.cap.floor_va, Some(5_000.0));
}

#[test]
fn power_may_enter_a_strip_anywhere() {
    let fed = |written: &str| {
        let strip = format!("segments = [20, 20]\nstrip = {{ ohm_per_m = 0.1, fed = {written} }}");
        let floor = floor(&BASE.replace("segments = [20, 20]", &strip));
        floor.panel_kinds[0].strip.clone().map(|strip| strip.fed)
    };
    assert_eq!(fed("\"both\""), Some(Fed::Both));
    assert_eq!(fed("\"end\""), Some(Fed::End));
    assert_eq!(fed("[21, 1, 21]"), Some(Fed::Pixels(vec![0, 20])));
}

#[test]
fn panels_lie_by_rows_and_are_found_by_position() {
    let floor = floor(&BASE.replace("panel = \"square\"", "panel = \"square\"\ngap_mm = 10"));
    let names: Vec<String> = floor
        .panels
        .iter()
        .map(|panel| panel.position.to_string())
        .collect();
    assert_eq!(names, ["A1", "B1", "A2"]);
    assert_eq!(floor.panel_rect_mm(1), (410.0, 0.0, 400.0, 400.0));
    assert_eq!(floor.panel_rect_mm(2), (0.0, 410.0, 400.0, 400.0));
    assert_eq!(floor.size_mm(), (810.0, 810.0));
    let at = |text: &str| floor.panel_at(text.parse::<Position>().unwrap());
    assert_eq!(
        (at("A1"), at("A2"), at("B2"), at("C9")),
        (Some(0), Some(2), None, None)
    );
}

#[test]
fn a_turn_is_clockwise() {
    // B1 has pixels at (10, 10) and (390, 390). A quarter clockwise takes the upper left corner to
    // the upper right one, a half to the lower right one, three quarters to the lower left one.
    for (turn, first, second) in [
        (0, [410.0, 10.0], [790.0, 390.0]),
        (90, [790.0, 10.0], [410.0, 390.0]),
        (180, [790.0, 390.0], [410.0, 10.0]),
        (270, [410.0, 390.0], [790.0, 10.0]),
    ] {
        let floor = floor(&BASE.replace("turn = 90", &format!("turn = {turn}")));
        assert_eq!(
            floor.panel_pixels_mm(1).collect::<Vec<_>>(),
            [first, second],
            "{turn}"
        );
    }
}

#[test]
fn spans_count_slots_from_one() {
    let floor = floor(BASE);
    let span = |universe: u16, first_slot, last_slot| {
        let port_address = PortAddress::new(universe).unwrap();
        vec![SlotSpan {
            port_address,
            first_slot,
            last_slot,
        }]
    };
    // 40 pixels of 3 slots are 120, two pixels are 6.
    assert_eq!(
        floor.all_spans(),
        [span(1, 1, 120), span(1, 121, 126), span(2, 1, 120)]
    );
    assert_eq!(floor.spans(1), span(1, 121, 126));
}

#[test]
fn one_arriving_universe_may_feed_two_nodes() {
    let shared = "start = \"0:0:1\"\nsource = { start = \"0:0:1\", shared = true }";
    let floor = floor(&BASE.replace("start = \"0:0:2\"", shared));
    let tables = Tables::compile(&floor);
    assert_eq!((tables.universes.len(), tables.outputs.len()), (1, 2));
    assert_eq!(
        (
            tables.universes[0].slots,
            tables.universes[0].outputs.as_slice()
        ),
        (126, [0, 1].as_slice())
    );
    assert_eq!(
        tables.outputs[1].parts[0].src,
        tables.outputs[0].parts[0].src
    );
}

#[test]
fn slots_that_leave_are_even_and_at_least_two() {
    let odd = BASE
        .replace("slots = \"GRB\"", "slots = \"R\"")
        .replace("red = 20, green = 20, blue = 20", "red = 20");
    let odd = odd
        .replace("columns = 5\nrows = 8", "columns = 1\nrows = 1")
        .replace("segments = [20, 20]\n", "");
    let tables = Tables::compile(&floor(&odd));
    let sizes: Vec<u16> = tables.outputs.iter().map(|output| output.slots).collect();
    assert_eq!(sizes, [4, 2], "3 slots and 1 slot");
    assert_eq!(
        tables
            .universes
            .iter()
            .map(|universe| universe.slots)
            .collect::<Vec<_>>(),
        [3, 1]
    );
}

#[test]
fn both_halves_of_a_straddling_level_lie_at_their_distance() {
    let text = BASE
        .replace("slots = \"GRB\"", "slots = \"RGBrgb\"")
        .replace(
            "start = \"0:0:2\"",
            "start = \"0:0:2\"\nslot = 510\npacking = \"packed\"",
        );
    let tables = Tables::compile(&floor(&text));
    assert!(!tables.patterns[0].whole);
    let south: Vec<_> = tables
        .outputs
        .iter()
        .filter(|output| output.node == Some(1))
        .collect();
    let (first, second) = (south[0].parts[0], south[1].parts[0]);
    assert_eq!((first.dst, first.len, first.phase), (509, 3, 0));
    assert_eq!(
        (second.dst, second.phase, second.first_pixel),
        (0, 3, first.first_pixel)
    );
    assert_eq!(second.src, first.src + 3, "neighbours in the flat array");
    assert_eq!(
        tables.patterns[0].slots[0].byte,
        Byte::Coarse { partner: 3 }
    );
    let south_at = tables
        .outputs
        .iter()
        .position(|output| output.node == Some(1))
        .unwrap();
    let output = u32::try_from(south_at).unwrap();
    let places: Vec<_> = (509..512)
        .map(|slot| SlotPlace { output, slot })
        .chain((0..3).map(|slot| SlotPlace {
            output: output + 1,
            slot,
        }))
        .collect();
    assert_eq!(tables.slots_of(first.first_pixel), places);
}

#[test]
fn idle_and_full_are_exact() {
    // WS2811 datasheet: 18.5 mA an output; 0.7 mA idle as listed: 48 pixels draw 2.664 A + 33.6 mA.
    let floor = floor(include_str!("../../../config/demo.toml"));
    let tables = Tables::compile(&floor);
    assert_eq!(tables.panels[0].full, Draw::from_ua(2_664_000));
    assert_eq!(tables.panels[0].idle, Draw::from_ua(33_600));
}

#[test]
fn the_wire_order_is_written_as_it_was_read() {
    for order in ["GRB", "RGBrgb", "BbGgRr", "RGB"] {
        let floor = floor(&BASE.replace("slots = \"GRB\"", &format!("slots = \"{order}\"")));
        assert_eq!(floor.pixel_kinds[0].wire_order(), order);
    }
}

#[test]
fn a_file_is_read_and_one_that_is_no_text_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("floor.toml");
    std::fs::write(&path, BASE).unwrap();
    assert_eq!(read(&path).unwrap(), floor(BASE));
    std::fs::write(&path, b"name = \"\xff\"").unwrap();
    let faults = read(&path).unwrap_err();
    assert_eq!(faults.list().len(), 1);
    assert_eq!(
        (faults.list()[0].code, &faults.list()[0].at),
        ("unreadable", &None)
    );
    assert!(faults.render(false).contains("UTF-8"));
    assert_eq!(
        read(folder.path()).unwrap_err().list()[0].code,
        "unreadable",
        "a folder"
    );
}

#[test]
fn a_run_may_begin_right_after_another() {
    // The run before it fills slots 1 to 126; one slot earlier the two clash.
    let next = "node = \"north\"\nport = 2\nstart = \"0:0:1\"\nslot = ";
    let with = |slot: u16| {
        let run = "node = \"south\"\nport = 1\nstart = \"0:0:2\"";
        parse("test.toml", &BASE.replace(run, &format!("{next}{slot}")))
    };
    let tables = Tables::compile(&with(127).unwrap());
    assert_eq!((tables.outputs.len(), tables.outputs[0].slots), (1, 246));
    assert_eq!(with(126).unwrap_err().list()[0].code, "shared-slots");
}

#[test]
fn a_large_floor_is_readable() {
    let text = include_str!("../../../config/large-floor.toml");
    assert!(text.lines().count() < 120);
    let floor = floor(text);
    assert_eq!((floor.panels.len(), floor.nodes.len()), (500, 4));
    assert!(floor.panels.iter().all(|panel| !panel.serial.is_empty()));
    // 19 rows of 8 panels in three blocks, two rows to an output; 22 at each edge.
    let panels: Vec<usize> = floor.runs.iter().map(|run| run.panels.len()).collect();
    let block = [16, 16, 16, 16, 16, 16, 16, 16, 16, 8];
    assert_eq!(panels, [&block[..], &block, &block, &[22, 22]].concat());
    // The console's 60,000 slots without a gap fill 117 universes, and 96 slots of one more.
    let tables = Tables::compile(&floor);
    let last = tables.universes.last().unwrap();
    assert_eq!((tables.universes.len(), last.slots), (118, 96));
    assert!(
        tables
            .universes
            .iter()
            .rev()
            .skip(1)
            .all(|u| u.slots == 512)
    );
}
