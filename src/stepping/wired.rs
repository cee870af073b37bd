//! What a floor that is wired in some way shows when it gets the slots of the plan.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use crate::floor::Floor;
use crate::floor::model::{Byte, Colour};
use crate::floor::tables::{Tables, UNIVERSE_SLOTS};
use crate::pattern::{Light, Show, Start};

/// A slot that is not at zero: its node, the number of its Port-Address, and 0 to 511.
pub(super) type Sent = (Option<usize>, u16, u16);

/// The slots that an order sets, by the planned patch. `outputs` are the universes to look at.
pub(super) fn sent(
    start: &Start,
    floor: &Floor,
    tables: &Tables,
    outputs: &[usize],
) -> Option<Vec<Sent>> {
    let show = Show::new(start, floor, tables).ok()?;
    let lit = show.lit(0);
    let mut all = Vec::new();
    for &out in outputs {
        let mut slots = [0_u8; UNIVERSE_SLOTS];
        show.paint(tables, &lit, 0, out, &mut slots);
        let of = &tables.outputs[out];
        let lit = (0_u16..).zip(slots).filter(|(_, level)| *level > 0);
        let node = of.node.map(|node| node as usize);
        all.extend(lit.map(|(slot, _)| (node, of.port_address.number(), slot)));
    }
    Some(all)
}

/// Where a light is: the panel in whose position, and tenths of millimetres on the floor.
pub(super) type Place = (usize, i64, i64);

/// What lights: each place with its colours.
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(super) struct Sight(pub(super) BTreeMap<Place, Shade>);

/// Which of red, green, blue and white are lit, as bits 1, 2, 4 and 8.
pub(super) type Shade = u8;

/// What people call it. White of its own outshines the rest.
pub(super) const fn light(shade: Shade) -> Light {
    match shade {
        1 => Light::Red,
        2 => Light::Green,
        4 => Light::Blue,
        3 => Light::Yellow,
        5 => Light::Magenta,
        6 => Light::Cyan,
        _ => Light::White,
    }
}

impl Sight {
    /// The panels in which something lights.
    pub(super) fn panels(&self) -> BTreeSet<usize> {
        self.0.keys().map(|(panel, ..)| *panel).collect()
    }

    /// The panels with the most lit pixels; several if as many.
    pub(super) fn brightest(&self) -> Vec<usize> {
        let mut counts: BTreeMap<usize, usize> = BTreeMap::new();
        for (panel, ..) in self.0.keys() {
            *counts.entry(*panel).or_default() += 1;
        }
        let most = counts.values().copied().max();
        let found = counts.into_iter().filter(|(_, count)| Some(*count) == most);
        found.map(|(panel, _)| panel).collect()
    }

    /// The colours that most lit pixels of the brightest panels have; several if as many.
    pub(super) fn colours(&self) -> Vec<Light> {
        let brightest = self.brightest();
        let mut counts: Vec<(Light, usize)> = Vec::new();
        for ((panel, ..), shade) in &self.0 {
            if !brightest.contains(panel) {
                continue;
            }
            let colour = light(*shade);
            match counts.iter_mut().find(|(have, _)| *have == colour) {
                Some((_, count)) => *count += 1,
                None => counts.push((colour, 1)),
            }
        }
        let most = counts.iter().map(|(_, count)| *count).max();
        let found = counts.into_iter().filter(|(_, count)| Some(*count) == most);
        found.map(|(colour, _)| colour).collect()
    }
}

/// The slots of a panel in one universe.
#[derive(Debug, Clone, Copy)]
struct Stretch {
    node: Option<usize>,
    universe: u16,
    first: u16,
    last: u16,
    panel: usize,
    /// Slots of the panel before it.
    offset: usize,
}

/// A floor as it may be wired, ready to be looked at.
#[derive(Debug, Clone)]
pub(super) struct Wired {
    pub(super) floor: Floor,
    /// Panels that stay dark, by their position.
    pub(super) dark: BTreeSet<usize>,
    stretches: Vec<Stretch>,
}

impl Wired {
    /// Lays out its slots; nothing if two panels would share some.
    pub(super) fn new(floor: Floor, dark: BTreeSet<usize>) -> Option<Self> {
        let mut stretches = Vec::new();
        for (panel, spans) in floor.all_spans().into_iter().enumerate() {
            let node = floor.runs[floor.panels[panel].run].node;
            let mut offset = 0;
            for span in spans {
                stretches.push(Stretch {
                    node,
                    universe: span.port_address.number(),
                    first: span.first_slot - 1,
                    last: span.last_slot - 1,
                    panel,
                    offset,
                });
                offset += usize::from(span.last_slot - span.first_slot) + 1;
            }
        }
        stretches.sort_unstable_by_key(|s| (s.node, s.universe, s.first));
        let apart = stretches.windows(2).all(|pair| {
            (pair[0].node, pair[0].universe) != (pair[1].node, pair[1].universe)
                || pair[0].last < pair[1].first
        });
        apart.then_some(Self {
            floor,
            dark,
            stretches,
        })
    }

    fn stretch(&self, (node, universe, slot): Sent) -> Option<Stretch> {
        let after = self
            .stretches
            .partition_point(|s| (s.node, s.universe, s.first) <= (node, universe, slot));
        let found = self.stretches[after.checked_sub(1)?];
        let inside = (found.node, found.universe) == (node, universe) && slot <= found.last;
        inside.then_some(found)
    }

    /// The panel that most of the slots drive, whether it is dark or not.
    pub(super) fn owner(&self, sent: &[Sent]) -> Option<usize> {
        let mut counts: BTreeMap<usize, usize> = BTreeMap::new();
        for slot in sent {
            if let Some(stretch) = self.stretch(*slot) {
                *counts.entry(stretch.panel).or_default() += 1;
            }
        }
        let most = counts.into_iter().max_by_key(|(_, count)| *count);
        most.map(|(panel, _)| panel)
    }

    /// What lights.
    pub(super) fn see(&self, sent: &[Sent]) -> Sight {
        let mut sight = Sight::default();
        let mut places: HashMap<usize, Vec<(i64, i64)>> = HashMap::new();
        for slot in sent {
            let Some(stretch) = self.stretch(*slot) else {
                continue;
            };
            let panel = stretch.panel;
            if self.dark.contains(&panel) {
                continue;
            }
            let kind = &self.floor.panel_kinds[self.floor.panels[panel].kind];
            let roles = &self.floor.pixel_kinds[kind.pixel_kind].slots;
            let at = stretch.offset + usize::from(slot.2 - stretch.first);
            let role = roles[at % roles.len()];
            if matches!(role.byte, Byte::Fine { .. }) {
                continue;
            }
            let places = places.entry(panel).or_insert_with(|| self.places(panel));
            let (x, y) = places[at / roles.len()];
            *sight.0.entry((panel, x, y)).or_default() |= bit(role.colour);
        }
        sight
    }

    /// Where the pixels of a panel are, in tenths of millimetres on the floor.
    pub(super) fn places(&self, panel: usize) -> Vec<(i64, i64)> {
        let pixels = self.floor.panel_pixels_mm(panel);
        pixels.map(|[x, y]| (tenths(x), tenths(y))).collect()
    }
}

const fn bit(colour: Colour) -> Shade {
    match colour {
        Colour::Red => 1,
        Colour::Green => 2,
        Colour::Blue => 4,
        Colour::White => 8,
    }
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "a floor has less than 2^60 mm"
)]
pub(super) fn tenths(mm: f64) -> i64 {
    (mm * 10.0).round() as i64
}
