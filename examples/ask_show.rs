//! Answers questions about evidence in Gram form that are given as JSON on standard input.
//!
//! The input is a list of objects: `full_a`, `tolerances` (of each item), `gain_sd`, `offset_sd_a`, `variance`,
//! and `parts`, each with `computed_a` (a list for each reading), `readings_a`, `keep` (the factor by which
//! all that was read before it is forgotten) and `changed` (items that may be otherwise from then on). The
//! sensor's offset changes between parts. The answer to each is how much each item lacks, and the sensor's
//! gain and offset, each with its standard deviation.
//!
//! `tests/outside/test_show.py` asks it, to compare with numpy.

mod asking;

use litfloor::health::infer::{Evidence, Layout, Priors, SensorLayout};
use serde_json::{Value, json};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    asking::answer_all(
        answer,
        "a question lacks something, see the head of this file",
    )
}

fn numbers(value: &Value) -> Option<Vec<f64>> {
    value.as_array()?.iter().map(Value::as_f64).collect()
}

fn answer(task: &Value) -> Option<Value> {
    let number = |key: &str| task[key].as_f64();
    let full_a = numbers(&task["full_a"])?;
    let kinds = vec![0; full_a.len()];
    let layout = Layout {
        sensors: vec![SensorLayout {
            sees: (0..u32::try_from(full_a.len()).ok()?).collect(),
            gain_sd: number("gain_sd")?,
            offset_sd_a: number("offset_sd_a")?,
        }],
        tolerance: 0.03,
        full_a,
    };
    let empty = Evidence::with_tolerances(&layout, &numbers(&task["tolerances"])?);
    let (mut kept, mut gathered) = (empty.clone(), empty.clone());
    let parts = task["parts"].as_array()?;
    for (at, part) in parts.iter().enumerate() {
        let computed = part["computed_a"].as_array()?;
        let changed: Option<Vec<u32>> = part["changed"]
            .as_array()?
            .iter()
            .map(|item| u32::try_from(item.as_u64()?).ok())
            .collect();
        kept.let_items_change(&changed?);
        kept.forget(part["keep"].as_f64()?);
        for (computed_a, reading_a) in computed.iter().zip(numbers(&part["readings_a"])?) {
            gathered.add(0, &numbers(computed_a)?, reading_a, number("variance")?);
        }
        if at + 1 < parts.len() {
            gathered.let_offsets_change();
            kept.take(&gathered);
            gathered = empty.clone();
        }
    }
    let priors = Priors {
        // So that nothing is called faulty: what is compared is the fit of a whole floor.
        dead: 1e-300,
        weak: 1e-300,
        ..Priors::default()
    };
    let told = kept.weigh(&gathered, 0, &priors, &kinds)?;
    Some(json!({ "lacks": told.lacks, "gain": told.sensors[0][0], "offset": told.sensors[0][1] }))
}
