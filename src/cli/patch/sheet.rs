//! The rows of a patch sheet: run by run, panel by panel in wiring order.

use std::fmt;

use serde::Serialize;

use crate::floor::SlotSpan;
use crate::floor::model::{Floor, Packing, Panel};
use crate::wire::PortAddress;

/// What to say wherever people are about to switch lights on by a sheet.
const CAUTIONS: [&str; 3] = [
    "switch the supplies off before you touch a panel, a connector or a wire; mains is work for \
     licensed people",
    "walking through the patch lights panels suddenly and may flash: warn everybody near the floor \
     first, flashing light can cause seizures",
    "the sheet says what the floor file says, not what was wired: prove it panel by panel at a low \
     level before anybody stands on the floor",
];

/// A whole patch sheet.
#[derive(Debug, Serialize)]
pub(super) struct Sheet {
    pub(super) name: String,
    pub(super) panels: usize,
    pub(super) pixels: u64,
    pub(super) slots: u64,
    pub(super) runs: Vec<RunSheet>,
    pub(super) cautions: Vec<String>,
}

/// One run.
#[derive(Debug, Serialize)]
pub(super) struct RunSheet {
    /// From 1, in the order of the file.
    pub(super) run: usize,
    pub(super) node: Option<String>,
    pub(super) node_address: Option<String>,
    pub(super) port: Option<u16>,
    pub(super) packing: &'static str,
    /// Whether the console's slots lie elsewhere than the node's.
    pub(super) console_differs: bool,
    pub(super) pixels: u64,
    pub(super) slots: u64,
    /// In wiring order.
    pub(super) panels: Vec<PanelRow>,
}

/// One panel.
#[derive(Debug, Serialize)]
pub(super) struct PanelRow {
    /// Its place in the run, from 1.
    pub(super) order: usize,
    pub(super) position: String,
    /// Empty if the file gives none.
    pub(super) serial: String,
    pub(super) kind: String,
    /// Clockwise.
    pub(super) turn_deg: u16,
    pub(super) mirrored: bool,
    /// Slots before it that drive nothing.
    pub(super) spare_slots: u16,
    /// Pixels before it that stay dark.
    pub(super) unused_pixels: u16,
    /// Its slots at the node.
    pub(super) at_node: FromTo,
    /// Its slots at the console.
    pub(super) at_console: FromTo,
    pub(super) pixels: u64,
    pub(super) slots: u64,
    pub(super) feed: String,
}

/// First and last slot.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub(super) struct FromTo {
    pub(super) first: Place,
    pub(super) last: Place,
}

/// One slot.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Place {
    pub(super) port_address: PortAddress,
    /// From 1.
    pub(super) slot: u16,
}

impl Serialize for Place {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        struct Row {
            port_address: String,
            universe: u16,
            slot: u16,
        }
        let row = Row {
            port_address: self.port_address.to_string(),
            universe: self.port_address.number(),
            slot: self.slot,
        };
        row.serialize(serializer)
    }
}

impl Place {
    /// With the flat universe number, counted from 0.
    pub(super) fn flat(self) -> String {
        format!("{}/{}", self.port_address.number(), self.slot)
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.port_address, self.slot)
    }
}

impl Sheet {
    /// Of a whole floor.
    pub(super) fn of(floor: &Floor) -> Self {
        let at_node = floor.all_spans();
        let at_console = floor.all_source_spans();
        let mut runs = Vec::with_capacity(floor.runs.len());
        for (number, run) in (1..).zip(&floor.runs) {
            let mut panels = Vec::with_capacity(run.panels.len());
            for (order, &at) in (1..).zip(&run.panels) {
                let ends = from_to(&at_node[at]).zip(from_to(&at_console[at]));
                let Some((node, console)) = ends else {
                    continue;
                };
                panels.push(row(floor, order, &floor.panels[at], node, console));
            }
            let node = run.node.map(|node| &floor.nodes[node]);
            runs.push(RunSheet {
                run: number,
                node: node.map(|node| node.name.clone()),
                node_address: node.map(|node| node.address.to_string()),
                port: run.port,
                packing: packing_word(run.packing),
                console_differs: panels.iter().any(PanelRow::console_differs),
                pixels: panels.iter().map(|panel| panel.pixels).sum(),
                slots: panels.iter().map(|panel| panel.slots).sum(),
                panels,
            });
        }
        Self {
            name: floor.name.clone(),
            panels: floor.panels.len(),
            pixels: runs.iter().map(|run| run.pixels).sum(),
            slots: runs.iter().map(|run| run.slots).sum(),
            runs,
            cautions: CAUTIONS.map(str::to_owned).to_vec(),
        }
    }
}

