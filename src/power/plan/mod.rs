//! The plan: what a floor needs and draws, and what is out of bounds, before anything is bought.
//!
//! Everything here is arithmetic on the floor file. What pixels draw is taken at their nominal
//! voltage; only the voltages themselves come from the network of resistances
//! ([`network`](super::network)).

mod bill;
mod cases;
mod cautions;
mod findings;
mod fuse;
mod loads;
mod overload;
mod peaks;
mod rules;
mod short;
mod voltage;
mod wire;

#[cfg(test)]
mod tests;

use serde::Serialize;

use crate::floor::Tables;
use crate::floor::model::Floor;
use crate::power::network::FeedSpec;
use crate::units::Volts;

pub use bill::{Data, Item};
pub use cases::Case;
pub use findings::{Danger, Finding};
pub use fuse::{CONTINUOUS, OVER_LOAD, Opens, STANDARD_A};
pub use loads::{CircuitPlan, FloorPlan, KindPlan, Load, MainsLoad, SupplyPlan};
pub use peaks::PeakPlan;
pub use rules::{Rule, SectionRules, of_section as rules_of};
pub use short::{COLD_C, Short};
pub use voltage::{CaseVolts, FeedVolts, PanelVolts, Remedy, Sizes, Smallest};
pub use wire::{Carries, Fits, Wire};

/// What is asked besides the floor file.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Asked {
    /// Another mains voltage to reckon all circuits with.
    pub mains_volts: Option<Volts>,
    /// Typical loads as shares of full white; none: that of the file.
    pub typical: Vec<f64>,
}

/// The whole plan.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Plan {
    /// What people call the floor.
    pub name: String,
    /// What is out of bounds, in order of danger.
    pub findings: Vec<Finding>,
    /// What holds for every floor.
    pub cautions: Vec<String>,
    /// What the plan reckons with.
    pub settings: Settings,
    /// What the floor may show.
    pub cases: Vec<Case>,
    /// What the signal needs.
    pub data: Data,
    /// Kinds of panel.
    pub panel_kinds: Vec<KindPlan>,
    /// Fused branches.
    pub feeds: Vec<FeedPlan>,
    /// Power supplies.
    pub supplies: Vec<SupplyPlan>,
    /// Mains circuits, at the voltages of the file.
    pub circuits: Vec<CircuitPlan>,
    /// The same at another mains voltage.
    pub circuits_at_other_volts: Option<Vec<CircuitPlan>>,
    /// The whole floor.
    pub floor: FloorPlan,
    /// What to buy and to solder.
    pub bill: Vec<Item>,
    /// By which rules the parts were worked out.
    pub rules: Vec<SectionRules>,
}

/// What a plan reckons with, from the floor file.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Settings {
    /// The cap's margin.
    pub margin: f64,
    /// Whether litfloor sends to the nodes, and so caps.
    pub capped: bool,
    /// The warmest air.
    pub ambient_c: f64,
    /// Temperature of the copper.
    pub copper_c: f64,
    /// Allowed loss of voltage.
    pub drop_percent: f64,
}

/// A fused branch.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FeedPlan {
    /// Its name.
    pub name: String,
    /// What it hangs on.
    pub supply: String,
    /// How many panels hang on it.
    pub panels: usize,
    /// Voltage at its fuse.
    pub volts: f64,
    /// Through its fuse.
    pub loads: Vec<Load>,
    /// The fuse of the file.
    pub fuse_a: f64,
    /// 1.25 × the load at full white.
    pub needed_fuse_a: f64,
    /// The next standard fuse; nothing when none is large enough.
    pub next_fuse_a: Option<f64>,
    /// All wires behind it that the file describes.
    pub wires: Vec<Wire>,
    /// The one that its fuse endangers most; nothing when the file describes none.
    pub weakest_wire: Option<Wire>,
    /// Whether that one carries the fuse of the file.
    pub wire_carries_fuse: Option<Fits>,
    /// Whether all wires carry the next standard fuse.
    pub wire_carries_next_fuse: Option<Fits>,
    /// Kinds of panel on it of which the file does not say what their inside carries.
    pub unrated_kinds: Vec<String>,
    /// What its peak lets through for a short time.
    pub peak: Option<PeakPlan>,
    /// A short circuit at its far end.
    pub short: Option<Short>,
    /// Its voltages.
    pub volts_behind: FeedVolts,
}

