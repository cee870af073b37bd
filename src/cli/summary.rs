//! What a floor file describes, in short: what to set where, and what it draws at full white.

use std::collections::BTreeMap;

use serde::Serialize;

use super::networks::named;
use crate::floor::Tables;
use crate::floor::model::Floor;
use crate::power::tree::{ElementIndex, Tree};
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
    pub(super) runs: Vec<RunRow>,
    /// Output amperes.
    pub(super) feeds: Vec<Load>,
    /// Output amperes.
    pub(super) supplies: Vec<Load>,
    /// Mains amperes.
    pub(super) circuits: Vec<Load>,
    pub(super) cautions: Vec<String>,
}

/// What to set at the node and at the console for one run.
#[derive(Debug, Serialize)]
pub(super) struct RunRow {
    pub(super) node: Option<String>,
    pub(super) port: Option<u16>,
    pub(super) first: SlotRow,
    pub(super) last: SlotRow,
    /// Where its first and last slot lie at the console, if elsewhere than at the node.
    pub(super) console: Option<(SlotRow, SlotRow)>,
    pub(super) slots: u64,
    /// In wiring order.
    pub(super) panels: Vec<String>,
}

/// One slot.
#[derive(Debug, Serialize)]
pub(super) struct SlotRow {
    pub(super) port_address: String,
    /// The Port-Address as one number, from 0.
    pub(super) universe: u16,
    /// From 1.
    pub(super) slot: u16,
}

/// What something draws when every pixel is dark, and when every pixel is at full.
#[derive(Debug, Serialize)]
pub(super) struct Load {
    pub(super) name: String,
    pub(super) dark_a: Amps,
    pub(super) full_white_a: Amps,
    pub(super) rated_a: Amps,
    pub(super) limit_a: Amps,
}

impl Load {
    fn over_when_dark(&self) -> bool {
        self.dark_a > self.limit_a
    }

    /// Whether full white is over the limit.
    pub(super) fn over(&self) -> bool {
        self.full_white_a > self.limit_a
    }
}

impl Summary {
    /// Adds everything up. `tables` are the floor's.
    pub(super) fn of(floor: &Floor, tables: &Tables) -> Self {
        let tree = Tree::new(floor, tables);
        let full = tree.carried(tables.panels.iter().map(|row| row.idle + row.full));
        let load = |element: ElementIndex, name: &str| {
            let own = &tree.elements[element as usize];
            Load {
                name: name.to_owned(),
                dark_a: own.idle.amps(),
                full_white_a: full[element as usize].amps(),
                rated_a: own.rated_a.unwrap_or_default(),
                limit_a: own.limit.amps(),
            }
        };
        let feeds = floor.feeds.iter().enumerate();
        let supplies = floor.supplies.iter().enumerate();
        let circuits = floor.circuits.iter().enumerate();
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
            runs: runs(floor),
            feeds: feeds
                .map(|(at, feed)| load(tree.feed(at), &feed.name))
                .collect(),
            supplies: supplies
                .map(|(at, supply)| load(tree.supply(at), &supply.name))
                .collect(),
            circuits: circuits
                .map(|(at, circuit)| load(tree.circuit(at), &circuit.name))
                .collect(),
            cautions: Vec::new(),
        };
        summary.cautions = summary.cautions_for(floor, &tree, &full);
        summary
    }

    /// What can't be kept comes first, then what nothing keeps, then what holds for every floor.
    fn cautions_for(&self, floor: &Floor, tree: &Tree, full: &[Draw]) -> Vec<String> {
        let held = if floor.nodes.is_empty() {
            "nothing caps it, keep it down at the console"
        } else {
            "the cap will dim"
        };
        let levels = [
            ("circuit", &self.circuits),
            ("supply", &self.supplies),
            ("feed", &self.feeds),
        ];
        let mut cautions = Vec::new();
        for (level, loads) in levels {
            for load in loads.iter().filter(|load| load.over_when_dark()) {
                cautions.push(format!(
                    "{level} {} draws {:.3} even when dark, over its limit of {:.3}: no cap can \
                     keep it, take panels off it",
                    load.name, load.dark_a, load.limit_a
                ));
            }
        }
        let wiring = Wiring::of(floor, tree, full);
        for (kind, dark) in &wiring.over_when_dark {
            cautions.push(format!(
                "{} of kind {kind} {} even when dark, over the limit of the panel's own wiring: \
                 no cap can keep it, look at idle_ma and rated_a",
                counted(dark.len() as u64, "panel"),
                if dark.len() == 1 {
                    format!("({}) draws {:.3}", dark[0].0, dark[0].1)
                } else {
                    format!("draw {:.3} each", dark[0].1)
                }
            ));
        }
        if floor.nodes.is_empty() {
            cautions.push("without nodes the floor is only watched: nothing is capped".to_owned());
        }
        for (level, loads) in levels {
            let over = |load: &&Load| load.over() && !load.over_when_dark();
            let over: Vec<String> = loads.iter().filter(over).map(|l| l.name.clone()).collect();
            if !over.is_empty() {
                cautions.push(format!(
                    "full white passes the limit of {level} {}: {held}",
                    named(&over)
                ));
            }
        }
        for (kind, panels) in &wiring.over {
            cautions.push(format!(
                "full white passes the limit of the own wiring of {} of kind {kind}: {held}",
                counted(*panels, "panel")
            ));
        }
        for feed in &floor.feeds {
            let supply = &floor.supplies[feed.supply];
            if feed.fuse_a > supply.rated_a {
                cautions.push(format!(
                    "feed {} has a fuse of {:.1}, more than its supply {} can give ({:.1}): a \
                     short may never blow it, and its cable may burn; fuse it to protect the cable",
                    feed.name, feed.fuse_a, supply.name, supply.rated_a
                ));
            }
        }
        let margin = floor.cap.margin;
        if margin > COMMON_MARGIN {
            cautions.push(format!(
                "the cap's margin is {margin}: common practice loads supplies, fuses and breakers \
                 with no more than 80 % for long, and your local code may demand less"
            ));
        }
        cautions.push(
            "amperes are computed from the numbers in the file, not measured, and no permission: \
             measure, fuse every feed at the supply, and leave mains to licensed people"
                .to_owned(),
        );
        // Three a second: the general flash threshold of WCAG 2.x, success criterion 2.3.1.
        cautions.push(
            "flashing light can cause seizures, from about three flashes a second: litfloor does \
             not limit it; warn your guests and keep to the rules of the place"
                .to_owned(),
        );
        cautions
    }
}

