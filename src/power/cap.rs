//! The cap: the only place where a frame that may leave is made.

mod demand;
mod live;
mod passing;
mod reading;
mod replace;
mod write;

use std::cmp::Reverse;
use std::collections::BinaryHeap;
use std::sync::Arc;

use super::frame::low;
use super::held::{Content, DARK};
use super::level::Levels;
pub use super::queue::OutIndex;
use super::queue::Queue;
use super::room::Sums;
use super::scale::Scales;
use super::share::{Scratch, Share};
use super::tree::{ElementIndex, Tree};
use crate::floor::model::{CapSettings, Floor};
use crate::floor::tables::{Tables, UNIVERSE_SLOTS};
use crate::units::{Draw, Time};

use passing::Passing;
pub use passing::PeakReading;
pub use reading::Reading;

/// A frame that keeps every limit. Nothing but [`Limiter`] can make one, and nothing but this
/// can be sent as a picture. It can be passed on,
///
/// ```
/// fn pass(frame: litfloor::power::cap::CappedFrame<'_>) -> litfloor::power::cap::CappedFrame<'_> {
///     frame
/// }
/// ```
///
/// but not made:
///
/// ```compile_fail
/// use litfloor::power::cap::CappedFrame;
/// let slots = [255; 512];
/// let frame = CappedFrame { output: 0, slots: &slots };
/// ```
#[derive(Debug)]
pub struct CappedFrame<'a> {
    output: OutIndex,
    slots: &'a [u8],
}

impl CappedFrame<'_> {
    /// Which universe it is for; none of the floor's if that is `OutIndex::MAX`.
    pub const fn output(&self) -> OutIndex {
        self.output
    }

    /// All dark, for a universe that leaves the reckoning: no cap could do more. `slots` is even,
    /// 512 at most.
    pub(crate) fn dark(slots: u16) -> CappedFrame<'static> {
        CappedFrame {
            output: OutIndex::MAX,
            slots: &DARK[..usize::from(slots)],
        }
    }

    /// Its slots, an even number.
    pub const fn slots(&self) -> &[u8] {
        self.slots
    }
}

/// Keeps the limits of a whole floor.
#[derive(Debug)]
pub struct Limiter {
    tree: Tree,
    tables: Arc<Tables>,
    settings: CapSettings,
    scales: Scales,
    shares: Vec<Share>,
    /// Universes that touch each element.
    touching: Vec<Vec<OutIndex>>,
    /// Of every element.
    sums: Vec<Sums>,
    passing: Passing,
    levels: Levels,
    /// Universes that each panel has a part in, and which part of theirs it is.
    parts_of: Vec<Vec<(OutIndex, usize)>>,
    /// Elements whose demand changed.
    dirty: BinaryHeap<Reverse<ElementIndex>>,
    /// Universes with a factor that fell since their last frame was made.
    fell: Queue,
    /// Universes with a factor that was let up since their last frame was made.
    rose: Queue,
    draws: Vec<Draw>,
    counts: Counts,
    /// Whether a frame that was made has dropped older ones since [`Self::retire`].
    freed: bool,
    /// The frame that is being made.
    next: Content,
    scratch: Scratch,
}

/// How many universes …
#[derive(Debug, Clone, Copy)]
struct Counts {
    /// … were held back for want of headroom.
    waiting: usize,
    /// … can be reached, and an older frame may still be on show.
    unsettled: usize,
}

