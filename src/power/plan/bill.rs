//! What must be there: data to carry, and things to buy and to solder.

use std::collections::BTreeSet;

use serde::Serialize;

use super::wire::size;
use crate::floor::Tables;
use crate::floor::model::{Cable, Fed, Floor, Panel, PanelKind};
use crate::units::count;

/// What the signal needs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Data {
    /// Panels on the floor.
    pub panels: usize,
    /// Pixels on them.
    pub pixels: usize,
    /// Slots of these pixels.
    pub slots: usize,
    /// Universes that the console sends.
    pub universes_in: usize,
    /// Universes that leave for the nodes.
    pub universes_out: usize,
    /// Outputs of nodes: runs.
    pub ports: usize,
    /// Controllers.
    pub nodes: usize,
}

impl Data {
    /// Of a floor.
    pub(super) fn of(floor: &Floor, tables: &Tables) -> Self {
        let slots = |panel: &Panel| {
            let kind = &floor.panel_kinds[panel.kind];
            kind.pixels_mm.len() * floor.pixel_kinds[kind.pixel_kind].slots.len()
        };
        Self {
            panels: floor.panels.len(),
            pixels: tables.pixels_mm.len(),
            slots: floor.panels.iter().map(slots).sum(),
            universes_in: tables.universes.len(),
            universes_out: tables.outputs.len(),
            ports: floor.runs.len(),
            nodes: floor.nodes.len(),
        }
    }
}

/// One line of the bill.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Item {
    /// What it is.
    pub what: String,
    /// How much of it.
    pub amount: f64,
    /// `pieces` or `m`.
    pub unit: &'static str,
}

const PIECES: &str = "pieces";
const METRES: &str = "m";

/// Everything, in the order in which it is told; `next_fuses` are those that the plan would take.
pub(super) fn bill(floor: &Floor, next_fuses: impl Iterator<Item = f64>) -> Vec<Item> {
    let mut bill = Bill::default();
    for (at, kind) in floor.panel_kinds.iter().enumerate() {
        let panels = floor.panels.iter().filter(|panel| panel.kind == at).count();
        let panels = count(panels);
        bill.add(format!("panels, {}", kind.name), panels, PIECES);
        let pixel = &floor.pixel_kinds[kind.pixel_kind].name;
        bill.add(
            format!("pixels, {pixel}"),
            panels * count(kind.pixels_mm.len()),
            PIECES,
        );
        if let Some(strip_m) = strip_m(kind) {
            bill.add(format!("strip, {pixel}"), panels * strip_m, METRES);
        }
        let joints = count(kind.segments.len().saturating_sub(1));
        bill.add(
            "solder joints between segments".to_owned(),
            panels * joints,
            PIECES,
        );
        bill.add(
            "places where power is soldered on".to_owned(),
            panels * entries(kind),
            PIECES,
        );
        bill.add(
            "microswitches".to_owned(),
            panels * f64::from(kind.switches),
            PIECES,
        );
        if let Some(tail) = &kind.tail {
            bill.cable(tail, panels);
        }
    }
    for feed in &floor.feeds {
        for cable in [feed.cable, feed.far_cable].into_iter().flatten() {
            bill.cable(&cable, 1.0);
        }
        if let Some(link) = &feed.link {
            bill.cable(link, count(feed.panels.len().saturating_sub(1)));
        }
    }
    for feed in &floor.feeds {
        bill.add(
            format!("fuses in the file, {} A", feed.fuse_a.0),
            1.0,
            PIECES,
        );
    }
    for fuse_a in next_fuses {
        bill.add(format!("fuses by this plan, {fuse_a} A"), 1.0, PIECES);
    }
    for supply in &floor.supplies {
        let what = format!("supplies, {} V {} A", supply.volts.0, supply.rated_a.0);
        bill.add(what, 1.0, PIECES);
    }
    bill.add("nodes".to_owned(), count(floor.nodes.len()), PIECES);
    bill.add("node ports".to_owned(), count(floor.runs.len()), PIECES);
    for circuit in &floor.circuits {
        let what = format!("circuits, {} V {} A", circuit.volts.0, circuit.rated_a.0);
        bill.add(what, 1.0, PIECES);
    }
    bill.sorted()
}

/// Lines by what they are, each once.
#[derive(Default)]
struct Bill(Vec<Item>);

impl Bill {
    fn add(&mut self, what: String, amount: f64, unit: &'static str) {
        if amount <= 0.0 {
            return;
        }
        match self.0.iter_mut().find(|item| item.what == what) {
            Some(item) => item.amount += amount,
            None => self.0.push(Item { what, amount, unit }),
        }
    }

