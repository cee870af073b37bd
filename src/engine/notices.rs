//! What someone should know now, in sentences that say what to do.

mod of_alarms;
mod of_arrival;
mod of_loads;
mod of_nodes;
mod of_sensors;
mod of_signal;
mod of_standby;
mod of_switches;

use super::snapshot::{FileRefusal, Notice, PanelState, PatternState, Severity, State};
use crate::floor::model::WhenLost;
use crate::power::record::ROUNDING;

/// That the floor was replaced is told for so long.
const TOLD_FOR_S: f64 = 60.0;

/// Names that one notice lists before it says "and more".
const MOST_NAMES: usize = 8;

/// All notices of a state, worst first. A floor without nodes is only watched.
pub(super) fn of(state: &State, when_lost: WhenLost) -> Vec<Notice> {
    let watched = state.nodes.is_empty();
    let mut notices = Vec::new();
    let loads = of_loads::all(state);
    notices.extend(
        loads
            .iter()
            .filter_map(|(kind, load)| of_loads::of_load(kind, load, watched, state.uptime_s)),
    );
    let floor = of_loads::of_floor(&state.floor, watched, state.uptime_s);
    notices.extend(floor);
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
    notices.extend(of_alarms::all(state));
    notices.extend(of_loads::of_cap(&loads));
    notices.extend(state.file.refusal.as_ref().map(of_refusal));
    notices.extend(of_replaced(state));
    notices.extend(state.pattern.as_ref().map(of_pattern));
    for node in &state.nodes {
        of_nodes::of_node(node, state.uptime_s, &mut notices);
    }
    notices.extend(of_signal::of_signal(state, when_lost));
    notices.extend(of_signal::of_third_sources(state));
    notices.extend(of_arrival::all(state));
    notices.extend(of_sensors::all(&state.sensors));
    notices.extend(of_switches::all(&state.inputs));
    notices.extend(of_standby::all(state));
    let not_kept = state.not_kept.iter();
    notices.extend(not_kept.map(|told| notice("not_kept", Severity::Warning, told.clone())));
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
         goes on.{first} `litfloor check` shows all with their places. Mend it before litfloor is started \
         again: it would not start."
    );
    notice("file_refused", Severity::Warning, text)
}

/// Tells for a minute that the floor was replaced, and as long as it is so what is made dark.
fn of_replaced(state: &State) -> Vec<Notice> {
    let mut notices = Vec::new();
    let dark = &state.file.made_dark;
    if !dark.is_empty() {
        let text = format!(
            "The floor file leaves out what it had before: {}. That is sent black for five minutes. \
             If panels there stay lit, switch them off: nobody reckons with their current.",
            names(dark)
        );
        notices.push(notice("made_dark", Severity::Warning, text));
    }
    let since_s = state.uptime_s - state.file.taken_s;
    if state.revision > 1 && since_s < TOLD_FOR_S {
        let text = "The floor file was read again and taken: limits and patch are those of the \
                    new one."
            .to_owned();
        notices.push(notice("floor_replaced", Severity::Info, text));
    }
    notices
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

    use super::super::snapshot::{
        ArrivalState, FloorLoadState, LoadState, NodeState, PeakState, SignalState, SourceState,
        UniverseState,
    };

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
    fn what_a_new_floor_left_out_is_told_and_that_it_is_new_for_a_minute() {
        let mut state = capped();
        state.revision = 2;
        state.file.taken_s = 4.0;
        state.file.made_dark = vec!["0:0:9 at 10.0.0.1:6454".into()];
        let notices = told(&state);
        let text = |code: &str| {
            let found = notices.iter().find(|notice| notice.code == code);
            found.map(|notice| notice.text.as_str()).unwrap_or_default()
        };
        assert!(text("made_dark").contains("0:0:9 at 10.0.0.1:6454. That is sent black"));
        assert!(text("floor_replaced").contains("limits and patch are those of the new one"));
        state.file.made_dark.clear();
        state.uptime_s = 64.5;
        assert!(
            !codes(&state)
                .iter()
                .any(|code| code == "floor_replaced" || code == "made_dark")
        );
    }

    #[test]
    fn who_counts_universes_otherwise_is_asked() {
        let mut state = capped();
        state.signal = SignalState::Partial;
        let missing = UniverseState {
            age_s: None,
            mapped: true,
            ..universe("0:0:5", None)
        };
        state.universes = vec![missing, universe("0:0:0", None)];
        let notices = told(&state);
        let partial = notices
            .iter()
            .find(|notice| notice.code == "signal_partial");
        assert_eq!(
            partial.unwrap().text,
            "Universes that do not arrive: 0:0:5. But 0:0:0 arrives and lights nothing: does the \
             console count universes from 0, or from 1?"
        );
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
        // A peak is no news until it is more than the file allows.
        let peak = PeakState {
            most_a: 1.0,
            left_as: 0.5,
            ..PeakState::default()
        };
        state.feeds[0].peak = Some(peak);
        assert_eq!(codes(&state)[0], "idle_over_limit");
        // With its account spent it should have ended.
        state.feeds[0].peak = Some(PeakState {
            left_as: -0.1,
            ..peak
        });
        assert_eq!(codes(&state)[0], "may_be_over_limit");
        state.feeds[0].peak = Some(peak);
        state.feeds[0].reserved_a = 9.1;
        assert_eq!(codes(&state)[0], "may_be_over_limit");
        assert_eq!(told(&state)[0].severity, Severity::Danger);
    }

    #[test]
    fn a_floor_that_was_turned_down_says_so() {
        let mut state = capped();
        state.floor = FloorLoadState {
            asked_va: 5_000.0,
            idle_va: 200.0,
            live_limit_va: Some(3_000.0),
            limit_va: Some(3_000.0),
            scale: 0.58,
            ..FloorLoadState::default()
        };
        assert_eq!(codes(&state), ["turned_down", "capping"]);
        state.floor.reserved_va = 3_100.0;
        assert_eq!(codes(&state)[0], "may_be_over_limit");
        state.floor.impossible = true;
        assert_eq!(codes(&state), ["idle_over_limit", "turned_down"]);
        // Nothing can be turned down where nothing is sent.
        state.floor.impossible = false;
        state.nodes.clear();
        assert!(codes(&state).contains(&"over_limit".to_owned()));
        assert!(!codes(&state).contains(&"turned_down".to_owned()));
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
