//! Joints that open when somebody steps on them.
//!
//! A *visit* of a panel lasts from the first of its switches that goes down to the last that comes up. A loose
//! joint of that panel opens with some chance at each press, and closes when all are up. For every
//! candidate of the panel [`brief`] weighs what the sensors read during a visit against what they read just
//! before it, by what the candidate was computed to draw meanwhile; the log likelihood ratios of all visits add up,
//! each mixed over "this press did not open it". In the dark a visit says nothing.
//!
//! People press many panels at once, so that many candidates go with some of the drop-outs; the one that goes
//! with most of them wins, for all that a sensor sees are compared with each other, and also with joints
//! that drop out whoever steps where. Once one is found, what the others seemed to say is forgotten,
//! and while somebody stands there its sensors say nothing of them.

mod brief;
mod found;

#[cfg(test)]
mod tests;

use std::collections::VecDeque;

use self::brief::{Brief, Heard};
use super::findings::Loose;
use super::heard::Heard as Reading;
use super::spec::ShowSpec;
use super::steps::whats::{Candidate, candidates};
use super::steps::{Group, Rest};
use crate::units::{Time, count};

/// Chances that a press opens a loose joint: each is tried.
const OFTEN: [f64; 3] = [0.25, 0.6, 0.9];
/// Chance that one that drops out by itself does so in a second.
const BY_ITSELF: f64 = 0.05;
/// Chance that one that opens under feet does so in a second without: a foot beside the switches.
const STRAY: f64 = 2e-3;
/// How likely a joint of a floor is loose before anything is known, one item by itself, and one that
/// drops out by itself. Our guess.
const LOOSE: f64 = 1e-4;
const LOOSE_ITEM: f64 = 1e-5;
/// Each visit counts so much less than the one after it.
const FADES: f64 = 0.98;
/// So long after a visit a joint may still ring, in microseconds.
const RING_US: u64 = 400_000;
/// So long before a visit is what it is compared with.
const BEFORE_US: u64 = 3_000_000;
/// A visit is judged by its first seconds.
const LONGEST_US: u64 = 10_000_000;
/// Somebody who left so long ago may still be why something is out.
const LEFT_US: u64 = 1_500_000;
/// What is read may be so late.
const LATE_US: u64 = 500_000;
/// A panel, a joint is named if it is at least so probable.
const NAMED: f64 = 0.99;
/// So often it must have opened.
const LEAST: u32 = 5;
/// Before it opened so often nothing is certain.
const OFTEN_ENOUGH: u32 = 8;
/// A visit counts in words if it could have told: three standard deviations, squared.
const TELLS: f64 = 9.0;

/// A visit of a panel.
#[derive(Debug, Clone, PartialEq)]
struct Visit {
    from: Time,
    /// When each press began.
    presses: Vec<Time>,
    until: Option<Time>,
    judged: bool,
}

/// Whose switches are pressed.
#[derive(Debug, Clone, Default)]
struct Panel {
    down: Vec<u16>,
    visits: VecDeque<Visit>,
}

impl Panel {
    /// Whether anybody stood there, or it may have rung, between these.
    fn touched(&self, from: Time, to: Time) -> bool {
        self.visits.iter().any(|visit| {
            let over = visit.until.map(|until| until.plus_us(RING_US));
            visit.from < to && over.is_none_or(|over| over > from)
        })
    }
}

/// What the visits said of one candidate.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
struct Said {
    /// Log likelihood ratios for each chance of opening, and for dropping out by itself.
    feet: [f64; 3],
    itself: f64,
    /// Visits that could tell, and those in which it opened; by how much on the sum.
    visits: u32,
    opened: u32,
    sum_a: f64,
    /// Seconds without a visit that could tell, and those in which it dropped out.
    without_s: u32,
    dropped_s: u32,
    found: Option<Time>,
}

impl Said {
    fn weight(&self) -> f64 {
        let most = self.feet.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let sum: f64 = self.feet.iter().map(|one| (one - most).exp()).sum();
        most + (sum / count(self.feet.len())).ln()
    }
}

/// Follows all panels of a floor.
#[derive(Debug, Clone)]
pub struct Feet {
    candidates: Vec<Candidate>,
    said: Vec<Said>,
    sees: Vec<Vec<u32>>,
    segments: Vec<u32>,
    panel_of: Vec<u32>,
    shares: Vec<f64>,
    panels: Vec<Panel>,
    brief: Vec<Brief>,
    /// Seconds before this are judged.
    judged: Option<Time>,
    loose: Vec<Loose>,
    /// Of each sensor, the panels with a joint that was found loose.
    found: Vec<Vec<u32>>,
}

