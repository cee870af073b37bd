//! Every figure of a plan by itself, with its unit and its rule.

use crate::power::plan::{CircuitPlan, FeedPlan, Load, MainsLoad, Plan, Rule};

/// One figure, or one thing that is out of bounds.
pub(super) struct Figure {
    pub(super) section: &'static str,
    pub(super) item: String,
    /// Empty if it holds for all of them.
    pub(super) case: String,
    pub(super) what: &'static str,
    pub(super) value: String,
    pub(super) unit: &'static str,
    pub(super) rule: Rule,
}

/// All of them: first what is out of bounds, in order of danger.
pub(super) fn all(plan: &Plan) -> Vec<Figure> {
    let mut list = List::default();
    for finding in &plan.findings {
        for name in &finding.names {
            list.section = "out of bounds";
            list.item = format!("{} {name}", finding.level);
            list.text(finding.danger.name(), &finding.text, finding.rule);
        }
    }
    data(plan, &mut list);
    for kind in &plan.panel_kinds {
        list.at("panel kind", &kind.name);
        list.text("panels", &kind.panels.to_string(), Rule::Count);
        list.text("pixels", &kind.pixels.to_string(), Rule::Count);
        list.loads(&kind.loads, Rule::PanelLoad);
        for (load, heat) in kind.loads.iter().zip(&kind.heat_w_per_m2) {
            list.number("heat", &load.case.to_string(), *heat, "W/m²", Rule::Heat);
        }
    }
    for feed in &plan.feeds {
        list.at("feed", &feed.name);
        list.loads(&feed.loads, Rule::FuseLoad);
        fuse(feed, &mut list);
        voltages(feed, &mut list);
    }
    for supply in &plan.supplies {
        list.at("supply", &supply.name);
        list.number("rated", "", supply.rated_a, "A", Rule::Count);
        list.number(
            "80 % of the rating",
            "",
            supply.continuous_a,
            "A",
            Rule::SupplyLoad,
        );
        list.loads(&supply.loads, Rule::SupplyLoad);
    }
    circuits("circuit", &plan.circuits, &mut list);
    if let Some(circuits_there) = &plan.circuits_at_other_volts {
        circuits(
            "circuit at another mains voltage",
            circuits_there,
            &mut list,
        );
    }
    list.at("floor", &plan.name);
    list.number(
        "area of panels",
        "",
        plan.floor.panels_m2,
        "m²",
        Rule::Count,
    );
    list.loads(&plan.floor.loads, Rule::Draw);
    list.mains(&plan.floor.mains, Rule::FloorLoad);
    for item in &plan.bill {
        list.at("bill", &item.what);
        list.number("amount", "", item.amount, item.unit, Rule::Bill);
    }
    list.figures
}

#[derive(Default)]
struct List {
    section: &'static str,
    item: String,
    figures: Vec<Figure>,
}

impl List {
    fn at(&mut self, section: &'static str, item: &str) {
        self.section = section;
        item.clone_into(&mut self.item);
    }

    fn add(
        &mut self,
        what: &'static str,
        case: &str,
        value: String,
        unit: &'static str,
        rule: Rule,
    ) {
        self.figures.push(Figure {
            section: self.section,
            item: self.item.clone(),
            case: case.to_owned(),
            what,
            value,
            unit,
            rule,
        });
    }

    fn text(&mut self, what: &'static str, value: &str, rule: Rule) {
        self.add(what, "", value.to_owned(), "", rule);
    }

    fn number(
        &mut self,
        what: &'static str,
        case: &str,
        value: f64,
        unit: &'static str,
        rule: Rule,
    ) {
        self.add(what, case, told(value), unit, rule);
    }

    fn loads(&mut self, loads: &[Load], rating: Rule) {
        for load in loads {
            let case = load.case.to_string();
            self.number("current", &case, load.draw_a, "A", Rule::Draw);
            self.number("power", &case, load.draw_w, "W", Rule::Power);
            if let Some(percent) = load.percent_of_rating {
                self.number("of the rating", &case, percent, "%", rating);
            }
        }
    }

    fn mains(&mut self, loads: &[MainsLoad], rating: Rule) {
        for load in loads {
            let case = load.case.to_string();
            if let Some(mains_a) = load.mains_a {
                self.number("mains current", &case, mains_a, "A", Rule::Mains);
            }
            self.number("mains power", &case, load.mains_w, "W", Rule::Mains);
            self.number("apparent power", &case, load.mains_va, "VA", Rule::Mains);
            if let Some(percent) = load.percent_of_rating {
                self.number("of the rating", &case, percent, "%", rating);
            }
        }
    }
}

/// Six decimals at most, and none that say nothing.
fn told(value: f64) -> String {
    let value = (value * 1e6).round() / 1e6;
    value.to_string()
}

