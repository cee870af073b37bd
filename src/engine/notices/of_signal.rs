//! What does not arrive, and what arrives from too many.

use std::collections::BTreeMap;

use super::super::snapshot::{Notice, Severity, SignalState, State};
use super::{names, notice};
use crate::floor::model::WhenLost;

/// Whether the signal is there, and if not, what is to be done.
pub(super) fn of_signal(state: &State, when_lost: WhenLost) -> Option<Notice> {
    let warn = |code, text| Some(notice(code, Severity::Warning, text));
    match state.signal {
        SignalState::Lost => {
            let then = match when_lost {
                _ if state.nodes.is_empty() => String::new(),
                WhenLost::Hold => " The floor holds the last picture.".to_owned(),
                WhenLost::Fade { s } => format!(" The floor fades to black in {s} s."),
            };
            let text =
                format!("The signal is lost: no universe of the floor arrives any more.{then}");
            warn("signal_lost", text)
        }
        SignalState::Partial => {
            let missing: Vec<String> = state
                .universes
                .iter()
                .filter(|universe| universe.mapped && (universe.lost || universe.age_s.is_none()))
                .map(|universe| universe.port_address.clone())
                .collect();
            let others = unmapped(state);
            let count = match others.as_slice() {
                [] => String::new(),
                others => format!(
                    " But {} arrives and lights nothing: does the console count universes from 0, \
                     or from 1?",
                    names(others)
                ),
            };
            let text = format!("Universes that do not arrive: {}.{count}", names(&missing));
            warn("signal_partial", text)
        }
        SignalState::Waiting => {
            let others = unmapped(state);
            let text = format!(
                "Art-Net arrives, but only for universes that the floor file does not map: {}. \
                 Does the console count from 0 or from 1?",
                names(&others)
            );
            (!others.is_empty()).then(|| notice("unmapped_only", Severity::Warning, text))
        }
        SignalState::Live => None,
    }
}

/// Universes that arrive and are mapped to nothing.
fn unmapped(state: &State) -> Vec<String> {
    let others = state.universes.iter().filter(|universe| !universe.mapped);
    others.map(|other| other.port_address.clone()).collect()
}

/// One notice for each source that came after two others.
pub(super) fn of_third_sources(state: &State) -> Vec<Notice> {
    let mut ignored: BTreeMap<&str, Vec<String>> = BTreeMap::new();
    for universe in &state.universes {
        for third in universe.sources.iter().filter(|source| source.ignored) {
            let at = ignored.entry(&third.address).or_default();
            at.push(universe.port_address.clone());
        }
    }
    let text = |(address, at): (&str, Vec<String>)| {
        let whose = if at.len() == 1 {
            "universe"
        } else {
            "universes"
        };
        format!(
            "{address} is a third source of {whose} {}: it is ignored there, two are merged at \
             most. Stop one of the three.",
            names(&at)
        )
    };
    let notices = ignored.into_iter().map(text);
    notices
        .map(|text| notice("third_source", Severity::Warning, text))
        .collect()
}
