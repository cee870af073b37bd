//! What someone should know now, in sentences that say what to do.

use super::snapshot::{LoadState, NodeState, Notice, Severity, SignalState, State};

/// A factor nearer to one than this is no dimming that anyone sees.
const DIMMED_BELOW: f64 = 0.995;

/// A node that has not answered since the start is named after so long.
const FIRST_ANSWER_WITHIN_S: f64 = 10.0;

/// In the first moments every node may be showing anything; that is no news yet.
const STARTS_WITHIN_S: f64 = 1.0;

/// Frames that could not be sent are told of for so long.
const SEND_ERROR_LASTS_S: f64 = 5.0;

/// Names that one notice lists before it says "and more".
const MOST_NAMES: usize = 8;

/// All notices of a state, worst first.
pub(super) fn of(state: &State) -> Vec<Notice> {
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
            .filter_map(|(kind, load)| of_load(kind, load, state.uptime_s)),
    );
    let impossible: Vec<String> = state
        .panels
        .iter()
        .filter(|panel| panel.impossible)
        .map(|panel| panel.position.clone())
        .collect();
    if !impossible.is_empty() {
        let text = format!(
            "Even dark, panels draw more than the limit of their own wiring: {}. No cap can keep \
             it: look at idle_ma and rated_a in the floor file.",
            names(&impossible)
        );
        notices.push(notice("idle_over_limit", Severity::Danger, text));
    }
    notices.extend(of_cap(&loads));
    for node in &state.nodes {
        of_node(node, state.uptime_s, &mut notices);
    }
    notices.extend(of_signal(state));
    for universe in &state.universes {
        if let Some(third) = universe.sources.iter().find(|source| source.ignored) {
            notices.push(notice(
                "third_source",
                Severity::Warning,
                format!(
                    "Universe {} has a third source, {}: it is ignored.",
                    universe.port_address, third.address
                ),
            ));
        }
    }
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

fn of_load(kind: &str, load: &LoadState, uptime_s: f64) -> Option<Notice> {
    let LoadState {
        name,
        limit_a,
        idle_a,
        reserved_a,
        ..
    } = load;
    if load.impossible {
        let text = format!(
            "{kind} {name}: even with every panel dark it draws {idle_a:.2} A, over its limit of \
             {limit_a:.2} A. No cap can keep it: take panels off it."
        );
        return Some(notice("idle_over_limit", Severity::Danger, text));
    }
    // Sums in amperes of exact draws: a part in a million is rounding.
    if uptime_s > STARTS_WITHIN_S && *reserved_a > limit_a * 1.000_001 {
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
        scale,
        ..
    } = least;
    let kind = kind.to_lowercase();
    let others = match dimmed().count() - 1 {
        0 => String::new(),
        1 => " One more is dimmed less.".to_owned(),
        more => format!(" {more} more are dimmed less."),
    };
    let per_cent = scale * 100.0;
    let text = if asked_a > limit_a {
        format!(
            "The cap dims {kind} {name} to {per_cent:.0} %: {asked_a:.2} A asked, limit \
             {limit_a:.2} A.{others}"
        )
    } else {
        format!("The cap lets up: {kind} {name} is at {per_cent:.0} % again.{others}")
    };
    Some(notice("capping", Severity::Info, text))
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

fn of_signal(state: &State) -> Option<Notice> {
    match state.signal {
        SignalState::Lost => Some(notice(
            "signal_lost",
            Severity::Warning,
            "The signal is lost: no universe of the floor arrives any more.".to_owned(),
        )),
        SignalState::Partial => {
            let missing: Vec<String> = state
                .universes
                .iter()
                .filter(|universe| universe.mapped && (universe.lost || universe.age_s.is_none()))
                .map(|universe| universe.port_address.clone())
                .collect();
            let text = format!("Universes that do not arrive: {}.", names(&missing));
            Some(notice("signal_partial", Severity::Warning, text))
        }
        SignalState::Waiting | SignalState::Live => None,
    }
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

    fn codes(state: &State) -> Vec<String> {
        of(state).into_iter().map(|notice| notice.code).collect()
    }

    #[test]
    fn the_worst_comes_first() {
        let load = |name: &str| LoadState {
            name: name.into(),
            limit_a: 8.0,
            scale: 1.0,
            ..LoadState::default()
        };
        let mut state = State {
            signal: SignalState::Lost,
            uptime_s: 5.0,
            feeds: vec![load("fine"), load("capped"), load("idle")],
            ..State::default()
        };
        assert_eq!(codes(&state), ["signal_lost"]);
        state.feeds[1].scale = 0.5;
        state.feeds[2].impossible = true;
        assert_eq!(codes(&state), ["idle_over_limit", "signal_lost", "capping"]);
        state.feeds[1].asked_a = 16.0;
        let capping = |state: &State| of(state).pop().unwrap().text;
        assert_eq!(
            capping(&state),
            "The cap dims feed capped to 50 %: 16.00 A asked, limit 8.00 A."
        );
        state.feeds[0].scale = 0.9;
        assert!(capping(&state).ends_with("One more is dimmed less."));
        state.feeds[1].asked_a = 3.0;
        assert!(capping(&state).starts_with("The cap lets up: feed capped is at 50 % again."));
        state.feeds[0].reserved_a = 8.1;
        assert_eq!(of(&state)[0].severity, Severity::Danger);
    }

    #[test]
    fn long_lists_are_cut() {
        let all: Vec<String> = (0..11).map(|n| n.to_string()).collect();
        assert_eq!(names(&all), "0, 1, 2, 3, 4, 5, 6, 7 and 3 more");
        assert_eq!(names(&all[..8]), "0, 1, 2, 3, 4, 5, 6, 7");
    }
}
