//! Switches under panels: levels that a node sends become presses.
//!
//! A node with switches is an Art-Net input: it sends `ArtDmx` when one changes, and now and then
//! between. Only frames from that node's address count. Every change of a level is remembered as it
//! came, so that chatter can be judged; pressed is what is left of it without bounces: the first change
//! counts at once, and what follows within [`SETTLES_MS`] waits until the level has rested for so long.
//! A universe that falls silent leaves its switches unknown, not released.
//!
//! Nothing is allocated when a frame arrives.

use std::collections::VecDeque;
use std::net::Ipv4Addr;
use std::ops::Range;

use super::sequence::Sequence;
use super::snapshot::{InputState, PressState};
use super::tally::Outcome;
use crate::floor::model::{Floor, Position, Pressed};
use crate::health::switches::{Press, SwitchSeen};
use crate::units::Time;
use crate::wire::PortAddress;
use crate::wire::dmx::Dmx;

/// A level that changes again within so long bounces (common practice is 5 to 50 ms; no source). No
/// foot is as quick: even a sprinter's stands for some 100 ms (from memory).
pub const SETTLES_MS: u64 = 50;

/// A universe of switches is not lost before so long (our choice: nodes repeat what does not change
/// about once a second).
pub const LOST_AFTER_S: f64 = 3.0;

/// Presses and releases that are kept.
pub const RING: usize = 1_024;

/// A state lists those of the last second, at most so many.
const LISTED_MS: u64 = 1_000;
const LISTED: usize = 64;

/// Presses and releases, and what has been seen of every switch.
#[derive(Debug, Clone, Default)]
pub struct Presses {
    /// Revision of the floor that they belong to.
    pub revision: u32,
    /// The latest, the oldest first: at most [`RING`]. Their numbers tell whether any were missed.
    pub latest: Vec<Press>,
    /// Every switch of the floor file's inputs.
    pub seen: Vec<SwitchSeen>,
}

/// All switches of a floor.
#[derive(Debug)]
pub(super) struct Switches {
    /// Ascending by Port-Address.
    universes: Vec<InputUniverse>,
    /// By universe, then slot.
    all: Vec<Switch>,
    /// Each panel's, as indices into `all`; empty where it has none that reach us.
    by_panel: Vec<Vec<u32>>,
    ring: VecDeque<Press>,
    number: u64,
    lost_after_us: u64,
    settling: bool,
}

/// One universe of switches.
#[derive(Debug)]
struct InputUniverse {
    port_address: PortAddress,
    node: String,
    from: Ipv4Addr,
    /// When its last frame came.
    at: Option<Time>,
    lost: bool,
    length: u16,
    sequence: Sequence,
    /// Its switches.
    switches: Range<usize>,
}

#[expect(clippy::struct_excessive_bools, reason = "each is a fact of its own")]
#[derive(Debug)]
struct Switch {
    slot: u16,
    position: Position,
    pressed: Pressed,
    seen: SwitchSeen,
    /// Its level as it came last.
    raw: bool,
    /// When that changed; nothing since it is known.
    changed: Option<Time>,
    /// Whether `raw` still has to rest.
    settling: bool,
    /// Whether this press or release has been counted as chatter.
    counted: bool,
    /// Whether the press under way was seen to begin.
    began: bool,
}

