//! Random floor files, and whether a floor that was found is the one that was wired.

use std::collections::BTreeMap;
use std::fmt::Write;

use litfloor::floor::model::{Floor, Position};
use litfloor::floor::tables::Tables;
use litfloor::sim::installer::{Installed, Slots};
use litfloor::sim::link::Chance;
use litfloor::stepping::{Corrected, Walk};

pub(crate) fn read(text: &str) -> Floor {
    litfloor::floor::parse("plan.toml", text)
        .unwrap_or_else(|faults| panic!("{}\n{text}", faults.render(false)))
}

fn pick(chance: &mut Chance, count: usize) -> usize {
    usize::try_from(chance.up_to(u64::try_from(count).unwrap() - 1)).unwrap()
}

/// A floor file with two kinds of panel, several runs, all ways of writing and comments.
pub(crate) fn random_floor(chance: &mut Chance) -> String {
    let columns = 3 + pick(chance, 4);
    let rows = 2 + pick(chance, 4);
    floor_of(chance, columns, rows)
}

/// One of this size.
pub(crate) fn floor_of(chance: &mut Chance, columns: usize, rows: usize) -> String {
    let order = ["GRB", "RGB", "BRG"][pick(chance, 3)];
    let second = ["RGBW", "GRBW", "RrGgBb", "RGBrgb", "GRB", "W", "Ww"][pick(chance, 7)];
    let path = ["straight", "serpentine"][pick(chance, 2)];
    let from = ["top-left", "bottom-right"][pick(chance, 2)];
    let (wide, high) = (3 + pick(chance, 4), 3 + pick(chance, 4));
    let full = |slots: &str| {
        let names = [('R', "red"), ('G', "green"), ('B', "blue"), ('W', "white")];
        let has = names.iter().filter(|(letter, _)| slots.contains(*letter));
        let all: Vec<String> = has.map(|(_, name)| format!("{name} = 18.5")).collect();
        all.join(", ")
    };
    let mut edge = Vec::new();
    for i in 0..4 {
        edge.push(format!("[{}, 10]", 60 + 90 * i));
    }
    for i in 0..4 {
        edge.push(format!("[390, {}]", 60 + 90 * i));
    }
    let edge = edge.join(", ");
    // The second kind lies in a rectangle at the lower right.
    let corner = (1 + pick(chance, columns - 1), 1 + pick(chance, rows - 1));
    let others = format!("{}..{}", at(corner.0, corner.1), at(columns - 1, rows - 1));
    let mut text = format!(
        r#"# A floor that is made up.
name = "Made up"

[grid]
columns = {columns}   # to the right
rows = {rows}
panel_mm = [400, 400]
gap_mm = 5
panel = "square"

[pixel.strip]
slots = "{order}"     # as on the reel
volts = 12
full_ma = {{ {} }}
idle_ma = 0.5

[pixel.other]
slots = "{second}"
volts = 12
full_ma = {{ {} }}
idle_ma = 0.5

[panel.square]
pixel = "strip"
columns = {wide}
rows = {high}
wiring = {{ first = "rows", path = "{path}", from = "{from}" }}

[panel.edge]
pixel = "other"
pixels_mm = [{edge}]
at = ["{others}"]     # by the wall

[[node]]
name = "north"
address = "10.20.30.21"

[[node]]
name = "south"
address = "10.20.30.22"
"#,
        full(order),
        full(second)
    );
    text += &runs_of(chance, columns, rows);
    text += r#"
[[circuit]]
name = "socket"
volts = 230
rated_a = 16

[[supply]]
name = "main"
circuit = "socket"
volts = 12
rated_a = 60
efficiency = 0.9
power_factor = 0.9

[[feed]]
name = "all"
supply = "main"
fuse_a = 30
"#;
    let all = format!("{}..{}", at(0, 0), at(columns - 1, rows - 1));
    writeln!(text, "positions = [\"{all}\"]").unwrap();
    text
}

fn at(column: usize, row: usize) -> String {
    let (column, row) = (u16::try_from(column).unwrap(), u16::try_from(row).unwrap());
    Position { row, column }.to_string()
}

