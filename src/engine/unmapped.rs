//! Universes that arrive but light nothing: a wrong number at the console shows here.

use std::net::Ipv4Addr;

use super::motion::Motion;
use super::slot_set::SlotSet;
use super::snapshot::{ArrivalState, SourceState, UniverseState};
use super::universe::{Rate, SOURCE_LEAVES_AFTER_S};
use crate::floor::tables::UNIVERSE_SLOTS;
use crate::units::Time;
use crate::wire::PortAddress;
use crate::wire::dmx::Dmx;

/// So many are remembered; the longest silent gives way.
const MOST: usize = 64;

/// A table of fixed size.
#[derive(Debug, Default)]
pub(super) struct Unmapped(Vec<Seen>);

/// One of them.
#[derive(Debug)]
pub(super) struct Seen {
    pub(super) port_address: PortAddress,
    from: Ipv4Addr,
    physical: u8,
    pub(super) at: Time,
    pub(super) length: u16,
    pub(super) levels: [u8; UNIVERSE_SLOTS],
    pub(super) motion: Motion,
    rate: Rate,
}

impl Unmapped {
    pub(super) fn take(&mut self, dmx: &Dmx<'_>, from: Ipv4Addr, now: Time) {
        let known = self
            .0
            .iter()
            .position(|seen| seen.port_address == dmx.port_address);
        let at = known.unwrap_or_else(|| {
            if self.0.len() == MOST {
                let oldest = (0..MOST).min_by_key(|&at| self.0[at].at).unwrap_or(0);
                self.0.swap_remove(oldest);
            }
            self.0.push(Seen {
                port_address: dmx.port_address,
                from,
                physical: dmx.physical,
                at: now,
                length: 0,
                levels: [0; UNIVERSE_SLOTS],
                motion: Motion::default(),
                rate: Rate::default(),
            });
            self.0.len() - 1
        });
        let seen = &mut self.0[at];
        (seen.from, seen.physical, seen.at) = (from, dmx.physical, now);
        seen.length = u16::try_from(dmx.slots.len()).unwrap_or(512);
        let before = seen.levels;
        seen.levels[..dmx.slots.len()].copy_from_slice(dmx.slots);
        seen.motion.take(&before, &seen.levels, seen.length, now);
        seen.rate.count(now);
    }

    /// Forgets those that are mapped now.
    pub(super) fn forget(&mut self, mapped: impl Fn(PortAddress) -> bool) {
        self.0.retain(|seen| !mapped(seen.port_address));
    }

    /// Those of the last ten seconds.
    pub(super) fn recent(&self, now: Time) -> impl Iterator<Item = &Seen> {
        let lasts = SOURCE_LEAVES_AFTER_S * 1_000_000;
        let seen = self.0.iter();
        seen.filter(move |seen| now.us_since(seen.at) < lasts)
    }

    /// What people see of them, ascending.
    pub(super) fn states(&self, now: Time) -> Vec<UniverseState> {
        let mut recent: Vec<&Seen> = self.recent(now).collect();
        recent.sort_by_key(|seen| seen.port_address);
        recent
            .iter()
            .map(|seen| UniverseState {
                port_address: seen.port_address.to_string(),
                fps: seen.rate.per_s(now),
                age_s: Some(now.s_since(seen.at)),
                sources: vec![SourceState {
                    address: seen.from.to_string(),
                    physical: seen.physical,
                    age_s: now.s_since(seen.at),
                    ignored: false,
                }],
                slots: seen.length,
                mapped: false,
                merging: false,
                synced: false,
                lost: false,
                arrival: seen.arrival(now),
            })
            .collect()
    }
}

impl Seen {
    fn arrival(&self, now: Time) -> ArrivalState {
        let (lit, moving) = (SlotSet::lit(&self.levels), self.motion.moving(now));
        let lengths = self.motion.lengths(now);
        ArrivalState {
            odd_length: self.length % 2 == 1,
            length_varies: lengths.is_some_and(|(least, most)| least != most),
            moving_slots: moving.len(),
            still_lit_slots: lit.without(moving).len(),
            stray_lit_slots: lit.len(),
            ..ArrivalState::default()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_flood_of_addresses_keeps_the_newest() {
        let mut unmapped = Unmapped::default();
        for number in 0..1_000_u16 {
            let port_address = PortAddress::new(number).unwrap();
            let dmx = Dmx {
                sequence: 0,
                physical: 0,
                port_address,
                slots: &[0; 8],
            };
            unmapped.take(&dmx, Ipv4Addr::LOCALHOST, Time::from_ms(number.into()));
        }
        let states = unmapped.states(Time::from_ms(1_000));
        assert_eq!(states.len(), MOST);
        assert_eq!(
            states[MOST - 1].port_address,
            PortAddress::new(999).unwrap().to_string()
        );
        assert!(unmapped.states(Time::from_s(12)).is_empty());
    }
}
