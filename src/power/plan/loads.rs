//! Amperes and watts from the panels to the mains.

use serde::Serialize;

use super::cases::Case;
use super::fuse::CONTINUOUS;
use super::peaks::PeakPlan;
use crate::floor::model::{Circuit, Feed, Floor, PanelKind, Supply};
use crate::units::Volts;
use crate::units::count;

/// What something draws in one load case.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Load {
    /// What is shown.
    pub case: Case,
    /// In amperes.
    pub draw_a: f64,
    /// In watts.
    pub draw_w: f64,
    /// Of its rating; nothing if it has none.
    pub percent_of_rating: Option<f64>,
}

/// What one kind of panel draws.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct KindPlan {
    /// Its name.
    pub name: String,
    /// How many lie on the floor.
    pub panels: usize,
    /// Pixels of one.
    pub pixels: usize,
    /// What its own wiring bears, if the file says so.
    pub rated_a: Option<f64>,
    /// What one pixel may draw, if the file says so.
    pub pixel_limit_a: Option<f64>,
    /// What one pixel draws at full white.
    pub pixel_a: f64,
    /// What one panel draws; its watts become heat and light.
    pub loads: Vec<Load>,
    /// Watts a square metre of panel, in the order of `loads`.
    pub heat_w_per_m2: Vec<f64>,
}

/// A supply.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SupplyPlan {
    /// Its name.
    pub name: String,
    /// What it hangs on.
    pub circuit: String,
    /// Output voltage.
    pub volts: f64,
    /// Output rating.
    pub rated_a: f64,
    /// 80 % of it.
    pub continuous_a: f64,
    /// What its peak lets through for a short time.
    pub peak: Option<PeakPlan>,
    /// Output.
    pub loads: Vec<Load>,
}

/// A mains circuit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CircuitPlan {
    /// Its name.
    pub name: String,
    /// The mains voltage that is reckoned with.
    pub volts: f64,
    /// Rating of its breaker.
    pub rated_a: f64,
    /// 80 % of it.
    pub continuous_a: f64,
    /// Input of its supplies.
    pub loads: Vec<MainsLoad>,
}

/// What is taken from the mains in one load case.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MainsLoad {
    /// What is shown.
    pub case: Case,
    /// In amperes; nothing for the floor, whose circuits may differ in voltage.
    pub mains_a: Option<f64>,
    /// True power in watts.
    pub mains_w: f64,
    /// Apparent power in volt-amperes.
    pub mains_va: f64,
    /// Of the rating; nothing if there is none.
    pub percent_of_rating: Option<f64>,
}

/// The whole floor.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FloorPlan {
    /// What it may take, in volt-amperes, if the file says so.
    pub rated_va: Option<f64>,
    /// Area of its panels.
    pub panels_m2: f64,
    /// At the outputs of its supplies.
    pub loads: Vec<Load>,
    /// At their inputs.
    pub mains: Vec<MainsLoad>,
}

/// What the feeds and the supplies of a floor give, in amperes: `by_feed[case][feed]`.
pub(super) struct Drawn {
    cases: Vec<Case>,
    by_feed: Vec<Vec<f64>>,
    by_supply: Vec<Vec<f64>>,
}

impl Drawn {
    pub(super) fn of(floor: &Floor, cases: &[Case]) -> Self {
        let feeds = |case: &Case| -> Vec<f64> {
            let draw_a = |feed: &Feed| {
                let panels = feed.panels.iter().map(|at| &floor.panels[*at]);
                panels.map(|panel| case.panel_a(floor, panel)).sum()
            };
            floor.feeds.iter().map(draw_a).collect()
        };
        let by_feed: Vec<Vec<f64>> = cases.iter().map(feeds).collect();
        let supplies = |feeds: &Vec<f64>| {
            let mut supplies = vec![0.0; floor.supplies.len()];
            for (feed, draw_a) in floor.feeds.iter().zip(feeds) {
                supplies[feed.supply] += draw_a;
            }
            supplies
        };
        Self {
            cases: cases.to_vec(),
            by_supply: by_feed.iter().map(supplies).collect(),
            by_feed,
        }
    }

    /// What goes through a fuse.
    pub(super) fn feed(&self, floor: &Floor, at: usize) -> Vec<Load> {
        let feed = &floor.feeds[at];
        let volts = floor.supplies[feed.supply].volts.0;
        let cases = self.cases.iter().zip(&self.by_feed);
        cases
            .map(|(case, draws)| load(*case, draws[at], draws[at] * volts, Some(feed.fuse_a.0)))
            .collect()
    }

    /// What a supply gives.
    pub(super) fn supplies(&self, floor: &Floor) -> Vec<SupplyPlan> {
        let supplies = floor.supplies.iter().enumerate();
        supplies
            .map(|(at, supply)| {
                let rated_a = supply.rated_a.0;
                SupplyPlan {
                    name: supply.name.clone(),
                    circuit: floor.circuits[supply.circuit].name.clone(),
                    volts: supply.volts.0,
                    rated_a,
                    continuous_a: rated_a * CONTINUOUS,
                    peak: PeakPlan::of(supply.peak, rated_a, floor.cap.margin),
                    loads: self.loads(|case| {
                        let draw_a = self.by_supply[case][at];
                        (draw_a, draw_a * supply.volts.0, Some(rated_a))
                    }),
                }
            })
            .collect()
    }

