//! What someone should know now, in sentences that say what to do.

use std::collections::BTreeMap;

mod of_arrival;

use super::snapshot::{
    FileRefusal, LoadState, NodeState, Notice, PanelState, PatternState, Severity, SignalState,
    State,
};
use crate::floor::model::WhenLost;

/// A factor nearer to one than this is no dimming that anyone sees.
const DIMMED_BELOW: f64 = 0.995;

/// A node that has not answered since the start is named after so long.
const FIRST_ANSWER_WITHIN_S: f64 = 10.0;

/// In the first moments every node may be showing anything; that is no news yet.
const STARTS_WITHIN_S: f64 = 1.0;

/// Frames that could not be sent are told of for so long.
const SEND_ERROR_LASTS_S: f64 = 5.0;

/// Sums in amperes of exact draws: a part in a million is rounding.
const ROUNDING: f64 = 1.000_001;

/// Names that one notice lists before it says "and more".
const MOST_NAMES: usize = 8;

/// All notices of a state, worst first. A floor without nodes is only watched.
pub(super) fn of(state: &State, when_lost: WhenLost) -> Vec<Notice> {
    let watched = state.nodes.is_empty();
    let mut notices = Vec::new();
    let loads: Vec<(&str, &LoadState)> = [
        ("Circuit", &state.circuits),
        ("Supply", &state.supplies),
        ("Feed", &state.feeds),
    ]
    .into_iter()
    .flat_map(|(kind, loads)| loads.iter().map(move |load| (kind, load)))
    .collect();
    notices.extend(
        loads
            .iter()
            .filter_map(|(kind, load)| of_load(kind, load, watched, state.uptime_s)),
    );
    let panels = |wanted: &dyn Fn(&PanelState) -> bool| -> Vec<String> {
        let found = state.panels.iter().filter(|panel| wanted(panel));
        found.map(|panel| panel.position.clone()).collect()
    };
    let over = panels(&|panel| {
        let limit_a = panel.limit_a.unwrap_or(f64::INFINITY);
        watched && !panel.impossible && panel.asked_a > limit_a * ROUNDING
    });
    if !over.is_empty() {
        let text = format!(
            "Panels draw more than the limit of their own wiring, as computed: {}. litfloor only \
             watches this floor and can't hold it back: dim it at the console now.",
            names(&over)
        );
        notices.push(notice("over_limit", Severity::Danger, text));
    }
    let impossible = panels(&|panel| panel.impossible);
    if !impossible.is_empty() {
        let text = format!(
            "Even dark, panels draw more than the limit of their own wiring: {}. No cap can keep \
             it: look at idle_ma and rated_a in the floor file.",
            names(&impossible)
        );
        notices.push(notice("idle_over_limit", Severity::Danger, text));
    }
    notices.extend(of_cap(&loads));
    notices.extend(state.file.refusal.as_ref().map(of_refusal));
    notices.extend(state.pattern.as_ref().map(of_pattern));
    for node in &state.nodes {
        of_node(node, state.uptime_s, &mut notices);
    }
    notices.extend(of_signal(state, when_lost));
    notices.extend(of_third_sources(state));
    notices.extend(of_arrival::all(state));
    notices.sort_by_key(|notice| notice.severity);
    notices
}

fn notice(code: &str, severity: Severity, text: String) -> Notice {
    Notice {
        code: code.to_owned(),
        severity,
        text,
    }
}

fn of_refusal(refusal: &FileRefusal) -> Notice {
    let first = refusal.faults.first();
    let first = first.map_or_else(String::new, |fault| {
        let line = fault
            .line
            .map_or_else(String::new, |line| format!("line {line}: "));
        format!(" First: {line}{}.", fault.message.trim_end_matches('.'))
    });
    let faults = match refusal.count {
        1 => "a fault".to_owned(),
        count => format!("{count} faults"),
    };
    let text = format!(
        "The floor file was read again and not taken, for it has {faults}; the floor of before \
         goes on.{first} `litfloor check` shows all with their places."
    );
    notice("file_refused", Severity::Warning, text)
}

fn of_load(kind: &str, load: &LoadState, watched: bool, uptime_s: f64) -> Option<Notice> {
    let LoadState {
        name,
        limit_a,
        idle_a,
        reserved_a,
        asked_a,
        ..
    } = load;
    if load.impossible {
        let text = format!(
            "{kind} {name}: even with every panel dark it draws {idle_a:.2} A, over its limit of \
             {limit_a:.2} A. No cap can keep it: take panels off it."
        );
        return Some(notice("idle_over_limit", Severity::Danger, text));
    }
    if watched {
        let text = format!(
            "{kind} {name}: {asked_a:.2} A computed, over its limit of {limit_a:.2} A. litfloor \
             only watches this floor and can't hold it back: dim it at the console now."
        );
        let over = *asked_a > limit_a * ROUNDING;
        return over.then(|| notice("over_limit", Severity::Danger, text));
    }
    if uptime_s > STARTS_WITHIN_S && *reserved_a > limit_a * ROUNDING {
        let text = format!(
            "{kind} {name}: nodes may still be showing {reserved_a:.2} A, over its limit of \
             {limit_a:.2} A, from before they could be reached."
        );
        return Some(notice("may_be_over_limit", Severity::Danger, text));
    }
    None
}

