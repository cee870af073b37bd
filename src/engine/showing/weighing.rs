//! The estimator of one floor with all that it is fed by: delays of sensors, nodes that answer, the
//! survey that taught it.

use std::collections::BTreeMap;

use super::delay::Delay;
use super::kept::Kept;
use super::nodes::{Presence, Says};
use super::said::{Said, Told, Turn, reaches};
use super::spec::sees;
use crate::engine::look::Look;
use crate::engine::survey::Held;
use crate::floor::Floor;
use crate::health::estimate::{LooseJoint, Shortfall};
use crate::health::show::{Baseline, Findings, Show, ShowSensor, ShowSpec};
use crate::health::switches::Press;
use crate::health::{Condition, Item};
use crate::units::Time;

/// After a survey or a calibration run readings say nothing for so long: the floor jumps back to its
/// picture, and sensors take their time.
const QUIET_MS: u64 = 2_000;

/// A survey gives a sensor so many of its time constants to settle, and so does what learns from it.
const SETTLED: f64 = 4.0;

/// One sensor that takes part.
#[derive(Debug, Clone)]
struct Sensor {
    /// The floor's index of it.
    of: usize,
    delay: Delay,
    /// Nodes that light what it sees.
    nodes: Vec<usize>,
    /// Items that it sees.
    items: Vec<usize>,
}

#[derive(Debug)]
pub(super) struct Weighing {
    show: Show,
    sensors: Vec<Sensor>,
    nodes: Vec<Presence>,
    /// The node of each item, and of each panel.
    node_of: Vec<Option<usize>>,
    node_of_panel: Vec<Option<usize>>,
    told: Vec<Told>,
    /// Since when panels are short, and joints are known to open under feet.
    short: BTreeMap<u32, Time>,
    loose: BTreeMap<(u32, Option<u32>), Time>,
    quiet_until: Time,
    /// When it was last looked or asked.
    now: Time,
    last_press: u64,
    /// What was told last of what is told as a whole.
    whole: (Vec<Shortfall>, Vec<LooseJoint>),
}

impl Weighing {
    /// `sensors` are the floor's indices of those that the spec lists.
    pub(super) fn new(floor: &Floor, spec: ShowSpec, sensors: Vec<usize>, now: Time) -> Self {
        let node_of_panel: Vec<Option<usize>> =
            (floor.panels.iter().map(|panel| floor.runs[panel.run].node)).collect();
        let node_of: Vec<Option<usize>> = (spec.items.iter())
            .map(|item| node_of_panel[item.panel as usize])
            .collect();
        let sensors = sensors.into_iter().map(|of| {
            let seen = |item: &crate::health::show::ShowItem| {
                sees(floor, floor.sensors[of].of, item.panel as usize)
            };
            let items = spec.items.iter().enumerate();
            let items: Vec<usize> =
                (items.filter(|(_, item)| seen(item)).map(|(at, _)| at)).collect();
            let mut nodes: Vec<usize> = items.iter().filter_map(|&at| node_of[at]).collect();
            nodes.sort_unstable();
            nodes.dedup();
            Sensor {
                of,
                delay: Delay::default(),
                nodes,
                items,
            }
        });
        Self {
            sensors: sensors.collect(),
            nodes: vec![Presence::default(); floor.nodes.len()],
            node_of_panel,
            told: vec![Told::default(); spec.items.len()],
            node_of,
            short: BTreeMap::new(),
            loose: BTreeMap::new(),
            quiet_until: now.plus_ms(QUIET_MS),
            now,
            last_press: 0,
            whole: (Vec::new(), Vec::new()),
            show: Show::new(spec),
        }
    }

    /// Goes on with what was known of delays and nodes. What was told of it is still to be taken back.
    pub(super) fn goes_on_after(&mut self, before: &Self) {
        self.whole.clone_from(&before.whole);
        self.nodes.clone_from(&before.nodes);
        self.last_press = before.last_press;
        for sensor in &mut self.sensors {
            if let Some(same) = before.sensors.iter().find(|one| one.of == sensor.of) {
                sensor.delay = same.delay.clone();
            }
        }
    }

