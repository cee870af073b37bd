//! A slot that lights nothing: what comes before and after it.

use std::io::{self, Write};

use serde::Serialize;

use super::super::sheet::Place;
use crate::floor::SlotSpan;
use crate::floor::model::Floor;

/// Where a slot lies that lights nothing.
#[derive(Debug, PartialEq, Serialize)]
pub(super) struct Around {
    /// Whether anything at all lies in its universe.
    universe_is_used: bool,
    before: Option<Near>,
    after: Option<Near>,
}

/// The panel next to it on one side.
#[derive(Debug, PartialEq, Serialize)]
struct Near {
    position: String,
    serial: String,
    run: usize,
    node: Option<String>,
    port: Option<u16>,
    /// Its last slot if it comes before, its first if it comes after.
    place: Place,
    /// How many slots away: 1 for the next one.
    slots_away: u32,
}

impl Around {
    /// `spans` are those of all panels, at the side that is asked.
    pub(super) fn of(floor: &Floor, asked: Place, spans: &[Vec<SlotSpan>]) -> Self {
        let here = flat(asked);
        let mut around = Self {
            universe_is_used: false,
            before: None,
            after: None,
        };
        let (mut nearest_before, mut nearest_after) = (u32::MAX, u32::MAX);
        for (panel, spans) in spans.iter().enumerate() {
            for span in spans {
                around.universe_is_used |= span.port_address == asked.port_address;
                let place = |slot| Place {
                    port_address: span.port_address,
                    slot,
                };
                let (first, last) = (place(span.first_slot), place(span.last_slot));
                if flat(last) < here && here - flat(last) < nearest_before {
                    nearest_before = here - flat(last);
                    around.before = Some(near(floor, panel, last, nearest_before));
                }
                if flat(first) > here && flat(first) - here < nearest_after {
                    nearest_after = flat(first) - here;
                    around.after = Some(near(floor, panel, first, nearest_after));
                }
            }
        }
        around
    }

    /// For people.
    pub(super) fn write(&self, asked: Place, out: &mut dyn Write) -> io::Result<()> {
        let why = match (&self.before, &self.after) {
            (Some(before), Some(after)) if before.run == after.run => format!(
                "it is passed within run {}: spare slots, unused pixels, or the rest of a universe",
                before.run
            ),
            _ if self.universe_is_used => "its universe is in the patch, this slot is not".into(),
            _ => format!(
                "nothing in the floor file lies in universe {}",
                asked.port_address
            ),
        };
        writeln!(out, "  lights nothing: {why}")?;
        for (word, verb, near) in [
            ("before", "ends at", &self.before),
            ("after", "begins at", &self.after),
        ] {
            let Some(near) = near else {
                writeln!(out, "  {word:<8} nothing")?;
                continue;
            };
            let serial = if near.serial.is_empty() {
                String::new()
            } else {
                format!(" (serial {})", near.serial)
            };
            let node = near.node.as_ref().map(|node| format!(", {node}"));
            let port = near.port.map(|port| format!(" port {port}"));
            writeln!(
                out,
                "  {word:<8} {}{serial} of run {}{}{} {verb} {} ({}), {} away",
                near.position,
                near.run,
                node.unwrap_or_default(),
                port.unwrap_or_default(),
                near.place,
                near.place.flat(),
                super::super::super::summary::counted(u64::from(near.slots_away), "slot"),
            )?;
        }
        Ok(())
    }
}

/// All slots of all universes in one row.
fn flat(place: Place) -> u32 {
    u32::from(place.port_address.number()) * 512 + u32::from(place.slot)
}

fn near(floor: &Floor, panel: usize, place: Place, slots_away: u32) -> Near {
    let panel = &floor.panels[panel];
    let run = &floor.runs[panel.run];
    Near {
        position: panel.position.to_string(),
        serial: panel.serial.clone(),
        run: panel.run + 1,
        node: run.node.map(|node| floor.nodes[node].name.clone()),
        port: run.port,
        place,
        slots_away,
    }
}
