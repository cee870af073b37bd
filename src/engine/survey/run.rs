//! The engine's part of a survey: it shows the light that it is told, and says what was read while
//! that was surely on show.

use std::sync::Arc;

use super::super::Engine;
use super::super::out::Outlet;
use super::order::{By, Ending, Held, Light, News, SeenReading, What, Wish};
use crate::floor::tables::UNIVERSE_SLOTS;
use crate::pattern::{Refused, Start, TestPattern, Woven};
use crate::power::meter::Verdict;
use crate::units::Time;

/// Readings of one light that are kept: those of some hundred sensors for a minute.
const MOST_READINGS: usize = 10_000;

/// No sensor tells so late that after this anything is said of the light before.
const LATE_S: f64 = 2.0;

/// A light that can't be held still for so long ends the survey.
const STEADY_WITHIN_MS: u64 = 20_000;

/// What the next light or the end may take after one was held: the worker that thinks of it may be
/// gone, and then the floor must not stay as it is.
const NEXT_WITHIN_MS: u64 = 60_000;

/// A person may take so long to look.
const ANSWER_WITHIN_MS: u64 = 900_000;

/// All surveys.
#[derive(Debug, Default)]
pub(in crate::engine) struct Surveys {
    run: Option<Run>,
    /// How many have begun.
    begun: u32,
    news: Option<News>,
    /// Counted up whenever people may be told something new.
    told: u32,
}

/// The one that is under way.
#[derive(Debug)]
struct Run {
    since: Time,
    by: By,
    /// Universes whose nodes no longer answered when it began; nothing is asked of them.
    silent: Vec<bool>,
    light: Shown,
    /// What was held last.
    held: Option<Arc<Held>>,
}

/// The light that is shown.
#[derive(Debug)]
struct Shown {
    number: u32,
    /// When it was ordered.
    at: Time,
    hold_ms: Option<u64>,
    /// What leaves, and since when it alone can be on show.
    leaving: Vec<u8>,
    still: Option<Time>,
    readings: Vec<SeenReading>,
    /// What came first, if the light before was on show until then.
    late: Option<Vec<SeenReading>>,
    told: bool,
}

impl Shown {
    const fn new(number: u32, at: Time, hold_ms: Option<u64>) -> Self {
        Self {
            number,
            at,
            hold_ms,
            leaving: Vec::new(),
            still: None,
            readings: Vec::new(),
            late: None,
            told: false,
        }
    }

    /// When it has been held for long enough, if it is still.
    fn ends(&self) -> Option<Time> {
        let held = self.still?.plus_ms(self.hold_ms?);
        (!self.told).then_some(held)
    }
}

impl Surveys {
    /// Whether one is under way.
    pub(in crate::engine) const fn is_running(&self) -> bool {
        self.run.is_some()
    }

    /// Counted up whenever people may be told something new.
    pub(in crate::engine) const fn told(&self) -> u32 {
        self.told
    }

    /// When a tick is needed next.
    pub(in crate::engine) fn next(&self) -> Option<Time> {
        self.run.as_ref()?.light.ends()
    }

    /// A sensor said something that can be believed.
    pub(in crate::engine) fn read(
        &mut self,
        sensor: usize,
        value_a: f64,
        verdict: Verdict,
        now: Time,
    ) {
        let Some(Run { light, .. }) = &mut self.run else {
            return;
        };
        if verdict == Verdict::Absurd || light.told {
            return;
        }
        let since = |began: Time| SeenReading {
            sensor,
            value_a,
            after_s: now.s_since(began),
            frozen: verdict == Verdict::Frozen,
        };
        if let Some(late) = &mut light.late
            && now.s_since(light.at) < LATE_S
            && late.len() < MOST_READINGS
        {
            late.push(since(light.at));
        }
        if let Some(still) = light.still
            && light.readings.len() < MOST_READINGS
        {
            light.readings.push(since(still));
        }
    }

    /// Goes on counting after another floor's surveys, whose last one ends.
    pub(in crate::engine) fn after(before: &mut Self) -> Self {
        let mut after = Self {
            run: None,
            begun: before.begun,
            told: before.told,
            news: before.news.take(),
        };
        if before.run.take().is_some() {
            after.tell(What::Ended(Ending::Replaced));
        }
        after
    }

    fn tell(&mut self, what: What) {
        let run = self.begun;
        self.told = self.told.wrapping_add(1);
        self.news = Some(News { run, what });
    }
}

impl Engine {
    /// Whether a survey is under way.
    pub const fn is_surveying(&self) -> bool {
        self.surveys.is_running()
    }

    /// What is new of a survey since this was asked last. Nothing is lost: there is one piece of news
    /// for each order, but for an end, after which nothing else matters.
    pub const fn survey_news(&mut self) -> Option<News> {
        self.surveys.news.take()
    }

    /// Begins a survey: the floor goes dark and waits for the first light.
    pub(in crate::engine) fn begin_survey(
        &mut self,
        wish: Wish,
        now: Time,
        outlet: &mut impl Outlet,
    ) -> Result<(), Refused> {
        if self.floor.nodes.is_empty() {
            let text = "This floor has no nodes: litfloor only watches it and sends nothing, so it \
                        can't survey it.";
            return Err(Refused::new("watch_only", text));
        }
        if self.metering.is_running() {
            let text = "A calibration run is under way: wait until it has ended, or stop it.";
            return Err(Refused::new("calibrating", text));
        }
        if self.surveys.is_running() {
            let text = "A survey is under way: wait until it has ended, or stop it.";
            return Err(Refused::new("surveying", text));
        }
        if self.running.is_some() {
            let text = "A test pattern or the stepping mode lights the floor: end that first.";
            return Err(Refused::new("pattern_on", text));
        }
        let brief = self.survey_brief(now);
        if let (By::Sensors, Some(refused)) = (wish.by, self.no_sensor(&brief)) {
            return Err(refused);
        }
        let order = Start {
            owner: wish.owner,
            ..Start::new(TestPattern::All)
        };
        let dark = Woven {
            pixels: vec![[0; 4]; self.tables.pixels_mm.len()].into(),
            panels: Vec::new(),
            words: "Survey: all dark".to_owned(),
        };
        self.start_woven(&dark, order, now.plus_ms(NEXT_WITHIN_MS), now, outlet);
        self.surveys.begun += 1;
        self.surveys.run = Some(Run {
            since: now,
            by: wish.by,
            silent: brief.silent.clone(),
            light: Shown::new(0, now, None),
            held: None,
        });
        self.surveys.tell(What::Begun(Arc::new(brief)));
        Ok(())
    }

