//! What is out of bounds, in order of danger.

use serde::Serialize;

use super::fuse::Opens;
use super::rules::Rule;
use super::wire::{Carries, Fits};
use super::{Case, FeedPlan, Plan, overload, peaks};

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
    peaks::find(plan, &mut list);
    overload::find(plan, &mut list);
    for feed in &plan.feeds {
        voltage(feed, plan, &mut list);
    }
    for feed in &plan.feeds {
        not_known(feed, &mut list);
    }
    list.0.sort_by_key(|finding| finding.danger);
    list.0
}

/// Findings as they are made.
#[derive(Default)]
pub(super) struct List(Vec<Finding>);

impl List {
    /// What is true of several is said once.
    pub(super) fn add(
        &mut self,
        danger: Danger,
        level: &'static str,
        name: &str,
        text: String,
        rule: Rule,
    ) {
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
        Some(Opens::Never) if short.warm_a < fuse_a => format!("never opens the {fuse_a} A fuse"),
        Some(Opens::Never) => format!("may never open the {fuse_a} A fuse"),
        Some(Opens::Slowly) => format!("takes up to ten minutes to open the {fuse_a} A fuse"),
        Some(Opens::Soon) | None => return,
    };
    let text = format!("{who} and {what}: {cure}");
    list.add(Danger::Fire, "feed", &feed.name, text, Rule::Opens);
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
    let mut told = vec![format!(
        "the lowest pixel has {:.2} V at full white, {:.1} % less than {} V; {} % are allowed",
        white.lowest_v, white.loss_percent, feed.volts, plan.settings.drop_percent
    )];
    let lost_percent = white.light_lost_percent;
    if lost_percent >= 1.0 {
        told.push(format!(
            "the worst panel loses {lost_percent:.0} % of its light"
        ));
    }
    if let Some(smallest) = &behind.smallest {
        told.push(match smallest.for_drop.told().as_str() {
            "none" => format!(
                "no cable is thick enough, for the rest of the way loses {:.2} V",
                smallest.rest_loss_v
            ),
            sizes => format!("a cable of {sizes} would do"),
        });
    }
    for remedy in &behind.remedies {
        told.push(format!("{}: {:.2} V", remedy.what, remedy.lowest_v));
    }
    let text = told.join("; ");
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
    for kind in &feed.unrated_kinds {
        let text = format!(
            "what the strip and the wires inside {kind} carry behind a fuse of {} A is not in the \
             file (rated_a), so it was not checked",
            feed.fuse_a
        );
        add(text, Rule::PanelLoad);
    }
    if let Some(short) = feed.short.as_ref().filter(|short| short.good_by_guess()) {
        let text = format!(
            "a short opens its fuse of {} A if short_a is {} A, the supply's rating: short_a is not \
             in the file",
            feed.fuse_a, short.supply_gives_a
        );
        add(text, Rule::Opens);
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
