//! The patch sheet for a terminal of 100 columns.

use std::io::{self, Write};

use super::super::columns::{self, Column};
use super::super::summary::counted;
use super::sheet::{PanelRow, RunSheet, Sheet};

/// A line is no wider.
const MOST_COLUMNS: usize = 100;

/// Names are cut to so much when a line would be wider.
const SHORT_NAME: usize = 8;

/// Writes it.
///
/// # Errors
/// When it can't be written.
pub(super) fn write(sheet: &Sheet, out: &mut dyn Write) -> io::Result<()> {
    writeln!(
        out,
        "{}: {}, {}, {} on {}",
        sheet.name,
        counted(sheet.panels as u64, "panel"),
        counted(sheet.pixels, "pixel"),
        counted(sheet.slots, "slot"),
        counted(sheet.runs.len() as u64, "run"),
    )?;
    writeln!(
        out,
        "Addresses are net:sub-net:universe/slot, slots from 1; \"flat\" is the same universe as one \
         number,\ncounted from 0, as many programs have it, some from 1. Panels are in wiring order."
    )?;
    for run in &sheet.runs {
        write_run(run, out)?;
    }
    writeln!(out)?;
    super::super::check::cautions(&sheet.cautions, out)
}

fn write_run(run: &RunSheet, out: &mut dyn Write) -> io::Result<()> {
    writeln!(
        out,
        "\n{}, {}, {}, {}, {}",
        run.title(),
        counted(run.panels.len() as u64, "panel"),
        counted(run.pixels, "pixel"),
        counted(run.slots, "slot"),
        run.packing
    )?;
    let mut columns = columns_of(run);
    // What does not fit beside the rest goes below it: first the console's side, then serials.
    let mut below = Vec::new();
    for title in ["console", "serial"] {
        if columns::width(&columns) > MOST_COLUMNS {
            columns.retain(|column| !column.title.starts_with(title));
            below.push(title);
        }
    }
    if columns::width(&columns) > MOST_COLUMNS {
        for column in &mut columns {
            if ["kind", "feed"].contains(&column.title.as_str()) {
                column.cells.iter_mut().for_each(shorten);
            }
        }
    }
    let lines = columns::lines(&columns);
    writeln!(out, "{}", lines[0])?;
    for (at, panel) in run.panels.iter().enumerate() {
        if let Some(passed) = passed(panel) {
            writeln!(out, "      … {passed}")?;
        }
        writeln!(out, "{}", lines[at + 1])?;
        let console = panel.at_console;
        for what in &below {
            match *what {
                "console" => writeln!(
                    out,
                    "      console {} to {}, flat {}",
                    console.first,
                    console.last,
                    console.first.port_address.number()
                )?,
                _ if panel.serial.is_empty() => {}
                _ => writeln!(out, "      serial {}", panel.serial)?,
            }
        }
    }
    Ok(())
}

/// What lies before a panel and lights nothing.
pub(super) fn passed(panel: &PanelRow) -> Option<String> {
    let spare = u64::from(panel.spare_slots);
    let unused = u64::from(panel.unused_pixels);
    let parts: Vec<String> = [(spare, "spare slot"), (unused, "unused pixel")]
        .into_iter()
        .filter(|(count, _)| *count > 0)
        .map(|(count, what)| counted(count, what))
        .collect();
    (!parts.is_empty()).then(|| parts.join(", "))
}

fn shorten(cell: &mut String) {
    if cell.chars().count() > SHORT_NAME {
        let kept: String = cell.chars().take(SHORT_NAME - 1).collect();
        *cell = kept + "…";
    }
}

/// The columns in which anything stands.
fn columns_of(run: &RunSheet) -> Vec<Column> {
    let mut columns = Vec::new();
    let mut add = |title, right, cell: &dyn Fn(&PanelRow) -> String| {
        let cells: Vec<String> = run.panels.iter().map(cell).collect();
        if cells.iter().any(|cell| !cell.is_empty()) {
            columns.push(Column::new(title, right, cells));
        }
    };
    add("#", true, &|panel| panel.order.to_string());
    add("panel", false, &|panel| panel.position.clone());
    add("serial", false, &|panel| panel.serial.clone());
    add("kind", false, &|panel| panel.kind.clone());
    add("lies", false, &PanelRow::lies);
    let number = |panel: &PanelRow| panel.at_node.first.port_address.number().to_string();
    add("from", false, &|panel| panel.at_node.first.to_string());
    add("to", false, &|panel| panel.at_node.last.to_string());
    add("flat", true, &number);
    if run.console_differs {
        let number = |panel: &PanelRow| panel.at_console.first.port_address.number().to_string();
        add("console from", false, &|p| p.at_console.first.to_string());
        add("console to", false, &|p| p.at_console.last.to_string());
        add("console flat", true, &number);
    }
    add("pixels", true, &|panel| panel.pixels.to_string());
    add("slots", true, &|panel| panel.slots.to_string());
    add("feed", false, &|panel| panel.feed.clone());
    columns
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::floor::testing;

    fn text(sheet: &Sheet) -> String {
        let mut out = Vec::new();
        write(sheet, &mut out).unwrap();
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn every_line_fits_whatever_the_names_are() {
        let mut floor = testing::floor();
        for wide in [false, true] {
            if wide {
                let long = "n".repeat(64);
                floor.panel_kinds[0].name.clone_from(&long);
                floor.feeds[0].name = long;
                floor.panels[0].serial = "S".repeat(32);
                floor.panels[0].mirrored = true;
                floor.panels[0].turn_deg = 270;
                floor.runs[0].start = "127:15:15".parse().unwrap();
                floor.runs[0].slot = 400;
                floor.runs[0].source = Some(crate::floor::model::Source {
                    start: "126:15:15".parse().unwrap(),
                    slot: 400,
                    packing: crate::floor::model::Packing::Packed,
                });
            }
            let text = text(&Sheet::of(&floor));
            let table = text.lines().filter(|line| line.starts_with("  "));
            for line in table.chain(text.lines().take(3)) {
                assert!(line.chars().count() <= MOST_COLUMNS, "{line}");
            }
            for part in ["A1", "B1", "A2", "0:0:2/501", "0:0:3/4"] {
                assert!(text.contains(part), "{part} in\n{text}");
            }
            assert_eq!(text.contains("console 126:15:15/400 to"), wide, "{text}");
            assert_eq!(text.contains(&"S".repeat(32)), wide, "{text}");
        }
    }

    #[test]
    fn what_is_passed_is_said_before_its_panel() {
        let mut floor = testing::floor();
        floor.panels[1].lead.spare_slots = 6;
        floor.panels[1].lead.unused_pixels = 1;
        let text = text(&Sheet::of(&floor));
        let (before, after) = text.split_once("… 6 spare slots, 1 unused pixel").unwrap();
        assert!(before.contains("0:0:1/12"), "{text}");
        // 12 slots, 6 spare, 3 of the unused pixel: the next is slot 22.
        assert!(after.contains("0:0:1/22"), "{text}");
    }
}
