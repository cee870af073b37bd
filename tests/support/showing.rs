//! A made-up floor that shows moving pictures: what its segments really draw, and what its sensors really
//! say. It shares nothing with the estimator but the words in which it is told of a floor.

use std::collections::VecDeque;

use litfloor::health::show::{Baseline, Findings, Show, ShowItem, ShowSensor, ShowSpec};
use litfloor::units::Time;

use super::dice::Dice;

/// One kind of floor: panels in a row after row, each of segments side by side, fed in equal shares.
#[derive(Debug, Clone)]
pub(crate) struct Kind {
    pub(crate) panels: usize,
    pub(crate) across: usize,
    pub(crate) segments: usize,
    pub(crate) full_a: f64,
    pub(crate) sensors: usize,
    pub(crate) noise_a: f64,
    pub(crate) step_a: f64,
    pub(crate) offset_a: f64,
    /// Random walk of the offset, in a second.
    pub(crate) drift_a: f64,
    /// Standard deviation of what a segment draws from what was computed.
    pub(crate) tolerance: f64,
    /// A sensor's reading is of so much earlier than it is said to be.
    pub(crate) late_s: f64,
    /// A panel that is lit fully draws so much less than computed, as a share: nobody told the estimator.
    pub(crate) droop: f64,
}

/// 32 panels of 8 segments of 0.78 A on one 200 A sensor with 1 A noise.
pub(crate) fn one_sensor() -> Kind {
    Kind {
        panels: 32,
        across: 8,
        segments: 8,
        full_a: 0.78,
        sensors: 1,
        noise_a: 1.0,
        step_a: 0.1,
        offset_a: 1.0,
        drift_a: 0.0,
        tolerance: 0.03,
        late_s: 0.0,
        droop: 0.0,
    }
}

/// The same on eight feed sensors of 25 A with 0.125 A noise.
pub(crate) fn eight_sensors() -> Kind {
    Kind {
        sensors: 8,
        noise_a: 0.125,
        step_a: 0.0125,
        offset_a: 0.125,
        ..one_sensor()
    }
}

/// What is shown.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Content {
    /// Scene after scene of waves, chases, sparkles and fades.
    Moving,
    /// Each panel in one colour that changes.
    OneColour,
    /// One picture that never changes.
    Still,
}

/// A floor as it really is.
#[derive(Debug, Clone)]
pub(crate) struct Floor {
    pub(crate) kind: Kind,
    /// Share of its own current that each segment draws: 1 if good.
    pub(crate) share: Vec<f64>,
    own_a: Vec<f64>,
    gains: Vec<f64>,
    offsets_a: Vec<f64>,
    chance: Dice,
}

impl Floor {
    pub(crate) fn new(kind: &Kind, seed: u64) -> Self {
        let mut chance = Dice::new(seed);
        let items = kind.panels * kind.segments;
        Self {
            share: vec![1.0; items],
            own_a: (0..items)
                .map(|_| kind.full_a * (1.0 + kind.tolerance * chance.normal()))
                .collect(),
            gains: (0..kind.sensors)
                .map(|_| 1.0 + 0.01 * chance.normal())
                .collect(),
            offsets_a: (0..kind.sensors)
                .map(|_| kind.offset_a * chance.normal())
                .collect(),
            kind: kind.clone(),
            chance,
        }
    }

    pub(crate) fn items(&self) -> usize {
        self.share.len()
    }

    #[allow(dead_code, reason = "not every user compares")]
    pub(crate) fn gain(&self, sensor: usize) -> f64 {
        self.gains[sensor]
    }

    /// Share of its computed current that a good segment draws.
    #[allow(dead_code, reason = "not every user compares")]
    pub(crate) fn own(&self, item: usize) -> f64 {
        self.own_a[item] / self.kind.full_a
    }

    /// Kills so many at random places.
    pub(crate) fn kill(&mut self, dead: usize) -> Vec<usize> {
        let mut killed = Vec::new();
        while killed.len() < dead {
            let at = self.chance.below(self.items());
            if self.share[at] > 0.0 {
                self.share[at] = 0.0;
                killed.push(at);
            }
        }
        killed.sort_unstable();
        killed
    }

