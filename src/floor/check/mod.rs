//! From a draft to a [`Floor`]: what is checked against each other.

mod build;
mod currents;
mod grid;
mod inputs;
mod kinds;
mod names;
mod pins;
mod runs;
mod sensors;
mod volts;

use super::LeadsBack;
use super::draft::Draft;
use super::fault::Span;
use super::model::{Floor, Position};
use super::sink::Sink;

/// Checks everything; a floor only if nothing at all was wrong.
pub(super) fn floor(sink: &Sink, draft: Draft, leads_back: &LeadsBack<'_>) -> Option<Floor> {
    let links = names::links(sink, &draft);
    kinds::check(sink, &draft);
    names::addresses(sink, &draft.nodes, leads_back);
    runs::ports(sink, &draft, &links);
    sensors::brokers(sink, &draft);
    pins::standby(sink, &draft);
    let laid = draft
        .grid
        .as_ref()
        .and_then(|grid| grid::lay(sink, &draft, grid, &links));
    let (mut sources, mut measured, mut inputs) = (Vec::new(), Vec::new(), Vec::new());
    if let Some(laid) = &laid {
        // With absurd numbers there is no use in following every slot.
        if kinds::total(sink, &draft, laid) {
            let followed = runs::slots(sink, &draft, &links, laid);
            inputs::check(sink, &draft, &links, laid, &followed.occupied);
            pins::check(sink, &draft, &followed.occupied);
            sources = followed.sources;
        }
        runs::serials(sink, &draft, laid);
        volts::check(sink, &draft, &links, laid);
        measured = sensors::places(sink, &draft, &links, laid);
        inputs = inputs::build(&draft, &links, laid).unwrap_or_default();
    }
    if !sink.is_empty() {
        return None;
    }
    let names: Vec<Span> = draft
        .circuits
        .iter()
        .filter_map(|circuit| circuit.name.as_ref().map(|name| name.span.clone()))
        .collect();
    let slews = currents::slews(&draft);
    let network = pins::build(&draft)?;
    let mut floor = build::floor(draft, &links, &laid?, &sources, &measured)?;
    (floor.inputs, floor.network) = (inputs, network);
    currents::check(sink, &floor, &names);
    currents::check_slews(sink, &floor, &slews);
    sink.is_empty().then_some(floor)
}

/// A few positions by name and the number of the others.
fn named(positions: &[Position]) -> String {
    const MOST: usize = 12;
    let names: Vec<String> = positions
        .iter()
        .take(MOST)
        .map(ToString::to_string)
        .collect();
    let more = positions.len() - names.len();
    let names = names.join(", ");
    if more > 0 {
        format!("{names} and {more} more")
    } else {
        names
    }
}
