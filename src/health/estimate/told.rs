//! Verdicts in words, with what speaks for them.

use std::collections::{BTreeMap, BTreeSet};

use super::Estimator;
use crate::floor::model::{Panel, Position};
use crate::health::causes::{Claim, Found, Guess, explained};
use crate::health::evidence::{Report, Says};
use crate::health::joints::{Joint, Named, Wire};
use crate::health::snapshot::{Cause, EvidenceKind, EvidenceRow, FoundFault, Sureness};
use crate::health::{Condition, Item};
use crate::units::Time;

/// What the show says has ids above those of all other evidence, and still ones that a browser can
/// count with.
const SHOW: u64 = 1 << 41;

/// What is likely has at least this probability.
const LIKELY: f64 = 0.9;

/// A fault of which nothing is said yet.
pub(super) fn fault(cause: Cause, key: String) -> FoundFault {
    FoundFault {
        key,
        cause,
        place: String::new(),
        effect: String::new(),
        position: None,
        serial: None,
        segments: Vec::new(),
        behind: Vec::new(),
        sure: Sureness::Possible,
        chance: 0.0,
        here: 0.0,
        alternatives: Vec::new(),
        same_place: Vec::new(),
        evidence: Vec::new(),
        since_s: 0.0,
    }
}

pub(super) fn panels(count: usize) -> String {
    match count {
        1 => "1 panel".to_owned(),
        count => format!("{count} panels"),
    }
}

pub(super) fn serial(panel: &Panel) -> Option<String> {
    Some(panel.serial.clone()).filter(|serial| !serial.is_empty())
}

pub(super) fn sureness(chance: f64) -> Sureness {
    if chance >= 0.999 {
        Sureness::Certain
    } else if chance >= LIKELY {
        Sureness::Likely
    } else {
        Sureness::Possible
    }
}

/// `2`, `2 and 3`, `2 to 5`, or `2, 4 and 7`.
fn numbers(of: &[u32]) -> String {
    match of {
        [] => String::new(),
        [one] => one.to_string(),
        [first, .., last]
            if of.len() > 2 && last - first + 1 == u32::try_from(of.len()).unwrap_or(0) =>
        {
            format!("{first} to {last}")
        }
        [rest @ .., last] => {
            let rest: Vec<String> = rest.iter().map(u32::to_string).collect();
            format!("{} and {last}", rest.join(", "))
        }
    }
}

fn segments(of: &[u32]) -> String {
    let word = if of.len() == 1 { "Segment" } else { "Segments" };
    format!("{word} {}", numbers(of))
}

fn are(of: &[u32]) -> &'static str {
    if of.len() == 1 { "is" } else { "are" }
}

const fn kind_words(kind: EvidenceKind) -> &'static str {
    match kind {
        EvidenceKind::Survey => "A survey by sensors",
        EvidenceKind::Eyes => "A survey by eyes",
        EvidenceKind::Show => "The show beside the sensors",
        EvidenceKind::Report => "Somebody on the floor",
        EvidenceKind::Node => "The node",
        EvidenceKind::Signal => "The signal",
        EvidenceKind::Sensor => "A sensor",
        EvidenceKind::Switch => "Switches",
    }
}

impl Estimator {
    fn named(&self, joint: &Joint) -> String {
        let (floor, wire, place) = (&*self.floor, joint.wire, joint.place);
        Named { floor, wire, place }.to_string()
    }

    /// Position, number of the segment from 1, and the colour behind `before` if it has one.
    fn of_item(&self, item: usize, before: &str) -> (Position, u32, String) {
        let Item {
            panel,
            segment,
            colour,
        } = self.joints.items[item];
        let colour = colour.map_or(String::new(), |one| format!("{before}{}", one.name()));
        let position = self.floor.panels[panel as usize].position;
        (position, segment + 1, colour)
    }

    fn item_place(&self, item: usize) -> String {
        let (position, segment, colour) = self.of_item(item, ", ");
        format!("{position}, segment {segment}{colour}")
    }

    /// The cause, where it is, its key.
    pub(super) fn guess(&self, guess: Guess) -> (Cause, String, String) {
        let item_key = |item: usize, word: &str| {
            let (position, segment, colour) = self.of_item(item, "/");
            format!("{position}/{segment}{colour}/{word}")
        };
        let joint_key = |joint: &Joint, word: &str| {
            let (floor, wire, place) = (&*self.floor, joint.wire, joint.place);
            format!("{}/{word}", Named { floor, wire, place }.key())
        };
        match guess {
            Guess::Open(at) => {
                let joint = &self.joints.joints[at];
                let feed = matches!(joint.place, crate::health::joints::Place::Feed(_));
                let (cause, word) = match joint.wire {
                    Wire::Supply if feed => (Cause::FeedOpen, "open"),
                    Wire::Supply => (Cause::SupplyOpen, "supply_open"),
                    Wire::Data => (Cause::DataOpen, "data_open"),
                    Wire::Colour(_) => (Cause::ColourOpen, "colour_open"),
                };
                (cause, self.named(joint), joint_key(joint, word))
            }
            Guess::Resistive(at) => {
                let joint = &self.joints.joints[at];
                let key = joint_key(joint, "supply_resistive");
                (Cause::SupplyResistive, self.named(joint), key)
            }
            Guess::Dead(item) => {
                let key = item_key(item, "segment_dead");
                (
                    Cause::SegmentDead,
                    format!("{} itself", self.item_place(item)),
                    key,
                )
            }
            Guess::Weak(item) => {
                let key = item_key(item, "segment_weak");
                (
                    Cause::SegmentWeak,
                    format!("{} itself", self.item_place(item)),
                    key,
                )
            }
            Guess::Stuck(item) => {
                let key = item_key(item, "segment_stuck");
                (
                    Cause::SegmentStuck,
                    format!("{} itself", self.item_place(item)),
                    key,
                )
            }
        }
    }

