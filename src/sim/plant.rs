//! A real floor as time goes by: what is broken on it for good, joints that open under feet and by
//! themselves, and the people whose feet these are.

use std::collections::BTreeSet;

use super::link::Chance;
use super::loose::{Habit, Loose};
use super::node::SimNode;
use super::real::faults::{Fault, Spot};
use super::real::{Real, Shine};
use super::truth::Amperes;
use super::walkers::{Press, Walkers};
use crate::units::Time;

/// What is broken at a place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Trouble {
    /// All the time.
    Always(Fault),
    /// Now and then.
    Loose(Fault, Habit),
}

impl Trouble {
    const fn fault(self) -> Fault {
        match self {
            Self::Always(fault) | Self::Loose(fault, _) => fault,
        }
    }
}

/// One place that is broken.
#[derive(Debug, Clone)]
struct Standing {
    spot: Spot,
    trouble: Trouble,
    loose: Option<Loose>,
}

impl Standing {
    /// Whether it is broken at this moment.
    fn acts(&self) -> bool {
        self.loose.as_ref().is_none_or(Loose::is_open)
    }
}

/// A real floor as time goes by.
#[derive(Debug)]
pub struct Plant {
    real: Real,
    walkers: Option<Walkers>,
    chance: Chance,
    /// In the order of their places.
    standing: Vec<Standing>,
    pressed: BTreeSet<(usize, u16)>,
    acting: Vec<(Spot, Fault)>,
}

impl Plant {
    /// A floor where nothing is broken and nobody walks; its bad luck follows from `seed`.
    pub const fn new(real: Real, seed: u64) -> Self {
        Self {
            real,
            walkers: None,
            chance: Chance::new(seed),
            standing: Vec::new(),
            pressed: BTreeSet::new(),
            acting: Vec::new(),
        }
    }

    /// The same with people on it.
    #[must_use]
    pub fn with_people(mut self, walkers: Walkers) -> Self {
        self.walkers = Some(walkers);
        self
    }

    /// Whether the floor can have this there; one that can't is left as it is. Whatever was wrong
    /// with that joint or segment before is mended first.
    pub fn break_at(&mut self, spot: Spot, trouble: Trouble) -> bool {
        if !self.real.has(spot, trouble.fault()) {
            return false;
        }
        self.standing.retain(|one| one.spot != spot);
        let loose = match trouble {
            Trouble::Always(_) => None,
            Trouble::Loose(_, habit) => Some(Loose::new(habit)),
        };
        let at = self.standing.partition_point(|one| one.spot < spot);
        let one = Standing {
            spot,
            trouble,
            loose,
        };
        self.standing.insert(at, one);
        self.apply();
        true
    }

    /// Mends a joint or segment; says whether anything was wrong with it.
    pub fn mend(&mut self, spot: Spot) -> bool {
        let before = self.standing.len();
        self.standing.retain(|one| one.spot != spot);
        self.apply();
        self.standing.len() < before
    }

    /// What is broken, in the order of places, and whether it is so at this moment.
    pub fn troubles(&self) -> impl Iterator<Item = (Spot, Trouble, bool)> {
        let all = self.standing.iter();
        all.map(|one| (one.spot, one.trouble, one.acts()))
    }

    /// Lets time pass: people move, and joints open and close under them. Gives what came down and went
    /// up, for whoever sends what switches say.
    pub fn step(&mut self, now: Time) -> Vec<Press> {
        let presses = self.walkers.as_mut().map(|walkers| walkers.step(now));
        let presses = presses.unwrap_or_default();
        for press in &presses {
            self.press(*press);
        }
        for one in &mut self.standing {
            if let Some(loose) = &mut one.loose {
                let panel = one.spot.panel;
                let there = self.pressed.range((panel, 0)..=(panel, u16::MAX));
                loose.step(now, there.count() > 0, &mut self.chance);
            }
        }
        self.apply();
        presses
    }

    /// Somebody presses or releases a switch.
    pub fn press(&mut self, press: Press) {
        let switch = (press.panel, press.switch);
        if press.down {
            self.pressed.insert(switch);
        } else {
            self.pressed.remove(&switch);
        }
    }