impl Switches {
    pub(super) fn new(floor: &Floor) -> Self {
        let mut slots: Vec<_> = floor.switch_slots().collect();
        slots.sort_by_key(|at| (at.port_address, at.slot));
        let mut by_panel = vec![Vec::new(); floor.panels.len()];
        let mut universes: Vec<InputUniverse> = Vec::new();
        let mut switches = Vec::with_capacity(slots.len());
        for at in &slots {
            let index = switches.len();
            let panel = &mut by_panel[at.panel];
            panel.push(u32::try_from(index).unwrap_or(u32::MAX));
            switches.push(Switch::new(floor, at));
            match universes.last_mut() {
                Some(last) if last.port_address == at.port_address => last.switches.end = index + 1,
                _ => {
                    let node = &floor.nodes[floor.inputs[at.input].node];
                    universes.push(InputUniverse {
                        port_address: at.port_address,
                        node: node.name.clone(),
                        from: *node.address.ip(),
                        at: None,
                        lost: false,
                        length: 0,
                        sequence: Sequence::default(),
                        switches: index..index + 1,
                    });
                }
            }
        }
        for panel in &mut by_panel {
            panel.sort_by_key(|&at| switches[at as usize].seen.switch);
        }
        let lost_after_s = floor.signal.lost_after_s.max(LOST_AFTER_S);
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "3 to 3,600 seconds"
        )]
        let lost_after_us = (lost_after_s * 1e6) as u64;
        Self {
            ring: VecDeque::with_capacity(if switches.is_empty() { 0 } else { RING }),
            universes,
            all: switches,
            by_panel,
            number: 0,
            lost_after_us,
            settling: false,
        }
    }

    /// Port-Addresses that nodes should send to.
    pub(super) fn addresses(&self) -> impl Iterator<Item = PortAddress> + '_ {
        self.universes.iter().map(|universe| universe.port_address)
    }

    fn universe(&self, address: PortAddress) -> Option<usize> {
        self.universes
            .binary_search_by_key(&address, |universe| universe.port_address)
            .ok()
    }

    /// Whether this is a universe of switches.
    pub(super) fn has(&self, address: PortAddress) -> bool {
        self.universe(address).is_some()
    }

    /// Whether data flows in it.
    pub(super) fn is_live(&self, address: PortAddress) -> bool {
        self.universe(address).is_some_and(|at| {
            let universe = &self.universes[at];
            universe.at.is_some() && !universe.lost
        })
    }

    /// Takes a frame, if it is for a universe of switches.
    pub(super) fn take(&mut self, from: Ipv4Addr, dmx: &Dmx<'_>, now: Time) -> Option<Outcome> {
        let at = self.universe(dmx.port_address)?;
        let universe = &mut self.universes[at];
        if universe.from != from {
            return Some(Outcome::SwitchesFromElsewhere);
        }
        if !universe.sequence.take(dmx.sequence, now) {
            return Some(Outcome::OldSequence);
        }
        universe.at = Some(now);
        universe.lost = false;
        universe.length = u16::try_from(dmx.slots.len()).unwrap_or(512);
        for at in universe.switches.clone() {
            let switch = &mut self.all[at];
            // A frame that ends before a switch says nothing of it.
            let Some(&level) = dmx.slots.get(usize::from(switch.slot)) else {
                continue;
            };
            let rested = switch.rest(now);
            let told = switch.hear(switch.pressed.is(level), now);
            self.settling |= switch.settling;
            for (down, at) in [rested, told].into_iter().flatten() {
                push(&mut self.ring, &mut self.number, &switch.seen, down, at);
            }
        }
        Some(Outcome::Switches)
    }

    /// Whether a level has yet to rest, so that time matters.
    pub(super) const fn settling(&self) -> bool {
        self.settling
    }

    /// Lets time pass: what has rested counts.
    pub(super) fn settle(&mut self, now: Time) {
        if !self.settling {
            return;
        }
        self.settling = false;
        for switch in &mut self.all {
            if let Some((down, at)) = switch.rest(now) {
                push(&mut self.ring, &mut self.number, &switch.seen, down, at);
            }
            self.settling |= switch.settling;
        }
    }

    /// What has been silent for too long is unknown.
    pub(super) fn look_for_silence(&mut self, now: Time) {
        for universe in &mut self.universes {
            let silent = universe
                .at
                .is_some_and(|at| now.us_since(at) > self.lost_after_us);
            if silent && !universe.lost {
                universe.lost = true;
                for switch in &mut self.all[universe.switches.clone()] {
                    switch.forget(now);
                }
            }
        }
    }

    /// The pressed switches of a panel, and whether all of it is known.
    pub(super) fn panel(&self, panel: usize) -> (Vec<u32>, bool) {
        let own = &self.by_panel[panel];
        let seen = own.iter().map(|&at| &self.all[at as usize].seen);
        let down = seen.clone().filter(|seen| seen.down == Some(true));
        let pressed = down.map(|seen| u32::from(seen.switch)).collect();
        let known = !own.is_empty() && seen.clone().all(|seen| seen.down.is_some());
        (pressed, known)
    }

    /// What people see of the universes.
    pub(super) fn inputs(&self, now: Time) -> Vec<InputState> {
        let state = |universe: &InputUniverse| {
            let own = &self.all[universe.switches.clone()];
            let beyond = |switch: &&Switch| switch.slot >= universe.length;
            let cut_off = universe.at.map_or(0, |_| own.iter().filter(beyond).count());
            InputState {
                port_address: universe.port_address.to_string(),
                node: universe.node.clone(),
                age_s: universe.at.map(|at| now.s_since(at)),
                lost: universe.lost,
                switches: count(own.len()),
                cut_off: count(cut_off),
            }
        };
        self.universes.iter().map(state).collect()
    }

    /// What people see of the last second.
    pub(super) fn latest(&self, floor: &Floor, started: Time, now: Time) -> Vec<PressState> {
        let recent = self.ring.iter().rev().take(LISTED);
        let recent = recent.take_while(|press| now.us_since(press.at) <= LISTED_MS * 1_000);
        let mut latest: Vec<_> = recent
            .map(|press| PressState {
                number: press.number,
                position: floor.panels[press.panel as usize].position.to_string(),
                switch: u32::from(press.switch),
                down: press.down,
                at_s: press.at.s_since(started),
            })
            .collect();
        latest.reverse();
        latest
    }

    /// For who judges.
    pub(super) fn presses(&self, revision: u32) -> Presses {
        Presses {
            revision,
            latest: self.ring.iter().copied().collect(),
            seen: self.all.iter().map(|switch| switch.seen).collect(),
        }
    }

    /// Goes on with what is known of the same switches of another floor.
    pub(super) fn take_over(&mut self, before: &Self) {
        self.number = before.number;
        self.settling = before.settling;
        for universe in &mut self.universes {
            let Some(was) = before.universe(universe.port_address) else {
                continue;
            };
            let was = &before.universes[was];
            if was.from != universe.from {
                continue;
            }
            (universe.at, universe.lost, universe.length) = (was.at, was.lost, was.length);
            universe.sequence = was.sequence.clone();
            let old = &before.all[was.switches.clone()];
            for switch in &mut self.all[universe.switches.clone()] {
                let same = old.iter().find(|old| switch.is_same(old));
                if let Some(same) = same {
                    switch.take_over(same);
                }
            }
        }
    }
}

