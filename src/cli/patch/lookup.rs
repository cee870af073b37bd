//! The patch asked one way: what does a slot light?

mod near;
mod pixels;

use std::io::{self, Write};

use serde::Serialize;

use super::question::AskedSlot;
use super::sheet::{Place, lies};
use crate::floor::model::{Byte, Floor, SlotRole};
use crate::floor::{PixelSlot, SlotPlace, SlotSpan, Tables};

use near::Around;
pub(super) use pixels::Drivers;

/// What one slot lights, as the console counts and as the nodes do.
#[derive(Debug, Serialize)]
pub(super) struct Slot {
    asked: Place,
    /// Whether both sides say the same.
    sides_agree: bool,
    /// What lights when the console raises this slot.
    at_console: Side,
    /// What a node lights by this slot of its own.
    at_node: Side,
}

#[derive(Debug, PartialEq, Serialize)]
struct Side {
    lights: Vec<Lit>,
    /// Where it lies when it lights nothing.
    around: Option<Around>,
}

/// One pixel that is lit.
#[derive(Debug, PartialEq, Serialize)]
struct Lit {
    position: String,
    serial: String,
    kind: String,
    turn_deg: u16,
    mirrored: bool,
    run: usize,
    /// Place of the panel in its run, from 1.
    order: usize,
    node: Option<String>,
    node_address: Option<String>,
    port: Option<u16>,
    /// From 1, in wiring order.
    pixel: usize,
    pixels: usize,
    /// From 1, in wiring order.
    segment: usize,
    segments: usize,
    colour: &'static str,
    part: &'static str,
    /// From the panel's upper left corner as it lies, x to the right, y down.
    on_panel_mm: [f64; 2],
    at_node: Place,
    at_console: Place,
}

impl Slot {
    /// Looks it up.
    pub(super) fn of(floor: &Floor, AskedSlot(asked): AskedSlot) -> Self {
        let tables = Tables::compile(floor);
        let slot = asked.slot - 1;
        let outputs = (0_u32..).zip(&tables.outputs);
        let at_node: Vec<SlotPlace> = outputs
            .filter(|(_, universe)| universe.port_address == asked.port_address)
            .map(|(output, _)| SlotPlace { output, slot })
            .collect();
        let at_console = tables
            .universes
            .binary_search_by_key(&asked.port_address, |universe| universe.port_address)
            .map(|universe| tables.places_from(universe, slot))
            .unwrap_or_default();
        let side = |places: Vec<SlotPlace>, spans: &dyn Fn() -> Vec<Vec<SlotSpan>>| {
            let lights: Vec<Lit> = places
                .into_iter()
                .filter_map(|place| Lit::of(floor, &tables, place))
                .collect();
            let around = lights
                .is_empty()
                .then(|| Around::of(floor, asked, &spans()));
            Side { lights, around }
        };
        let at_console = side(at_console, &|| floor.all_source_spans());
        let at_node = side(at_node, &|| floor.all_spans());
        Self {
            asked,
            sides_agree: at_console == at_node,
            at_console,
            at_node,
        }
    }

    /// For people.
    pub(super) fn write(&self, out: &mut dyn Write) -> io::Result<()> {
        let Place { port_address, slot } = self.asked;
        writeln!(
            out,
            "Universe {port_address} ({} counted from 0), slot {slot}",
            port_address.number()
        )?;
        if self.sides_agree {
            return self.at_node.write(self.asked, out);
        }
        writeln!(out, "\nSent by the console, it means:")?;
        self.at_console.write(self.asked, out)?;
        writeln!(out, "\nAt a node, it means:")?;
        self.at_node.write(self.asked, out)
    }
}

impl Side {
    fn write(&self, asked: Place, out: &mut dyn Write) -> io::Result<()> {
        if let Some(around) = &self.around {
            return around.write(asked, out);
        }
        for lit in &self.lights {
            lit.write(out)?;
        }
        Ok(())
    }
}

