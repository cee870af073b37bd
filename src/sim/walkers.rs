//! People who walk and dance on the floor: whose foot is on which switch at which time.
//!
//! Each person sets one foot before the other towards a panel chosen by chance, stays there and dances
//! for a while, and goes on. A foot presses the switches under it that its weight reaches: one to
//! four. How people walk is from memory, not measured: 1.8 steps a second and 1.2 m/s when walking,
//! two steps a second when dancing.

use std::collections::BTreeMap;

use super::link::Chance;
use crate::floor::Floor;
use crate::units::{Time, count};

/// Time from one foot's landing to the other's, in ms, when walking and when dancing.
const STEP_MS: u64 = 555;
const BEAT_MS: u64 = 500;

/// A foot stays down so much longer than the other takes to land, in ms.
const OVERLAP_MS: u64 = 120;

/// The way of one step, in mm.
const STRIDE_MM: f64 = 660.0;

/// A foot lands so far to the side of a person's way, in mm.
const ASIDE_MM: f64 = 90.0;

/// A switch came down or up.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Press {
    /// Index into the floor's panels.
    pub panel: usize,
    /// From 1, as people count them.
    pub switch: u16,
    /// Down, or up again.
    pub down: bool,
}

/// Where a switch lies on the floor.
#[derive(Debug, Clone, Copy)]
struct Place {
    panel: usize,
    switch: u16,
    mm: [f64; 2],
}

/// A foot on the floor.
#[derive(Debug, Clone)]
struct Foot {
    lifts: Time,
    on: Vec<usize>,
}

/// Someone.
#[derive(Debug, Clone)]
struct Person {
    mm: [f64; 2],
    aim: [f64; 2],
    /// Share of a panel's side that a foot with this weight presses down around it.
    reach: f64,
    left: bool,
    /// When the next foot lands.
    lands: Time,
    /// Dances on the spot until then, once there.
    dances: Option<Time>,
    feet: Vec<Foot>,
    chance: Chance,
}

/// All of them.
#[derive(Debug, Clone)]
pub struct Walkers {
    side_mm: [f64; 2],
    middles: Vec<[f64; 2]>,
    switches: Vec<Place>,
    people: Vec<Person>,
    /// Feet on each switch.
    down: Vec<u32>,
}

impl Walkers {
    /// So many people on a floor, standing on panels by chance; all that they do follows from
    /// `seed`. Nobody comes to a floor without panels.
    pub fn new(floor: &Floor, people: usize, seed: u64) -> Self {
        let mut chance = Chance::new(seed);
        let side_mm = floor.grid.panel_mm.map(|side| side.0);
        let pitch_mm = side_mm.map(|side| side + floor.grid.gap_mm.0);
        let mut middles = Vec::new();
        let mut switches = Vec::new();
        for (at, panel) in floor.panels.iter().enumerate() {
            let corner = [
                f64::from(panel.position.column) * pitch_mm[0],
                f64::from(panel.position.row) * pitch_mm[1],
            ];
            middles.push([0, 1].map(|axis| corner[axis] + side_mm[axis] / 2.0));
            let of_kind = floor.panel_kinds[panel.kind].switches;
            for switch in 0..of_kind {
                // On a ring round the middle; four lie towards the corners.
                let turn = (f64::from(switch) + 0.5) / f64::from(of_kind) * std::f64::consts::TAU;
                let ring = [turn.sin(), -turn.cos()];
                let from_middle = if of_kind == 1 { 0.0 } else { 0.4 };
                switches.push(Place {
                    panel: at,
                    switch: switch + 1,
                    mm: [0, 1].map(|axis| {
                        corner[axis] + side_mm[axis] * (0.5 + from_middle * ring[axis])
                    }),
                });
            }
        }
        let people = if middles.is_empty() { 0 } else { people };
        let people = (0..people).map(|_| {
            let mm = middles[pick(&mut chance, middles.len())];
            Person {
                mm,
                aim: mm,
                reach: 0.3 + 0.35 * chance.share(),
                left: false,
                lands: Time::from_ms(chance.up_to(BEAT_MS)),
                dances: Some(Time::from_ms(chance.up_to(5_000))),
                feet: Vec::new(),
                chance: Chance::new(chance.bits()),
            }
        });
        Self {
            people: people.collect(),
            side_mm,
            middles,
            down: vec![0; switches.len()],
            switches,
        }
    }

