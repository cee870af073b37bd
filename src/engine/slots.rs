//! The slots of every universe as they arrived, for who looks at them.

use super::Engine;
use super::offset::{self, Verdict};
use super::slot_set::SlotSet;
use crate::floor::tables::UNIVERSE_SLOTS;
use crate::units::Time;
use crate::wire::PortAddress;

/// All universes, mapped and remembered unmapped ones.
#[derive(Debug, Clone, Default)]
pub struct AllSlots {
    /// Revision of the floor that they belong to.
    pub revision: u32,
    /// Milliseconds since the daemon started.
    pub uptime_ms: u32,
    /// One for each, in no order.
    pub universes: Vec<UniverseSlots>,
}

/// One universe.
#[derive(Debug, Clone)]
pub struct UniverseSlots {
    /// Its address.
    pub port_address: PortAddress,
    /// Slots in its last frame; 0 if none came.
    pub length: u16,
    /// Milliseconds since its last frame; nothing if none came.
    pub age_ms: Option<u32>,
    /// As they arrived, sources merged.
    pub levels: [u8; UNIVERSE_SLOTS],
    /// Those that changed within the last second or two.
    pub moving: SlotSet,
    mapped: SlotSet,
    first_pixels: SlotSet,
}

/// What an operator sends on purpose, so that it can be seen where it lands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Reference {
    /// The first pixel of every panel is lit, and nothing else.
    FirstPixels,
    /// Every pixel of the floor is lit, and nothing else.
    All,
}

impl UniverseSlots {
    /// Where a reference has landed.
    pub fn check(&self, reference: Reference) -> Verdict {
        let expected = match reference {
            Reference::FirstPixels => self.first_pixels,
            Reference::All => self.mapped,
        };
        offset::compare(SlotSet::lit(&self.levels), expected)
    }
}

impl Engine {
    /// The slots of every universe, as they are now.
    pub fn slots(&self, now: Time) -> AllSlots {
        let mapped = self.tables.universes.iter().zip(&self.universes);
        let mapped = mapped.zip(&self.expected);
        let mut universes: Vec<_> = mapped
            .map(|((row, universe), expected)| UniverseSlots {
                port_address: row.port_address,
                length: universe.length,
                age_ms: universe.at.map(|at| ms(now.us_since(at))),
                levels: universe.merged,
                moving: universe.motion.moving(now),
                mapped: expected.mapped,
                first_pixels: expected.first_pixels,
            })
            .collect();
        universes.extend(self.unmapped.recent(now).map(|seen| UniverseSlots {
            port_address: seen.port_address,
            length: seen.length,
            age_ms: Some(ms(now.us_since(seen.at))),
            levels: seen.levels,
            moving: seen.motion.moving(now),
            mapped: SlotSet::default(),
            first_pixels: SlotSet::default(),
        }));
        AllSlots {
            revision: self.revision,
            uptime_ms: ms(now.us_since(self.started)),
            universes,
        }
    }
}

fn ms(us: u64) -> u32 {
    u32::try_from(us / 1_000).unwrap_or(u32::MAX)
}
