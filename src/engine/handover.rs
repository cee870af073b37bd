//! Another floor in the place of the one that runs, between two frames.
//!
//! What arrived, what was sent and what nodes may be showing is carried over by Port-Address and
//! node address, elements of the tree and their factors by name; all else follows from the new
//! floor. Where both floors say the same, no frame that leaves tells that there was a change.

use std::collections::{HashMap, HashSet};
use std::net::SocketAddrV4;
use std::sync::Arc;

use super::Engine;
use super::farewell::Farewell;
use super::out::Outlet;
use super::snapshot::{FileRefusal, FileState};
use super::survey;
use crate::floor::FaultRow;
use crate::power::cap::{Limiter, OutIndex};
use crate::units::Time;
use crate::wire::PortAddress;

/// Faults of a refused file that a state lists.
const MOST_FAULTS: usize = 20;

impl Engine {
    /// Says which floor file this is, and how often the floor was replaced.
    pub fn set_file(&mut self, name: &str, revision: u32, now: Time) {
        self.revision = revision;
        self.file = FileState {
            name: name.to_owned(),
            taken_s: now.s_since(self.started),
            refusal: None,
            made_dark: Vec::new(),
        };
    }

    /// How often the floor was replaced, counted from the first.
    pub const fn revision(&self) -> u32 {
        self.revision
    }

    /// The file was read again and not taken for its `faults`: the floor that runs goes on.
    pub fn refuse_file(&mut self, mut faults: Vec<FaultRow>, now: Time) {
        let count = u32::try_from(faults.len()).unwrap_or(u32::MAX);
        faults.truncate(MOST_FAULTS);
        self.file.refusal = Some(FileRefusal {
            at_s: now.s_since(self.started),
            faults,
            count,
        });
    }

    /// Makes `self` go on where `before` is now. Only the floor is new.
    ///
    /// Universes that leave no more are made dark: nobody would reckon with their light any more.
    /// A test pattern goes on if it can be shown on the new floor, else it ends.
    ///
    /// What is left of `before` only takes time to be dropped.
    pub fn take_over(&mut self, before: &mut Self, now: Time, outlet: &mut impl Outlet) {
        self.started = before.started;
        self.file.taken_s = now.s_since(self.started);
        self.me = before.me.clone();
        self.replies = before.replies;
        self.tally = before.tally.clone();
        self.syncing = before.syncing;
        self.syncs.take_over(&before.syncs);
        self.pacing = std::mem::take(&mut before.pacing);
        self.take_over_alarms(before);
        (self.last_trim, self.last_step) = (before.last_trim, before.last_step);
        (self.last_look, self.ticked) = (before.last_look, before.ticked);
        self.next_poll = now;
        self.nodes.take_over(&before.nodes);
        self.standby = before.standby.take();
        self.callers = std::mem::take(&mut before.callers);
        self.take_over_universes(before, now);
        self.unmapped = std::mem::take(&mut before.unmapped);
        self.switches.take_over(&before.switches);
        let (by_address, switches) = (&self.by_address, &self.switches);
        self.unmapped.forget(|address| {
            by_address[usize::from(address.number())] != u32::MAX || switches.has(address)
        });
        // The light of a calibration run or a survey ends with that.
        let ends = before.metering.is_running() || before.surveys.is_running();
        self.health_version = before.health_version;
        self.not_kept = std::mem::take(&mut before.not_kept);
        self.surveys = survey::Surveys::after(&mut before.surveys);
        if let Some(running) = before.running.take().filter(|_| !ends) {
            self.take_over_pattern(&running, now);
        }
        self.take_over_outputs(before, now);
        self.take_over_sensors(before);
        let all: Vec<OutIndex> = self.outs().collect();
        // What is asked the limiter has just taken in.
        self.send_asked(&all, now, outlet);
    }

    /// What nodes may be showing, and the numbers of their frames.
    fn take_over_outputs(&mut self, before: &mut Self, now: Time) {
        let known: HashMap<_, _> = (0..)
            .zip(before.outlets())
            .map(|(out, key)| (key, out))
            .collect();
        let here: Vec<_> = self.outlets().collect();
        let same: Vec<Option<OutIndex>> = here.iter().map(|key| known.get(key).copied()).collect();
        // A node that gets a shorter frame goes on showing the rest of the longer one.
        let slots_before =
            |was: &Option<OutIndex>| was.map_or(0, |was| before.tables.outputs[was as usize].slots);
        let shorter = (self.tables.outputs.iter().zip(&same))
            .any(|(universe, was)| universe.slots < slots_before(was));
        if shorter {
            let tables = Arc::make_mut(&mut self.tables);
            for (universe, was) in tables.outputs.iter_mut().zip(&same) {
                universe.slots = universe.slots.max(slots_before(was));
            }
            self.limiter = Limiter::new(&self.floor, Arc::clone(&self.tables), now);
        }
        self.limiter.take_over(
            &self.floor,
            &mut before.limiter,
            &before.floor,
            &same,
            self.picture.asked(),
            now,
        );
        self.leaving.take_over(&before.leaving, &same);
        let here: HashSet<_> = here.into_iter().collect();
        let gone = |to, port_address| !here.contains(&(Some(to), port_address));
        self.farewells.clone_from(&before.farewells);
        self.farewells.retain(|old| gone(old.to, old.port_address));
        for (universe, (node, port_address)) in before.tables.outputs.iter().zip(before.outlets()) {
            if let Some(to) = node
                && gone(to, port_address)
            {
                self.farewells
                    .push(Farewell::new(to, port_address, universe.slots, now));
            }
        }
        for node in self.nodes.silent() {
            self.node_answers(node, false, now);
        }
    }

    /// Where each universe that leaves goes: the address of its node, if the floor has nodes, and
    /// its Port-Address.
    pub(super) fn outlets(&self) -> impl Iterator<Item = (Option<SocketAddrV4>, PortAddress)> + '_ {
        self.tables.outputs.iter().map(|universe| {
            let node = universe.node.map(|node| self.nodes.address(node as usize));
            (node, universe.port_address)
        })
    }

    /// What arrived, and what is shown of it.
    fn take_over_universes(&mut self, before: &mut Self, now: Time) {
        for index in 0..self.universes.len() {
            let address = self.tables.universes[index].port_address;
            let was = before.by_address[usize::from(address.number())] as usize;
            let Some(universe) = before.universes.get_mut(was) else {
                continue;
            };
            self.universes[index] = std::mem::take(universe);
            // Not what arrived last: that may still wait for its sync.
            self.picture.set(index, before.picture.whole(was));
            if let Some(at) = self.universes[index].at {
                self.picture.fade(index, at, now);
                self.fading |= self.picture.is_fading(index, at, now);
            }
        }
    }
}
