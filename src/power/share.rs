//! One outgoing universe's share in the tree: which elements it touches, and with how much.

use super::draw::{self, Scale};
use super::frame::Draws;
use super::held::{Content, Held};
use super::room::{Own, Rooms};
use super::scale::Factors;
use super::tree::{ElementIndex, Level, Tree};
use crate::floor::model::Delivery;
use crate::floor::tables::{OutUniverse, Tables, UNIVERSE_SLOTS};
use crate::units::{Draw, Time};

/// Where an element stands in [`Share::touched`].
type Local = usize;

/// One outgoing universe's share in the tree.
#[derive(Debug, Clone)]
pub(super) struct Share {
    /// Elements that its panels hang on, ascending: children before their parents.
    pub(super) touched: Vec<ElementIndex>,
    /// The parent of each, as an index into `touched`.
    up: Vec<Option<Local>>,
    /// The panel of each part, as an index into `touched`.
    part_panel: Vec<Local>,
    /// The same for each stretch of unused pixels.
    unused_panel: Vec<Local>,
    /// What the newest picture asks of each element, nothing dimmed.
    pub(super) asked: Draws,
    /// What the newest frame that was sent draws.
    pub(super) sent: Draws,
    /// The most that any picture still in the reckoning asks of each element, with the aims of
    /// the elements below it applied.
    pub(super) peak: Draws,
    /// The same for the newest picture alone.
    pub(super) newest: Draws,
    /// What its node may be showing.
    pub(super) held: Held,
    /// What each part's levels were last multiplied with.
    pub(super) factors: Vec<Scale>,
    /// Whether its last frame was held back for want of headroom.
    pub(super) waiting: bool,
    scratch: Draws,
    allowed: Vec<Scale>,
}

impl Share {
    /// The share of `universe`, whose node may be showing anything yet.
    pub(super) fn new(
        universe: &OutUniverse,
        tables: &Tables,
        tree: &Tree,
        now: Time,
        rules: Delivery,
    ) -> Self {
        let lit = universe.parts.iter().map(|part| part.panel);
        let dark = universe.unused.iter().map(|unused| unused.panel);
        let mut touched: Vec<ElementIndex> = (lit.clone().chain(dark.clone()))
            .flat_map(|panel| tree.path(tree.panel(panel as usize)))
            .collect();
        touched.sort_unstable();
        touched.dedup();
        let local = |element: ElementIndex| touched.binary_search(&element).unwrap_or_default();
        let up = touched
            .iter()
            .map(|&element| tree.elements[element as usize].parent.map(local))
            .collect();
        let local_panel = |panel: u32| local(tree.panel(panel as usize));
        let part_panel = lit.map(local_panel).collect();
        let unused_panel = dark.map(local_panel).collect();
        let none = Draws::from_elem(Draw::ZERO, touched.len());
        let mut share = Self {
            up,
            factors: vec![Scale::ONE; universe.parts.len()],
            part_panel,
            unused_panel,
            asked: none.clone(),
            sent: none.clone(),
            peak: none.clone(),
            newest: none.clone(),
            held: Held::new(&none, now, rules),
            waiting: false,
            scratch: none,
            allowed: vec![Scale::ONE; touched.len()],
            touched,
        };
        let full = share.draws(universe, tables, tree, &[255; UNIVERSE_SLOTS]);
        share.held = Held::new(&full, now, rules);
        share
    }

    /// What may be on show of the same universe of the same node under the floor `before`.
    /// `shorter` is how many slots its frames had, if they had fewer.
    pub(super) fn carried(
        &mut self,
        before: &Held,
        shorter: Option<usize>,
        rules: Delivery,
        (universe, tables, tree): (&OutUniverse, &Tables, &Tree),
    ) -> Held {
        Held::carried(before, rules, shorter, |slots| {
            self.draws(universe, tables, tree, slots)
        })
    }

    /// What slots that left draw, for each element that is touched. Frames of this floor leave
    /// unused pixels dark; those of another, or of before the start, may not.
    fn draws(
        &mut self,
        universe: &OutUniverse,
        tables: &Tables,
        tree: &Tree,
        slots: &Content,
    ) -> Vec<Draw> {
        let draw = |pattern: u16, phase: u16, from: u16, len: u16| {
            let slots = &slots[usize::from(from)..][..usize::from(len)];
            draw::sum(phase, &tables.patterns[usize::from(pattern)], slots)
        };
        self.scratch.fill(Draw::ZERO);
        for (part, &panel) in universe.parts.iter().zip(&self.part_panel) {
            self.scratch[panel] += draw(part.pattern, part.phase, part.dst, part.len);
        }
        for (unused, &panel) in universe.unused.iter().zip(&self.unused_panel) {
            self.scratch[panel] += draw(unused.pattern, unused.phase, unused.dst, unused.len);
        }
        self.sum_scratch_up(tree);
        self.scratch.to_vec()
    }

    /// Sums the parts' draws up the tree into `scratch`.
    fn sum_parts(&mut self, tree: &Tree, draw_of_part: impl Fn(usize) -> Draw) {
        self.scratch.fill(Draw::ZERO);
        for (at, &panel) in self.part_panel.iter().enumerate() {
            self.scratch[panel] += draw_of_part(at);
        }
        self.sum_scratch_up(tree);
    }

