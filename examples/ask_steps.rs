//! Answers questions about steps in readings and about presses that are given as JSON on standard input.
//!
//! A list of objects, each with `above_a` (readings above what was expected), `drawn_a` (of each reading, what each
//! item was expected to draw), `variance`, `tolerance`, `gain_sd`, `offset_sd_a`, `takes` (the places of the items that
//! may have gone out): the log likelihood ratio of their being out from each reading on.
//!
//! `tests/outside/test_steps.py` asks it, to compare with scipy.

mod asking;

use litfloor::health::show::steps::jump_ratios;
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

fn answer(question: &Value) -> Option<Value> {
    let drawn: Option<Vec<Vec<f64>>> = question["drawn_a"]
        .as_array()?
        .iter()
        .map(numbers)
        .collect();
    let takes: Option<Vec<usize>> = question["takes"]
        .as_array()?
        .iter()
        .map(|at| usize::try_from(at.as_u64()?).ok())
        .collect();
    let number = |key: &str| question[key].as_f64();
    let ratios = jump_ratios(
        &numbers(&question["above_a"])?,
        &drawn?,
        number("variance")?,
        (
            number("tolerance")?,
            number("gain_sd")?,
            number("offset_sd_a")?,
        ),
        &takes?,
    );
    Some(json!(ratios))
}
