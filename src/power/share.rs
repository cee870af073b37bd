//! One outgoing universe's share in the tree: which elements it touches, and with how much.

use smallvec::SmallVec;

use super::draw::{self, Scale};
use super::frame::Draws;
use super::held::{Content, Held};
use super::room::{Own, Rooms};
use super::scale::Factors;
use super::tree::{ElementIndex, Level, Tree};
use crate::floor::model::Delivery;
use crate::floor::tables::{OutUniverse, Part, Tables, UNIVERSE_SLOTS};
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
    /// Slots that no part writes, from and to: they stay dark.
    pub(super) gaps: Gaps,
    /// What each part's levels were last multiplied with.
    pub(super) factors: Vec<Scale>,
    /// Whether its last frame was held back for want of headroom.
    pub(super) waiting: bool,
    /// Whether any of `factors` was less than one.
    dimmed: bool,
}

/// Room for what is reckoned of one universe after the other.
#[derive(Debug, Default)]
pub(super) struct Scratch {
    /// For each element that is touched.
    draws: Vec<Draw>,
    /// What the headroom allows of it.
    allowed: Vec<Scale>,
}

impl Scratch {
    /// Begins with nothing for so many elements.
    fn dark(&mut self, elements: usize) -> &mut [Draw] {
        self.draws.clear();
        self.draws.resize(elements, Draw::ZERO);
        &mut self.draws
    }

