//! Panels hang on feeds, feeds on supplies, supplies on circuits: what each may carry.

use crate::floor::model::Floor;
use crate::floor::tables::Tables;
use crate::units::{Amps, Draw};

/// Index of an element in [`Tree::elements`]: panels first, then feeds, supplies, circuits, so
/// that children come before their parents.
pub type ElementIndex = u32;

/// Floor of the tree.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Level {
    /// A panel.
    Panel,
    /// A fused branch.
    Feed,
    /// A power supply.
    Supply,
    /// A mains circuit.
    Circuit,
}

impl Level {
    /// From the panels up.
    pub const ALL: [Self; 4] = [Self::Panel, Self::Feed, Self::Supply, Self::Circuit];
}

/// One element.
#[derive(Debug, Clone, PartialEq)]
pub struct Element {
    /// Which floor of the tree it is on.
    pub level: Level,
    /// What it hangs on.
    pub parent: Option<ElementIndex>,
    /// The rating: nothing for a panel whose kind has none.
    pub rated_a: Option<Amps>,
    /// Rating × margin.
    pub limit: Draw,
    /// Whether the cap keeps the limit: not on a floor that is only watched.
    pub capped: bool,
    /// What it draws when all is dark.
    pub idle: Draw,
    /// How its current counts at its parent.
    pub to_parent: Ratio,
}

impl Element {
    /// What the cap lets its levels draw beyond idle.
    pub const fn room(&self) -> Draw {
        if self.capped {
            self.limit.less(self.idle)
        } else {
            Draw::UNLIMITED
        }
    }

    /// Whether even a dark floor passes the limit, so that no cap can keep it.
    pub fn impossible(&self) -> bool {
        self.idle > self.limit
    }
}

/// Amperes at a parent for one ampere at its child, as a count of 1/2³².
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ratio(u64);

impl Ratio {
    /// The same current.
    pub const ONE: Self = Self(1 << 32);

    /// `amps` amperes for one, rounded up.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped"
    )]
    pub fn new(amps: f64) -> Self {
        Self((amps.clamp(0.0, 1e6) * 4_294_967_296.0).ceil() as u64)
    }

    /// The current at the parent, rounded up.
    pub fn of(self, draw: Draw) -> Draw {
        if self == Self::ONE {
            return draw;
        }
        let parts = (u128::from(draw.0) * u128::from(self.0) + 0xFFFF_FFFF) >> 32;
        Draw(u64::try_from(parts).unwrap_or(u64::MAX))
    }
}

/// The whole tree.
#[derive(Debug, Clone)]
pub struct Tree {
    /// Panels, feeds, supplies, circuits.
    pub elements: Vec<Element>,
    panels: u32,
    feeds: u32,
    supplies: u32,
}

impl Tree {
    /// The tree of a floor, with every limit = rating × margin.
    #[expect(
        clippy::cast_possible_truncation,
        reason = "counts are checked by the reader"
    )]
    pub fn new(floor: &Floor, tables: &Tables) -> Self {
        let mut tree = Self {
            elements: Vec::new(),
            panels: floor.panels.len() as u32,
            feeds: floor.feeds.len() as u32,
            supplies: floor.supplies.len() as u32,
        };
        let margin = floor.cap.margin;
        let limit = |rated: Amps| Draw::limit(rated * margin);
        // Without nodes nothing is sent, so nothing can be held back either.
        let capped = !floor.nodes.is_empty();
        for (panel, row) in floor.panels.iter().zip(&tables.panels) {
            let rated_a = floor.panel_kinds[panel.kind].rated_a;
            tree.elements.push(Element {
                level: Level::Panel,
                parent: Some(tree.feed(row.feed as usize)),
                rated_a,
                limit: rated_a.map_or(Draw::UNLIMITED, limit),
                capped,
                idle: Draw::ZERO,
                to_parent: Ratio::ONE,
            });
        }
        for feed in &floor.feeds {
            tree.elements.push(Element {
                level: Level::Feed,
                parent: Some(tree.supply(feed.supply)),
                rated_a: Some(feed.fuse_a),
                limit: limit(feed.fuse_a),
                capped,
                idle: Draw::ZERO,
                to_parent: Ratio::ONE,
            });
        }
        for supply in &floor.supplies {
            let circuit = &floor.circuits[supply.circuit];
            tree.elements.push(Element {
                level: Level::Supply,
                parent: Some(tree.circuit(supply.circuit)),
                rated_a: Some(supply.rated_a),
                limit: limit(supply.rated_a),
                capped,
                idle: Draw::ZERO,
                to_parent: Ratio::new(supply.mains_per_output(circuit)),
            });
        }
        for circuit in &floor.circuits {
            tree.elements.push(Element {
                level: Level::Circuit,
                parent: None,
                rated_a: Some(circuit.rated_a),
                limit: limit(circuit.rated_a),
                capped,
                idle: Draw::ZERO,
                to_parent: Ratio::ONE,
            });
        }
        let idle = tree.carried(tables.panels.iter().map(|row| row.idle));
        for (element, idle) in tree.elements.iter_mut().zip(idle) {
            element.idle = idle;
        }
        tree
    }

    /// What every element carries when each panel draws so much, in the order of the floor's
    /// panels; rounded up at every ratio.
    pub fn carried(&self, panels: impl Iterator<Item = Draw>) -> Vec<Draw> {
        let mut carried: Vec<Draw> = panels.collect();
        carried.resize(self.elements.len(), Draw::ZERO);
        for (at, element) in self.elements.iter().enumerate() {
            if let Some(parent) = element.parent {
                let draw = element.to_parent.of(carried[at]);
                carried[parent as usize] += draw;
            }
        }
        carried
    }

    /// Element of a panel.
    #[expect(
        clippy::cast_possible_truncation,
        reason = "counts are checked by the reader"
    )]
    pub const fn panel(&self, panel: usize) -> ElementIndex {
        panel as u32
    }

    /// Element of a feed.
    #[expect(
        clippy::cast_possible_truncation,
        reason = "counts are checked by the reader"
    )]
    pub const fn feed(&self, feed: usize) -> ElementIndex {
        self.panels + feed as u32
    }

    /// Element of a supply.
    #[expect(
        clippy::cast_possible_truncation,
        reason = "counts are checked by the reader"
    )]
    pub const fn supply(&self, supply: usize) -> ElementIndex {
        self.panels + self.feeds + supply as u32
    }

    /// Element of a circuit.
    #[expect(
        clippy::cast_possible_truncation,
        reason = "counts are checked by the reader"
    )]
    pub const fn circuit(&self, circuit: usize) -> ElementIndex {
        self.panels + self.feeds + self.supplies + circuit as u32
    }

    /// An element and all that it hangs on, from below.
    pub fn path(&self, from: ElementIndex) -> impl Iterator<Item = ElementIndex> + '_ {
        std::iter::successors(Some(from), |&at| self.elements[at as usize].parent)
    }
}
