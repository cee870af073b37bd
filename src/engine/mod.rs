//! The state machine between what arrives and what leaves.
//!
//! [`Engine::handle`] takes a datagram, [`Engine::tick`] the passing of time; both say what
//! should leave by calling an [`Outlet`]. No socket, no clock, no thread: the shell brings them.
//!
//! A frame travels: [`crate::wire`] reads the datagram in place; [`universe`] checks its
//! sequence and merges its source with the other; [`syncing`] may hold it; `picture` keeps what
//! is asked for, under the test pattern that a [`command`] may have started; [`crate::power::cap`] turns that into amperes and makes the capped frame; [`out`]
//! gives it its number and its node.

mod admission;
mod alarms;
mod arrival;
mod callers;
pub mod command;
mod expected;
mod farewell;
mod floor_limit;
mod handover;
mod lead;
pub mod levels;
pub mod look;
pub mod metering;
mod motion;
pub mod nodes;
mod notices;
mod numbering;
pub mod offset;
pub mod out;
mod pacing;
mod picture;
mod polls;
pub mod report;
mod send;
pub mod sending;
pub mod sequence;
pub mod showing;
pub mod slot_set;
pub mod slots;
pub mod snapshot;
pub mod standby;
pub mod survey;
pub mod switches;
mod sync_out;
pub mod syncing;
pub mod tally;
pub mod universe;
mod unmapped;
pub mod voltages;
mod wheel;

use std::net::{Ipv4Addr, SocketAddrV4};
use std::sync::Arc;

pub use polls::holds;

use callers::Callers;
use command::Running;
use expected::Expected;
use farewell::Farewell;
use metering::Metering;
use nodes::Nodes;
use out::Outlet;
use pacing::Pacing;
use picture::Picture;
use send::Leaving;
use snapshot::FileState;
use standby::Standby;
use survey::Surveys;
use sync_out::SyncOut;
use syncing::Syncing;
use tally::{Outcome, Tally};
use universe::Universe;
use unmapped::Unmapped;

use crate::floor::model::Floor;
use crate::floor::tables::Tables;
use crate::power::alarm::Alarms;
use crate::power::cap::Limiter;
use crate::units::Time;
use crate::wire::dmx::Dmx;
use crate::wire::poll_reply::{self, Page};
use crate::wire::{self, Packet, PortAddress};

/// One of this machine's networks: its address there and the mask.
pub type Interface = (Ipv4Addr, Ipv4Addr);

/// Who litfloor is on the network.
#[derive(Debug, Clone)]
pub struct Me {
    /// Where it listens to Art-Net.
    pub listener: SocketAddrV4,
    /// Addresses of this machine, to answer each poller with the one it can reach.
    pub interfaces: Vec<Interface>,
}

/// Pause between two rounds of frames to siblings of a universe that brightened.
const TRIM_EVERY_MS: u64 = 10;

/// Time between two steps of letting factors up and of fading.
const STEP_EVERY_MS: u64 = 25;

/// Time between two looks for silent sources and nodes.
const LOOK_EVERY_MS: u64 = 100;

/// Time between ticks while something is under way, and while nothing is.
const BUSY_TICK_MS: u64 = 5;
const IDLE_TICK_MS: u64 = 100;

