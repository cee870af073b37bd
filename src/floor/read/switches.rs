//! Inputs: the switches under panels that a node sends.

use super::super::draft::{InputDraft, Places};
use super::super::fault::Fault;
use super::super::model::Pressed;
use super::super::walk::Keys;
use super::places;
use super::wiring::{port_address, slot};

/// Reads an `[[input]]`.
pub(super) fn input(keys: &Keys<'_>) -> InputDraft {
    let entry = keys.need("positions");
    let positions = entry.as_ref().map_or_else(
        || Places {
            list: Vec::new(),
            broken: true,
        },
        places,
    );
    if let (Some(entry), true, false) = (&entry, positions.list.is_empty(), positions.broken) {
        let help = "name the panels in the order of their switches, or take the input out";
        let message = "an input without panels";
        keys.fault(Fault::new("empty-list", &entry.span(), message, help));
    }
    InputDraft {
        span: keys.span.clone(),
        node: keys.need("node").and_then(|entry| entry.name()),
        start: keys.need("start").and_then(|entry| port_address(&entry)),
        slot: slot(keys),
        pressed: keys
            .get("pressed")
            .and_then(|entry| entry.word(&Pressed::ALL))
            .map_or(Pressed::default(), |pressed| pressed.value),
        positions,
    }
}
