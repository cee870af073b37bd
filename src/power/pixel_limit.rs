//! No pixel draws more than its kind may.
//!
//! A pixel that asks for more is dimmed by itself, all its colours alike, so that its colour stays.
//! One whose slots leave in two universes can't be seen whole, and its halves may be on show in
//! frames of different age: there each slot is held at what it may have when all are at full.

use super::draw::Scale;
use crate::floor::model::{Byte, SlotRole};
use crate::floor::tables::{Part, Pattern};
use crate::units::Draw;

/// Holds the slots of one part, as they lie in the universe that leaves, within the limit of
/// their kind of pixel; levels are rounded down.
pub fn hold(part: &Part, pattern: &Pattern, universe: &mut [u8]) {
    let Some(room) = pattern.room else { return };
    let slots = &mut universe[usize::from(part.dst)..][..usize::from(part.len)];
    let roles = &pattern.slots;
    let begun = usize::from(part.phase);
    // What is left of a pixel that began in another universe.
    let head = if begun == 0 { 0 } else { roles.len() - begun };
    let (head, rest) = slots.split_at_mut(head.min(slots.len()));
    hold_apart(&roles[begun..], roles, room, head);
    let mut pixels = rest.chunks_exact_mut(roles.len());
    for pixel in &mut pixels {
        hold_whole(roles, room, pixel);
    }
    let tail = pixels.into_remainder();
    hold_apart(roles, roles, room, tail);
}

/// Colours of a whole pixel, dimmed alike.
fn hold_whole(roles: &[SlotRole], room: Draw, slots: &mut [u8]) {
    let asked = roles.iter().zip(&*slots);
    let asked = asked.map(|(role, &level)| Draw(u64::from(level) * role.parts_per_step()));
    let scale = Scale::to_fit(asked.sum(), room);
    if scale == Scale::ONE {
        return;
    }
    for at in 0..slots.len() {
        match roles[at].byte {
            Byte::Whole => slots[at] = scale.byte(slots[at]),
            Byte::Coarse { partner } => match at.checked_add_signed(isize::from(partner)) {
                Some(fine) if fine < slots.len() => {
                    [slots[at], slots[fine]] = scale.halves(slots[at], slots[fine]);
                }
                _ => slots[at] = scale.byte(slots[at]),
            },
            // Scaled with its coarse half.
            Byte::Fine { .. } => {}
        }
    }
}

