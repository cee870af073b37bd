//! What happens of a sudden, for the estimator of the show: joints that open, for good or under feet.

use super::baseline::Baseline;
use super::feet::Feet;
use super::findings::{Dropped, Findings, Shortfall};
use super::heard::Heard;
use super::spec::ShowSpec;
use super::steps::{Opened, RULES, Steps};
use crate::health::infer::{DEAD_BELOW, UNKNOWN};
use crate::health::{Condition, Judged};
use crate::units::Time;

/// A verdict on an item by what opened is never surer than this: one wrong word of ten thousand.
const LEAST_DOUBT: f64 = 1e-4;

/// Both.
#[derive(Debug, Clone)]
pub(super) struct Sudden {
    steps: Steps,
    feet: Feet,
    /// Items whose verdict is by what opened.
    told: Vec<u32>,
    /// Panels that are short by what opened.
    short: Vec<u32>,
}

impl Sudden {
    pub(super) fn new(spec: &ShowSpec) -> Self {
        Self {
            steps: Steps::new(spec, &spec.groups, RULES),
            feet: Feet::new(spec, &spec.groups),
            told: Vec::new(),
            short: Vec::new(),
        }
    }

    pub(super) fn learn(&mut self, base: &Baseline) {
        self.steps.learn(base);
        self.feet.learn(base.items.iter().map(|item| item.share));
    }

    /// Gives whether a joint that is known to be loose may be out: then a reading says nothing of what lasts.
    pub(super) fn hear(&mut self, heard: &Heard, computed_a: &[f64]) -> bool {
        let disturbed = self.feet.disturbs(heard.sensor, heard.at);
        if let Some(rest) = self.steps.hear_while(heard, computed_a, disturbed) {
            self.feet.hear(heard, rest, computed_a);
        }
        disturbed
    }

    /// Whether a sensor reads what a sound floor does not explain.
    pub(super) fn is_looking(&self, sensor: usize) -> bool {
        self.steps.is_looking_at(sensor)
    }

    /// Whether something may have opened a moment ago that it sees.
    pub(super) fn may_have_opened(&self, sensor: usize) -> bool {
        self.steps.may_have_opened(sensor)
    }

    pub(super) fn pressed(&mut self, panel: u32, switch: u16, down: bool, at: Time) {
        self.feet.pressed(panel, switch, down, at);
    }

    pub(super) fn repaired(&mut self, items: &[u32]) {
        self.steps.repaired(items);
        self.feet.repaired(items);
    }

    /// Takes back what was said of items; before anything else judges them.
    pub(super) fn take_back(&mut self, findings: &mut Findings) {
        for item in self.told.drain(..) {
            findings.judged[item as usize] = UNKNOWN;
        }
        let short = std::mem::take(&mut self.short);
        findings
            .shortfalls
            .retain(|one| !short.contains(&one.panel));
    }

    /// What happened by now, beside what `findings` has already. Gives the items that were not known to be
    /// out before.
    pub(super) fn step(&mut self, spec: &ShowSpec, now: Time, findings: &mut Findings) -> Vec<u32> {
        let judged = findings.judged.iter();
        let lacking: Vec<(u32, f64)> = (0..)
            .zip(judged)
            .filter_map(|(item, judged)| match judged.condition {
                Condition::Dead => Some((item, 0.0)),
                Condition::Weak(share) => Some((item, share)),
                _ => None,
            })
            .collect();
        self.steps.suppose(&lacking);
        let feet = &self.feet;
        self.steps
            .decide(now, |panel, since| feet.stands(panel, since, now));
        let before: Vec<usize> = self.feet.sensors().collect();
        findings.loose = self.feet.decide(now).to_vec();
        for sensor in self.feet.sensors().filter(|one| !before.contains(one)) {
            self.steps.begin_anew(sensor);
        }
        let told = self.steps.told();
        // What is dim is left to those who weigh for longer: a small share may be anything for some seconds.
        let told_of = |one: &&Opened| one.held || one.share < DEAD_BELOW;
        let opened = told.opened.iter().filter(told_of);
        let known = |item: u32| findings.dropped.iter().any(|one| one.items.contains(&item));
        let out = opened.clone().flat_map(|one| &one.items);
        let new: Vec<u32> = out.copied().filter(|item| !known(*item)).collect();
        findings.dropped = opened.clone().map(|one| dropped(spec, one)).collect();
        findings.unclear.clone_from(&told.unclear);
        for one in opened {
            let condition = if one.held {
                Condition::Stuck(one.share)
            } else {
                Condition::Dead
            };
            for &item in &one.items {
                let judged = &mut findings.judged[item as usize];
                let doubt = (1.0 - one.chance).max(LEAST_DOUBT);
                let agrees = judged.condition.word() == condition.word();
                // What hours of show say of an item that lacks something is not overruled.
                if matches!(judged.condition, Condition::Unknown | Condition::Good) {
                    *judged = Judged { condition, doubt };
                    self.told.push(item);
                } else if agrees {
                    judged.doubt = judged.doubt.min(doubt);
                }
            }
        }
        for one in &told.panels {
            if findings
                .shortfalls
                .iter()
                .any(|known| known.panel == one.panel)
            {
                continue;
            }
            let own = spec.items.iter().filter(|item| item.panel == one.panel);
            let whole_a: f64 = own.map(|item| item.full_a).sum();
            let mut items: Vec<u32> = one
                .among
                .iter()
                .flat_map(|(items, _)| items.clone())
                .collect();
            items.sort_unstable();
            items.dedup();
            self.short.push(one.panel);
            findings.shortfalls.push(Shortfall {
                panel: one.panel,
                items,
                share: (one.by_a / whole_a.max(1e-3)).clamp(0.0, 1.0),
                chance: one.chance,
            });
        }
        new
    }
}

fn dropped(spec: &ShowSpec, one: &Opened) -> Dropped {
    let own = one.items.iter().map(|item| &spec.items[*item as usize]);
    let own = own.filter(|item| item.panel == one.panel);
    let what = if one.held {
        "is not what was sent since".to_owned()
    } else {
        format!("dropped at once, by {:.1} A since then", one.by_a)
    };
    Dropped {
        panel: one.panel,
        segment: own.map(|item| item.segment).min(),
        items: one.items.clone(),
        at: one.at,
        chance: one.chance,
        evidence: format!("The current {what}, as these and no others would explain."),
    }
}
