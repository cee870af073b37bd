//! Faults that need no inference: nodes that are silent, universes that don't come, sensors and
//! switches that can't be believed.

use std::collections::BTreeSet;

use super::Estimator;
use super::told::{self, fault};
use crate::floor::Floor;
use crate::floor::model::{Measured, Panel};
use crate::health::causes::Found;
use crate::health::snapshot::{Cause, EvidenceKind, EvidenceRow, FoundFault, Sureness};
use crate::units::Time;

/// For so long a node that began anew is told.
const RESTART_TOLD_S: f64 = 300.0;

/// What is seen again and again has an id that stays the same: far above those of [`Evidence`].
///
/// [`Evidence`]: crate::health::evidence::Evidence
const FACTS: u64 = 1 << 40;

fn row(kind: EvidenceKind, number: usize, text: String, age_s: f64) -> EvidenceRow {
    let place = (kind as u64) << 32 | number as u64;
    EvidenceRow {
        id: FACTS + place,
        kind,
        text,
        age_s,
        can_withdraw: false,
    }
}

fn positions<'a>(panels: impl Iterator<Item = &'a Panel>) -> Vec<String> {
    panels.map(|panel| panel.position.to_string()).collect()
}

/// The panels that a sensor sees.
fn seen_by(floor: &Floor, of: Measured) -> Vec<usize> {
    let of_supply = |feed: usize| floor.feeds[feed].supply;
    let sees = |panel: usize| {
        let feed = floor.panels[panel].feed;
        match of {
            Measured::Panel(at) => at == panel,
            Measured::Feed(at) => at == feed,
            Measured::Supply(at) => at == of_supply(feed),
            Measured::Circuit(at) => at == floor.supplies[of_supply(feed)].circuit,
        }
    };
    (0..floor.panels.len()).filter(|at| sees(*at)).collect()
}

impl Estimator {
    pub(super) fn of_nodes(&self, now: Time) -> Vec<FoundFault> {
        let mut faults = Vec::new();
        let nodes = self.floor.nodes.iter().zip(&self.facts.nodes).enumerate();
        for (at, (node, fact)) in nodes {
            let own = |panel: &&Panel| self.floor.runs[panel.run].node == Some(at);
            let panels = positions(self.floor.panels.iter().filter(own));
            let count = told::panels(panels.len());
            if !fact.online {
                let silent_s = fact.last_reply_s;
                let (place, text, sure) = match silent_s {
                    Some(s) => (
                        format!("node {} silent {s:.0} s", node.name),
                        format!("It answered polls and stopped {s:.0} s ago."),
                        Sureness::Certain,
                    ),
                    None => (
                        format!("node {} never answered", node.name),
                        "It has not answered any poll. Some nodes never do and work all the same."
                            .to_owned(),
                        Sureness::Possible,
                    ),
                };
                let evidence = row(
                    EvidenceKind::Node,
                    at,
                    text,
                    silent_s.unwrap_or(now.s_since(Time(0))),
                );
                faults.push(FoundFault {
                    place,
                    effect: format!("{count} hang on it: nobody knows what they show."),
                    behind: panels,
                    evidence: vec![evidence],
                    sure,
                    chance: if silent_s.is_some() { 1.0 } else { 0.5 },
                    ..fault(Cause::NodeSilent, format!("node {}", node.name))
                });
                continue;
            }
            if let Some(since) = self.restarted.get(&at)
                && now.s_since(*since) < RESTART_TOLD_S
            {
                let text =
                    "It was silent and answers polls again: see what made it start anew, its \
                            supply first."
                        .to_owned();
                faults.push(FoundFault {
                    place: format!("node {} was away", node.name),
                    effect: format!("{count} hang on it; they show the picture again."),
                    evidence: vec![row(EvidenceKind::Node, at, text, now.s_since(*since))],
                    sure: Sureness::Likely,
                    chance: 0.9,
                    ..fault(Cause::NodeRestarted, format!("node {}/away", node.name))
                });
            }
            for port in &fact.short_circuits {
                let text = "The node says so in its answer to a poll.".to_owned();
                faults.push(FoundFault {
                    place: format!("node {}, output {port}: short circuit", node.name),
                    effect: "What hangs on that output gets no data.".to_owned(),
                    evidence: vec![row(
                        EvidenceKind::Node,
                        at,
                        text,
                        fact.last_reply_s.unwrap_or(0.0),
                    )],
                    sure: Sureness::Likely,
                    chance: 0.95,
                    ..fault(Cause::PortFault, format!("node {}/{port}", node.name))
                });
            }
        }
        faults
    }

