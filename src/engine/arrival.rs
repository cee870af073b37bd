//! How a universe arrives, for people: what moves, what is missing, what can't be right.

use super::expected::Expected;
use super::offset;
use super::slot_set::SlotSet;
use super::snapshot::ArrivalState;
use super::universe::Universe;
use crate::floor::model::Floor;
use crate::units::Time;

/// Names of panels that a snapshot lists.
const MOST_NAMES: usize = 16;

/// How a mapped universe arrives.
pub(super) fn of(
    universe: &Universe,
    expected: &Expected,
    needs_slots: u16,
    floor: &Floor,
    now: Time,
) -> ArrivalState {
    let lit = SlotSet::lit(&universe.merged);
    let moving = universe.motion.moving(now);
    // While nothing comes, the last frame is what there is.
    let newest = (universe.length, universe.length);
    let (shortest, longest) = universe.motion.lengths(now).unwrap_or(newest);
    let came = universe.at.is_some();
    let short_by_slots = if came {
        needs_slots.saturating_sub(longest)
    } else {
        0
    };
    let mut cut_off: Vec<u32> = Vec::new();
    if short_by_slots > 0 {
        let behind = expected.ends.partition_point(|&(last, _)| last <= longest);
        for &(_, panel) in &expected.ends[behind..] {
            if !cut_off.contains(&panel) {
                cut_off.push(panel);
            }
        }
    }
    let names = cut_off.iter().take(MOST_NAMES);
    ArrivalState {
        needs_slots,
        short_by_slots,
        cut_off: names
            .map(|&panel| floor.panels[panel as usize].position.to_string())
            .collect(),
        cut_off_panels: count(cut_off.len()),
        odd_length: universe.length % 2 == 1,
        length_varies: shortest != longest,
        moving_slots: moving.len(),
        still_lit_slots: lit.without(moving).len(),
        stray_lit_slots: lit.without(expected.mapped).len(),
        missing_frames: universe.missing_frames(now),
        overtaken_frames: universe.overtaken.total(now),
        contested_slots: universe.contested_slots(),
        source_changes: universe.joined.total(now),
        offset_slots: offset::suspect(universe.motion.lit_lately(now), expected.mapped),
    }
}

fn count(count: usize) -> u32 {
    u32::try_from(count).unwrap_or(u32::MAX)
}
