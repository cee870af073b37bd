//! A made-up floor while a show runs: what its segments really draw, what its sensors really say, who walks
//! on it. It shares nothing with the estimator but the words in which it is told things.

use litfloor::health::show::feet::Feet;
use litfloor::health::show::steps::{Group, Opened, RULES, Steps, Told};
use litfloor::health::show::{Baseline, Heard, ShowItem, ShowSensor, ShowSpec};
use litfloor::units::Time;

use crate::dice::Dice as Chance;

/// Segments of each panel.
pub(crate) const SEGMENTS: usize = 4;

/// What a show is like.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Content {
    /// Waves of several lengths and speeds run over the floor, and each segment twinkles.
    Moving,
    /// The same, but each panel has one colour.
    Panels,
    /// The whole floor swells as one.
    Swell,
}

/// One kind of floor.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Kind {
    pub(crate) panels: usize,
    /// Equal shares of the floor, each on a sensor of its own.
    pub(crate) sensors: usize,
    pub(crate) full_a: f64,
    pub(crate) noise_a: f64,
    pub(crate) step_a: f64,
    pub(crate) offset_a: f64,
    /// Random walk of the offset, in a second.
    pub(crate) drift_a: f64,
    pub(crate) content: Content,
}

/// 256 segments of 0.78 A on eight feed sensors of 25 A with 0.125 A noise.
pub(crate) fn feeds() -> Kind {
    Kind {
        panels: 64,
        sensors: 8,
        full_a: 0.78,
        noise_a: 0.125,
        step_a: 0.0125,
        offset_a: 0.125,
        drift_a: 0.002,
        content: Content::Moving,
    }
}

/// The same on one 200 A sensor with 1 A noise.
pub(crate) fn one_sensor() -> Kind {
    Kind {
        sensors: 1,
        noise_a: 1.0,
        step_a: 0.1,
        offset_a: 1.0,
        drift_a: 0.01,
        ..feeds()
    }
}

/// What happens to a joint.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Event {
    /// Index of a group.
    pub(crate) group: usize,
    pub(crate) at_s: f64,
    /// The share that still flows; held: goes on with what it drew.
    pub(crate) share: f64,
    pub(crate) held: bool,
    /// When it closes again.
    pub(crate) until_s: f64,
}

#[derive(Debug, Clone, Copy)]
struct Wave {
    along: [f64; 2],
    every_s: f64,
    phase: f64,
}

/// A floor under way.
pub(crate) struct Stage {
    pub(crate) kind: Kind,
    pub(crate) spec: ShowSpec,
    pub(crate) groups: Vec<Group>,
    pub(crate) chance: Chance,
    real: Vec<f64>,
    gains: Vec<f64>,
    offsets: Vec<f64>,
    waves: Vec<Wave>,
    twinkle: Vec<(f64, f64)>,
    held: Vec<Option<f64>>,
}

fn number(at: usize) -> u32 {
    u32::try_from(at).unwrap()
}

fn real(at: usize) -> f64 {
    f64::from(number(at))
}

/// The joints of such a floor: along each panel's strip, into each panel, of each feed, and the data from
/// panel to panel along each row of eight.
pub(crate) fn joints(kind: &Kind) -> Vec<Group> {
    let mut groups = Vec::new();
    let row = 8;
    for panel in 0..kind.panels {
        for segment in 0..SEGMENTS {
            let first = panel * SEGMENTS;
            let end_of_run = ((panel / row + 1) * row).min(kind.panels) * SEGMENTS;
            let supply = first + segment..first + SEGMENTS;
            let data = first + segment..end_of_run;
            for (items, holds) in [(supply, false), (data, true)] {
                groups.push(Group {
                    panel: number(panel),
                    takes: items.map(number).collect(),
                    holds,
                });
            }
        }
    }
    groups
}

