//! The floor of the demo as it really is: what its sensors measure, and how its joints are broken by
//! whoever looks at the dashboard.

use std::sync::{Arc, PoisonError};

use crate::floor::Floor;
use crate::floor::model::{Colour, Measured};
use crate::sim::link::Chance;
use crate::sim::loose::Habit;
use crate::sim::plant::{Plant, Trouble};
use crate::sim::real::faults::{Fault, Spot};
use crate::sim::real::{Real, Scatter};
use crate::sim::sensor::{Errors, SimSensor};
use crate::sim::shell::SharedPlant;
use crate::sim::walkers::Walkers;
use crate::web::{BreakJoint, BrokenJoint, JointFault, Simulation};

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
}

impl Breaker {
    pub(super) const fn new(floor: Arc<Floor>, plant: SharedPlant) -> Self {
        Self { floor, plant }
    }

    fn fault(&self, wish: &BreakJoint, panel: usize) -> Result<Option<Trouble>, String> {
        let fault = match wish.fault {
            JointFault::SupplyOpen => Fault::SupplyOpen,
            JointFault::SupplyResistive => Fault::SupplyResistive(RESISTIVE_OHM),
            JointFault::DataOpen => Fault::DataOpen { holds: false },
            JointFault::DataFrozen => Fault::DataOpen { holds: true },
            JointFault::ColourOpen => Fault::ColourOpen(self.colour(wish, panel)?),
            JointFault::Loose => return Ok(Some(Trouble::Loose(Fault::SupplyOpen, LOOSE))),
            JointFault::None => return Ok(None),
        };
        Ok(Some(Trouble::Always(fault)))
    }

    /// The colour that is meant: one that the panel has.
    fn colour(&self, wish: &BreakJoint, panel: usize) -> Result<Colour, String> {
        let kind = &self.floor.panel_kinds[self.floor.panels[panel].kind];
        let slots = &self.floor.pixel_kinds[kind.pixel_kind].slots;
        let Some(name) = &wish.colour else {
            return Ok(slots[0].colour);
        };
        let mut colours = slots.iter().map(|slot| slot.colour);
        let found = colours.find(|colour| colour.name() == name.as_str());
        found.ok_or_else(|| format!("{} has no {name}", wish.position))
    }
}

impl Simulation for Breaker {
    fn broken(&self) -> Vec<BrokenJoint> {
        let plant = self.plant.lock().unwrap_or_else(PoisonError::into_inner);
        let joints = plant.troubles().filter_map(|(spot, trouble, acts)| {
            let (fault, colour) = match trouble {
                Trouble::Loose(..) => (JointFault::Loose, None),
                Trouble::Always(Fault::SupplyOpen) => (JointFault::SupplyOpen, None),
                Trouble::Always(Fault::SupplyResistive(_)) => (JointFault::SupplyResistive, None),
                Trouble::Always(Fault::DataOpen { holds: false }) => (JointFault::DataOpen, None),
                Trouble::Always(Fault::DataOpen { holds: true }) => (JointFault::DataFrozen, None),
                Trouble::Always(Fault::ColourOpen(colour)) => {
                    (JointFault::ColourOpen, Some(colour.name().to_owned()))
                }
                // Nothing of this is asked for here.
                Trouble::Always(Fault::LinkOpen | Fault::Weak(_) | Fault::Stuck(_)) => return None,
            };
            Some(BrokenJoint {
                position: self.floor.panels[spot.panel].position.to_string(),
                segment: u32::try_from(spot.segment + 1).ok()?,
                fault,
                colour,
                acts,
            })
        });
        joints.collect()
    }

    fn change(&self, wish: &BreakJoint) -> Result<(), String> {
        let panels = &self.floor.panels;
        let at = |position: String| wish.position.trim().eq_ignore_ascii_case(&position);
        let panel = panels.iter().position(|it| at(it.position.to_string()));
        let panel = panel.ok_or_else(|| format!("there is no panel at {}", wish.position))?;
        let segment = usize::try_from(wish.segment).unwrap_or(usize::MAX);
        let segment = (segment.checked_sub(1)).ok_or("segments are counted from 1")?;
        let spot = Spot { panel, segment };
        let trouble = self.fault(wish, panel)?;
        let mut plant = self.plant.lock().unwrap_or_else(PoisonError::into_inner);
        let Some(trouble) = trouble else {
            plant.mend(spot);
            return Ok(());
        };
        if plant.break_at(spot, trouble) {
            return Ok(());
        }
        let kind = &self.floor.panel_kinds[panels[panel].kind];
        let there = kind.segments.len();
        Err(format!(
            "{} has no such joint before segment {}: it has {there} segments, and a supply joint \
             only where its strip is fed",
            wish.position, wish.segment
        ))
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Mutex;

    use super::*;
    use crate::floor::testing;

    fn breaker() -> Breaker {
        let floor = testing::demo();
        let plant = Arc::new(Mutex::new(plant(&floor)));
        Breaker::new(Arc::new(floor), plant)
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
        for fault in JointFault::ALL {
            breaker.change(&wish("c2", 3, fault)).unwrap();
            let broken = breaker.broken();
            if fault == JointFault::None {
                assert_eq!(broken, []);
                continue;
            }
            assert_eq!(broken.len(), 1);
            assert_eq!((&*broken[0].position, broken[0].segment), ("C2", 3));
            assert_eq!(broken[0].fault, fault);
            // The demo's strip is GRB.
            let green = (fault == JointFault::ColourOpen).then_some("green");
            assert_eq!(broken[0].colour.as_deref(), green);
        }
    }

    #[test]
    fn what_the_floor_does_not_have_is_refused() {
        let breaker = breaker();
        let mut white = wish("C2", 3, JointFault::ColourOpen);
        white.colour = Some("white".to_owned());
        for wish in [
            wish("D4", 1, JointFault::SupplyOpen),
            wish("C2", 0, JointFault::SupplyOpen),
            wish("C2", 40, JointFault::SupplyOpen),
            wish("C2", u32::MAX, JointFault::DataOpen),
            white,
        ] {
            let refused = breaker.change(&wish);
            assert!(refused.is_err(), "{wish:?}");
            println!("{}", refused.unwrap_err());
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
