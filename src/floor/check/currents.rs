//! Currents that no floor draws: beyond them the exact sums of the cap would run over. The check
//! covers the apparent power of all circuits together, which the cap adds up as well.

use super::super::defaults::{MOST_AMPERES, MOST_MAINS_PER_OUTPUT};
use super::super::draft::{BriefDraft, Draft};
use super::super::fault::{Fault, Span};
use super::super::model::Floor;
use super::super::sink::Sink;

/// Whoever brightens from the dark to white needs 255 levels. Slower than that, with some room for
/// rounding, and not one level of everything would fit into what may be risen at a time.
const SLOWEST_RISE_S: f64 = 20.0;

/// What each feed draws with everything at full.
fn feeds_a(floor: &Floor) -> Vec<f64> {
    let mut feeds_a = vec![0.0; floor.feeds.len()];
    for panel in &floor.panels {
        let kind = &floor.panel_kinds[panel.kind];
        let pixel = &floor.pixel_kinds[kind.pixel_kind];
        let full_ua: f64 = pixel.slots.iter().map(|slot| f64::from(slot.full_ua)).sum();
        let of_one_a = (full_ua + f64::from(pixel.idle_ua)) / 1e6;
        feeds_a[panel.feed] += kind.pixels_mm.iter().map(|_| of_one_a).sum::<f64>();
    }
    feeds_a
}

/// What each supply gives with everything at full.
fn supplies_a(floor: &Floor) -> Vec<f64> {
    let mut supplies_a = vec![0.0; floor.supplies.len()];
    for (feed, amps) in floor.feeds.iter().zip(feeds_a(floor)) {
        supplies_a[feed.supply] += amps;
    }
    supplies_a
}

/// Where the slews of feeds, then of supplies are written, in their order.
pub(super) fn slews(draft: &Draft) -> [Vec<Option<Span>>; 2] {
    let of = |brief: &BriefDraft| brief.slew_a_per_s.as_ref().map(|slew| slew.span.clone());
    [
        draft.feeds.iter().map(|feed| of(&feed.brief)).collect(),
        draft
            .supplies
            .iter()
            .map(|supply| of(&supply.brief))
            .collect(),
    ]
}

/// A slew so slow that nothing would ever light.
pub(super) fn check_slews(sink: &Sink, floor: &Floor, [feeds, supplies]: &[Vec<Option<Span>>; 2]) {
    let of_feeds = floor.feeds.iter().map(|feed| feed.slew_a_per_s);
    let of_supplies = floor.supplies.iter().map(|supply| supply.slew_a_per_s);
    let feeds = of_feeds.zip(feeds_a(floor)).zip(feeds);
    let supplies = of_supplies.zip(supplies_a(floor)).zip(supplies);
    let mut told: Vec<&Span> = Vec::new();
    for ((slew, full_a), span) in feeds.chain(supplies) {
        let (Some(slew), Some(span)) = (slew, span) else {
            continue;
        };
        let least = full_a / SLOWEST_RISE_S;
        // Several that are written together have one place.
        if slew < least && !told.contains(&span) {
            told.push(span);
            let message = format!(
                "with a slew of {slew} A/s full white, {full_a:.1} A, would take {:.0} s",
                full_a / slew
            );
            let help = format!(
                "write {:.2} A/s or more: a slower rise has not one level of every pixel in it, and \
                 all would stay dark",
                (least * 100.0).ceil() / 100.0
            );
            sink.add(Fault::new("slew-too-slow", span, message, help));
        }
    }
}

/// Adds up everything at full, for each circuit; `names` is where their names stand.
pub(super) fn check(sink: &Sink, floor: &Floor, names: &[Span]) {
    let output_a = supplies_a(floor);
    // The cap counts the floor as a whole in kilovolt-amperes.
    let mut floor_kva = 0.0;
    for (at, (circuit, name)) in floor.circuits.iter().zip(names).enumerate() {
        let supplies = floor.supplies.iter().zip(&output_a);
        let (mut most_a, mut mains_a, mut steepest) = (0.0_f64, 0.0, 0.0_f64);
        for (supply, output_a) in supplies.filter(|(supply, _)| supply.circuit == at) {
            let mains_per_output = supply.mains_per_output(circuit);
            most_a = most_a.max(*output_a);
            mains_a += output_a * mains_per_output;
            steepest = steepest.max(mains_per_output);
        }
        floor_kva += mains_a * circuit.volts.0 / 1e3;
        if most_a.max(mains_a).max(floor_kva) > MOST_AMPERES || steepest > MOST_MAINS_PER_OUTPUT {
            let message = format!(
                "with everything at full, circuit {} would carry {mains_a:.3e} A",
                circuit.name
            );
            let help = "no floor draws so much: look at full_ma, the number of pixels, and the \
                        volts, efficiency and power_factor of its supplies";
            sink.add(Fault::new("absurd-current", name, message, help));
        }
    }
}