/// The last so many cautions hold for every floor.
pub(super) const FOR_EVERY_FLOOR: usize = 2;

/// More than this share of a rating is not common practice for continuous loads (no source; the
/// 80 % of a breaker's rating is in the national codes of some countries).
const COMMON_MARGIN: f64 = 0.8;

/// Panels whose own wiring may carry less than they draw, by kind.
struct Wiring {
    /// Position and dark draw of each.
    over_when_dark: BTreeMap<String, Vec<(String, Amps)>>,
    over: BTreeMap<String, u64>,
}

impl Wiring {
    /// `full` is what each element of the tree carries at full white.
    fn of(floor: &Floor, tree: &Tree, full: &[Draw]) -> Self {
        let mut wiring = Self {
            over_when_dark: BTreeMap::new(),
            over: BTreeMap::new(),
        };
        for (at, panel) in floor.panels.iter().enumerate() {
            let index = tree.panel(at) as usize;
            let element = &tree.elements[index];
            let kind = floor.panel_kinds[panel.kind].name.clone();
            if element.impossible() {
                let dark = (panel.position.to_string(), element.idle.amps());
                wiring.over_when_dark.entry(kind).or_default().push(dark);
            } else if full[index] > element.limit {
                *wiring.over.entry(kind).or_default() += 1;
            }
        }
        wiring
    }
}

fn runs(floor: &Floor) -> Vec<RunRow> {
    let spans = floor.all_spans();
    let source_spans = floor.all_source_spans();
    let row = |run: &crate::floor::model::Run| {
        let slots = || run.panels.iter().flat_map(|&panel| &spans[panel]);
        let (first, last) = (slots().next()?, slots().last()?);
        let place = |address: crate::wire::PortAddress, slot| SlotRow {
            port_address: address.to_string(),
            universe: address.number(),
            slot,
        };
        let console = run.source.as_ref().and_then(|_| {
            let slots = || run.panels.iter().flat_map(|&panel| &source_spans[panel]);
            let (first, last) = (slots().next()?, slots().last()?);
            let first = place(first.port_address, first.first_slot);
            Some((first, place(last.port_address, last.last_slot)))
        });
        Some(RunRow {
            console,
            node: run.node.map(|node| floor.nodes[node].name.clone()),
            port: run.port,
            first: place(first.port_address, first.first_slot),
            last: place(last.port_address, last.last_slot),
            slots: slots()
                .map(|span| u64::from(span.last_slot - span.first_slot) + 1)
                .sum(),
            panels: run
                .panels
                .iter()
                .map(|&panel| floor.panels[panel].position.to_string())
                .collect(),
        })
    };
    floor.runs.iter().filter_map(row).collect()
}

