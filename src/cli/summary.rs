//! What a floor file describes, in short, with what it draws at full white.

use serde::Serialize;

use crate::floor::Tables;
use crate::floor::model::Floor;
use crate::power::tree::Tree;
use crate::units::{Amps, Draw};

/// What the file describes, in short.
#[derive(Debug, Serialize)]
pub(super) struct Summary {
    pub(super) name: String,
    pub(super) panels: usize,
    pub(super) pixels: usize,
    pub(super) slots: u64,
    pub(super) universes: usize,
    pub(super) nodes: usize,
    /// Output amperes.
    pub(super) supplies: Vec<Load>,
    /// Mains amperes.
    pub(super) circuits: Vec<Load>,
    pub(super) feeds: Vec<Load>,
    pub(super) cautions: Vec<String>,
}

/// What something draws when every pixel is at full.
#[derive(Debug, Serialize)]
pub(super) struct Load {
    pub(super) name: String,
    pub(super) full_white_a: Amps,
    pub(super) rated_a: Amps,
    pub(super) limit_a: Amps,
}

impl Summary {
    /// Adds everything up.
    pub(super) fn of(floor: &Floor) -> Self {
        let tables = Tables::compile(floor);
        let margin = floor.cap.margin;
        let mut feeds = vec![Draw::ZERO; floor.feeds.len()];
        for panel in &tables.panels {
            feeds[panel.feed as usize] += panel.idle + panel.full;
        }
        let mut supplies = vec![Draw::ZERO; floor.supplies.len()];
        for (feed, draw) in floor.feeds.iter().zip(&feeds) {
            supplies[feed.supply] += *draw;
        }
        let mut circuits = vec![Amps(0.0); floor.circuits.len()];
        for (supply, draw) in floor.supplies.iter().zip(&supplies) {
            let per_output = supply.mains_per_output(&floor.circuits[supply.circuit]);
            let circuit = &mut circuits[supply.circuit];
            *circuit = *circuit + draw.amps() * per_output;
        }
        let load = |name: &str, full_white_a, rated_a: Amps| Load {
            name: name.to_owned(),
            full_white_a,
            rated_a,
            limit_a: rated_a * margin,
        };
        let mut summary = Self {
            name: floor.name.clone(),
            panels: floor.panels.len(),
            pixels: tables.pixels_mm.len(),
            slots: tables
                .outputs
                .iter()
                .flat_map(|o| &o.parts)
                .map(|part| u64::from(part.len))
                .sum(),
            universes: tables.universes.len(),
            nodes: floor.nodes.len(),
            supplies: (floor.supplies.iter().zip(&supplies))
                .map(|(supply, draw)| load(&supply.name, draw.amps(), supply.rated_a))
                .collect(),
            circuits: (floor.circuits.iter().zip(&circuits))
                .map(|(circuit, amps)| load(&circuit.name, *amps, circuit.rated_a))
                .collect(),
            feeds: (floor.feeds.iter().zip(&feeds))
                .map(|(feed, draw)| load(&feed.name, draw.amps(), feed.fuse_a))
                .collect(),
            cautions: Vec::new(),
        };
        summary.cautions = summary.cautions_for(floor, &tables);
        summary
    }

    fn cautions_for(&self, floor: &Floor, tables: &Tables) -> Vec<String> {
        let over = |what: &str, loads: &[Load]| {
            let over: Vec<&str> = loads
                .iter()
                .filter(|load| load.full_white_a > load.limit_a)
                .map(|load| load.name.as_str())
                .collect();
            (!over.is_empty()).then(|| {
                format!(
                    "full white passes the limit of {what} {}: the cap will dim",
                    over.join(", ")
                )
            })
        };
        let mut cautions: Vec<String> = [
            over("circuit", &self.circuits),
            over("supply", &self.supplies),
            over("feed", &self.feeds),
        ]
        .into_iter()
        .flatten()
        .collect();
        let wiring = floor
            .panels
            .iter()
            .zip(&tables.panels)
            .filter(|(panel, row)| {
                let rated = floor.panel_kinds[panel.kind].rated_a;
                rated.is_some_and(|rated| (row.idle + row.full).amps() > rated * floor.cap.margin)
            });
        let wiring = wiring.count();
        if wiring > 0 {
            let whose = if wiring == 1 { "panel's" } else { "panels'" };
            cautions.push(format!(
                "full white passes the limit of {wiring} {whose} own wiring: the cap will dim"
            ));
        }
        cautions.splice(0..0, impossible(floor, tables));
        if floor.nodes.is_empty() {
            cautions.push("without nodes the floor is only watched: nothing is capped".to_owned());
        }
        cautions.push(
            "amperes are estimates from the numbers in the file, not a permission: measure, fuse \
             every feed at the supply, and leave mains to licensed people"
                .to_owned(),
        );
        cautions
    }
}

/// What passes its limit even when all is dark, so that no cap can keep it.
fn impossible(floor: &Floor, tables: &Tables) -> Vec<String> {
    let tree = Tree::new(floor, tables);
    let panels = (floor.panels.iter().enumerate())
        .map(|(at, panel)| (tree.panel(at), format!("panel {}", panel.position)));
    let feeds = (floor.feeds.iter().enumerate())
        .map(|(at, feed)| (tree.feed(at), format!("feed {}", feed.name)));
    let supplies = (floor.supplies.iter().enumerate())
        .map(|(at, supply)| (tree.supply(at), format!("supply {}", supply.name)));
    let circuits = (floor.circuits.iter().enumerate())
        .map(|(at, circuit)| (tree.circuit(at), format!("circuit {}", circuit.name)));
    circuits
        .chain(supplies)
        .chain(feeds)
        .chain(panels)
        .map(|(element, name)| (&tree.elements[element as usize], name))
        .filter(|(element, _)| element.impossible())
        .map(|(element, name)| {
            format!(
                "{name} draws {:.3} even when dark, over its limit of {:.3}: no cap can keep it, \
                 take panels off it",
                element.idle.amps(),
                element.limit.amps()
            )
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_dark_floor_over_a_limit_is_said_first() {
        let text = include_str!("../../config/first-floor.toml");
        // 80 pixels of 2.6 mA draw 0.208 A; 80 % of a 0.2 A fuse is 0.16 A.
        let text = text.replace("fuse_a = 7.5", "fuse_a = 0.2");
        let floor = crate::floor::parse("made-up.toml", &text).unwrap();
        assert_eq!(
            Summary::of(&floor).cautions[0],
            "feed floor draws 0.208 A even when dark, over its limit of 0.160 A: no cap can keep \
             it, take panels off it"
        );
    }
}
