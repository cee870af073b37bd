//! Floors that are laid in every way: serpentines of panels, mirrored ones, what is passed, short
//! forms.

use super::super::model::Packing;
use super::super::{Floor, Tables};
use super::BASE;
use super::sound::floor;

/// The base floor with its two runs, its feed and its power written anew, on 3 × 3 positions.
fn laid(runs: &str, power: &str) -> Floor {
    floor(&laid_text(runs, power))
}

fn laid_text(runs: &str, power: &str) -> String {
    let (before, rest) = BASE.split_once("[[run]]").unwrap();
    let (_, mains) = rest.split_once("[[circuit]]").unwrap();
    let (mains, _) = mains.split_once("[[feed]]").unwrap();
    let before = before
        .replace("columns = 2\nrows = 2", "columns = 3\nrows = 3")
        .replace("empty = [\"B2\"]\n", "")
        .replace("at = [\"B1\"]\n", "at = [\"C3\"]\n");
    let power = if power.is_empty() {
        format!(
            "[[circuit]]{mains}[[feed]]\nname = \"f\"\nsupply = \"main\"\nfuse_a = 10\n\
             positions = [\"A1..C3\"]\n"
        )
    } else {
        power.to_owned()
    };
    format!("{before}{runs}\n{power}")
}

fn along(floor: &Floor, run: usize) -> Vec<String> {
    let panels = floor.runs[run].panels.iter();
    panels
        .map(|&panel| {
            let panel = &floor.panels[panel];
            let turn = if panel.turn_deg == 0 {
                String::new()
            } else {
                format!("/{}", panel.turn_deg)
            };
            format!("{}{turn}", panel.position)
        })
        .collect()
}

#[test]
fn a_serpentine_of_panels_runs_back_every_second_line() {
    let run = |element: &str| {
        let text = format!("[[run]]\nnode = \"north\"\nstart = \"0:1:0\"\npanels = [{element}]");
        along(&laid(&text, ""), 0).join(" ")
    };
    assert_eq!(
        run("{ at = \"A1..C3\", path = \"serpentine\", turn_back = 180 }"),
        "A1 B1 C1 C2/180 B2/180 A2/180 A3 B3 C3"
    );
    assert_eq!(
        run("{ at = \"C3..A1\", path = \"serpentine\", first = \"columns\", turn = 90 }"),
        "C3/90 C2/90 C1/90 B1/90 B2/90 B3/90 A3/90 A2/90 A1/90"
    );
    assert_eq!(
        run("{ at = \"A3..C1\", first = \"columns\" }"),
        "A3 A2 A1 B3 B2 B1 C3 C2 C1"
    );
    assert_eq!(
        run("{ at = \"A1..C3\", path = \"serpentine\", turn = 270, turn_back = 180 }"),
        "A1/270 B1/270 C1/270 C2/90 B2/90 A2/90 A3/270 B3/270 C3/270"
    );
}

#[test]
fn what_is_passed_moves_the_next_panel_only() {
    let floor = laid(
        "[[run]]\nnode = \"north\"\nstart = \"0:1:0\"\npanels = [{ unused_pixels = 2 }, \
         { spare_slots = 4 }, \"A1..B1\", { spare_slots = 10 }, \"C1\"]\n\
         [[run]]\nnode = \"north\"\nstart = \"0:2:0\"\nslot = 31\npanels = [\"A2..C3\"]",
        "",
    );
    let first = |panel: usize| floor.spans(panel)[0].first_slot;
    // 2 pixels of 3 slots and 4 spare ones, then panels of 40 pixels, 120 slots, each.
    assert_eq!([first(0), first(1), first(2)], [11, 131, 261]);
    assert_eq!(first(3), 31);
    let tables = Tables::compile(&floor);
    // 30 slots passed, five panels and one of two pixels: 636 slots.
    assert_eq!(tables.universes.len(), 3, "0:1:0, 0:2:0 and 0:2:1");
    assert_eq!(tables.panels[0].idle, tables.panels[1].idle, "idle_ma is 0");
}

