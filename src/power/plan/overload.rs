//! What carries more than it should when nothing caps it.

use super::findings::{Danger, List};
use super::fuse::CONTINUOUS;
use super::loads::{CircuitPlan, Load};
use super::rules::Rule;
use super::{Case, Plan, of_case};

/// What lies on something that has a rating.
struct Burden<'a> {
    level: &'static str,
    name: &'a str,
    /// Of its rating and of both loads.
    unit: &'static str,
    rated: f64,
    /// The share of it that a load may take for long.
    share: f64,
    white: f64,
    dark: f64,
    /// How the cap keeps it, where it does not keep it at the rating × margin.
    held: Option<String>,
    rule: Rule,
}

impl Burden<'_> {
    /// Says what the loads do to it, if they are too much.
    fn judge(&self, plan: &Plan, list: &mut List) {
        let Self {
            rated,
            white,
            dark,
            share,
            unit,
            ..
        } = *self;
        let margin = plan.settings.margin;
        let percent = |load: f64| format!("{:.0} % of {rated} {unit}", load / rated * 100.0);
        let text = if dark > rated * margin {
            format!(
                "draws {dark:.2} {unit} even when dark, {}: no cap can keep it, take panels off it",
                percent(dark)
            )
        } else if white > rated * share + 1e-9 {
            let held = if let Some(held) = self.held.as_ref().filter(|_| plan.settings.capped) {
                held.clone()
            } else if plan.settings.capped {
                let above = if margin > CONTINUOUS {
                    " by its margin, more than 80 %"
                } else {
                    ""
                };
                format!("the cap holds it at {:.1} {unit}{above}", rated * margin)
            } else {
                "nothing caps it".to_owned()
            };
            let blows = if self.level == "feed" && white > rated {
                " and may blow the fuse"
            } else {
                ""
            };
            format!(
                "draws {white:.1} {unit} at full white, {}{blows}: a console without litfloor would \
                 pass it; {held}",
                percent(white)
            )
        } else {
            return;
        };
        list.add(Danger::Overload, self.level, self.name, text, self.rule);
    }
}

fn burden<'a>(
    level: &'static str,
    name: &'a str,
    rated_a: f64,
    loads: &[Load],
    rule: Rule,
) -> Burden<'a> {
    Burden {
        level,
        name,
        unit: "A",
        rated: rated_a,
        share: CONTINUOUS,
        white: of_case(loads, Case::FullWhite),
        dark: of_case(loads, Case::Dark),
        held: None,
        rule,
    }
}

/// All of them: circuits, the floor, supplies, feeds, panels.
pub(super) fn find(plan: &Plan, list: &mut List) {
    for circuit in &plan.circuits {
        of_circuit(circuit, "circuit", None, plan, list);
    }
    let others = plan.circuits_at_other_volts.iter().flatten();
    for (circuit, of_file) in others.zip(&plan.circuits) {
        let level = "at the other mains voltage, circuit";
        of_circuit(circuit, level, Some(of_file.volts), plan, list);
    }
    if let Some(rated_va) = plan.floor.rated_va {
        let mains_va = |case| {
            let load = plan.floor.mains.iter().find(|load| load.case == case);
            load.map_or(0.0, |load| load.mains_va)
        };
        let burden = Burden {
            level: "floor",
            name: &plan.name,
            unit: "VA",
            rated: rated_va,
            share: CONTINUOUS,
            white: mains_va(Case::FullWhite),
            dark: mains_va(Case::Dark),
            held: None,
            rule: Rule::FloorLoad,
        };
        burden.judge(plan, list);
    }
    for supply in &plan.supplies {
        burden(
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
        burden("feed", &feed.name, feed.fuse_a, &feed.loads, Rule::FuseLoad).judge(plan, list);
    }
    for kind in &plan.panel_kinds {
        if let Some(rated_a) = kind.rated_a {
            let whole = Burden {
                share: 1.0,
                ..burden(
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

/// `file_volts`: those of the file, where the circuit is reckoned with others.
fn of_circuit(
    circuit: &CircuitPlan,
    level: &'static str,
    file_volts: Option<f64>,
    plan: &Plan,
    list: &mut List,
) {
    let mains_a = |case| {
        let load = circuit.loads.iter().find(|load| load.case == case);
        load.and_then(|load| load.mains_a).unwrap_or(0.0)
    };
    let (volts, rated_a) = (circuit.volts, circuit.rated_a);
    let other = file_volts.filter(|file_volts| (file_volts - volts).abs() > 1e-9);
    // The cap of a running litfloor knows only the volts of the file.
    let held = other.map(|file_volts| {
        let passes_a = rated_a * plan.settings.margin * file_volts / volts;
        format!(
            "the cap reckons with {file_volts} V and would let {passes_a:.1} A through at {volts} V, \
             {:.0} % of {rated_a} A: write volts = {volts} into the file before you run there",
            passes_a / rated_a * 100.0
        )
    });
    let burden = Burden {
        level,
        name: &circuit.name,
        unit: "A",
        rated: rated_a,
        share: CONTINUOUS,
        white: mains_a(Case::FullWhite),
        dark: mains_a(Case::Dark),
        held,
        rule: Rule::BreakerLoad,
    };
    burden.judge(plan, list);
}