impl RunSheet {
    /// Where it hangs, for people.
    pub(super) fn title(&self) -> String {
        let node = match (&self.node, &self.node_address) {
            (Some(node), Some(address)) => format!("{node} ({address})"),
            _ => "only watched, no node".to_owned(),
        };
        let port = self.port.map(|port| format!(" port {port}"));
        format!("Run {}: {node}{}", self.run, port.unwrap_or_default())
    }
}

impl PanelRow {
    pub(super) fn console_differs(&self) -> bool {
        self.at_node != self.at_console
    }

    /// How it lies: nothing, `90°`, `mirrored` or both.
    pub(super) fn lies(&self) -> String {
        lies(self.turn_deg, self.mirrored)
    }
}

/// How a panel lies, in short; empty when it lies as its kind is drawn.
pub(super) fn lies(turn_deg: u16, mirrored: bool) -> String {
    match (turn_deg, mirrored) {
        (0, false) => String::new(),
        (0, true) => "mirrored".to_owned(),
        (turn, false) => format!("{turn}°"),
        (turn, true) => format!("mir. {turn}°"),
    }
}

/// As the floor file writes it.
pub(super) fn packing_word(packing: Packing) -> &'static str {
    let mut words = Packing::ALL.iter();
    words
        .find(|(_, of)| *of == packing)
        .map_or("", |(word, _)| word)
}

fn from_to(spans: &[SlotSpan]) -> Option<FromTo> {
    let (first, last) = (spans.first()?, spans.last()?);
    Some(FromTo {
        first: Place {
            port_address: first.port_address,
            slot: first.first_slot,
        },
        last: Place {
            port_address: last.port_address,
            slot: last.last_slot,
        },
    })
}

fn row(
    floor: &Floor,
    order: usize,
    panel: &Panel,
    at_node: FromTo,
    at_console: FromTo,
) -> PanelRow {
    let kind = &floor.panel_kinds[panel.kind];
    let pixels = kind.pixels_mm.len() as u64;
    PanelRow {
        order,
        position: panel.position.to_string(),
        serial: panel.serial.clone(),
        kind: kind.name.clone(),
        turn_deg: panel.turn_deg,
        mirrored: panel.mirrored,
        spare_slots: panel.lead.spare_slots,
        unused_pixels: panel.lead.unused_pixels,
        at_node,
        at_console,
        pixels,
        slots: pixels * floor.pixel_kinds[kind.pixel_kind].slots.len() as u64,
        feed: floor.feeds[panel.feed].name.clone(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::floor::testing;

    /// Counted by hand from the picture at the head of `floor/testing.rs`.
    #[test]
    fn rows_say_what_was_counted_by_hand() {
        let sheet = Sheet::of(&testing::floor());
        assert_eq!((sheet.panels, sheet.pixels, sheet.slots), (3, 10, 40));
        let ends = |run: usize, panel: usize| {
            let row = &sheet.runs[run].panels[panel];
            let at = row.at_node;
            (
                row.position.clone(),
                at.first.to_string(),
                at.last.to_string(),
            )
        };
        let told = |position: &str, first: &str, last: &str| {
            (position.to_owned(), first.to_owned(), last.to_owned())
        };
        assert_eq!(ends(0, 0), told("A1", "0:0:1/1", "0:0:1/12"));
        assert_eq!(ends(0, 1), told("B1", "0:0:1/13", "0:0:1/24"));
        assert_eq!(ends(1, 0), told("A2", "0:0:2/501", "0:0:3/4"));
        assert!(sheet.runs.iter().all(|run| !run.console_differs));
    }

    #[test]
    fn the_flat_number_is_that_of_the_specification() {
        // Art-Net 4: `0:1:2` is 0x0012 = 18.
        let place = Place {
            port_address: "0:1:2".parse().unwrap(),
            slot: 121,
        };
        assert_eq!(
            (place.to_string(), place.flat()),
            ("0:1:2/121".to_owned(), "18/121".to_owned())
        );
    }
}