/// A pixel that only renews the signal still draws its idle current: one pixel of 1 mA more.
#[test]
fn an_unused_pixel_draws_its_idle_current() {
    let text = BASE.replace("idle_ma = 0\n[pixel", "idle_ma = 1\n[pixel");
    let text = text.replace(
        "panels = [\"A1\"",
        "panels = [{ unused_pixels = 1 }, \"A1\"",
    );
    let tables = Tables::compile(&floor(&text));
    assert_eq!(tables.panels[0].idle, crate::units::Draw::from_ua(41_000));
}

/// Two runs of one node whose `panels` are given; the second begins where `second` says.
fn two_runs(first: &str, second: &str) -> String {
    format!(
        "[[run]]\nnode = \"north\"\nstart = \"0:1:0\"\npanels = [{first}]\n\
         [[run]]\nnode = \"north\"\n{second}\npanels = [\"A2..C3\"]"
    )
}

#[test]
fn unused_pixels_lie_where_the_run_has_them() {
    let second = "start = \"0:2:0\"";
    let stretches = |lead: &str| {
        let panels = format!("{lead}, \"A1..C1\"");
        let tables = Tables::compile(&laid(&two_runs(&panels, second), ""));
        let universes = tables.outputs.iter();
        let unused = universes.map(|universe| universe.unused.clone());
        let dark = |of: &crate::floor::tables::Unused| (of.panel, of.dst, of.len);
        let found: Vec<Vec<_>> = unused.map(|of| of.iter().map(dark).collect()).collect();
        let slots: Vec<u16> = tables.outputs.iter().map(|of| of.slots).collect();
        (found, slots)
    };
    // A pixel has 3 slots, a panel 120; slots count from 0.
    let (unused, slots) = stretches("{ unused_pixels = 2 }, { spare_slots = 4 }");
    assert_eq!(unused[0], [(0, 0, 6)]);
    assert_eq!(slots[0], 370);
    let (unused, _) = stretches("{ spare_slots = 4 }, { unused_pixels = 2 }");
    assert_eq!(unused[0], [(0, 4, 6)]);
    // 170 whole pixels fill a universe, so that no panel is left in the first.
    let (unused, slots) = stretches("{ unused_pixels = 171 }");
    assert_eq!([&unused[0], &unused[1]], [&[(0, 0, 510)], &[(0, 0, 3)]]);
    assert_eq!(slots[..2], [510, 364]);
}

#[test]
fn another_run_does_not_light_unused_pixels() {
    let codes = |lead: &str| {
        // The end of the second run, 96 slots, lies in the universe of the first.
        let runs = two_runs(&format!("{lead}, \"A1..C1\""), "start = \"0:0:15\"");
        let parsed = crate::floor::parse("laid.toml", &laid_text(&runs, ""));
        let faults = parsed.map_or_else(|faults| faults.list().to_vec(), |_| Vec::new());
        faults.iter().map(|fault| fault.code).collect::<Vec<_>>()
    };
    assert!(codes("{ spare_slots = 100 }").is_empty());
    assert!(codes("{ spare_slots = 100 }, { unused_pixels = 1 }").is_empty());
    assert_eq!(
        codes("{ unused_pixels = 1 }, { spare_slots = 100 }"),
        ["shared-slots"]
    );
    assert_eq!(
        codes(
            "{ spare_slots = 96 }, { unused_pixels = 1 }, { spare_slots = 2 }, { unused_pixels = 1 }"
        ),
        ["unused-apart"]
    );
}

#[test]
fn one_run_is_split_into_many() {
    let floor = laid(
        "[[run]]\nnode = \"north\"\nport = 5\nstart = \"0:1:0\"\nslot = 7\npacking = \"packed\"\n\
         panels = [{ at = \"A1..C3\", path = \"serpentine\" }]\nserials = [\"P1..P9\"]\n\
         source = \"0:0:1\"\nsplit = { panels = 4, universes = 3 }",
        "",
    );
    let runs: Vec<_> = (0..floor.runs.len())
        .map(|run| along(&floor, run).join(" "))
        .collect();
    assert_eq!(runs, ["A1 B1 C1 C2", "B2 A2 A3 B3", "C3"]);
    let run = &floor.runs[2];
    assert_eq!(
        (run.port, run.start.to_string(), run.slot),
        (Some(7), "0:1:6".into(), 7)
    );
    assert_eq!(run.packing, Packing::Packed);
    // Eight panels of 120 slots lie before it: 960 slots, so slot 449 of the second universe.
    let source = run.source.unwrap();
    assert_eq!(
        (source.start.to_string(), source.slot),
        ("0:0:2".into(), 449)
    );
    let c3 = floor.panels.last().unwrap();
    assert_eq!(
        (c3.position.to_string(), c3.serial.as_str()),
        ("C3".into(), "P9")
    );
    let c2 = &floor.panels[5];
    assert_eq!(
        (c2.position.to_string(), c2.serial.as_str()),
        ("C2".into(), "P4")
    );
}

