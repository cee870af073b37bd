//! Readings become evidence, and evidence of several ages becomes a verdict.
//!
//! What was read in the last seconds is gathered apart; when that is long enough, the sensors' offsets are
//! reckoned out of it, so that their drift does no harm, and it goes into windows of several lengths that
//! forget. The shortest that can tell tells: what opened or was mended a minute ago is old news to it.

use super::baseline::{Baseline, SensorBase};
use super::heard::Heard;
use super::rest::{Late, Rest};
use super::spec::ShowSpec;
use crate::health::Judged;
use crate::health::infer::{
    Chance, Evidence, Layout, Priors, SensorLayout, Short, UNKNOWN, Weighed,
};
use crate::units::Time;

/// How long readings are gathered apart.
const GATHER_S: f64 = 20.0;
/// How fast the windows forget: time constants.
const WINDOWS_S: [f64; 3] = [60.0, 300.0, 1_800.0];
/// Probability that an item is dead or weak, in what a window remembers, before anything is read.
const DEAD: f64 = 1e-4;
const WEAK: f64 = 3e-5;
/// Nothing is said of an item that is weighed less than this against a whole lack.
const KNOWN: f64 = 25.0;
/// An item is good if that it is not has become less probable than before by this factor.
const SURELY_GOOD: f64 = 1e-3;
/// The offset that a sensor had is followed by this share of what it seems to have gone, each time.
const FOLLOW: f64 = 0.3;

/// Evidence of several ages.
#[derive(Debug, Clone)]
pub(super) struct Weighing {
    kinds: Vec<u32>,
    priors: Priors,
    /// How probable being good may be for an item to be called otherwise.
    improbable: f64,
    gathered: Evidence,
    since: Option<Time>,
    windows: Vec<Evidence>,
    groups: Vec<Crowd>,
    scaled_a: Vec<f64>,
    /// Of each sensor, the sum of squares of how far its offset was from where it was thought, and of how
    /// many times.
    scatter: Vec<(f64, f64)>,
    /// Of each sensor, what is left of its readings, and where it stands in its group.
    rests: Vec<Rest>,
    lates: Vec<Late>,
    places: Vec<Option<(usize, usize)>>,
}

/// What was last said of a group.
#[derive(Debug, Clone, Default)]
struct Crowd {
    looked: Option<Time>,
    /// By each window; nothing where it could not tell anything.
    told: Vec<Option<Weighed>>,
    /// Of each item of the floor that the shortest of them tells of, by how much it lacks.
    lacks: Vec<(usize, f64)>,
    /// Whether any of them seems to be faulty, and may not be.
    in_doubt: bool,
    /// Of each sensor, gain and offset in the same way.
    sensors: Vec<(f64, f64)>,
}

/// What is said of one item.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Call {
    Open,
    Faulty,
    Good,
}

impl Weighing {
    pub(super) fn new(spec: &ShowSpec, seen: &[Vec<u32>], base: &Baseline) -> Self {
        let layout = Layout {
            full_a: spec.items.iter().map(|item| item.full_a).collect(),
            sensors: seen
                .iter()
                .zip(&base.sensors)
                .map(|(sees, base)| SensorLayout {
                    sees: sees.clone(),
                    gain_sd: base.gain_sd,
                    offset_sd_a: base.offset_sd_a,
                })
                .collect(),
            tolerance: spec.tolerance,
        };
        let within: Vec<f64> = base.items.iter().map(|item| item.sd).collect();
        let empty = Evidence::with_tolerances(&layout, &within);
        let mut places = vec![None; spec.sensors.len()];
        for group in 0..empty.groups() {
            for (place, &sensor) in empty.sensors_of(group).iter().enumerate() {
                places[sensor] = Some((group, place));
            }
        }
        let items = spec.items.len().max(1);
        // Each window holds new readings so many times an hour, and is asked more often.
        let looks = 3_600.0 / WINDOWS_S[0];
        let count = f64::from(u32::try_from(items).unwrap_or(u32::MAX));
        Self {
            kinds: spec.items.iter().map(|item| item.panel).collect(),
            priors: Priors {
                dead: DEAD,
                weak: WEAK,
                good_from: spec.weak_below,
                ..Priors::default()
            },
            improbable: (spec.false_alarm / (looks * count * (DEAD + WEAK))).min(1e-3),
            since: None,
            windows: vec![empty.clone(); WINDOWS_S.len()],
            groups: vec![Crowd::default(); empty.groups()],
            scaled_a: vec![0.0; spec.items.len()],
            gathered: empty,
            scatter: vec![(0.0, 0.0); spec.sensors.len()],
            rests: base
                .sensors
                .iter()
                .map(|base| Rest::new(base.excess))
                .collect(),
            lates: vec![Late::default(); spec.sensors.len()],
            places,
        }
    }