    /// The same floor as another file says it: sensors that it `kept` go on as they are known, and so do
    /// items, each of which was the one that `from` says. Nothing if no sensor is left. What was learnt
    /// counts as the survey taught it; what was weighed since is weighed anew.
    pub(super) fn over(
        before: &Self,
        floor: &Floor,
        spec: impl Fn(&[(usize, ShowSensor)]) -> ShowSpec,
        kept: &Kept,
        from: &[Option<usize>],
        now: Time,
    ) -> Option<Self> {
        let sensors = before.sensors.iter().enumerate();
        let moved: Vec<(usize, usize)> = sensors
            .filter_map(|(at, sensor)| Some((at, kept.sensors[sensor.of]?)))
            .collect();
        if moved.is_empty() {
            return None;
        }
        let known = before.show.spec();
        let felt: Vec<_> = (moved.iter())
            .map(|&(at, to)| (to, known.sensors[at].clone()))
            .collect();
        let spec = spec(&felt);
        let mut baseline = Baseline::unknown(&spec);
        let learnt = before.show.learnt();
        for (sensor, (at, _)) in baseline.sensors.iter_mut().zip(&moved) {
            *sensor = learnt.sensors[*at];
        }
        let mut next = Self::new(
            floor,
            spec,
            felt.into_iter().map(|(to, _)| to).collect(),
            now,
        );
        for (sensor, (at, _)) in next.sensors.iter_mut().zip(&moved) {
            sensor.delay = before.sensors[*at].delay.clone();
        }
        for (item, old) in from.iter().enumerate() {
            if let Some(old) = *old {
                baseline.items[item] = learnt.items[old];
                next.told[item] = before.told[old];
            }
        }
        for (old, to) in kept.nodes.iter().enumerate() {
            if let Some(to) = *to {
                next.nodes[to] = before.nodes[old];
            }
        }
        next.last_press = before.last_press;
        next.show.learn(baseline);
        Some(next)
    }

    /// Whether any sensor sees an item.
    pub(super) fn sees(&self, item: usize) -> bool {
        !self.show.spec().items[item].sensors.is_empty()
    }

    /// A light of a survey, which was alone on show while it was held and ended at `ended`.
    pub(super) fn learn_light(&mut self, computed_a: &[f64], held: &Held, ended: Time) {
        let last_s = held.readings.iter().map(|one| one.after_s);
        let lasted_s = last_s.fold(0.0, f64::max);
        let began = Time(ended.0.saturating_sub(us(lasted_s)));
        self.show.content(began, computed_a);
        for reading in &held.readings {
            let sensor = self.sensors.iter().position(|one| one.of == reading.sensor);
            let Some(sensor) = sensor else { continue };
            let lag_s = self.show.spec().sensors[sensor].lag_s;
            if reading.after_s >= SETTLED * lag_s {
                let at = began.plus_us(us(reading.after_s));
                self.show.read(sensor, reading.value_a, at);
            }
        }
        self.show.content(ended, computed_a);
        self.show.step(ended);
    }

    /// What all those lights teach of the floor as it is.
    pub(super) fn learn(&mut self, now: Time) {
        self.show.step(now);
        let baseline = self.show.baseline();
        self.show.learn(baseline);
    }

    pub(super) fn look(&mut self, look: &Look, computed_a: &[f64]) {
        self.now = look.at;
        self.see_nodes(look);
        if look.busy {
            self.quiet_until = look.at.plus_ms(QUIET_MS);
        }
        for sensor in &mut self.sensors {
            let total_a = sensor.items.iter().map(|&item| computed_a[item]).sum();
            sensor.delay.computed(look.at, total_a);
        }
        self.show.content(look.at, computed_a);
        for reading in &look.readings {
            let Some(at) = self.sensors.iter().position(|one| one.of == reading.sensor) else {
                continue;
            };
            let sensor = &mut self.sensors[at];
            sensor.delay.read(reading.at, reading.value_a);
            let mut nodes = sensor.nodes.iter();
            let counts = nodes.all(|&node| self.nodes[node].counts(look.at));
            let quiet = reading.at < self.quiet_until;
            if let (Some(ms), true, false) = (sensor.delay.found_ms(), counts, quiet) {
                let felt = Time(reading.at.0.saturating_sub(ms * 1_000));
                self.show.read(at, reading.value_a, felt);
            }
        }
    }

    /// Nodes that are back were dark meanwhile: what was seen of their panels since they fell silent, and just
    /// before, was the node.
    fn see_nodes(&mut self, look: &Look) {
        let mut back = Vec::new();
        for (at, (presence, seen)) in self.nodes.iter_mut().zip(&look.nodes).enumerate() {
            if presence.see(*seen, look.at) {
                back.push(at);
            }
        }
        if !back.is_empty() {
            let own = |node: &Option<usize>| node.is_some_and(|node| back.contains(&node));
            let items = self.node_of.iter().enumerate();
            let items: Vec<usize> = items
                .filter(|(_, node)| own(node))
                .map(|(at, _)| at)
                .collect();
            self.look_anew(&items);
        }
    }