#[test]
fn power_is_shared_out() {
    let floor = laid(
        "[[run]]\nnode = \"north\"\nstart = \"0:1:0\"\npanels = [\"A1..C3\"]",
        "[[circuit]]\nname = \"c\"\nvolts = 230\nrated_a = 16\ncount = 2\n\
         [[supply]]\nname = \"s\"\ncircuit = \"c\"\nvolts = 12\nrated_a = 9\nefficiency = 0.9\n\
         power_factor = 0.9\ncount = 3\nper_circuit = 2\n\
         [[feed]]\nname = \"f\"\nsupply = \"s\"\nfuse_a = 5\npositions = [\"A1..C3\"]\n\
         split = { panels = 2, per_supply = 2 }",
    );
    let names = |all: Vec<&String>| all.into_iter().cloned().collect::<Vec<_>>().join(", ");
    assert_eq!(
        names(floor.circuits.iter().map(|c| &c.name).collect()),
        "c 1, c 2"
    );
    assert_eq!(
        names(floor.supplies.iter().map(|s| &s.name).collect()),
        "s 1, s 2, s 3"
    );
    assert_eq!(
        floor.supplies.iter().map(|s| s.circuit).collect::<Vec<_>>(),
        [0, 0, 1]
    );
    assert_eq!(
        names(floor.feeds.iter().map(|f| &f.name).collect()),
        "f 1, f 2, f 3, f 4, f 5"
    );
    assert_eq!(
        floor.feeds.iter().map(|f| f.supply).collect::<Vec<_>>(),
        [0, 0, 1, 1, 2]
    );
    assert_eq!(
        floor.panels.iter().map(|p| p.feed).collect::<Vec<_>>(),
        [0, 0, 1, 1, 2, 2, 3, 3, 4]
    );
}

/// Both halves of a level leave together, but arrive in two universes, or the other way round:
/// what the pixel shows is what the console means.
#[test]
fn a_level_is_found_wherever_the_console_cuts_it() {
    let text = BASE
        .replace(
            "pixel = \"rgb\"\npixels_mm",
            "pixel = \"white5\"\npixels_mm",
        )
        .replace("volts = 5", "volts = 12")
        .replace(
            "panels = [\"A1\", { at = \"B1\", turn = 90 }]",
            "panels = [\"A1\"]",
        );
    for (slot, start) in [(1, 512), (512, 1)] {
        let run = format!(
            "[[run]]\nnode = \"north\"\nstart = \"1:0:0\"\nslot = {slot}\npacking = \"packed\"\n\
             panels = [\"B1\"]\nsource = {{ start = \"2:0:0\", slot = {start} }}\n[[circuit]]"
        );
        let floor = floor(&text.replace("[[circuit]]", &run));
        let tables = Tables::compile(&floor);
        let arriving: Vec<u8> = (0..tables.universes.len() * 512)
            .map(|at| u8::try_from(at % 251).unwrap())
            .collect();
        let first = tables
            .universes
            .iter()
            .position(|u| u.port_address.number() == 0x200)
            .unwrap();
        let begin = first * 512 + start - 1;
        let mut read = Vec::new();
        for output in &tables.outputs {
            for part in output.parts.iter().filter(|part| part.panel == 1) {
                read.extend_from_slice(&arriving[part.src as usize..][..usize::from(part.len)]);
            }
        }
        assert_eq!(read, arriving[begin..begin + 4]);
    }
}
