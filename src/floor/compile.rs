//! From the floor to the flat tables of the frame path.

use std::collections::{BTreeMap, HashMap};

use super::model::{Byte, Floor, PixelKind};
use super::stretch::{Follower, Stretch};
use super::tables::{
    InUniverse, OutUniverse, PanelRow, Part, Pattern, Tables, UNIVERSE_SLOTS, Unused,
};
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
                    room: room_of_one(kind),
                })
                .collect(),
            ..Self::default()
        };
        let mut pixels_mm = Vec::new();
        for index in 0..floor.panels.len() {
            let first_pixel = narrow(pixels_mm.len());
            tables.panels.push(row(floor, index, first_pixel));
            pixels_mm.extend(
                floor
                    .panel_pixels_mm(index)
                    .map(|[x, y]| [single(x), single(y)]),
            );
        }
        tables.pixels_mm = pixels_mm.into();
        let by_output = parts(floor, &tables.panels);
        let mut arriving: Vec<PortAddress> = by_output
            .values()
            .flat_map(|laid| &laid.parts)
            .map(|(source, _)| *source)
            .collect();
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
        for (output, ((node, port_address), laid)) in by_output.into_iter().enumerate() {
            let mut parts = Vec::with_capacity(laid.parts.len());
            for (source, mut part) in laid.parts {
                let i = place[&source];
                let universe = &mut tables.universes[i];
                // Until now `src` was the slot within its universe.
                let last = part.src + u32::from(part.len);
                universe.slots = universe.slots.max(u16::try_from(last).unwrap_or(u16::MAX));
                if universe.outputs.last() != Some(&narrow(output)) {
                    universe.outputs.push(narrow(output));
                }
                part.src += narrow(i * UNIVERSE_SLOTS);
                parts.push(part);
            }
            parts.sort_unstable_by_key(|part| part.dst);
            let mut unused = laid.unused;
            unused.sort_unstable_by_key(|unused| unused.dst);
            let ends = parts.iter().map(|part| part.dst + part.len);
            let dark_ends = unused.iter().map(|unused| unused.dst + unused.len);
            let highest = ends.chain(dark_ends).max().unwrap_or(0);
            let slots = (highest + highest % 2).max(2);
            tables.outputs.push(OutUniverse {
                node,
                port_address,
                slots,
                parts,
                unused,
            });
        }
        for universe in &mut tables.universes {
            universe.outputs.sort_unstable();
            universe.outputs.dedup();
        }
        tables
    }
}

/// A node and a Port-Address of it.
type Output = (Option<u32>, PortAddress);

/// What lies in one output.
#[derive(Default)]
struct Laid {
    /// Each with the universe where it arrives; `src` is still the slot within that.
    parts: Vec<(PortAddress, Part)>,
    unused: Vec<Unused>,
}

/// The address of a universe; the checks have refused runs past the last one.
fn address(universe: u32) -> Option<PortAddress> {
    u16::try_from(universe).ok().and_then(PortAddress::new)
}

/// Stretches by output.
fn parts(floor: &Floor, rows: &[PanelRow]) -> BTreeMap<Output, Laid> {
    let mut by_output: BTreeMap<Output, Laid> = BTreeMap::new();
    for run in &floor.runs {
        let node = run.node.map(narrow);
        let mut follower = Follower::new(run);
        for &panel in &run.panels {
            let kind = &floor.panel_kinds[floor.panels[panel].kind];
            let slots = floor.pixel_kinds[kind.pixel_kind].slots.len();
            let pixels = narrow(kind.pixels_mm.len());
            #[expect(
                clippy::cast_possible_truncation,
                reason = "see `Floor`: checked when read"
            )]
            let pattern = kind.pixel_kind as u16;
            let mut dark: Vec<Stretch> = Vec::new();
            let lead = floor.panels[panel].lead;
            let unused = |stretch| dark.push(stretch);
            follower.lay(lead, pixels, slots, unused, |both| {
                let (Some(at_node), Some(source)) =
                    (address(both.node.universe), address(both.source_universe))
                else {
                    return;
                };
                let part = Part {
                    panel: narrow(panel),
                    pattern,
                    phase: both.node.phase,
                    dst: both.node.first,
                    len: both.node.len,
                    src: u32::from(both.source_first),
                    first_pixel: rows[panel].first_pixel + both.node.pixel,
                };
                let laid = by_output.entry((node, at_node)).or_default();
                laid.parts.push((source, part));
            });
            for stretch in dark {
                let Some(at_node) = address(stretch.universe) else {
                    continue;
                };
                let laid = by_output.entry((node, at_node)).or_default();
                laid.unused.push(Unused {
                    panel: narrow(panel),
                    pattern,
                    phase: stretch.phase,
                    dst: stretch.first,
                    len: stretch.len,
                });
            }
        }
    }
    by_output
}

/// What the colours of one pixel draw at full.
fn full_of_one(kind: &PixelKind) -> Draw {
    let slots = kind.slots.iter();
    Draw(slots.map(|slot| slot.parts_per_step() * 255).sum())
}

/// What its kind's limit leaves them, if that is less.
fn room_of_one(kind: &PixelKind) -> Option<Draw> {
    let room = Draw::from_ua(u64::from(kind.limit_ua?.saturating_sub(kind.idle_ua)));
    (room < full_of_one(kind)).then_some(room)
}

fn row(floor: &Floor, index: usize, first_pixel: u32) -> PanelRow {
    let panel = &floor.panels[index];
    let kind = &floor.panel_kinds[panel.kind];
    let pixel = &floor.pixel_kinds[kind.pixel_kind];
    let pixels = narrow(kind.pixels_mm.len());
    let full_of_one = room_of_one(pixel).unwrap_or_else(|| full_of_one(pixel)).0;
    PanelRow {
        first_pixel,
        pixels,
        feed: narrow(panel.feed),
        // Unused pixels before it hang on its wires: dark, but not without current.
        idle: Draw::from_ua(
            u64::from(pixel.idle_ua) * (u64::from(pixels) + u64::from(panel.lead.unused_pixels)),
        ),
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
