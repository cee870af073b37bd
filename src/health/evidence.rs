//! Pieces of evidence: what was seen, when, by whom; each can be superseded or withdrawn.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::belief::Belief;
use super::joints::Joints;
use super::snapshot::EvidenceKind;
use super::{Condition, Item, Judged};
use crate::units::Time;

/// Reports that are kept; the oldest goes when there are more.
const MOST_REPORTS: usize = 500;

/// What was good once is believed less as time goes by, for joints open: this long until a third
/// is left. What was dead stays dead until somebody mends it. Common practice, no source.
const GOOD_FADES_S: f64 = 4.0 * 3_600.0;

/// How much an older verdict still counts beside a newer one that says otherwise.
const OVERRULED: f64 = 0.0;

/// A verdict with less doubt than this overrules an older one.
const SURE: f64 = 0.05;

/// How often somebody who looks at one segment is wrong. Common practice, no source.
const EYES_ERR: f64 = 0.02;

/// What somebody says of a panel, or of one of its segments.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Says {
    /// It is dark, or part of it is.
    Dark,
    /// It comes and goes.
    Flickers,
    /// It shows another colour than it should.
    WrongColour,
    /// It is right.
    FineNow,
}

impl Says {
    /// For people.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Dark => "dark",
            Self::Flickers => "flickers",
            Self::WrongColour => "wrong colour",
            Self::FineNow => "fine now",
        }
    }
}

/// What somebody said.
#[derive(Debug, Clone, PartialEq)]
pub struct Report {
    /// By which it can be withdrawn.
    pub id: u64,
    /// Index of the panel.
    pub panel: usize,
    /// One of its segments, counted from 0.
    pub segment: Option<usize>,
    /// What.
    pub says: Says,
    /// When.
    pub at: Time,
}

/// Verdicts of an estimator on items.
#[derive(Debug, Clone, PartialEq)]
struct Verdicts {
    id: u64,
    kind: EvidenceKind,
    /// What each says, and since when that has been known.
    of: BTreeMap<u32, (Judged, Time)>,
}

/// All pieces.
#[derive(Debug, Default)]
pub struct Evidence {
    last_id: u64,
    verdicts: Vec<Verdicts>,
    reports: Vec<Report>,
}

/// A piece that speaks of some items.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spoken {
    /// By which it can be withdrawn.
    pub id: u64,
    /// Where it comes from.
    pub kind: EvidenceKind,
    /// What it says.
    pub judged: Judged,
    /// Since when.
    pub at: Time,
}

impl Evidence {
    fn id(&mut self) -> u64 {
        self.last_id += 1;
        self.last_id
    }

    /// An estimator's verdicts; what it can't tell leaves what it said before.
    pub fn judge(
        &mut self,
        kind: EvidenceKind,
        judged: impl IntoIterator<Item = (u32, Judged)>,
        at: Time,
    ) {
        let known = self.verdicts.iter().position(|one| one.kind == kind);
        let known = known.unwrap_or_else(|| {
            let id = self.id();
            self.verdicts.push(Verdicts {
                id,
                kind,
                of: BTreeMap::new(),
            });
            self.verdicts.len() - 1
        });
        let told = judged
            .into_iter()
            .filter(|(_, judged)| judged.condition != Condition::Unknown);
        self.verdicts[known]
            .of
            .extend(told.map(|(item, judged)| (item, (judged, at))));
    }

    /// What somebody says. That all is fine takes back what was said of the same before.
    pub fn report(&mut self, panel: usize, segment: Option<usize>, says: Says, at: Time) -> u64 {
        let same = |one: &Report| {
            one.panel == panel
                && (segment.is_none() || one.segment == segment || one.segment.is_none())
        };
        if says == Says::FineNow {
            self.reports.retain(|one| !same(one));
        } else {
            self.reports.retain(|one| {
                one.panel != panel
                    || one.segment != segment
                    || (one.says != says && one.says != Says::FineNow)
            });
        }
        if self.reports.len() >= MOST_REPORTS {
            self.reports.remove(0);
        }
        let id = self.id();
        self.reports.push(Report {
            id,
            panel,
            segment,
            says,
            at,
        });
        id
    }

    /// Where a piece comes from.
    pub fn comes_from(&self, id: u64) -> Option<EvidenceKind> {
        let verdicts = self.verdicts.iter().map(|one| (one.id, one.kind));
        let reports = self
            .reports
            .iter()
            .map(|one| (one.id, EvidenceKind::Report));
        let mut all = verdicts.chain(reports);
        all.find(|(own, _)| *own == id).map(|(_, kind)| kind)
    }

    /// Takes a piece back.
    pub fn withdraw(&mut self, id: u64) -> bool {
        let before = self.reports.len() + self.verdicts.len();
        self.reports.retain(|one| one.id != id);
        self.verdicts.retain(|one| one.id != id);
        self.reports.len() + self.verdicts.len() < before
    }

    /// What was said and still stands, oldest first.
    pub fn reports(&self) -> &[Report] {
        &self.reports
    }

