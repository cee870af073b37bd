//! What holds of every network: Kirchhoff's current law, and which way voltages go.

use proptest::prelude::*;

use super::super::PanelLoads;
use super::*;

/// What a test knows of a panel.
#[derive(Debug, Clone)]
struct Known {
    load: Load,
    idle_a: f64,
    pixel_a: Vec<f64>,
}

fn loads() -> impl Strategy<Value = Load> {
    prop_oneof![
        Just(CONSTANT),
        Just(KNEE),
        Just(RESISTOR),
        (0.0..10.0, 0.05..1.5_f64).prop_map(|(dark_volts, knee)| Load::ConstantCurrent {
            dark_volts,
            full_volts: dark_volts + knee,
        }),
        (1.0..10.0).prop_map(|dark_volts| Load::Resistive { dark_volts }),
    ]
}

fn feeding(pixels: u32) -> impl Strategy<Value = Fed> {
    prop_oneof![
        Just(Fed::Start),
        Just(Fed::End),
        Just(Fed::Both),
        prop::collection::btree_set(0..pixels, 1..4)
            .prop_map(|places| Fed::Pixels(places.into_iter().collect())),
    ]
}

fn panels() -> impl Strategy<Value = (PanelSpec, Known)> {
    (1..25_usize).prop_flat_map(|pixels| {
        let sections = prop::collection::vec(0.001..0.2, pixels + 1);
        let currents = prop::collection::vec(0.0..0.08, pixels);
        #[expect(clippy::cast_possible_truncation, reason = "a few")]
        let fed = feeding(pixels as u32);
        (sections, fed, loads(), currents, 0.0..0.01, 0.001..0.1).prop_map(
            move |(section_ohm, fed, load, pixel_a, idle_a, tail_ohm)| {
                let panel = PanelSpec {
                    panel: 0,
                    first_pixel: 0,
                    pixels,
                    tail_ohm,
                    strip: Some(StripSpec { section_ohm, fed }),
                    law: Law::new(load, 12.0, idle_a),
                    unused_pixels: 3,
                };
                let known = Known {
                    load,
                    idle_a,
                    pixel_a,
                };
                (panel, known)
            },
        )
    })
}

fn feeds() -> impl Strategy<Value = (FeedSpec, Vec<Known>)> {
    let cables = (
        0.005..0.2,
        0.005..0.1,
        prop::option::of(0.01..0.3),
        any::<bool>(),
    );
    (prop::collection::vec(panels(), 1..5), cables).prop_map(
        |(panels, (cable_ohm, link_ohm, far_ohm, linked))| {
            let (mut specs, known): (Vec<PanelSpec>, Vec<Known>) = panels.into_iter().unzip();
            let mut first = 0;
            for (at, spec) in specs.iter_mut().enumerate() {
                (spec.panel, spec.first_pixel) = (at, first);
                first += spec.pixels;
            }
            let feed = FeedSpec {
                supply: 0,
                volts: 12.0,
                cable_ohm,
                link_ohm: linked.then_some(link_ohm),
                far_ohm,
                cable_known: true,
                panels: specs,
            };
            (feed, known)
        },
    )
}

fn currents(known: &[Known]) -> Vec<f64> {
    known
        .iter()
        .flat_map(|panel| panel.pixel_a.clone())
        .collect()
}

/// Solves one feed: what was found, and the voltage of every pixel, panel by panel.
fn found(feed: &FeedSpec, pixel_a: &[f64]) -> (Solution, Vec<Vec<f64>>) {
    let network = Network::from_feeds(std::slice::from_ref(feed));
    let mut work = network.work();
    let solution = network.solve(pixel_a, &mut work).clone();
    assert!(solution.converged(), "{:?}", solution.feeds);
    let circuit = &network.feeds[0];
    let volts = |panel: &PanelLoads| {
        let nodes = &circuit.load_nodes[panel.loads.clone()];
        nodes
            .iter()
            .map(|node| work.volts[*node as usize])
            .collect()
    };
    let pixels = circuit.panels.iter().map(volts).collect();
    (solution, pixels)
}