    pub(super) fn of_signal(&self) -> Vec<FoundFault> {
        let universes = self.tables.universes.iter().zip(&self.facts.universes);
        let lost = universes.enumerate().filter(|(_, (_, fact))| fact.lost);
        let lost = lost.map(|(at, (universe, fact))| {
            let outputs = universe.outputs.iter();
            let parts = outputs.flat_map(|out| &self.tables.outputs[*out as usize].parts);
            let panels: BTreeSet<usize> = parts.map(|part| part.panel as usize).collect();
            let age_s = fact.age_s.unwrap_or(0.0);
            let text = format!("Its last frame came {age_s:.0} s ago.");
            FoundFault {
                place: format!("universe {} does not arrive", universe.port_address),
                effect: format!(
                    "{} no longer follow the console.",
                    told::panels(panels.len())
                ),
                behind: positions(panels.iter().map(|at| &self.floor.panels[*at])),
                evidence: vec![row(EvidenceKind::Signal, at, text, age_s)],
                sure: Sureness::Certain,
                chance: 1.0,
                ..fault(
                    Cause::SignalLost,
                    format!("universe {}", universe.port_address),
                )
            }
        });
        lost.collect()
    }

    pub(super) fn of_sensors(&self, found: &[Found]) -> Vec<FoundFault> {
        let mut faults = Vec::new();
        let sensors = self.floor.sensors.iter().zip(&self.facts.sensors);
        for (at, (sensor, fact)) in sensors.enumerate() {
            let age_s = fact.age_s.unwrap_or(0.0);
            if let Some(why) = fact.lost {
                faults.push(FoundFault {
                    place: format!("sensor {}: {why}", sensor.name),
                    effect: "What it measures counts for nothing until that is mended.".to_owned(),
                    evidence: vec![row(EvidenceKind::Sensor, at, format!("It {why}."), age_s)],
                    sure: Sureness::Likely,
                    chance: 0.95,
                    ..fault(Cause::SensorLost, format!("sensor {}", sensor.name))
                });
            }
            let Some(lacks_a) = fact.lacks_a else {
                continue;
            };
            let panels = seen_by(&self.floor, sensor.of);
            let blames = |found: &Found| {
                let mut takes = found.takes.iter();
                takes.any(|item| {
                    panels.contains(&(self.joints.items[*item as usize].panel as usize))
                })
            };
            if found.iter().any(blames)
                || self
                    .shortfalls
                    .iter()
                    .any(|short| panels.contains(&short.panel))
            {
                continue;
            }
            let text = format!(
                "{lacks_a:.2} A less are measured than computed. A survey tells which segments lack."
            );
            faults.push(FoundFault {
                place: format!("sensor {}: {lacks_a:.2} A lack", sensor.name),
                effect: format!(
                    "Something behind it is dark or weak: one of {}, or the sensor itself.",
                    told::panels(panels.len())
                ),
                evidence: vec![row(EvidenceKind::Sensor, at, text, age_s)],
                sure: Sureness::Possible,
                chance: 0.5,
                ..fault(Cause::CurrentShort, format!("sensor {}/lacks", sensor.name))
            });
        }
        faults
    }

    pub(super) fn of_switches(&self) -> Vec<FoundFault> {
        let switches = self.facts.switches.iter().enumerate();
        let switches = switches.map(|(at, one)| {
            let panel = &self.floor.panels[one.panel];
            let (position, switch) = (panel.position.to_string(), one.switch);
            let (what, effect) = match one.cause {
                Cause::SwitchStuck => (
                    "stays pressed",
                    "Games take it for somebody who stands there.",
                ),
                Cause::SwitchDead => ("was never pressed", "Steps on that corner are not noticed."),
                _ => ("chatters", "One step counts as several."),
            };
            FoundFault {
                place: format!("{position}, switch {switch} {what}"),
                effect: effect.to_owned(),
                serial: told::serial(panel),
                evidence: vec![row(EvidenceKind::Switch, at, one.evidence.clone(), 0.0)],
                sure: told::sureness(one.chance),
                chance: one.chance,
                key: format!("{position}/switch {switch}/{what}"),
                position: Some(position),
                ..fault(one.cause, String::new())
            }
        });
        switches.collect()
    }
}
