//! Floor files with chance in everything that matters to the sums.

use std::fmt::Write;

use litfloor::sim::link::Chance;

/// Most universes that one run fills, at the node or at the console, with all that it passes.
const UNIVERSES: u64 = 5;

const PACKINGS: [&str; 3] = ["packed", "whole-pixel", "whole-panel"];

/// One kind of panel.
struct Kind {
    name: &'static str,
    text: String,
    /// At full white, without what its run passes, in amperes.
    full_a: f64,
}

/// Where slots begin, and how they are packed.
#[derive(Clone, Copy)]
struct Slots {
    universe: u64,
    slot: u64,
    packing: &'static str,
}

/// The text of a floor file: up to three kinds of panel, turned and mirrored; runs that pass spare
/// slots and unused pixels; and a console that is patched as the nodes are, in one block, elsewhere,
/// or with one picture for two runs.
pub fn random_floor(chance: &mut Chance) -> String {
    let columns = 2 + chance.up_to(2);
    let rows = 2 + chance.up_to(2);
    let nodes = 1 + chance.up_to(1);
    let margin = 0.6 + 0.4 * chance.share();
    let copies = 1 + chance.up_to(3);
    let late_ms = chance.up_to(30);
    let mut text = format!(
        "name = \"made up\"\n[grid]\ncolumns = {columns}\nrows = {rows}\npanel_mm = [400, 400]\n\
         panel = \"square\"\n[delivery]\ncopies = {copies}\nlate_ms = {late_ms}\n\
         [cap]\nmargin = {margin:.3}\nlet_up_s = 0.4\n"
    );
    let kinds = kinds(chance, margin, &mut text);
    let laid = lay(chance, &kinds, columns, rows);
    for (at, kind) in kinds.iter().enumerate() {
        text += &kind.text;
        let places: Vec<String> = positions(columns, rows)
            .zip(&laid)
            .filter(|(_, of)| at > 0 && **of == at)
            .map(|(place, _)| format!("\"{place}\""))
            .collect();
        if !places.is_empty() {
            let _ = writeln!(text, "at = [{}]", places.join(", "));
        }
    }
    for node in 0..nodes {
        let _ = writeln!(
            text,
            "[[node]]\nname = \"n{node}\"\naddress = \"10.9.1.{}\"",
            node + 1
        );
    }
    runs(chance, columns, rows, nodes, &mut text);
    power(chance, &kinds, &laid, columns, &mut text);
    text
}

/// Writes the kinds of pixel and thinks of the kinds of panel. The first lies wherever no other does.
fn kinds(chance: &mut Chance, margin: f64, text: &mut String) -> Vec<Kind> {
    let slots = if chance.up_to(3) == 0 {
        "RrGgBb"
    } else {
        "GRB"
    };
    let others = [
        ("BRG", "red = 40, green = 70, blue = 35.5", 0.1455),
        ("GRBW", "red = 30, green = 30, blue = 30, white = 80", 0.17),
        (
            "RGBWrgbw",
            "red = 30, green = 30, blue = 30, white = 80",
            0.17,
        ),
        ("W", "white = 120", 0.12),
        ("Ww", "white = 120", 0.12),
    ];
    let (other_slots, other_ma, other_a) = others[usize::try_from(chance.up_to(4)).unwrap()];
    let _ = write!(
        text,
        "[pixel.p]\nslots = \"{slots}\"\nvolts = 12\n\
         full_ma = {{ red = 60, green = 55, blue = 50 }}\nidle_ma = 1\n\
         [pixel.q]\nslots = \"{other_slots}\"\nvolts = 12\nfull_ma = {{ {other_ma} }}\nidle_ma = 2.5\n"
    );
    let side = 2 + chance.up_to(3);
    let (wide, high) = (1 + chance.up_to(4), 2 + chance.up_to(3));
    let apart = 1 + chance.up_to(8);
    let spots: Vec<String> = (0..apart)
        .map(|at| format!("[{}, 20]", 20 + 40 * at))
        .collect();
    let spots = spots.join(", ");
    let p_a = 0.166;
    let q_a = other_a + 0.0025;
    let mut kinds = vec![
        Kind {
            name: "square",
            text: format!("pixel = \"p\"\ncolumns = {side}\nrows = {side}\n"),
            full_a: amps(side * side) * p_a,
        },
        Kind {
            name: "other",
            text: format!(
                "pixel = \"q\"\ncolumns = {wide}\nrows = {high}\n\
                 wiring = {{ first = \"columns\", path = \"serpentine\", from = \"bottom-right\" }}\n"
            ),
            full_a: amps(wide * high) * q_a,
        },
        Kind {
            name: "line",
            text: format!("pixel = \"p\"\npixels_mm = [{spots}]\n"),
            full_a: amps(apart) * p_a,
        },
    ];
    for kind in &mut kinds {
        kind.text = format!("[panel.{}]\n{}", kind.name, kind.text);
        if chance.up_to(2) == 0 {
            let rated_a = kind.full_a * (0.5 + chance.share()) / margin;
            let _ = writeln!(kind.text, "rated_a = {:.2}", rated_a.max(0.1));
        }
    }
    kinds
}