impl Stage {
    pub(crate) fn new(kind: Kind, seed: u64) -> Self {
        let mut chance = Chance::new(seed ^ 0x57e9);
        let items = kind.panels * SEGMENTS;
        let share = items.div_ceil(kind.sensors);
        let item = |at: usize| ShowItem {
            panel: number(at / SEGMENTS),
            segment: number(at % SEGMENTS),
            full_a: kind.full_a,
            sensors: vec![u16::try_from(at / share).unwrap()],
        };
        let sensor = ShowSensor {
            every_s: 0.1,
            noise_a: kind.noise_a,
            step_a: kind.step_a,
            gain_sd: 0.01,
            offset_sd_a: kind.offset_a,
            drift_a: kind.drift_a,
            ..ShowSensor::default()
        };
        let spec = ShowSpec {
            items: (0..items).map(item).collect(),
            sensors: vec![sensor; kind.sensors],
            switches: vec![4; kind.panels],
            ..ShowSpec::default()
        };
        let waves = (0..4).map(|_| Wave {
            along: [chance.normal() * 0.35, chance.normal() * 0.35],
            every_s: 2.5 + 6.0 * chance.even(),
            phase: chance.even(),
        });
        let waves = waves.collect();
        Self {
            kind,
            spec,
            groups: joints(&kind),
            waves,
            twinkle: (0..items)
                .map(|_| (2.0 + 4.0 * chance.even(), chance.even()))
                .collect(),
            real: (0..items)
                .map(|_| kind.full_a * (1.0 + 0.03 * chance.normal()))
                .collect(),
            gains: (0..kind.sensors)
                .map(|_| 1.0 + 0.01 * chance.normal())
                .collect(),
            offsets: (0..kind.sensors)
                .map(|_| kind.offset_a * chance.normal())
                .collect(),
            held: vec![None; items],
            chance,
        }
    }

    fn wave(&self, at: usize, s: f64) -> f64 {
        let wide = 8 * SEGMENTS;
        let (x, y) = (real(at % wide) / real(SEGMENTS), real(at / wide));
        let mut sum = 0.0;
        for wave in &self.waves {
            let turn = wave.along[0] * x + wave.along[1] * y - s / wave.every_s + wave.phase;
            sum += (turn * std::f64::consts::TAU).sin();
        }
        sum / 4.0
    }

    fn glow(&self, at: usize, s: f64) -> f64 {
        let (every_s, phase) = self.twinkle[at];
        ((s / every_s + phase) * std::f64::consts::TAU).sin()
    }

    /// The level of each segment.
    pub(crate) fn levels(&self, s: f64) -> Vec<f64> {
        let level = |at: usize| {
            let bright = match self.kind.content {
                Content::Moving => 0.4 + 0.55 * self.wave(at, s) + 0.25 * self.glow(at, s),
                Content::Panels => {
                    let first = at / SEGMENTS * SEGMENTS;
                    0.4 + 0.55 * self.wave(first, s) + 0.25 * self.glow(first, s)
                }
                Content::Swell => 0.45 + 0.25 * (s / 7.0 * std::f64::consts::TAU).sin(),
            };
            (bright.clamp(0.0, 1.0) * 255.0).round() / 255.0
        };
        (0..self.spec.items.len()).map(level).collect()
    }

    /// What each sensor reads, and what each segment was computed to draw.
    pub(crate) fn read(&mut self, s: f64, events: &[Event]) -> (Vec<f64>, Vec<f64>) {
        let levels = self.levels(s);
        let mut drawn: Vec<f64> = levels.iter().zip(&self.real).map(|(a, b)| a * b).collect();
        for (at, held) in self.held.iter_mut().enumerate() {
            let here = |event: &&Event| {
                s >= event.at_s
                    && s < event.until_s
                    && self.groups[event.group].takes.contains(&number(at))
            };
            let mut holds = None;
            for event in events.iter().filter(here) {
                if event.held {
                    holds = Some(held.unwrap_or(drawn[at]));
                } else {
                    drawn[at] *= event.share;
                }
            }
            *held = holds;
            if let Some(holds) = holds {
                drawn[at] = holds;
            }
        }
        let share = drawn.len().div_ceil(self.kind.sensors);
        let readings = (0..self.kind.sensors)
            .map(|sensor| {
                let own = &drawn[sensor * share..((sensor + 1) * share).min(drawn.len())];
                self.offsets[sensor] += self.kind.drift_a * 0.1_f64.sqrt() * self.chance.normal();
                let felt = self.gains[sensor] * own.iter().sum::<f64>()
                    + self.offsets[sensor]
                    + self.kind.noise_a * self.chance.normal();
                (felt / self.kind.step_a).round() * self.kind.step_a
            })
            .collect();
        let computed = levels.iter().map(|level| level * self.kind.full_a);
        (readings, computed.collect())
    }

    /// Something is wrong with a sensor from now on.
    pub(crate) fn jump(&mut self, sensor: usize, offset_a: f64, gain: f64) {
        self.offsets[sensor] += offset_a;
        self.gains[sensor] *= 1.0 + gain;
    }

    /// A reading as the estimator of the show hears it, before anything was learnt.
    pub(crate) fn heard(&self, sensor: usize, value_a: f64, computed_a: &[f64], at: Time) -> Heard {
        let share = computed_a.len().div_ceil(self.kind.sensors);
        let own = &computed_a[sensor * share..((sensor + 1) * share).min(computed_a.len())];
        let rounding = self.kind.step_a * self.kind.step_a / 12.0;
        Heard {
            sensor,
            at,
            total_a: own.iter().sum(),
            drawn_a: value_a,
            variance: self.kind.noise_a * self.kind.noise_a + rounding,
            skewed_a: 0.0,
        }
    }
}