    /// A reading that is believed, and what each of the sensor's items was computed to draw. `in_doubt`: something
    /// may have opened that it sees.
    pub(super) fn add(
        &mut self,
        heard: &Heard,
        computed_a: &[f64],
        items: &[u32],
        base: &mut Baseline,
        in_doubt: bool,
    ) {
        self.scaled_a.fill(0.0);
        for &item in items {
            let at = item as usize;
            self.scaled_a[at] = computed_a[at] * base.items[at].share;
        }
        self.since.get_or_insert(heard.at);
        self.hear_rest(heard, items, &mut base.sensors[heard.sensor], in_doubt);
        let variance = heard.variance * self.rests[heard.sensor].factor();
        self.gathered
            .add(heard.sensor, &self.scaled_a, heard.drawn_a, variance);
    }

    /// By how much the variance of a sensor's readings is greater than its noise.
    pub(super) fn factor(&self, sensor: usize) -> f64 {
        self.rests[sensor].factor()
    }

    /// Takes all that is known out of a reading.
    fn hear_rest(&mut self, heard: &Heard, items: &[u32], base: &mut SensorBase, in_doubt: bool) {
        let rest = &mut self.rests[heard.sensor];
        let Some((group, place)) = self.places[heard.sensor] else {
            return;
        };
        let crowd = &self.groups[group];
        let Some(&(gain, offset_a)) = crowd.sensors.get(place) else {
            rest.pause();
            return;
        };
        let total_a: f64 = items.iter().map(|&item| self.scaled_a[item as usize]).sum();
        let lacking = crowd
            .lacks
            .iter()
            .map(|(item, lack)| lack * self.scaled_a[*item]);
        let lacking_a: f64 = lacking.sum();
        let left_a = total_a - heard.drawn_a - lacking_a - gain * total_a - offset_a;
        let sd_a = heard.variance.sqrt();
        self.lates[heard.sensor].hear(left_a / sd_a, heard.skewed_a / sd_a, base);
        if crowd.in_doubt {
            rest.pause();
        } else {
            rest.hear(left_a / sd_a, in_doubt);
        }
    }

    /// Puts away what was gathered for long enough, and looks at the groups whose turn it is; whether
    /// anything is new.
    pub(super) fn step(&mut self, now: Time, base: &mut Baseline) -> bool {
        let mut new = false;
        for group in 0..self.groups.len() {
            let size = self.gathered.items_of(group).len();
            let due = self.groups[group]
                .looked
                .is_none_or(|looked| now.s_since(looked) >= every_s(size));
            if due {
                self.groups[group].looked = Some(now);
                self.look(group);
                new = true;
            }
        }
        if self
            .since
            .is_some_and(|since| now.s_since(since) >= GATHER_S)
        {
            self.put_away(base);
        }
        new
    }

    fn put_away(&mut self, base: &mut Baseline) {
        self.since = None;
        for (group, crowd) in self.groups.iter().enumerate() {
            let Some(told) = crowd.told.iter().flatten().next() else {
                continue;
            };
            for (&sensor, [_, offset]) in self.gathered.sensors_of(group).iter().zip(&told.sensors)
            {
                let base = &mut base.sensors[sensor];
                let step_a = (-FOLLOW * offset.0).clamp(-base.offset_sd_a, base.offset_sd_a);
                base.offset_a += step_a;
                let (squares, times) = &mut self.scatter[sensor];
                *squares += offset.0 * offset.0;
                *times += 1.0;
            }
        }
        self.gathered.let_offsets_change();
        for (window, length_s) in self.windows.iter_mut().zip(WINDOWS_S) {
            window.forget((-GATHER_S / length_s).exp());
            window.take(&self.gathered);
        }
        self.gathered.forget(0.0);
    }

