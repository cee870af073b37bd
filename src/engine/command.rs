//! Orders from people: test patterns in place of the console's picture.
//!
//! A pattern is laid over what the sources ask, so it takes the same way out under the same
//! limits. What they send goes on being merged underneath and shows again when it ends.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::Engine;
use super::metering::{Kept, NotBegun};
use super::out::Outlet;
use super::snapshot::PatternState;
use super::survey::{self, Ending};
use crate::pattern::{Refused, Show, Start, Woven};
use crate::units::Time;

/// The longest time that a pattern may last, in seconds.
pub const MOST_S: u32 = 3_600;

/// Names of lit panels that a snapshot lists.
const MOST_NAMES: usize = 16;

/// An order.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(tag = "command", rename_all = "snake_case")]
pub enum Command {
    /// Show a pattern, in place of the one that is shown.
    Start(Start),
    /// Go to another step of it and stay there.
    Step(Step),
    /// Show the console's picture again.
    Stop,
    /// Turn the whole floor down, or up again.
    LimitFloor(LiveLimit),
    /// This owner went away: what it started ends. Not for the one who asks to say.
    #[serde(skip)]
    OwnerGone(u64),
    /// What this order started ends, if it is still shown. Likewise.
    #[serde(skip)]
    Withdraw(Start),
    /// Sensors say this, in amperes or volts, by their names. Likewise.
    #[serde(skip)]
    Readings(Vec<(String, f64)>),
    /// Light the floor in known ways and learn from its sensors what it really draws. Likewise.
    #[serde(skip)]
    Calibrate,
    /// End that. Likewise.
    #[serde(skip)]
    StopCalibration,
    /// What is known of faults has changed so often. Likewise.
    #[serde(skip)]
    HealthVersion(u32),
    /// This is what earlier runs taught. Likewise.
    #[serde(skip)]
    Calibrations(Vec<Kept>),
    /// This can't be kept, and why: sentences for people, none if all is. Likewise.
    #[serde(skip)]
    NotKept(Vec<String>),
    /// Begin a survey: go dark and wait for its first light. Likewise.
    #[serde(skip)]
    Survey(survey::Wish),
    /// Show the next light of a survey. Likewise.
    #[serde(skip)]
    SurveyLight(survey::Light),
    /// End the survey with this number, or whichever is under way. Likewise.
    #[serde(skip)]
    StopSurvey(Option<u32>),
}

/// The limit of the whole floor that someone sets while it runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LiveLimit {
    /// Apparent mains power in volt-amperes; nothing: as the floor file says. It can lower the limit
    /// of the floor file, never raise it.
    // What is left out must not take a limit away.
    #[serde(deserialize_with = "Option::deserialize")]
    #[schema(required, example = 3000)]
    pub floor_va: Option<u32>,
}

/// Which step.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Step {
    /// So many on, or back if negative, round the ends.
    By(i32),
    /// This one, counted from 0.
    To(u32),
}

/// A pattern that is shown.
#[derive(Debug)]
pub(super) struct Running {
    show: Show,
    order: Start,
    since: Time,
    ends: Time,
    next: Option<Time>,
    /// Whether what was ordered is not shown yet, lest orders flash the floor.
    pub(super) waits: bool,
    /// Whether it is the light of a survey.
    surveys: bool,
}

impl Running {
    fn ms(&self, now: Time) -> u64 {
        now.us_since(self.since) / 1_000
    }

    const fn has_steps(&self) -> bool {
        self.order.pattern.pace().is_some()
    }

    /// When it needs a tick next.
    pub(super) fn next(&self) -> Time {
        self.next.map_or(self.ends, |next| next.min(self.ends))
    }
}

