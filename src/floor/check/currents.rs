//! Currents that no floor draws: beyond them the exact sums of the cap would run over. The check
//! covers the apparent power of all circuits together, which the cap adds up as well.

use super::super::defaults::{MOST_AMPERES, MOST_MAINS_PER_OUTPUT};
use super::super::fault::{Fault, Span};
use super::super::model::Floor;
use super::super::sink::Sink;

/// Adds up everything at full, for each circuit; `names` is where their names stand.
pub(super) fn check(sink: &Sink, floor: &Floor, names: &[Span]) {
    let mut output_a = vec![0.0; floor.supplies.len()];
    for panel in &floor.panels {
        let kind = &floor.panel_kinds[panel.kind];
        let pixel = &floor.pixel_kinds[kind.pixel_kind];
        let full_ua: f64 = pixel.slots.iter().map(|slot| f64::from(slot.full_ua)).sum();
        let of_one_a = (full_ua + f64::from(pixel.idle_ua)) / 1e6;
        output_a[floor.feeds[panel.feed].supply] +=
            kind.pixels_mm.iter().map(|_| of_one_a).sum::<f64>();
    }
    // The cap counts the floor as a whole in kilovolt-amperes.
    let mut floor_kva = 0.0;
    for (at, (circuit, name)) in floor.circuits.iter().zip(names).enumerate() {
        let supplies = floor.supplies.iter().zip(&output_a);
        let (mut most_a, mut mains_a, mut steepest) = (0.0_f64, 0.0, 0.0_f64);
        for (supply, output_a) in supplies.filter(|(supply, _)| supply.circuit == at) {
            let mains_per_output = supply.mains_per_output(circuit);
            most_a = most_a.max(*output_a);
            mains_a += output_a * mains_per_output;
            steepest = steepest.max(mains_per_output);
        }
        floor_kva += mains_a * circuit.volts.0 / 1e3;
        if most_a.max(mains_a).max(floor_kva) > MOST_AMPERES || steepest > MOST_MAINS_PER_OUTPUT {
            let message = format!(
                "with everything at full, circuit {} would carry {mains_a:.3e} A",
                circuit.name
            );
            let help = "no floor draws so much: look at full_ma, the number of pixels, and the \
                        volts, efficiency and power_factor of its supplies";
            sink.add(Fault::new("absurd-current", name, message, help));
        }
    }
}
