//! Copper with loads, solved by plain relaxation: each point in turn takes the voltage at which the
//! currents into it are those that leave it, over and over, until nothing moves any more.
//!
//! Slow, and beyond doubt: it knows no ladders and no trees, and shares nothing with
//! [`crate::power`]. So that a demo need not wait, a few Newton steps guess where it will end
//! ([`super::elimination`]); what they guess counts only when relaxation finds nothing to move.

use std::cell::OnceCell;

use super::elimination::Elimination;

/// Nothing moves any more below this, in volts.
const STILL_V: f64 = 2e-5;

/// Sweeps that are enough for any small floor.
const MOST_SWEEPS: u32 = 200_000;

/// Newton steps of the guess, at most.
const GUESSES: u32 = 25;

/// A guess is good enough with less than this going astray at a point, in amperes.
const ASTRAY_A: f64 = 1e-9;

/// Something that joins two points.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Joint(usize);

/// Points that are joined by resistances; some are held at a voltage.
#[derive(Debug, Clone, Default)]
pub struct Wires {
    begin: Vec<f64>,
    volts: Vec<f64>,
    held: Vec<bool>,
    /// Of each point: its joints and their other ends.
    joints: Vec<Vec<(usize, usize)>>,
    ends: Vec<(usize, usize)>,
    /// 0: it is open.
    siemens: Vec<f64>,
    /// Made when first needed, and again when something opened or closed.
    fed: OnceCell<Fed>,
}

/// What a source reaches.
#[derive(Debug, Clone)]
struct Fed {
    reached: Vec<bool>,
    elimination: Elimination,
}

/// What a joint of so many ohms lets through; less than a milliohm counts as that.
fn siemens(ohm: f64) -> f64 {
    1.0 / ohm.max(1e-3)
}

impl Wires {
    /// A point that is held at `volts`.
    pub fn source(&mut self, volts: f64) -> usize {
        self.add(volts, true)
    }

    /// A free point; its voltage begins at `volts`.
    pub fn point(&mut self, volts: f64) -> usize {
        self.add(volts, false)
    }

    fn add(&mut self, volts: f64, held: bool) -> usize {
        self.begin.push(volts);
        self.volts.push(volts);
        self.held.push(held);
        self.joints.push(Vec::new());
        self.fed.take();
        self.volts.len() - 1
    }

    /// Joins two points by `ohm`, out and back together. Less than a milliohm counts as that.
    pub fn join(&mut self, a: usize, b: usize, ohm: f64) -> Joint {
        let joint = self.ends.len();
        self.ends.push((a, b));
        self.siemens.push(siemens(ohm));
        self.joints[a].push((joint, b));
        self.joints[b].push((joint, a));
        self.fed.take();
        Joint(joint)
    }

    /// From now on a joint has so many ohms; nothing: it is open.
    pub fn set(&mut self, joint: Joint, ohm: Option<f64>) {
        self.siemens[joint.0] = ohm.map_or(0.0, siemens);
        self.fed.take();
    }

    /// Number of points.
    pub const fn len(&self) -> usize {
        self.volts.len()
    }

    /// Whether there are none.
    pub const fn is_empty(&self) -> bool {
        self.volts.is_empty()
    }

    /// The voltage of a point; 0 where no source reaches.
    pub fn volts(&self, point: usize) -> f64 {
        self.volts[point]
    }

    /// Lets all points settle when each draws `draw(point, volts)` amperes, which must change far less
    /// with the voltage than what its copper carries. What is found depends on nothing that was
    /// found before.
    pub fn settle(&mut self, draw: impl Fn(usize, f64) -> f64) {
        let fed = self.fed.take().unwrap_or_else(|| self.feed());
        for point in 0..self.volts.len() {
            let begin = self.begin[point];
            self.volts[point] = if fed.reached[point] { begin } else { 0.0 };
        }
        self.guess(&fed, &draw);
        self.relax(&fed.reached, &draw);
        let _ = self.fed.set(fed);
    }

    /// Follows all that is joined from every source.
    fn feed(&self) -> Fed {
        let mut reached = self.held.clone();
        let mut next: Vec<usize> = (0..reached.len()).filter(|&at| reached[at]).collect();
        while let Some(point) = next.pop() {
            for &(joint, other) in &self.joints[point] {
                if self.siemens[joint] > 0.0 && !reached[other] {
                    reached[other] = true;
                    next.push(other);
                }
            }
        }
        let free: Vec<bool> = (reached.iter().zip(&self.held))
            .map(|(reached, held)| *reached && !held)
            .collect();
        let elimination = Elimination::of(&free, &self.ends);
        Fed {
            reached,
            elimination,
        }
    }

    /// Amperes that go astray at each free point: those into it without those that leave it.
    fn astray(&self, reached: &[bool], draw: &impl Fn(usize, f64) -> f64) -> Vec<f64> {
        let at = |point: usize| {
            if self.held[point] || !reached[point] {
                return 0.0;
            }
            let here = self.volts[point];
            let into = self.joints[point].iter();
            let into = into.map(|&(joint, other)| self.siemens[joint] * (self.volts[other] - here));
            into.sum::<f64>() - draw(point, here)
        };
        (0..self.volts.len()).map(at).collect()
    }

