//! Answers questions about designs and inference that are given as JSON on standard input.
//!
//! A list of objects, each with one of: `hadamard` (an order; the rows, or null), `items` (so many;
//! rows of the smallest design), `cyclic` (a prime; rows), `fit` (`matrix`, `right`, and `bounded`: null for
//! plain least squares, or the most that an unknown may be, or "none"), `decide` (`full_a`, `tolerance`,
//! `gain_sd`, `offset_sd_a`, `dead`, `weak`, `variance`, `computed_a` (a list for each reading),
//! `readings_a`: the chances of each item and the misfit, by evidence in Gram form and by that which follows
//! reading by reading).
//!
//! `tests/outside/test_survey.py` asks it, to compare with numpy and scipy.

mod asking;

use litfloor::health::design::{Design, Hadamard};
use litfloor::health::infer::matrix::{Square, add_scaled, dot};
use litfloor::health::infer::{
    Decision, Evidence, Layout, Priors, Running, SensorLayout, bounded::least_squares,
};
use serde_json::{Value, json};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    asking::answer_all(
        answer,
        "a question lacks something, see the head of this file",
    )
}

fn answer(question: &Value) -> Option<Value> {
    let size = |key: &str| usize::try_from(question[key].as_u64()?).ok();
    if let Some(order) = size("hadamard") {
        let matrix = Hadamard::of_order(order);
        let rows = |matrix: Hadamard| (0..order).map(|row| json!(matrix.row(row))).collect();
        return Some(matrix.map_or(Value::Null, rows));
    }
    if let Some(items) = size("items") {
        return Some(rows(&Design::for_items(items)));
    }
    if let Some(prime) = size("cyclic") {
        return Some(rows(&Design::cyclic(prime)?));
    }
    if question["fit"].is_object() {
        return fit(&question["fit"]);
    }
    decide(&question["decide"])
}

fn rows(design: &Design) -> Value {
    let row = |at| design.row(at).iter().map(|lit| u8::from(*lit)).collect();
    (0..design.size()).map(row).collect::<Vec<Value>>().into()
}

fn numbers(value: &Value) -> Option<Vec<f64>> {
    value.as_array()?.iter().map(Value::as_f64).collect()
}

fn lists(value: &Value) -> Option<Vec<Vec<f64>>> {
    value.as_array()?.iter().map(numbers).collect()
}

fn fit(task: &Value) -> Option<Value> {
    let (matrix, right) = (lists(&task["matrix"])?, numbers(&task["right"])?);
    let columns = matrix.first()?.len();
    let mut gram = Square::zero(columns);
    let mut products = vec![0.0; columns];
    for (row, value) in matrix.iter().zip(&right) {
        for (at, factor) in row.iter().enumerate() {
            add_scaled(gram.row_mut(at), row, *factor);
        }
        add_scaled(&mut products, row, *value);
    }
    let most = match &task["bounded"] {
        Value::Null => return Some(json!(gram.solve(&products)?)),
        Value::Number(most) => most.as_f64()?,
        _ => f64::INFINITY,
    };
    let found = least_squares(&gram, &products, most, 1e-12);
    let off: f64 = matrix
        .iter()
        .zip(&right)
        .map(|(row, value)| (dot(row, &found) - value).powi(2))
        .sum();
    Some(json!({ "x": found, "off": off.sqrt() }))
}

fn decide(task: &Value) -> Option<Value> {
    let number = |key: &str| task[key].as_f64();
    let full_a = numbers(&task["full_a"])?;
    let layout = Layout {
        sensors: vec![SensorLayout {
            sees: (0..u32::try_from(full_a.len()).ok()?).collect(),
            gain_sd: number("gain_sd")?,
            offset_sd_a: number("offset_sd_a")?,
        }],
        tolerance: number("tolerance")?,
        full_a,
    };
    let priors = Priors {
        dead: number("dead")?,
        weak: number("weak")?,
        ..Priors::default()
    };
    let (mut evidence, mut running) = (Evidence::new(&layout), Running::new(&layout));
    for (computed_a, reading_a) in lists(&task["computed_a"])?
        .iter()
        .zip(numbers(&task["readings_a"])?)
    {
        evidence.add(0, computed_a, reading_a, number("variance")?);
        running.add(0, computed_a, reading_a, number("variance")?);
    }
    let told = |decision: &Decision| {
        let chances = decision.chances.iter();
        let chances = chances.map(|chance| chance.map(|one| [one.good, one.dead, one.weak]));
        json!({ "chances": chances.collect::<Vec<_>>(), "misfit": decision.misfit })
    };
    Some(json!([
        told(&evidence.decide(&priors)),
        told(&running.decide(&priors, true)),
    ]))
}
