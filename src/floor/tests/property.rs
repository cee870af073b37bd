//! Random floors.

use std::collections::HashMap;

use proptest::prelude::*;

use super::super::model::{
    Byte, Colour, Drive, Feed, Floor, Grid, Lead, Load, NetworkSettings, Packing, Panel, PanelKind,
    PixelKind, Position, Run, SlotRole, Source,
};
use super::super::{PixelSlot, SlotPlace, Tables, defaults};
use crate::units::{Amps, Millimetres, Volts};
use crate::wire::PortAddress;

/// A panel: its pixels, the slots of each, and what comes before it.
type PanelPlan = (usize, usize, Lead);

/// Panels, first slot and packing of a run, and how the console packs it, if in its own way.
type RunPlan = (Vec<PanelPlan>, u16, Packing, Option<(u16, Packing)>);

fn pixel_kind(slots: usize) -> PixelKind {
    let role = |i| SlotRole {
        colour: Colour::ALL[i % 4],
        byte: Byte::Whole,
        full_ua: 1_000,
    };
    PixelKind {
        name: slots.to_string(),
        slots: (0..slots).map(role).collect(),
        volts: Volts(12.0),
        idle_ua: 10,
        limit_ua: None,
        load: Load::Resistive { dark_volts: 0.0 },
        drive: Drive::default(),
    }
}

/// A floor with one row for each run; every run starts in universes of its own.
fn floor(plan: &[RunPlan], nodes: usize) -> Floor {
    let mut floor = Floor {
        name: "random".to_owned(),
        grid: Grid {
            columns: 8,
            rows: 8,
            panel_mm: [Millimetres(100.0); 2],
            gap_mm: Millimetres(0.0),
        },
        pixel_kinds: (1..=8).map(pixel_kind).collect(),
        panel_kinds: Vec::new(),
        panels: Vec::new(),
        nodes: Vec::new(),
        runs: Vec::new(),
        circuits: Vec::new(),
        supplies: Vec::new(),
        feeds: vec![Feed {
            name: "f".to_owned(),
            supply: 0,
            fuse_a: Amps(1.0),
            panels: Vec::new(),
            cable: None,
            link: None,
            far_cable: None,
            peak: None,
            slew_a_per_s: None,
        }],
        sensors: Vec::new(),
        inputs: Vec::new(),
        mqtt: None,
        signal: defaults::SIGNAL,
        delivery: defaults::DELIVERY,
        cap: defaults::CAP,
        plan: defaults::PLAN,
        alarm: defaults::ALARM,
        machine: defaults::MACHINE,
        network: NetworkSettings::default(),
    };
    for (row, (panels, slot, packing, source)) in (0_u16..).zip(plan) {
        let first = floor.panels.len();
        for (column, (pixels, slots, lead)) in (0_u16..).zip(panels) {
            floor.panels.push(Panel {
                position: Position { row, column },
                kind: floor.panel_kinds.len(),
                turn_deg: 0,
                mirrored: false,
                serial: String::new(),
                lead: *lead,
                run: usize::from(row),
                feed: 0,
            });
            floor.panel_kinds.push(PanelKind {
                name: String::new(),
                pixel_kind: slots - 1,
                pixels_mm: vec![[1.0, 1.0]; *pixels],
                segments: vec![u32::try_from(*pixels).unwrap()],
                switches: 0,
                rated_a: None,
                strip: None,
                tail: None,
            });
        }
        floor.runs.push(Run {
            node: Some(usize::from(row) % nodes),
            port: None,
            start: PortAddress::new(row * 100).unwrap(),
            slot: *slot,
            packing: *packing,
            source: source.map(|(slot, packing)| Source {
                start: PortAddress::new(20_000 + row * 100).unwrap(),
                slot,
                packing,
            }),
            panels: (first..floor.panels.len()).rev().collect(),
        });
    }
    floor
}

