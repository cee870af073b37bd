//! The plan as tables, for terminals and for paper alike.

use super::table::{Section, Table, amps, lasting, percent};
use crate::power::plan::{
    Carries, CircuitPlan, FeedPlan, Fits, Load, MainsLoad, Opens, Plan, Short, Smallest, Wire,
};

/// All tables of a plan.
pub(super) fn sections(plan: &Plan) -> Vec<Section> {
    let mut sections = vec![
        data(plan),
        kinds(plan),
        feeds(plan),
        fuses(plan),
        shorts(plan),
        voltages(plan),
        cables(plan),
        supplies(plan),
        circuits("Mains circuits", &plan.circuits, plan),
    ];
    if let Some(circuits_there) = &plan.circuits_at_other_volts {
        let volts = circuits_there.first().map_or(0.0, |circuit| circuit.volts);
        sections.push(circuits(
            &format!("Mains circuits at {volts} V"),
            circuits_there,
            plan,
        ));
    }
    sections.push(floor(plan));
    sections.push(bill(plan));
    sections
}

fn optional(number: Option<f64>, digits: usize) -> String {
    number.map_or_else(|| "–".to_owned(), |number| format!("{number:.digits$}"))
}

fn data(plan: &Plan) -> Section {
    let data = plan.data;
    let rows = [
        ("panels", data.panels),
        ("pixels", data.pixels),
        ("slots", data.slots),
        ("universes from the console", data.universes_in),
        ("universes to the nodes", data.universes_out),
        ("node ports (runs)", data.ports),
        ("nodes", data.nodes),
    ];
    Table::new(&rows, "what", |(what, _)| (*what).to_owned())
        .number("number", |(_, number)| number.to_string())
        .section("Data", "data")
}

fn kinds(plan: &Plan) -> Section {
    let mut table = Table::new(&plan.panel_kinds, "kind", |kind| kind.name.clone())
        .number("panels", |kind| kind.panels.to_string())
        .number("pixels", |kind| kind.pixels.to_string());
    for (at, case) in plan.cases.iter().enumerate() {
        table = table.number(format!("{case} A"), |kind| amps(kind.loads[at].draw_a));
        if lasting(*case) {
            table = table
                .number("W", |kind| format!("{:.1}", kind.loads[at].draw_w))
                .number("W/m²", |kind| format!("{:.0}", kind.heat_w_per_m2[at]));
        }
    }
    table.section("Each panel: current, power, heat", "panel_kinds")
}

fn feeds(plan: &Plan) -> Section {
    let white_w = |feed: &FeedPlan| feed.loads.first().map_or(0.0, |load| load.draw_w);
    Table::new(&plan.feeds, "feed", |feed| feed.name.clone())
        .number("panels", |feed| feed.panels.to_string())
        .number("fuse A", |feed| feed.fuse_a.to_string())
        .loads(&plan.cases, |feed| &feed.loads)
        .number("full white W", |feed| format!("{:.1}", white_w(feed)))
        .section("Feeds: load, % of the fuse", "feeds")
}

fn fuses(plan: &Plan) -> Section {
    let wire = |feed: &FeedPlan| {
        let told = feed.weakest_wire.as_ref().map(Wire::told);
        told.unwrap_or_else(|| "not known".to_owned())
    };
    Table::new(&plan.feeds, "feed", |feed| feed.name.clone())
        .number("fuse A", |feed| feed.fuse_a.to_string())
        .number("load×1.25", |feed| format!("{:.2}", feed.needed_fuse_a))
        .number("next A", |feed| {
            feed.next_fuse_a
                .map_or_else(|| "none".to_owned(), |next_a| next_a.to_string())
        })
        .words("weakest wire", wire)
        .number("carries A", |feed| {
            feed.weakest_wire
                .as_ref()
                .map_or_else(|| "–".to_owned(), carries)
        })
        .words("fuse ok", |feed| fits(feed.wire_carries_fuse))
        .words("next ok", |feed| fits(feed.wire_carries_next_fuse))
        .section("Fuses and the wires behind them", "fuses")
}

fn carries(wire: &Wire) -> String {
    match wire.carries {
        Carries::Amps(a) => format!("{a:.1}"),
        Carries::AtLeast(a) => format!("≥ {a:.1}"),
        Carries::LessThan(a) => format!("< {a:.1}"),
    }
}

fn fits(fits: Option<Fits>) -> String {
    let word = match fits {
        Some(Fits::Yes) => "yes",
        Some(Fits::No) => "NO",
        Some(Fits::Unknown) => "ask maker",
        None => "not known",
    };
    word.to_owned()
}

fn shorts(plan: &Plan) -> Section {
    type Of = fn(&Short) -> f64;
    let cell = |of: Of, digits: usize| {
        move |feed: &FeedPlan| optional(feed.short.as_ref().map(of), digits)
    };
    let warm_c = plan.settings.copper_c;
    Table::new(&plan.feeds, "feed", |feed| feed.name.clone())
        .number("Ω 20 °C", cell(|short| short.cold_ohm, 3))
        .number("A 20 °C", cell(|short| short.cold_a, 1))
        .number(format!("A {warm_c} °C"), cell(|short| short.warm_a, 1))
        .number("supply A", cell(|short| short.supply_gives_a, 1))
        .number("fuse A", |feed| feed.fuse_a.to_string())
        .words("opens it?", |feed| {
            let short = feed.short.as_ref();
            if let Some(short) = short.filter(|short| short.good_by_guess()) {
                return format!("in 5 s if short_a is {} A", short.supply_gives_a);
            }
            let word = match short.and_then(|short| short.opens) {
                Some(Opens::Soon) => "yes, in 5 s",
                Some(Opens::Slowly) => "SLOWLY, 10 min",
                Some(Opens::Never) => "NEVER",
                None => "not known",
            };
            word.to_owned()
        })
        .section("A short at the far end of each feed", "shorts")
}

