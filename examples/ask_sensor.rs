//! Reads simulated sensors as JSON on standard input says, and answers what they read.
//!
//! A list of objects: `seed`, `every_ms`, what flows (`true_a`, a list, one value for each reading), and of
//! [`Errors`] whatever is not none: `noise_a`, `gain`, `offset_a`, `drift_a`, `step_a`.
//!
//! `tests/outside/test_sensors.py` asks it, to look at the readings with numpy and scipy.

mod asking;

use litfloor::sim::sensor::{Errors, SimSensor};
use litfloor::units::Time;
use serde_json::Value;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    asking::answer_all(
        readings,
        "a question lacks something, see the head of this file",
    )
}

fn readings(question: &Value) -> Option<Vec<f64>> {
    let number = |key: &str| question[key].as_f64().unwrap_or(0.0);
    let errors = Errors {
        noise_a: number("noise_a"),
        gain: number("gain"),
        offset_a: number("offset_a"),
        drift_a: number("drift_a"),
        step_a: number("step_a"),
        ..Errors::default()
    };
    let every_ms = question["every_ms"].as_u64()?;
    let mut sensor = SimSensor::with(question["seed"].as_u64()?, every_ms, errors);
    let flows = question["true_a"].as_array()?.iter();
    let said = (0..).zip(flows).map(|(number, true_a)| {
        let at = Time::from_ms(every_ms * number);
        sensor.read(true_a.as_f64()?, at)
    });
    said.collect()
}
