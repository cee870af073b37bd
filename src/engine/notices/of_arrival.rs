//! What is wrong with how universes arrive: one notice for each fault, not one for each universe.

use super::super::snapshot::{Notice, Severity, State, UniverseState};
use super::{names, notice};

/// Missing frames are told of from so many in a minute, and from this share of all (our choice).
const MISSING_FROM: u32 = 10;
const MISSING_SHARE: f64 = 0.01;

/// Sources that came in each other's place so often in a minute take turns (our choice).
const TURNS_FROM: u32 = 3;

/// All of them.
pub(super) fn all(state: &State) -> Vec<Notice> {
    let arriving = state.universes.iter();
    let arriving: Vec<&UniverseState> = arriving
        .filter(|universe| universe.mapped && universe.age_s.is_some() && !universe.lost)
        .collect();
    let of = |told: fn(&UniverseState) -> Option<String>| -> Vec<String> {
        arriving.iter().filter_map(|one| told(one)).collect()
    };
    let warn = |code, found: Vec<String>, text: &dyn Fn(String) -> String| {
        (!found.is_empty()).then(|| notice(code, Severity::Warning, text(names(&found))))
    };
    let found = [
        warn("frames_too_short", of(short), &|which| {
            format!(
                "Frames end before the slots that the file maps: {which}. Let the console send \
                 whole universes."
            )
        }),
        warn("universe_offset", of(offset), &|which| {
            format!(
                "The light lies beside the mapped slots: {which}. Compare the start slots at the \
                 console with the floor file's; the patch page checks it with a reference."
            )
        }),
        warn("sources_fight", of(fight), &|which| {
            format!(
                "Two sources light the same slots differently: {which}. Stop one of them, or give \
                 each its own panels."
            )
        }),
        warn("sources_take_turns", of(turns), &|which| {
            format!(
                "Sources come in each other's place: {which}. Two programs may be sending, or one \
                 changes its address."
            )
        }),
        warn("frames_missing", of(missing), &|which| {
            format!(
                "Frames get lost on the way, as their numbers say: {which}. Use a cable instead of \
                 Wi-Fi between console and litfloor, and look at the switch."
            )
        }),
    ];
    found.into_iter().flatten().collect()
}

fn short(universe: &UniverseState) -> Option<String> {
    let arrival = &universe.arrival;
    let text = || {
        let panels = names(&arrival.cut_off);
        format!(
            "{} by {} slots (without them: {panels})",
            universe.port_address, arrival.short_by_slots
        )
    };
    (arrival.short_by_slots > 0).then(text)
}

fn offset(universe: &UniverseState) -> Option<String> {
    let by = universe.arrival.offset_slots?;
    let way = if by > 0 { "later" } else { "earlier" };
    let slots = by.unsigned_abs();
    let word = if slots == 1 { "slot" } else { "slots" };
    Some(format!("{} {slots} {word} {way}", universe.port_address))
}

fn fight(universe: &UniverseState) -> Option<String> {
    let slots = universe.arrival.contested_slots;
    let text = || format!("{} ({slots} slots)", universe.port_address);
    (slots > 0).then(text)
}

fn turns(universe: &UniverseState) -> Option<String> {
    let times = universe.arrival.source_changes;
    let text = || format!("{} ({times} times in a minute)", universe.port_address);
    (times >= TURNS_FROM).then(text)
}

fn missing(universe: &UniverseState) -> Option<String> {
    let missing = universe.arrival.missing_frames?;
    let of_minute = universe.fps * 60.0 + f64::from(missing);
    let many = missing >= MISSING_FROM && f64::from(missing) >= MISSING_SHARE * of_minute;
    let text = || format!("{} ({missing} in a minute)", universe.port_address);
    many.then(text)
}

#[cfg(test)]
mod tests {
    use super::*;

    use super::super::super::snapshot::ArrivalState;

    fn universe(port_address: &str, arrival: ArrivalState) -> UniverseState {
        UniverseState {
            port_address: port_address.into(),
            fps: 40.0,
            age_s: Some(0.0),
            sources: Vec::new(),
            slots: 24,
            mapped: true,
            merging: false,
            synced: false,
            lost: false,
            arrival,
        }
    }

    fn told(universes: Vec<UniverseState>) -> Vec<(String, String)> {
        let state = State {
            universes,
            ..State::default()
        };
        let notices = all(&state).into_iter();
        notices.map(|notice| (notice.code, notice.text)).collect()
    }

    #[test]
    fn one_notice_names_all_universes_of_a_fault() {
        let short = |by| ArrivalState {
            short_by_slots: by,
            cut_off: vec!["C4".into(), "D4".into()],
            ..ArrivalState::default()
        };
        let offset = |by| ArrivalState {
            offset_slots: Some(by),
            ..ArrivalState::default()
        };
        let mut silent = universe("0:0:9", short(3));
        silent.lost = true;
        let notices = told(vec![
            universe("0:0:1", short(24)),
            universe("0:0:2", short(6)),
            universe("0:0:3", offset(1)),
            universe("0:0:4", offset(-12)),
            universe("0:0:5", ArrivalState::default()),
            silent,
        ]);
        let codes: Vec<&str> = notices.iter().map(|(code, _)| code.as_str()).collect();
        assert_eq!(codes, ["frames_too_short", "universe_offset"]);
        let starts = "Frames end before the slots that the file maps: 0:0:1 by 24 slots (without \
                      them: C4, D4), 0:0:2 by 6 slots";
        assert!(notices[0].1.starts_with(starts), "{}", notices[0].1);
        let starts = "The light lies beside the mapped slots: 0:0:3 1 slot later, 0:0:4 12 slots \
                      earlier.";
        assert!(notices[1].1.starts_with(starts), "{}", notices[1].1);
    }

    #[test]
    fn a_few_missing_frames_are_no_news() {
        // 40 frames a second are 2,400 a minute: 1 % of what was sent is 24.24.
        for (missing, told_of) in [(9, false), (24, false), (25, true)] {
            let arrival = ArrivalState {
                missing_frames: Some(missing),
                ..ArrivalState::default()
            };
            assert_eq!(told(vec![universe("0:0:1", arrival)]).len() == 1, told_of);
        }
        let turns = |source_changes| ArrivalState {
            source_changes,
            contested_slots: source_changes,
            ..ArrivalState::default()
        };
        assert_eq!(told(vec![universe("0:0:1", turns(0))]), []);
        assert_eq!(told(vec![universe("0:0:1", turns(3))]).len(), 2);
    }
}