fn plans() -> impl Strategy<Value = (Vec<RunPlan>, usize)> {
    let packing = || prop::sample::select(Packing::ALL.map(|(_, packing)| packing).to_vec());
    let lead =
        (0_u16..3, 0_u16..600, 0_u16..3, 0_u16..200).prop_map(|(any, spare, some, unused)| Lead {
            spare_slots: if any == 0 { spare } else { 0 },
            unused_pixels: if some == 0 { unused } else { 0 },
            spare_behind: if any == 0 {
                spare.saturating_sub(9 * unused)
            } else {
                0
            },
        });
    let panels = prop::collection::vec((1_usize..300, 1_usize..=8, lead), 1..6);
    let source = prop::option::of((1_u16..=512, packing()));
    (
        prop::collection::vec((panels, 1_u16..=512, packing(), source), 1..5),
        1_usize..4,
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// No two pixels share a slot of one output; the parts have every slot of every pixel once;
    /// from a slot to its pixel and back is where one began.
    #[test]
    fn the_patch_is_one_to_one((plan, nodes) in plans()) {
        let floor = floor(&plan, nodes);
        let tables = Tables::compile(&floor);
        let mut by_slot: HashMap<(u32, u16), (u32, u16)> = HashMap::new();
        let mut by_pixel: HashMap<(u32, u16), (u32, u16)> = HashMap::new();
        for (output, universe) in (0_u32..).zip(&tables.outputs) {
            for part in &universe.parts {
                let per_pixel = u16::try_from(tables.patterns[usize::from(part.pattern)].slots.len()).unwrap();
                for i in 0..part.len {
                    let slot = part.dst + i;
                    prop_assert!(slot < 512 && slot < universe.slots);
                    // Counted step by step, apart from `pixel_at`.
                    let pixel = (part.first_pixel + u32::from((part.phase + i) / per_pixel), (part.phase + i) % per_pixel);
                    prop_assert!(by_slot.insert((output, slot), pixel).is_none(), "a slot twice");
                    prop_assert!(by_pixel.insert(pixel, (output, slot)).is_none(), "a pixel's slot twice");
                    let found = tables.pixel_at(SlotPlace { output, slot });
                    prop_assert_eq!(found, Some(PixelSlot { panel: part.panel, pixel: pixel.0, role: pixel.1 }));
                    let row = &tables.panels[part.panel as usize];
                    prop_assert!((row.first_pixel..row.first_pixel + row.pixels).contains(&pixel.0));
                }
            }
        }
        let all: usize = plan.iter().flat_map(|run| &run.0).map(|(pixels, slots, _)| pixels * slots).sum();
        prop_assert_eq!(by_pixel.len(), all);
        for pixel in (0..u32::try_from(tables.pixels_mm.len()).unwrap()).step_by(97) {
            let slots = tables.slots_of(pixel);
            for (role, place) in (0_u16..).zip(&slots) {
                prop_assert_eq!(by_pixel.get(&(pixel, role)), Some(&(place.output, place.slot)));
                prop_assert_eq!(tables.pixel_at(*place).map(|p| (p.pixel, p.role)), Some((pixel, role)));
            }
            prop_assert!(!by_pixel.contains_key(&(pixel, u16::try_from(slots.len()).unwrap())));
        }
        for (output, universe) in (0_u32..).zip(&tables.outputs) {
            let free = (0..512).filter(|slot| !by_slot.contains_key(&(output, *slot)));
            for slot in free {
                prop_assert_eq!(tables.pixel_at(SlotPlace { output, slot }), None);
            }
            prop_assert!(universe.slots % 2 == 0 && universe.slots >= 2);
        }
    }

    /// The spans that people read are the parts that the frame path reads, and universes lie in
    /// order, those of one run side by side.
    #[test]
    fn spans_are_the_parts((plan, nodes) in plans()) {
        let floor = floor(&plan, nodes);
        let tables = Tables::compile(&floor);
        let spans = floor.all_spans();
        for (panel, spans) in spans.iter().enumerate() {
            let mut parts: Vec<_> = tables
                .outputs
                .iter()
                .flat_map(|output| output.parts.iter().map(move |part| (output.port_address, part)))
                .filter(|(_, part)| part.panel as usize == panel)
                .map(|(address, part)| (address, part.dst + 1, part.dst + part.len))
                .collect();
            parts.sort_unstable();
            // A part may be cut where the console's universe ends; a span goes on.
            parts.dedup_by(|later, before| {
                let on = before.0 == later.0 && before.2 + 1 == later.1;
                if on {
                    before.2 = later.2;
                }
                on
            });
            let mut spans: Vec<_> = spans.iter().map(|s| (s.port_address, s.first_slot, s.last_slot)).collect();
            spans.sort_unstable();
            prop_assert_eq!(&floor.spans(panel).len(), &spans.len());
            prop_assert_eq!(parts, spans);
        }
        prop_assert!(tables.universes.is_sorted_by(|a, b| a.port_address < b.port_address));
        prop_assert!(tables.outputs.is_sorted_by(|a, b| (a.node, a.port_address) < (b.node, b.port_address)));
        for (output, universe) in (0_u32..).zip(&tables.outputs) {
            for part in &universe.parts {
                let arrives = &tables.universes[part.src as usize / 512];
                prop_assert!(arrives.outputs.contains(&output));
                prop_assert!(part.src as usize % 512 + usize::from(part.len) <= usize::from(arrives.slots));
                if floor.runs[floor.panels[part.panel as usize].run].source.is_none() {
                    prop_assert_eq!(arrives.port_address, universe.port_address);
                    prop_assert_eq!(part.src as usize % 512, usize::from(part.dst));
                }
            }
        }
    }

    /// The console's side, laid slot by slot with a counter of its own: every slot of a pixel is
    /// read where the console puts it, and back from there.
    #[test]
    fn sources_are_where_the_console_puts_them((plan, nodes) in plans()) {
        let floor = floor(&plan, nodes);
        let tables = Tables::compile(&floor);
        let read: HashMap<(u32, u16), u32> = tables.outputs.iter().flat_map(|output| &output.parts).flat_map(|part| {
            let per_pixel = u16::try_from(tables.patterns[usize::from(part.pattern)].slots.len()).unwrap();
            (0..part.len).map(move |i| {
                let at = part.phase + i;
                ((part.first_pixel + u32::from(at / per_pixel), at % per_pixel), part.src + u32::from(i))
            })
        }).collect();
        for run in &floor.runs {
            let Some(source) = run.source else { continue };
            let mut at = usize::from(source.start.number()) * 512 + usize::from(source.slot) - 1;
            for &panel in &run.panels {
                let row = &tables.panels[panel];
                let per_pixel = floor.pixel_kinds[floor.panel_kinds[floor.panels[panel].kind].pixel_kind].slots.len();
                let slots = per_pixel * row.pixels as usize;
                if source.packing == Packing::WholePanel && at % 512 + slots > 512 {
                    at = at.next_multiple_of(512);
                }
                for pixel in row.first_pixel..row.first_pixel + row.pixels {
                    if source.packing != Packing::Packed && at % 512 + per_pixel > 512 {
                        at = at.next_multiple_of(512);
                    }
                    for role in 0..per_pixel {
                        let role = u16::try_from(role).unwrap();
                        let read = read[&(pixel, role)] as usize;
                        let universe = &tables.universes[read / 512];
                        prop_assert_eq!(usize::from(universe.port_address.number()) * 512 + read % 512, at);
                        let lit = tables.pixels_from(read / 512, u16::try_from(read % 512).unwrap());
                        prop_assert_eq!(lit.len(), 1);
                        prop_assert_eq!((lit[0].pixel, lit[0].role), (pixel, role));
                        let leaves = tables.places_from(read / 512, u16::try_from(read % 512).unwrap());
                        let came = tables.source_of(leaves[0]);
                        prop_assert_eq!(came, Some((read / 512, u16::try_from(read % 512).unwrap())));
                        at += 1;
                    }
                }
            }
        }
    }

    /// A run that is not packed never cuts a pixel.
    #[test]
    fn whole_pixels_stay_whole((plan, nodes) in plans()) {
        let plan: Vec<RunPlan> = plan.into_iter().map(|(panels, slot, packing, _)| {
            (panels, slot, if packing == Packing::Packed { Packing::WholePixel } else { packing }, None)
        }).collect();
        let tables = Tables::compile(&floor(&plan, nodes));
        for part in tables.outputs.iter().flat_map(|output| &output.parts) {
            let per_pixel = tables.patterns[usize::from(part.pattern)].slots.len();
            prop_assert!(part.phase == 0 && usize::from(part.len) % per_pixel == 0);
        }
    }
}
