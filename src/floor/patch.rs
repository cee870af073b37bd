//! Where things lie: panels and pixels on the floor, slots in universes, both ways.

use super::model::{Floor, Panel, Position};
use super::stretch::Cursor;
use super::tables::Tables;
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
    /// order, with the panel's turn.
    pub fn panel_pixels_mm(&self, panel: usize) -> impl Iterator<Item = [f64; 2]> {
        let (left, top, width, height) = self.panel_rect_mm(panel);
        let Panel { kind, turn_deg, .. } = self.panels[panel];
        let turned = move |[x, y]: [f64; 2]| match turn_deg {
            90 => [height - y, x],
            180 => [width - x, height - y],
            270 => [y, width - x],
            _ => [x, y],
        };
        let pixels = self.panel_kinds[kind].pixels_mm.iter();
        pixels
            .map(move |pixel| turned(*pixel))
            .map(move |[x, y]| [left + x, top + y])
    }

    /// The slots of one panel. For all of them at once [`Floor::all_spans`] is quicker.
    pub fn spans(&self, panel: usize) -> Vec<SlotSpan> {
        let mut spans = Vec::new();
        self.follow(self.panels[panel].run, |at, span| {
            if at == panel {
                spans.push(span);
            }
        });
        spans
    }

    /// The slots of every panel, in the order of [`Floor::panels`].
    pub fn all_spans(&self) -> Vec<Vec<SlotSpan>> {
        let mut spans = vec![Vec::new(); self.panels.len()];
        for run in 0..self.runs.len() {
            self.follow(run, |panel, span| spans[panel].push(span));
        }
        spans
    }

    fn follow(&self, run: usize, mut each: impl FnMut(usize, SlotSpan)) {
        let run = &self.runs[run];
        let mut cursor = Cursor::new(run.start.number(), run.slot, run.straddle);
        for panel in &run.panels {
            let kind = &self.panel_kinds[self.panels[*panel].kind];
            let slots = self.pixel_kinds[kind.pixel_kind].slots.len();
            let pixels = u32::try_from(kind.pixels_mm.len()).unwrap_or(u32::MAX);
            cursor.lay(pixels, slots, |stretch| {
                let address = u16::try_from(stretch.universe)
                    .ok()
                    .and_then(PortAddress::new);
                let Some(port_address) = address else { return };
                let (first_slot, last_slot) = (stretch.first + 1, stretch.first + stretch.len);
                each(
                    *panel,
                    SlotSpan {
                        port_address,
                        first_slot,
                        last_slot,
                    },
                );
            });
        }
    }
}

impl Tables {
    /// What a slot of a universe that leaves drives; nothing where it drives nothing.
    pub fn pixel_at(&self, place: SlotPlace) -> Option<PixelSlot> {
        let parts = &self.outputs.get(place.output as usize)?.parts;
        let part = &parts[parts
            .partition_point(|part| part.dst <= place.slot)
            .checked_sub(1)?];
        let offset = place.slot - part.dst;
        if offset >= part.len {
            return None;
        }
        let per_pixel = self.slots_per_pixel(part.pattern);
        let slot = part.phase + offset;
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
