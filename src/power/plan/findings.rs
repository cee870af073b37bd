//! What is out of bounds, in order of danger.

use serde::Serialize;

use super::fuse::{CONTINUOUS, Opens};
use super::loads::{CircuitPlan, Load};
use super::rules::Rule;
use super::wire::{Carries, Fits};
use super::{Case, FeedPlan, Plan, of_case};

/// What may come of it; the worst first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Danger {
    /// Something may burn.
    Fire,
    /// A fuse, a supply or a breaker carries more than it should.
    Overload,
    /// Light is lost.
    Voltage,
    /// Something could not be checked.
    NotKnown,
}

impl Danger {
    /// As a heading.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Fire => "Fire",
            Self::Overload => "Overload",
            Self::Voltage => "Low voltage",
            Self::NotKnown => "Not known, so not checked",
        }
    }
}

/// One thing that is out of bounds, of everything that it is true of.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Finding {
    /// How bad it is.
    pub danger: Danger,
    /// `feed`, `supply`, `circuit`, `floor` or `panels of kind`.
    pub level: &'static str,
    /// Which ones.
    pub names: Vec<String>,
    /// What is wrong, as a sentence whose subject is one of them.
    pub text: String,
    /// By which rule.
    #[serde(flatten)]
    pub rule: Rule,
}

/// All of them.
pub(super) fn of(plan: &Plan) -> Vec<Finding> {
    let mut list = List::default();
    for feed in &plan.feeds {
        fire(feed, &mut list);
    }
    overloads(plan, &mut list);
    for feed in &plan.feeds {
        voltage(feed, plan, &mut list);
    }
    for feed in &plan.feeds {
        not_known(feed, &mut list);
    }
    list.0.sort_by_key(|finding| finding.danger);
    list.0
}

#[derive(Default)]
struct List(Vec<Finding>);

impl List {
    /// What is true of several is said once.
    fn add(&mut self, danger: Danger, level: &'static str, name: &str, text: String, rule: Rule) {
        let alike = |f: &&mut Finding| {
            (f.danger, f.level, f.rule) == (danger, level, rule) && f.text == text
        };
        match self.0.iter_mut().find(alike) {
            Some(finding) => finding.names.push(name.to_owned()),
            None => self.0.push(Finding {
                danger,
                level,
                names: vec![name.to_owned()],
                text,
                rule,
            }),
        }
    }
}

fn fire(feed: &FeedPlan, list: &mut List) {
    let fuse_a = feed.fuse_a;
    let too_thin = feed
        .wires
        .iter()
        .filter(|wire| wire.carries.fits(fuse_a) == Fits::No);
    for wire in too_thin {
        let carries = match wire.carries {
            Carries::LessThan(a) => format!("less than {a:.1} A"),
            Carries::Amps(a) | Carries::AtLeast(a) => format!("{a:.1} A"),
        };
        let told = wire.told();
        if wire.size.is_some() {
            let text = format!(
                "the fuse of {fuse_a} A is too large for the {told}, which carries {carries}: it \
                 may burn before the fuse opens"
            );
            list.add(Danger::Fire, "feed", &feed.name, text, Rule::Ampacity);
        } else {
            let text = format!(
                "the fuse of {fuse_a} A is too large for the {told}, rated {carries}: a fault in a \
                 panel may burn it before the fuse opens; a fuse for each panel, or more feeds"
            );
            list.add(Danger::Fire, "feed", &feed.name, text, Rule::PanelLoad);
        }
    }
    let Some(short) = &feed.short else {
        return;
    };
    let current = format!("{:.1} A", short.cold_a);
    let (who, cure) = if short.held_by_supply() {
        let guessed = if short.supply_guessed {
            " (its rating: short_a is not in the file)"
        } else {
            ""
        };
        (
            format!("a short draws no more than the {current} that the supply gives{guessed}"),
            "smaller fuses on more feeds",
        )
    } else {
        (
            format!("a short at the far end draws {current}"),
            "smaller fuses on more feeds, or thicker wire",
        )
    };
    let what = match short.opens {
        Opens::Never if short.warm_a < fuse_a => format!("never opens the {fuse_a} A fuse"),
        Opens::Never => format!("may never open the {fuse_a} A fuse"),
        Opens::Slowly => format!("takes up to ten minutes to open the {fuse_a} A fuse"),
        Opens::Soon => return,
    };
    let text = format!("{who} and {what}: {cure}");
    list.add(Danger::Fire, "feed", &feed.name, text, Rule::Opens);
}