    /// In words beside another cause at the same place.
    fn alternative(&self, guess: Guess) -> String {
        let (cause, place, _) = self.guess(guess);
        let what = match cause {
            Cause::SupplyResistive => "a bad joint that still conducts",
            Cause::SegmentWeak => "weak by itself",
            Cause::SegmentStuck => "on whatever it is told",
            Cause::SegmentDead => "dead by itself",
            _ => "open",
        };
        format!("{place} ({what})")
    }

    pub(super) fn of_joints(&self, found: &[Found], now: Time) -> Vec<FoundFault> {
        let told = |found: &Found| {
            let (cause, place, key) = self.guess(found.guess);
            let here = self.here(found);
            let place = if sureness(found.chance) == Sureness::Possible && here >= LIKELY {
                self.places(found)
            } else {
                place
            };
            let item = |at: &u32| self.joints.items[*at as usize];
            let walk_to = self.walk_to(found);
            let own = found.takes.iter().map(item);
            let own: BTreeSet<u32> = own
                .filter(|item| item.panel as usize == walk_to)
                .map(|item| item.segment + 1)
                .collect();
            let own: Vec<u32> = own.into_iter().collect();
            let behind: BTreeSet<usize> = found
                .takes
                .iter()
                .map(|at| item(at).panel as usize)
                .filter(|panel| *panel != walk_to)
                .collect();
            let panel = &self.floor.panels[walk_to];
            let all = own.len() == self.floor.panel_kinds[panel.kind].segments.len();
            let what = match cause {
                Cause::SupplyResistive | Cause::SegmentWeak => "dim",
                Cause::DataOpen => "dark, or go on with what they showed last",
                Cause::ColourOpen => "without that colour",
                Cause::SegmentStuck => "lit whatever they are told",
                _ => "dark",
            };
            let mut effect = if all {
                format!("The whole panel {} is {what}", panel.position)
            } else {
                format!(
                    "{} of {} {} {what}",
                    segments(&own),
                    panel.position,
                    are(&own)
                )
            };
            let place = if behind.is_empty() {
                place
            } else {
                let count = panels(behind.len());
                effect = format!("{effect}, and so are {count} behind it");
                format!("{place}: {count} behind it")
            };
            FoundFault {
                place,
                effect: effect + ".",
                position: Some(panel.position.to_string()),
                serial: serial(panel),
                segments: own,
                behind: behind
                    .iter()
                    .map(|at| self.floor.panels[*at].position.to_string())
                    .collect(),
                sure: sureness(found.chance),
                chance: found.chance,
                here,
                same_place: self.keys_here(found.guess),
                alternatives: found
                    .others
                    .iter()
                    .map(|(guess, _)| self.alternative(*guess))
                    .collect(),
                evidence: self.speaking_for(&found.takes, now),
                ..fault(cause, key)
            }
        };
        found.iter().map(told).collect()
    }

    /// The panel where one begins to look: the first in the way of the wire.
    fn walk_to(&self, found: &Found) -> usize {
        use crate::health::joints::Place;
        let first = self.joints.items[found.takes[0] as usize].panel as usize;
        match found.guess {
            Guess::Open(at) | Guess::Resistive(at) => match self.joints.joints[at].place {
                Place::Before { panel, .. } | Place::Entry { panel } => panel,
                Place::Between { to, .. } => to,
                Place::Feed(feed) => self.floor.feeds[feed]
                    .panels
                    .first()
                    .copied()
                    .unwrap_or(first),
                Place::Run(run) => self.floor.runs[run]
                    .panels
                    .first()
                    .copied()
                    .unwrap_or(first),
            },
            _ => first,
        }
    }

