//! The floor of the demo as it really is: what its sensors measure, and how its joints are broken by
//! whoever looks at the dashboard.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use crate::floor::Floor;
use crate::floor::model::{Colour, Measured, PixelKind};
use crate::health::joints::colours_apart;
use crate::sim::link::Chance;
use crate::sim::loose::Habit;
use crate::sim::plant::{Plant, Trouble};
use crate::sim::real::faults::{Fault, Spot};
use crate::sim::real::{Real, Scatter};
use crate::sim::sensor::{Errors, SimSensor};
use crate::sim::shell::{SharedNode, SharedPlant};
use crate::sim::walkers::Walkers;
use crate::web::{BreakJoint, BrokenJoint, CantBreak, JointFault, Simulation};

/// How far simulated pixels are from what the floor file says: 2 % more, each 1 % more or less.
const SCATTER: Scatter = Scatter {
    reel: 0.02,
    own: 0.01,
};

/// People on the demo's floor.
const PEOPLE: usize = 5;

/// All luck of the demo follows from this.
const SEED: u64 = 5;

/// What a joint that has become resistive has more, in ohms: what lies behind it is clearly dim.
const RESISTIVE_OHM: f64 = 8.0;

/// A weak segment has so much of its LEDs left, and a stuck one is lit so far.
const HALF: f64 = 0.5;

/// A node that restarts is silent for so long, in milliseconds: longer than the daemon needs to notice.
const RESTARTS_MS: u64 = 15_000;

/// A loose joint opens at so many of the steps on its panel, and rings for so long at most.
const LOOSE: Habit = Habit::UnderFeet {
    chance: 0.4,
    ring_ms: 300,
};

/// A floor on which nothing is broken and people walk.
pub(super) fn plant(floor: &Floor) -> Plant {
    let real = Real::new(floor, &mut Chance::new(SEED), |_| SCATTER);
    Plant::new(real, SEED).with_people(Walkers::new(floor, PEOPLE, SEED))
}

/// Its sensors, in the floor's order: small errors, as those of current sensors of the trade (from
/// memory of datasheets): noise of 0.1 % of what the place carries, a gain off by up to 1 %, an offset
/// of up to 0.1 %, a tenth of a second late.
pub(super) fn sensors(floor: &Floor) -> Vec<SimSensor> {
    let mut chance = Chance::new(SEED);
    let made = (0_u64..).zip(&floor.sensors).map(|(seed, sensor)| {
        let range_a = match sensor.of {
            Measured::Circuit(at) => floor.circuits[at].rated_a.0,
            Measured::Supply(at) => floor.supplies[at].rated_a.0,
            Measured::Feed(at) => floor.feeds[at].fuse_a.0,
            Measured::Panel(_) => 10.0,
        };
        let errors = Errors {
            noise_a: 0.001 * range_a,
            gain: 0.02 * chance.share() - 0.01,
            offset_a: range_a * (0.002 * chance.share() - 0.001),
            drift_a: 1e-5 * range_a,
            step_a: 5e-4 * range_a,
            most_a: 1.5 * range_a,
            late_ms: 100,
            ..Errors::default()
        };
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a floor file says from 0.1 to 60 s"
        )]
        let every_ms = (sensor.every_s * 1e3) as u64;
        SimSensor::with(SEED + seed, every_ms, errors)
    });
    made.collect()
}

/// Lets the dashboard break and mend joints.
#[derive(Debug)]
pub(super) struct Breaker {
    floor: Arc<Floor>,
    plant: SharedPlant,
    nodes: Vec<SharedNode>,
    /// Nodes that were told to restart, and by which panel they were named.
    restarting: Mutex<BTreeMap<usize, usize>>,
}

/// What is wished for.
enum Wished {
    Mended,
    Trouble(Trouble),
    NodeRestarts,
}

