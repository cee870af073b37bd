//! The voltage at every pixel, and the current that it really draws.
//!
//! Each feed is a network of resistances between its supply, which is taken to hold its voltage,
//! and its pixels: cable, links from panel to panel, a second cable at the far end, each panel's
//! tail, and the strip from pixel to pixel. With stiff supplies feeds do not touch each other, so
//! each is solved alone. [`FeedSpec`] describes one in ohms; `grid` says why elimination takes time
//! proportional to the pixels, `newton` why the search for the voltages always ends well.
//!
//! What the floor file does not describe counts as having no resistance, and [`Unknown`] says so:
//! voltages that come of that are no better than what was left out.

mod circuit;
mod currents;
mod grid;
mod newton;
mod of_floor;
mod solution;
mod spec;

#[cfg(test)]
mod tests;

use circuit::{Circuit, PanelLoads};
pub use currents::{add_currents, pixel_currents};
use newton::{Outcome, Scratch};
pub use solution::{FeedState, PanelState, Solution};
pub use spec::{FeedSpec, Law, PanelSpec, StripSpec};

/// All feeds of a floor, ready to be solved again and again.
#[derive(Debug, Clone)]
pub struct Network {
    feeds: Vec<Circuit>,
    /// Where the voltages of each feed begin in [`Work`].
    first_node: Vec<usize>,
    nodes: usize,
    supplies: usize,
    unknown: Vec<Unknown>,
}

/// What of a panel's way from its supply the floor file does not describe.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Unknown {
    /// The cable of its feed.
    pub cable: bool,
    /// Its strip.
    pub strip: bool,
}

/// What [`Network::solve`] keeps from one time to the next: the voltages, from which the next
/// search sets out, and room to work in.
#[derive(Debug, Clone)]
pub struct Work {
    volts: Vec<f64>,
    scratch: Scratch,
    solution: Solution,
}

impl Network {
    /// The networks of these feeds.
    pub fn from_feeds(feeds: &[FeedSpec]) -> Self {
        let circuits: Vec<Circuit> = feeds.iter().map(Circuit::new).collect();
        let mut nodes = 0;
        let first_node = circuits
            .iter()
            .map(|circuit| {
                nodes += circuit.grid.len();
                nodes - circuit.grid.len()
            })
            .collect();
        let panels = feeds.iter().flat_map(|feed| &feed.panels);
        let count = panels.map(|panel| panel.panel + 1).max().unwrap_or(0);
        let mut unknown = vec![Unknown::default(); count];
        for feed in feeds {
            for panel in &feed.panels {
                unknown[panel.panel] = Unknown {
                    cable: !feed.cable_known,
                    strip: panel.strip.is_none(),
                };
            }
        }
        let supplies = feeds.iter().map(|feed| feed.supply + 1).max().unwrap_or(0);
        Self {
            feeds: circuits,
            first_node,
            nodes,
            supplies,
            unknown,
        }
    }

    /// What is not known of each panel's way from its supply.
    pub fn unknown(&self) -> &[Unknown] {
        &self.unknown
    }

    /// Room to solve in, with every node at its supply's voltage.
    pub fn work(&self) -> Work {
        let most = |count: fn(&Circuit) -> usize| self.feeds.iter().map(count).max().unwrap_or(0);
        let mut work = Work {
            volts: vec![0.0; self.nodes],
            scratch: Scratch::new(
                most(|circuit| circuit.grid.len()),
                most(|circuit| circuit.load_nodes.len()),
            ),
            solution: Solution {
                panels: vec![PanelState::default(); self.unknown.len()],
                feeds: vec![FeedState::default(); self.feeds.len()],
                supplies_a: vec![0.0; self.supplies],
            },
        };
        self.forget(&mut work);
        work
    }

    /// Lets the next search set out from the supplies' voltages.
    pub fn forget(&self, work: &mut Work) {
        for (feed, first) in self.feeds.iter().zip(&self.first_node) {
            work.volts[*first..][..feed.grid.len()].fill(feed.volts);
        }
    }