pub(crate) fn time(s: f64) -> Time {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "seconds of a show"
    )]
    Time((s * 1e6).round() as u64)
}

/// What came of one show.
#[derive(Debug, Clone, Default)]
pub(crate) struct Shown {
    /// Each thing that was told opened: when, and what.
    pub(crate) opened: Vec<(f64, Opened)>,
    /// Each that was told before and is no more: when, and its items.
    pub(crate) closed: Vec<(f64, Vec<u32>)>,
    /// When anything was noticed for the first time after the first event.
    pub(crate) noticed_s: Option<f64>,
    /// Panels of which something was told, when first, how sure at most, that can't be told exactly.
    pub(crate) panels: Vec<(f64, u32, f64)>,
    pub(crate) unclear: usize,
    pub(crate) sensors: usize,
    pub(crate) last: Told,
}

/// Runs a show from `begin_s` before 0 to `end_s`.
pub(crate) fn show(
    stage: &mut Stage,
    begin_s: f64,
    end_s: f64,
    events: &[Event],
    mut besides: impl FnMut(&mut Stage, f64),
) -> Shown {
    let mut steps = Steps::new(&stage.spec, &stage.groups, RULES);
    steps.learn(&Baseline::unknown(&stage.spec));
    let mut shown = Shown::default();
    let mut open: Vec<Vec<u32>> = Vec::new();
    let from = 1_000.0;
    let mut tick = 0_u32;
    loop {
        let s = f64::from(tick) / 10.0 - begin_s;
        if s > end_s {
            return shown;
        }
        besides(stage, s);
        let at = time(from + s);
        let (readings, computed) = stage.read(s, events);
        for (sensor, value) in readings.iter().enumerate() {
            steps.hear(&stage.heard(sensor, *value, &computed, at), &computed);
        }
        if tick % 5 == 4 {
            let told = steps.decide(at, |_, _| false).clone();
            for one in &told.opened {
                if !open.contains(&one.items) {
                    open.push(one.items.clone());
                    shown.opened.push((s, one.clone()));
                }
            }
            open.retain(|items| {
                let still = told.opened.iter().any(|one| one.items == *items);
                if !still {
                    shown.closed.push((s, items.clone()));
                }
                still
            });
            for one in &told.panels {
                match shown.panels.iter_mut().find(|known| known.1 == one.panel) {
                    Some(known) => known.2 = known.2.max(one.chance),
                    None => shown.panels.push((s, one.panel, one.chance)),
                }
            }
            shown.unclear += told.unclear.len();
            shown.sensors += told.sensors.len();
            let first = events.first().map_or(0.0, |event| event.at_s);
            let anything =
                !(told.opened.is_empty() && told.panels.is_empty() && told.unclear.is_empty())
                    || steps.is_looking();
            if s >= first && anything && shown.noticed_s.is_none() {
                shown.noticed_s = Some(s - first);
            }
            shown.last = told;
        }
        tick += 1;
    }
}

/// Somebody who walks from panel to panel, on one foot.
#[derive(Debug, Clone, Copy)]
struct Walker {
    panel: usize,
    switch: u16,
    down: bool,
    until_s: f64,
}

/// A joint that opens under feet.
#[derive(Debug, Clone, Copy)]
pub(crate) struct LooseJoint {
    pub(crate) group: usize,
    /// Chance that a press opens it.
    pub(crate) often: f64,
}

/// What came of people walking.
#[derive(Debug, Clone, Default)]
pub(crate) struct Walked {
    /// Of each loose joint, the presses and visits of its panel until it was found, and the segment told.
    pub(crate) found: Vec<Option<(u32, u32, Option<u32>)>>,
    pub(crate) presses: Vec<u32>,
    /// Other panels that were told loose, and how sure.
    pub(crate) wrong: Vec<(f64, u32, f64)>,
    /// Joints that were told to have opened for good.
    pub(crate) opened: Vec<(f64, Opened)>,
    pub(crate) words: String,
}