    pub(super) fn pressed(&mut self, press: &Press) {
        if press.number > self.last_press {
            self.last_press = press.number;
            self.show
                .pressed(press.panel, press.switch, press.down, press.at);
        }
    }

    /// What was seen of these before counts no more.
    pub(super) fn look_anew(&mut self, items: &[usize]) {
        for &item in items {
            self.told[item].forget(self.now);
        }
        let items: Vec<u32> = (items.iter())
            .filter_map(|&item| u32::try_from(item).ok())
            .collect();
        self.show.repaired(&items);
    }

    /// What was said was taken back.
    pub(super) fn taken_back(&mut self) {
        let all = 0..self.told.len();
        let faulty: Vec<usize> = all.filter(|&at| self.told[at].is_faulty()).collect();
        self.look_anew(&faulty);
    }

    /// What is new; nothing if nothing is.
    pub(super) fn step(&mut self, items: &[Item], known: &[bool], now: Time) -> Option<Said> {
        self.now = now;
        let findings = self.show.step(now).clone();
        let mut said = Said::default();
        let (mut anew, mut weak) = (Vec::new(), Vec::new());
        for (at, &judged) in findings
            .judged
            .iter()
            .enumerate()
            .filter(|(at, _)| known[*at])
        {
            let node = self.node_of[at];
            let nodes = &self.nodes;
            let was_faulty = self.told[at].is_faulty();
            let turn = self.told[at].hear(judged, now, |since, from| {
                node.map_or(Says::There, |node| nodes[node].says(since, from, now))
            });
            match turn {
                Turn::Nothing => {}
                Turn::Say(judged, since) => {
                    said.judged.push((items[at], judged, since));
                    if !was_faulty && matches!(judged.condition, Condition::Weak(_)) {
                        weak.push(u32::try_from(at).unwrap_or(u32::MAX));
                    }
                }
                Turn::Forget => anew.push(at),
            }
        }
        self.look_anew(&anew);
        // What has just gone dead looks weak as long as what it drew before is remembered.
        self.show.repaired(&weak);
        said.shortfalls = self.shortfalls(&findings, known, now);
        said.loose = self.loose(&findings, now);
        let whole = (said.shortfalls.clone(), said.loose.clone());
        let news = !said.judged.is_empty() || whole != self.whole;
        self.whole = whole;
        news.then_some(said)
    }

    /// Panels that draw too little, each with its first time; while its node may be the reason it waits.
    fn shortfalls(&mut self, findings: &Findings, known: &[bool], now: Time) -> Vec<Shortfall> {
        let wanted = |short: &&crate::health::show::Shortfall| {
            let mut items = short.items.iter();
            items.all(|&item| known.get(item as usize) == Some(&true))
        };
        let before = std::mem::take(&mut self.short);
        let mut told = Vec::new();
        for short in findings.shortfalls.iter().filter(wanted) {
            let at = *before.get(&short.panel).unwrap_or(&now);
            let panel = short.panel as usize;
            let node = self.node_of_panel[panel];
            let says = node.map_or(Says::There, |node| {
                self.nodes[node].says(at, reaches(at, Time(0)), now)
            });
            // What is still short later on is so by what was read later on.
            let at = if says == Says::WasAway { now } else { at };
            self.short.insert(short.panel, at);
            if says == Says::There {
                told.push(Shortfall {
                    panel,
                    share: short.share,
                    chance: short.chance,
                    at,
                });
            }
        }
        told
    }

    fn loose(&mut self, findings: &Findings, now: Time) -> Vec<LooseJoint> {
        let before = std::mem::take(&mut self.loose);
        let mut told = Vec::new();
        for loose in &findings.loose {
            let key = (loose.panel, loose.segment);
            let at = *before.get(&key).unwrap_or(&now);
            self.loose.insert(key, at);
            told.push(LooseJoint {
                panel: loose.panel as usize,
                segment: loose.segment.map(|at| at as usize),
                chance: loose.chance,
                evidence: loose.evidence.clone(),
                at,
            });
        }
        told
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "seconds of a light, not negative"
)]
fn us(s: f64) -> u64 {
    (s.max(0.0) * 1e6) as u64
}
