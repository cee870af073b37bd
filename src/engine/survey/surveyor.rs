//! What thinks of a survey by sensors: which light next, and what its readings say. Pure, and made to
//! run beside the frames.

mod asides;

use std::sync::Arc;

use super::about::About;
use super::brief::Brief;
use super::feel::{self, Felt};
use super::items::Items;
use super::order::{By, Held, Light, SeenReading};
use super::rooms::{self, Packing};
use super::spec;
use super::state::{self, Ended, SurveyOutcome, SurveyResult, SurveyState};
use crate::floor::{Floor, Tables};
use crate::health::survey::{End, Room, Step, Survey, SurveySensor};
use crate::health::{Item, Judged};
use crate::pattern::Refused;

/// By this share of its period a reading may be late.
const JITTER: f64 = 0.2;

/// So many lights in a row of which no sensor said anything end a survey.
const MOST_MUTE: u32 = 5;

/// Where a survey is.
#[derive(Debug)]
enum Phase {
    /// Finding out what the sensors are like.
    Feel {
        light: usize,
        bright: Vec<u8>,
        /// What each item was computed to draw of the bright light.
        lit_a: Vec<f64>,
        seen: Box<[Vec<Vec<SeenReading>>; 3]>,
        /// What came from when each of the three was ordered.
        late: Box<[Vec<Vec<SeenReading>>; 3]>,
    },
    Weigh(Box<Weighing>),
    Done,
}

/// The survey itself.
#[derive(Debug)]
struct Weighing {
    survey: Survey,
    /// The floor's index of each sensor that takes part, and what it is like.
    sensors: Vec<(usize, Felt)>,
    /// By how much a reading may be late.
    jitter_s: f64,
    mute: u32,
    /// What items were computed to draw of the light before, and how long it was on show.
    before: Option<(Vec<f64>, f64)>,
    /// When it began, in seconds of the whole.
    since_s: f64,
}

/// A survey by sensors.
#[derive(Debug)]
pub struct Surveyor {
    floor: Arc<Floor>,
    tables: Arc<Tables>,
    brief: Arc<Brief>,
    run: u32,
    level: u8,
    weak: bool,
    items: Items,
    /// What each of them draws when lit.
    full_a: Vec<f64>,
    /// Those that are weighed.
    weighed: Vec<usize>,
    rooms: Vec<Room>,
    phase: Phase,
    /// Lights so far.
    pattern: u32,
    spent_s: f64,
    judged: Vec<Judged>,
    decided: u32,
    /// What the readings differ by from what was found; nothing before the first look.
    misfit: Option<f64>,
    left_out: Vec<String>,
    /// What sensors that are weighed by are like.
    felt: Vec<(usize, SurveySensor)>,
    /// Of those, the ones that always say the same, as where all is dead.
    steady: Vec<usize>,
    result: Option<SurveyResult>,
}

impl Surveyor {
    /// One that begins with what the engine says.
    ///
    /// # Errors
    /// Says why that can't be done.
    pub fn new(
        floor: Arc<Floor>,
        tables: Arc<Tables>,
        brief: Arc<Brief>,
        run: u32,
        about: &About,
    ) -> Result<Self, Refused> {
        let (items, full_a) = about.items(&floor, &tables)?;
        let mut left_out = Vec::new();
        for (sensor, of) in brief.sensors.iter().zip(&floor.sensors) {
            left_out.extend(sensor.unfit.map(|why| format!("{} {why}.", of.name)));
        }
        let unknown = Judged {
            doubt: 1.0,
            ..Judged::default()
        };
        let mut surveyor = Self {
            judged: vec![unknown; items.all.len()],
            decided: 0,
            misfit: None,
            floor,
            tables,
            brief,
            run,
            level: about.level,
            weak: about.weak,
            items,
            full_a,
            weighed: Vec::new(),
            rooms: Vec::new(),
            phase: Phase::Done,
            pattern: 0,
            spent_s: 0.0,
            left_out,
            felt: Vec::new(),
            steady: Vec::new(),
            result: None,
        };
        let fit: Vec<usize> = surveyor.fit();
        let fit = surveyor.that_see(&fit);
        surveyor.choose(&fit)?;
        let bright = surveyor.brightest();
        let sensors = surveyor.brief.sensors.len();
        surveyor.phase = Phase::Feel {
            light: 0,
            bright,
            lit_a: Vec::new(),
            seen: Box::new(std::array::from_fn(|_| vec![Vec::new(); sensors])),
            late: Box::new(std::array::from_fn(|_| vec![Vec::new(); sensors])),
        };
        Ok(surveyor)
    }

