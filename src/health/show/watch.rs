//! Which sensors are believed, by what they read beside what is lit.

use std::f64::consts::PI;

use super::findings::SensorWord;
use super::heard::Heard;
use super::spec::ShowSensor;
use crate::units::Time;

/// Of noise that is so great against a step, equal readings say something.
const SHOWS: f64 = 0.5;
/// So improbable a run of equal readings is no chance: among all of a night.
const NO_CHANCE: f64 = 1e-10;
/// So many deviations of a reading, what is lit must have changed by to see that a sensor does not follow.
const FOLLOWS: f64 = 8.0;
/// A sensor is absurd if more than this share of its readings are, of which each counts so much less than the next.
const ABSURD: f64 = 0.5;
const ABSURD_KEEP: f64 = 0.9;
/// Information that is asked for before it is said that nothing flows: deviations, squared.
const FLOWS: f64 = 400.0;
/// It must read idle for so long, whatever it says.
const FLOWS_S: f64 = 4.0;
/// Less than this of what was computed is nothing.
const NOTHING: f64 = 0.05;
/// How long a memory of what flows is.
const MEMORY_S: f64 = 6.0;
/// Readings may stay away for so many periods, and so long.
const PERIODS: f64 = 5.0;
const SILENT_S: f64 = 3.0;

/// What is kept of one sensor.
#[derive(Debug, Clone, Default)]
pub(super) struct Watch {
    word: SensorWord,
    last: Option<Time>,
    /// The value that was read last, how often in a row, and what was lit meanwhile.
    value_a: f64,
    run: u32,
    lit_a: (f64, f64),
    /// What was lit when the run began, unless it began before anything was read.
    began_a: Option<f64>,
    absurd: f64,
    flow: Flow,
}

/// Fading sums of what was lit and what was read.
#[derive(Debug, Clone, Copy, Default)]
struct Flow {
    weight: f64,
    lit: f64,
    both: f64,
    since: Option<Time>,
}

impl Watch {
    /// Takes a reading in; whether it says anything of items. `full_a` is what the sensor's items draw
    /// when all are fully lit.
    pub(super) fn hear(
        &mut self,
        spec: &ShowSensor,
        heard: &Heard,
        value_a: f64,
        (full_a, offset_sd_a): (f64, f64),
    ) -> bool {
        let sd_a = heard.variance.sqrt();
        let slack_a = 6.0 * offset_sd_a + FOLLOWS * sd_a + 0.1 * full_a;
        let absurd = heard.drawn_a < -slack_a || heard.drawn_a > full_a + slack_a;
        let now = f64::from(u8::from(absurd));
        self.absurd = ABSURD_KEEP * self.absurd + (1.0 - ABSURD_KEEP) * now;
        let gap_s = self
            .last
            .replace(heard.at)
            .map(|last| heard.at.s_since(last));
        let repeats = self.follow(value_a, heard, gap_s.is_some());
        if !absurd {
            self.flow.hear(heard, gap_s.unwrap_or(0.0), offset_sd_a);
        }
        let before = self.word;
        self.word = self.judge(spec, heard, offset_sd_a);
        if self.word != before && !self.word.is_believed() {
            self.flow = Flow::default();
        }
        // Where noise shows, one that reads the same once more may have frozen.
        let doubtful = repeats && (same(spec) < 0.2 || self.moved(sd_a) > 0.5);
        self.word.is_believed() && !absurd && !doubtful
    }

    fn follow(&mut self, value_a: f64, heard: &Heard, known: bool) -> bool {
        let total_a = heard.total_a;
        if known && (value_a - self.value_a).abs() < 1e-12 {
            self.run += 1;
            self.lit_a = (self.lit_a.0.min(total_a), self.lit_a.1.max(total_a));
            return true;
        }
        self.value_a = value_a;
        self.run = 1;
        self.lit_a = (total_a, total_a);
        self.began_a = known.then_some(total_a);
        false
    }

    /// By how much what is lit changed while the reading did not, against what shows.
    fn moved(&self, sd_a: f64) -> f64 {
        (self.lit_a.1 - self.lit_a.0) / (FOLLOWS * sd_a)
    }

    fn judge(&self, spec: &ShowSensor, heard: &Heard, offset_sd_a: f64) -> SensorWord {
        let sd_a = heard.variance.sqrt();
        if self.absurd > ABSURD {
            return SensorWord::Absurd;
        }
        let repeats = i32::try_from(self.run).unwrap_or(i32::MAX) - 1;
        let by_noise = same(spec).powi(repeats) < NO_CHANCE;
        let idle = heard.drawn_a.abs() < 4.0 * (offset_sd_a + sd_a);
        if self.moved(sd_a) > 1.0 && self.run > 3 || by_noise && self.moved(sd_a) > 0.1 {
            // A feed that opens reads just idle too, if its sensor wavers less than it tells; that is
            // seen to happen, while much is lit.
            let fell = self.began_a.is_some_and(|lit_a| lit_a > FOLLOWS * sd_a);
            let hidden = same(spec) > SHOWS;
            return if idle && fell && hidden && self.flow.is_nothing(heard, offset_sd_a) {
                SensorWord::NothingFlows
            } else {
                SensorWord::Frozen
            };
        }
        if self.word == SensorWord::Frozen && self.run > 1 {
            return SensorWord::Frozen;
        }
        if idle && self.flow.is_nothing(heard, offset_sd_a) {
            return SensorWord::NothingFlows;
        }
        SensorWord::Fine
    }

    /// What is said of it by now.
    pub(super) fn word(&self, spec: &ShowSensor, now: Time) -> SensorWord {
        let most_s = PERIODS * spec.every_s + SILENT_S;
        match self.last {
            Some(last) if now.s_since(last) <= most_s => self.word,
            _ => SensorWord::Silent,
        }
    }
}

impl Flow {
    fn hear(&mut self, heard: &Heard, gap_s: f64, offset_sd_a: f64) {
        let keep = (-gap_s / MEMORY_S).exp();
        let weight = 1.0 / heard.variance;
        self.weight = self.weight * keep + weight;
        self.lit = self.lit * keep + heard.total_a * heard.total_a * weight;
        self.both = self.both * keep + heard.total_a * heard.drawn_a * weight;
        if self.flows(offset_sd_a) || self.since.is_none() {
            self.since = Some(heard.at);
        }
    }

    /// Whether more is read than an offset would have it, beside what is nothing.
    fn flows(&self, offset_sd_a: f64) -> bool {
        let lit_a = (self.lit / self.weight).sqrt();
        let nothing = (NOTHING + 3.0 * offset_sd_a / lit_a.max(1e-9)).min(3.0 * NOTHING);
        self.both > nothing * self.lit
    }

    /// Whether much was lit and nothing flowed. An offset may make something look like nothing.
    fn is_nothing(&self, heard: &Heard, offset_sd_a: f64) -> bool {
        let offset = offset_sd_a * offset_sd_a / heard.variance;
        let long = self
            .since
            .is_some_and(|since| heard.at.s_since(since) >= FLOWS_S);
        long && self.lit > FLOWS * (1.0 + offset) && !self.flows(offset_sd_a)
    }
}

/// How probable it is that the next reading of something that stands still is the same again: two Gaussian
/// readings differ by less than half a step either way.
fn same(spec: &ShowSensor) -> f64 {
    if spec.noise_a <= 0.0 {
        return 1.0;
    }
    (spec.step_a / (2.0 * PI.sqrt() * spec.noise_a)).min(1.0)
}