    /// Lets them move until `now`; gives what came down and went up on the way, in that order.
    pub fn step(&mut self, now: Time) -> Vec<Press> {
        let mut presses = Vec::new();
        // One thing after the other, in the order in which it happens.
        loop {
            let next = (0..self.people.len()).map(|at| {
                let person = &self.people[at];
                let lift = person.feet.iter().map(|foot| foot.lifts).min();
                match lift.filter(|&lift| lift <= person.lands) {
                    Some(lift) => (lift, at, true),
                    None => (person.lands, at, false),
                }
            });
            match next.min().filter(|(when, ..)| *when <= now) {
                Some((when, at, true)) => self.lift(at, when, &mut presses),
                Some((_, at, false)) => self.land(at, &mut presses),
                None => return presses,
            }
        }
    }

    /// Whether someone stands on a switch of this panel.
    pub fn on(&self, panel: usize) -> bool {
        let mut all = self.switches.iter().zip(&self.down);
        all.any(|(place, feet)| place.panel == panel && *feet > 0)
    }

    /// The switches that are pressed now, by panel, counted from 1.
    pub fn pressed(&self) -> BTreeMap<usize, Vec<u16>> {
        let mut pressed: BTreeMap<usize, Vec<u16>> = BTreeMap::new();
        for (place, feet) in self.switches.iter().zip(&self.down) {
            if *feet > 0 {
                pressed.entry(place.panel).or_default().push(place.switch);
            }
        }
        pressed
    }

    fn lift(&mut self, person: usize, when: Time, presses: &mut Vec<Press>) {
        let feet = &mut self.people[person].feet;
        let Some(at) = feet.iter().position(|foot| foot.lifts == when) else {
            return;
        };
        for switch in feet.remove(at).on {
            self.down[switch] -= 1;
            if self.down[switch] == 0 {
                presses.push(self.press(switch, false));
            }
        }
    }

    fn land(&mut self, at: usize, presses: &mut Vec<Press>) {
        let when = self.people[at].lands;
        self.decide(at, when);
        let person = &mut self.people[at];
        let (dx, dy) = (person.aim[0] - person.mm[0], person.aim[1] - person.mm[1]);
        let far = dx.hypot(dy);
        let dancing = person.dances.is_some();
        let toward = if far > 1.0 {
            [dx / far, dy / far]
        } else {
            [0.0, -1.0]
        };
        let stride = if dancing { 0.0 } else { far.min(STRIDE_MM) };
        person.mm = [0, 1].map(|axis| person.mm[axis] + stride * toward[axis]);
        person.left = !person.left;
        let aside = if person.left { -ASIDE_MM } else { ASIDE_MM };
        let sway = if dancing {
            0.6 * self.side_mm[0].min(self.side_mm[1])
        } else {
            40.0
        };
        let by_chance = [0, 1].map(|_| sway * (person.chance.share() - 0.5));
        let foot = [
            person.mm[0] - toward[1] * aside + by_chance[0],
            person.mm[1] + toward[0] * aside + by_chance[1],
        ];
        let step_ms = if dancing { BEAT_MS } else { STEP_MS };
        // No two people keep the same time.
        let step_ms = step_ms - 50 + person.chance.up_to(100);
        person.lands = when.plus_ms(step_ms);
        let reach = person.reach;
        let on = self.under(foot, reach);
        for &switch in &on {
            self.down[switch] += 1;
            if self.down[switch] == 1 {
                presses.push(self.press(switch, true));
            }
        }
        let lifts = when.plus_ms(step_ms + OVERLAP_MS);
        self.people[at].feet.push(Foot { lifts, on });
    }

    /// Whoever is there dances for a while; whoever has danced goes elsewhere.
    fn decide(&mut self, at: usize, when: Time) {
        let person = &mut self.people[at];
        let far = (person.aim[0] - person.mm[0]).hypot(person.aim[1] - person.mm[1]);
        match person.dances {
            Some(until) if when >= until => {
                person.dances = None;
                person.aim = self.middles[pick(&mut person.chance, self.middles.len())];
            }
            None if far < 1.0 => {
                let stays_ms = 1_000 + person.chance.up_to(9_000);
                person.dances = Some(when.plus_ms(stays_ms));
            }
            _ => {}
        }
    }