    pub(crate) fn spec(&self) -> ShowSpec {
        let kind = &self.kind;
        let each = self.items().div_ceil(kind.sensors);
        let item = |number: usize| ShowItem {
            panel: small(number / kind.segments),
            segment: small(number % kind.segments),
            full_a: kind.full_a,
            sensors: vec![u16::try_from(number / each).unwrap()],
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
        ShowSpec {
            items: (0..self.items()).map(item).collect(),
            sensors: vec![sensor; kind.sensors],
            switches: vec![0; kind.panels],
            ..ShowSpec::default()
        }
    }

    /// What a sensor says while these levels show.
    fn read(&mut self, sensor: usize, levels: &[u8]) -> f64 {
        let kind = &self.kind;
        let each = self.items().div_ceil(kind.sensors);
        let first = sensor * each;
        let last = (first + each).min(self.items());
        let mut true_a = 0.0;
        let mut panel = first;
        while panel < last {
            let end = (panel + kind.segments).min(last);
            let draw = |at: usize| self.own_a[at] * self.share[at] * f64::from(levels[at]) / 255.0;
            let sum: f64 = (panel..end).map(draw).sum();
            let lit: f64 = (panel..end).map(|at| f64::from(levels[at]) / 255.0).sum();
            true_a += sum * (1.0 - kind.droop * lit / f64::from(small(kind.segments)));
            panel = end;
        }
        let felt_a = self.gains[sensor] * true_a
            + self.offsets_a[sensor]
            + kind.noise_a * self.chance.normal();
        (felt_a / kind.step_a).round() * kind.step_a
    }

    fn drift(&mut self, by_s: f64) {
        if self.kind.drift_a > 0.0 {
            for offset in &mut self.offsets_a {
                *offset += self.kind.drift_a * by_s.sqrt() * self.chance.normal();
            }
        }
    }
}

pub(crate) fn small(number: usize) -> u32 {
    u32::try_from(number).unwrap()
}

/// One scene.
#[derive(Debug, Clone)]
enum Scene {
    /// Waves that move: how far apart crests are along and across, how fast, where they began.
    Waves(Vec<[f64; 4]>),
    /// Bars that travel along the segments.
    Chase {
        width: f64,
        speed: f64,
        apart: f64,
        down: bool,
        dim: f64,
    },
    /// Segments that light up by chance and fade away.
    Sparkle {
        seed: u64,
        often_s: f64,
    },
    /// Every panel fades for itself, its segments one after the other by so much of a turn.
    Fade(Vec<[f64; 2]>, f64),
    Still(Vec<f64>),
}

/// Scene after scene, by chance; the same seed shows the same.
#[derive(Debug, Clone)]
pub(crate) struct Pictures {
    content: Content,
    kind: Kind,
    chance: Dice,
    scene: Scene,
    bright: f64,
    began_s: f64,
    ends_s: f64,
}

impl Pictures {
    pub(crate) fn new(kind: &Kind, content: Content, seed: u64) -> Self {
        let mut pictures = Self {
            content,
            kind: kind.clone(),
            chance: Dice::new(seed ^ 0x5ce7e),
            scene: Scene::Still(Vec::new()),
            bright: 1.0,
            began_s: 0.0,
            ends_s: 0.0,
        };
        pictures.next(0.0);
        pictures
    }

    fn next(&mut self, at_s: f64) {
        let chance = &mut self.chance;
        self.began_s = at_s;
        self.ends_s = at_s + 10.0 + 20.0 * chance.even();
        if self.content == Content::Still {
            self.ends_s = f64::INFINITY;
        }
        self.bright = 0.4 + 0.6 * chance.even();
        let panels = self.kind.panels;
        let fade = |chance: &mut Dice, each: f64| {
            let one = |_| [1.5 + 5.0 * chance.even(), 10.0 * chance.even()];
            Scene::Fade((0..panels).map(one).collect(), each)
        };
        self.scene = match self.content {
            Content::OneColour => fade(chance, 0.0),
            Content::Still => Scene::Still(
                (0..panels * self.kind.segments)
                    .map(|_| chance.even())
                    .collect(),
            ),
            Content::Moving => match chance.below(5) {
                0 | 1 => Scene::Waves(
                    (0..=chance.below(3))
                        .map(|_| {
                            [
                                (chance.even() - 0.5) * 1.2,
                                (chance.even() - 0.5) * 2.4,
                                1.0 + 2.0 * chance.even(),
                                7.0 * chance.even(),
                            ]
                        })
                        .collect(),
                ),
                2 => Scene::Chase {
                    width: 1.0 + 4.0 * chance.even(),
                    speed: 3.0 + 9.0 * chance.even(),
                    apart: 6.0 + 20.0 * chance.even(),
                    down: chance.even() < 0.5,
                    dim: 0.2 * chance.even(),
                },
                3 => Scene::Sparkle {
                    seed: chance.bits64(),
                    often_s: 0.7 + 2.0 * chance.even(),
                },
                _ => {
                    let each = 0.05 + 0.1 * chance.even();
                    fade(chance, each)
                }
            },
        };
    }

