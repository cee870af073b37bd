//! Solves networks that are given as JSON on standard input, and writes what it found as JSON.
//!
//! A list of feeds, each with `volts`, `cable_ohm`, `link_ohm` and `far_ohm` (or null), and
//! `panels`: `tail_ohm`, `section_ohm` (one more than pixels, out and back), `fed` ("start", "end",
//! "both" or a list of pixels from 0), `kind` ("constant-current" or "resistive"), `dark_volts`,
//! `full_volts`, `nominal_volts`, `idle_a`, `unused_pixels`, and `pixel_a`, the full current of each pixel.
//! For each feed: `drawn_a`, `far_a`, `converged`, `off_mv`, and of each panel `input_v`, `lowest_v`,
//! `lowest_pixel`, `light_a`, `drawn_a`.
//!
//! `tests/outside/test_network.py` asks it, to compare with another solver.

mod asking;

use litfloor::floor::model::{Fed, Load};
use litfloor::power::network::{FeedSpec, Law, Network, PanelSpec, StripSpec};
use serde_json::{Value, json};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    asking::answer_all(solve, "a feed lacks something, see the head of this file")
}

fn numbers(value: &Value) -> Option<Vec<f64>> {
    value.as_array()?.iter().map(Value::as_f64).collect()
}

fn fed(value: &Value) -> Option<Fed> {
    Some(match value.as_str() {
        Some("start") => Fed::Start,
        Some("end") => Fed::End,
        Some("both") => Fed::Both,
        _ => {
            let pixels = value.as_array()?.iter();
            let pixels = pixels.map(|pixel| u32::try_from(pixel.as_u64()?).ok());
            Fed::Pixels(pixels.collect::<Option<_>>()?)
        }
    })
}

fn panel(value: &Value, panel: usize, pixel_a: &mut Vec<f64>) -> Option<PanelSpec> {
    let dark_volts = value["dark_volts"].as_f64()?;
    let load = match value["kind"].as_str()? {
        "constant-current" => Load::ConstantCurrent {
            dark_volts,
            full_volts: value["full_volts"].as_f64()?,
        },
        "resistive" => Load::Resistive { dark_volts },
        _ => return None,
    };
    let currents = numbers(&value["pixel_a"])?;
    let first_pixel = pixel_a.len();
    pixel_a.extend_from_slice(&currents);
    Some(PanelSpec {
        panel,
        first_pixel,
        pixels: currents.len(),
        tail_ohm: value["tail_ohm"].as_f64()?,
        strip: Some(StripSpec {
            section_ohm: numbers(&value["section_ohm"])?,
            fed: fed(&value["fed"])?,
        }),
        law: Law::new(
            load,
            value["nominal_volts"].as_f64()?,
            value["idle_a"].as_f64()?,
        ),
        unused_pixels: usize::try_from(value["unused_pixels"].as_u64()?).ok()?,
    })
}

fn solve(feed: &Value) -> Option<Value> {
    let mut pixel_a = Vec::new();
    let panels = feed["panels"].as_array()?.iter().enumerate();
    let spec = FeedSpec {
        supply: 0,
        volts: feed["volts"].as_f64()?,
        cable_ohm: feed["cable_ohm"].as_f64()?,
        link_ohm: feed["link_ohm"].as_f64(),
        far_ohm: feed["far_ohm"].as_f64(),
        cable_known: true,
        panels: panels
            .map(|(at, value)| panel(value, at, &mut pixel_a))
            .collect::<Option<_>>()?,
    };
    let network = Network::from_feeds(&[spec]);
    let mut work = network.work();
    let solution = network.solve(&pixel_a, &mut work);
    let panels = solution.panels.iter().map(|panel| {
        json!({
            "input_v": panel.input_v,
            "lowest_v": panel.lowest_v,
            "lowest_pixel": panel.lowest_pixel,
            "light_a": panel.light_a,
            "drawn_a": panel.drawn_a,
        })
    });
    let state = solution.feeds[0];
    Some(json!({
        "drawn_a": state.drawn_a,
        "far_a": state.far_a,
        "converged": state.converged,
        "off_mv": state.off_mv,
        "steps": state.steps,
        "panels": panels.collect::<Vec<_>>(),
    }))
}