    /// Switches that a foot presses: those of the panel under it within reach, the nearest at least.
    fn under(&self, foot: [f64; 2], reach: f64) -> Vec<usize> {
        let inside = |middle: &[f64; 2]| {
            (0..2).all(|axis| (foot[axis] - middle[axis]).abs() <= self.side_mm[axis] / 2.0)
        };
        // Beside the floor, on a pillar or in a gap there are none.
        let Some(panel) = self.middles.iter().position(inside) else {
            return Vec::new();
        };
        let there = self.switches.iter().enumerate();
        let mut by_distance: Vec<(f64, usize)> = there
            .filter(|(_, place)| place.panel == panel)
            .map(|(at, place)| {
                let far = (0..2).map(|axis| (foot[axis] - place.mm[axis]) / self.side_mm[axis]);
                (far.map(|it| it * it).sum::<f64>().sqrt(), at)
            })
            .collect();
        by_distance.sort_by(|a, b| a.0.total_cmp(&b.0));
        let near = by_distance
            .iter()
            .take_while(|(far, _)| *far <= reach)
            .count();
        by_distance.truncate(near.clamp(1, 4));
        by_distance.into_iter().map(|(_, at)| at).collect()
    }

    fn press(&self, switch: usize, down: bool) -> Press {
        let Place { panel, switch, .. } = self.switches[switch];
        Press {
            panel,
            switch,
            down,
        }
    }
}

/// One of so many, from 0.
fn pick(chance: &mut Chance, of: usize) -> usize {
    let share = chance.share() * count(of);
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "from 0 to less than a count of panels"
    )]
    let at = share as usize;
    at.min(of - 1)
}

#[cfg(test)]
mod tests {
    use std::collections::{BTreeSet, HashMap};

    use super::*;
    use crate::floor::testing;

    /// Ten minutes of people on the demo's floor, looked at every 20 ms.
    fn play(people: usize, seed: u64) -> (Walkers, Vec<(u64, Press)>) {
        let mut walkers = Walkers::new(&testing::demo(), people, seed);
        let mut all = Vec::new();
        for ms in (0..600_000).step_by(20) {
            let presses = walkers.step(Time::from_ms(ms));
            all.extend(presses.into_iter().map(|press| (ms, press)));
        }
        (walkers, all)
    }

    #[test]
    fn every_press_ends_and_the_switches_pressed_are_those_that_came_down() {
        let (walkers, presses) = play(6, 1);
        let mut down = BTreeSet::new();
        for (ms, press) in &presses {
            let switch = (press.panel, press.switch);
            let changed = if press.down {
                down.insert(switch)
            } else {
                down.remove(&switch)
            };
            assert!(changed, "{press:?} at {ms} ms changes nothing");
        }
        let listed = walkers.pressed();
        let listed: BTreeSet<_> = (listed.iter())
            .flat_map(|(panel, switches)| switches.iter().map(move |switch| (*panel, *switch)))
            .collect();
        assert_eq!(listed, down);
        assert!(listed.iter().all(|(panel, _)| walkers.on(*panel)));
        assert!(
            presses
                .iter()
                .all(|(_, press)| (1..=4).contains(&press.switch))
        );
        // Whoever walks gets about.
        let panels: BTreeSet<_> = presses.iter().map(|(_, press)| press.panel).collect();
        let floor = testing::demo();
        assert!(
            panels.len() > floor.panels.len() * 9 / 10,
            "{}",
            panels.len()
        );
    }

    #[test]
    fn a_foot_is_on_one_to_four_switches_and_people_have_two_feet() {
        let mut walkers = Walkers::new(&testing::demo(), 1, 3);
        let mut seen: HashMap<usize, u32> = HashMap::new();
        for ms in (0..600_000).step_by(20) {
            walkers.step(Time::from_ms(ms));
            let feet = &walkers.people[0].feet;
            assert!(feet.len() <= 2, "{feet:?}");
            for foot in feet {
                *seen.entry(foot.on.len()).or_default() += 1;
            }
        }
        // 0: on the pillar, in the corner by the door, or in a gap.
        assert!(seen.keys().all(|on| *on <= 4), "{seen:?}");
        assert!(seen[&1] > 0 && seen[&2] > 0, "{seen:?}");
    }

    #[test]
    fn the_same_seed_walks_the_same_way_however_often_one_looks() {
        let (_, often) = play(3, 9);
        let mut walkers = Walkers::new(&testing::demo(), 3, 9);
        let mut rarely = Vec::new();
        for ms in (0..600_000).step_by(20) {
            if ms % 100 == 80 {
                rarely.extend(walkers.step(Time::from_ms(ms)));
            }
        }
        let often: Vec<Press> = often.into_iter().map(|(_, press)| press).collect();
        // What came after the last of the rarer looks is missing.
        assert_eq!(often[..rarely.len()], rarely);
        assert!(often.len() < rarely.len() + 10);
        let other: Vec<Press> = play(3, 10).1.into_iter().map(|(_, press)| press).collect();
        assert_ne!(often, other);
    }
}