    /// The levels at a time; times must not go back.
    pub(crate) fn levels(&mut self, at_s: f64, into: &mut Vec<u8>) {
        while at_s >= self.ends_s {
            self.next(self.ends_s);
        }
        let at_s = at_s - self.began_s;
        let (segments, across) = (self.kind.segments, self.kind.across);
        into.clear();
        for item in 0..self.kind.panels * segments {
            let (panel, segment) = (item / segments, item % segments);
            // Segments lie side by side along a panel.
            let x = f64::from(small((panel % across) * segments + segment));
            let y = f64::from(small(panel / across));
            let level = match &self.scene {
                Scene::Waves(waves) => {
                    let sum: f64 = waves
                        .iter()
                        .map(|[kx, ky, fast, phase]| (kx * x + ky * y - fast * at_s + phase).sin())
                        .sum();
                    0.5 + 0.5 * sum / f64::from(small(waves.len()))
                }
                Scene::Chase {
                    width,
                    speed,
                    apart,
                    down,
                    dim,
                } => {
                    let along = if *down {
                        4.0 * y + 0.5 * x
                    } else {
                        x + 3.0 * y
                    };
                    let way = (along - speed * at_s).rem_euclid(*apart);
                    if way < *width { 1.0 } else { *dim }
                }
                Scene::Sparkle { seed, often_s } => {
                    // Each segment has its own beat, and in each beat lights up with its own strength.
                    let own = Dice::hash(seed ^ u64::from(small(item)));
                    let beat = at_s / (often_s * (0.7 + 0.6 * own)) + 10.0 * own;
                    let strength =
                        Dice::hash(seed ^ u64::from(small(item) << 16) ^ beat.floor().to_bits());
                    if strength < 0.5 {
                        0.0
                    } else {
                        strength * (1.0 - beat.fract())
                    }
                }
                Scene::Fade(panels, each) => {
                    let [period, phase] = panels[panel];
                    let turns = (at_s + phase) / period + each * f64::from(small(segment));
                    0.5 + 0.5 * (std::f64::consts::TAU * turns).sin()
                }
                Scene::Still(levels) => levels[item],
            };
            into.push(eight_bits(255.0 * self.bright * level));
        }
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "not before the beginning"
)]
fn time(at_s: f64) -> Time {
    Time((at_s * 1e6).round() as u64)
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "0 to 255"
)]
fn eight_bits(level: f64) -> u8 {
    level.round().clamp(0.0, 255.0) as u8
}

/// A floor, its pictures and an estimator that watches both.
#[derive(Debug, Clone)]
pub(crate) struct Showing {
    pub(crate) floor: Floor,
    pub(crate) show: Show,
    pictures: Pictures,
    tenth: u64,
    levels: Vec<u8>,
    computed_a: Vec<f64>,
    /// What was sent last, and when.
    shown: VecDeque<(f64, Vec<u8>)>,
}

/// Frames in a tenth of a second; so many are remembered.
const FRAMES: usize = 4;
const REMEMBERED: usize = 12;

impl Showing {
    pub(crate) fn new(floor: Floor, content: Content, seed: u64) -> Self {
        Self {
            show: Show::new(floor.spec()),
            pictures: Pictures::new(&floor.kind, content, seed),
            tenth: 0,
            levels: Vec::new(),
            computed_a: vec![0.0; floor.items()],
            shown: VecDeque::new(),
            floor,
        }
    }

    /// The same floor whole, watched for so long.
    pub(crate) fn learn(&mut self, floor: &Floor, for_s: u64, seed: u64) -> Baseline {
        let mut whole = Self::new(floor.clone(), Content::Moving, seed);
        for _ in 0..for_s {
            whole.second(|_| {});
        }
        let baseline = whole.show.baseline();
        self.show.learn(baseline.clone());
        baseline
    }

    /// A frame leaves.
    fn send(&mut self, at_s: f64) {
        self.pictures.levels(at_s, &mut self.levels);
        for (amps, level) in self.computed_a.iter_mut().zip(&self.levels) {
            *amps = self.floor.kind.full_a * f64::from(*level) / 255.0;
        }
        self.show.content(time(at_s), &self.computed_a);
        self.shown.push_back((at_s, self.levels.clone()));
        if self.shown.len() > REMEMBERED {
            self.shown.pop_front();
        }
    }

    /// One second: forty pictures, ten readings of each sensor, and what is found then.
    pub(crate) fn second(&mut self, mut spoil: impl FnMut(&mut Vec<(usize, f64)>)) -> &Findings {
        for _ in 0..10 {
            let begin_s = 0.1 * f64::from(u32::try_from(self.tenth).unwrap());
            let begin = Time(self.tenth * 100_000);
            self.tenth += 1;
            // Frames are 25 ms apart, and what is sent shows until the next.
            for frame in 0..FRAMES {
                let at_s = begin_s + 0.1 * f64::from(small(frame)) / f64::from(small(FRAMES));
                self.send(at_s);
            }
            let after = self.floor.chance.below(100);
            let felt_s = begin_s + 0.001 * f64::from(small(after)) - self.floor.kind.late_s;
            let shown = self.shown.iter().rev().find(|(at_s, _)| *at_s <= felt_s);
            self.levels
                .clone_from(&shown.or(self.shown.front()).unwrap().1);
            self.floor.drift(0.1);
            let mut read: Vec<(usize, f64)> = (0..self.floor.kind.sensors)
                .map(|sensor| (sensor, self.floor.read(sensor, &self.levels)))
                .collect();
            spoil(&mut read);
            for (sensor, value_a) in read {
                let at = begin.plus_ms(u64::from(small(after)));
                self.show.read(sensor, value_a, at);
            }
        }
        self.show.step(Time(self.tenth * 100_000))
    }
}
