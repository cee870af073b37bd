//! What a supply takes from the mains for what it gives.

use super::model::{Circuit, Supply};

impl Supply {
    /// Mains amperes for one ampere of output: V / (mains V × power factor × efficiency), the
    /// trade's formula I = P / (V · pf · eff) for an output of one ampere.
    pub fn mains_per_output(&self, circuit: &Circuit) -> f64 {
        self.volts.0 / (circuit.volts.0 * self.power_factor * self.efficiency)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::floor::model::Sharing;
    use crate::units::{Amps, Volts};

    #[test]
    fn mains_current_is_that_of_the_worked_example() {
        // Worked example of the trade's formula I = P / (V · pf · eff), computed apart: 2,400 W,
        // efficiency 0.88, power factor 0.95: 12.482 A at 230 V, 23.923 A at 120 V.
        let supply = Supply {
            name: "s".into(),
            circuit: 0,
            volts: Volts(12.0),
            rated_a: Amps(200.0),
            efficiency: 0.88,
            power_factor: 0.95,
            short_a: None,
            sharing: Sharing::Alike,
            peak: None,
            slew_a_per_s: None,
        };
        let mains = |volts| {
            let circuit = Circuit {
                name: "c".into(),
                volts: Volts(volts),
                rated_a: Amps(16.0),
            };
            200.0 * supply.mains_per_output(&circuit)
        };
        assert!((mains(230.0) - 12.482).abs() < 5e-4);
        assert!((mains(120.0) - 23.923).abs() < 5e-4);
    }
}