/// Something with a rating.
struct Rated<'a> {
    level: &'static str,
    name: &'a str,
    rated_a: f64,
    /// The share of it that a load may take for long.
    share: f64,
    white_a: f64,
    dark_a: f64,
    rule: Rule,
}

impl Rated<'_> {
    /// Says what the loads do to it, if they are too much.
    fn judge(&self, plan: &Plan, list: &mut List) {
        let Self {
            rated_a,
            white_a,
            dark_a,
            share,
            ..
        } = *self;
        let margin = plan.settings.margin;
        let percent = |a: f64| format!("{:.0} % of {rated_a} A", a / rated_a * 100.0);
        let text = if dark_a > rated_a * margin {
            format!(
                "draws {dark_a:.2} A even when dark, {}: no cap can keep it, take panels off it",
                percent(dark_a)
            )
        } else if white_a > rated_a * share + 1e-9 {
            let held = if plan.settings.capped {
                format!("the cap holds it at {:.1} A", rated_a * margin)
            } else {
                "nothing caps it".to_owned()
            };
            let blows = if self.level == "feed" && white_a > rated_a {
                " and may blow the fuse"
            } else {
                ""
            };
            format!(
                "draws {white_a:.1} A at full white, {}{blows}: a console without litfloor would \
                 pass it; {held}",
                percent(white_a)
            )
        } else {
            return;
        };
        list.add(Danger::Overload, self.level, self.name, text, self.rule);
    }
}

fn rated<'a>(
    level: &'static str,
    name: &'a str,
    rated_a: f64,
    loads: &[Load],
    rule: Rule,
) -> Rated<'a> {
    Rated {
        level,
        name,
        rated_a,
        share: CONTINUOUS,
        white_a: of_case(loads, Case::FullWhite),
        dark_a: of_case(loads, Case::Dark),
        rule,
    }
}

fn overloads(plan: &Plan, list: &mut List) {
    for circuit in &plan.circuits {
        of_circuit(circuit, "circuit", plan, list);
    }
    for circuit in plan.circuits_at_other_volts.iter().flatten() {
        of_circuit(circuit, "at the other mains voltage, circuit", plan, list);
    }
    if let Some(rated_va) = plan.floor.rated_va {
        let white = plan
            .floor
            .mains
            .iter()
            .find(|load| load.case == Case::FullWhite);
        let white_va = white.map_or(0.0, |load| load.mains_va);
        if white_va > rated_va * CONTINUOUS {
            let text = format!(
                "takes {white_va:.0} VA at full white, {:.0} % of {rated_va} VA: a console without \
                 litfloor would pass it{}",
                white_va / rated_va * 100.0,
                if plan.settings.capped {
                    format!(
                        "; the cap holds it at {:.0} VA",
                        rated_va * plan.settings.margin
                    )
                } else {
                    String::new()
                }
            );
            list.add(Danger::Overload, "floor", &plan.name, text, Rule::FloorLoad);
        }
    }
    for supply in &plan.supplies {
        rated(
            "supply",
            &supply.name,
            supply.rated_a,
            &supply.loads,
            Rule::SupplyLoad,
        )
        .judge(plan, list);
    }
    for feed in &plan.feeds {
        if feed.next_fuse_a.is_none() {
            let text = format!(
                "needs a fuse of {:.1} A, and there is no blade fuse that large: split it",
                feed.needed_fuse_a
            );
            list.add(Danger::Overload, "feed", &feed.name, text, Rule::Fuse);
        }
        rated("feed", &feed.name, feed.fuse_a, &feed.loads, Rule::FuseLoad).judge(plan, list);
    }
    for kind in &plan.panel_kinds {
        if let Some(rated_a) = kind.rated_a {
            let whole = Rated {
                share: 1.0,
                ..rated(
                    "panels of kind",
                    &kind.name,
                    rated_a,
                    &kind.loads,
                    Rule::PanelLoad,
                )
            };
            whole.judge(plan, list);
        }
        if let Some(limit_a) = kind.pixel_limit_a.filter(|limit_a| kind.pixel_a > *limit_a) {
            let text = format!(
                "each pixel draws {:.1} mA at full white, more than its {:.1} mA: a console without \
                 litfloor would pass it",
                kind.pixel_a * 1e3,
                limit_a * 1e3
            );
            list.add(
                Danger::Overload,
                "panels of kind",
                &kind.name,
                text,
                Rule::PixelLoad,
            );
        }
    }
}