impl Engine {
    /// Follows an order and says which pattern is shown then.
    ///
    /// # Errors
    /// Says what is wrong with the order, and what would do; nothing changes then.
    pub fn command(
        &mut self,
        now: Time,
        command: Command,
        outlet: &mut impl Outlet,
    ) -> Result<Option<PatternState>, Refused> {
        self.may_follow(&command)?;
        match command {
            Command::Start(start) => {
                self.running = Some(self.prepare(start, now)?);
                self.survey_ends(Ending::OtherLight);
                self.show_ordered(now, outlet);
            }
            Command::Step(step) => {
                let nothing = "No pattern with steps is shown: start one.";
                let nothing = || Refused::new("no_steps", nothing);
                let running = self.running.as_mut().filter(|running| running.has_steps());
                let running = running.ok_or_else(nothing)?;
                match step {
                    Step::By(by) => running.show.go(by, running.ms(now)),
                    Step::To(step) => running.show.go_to(step)?,
                }
                self.show_ordered(now, outlet);
            }
            Command::Stop => {
                self.survey_ends(Ending::Stopped);
                self.end_pattern(now, outlet);
            }
            Command::LimitFloor(limit) => self.limit_floor(limit, now, outlet)?,
            Command::OwnerGone(owner) => {
                let running = self.running.as_ref();
                if running.is_some_and(|running| running.order.owner == Some(owner)) {
                    self.survey_ends(Ending::StarterGone);
                    self.end_pattern(now, outlet);
                }
            }
            Command::Withdraw(order) => {
                let running = self.running.as_ref();
                if running.is_some_and(|running| running.order == order && !running.surveys) {
                    self.end_pattern(now, outlet);
                }
            }
            Command::Readings(readings) => self.take_readings(&readings, now),
            Command::Calibrate => self.begin_calibration(now, outlet).map_err(not_begun)?,
            Command::StopCalibration => self.stop_calibration(now, outlet),
            Command::HealthVersion(version) => self.health_version = version,
            Command::NotKept(told) => self.not_kept = told,
            Command::Calibrations(kept) => {
                self.take_calibrations(kept);
            }
            Command::Survey(wish) => self.begin_survey(wish, now, outlet)?,
            Command::SurveyLight(light) => self.light_survey(&light, now, outlet)?,
            Command::StopSurvey(run) => self.stop_survey(run, now, outlet),
        }
        Ok(self.pattern_state(now))
    }

    /// Whether what this order started is shown, or is about to be.
    pub(super) fn shows(&self, order: &Start) -> bool {
        let running = self.running.as_ref();
        running.is_some_and(|running| running.order == *order && !running.surveys)
    }

    fn prepare(&self, start: Start, now: Time) -> Result<Running, Refused> {
        if self.floor.nodes.is_empty() {
            let text = "This floor has no nodes: litfloor only watches it and sends nothing, so \
                        it can show no pattern.";
            return Err(Refused::new("watch_only", text));
        }
        let lasts_s = start.lasts_s;
        if !(1..=MOST_S).contains(&lasts_s) {
            let text = format!("A pattern lasts 1 to {MOST_S} s, not {lasts_s}.");
            return Err(Refused::new("lasts_out_of_bounds", text));
        }
        Ok(Running {
            show: Show::new(&start, &self.floor, self.picture.tables())?,
            order: start,
            since: now,
            ends: now.plus_ms(u64::from(lasts_s) * 1_000),
            next: None,
            waits: false,
            surveys: false,
        })
    }

    /// Shows a light of a survey, in place of the one that is shown.
    pub(super) fn start_woven(
        &mut self,
        light: &Woven,
        order: Start,
        ends: Time,
        now: Time,
        outlet: &mut impl Outlet,
    ) {
        self.running = Some(Running {
            show: Show::woven(light, self.picture.tables()),
            order,
            since: now,
            ends,
            next: None,
            waits: false,
            surveys: true,
        });
        self.show_ordered(now, outlet);
    }

    /// The same for the next light of a survey that is shown.
    pub(super) fn go_on_woven(
        &mut self,
        light: &Woven,
        ends: Time,
        now: Time,
        outlet: &mut impl Outlet,
    ) {
        let show = Show::woven(light, self.picture.tables());
        if let Some(running) = &mut self.running {
            (running.show, running.ends, running.next) = (show, ends, None);
            self.show_ordered(now, outlet);
        }
    }

    /// Goes on with a pattern that another floor showed, if this one can show it.
    pub(super) fn take_over_pattern(&mut self, before: &Running, now: Time) {
        let Ok(mut running) = self.prepare(before.order.clone(), now) else {
            return;
        };
        let ms = before.ms(now);
        if before.has_steps() && before.show.is_held() {
            let step = u32::try_from(before.show.step(ms)).unwrap_or(u32::MAX);
            if running.show.go_to(step).is_err() {
                return;
            }
        }
        (running.since, running.ends) = (before.since, before.ends);
        if before.waits {
            (running.waits, running.next) = (true, before.next);
            self.running = Some(running);
            return;
        }
        let next = running.show.next_change_ms(ms);
        running.next = next.map(|next| running.since.plus_ms(next));
        self.picture.lay(Some(&running.show), ms);
        self.running = Some(running);
    }

    /// Lets time pass for the pattern that is shown.
    pub(super) fn run_pattern(&mut self, now: Time, outlet: &mut impl Outlet) {
        let Some(running) = &self.running else { return };
        if now >= running.ends {
            self.survey_ends(Ending::Forgotten);
            self.end_pattern(now, outlet);
        } else if running.next.is_some_and(|next| now >= next) {
            if running.waits {
                self.show_ordered(now, outlet);
            } else {
                self.show_pattern(now, outlet);
            }
        }
    }