    /// Sensors that the engine found fit.
    fn fit(&self) -> Vec<usize> {
        let sensors = self.brief.sensors.iter().enumerate();
        let fit = sensors.filter(|(_, sensor)| sensor.unfit.is_none());
        fit.map(|(at, _)| at).collect()
    }

    /// Those of them that see items as one kind.
    fn that_see(&mut self, fit: &[usize]) -> Vec<usize> {
        let mut seeing = Vec::new();
        for &at in fit {
            let element = self.brief.sensors[at].element;
            let name = &self.floor.sensors[at].name;
            match rooms::seen_at(&self.brief.tree, &self.items, element) {
                Ok(Some(_)) => seeing.push(at),
                Ok(None) => {}
                Err(why) => self.left_out.push(format!("{name} {why}.")),
            }
        }
        seeing
    }

    /// Chooses the items that these sensors see and that limits let be lit.
    fn choose(&mut self, sensors: &[usize]) -> Result<(), Refused> {
        let in_doubt = self.items.touched(&self.tables, &self.brief.silent);
        let tree = &self.brief.tree;
        let seen = |item: &Item| {
            let mut sensors = sensors.iter();
            sensors.any(|&at| rooms::hangs_on(tree, item.panel, self.brief.sensors[at].element))
        };
        let items = self.items.all.iter().enumerate();
        let weighed =
            items.filter(|(at, item)| !in_doubt[*at] && self.full_a[*at] > 0.0 && seen(item));
        let weighed: Vec<usize> = weighed.map(|(at, _)| at).collect();
        let (_, fits) = rooms::rooms(tree, &self.items, &weighed, &self.full_a);
        let weighed = weighed.into_iter().zip(fits);
        self.weighed = weighed
            .filter_map(|(at, fits)| fits.then_some(at))
            .collect();
        (self.rooms, _) = rooms::rooms(tree, &self.items, &self.weighed, &self.full_a);
        if self.weighed.is_empty() {
            let mut text = "No sensor sees a segment that may be lit".to_owned();
            if !self.left_out.is_empty() {
                text += ": ";
                text += &self.left_out.join(" ");
            }
            text += ". Look at the sensors and the limits, or let a person look.";
            return Err(Refused::new("nothing_seen", text));
        }
        Ok(())
    }

    /// As many items as may be lit together.
    fn brightest(&self) -> Vec<u8> {
        let mut packing = Packing::new(&self.rooms, self.weighed.len());
        let lit = self.weighed.iter().enumerate();
        lit.map(|(at, &item)| u8::from(packing.light(at, self.full_a[item])) * 255)
            .collect()
    }

    /// The light that is to be shown now.
    pub fn light(&self) -> Option<Light> {
        let (levels, hold_s, words) = match &self.phase {
            Phase::Feel { light, bright, .. } => {
                let dark = vec![0; bright.len()];
                let levels = if *light == 1 { bright.clone() } else { dark };
                let words = "Survey: what are the sensors like?".to_owned();
                (levels, self.feel_s(), words)
            }
            Phase::Weigh(weighing) => {
                let levels = weighing.survey.light().to_vec();
                let lit = levels.iter().filter(|&&level| level > 0).count();
                let of = self.weighed.len();
                let words = format!("Survey: {lit} of {of} segments lit");
                let hold_s = weighing.survey.hold_s() + weighing.jitter_s;
                (levels, hold_s, words)
            }
            Phase::Done => return None,
        };
        let mut all = vec![0; self.items.all.len()];
        for (&at, &level) in self.weighed.iter().zip(&levels) {
            all[at] = at_level(level, self.level);
        }
        Some(Light {
            run: self.run,
            number: self.pattern + 1,
            woven: self.items.woven(&all, words),
            hold_ms: Some(ms(hold_s)),
        })
    }

    /// Takes what was seen of the light that was shown; what is to be shown next is in
    /// [`Self::light`], nothing if it is through.
    pub fn take(&mut self, held: &Held) {
        if held.number != self.pattern + 1 {
            return;
        }
        self.pattern += 1;
        self.spent_s = held.spent_s;
        match &mut self.phase {
            Phase::Feel {
                light,
                seen,
                late,
                lit_a,
                ..
            } => {
                if *light == 1 {
                    *lit_a = self.items.amps(&self.tables, &held.slots);
                }
                for reading in &held.readings {
                    seen[*light][reading.sensor].push(*reading);
                }
                for reading in &held.late {
                    late[*light][reading.sensor].push(*reading);
                }
                *light += 1;
                if *light == 3 {
                    self.begin_weighing();
                }
            }
            Phase::Weigh(_) => self.weigh(held),
            Phase::Done => {}
        }
    }