impl Limiter {
    /// A limiter for a floor whose nodes may be showing anything yet.
    #[expect(
        clippy::cast_possible_truncation,
        reason = "counts are checked by the reader"
    )]
    pub fn new(floor: &Floor, tables: Arc<Tables>, now: Time) -> Self {
        let tree = Tree::new(floor, &tables);
        let passing = Passing::new(floor, &tree, now);
        let mut shares: Vec<Share> = tables
            .outputs
            .iter()
            .map(|universe| Share::new(universe, &tables, &tree, now, floor.delivery))
            .collect();
        if passing.has_peaks() {
            for share in &mut shares {
                share.held.keep_apart(true);
            }
        }
        let mut touching = vec![Vec::new(); tree.elements.len()];
        let mut sums = vec![Sums::NONE; tree.elements.len()];
        for (out, share) in shares.iter().enumerate() {
            for (at, &element) in share.touched.iter().enumerate() {
                touching[element as usize].push(out as OutIndex);
                sums[element as usize].reserved += share.held.most()[at];
            }
        }
        let mut limiter = Self {
            scales: Scales::new(&tree),
            levels: Levels::new(floor, &tables, &tree, &touching),
            passing,
            next: DARK,
            scratch: Scratch::for_all(&shares),
            freed: false,
            counts: Counts {
                waiting: 0,
                unsettled: shares.len(),
            },
            parts_of: parts_of(&tables),
            fell: Queue::new(shares.len()),
            rose: Queue::new(shares.len()),
            settings: floor.cap,
            sums,
            touching,
            shares,
            tree,
            tables,
            dirty: BinaryHeap::new(),
            draws: Vec::new(),
        };
        limiter.first_ceilings();
        limiter
    }

    /// The tree that is kept.
    pub const fn tree(&self) -> &Tree {
        &self.tree
    }

    /// The slots of one universe as they were sent last.
    pub fn leaving(&self, out: OutIndex) -> &[u8; UNIVERSE_SLOTS] {
        self.shares[out as usize].held.newest_content()
    }

    /// Reads what is needed to take another frame.
    pub fn near(&self, out: OutIndex) -> u8 {
        let share = &self.shares[out as usize];
        let sums = share.touched.iter();
        let sums = sums.fold(0, |sum, &at| sum ^ self.sums[at as usize].reserved.0);
        low(sums ^ share.near(&self.tree))
    }

    /// Takes in what a universe asks now and lowers at once whatever factor that takes.
    pub fn ask(&mut self, out: OutIndex, arrived: &[u8]) {
        let universe = &self.tables.outputs[out as usize];
        self.shares[out as usize].ask(universe, &self.tables, &self.tree, arrived);
        self.update_demand(out);
        self.settle();
    }

    /// Drops from the reckoning what can no longer be on show; says whether anything was.
    pub fn retire(&mut self, now: Time) -> bool {
        self.pass(now);
        let mut any = std::mem::take(&mut self.freed);
        #[expect(
            clippy::cast_possible_truncation,
            reason = "counts are checked by the reader"
        )]
        for out in 0..self.shares.len() as OutIndex {
            any |= self.retire_one(out, now);
        }
        any | self.follow(now)
    }

    /// The same for one universe, where no limit goes by time.
    pub fn retire_one(&mut self, out: OutIndex, now: Time) -> bool {
        if self.shares[out as usize].held.settled() {
            return false;
        }
        let mut changed = false;
        self.change_held(out, |share| changed = share.held.retire(now));
        if changed {
            self.update_demand(out);
            self.settle();
        }
        changed
    }

    /// Lets all factors up for `elapsed_s` seconds, by the time constant of the floor file.
    pub fn let_up(&mut self, elapsed_s: f64) {
        let constant_s = self.settings.let_up_s.max(1e-3);
        let Self {
            scales,
            touching,
            rose,
            ..
        } = self;
        scales.let_up(elapsed_s, constant_s, |element| {
            for &out in &touching[element as usize] {
                rose.add(out);
            }
        });
        for basin in 0..self.levels.basins.len() {
            self.follow_level(basin);
        }
    }

    /// Whether any factor is below one.
    pub const fn dimming(&self) -> bool {
        self.scales.any_lowered()
    }

    /// Takes the next universe with a factor that fell since its last frame was made: its
    /// siblings wait for its next.
    pub fn next_fallen(&mut self) -> Option<OutIndex> {
        self.fell.next()
    }

    /// Takes the next universe with a factor that was let up since its last frame was made.
    pub fn next_risen(&mut self) -> Option<OutIndex> {
        self.rose.next()
    }

    /// Puts a universe back that [`Self::next_risen`] gave.
    pub fn rises_later(&mut self, out: OutIndex) {
        self.rose.add(out);
    }

    /// Whether a universe asks for less than it was sent last.
    pub fn asks_less(&self, out: OutIndex) -> bool {
        let share = &self.shares[out as usize];
        share.asked.last() < share.sent.last()
    }

    /// Whether any universe has to be sent again because a factor of its path fell.
    pub fn any_fallen(&self) -> bool {
        !self.fell.is_empty()
    }

    /// Whether the last frame of a universe was held back for want of headroom.
    pub fn waiting(&self, out: OutIndex) -> bool {
        self.shares[out as usize].waiting
    }

    /// Whether the last frame of any universe was held back so.
    pub const fn any_waiting(&self) -> bool {
        self.counts.waiting > 0
    }

    /// Whether an older frame of any universe that can be reached may still be on show.
    pub const fn any_unsettled(&self) -> bool {
        self.counts.unsettled > 0
    }

    /// Whether an older frame of a universe may still be on show.
    pub fn unsettled(&self, out: OutIndex) -> bool {
        !self.shares[out as usize].held.settled()
    }

    /// Whether the node may still be showing what it showed before the start.
    pub fn inherited(&self, out: OutIndex) -> bool {
        self.shares[out as usize].held.inherited()
    }

    /// Whether a node that no longer answers leaves this universe in doubt.
    pub fn silent(&self, out: OutIndex) -> bool {
        self.shares[out as usize].held.silent()
    }

    /// An `ArtSync` has left for the node of a universe.
    pub fn sync(&mut self, out: OutIndex, now: Time) {
        self.shares[out as usize].held.sync(now);
    }

    /// Nodes act at once again.
    pub fn sync_ended(&mut self) {
        for share in &mut self.shares {
            share.held.sync_ended();
        }
    }

    /// The node of a universe answered, or no longer does.
    pub fn node_answers(&mut self, out: OutIndex, answers: bool, now: Time) {
        self.pass(now);
        self.change_held(out, |share| {
            if answers {
                share.held.node_answered(now);
            } else {
                share.held.node_fell_silent();
            }
        });
        self.update_demand(out);
        self.settle();
    }
}

fn parts_of(tables: &Tables) -> Vec<Vec<(OutIndex, usize)>> {
    let mut parts_of = vec![Vec::new(); tables.panels.len()];
    for (out, universe) in (0..).zip(&tables.outputs) {
        for (at, part) in universe.parts.iter().enumerate() {
            parts_of[part.panel as usize].push((out, at));
        }
    }
    parts_of
}