    /// Shows the next light of the survey that is under way.
    pub(in crate::engine) fn light_survey(
        &mut self,
        light: &Light,
        now: Time,
        outlet: &mut impl Outlet,
    ) -> Result<(), Refused> {
        let begun = self.surveys.begun;
        let pixels = self.tables.pixels_mm.len();
        let fits = light.run == begun && light.woven.pixels.len() == pixels;
        let before = self.surveys.run.as_ref().and_then(|run| run.held.clone());
        let unbroken = before.is_some_and(|held| self.leaves(&held.slots));
        let Some(run) = self.surveys.run.as_mut().filter(|_| fits) else {
            let text = "No such survey is under way.";
            return Err(Refused::new("no_survey", text));
        };
        run.light = Shown::new(light.number, now, light.hold_ms);
        run.light.late = unbroken.then(Vec::new);
        let patience_ms = match run.by {
            By::Sensors => light.hold_ms.unwrap_or(0) + STEADY_WITHIN_MS + NEXT_WITHIN_MS,
            By::Eyes => ANSWER_WITHIN_MS,
        };
        self.surveys.told = self.surveys.told.wrapping_add(1);
        self.go_on_woven(&light.woven, now.plus_ms(patience_ms), now, outlet);
        Ok(())
    }

    /// Ends the survey that is under way, if it is `run` or whichever that is, and its light.
    pub(in crate::engine) fn stop_survey(
        &mut self,
        run: Option<u32>,
        now: Time,
        outlet: &mut impl Outlet,
    ) {
        // Whoever asks has told people of its end by now.
        self.surveys.told = self.surveys.told.wrapping_add(1);
        if self.surveys.is_running() && run.is_none_or(|run| run == self.surveys.begun) {
            self.survey_ends(Ending::Stopped);
            self.end_pattern(now, outlet);
        }
    }

    /// The light of the survey that is under way is shown no longer, if there is one.
    pub(in crate::engine) fn survey_ends(&mut self, why: Ending) {
        if self.surveys.run.take().is_some() {
            self.surveys.tell(What::Ended(why));
        }
    }

    /// Lets time pass for the survey that is under way.
    pub(in crate::engine) fn run_survey(&mut self, now: Time, outlet: &mut impl Outlet) {
        let Some(mut run) = self.surveys.run.take() else {
            return;
        };
        let falls_silent = |(out, &was): (u32, &bool)| !was && self.limiter.silent(out);
        let ending = if (0..).zip(&run.silent).any(falls_silent) {
            Some(Ending::NodeSilent)
        } else {
            self.look_at_light(&mut run.light, &run.silent, now);
            let light = &run.light;
            let late = light.hold_ms.is_some() && !light.told && light.still.is_none();
            (late && now >= light.at.plus_ms(STEADY_WITHIN_MS)).then_some(Ending::Unsteady)
        };
        if run.light.ends().is_some_and(|ends| now >= ends) {
            run.light.told = true;
            let held = Held {
                number: run.light.number,
                slots: std::mem::take(&mut run.light.leaving),
                readings: std::mem::take(&mut run.light.readings),
                late: run.light.late.take().unwrap_or_default(),
                held_s: run.light.still.map_or(0.0, |still| now.s_since(still)),
                spent_s: now.s_since(run.since),
            };
            let held = Arc::new(held);
            run.held = Some(Arc::clone(&held));
            self.surveys.tell(What::Held(held));
        }
        self.surveys.run = Some(run);
        if let Some(ending) = ending {
            self.survey_ends(ending);
            self.end_pattern(now, outlet);
        }
    }

    /// Finds out whether nothing but the light can be on show; what was read before counts no more
    /// once that changes. Nodes in doubt from the beginning are passed over: they are asked for
    /// nothing.
    fn look_at_light(&self, light: &mut Shown, silent: &[bool], now: Time) {
        if light.told || light.hold_ms.is_none() {
            return;
        }
        let waits = self.running.as_ref().is_some_and(|running| running.waits);
        let mut outs = self.outs().zip(silent).filter(|(_, silent)| !**silent);
        let still = !waits
            && outs.all(|(out, _)| !self.limiter.unsettled(out) && !self.limiter.waiting(out));
        let same = self.leaves(&light.leaving);
        if still && same && light.still.is_some() {
            return;
        }
        if !same {
            light.leaving.clear();
            for out in self.outs() {
                light.leaving.extend_from_slice(self.limiter.leaving(out));
            }
        }
        light.readings.clear();
        light.still = still.then_some(now);
    }

    /// Whether these slots are what was sent last.
    fn leaves(&self, slots: &[u8]) -> bool {
        let (universes, _) = slots.as_chunks::<UNIVERSE_SLOTS>();
        universes.len() == self.outs().len()
            && self
                .outs()
                .zip(universes)
                .all(|(out, slots)| self.limiter.leaving(out) == slots)
    }
}
