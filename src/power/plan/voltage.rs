//! Voltages at the ends of cables and strips, and which cable would keep them up.

use serde::Serialize;

use super::cases::Case;
use super::wire::{Carries, Fits, size};
use crate::floor::model::{Cable, Conductor, Fed, Feed, Floor};
use crate::power::copper::{ohm_per_m, standard_awg, standard_mm2};
use crate::power::network::{FeedSpec, Network, PanelState, Solution};

/// The voltages behind one fuse.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FeedVolts {
    /// Whether the file describes its cable.
    pub cable_known: bool,
    /// Kinds of panel on it whose strip the file does not describe.
    pub unknown_strips: Vec<String>,
    /// The lowest that is allowed.
    pub allowed_v: f64,
    /// For full white and the typical loads.
    pub cases: Vec<CaseVolts>,
    /// The thinnest cable that keeps the allowed drop at full white.
    pub smallest: Option<Smallest>,
    /// What else would help, if the drop is too large.
    pub remedies: Vec<Remedy>,
}

/// One load case.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CaseVolts {
    /// What is shown.
    pub case: Case,
    /// At the far end of its cable; nothing if the file does not describe it.
    pub cable_end_v: Option<f64>,
    /// At the pixel that has least.
    pub lowest_v: f64,
    /// Of the supply's voltage, at that pixel.
    pub loss_percent: f64,
    /// The panel of that pixel; nothing when the feed has none.
    pub lowest_at: Option<String>,
    /// The light that the worst panel loses.
    pub light_lost_percent: f64,
    /// Whether the voltages could be found at all.
    pub solved: bool,
    /// Every panel.
    pub panels: Vec<PanelVolts>,
}

/// One panel.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PanelVolts {
    /// Its position.
    pub panel: String,
    /// Where power enters it.
    pub input_v: f64,
    /// At the pixel of its strip that has least.
    pub lowest_v: f64,
    /// Which pixel that is, from 1 in wiring order.
    pub lowest_pixel: usize,
}

/// The thinnest standard conductors for a cable.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Smallest {
    /// What all but the cable loses at full white, in volts.
    pub rest_loss_v: f64,
    /// That keep the allowed drop.
    pub for_drop: Sizes,
    /// That keep it and carry the fuse of the file too.
    pub for_drop_and_fuse: Sizes,
}

/// In both systems; nothing when none is thick enough.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize)]
pub struct Sizes {
    /// By IEC 60228.
    pub mm2: Option<f64>,
    /// By ASTM B258.
    pub awg: Option<u8>,
}

impl Sizes {
    /// `2.5 mm² / 14 AWG`.
    pub fn told(self) -> String {
        let sizes = [self.mm2.map(Conductor::Mm2), self.awg.map(Conductor::Awg)];
        let told = sizes.map(|found| found.map_or_else(|| "none".to_owned(), size));
        if told[0] == told[1] {
            return "none".to_owned();
        }
        told.join(" / ")
    }
}

/// What would raise the lowest voltage.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Remedy {
    /// What to do.
    pub what: String,
    /// The lowest voltage then, at full white.
    pub lowest_v: f64,
    /// Whether that is enough.
    pub enough: bool,
}

/// One feed, cut out of its floor.
struct Cut<'a> {
    floor: &'a Floor,
    feed: &'a Feed,
    spec: FeedSpec,
}

impl FeedVolts {
    /// Of a feed; `warm` are its resistances.
    pub(super) fn of(floor: &Floor, feed: &Feed, warm: &FeedSpec, cases: &[Case]) -> Self {
        let cut = Cut::new(floor, feed, warm);
        let shown = |case: &&Case| matches!(case, Case::FullWhite | Case::Typical(_));
        let cases: Vec<CaseVolts> = cases.iter().filter(shown).map(|c| cut.case(*c)).collect();
        let volts = cut.spec.volts;
        let allowed_v = volts * (1.0 - floor.plan.drop_percent / 100.0);
        let low = cases
            .iter()
            .any(|case| case.case == Case::FullWhite && case.lowest_v < allowed_v);
        let mut unknown_strips: Vec<String> = Vec::new();
        for panel in &feed.panels {
            let kind = &floor.panel_kinds[floor.panels[*panel].kind];
            if kind.strip.is_none() && !unknown_strips.contains(&kind.name) {
                unknown_strips.push(kind.name.clone());
            }
        }
        Self {
            cable_known: feed.cable.is_some(),
            unknown_strips,
            allowed_v,
            smallest: feed.cable.map(|cable| cut.smallest(cable, allowed_v)),
            remedies: if low {
                cut.remedies(allowed_v)
            } else {
                Vec::new()
            },
            cases,
        }
    }