fn of_circuit(circuit: &CircuitPlan, level: &'static str, plan: &Plan, list: &mut List) {
    let mains_a = |case| {
        let load = circuit.loads.iter().find(|load| load.case == case);
        load.and_then(|load| load.mains_a).unwrap_or(0.0)
    };
    let rated = Rated {
        level,
        name: &circuit.name,
        rated_a: circuit.rated_a,
        share: CONTINUOUS,
        white_a: mains_a(Case::FullWhite),
        dark_a: mains_a(Case::Dark),
        rule: Rule::BreakerLoad,
    };
    rated.judge(plan, list);
}

fn voltage(feed: &FeedPlan, plan: &Plan, list: &mut List) {
    let behind = &feed.volts_behind;
    let white = behind
        .cases
        .iter()
        .find(|case| case.case == Case::FullWhite);
    let Some(white) = white.filter(|_| behind.too_low()) else {
        return;
    };
    let mut text = format!(
        "the lowest pixel has {:.2} V at full white, {:.1} % less than {} V; {} % are allowed",
        white.lowest_v, white.loss_percent, feed.volts, plan.settings.drop_percent
    );
    if white.light_lost_percent >= 1.0 {
        text += &format!(
            "; the worst panel loses {:.0} % of its light",
            white.light_lost_percent
        );
    }
    if let Some(smallest) = &behind.smallest {
        text += &match smallest.for_drop.told().as_str() {
            "none" => format!(
                "; no cable is thick enough, for the rest of the way loses {:.2} V",
                smallest.rest_loss_v
            ),
            sizes => format!("; a cable of {sizes} would do"),
        };
    }
    for remedy in &behind.remedies {
        text += &format!("; {}: {:.2} V", remedy.what, remedy.lowest_v);
    }
    list.add(Danger::Voltage, "feed", &feed.name, text, Rule::Drop);
}

fn not_known(feed: &FeedPlan, list: &mut List) {
    let mut add = |text: String, rule| list.add(Danger::NotKnown, "feed", &feed.name, text, rule);
    if !feed.volts_behind.cable_known {
        add(
            "has no cable in the file: its thinnest wire, its drop and a short at its far end"
                .to_owned(),
            Rule::Drop,
        );
    }
    for kind in &feed.volts_behind.unknown_strips {
        add(
            format!("has panels of kind {kind} with no strip in the file: the voltage inside them"),
            Rule::Drop,
        );
    }
    if feed.volts_behind.cases.iter().any(|case| !case.solved) {
        add("its voltages could not be found".to_owned(), Rule::Drop);
    }
    for wire in &feed.wires {
        if wire.carries.fits(feed.fuse_a) == Fits::Unknown {
            let text = format!(
                "no figure here for what its {} carries behind a fuse of {} A: ask the cable's \
                 maker",
                wire.told(),
                feed.fuse_a
            );
            add(text, Rule::Ampacity);
        }
    }
}
