//! Panels hang on feeds, feeds on supplies, supplies on circuits, circuits on the floor: what each
//! may carry.
//!
//! The floor as a whole counts in kilovolt-amperes where all below count in amperes, because what
//! circuits take at their volts would run over the exact sums in volt-amperes.

use crate::floor::model::Floor;
use crate::floor::tables::Tables;
use crate::units::{Amps, Draw};

/// Index of an element in [`Tree::elements`]: panels first, then feeds, supplies, circuits and the
/// floor, so that children come before their parents.
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
    /// The floor as a whole, in kilovolt-amperes of mains.
    Floor,
}

impl Level {
    /// From the panels up.
    pub const ALL: [Self; 5] = [
        Self::Panel,
        Self::Feed,
        Self::Supply,
        Self::Circuit,
        Self::Floor,
    ];
}

/// One element.
#[derive(Debug, Clone, PartialEq)]
pub struct Element {
    /// Which floor of the tree it is on.
    pub level: Level,
    /// What it hangs on.
    pub parent: Option<ElementIndex>,
    /// The rating: nothing for a panel whose kind has none, and for a floor without one.
    pub rated_a: Option<Amps>,
    /// Rating × margin.
    pub limit: Draw,
    /// A limit that someone sets while it runs; it can lower the other, never raise it.
    pub live: Option<Draw>,
    /// What it may carry above its limit now, for a short time.
    pub extra: Draw,
    /// Whether the cap keeps the limit: not on a floor that is only watched.
    pub capped: bool,
    /// What it draws when all is dark.
    pub idle: Draw,
    /// How its current counts at its parent.
    pub to_parent: Ratio,
}

impl Element {
    /// What must not be passed for longer than a peak: the lower of both limits.
    pub fn kept(&self) -> Draw {
        self.live.map_or(self.limit, |live| live.min(self.limit))
    }

    /// What the cap lets its levels draw beyond idle now.
    pub fn room(&self) -> Draw {
        if !self.capped {
            return Draw::UNLIMITED;
        }
        let limit = self.limit + self.extra;
        self.live
            .map_or(limit, |live| live.min(limit))
            .less(self.idle)
    }

    /// The same without what it may carry only for a short time.
    pub fn lasting_room(&self) -> Draw {
        if self.capped {
            self.kept().less(self.idle)
        } else {
            Draw::UNLIMITED
        }
    }

    /// Whether even a dark floor passes the limit, so that no cap can keep it.
    pub fn impossible(&self) -> bool {
        self.idle > self.kept()
    }
}

/// Kilovolt-amperes, what the floor as a whole counts in, for one volt-ampere.
pub const KILO: f64 = 1e-3;

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
    /// Panels, feeds, supplies, circuits, the floor.
    pub elements: Vec<Element>,
    panels: u32,
    feeds: u32,
    supplies: u32,
    circuits: u32,
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
            circuits: floor.circuits.len() as u32,
        };
        let margin = floor.cap.margin;
        let limit = |rated: Amps| Draw::limit(rated * margin);
        // Without nodes nothing is sent, so nothing can be held back either.
        let capped = !floor.nodes.is_empty();
        let element = |level, parent, rated_a: Option<Amps>, to_parent| Element {
            level,
            parent,
            rated_a,
            limit: rated_a.map_or(Draw::UNLIMITED, limit),
            live: None,
            extra: Draw::ZERO,
            capped,
            idle: Draw::ZERO,
            to_parent,
        };
        for (panel, row) in floor.panels.iter().zip(&tables.panels) {
            let parent = Some(tree.feed(row.feed as usize));
            let rated_a = floor.panel_kinds[panel.kind].rated_a;
            let panel = element(Level::Panel, parent, rated_a, Ratio::ONE);
            tree.elements.push(panel);
        }
        for feed in &floor.feeds {
            let parent = Some(tree.supply(feed.supply));
            let feed = element(Level::Feed, parent, Some(feed.fuse_a), Ratio::ONE);
            tree.elements.push(feed);
        }
        for supply in &floor.supplies {
            let parent = Some(tree.circuit(supply.circuit));
            let mains = Ratio::new(supply.mains_per_output(&floor.circuits[supply.circuit]));
            let supply = element(Level::Supply, parent, Some(supply.rated_a), mains);
            tree.elements.push(supply);
        }
        for circuit in &floor.circuits {
            let parent = Some(tree.floor());
            let power = Ratio::new(circuit.volts.0 * KILO);
            let circuit = element(Level::Circuit, parent, Some(circuit.rated_a), power);
            tree.elements.push(circuit);
        }
        let rated = floor.cap.floor_va.map(|va| Amps(va * KILO));
        tree.elements
            .push(element(Level::Floor, None, rated, Ratio::ONE));
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

    /// Element of the floor as a whole.
    pub const fn floor(&self) -> ElementIndex {
        self.panels + self.feeds + self.supplies + self.circuits
    }

    /// An element and all that it hangs on, from below.
    pub fn path(&self, from: ElementIndex) -> impl Iterator<Item = ElementIndex> + '_ {
        std::iter::successors(Some(from), |&at| self.elements[at as usize].parent)
    }
}
