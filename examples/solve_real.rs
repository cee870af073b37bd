//! Says what simulated floors really draw with broken joints, as JSON on standard output.
//!
//! On standard input a list of cases, each with `floor` (the text of a floor file), `slots` (what
//! every universe holds, 512 numbers), and `faults`: `panel` and `segment` from 0, `kind` (`open`,
//! `resistive` or `link`) and `ohm`. For each: `feeds_a`, `panels_a`, and `shining`, the share of full
//! light of each panel's segments.
//!
//! `tests/outside/test_joints.py` asks it, to compare with another solver.

mod asking;

use litfloor::sim::link::Chance;
use litfloor::sim::real::faults::{Fault, Spot};
use litfloor::sim::real::{Real, Scatter};
use serde_json::{Value, json};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    asking::answer_all(solve, "a case lacks something, see the head of this file")
}

fn index(value: &Value) -> Option<usize> {
    usize::try_from(value.as_u64()?).ok()
}

fn fault(value: &Value) -> Option<(Spot, Fault)> {
    let spot = Spot {
        panel: index(&value["panel"])?,
        segment: index(&value["segment"])?,
    };
    let fault = match value["kind"].as_str()? {
        "open" => Fault::SupplyOpen,
        "resistive" => Fault::SupplyResistive(value["ohm"].as_f64()?),
        "link" => Fault::LinkOpen,
        _ => return None,
    };
    Some((spot, fault))
}

fn solve(case: &Value) -> Option<Value> {
    let floor = litfloor::floor::parse("case.toml", case["floor"].as_str()?);
    let floor = floor
        .inspect_err(|faults| eprintln!("{}", faults.render(false)))
        .ok()?;
    let mut frame = [0; 512];
    for (slot, level) in frame.iter_mut().zip(case["slots"].as_array()?) {
        *slot = u8::try_from(level.as_u64()?).ok()?;
    }
    let scatter = |_| Scatter {
        reel: 0.0,
        own: 0.0,
    };
    let mut real = Real::new(&floor, &mut Chance::new(1), scatter);
    let faults = case["faults"].as_array()?.iter().map(fault);
    let faults: Vec<_> = faults.collect::<Option<_>>()?;
    if !faults.iter().all(|&(spot, fault)| real.has(spot, fault)) {
        return None;
    }
    real.afflict(&faults);
    let amperes = real.amperes_held(|_, _| Some(&frame));
    let mean = |shares: &Vec<(_, f64)>| shares.iter().map(|(_, share)| share).sum::<f64>() / 3.0;
    let shining = real.shining();
    let shining = shining.iter().map(|panel| panel.iter().map(mean).collect());
    Some(json!({
        "feeds_a": amperes.feeds,
        "panels_a": amperes.panels,
        "shining": shining.collect::<Vec<Vec<f64>>>(),
    }))
}
