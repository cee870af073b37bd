//! Which slots of a universe that arrives light what, as sets: compiled once, read beside the path.

use super::slot_set::SlotSet;
use crate::floor::tables::{Tables, UNIVERSE_SLOTS};

/// What the floor file maps of one universe that arrives.
#[derive(Debug, Clone, Default)]
pub(super) struct Expected {
    /// Every slot that lights something.
    pub(super) mapped: SlotSet,
    /// Those of the first pixel of each panel.
    pub(super) first_pixels: SlotSet,
    /// Each panel with its last slot, counted from 1, ascending.
    pub(super) ends: Vec<(u16, u32)>,
}

/// One for each universe that arrives.
pub(super) fn of(tables: &Tables) -> Vec<Expected> {
    let mut all = vec![Expected::default(); tables.universes.len()];
    for part in tables.outputs.iter().flat_map(|out| &out.parts) {
        let first = part.src as usize % UNIVERSE_SLOTS;
        let last = first + usize::from(part.len);
        let expected = &mut all[part.src as usize / UNIVERSE_SLOTS];
        expected.mapped.add(first..last);
        if part.first_pixel == tables.panels[part.panel as usize].first_pixel {
            let of_pixel = tables.patterns[usize::from(part.pattern)].slots.len();
            let left = of_pixel.saturating_sub(usize::from(part.phase));
            expected.first_pixels.add(first..last.min(first + left));
        }
        let last = u16::try_from(last).unwrap_or(u16::MAX);
        expected.ends.push((last, part.panel));
    }
    for expected in &mut all {
        expected.ends.sort_unstable();
        expected.ends.dedup();
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    use std::net::{Ipv4Addr, SocketAddrV4};
    use std::sync::Arc;

    use super::super::{Engine, Me};
    use crate::units::Time;

    /// The console packs this floor into fewer universes than leave to its nodes.
    #[test]
    fn what_arrives_is_expected_and_not_what_leaves() {
        let text = include_str!("../../config/large-floor.toml");
        let floor = crate::floor::parse("large-floor.toml", text).unwrap();
        let tables = Arc::new(Tables::compile(&floor));
        assert!(tables.outputs.len() > tables.universes.len());
        let me = Me {
            listener: SocketAddrV4::new(Ipv4Addr::LOCALHOST, 6_454),
            interfaces: Vec::new(),
        };
        let now = Time::default();
        let engine = Engine::new(Arc::new(floor), Arc::clone(&tables), me, now);
        let state = engine.state(now);
        let needs = state.universes.iter().map(|it| it.arrival.needs_slots);
        let needs: Vec<u16> = needs.collect();
        let mapped: Vec<u16> = tables.universes.iter().map(|it| it.slots).collect();
        assert_eq!(needs, mapped);
    }
}