/// Slots of a pixel whose others lie in another universe: at most what they have in a pixel
/// that is at full and held.
fn hold_apart(own: &[SlotRole], all: &[SlotRole], room: Draw, slots: &mut [u8]) {
    let full = all.iter().map(|role| Draw(255 * role.parts_per_step()));
    let scale = Scale::to_fit(full.sum(), room);
    if scale == Scale::ONE {
        return;
    }
    for (role, level) in own.iter().zip(slots) {
        let most = match role.byte {
            Byte::Whole => scale.byte(255),
            // With any fine half it is no more than its share.
            Byte::Coarse { .. } => scale.byte(255).saturating_sub(1),
            Byte::Fine { .. } => 255,
        };
        *level = most.min(*level);
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::floor::{Tables, parse};

    fn role(full_ua: u32, byte: Byte) -> SlotRole {
        SlotRole {
            colour: crate::floor::model::Colour::Red,
            byte,
            full_ua,
        }
    }

    fn pattern(full_ua: &[u32], wide: bool, room_ua: u64) -> Pattern {
        let slots = full_ua.iter().flat_map(|&full_ua| {
            let halves = vec![
                role(full_ua, Byte::Coarse { partner: 1 }),
                role(full_ua, Byte::Fine { partner: -1 }),
            ];
            if wide {
                halves
            } else {
                vec![role(full_ua, Byte::Whole)]
            }
        });
        Pattern {
            slots: slots.collect(),
            whole: !wide,
            room: Some(Draw::from_ua(room_ua)),
        }
    }

    /// Microamperes of the slots of one pixel, reckoned apart from the exact sums.
    fn drawn_ua(full_ua: &[u32], wide: bool, slots: &[u8]) -> f64 {
        let share = |at: usize| {
            if wide {
                f64::from(u16::from_be_bytes([slots[2 * at], slots[2 * at + 1]])) / 65_535.0
            } else {
                f64::from(slots[at]) / 255.0
            }
        };
        let colours = full_ua.iter().enumerate();
        colours.map(|(at, &full)| f64::from(full) * share(at)).sum()
    }

    #[test]
    fn full_white_is_held_and_a_single_colour_is_not() {
        // WS2811 datasheet: 18.5 mA an output, 55.5 mA in all. At 37 mA each level is two thirds.
        let kind = pattern(&[18_500; 3], false, 37_000);
        let part = Part {
            panel: 0,
            pattern: 0,
            phase: 0,
            dst: 3,
            len: 9,
            src: 0,
            first_pixel: 0,
        };
        let mut slots = [0, 0, 0, 255, 255, 255, 255, 0, 0, 255, 255, 0, 7];
        hold(&part, &kind, &mut slots);
        assert_eq!(slots, [0, 0, 0, 169, 169, 169, 255, 0, 0, 255, 255, 0, 7]);
    }

    proptest! {
        #[test]
        fn no_pixel_passes_its_limit_and_its_colour_stays(
            full_ua in prop::collection::vec(1_000..40_000_u32, 1..=4),
            wide in any::<bool>(),
            share in 0.0..1.2_f64,
            phase in 0..8_u16,
            levels in prop::collection::vec(any::<u8>(), 64),
        ) {
            let sum: u32 = full_ua.iter().sum();
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "small")]
            let room_ua = (f64::from(sum) * share) as u64;
            let kind = pattern(&full_ua, wide, room_ua);
            let roles = u16::try_from(kind.slots.len()).unwrap();
            let phase = phase % roles;
            let part = Part {
                panel: 0, pattern: 0, phase, dst: 0, len: 64, src: 0, first_pixel: 0,
            };
            let mut held = levels.clone();
            hold(&part, &kind, &mut held);
            prop_assert!(held.iter().zip(&levels).all(|(held, level)| held <= level || wide));
            let head = usize::from((roles - phase) % roles);
            for at in (head..64).step_by(usize::from(roles)) {
                let Some(pixel) = held.get(at..at + usize::from(roles)) else { break };
                let asked = drawn_ua(&full_ua, wide, &levels[at..]);
                let drawn = drawn_ua(&full_ua, wide, pixel);
                #[expect(clippy::cast_precision_loss, reason = "small")]
                let room = room_ua as f64;
                prop_assert!(drawn <= room + 1e-6, "{drawn} of {room}");
                // Rounded down by less than a step a colour and a 65,536th.
                let step: f64 = full_ua.iter().map(|&full| f64::from(full)).sum::<f64>()
                    / if wide { 65_535.0 } else { 255.0 };
                prop_assert!(drawn > asked.min(room) - step - asked / 65_536.0 - 1e-6);
            }
            let again = held.clone();
            hold(&part, &kind, &mut held);
            prop_assert_eq!(held, again, "once is enough");
        }
    }

    #[test]
    fn a_pixel_in_two_universes_is_within_its_limit_whatever_its_halves_show() {
        // 512 slots hold 170 pixels of three and two slots of the next one.
        let text = include_str!("../../config/first-floor.toml")
            .replace("idle_ma = 2.6", "idle_ma = 2.6\nlimit_ma = 30")
            .replace("columns = 5\nrows = 4", "columns = 20\nrows = 20")
            .replace("segments = [5, 5, 5, 5]", "")
            .replace("port = 1", "port = 1\npacking = \"packed\"");
        let floor = parse("packed.toml", &text).unwrap_or_else(|faults| panic!("{faults}"));
        let tables = Tables::compile(&floor);
        let mut drawn_ma = vec![0.0; tables.pixels_mm.len()];
        for output in &tables.outputs {
            let mut universe = [255; 512];
            for part in &output.parts {
                let kind = &tables.patterns[usize::from(part.pattern)];
                hold(part, kind, &mut universe);
                for at in 0..part.len {
                    let pixel = part.first_pixel + u32::from((part.phase + at) / 3);
                    let level = universe[usize::from(part.dst + at)];
                    drawn_ma[pixel as usize] += 18.5 * f64::from(level) / 255.0;
                }
            }
        }
        // 30 mA less 2.6 mA idle. Each of three levels is rounded down.
        let least = 27.4 - 3.0 * 18.5 / 255.0;
        assert!(drawn_ma.iter().all(|ma| (least..=27.4).contains(ma)));
    }
}