    /// One row for each piece that speaks of any of these items.
    fn speaking_for(&self, takes: &[u32], now: Time) -> Vec<EvidenceRow> {
        let mut pieces: BTreeMap<u64, (EvidenceKind, Time, usize, usize)> = BTreeMap::new();
        for &item in takes {
            for one in self.evidence.spoken(&self.joints, item) {
                let bad = one.judged.condition != Condition::Good;
                let piece = pieces.entry(one.id).or_insert((one.kind, one.at, 0, 0));
                piece.1 = piece.1.max(one.at);
                piece.2 += usize::from(bad);
                piece.3 += 1;
            }
        }
        let rows = pieces.into_iter().map(|(id, (kind, at, bad, all))| {
            let of = if self.joints.items[takes[0] as usize].colour.is_some() {
                "colours of segments"
            } else {
                "segments"
            };
            EvidenceRow {
                id,
                kind,
                text: format!(
                    "{} found {bad} of {all} {of} here not right.",
                    kind_words(kind)
                ),
                age_s: now.s_since(at),
                can_withdraw: true,
            }
        });
        let mut rows: Vec<EvidenceRow> = rows.collect();
        let touched: BTreeSet<usize> = takes
            .iter()
            .map(|at| self.joints.items[*at as usize].panel as usize)
            .collect();
        let said = self.evidence.reports().iter();
        let said = said
            .filter(|one| touched.contains(&one.panel) && rows.iter().all(|row| row.id != one.id));
        let said: Vec<EvidenceRow> = said.map(|one| self.said(one, now)).collect();
        rows.extend(said);
        rows.sort_by(|a, b| a.age_s.total_cmp(&b.age_s));
        rows
    }

    fn said(&self, report: &Report, now: Time) -> EvidenceRow {
        let position = self.floor.panels[report.panel].position;
        let segment = report
            .segment
            .map_or(String::new(), |at| format!(", segment {}", at + 1));
        EvidenceRow {
            id: report.id,
            kind: EvidenceKind::Report,
            text: format!(
                "Somebody said of {position}{segment}: {}.",
                report.says.words()
            ),
            age_s: now.s_since(report.at),
            can_withdraw: true,
        }
    }

    /// What somebody says and nothing measured explains.
    pub(super) fn of_reports(&self, found: &[Found], now: Time) -> Vec<FoundFault> {
        let mut by_panel: BTreeMap<usize, Vec<&Report>> = BTreeMap::new();
        for report in self.evidence.reports() {
            let claim = Claim {
                panel: report.panel,
                weight: 0.0,
            };
            if report.says != Says::FineNow && !explained(&self.joints, &claim, found) {
                by_panel.entry(report.panel).or_default().push(report);
            }
        }
        let told = by_panel.into_iter().map(|(at, reports)| {
            let panel = &self.floor.panels[at];
            let words: BTreeSet<&str> = reports.iter().map(|one| one.says.words()).collect();
            let words: Vec<&str> = words.into_iter().collect();
            let position = panel.position.to_string();
            FoundFault {
                place: format!("{position}: somebody says {}", words.join(", ")),
                effect: "Nothing measured tells what it is: look at it, or make a survey."
                    .to_owned(),
                serial: serial(panel),
                evidence: reports.iter().map(|one| self.said(one, now)).collect(),
                chance: 0.5,
                key: format!("{position}/reported"),
                position: Some(position),
                ..fault(Cause::Reported, String::new())
            }
        });
        told.collect()
    }

    /// What the show says of panels and of joints under feet.
    pub(super) fn of_show(&self, found: &[Found], now: Time) -> Vec<FoundFault> {
        let mut faults = Vec::new();
        for short in &self.shortfalls {
            let claim = Claim {
                panel: short.panel,
                weight: 0.0,
            };
            if explained(&self.joints, &claim, found) {
                continue;
            }
            let panel = &self.floor.panels[short.panel];
            let position = panel.position.to_string();
            let percent = short.share * 100.0;
            let text = format!(
                "{percent:.0} % of the panel's current lack in the show. Its segments were lit alike, \
                 so nobody can tell which: a survey can."
            );
            faults.push(FoundFault {
                place: format!("{position}: {percent:.0} % of its current lack"),
                effect: "Some of its segments are dark or dim.".to_owned(),
                serial: serial(panel),
                evidence: vec![EvidenceRow {
                    id: SHOW,
                    kind: EvidenceKind::Show,
                    text,
                    age_s: now.s_since(short.at),
                    can_withdraw: false,
                }],
                sure: sureness(short.chance),
                chance: short.chance,
                key: format!("{position}/short"),
                position: Some(position),
                ..fault(Cause::PanelShort, String::new())
            });
        }
        for loose in &self.loose {
            let panel = &self.floor.panels[loose.panel];
            let position = panel.position.to_string();
            let place = loose.segment.map_or_else(
                || format!("{position}, a joint that opens under feet"),
                |at| {
                    format!(
                        "{position}, joint before segment {}: it opens under feet",
                        at + 1
                    )
                },
            );
            faults.push(FoundFault {
                place,
                effect: "It goes dark when somebody steps on it.".to_owned(),
                serial: serial(panel),
                segments: loose
                    .segment
                    .and_then(|at| u32::try_from(at + 1).ok())
                    .into_iter()
                    .collect(),
                evidence: vec![EvidenceRow {
                    id: SHOW + 1,
                    kind: EvidenceKind::Show,
                    text: loose.evidence.clone(),
                    age_s: now.s_since(loose.at),
                    can_withdraw: false,
                }],
                sure: sureness(loose.chance),
                chance: loose.chance,
                key: format!("{position}/loose"),
                position: Some(position),
                ..fault(Cause::Loose, String::new())
            });
        }
        faults
    }
}
