//! Alarms of circuits, supplies and feeds, looked for ten times a second.

use super::Engine;
use super::snapshot::{AlarmState, LoadState, Severity, State};
use crate::power::alarm::{Alarms, Cause, Sign};
use crate::power::record::{DIMMED_BELOW, Element, Kind};
use crate::power::tree::{ElementIndex, Level};
use crate::units::Time;

impl Engine {
    /// Every element that has alarms, by its number in the tree.
    fn alarmed(&self) -> Vec<(ElementIndex, Kind, &str)> {
        let (floor, tree) = (&*self.floor, self.limiter.tree());
        let circuits = floor.circuits.iter().enumerate();
        let circuits = circuits.map(|(at, one)| (tree.circuit(at), Kind::Circuit, &*one.name));
        let supplies = floor.supplies.iter().enumerate();
        let supplies = supplies.map(|(at, one)| (tree.supply(at), Kind::Supply, &*one.name));
        let feeds = floor.feeds.iter().enumerate();
        let feeds = feeds.map(|(at, one)| (tree.feed(at), Kind::Feed, &*one.name));
        circuits.chain(supplies).chain(feeds).collect()
    }

    /// Sees what is near a limit now, and what the cap dims.
    pub(super) fn look_for_alarms(&mut self, now: Time) {
        let tree = self.limiter.tree();
        for (number, own) in (0..).zip(&tree.elements) {
            if own.level == Level::Panel {
                continue;
            }
            let reading = self.limiter.reading(number);
            // What is only watched draws what is asked.
            let draw = if own.capped {
                reading.sent
            } else {
                reading.asked
            };
            let (draw_a, limit_a) = (draw.amps().0, own.limit.amps().0);
            let share = if limit_a > 0.0 { draw_a / limit_a } else { 0.0 };
            let settings = &self.floor.alarm;
            let near = if own.impossible() {
                // That is told already, and worse.
                Sign::Clear
            } else {
                Sign::near(share, settings)
            };
            let dims = Sign::of(self.limiter.scale(number).fraction() < DIMMED_BELOW);
            self.alarms.see(now, Cause::NearLimit, number, near, 0.0);
            self.alarms
                .see(now, Cause::CappingLong, number, dims, settings.capping_s);
        }
    }

    /// What is raised, told of the loads of `state`.
    pub(super) fn alarm_states(&self, state: &State, now: Time) -> Vec<AlarmState> {
        let named = self.alarmed();
        let told = self.alarms.raised().filter_map(|(cause, number, since)| {
            let (_, kind, name) = named.iter().find(|(element, ..)| *element == number)?;
            let loads = match kind {
                Kind::Circuit => &state.circuits,
                Kind::Supply => &state.supplies,
                Kind::Feed => &state.feeds,
                Kind::Floor => return None,
            };
            let load = loads.iter().find(|load| load.name == *name)?;
            let watched = state.nodes.is_empty();
            let element = Element {
                kind: *kind,
                name: (*name).to_owned(),
            };
            Some(AlarmState {
                code: cause.code().to_owned(),
                severity: Severity::Warning,
                text: text(cause, *kind, load, watched, now.s_since(since)),
                element: element.to_string(),
                since_s: since.s_since(self.started),
            })
        });
        told.collect()
    }

    /// Alarms go on on another floor where the names are the same.
    pub(super) fn take_over_alarms(&mut self, before: &Self) {
        let (here, there) = (self.alarmed(), before.alarmed());
        let mut alarms = Alarms::default();
        alarms.take_over(&before.alarms, |was| {
            let (_, kind, name) = there.iter().find(|(number, ..)| *number == was)?;
            let same = here.iter().find(|(_, k, n)| (k, n) == (kind, name))?;
            Some(same.0)
        });
        self.alarms = alarms;
    }
}

fn text(cause: Cause, kind: Kind, load: &LoadState, watched: bool, s: f64) -> String {
    let LoadState {
        name,
        limit_a,
        asked_a,
        scale,
        ..
    } = load;
    let mut word = kind.word().to_owned();
    word[..1].make_ascii_uppercase();
    if cause == Cause::CappingLong {
        let per_cent = scale * 100.0;
        return format!(
            "{word} {name}: dimmed by the cap for {s:.0} s, now to {per_cent:.0} %. \
             {asked_a:.2} A asked, limit {limit_a:.2} A."
        );
    }
    let draw_a = if watched { *asked_a } else { load.draw_a };
    let per_cent = draw_a / limit_a * 100.0;
    format!("{word} {name}: {draw_a:.2} A drawn, {per_cent:.0} % of its limit of {limit_a:.2} A.")
}