fn data(plan: &Plan, list: &mut List) {
    let data = plan.data;
    list.at("data", &plan.name);
    for (what, number, rule) in [
        ("panels", data.panels, Rule::Count),
        ("pixels", data.pixels, Rule::Count),
        ("slots", data.slots, Rule::Count),
        (
            "universes from the console",
            data.universes_in,
            Rule::Universes,
        ),
        (
            "universes to the nodes",
            data.universes_out,
            Rule::Universes,
        ),
        ("node ports", data.ports, Rule::Count),
        ("nodes", data.nodes, Rule::Count),
    ] {
        list.text(what, &number.to_string(), rule);
    }
}

fn fuse(feed: &FeedPlan, list: &mut List) {
    list.number("fuse in the file", "", feed.fuse_a, "A", Rule::Count);
    list.number(
        "1.25 × full white",
        "full white",
        feed.needed_fuse_a,
        "A",
        Rule::Fuse,
    );
    match feed.next_fuse_a {
        Some(next_a) => list.number("next fuse", "full white", next_a, "A", Rule::Fuse),
        None => list.text("next fuse", "none", Rule::Fuse),
    }
    if let Some(wire) = &feed.weakest_wire {
        let rule = if wire.size.is_some() {
            Rule::Ampacity
        } else {
            Rule::PanelLoad
        };
        list.text("weakest wire", &wire.told(), rule);
        list.number("weakest wire carries", "", wire.carries.amps(), "A", rule);
    }
    for (what, fits) in [
        ("wires carry the fuse in the file", feed.wire_carries_fuse),
        ("wires carry the next fuse", feed.wire_carries_next_fuse),
    ] {
        let told = match fits {
            Some(crate::power::plan::Fits::Yes) => "yes",
            Some(crate::power::plan::Fits::No) => "no",
            _ => "not known",
        };
        list.text(what, told, Rule::Ampacity);
    }
    if let Some(short) = &feed.short {
        list.number(
            "short: resistance at 20 °C",
            "",
            short.cold_ohm,
            "Ω",
            Rule::Short,
        );
        list.number(
            "short: current at 20 °C",
            "",
            short.cold_a,
            "A",
            Rule::Short,
        );
        list.number(
            "short: current with warm copper",
            "",
            short.warm_a,
            "A",
            Rule::Short,
        );
        list.number(
            "short: supply gives",
            "",
            short.supply_gives_a,
            "A",
            Rule::Short,
        );
        let opens = match short.opens {
            Some(_) if short.good_by_guess() => "in 5 s if short_a is the supply's rating",
            Some(crate::power::plan::Opens::Soon) => "in 5 s",
            Some(crate::power::plan::Opens::Slowly) => "slowly",
            Some(crate::power::plan::Opens::Never) => "never",
            None => "not known",
        };
        list.text("short: opens the fuse", opens, Rule::Opens);
    }
}

fn voltages(feed: &FeedPlan, list: &mut List) {
    let behind = &feed.volts_behind;
    for volts in &behind.cases {
        let case = volts.case.to_string();
        if let Some(cable_end_v) = volts.cable_end_v {
            list.number(
                "voltage at the cable's end",
                &case,
                cable_end_v,
                "V",
                Rule::Drop,
            );
        }
        list.number("lowest voltage", &case, volts.lowest_v, "V", Rule::Drop);
        list.number(
            "loss of voltage",
            &case,
            volts.loss_percent,
            "%",
            Rule::Drop,
        );
        list.number(
            "light lost",
            &case,
            volts.light_lost_percent,
            "%",
            Rule::Drop,
        );
        for panel in &volts.panels {
            list.at("panel", &panel.panel);
            list.number(
                "voltage at its input",
                &case,
                panel.input_v,
                "V",
                Rule::Drop,
            );
            list.number("lowest voltage", &case, panel.lowest_v, "V", Rule::Drop);
        }
        list.at("feed", &feed.name);
    }
    if let Some(smallest) = &behind.smallest {
        list.number(
            "loss without the cable",
            "full white",
            smallest.rest_loss_v,
            "V",
            Rule::Smallest,
        );
        list.text(
            "smallest cable for the drop",
            &smallest.for_drop.told(),
            Rule::Smallest,
        );
        let both = smallest.for_drop_and_fuse.told();
        list.text(
            "smallest cable for the drop and the fuse",
            &both,
            Rule::Smallest,
        );
    }
    for remedy in &behind.remedies {
        let item = std::mem::replace(&mut list.item, format!("{}: {}", feed.name, remedy.what));
        list.number(
            "lowest voltage then",
            "full white",
            remedy.lowest_v,
            "V",
            Rule::SecondEnd,
        );
        list.item = item;
    }
}

fn circuits(section: &'static str, circuits: &[CircuitPlan], list: &mut List) {
    for circuit in circuits {
        list.at(section, &circuit.name);
        list.number("mains voltage", "", circuit.volts, "V", Rule::Count);
        list.number("breaker", "", circuit.rated_a, "A", Rule::Count);
        list.number(
            "80 % of the breaker",
            "",
            circuit.continuous_a,
            "A",
            Rule::BreakerLoad,
        );
        list.mains(&circuit.loads, Rule::BreakerLoad);
    }
}