    /// Whether the lowest pixel has less than is allowed at full white.
    pub fn too_low(&self) -> bool {
        let mut cases = self.cases.iter();
        cases.any(|case| case.case == Case::FullWhite && case.lowest_v < self.allowed_v)
    }
}

impl<'a> Cut<'a> {
    fn new(floor: &'a Floor, feed: &'a Feed, warm: &FeedSpec) -> Self {
        let mut spec = warm.clone();
        let mut first_pixel = 0;
        for (at, panel) in spec.panels.iter_mut().enumerate() {
            panel.panel = at;
            panel.first_pixel = first_pixel;
            first_pixel += panel.pixels;
        }
        spec.supply = 0;
        Self { floor, feed, spec }
    }

    fn pixel_a(&self, case: Case) -> Vec<f64> {
        let of_panel = |panel: &usize| {
            let kind = &self.floor.panel_kinds[self.floor.panels[*panel].kind];
            let light_a = case.light_a(&self.floor.pixel_kinds[kind.pixel_kind]);
            std::iter::repeat_n(light_a, kind.pixels_mm.len())
        };
        self.feed.panels.iter().flat_map(of_panel).collect()
    }

    fn solve(&self, spec: &FeedSpec, case: Case) -> Solution {
        let network = Network::from_feeds(std::slice::from_ref(spec));
        let mut work = network.work();
        network.solve(&self.pixel_a(case), &mut work).clone()
    }

    fn case(&self, case: Case) -> CaseVolts {
        let solution = self.solve(&self.spec, case);
        let name = |at: usize| self.floor.panels[self.feed.panels[at]].position.to_string();
        let volts = self.spec.volts;
        let worst = lowest(&solution);
        let lowest_v = worst.map_or(volts, |(_, lowest_v)| lowest_v);
        let lost = solution.panels.iter().filter_map(PanelState::lost_percent);
        let cable_a = solution.feeds[0].drawn_a - solution.feeds[0].far_a;
        CaseVolts {
            case,
            cable_end_v: self
                .feed
                .cable
                .map(|_| volts - self.spec.cable_ohm * cable_a),
            lowest_v,
            loss_percent: (volts - lowest_v) / volts * 100.0,
            lowest_at: worst.map(|(at, _)| name(at)),
            light_lost_percent: lost.fold(0.0, f64::max),
            solved: solution.converged(),
            panels: (solution.panels.iter().enumerate())
                .map(|(at, panel)| PanelVolts {
                    panel: name(at),
                    input_v: panel.input_v,
                    lowest_v: panel.lowest_v,
                    lowest_pixel: panel.lowest_pixel + 1,
                })
                .collect(),
        }
    }

    /// The lowest voltage at full white; nothing if it can't be found.
    fn lowest_v(&self, spec: &FeedSpec) -> Option<f64> {
        let solution = self.solve(spec, Case::FullWhite);
        let found = solution.converged().then(|| lowest(&solution))?;
        found.map(|(_, volts)| volts)
    }

    fn with(&self, length_m: f64, conductor: Conductor) -> FeedSpec {
        let ohm_per_m = ohm_per_m(conductor, self.floor.plan.copper_c);
        let mut spec = self.spec.clone();
        spec.cable_ohm = 2.0 * length_m * ohm_per_m;
        if let Some(far) = self.feed.far_cable {
            spec.far_ohm = Some(2.0 * far.length_m * ohm_per_m);
        }
        spec
    }