/// One notice for all that the cap holds back: a bright picture touches every feed at once.
fn of_cap(loads: &[(&str, &LoadState)]) -> Option<Notice> {
    let dimmed = || loads.iter().filter(|(_, load)| load.scale < DIMMED_BELOW);
    let (kind, least) = dimmed().min_by(|a, b| a.1.scale.total_cmp(&b.1.scale))?;
    let LoadState {
        name,
        asked_a,
        limit_a,
        silent_a,
        scale,
        ..
    } = least;
    let kind = kind.to_lowercase();
    let others = match dimmed().count() - 1 {
        0 => String::new(),
        1 => " One more element is dimmed.".to_owned(),
        more => format!(" {more} more are dimmed."),
    };
    let per_cent = scale * 100.0;
    let text = if *silent_a > 0.0 {
        format!(
            "The cap dims {kind} {name} most, to {per_cent:.0} %: of its limit of {limit_a:.2} A, \
             {silent_a:.2} A stay reserved for what a silent node may still be showing.{others}"
        )
    } else if asked_a > limit_a {
        format!(
            "The cap dims {kind} {name} most, to {per_cent:.0} %: {asked_a:.2} A asked, limit \
             {limit_a:.2} A.{others}"
        )
    } else {
        format!("The cap is letting up: {kind} {name} is back at {per_cent:.0} %.{others}")
    };
    Some(notice("capping", Severity::Info, text))
}

fn of_pattern(pattern: &PatternState) -> Notice {
    let (what, covered) = (&pattern.what, pattern.covered_panels);
    let over = match covered {
        _ if pattern.covers_all => "on the whole floor".to_owned(),
        1 => "on one panel".to_owned(),
        _ => format!("on {covered} panels"),
    };
    let text = format!("A test pattern is shown in place of the console's picture {over}: {what}.");
    notice("pattern_on", Severity::Info, text)
}

fn of_node(node: &NodeState, uptime_s: f64, notices: &mut Vec<Notice>) {
    let name = &node.name;
    match node.last_reply_s {
        Some(s) if !node.online => notices.push(notice(
            "node_silent",
            Severity::Warning,
            format!(
                "Node {name} has not answered for {s:.0} s: look at its power and network cable. \
                 What it may still be showing is kept in the sums."
            ),
        )),
        None if uptime_s > FIRST_ANSWER_WITHIN_S => notices.push(notice(
            "node_never_answered",
            Severity::Warning,
            format!(
                "Node {name} at {} has never answered a poll: check its address and cable.",
                node.address
            ),
        )),
        _ => {}
    }
    // Older errors stay in the count; a cable that was plugged in late is no news all night.
    if node
        .last_send_error_s
        .is_some_and(|s| s < SEND_ERROR_LASTS_S)
    {
        notices.push(notice(
            "send_errors",
            Severity::Warning,
            format!("Frames to node {name} can't be sent: check this machine's network."),
        ));
    }
    if !node.not_listed.is_empty() {
        notices.push(notice(
            "node_lacks_universe",
            Severity::Warning,
            format!(
                "Node {name} does not say that it outputs {}: set its ports to the floor file's.",
                names(&node.not_listed)
            ),
        ));
    }
    if let Some(port) = node.ports.iter().find(|port| port.short_circuit) {
        notices.push(notice(
            "node_short_circuit",
            Severity::Warning,
            format!(
                "Node {name} reports a short circuit at {}.",
                port.port_address
            ),
        ));
    }
}

