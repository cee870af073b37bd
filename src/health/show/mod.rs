//! What is dead, from the running show: ordinary content beside what the sensors read.
//!
//! Whoever runs it hands over what leaves ([`Show::content`]) and what is read ([`Show::read`]), each
//! with its time, and asks now and then what that says ([`Show::step`]). It is an estimate: where content
//! does not tell items apart it says so, and names the panel that draws too little.

mod align;
mod baseline;
pub mod feet;
mod findings;
mod heard;
mod rest;
mod spec;
pub mod steps;
mod sudden;
mod watch;
mod weigh;

pub use align::{Felt, History};
pub use baseline::{Baseline, ItemBase, SensorBase};
pub use findings::{Dropped, Findings, Loose, SensorWord, Shortfall};
pub use heard::Heard;
pub use spec::{ShowItem, ShowSensor, ShowSpec};

use std::collections::VecDeque;

use self::sudden::Sudden;
use self::watch::Watch;
use self::weigh::Weighing;
use crate::health::infer::UNKNOWN;
use crate::health::{Condition, Judged};
use crate::units::{Time, count};

/// Readings wait so long, in microseconds, for the content of their moment.
const WAIT_US: u64 = 250_000;
/// That something is faulty must be found for so long before it is said.
const CONFIRM_S: f64 = 1.0;
/// An item that changes by more than twice this share of full in the time that content and readings may
/// be apart jumps.
const JUMP: f64 = 0.1;
/// How sure it is that an item is dead by whose sensor nothing flows.
const NOTHING_FLOWS_DOUBT: f64 = 1e-4;

/// The estimator.
#[derive(Debug, Clone)]
pub struct Show {
    spec: ShowSpec,
    base: Baseline,
    /// Of each sensor, the items it sees, and what they draw when all are lit.
    seen: Vec<Vec<u32>>,
    full_a: Vec<f64>,
    history: History,
    /// Readings that wait for their content.
    waiting: VecDeque<(usize, f64, Time)>,
    watches: Vec<Watch>,
    weighing: Weighing,
    sudden: Sudden,
    computed_a: Vec<f64>,
    /// Which items were found faulty, and which panels short.
    faulty: Vec<Confirmed>,
    short: Vec<Confirmed>,
    findings: Findings,
}

impl Show {
    /// Nothing was seen yet.
    pub fn new(spec: ShowSpec) -> Self {
        let slowest_s = spec.sensors.iter().map(|sensor| sensor.lag_s);
        let seen = spec.seen();
        let base = Baseline::unknown(&spec);
        let panels = spec.items.iter().map(|item| item.panel as usize + 1).max();
        let full_a =
            |items: &Vec<u32>| items.iter().map(|&at| spec.items[at as usize].full_a).sum();
        Self {
            history: History::new(slowest_s.fold(0.0, f64::max)),
            waiting: VecDeque::new(),
            watches: vec![Watch::default(); spec.sensors.len()],
            weighing: Weighing::new(&spec, &seen, &base),
            sudden: Sudden::new(&spec),
            computed_a: vec![0.0; spec.items.len()],
            faulty: vec![Confirmed::default(); spec.items.len()],
            short: vec![Confirmed::default(); panels.unwrap_or(0)],
            findings: Findings {
                judged: vec![UNKNOWN; spec.items.len()],
                sensors: vec![SensorWord::Silent; spec.sensors.len()],
                ..Findings::default()
            },
            full_a: seen.iter().map(full_a).collect(),
            base,
            seen,
            spec,
        }
    }

    /// What it was told.
    pub fn spec(&self) -> &ShowSpec {
        &self.spec
    }

    /// Takes over what a whole floor is like, and begins anew; one that is not of this floor is passed over.
    pub fn learn(&mut self, baseline: Baseline) {
        if baseline.fits(&self.spec) {
            self.base = baseline;
            self.weighing = Weighing::new(&self.spec, &self.seen, &self.base);
            self.sudden.learn(&self.base);
        }
    }

    /// What it goes by: what was learnt last.
    pub const fn learnt(&self) -> &Baseline {
        &self.base
    }

    /// What the floor is like, by what was seen in the last half hour and what was known before. Of items
    /// that lack it says what was known before.
    pub fn baseline(&self) -> Baseline {
        self.weighing.learn(&self.spec, &self.base)
    }

    /// Mean square of what is left unexplained, against what noise explains; about 1.
    pub fn misfit(&self) -> f64 {
        self.weighing.misfit()
    }

    /// What each item is computed to draw beyond idle from now on, by what was really sent.
    pub fn content(&mut self, at: Time, computed_a: &[f64]) {
        if computed_a.len() == self.spec.items.len() {
            self.history.put(at, computed_a);
            self.hear(at);
        }
    }

    /// What a sensor read, as it gives it, at the time it was read.
    pub fn read(&mut self, sensor: usize, value_a: f64, at: Time) {
        if sensor < self.spec.sensors.len() && value_a.is_finite() {
            self.waiting.push_back((sensor, value_a, at));
        }
    }

    /// Hears all readings whose content has come.
    fn hear(&mut self, now: Time) {
        while let Some(&(sensor, value_a, at)) = self.waiting.front() {
            if !self.history.knows(at) && now.us_since(at) < WAIT_US {
                break;
            }
            self.waiting.pop_front();
            self.hear_one(sensor, value_a, at);
        }
    }