    /// Shows what was ordered, as soon as that makes the floor flash no faster than people bear.
    fn show_ordered(&mut self, now: Time, outlet: &mut impl Outlet) {
        let Some(running) = &mut self.running else {
            return;
        };
        let earliest = if running.surveys {
            self.pacing.earliest_of_many(now)
        } else {
            self.pacing.earliest(now)
        };
        running.waits = earliest > now;
        if running.waits {
            running.next = Some(earliest);
        } else {
            self.pacing.changed(now);
            self.show_pattern(now, outlet);
        }
    }

    fn show_pattern(&mut self, now: Time, outlet: &mut impl Outlet) {
        let Some(running) = &mut self.running else {
            return;
        };
        let ms = running.ms(now);
        let next = running.show.next_change_ms(ms);
        running.next = next.map(|next| running.since.plus_ms(next));
        let changed = self.picture.lay(Some(&running.show), ms);
        self.send_changed(&changed, now, outlet);
    }

    pub(super) fn end_pattern(&mut self, now: Time, outlet: &mut impl Outlet) {
        if self.running.take().is_some() {
            self.pacing.changed(now);
            let changed = self.picture.lay(None, 0);
            self.send_changed(&changed, now, outlet);
        }
    }

    /// The pattern that is shown, for people.
    pub(super) fn pattern_state(&self, now: Time) -> Option<PatternState> {
        let running = self.running.as_ref()?;
        let Running { show, .. } = running;
        let ms = running.ms(now);
        let count = |count: usize| u32::try_from(count).unwrap_or(u32::MAX);
        let panels = show.panels(ms);
        let names = panels.iter().take(MOST_NAMES);
        Some(PatternState {
            kind: if running.surveys {
                "survey".to_owned()
            } else {
                running.order.pattern.kind().to_owned()
            },
            what: show.words(ms),
            lit: names
                .map(|&at| self.floor.panels[at].position.to_string())
                .collect(),
            lit_panels: count(panels.len()),
            covered_panels: count(show.covered()),
            covers_all: show.covered() == self.floor.panels.len(),
            step: running.has_steps().then(|| count(show.step(ms))),
            steps: running.has_steps().then(|| count(show.steps())),
            held: running.has_steps() && show.is_held(),
            ends_with_owner: running.order.owner.is_some(),
            starts_in_s: match running.next {
                Some(next) if running.waits => next.s_since(now),
                _ => 0.0,
            },
            since_s: now.s_since(running.since),
            ends_in_s: running.ends.s_since(now),
        })
    }
}

fn not_begun(why: NotBegun) -> Refused {
    match why {
        NotBegun::NoSensor => {
            let text = "No sensor of current reports: add a [[sensor]] to the floor file, see that \
                        it sends, and try again.";
            Refused::new("no_sensor", text)
        }
        NotBegun::Running => Refused::new("calibrating", "A calibration run is under way."),
        NotBegun::Surveying => {
            let text = "A survey is under way: wait until it has ended, or stop it.";
            Refused::new("surveying", text)
        }
        NotBegun::Watched => {
            let text = "This floor has no nodes: litfloor sends nothing, so it can't light it.";
            Refused::new("watch_only", text)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    use serde_json::json;

    #[test]
    fn commands_are_read_from_json() {
        let read = |value| serde_json::from_value::<Command>(value);
        let start = json!({"command": "start", "pattern": {"kind": "panel", "position": "C4"}});
        let position = "C4".to_owned();
        let order = Start::new(crate::pattern::TestPattern::Panel { position });
        assert_eq!(read(start).unwrap(), Command::Start(order));
        let back = json!({"command": "step", "by": -1});
        assert_eq!(read(back).unwrap(), Command::Step(Step::By(-1)));
        let to = json!({"command": "step", "to": 4});
        assert_eq!(read(to).unwrap(), Command::Step(Step::To(4)));
        assert_eq!(read(json!({"command": "stop"})).unwrap(), Command::Stop);
        assert!(read(json!({"command": "owner_gone", "0": 1})).is_err());
        let limit = |floor_va| Command::LimitFloor(LiveLimit { floor_va });
        let limited = json!({"command": "limit_floor", "floor_va": 3000});
        assert_eq!(read(limited).unwrap(), limit(Some(3_000)));
        let free = json!({"command": "limit_floor", "floor_va": null});
        assert_eq!(read(free).unwrap(), limit(None));
        assert!(read(json!({"command": "limit_floor"})).is_err());
    }
}