/// A kind for every panel, row by row.
fn lay(chance: &mut Chance, kinds: &[Kind], columns: u64, rows: u64) -> Vec<usize> {
    let several = chance.up_to(3) > 0;
    (0..columns * rows)
        .map(|_| match chance.up_to(4) {
            at @ 1.. if several && at < 3 => usize::try_from(at).unwrap() % kinds.len(),
            _ => 0,
        })
        .collect()
}

/// One run a row; each row begins in a universe of its own, so that supplies span several.
fn runs(chance: &mut Chance, columns: u64, rows: u64, nodes: u64, text: &mut String) {
    let mut universe = chance.up_to(5);
    let mut before = Before::default();
    for row in 1..=rows {
        let at_node = Slots {
            universe,
            slot: 1 + chance.up_to(500),
            packing: PACKINGS[usize::try_from(chance.up_to(2)).unwrap()],
        };
        let _ = writeln!(
            text,
            "[[run]]\nnode = \"n{}\"\nstart = \"{}\"\nslot = {}\npacking = \"{}\"\npanels = [{}]",
            row % nodes,
            address(at_node.universe),
            at_node.slot,
            at_node.packing,
            elements(chance, columns, row).join(", "),
        );
        universe += UNIVERSES;
        before = source(chance, row, at_node, before, text);
    }
}

/// What a run's source may go by of the run before it.
#[derive(Clone, Copy, Default)]
struct Before {
    /// Whether the slots behind it are free.
    free_behind: bool,
    /// Where its own lie, if that is known.
    console: Option<Slots>,
}

impl Before {
    fn at(console: Slots) -> Self {
        Self {
            free_behind: true,
            console: Some(console),
        }
    }
}

/// Writes where the console's slots of a run lie.
fn source(
    chance: &mut Chance,
    row: u64,
    at_node: Slots,
    before: Before,
    text: &mut String,
) -> Before {
    match (chance.up_to(5), before.console) {
        (0 | 1, _) => Before::at(at_node),
        (2 | 3, _) if before.free_behind => {
            let _ = writeln!(text, "source = \"next\"");
            Before {
                free_behind: true,
                console: None,
            }
        }
        (4, Some(same)) => {
            let start = address(same.universe);
            let _ = writeln!(
                text,
                "source = {{ start = \"{start}\", slot = {}, packing = \"{}\", shared = true }}",
                same.slot, same.packing
            );
            Before::default()
        }
        _ => {
            // In another net than all nodes.
            let console = Slots {
                universe: 256 + row * 2 * UNIVERSES + chance.up_to(3),
                slot: 1 + chance.up_to(511),
                packing: PACKINGS[usize::try_from(chance.up_to(2)).unwrap()],
            };
            let start = address(console.universe);
            let _ = writeln!(
                text,
                "source = {{ start = \"{start}\", slot = {}, packing = \"{}\" }}",
                console.slot, console.packing
            );
            Before::at(console)
        }
    }
}