    fn look(&mut self, group: usize) {
        let mut all = Vec::with_capacity(self.windows.len());
        for number in 0..self.windows.len() {
            let window = &mut self.windows[number];
            let told = window.weigh(&self.gathered, group, &self.priors, &self.kinds);
            let open = |item: &usize| {
                let chance = told.as_ref().and_then(|told| told.decision.chances[*item]);
                chance.is_none_or(|chance| self.call(&chance) == Call::Open)
            };
            let go_on = self.gathered.items_of(group).iter().any(open);
            all.push(told);
            if !go_on {
                break;
            }
        }
        let known = all.iter().flatten().next();
        let in_doubt = |told: &Weighed| {
            let mut chances = told.decision.chances.iter().flatten();
            chances.any(|chance| chance.good < 0.5 && self.call(chance) == Call::Open)
        };
        let doubt = known.is_some_and(in_doubt);
        let lacks = known.map_or_else(Vec::new, |told| {
            let items = self.gathered.items_of(group).iter();
            items
                .zip(&told.lacks)
                .map(|(item, lack)| (*item, lack.0))
                .collect()
        });
        let sensors = known.map_or_else(Vec::new, |told| {
            let sensors = told.sensors.iter();
            sensors.map(|[gain, offset]| (gain.0, offset.0)).collect()
        });
        let crowd = &mut self.groups[group];
        (crowd.lacks, crowd.sensors, crowd.in_doubt) = (lacks, sensors, doubt);
        crowd.told = all;
    }

    /// From now on these may be otherwise than they were. It takes seconds before anybody knows, and what was
    /// read in them would be laid to others' charge: what was just gathered is forgotten.
    pub(super) fn let_items_change(&mut self, items: &[u32]) {
        self.gathered.forget_groups_of(items);
        for window in &mut self.windows {
            window.let_items_change(items);
        }
    }

    /// Of each item what the shortest window says that can tell.
    pub(super) fn judge(&self, judged: &mut [Judged]) {
        judged.fill(UNKNOWN);
        for (group, crowd) in self.groups.iter().enumerate() {
            for &item in self.gathered.items_of(group) {
                let mut chances = crowd
                    .told
                    .iter()
                    .flatten()
                    .filter_map(|told| told.decision.chances[item]);
                if let Some(chance) = chances.find(|chance| self.call(chance) != Call::Open) {
                    judged[item] = chance.judged();
                }
            }
        }
    }

    fn call(&self, chance: &Chance) -> Call {
        if chance.good <= self.improbable {
            Call::Faulty
        } else if chance.weight > KNOWN
            && chance.dead <= SURELY_GOOD * self.priors.dead
            && chance.weak <= WEAK
        {
            Call::Good
        } else {
            Call::Open
        }
    }

    /// Panels that lack something, of those whose items are not all told; by the shortest window that can
    /// tell. Current that lacks, and the probability that nothing does.
    pub(super) fn short(&self) -> Vec<&Short> {
        let mut short: Vec<&Short> = Vec::new();
        for crowd in &self.groups {
            for told in crowd.told.iter().flatten() {
                for one in &told.short {
                    let known = short.iter().any(|other| other.kind == one.kind);
                    if !known && one.good <= self.improbable {
                        short.push(one);
                    }
                }
            }
        }
        short
    }

    /// What the longest window says of a floor that is whole.
    pub(super) fn learn(&self, spec: &ShowSpec, base: &Baseline) -> Baseline {
        let mut learnt = base.clone();
        let mut longest = self.windows[WINDOWS_S.len() - 1].clone();
        for group in 0..self.groups.len() {
            let told = longest.weigh(&self.gathered, group, &self.priors, &self.kinds);
            let Some(told) = told else {
                continue;
            };
            for (&item, &(lack, sd)) in self.gathered.items_of(group).iter().zip(&told.lacks) {
                let base = &mut learnt.items[item];
                if lack.abs() < 0.3 {
                    base.share *= 1.0 - lack;
                    base.sd = sd.max(0.003);
                }
            }
            for (&sensor, &[(gain, sd), _]) in
                self.gathered.sensors_of(group).iter().zip(&told.sensors)
            {
                let base = &mut learnt.sensors[sensor];
                base.gain *= 1.0 - gain;
                base.gain_sd = sd.max(0.001);
                base.excess = self.rests[sensor].factor();
                let (squares, times) = self.scatter[sensor];
                if times >= 6.0 {
                    let spec = &spec.sensors[sensor];
                    let least = 0.1 * spec.noise_a.max(spec.step_a) / spec.factor;
                    let wandered =
                        spec.drift_a * spec.drift_a * 3.0 * GATHER_S / (spec.factor * spec.factor);
                    let sd_a = (squares / times + wandered + least * least).sqrt();
                    base.offset_sd_a = sd_a.min(base.offset_sd_a);
                }
            }
        }
        learnt
    }

    pub(super) fn misfit(&self) -> f64 {
        let told = self.groups.iter().filter_map(|crowd| crowd.told.first());
        told.flatten()
            .map(|told| told.decision.misfit)
            .fold(1.0, f64::max)
    }
}

/// Looking costs the cube of a group's size.
fn every_s(items: usize) -> f64 {
    match items {
        0..=64 => 1.0,
        65..=128 => 4.0,
        _ => 10.0,
    }
}
