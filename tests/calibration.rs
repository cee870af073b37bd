//! What a run teaches is what numpy's least squares finds in it.
//!
//! `tests/vectors/calibration.json` was written by `tests/outside/test_calibration.py`, which has
//! numpy reckon it all again.

use litfloor::power::meter::Computed;
use litfloor::power::meter::calibration::{Sample, fit};
use serde_json::Value;

fn numbers(value: &Value) -> Vec<Option<f64>> {
    value
        .as_array()
        .unwrap()
        .iter()
        .map(Value::as_f64)
        .collect()
}

#[test]
fn gains_are_those_of_numpy() {
    let runs: Vec<Value> = serde_json::from_str(include_str!("vectors/calibration.json")).unwrap();
    assert_eq!(runs.len(), 12);
    for run in runs {
        let samples = run["rows"].as_array().unwrap().iter().map(|row| {
            let row: Vec<f64> = numbers(row).into_iter().flatten().collect();
            Sample {
                computed: Computed {
                    idle_a: 0.2,
                    colours_a: row[..4].try_into().unwrap(),
                },
                measured_a: row[4],
            }
        });
        let samples: Vec<Sample> = samples.collect();
        let found = fit(&samples, 0.05, 0.02).unwrap();
        let near = |a: f64, key: &str| {
            let wanted = run[key].as_f64().unwrap();
            assert!((a - wanted).abs() < 1e-9, "{key}: {a} {wanted}");
        };
        near(found.idle_a, "idle_a");
        near(found.residual_a, "residual_a");
        near(found.above_a, "above_a");
        for (gain, wanted) in found.gains.into_iter().zip(numbers(&run["gains"])) {
            let same = match (gain, wanted) {
                (Some(gain), Some(wanted)) => (gain - wanted).abs() < 1e-9,
                (gain, wanted) => gain == wanted,
            };
            assert!(same, "{gain:?} {wanted:?}");
        }
    }
}
