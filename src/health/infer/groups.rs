//! Items and sensors that have to be looked at together: those that share an item or a sensor.

use super::Layout;

/// One such group. Its unknowns are the lacks of its items, then gain and offset of each sensor.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Group {
    /// Items, by their number in the layout.
    pub(super) items: Vec<usize>,
    /// Of each item, its sensors by their place in `sensors`.
    pub(super) seen_by: Vec<Vec<usize>>,
    /// Sensors, by their number in the layout.
    pub(super) sensors: Vec<usize>,
    /// Of each sensor, the items it sees, by their place in `items`.
    pub(super) sees: Vec<Vec<usize>>,
    /// Full current of each item.
    pub(super) full_a: Vec<f64>,
    /// Inverse variance of every unknown before anything is read.
    pub(super) stiffness: Vec<f64>,
}

/// Where a sensor is found again.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Place {
    pub(super) group: usize,
    pub(super) sensor: usize,
}

/// Where a reading of `sensor` belongs; nothing if the sensor sees nothing or the reading is no number.
pub(super) fn place_of(
    places: &[Option<Place>],
    sensor: usize,
    reading_a: f64,
    variance: f64,
) -> Option<Place> {
    let usable = reading_a.is_finite() && variance > 0.0 && variance.is_finite();
    places.get(sensor).copied().flatten().filter(|_| usable)
}

impl Group {
    /// Items may differ from what was computed by so much, each for itself.
    pub(super) fn be_within(&mut self, tolerances: &[f64]) {
        for (stiffness, &item) in self.stiffness.iter_mut().zip(&self.items) {
            *stiffness = inverse_square(tolerances[item]);
        }
    }

    pub(super) fn unknowns(&self) -> usize {
        self.stiffness.len()
    }

    /// The unknown that is a sensor's gain; its offset is the next.
    pub(super) fn gain_of(&self, sensor: usize) -> usize {
        self.items.len() + 2 * sensor
    }

    /// What a reading of `sensor` depends on: unknowns and factors, and the current that was computed.
    pub(super) fn row(
        &self,
        sensor: usize,
        computed_a: &[f64],
        into: &mut Vec<(usize, f64)>,
    ) -> f64 {
        into.clear();
        let mut total_a = 0.0;
        for &place in &self.sees[sensor] {
            let amps = computed_a[self.items[place]];
            if amps != 0.0 {
                into.push((place, amps));
                total_a += amps;
            }
        }
        into.push((self.gain_of(sensor), total_a));
        into.push((self.gain_of(sensor) + 1, 1.0));
        total_a
    }
}

/// The groups of a layout, and where each sensor is in them; a sensor that sees nothing is nowhere.
pub(super) fn groups(layout: &Layout) -> (Vec<Group>, Vec<Option<Place>>) {
    // Every sensor points to one it shares an item with, and in the end to the least of its group.
    let mut leader: Vec<usize> = (0..layout.sensors.len()).collect();
    let root = |leader: &[usize], mut at: usize| {
        while leader[at] != at {
            at = leader[at];
        }
        at
    };
    let mut first_seen = vec![None; layout.full_a.len()];
    for (number, sensor) in layout.sensors.iter().enumerate() {
        for &item in &sensor.sees {
            let first = *first_seen[item as usize].get_or_insert(number);
            let (one, other) = (root(&leader, first), root(&leader, number));
            leader[one.max(other)] = one.min(other);
        }
    }
    let mut found: Vec<Group> = Vec::new();
    let mut group_of = vec![None; layout.sensors.len()];
    let mut places = vec![None; layout.sensors.len()];
    let mut place_of = vec![None; layout.full_a.len()];
    for (number, sensor) in layout.sensors.iter().enumerate() {
        if sensor.sees.is_empty() {
            continue;
        }
        let lead = root(&leader, number);
        let at = *group_of[lead].get_or_insert_with(|| {
            found.push(Group::default());
            found.len() - 1
        });
        let group = &mut found[at];
        let place = group.sensors.len();
        places[number] = Some(Place {
            group: at,
            sensor: place,
        });
        group.sensors.push(number);
        let mut sees = Vec::with_capacity(sensor.sees.len());
        for &item in &sensor.sees {
            let item = item as usize;
            let item_place = *place_of[item].get_or_insert_with(|| {
                group.items.push(item);
                group.seen_by.push(Vec::new());
                group.full_a.push(layout.full_a[item]);
                group.items.len() - 1
            });
            group.seen_by[item_place].push(place);
            sees.push(item_place);
        }
        group.sees.push(sees);
    }
    for group in &mut found {
        group.stiffness = vec![inverse_square(layout.tolerance); group.items.len()];
        for &number in &group.sensors {
            let sensor = &layout.sensors[number];
            group.stiffness.push(inverse_square(sensor.gain_sd));
            group.stiffness.push(inverse_square(sensor.offset_sd_a));
        }
    }
    (found, places)
}

/// 1 / sd², with a deviation that is at least a millionth.
fn inverse_square(sd: f64) -> f64 {
    sd.max(1e-6).powi(-2)
}