    /// Makes the survey of what was felt.
    fn begin_weighing(&mut self) {
        let Phase::Feel {
            seen, late, lit_a, ..
        } = &self.phase
        else {
            return;
        };
        let lit_a = |at: usize| self.seen_a(at, lit_a);
        let of = |at: usize| -> [Vec<SeenReading>; 3] {
            std::array::from_fn(|light| seen[light][at].clone())
        };
        let felt: Vec<(usize, Result<Felt, &'static str>)> = self
            .fit()
            .into_iter()
            .map(|at| {
                let late = [late[1][at].clone(), late[2][at].clone()];
                let felt = feel::feel(&of(at), &late, &self.brief.sensors[at], lit_a(at));
                (at, felt)
            })
            .collect();
        let mut taking_part = Vec::new();
        for (at, felt) in felt {
            match felt {
                Ok(felt) => taking_part.push((at, felt)),
                Err(why) => {
                    let name = &self.floor.sensors[at].name;
                    self.left_out.push(format!("{name} {why}."));
                }
            }
        }
        let fit: Vec<usize> = taking_part.iter().map(|(at, _)| *at).collect();
        let seeing = self.that_see_again(&fit);
        taking_part.retain(|(at, _)| seeing.contains(at));
        if let Err(refused) = self.choose(&seeing) {
            self.end(Ended::Refused, &refused.text);
            return;
        }
        let spec = spec::of(&spec::Weighed {
            floor: &self.floor,
            brief: &self.brief,
            items: &self.items,
            full_a: &self.full_a,
            chosen: &self.weighed,
            rooms: &self.rooms,
            felt: &taking_part,
            weak: self.weak,
            change_s: self.change_s(),
            seed: u64::from(self.run),
        });
        let felt = spec.sensors.iter().cloned();
        self.felt = taking_part.iter().map(|(at, _)| *at).zip(felt).collect();
        let steady = taking_part.iter().filter(|(_, felt)| felt.steady);
        self.steady = steady.map(|(at, _)| *at).collect();
        match Survey::new(spec) {
            Ok(survey) => {
                let every_s = taking_part
                    .iter()
                    .map(|(at, _)| self.floor.sensors[*at].every_s);
                self.phase = Phase::Weigh(Box::new(Weighing {
                    survey,
                    jitter_s: JITTER * every_s.fold(0.0, f64::max),
                    sensors: taking_part,
                    mute: 0,
                    before: None,
                    since_s: self.spent_s,
                }));
            }
            Err(why) => self.end(Ended::Refused, &format!("The survey can't be done: {why}.")),
        }
    }

    /// What a sensor should have said of a light beyond idle, of which items draw so much.
    fn seen_a(&self, sensor: usize, amps: &[f64]) -> f64 {
        let tree = &self.brief.tree;
        let element = self.brief.sensors[sensor].element;
        let factor = rooms::seen_at(tree, &self.items, element);
        let seen = self.items.all.iter().zip(amps);
        let seen = seen.filter(|(item, _)| rooms::hangs_on(tree, item.panel, element));
        factor.ok().flatten().unwrap_or(1.0) * seen.map(|(_, a)| a).sum::<f64>()
    }

    /// How long it took until each of the lights so far was surely on show.
    fn change_s(&self) -> f64 {
        let lights = f64::from(self.pattern.max(1));
        (self.spent_s / lights - self.feel_s()).max(0.0)
    }

    /// How long a light is held to feel the sensors.
    fn feel_s(&self) -> f64 {
        let sensors = self.brief.sensors.iter().zip(&self.floor.sensors);
        let taking_part = sensors.filter(|(sensor, _)| sensor.unfit.is_none());
        let slowest_s = taking_part.map(|(_, of)| of.every_s).fold(0.0, f64::max);
        feel::hold_s(slowest_s)
    }

    /// Those that see items; the others were told of before.
    fn that_see_again(&self, fit: &[usize]) -> Vec<usize> {
        let sees = |at: &usize| {
            let element = self.brief.sensors[*at].element;
            matches!(
                rooms::seen_at(&self.brief.tree, &self.items, element),
                Ok(Some(_))
            )
        };
        fit.iter().copied().filter(sees).collect()
    }

    fn weigh(&mut self, held: &Held) {
        let Phase::Weigh(weighing) = &mut self.phase else {
            return;
        };
        let amps = self.items.amps(&self.tables, &held.slots);
        let computed: Vec<f64> = self.weighed.iter().map(|&at| amps[at]).collect();
        let mut any = false;
        for (index, (sensor, felt)) in weighing.sensors.iter().enumerate() {
            let believed =
                |one: &&SeenReading| one.sensor == *sensor && (felt.steady || !one.frozen);
            if let Some((amps, held_s)) = &weighing.before {
                let stays_s = felt.stays_s - weighing.jitter_s;
                let late = held.late.iter().filter(believed);
                let of_that =
                    late.filter(|one| one.after_s <= stays_s && held_s + one.after_s >= felt.lag_s);
                for reading in of_that {
                    weighing.survey.read(index, reading.value_a, amps);
                    any = true;
                }
            }
            let own = held.readings.iter().filter(believed);
            for reading in own.filter(|one| one.after_s >= felt.lag_s) {
                weighing.survey.read(index, reading.value_a, &computed);
                any = true;
            }
        }
        weighing.before = Some((computed, held.held_s));
        weighing.mute = if any { 0 } else { weighing.mute + 1 };
        let mute = weighing.mute >= MOST_MUTE;
        let step = weighing.survey.advance();
        self.see();
        match step {
            _ if mute => {
                let text = "The survey ended because its sensors fell silent.";
                self.end(Ended::Stopped, text);
            }
            Step::Next => {}
            Step::Done(End::Decided) => self.end(Ended::Decided, "The survey is through."),
            Step::Done(End::CannotTell) => {
                let text = "The survey ended because more readings would tell no more.";
                self.end(Ended::TimeIsUp, text);
            }
            Step::Done(End::TimeIsUp) => {
                let text = "The survey took too long and ended before all was decided.";
                self.end(Ended::TimeIsUp, text);
            }
        }
    }

    /// Takes over what the survey says by now.
    fn see(&mut self) {
        if let Phase::Weigh(weighing) = &self.phase {
            for (&at, &judged) in self.weighed.iter().zip(weighing.survey.judged()) {
                self.judged[at] = judged;
            }
            self.decided = weighing.survey.progress().decided;
            self.misfit = Some(weighing.survey.misfit());
        }
    }

    /// It ends with what it knows.
    pub fn end(&mut self, ended: Ended, text: &str) {
        if self.result.is_none() {
            self.phase = Phase::Done;
            let asides = self.asides();
            let left_out = self.left_out.clone();
            let (floor, items) = (&self.floor, &self.items.all);
            let mut result = state::result(floor, items, &self.judged, ended, text, left_out);
            (result.misfit, result.doubtful) = (self.misfit, self.doubtful());
            for aside in asides {
                result.text += " ";
                result.text += &aside;
            }
            self.result = Some(result);
        }
    }

    /// What people are told of it.
    pub fn state(&self) -> SurveyState {
        let count = |count: usize| u32::try_from(count).unwrap_or(u32::MAX);
        let left_s = if let Phase::Weigh(weighing) = &self.phase {
            let progress = weighing.survey.progress();
            // It reckons without what it takes until a light is surely on show.
            let slower = (self.spent_s - weighing.since_s) / progress.spent_s;
            progress.left_s.map(|left_s| left_s * slower.max(1.0))
        } else {
            None
        };
        SurveyState {
            running: self.result.is_none(),
            by: Some(By::Sensors),
            revision: self.brief.revision,
            pattern: self.pattern,
            decided: self.decided,
            items: count(self.weighed.len()),
            spent_s: self.spent_s,
            left_s: left_s.filter(|_| self.result.is_none()),
            map: state::map(&self.floor, &self.items.all, &self.judged),
            outcome: self.result.clone(),
            question: None,
            ended: 0,
        }
    }

    /// What it found, for who makes verdicts of it.
    pub fn outcome(&self) -> SurveyOutcome {
        let decided = |result: &SurveyResult| result.ended == Ended::Decided;
        let judged = self
            .items
            .all
            .iter()
            .copied()
            .zip(self.judged.iter().copied());
        SurveyOutcome {
            ended: 0,
            revision: self.brief.revision,
            by: By::Sensors,
            uptime_s: self.brief.uptime_s + self.spent_s,
            decided: self.result.as_ref().is_some_and(decided),
            doubtful: self.doubtful(),
            judged: judged.collect(),
            sensors: self.felt.clone(),
        }
    }
}

/// `level` of 255 where 255 means `full`.
fn at_level(level: u8, full: u8) -> u8 {
    let scaled = (u32::from(level) * u32::from(full) + 127) / 255;
    u8::try_from(scaled).unwrap_or(u8::MAX)
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "clamped"
)]
fn ms(s: f64) -> u64 {
    (s * 1e3).ceil().clamp(0.0, 600_000.0) as u64
}