impl Switch {
    fn new(floor: &Floor, at: &crate::floor::model::SwitchSlot) -> Self {
        Self {
            slot: u16::try_from(at.slot).unwrap_or(u16::MAX),
            position: floor.panels[at.panel].position,
            pressed: floor.inputs[at.input].pressed,
            seen: SwitchSeen {
                panel: u32::try_from(at.panel).unwrap_or(u32::MAX),
                switch: at.switch,
                ..SwitchSeen::default()
            },
            raw: false,
            changed: None,
            settling: false,
            counted: false,
            began: false,
        }
    }

    /// Takes its level; gives a press or a release that counts, and when it was.
    fn hear(&mut self, raw: bool, now: Time) -> Option<(bool, Time)> {
        if self.seen.down.is_none() {
            // When it was pressed is not known, so this is no press.
            (self.raw, self.changed) = (raw, None);
            (self.seen.down, self.seen.since) = (Some(raw), now);
            return None;
        }
        if raw == self.raw {
            return None;
        }
        let quick = self
            .changed
            .is_some_and(|at| now.us_since(at) < SETTLES_MS * 1_000);
        (self.raw, self.changed) = (raw, Some(now));
        self.seen.changes = self.seen.changes.saturating_add(1);
        if quick {
            if !self.counted {
                self.seen.chattered = self.seen.chattered.saturating_add(1);
            }
            self.counted = true;
            self.settling = true;
            return None;
        }
        self.counted = false;
        self.turn(raw, now)
    }

    /// What has rested for long enough counts, from when it began to rest.
    fn rest(&mut self, now: Time) -> Option<(bool, Time)> {
        let since = self.changed.filter(|_| self.settling)?;
        if now.us_since(since) < SETTLES_MS * 1_000 {
            return None;
        }
        self.settling = false;
        self.turn(self.raw, since)
    }

    fn turn(&mut self, down: bool, at: Time) -> Option<(bool, Time)> {
        let seen = &mut self.seen;
        if seen.down == Some(down) {
            return None;
        }
        if down {
            seen.presses = seen.presses.saturating_add(1);
        } else if self.began {
            let lasted_ms = at.us_since(seen.since) / 1_000;
            seen.ended = seen.ended.saturating_add(1);
            seen.ended_ms += lasted_ms;
            seen.longest_ms = seen.longest_ms.max(lasted_ms);
        }
        self.began = down;
        (seen.down, seen.since) = (Some(down), at);
        Some((down, at))
    }

    /// Nothing is known of it from `now` on.
    const fn forget(&mut self, now: Time) {
        self.seen.down = None;
        self.seen.since = now;
        self.changed = None;
        self.settling = false;
        self.counted = false;
        self.began = false;
    }

    fn is_same(&self, other: &Self) -> bool {
        let key = |one: &Self| (one.slot, one.position, one.seen.switch);
        key(self) == key(other) && self.pressed == other.pressed
    }

    const fn take_over(&mut self, before: &Self) {
        self.seen = SwitchSeen {
            panel: self.seen.panel,
            ..before.seen
        };
        self.raw = before.raw;
        self.changed = before.changed;
        self.settling = before.settling;
        self.counted = before.counted;
        self.began = before.began;
    }
}

/// One more in the ring, which never grows.
fn push(ring: &mut VecDeque<Press>, number: &mut u64, seen: &SwitchSeen, down: bool, at: Time) {
    *number += 1;
    if ring.len() == RING {
        ring.pop_front();
    }
    ring.push_back(Press {
        number: *number,
        panel: seen.panel,
        switch: seen.switch,
        down,
        at,
    });
}

fn count(count: usize) -> u32 {
    u32::try_from(count).unwrap_or(u32::MAX)
}