    fn sum_scratch_up(&mut self, tree: &Tree) {
        sum_up(tree, &self.touched, &self.up, &mut self.scratch, |_| {
            Scale::ONE
        });
    }

    /// Takes in what the newest picture asks.
    pub(super) fn ask(
        &mut self,
        universe: &OutUniverse,
        tables: &Tables,
        tree: &Tree,
        arrived: &[u8],
    ) {
        self.sum_parts(tree, |at| {
            let part = &universe.parts[at];
            draw::asked(part, &tables.patterns[usize::from(part.pattern)], arrived)
        });
        self.asked.copy_from_slice(&self.scratch);
    }

    /// Sums the exact draws of a frame's parts up the tree.
    pub(super) fn sum_sent(&mut self, tree: &Tree, draws: &[Draw]) -> &[Draw] {
        self.sum_parts(tree, |at| draws[at]);
        &self.scratch
    }

    /// Whether the frame summed last by [`Self::sum_sent`] keeps every limit.
    pub(super) fn fits(&self, rooms: &Rooms<'_>) -> bool {
        self.touched.iter().enumerate().all(|(at, &element)| {
            let own = Own {
                most: self.held.most()[at],
                sent: self.sent[at],
            };
            self.scratch[at] <= rooms.of(element, own)
        })
    }

    /// Whether the picture keeps every limit as it is asked for, with its fair part of every rise.
    fn asked_fits(&self, rooms: &Rooms<'_>) -> bool {
        self.touched.iter().enumerate().all(|(at, &element)| {
            let own = Own {
                most: self.held.most()[at],
                sent: self.sent[at],
            };
            self.asked[at] <= rooms.fair(element, own, self.asked[at])
        })
    }

    /// The picture leaves as it is asked for: its draw is known.
    pub(super) fn sent_is_asked(&mut self) {
        self.scratch.copy_from_slice(&self.asked);
    }

    /// Notes that the frame summed last by [`Self::sum_sent`] leaves.
    pub(super) fn push(&mut self, now: Time, content: &Content) {
        self.sent.copy_from_slice(&self.scratch);
        self.held.push(now, &self.scratch, &self.asked, content);
    }

    /// Computes [`Self::peak`] and [`Self::newest`] afresh.
    pub(super) fn find_peaks(&mut self, with: &Factors<'_>) {
        self.peak.fill(Draw::ZERO);
        let Self {
            touched,
            up,
            asked,
            peak,
            newest,
            held,
            scratch,
            ..
        } = self;
        for frame in held.asked().chain(std::iter::once(&**asked)) {
            scratch.copy_from_slice(frame);
            for (draw, &element) in scratch.iter_mut().zip(touched.iter()) {
                if with.tree.elements[element as usize].level != Level::Panel {
                    *draw = Draw::ZERO;
                }
            }
            sum_up(with.tree, touched, up, scratch, |element| with.aim(element));
            for (peak, &draw) in peak.iter_mut().zip(scratch.iter()) {
                *peak = draw.max(*peak);
            }
        }
        // The newest picture was the last of them.
        newest.copy_from_slice(scratch);
    }

    /// Finds the factor of each part: the scales of its path times what the
    /// headroom at every element of it allows. Says whether headroom was short.
    pub(super) fn find_factors(&mut self, with: &Factors<'_>, rooms: &Rooms<'_>) -> bool {
        // What the picture would draw with the scales of the whole path.
        if with.are_one() && self.asked_fits(rooms) {
            self.factors.fill(Scale::ONE);
            return false;
        }
        let Self {
            touched,
            up,
            asked,
            sent,
            held,
            scratch,
            part_panel,
            allowed,
            factors,
            ..
        } = self;
        scratch.fill(Draw::ZERO);
        for (at, &element) in touched.iter().enumerate() {
            if with.tree.elements[element as usize].level == Level::Panel {
                scratch[at] = with.along(element).of(asked[at]);
            }
        }
        sum_up(with.tree, touched, up, scratch, |_| Scale::ONE);
        let mut short = false;
        let most = held.most();
        factors.clear();
        // From the top down, so that a parent's allowance is known before its children's.
        allowed.fill(Scale::ONE);
        for at in (0..touched.len()).rev() {
            let wanted = scratch[at];
            let own = Own {
                most: most[at],
                sent: sent[at],
            };
            let own = Scale::to_fit(wanted, rooms.fair(touched[at], own, wanted));
            short |= own < Scale::ONE;
            let above = up[at].map_or(Scale::ONE, |parent| allowed[parent]);
            allowed[at] = own.min(above);
        }
        factors.extend(
            part_panel
                .iter()
                .map(|&panel| with.along(touched[panel]).then(allowed[panel])),
        );
        short
    }
}

/// Adds every element's draw, times its factor, to its parent.
fn sum_up(
    tree: &Tree,
    touched: &[ElementIndex],
    up: &[Option<Local>],
    draws: &mut [Draw],
    factor: impl Fn(ElementIndex) -> Scale,
) {
    for at in 0..touched.len() {
        let Some(parent) = up[at] else { continue };
        let ratio = tree.elements[touched[at] as usize].to_parent;
        draws[parent] += ratio.of(factor(touched[at]).of(draws[at]));
    }
}