fn locked<T>(of: &Mutex<T>) -> MutexGuard<'_, T> {
    of.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Breaker {
    /// `nodes` are those of the floor, in its order.
    pub(super) fn new(floor: Arc<Floor>, plant: SharedPlant, nodes: Vec<SharedNode>) -> Self {
        Self {
            floor,
            plant,
            nodes,
            restarting: Mutex::default(),
        }
    }

    fn wished(&self, wish: &BreakJoint, panel: usize) -> Result<Wished, CantBreak> {
        let whole = matches!(wish.fault, JointFault::LinkOpen | JointFault::NodeRestarts);
        if whole && wish.segment != 1 {
            return Err(CantBreak::NoSuchJoint(format!(
                "that is about {} as a whole: name segment 1",
                wish.position
            )));
        }
        let fault = match wish.fault {
            JointFault::SupplyOpen => Fault::SupplyOpen,
            JointFault::SupplyResistive => Fault::SupplyResistive(RESISTIVE_OHM),
            JointFault::DataOpen => Fault::DataOpen { holds: false },
            JointFault::DataFrozen => Fault::DataOpen { holds: true },
            JointFault::ColourOpen => Fault::ColourOpen(self.colour(wish, panel)?),
            JointFault::LinkOpen => Fault::LinkOpen,
            JointFault::Weak => Fault::Weak(HALF),
            JointFault::Stuck => Fault::Stuck(HALF),
            JointFault::Loose => {
                return Ok(Wished::Trouble(Trouble::Loose(Fault::SupplyOpen, LOOSE)));
            }
            JointFault::NodeRestarts => return Ok(Wished::NodeRestarts),
            JointFault::None => return Ok(Wished::Mended),
        };
        Ok(Wished::Trouble(Trouble::Always(fault)))
    }

    fn kind(&self, panel: usize) -> &PixelKind {
        let kind = &self.floor.panel_kinds[self.floor.panels[panel].kind];
        &self.floor.pixel_kinds[kind.pixel_kind]
    }

    /// The colour that is meant: one that the panel has, with a wire of its own.
    fn colour(&self, wish: &BreakJoint, panel: usize) -> Result<Colour, CantBreak> {
        let kind = self.kind(panel);
        if !colours_apart(kind) {
            return Err(CantBreak::NotLikeThat(format!(
                "{} has no wire for one colour alone: only analogue strip has",
                wish.position
            )));
        }
        let Some(name) = &wish.colour else {
            return Ok(kind.slots[0].colour);
        };
        let mut colours = kind.slots.iter().map(|slot| slot.colour);
        let found = colours.find(|colour| colour.name() == name.as_str());
        let none = || CantBreak::NotLikeThat(format!("{} has no {name}", wish.position));
        found.ok_or_else(none)
    }

    /// Index of the node of a panel, if it has one.
    fn node(&self, panel: usize) -> Option<usize> {
        let node = self.floor.runs[self.floor.panels[panel].run].node?;
        (node < self.nodes.len()).then_some(node)
    }

    fn restart(&self, panel: usize) -> Result<(), CantBreak> {
        let Some(at) = self.node(panel) else {
            let why = "no node is named for that panel".to_owned();
            return Err(CantBreak::NoSuchJoint(why));
        };
        locked(&self.restarting).insert(at, panel);
        locked(&self.nodes[at]).restarts_soon(RESTARTS_MS);
        Ok(())
    }

    /// A node that was told to restart by this panel is back at once.
    fn end_restart(&self, panel: usize) {
        if let Some(at) = self.node(panel)
            && locked(&self.restarting).get(&at) == Some(&panel)
        {
            locked(&self.nodes[at]).returns();
        }
    }

    /// By which panels nodes that are still without power were named.
    fn silent_by(&self) -> Vec<usize> {
        let mut restarting = locked(&self.restarting);
        restarting.retain(|&at, _| locked(&self.nodes[at]).is_off());
        restarting.values().copied().collect()
    }

    fn row(&self, spot: Spot, trouble: Trouble, acts: bool) -> BrokenJoint {
        let (fault, colour) = match trouble {
            Trouble::Loose(..) => (JointFault::Loose, None),
            Trouble::Always(fault) => match fault {
                Fault::SupplyOpen => (JointFault::SupplyOpen, None),
                Fault::SupplyResistive(_) => (JointFault::SupplyResistive, None),
                Fault::LinkOpen => (JointFault::LinkOpen, None),
                Fault::DataOpen { holds: false } => (JointFault::DataOpen, None),
                Fault::DataOpen { holds: true } => (JointFault::DataFrozen, None),
                Fault::ColourOpen(colour) => (JointFault::ColourOpen, Some(colour)),
                Fault::Weak(_) => (JointFault::Weak, None),
                Fault::Stuck(_) => (JointFault::Stuck, None),
            },
        };
        BrokenJoint {
            position: self.floor.panels[spot.panel].position.to_string(),
            segment: u32::try_from(spot.segment + 1).unwrap_or(u32::MAX),
            fault,
            colour: colour.map(|colour| colour.name().to_owned()),
            acts,
        }
    }
}