/// People walk until every loose joint's panel was pressed `presses` times, or for `most_s`.
#[expect(
    clippy::too_many_lines,
    reason = "one story: who steps where, what opens, what is told"
)]
pub(crate) fn walk(
    stage: &mut Stage,
    people: usize,
    loose: &[LooseJoint],
    presses: u32,
    most_s: f64,
) -> Walked {
    let mut steps = Steps::new(&stage.spec, &stage.groups, RULES);
    let mut feet = Feet::new(&stage.spec, &stage.groups);
    let mut dice = Chance::new(stage.chance.below(1 << 30) as u64);
    let mut walkers: Vec<Walker> = (0..people)
        .map(|_| Walker {
            panel: dice.below(stage.kind.panels),
            switch: 1,
            down: false,
            until_s: 2.0 * dice.even(),
        })
        .collect();
    // Feet on each switch of each panel.
    let mut on = vec![[0_u32; 4]; stage.kind.panels];
    let mut open = vec![false; loose.len()];
    let mut walked = Walked {
        found: vec![None; loose.len()],
        presses: vec![0; loose.len()],
        ..Walked::default()
    };
    let mut visits = vec![0_u32; loose.len()];
    let panel_of = |stage: &Stage, joint: &LooseJoint| stage.groups[joint.group].panel as usize;
    for tick in 0_u32.. {
        let s = f64::from(tick) / 20.0 - 20.0;
        let done = walked.presses.iter().all(|count| *count >= presses);
        if s > most_s || (done && !loose.is_empty() && tick % 20 == 0) {
            break;
        }
        let at = time(1_000.0 + s);
        for walker in walkers
            .iter_mut()
            .filter(|walker| walker.until_s <= s && s >= 0.0)
        {
            let before: u32 = on[walker.panel].iter().sum();
            let place = usize::from(walker.switch - 1);
            if walker.down {
                on[walker.panel][place] -= 1;
                if on[walker.panel][place] == 0 {
                    feet.pressed(number(walker.panel), walker.switch, false, at);
                }
                if before == 1 {
                    for (joint, open) in loose.iter().zip(&mut open) {
                        *open &= panel_of(stage, joint) != walker.panel;
                    }
                }
                walker.until_s = s + 0.1 + 0.3 * dice.even();
                let row = walker.panel / 8;
                let column = walker.panel % 8;
                let last = stage.kind.panels.min(8) - 1;
                walker.panel = match dice.below(6) {
                    0 if row > 0 => walker.panel - 8,
                    1 if row + 1 < stage.kind.panels / 8 => walker.panel + 8,
                    2 if column > 0 => walker.panel - 1,
                    3 if column < last => walker.panel + 1,
                    _ => walker.panel,
                };
                walker.switch = u16::try_from(dice.below(4)).unwrap() + 1;
            } else {
                on[walker.panel][place] += 1;
                if on[walker.panel][place] == 1 {
                    feet.pressed(number(walker.panel), walker.switch, true, at);
                }
                for (number, joint) in loose.iter().enumerate() {
                    if panel_of(stage, joint) == walker.panel {
                        walked.presses[number] += 1;
                        visits[number] += u32::from(before == 0);
                        open[number] |= dice.even() < joint.often;
                    }
                }
                walker.until_s = s + 0.3 + 2.7 * dice.even();
            }
            walker.down = !walker.down;
        }
        if tick % 2 == 1 {
            let events: Vec<Event> = loose
                .iter()
                .zip(&open)
                .filter(|(_, open)| **open)
                .map(|(joint, _)| Event {
                    group: joint.group,
                    at_s: f64::NEG_INFINITY,
                    share: 0.0,
                    held: false,
                    until_s: f64::INFINITY,
                })
                .collect();
            let (readings, computed) = stage.read(s, &events);
            for (sensor, value) in readings.iter().enumerate() {
                let heard = stage.heard(sensor, *value, &computed, at);
                let disturbed = feet.disturbs(sensor, at);
                if let Some(rest) = steps.hear_while(&heard, &computed, disturbed) {
                    feet.hear(&heard, rest, &computed);
                }
            }
        }
        if tick % 20 == 19 {
            for one in &steps
                .decide(at, |panel, since| feet.stands(panel, since, at))
                .opened
            {
                if walked.opened.iter().all(|known| known.1.at != one.at) {
                    walked.opened.push((s, one.clone()));
                }
            }
            let before: Vec<usize> = feet.sensors().collect();
            feet.decide(at);
            for sensor in feet.sensors().filter(|sensor| !before.contains(sensor)) {
                steps.begin_anew(sensor);
            }
            for one in feet.loose() {
                let is = loose
                    .iter()
                    .position(|joint| panel_of(stage, joint) == one.panel as usize);
                match is {
                    Some(number) => {
                        if walked.found[number].is_none() {
                            walked.found[number] =
                                Some((walked.presses[number], visits[number], one.segment));
                        }
                        walked.words.clone_from(&one.evidence);
                    }
                    None if walked.wrong.iter().all(|wrong| wrong.1 != one.panel) => {
                        walked.wrong.push((s, one.panel, one.chance));
                    }
                    None => {}
                }
            }
        }
    }
    walked
}