/// The runs, one row or two to each.
fn runs_of(chance: &mut Chance, columns: usize, rows: usize) -> String {
    let mut text = String::new();
    let (mut row, mut run) = (0, 0);
    while row < rows {
        let two = row + 1 < rows && chance.up_to(1) == 1;
        let node = ["north", "south"][pick(chance, 2)];
        let packing = ["packed", "whole-pixel", "whole-panel"][pick(chance, 3)];
        let slot = [1, 1, 13, 100][pick(chance, 4)];
        let last = if two { row + 1 } else { row };
        let all = (last + 1 - row) * columns;
        let (first, end) = (at(0, row), at(columns - 1, row));
        let mut panels = match pick(chance, 4) {
            0 if two => format!(
                r#"{{ at = "{first}..{}", path = "serpentine", turn_back = 180 }}"#,
                at(columns - 1, last)
            ),
            1 if !two => format!(r#"{{ at = "{end}..{first}", turn = 180 }}"#),
            2 if !two => {
                let mut single: Vec<String> = (0..columns)
                    .map(|column| format!("\"{}\"", at(column, row)))
                    .collect();
                single[1] = format!(r#"{{ at = "{}", turn = 90, mirrored = true }}"#, at(1, row));
                single.join(", ")
            }
            _ if two => format!(
                "\n    \"{first}..{end}\",   # there\n    \"{}..{}\",   # and back\n",
                at(columns - 1, last),
                at(0, last)
            ),
            _ => format!("\"{first}..{end}\""),
        };
        if chance.up_to(3) == 0 {
            panels = format!("{{ unused_pixels = 1 }}, {panels}");
        }
        let serials = format!("serials = [\"R{run}-01..R{run}-{all:02}\"]   # on the labels\n");
        let serials = if chance.up_to(1) == 1 { &serials } else { "" };
        write!(
            text,
            "\n# Run {run}.\n[[run]]\nnode = \"{node}\"\nport = {}\nstart = \"{}:{}:0\"\n\
             slot = {slot}\npacking = \"{packing}\"\npanels = [{panels}]\n{serials}",
            run + 1,
            run / 16,
            run % 16,
        )
        .unwrap();
        row = last + 1;
        run += 1;
    }
    text
}

/// A picture that is sent by the patch of a floor: every place of the floor has levels of its own.
fn picture(floor: &Floor, wanted: impl Fn([f64; 2], usize) -> u8) -> Slots {
    let tables = Tables::compile(floor);
    let mut slots = Slots::new();
    for (output, universe) in (0_u32..).zip(&tables.outputs) {
        for slot in 0..512 {
            let place = litfloor::floor::SlotPlace { output, slot };
            let Some(found) = tables.pixel_at(place) else {
                continue;
            };
            let panel = found.panel as usize;
            let pixel = found.pixel - tables.panels[panel].first_pixel;
            let at = floor.panel_pixels_mm(panel).nth(pixel as usize).unwrap();
            let kind = &floor.panel_kinds[floor.panels[panel].kind];
            let role = floor.pixel_kinds[kind.pixel_kind].slots[usize::from(found.role)];
            let level = wanted(at, role.colour as usize);
            let node = universe.node.map(|node| node as usize);
            slots.insert((node, universe.port_address.number(), slot), level);
        }
    }
    slots
}

fn level([x, y]: [f64; 2], colour: usize) -> u8 {
    // Any picture will do; this one differs from place to place and colour to colour.
    let mixed =
        (x * 7.3 + y * 13.7).rem_euclid(199.0) + 10.0 * f64::from(u8::try_from(colour).unwrap());
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "below 240"
    )]
    let level = mixed as u8 + 10;
    level
}

fn comments_are_kept(before: &str, after: &str) -> Result<(), String> {
    let comments = |text: &str| -> Vec<String> {
        let found = text.lines().filter_map(|line| line.split_once('#'));
        found.map(|(_, comment)| comment.to_owned()).collect()
    };
    if comments(before) == comments(after) {
        return Ok(());
    }
    Err(format!("comments are lost:\n{after}"))
}

/// Sends a picture through the patch of what was found, and looks whether the floor shows it, but
/// for what is dark.
pub(crate) fn picture_is_true(
    text: &str,
    walk: &Walk,
    installed: &Installed,
) -> Result<(), String> {
    let corrected = walk.corrected("plan.toml", text);
    let corrected = corrected.map_err(|why| why.to_string())?;
    corrected_is_true(text, &corrected, installed)
}

/// The same for a corrected file.
pub(crate) fn corrected_is_true(
    text: &str,
    corrected: &Corrected,
    installed: &Installed,
) -> Result<(), String> {
    comments_are_kept(text, &corrected.text)?;
    if corrected.diff.is_empty() != (corrected.text == text) {
        return Err(format!("the diff is\n{}", corrected.diff));
    }
    let floor = &read(&corrected.text);
    let lights = installed.lights(&picture(floor, level));
    let dark = installed.dark();
    let mut seen: BTreeMap<(i64, i64), [u32; 4]> = BTreeMap::new();
    #[expect(clippy::cast_possible_truncation, reason = "a small floor")]
    let key = |[x, y]: [f64; 2]| ((x * 10.0).round() as i64, (y * 10.0).round() as i64);
    for (_, place, levels) in lights {
        seen.insert(key(place), levels);
    }
    let mut expected = BTreeMap::new();
    for (panel, of) in floor.panels.iter().enumerate() {
        if dark.contains(&of.position) {
            continue;
        }
        let kind = &floor.panel_kinds[of.kind];
        let slots = &floor.pixel_kinds[kind.pixel_kind].slots;
        for place in floor.panel_pixels_mm(panel) {
            let mut levels = [0; 4];
            for slot in slots {
                levels[slot.colour as usize] = u32::from(level(place, slot.colour as usize)) * 257;
            }
            expected.insert(key(place), levels);
        }
    }
    if seen != expected {
        let wrong = expected
            .iter()
            .find(|(place, levels)| seen.get(place) != Some(levels));
        return Err(format!(
            "at {wrong:?} the picture is {:?}",
            wrong.map(|(place, _)| seen.get(place))
        ));
    }
    let serials = installed.serials();
    for panel in &floor.panels {
        if serials.get(&panel.position) != Some(&panel.serial) {
            return Err(format!(
                "the serial at {} is {}",
                panel.position, panel.serial
            ));
        }
    }
    Ok(())
}
