//! Worked examples, to all their digits.

use super::*;
use crate::floor::model::Conductor;
use crate::power::copper::ohm_per_m;

fn near(ours: f64, theirs: f64, digits: i32) {
    let off = (ours - theirs).abs();
    assert!(off <= 0.501 * 10_f64.powi(-digits), "{ours} for {theirs}");
}

#[test]
fn forty_groups_on_two_metres_of_strip() {
    // 2 m of strip, 0.1 Ω/m a rail, 40 sections of 5 mΩ a rail: run in ngspice 39.3 and in numpy;
    // discrete forms i·R·N(N+1)/2 (one end) and i·R·N(N+2)/8 (both ends).
    let lowest = |fed| solved(ladder(40, 0.01, fed, CONSTANT), 0.0555).panels[0];
    let one = lowest(Fed::Start);
    near(one.lowest_v, 11.54490, 5);
    near(one.lowest_v, 12.0 - 0.0555 * 0.01 * 40.0 * 41.0 / 2.0, 9);
    assert_eq!(one.lowest_pixel, 39);
    let both = lowest(Fed::Both);
    near(both.lowest_v, 11.88345, 5);
    near(both.lowest_v, 12.0 - 0.0555 * 0.01 * 40.0 * 42.0 / 8.0, 9);
    // Fed from its other end, the first pixel has least.
    let end = lowest(Fed::End);
    near(end.lowest_v, one.lowest_v, 9);
    assert_eq!(end.lowest_pixel, 0);
    // 216.2162 Ω each: V0·cosh(θ/2)/cosh((N+½)θ) with cosh θ = 1 + R·G/2, and ngspice.
    let resistive = solved(ladder(40, 0.01, Fed::Start, RESISTOR), 12.0 / 216.216_216);
    near(resistive.panels[0].lowest_v, 11.558_855_926, 8);
    near(resistive.feeds[0].drawn_a, 2.164_842_767, 8);
    let theta = (1.0 + 0.01 / 216.216_216 / 2.0_f64).acosh();
    let closed = 12.0 * (theta / 2.0).cosh() / (40.5 * theta).cosh();
    near(resistive.panels[0].lowest_v, closed, 11);
}

/// 5 m of 2.5 mm² as feed, 40 groups of 56.2 mA, 0.025 Ω a leg from one to the next, and nothing
/// between the cable and the groups where power enters. For both ends a cable goes to each: they
/// carry alike, so it is as if one of half the resistance went to both.
fn long_feed(entries: &[u32], load: Load) -> FeedSpec {
    let mut feed = ladder(40, 0.05, Fed::Pixels(entries.to_vec()), load);
    let one = 2.0 * 5.0 * ohm_per_m(Conductor::Mm2(2.5), 20.0);
    feed.cable_ohm = if entries.len() == 2 { one / 2.0 } else { one };
    feed
}

#[test]
fn forty_groups_behind_five_metres_of_cable() {
    // ngspice 39 with gmin=1e-15 reltol=1e-9 abstol=1e-12 vntol=1e-9, lowest group.
    let (start, both): (&[u32], &[u32]) = (&[0], &[0, 39]);
    let lowest = |entries, load, amps| solved(long_feed(entries, load), amps).panels[0].lowest_v;
    near(lowest(start, CONSTANT, 0.0562), 9.628_809_600, 9);
    near(lowest(both, CONSTANT, 0.0562), 11.376_404_800, 9);
    // Resistors that draw 56.2 mA at 12 V: 213.523132 Ω.
    near(lowest(start, RESISTOR, 0.0562), 9.965_365_898, 9);
    near(lowest(both, RESISTOR, 0.0562), 11.402_374_811, 9);
    // 9 V and a resistor that draws 56.2 mA at 12 V: 53.38 Ω.
    let led = Load::Resistive { dark_volts: 9.0 };
    near(lowest(start, led, 0.0562), 10.579_153_099, 9);
    near(lowest(both, led, 0.0562), 11.468_983_741, 9);
    near(lowest(start, KNEE, 0.0562), 10.037_653_995, 9);
}

