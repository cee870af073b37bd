//! Against figures worked out by others, and properties that hold of every network.

mod properties;
mod worked;

use super::{FeedSpec, Law, Network, PanelSpec, Solution, StripSpec};
use crate::floor::model::{Fed, Load};

/// One panel of `groups` pixels on strip of `section_ohm` (both rails) from pixel to pixel, right
/// at a 12 V supply.
fn ladder(groups: usize, section_ohm: f64, fed: Fed, load: Load) -> FeedSpec {
    FeedSpec {
        supply: 0,
        volts: 12.0,
        cable_ohm: 0.0,
        link_ohm: None,
        far_ohm: None,
        cable_known: true,
        panels: vec![PanelSpec {
            panel: 0,
            first_pixel: 0,
            pixels: groups,
            tail_ohm: 0.0,
            strip: Some(StripSpec {
                section_ohm: vec![section_ohm; groups + 1],
                fed,
            }),
            law: Law::new(load, 12.0, 0.0),
            unused_pixels: 0,
        }],
    }
}

/// Solves one feed whose pixels all have the same full current.
fn solved(feed: FeedSpec, pixel_a: f64) -> Solution {
    let pixels = feed.panels.iter().map(|panel| panel.pixels).sum();
    let network = Network::from_feeds(&[feed]);
    let solution = network
        .solve(&vec![pixel_a; pixels], &mut network.work())
        .clone();
    assert!(solution.converged(), "{:?}", solution.feeds);
    solution
}

/// A driver that keeps its current down to a voltage where no test goes.
const CONSTANT: Load = Load::ConstantCurrent {
    dark_volts: 0.0,
    full_volts: 0.5,
};

/// The knee of the worked netlist: nothing at 9 V, all at 10.5 V.
const KNEE: Load = Load::ConstantCurrent {
    dark_volts: 9.0,
    full_volts: 10.5,
};

/// A plain resistor.
const RESISTOR: Load = Load::Resistive { dark_volts: 0.0 };
