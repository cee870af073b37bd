//! Where things lie: panels and pixels on the floor, slots in universes, both ways.

use super::model::{Floor, Panel, Position};
use super::stretch::{Both, Follower};
use super::tables::{Part, Tables, UNIVERSE_SLOTS};
use crate::wire::PortAddress;

/// The slots of one panel in one universe, counting from 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SlotSpan {
    /// Which universe.
    pub port_address: PortAddress,
    /// First slot, 1 to 512.
    pub first_slot: u16,
    /// Last slot, 1 to 512.
    pub last_slot: u16,
}

/// One slot of one universe that leaves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct SlotPlace {
    /// Index into [`Tables::outputs`].
    pub output: u32,
    /// From 0, as in the tables.
    pub slot: u16,
}

/// What a slot drives.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct PixelSlot {
    /// Index into [`Tables::panels`].
    pub panel: u32,
    /// The pixel on the whole floor.
    pub pixel: u32,
    /// Which of the pixel's slots, in wire order from 0.
    pub role: u16,
}

impl Floor {
    /// The panel's rectangle in mm from the upper left corner of position A1: x, y, width, height.
    pub fn panel_rect_mm(&self, panel: usize) -> (f64, f64, f64, f64) {
        let Position { row, column } = self.panels[panel].position;
        let [width, height] = self.grid.panel_mm.map(|size| size.0);
        let gap = self.grid.gap_mm.0;
        (
            f64::from(column) * (width + gap),
            f64::from(row) * (height + gap),
            width,
            height,
        )
    }

    /// Width and height of the whole grid in mm.
    pub fn size_mm(&self) -> (f64, f64) {
        let side = |count: u16, size: f64| {
            f64::from(count) * size + f64::from(count.saturating_sub(1)) * self.grid.gap_mm.0
        };
        let [width, height] = self.grid.panel_mm.map(|size| size.0);
        (side(self.grid.columns, width), side(self.grid.rows, height))
    }

    /// The index of the panel in a position; nothing where the floor is empty.
    pub fn panel_at(&self, position: Position) -> Option<usize> {
        self.panels
            .binary_search_by_key(&position, |panel| panel.position)
            .ok()
    }

    /// Centres of a panel's pixels in mm from the upper left corner of position A1, in wiring
    /// order, mirrored and turned as the panel lies.
    pub fn panel_pixels_mm(&self, panel: usize) -> impl Iterator<Item = [f64; 2]> {
        let (left, top, width, height) = self.panel_rect_mm(panel);
        let Panel {
            kind,
            turn_deg,
            mirrored,
            ..
        } = self.panels[panel];
        let laid = move |[x, y]: [f64; 2]| if mirrored { [width - x, y] } else { [x, y] };
        let turned = move |[x, y]: [f64; 2]| match turn_deg {
            90 => [height - y, x],
            180 => [width - x, height - y],
            270 => [y, width - x],
            _ => [x, y],
        };
        let pixels = self.panel_kinds[kind].pixels_mm.iter();
        pixels
            .map(move |pixel| turned(laid(*pixel)))
            .map(move |[x, y]| [left + x, top + y])
    }

    /// The slots of one panel at its node. For all of them at once [`Floor::all_spans`] is
    /// quicker.
    pub fn spans(&self, panel: usize) -> Vec<SlotSpan> {
        let mut spans = Vec::new();
        self.follow(self.panels[panel].run, |at, both| {
            if at == panel {
                join(&mut spans, at_node(&both));
            }
        });
        spans
    }

    /// The slots of every panel at its node, in the order of [`Floor::panels`].
    pub fn all_spans(&self) -> Vec<Vec<SlotSpan>> {
        self.collect_spans(at_node)
    }

    /// The slots of every panel at the console, in the order of [`Floor::panels`].
    pub fn all_source_spans(&self) -> Vec<Vec<SlotSpan>> {
        self.collect_spans(|both| span(both.source_universe, both.source_first, both.node.len))
    }

    fn collect_spans(&self, of: impl Fn(&Both) -> Option<SlotSpan>) -> Vec<Vec<SlotSpan>> {
        let mut all: Vec<Vec<SlotSpan>> = vec![Vec::new(); self.panels.len()];
        for run in 0..self.runs.len() {
            self.follow(run, |panel, both| join(&mut all[panel], of(&both)));
        }
        all
    }

