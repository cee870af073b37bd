//! A feed as a network: which node each pixel hangs on.

use std::ops::Range;

use super::grid::{Grid, NodeIndex, SUPPLY};
use super::spec::{FeedSpec, Law, PanelSpec, StripSpec};
use crate::floor::model::Fed;
use crate::units::count;

/// One feed, ready to be solved.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Circuit {
    pub(super) supply: usize,
    pub(super) volts: f64,
    pub(super) grid: Grid,
    pub(super) panels: Vec<PanelLoads>,
    /// The node of each load, panel by panel.
    pub(super) load_nodes: Vec<NodeIndex>,
    /// Nodes from this one on are strip; those before are cable.
    pub(super) strips_from: usize,
    /// The last panel's place in a chain with a second cable.
    pub(super) far_end: Option<NodeIndex>,
    pub(super) longest_ohm: f64,
}

/// What one panel hangs on the network.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct PanelLoads {
    /// Which panel of the floor.
    pub(super) panel: usize,
    /// Its pixels on the floor.
    pub(super) pixels: Range<usize>,
    /// Where power enters it.
    pub(super) input: NodeIndex,
    pub(super) law: Law,
    /// Its places in [`Circuit::load_nodes`]: one for each pixel, or one for all of them.
    pub(super) loads: Range<usize>,
    /// Idle conductance of each load.
    pub(super) idle_siemens: f64,
    /// That of the unused pixels before it, at its input.
    pub(super) unused_siemens: f64,
}

impl Circuit {
    pub(super) fn new(spec: &FeedSpec) -> Self {
        let mut grid = Grid::new();
        let mut here = grid.hang(SUPPLY, SUPPLY, spec.cable_ohm);
        let mut inputs = Vec::with_capacity(spec.panels.len());
        for at in 0..spec.panels.len() {
            if at > 0 {
                here = grid.hang(here, SUPPLY, spec.link_ohm.unwrap_or(0.0));
            }
            inputs.push(here);
        }
        let far_end = spec
            .link_ohm
            .and(spec.far_ohm)
            .filter(|_| here != SUPPLY)
            .map(|ohm| {
                grid.close(here, SUPPLY, ohm);
                here
            });
        for (input, panel) in inputs.iter_mut().zip(&spec.panels) {
            *input = grid.hang(*input, *input, panel.tail_ohm);
        }
        let strips_from = grid.len();
        let mut load_nodes = Vec::new();
        let panels = inputs
            .iter()
            .zip(&spec.panels)
            .map(|(input, panel)| hang_panel(panel, *input, &mut grid, &mut load_nodes))
            .collect();
        Self {
            supply: spec.supply,
            volts: spec.volts,
            longest_ohm: grid.longest_ohm(),
            grid,
            panels,
            load_nodes,
            strips_from,
            far_end,
        }
    }
}

fn hang_panel(
    spec: &PanelSpec,
    input: NodeIndex,
    grid: &mut Grid,
    load_nodes: &mut Vec<NodeIndex>,
) -> PanelLoads {
    let first = load_nodes.len();
    let strip = spec
        .strip
        .as_ref()
        .filter(|strip| strip.section_ohm.iter().any(|ohm| *ohm > 0.0));
    if let Some(strip) = strip {
        load_nodes.resize(first + spec.pixels, input);
        hang_strip(strip, input, grid, &mut load_nodes[first..]);
    } else if spec.pixels > 0 {
        load_nodes.push(input);
    }
    let loads = first..load_nodes.len();
    // All pixels of a panel without a strip are one load.
    let pixels_a_load = spec.pixels.checked_div(loads.len()).unwrap_or(0);
    PanelLoads {
        panel: spec.panel,
        pixels: spec.first_pixel..spec.first_pixel + spec.pixels,
        input,
        law: spec.law,
        loads,
        idle_siemens: spec.law.idle_siemens * count(pixels_a_load),
        unused_siemens: spec.law.idle_siemens * count(spec.unused_pixels),
    }
}

/// Hangs every pixel into `nodes`. Places along the strip are 0 for its start, 1 to n for the
/// pixels, n + 1 for its end; section k lies between places k and k + 1.
fn hang_strip(strip: &StripSpec, input: NodeIndex, grid: &mut Grid, nodes: &mut [NodeIndex]) {
    let end = nodes.len() + 1;
    let ohm = |section: usize| strip.section_ohm.get(section).copied().unwrap_or(0.0);
    let mut entries: Vec<usize> = match &strip.fed {
        Fed::Start => vec![0],
        Fed::End => vec![end],
        Fed::Both => vec![0, end],
        Fed::Pixels(pixels) => pixels
            .iter()
            .map(|pixel| (*pixel as usize).saturating_add(1).min(end - 1))
            .collect(),
    };
    entries.sort_unstable();
    entries.dedup();
    if entries.is_empty() {
        entries.push(0);
    }
    let first = entries[0];
    let mut here = input;
    for place in (1..first).rev() {
        here = grid.hang(here, input, ohm(place));
        nodes[place - 1] = here;
    }
    for (at, entry) in entries.iter().enumerate() {
        let until = entries.get(at + 1).copied();
        here = input;
        for place in entry + 1..until.unwrap_or(end) {
            here = grid.hang(here, input, ohm(place - 1));
            nodes[place - 1] = here;
        }
        if let Some(until) = until {
            grid.close(here, input, ohm(until - 1));
        }
    }
}