impl Simulation for Breaker {
    fn broken(&self) -> Vec<BrokenJoint> {
        let silent_by = self.silent_by();
        let plant = locked(&self.plant);
        let joints = plant.troubles().map(|(spot, trouble, acts)| {
            let row = self.row(spot, trouble, acts);
            (spot.panel, row)
        });
        let restarts = silent_by.into_iter().map(|panel| {
            let row = BrokenJoint {
                position: self.floor.panels[panel].position.to_string(),
                segment: 1,
                fault: JointFault::NodeRestarts,
                colour: None,
                acts: true,
            };
            (panel, row)
        });
        let mut all: Vec<(usize, BrokenJoint)> = restarts.chain(joints).collect();
        all.sort_by_key(|(panel, _)| *panel);
        all.into_iter().map(|(_, row)| row).collect()
    }

    fn possible(&self) -> Vec<JointFault> {
        let mut panels = 0..self.floor.panels.len();
        let analogue = panels.any(|panel| colours_apart(self.kind(panel)));
        let all = JointFault::ALL.into_iter();
        all.filter(|fault| analogue || *fault != JointFault::ColourOpen)
            .collect()
    }

    fn change(&self, wish: &BreakJoint) -> Result<(), CantBreak> {
        let panels = &self.floor.panels;
        let at = |position: String| wish.position.trim().eq_ignore_ascii_case(&position);
        let panel = panels.iter().position(|it| at(it.position.to_string()));
        let no_panel = || CantBreak::NoSuchJoint(format!("there is no panel at {}", wish.position));
        let panel = panel.ok_or_else(no_panel)?;
        let segment = usize::try_from(wish.segment).unwrap_or(usize::MAX);
        let from_1 = || CantBreak::NoSuchJoint("segments are counted from 1".to_owned());
        let segment = segment.checked_sub(1).ok_or_else(from_1)?;
        let spot = Spot { panel, segment };
        match self.wished(wish, panel)? {
            Wished::NodeRestarts => return self.restart(panel),
            Wished::Mended => {
                if segment == 0 {
                    self.end_restart(panel);
                }
                locked(&self.plant).mend(spot);
                return Ok(());
            }
            Wished::Trouble(trouble) if locked(&self.plant).break_at(spot, trouble) => {
                return Ok(());
            }
            Wished::Trouble(_) => {}
        }
        let kind = &self.floor.panel_kinds[panels[panel].kind];
        let there = kind.segments.len();
        Err(CantBreak::NoSuchJoint(format!(
            "{} has no such joint before segment {}: it has {there} segments, and a supply joint \
             only where its strip is fed",
            wish.position, wish.segment
        )))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::floor::model::Drive;
    use crate::floor::testing;
    use crate::sim::node::{Character, SimNode};
    use crate::units::Time;

    fn of(floor: Floor) -> Breaker {
        let plant = Arc::new(Mutex::new(plant(&floor)));
        let nodes = floor.nodes.iter().map(|node| {
            let character = Character {
                short_name: node.name.clone(),
                long_name: String::new(),
                address: node.address,
                outputs: Vec::new(),
                syncs: true,
                orders: true,
            };
            Arc::new(Mutex::new(SimNode::new(character)))
        });
        let nodes = nodes.collect();
        Breaker::new(Arc::new(floor), plant, nodes)
    }

    fn breaker() -> Breaker {
        of(testing::demo())
    }

    fn wish(position: &str, segment: u32, fault: JointFault) -> BreakJoint {
        BreakJoint {
            position: position.to_owned(),
            segment,
            fault,
            colour: None,
        }
    }

    #[test]
    fn every_fault_is_listed_as_it_was_asked_for() {
        let breaker = breaker();
        for fault in breaker.possible() {
            breaker.change(&wish("c2", 1, fault)).unwrap();
            let broken = breaker.broken();
            if fault == JointFault::None {
                assert_eq!(broken, []);
                continue;
            }
            let rows = broken.iter().map(|row| (&*row.position, row.segment));
            // A node is not what lies at the joint: it is listed beside it.
            let many = 1 + usize::from(fault == JointFault::NodeRestarts);
            assert_eq!(rows.collect::<Vec<_>>(), vec![("C2", 1); many]);
            assert_eq!(broken[0].fault, fault);
        }
    }

    /// The demo's strip has pixels that are told apart; analogue strip has a wire for each colour.
    #[test]
    fn a_colour_s_wire_breaks_only_where_there_is_one() {
        let all = wish("C2", 3, JointFault::ColourOpen);
        let breaker = breaker();
        assert!(!breaker.possible().contains(&JointFault::ColourOpen));
        let refused = breaker.change(&all);
        assert!(
            matches!(refused, Err(CantBreak::NotLikeThat(_))),
            "{refused:?}"
        );
        let mut analogue = testing::demo();
        for kind in &mut analogue.pixel_kinds {
            kind.drive = Drive::Analogue;
        }
        let breaker = of(analogue);
        assert!(breaker.possible().contains(&JointFault::ColourOpen));
        let mut white = all.clone();
        white.colour = Some("white".to_owned());
        let refused = breaker.change(&white);
        assert!(
            matches!(refused, Err(CantBreak::NotLikeThat(_))),
            "{refused:?}"
        );
        breaker.change(&all).unwrap();
        // The demo's strip is GRB.
        assert_eq!(breaker.broken()[0].colour.as_deref(), Some("green"));
    }

    #[test]
    fn a_node_that_restarts_is_listed_until_it_is_back() {
        let breaker = breaker();
        let restarts = wish("C2", 1, JointFault::NodeRestarts);
        let node = |s| {
            let mut node = locked(&breaker.nodes[0]);
            node.settle(Time::from_s(s));
            node.is_off()
        };
        breaker.change(&restarts).unwrap();
        assert!(node(1) && node(15));
        assert_eq!(breaker.broken().len(), 1);
        assert!(!node(16));
        assert_eq!(breaker.broken(), []);
        // Mended, it is back at once; what is mended in another panel leaves it as it is.
        breaker.change(&restarts).unwrap();
        breaker.change(&wish("C1", 1, JointFault::None)).unwrap();
        assert!(node(20));
        breaker.change(&wish("C2", 1, JointFault::None)).unwrap();
        assert!(!node(21));
        assert_eq!(breaker.broken(), []);
    }

    #[test]
    fn what_the_floor_does_not_have_is_refused() {
        let breaker = breaker();
        for wish in [
            wish("D4", 1, JointFault::SupplyOpen),
            wish("C2", 0, JointFault::SupplyOpen),
            wish("C2", 40, JointFault::SupplyOpen),
            wish("C2", 40, JointFault::Weak),
            wish("C2", 9, JointFault::Stuck),
            wish("C2", 2, JointFault::LinkOpen),
            wish("C2", 2, JointFault::NodeRestarts),
            wish("C2", u32::MAX, JointFault::DataOpen),
        ] {
            let refused = breaker.change(&wish);
            assert!(
                matches!(refused, Err(CantBreak::NoSuchJoint(_))),
                "{wish:?}"
            );
        }
        assert_eq!(breaker.broken(), []);
    }

    /// A survey needs to see every panel: each hangs on a feed that is measured ten times a second.
    #[test]
    fn every_feed_of_the_demo_is_measured() {
        let floor = testing::demo();
        for at in 0..floor.feeds.len() {
            let mut all = floor.sensors.iter();
            let found = all.find(|sensor| sensor.of == Measured::Feed(at));
            let every_s = found.map(|sensor| sensor.every_s);
            assert_eq!(every_s, Some(0.1), "{}", floor.feeds[at].name);
        }
        assert_eq!(sensors(&floor).len(), floor.sensors.len());
    }
}