    /// Room for as much as any of `shares` needs.
    pub(super) fn for_all(shares: &[Share]) -> Self {
        let most = shares.iter().map(|share| share.touched.len()).max();
        let most = most.unwrap_or(0);
        Self {
            draws: Vec::with_capacity(most),
            allowed: Vec::with_capacity(most),
        }
    }
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
            gaps: gaps(universe),
            factors: vec![Scale::ONE; universe.parts.len()],
            part_panel,
            unused_panel,
            asked: none.clone(),
            sent: none.clone(),
            peak: none.clone(),
            newest: none.clone(),
            held: Held::new(&none, now, rules),
            waiting: false,
            dimmed: false,
            touched,
        };
        let full = share.draws(universe, tables, tree, &[255; UNIVERSE_SLOTS]);
        share.held = Held::new(&full, now, rules);
        share
    }

    /// What may be on show of the same universe of the same node under the floor `before`.
    /// `shorter` is how many slots its frames had, if they had fewer.
    pub(super) fn carried(
        &self,
        before: Held,
        shorter: Option<u16>,
        rules: Delivery,
        (universe, tables, tree): (&OutUniverse, &Tables, &Tree),
    ) -> Held {
        Held::carried(before, rules, shorter, |slots| {
            self.draws(universe, tables, tree, slots)
        })
    }

    /// Gives what its node may be showing away, for another floor to reckon with.
    pub(super) fn take_held(&mut self) -> Held {
        let nothing = Held::new(&[], Time::default(), self.held.rules());
        std::mem::replace(&mut self.held, nothing)
    }

    /// Whether the slots of a universe of the floor `before` hang on the same elements in the same way.
    /// `same` gives the element of that floor for each of this one.
    pub(super) fn is_wired_like(
        &self,
        (universe, tables, tree): (&OutUniverse, &Tables, &Tree),
        before: &Self,
        (universe_before, tables_before, tree_before): (&OutUniverse, &Tables, &Tree),
        same: &[Option<ElementIndex>],
    ) -> bool {
        let alike = |here: u16, there: u16| {
            tables.patterns[usize::from(here)].slots
                == tables_before.patterns[usize::from(there)].slots
        };
        let parts = universe.parts.iter().zip(&universe_before.parts);
        let unused = universe.unused.iter().zip(&universe_before.unused);
        let elements = self.touched.iter().zip(&before.touched);
        self.touched.len() == before.touched.len()
            && universe.parts.len() == universe_before.parts.len()
            && universe.unused.len() == universe_before.unused.len()
            && universe.slots == universe_before.slots
            && self.up == before.up
            && self.part_panel == before.part_panel
            && self.unused_panel == before.unused_panel
            && elements.into_iter().all(|(&here, &there)| {
                same[here as usize] == Some(there)
                    && tree.elements[here as usize].to_parent
                        == tree_before.elements[there as usize].to_parent
            })
            && parts.into_iter().all(|(here, there)| {
                (here.phase, here.dst, here.len) == (there.phase, there.dst, there.len)
                    && alike(here.pattern, there.pattern)
            })
            && unused.into_iter().all(|(here, there)| {
                (here.phase, here.dst, here.len) == (there.phase, there.dst, there.len)
                    && alike(here.pattern, there.pattern)
            })
    }

    /// What slots that left draw, for each element that is touched. Frames of this floor leave
    /// unused pixels dark; those of another, or of before the start, may not.
    fn draws(
        &self,
        universe: &OutUniverse,
        tables: &Tables,
        tree: &Tree,
        slots: &Content,
    ) -> Vec<Draw> {
        let draw = |pattern: u16, phase: u16, from: u16, len: u16| {
            let slots = &slots[usize::from(from)..][..usize::from(len)];
            draw::sum(phase, &tables.patterns[usize::from(pattern)], slots)
        };
        let mut draws = vec![Draw::ZERO; self.touched.len()];
        for (part, &panel) in universe.parts.iter().zip(&self.part_panel) {
            draws[panel] += draw(part.pattern, part.phase, part.dst, part.len);
        }
        for (unused, &panel) in universe.unused.iter().zip(&self.unused_panel) {
            draws[panel] += draw(unused.pattern, unused.phase, unused.dst, unused.len);
        }
        sum_up(tree, &self.touched, &self.up, &mut draws, |_| Scale::ONE);
        draws
    }

    /// Reads what is needed to take another frame.
    pub(super) fn near(&self, tree: &Tree) -> u64 {
        let draws = [&self.asked, &self.sent, &self.peak, &self.newest];
        let draws = draws.map(|draws| draws.first().map_or(0, |draw| draw.0));
        let places = [
            self.part_panel.first(),
            self.up.first().and_then(Option::as_ref),
        ];
        let places = places.map(|place| place.map_or(0, |&place| place as u64));
        let elements = self.touched.iter();
        let elements = elements.fold(0, |sum, &at| sum ^ tree.elements[at as usize].limit.0);
        let sums = draws.into_iter().chain(places);
        sums.fold(elements, |sum, part| sum ^ part) ^ u64::from(self.held.near())
    }

    /// Takes in what the newest picture asks.
    pub(super) fn ask(
        &mut self,
        universe: &OutUniverse,
        tables: &Tables,
        tree: &Tree,
        arrived: &[u8],
    ) {
        let asked = &mut *self.asked;
        asked.fill(Draw::ZERO);
        for (part, &panel) in universe.parts.iter().zip(&self.part_panel) {
            let pattern = &tables.patterns[usize::from(part.pattern)];
            asked[panel] += draw::asked(part, pattern, arrived);
        }
        sum_up(tree, &self.touched, &self.up, asked, |_| Scale::ONE);
    }

    /// Sums the exact draws of a frame's parts up the tree.
    pub(super) fn sum_sent(&self, tree: &Tree, of_parts: &[Draw], scratch: &mut Scratch) {
        let draws = scratch.dark(self.touched.len());
        for (&draw, &panel) in of_parts.iter().zip(&self.part_panel) {
            draws[panel] += draw;
        }
        sum_up(tree, &self.touched, &self.up, draws, |_| Scale::ONE);
    }

    /// Whether the frame summed last by [`Self::sum_sent`] keeps every limit.
    pub(super) fn fits(&self, rooms: &Rooms<'_>, scratch: &Scratch) -> bool {
        let own = self.held.most().iter().zip(&*self.sent);
        let mut all = self.touched.iter().zip(&scratch.draws).zip(own);
        all.all(|((&element, &draw), (&most, &sent))| draw <= rooms.of(element, Own { most, sent }))
    }

    /// Whether the picture keeps every limit as it is asked for, with its fair part of every rise.
    fn asked_fits(&self, rooms: &Rooms<'_>) -> bool {
        let own = self.held.most().iter().zip(&*self.sent);
        let mut all = self.touched.iter().zip(&*self.asked).zip(own);
        all.all(|((&element, &asked), (&most, &sent))| {
            asked <= rooms.fair(element, Own { most, sent }, asked)
        })
    }

    /// Writes the picture as it is asked for.
    pub(super) fn copy_asked(gaps: &Gaps, parts: &[Part], arrived: &[u8], slots: &mut Content) {
        for &(from, to) in gaps {
            slots[usize::from(from)..usize::from(to)].fill(0);
        }
        for part in parts {
            let target = &mut slots[usize::from(part.dst)..][..usize::from(part.len)];
            target.copy_from_slice(draw::source(part, arrived));
        }
    }

    /// Whether slots are those of the picture as it is asked for.
    pub(super) fn is_asked(&self, parts: &[Part], arrived: &[u8], slots: &Content) -> bool {
        parts.iter().all(|part| {
            let there = &slots[usize::from(part.dst)..][..usize::from(part.len)];
            there == draw::source(part, arrived)
        }) && self.gaps.iter().all(|&(from, to)| {
            let gap = &slots[usize::from(from)..usize::from(to)];
            gap.iter().all(|&level| level == 0)
        })
    }

    /// The picture leaves as it is asked for: its draw is known.
    pub(super) fn sent_is_asked(&self, scratch: &mut Scratch) {
        scratch.draws.clear();
        scratch.draws.extend_from_slice(&self.asked);
    }

    /// Notes that the frame summed last by [`Self::sum_sent`] leaves.
    pub(super) fn push(&mut self, now: Time, sent: &Content, scratch: &Scratch) {
        self.sent.copy_from_slice(&scratch.draws);
        let asked = &self.asked;
        self.held
            .push(now, &scratch.draws, asked, |slots| *slots = *sent);
    }

    /// Notes that the picture leaves as it is asked for.
    pub(super) fn push_asked(&mut self, now: Time, parts: &[Part], arrived: &[u8]) {
        let Self {
            asked,
            sent,
            gaps,
            held,
            ..
        } = self;
        sent.copy_from_slice(asked);
        held.push(now, asked, asked, |slots| {
            Self::copy_asked(gaps, parts, arrived, slots);
        });
    }

    /// Computes [`Self::peak`] and [`Self::newest`] afresh.
    pub(super) fn find_peaks(&mut self, with: &Factors<'_>, scratch: &mut Scratch) {
        self.peak.fill(Draw::ZERO);
        let Self {
            touched,
            up,
            asked,
            peak,
            newest,
            held,
            ..
        } = self;
        let scratch = scratch.dark(touched.len());
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
    /// headroom at every element of it allows.
    pub(super) fn find_factors(
        &mut self,
        with: &Factors<'_>,
        rooms: &Rooms<'_>,
        scratch: &mut Scratch,
    ) -> Found {
        if with.are_one() && self.asked_fits(rooms) {
            if std::mem::take(&mut self.dimmed) {
                self.factors.fill(Scale::ONE);
            }
            return Found::AllOne;
        }
        self.dimmed = true;
        // What the picture would draw with the scales of the whole path.
        let Self {
            touched,
            up,
            asked,
            sent,
            held,
            part_panel,
            factors,
            ..
        } = self;
        scratch.dark(touched.len());
        let Scratch {
            draws: scratch,
            allowed,
        } = scratch;
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
        allowed.clear();
        allowed.resize(touched.len(), Scale::ONE);
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
        if short { Found::Short } else { Found::Dimmed }
    }
}

/// What the factors of a universe's parts turned out to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Found {
    /// The picture can leave as it is asked for.
    AllOne,
    /// The factors of its path may be less than one.
    Dimmed,
    /// Headroom was short.
    Short,
}

/// Slots from and to.
type Gaps = SmallVec<[(u16, u16); 2]>;

/// Slots of a universe that no part writes.
fn gaps(universe: &OutUniverse) -> Gaps {
    let mut parts: Vec<_> = universe
        .parts
        .iter()
        .map(|part| (part.dst, part.dst + part.len))
        .collect();
    parts.sort_unstable();
    let mut gaps = SmallVec::new();
    let mut written = 0;
    #[expect(clippy::cast_possible_truncation, reason = "512")]
    for (from, to) in parts.into_iter().chain([(UNIVERSE_SLOTS as u16, 0)]) {
        if written < from {
            gaps.push((written, from));
        }
        written = written.max(to);
    }
    gaps
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
