//! The arithmetic by itself, for whoever wants to check it.

use super::line::Known;
use super::looked::Looked;
use crate::health::show::baseline::{ItemBase, SensorBase};
use crate::units::Time;

/// The log likelihood ratio of some items being out from each reading on, against nothing: what all that is
/// decided here is made of, for whoever wants to check it. `above_a`: readings above what was expected;
/// `drawn_a`: of each, what every item was expected to draw; `sds`: of an item's share, of gain and of offset.
pub fn jump_ratios(
    above_a: &[f64],
    drawn_a: &[Vec<f64>],
    variance: f64,
    sds: (f64, f64, f64),
    takes: &[usize],
) -> Vec<f64> {
    let Some(items) = drawn_a.first().map(Vec::len) else {
        return Vec::new();
    };
    let item = ItemBase {
        share: 1.0,
        sd: sds.0,
    };
    let sensor = SensorBase {
        gain: 1.0,
        gain_sd: sds.1,
        offset_a: 0.0,
        offset_sd_a: sds.2,
        late_s: 0.0,
        late_sd_s: 0.0,
        excess: 1.0,
    };
    let known = Known::new(vec![item; items].iter(), &sensor, 0.0);
    let each = drawn_a.iter().zip(above_a);
    let readings = each.map(|(drawn, above)| (Time(0), Known::row(drawn), *above, variance));
    let looked = Looked::new(&known, readings.collect());
    let out: Vec<f64> = drawn_a
        .iter()
        .map(|drawn| -takes.iter().map(|&at| drawn[at]).sum::<f64>())
        .collect();
    let (a, b) = (looked.a(&out, &looked.left_a), looked.b(&out, &out));
    a.iter().zip(&b).map(|(a, b)| a - b / 2.0).collect()
}