/// The panels of a row from either end, and what lies before them.
fn elements(chance: &mut Chance, columns: u64, row: u64) -> Vec<String> {
    let back = chance.up_to(1) == 0;
    let mut elements = Vec::new();
    for at in 1..=columns {
        // Mostly at the head, where a pixel may only renew the signal.
        let likely = if at == 1 { 1 } else { 5 };
        if chance.up_to(likely) == 0 {
            elements.push(format!("{{ unused_pixels = {} }}", 1 + chance.up_to(7)));
        }
        if chance.up_to(likely) == 0 {
            elements.push(format!("{{ spare_slots = {} }}", 1 + chance.up_to(40)));
        }
        let place = format!("{}{row}", letter(if back { columns + 1 - at } else { at }));
        elements.push(match chance.up_to(3) {
            0 => format!(
                "{{ at = \"{place}\", turn = {}, mirrored = {} }}",
                chance.up_to(3) * 90,
                chance.up_to(1) == 0
            ),
            _ => format!("\"{place}\""),
        });
    }
    elements
}

/// One circuit and supply, and a feed for every column; some of their limits are too low for white.
fn power(chance: &mut Chance, kinds: &[Kind], laid: &[usize], columns: u64, text: &mut String) {
    let all_a: f64 = laid.iter().map(|&kind| kinds[kind].full_a).sum();
    let supply_a = all_a * (0.25 + 0.8 * chance.share());
    let _ = writeln!(
        text,
        "[[circuit]]\nname = \"c\"\nvolts = 230\nrated_a = {:.2}",
        (supply_a * 12.0 / (230.0 * 0.9 * 0.85) * (0.7 + 0.6 * chance.share())).max(0.05)
    );
    let _ = writeln!(
        text,
        "[[supply]]\nname = \"s\"\ncircuit = \"c\"\nvolts = 12\nrated_a = {supply_a:.2}\n\
         efficiency = 0.85\npower_factor = 0.9"
    );
    let columns = usize::try_from(columns).unwrap();
    for column in 0..columns {
        let in_column = laid.iter().skip(column).step_by(columns);
        let column_a: f64 = in_column.map(|&kind| kinds[kind].full_a).sum();
        let name = letter(u64::try_from(column).unwrap() + 1);
        let _ = writeln!(
            text,
            "[[feed]]\nname = \"f{name}\"\nsupply = \"s\"\nfuse_a = {:.2}\n\
             positions = [\"{name}1..{name}{}\"]",
            column_a * (0.4 + chance.share()),
            laid.len() / columns,
        );
    }
}

fn positions(columns: u64, rows: u64) -> impl Iterator<Item = String> {
    (1..=rows).flat_map(move |row| (1..=columns).map(move |at| format!("{}{row}", letter(at))))
}

fn address(flat: u64) -> String {
    format!("{}:{}:{}", flat / 256, flat / 16 % 16, flat % 16)
}

fn amps(pixels: u64) -> f64 {
    f64::from(u32::try_from(pixels).unwrap())
}

fn letter(column: u64) -> char {
    char::from(b'A' + u8::try_from(column - 1).unwrap())
}

/// The same floor with chance in what may be limited beside its ratings: the floor as a whole, peaks,
/// rises, and who is dimmed.
pub fn with_more_limits(text: &str, chance: &mut Chance) -> String {
    let mut circuit_a = 1.0;
    let mut lines = Vec::new();
    let rated = text.split_once("[[circuit]]").map(|parts| parts.1);
    if let Some(line) = rated.and_then(|rest| rest.lines().find(|at| at.starts_with("rated_a"))) {
        circuit_a = line.split_once(" = ").unwrap().1.parse().unwrap();
    }
    for line in text.lines() {
        lines.push(line.to_owned());
        if line == "[cap]" && chance.up_to(2) == 0 {
            let floor_va = circuit_a * 230.0 * (0.5 + 0.7 * chance.share());
            lines.push(format!("floor_va = {floor_va:.2}"));
        }
        let supply = line.starts_with("power_factor");
        if supply && chance.up_to(1) == 0 {
            lines.push("sharing = \"max-min\"".to_owned());
        }
        if supply || line.starts_with("positions") {
            if chance.up_to(2) > 0 {
                let percent = 105.0 + 60.0 * chance.share();
                let s = 0.1 + 0.9 * chance.share();
                lines.push(format!("peak = {{ percent = {percent:.0}, s = {s:.2} }}"));
            }
            if chance.up_to(3) == 0 {
                let slew = 0.5 + circuit_a * (4.0 + 56.0 * chance.share());
                lines.push(format!("slew_a_per_s = {slew:.2}"));
            }
        }
    }
    lines.join("\n")
}