/// A number and what it counts.
pub(super) fn counted(count: u64, what: &str) -> String {
    if count == 1 {
        format!("1 {what}")
    } else {
        format!("{count} {what}s")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const FIRST: &str = include_str!("../../config/first-floor.toml");

    fn of(floor: &Floor) -> Summary {
        Summary::of(floor, &Tables::compile(floor))
    }

    fn cautions(text: &str) -> Vec<String> {
        of(&crate::floor::parse("made-up.toml", text).unwrap()).cautions
    }

    fn changed(from: &str, to: &str) -> String {
        assert!(FIRST.contains(from), "{from}");
        FIRST.replace(from, to)
    }

    /// 80 pixels of 2.6 mA (idle current of the WS2811's datasheet, as in the file) draw 0.208 A;
    /// 80 % of a 0.2 A fuse is 0.16 A.
    #[test]
    fn a_dark_floor_over_a_limit_is_said_first_and_is_not_said_to_be_dimmed() {
        let cautions = cautions(&changed("fuse_a = 7.5", "fuse_a = 0.2"));
        assert_eq!(
            cautions[0],
            "feed floor draws 0.208 A even when dark, over its limit of 0.160 A: no cap can keep \
             it, take panels off it"
        );
        assert!(
            cautions
                .iter()
                .all(|caution| !caution.contains("the cap will dim"))
        );
    }

    #[test]
    fn panels_are_said_by_their_kind() {
        // 20 pixels a panel: 52 mA when dark, 1.162 A at full.
        let rated =
            |rated_a: f64| cautions(&changed("rated_a = 7.5", &format!("rated_a = {rated_a}")));
        assert!(rated(0.05)[0].starts_with("4 panels of kind square draw 0.052 A each even when"));
        assert_eq!(
            rated(1.0)[0],
            "full white passes the limit of the own wiring of 4 panels of kind square: the cap \
             will dim"
        );
        assert!(!rated(2.0)[0].contains("wiring"));
    }

    #[test]
    fn a_floor_that_is_only_watched_is_not_said_to_be_dimmed() {
        let (before, node) = FIRST.split_once("\n[[node]]").unwrap();
        let (_, after) = node.split_once("\n[[").unwrap();
        let text = format!("{before}\n[[{after}")
            .lines()
            .filter(|line| !line.starts_with("node = "))
            .collect::<Vec<_>>()
            .join("\n")
            .replace("fuse_a = 7.5", "fuse_a = 5");
        let cautions = cautions(&text);
        assert!(cautions[0].contains("only watched"), "{cautions:?}");
        assert_eq!(
            cautions[1],
            "full white passes the limit of feed floor: nothing caps it, keep it down at the console"
        );
    }

    #[test]
    fn a_fuse_that_protects_nothing_and_a_margin_of_one_are_said() {
        let said = |text: &str, part: &str| cautions(text).iter().any(|c| c.contains(part));
        assert!(said(
            &changed("fuse_a = 7.5", "fuse_a = 15"),
            "more than its supply supply can give"
        ));
        assert!(!said(FIRST, "can give"));
        assert!(said(
            &format!("{FIRST}\n[cap]\nmargin = 1.0\n"),
            "the cap's margin is 1"
        ));
        assert!(!said(FIRST, "margin"));
    }

    #[test]
    fn a_run_says_what_to_set() {
        let floor = crate::floor::parse("demo.toml", include_str!("../../config/demo.toml"));
        let summary = of(&floor.unwrap());
        let slots: u64 = summary.runs.iter().map(|run| run.slots).sum();
        assert_eq!(slots, summary.slots);
        for run in &summary.runs {
            // Art-Net 4: Net in bits 14 to 8, Sub-Net in 7 to 4, Universe in 3 to 0.
            let parts: Vec<u16> = run
                .first
                .port_address
                .split(':')
                .map(|n| n.parse().unwrap())
                .collect();
            assert_eq!(run.first.universe, parts[0] << 8 | parts[1] << 4 | parts[2]);
        }
    }
}
