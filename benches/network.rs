//! How long the voltages take: `cargo bench --bench network`.
//!
//! Cold sets out from the supplies' voltages, warm from the state of the picture before.

use divan::Bencher;
use litfloor::floor::model::{Fed, Load};
use litfloor::power::network::{FeedSpec, Law, Network, PanelSpec, StripSpec, Work};

const PIXELS: usize = 40;
const PANELS_A_FEED: usize = 5;

fn main() {
    divan::main();
}

/// Feeds with a chain of panels each, on strip that starves a little at full white.
fn network(panels: usize) -> Network {
    let knee = Load::ConstantCurrent {
        dark_volts: 9.0,
        full_volts: 10.5,
    };
    let panel = |panel| PanelSpec {
        panel,
        first_pixel: panel * PIXELS,
        pixels: PIXELS,
        tail_ohm: 0.02,
        strip: Some(StripSpec {
            section_ohm: vec![0.02; PIXELS + 1],
            fed: Fed::Start,
        }),
        law: Law::new(knee, 12.0, 0.0026),
        unused_pixels: 0,
    };
    let all: Vec<usize> = (0..panels).collect();
    let feeds: Vec<FeedSpec> = all
        .chunks(PANELS_A_FEED)
        .map(|chain| FeedSpec {
            supply: 0,
            volts: 12.0,
            cable_ohm: 0.05,
            link_ohm: Some(0.02),
            far_ohm: None,
            cable_known: true,
            panels: chain.iter().map(|at| panel(*at)).collect(),
        })
        .collect();
    Network::from_feeds(&feeds)
}

/// Every pixel at some level of its own, which moves with the picture.
fn picture(panels: usize, number: usize) -> Vec<f64> {
    let level = |pixel: usize| u32::try_from((pixel * 37 + number * 11) % 256).unwrap_or(0);
    (0..panels * PIXELS)
        .map(|pixel| 0.06 * f64::from(level(pixel)) / 255.0)
        .collect()
}

fn cold(bencher: Bencher, panels: usize, pixel_a: &[f64]) {
    let network = network(panels);
    let mut work: Work = network.work();
    bencher.bench_local(|| {
        network.forget(&mut work);
        network.solve(pixel_a, &mut work).supplies_a[0]
    });
}

fn warm(bencher: Bencher, panels: usize) {
    let network = network(panels);
    let mut work: Work = network.work();
    let pictures: Vec<Vec<f64>> = (0..8).map(|number| picture(panels, number)).collect();
    let mut number = 0;
    bencher.bench_local(|| {
        number += 1;
        network.solve(&pictures[number % 8], &mut work).supplies_a[0]
    });
}

#[divan::bench(args = [1, 500])]
fn picture_cold(bencher: Bencher, panels: usize) {
    cold(bencher, panels, &picture(panels, 0));
}

#[divan::bench(args = [1, 500])]
fn picture_warm(bencher: Bencher, panels: usize) {
    warm(bencher, panels);
}

#[divan::bench(args = [1, 500])]
fn full_white_cold(bencher: Bencher, panels: usize) {
    cold(bencher, panels, &vec![0.06; panels * PIXELS]);
}
