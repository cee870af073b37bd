//! The one estimator: all evidence together, and the faults that explain it.

mod facts;
mod here;
mod panels;
mod told;

use std::collections::BTreeMap;
use std::sync::Arc;

use super::causes::{self, Claim};
use super::evidence::{Evidence, Says};
use super::facts::Facts;
use super::joints::Joints;
use super::snapshot::{EvidenceKind, FoundFault, Health};
use super::{Item, Judged};
use crate::floor::model::Position;
use crate::floor::{Floor, Tables};
use crate::units::Time;

/// How much likelier somebody says that a panel is dark if it is, as a logarithm: most of what is
/// dark is not told, and now and then somebody is wrong. Common practice, no source.
const REPORT_WEIGHT: f64 = 2.9;

/// A panel of which less is measured than computed, and nobody can tell which of its segments.
#[derive(Debug, Clone, PartialEq)]
pub struct Shortfall {
    /// Index of the panel.
    pub panel: usize,
    /// The share of its current that is missing, 0 to 1.
    pub share: f64,
    /// How sure that is.
    pub chance: f64,
    /// Since when.
    pub at: Time,
}

/// A joint that opens under feet.
#[derive(Debug, Clone, PartialEq)]
pub struct LooseJoint {
    /// Index of the panel.
    pub panel: usize,
    /// The first of its segments that goes out, counted from 0, if that can be told.
    pub segment: Option<usize>,
    /// How sure that is.
    pub chance: f64,
    /// Why, for people.
    pub evidence: String,
    /// Since when.
    pub at: Time,
}

/// What becomes of a report.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NotTaken {
    /// There is no such panel.
    #[error("There is no panel at {0}: name a position of the floor, such as A1.")]
    NoPanel(String),
    /// It has no such segment.
    #[error("{position} has {segments} segments, counted from 1: there is no segment {segment}.")]
    NoSegment {
        /// Where.
        position: String,
        /// How many it has.
        segments: usize,
        /// Which was named.
        segment: u32,
    },
    /// There is no such piece, or it can't be withdrawn.
    #[error(
        "There is no evidence {0} that could be withdrawn: it was withdrawn already, or what is measured has replaced it."
    )]
    NoEvidence(u64),
}

/// Everything that is known, for one floor.
#[derive(Debug)]
pub struct Estimator {
    floor: Arc<Floor>,
    tables: Arc<Tables>,
    joints: Joints,
    revision: u32,
    /// How many surveys have ended.
    surveys: u32,
    evidence: Evidence,
    facts: Facts,
    shortfalls: Vec<Shortfall>,
    loose: Vec<LooseJoint>,
    /// When each fault was first seen, by its key.
    since: BTreeMap<String, Time>,
    /// When nodes that had been silent answered again.
    restarted: BTreeMap<usize, Time>,
}

impl Estimator {
    /// Nothing is known yet.
    pub fn new(floor: Arc<Floor>, tables: Arc<Tables>, revision: u32) -> Self {
        Self {
            joints: Joints::new(&floor),
            floor,
            tables,
            revision,
            surveys: 0,
            evidence: Evidence::default(),
            facts: Facts::default(),
            shortfalls: Vec::new(),
            loose: Vec::new(),
            since: BTreeMap::new(),
            restarted: BTreeMap::new(),
        }
    }

    /// Its floor's joints.
    pub const fn joints(&self) -> &Joints {
        &self.joints
    }

    /// Revision of its floor.
    pub const fn revision(&self) -> u32 {
        self.revision
    }

    /// The floor file was read again: what is known of a position stays known, if the kind of panel
    /// there has as many segments as before.
    pub fn replace(&mut self, floor: Arc<Floor>, tables: Arc<Tables>, revision: u32) {
        let new = Joints::new(&floor);
        let at: BTreeMap<Position, usize> = floor
            .panels
            .iter()
            .enumerate()
            .map(|(at, panel)| (panel.position, at))
            .collect();
        let moved = |panel: usize| {
            let old = &self.floor.panels[panel];
            let to = *at.get(&old.position)?;
            let same_serial = old.serial == floor.panels[to].serial;
            let same_size = self.joints.of_panel[panel].len() == new.of_panel[to].len();
            (same_serial && same_size).then_some(to)
        };
        let item = |item: u32| {
            let Item {
                panel,
                segment,
                colour,
            } = self.joints.items[item as usize];
            let panel = u32::try_from(moved(panel as usize)?).ok()?;
            let found = new.find(Item {
                panel,
                segment,
                colour,
            })?;
            u32::try_from(found).ok()
        };
        self.evidence.move_to(item, moved);
        (self.shortfalls, self.loose) = (Vec::new(), Vec::new());
        self.facts = Facts::default();
        self.restarted.clear();
        (self.joints, self.floor, self.tables, self.revision) = (new, floor, tables, revision);
    }

    /// What the rest of litfloor knows.
    pub fn know(&mut self, facts: Facts, now: Time) {
        for (at, (was, is)) in self.facts.nodes.iter().zip(&facts.nodes).enumerate() {
            if is.online && !was.online && was.last_reply_s.is_some() {
                self.restarted.insert(at, now);
            }
        }
        self.facts = facts;
    }