/// The state machine.
#[derive(Debug)]
pub struct Engine {
    floor: Arc<Floor>,
    /// Their parts read what is asked for.
    tables: Arc<Tables>,
    me: Me,
    /// Index into `universes` for each of the 32,768 Port-Addresses.
    by_address: Vec<u32>,
    universes: Vec<Universe>,
    /// What the file maps of each.
    expected: Vec<Expected>,
    /// The one source of each, if it is pinned.
    pins: Vec<Option<Ipv4Addr>>,
    unmapped: Unmapped,
    /// Who has polled.
    callers: Callers,
    /// Switches under panels.
    switches: switches::Switches,
    syncing: Syncing,
    /// Room for what is shown by a sync: universes, and whether they changed.
    shown_now: Vec<(usize, bool)>,
    syncs: SyncOut,
    picture: Picture,
    limiter: Limiter,
    leaving: Leaving,
    nodes: Nodes,
    pages: Vec<Page>,
    replies: u32,
    tally: Tally,
    started: Time,
    last_trim: Time,
    last_step: Time,
    last_look: Time,
    /// When [`Self::tick`] was last called.
    ticked: Time,
    next_poll: Time,
    fading: bool,
    running: Option<Running>,
    /// Counts up whenever the floor is replaced.
    revision: u32,
    file: FileState,
    farewells: Vec<Farewell>,
    pacing: Pacing,
    alarms: Alarms,
    /// Found beside the frames, of what was sent a moment ago.
    voltages: Option<Arc<voltages::Voltages>>,
    metering: Metering,
    last_sensors: Time,
    surveys: Surveys,
    looks: look::Looks,
    /// How often what is known of faults has changed; it is worked out elsewhere.
    health_version: u32,
    /// What can't be kept, and why.
    not_kept: Vec<String>,
    /// The other litfloor, if there is one.
    standby: Option<Standby>,
    /// A number of the floor file, by which both know whether they have the same.
    file_number: u64,
}

impl Engine {
    /// A floor whose nodes may be showing anything yet.
    pub fn new(floor: Arc<Floor>, tables: Arc<Tables>, me: Me, now: Time) -> Self {
        let mut by_address = vec![u32::MAX; usize::from(PortAddress::MAX) + 1];
        for (at, universe) in (0_u32..).zip(&tables.universes) {
            by_address[usize::from(universe.port_address.number())] = at;
        }
        let arriving = tables;
        let tables = Arc::new(picture::leaving_tables(&arriving));
        let limiter = Limiter::new(&floor, Arc::clone(&tables), now);
        let full = tables.panels.iter().map(|row| row.idle + row.full);
        let metering = Metering::new(&floor, limiter.tree(), full, now);
        let switches = switches::Switches::new(&floor);
        let pictures = arriving.universes.iter().map(|u| u.port_address);
        let mut addresses: Vec<_> = pictures.chain(switches.addresses()).collect();
        addresses.sort_unstable();
        Self {
            by_address,
            expected: expected::of(&arriving),
            universes: vec![Universe::default(); tables.universes.len()],
            pins: admission::pins(&floor, &arriving),
            unmapped: Unmapped::default(),
            callers: Callers::default(),
            switches,
            syncing: Syncing::default(),
            shown_now: Vec::with_capacity(arriving.universes.len()),
            syncs: SyncOut::new(floor.nodes.len()),
            picture: Picture::new(arriving, floor.signal),
            limiter,
            metering,
            last_sensors: now,
            surveys: Surveys::default(),
            looks: look::Looks::new(&floor, tables.outputs.len()),
            health_version: 0,
            not_kept: Vec::new(),
            standby: None,
            file_number: 0,
            leaving: Leaving::new(&tables, now),
            nodes: Nodes::new(&floor.nodes),
            pages: poll_reply::pages(&addresses),
            replies: 0,
            tally: Tally::default(),
            started: now,
            last_trim: now,
            last_step: now,
            last_look: now,
            ticked: now,
            next_poll: now,
            fading: false,
            running: None,
            revision: 1,
            file: FileState::default(),
            farewells: Vec::new(),
            pacing: Pacing::default(),
            alarms: Alarms::default(),
            voltages: None,
            floor,
            tables,
            me,
        }
    }