fn of_signal(state: &State, when_lost: WhenLost) -> Option<Notice> {
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
            let text = format!("Universes that do not arrive: {}.", names(&missing));
            warn("signal_partial", text)
        }
        SignalState::Waiting => {
            let others = state.universes.iter().filter(|universe| !universe.mapped);
            let others: Vec<String> = others.map(|other| other.port_address.clone()).collect();
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

/// One notice for each source that came after two others.
fn of_third_sources(state: &State) -> Vec<Notice> {
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

fn names(all: &[String]) -> String {
    let some = all
        .iter()
        .take(MOST_NAMES)
        .map(String::as_str)
        .collect::<Vec<_>>()
        .join(", ");
    match all.len().checked_sub(MOST_NAMES) {
        None | Some(0) => some,
        Some(more) => format!("{some} and {more} more"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    use super::super::snapshot::{ArrivalState, SourceState, UniverseState};

    fn told(state: &State) -> Vec<Notice> {
        of(state, WhenLost::Fade { s: 2.0 })
    }

    fn codes(state: &State) -> Vec<String> {
        told(state).into_iter().map(|notice| notice.code).collect()
    }

    fn load(name: &str) -> LoadState {
        LoadState {
            name: name.into(),
            limit_a: 8.0,
            scale: 1.0,
            ..LoadState::default()
        }
    }

    fn capped() -> State {
        State {
            signal: SignalState::Live,
            uptime_s: 5.0,
            feeds: vec![load("fine"), load("capped"), load("idle")],
            nodes: vec![NodeState {
                online: true,
                ..NodeState::default()
            }],
            ..State::default()
        }
    }

    fn universe(port_address: &str, third: Option<&str>) -> UniverseState {
        let source = |address: &str| SourceState {
            address: address.into(),
            physical: 0,
            age_s: 0.0,
            ignored: true,
        };
        UniverseState {
            port_address: port_address.into(),
            fps: 0.0,
            age_s: Some(0.0),
            sources: third.map(source).into_iter().collect(),
            slots: 2,
            mapped: third.is_some(),
            merging: true,
            synced: false,
            lost: false,
            arrival: ArrivalState::default(),
        }
    }

    #[test]
    fn the_worst_comes_first() {
        let mut state = capped();
        state.signal = SignalState::Lost;
        assert_eq!(codes(&state), ["signal_lost"]);
        state.feeds[1].scale = 0.5;
        state.feeds[2].impossible = true;
        assert_eq!(codes(&state), ["idle_over_limit", "signal_lost", "capping"]);
        state.feeds[0].reserved_a = 8.1;
        assert_eq!(codes(&state)[0], "may_be_over_limit");
        assert_eq!(told(&state)[0].severity, Severity::Danger);
    }

    #[test]
    fn the_cap_says_what_it_dims_most_and_why() {
        let mut state = capped();
        state.feeds[1].scale = 0.5;
        state.feeds[1].asked_a = 16.0;
        let capping = |state: &State| told(state).pop().unwrap().text;
        assert_eq!(
            capping(&state),
            "The cap dims feed capped most, to 50 %: 16.00 A asked, limit 8.00 A."
        );
        state.feeds[0].scale = 0.5;
        assert!(capping(&state).ends_with("One more element is dimmed."));
        state.feeds[0].asked_a = 3.0;
        let text = capping(&state);
        assert!(
            text.starts_with("The cap is letting up: feed fine is back at 50 %."),
            "{text}"
        );
        // What a silent node may show is not asked for anew, but takes room from the others.
        state.feeds[0].silent_a = 4.0;
        let text = capping(&state);
        assert!(
            text.contains("of its limit of 8.00 A, 4.00 A stay reserved"),
            "{text}"
        );
    }

    #[test]
    fn a_floor_that_is_only_watched_is_not_said_to_be_held_back() {
        let mut state = capped();
        state.feeds[1].asked_a = 8.1;
        assert_eq!(codes(&state), [""; 0]);
        state.nodes.clear();
        state.signal = SignalState::Lost;
        let notices = told(&state);
        assert_eq!(
            (&*notices[0].code, notices[0].severity),
            ("over_limit", Severity::Danger)
        );
        assert!(
            notices[0]
                .text
                .starts_with("Feed capped: 8.10 A computed, over its limit of 8.00 A."),
            "{}",
            notices[0].text
        );
        assert!(
            notices[1].text.ends_with("arrives any more."),
            "{}",
            notices[1].text
        );
    }

    #[test]
    fn a_console_on_other_universes_is_not_called_silent() {
        let mut state = capped();
        state.signal = SignalState::Waiting;
        assert_eq!(codes(&state), [""; 0]);
        state.universes = vec![universe("0:0:0", None)];
        let notice = told(&state).pop().unwrap();
        assert_eq!(notice.code, "unmapped_only");
        assert!(
            notice.text.contains("does not map: 0:0:0."),
            "{}",
            notice.text
        );
    }

    #[test]
    fn a_third_source_is_named_once() {
        let mut state = capped();
        let third = Some("10.0.0.9");
        state.universes = vec![universe("0:0:1", third), universe("0:0:2", third)];
        assert_eq!(codes(&state), ["third_source"]);
        let text = &told(&state)[0].text;
        assert!(
            text.starts_with("10.0.0.9 is a third source of universes 0:0:1, 0:0:2: it is ignored"),
            "{text}"
        );
    }

    #[test]
    fn long_lists_are_cut() {
        let all: Vec<String> = (0..11).map(|n| n.to_string()).collect();
        assert_eq!(names(&all), "0, 1, 2, 3, 4, 5, 6, 7 and 3 more");
        assert_eq!(names(&all[..8]), "0, 1, 2, 3, 4, 5, 6, 7");
    }
}