    fn cable(&mut self, cable: &Cable, pieces: f64) {
        let what = format!("two-core cable, {}", size(cable.conductor));
        self.add(what, cable.length_m * pieces, METRES);
    }

    /// What is alike stands together, in the order of the first of its sort.
    fn sorted(self) -> Vec<Item> {
        let sort = |item: &Item| item.what.split(',').next().unwrap_or_default().to_owned();
        let mut sorts: Vec<String> = Vec::new();
        let mut seen = BTreeSet::new();
        for item in &self.0 {
            if seen.insert(sort(item)) {
                sorts.push(sort(item));
            }
        }
        let mut items = self.0;
        items.sort_by_key(|item| sorts.iter().position(|of| *of == sort(item)));
        items
    }
}

/// Strip in one panel: its pixels at the pitch of the strip. Without one in the file, the mean
/// distance of neighbours within a segment is taken; nothing if there are none.
fn strip_m(kind: &PanelKind) -> Option<f64> {
    let pitch_mm = kind.strip.as_ref().and_then(|strip| strip.pitch_mm);
    let pitch_mm = pitch_mm.or_else(|| {
        let mut firsts = BTreeSet::new();
        let mut first = 0;
        for pixels in &kind.segments {
            firsts.insert(first);
            first += *pixels as usize;
        }
        let pairs = kind.pixels_mm.windows(2).enumerate();
        let within = pairs.filter(|(at, _)| !firsts.contains(&(at + 1)));
        let distances: Vec<f64> = within
            .map(|(_, pair)| (pair[1][0] - pair[0][0]).hypot(pair[1][1] - pair[0][1]))
            .collect();
        let all: f64 = distances.iter().sum();
        (!distances.is_empty()).then(|| all / count(distances.len()))
    });
    pitch_mm.map(|pitch_mm| pitch_mm * count(kind.pixels_mm.len()) / 1_000.0)
}

/// Places where power is soldered onto the strip.
fn entries(kind: &PanelKind) -> f64 {
    match kind.strip.as_ref().map(|strip| &strip.fed) {
        None | Some(Fed::Start | Fed::End) => 1.0,
        Some(Fed::Both) => 2.0,
        Some(Fed::Pixels(pixels)) => count(pixels.len()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::floor::model::{Conductor, Strip};
    use crate::floor::testing;

    fn amount(floor: &Floor, what: &str) -> Option<f64> {
        let items = bill(floor, [10.0, 5.0].into_iter());
        items
            .iter()
            .find(|item| item.what == what)
            .map(|item| item.amount)
    }

    /// Counted by hand from the picture at the head of `floor/testing.rs`.
    #[test]
    fn what_to_buy_was_counted_by_hand() {
        let mut floor = testing::floor();
        let conductor = Conductor::Mm2(2.5);
        floor.feeds[0].cable = Some(Cable {
            length_m: 5.0,
            conductor,
        });
        floor.feeds[0].link = Some(Cable {
            length_m: 0.5,
            conductor,
        });
        floor.panel_kinds[0].tail = Some(Cable {
            length_m: 0.25,
            conductor,
        });
        floor.panel_kinds[1].strip = Some(Strip {
            ohm_per_m: 0.1,
            pitch_mm: Some(50.0),
            fed: Fed::Both,
        });
        for (what, expected) in [
            ("panels, square", 2.0),
            ("panels, pair", 1.0),
            ("pixels, group of three", 8.0),
            // Three neighbours 200 mm apart, so four pixels of 0.2 m a panel.
            ("strip, group of three", 1.6),
            ("strip, fine", 0.1),
            ("solder joints between segments", 2.0),
            ("places where power is soldered on", 4.0),
            ("microswitches", 8.0),
            // 5 + 0.5 + 2 · 0.25 m.
            ("two-core cable, 2.5 mm²", 6.0),
            ("fuses in the file, 10 A", 2.0),
            ("fuses by this plan, 5 A", 1.0),
            ("supplies, 12 V 50 A", 1.0),
            ("nodes", 2.0),
            ("node ports", 2.0),
            ("circuits, 230 V 16 A", 1.0),
        ] {
            let found = amount(&floor, what);
            assert!(
                found.is_some_and(|a| (a - expected).abs() < 1e-12),
                "{what}: {found:?}"
            );
        }
    }

    #[test]
    fn data_was_counted_by_hand() {
        let floor = testing::floor();
        let told = Data::of(&floor, &Tables::compile(&floor));
        let counted = Data {
            panels: 3,
            pixels: 10,
            slots: 40,
            universes_in: 3,
            universes_out: 3,
            ports: 2,
            nodes: 2,
        };
        assert_eq!(told, counted);
    }
}