impl Lit {
    fn of(floor: &Floor, tables: &Tables, place: SlotPlace) -> Option<Self> {
        let PixelSlot { panel, pixel, role } = tables.pixel_at(place)?;
        let at = panel as usize;
        let row = tables.panels.get(at)?;
        let pixel = (pixel - row.first_pixel) as usize;
        let panel = &floor.panels[at];
        let kind = &floor.panel_kinds[panel.kind];
        let role = floor.pixel_kinds[kind.pixel_kind]
            .slots
            .get(usize::from(role))?;
        let run = &floor.runs[panel.run];
        let node = run.node.map(|node| &floor.nodes[node]);
        Some(Self {
            position: panel.position.to_string(),
            serial: panel.serial.clone(),
            kind: kind.name.clone(),
            turn_deg: panel.turn_deg,
            mirrored: panel.mirrored,
            run: panel.run + 1,
            order: run.panels.iter().position(|&other| other == at)? + 1,
            node: node.map(|node| node.name.clone()),
            node_address: node.map(|node| node.address.to_string()),
            port: run.port,
            pixel: pixel + 1,
            pixels: kind.pixels_mm.len(),
            segment: segment(&kind.segments, pixel),
            segments: kind.segments.len(),
            colour: role.colour.name(),
            part: part(*role),
            on_panel_mm: on_panel_mm(floor, at, pixel)?,
            at_node: node_place(tables, place)?,
            at_console: console_place(tables, place)?,
        })
    }

    fn write(&self, out: &mut dyn Write) -> io::Result<()> {
        let serial = if self.serial.is_empty() {
            String::new()
        } else {
            format!(", serial {}", self.serial)
        };
        let lies = match lies(self.turn_deg, self.mirrored) {
            lies if lies.is_empty() => String::new(),
            lies => format!(", lies {lies}"),
        };
        let part = match self.part {
            "whole" => String::new(),
            part => format!(", {part} half"),
        };
        writeln!(
            out,
            "  panel    {}{serial}, {}{lies}",
            self.position, self.kind
        )?;
        writeln!(
            out,
            "  pixel    {} of {} in wiring order, segment {} of {}",
            self.pixel, self.pixels, self.segment, self.segments
        )?;
        writeln!(out, "  colour   {}{part}", self.colour)?;
        let [x, y] = self.on_panel_mm;
        writeln!(
            out,
            "  where    {x:.0} mm from its left edge, {y:.0} mm from its upper edge, as it lies"
        )?;
        let port = self.port.map(|port| format!(" port {port}"));
        let port = port.unwrap_or_default();
        let node = match (&self.node, &self.node_address) {
            (Some(node), Some(address)) => format!("{node} ({address}){port}, "),
            _ => "no node, only watched, ".to_owned(),
        };
        writeln!(
            out,
            "  wired    {node}run {}, panel {} of it",
            self.run, self.order
        )?;
        writeln!(
            out,
            "  slot     at the node {} ({}), from the console {} ({})",
            self.at_node,
            self.at_node.flat(),
            self.at_console,
            self.at_console.flat()
        )
    }
}

/// Which segment a pixel lies in, from 1.
fn segment(segments: &[u32], pixel: usize) -> usize {
    let mut before = 0;
    let passed = segments.iter().take_while(|pixels| {
        before += **pixels as usize;
        before <= pixel
    });
    passed.count() + 1
}

/// Which part of the level a slot carries.
fn part(role: SlotRole) -> &'static str {
    match role.byte {
        Byte::Whole => "whole",
        Byte::Coarse { .. } => "coarse",
        Byte::Fine { .. } => "fine",
    }
}

/// From the panel's upper left corner as it lies.
fn on_panel_mm(floor: &Floor, panel: usize, pixel: usize) -> Option<[f64; 2]> {
    let (left, top, ..) = floor.panel_rect_mm(panel);
    let [x, y] = floor.panel_pixels_mm(panel).nth(pixel)?;
    // To a thousandth of a millimetre, so that no rounding error of a sum is printed.
    let tidy = |mm: f64| (mm * 1000.0).round() / 1000.0;
    Some([tidy(x - left), tidy(y - top)])
}

fn node_place(tables: &Tables, place: SlotPlace) -> Option<Place> {
    Some(Place {
        port_address: tables.outputs.get(place.output as usize)?.port_address,
        slot: place.slot + 1,
    })
}

fn console_place(tables: &Tables, place: SlotPlace) -> Option<Place> {
    let (universe, slot) = tables.source_of(place)?;
    Some(Place {
        port_address: tables.universes.get(universe)?.port_address,
        slot: slot + 1,
    })
}

#[cfg(test)]
mod tests;
