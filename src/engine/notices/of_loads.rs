//! What circuits, supplies and feeds draw, against their limits, and what the cap holds back.

use super::super::snapshot::{FloorLoadState, LoadState, Notice, Severity, State};
use super::{ROUNDING, notice};
use crate::power::record::DIMMED_BELOW;

/// In the first moments every node may be showing anything; that is no news yet.
const STARTS_WITHIN_S: f64 = 1.0;

/// Everything that has a limit, with the word for what it is.
pub(super) fn all(state: &State) -> Vec<(&'static str, &LoadState)> {
    [
        ("Circuit", &state.circuits),
        ("Supply", &state.supplies),
        ("Feed", &state.feeds),
    ]
    .into_iter()
    .flat_map(|(kind, loads)| loads.iter().map(move |load| (kind, load)))
    .collect()
}

/// What is wrong with one of them.
pub(super) fn of_load(
    kind: &str,
    load: &LoadState,
    watched: bool,
    uptime_s: f64,
) -> Option<Notice> {
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
    // A peak whose account is spent goes on only where a node can't be reached.
    let peak = load.peak.filter(|peak| peak.left_as > 0.0);
    let may_a = limit_a + peak.map_or(0.0, |peak| peak.most_a);
    if uptime_s > STARTS_WITHIN_S && *reserved_a > may_a * ROUNDING {
        let text = format!(
            "{kind} {name}: nodes may still be showing {reserved_a:.2} A, over its limit of \
             {limit_a:.2} A, from before they could be reached."
        );
        return Some(notice("may_be_over_limit", Severity::Danger, text));
    }
    None
}

/// What is wrong with the floor as a whole, and that it was turned down.
pub(super) fn of_floor(floor: &FloorLoadState, watched: bool, uptime_s: f64) -> Vec<Notice> {
    let mut notices = Vec::new();
    let FloorLoadState {
        asked_va,
        reserved_va,
        idle_va,
        ..
    } = floor;
    if let (Some(live_va), false) = (floor.live_limit_va, watched) {
        let text = format!(
            "The floor is turned down to {live_va:.0} VA while it runs; {asked_va:.0} VA are asked."
        );
        notices.push(notice("turned_down", Severity::Info, text));
    }
    let Some(limit_va) = floor.limit_va else {
        return notices;
    };
    if floor.scale < DIMMED_BELOW && !floor.impossible {
        let per_cent = floor.scale * 100.0;
        let text = format!(
            "The cap dims the whole floor to {per_cent:.0} %: {asked_va:.0} VA asked, limit \
             {limit_va:.0} VA."
        );
        notices.push(notice("capping", Severity::Info, text));
    }
    if floor.impossible {
        let text = format!(
            "Floor: even with every panel dark it draws {idle_va:.0} VA, over its limit of \
             {limit_va:.0} VA. All goes dark, and no cap can keep it: raise the limit, or switch \
             supplies off."
        );
        notices.push(notice("idle_over_limit", Severity::Danger, text));
    } else if watched && *asked_va > limit_va * ROUNDING {
        let text = format!(
            "Floor: {asked_va:.0} VA computed, over its limit of {limit_va:.0} VA. litfloor only \
             watches this floor and can't hold it back: dim it at the console now."
        );
        notices.push(notice("over_limit", Severity::Danger, text));
    } else if !watched && uptime_s > STARTS_WITHIN_S && *reserved_va > limit_va * ROUNDING {
        let text = format!(
            "Floor: nodes may still be showing {reserved_va:.0} VA, over its limit of \
             {limit_va:.0} VA, from before they could be reached or it was turned down."
        );
        notices.push(notice("may_be_over_limit", Severity::Danger, text));
    }
    notices
}

/// One notice for all that the cap holds back: a bright picture touches every feed at once.
pub(super) fn of_cap(loads: &[(&str, &LoadState)]) -> Option<Notice> {
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
