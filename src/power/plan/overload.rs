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
    rated_a: f64,
    /// The share of it that a load may take for long.
    share: f64,
    white_a: f64,
    dark_a: f64,
    rule: Rule,
}

impl Burden<'_> {
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
                let above = if margin > CONTINUOUS {
                    " by its margin, more than 80 %"
                } else {
                    ""
                };
                format!("the cap holds it at {:.1} A{above}", rated_a * margin)
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
        rated_a,
        share: CONTINUOUS,
        white_a: of_case(loads, Case::FullWhite),
        dark_a: of_case(loads, Case::Dark),
        rule,
    }
}

/// All of them: circuits, the floor, supplies, feeds, panels.
pub(super) fn find(plan: &Plan, list: &mut List) {
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

fn of_circuit(circuit: &CircuitPlan, level: &'static str, plan: &Plan, list: &mut List) {
    let mains_a = |case| {
        let load = circuit.loads.iter().find(|load| load.case == case);
        load.and_then(|load| load.mains_a).unwrap_or(0.0)
    };
    let burden = Burden {
        level,
        name: &circuit.name,
        rated_a: circuit.rated_a,
        share: CONTINUOUS,
        white_a: mains_a(Case::FullWhite),
        dark_a: mains_a(Case::Dark),
        rule: Rule::BreakerLoad,
    };
    burden.judge(plan, list);
}
