//! How a run's pixels fill its universes: the one place that knows about straddling.

use super::tables::UNIVERSE_SLOTS;

/// The slots of one panel inside one universe.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Stretch {
    /// Number of the Port-Address; beyond the last one when a run is too long.
    pub(super) universe: u32,
    /// First slot, from 0.
    pub(super) first: u16,
    /// Number of slots.
    pub(super) len: u16,
    /// The pixel of the panel that the first slot belongs to.
    pub(super) pixel: u32,
    /// Which of that pixel's slots the first one is.
    pub(super) phase: u16,
}

/// The next free slot of a run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Cursor {
    universe: u32,
    /// From 0; 512 when the universe is full.
    slot: u32,
    straddle: bool,
}

/// Slots of one universe, to reckon with.
const FULL: u32 = 512;
const _: () = assert!(FULL as usize == UNIVERSE_SLOTS);

impl Cursor {
    /// At the beginning of a run; `slot` counts from 1.
    pub(super) fn new(start: u16, slot: u16, straddle: bool) -> Self {
        Self {
            universe: u32::from(start),
            slot: u32::from(slot).saturating_sub(1),
            straddle,
        }
    }

    /// Lays one panel's pixels. A pixel that does not fit whole begins the next universe, unless
    /// pixels may straddle.
    #[expect(
        clippy::cast_possible_truncation,
        reason = "slots of one universe, 512 at most"
    )]
    pub(super) fn lay(
        &mut self,
        pixels: u32,
        slots_per_pixel: usize,
        mut each: impl FnMut(Stretch),
    ) {
        let per_pixel = slots_per_pixel.clamp(1, UNIVERSE_SLOTS) as u32;
        let total = pixels * per_pixel;
        let mut laid = 0;
        while laid < total {
            let mut room = FULL - self.slot;
            if !self.straddle {
                room -= room % per_pixel;
            }
            if room == 0 {
                self.universe += 1;
                self.slot = 0;
                continue;
            }
            let len = room.min(total - laid);
            each(Stretch {
                universe: self.universe,
                first: self.slot as u16,
                len: len as u16,
                pixel: laid / per_pixel,
                phase: (laid % per_pixel) as u16,
            });
            laid += len;
            self.slot += len;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lay(start: u16, slot: u16, straddle: bool, panels: &[(u32, usize)]) -> Vec<Stretch> {
        let mut cursor = Cursor::new(start, slot, straddle);
        let mut all = Vec::new();
        for (pixels, per_pixel) in panels {
            cursor.lay(*pixels, *per_pixel, |stretch| all.push(stretch));
        }
        all
    }

    #[test]
    fn without_straddling_a_universe_holds_170_pixels_of_three_slots() {
        // Common practice, no source: 170 RGB pixels, 510 slots, in a universe.
        let all = lay(1, 1, false, &[(171, 3)]);
        assert_eq!((all[0].universe, all[0].first, all[0].len), (1, 0, 510));
        assert_eq!(
            (all[1].universe, all[1].first, all[1].len, all[1].pixel),
            (2, 0, 3, 170)
        );
    }

    #[test]
    fn with_straddling_it_is_filled_to_the_last_slot() {
        // Common practice, no source: 64 panels of 40 RGB pixels are 7,680 slots: 15 universes
        // full and nothing over.
        let all = lay(0, 1, true, &[(40, 3); 64]);
        assert_eq!(all.iter().map(|s| u32::from(s.len)).sum::<u32>(), 7_680);
        let last = all.last().unwrap();
        assert_eq!((last.universe, last.first + last.len), (14, 512));
        let second = all.iter().find(|s| s.universe == 1).unwrap();
        assert_eq!(
            (second.pixel, second.phase),
            (10, 2),
            "slot 512 is the second of a pixel"
        );
    }

    #[test]
    fn a_pixel_that_does_not_fit_at_the_start_begins_the_next_universe() {
        assert_eq!(lay(7, 511, false, &[(1, 3)])[0].universe, 8);
        assert_eq!(lay(7, 510, false, &[(1, 3)])[0].universe, 7);
        let straddling = lay(7, 511, true, &[(1, 3)]);
        assert_eq!(
            (straddling[0].len, straddling[1].len, straddling[1].phase),
            (2, 1, 2)
        );
    }
}
