//! Copper with loads, solved by plain relaxation: each point in turn takes the voltage at which the
//! currents into it are those that leave it, over and over, until nothing moves any more.
//!
//! Slow, and beyond doubt: it knows no ladders and no trees, and shares nothing with
//! [`crate::power`].

/// Nothing moves any more below this, in volts.
const STILL_V: f64 = 2e-5;

/// Sweeps that are enough for any small floor.
const MOST_SWEEPS: u32 = 200_000;

/// Points that are joined by resistances; some are held at a voltage.
#[derive(Debug, Clone, Default)]
pub struct Wires {
    volts: Vec<f64>,
    held: Vec<bool>,
    joints: Vec<Vec<(usize, f64)>>,
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
        self.volts.push(volts);
        self.held.push(held);
        self.joints.push(Vec::new());
        self.volts.len() - 1
    }

    /// Joins two points by `ohm`, out and back together. Less than a milliohm counts as that.
    pub fn join(&mut self, a: usize, b: usize, ohm: f64) {
        let siemens = 1.0 / ohm.max(1e-3);
        self.joints[a].push((b, siemens));
        self.joints[b].push((a, siemens));
    }

    /// Number of points.
    pub const fn len(&self) -> usize {
        self.volts.len()
    }

    /// Whether there are none.
    pub const fn is_empty(&self) -> bool {
        self.volts.is_empty()
    }

    /// The voltage of a point.
    pub fn volts(&self, point: usize) -> f64 {
        self.volts[point]
    }

    /// Lets all points settle when each draws `draw(point, volts)` amperes, which must change far less
    /// with the voltage than what its copper carries.
    pub fn settle(&mut self, draw: impl Fn(usize, f64) -> f64) {
        for _ in 0..MOST_SWEEPS {
            let mut moved = 0.0_f64;
            for point in 0..self.volts.len() {
                if self.held[point] || self.joints[point].is_empty() {
                    continue;
                }
                let mut into = 0.0;
                let mut siemens = 0.0;
                for &(other, joint) in &self.joints[point] {
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
}
