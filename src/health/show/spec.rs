//! What the estimator of the running show is told before it begins.

use super::steps::Group;
pub use crate::health::survey::SurveySensor as ShowSensor;

/// One item: the smallest thing that can be dead by itself.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ShowItem {
    /// Index of its panel.
    pub panel: u32,
    /// Its segment there, counted from 0.
    pub segment: u32,
    /// Computed current beyond idle when it is fully lit.
    pub full_a: f64,
    /// The sensors that see it; with none nothing will be known of it.
    pub sensors: Vec<u16>,
}

/// The whole floor.
#[derive(Debug, Clone, PartialEq)]
pub struct ShowSpec {
    /// What is looked at.
    pub items: Vec<ShowItem>,
    /// By what.
    pub sensors: Vec<ShowSensor>,
    /// How many switches each panel has.
    pub switches: Vec<u8>,
    /// What each joint takes when it opens.
    pub groups: Vec<Group>,
    /// Standard deviation of what a good item draws from what was computed, as a share, before a
    /// baseline is learnt.
    pub tolerance: f64,
    /// How probable a false alarm may be in an hour of the whole floor.
    pub false_alarm: f64,
    /// The share of its current below which an item is weak.
    pub weak_below: f64,
}

impl Default for ShowSpec {
    fn default() -> Self {
        Self {
            items: Vec::new(),
            sensors: Vec::new(),
            switches: Vec::new(),
            groups: Vec::new(),
            tolerance: 0.03,
            false_alarm: 1e-3,
            weak_below: 0.85,
        }
    }
}

impl ShowSpec {
    /// Of each sensor, the items it sees. A sensor that is not there is passed over.
    pub(super) fn seen(&self) -> Vec<Vec<u32>> {
        let mut seen = vec![Vec::new(); self.sensors.len()];
        for (number, item) in (0..).zip(&self.items) {
            for &sensor in &item.sensors {
                if let Some(of) = seen.get_mut(usize::from(sensor)) {
                    of.push(number);
                }
            }
        }
        seen
    }
}
