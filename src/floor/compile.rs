//! From the floor to the flat tables of the frame path.

use std::collections::{BTreeMap, HashMap};

use super::model::{Byte, Floor};
use super::stretch::Cursor;
use super::tables::{InUniverse, OutUniverse, PanelRow, Part, Pattern, Tables, UNIVERSE_SLOTS};
use crate::units::Draw;
use crate::wire::PortAddress;

impl Tables {
    /// Compiles a floor.
    pub fn compile(floor: &Floor) -> Self {
        let mut tables = Self {
            patterns: floor
                .pixel_kinds
                .iter()
                .map(|kind| Pattern {
                    whole: kind.slots.iter().all(|slot| slot.byte == Byte::Whole),
                    slots: kind.slots.clone(),
                })
                .collect(),
            ..Self::default()
        };
        for index in 0..floor.panels.len() {
            let first_pixel = narrow(tables.pixels_mm.len());
            tables.panels.push(row(floor, index, first_pixel));
            tables.pixels_mm.extend(
                floor
                    .panel_pixels_mm(index)
                    .map(|[x, y]| [single(x), single(y)]),
            );
        }
        let by_output = parts(floor, &tables.panels);
        let mut arriving: Vec<PortAddress> =
            by_output.keys().map(|(_, address)| *address).collect();
        arriving.sort_unstable();
        arriving.dedup();
        tables.universes = arriving
            .iter()
            .map(|address| InUniverse {
                port_address: *address,
                slots: 0,
                outputs: Vec::new(),
            })
            .collect();
        let place: HashMap<PortAddress, usize> = arriving
            .into_iter()
            .enumerate()
            .map(|(i, address)| (address, i))
            .collect();
        for (output, ((node, port_address), mut parts)) in by_output.into_iter().enumerate() {
            let i = place[&port_address];
            parts.sort_unstable_by_key(|part| part.dst);
            for part in &mut parts {
                part.src = narrow(i * UNIVERSE_SLOTS) + u32::from(part.dst);
            }
            let highest = parts
                .iter()
                .map(|part| part.dst + part.len)
                .max()
                .unwrap_or(0);
            let universe = &mut tables.universes[i];
            universe.slots = universe.slots.max(highest);
            universe.outputs.push(narrow(output));
            let slots = (highest + highest % 2).max(2);
            tables.outputs.push(OutUniverse {
                node,
                port_address,
                slots,
                parts,
            });
        }
        tables
    }
}

/// Stretches by node and Port-Address, with the place of arrival still open.
fn parts(floor: &Floor, rows: &[PanelRow]) -> BTreeMap<(Option<u32>, PortAddress), Vec<Part>> {
    let mut by_output: BTreeMap<_, Vec<Part>> = BTreeMap::new();
    for run in &floor.runs {
        let node = run.node.map(narrow);
        let mut cursor = Cursor::new(run.start.number(), run.slot, run.straddle);
        for panel in &run.panels {
            let kind = &floor.panel_kinds[floor.panels[*panel].kind];
            let slots = floor.pixel_kinds[kind.pixel_kind].slots.len();
            cursor.lay(narrow(kind.pixels_mm.len()), slots, |stretch| {
                // The checks have refused runs past the last universe.
                let address = u16::try_from(stretch.universe)
                    .ok()
                    .and_then(PortAddress::new);
                let Some(address) = address else { return };
                by_output.entry((node, address)).or_default().push(Part {
                    panel: narrow(*panel),
                    #[expect(
                        clippy::cast_possible_truncation,
                        reason = "see `Floor`: checked when read"
                    )]
                    pattern: kind.pixel_kind as u16,
                    phase: stretch.phase,
                    dst: stretch.first,
                    len: stretch.len,
                    src: 0,
                    first_pixel: rows[*panel].first_pixel + stretch.pixel,
                });
            });
        }
    }
    by_output
}

fn row(floor: &Floor, index: usize, first_pixel: u32) -> PanelRow {
    let panel = &floor.panels[index];
    let kind = &floor.panel_kinds[panel.kind];
    let pixel = &floor.pixel_kinds[kind.pixel_kind];
    let pixels = narrow(kind.pixels_mm.len());
    let full_of_one: u64 = pixel
        .slots
        .iter()
        .map(|slot| slot.parts_per_step() * 255)
        .sum();
    PanelRow {
        first_pixel,
        pixels,
        feed: narrow(panel.feed),
        idle: Draw::from_ua(u64::from(pixel.idle_ua) * u64::from(pixels)),
        full: Draw(full_of_one * u64::from(pixels)),
        segments: kind.segments.clone(),
    }
}

/// Counts of things on one floor, which the checks keep far below 2^32.
#[expect(clippy::cast_possible_truncation, reason = "said above")]
fn narrow(count: usize) -> u32 {
    count as u32
}

/// Millimetres for drawing.
#[expect(
    clippy::cast_possible_truncation,
    reason = "for drawing, 24 bits are enough"
)]
fn single(mm: f64) -> f32 {
    mm as f32
}