    /// Finds all voltages and currents for pixels whose colours would draw `pixel_a` amperes at
    /// full voltage; one figure for each pixel of the floor. What is missing, below 0 or not finite
    /// counts as 0. Room that was made for another network is made anew.
    ///
    /// Never fails: [`FeedState::converged`] says where it could not find the voltages.
    pub fn solve<'a>(&self, pixel_a: &[f64], work: &'a mut Work) -> &'a Solution {
        let fits = work.volts.len() == self.nodes
            && work.solution.panels.len() == self.unknown.len()
            && work.solution.feeds.len() == self.feeds.len()
            && work.solution.supplies_a.len() == self.supplies
            && work.scratch.holds(&self.feeds);
        if !fits {
            *work = self.work();
        }
        work.solution.supplies_a.fill(0.0);
        for (index, feed) in self.feeds.iter().enumerate() {
            let volts = &mut work.volts[self.first_node[index]..][..feed.grid.len()];
            for panel in &feed.panels {
                fill_currents(panel, pixel_a, &mut work.scratch.full_a);
            }
            let outcome = feed.settle(volts, &mut work.scratch);
            let state = feed.state(volts, outcome, &work.scratch.full_a, &mut work.solution);
            work.solution.supplies_a[feed.supply] += state.drawn_a;
            work.solution.feeds[index] = state;
            if !outcome.converged() {
                // Whatever went wrong, don't set out from there again.
                volts.fill(feed.volts);
            }
        }
        &work.solution
    }
}

/// The full currents of a panel's loads: each pixel's, or their sum.
fn fill_currents(panel: &PanelLoads, pixel_a: &[f64], full_a: &mut [f64]) {
    let sound = |amps: f64| {
        if amps.is_finite() { amps.max(0.0) } else { 0.0 }
    };
    let beyond = pixel_a.len();
    let pixels = &pixel_a[panel.pixels.start.min(beyond)..panel.pixels.end.min(beyond)];
    let loads = &mut full_a[panel.loads.clone()];
    if loads.len() == panel.pixels.len() {
        loads.fill(0.0);
        for (load, amps) in loads.iter_mut().zip(pixels) {
            *load = sound(*amps);
        }
    } else if let [load] = loads {
        *load = pixels.iter().copied().map(sound).sum();
    }
}

impl Circuit {
    /// What the voltages mean, panel by panel and for the feed.
    fn state(
        &self,
        volts: &[f64],
        outcome: Outcome,
        full_a: &[f64],
        solution: &mut Solution,
    ) -> FeedState {
        let mut drawn_a = 0.0;
        for panel in &self.panels {
            let state = self.panel_state(panel, volts, full_a);
            drawn_a += state.drawn_a;
            solution.panels[panel.panel] = state;
        }
        let far_a = self
            .far_end
            .map_or(0.0, |end| self.grid.closing_a(end, volts));
        FeedState {
            drawn_a,
            far_a,
            cables_w: self.grid.heat_w(1..self.strips_from, volts),
            strips_w: self.grid.heat_w(self.strips_from..self.grid.len(), volts),
            converged: outcome.converged(),
            off_mv: outcome.off_v * 1_000.0,
            steps: outcome.steps,
        }
    }

    fn panel_state(&self, panel: &PanelLoads, volts: &[f64], full_a: &[f64]) -> PanelState {
        let input_v = volts[panel.input as usize];
        let mut state = PanelState {
            input_v,
            lowest_v: input_v,
            drawn_a: panel.unused_siemens * input_v,
            ..PanelState::default()
        };
        for (at, load) in panel.loads.clone().enumerate() {
            let here = volts[self.load_nodes[load] as usize];
            let light_a = full_a[load] * panel.law.share(here).0;
            state.full_a += full_a[load];
            state.light_a += light_a;
            state.drawn_a += light_a + panel.idle_siemens * here;
            if at == 0 || here < state.lowest_v {
                (state.lowest_v, state.lowest_pixel) = (here, at);
            }
        }
        state
    }
}