impl Feet {
    /// Nothing was seen yet.
    pub fn new(spec: &ShowSpec, groups: &[Group]) -> Self {
        let panel_of: Vec<u32> = spec.items.iter().map(|item| item.panel).collect();
        let sees = super::steps::seen(spec);
        let candidates = candidates(groups, &panel_of, &sees);
        Self {
            said: vec![Said::default(); candidates.len()],
            candidates,
            brief: vec![Brief::default(); sees.len()],
            segments: spec.items.iter().map(|item| item.segment).collect(),
            panel_of,
            shares: vec![1.0; spec.items.len()],
            panels: vec![Panel::default(); spec.switches.len()],
            judged: None,
            found: vec![Vec::new(); sees.len()],
            loose: Vec::new(),
            sees,
        }
    }

    /// What each item draws of what is computed, when it is good.
    pub fn learn(&mut self, shares: impl IntoIterator<Item = f64>) {
        for (known, share) in self.shares.iter_mut().zip(shares) {
            *known = share;
        }
        self.said.fill(Said::default());
        self.loose.clear();
    }

    /// Somebody says that these are good.
    pub fn repaired(&mut self, items: &[u32]) {
        for (candidate, said) in self.candidates.iter().zip(&mut self.said) {
            if candidate.takes.iter().any(|item| items.contains(item)) {
                *said = Said::default();
            }
        }
        self.tell();
    }

    /// A switch went down or up.
    pub fn pressed(&mut self, panel: u32, switch: u16, down: bool, at: Time) {
        let Some(panel) = self.panels.get_mut(panel as usize) else {
            return;
        };
        let was = panel.down.contains(&switch);
        if down == was {
            return;
        }
        if down {
            panel.down.push(switch);
            match panel
                .visits
                .back_mut()
                .filter(|visit| visit.until.is_none())
            {
                Some(visit) => visit.presses.push(at),
                None => panel.visits.push_back(Visit {
                    from: at,
                    presses: vec![at],
                    until: None,
                    judged: false,
                }),
            }
        } else {
            panel.down.retain(|one| *one != switch);
            if panel.down.is_empty()
                && let Some(visit) = panel.visits.back_mut()
            {
                visit.until = Some(at);
            }
        }
    }

    /// Whether somebody stands on this panel, or did a moment ago, who stepped on it about then.
    pub fn stands(&self, panel: u32, since: Time, now: Time) -> bool {
        let panel = self.panels.get(panel as usize);
        let mut visits = panel.into_iter().flat_map(|panel| &panel.visits);
        visits.any(|visit| {
            let over = visit.until.map(|until| until.plus_us(LEFT_US));
            let near = |press: &Time| {
                press.us_since(since) <= RING_US && since.us_since(*press) <= 2_000_000
            };
            over.is_none_or(|over| over >= now) && visit.presses.iter().any(near)
        })
    }

    /// Whether somebody stands where a joint is known to be loose, of those that this sensor sees.
    pub fn disturbs(&self, sensor: usize, at: Time) -> bool {
        let found = self.found.get(sensor).into_iter().flatten();
        let mut panels = found.map(|panel| &self.panels[*panel as usize]);
        panels.any(|panel| panel.touched(at, at.plus_us(1)))
    }