/// The current of one pixel by the words of the law, not by our code.
fn drawn(known: &Known, full_a: f64, volts: f64) -> f64 {
    let colours = match known.load {
        Load::ConstantCurrent {
            dark_volts,
            full_volts,
        } if volts < full_volts => {
            full_a * (volts - dark_volts).max(0.0) / (full_volts - dark_volts)
        }
        Load::ConstantCurrent { .. } => full_a,
        Load::Resistive { dark_volts } => {
            full_a * (volts - dark_volts).max(0.0) / (12.0 - dark_volts)
        }
    };
    colours + known.idle_a * volts / 12.0
}

/// What the pieces of a strip bring to the pixel at `place`, from 1.
fn brought(strip: &StripSpec, input_v: f64, volts: &[f64], place: usize) -> f64 {
    let end = volts.len() + 1;
    let at = |place: usize| match place {
        0 => matches!(strip.fed, Fed::Start | Fed::Both).then_some(input_v),
        place if place == end => matches!(strip.fed, Fed::End | Fed::Both).then_some(input_v),
        place => Some(volts[place - 1]),
    };
    let along = |other: usize, ohm: f64| {
        at(other).map_or(0.0, |volts_there| (volts_there - volts[place - 1]) / ohm)
    };
    along(place - 1, strip.section_ohm[place - 1]) + along(place + 1, strip.section_ohm[place])
}

/// Rounding, and 1 nV at the least resistance of these networks.
const SMALL_A: f64 = 3e-6;