impl Plan {
    /// Works everything out. `tables` are the floor's.
    pub fn of(floor: &Floor, tables: &Tables, asked: &Asked) -> Self {
        let typical = if asked.typical.is_empty() {
            vec![floor.plan.typical]
        } else {
            asked.typical.clone()
        };
        let cases = Case::all(floor, &typical);
        let drawn = loads::Drawn::of(floor, &cases);
        let feeds = feeds(floor, &drawn, &cases);
        let circuits = drawn.circuits(floor, None);
        let mut plan = Self {
            name: floor.name.clone(),
            findings: Vec::new(),
            cautions: cautions::of(floor),
            settings: Settings {
                margin: floor.cap.margin,
                capped: !floor.nodes.is_empty(),
                ambient_c: floor.plan.ambient_c,
                copper_c: floor.plan.copper_c,
                drop_percent: floor.plan.drop_percent,
            },
            data: Data::of(floor, tables),
            panel_kinds: loads::kinds(floor, &cases),
            bill: bill::bill(floor, feeds.iter().filter_map(|feed| feed.next_fuse_a)),
            feeds,
            supplies: drawn.supplies(floor),
            floor: drawn.floor(floor, &circuits),
            circuits,
            circuits_at_other_volts: asked
                .mains_volts
                .map(|volts| drawn.circuits(floor, Some(volts))),
            cases,
            rules: rules::SECTIONS
                .map(|(section, rules)| SectionRules { section, rules })
                .to_vec(),
        };
        plan.findings = findings::of(&plan);
        plan
    }
}

fn feeds(floor: &Floor, drawn: &loads::Drawn, cases: &[Case]) -> Vec<FeedPlan> {
    let cold = FeedSpec::of_floor(floor, COLD_C);
    let warm = FeedSpec::of_floor(floor, floor.plan.copper_c);
    // The least current flows when copper is warmest, and that is never below the cold.
    let warmest = FeedSpec::of_floor(floor, floor.plan.copper_c.max(COLD_C));
    let feeds = floor.feeds.iter().enumerate();
    let plan = |(at, feed): (usize, &crate::floor::model::Feed)| {
        let loads = drawn.feed(floor, at);
        let white_a = of_case(&loads, Case::FullWhite);
        let fuse_a = feed.fuse_a.0;
        let next_fuse_a = fuse::next(white_a);
        let wires = wire::wires(floor, feed);
        let unrated_kinds = wire::unrated(floor, feed);
        let at_most = if unrated_kinds.is_empty() {
            Fits::Yes
        } else {
            Fits::Unknown
        };
        let carries_next = next_fuse_a.and_then(|fuse_a| {
            let fits = wires.iter().map(|wire| wire.carries.fits(fuse_a));
            fits.min().map(|fits| fits.min(at_most))
        });
        let weakest = wire::weakest(&wires, fuse_a).cloned();
        FeedPlan {
            name: feed.name.clone(),
            supply: floor.supplies[feed.supply].name.clone(),
            panels: feed.panels.len(),
            volts: floor.supplies[feed.supply].volts.0,
            loads,
            fuse_a,
            needed_fuse_a: white_a * OVER_LOAD,
            next_fuse_a,
            wire_carries_fuse: weakest
                .as_ref()
                .map(|wire| wire.carries.fits(fuse_a).min(at_most)),
            wire_carries_next_fuse: carries_next,
            weakest_wire: weakest,
            wires,
            unrated_kinds,
            peak: PeakPlan::of(feed.peak, feed.fuse_a.0, floor.cap.margin),
            short: Short::of(floor, feed, &cold[at], &warmest[at]),
            volts_behind: FeedVolts::of(floor, feed, &warm[at], cases),
        }
    };
    feeds.map(plan).collect()
}

/// Amperes of one case; 0 if there is none.
fn of_case(loads: &[Load], case: Case) -> f64 {
    let found = loads.iter().find(|load| load.case == case);
    found.map_or(0.0, |load| load.draw_a)
}
