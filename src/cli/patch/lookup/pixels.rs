//! The patch asked the other way: who drives a pixel, or all pixels of a panel?

use std::io::{self, Write};

use serde::Serialize;

use super::super::question::AskedPixel;
use super::super::sheet::{Place, lies};
use super::{console_place, node_place, on_panel_mm, part, segment};
use crate::floor::Tables;
use crate::floor::model::{Floor, Position};

/// Serials that are named when none fits.
const MOST_NAMED: usize = 8;

/// The pixels that were asked for, and who drives them.
#[derive(Debug, Serialize)]
pub(in super::super) struct Drivers {
    position: String,
    serial: String,
    kind: String,
    turn_deg: u16,
    mirrored: bool,
    /// Width and height of the panel's place.
    panel_mm: [f64; 2],
    run: usize,
    node: Option<String>,
    node_address: Option<String>,
    port: Option<u16>,
    /// Of the whole panel.
    pixels: usize,
    /// What else the name could mean.
    note: Option<String>,
    asked: Vec<PixelRow>,
}

#[derive(Debug, Serialize)]
struct PixelRow {
    /// From 1, in wiring order.
    pixel: usize,
    /// From 1, in wiring order.
    segment: usize,
    /// From the panel's upper left corner as it lies, x to the right, y down.
    on_panel_mm: [f64; 2],
    /// In wire order.
    slots: Vec<Driver>,
}

/// One slot that drives it.
#[derive(Debug, Serialize)]
struct Driver {
    colour: &'static str,
    part: &'static str,
    at_node: Place,
    at_console: Place,
}

impl Drivers {
    /// Looks them up.
    ///
    /// # Errors
    /// Says what is known when the panel or the pixel is not.
    pub(in super::super) fn of(floor: &Floor, asked: &AskedPixel) -> Result<Self, String> {
        let (at, note) = panel(floor, &asked.panel)?;
        let tables = Tables::compile(floor);
        let panel = &floor.panels[at];
        let kind = &floor.panel_kinds[panel.kind];
        let pixels = kind.pixels_mm.len();
        let wanted = match asked.pixel {
            Some(pixel) if pixel > pixels => {
                return Err(format!(
                    "{} has no pixel {pixel}: its kind {} has {pixels}, counted from 1 in wiring \
                     order",
                    panel.position, kind.name
                ));
            }
            Some(pixel) => pixel - 1..pixel,
            None => 0..pixels,
        };
        let roles = &floor.pixel_kinds[kind.pixel_kind].slots;
        let first = tables.panels[at].first_pixel;
        let driven = |pixel: usize| {
            let places = u32::try_from(pixel).map(|pixel| tables.slots_of(first + pixel));
            let drivers = roles.iter().zip(places.unwrap_or_default());
            drivers
                .filter_map(|(role, place)| {
                    Some(Driver {
                        colour: role.colour.name(),
                        part: part(*role),
                        at_node: node_place(&tables, place)?,
                        at_console: console_place(&tables, place)?,
                    })
                })
                .collect()
        };
        let (_, _, width, height) = floor.panel_rect_mm(at);
        let run = &floor.runs[panel.run];
        let node = run.node.map(|node| &floor.nodes[node]);
        Ok(Self {
            position: panel.position.to_string(),
            serial: panel.serial.clone(),
            kind: kind.name.clone(),
            turn_deg: panel.turn_deg,
            mirrored: panel.mirrored,
            panel_mm: [width, height],
            run: panel.run + 1,
            node: node.map(|node| node.name.clone()),
            node_address: node.map(|node| node.address.to_string()),
            port: run.port,
            pixels,
            note,
            asked: wanted
                .filter_map(|pixel| {
                    Some(PixelRow {
                        pixel: pixel + 1,
                        segment: segment(&kind.segments, pixel),
                        on_panel_mm: on_panel_mm(floor, at, pixel)?,
                        slots: driven(pixel),
                    })
                })
                .collect(),
        })
    }

    /// For people.
    pub(in super::super) fn write(&self, out: &mut dyn Write) -> io::Result<()> {
        let serial = if self.serial.is_empty() {
            String::new()
        } else {
            format!(", serial {}", self.serial)
        };
        let lies = match lies(self.turn_deg, self.mirrored) {
            lies if lies.is_empty() => String::new(),
            lies => format!(", lies {lies}"),
        };
        let port = self.port.map(|port| format!(" port {port}"));
        let wired = match (&self.node, &self.node_address) {
            (Some(node), Some(address)) => {
                format!("{node} ({address}){}, ", port.unwrap_or_default())
            }
            _ => String::new(),
        };
        writeln!(
            out,
            "Panel {}{serial}, {}{lies}: {wired}run {}",
            self.position, self.kind, self.run
        )?;
        if let Some(note) = &self.note {
            writeln!(out, "Note: {note}.")?;
        }
        for pixel in &self.asked {
            let [x, y] = pixel.on_panel_mm;
            writeln!(
                out,
                "Pixel {} of {}, segment {}, {x:.0} mm from the left edge, {y:.0} mm from the \
                 upper edge",
                pixel.pixel, self.pixels, pixel.segment
            )?;
            for driver in &pixel.slots {
                let colour = match driver.part {
                    "whole" => driver.colour.to_owned(),
                    part => format!("{} {part}", driver.colour),
                };
                let (node, console) = (driver.at_node, driver.at_console);
                write!(out, "  {colour:<12} ")?;
                if node == console {
                    writeln!(out, "{node} ({})", node.flat())?;
                } else {
                    writeln!(
                        out,
                        "at the node {node} ({}), from the console {console} ({})",
                        node.flat(),
                        console.flat()
                    )?;
                }
            }
        }
        Ok(())
    }
}

/// The panel in a position or with a serial, and what else the name means.
fn panel(floor: &Floor, name: &str) -> Result<(usize, Option<String>), String> {
    let by_serial = floor.panels.iter().position(|panel| {
        !panel.serial.is_empty() && panel.serial.to_lowercase() == name.to_lowercase()
    });
    let position: Option<Position> = name.parse().ok();
    let by_position = position.and_then(|position| floor.panel_at(position));
    match (by_position, by_serial) {
        (Some(at), Some(other)) if at != other => {
            let note = format!(
                "{name} is read as a position; it is also the serial of the panel in {}",
                floor.panels[other].position
            );
            Ok((at, Some(note)))
        }
        (Some(at), _) | (None, Some(at)) => Ok((at, None)),
        (None, None) => Err(unknown(floor, name, position)),
    }
}

fn unknown(floor: &Floor, name: &str, position: Option<Position>) -> String {
    let grid = &floor.grid;
    let last = Position {
        row: grid.rows.saturating_sub(1),
        column: grid.columns.saturating_sub(1),
    };
    let inside = position.is_some_and(|p| p.row < grid.rows && p.column < grid.columns);
    let why = if inside {
        format!("nothing lies in {name}")
    } else {
        format!("no panel is called {name}")
    };
    let mut serials: Vec<&str> = floor
        .panels
        .iter()
        .map(|panel| panel.serial.as_str())
        .filter(|serial| !serial.is_empty())
        .collect();
    serials.sort_unstable();
    let serials = if serials.is_empty() {
        "the floor file gives no serials".to_owned()
    } else {
        let more = if serials.len() > MOST_NAMED {
            " …"
        } else {
            ""
        };
        serials.truncate(MOST_NAMED);
        format!("serials: {}{more}", serials.join(", "))
    };
    format!("{why}: positions go from A1 to {last}; {serials}")
}
