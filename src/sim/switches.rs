//! The switches of a simulated node: an Art-Net input that sends their levels when one changes, and
//! every second between, to whoever says in its poll replies that it outputs that Port-Address.
//!
//! It looks for them by asking everybody who polls the node. Packets are written and read by an
//! independent protocol library, and where a switch lies is counted here anew.

use std::collections::BTreeMap;
use std::net::SocketAddrV4;

use artnet_protocol::{ArtCommand, Output, Poll};

use super::node::SimNode;
use crate::floor::model::Floor;
use crate::units::Time;

/// What does not change is sent again after so long.
const KEEP_ALIVE_MS: u64 = 1_000;

/// Whoever polls the node is asked so often in return (Art-Net 4: every 2.5 to 3 s).
const ASK_EVERY_MS: u64 = 2_700;

/// Who has not said for so long that it outputs a universe is sent no more.
const LISTENS_MS: u64 = 10_000;

/// So many are asked at most.
const MOST_ASKED: usize = 8;

/// One universe of switches.
#[derive(Debug, Clone)]
struct Universe {
    levels: Vec<u8>,
    sequence: u8,
    sent: Option<Time>,
    changed: bool,
}

/// Where a switch lies, and its two levels.
#[derive(Debug, Clone, Copy)]
struct Place {
    universe: u16,
    slot: usize,
    levels: [u8; 2],
}

/// The switches of one node.
#[derive(Debug, Clone, Default)]
pub struct SimSwitches {
    universes: BTreeMap<u16, Universe>,
    places: BTreeMap<(usize, u16), Place>,
    /// Who is asked, and when it was last.
    asked: Vec<(SocketAddrV4, Option<Time>)>,
    /// Who outputs which universe, and when it last said so; for ever if it was configured.
    listeners: BTreeMap<(u16, SocketAddrV4), Option<Time>>,
}

impl SimSwitches {
    /// All that `floor` lets its node number `node` send, none of it pressed.
    pub fn new(floor: &Floor, node: usize) -> Self {
        let mut all = Self::default();
        for input in floor.inputs.iter().filter(|input| input.node == node) {
            let (mut universe, mut slot) = (input.start.number(), usize::from(input.slot) - 1);
            for &panel in &input.panels {
                let kind = &floor.panel_kinds[floor.panels[panel].kind];
                for switch in 1..=kind.switches {
                    if slot == 512 {
                        (universe, slot) = (universe + 1, 0);
                    }
                    let levels = [false, true].map(|down| input.pressed.level(down));
                    all.lay(
                        (panel, switch),
                        Place {
                            universe,
                            slot,
                            levels,
                        },
                    );
                    slot += 1;
                }
            }
        }
        all
    }

    fn lay(&mut self, switch: (usize, u16), place: Place) {
        let universe = self.universes.entry(place.universe).or_insert(Universe {
            levels: Vec::new(),
            sequence: 0,
            sent: None,
            changed: true,
        });
        // An even number of slots, at least two (Art-Net 4).
        let slots = (place.slot + 2) & !1;
        if universe.levels.len() < slots {
            universe.levels.resize(slots, 0);
        }
        universe.levels[place.slot] = place.levels[0];
        self.places.insert(switch, place);
    }

    /// Sends to `to` in any case, as a node that was told an address.
    pub fn send_to(&mut self, to: SocketAddrV4) {
        for &universe in self.universes.keys() {
            self.listeners.insert((universe, to), None);
        }
    }

    /// A foot on a switch (counted from 1), or off it; false if the node has no such switch.
    pub fn press(&mut self, panel: usize, switch: u16, down: bool) -> bool {
        let Some(place) = self.places.get(&(panel, switch)) else {
            return false;
        };
        if let Some(universe) = self.universes.get_mut(&place.universe) {
            let level = place.levels[usize::from(down)];
            universe.changed |= universe.levels[place.slot] != level;
            universe.levels[place.slot] = level;
        }
        true
    }