fn voltages(plan: &Plan) -> Section {
    let mut table = Table::new(&plan.feeds, "feed", |feed| feed.name.clone());
    let shown = plan.cases.iter().filter(|case| lasting(**case));
    for (at, case) in shown.enumerate() {
        let of = move |feed: &FeedPlan| feed.volts_behind.cases[at].clone();
        table = table
            .number(format!("{case} cable V"), move |feed| {
                optional(of(feed).cable_end_v, 2)
            })
            .number("pixel V", move |feed| format!("{:.2}", of(feed).lowest_v))
            .number("lost %", move |feed| {
                format!("{:.1}", of(feed).loss_percent)
            })
            .number("light lost %", move |feed| {
                format!("{:.0}", of(feed).light_lost_percent)
            });
    }
    table.section("Voltage at the ends of cables and strips", "voltages")
}

fn cables(plan: &Plan) -> Section {
    let smallest = |of: fn(&Smallest) -> String| {
        move |feed: &FeedPlan| {
            let smallest = feed.volts_behind.smallest.as_ref();
            smallest.map_or_else(|| "not known".to_owned(), of)
        }
    };
    let remedies = |feed: &FeedPlan| {
        let told = feed.volts_behind.remedies.iter();
        let told: Vec<String> = told
            .filter(|remedy| remedy.enough)
            .map(|remedy| format!("{} ({:.2} V)", remedy.what, remedy.lowest_v))
            .collect();
        told.join("; or ")
    };
    let table = Table::new(&plan.feeds, "feed", |feed| feed.name.clone())
        .number(
            "rest loses V",
            smallest(|smallest| format!("{:.2}", smallest.rest_loss_v)),
        )
        .words(
            "keeps the drop",
            smallest(|smallest| smallest.for_drop.told()),
        )
        .words(
            "and carries the fuse",
            smallest(|smallest| smallest.for_drop_and_fuse.told()),
        );
    let any = plan.feeds.iter().any(|feed| !remedies(feed).is_empty());
    let table = if any {
        table.words("or", remedies)
    } else {
        table
    };
    table.section(
        format!(
            "Smallest cable for a drop of {} %",
            plan.settings.drop_percent
        ),
        "cables",
    )
}

fn supplies(plan: &Plan) -> Section {
    let white_w = |load: &[Load]| load.first().map_or(0.0, |load| load.draw_w);
    Table::new(&plan.supplies, "supply", |supply| supply.name.clone())
        .number("V", |supply| supply.volts.to_string())
        .number("rated A", |supply| supply.rated_a.to_string())
        .number("80 % A", |supply| format!("{:.1}", supply.continuous_a))
        .loads(&plan.cases, |supply| &supply.loads)
        .number("full white W", |supply| {
            format!("{:.0}", white_w(&supply.loads))
        })
        .section("Supplies: output, % of the rating", "supplies")
}

fn circuits(title: &str, circuits: &[CircuitPlan], plan: &Plan) -> Section {
    let mut table = Table::new(circuits, "circuit", |circuit| circuit.name.clone())
        .number("V", |circuit| circuit.volts.to_string())
        .number("breaker A", |circuit| circuit.rated_a.to_string())
        .number("80 % A", |circuit| format!("{:.1}", circuit.continuous_a));
    for (at, case) in plan.cases.iter().enumerate() {
        let of = move |circuit: &CircuitPlan| circuit.loads[at].clone();
        table = table.number(format!("{case} A"), move |c| optional(of(c).mains_a, 2));
        if lasting(*case) {
            table = table
                .number("%", move |circuit| percent(of(circuit).percent_of_rating))
                .number("W", move |circuit| format!("{:.0}", of(circuit).mains_w))
                .number("VA", move |circuit| format!("{:.0}", of(circuit).mains_va));
        }
    }
    table.section(
        format!("{title}: input of the supplies, % of the breaker"),
        "circuits",
    )
}

fn floor(plan: &Plan) -> Section {
    let floor = &plan.floor;
    let rows: Vec<(&Load, &MainsLoad)> = floor.loads.iter().zip(&floor.mains).collect();
    let table = Table::new(&rows, "shown", |(load, _)| load.case.to_string())
        .number("output A", |(load, _)| amps(load.draw_a))
        .number("output W", |(load, _)| format!("{:.0}", load.draw_w))
        .number("W/m²", |(load, _)| {
            format!("{:.0}", load.draw_w / floor.panels_m2)
        })
        .number("mains W", |(_, mains)| format!("{:.0}", mains.mains_w))
        .number("mains VA", |(_, mains)| format!("{:.0}", mains.mains_va));
    let table = match floor.rated_va {
        None => table,
        Some(rated_va) => table.number(format!("% of {rated_va} VA"), |(_, mains)| {
            percent(mains.percent_of_rating)
        }),
    };
    table.section("The whole floor", "floor")
}

fn bill(plan: &Plan) -> Section {
    Table::new(&plan.bill, "what", |item| item.what.clone())
        .number("amount", |item| {
            if item.unit == "m" {
                format!("{:.1}", item.amount)
            } else {
                format!("{:.0}", item.amount)
            }
        })
        .words("unit", |item| item.unit.to_owned())
        .section("Bill of quantities", "bill")
}
