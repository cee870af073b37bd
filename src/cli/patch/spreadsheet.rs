//! The patch sheet as CSV (RFC 4180), one line a panel.

use std::io::{self, Write};

use super::sheet::{PanelRow, RunSheet, Sheet};
use crate::cells::harmless;

/// The header. What `--import` looks for is found again in it.
const HEADER: [&str; 28] = [
    "run",
    "order",
    "position",
    "serial",
    "kind",
    "turn",
    "mirrored",
    "node",
    "node_address",
    "port",
    "packing",
    "universe",
    "universe_flat",
    "slot",
    "last_universe",
    "last_universe_flat",
    "last_slot",
    "console_universe",
    "console_universe_flat",
    "console_slot",
    "console_last_universe",
    "console_last_universe_flat",
    "console_last_slot",
    "pixels",
    "slots",
    "spare_slots_before",
    "unused_pixels_before",
    "feed",
];

/// Writes it.
///
/// # Errors
/// When it can't be written.
pub(super) fn write(sheet: &Sheet, out: &mut dyn Write) -> io::Result<()> {
    let mut table = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer(out);
    table.write_record(HEADER)?;
    for run in &sheet.runs {
        for panel in &run.panels {
            table.write_record(cells(run, panel))?;
        }
    }
    table.flush()
}

fn cells(run: &RunSheet, panel: &PanelRow) -> Vec<String> {
    let mut cells = vec![
        run.run.to_string(),
        panel.order.to_string(),
        panel.position.clone(),
        text(&panel.serial),
        text(&panel.kind),
        panel.turn_deg.to_string(),
        if panel.mirrored { "yes" } else { "no" }.to_owned(),
        text(run.node.as_deref().unwrap_or_default()),
        run.node_address.clone().unwrap_or_default(),
        run.port.map(|port| port.to_string()).unwrap_or_default(),
        run.packing.to_owned(),
    ];
    for ends in [panel.at_node, panel.at_console] {
        for place in [ends.first, ends.last] {
            cells.push(place.port_address.to_string());
            cells.push(place.port_address.number().to_string());
            cells.push(place.slot.to_string());
        }
    }
    cells.extend([
        panel.pixels.to_string(),
        panel.slots.to_string(),
        panel.spare_slots.to_string(),
        panel.unused_pixels.to_string(),
        text(&panel.feed),
    ]);
    cells
}

/// A name, which anybody may have typed.
fn text(name: &str) -> String {
    harmless(name).into_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::floor::testing;

    #[test]
    fn names_with_commas_quotes_and_breaks_come_back_whole() {
        let mut floor = testing::floor();
        floor.feeds[0].name = "a \"b\", c\nd".to_owned();
        let mut out = Vec::new();
        write(&Sheet::of(&floor), &mut out).unwrap();
        let text = String::from_utf8(out).unwrap();
        // RFC 4180: such a field stands in quotes, a quote in it is doubled, a line ends CRLF.
        assert!(text.contains("\"a \"\"b\"\", c\nd\"\r\n"), "{text}");
        let mut rows = csv::Reader::from_reader(text.as_bytes());
        let header = rows.headers().unwrap().clone();
        let rows: Vec<csv::StringRecord> = rows.records().map(Result::unwrap).collect();
        let cell = |row: usize, name: &str| {
            let column = header.iter().position(|title| title == name).unwrap();
            rows[row][column].to_owned()
        };
        assert_eq!(rows.len(), 3);
        assert_eq!(cell(0, "feed"), "a \"b\", c\nd");
        assert_eq!(cell(2, "position"), "A2");
        assert_eq!(
            (cell(2, "universe"), cell(2, "slot"), cell(2, "last_slot")),
            ("0:0:2".to_owned(), "501".to_owned(), "4".to_owned())
        );
        assert_eq!(cell(2, "last_universe_flat"), "3");
    }
}
