//! What the `peak` of a feed or a supply lets through for a short time.

use serde::Serialize;

use super::findings::{Danger, List};
use super::fuse::SURE;
use super::rules::Rule;
use super::wire::{Fits, Wire, weakest};
use super::{FeedPlan, Plan};
use crate::floor::model::Peak;

/// A peak.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct PeakPlan {
    /// The most, in amperes.
    pub allowed_a: f64,
    /// For so many seconds after a rest.
    pub s: f64,
}

impl PeakPlan {
    pub(super) fn of(peak: Option<Peak>, rated_a: f64, margin: f64) -> Option<Self> {
        peak.map(|peak| Self {
            allowed_a: peak.percent / 100.0 * margin * rated_a,
            s: peak.s,
        })
    }

    fn told(self) -> String {
        format!(
            "its peak lets {:.1} A through for {} s",
            self.allowed_a, self.s
        )
    }
}

/// Of feeds and supplies.
pub(super) fn find(plan: &Plan, list: &mut List) {
    for feed in &plan.feeds {
        if let Some(peak) = feed.peak {
            of_feed(feed, peak, list);
        }
    }
    for supply in &plan.supplies {
        let Some(peak) = supply.peak else {
            continue;
        };
        let (name, rated_a) = (&supply.name, supply.rated_a);
        let told = peak.told();
        if peak.allowed_a > rated_a * SURE + 1e-9 {
            let text = format!("{told}, more than 1.35 × its {rated_a} A: make the peak smaller");
            list.add(Danger::Fire, "supply", name, text, Rule::Peak);
        }
        let text = format!("{told}: it must be in the maker's datasheet of the supply");
        list.add(Danger::NotKnown, "supply", name, text, Rule::Peak);
    }
}

fn of_feed(feed: &FeedPlan, peak: PeakPlan, list: &mut List) {
    let (told, fuse_a) = (peak.told(), feed.fuse_a);
    let mut add = |danger, text| list.add(danger, "feed", &feed.name, text, Rule::Peak);
    if peak.allowed_a > fuse_a * SURE + 1e-9 {
        let text =
            format!("{told}, more than 1.35 × its fuse of {fuse_a} A: make the peak smaller");
        add(Danger::Fire, text);
    }
    let too_thin = weakest(&feed.wires, peak.allowed_a)
        .filter(|wire| wire.carries.fits(peak.allowed_a) == Fits::No);
    if let Some(wire) = too_thin {
        let text = format!(
            "{told}, more than the {} carries ({:.1} A): make the peak smaller",
            Wire::told(wire),
            wire.carries.amps()
        );
        add(Danger::Fire, text);
    }
    let text = format!("{told}: it must be in the time-current curve of the fuse's maker");
    add(Danger::NotKnown, text);
}