    /// What circuits give, all at another mains voltage if one is asked for.
    pub(super) fn circuits(&self, floor: &Floor, other: Option<Volts>) -> Vec<CircuitPlan> {
        let circuits = floor.circuits.iter().enumerate();
        circuits
            .map(|(at, circuit)| {
                let circuit = Circuit {
                    volts: other.unwrap_or(circuit.volts),
                    ..circuit.clone()
                };
                let rated_a = circuit.rated_a.0;
                let load = |case: usize| {
                    let (mains_a, mains_w) = self.mains(floor, case, &circuit, at);
                    MainsLoad {
                        case: self.cases[case],
                        mains_a: Some(mains_a),
                        mains_w,
                        mains_va: mains_a * circuit.volts.0,
                        percent_of_rating: Some(mains_a / rated_a * 100.0),
                    }
                };
                CircuitPlan {
                    name: circuit.name.clone(),
                    volts: circuit.volts.0,
                    rated_a,
                    continuous_a: rated_a * CONTINUOUS,
                    loads: (0..self.cases.len()).map(load).collect(),
                }
            })
            .collect()
    }

    /// Mains amperes and true watts of the supplies on circuit number `at`.
    fn mains(&self, floor: &Floor, case: usize, circuit: &Circuit, at: usize) -> (f64, f64) {
        let supplies = floor.supplies.iter().enumerate();
        let on_it = supplies.filter(|(_, supply)| supply.circuit == at);
        on_it.fold((0.0, 0.0), |(mains_a, mains_w), (index, supply)| {
            let draw_a = self.by_supply[case][index];
            (
                mains_a + draw_a * supply.mains_per_output(circuit),
                mains_w + draw_a * supply.volts.0 / supply.efficiency,
            )
        })
    }

    /// The whole floor, by its circuits.
    pub(super) fn floor(&self, floor: &Floor, circuits: &[CircuitPlan]) -> FloorPlan {
        let rated_va = floor.cap.floor_va;
        let mains = |case: usize| {
            let loads = circuits.iter().map(|circuit| &circuit.loads[case]);
            let sum = |of: fn(&MainsLoad) -> f64| loads.clone().map(of).sum::<f64>();
            let mains_va = sum(|load| load.mains_va);
            MainsLoad {
                case: self.cases[case],
                mains_a: None,
                mains_w: sum(|load| load.mains_w),
                mains_va,
                percent_of_rating: rated_va.map(|rated| mains_va / rated * 100.0),
            }
        };
        FloorPlan {
            rated_va,
            panels_m2: count(floor.panels.len()) * panel_m2(floor),
            loads: self.loads(|case| {
                let supplies = floor.supplies.iter().zip(&self.by_supply[case]);
                let sum = |(a, w), (supply, draw_a): (&Supply, &f64)| {
                    (a + draw_a, w + draw_a * supply.volts.0)
                };
                let (draw_a, draw_w) = supplies.fold((0.0, 0.0), sum);
                (draw_a, draw_w, None)
            }),
            mains: (0..self.cases.len()).map(mains).collect(),
        }
    }

    fn loads(&self, of: impl Fn(usize) -> (f64, f64, Option<f64>)) -> Vec<Load> {
        let cases = self.cases.iter().enumerate();
        cases
            .map(|(at, case)| {
                let (draw_a, draw_w, rated_a) = of(at);
                load(*case, draw_a, draw_w, rated_a)
            })
            .collect()
    }
}

/// Every kind of panel that lies on the floor.
pub(super) fn kinds(floor: &Floor, cases: &[Case]) -> Vec<KindPlan> {
    let kinds = floor.panel_kinds.iter().enumerate();
    let plan = |(at, kind): (usize, &PanelKind)| {
        let pixel = &floor.pixel_kinds[kind.pixel_kind];
        let rated_a = kind.rated_a.map(|rated| rated.0);
        let of_case = |case: &Case| {
            let draw_a = case.pixel_a(pixel) * count(kind.pixels_mm.len());
            load(*case, draw_a, draw_a * pixel.volts.0, rated_a)
        };
        let loads: Vec<Load> = cases.iter().map(of_case).collect();
        KindPlan {
            name: kind.name.clone(),
            panels: floor.panels.iter().filter(|panel| panel.kind == at).count(),
            pixels: kind.pixels_mm.len(),
            rated_a,
            pixel_limit_a: pixel.limit_ua.map(|ua| f64::from(ua) / 1e6),
            pixel_a: Case::FullWhite.pixel_a(pixel),
            heat_w_per_m2: loads
                .iter()
                .map(|load| load.draw_w / panel_m2(floor))
                .collect(),
            loads,
        }
    };
    kinds.map(plan).filter(|kind| kind.panels > 0).collect()
}

/// Area of one panel.
fn panel_m2(floor: &Floor) -> f64 {
    let [width, height] = floor.grid.panel_mm;
    width.0 * height.0 / 1e6
}

fn load(case: Case, draw_a: f64, draw_w: f64, rated_a: Option<f64>) -> Load {
    Load {
        case,
        draw_a,
        draw_w,
        percent_of_rating: rated_a.map(|rated_a| draw_a / rated_a * 100.0),
    }
}