    fn hear_one(&mut self, sensor: usize, value_a: f64, at: Time) {
        let (spec, items) = (&self.spec.sensors[sensor], &self.seen[sensor]);
        let lit_at = align::earlier(at, self.base.sensors[sensor].late_s);
        let each_a = self.full_a[sensor] / count(items.len().max(1));
        let which = (&items[..], JUMP * each_a);
        let felt = self
            .history
            .felt(lit_at, spec.lag_s, which, &mut self.computed_a);
        let Some(felt) = felt else {
            return;
        };
        let base = &self.base.sensors[sensor];
        let heard = Heard::new(spec, sensor, (value_a, at), &felt, base);
        let bounds_a = (self.full_a[sensor], base.offset_sd_a);
        let believed = self.watches[sensor].hear(spec, &heard, value_a, bounds_a);
        if !believed {
            return;
        }
        let doubted = Heard {
            variance: heard.variance * self.weighing.factor(sensor),
            ..heard
        };
        let disturbed = self.sudden.hear(&doubted, &self.computed_a);
        // While a joint that is known to be loose may be out, nothing is said of what lasts; nor by what is read
        // until it is known what has just opened.
        if !disturbed && !self.sudden.may_have_opened(sensor) {
            let in_doubt = self.sudden.is_looking(sensor);
            let (weighing, base) = (&mut self.weighing, &mut self.base);
            weighing.add(&heard, &self.computed_a, items, base, in_doubt);
        }
    }

    /// A switch went down or up.
    pub fn pressed(&mut self, panel: u32, switch: u16, down: bool, at: Time) {
        self.sudden.pressed(panel, switch, down, at);
    }

    /// A survey found these good, or a person says so: what was known of them is forgotten.
    pub fn repaired(&mut self, items: &[u32]) {
        self.weighing.let_items_change(items);
        self.sudden.repaired(items);
        for &item in items {
            if let Some(judged) = self.findings.judged.get_mut(item as usize) {
                *judged = UNKNOWN;
                self.faulty[item as usize] = Confirmed::default();
            }
        }
    }

    /// What all that says by now; about once a second.
    pub fn step(&mut self, now: Time) -> &Findings {
        self.hear(now);
        for ((word, watch), spec) in self
            .findings
            .sensors
            .iter_mut()
            .zip(&self.watches)
            .zip(&self.spec.sensors)
        {
            *word = watch.word(spec, now);
        }
        self.sudden.take_back(&mut self.findings);
        if self.weighing.step(now, &mut self.base) {
            self.judge(now);
        }
        let new = self.sudden.step(&self.spec, now, &mut self.findings);
        // They are otherwise than all that was weighed before.
        self.weighing.let_items_change(&new);
        &self.findings
    }

    fn judge(&mut self, now: Time) {
        // What may just have opened is not laid to anybody's charge before it is known.
        let sensors = 0..self.spec.sensors.len();
        let open: Vec<bool> = sensors.map(|at| self.sudden.may_have_opened(at)).collect();
        let waits = |item: &ShowItem| item.sensors.iter().any(|at| open[usize::from(*at)]);
        let judged = &mut self.findings.judged;
        self.weighing.judge(judged);
        for (number, item) in self.spec.items.iter().enumerate() {
            let words = item
                .sensors
                .iter()
                .map(|&at| self.findings.sensors[usize::from(at)]);
            let none = words.clone().any(|word| word == SensorWord::NothingFlows);
            if none && words.clone().all(|word| word != SensorWord::Fine) {
                judged[number] = Judged {
                    condition: Condition::Dead,
                    doubt: NOTHING_FLOWS_DOUBT,
                };
            }
            let is_faulty = !matches!(
                judged[number].condition,
                Condition::Good | Condition::Unknown
            );
            if !self.faulty[number].hear(is_faulty, waits(item), now) && is_faulty {
                judged[number] = UNKNOWN;
            }
        }
        let mut shortfalls: Vec<Shortfall> = Vec::new();
        for short in self.weighing.short() {
            let of_panel = |item: &&ShowItem| item.panel == short.kind;
            let items = (0..)
                .zip(&self.spec.items)
                .filter(|(_, item)| of_panel(item));
            // What is told item by item is told; the rest lacks among those that nothing is told of.
            let (mut whole_a, mut told_a, mut open) = (0.0, 0.0, Vec::new());
            for (at, item) in items {
                let judged = self.findings.judged[at as usize];
                whole_a += item.full_a;
                match judged.condition {
                    Condition::Unknown => open.push(at),
                    Condition::Good => {}
                    other => told_a += item.full_a * (1.0 - other.share().unwrap_or(1.0)),
                }
            }
            let least_a = open.iter().map(|&at| self.spec.items[at as usize].full_a);
            let left_a = short.lack_a - told_a;
            if left_a > 0.5 * least_a.fold(f64::INFINITY, f64::min) {
                shortfalls.push(Shortfall {
                    panel: short.kind,
                    items: open,
                    share: left_a / whole_a,
                    chance: 1.0 - short.good,
                });
            }
        }
        for (panel, confirmed) in (0..).zip(&mut self.short) {
            let is_short = shortfalls.iter().any(|one| one.panel == panel);
            let waits = is_short && {
                let mut items = self.spec.items.iter().filter(|item| item.panel == panel);
                items.any(waits)
            };
            if !confirmed.hear(is_short, waits, now) {
                shortfalls.retain(|one| one.panel != panel);
            }
        }
        self.findings.shortfalls = shortfalls;
    }
}

/// Whether something has been so for long enough.
#[derive(Debug, Clone, Copy, Default)]
struct Confirmed {
    since: Option<Time>,
    told: bool,
}

impl Confirmed {
    /// What is so by now. While it `waits`, nothing new is told.
    fn hear(&mut self, is_so: bool, waits: bool, now: Time) -> bool {
        if !is_so || waits && !self.told {
            *self = Self::default();
            return false;
        }
        let since = *self.since.get_or_insert(now);
        self.told |= now.s_since(since) >= CONFIRM_S;
        self.told
    }
}
