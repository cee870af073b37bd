//! Alarms of the floor, circuits, supplies and feeds, looked for ten times a second.

use std::sync::Arc;

use super::Engine;
use super::snapshot::{
    AlarmState, FloorLoadState, LoadState, SensorState, SensorVerdict, Severity, State,
};
use super::voltages::Voltages;
use crate::power::alarm::{Alarms, Cause, Sign};
use crate::power::meter::Verdict;
use crate::power::record::{DIMMED_BELOW, Element, Kind};
use crate::power::tree::{ElementIndex, Level};
use crate::units::Time;

/// Voltages of a longer time ago say nothing of now.
const STALE_S: f64 = 5.0;

/// Sensors have numbers of their own, from here on, beside those of the tree.
const SENSORS: u32 = 1 << 31;

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
        let floor = std::iter::once((tree.floor(), Kind::Floor, ""));
        let all = floor.chain(circuits).chain(supplies).chain(feeds);
        all.collect()
    }

    /// Takes in the voltages that were found of what is being sent.
    pub fn see_voltages(&mut self, voltages: &Arc<Voltages>) {
        self.voltages = Some(Arc::clone(voltages));
    }

    /// The lowest voltage behind a feed, if it is known of this floor, and the lowest that is well.
    fn lowest_v(&self, feed: usize, now: Time) -> (Option<f64>, f64) {
        let found = self.voltages.as_ref();
        let fresh = |found: &&Arc<Voltages>| {
            found.found
                && found.revision == self.revision
                && now.s_since(self.started) - found.uptime_s < STALE_S
        };
        let found = found.filter(fresh);
        let lowest_v = found.and_then(|found| Some(found.feeds.get(feed)?.lowest_v));
        let supply = &self.floor.supplies[self.floor.feeds[feed].supply];
        let allowed = 1.0 - self.floor.plan.drop_percent / 100.0;
        (lowest_v, supply.volts.0 * allowed)
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
            let (draw_a, limit_a) = (draw.amps().0, own.kept().amps().0);
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
        for (number, verdict) in (SENSORS..).zip(self.metering.verdicts(now)) {
            let apart = Sign::of(matches!(verdict, Verdict::Apart(_)));
            let lost = matches!(verdict, Verdict::Silent | Verdict::Frozen | Verdict::Absurd);
            self.alarms
                .see(now, Cause::MeasuredApart, number, apart, 0.0);
            self.alarms
                .see(now, Cause::SensorLost, number, Sign::of(lost), 0.0);
        }
        for feed in 0..self.floor.feeds.len() {
            let (lowest_v, well_v) = self.lowest_v(feed, now);
            let low = Sign::voltage(lowest_v, well_v);
            let number = self.limiter.tree().feed(feed);
            self.alarms.see(now, Cause::VoltageLow, number, low, 0.0);
        }
    }

    /// What is raised, told of the loads of `state`.
    pub(super) fn alarm_states(&self, state: &State, now: Time) -> Vec<AlarmState> {
        let named = self.alarmed();
        let told = self.alarms.raised().filter_map(|(cause, number, since)| {
            if let Some(at) = number.checked_sub(SENSORS) {
                let sensor = state.sensors.get(at as usize)?;
                return Some(AlarmState {
                    code: cause.code().to_owned(),
                    severity: Severity::Warning,
                    text: text_of_sensor(sensor),
                    element: format!("sensor:{}", sensor.name),
                    since_s: since.s_since(self.started),
                });
            }
            let (_, kind, name) = named.iter().find(|(element, ..)| *element == number)?;
            let loads = match kind {
                Kind::Circuit => state.circuits.as_slice(),
                Kind::Supply => &state.supplies,
                Kind::Feed => &state.feeds,
                Kind::Floor => &[],
            };
            let load = loads.iter().find(|load| load.name == *name);
            let watched = state.nodes.is_empty();
            let lasts_s = now.s_since(since);
            let element = Element {
                kind: *kind,
                name: (*name).to_owned(),
            };
            Some(AlarmState {
                code: cause.code().to_owned(),
                severity: Severity::Warning,
                text: match (cause, load) {
                    (Cause::VoltageLow, _) => self.text_of_voltage(name, now)?,
                    (_, Some(load)) => text(cause, *kind, load, watched, lasts_s),
                    (_, None) => text_of_floor(cause, &state.floor, watched, lasts_s)?,
                },
                element: element.to_string(),
                since_s: since.s_since(self.started),
            })
        });
        told.collect()
    }

    /// Of the feed `name`.
    fn text_of_voltage(&self, name: &str, now: Time) -> Option<String> {
        let feed = self.floor.feeds.iter().position(|feed| feed.name == name)?;
        let (lowest_v, well_v) = self.lowest_v(feed, now);
        let Some(lowest_v) = lowest_v else {
            return Some(format!("Feed {name}: its voltage is not known any more."));
        };
        if lowest_v >= well_v {
            return Some(format!(
                "Feed {name}: was at less than {well_v:.2} V at its lowest pixel, now at \
                 {lowest_v:.2} V."
            ));
        }
        // As many decimals as tell the two apart.
        let apart = |digits: &usize| format!("{lowest_v:.digits$}") != format!("{well_v:.digits$}");
        let digits = (2..6).find(apart).unwrap_or(6);
        Some(format!(
            "Feed {name}: {lowest_v:.digits$} V at its lowest pixel, less than the {well_v:.2} V that \
             the floor file allows, computed from its cables: light may get darker and change its colour \
             there, and copper gets warm."
        ))
    }

    /// Alarms go on on another floor where the names are the same.
    pub(super) fn take_over_alarms(&mut self, before: &Self) {
        let (here, there) = (self.alarmed(), before.alarmed());
        let mut alarms = Alarms::default();
        alarms.take_over(&before.alarms, |was| {
            if let Some(at) = was.checked_sub(SENSORS) {
                let name = &before.floor.sensors.get(at as usize)?.name;
                let sensors = (SENSORS..).zip(&self.floor.sensors);
                let mut same = sensors.filter(|(_, sensor)| sensor.name == *name);
                return same.next().map(|(number, _)| number);
            }
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
    let share = of_limit(draw_a, *limit_a);
    format!("{word} {name}: {draw_a:.2} A drawn, {share} its limit of {limit_a:.2} A.")
}

/// Of the whole floor; nothing if it has no limit.
fn text_of_floor(cause: Cause, load: &FloorLoadState, watched: bool, s: f64) -> Option<String> {
    let FloorLoadState {
        asked_va, draw_va, ..
    } = *load;
    let limit_va = load.limit_va?;
    if cause == Cause::CappingLong {
        let per_cent = load.scale * 100.0;
        return Some(format!(
            "The whole floor: dimmed by the cap for {s:.0} s, now to {per_cent:.0} %. \
             {asked_va:.0} VA asked, limit {limit_va:.0} VA."
        ));
    }
    let drawn_va = if watched { asked_va } else { draw_va };
    let share = of_limit(drawn_va, limit_va);
    Some(format!(
        "The whole floor: {drawn_va:.0} VA drawn, {share} its limit of {limit_va:.0} VA."
    ))
}

fn text_of_sensor(sensor: &SensorState) -> String {
    let SensorState { name, place, .. } = sensor;
    let unit = if sensor.quantity == "current" {
        "A"
    } else {
        "V"
    };
    let number = |value: Option<f64>| value.map_or("?".to_owned(), |v| format!("{v:.2} {unit}"));
    let what = match sensor.state {
        SensorVerdict::Silent => "says nothing".to_owned(),
        SensorVerdict::Frozen => "says the very same while the light changes".to_owned(),
        SensorVerdict::Absurd => "says what can't be".to_owned(),
        _ => format!(
            "{} measured, {} expected",
            number(sensor.measured),
            number(sensor.expected)
        ),
    };
    format!("Sensor {name} ({place}): {what}.")
}

/// `91 % of`, or `over` where there is no share to tell.
fn of_limit(drawn: f64, limit: f64) -> String {
    if limit > 0.0 {
        format!("{:.0} % of", drawn / limit * 100.0)
    } else {
        "over".to_owned()
    }
}