    /// Hears what arrives at the node's socket: who polls it, and who outputs what.
    pub fn hear(&mut self, now: Time, from: SocketAddrV4, bytes: &[u8]) {
        match ArtCommand::from_buffer(bytes) {
            Ok(ArtCommand::Poll(_)) => {
                let known = self.asked.iter().any(|(asked, _)| *asked == from);
                if !known && self.asked.len() < MOST_ASKED {
                    self.asked.push((from, None));
                }
            }
            Ok(ArtCommand::PollReply(reply)) => {
                let [net, sub_net] = reply.port_address.map(u16::from);
                let ports = reply.port_types.iter().zip(reply.swout);
                for (_, low) in ports.filter(|(kind, _)| **kind & 0x80 != 0) {
                    let universe = net << 8 | (sub_net & 15) << 4 | u16::from(low & 15);
                    if !self.universes.contains_key(&universe) {
                        continue;
                    }
                    let listener = self.listeners.entry((universe, from)).or_insert(Some(now));
                    if let Some(said) = listener {
                        *said = now;
                    }
                }
            }
            _ => {}
        }
    }

    /// What is to be sent by `now`, and to whom. Call it some tens of times a second.
    pub fn due(&mut self, now: Time) -> Vec<(SocketAddrV4, Vec<u8>)> {
        let mut due: Vec<(SocketAddrV4, ArtCommand)> = Vec::new();
        if self.universes.is_empty() {
            return Vec::new();
        }
        for (to, last) in &mut self.asked {
            if last.is_none_or(|last| now.us_since(last) >= ASK_EVERY_MS * 1_000) {
                *last = Some(now);
                due.push((*to, ArtCommand::Poll(Poll::default())));
            }
        }
        self.listeners
            .retain(|_, said| said.is_none_or(|said| now.us_since(said) < LISTENS_MS * 1_000));
        for (&number, universe) in &mut self.universes {
            let rested = universe
                .sent
                .is_none_or(|sent| now.us_since(sent) >= KEEP_ALIVE_MS * 1_000);
            let listeners = || {
                let every = (self.listeners.keys()).filter(|(of, _)| *of == number);
                every.map(|(_, to)| *to)
            };
            if !(universe.changed || rested) || listeners().next().is_none() {
                continue;
            }
            (universe.changed, universe.sent) = (false, Some(now));
            universe.sequence = universe.sequence % 255 + 1;
            for to in listeners() {
                let Ok(port_address) = number.try_into() else {
                    continue;
                };
                let output = Output {
                    port_address,
                    sequence: universe.sequence,
                    data: universe.levels.clone().into(),
                    ..Output::default()
                };
                due.push((to, ArtCommand::Output(output)));
            }
        }
        let bytes = due.into_iter().filter_map(|(to, packet)| {
            let bytes = packet.write_to_buffer().ok()?;
            Some((to, bytes))
        });
        bytes.collect()
    }
}

/// What a simulated node does with its switches.
impl SimNode {
    /// The same node with switches.
    #[must_use]
    pub fn with_switches(mut self, switches: SimSwitches) -> Self {
        self.switches = Some(switches);
        self
    }

    /// A foot on a switch of `panel` (counted from 1), or off it; false if this node has none such.
    pub fn press(&mut self, panel: usize, switch: u16, down: bool) -> bool {
        let switches = self.switches.as_mut();
        switches.is_some_and(|switches| switches.press(panel, switch, down))
    }

    /// Hears who could listen to its switches; besides [`Self::handle`].
    pub fn hear(&mut self, now: Time, from: SocketAddrV4, bytes: &[u8]) {
        let on = self.is_on(now);
        if let Some(switches) = self.switches.as_mut().filter(|_| on) {
            switches.hear(now, from, bytes);
        }
    }

    /// What its switches have to send by `now`.
    pub fn due(&mut self, now: Time) -> Vec<(SocketAddrV4, Vec<u8>)> {
        let on = self.is_on(now);
        let switches = self.switches.as_mut().filter(|_| on);
        switches
            .map(|switches| switches.due(now))
            .unwrap_or_default()
    }
}

#[cfg(test)]
mod tests;