    fn follow(&self, run: usize, mut each: impl FnMut(usize, Both)) {
        let run = &self.runs[run];
        let mut follower = Follower::new(run);
        for &at in &run.panels {
            let panel = &self.panels[at];
            let kind = &self.panel_kinds[panel.kind];
            let slots = self.pixel_kinds[kind.pixel_kind].slots.len();
            let pixels = u32::try_from(kind.pixels_mm.len()).unwrap_or(u32::MAX);
            follower.lay(panel.lead, pixels, slots, |_| {}, |both| each(at, both));
        }
    }
}

/// Adds a span; one that was cut only at the other side goes on.
fn join(spans: &mut Vec<SlotSpan>, span: Option<SlotSpan>) {
    let Some(span) = span else { return };
    match spans.last_mut() {
        Some(last)
            if last.port_address == span.port_address && last.last_slot + 1 == span.first_slot =>
        {
            last.last_slot = span.last_slot;
        }
        _ => spans.push(span),
    }
}

fn at_node(both: &Both) -> Option<SlotSpan> {
    span(both.node.universe, both.node.first, both.node.len)
}

fn span(universe: u32, first: u16, len: u16) -> Option<SlotSpan> {
    Some(SlotSpan {
        port_address: u16::try_from(universe).ok().and_then(PortAddress::new)?,
        first_slot: first + 1,
        last_slot: first + len,
    })
}

impl Tables {
    /// What a slot of a universe that arrives lights, at every output that reads it; slots count
    /// from 0.
    pub fn pixels_from(&self, universe: usize, slot: u16) -> Vec<PixelSlot> {
        let places = self.places_from(universe, slot).into_iter();
        places.filter_map(|place| self.pixel_at(place)).collect()
    }

    /// Where a slot of a universe that arrives leaves again; slots count from 0.
    pub fn places_from(&self, universe: usize, slot: u16) -> Vec<SlotPlace> {
        let (Some(arriving), Ok(first)) = (
            self.universes.get(universe),
            u32::try_from(universe * UNIVERSE_SLOTS),
        ) else {
            return Vec::new();
        };
        let at = first + u32::from(slot);
        let mut places = Vec::new();
        for &output in &arriving.outputs {
            for part in &self.outputs[output as usize].parts {
                if let Some(Ok(offset)) = at.checked_sub(part.src).map(u16::try_from)
                    && offset < part.len
                {
                    places.push(SlotPlace {
                        output,
                        slot: part.dst + offset,
                    });
                }
            }
        }
        places
    }

    /// Where a slot that leaves comes from: an index into [`Tables::universes`] and the slot
    /// there, from 0.
    pub fn source_of(&self, place: SlotPlace) -> Option<(usize, u16)> {
        let part = self.part_at(place)?;
        let at = part.src as usize + usize::from(place.slot - part.dst);
        let slot = u16::try_from(at % UNIVERSE_SLOTS).ok()?;
        Some((at / UNIVERSE_SLOTS, slot))
    }

    fn part_at(&self, place: SlotPlace) -> Option<&Part> {
        let parts = &self.outputs.get(place.output as usize)?.parts;
        let after = parts.partition_point(|part| part.dst <= place.slot);
        let part = &parts[after.checked_sub(1)?];
        (place.slot - part.dst < part.len).then_some(part)
    }

    /// What a slot of a universe that leaves drives; nothing where it drives nothing.
    pub fn pixel_at(&self, place: SlotPlace) -> Option<PixelSlot> {
        let part = self.part_at(place)?;
        let per_pixel = self.slots_per_pixel(part.pattern);
        let slot = part.phase + (place.slot - part.dst);
        Some(PixelSlot {
            panel: part.panel,
            pixel: part.first_pixel + u32::from(slot / per_pixel),
            role: slot % per_pixel,
        })
    }

    /// The slots that drive one pixel, in wire order.
    pub fn slots_of(&self, pixel: u32) -> Vec<SlotPlace> {
        let mut found = Vec::new();
        for (output, universe) in (0_u32..).zip(&self.outputs) {
            for part in &universe.parts {
                let per_pixel = i64::from(self.slots_per_pixel(part.pattern));
                // Where the pixel would begin in this stretch, and what of it lies inside.
                let begin = (i64::from(pixel) - i64::from(part.first_pixel)) * per_pixel
                    - i64::from(part.phase);
                let inside = begin.max(0)..(begin + per_pixel).min(i64::from(part.len));
                found.extend(inside.filter_map(|offset| {
                    let slot = part.dst + u16::try_from(offset).ok()?;
                    Some(SlotPlace { output, slot })
                }));
            }
        }
        found
    }

    #[expect(
        clippy::cast_possible_truncation,
        reason = "a pixel has 8 slots at most"
    )]
    fn slots_per_pixel(&self, pattern: u16) -> u16 {
        self.patterns[usize::from(pattern)].slots.len() as u16
    }
}
