//! The floor from a draft in which nothing is wrong.

use std::net::SocketAddrV4;

use super::super::draft::{
    CircuitDraft, Draft, PanelDraft, PixelDraft, RunDraft, Shape, SupplyDraft,
};
use super::super::matrix;
use super::super::model::{
    Circuit, Feed, Floor, Grid, Lead, Measured, NetworkSettings, Node, Panel, PanelKind, PixelKind,
    Run, Source, Strip, Supply,
};
use super::grid::Laid;
use super::names::Links;
use super::sensors;
use crate::units::{Amps, Millimetres, Volts};

/// Nothing if something is missing after all, which then was told as a fault.
pub(super) fn floor(
    draft: Draft,
    links: &Links,
    laid: &Laid,
    sources: &[Option<Source>],
    measured: &[Option<Measured>],
) -> Option<Floor> {
    let panels = panels(&draft, laid)?;
    let grid = draft.grid?;
    let panel_mm = grid.panel_mm?;
    Some(Floor {
        name: draft.name?.value,
        grid: Grid {
            columns: grid.columns?,
            rows: grid.rows?,
            panel_mm: panel_mm.map(Millimetres),
            gap_mm: Millimetres(grid.gap_mm),
        },
        panels,
        pixel_kinds: each(draft.pixels, pixel_kind)?,
        panel_kinds: each(
            draft.panels.into_iter().zip(&links.panel_pixel),
            |(panel, pixel)| panel_kind(panel, (*pixel)?, panel_mm),
        )?,
        nodes: each(draft.nodes, |node| {
            let address = SocketAddrV4::new(node.address?.value, node.port);
            Some(Node {
                name: node.name?.value,
                address,
            })
        })?,
        runs: each(
            draft
                .runs
                .into_iter()
                .zip(&links.run_node)
                .zip(&laid.runs.by_list)
                .zip(sources),
            |(((run, node), panels), source)| self::run(run, *node, panels, *source),
        )?,
        circuits: each(draft.circuits, circuit)?,
        supplies: each(
            draft.supplies.into_iter().zip(&links.supply_circuit),
            |(supply, circuit)| self::supply(supply, (*circuit)?),
        )?,
        feeds: each(
            draft
                .feeds
                .into_iter()
                .zip(&links.feed_supply)
                .zip(&laid.feeds.by_list),
            |((feed, supply), panels)| {
                let fuse_a = Amps(feed.fuse_a?);
                Some(Feed {
                    name: feed.name?.value,
                    supply: (*supply)?,
                    fuse_a,
                    panels: panels.clone(),
                    cable: feed.cables.cable,
                    link: feed.cables.link,
                    far_cable: feed.cables.far_cable,
                    peak: feed.brief.peak,
                    slew_a_per_s: feed.brief.slew_a_per_s.map(|slew| slew.value),
                })
            },
        )?,
        sensors: sensors::build(draft.sensors, measured)?,
        inputs: Vec::new(),
        mqtt: draft.mqtt,
        signal: draft.signal,
        delivery: draft.delivery,
        cap: draft.cap,
        plan: draft.plan,
        alarm: draft.alarm,
        machine: draft.machine,
        network: NetworkSettings::default(),
    })
}

fn each<D, T>(
    drafts: impl IntoIterator<Item = D>,
    build: impl Fn(D) -> Option<T>,
) -> Option<Vec<T>> {
    drafts.into_iter().map(build).collect()
}

fn panels(draft: &Draft, laid: &Laid) -> Option<Vec<Panel>> {
    let mut leads = vec![Lead::default(); laid.positions.len()];
    let mut serials = vec![String::new(); laid.positions.len()];
    for (run, written) in draft.runs.iter().enumerate() {
        for (at, (panel, lead)) in laid.along(draft, run).enumerate() {
            leads[panel] = lead;
            let serial = written.serials.as_ref().and_then(|all| all.value.get(at));
            serials[panel] = serial.map_or_else(String::new, |serial| serial.value.clone());
        }
    }
    each(0..laid.positions.len(), |panel| {
        let (run, place) = laid.runs.by_panel[panel]?;
        let lie = draft.runs[run].panels.list[place].lie;
        Some(Panel {
            position: laid.positions[panel],
            kind: laid.kind[panel]?,
            turn_deg: lie.turn_deg,
            mirrored: lie.mirrored,
            serial: serials[panel].clone(),
            lead: leads[panel],
            run,
            feed: laid.feeds.by_panel[panel]?.0,
        })
    })
}

fn pixel_kind(pixel: PixelDraft) -> Option<PixelKind> {
    Some(PixelKind {
        name: pixel.name.value,
        slots: pixel.slots?,
        volts: Volts(pixel.volts?.value),
        idle_ua: pixel.idle_ua?,
        limit_ua: pixel.limit_ua.map(|limit| limit.value),
        load: pixel.load,
        drive: pixel.drive,
    })
}

fn panel_kind(panel: PanelDraft, pixel_kind: usize, panel_mm: [f64; 2]) -> Option<PanelKind> {
    let pixels_mm: Vec<[f64; 2]> = match panel.shape? {
        Shape::Matrix {
            columns,
            rows,
            wiring,
            ..
        } => matrix::lay(columns, rows, wiring, panel_mm),
        Shape::List { pixels, .. } => pixels.into_iter().map(|pixel| pixel.value).collect(),
    };
    let one = || {
        u32::try_from(pixels_mm.len())
            .map(|pixels| vec![pixels])
            .ok()
    };
    Some(PanelKind {
        name: panel.name.value,
        pixel_kind,
        segments: panel.segments.map(|segments| segments.value).or_else(one)?,
        pixels_mm,
        switches: panel.switches,
        rated_a: panel.rated_a.map(Amps),
        strip: match panel.strip {
            None => None,
            Some(strip) => Some(Strip {
                ohm_per_m: strip.ohm_per_m?,
                pitch_mm: strip.pitch_mm,
                fed: strip.fed.value,
            }),
        },
        tail: panel.tail,
    })
}

fn run(
    run: RunDraft,
    node: Option<usize>,
    panels: &[usize],
    source: Option<Source>,
) -> Option<Run> {
    Some(Run {
        node,
        port: run.port.map(|port| port.value),
        start: run.start?.value,
        slot: run.slot,
        packing: run.packing,
        source,
        panels: panels.to_vec(),
    })
}

fn circuit(circuit: CircuitDraft) -> Option<Circuit> {
    Some(Circuit {
        name: circuit.name?.value,
        volts: Volts(circuit.volts?),
        rated_a: Amps(circuit.rated_a?),
    })
}

fn supply(supply: SupplyDraft, circuit: usize) -> Option<Supply> {
    Some(Supply {
        name: supply.name?.value,
        circuit,
        volts: Volts(supply.volts?.value),
        rated_a: Amps(supply.rated_a?),
        efficiency: supply.efficiency?,
        power_factor: supply.power_factor?,
        short_a: supply.short_a.map(Amps),
        sharing: supply.sharing,
        peak: supply.brief.peak,
        slew_a_per_s: supply.brief.slew_a_per_s.map(|slew| slew.value),
    })
}