    /// What flows now, in the order of the floor's.
    pub fn amperes(&mut self, nodes: &[SimNode]) -> Amperes {
        self.real.amperes(nodes)
    }

    /// Which segments shone when it was last asked what flows, see [`Real::shining`].
    pub fn shining(&self) -> Vec<Vec<Shine>> {
        self.real.shining()
    }

    /// Breaks and mends the real floor only when something changed.
    fn apply(&mut self) {
        let acting = self.standing.iter().filter(|one| one.acts());
        let acting: Vec<_> = acting.map(|one| (one.spot, one.trouble.fault())).collect();
        if acting != self.acting {
            self.real.afflict(&acting);
            self.acting = acting;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::floor::testing;
    use crate::sim::real::Scatter;

    fn plant() -> Plant {
        let scatter = |_| Scatter {
            reel: 0.0,
            own: 0.0,
        };
        let real = Real::new(&testing::demo(), &mut Chance::new(1), scatter);
        Plant::new(real, 1)
    }

    fn first_feed_a(plant: &mut Plant) -> f64 {
        plant.amperes(&[]).feeds[0]
    }

    const SPOT: Spot = Spot {
        panel: 0,
        segment: 0,
    };

    #[test]
    fn what_is_broken_is_listed_and_mended() {
        let mut plant = plant();
        let whole = first_feed_a(&mut plant);
        let behind = Spot { segment: 2, ..SPOT };
        assert!(plant.break_at(behind, Trouble::Always(Fault::Weak(0.5))));
        assert!(plant.break_at(SPOT, Trouble::Always(Fault::Stuck(1.0))));
        let nowhere = Spot {
            panel: 9_999,
            ..SPOT
        };
        assert!(!plant.break_at(nowhere, Trouble::Always(Fault::Weak(0.5))));
        // WS2811 strip of the demo: 6 pixels of 3 × 18.5 mA shine in the dark.
        let stuck = first_feed_a(&mut plant);
        assert!(
            (stuck - whole - 6.0 * 3.0 * 0.0185).abs() < 1e-3,
            "{stuck} {whole}"
        );
        let spots: Vec<Spot> = plant.troubles().map(|(spot, ..)| spot).collect();
        assert_eq!(spots, [SPOT, behind]);
        // Another one takes its place.
        assert!(plant.break_at(SPOT, Trouble::Always(Fault::Weak(0.1))));
        assert_eq!(plant.troubles().count(), 2);
        assert!(plant.mend(SPOT) && !plant.mend(SPOT) && plant.mend(behind));
        assert!((first_feed_a(&mut plant) - whole).abs() < 1e-12);
    }

    #[test]
    fn a_loose_joint_opens_under_the_feet_of_its_own_panel_alone() {
        let mut plant = plant();
        let always = Habit::UnderFeet {
            chance: 1.0,
            ring_ms: 0,
        };
        assert!(plant.break_at(SPOT, Trouble::Loose(Fault::LinkOpen, always)));
        let whole = first_feed_a(&mut plant);
        let foot = |panel, down| Press {
            panel,
            switch: 2,
            down,
        };
        for (ms, press, open) in [
            (10, foot(1, true), false),
            (20, foot(0, true), true),
            (30, foot(1, false), true),
            (40, foot(0, false), false),
        ] {
            plant.press(press);
            plant.step(Time::from_ms(ms));
            assert_eq!(plant.troubles().map(|(.., open)| open).next(), Some(open));
            let flows = first_feed_a(&mut plant);
            assert_eq!(flows < whole * 0.9, open, "{ms} ms: {flows} of {whole} A");
        }
    }

    #[test]
    fn people_make_a_loose_joint_open_and_close() {
        let people = Walkers::new(&testing::demo(), 12, 4);
        let mut plant = plant().with_people(people);
        let often = Habit::UnderFeet {
            chance: 0.5,
            ring_ms: 100,
        };
        assert!(plant.break_at(SPOT, Trouble::Loose(Fault::SupplyOpen, often)));
        let mut opened = 0;
        let mut last = false;
        for ms in (0..600_000).step_by(20) {
            plant.step(Time::from_ms(ms));
            let open = plant.troubles().any(|(.., open)| open);
            opened += u32::from(open && !last);
            last = open;
        }
        assert!(opened > 3, "{opened}");
    }
}