#[test]
fn a_hundred_groups_with_a_knee() {
    // Undamped Newton fails here. The reference is another method, written for this check only:
    // bisection on the voltage of the last group, with a backward sweep to the supply.
    let (ohm, amps) = (0.05, 0.0562);
    let current = |volts: f64| amps * ((volts - 9.0) / 1.5).clamp(0.0, 1.0);
    let sweep = |last: f64| {
        let (mut volts, mut along) = (last, 0.0);
        for _ in 0..100 {
            along += current(volts);
            volts += ohm * along;
        }
        volts + 0.0798 * along
    };
    let (mut low, mut high) = (0.0, 12.0);
    for _ in 0..100 {
        let middle = f64::midpoint(low, high);
        if sweep(middle) < 12.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    let mut feed = ladder(100, ohm, Fed::Start, KNEE);
    feed.cable_ohm = 0.0798;
    let solution = solved(feed, amps);
    assert!((solution.panels[0].lowest_v - low).abs() < 1e-9);
    // Of the light a good part is lost, and the panel says so.
    let lost = solution.panels[0].lost_percent().unwrap();
    assert!(lost > 40.0, "{lost}");
}

#[test]
fn textbook_of_a_load_spread_evenly() {
    // Uniformly distributed load I along a resistance R, fed at one end: R·I/2; at both: R·I/8.
    // (Textbook of distribution lines, from memory.) With many groups the ladder comes close.
    let (ohm, amps, groups) = (0.5, 2.0, 2_000_usize);
    let each = amps / 2_000.0;
    let lowest =
        |fed| solved(ladder(groups, ohm / 2_000.0, fed, CONSTANT), each).panels[0].lowest_v;
    assert!((12.0 - lowest(Fed::Start) - ohm * amps / 2.0).abs() < 5e-4);
    assert!((12.0 - lowest(Fed::Both) - ohm * amps / 8.0).abs() < 5e-4);
    // Fed in the middle: two halves of half the load, R·I/8 as well.
    assert!((12.0 - lowest(Fed::Pixels(vec![1_000])) - ohm * amps / 8.0).abs() < 5e-4);
}

#[test]
fn handbook_drop_of_a_branch_circuit() {
    // The usual exercise with NEC Chapter 9 Table 8 (from memory): a load of 16 A at the end of
    // 100 ft of 12 AWG copper, 1.98 Ω per 1,000 ft: VD = 2 · 1.98 · 16 · 100 / 1,000 = 6.336 V.
    let mut feed = ladder(1, 0.0, Fed::Start, CONSTANT);
    feed.volts = 120.0;
    feed.cable_ohm = 2.0 * 1.98 * 100.0 / 1_000.0;
    let solution = solved(feed, 16.0);
    near(120.0 - solution.panels[0].lowest_v, 6.336, 9);
    // Heat in the cable is drop times current.
    near(solution.feeds[0].cables_w, 6.336 * 16.0, 8);
    // By our own table at 75 °C, solid: within the 2 % by which strands are longer.
    let ours = 2.0 * 30.48 * 16.0 * ohm_per_m(Conductor::Awg(12), 75.0);
    assert!((ours / 6.336 - 1.0).abs() < 0.03, "{ours}");
}

/// Panels without strip, of one pixel each.
fn chain(amps: &[f64], cable_ohm: f64, link_ohm: Option<f64>, far_ohm: Option<f64>) -> Solution {
    let mut feed = ladder(1, 0.0, Fed::Start, CONSTANT);
    (feed.cable_ohm, feed.link_ohm, feed.far_ohm) = (cable_ohm, link_ohm, far_ohm);
    let first = feed.panels.remove(0);
    feed.panels = (0..amps.len())
        .map(|panel| PanelSpec {
            panel,
            first_pixel: panel,
            ..first.clone()
        })
        .collect();
    let network = Network::from_feeds(&[feed]);
    let solution = network.solve(amps, &mut network.work()).clone();
    assert!(solution.converged());
    solution
}

#[test]
fn chains_and_rings_by_moments() {
    // Distributor with concentrated loads, by Kirchhoff's laws by hand. One end: 0.1 Ω then 0.05 Ω
    // each; 2, 3 and 4 A: 9 A, 7 A, 4 A.
    let one = chain(&[2.0, 3.0, 4.0], 0.1, Some(0.05), None);
    let volts: Vec<f64> = one.panels.iter().map(|panel| panel.input_v).collect();
    near(volts[0], 12.0 - 0.9, 9);
    near(volts[1], 12.0 - 0.9 - 0.35, 9);
    near(volts[2], 12.0 - 0.9 - 0.35 - 0.2, 9);
    near(one.supplies_a[0], 9.0, 9);
    near(one.feeds[0].far_a, 0.0, 9);
    // A ring with 0.1 Ω at the far end too: 0.3 Ω round; the far cable carries the moments
    // (2·0.1 + 3·0.15 + 4·0.2) / 0.3 = 1.45/0.3 A.
    let ring = chain(&[2.0, 3.0, 4.0], 0.1, Some(0.05), Some(0.1));
    let far = 1.45 / 0.3;
    near(ring.feeds[0].far_a, far, 9);
    near(ring.panels[2].input_v, 12.0 - 0.1 * far, 9);
    near(ring.panels[0].input_v, 12.0 - 0.1 * (9.0 - far), 9);
    // Without links all hang at the cable's end, tails or not.
    let star = chain(&[2.0, 3.0, 4.0], 0.1, None, None);
    assert!(
        star.panels
            .iter()
            .all(|panel| (panel.input_v - 11.1).abs() < 1e-9)
    );
}

#[test]
fn nothing_is_known_so_nothing_drops() {
    let solution = chain(&[2.0, 3.0], 0.0, None, None);
    assert!(solution.panels.iter().all(|panel| panel.lowest_v >= 12.0));
    let mut feed = ladder(3, 0.01, Fed::Start, CONSTANT);
    (feed.cable_known, feed.panels[0].strip) = (false, None);
    let network = Network::from_feeds(&[feed]);
    let both = super::super::Unknown {
        cable: true,
        strip: true,
    };
    assert_eq!(network.unknown(), [both]);
}

#[test]
fn a_black_floor_draws_its_idle_current() {
    // Derived from a driver's datasheet: 2.6 mA a group when black, 3,584 groups: 9 A.
    let mut feed = ladder(3_584, 0.0, Fed::Start, KNEE);
    feed.panels[0].law = Law::new(KNEE, 12.0, 0.0026);
    let solution = solved(feed, 0.0);
    near(solution.feeds[0].drawn_a, 9.3184, 9);
    assert_eq!(solution.panels[0].lost_percent(), None);
}

#[test]
fn what_is_not_a_current_counts_as_none() {
    let network = Network::from_feeds(&[ladder(4, 0.01, Fed::Both, KNEE)]);
    let mut work = network.work();
    let odd = [f64::NAN, f64::INFINITY, -1.0];
    let solution = network.solve(&odd, &mut work);
    assert!(solution.converged() && solution.feeds[0].drawn_a.abs() < 1e-12);
    // Room made for another network is made anew.
    let other = Network::from_feeds(&[ladder(9, 0.01, Fed::Both, KNEE)]);
    let solution = other.solve(&[0.05; 9], &mut work);
    assert!((solution.feeds[0].drawn_a - 0.45).abs() < 1e-9);
}
