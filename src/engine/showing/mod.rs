//! Weighs the show that runs: brings what leaves, what sensors said and who stepped where to the
//! estimator of [`crate::health::show`], each with its own time, and holds back what it says until it
//! can be meant. Pure, and made to run beside the frames.
//!
//! It begins with a survey by sensors: that says what the sensors are like and which items are good,
//! and its lights, which nothing else disturbs, teach a baseline. Before that nothing is said, and of what
//! no survey ever judged nothing is said at all.

mod delay;
mod kept;
mod nodes;
mod said;
mod spec;
mod weighing;

use std::sync::Arc;

pub use said::Said;

use self::kept::Kept;
use self::weighing::Weighing;
use super::look::Look;
use super::survey::items::Items;
use super::survey::state::SurveyOutcome;
use super::survey::{By, Held};
use crate::floor::{Floor, Tables};
use crate::health::switches::Press;
use crate::health::{Condition, Item};
use crate::units::Time;

/// So many lights of a survey are kept to learn from; it has ended by then or learns from these.
const MOST_HELD: usize = 2_000;

/// Weighs the show of one floor.
#[derive(Debug)]
pub struct Showing {
    floor: Arc<Floor>,
    tables: Arc<Tables>,
    revision: u32,
    items: Items,
    /// Of which items a survey by sensors has said something.
    known: Vec<bool>,
    /// Lights of the survey that is under way, and when each was over.
    held: Vec<(Arc<Held>, Time)>,
    weighing: Option<Weighing>,
}

impl Showing {
    /// Nothing is known yet.
    pub fn new(floor: Arc<Floor>, tables: Arc<Tables>, revision: u32) -> Self {
        let items = Items::new(&floor, &tables, &vec![true; floor.panels.len()]);
        Self {
            known: vec![false; items.all.len()],
            items,
            floor,
            tables,
            revision,
            held: Vec::new(),
            weighing: None,
        }
    }

    /// The floor file was read again: what was learnt of panels and sensors of which it says the same as
    /// before stays known, and a survey that is under way counts no more.
    #[must_use]
    pub fn replace(self, floor: Arc<Floor>, tables: Arc<Tables>, revision: u32, now: Time) -> Self {
        let mut next = Self::new(floor, tables, revision);
        let Some(before) = &self.weighing else {
            return next;
        };
        let kept = Kept::of(&self.floor, &next.floor);
        let mut from = vec![None; next.items.all.len()];
        for (old, item) in self.items.all.iter().enumerate() {
            let panel = kept.panels[item.panel as usize];
            let moved = panel.and_then(|at| u32::try_from(at).ok());
            let to = moved.and_then(|panel| next.find(Item { panel, ..*item }));
            if let Some(to) = to.filter(|_| self.known[old]) {
                from[to] = Some(old);
            }
        }
        let (floor, tables) = (&next.floor, &next.tables);
        let spec = |felt: &[_]| spec::of(floor, tables, &next.items, felt);
        let weighing = Weighing::over(before, floor, spec, &kept, &from, now);
        if let Some(weighing) = weighing {
            // Of what no sensor is known to see nothing is said, as before its first survey.
            let seen = |at: &usize| from[*at].is_some() && weighing.sees(*at);
            next.known = (0..from.len()).map(|at| seen(&at)).collect();
            next.weighing = Some(weighing);
        }
        next
    }

    /// Revision of its floor.
    pub const fn revision(&self) -> u32 {
        self.revision
    }

    /// A survey begins.
    pub fn survey_begins(&mut self) {
        self.held.clear();
    }

    /// A survey held a light that is over now.
    pub fn held(&mut self, held: Arc<Held>, now: Time) {
        if self.held.len() < MOST_HELD {
            self.held.push((held, now));
        }
    }

    /// A survey has ended: what it was sure of counts from now on, and all that the show said of that before
    /// does not.
    pub fn surveyed(&mut self, outcome: &SurveyOutcome, now: Time) {
        let held = std::mem::take(&mut self.held);
        if outcome.revision != self.revision {
            return;
        }
        let told = |(_, judged): &&(Item, _)| {
            let judged: &crate::health::Judged = judged;
            judged.condition != Condition::Unknown
        };
        let judged = outcome.judged.iter().filter(told);
        let judged: Vec<usize> = judged.filter_map(|(item, _)| self.find(*item)).collect();
        if outcome.by != By::Sensors || outcome.doubtful || judged.is_empty() {
            if let Some(weighing) = &mut self.weighing {
                weighing.look_anew(&judged);
            }
            return;
        }
        for &item in &judged {
            self.known[item] = true;
        }
        let covers = self.known.iter().filter(|known| **known).count() == judged.len();
        match &mut self.weighing {
            Some(weighing) if !covers => weighing.look_anew(&judged),
            _ => {
                let (floor, tables) = (&self.floor, &self.tables);
                let spec = spec::of(floor, tables, &self.items, &outcome.sensors);
                let sensors = outcome.sensors.iter().map(|(at, _)| *at);
                let mut weighing = Weighing::new(floor, spec, sensors.collect(), now);
                if let Some(before) = &self.weighing {
                    weighing.goes_on_after(before);
                }
                for (held, at) in &held {
                    let computed_a = self.items.amps(tables, &held.slots);
                    weighing.learn_light(&computed_a, held, *at);
                }
                weighing.learn(now);
                self.weighing = Some(weighing);
            }
        }
    }

    /// Sees what leaves and what was read since the last look.
    pub fn look(&mut self, look: &Look) {
        if look.sending.revision != self.revision {
            return;
        }
        if let Some(weighing) = &mut self.weighing {
            let computed_a = self.items.amps(&self.tables, &look.sending.slots);
            weighing.look(look, &computed_a);
        }
    }

    /// Somebody stepped on a switch, or off it.
    pub fn pressed(&mut self, press: &Press) {
        if let Some(weighing) = &mut self.weighing {
            weighing.pressed(press);
        }
    }

    /// Somebody says that a panel, or one of its segments, counted from 0, is fine: what was seen of it
    /// before counts no more.
    pub fn said_fine(&mut self, panel: usize, segment: Option<usize>) {
        let same = |item: &Item| {
            item.panel as usize == panel && segment.is_none_or(|at| item.segment as usize == at)
        };
        let items = self.items.all.iter().enumerate();
        let items: Vec<usize> = (items.filter(|(_, item)| same(item)).map(|(at, _)| at)).collect();
        if let Some(weighing) = &mut self.weighing {
            weighing.look_anew(&items);
        }
    }

    /// What it said was taken back: it looks anew at all that it found faulty.
    pub fn taken_back(&mut self) {
        if let Some(weighing) = &mut self.weighing {
            weighing.taken_back();
        }
    }

    /// What is new by now; about once a second.
    pub fn step(&mut self, now: Time) -> Option<Said> {
        let weighing = self.weighing.as_mut()?;
        let mut said = weighing.step(&self.items.all, &self.known, now)?;
        said.revision = self.revision;
        Some(said)
    }

    fn find(&self, item: Item) -> Option<usize> {
        self.items.all.binary_search(&item).ok()
    }
}
