//! Which items are lit in each pattern of a survey.
//!
//! The items of each sensor follow a design of their own, so that all sensors work at once; an item
//! that several see belongs to the one that sees the fewest. Where a pattern asks for more than a room
//! has, items are left out of it, those first that were lit most often: many thin patterns tell more
//! than as many dimmed ones, for what a reading tells of an item grows with the square of its current.

use super::dice::Dice;
use super::{Room, SurveySpec};
use crate::health::design::Design;

/// The first dark pattern, and how many patterns on the next follows.
const DARK_FIRST: u32 = 16;
const DARK_EVERY: u32 = 32;
/// What is fully lit.
const FULL: u8 = 255;

#[derive(Debug, Clone)]
pub(super) struct Patterns {
    parts: Vec<Part>,
    rooms: Vec<Room>,
    /// Of each item: its rooms, its level when lit (0: it can't be), its current then, how often it was.
    items: Vec<Lit>,
    dice: Dice,
    number: u32,
    dark_next: bool,
}

#[derive(Debug, Clone)]
struct Lit {
    rooms: Vec<usize>,
    level: u8,
    amps: f64,
    times: u32,
}

/// The items of one sensor.
#[derive(Debug, Clone)]
struct Part {
    items: Vec<usize>,
    design: Design,
    /// Which column of the design each item follows, and which rows are still to come.
    columns: Vec<usize>,
    rows: Vec<usize>,
}

impl Patterns {
    pub(super) fn new(spec: &SurveySpec) -> Self {
        let mut seen = vec![0_usize; spec.sensors.len()];
        for sensor in spec.items.iter().flat_map(|item| &item.sensors) {
            seen[usize::from(*sensor)] += 1;
        }
        let items: Vec<Lit> = (0_u32..)
            .zip(&spec.items)
            .map(|(number, item)| {
                let rooms: Vec<usize> = (0..spec.rooms.len())
                    .filter(|&room| spec.rooms[room].items.contains(&number))
                    .collect();
                let least = rooms.iter().map(|&room| spec.rooms[room].room_a);
                let level = level(item.full_a, least.fold(f64::INFINITY, f64::min));
                Lit {
                    rooms,
                    level,
                    amps: item.full_a * f64::from(level) / f64::from(FULL),
                    times: 0,
                }
            })
            .collect();
        let mut of_sensor = vec![Vec::new(); spec.sensors.len()];
        for (number, item) in spec.items.iter().enumerate() {
            let finest = item.sensors.iter().map(|sensor| usize::from(*sensor));
            if let Some(sensor) = finest.min_by_key(|&sensor| (seen[sensor], sensor))
                && items[number].level > 0
            {
                of_sensor[sensor].push(number);
            }
        }
        let parts = of_sensor.into_iter().filter(|items| !items.is_empty());
        let parts = parts.map(|items| Part {
            design: Design::for_items(items.len()),
            items,
            columns: Vec::new(),
            rows: Vec::new(),
        });
        Self {
            parts: parts.collect(),
            rooms: spec.rooms.clone(),
            items,
            dice: Dice::new(spec.seed),
            number: 0,
            dark_next: false,
        }
    }

    /// Items that are seen and may be lit.
    pub(super) fn reached(&self) -> Vec<usize> {
        let items = self.parts.iter().flat_map(|part| &part.items);
        items.copied().collect()
    }

    /// Makes the next pattern a dark one.
    pub(super) fn dark_next(&mut self) {
        self.dark_next = true;
    }

    /// The level of each item in the next pattern.
    pub(super) fn next(&mut self, into: &mut [u8]) {
        into.fill(0);
        self.number += 1;
        if std::mem::take(&mut self.dark_next) || self.number % DARK_EVERY == DARK_FIRST {
            return;
        }
        let mut wanted = Vec::new();
        for part in &mut self.parts {
            part.next(&mut self.dice, &mut wanted);
        }
        self.dice.shuffle(&mut wanted);
        wanted.sort_by_key(|&item| self.items[item].times);
        let mut left: Vec<f64> = self.rooms.iter().map(|room| room.room_a).collect();
        for item in wanted {
            let lit = &mut self.items[item];
            if lit.rooms.iter().all(|&room| left[room] >= lit.amps) {
                for &room in &lit.rooms {
                    left[room] -= lit.amps;
                }
                lit.times += 1;
                into[item] = lit.level;
            }
        }
    }
}

impl Part {
    fn next(&mut self, dice: &mut Dice, wanted: &mut Vec<usize>) {
        let size = self.design.size();
        let row = self.rows.pop().unwrap_or_else(|| {
            // The design is used up: the same again, with its items in other places.
            self.columns = (0..size).collect();
            dice.shuffle(&mut self.columns);
            self.rows = (0..size).collect();
            dice.shuffle(&mut self.rows);
            self.rows.pop().unwrap_or(0)
        });
        let row = self.design.row(row);
        let lit = self.items.iter().zip(&self.columns);
        wanted.extend(
            lit.filter(|(_, column)| row[**column])
                .map(|(item, _)| *item),
        );
    }
}

/// The highest level at which an item draws no more than `room_a`; none for one that draws nothing.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "between 0 and 255"
)]
fn level(full_a: f64, room_a: f64) -> u8 {
    if full_a <= 0.0 {
        return 0;
    }
    if room_a >= full_a {
        return FULL;
    }
    let level = f64::from(FULL) * (room_a / full_a).max(0.0);
    level.floor().clamp(0.0, f64::from(FULL)) as u8
}
