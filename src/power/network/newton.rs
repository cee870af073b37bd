//! Voltages at which every node gets just the current that its loads draw.
//!
//! The loads' currents never fall with rising voltage, so they are the derivatives of convex
//! functions, and the state of the network is the one minimum of
//!
//! ```text
//! F(v) = ½ Σ conductance · (difference along it)² + Σ ∫ load current dv
//! ```
//!
//! whose gradient is the current that each node lacks. F is strongly convex, for every node is
//! connected to the supply, and its gradient is piecewise linear. A Newton step (with the slope of
//! either side where a load has a corner) points downhill by at least a fixed share of the
//! gradient, and is shortened until it does not go past the lowest point on its line: each step
//! then lowers F by at least a fixed share of what is left, wherever it starts. So it converges,
//! and once it is among the right pieces the next full step is exact. Undamped, the same steps go
//! round in circles at the knees of long strips.
//!
//! How far is it still? The error e of the voltages obeys (conductances + D) e = missing currents
//! with some D ≥ 0, and the inverse of such a matrix has no negative element, none above that of
//! D = 0, and none above the resistance from that node to the supply. So no voltage is further off
//! than the longest resistance times the sum of the missing currents, and that is the figure which
//! ends the search and which is told.

use super::circuit::Circuit;

/// Newton steps at most. The worst that tests found is a quarter of that.
const STEPS: u32 = 100;

/// Shortenings of one step at most; every third halves what is searched.
const SHORTENINGS: u32 = 60;

/// Voltages are good enough when none is further off than this, in volts.
const FINE_V: f64 = 1e-9;

/// Where rounding does not let it come so far, this is enough when it gets no better.
const COARSE_V: f64 = 1e-4;

/// A step may go past the lowest point by what rounding does.
const PAST: f64 = 1e-6;

/// What a solve needs beside the voltages; nothing of it is kept from one feed to the next.
#[derive(Debug, Clone, Default)]
pub(super) struct Scratch {
    /// Full current of each load, in amperes.
    pub(super) full_a: Vec<f64>,
    here: Point,
    trial: Point,
    trial_volts: Vec<f64>,
    step: Vec<f64>,
    fill: Vec<f64>,
}

/// What holds at some voltages.
#[derive(Debug, Clone, Default)]
struct Point {
    /// Current that each node lacks, in amperes.
    short: Vec<f64>,
    /// What its loads' current gains with each volt.
    slopes: Vec<f64>,
}

impl Scratch {
    /// For feeds of so many nodes and loads at most.
    pub(super) fn new(nodes: usize, loads: usize) -> Self {
        let point = || Point {
            short: vec![0.0; nodes],
            slopes: vec![0.0; nodes],
        };
        Self {
            full_a: vec![0.0; loads],
            here: point(),
            trial: point(),
            trial_volts: vec![0.0; nodes],
            step: vec![0.0; nodes],
            fill: vec![0.0; nodes],
        }
    }

    /// Whether each of these feeds finds room.
    pub(super) fn holds(&self, feeds: &[Circuit]) -> bool {
        feeds.iter().all(|feed| {
            feed.grid.len() <= self.step.len() && feed.load_nodes.len() <= self.full_a.len()
        })
    }
}

/// How a search ended.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Outcome {
    /// No voltage is further off than this, in volts.
    pub(super) off_v: f64,
    pub(super) steps: u32,
}

impl Outcome {
    pub(super) fn converged(self) -> bool {
        self.off_v <= COARSE_V
    }
}

impl Circuit {
    /// Improves `volts` until they fit the loads whose full currents are in `scratch.full_a`.
    pub(super) fn settle(&self, volts: &mut [f64], scratch: &mut Scratch) -> Outcome {
        let Scratch {
            full_a,
            here,
            trial,
            trial_volts,
            step,
            fill,
        } = scratch;
        let count = self.grid.len();
        let (step, trial_volts) = (&mut step[..count], &mut trial_volts[..count]);
        volts[0] = self.volts;
        self.look(volts, full_a, here);
        let mut before_v = f64::INFINITY;
        for steps in 0..STEPS {
            let off_v = self.off_v(here);
            let no_better = off_v <= COARSE_V && off_v > before_v / 2.0;
            if off_v <= FINE_V || no_better || !off_v.is_finite() {
                return Outcome { off_v, steps };
            }
            before_v = off_v;
            step.copy_from_slice(&here.short[..count]);
            self.grid.solve(&mut here.slopes, step, fill);
            let downhill = dot(&here.short, step);
            let mut go = |share: f64| {
                for ((to, from), step) in trial_volts.iter_mut().zip(&*volts).zip(&*step) {
                    *to = share.mul_add(*step, *from);
                }
                self.look(trial_volts, full_a, trial);
                dot(&trial.short, step)
            };
            shorten(downhill, &mut go);
            volts.copy_from_slice(trial_volts);
            std::mem::swap(here, trial);
        }
        Outcome {
            off_v: self.off_v(here),
            steps: STEPS,
        }
    }

    /// What the nodes lack at these voltages. Idle current goes on falling below 0 V, where no
    /// answer lies, so that it has no corner there.
    fn look(&self, volts: &[f64], full_a: &[f64], point: &mut Point) {
        let count = self.grid.len();
        let (short, slopes) = (&mut point.short[..count], &mut point.slopes[..count]);
        short.fill(0.0);
        slopes.fill(0.0);
        for panel in &self.panels {
            let nodes = &self.load_nodes[panel.loads.clone()];
            for (node, full_a) in nodes.iter().zip(&full_a[panel.loads.clone()]) {
                let node = *node as usize;
                let (share, per_volt) = panel.law.share(volts[node]);
                short[node] -= full_a * share + panel.idle_siemens * volts[node];
                slopes[node] += full_a * per_volt + panel.idle_siemens;
            }
            let input = panel.input as usize;
            short[input] -= panel.unused_siemens * volts[input];
            slopes[input] += panel.unused_siemens;
        }
        self.grid.take_flows(volts, short);
    }

    fn off_v(&self, point: &Point) -> f64 {
        let behind_supply = point.short[..self.grid.len()].iter().skip(1);
        self.longest_ohm * behind_supply.map(|short| short.abs()).sum::<f64>()
    }
}

/// Goes such a share of a step that what is left downhill is between nothing and a tenth of
/// `downhill`, or the whole step if that is not too far. `go` says what is left.
fn shorten(downhill: f64, go: &mut impl FnMut(f64) -> f64) {
    let mut left = go(1.0);
    if left >= -PAST * downhill {
        return;
    }
    let (mut near, mut near_left) = (0.0, downhill);
    let (mut far, mut far_left) = (1.0, left);
    for tries in 1..=SHORTENINGS {
        // What is left is piecewise linear and falls along the step: try where a line would end,
        // but from the second time on well inside, so that what is searched shrinks.
        let line = near_left / (near_left - far_left);
        let line = match tries {
            1 => line,
            _ if tries % 3 == 0 => 0.5,
            _ => line.clamp(0.1, 0.9),
        };
        let share = near + (far - near) * line;
        left = go(share);
        if (0.0..=0.1 * downhill).contains(&left) {
            return;
        }
        if left > 0.0 {
            (near, near_left) = (share, left);
        } else {
            (far, far_left) = (share, left);
        }
    }
    if left < 0.0 {
        go(near);
    }
}

fn dot(one: &[f64], other: &[f64]) -> f64 {
    one.iter().zip(other).map(|(a, b)| a * b).sum()
}