    /// What every piece says of one item, the oldest first.
    pub fn spoken(&self, joints: &Joints, item: u32) -> Vec<Spoken> {
        let judged = self.verdicts.iter().filter_map(|one| {
            let (judged, at) = *one.of.get(&item)?;
            Some(Spoken {
                id: one.id,
                kind: one.kind,
                judged,
                at,
            })
        });
        let Item { panel, segment, .. } = joints.items[item as usize];
        let (panel, segment) = (panel as usize, segment as usize);
        let said = self.reports.iter().filter(|one| one.panel == panel);
        let said = said.filter_map(|one| {
            let condition = match (one.says, one.segment) {
                (Says::FineNow, None) => Condition::Good,
                (Says::FineNow, Some(own)) if own == segment => Condition::Good,
                (Says::Dark, Some(own)) if own == segment => Condition::Dead,
                _ => return None,
            };
            Some(Spoken {
                id: one.id,
                kind: EvidenceKind::Report,
                judged: Judged {
                    condition,
                    doubt: EYES_ERR,
                },
                at: one.at,
            })
        });
        let mut spoken: Vec<Spoken> = judged.chain(said).collect();
        spoken.sort_by_key(|one| (one.at, one.id));
        spoken
    }

    /// All of that together. What a newer piece is sure of overrules older ones that say otherwise.
    pub fn belief(&self, joints: &Joints, item: u32, now: Time) -> Belief {
        let spoken = self.spoken(joints, item);
        let all = spoken.iter().enumerate().map(|(at, one)| {
            let is_good = |judged: &Judged| judged.condition == Condition::Good;
            let overruled = spoken[at + 1..].iter().any(|newer| {
                newer.judged.doubt < SURE && is_good(&newer.judged) != is_good(&one.judged)
            });
            let weight = match one.judged.condition {
                _ if overruled => OVERRULED,
                Condition::Good => (-now.s_since(one.at) / GOOD_FADES_S).exp(),
                _ => 1.0,
            };
            Belief::of(one.judged).faded(weight)
        });
        all.fold(Belief::default(), Belief::and)
    }

    /// The same for a floor that was read again, where old item and panel numbers mean others.
    pub fn move_to(
        &mut self,
        item: impl Fn(u32) -> Option<u32>,
        panel: impl Fn(usize) -> Option<usize>,
    ) {
        for one in &mut self.verdicts {
            let of = std::mem::take(&mut one.of);
            let moved = of
                .into_iter()
                .filter_map(|(at, told)| Some((item(at)?, told)));
            one.of = moved.collect();
        }
        self.reports = std::mem::take(&mut self.reports)
            .into_iter()
            .filter_map(|one| {
                let panel = panel(one.panel)?;
                Some(Report { panel, ..one })
            })
            .collect();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::floor::testing;

    fn at(s: u64) -> Time {
        Time::from_s(s)
    }

    fn judged(condition: Condition) -> Judged {
        Judged {
            condition,
            doubt: 1e-4,
        }
    }

    #[test]
    fn a_newer_survey_overrules_an_older_one_and_what_it_leaves_out_stands() {
        let joints = Joints::new(&testing::demo());
        let mut evidence = Evidence::default();
        let dead = [(0, judged(Condition::Dead)), (1, judged(Condition::Dead))];
        evidence.judge(EvidenceKind::Survey, dead, at(10));
        assert!(evidence.belief(&joints, 0, at(11)).is_suspicious());
        let unknown = Judged {
            condition: Condition::Unknown,
            doubt: 1.0,
        };
        let next = [(0, judged(Condition::Good)), (1, unknown)];
        evidence.judge(EvidenceKind::Survey, next, at(20));
        assert!(!evidence.belief(&joints, 0, at(21)).is_suspicious());
        assert!(evidence.belief(&joints, 1, at(21)).is_suspicious());
    }

    #[test]
    fn the_show_overrules_a_survey_that_is_older() {
        let joints = Joints::new(&testing::demo());
        let mut evidence = Evidence::default();
        evidence.judge(EvidenceKind::Survey, [(0, judged(Condition::Good))], at(10));
        evidence.judge(EvidenceKind::Show, [(0, judged(Condition::Dead))], at(500));
        assert!(evidence.belief(&joints, 0, at(501)).is_suspicious());
    }

    #[test]
    fn good_fades_and_dead_does_not() {
        let joints = Joints::new(&testing::demo());
        let mut evidence = Evidence::default();
        let both = [(0, judged(Condition::Good)), (1, judged(Condition::Dead))];
        evidence.judge(EvidenceKind::Survey, both, at(0));
        let fresh = evidence.belief(&joints, 0, at(1)).good;
        // e⁻¹ of it after the time constant.
        let faded = evidence.belief(&joints, 0, at(14_400)).good;
        assert!(
            (faded / fresh - (-1.0_f64).exp()).abs() < 1e-3,
            "{faded} {fresh}"
        );
        let dead = |s| evidence.belief(&joints, 1, at(s)).dead;
        assert!((dead(1) - dead(100_000)).abs() < 1e-12);
    }

    #[test]
    fn fine_now_takes_back_what_was_said_and_everything_can_be_withdrawn() {
        let joints = Joints::new(&testing::demo());
        let mut evidence = Evidence::default();
        evidence.report(0, Some(0), Says::Dark, at(1));
        assert!(evidence.belief(&joints, 0, at(2)).is_suspicious());
        let fine = evidence.report(0, None, Says::FineNow, at(3));
        assert!(!evidence.belief(&joints, 0, at(4)).is_suspicious());
        assert_eq!(evidence.reports().len(), 1);
        assert!(evidence.withdraw(fine));
        assert!(!evidence.withdraw(fine));
        assert!(!evidence.belief(&joints, 0, at(4)).says_something());
        for round in 0..2 * MOST_REPORTS {
            let panel = round % joints.of_panel.len();
            evidence.report(panel, Some(round), Says::Dark, at(5));
        }
        assert_eq!(evidence.reports().len(), MOST_REPORTS);
    }
}