    fn guess(&mut self, fed: &Fed, draw: &impl Fn(usize, f64) -> f64) {
        let worst = |astray: &[f64]| astray.iter().fold(0.0_f64, |most, a| most.max(a.abs()));
        let mut astray = self.astray(&fed.reached, draw);
        for _ in 0..GUESSES {
            if worst(&astray) < ASTRAY_A {
                return;
            }
            let own = (0..self.volts.len()).map(|point| {
                let joined: f64 = (self.joints[point].iter())
                    .map(|&(joint, _)| self.siemens[joint])
                    .sum();
                let here = self.volts[point];
                joined + (draw(point, here + 1e-5) - draw(point, here)) / 1e-5
            });
            let mut step = astray.clone();
            (fed.elimination).solve(own.collect(), &self.siemens, &mut step);
            let before = self.volts.clone();
            let sum = |astray: &[f64]| astray.iter().map(|a| a * a).sum::<f64>();
            let aim = sum(&astray);
            let mut share = 1.0;
            loop {
                for ((volts, before), step) in self.volts.iter_mut().zip(&before).zip(&step) {
                    *volts = before + share * step;
                }
                astray = self.astray(&fed.reached, draw);
                if sum(&astray) < aim {
                    break;
                }
                share /= 2.0;
                if share < 0.05 {
                    // At a knee: relaxation goes on from there.
                    self.volts = before;
                    return;
                }
            }
        }
    }

    fn relax(&mut self, reached: &[bool], draw: &impl Fn(usize, f64) -> f64) {
        for _ in 0..MOST_SWEEPS {
            let mut moved = 0.0_f64;
            for (point, &reached) in reached.iter().enumerate() {
                if self.held[point] || !reached {
                    continue;
                }
                let mut into = 0.0;
                let mut siemens = 0.0;
                for &(joint, other) in &self.joints[point] {
                    let joint = self.siemens[joint];
                    into += joint * self.volts[other];
                    siemens += joint;
                }
                let even = (into - draw(point, self.volts[point])) / siemens;
                // Somewhat farther than that: it is sooner there.
                let step = (even - self.volts[point]) * 1.5;
                moved = moved.max(step.abs());
                self.volts[point] += step;
            }
            if moved < STILL_V {
                return;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ohm's law: 12 V over 1 Ω of cable and a load of 5 Ω is 2 A: 10 V at the load.
    #[test]
    fn a_divider_is_that_of_ohms_law() {
        let mut wires = Wires::default();
        let (source, end) = (wires.source(12.0), wires.point(12.0));
        wires.join(source, end, 1.0);
        wires.settle(|_, volts| volts / 5.0);
        assert!((wires.volts(end) - 10.0).abs() < 1e-3);
    }

    /// The far end of a ladder of n equal loads I behind n equal resistances R lies I·R·n(n + 1)/2
    /// below the source: each resistance carries what all loads behind it draw (Kirchhoff).
    #[test]
    fn an_even_ladder_has_the_voltage_of_the_closed_form() {
        let mut wires = Wires::default();
        let mut before = wires.source(12.0);
        for _ in 0..20 {
            let next = wires.point(12.0);
            wires.join(before, next, 0.01);
            before = next;
        }
        wires.settle(|_, _| 0.05);
        let by_hand = 12.0 - 0.05 * 0.01 * 20.0 * 21.0 / 2.0;
        assert!(
            (wires.volts(before) - by_hand).abs() < 2e-3,
            "{}",
            wires.volts(before)
        );
    }

    /// Two ways to a load of 5 Ω, 1 Ω and 4 Ω: together 0.8 Ω. One opened, then the other.
    #[test]
    fn what_opens_leaves_the_other_way_and_then_none() {
        let mut wires = Wires::default();
        let (source, end, behind) = (wires.source(12.0), wires.point(12.0), wires.point(12.0));
        let near = wires.join(source, end, 1.0);
        let far = wires.join(source, end, 4.0);
        wires.join(end, behind, 0.5);
        let load = |point, volts: f64| if point == end { volts / 5.0 } else { 0.0 };
        for (near_ohm, far_ohm, expected) in [
            (Some(1.0), Some(4.0), 12.0 * 5.0 / 5.8),
            (None, Some(4.0), 12.0 * 5.0 / 9.0),
            (Some(3.0), None, 12.0 * 5.0 / 8.0),
            (None, None, 0.0),
            (Some(1.0), Some(4.0), 12.0 * 5.0 / 5.8),
        ] {
            wires.set(near, near_ohm);
            wires.set(far, far_ohm);
            wires.settle(load);
            for point in [end, behind] {
                let volts = wires.volts(point);
                assert!((volts - expected).abs() < 1e-3, "{volts} {expected}");
            }
        }
    }

    /// The guess must not decide: relaxation alone ends at the same voltages in a net with loops.
    #[test]
    fn relaxation_alone_ends_where_the_guess_said() {
        let mut wires = Wires::default();
        let source = wires.source(12.0);
        let points: Vec<usize> = (0..12).map(|_| wires.point(12.0)).collect();
        wires.join(source, points[0], 0.05);
        wires.join(source, points[11], 0.2);
        for at in 1_u8..12 {
            let [a, b] = [at - 1, at].map(|at| points[usize::from(at)]);
            wires.join(a, b, 0.02 + 0.01 * f64::from(at));
        }
        wires.join(points[2], points[8], 0.1);
        // Some of these drivers are below their knee of 10.5 V.
        let draw = |_: usize, volts: f64| 1.8 * ((volts - 9.0) / 1.5).clamp(0.0, 1.0);
        wires.settle(draw);
        let guessed = wires.volts.clone();
        let reached = vec![true; wires.len()];
        wires.volts.clone_from(&wires.begin);
        wires.relax(&reached, &draw);
        for (a, b) in guessed.iter().zip(&wires.volts) {
            assert!((a - b).abs() < 1e-3, "{a} {b}");
        }
        assert!(guessed.iter().any(|volts| *volts < 10.5), "{guessed:?}");
    }
}