    /// An estimator's verdicts on items of this floor.
    pub fn judge(
        &mut self,
        kind: EvidenceKind,
        judged: impl IntoIterator<Item = (Item, Judged)>,
        at: Time,
    ) {
        let known = judged.into_iter().filter_map(|(item, judged)| {
            let found = self.joints.find(item)?;
            Some((u32::try_from(found).ok()?, judged))
        });
        let known: Vec<_> = known.collect();
        self.evidence.judge(kind, known, at);
    }

    /// So many surveys have ended by now, and what they say was brought.
    pub const fn count_surveys(&mut self, ended: u32) {
        self.surveys = ended;
    }

    /// What the show says besides: the lists replace those before.
    pub fn hear_show(&mut self, shortfalls: Vec<Shortfall>, loose: Vec<LooseJoint>) {
        (self.shortfalls, self.loose) = (shortfalls, loose);
    }

    /// Somebody says something of a panel, or of one of its segments, counted from 1.
    ///
    /// # Errors
    /// When there is no such panel or segment.
    pub fn report(
        &mut self,
        position: &str,
        segment: Option<u32>,
        says: Says,
        now: Time,
    ) -> Result<u64, NotTaken> {
        let panel = self.panel(position);
        let panel = panel.ok_or_else(|| NotTaken::NoPanel(position.to_owned()))?;
        let segments = self.floor.panel_kinds[self.floor.panels[panel].kind]
            .segments
            .len();
        let segment = match segment {
            None => None,
            Some(number) => {
                let from_0 = (number as usize).checked_sub(1).filter(|at| *at < segments);
                Some(from_0.ok_or_else(|| NotTaken::NoSegment {
                    position: position.to_uppercase(),
                    segments,
                    segment: number,
                })?)
            }
        };
        Ok(self.evidence.report(panel, segment, says, now))
    }

    /// Index of the panel at a position.
    pub fn panel(&self, position: &str) -> Option<usize> {
        let named = |panel: &crate::floor::model::Panel| {
            panel.position.to_string().eq_ignore_ascii_case(position)
        };
        self.floor.panels.iter().position(named)
    }

    /// Where a piece of evidence comes from that can be taken back.
    pub fn comes_from(&self, id: u64) -> Option<EvidenceKind> {
        self.evidence.comes_from(id)
    }

    /// Takes a piece of evidence back.
    ///
    /// # Errors
    /// When there is none such.
    pub fn withdraw(&mut self, id: u64) -> Result<(), NotTaken> {
        let withdrawn = self.evidence.withdraw(id);
        withdrawn.then_some(()).ok_or(NotTaken::NoEvidence(id))
    }

    /// What is wrong, as far as anybody can tell.
    pub fn health(&mut self, now: Time) -> Health {
        let silent = self.silent_panels();
        let beliefs: Vec<_> = (0..self.joints.items.len())
            .map(|item| {
                let panel = self.joints.items[item].panel as usize;
                if silent[panel] {
                    // Its node says nothing: whatever it shows is no fault of its joints.
                    return super::belief::Belief::default();
                }
                let item = u32::try_from(item).unwrap_or(u32::MAX);
                self.evidence.belief(&self.joints, item, now)
            })
            .collect();
        let claims = self.claims();
        let found = causes::find(&self.joints, &beliefs, &claims);
        let mut faults = self.of_nodes(now);
        faults.extend(self.of_signal());
        faults.extend(self.of_joints(&found, now));
        faults.extend(self.of_show(&found, now));
        faults.extend(self.of_reports(&found, now));
        faults.extend(self.of_sensors(&found));
        faults.extend(self.of_switches());
        self.date(&mut faults, now);
        panels::in_walking_order(&self.floor, &mut faults);
        let panels = self.panels(&beliefs, &faults, now);
        Health {
            revision: self.revision,
            uptime_s: now.s_since(Time(0)),
            surveys: self.surveys,
            faults,
            panels,
        }
    }

    /// Gives every fault the time at which it was first seen, and forgets those that are gone. What was
    /// found is where it was found, at least.
    fn date(&mut self, faults: &mut [FoundFault], now: Time) {
        let before = std::mem::take(&mut self.since);
        for fault in faults {
            let at = *before.get(&fault.key).unwrap_or(&now);
            fault.since_s = at.s_since(Time(0));
            fault.here = fault.here.max(fault.chance);
            self.since.insert(fault.key.clone(), at);
        }
    }

    fn claims(&self) -> Vec<Claim> {
        let reports = self.evidence.reports().iter();
        let said = reports
            .filter(|one| one.says != Says::FineNow)
            .map(|one| Claim {
                panel: one.panel,
                weight: REPORT_WEIGHT,
            });
        let short = self.shortfalls.iter().map(|short| Claim {
            panel: short.panel,
            weight: (short.chance / (1.0 - short.chance).max(1e-6))
                .ln()
                .max(0.0),
        });
        said.chain(short).collect()
    }

    /// Panels whose node does not answer.
    fn silent_panels(&self) -> Vec<bool> {
        let silent = |panel: &crate::floor::model::Panel| {
            let node = self.floor.runs[panel.run].node;
            let fact = node.and_then(|node| self.facts.nodes.get(node));
            fact.is_some_and(|fact| !fact.online && fact.last_reply_s.is_some())
        };
        self.floor.panels.iter().map(silent).collect()
    }
}

#[cfg(test)]
mod tests;