    /// A second cable counts as one of the same conductor.
    fn smallest(&self, cable: Cable, allowed_v: f64) -> Smallest {
        let keeps = |conductor: &Conductor| {
            let spec = self.with(cable.length_m, *conductor);
            self.lowest_v(&spec).is_some_and(|volts| volts >= allowed_v)
        };
        let carries = |conductor: &Conductor| {
            let carries = Carries::of(*conductor, self.floor.plan.ambient_c);
            carries.fits(self.feed.fuse_a.0) == Fits::Yes
        };
        let mm2: Vec<Conductor> = first_on(standard_mm2(), keeps).collect();
        let awg: Vec<Conductor> = first_on(standard_awg(), keeps).collect();
        let rest = FeedSpec {
            cable_ohm: 0.0,
            far_ohm: self.spec.far_ohm.map(|_| 0.0),
            ..self.spec.clone()
        };
        Smallest {
            rest_loss_v: self.spec.volts - self.lowest_v(&rest).unwrap_or(0.0),
            for_drop: sizes(mm2.first(), awg.first()),
            for_drop_and_fuse: sizes(
                mm2.iter().find(|size| carries(size)),
                awg.iter().find(|size| carries(size)),
            ),
        }
    }

    fn remedies(&self, allowed_v: f64) -> Vec<Remedy> {
        let mut remedies = Vec::new();
        let mut add = |what: String, spec: &FeedSpec| {
            if let Some(lowest_v) = self.lowest_v(spec) {
                remedies.push(Remedy {
                    what,
                    lowest_v,
                    enough: lowest_v >= allowed_v,
                });
            }
        };
        let (both_ends, kinds) = self.strips_at_both_ends();
        let strips = format!("power at both ends of the strip of {}", kinds.join(", "));
        if !kinds.is_empty() {
            add(strips.clone(), &both_ends);
        }
        if let Some((far_m, conductor, far_ohm)) = self.far_cable() {
            let far = format!(
                "a second cable of {far_m:.1} m of {} to its last panel",
                size(conductor)
            );
            let with_far = |spec: &FeedSpec| FeedSpec {
                far_ohm: Some(far_ohm),
                ..spec.clone()
            };
            add(far.clone(), &with_far(&self.spec));
            if !kinds.is_empty() {
                add(format!("{strips}, and {far}"), &with_far(&both_ends));
            }
        }
        remedies
    }

    /// The same feed with power at both ends of strips that have it at one, and their kinds.
    fn strips_at_both_ends(&self) -> (FeedSpec, Vec<String>) {
        let (mut spec, mut kinds) = (self.spec.clone(), Vec::new());
        for (panel, at) in spec.panels.iter_mut().zip(&self.feed.panels) {
            let Some(strip) = &mut panel.strip else {
                continue;
            };
            if matches!(strip.fed, Fed::Start | Fed::End) {
                strip.fed = Fed::Both;
                let kind = &self.floor.panel_kinds[self.floor.panels[*at].kind].name;
                if !kinds.contains(kind) {
                    kinds.push(kind.clone());
                }
            }
        }
        (spec, kinds)
    }

    /// A second cable like the first, as long as the whole chain: its length and its resistance.
    fn far_cable(&self) -> Option<(f64, Conductor, f64)> {
        if self.feed.far_cable.is_some() || self.feed.panels.len() < 2 {
            return None;
        }
        let (cable, link) = (self.feed.cable?, self.feed.link?);
        let links = crate::units::count(self.feed.panels.len() - 1);
        let length_m = cable.length_m + links * link.length_m;
        let ohm = 2.0 * length_m * ohm_per_m(cable.conductor, self.floor.plan.copper_c);
        Some((length_m, cable.conductor, ohm))
    }
}

/// From the first on that does; thicker ones do too.
fn first_on(
    sizes: impl Iterator<Item = Conductor>,
    does: impl Fn(&Conductor) -> bool,
) -> impl Iterator<Item = Conductor> {
    sizes.skip_while(move |size| !does(size))
}

fn sizes(mm2: Option<&Conductor>, awg: Option<&Conductor>) -> Sizes {
    let mut sizes = Sizes::default();
    for found in [mm2, awg].into_iter().flatten() {
        match *found {
            Conductor::Mm2(mm2) => sizes.mm2 = Some(mm2),
            Conductor::Awg(gauge) => sizes.awg = Some(gauge),
        }
    }
    sizes
}

fn lowest(solution: &Solution) -> Option<(usize, f64)> {
    let panels = solution
        .panels
        .iter()
        .map(|panel| panel.lowest_v)
        .enumerate();
    panels.min_by(|one, other| one.1.total_cmp(&other.1))
}