    /// The sensors that see any joint that is known to be loose.
    pub fn sensors(&self) -> impl Iterator<Item = usize> + '_ {
        let all = self.found.iter().enumerate();
        all.filter(|(_, found)| !found.is_empty())
            .map(|(sensor, _)| sensor)
    }

    /// A reading beside what is known, and what each item of the floor was computed to draw.
    pub fn hear(&mut self, reading: &Reading, rest: Rest, computed_a: &[f64]) {
        let Some(sees) = self.sees.get(reading.sensor) else {
            return;
        };
        let drawn = sees.iter();
        let drawn = drawn.map(|item| computed_a[*item as usize] * self.shares[*item as usize]);
        self.brief[reading.sensor].put(Heard {
            at: reading.at,
            above_a: rest.above_a,
            variance: rest.variance,
            common: rest.common,
            drawn_a: drawn.collect(),
        });
    }

    /// What all that says by now; about once a second.
    pub fn decide(&mut self, now: Time) -> &[Loose] {
        let done = Time(now.0.saturating_sub(LATE_US));
        for panel in 0..self.panels.len() {
            self.judge_visits(panel, done);
        }
        self.judge_seconds(done);
        self.find(now);
        self.tell();
        &self.loose
    }

    /// What was told last.
    /// What was told last.
    pub fn loose(&self) -> &[Loose] {
        &self.loose
    }

    fn judge_visits(&mut self, panel: usize, done: Time) {
        let keep = |visit: &Visit| {
            visit
                .until
                .is_none_or(|until| done.us_since(until) < 30_000_000)
        };
        self.panels[panel].visits.retain(keep);
        for at in 0..self.panels[panel].visits.len() {
            let visit = &self.panels[panel].visits[at];
            let ends = visit
                .until
                .unwrap_or(done)
                .min(visit.from.plus_us(LONGEST_US));
            let whole = visit.until.is_some_and(|until| until <= done)
                || done.us_since(visit.from) >= LONGEST_US;
            if visit.judged || !whole {
                continue;
            }
            let mut visit = visit.clone();
            visit.judged = true;
            visit.presses.retain(|press| *press < ends);
            for candidate in 0..self.candidates.len() {
                if self.candidates[candidate].panel as usize == panel {
                    self.judge_visit(candidate, &visit, ends);
                }
            }
            self.panels[panel].visits[at].judged = true;
        }
    }

    /// Log likelihood ratio of a candidate being open in this time against what was before `begins`, what it
    /// could say at most, and by how much less was drawn.
    fn weigh(&self, candidate: usize, begins: Time, from: Time, to: Time) -> (f64, f64, f64) {
        let of = &self.candidates[candidate];
        let before = Time(begins.0.saturating_sub(BEFORE_US));
        let (mut ratio, mut most, mut by_a) = (0.0, 0.0, 0.0_f64);
        for (sensor, places) in &of.seen {
            let own = &self.panels[of.panel as usize];
            let usable = |at: Time| {
                let next = at.plus_us(1);
                let mut others = self.found[*sensor]
                    .iter()
                    .filter(|panel| **panel != of.panel);
                let disturbed = others.any(|panel| self.panels[*panel as usize].touched(at, next));
                !disturbed && (at >= begins || !own.touched(at, next))
            };
            let (a, b, less_a) = self.brief[*sensor].weigh(places, before, (from, to), usable);
            ratio += a - b / 2.0;
            most += b;
            by_a = by_a.max(less_a);
        }
        // What drops by more than all of this says no more than if it were this.
        (ratio.min(most / 2.0 + 3.0 * most.sqrt()), most, by_a)
    }

    fn judge_visit(&mut self, candidate: usize, visit: &Visit, ends: Time) {
        let weighed: Vec<(f64, f64, f64)> = visit
            .presses
            .iter()
            .map(|press| self.weigh(candidate, visit.from, *press, ends))
            .collect();
        let ratios: Vec<f64> = weighed.iter().map(|one| one.0).collect();
        let said = &mut self.said[candidate];
        for (often, weight) in OFTEN.iter().zip(&mut said.feet) {
            *weight = *weight * FADES + mixed(*often, &ratios);
        }
        // By itself it may be open then as at any other time.
        said.itself = said.itself * FADES + mixed(0.2, &ratios);
        if weighed.first().is_none_or(|one| one.1 < TELLS) {
            return;
        }
        said.visits += 1;
        let best = weighed.iter().max_by(|a, b| a.0.total_cmp(&b.0));
        if let Some(best) = best.filter(|best| best.0 > 0.0) {
            said.opened += 1;
            said.sum_a += best.2;
        }
    }

    fn judge_seconds(&mut self, done: Time) {
        let mut from = self.judged.unwrap_or(done);
        // After a long pause nothing of it is known any more.
        from = from.max(Time(done.0.saturating_sub(5_000_000)));
        while from.plus_us(1_000_000) <= done {
            let to = from.plus_us(1_000_000);
            for candidate in 0..self.candidates.len() {
                let panel = self.candidates[candidate].panel as usize;
                if self.panels[panel].touched(from, to) {
                    continue;
                }
                let (ratio, most, _) = self.weigh(candidate, from, from, to);
                let said = &mut self.said[candidate];
                said.itself += mixed(BY_ITSELF, &[ratio]);
                for weight in &mut said.feet {
                    *weight += mixed(STRAY, &[ratio]);
                }
                if most >= TELLS {
                    said.without_s += 1;
                    said.dropped_s += u32::from(ratio > 3.0);
                }
            }
            from = to;
        }
        self.judged = Some(from);
    }
}

/// Log likelihood ratio of a visit in which each press opens the joint with this chance until one does, by
/// those of being open from each press on.
fn mixed(often: f64, ratios: &[f64]) -> f64 {
    let mut closed = 0.0;
    let mut logs = Vec::with_capacity(ratios.len() + 1);
    for ratio in ratios {
        logs.push(closed + often.ln() + ratio);
        closed += (1.0 - often).ln();
    }
    logs.push(closed);
    super::steps::log_sum(&logs)
}