    /// Brings near what datagrams that are about to be taken will need, so that taking them does not
    /// wait for one line of memory after the other.
    pub fn foresee<'a>(&self, datagrams: impl Iterator<Item = &'a [u8]>) {
        let read = datagrams.fold(0, |sum, bytes| sum ^ self.near(bytes));
        std::hint::black_box(read);
    }

    fn near(&self, bytes: &[u8]) -> u8 {
        let Some(address) = wire::dmx::address_at_a_glance(bytes) else {
            return 0;
        };
        let index = self.by_address[usize::from(address.number())] as usize;
        let Some(universe) = self.universes.get(index) else {
            return 0;
        };
        let outputs = self.tables.universes[index].outputs.iter();
        let leaving = outputs.fold(0, |sum, &out| {
            let part = self.tables.outputs[out as usize].parts.first();
            sum ^ part.map_or(0, |part| u8::from(part.len > 1))
                ^ self.picture.near_asked(out)
                ^ self.limiter.near(out)
                ^ self.leaving.near(out)
        });
        leaving ^ universe.near() ^ self.picture.near(index)
    }

    /// Takes one datagram.
    pub fn handle(
        &mut self,
        now: Time,
        from: SocketAddrV4,
        bytes: &[u8],
        outlet: &mut impl Outlet,
    ) -> Outcome {
        self.wake(now);
        let outcome = match wire::read(bytes) {
            Ok(packet) if !self.admits(*from.ip(), &packet) => Outcome::NotAdmitted,
            Ok(Packet::Dmx(dmx)) => self.dmx(now, *from.ip(), &dmx, outlet),
            Ok(Packet::Sync) => self.sync(now, *from.ip(), outlet),
            Ok(Packet::Poll(poll)) => self.poll(now, from, poll, outlet),
            Ok(Packet::PollReply(reply)) => {
                self.poll_reply(now, from, *reply);
                Outcome::PollReply
            }
            Ok(Packet::Other(_)) => Outcome::PassedOver,
            Err(_) if self.hear_beat(now, bytes, outlet) => Outcome::Beat,
            Err(refusal) => refusal.into(),
        };
        self.tally.count(outcome);
        outcome
    }

    fn dmx(
        &mut self,
        now: Time,
        from: Ipv4Addr,
        dmx: &Dmx<'_>,
        outlet: &mut impl Outlet,
    ) -> Outcome {
        let index = self.by_address[usize::from(dmx.port_address.number())] as usize;
        let Some(universe) = self.universes.get_mut(index) else {
            return self.take_other(now, from, dmx);
        };
        if self.pins[index].is_some_and(|source| source != from) {
            return Outcome::Pinned;
        }
        if let Err(outcome) = universe.take(from, dmx, self.floor.signal.merge, now) {
            return outcome;
        }
        self.syncing.dmx_from(from, universe.merging());
        self.callers.favour(from, now);
        if self.syncing.holds(from, now) && !universe.merging() {
            universe.pending = true;
            return Outcome::HeldForSync;
        }
        let changed = self.show(index, now);
        self.send_universe(index, changed, now, outlet);
        Outcome::Taken
    }

    /// Makes what has arrived for a universe what is asked for; says whether that is a change.
    fn show(&mut self, index: usize, now: Time) -> bool {
        let universe = &mut self.universes[index];
        universe.pending = false;
        let anew = std::mem::take(&mut universe.changed) || self.picture.is_faded(index);
        let mut changed = anew && self.picture.set(index, &universe.merged);
        // What is shown again because a source left may be lost itself: it stays as dark as it was.
        if let Some(at) = universe.at {
            changed |= self.picture.fade(index, at, now);
        }
        if changed {
            self.ask(index);
        }
        changed
    }

    /// Tells the limiter what a universe asks for now.
    fn ask(&mut self, index: usize) {
        for &out in &self.tables.universes[index].outputs {
            self.limiter.ask(out, self.picture.asked());
        }
    }

    fn sync(&mut self, now: Time, from: Ipv4Addr, outlet: &mut impl Outlet) -> Outcome {
        let followed = self.syncing.sync(from, now);
        if followed || !self.syncing.active() {
            self.show_pending(now, outlet);
        }
        if !followed {
            return Outcome::SyncIgnored;
        }
        self.sync_came(now, outlet);
        Outcome::Sync
    }

    /// Shows all that waited: what falls leaves before what rises.
    fn show_pending(&mut self, now: Time, outlet: &mut impl Outlet) {
        let mut pending = std::mem::take(&mut self.shown_now);
        pending.clear();
        let waits = |index: &usize| self.universes[*index].pending;
        pending.extend(
            (0..self.universes.len())
                .filter(waits)
                .map(|at| (at, false)),
        );
        for (index, changed) in &mut pending {
            *changed = self.show(*index, now);
        }
        for falling in [true, false] {
            for &(index, changed) in &pending {
                let outputs = &self.tables.universes[index].outputs;
                if outputs.iter().any(|&out| self.limiter.asks_less(out)) == falling {
                    self.send_universe(index, changed, now, outlet);
                }
            }
        }
        self.shown_now = pending;
    }

    fn node_answers(&mut self, node: usize, answers: bool, now: Time) {
        for out in self.tables.outputs_of(node) {
            self.limiter.node_answers(out, answers, now);
            self.leaving.look_at(out, now);
        }
    }

    /// Lets time pass. Call it at [`Self::next_tick`] at the latest.
    pub fn tick(&mut self, now: Time, outlet: &mut impl Outlet) {
        self.wake(now);
        self.ticked = now;
        self.change_duty(now, outlet);
        if self.syncing.ended(now) {
            self.show_pending(now, outlet);
        }
        self.send_due_syncs(now, outlet);
        self.end_syncs(now);
        self.say_farewell(now, outlet);
        self.run_pattern(now, outlet);
        self.switches.settle(now);
        if now >= self.last_look.plus_ms(LOOK_EVERY_MS) {
            self.last_look = now;
            self.look_for_silence(now, outlet);
            self.switches.look_for_silence(now);
            self.look_for_alarms(now);
        }
        if now >= self.next_poll {
            self.next_poll = now.plus_ms(nodes::POLL_EVERY_MS);
            let peer = self.standby.as_ref().map(Standby::peer);
            for address in self.nodes.addresses().chain(peer) {
                out::send_poll(outlet, address);
            }
        }
        if now >= self.last_step.plus_ms(STEP_EVERY_MS) {
            let elapsed_s = now.s_since(self.last_step);
            self.last_step = now;
            self.fade(now);
            self.limiter.let_up(elapsed_s);
        }
        if now >= self.last_sensors.plus_ms(LOOK_EVERY_MS) {
            self.last_sensors = now;
            self.look_at_sensors(now, outlet);
        }
        self.send_due(now, outlet);
        self.run_survey(now, outlet);
    }

    /// When [`Self::tick`] should be called next, as far as is known now: it may turn out to be sooner or
    /// later with all that happens.
    pub fn next_tick(&self) -> Time {
        let busy = self.fading
            || self.syncing.active()
            || self.limiter.dimming()
            || self.limiter.any_fallen()
            || self.limiter.peaking()
            || self.switches.settling()
            || self.leaving.any_marked();
        let all = self.looks_at_all();
        let tick = if busy || (all && self.limiter.any_unsettled()) {
            self.ticked.plus_ms(BUSY_TICK_MS)
        } else if all {
            self.ticked.plus_ms(IDLE_TICK_MS)
        } else {
            self.ticked
                .plus_ms(IDLE_TICK_MS)
                .min(self.leaving.next_due())
        };
        let pattern = self.running.as_ref().map(Running::next);
        let tick = pattern.map_or(tick, |next| next.min(tick));
        let tick = self.syncs.due().map_or(tick, |next| next.min(tick));
        let beat = self.standby.as_ref().map(Standby::next);
        let tick = beat.map_or(tick, |next| next.min(tick));
        self.surveys.next().map_or(tick, |next| next.min(tick))
    }

    fn look_for_silence(&mut self, now: Time, outlet: &mut impl Outlet) {
        for index in 0..self.universes.len() {
            if self.universes[index].leave(now) {
                let changed = self.show(index, now);
                self.send_universe(index, changed, now, outlet);
            }
        }
        for node in self.nodes.fallen_silent(now) {
            self.node_answers(node, false, now);
        }
    }

    fn fade(&mut self, now: Time) {
        self.fading = false;
        for index in 0..self.universes.len() {
            let Some(at) = self.universes[index].at else {
                continue;
            };
            if self.picture.fade(index, at, now) {
                self.ask(index);
                self.leaving.mark(&self.tables.universes[index].outputs);
            }
            self.fading |= self.picture.is_fading(index, at, now);
        }
    }
}