proptest! {
    #[test]
    fn current_is_kept_at_every_node((feed, known) in feeds()) {
        let (solution, pixels) = found(&feed, &currents(&known));
        let mut stations = Vec::new();
        for (at, (panel, known)) in feed.panels.iter().zip(&known).enumerate() {
            let (state, volts) = (solution.panels[at], &pixels[at]);
            let strip = panel.strip.as_ref().unwrap();
            let mut total = 3.0 * known.idle_a * state.input_v / 12.0;
            for (pixel, full_a) in known.pixel_a.iter().enumerate() {
                let draws = drawn(known, *full_a, volts[pixel]);
                total += draws;
                let inside = matches!(&strip.fed, Fed::Pixels(fed) if fed.iter().any(|fed| *fed as usize == pixel));
                if inside {
                    prop_assert!((volts[pixel] - state.input_v).abs() < 1e-12);
                } else {
                    let comes = brought(strip, state.input_v, volts, pixel + 1);
                    prop_assert!((comes - draws).abs() < SMALL_A, "{comes} for {draws}");
                }
            }
            prop_assert!((total - state.drawn_a).abs() < SMALL_A);
            stations.push((state.input_v + panel.tail_ohm * total, total));
        }
        // Along the cables, from the fuse to the last panel.
        let all: f64 = stations.iter().map(|(_, total)| total).sum();
        let feed_state = solution.feeds[0];
        prop_assert!((feed_state.drawn_a - all).abs() < SMALL_A);
        let first = (12.0 - stations[0].0) / feed.cable_ohm;
        let Some(link_ohm) = feed.link_ohm else {
            prop_assert!(stations.iter().all(|(volts, _)| (volts - stations[0].0).abs() < 1e-6));
            prop_assert!((first - all).abs() < SMALL_A);
            return Ok(());
        };
        let mut along = first;
        for pair in stations.windows(2) {
            along -= pair[0].1;
            prop_assert!((along - (pair[0].0 - pair[1].0) / link_ohm).abs() < SMALL_A * 10.0);
        }
        let last = stations[stations.len() - 1];
        let far = feed.far_ohm.map_or(0.0, |ohm| (12.0 - last.0) / ohm);
        prop_assert!((along + far - last.1).abs() < SMALL_A * 10.0);
        prop_assert!((far - feed_state.far_a).abs() < SMALL_A);
        // What the supply gives arrives or heats copper.
        let arrives: f64 = feed.panels.iter().zip(&known).zip(&pixels).enumerate().map(|(at, ((_, known), volts))| {
            let input_v = solution.panels[at].input_v;
            let pixels = known.pixel_a.iter().zip(volts).map(|(full, volts)| volts * drawn(known, *full, *volts));
            pixels.sum::<f64>() + 3.0 * known.idle_a / 12.0 * input_v * input_v
        }).sum();
        let heat = feed_state.cables_w + feed_state.strips_w;
        prop_assert!((12.0 * all - arrives - heat).abs() < 1e-4);
    }

    #[test]
    fn voltage_falls_away_from_where_power_enters((mut feed, known) in feeds()) {
        for panel in &mut feed.panels {
            panel.strip.as_mut().unwrap().fed = Fed::Start;
        }
        let (solution, pixels) = found(&feed, &currents(&known));
        for (state, volts) in solution.panels.iter().zip(&pixels) {
            prop_assert!(volts[0] <= state.input_v + 1e-9);
            prop_assert!(volts.windows(2).all(|pair| pair[1] <= pair[0] + 1e-9));
            prop_assert!((state.lowest_v - volts[volts.len() - 1]).abs() < 1e-8);
            prop_assert!(state.lowest_v > 0.0 && state.input_v <= 12.0);
        }
    }

    #[test]
    fn more_load_never_raises_a_voltage((feed, known) in feeds(), more in prop::collection::vec(0.0..0.05, 100)) {
        let before = currents(&known);
        let after: Vec<f64> = before.iter().zip(&more).map(|(amps, more)| amps + more).collect();
        let (less, more) = (found(&feed, &before), found(&feed, &after));
        for (less, more) in less.1.iter().flatten().zip(more.1.iter().flatten()) {
            prop_assert!(more <= &(less + 1e-8));
        }
        prop_assert!(more.0.supplies_a[0] >= less.0.supplies_a[0] - 1e-8);
    }

    /// With constant currents. Where loads draw more at more voltage, a strip that is fed better
    /// may take it from others on the same cable, so no such thing holds.
    #[test]
    fn strips_fed_at_both_ends_are_never_worse_off((mut feed, known) in feeds()) {
        let amps = currents(&known);
        let mut lowest = |fed: &Fed| {
            for panel in &mut feed.panels {
                panel.law = Law::new(CONSTANT, 12.0, 0.0);
                panel.strip.as_mut().unwrap().fed = fed.clone();
            }
            let panels = found(&feed, &amps).0.panels;
            panels.iter().map(|panel| panel.lowest_v).collect::<Vec<_>>()
        };
        let both = lowest(&Fed::Both);
        for one in [lowest(&Fed::Start), lowest(&Fed::End)] {
            prop_assert!(both.iter().zip(&one).all(|(both, one)| *both >= one - 1e-8));
        }
    }

    #[test]
    fn a_second_cable_raises_every_voltage((mut feed, known) in feeds()) {
        let amps = currents(&known);
        feed.link_ohm = Some(0.05);
        feed.far_ohm = None;
        let (_, line) = found(&feed, &amps);
        feed.far_ohm = Some(0.1);
        let (_, ring) = found(&feed, &amps);
        for (line, ring) in line.iter().flatten().zip(ring.iter().flatten()) {
            prop_assert!(ring >= &(line - 1e-8));
        }
    }

    #[test]
    fn where_the_search_sets_out_does_not_matter((feed, known) in feeds(), other in prop::collection::vec(0.0..0.2, 100)) {
        let amps = currents(&known);
        let (cold, _) = found(&feed, &amps);
        let network = Network::from_feeds(&[feed]);
        let mut work = network.work();
        network.solve(&other, &mut work);
        let warm = network.solve(&amps, &mut work);
        prop_assert!(warm.converged());
        for (warm, cold) in warm.panels.iter().zip(&cold.panels) {
            prop_assert!((warm.lowest_v - cold.lowest_v).abs() < 1e-8);
        }
    }

    #[test]
    fn no_ladder_is_too_long_or_too_steep(
        groups in 50..400_usize,
        ohm in 0.001..0.5,
        amps in 0.001..0.3,
        knee in 0.001..2.0,
        both in any::<bool>(),
    ) {
        let load = Load::ConstantCurrent { dark_volts: 9.0, full_volts: 9.0 + knee };
        let fed = if both { Fed::Both } else { Fed::Start };
        let solution = solved(ladder(groups, ohm, fed, load), amps);
        // A quarter of the steps that it may take.
        prop_assert!(solution.feeds[0].steps <= 25, "{:?}", solution.feeds);
    }
}
