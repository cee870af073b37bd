//! The way along a run, slot by slot, for the true draw alone: the frame path has its own.

use crate::wire::PortAddress;

/// A hand that moves along a run, slot by slot.
pub(super) struct Walk {
    universe: u16,
    slot: usize,
}

impl Walk {
    /// At the first slot of a run; slots count from 1.
    pub(super) fn from(start: PortAddress, slot: u16) -> Self {
        Self {
            universe: start.number(),
            slot: usize::from(slot) - 1,
        }
    }

    /// Behind the last slot of a universe comes the first of the next.
    fn wrap(&mut self) {
        if self.slot == 512 {
            self.universe += 1;
            self.slot = 0;
        }
    }

    /// Passes slots that light nothing.
    pub(super) fn pass(&mut self, slots: usize) {
        for _ in 0..slots {
            self.wrap();
            self.slot += 1;
        }
        self.wrap();
    }

    /// Before a panel of `slots` slots that has to lie whole.
    pub(super) fn make_room(&mut self, slots: usize) {
        if self.slot > 0 && self.slot + slots > 512 {
            self.universe += 1;
            self.slot = 0;
        }
    }

    /// The places of one pixel's `count` slots. Past the last universe there is nothing.
    pub(super) fn pixel(&mut self, count: usize, packed: bool) -> Vec<(u16, usize)> {
        if !packed && self.slot + count > 512 {
            self.universe += 1;
            self.slot = 0;
        }
        (0..count)
            .map(|_| {
                self.wrap();
                self.slot += 1;
                (self.universe, self.slot - 1)
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn unless_packed_a_pixel_that_does_not_fit_moves_on_whole() {
        let mut walk = Walk {
            universe: 4,
            slot: 510,
        };
        assert_eq!(walk.pixel(3, false), [(5, 0), (5, 1), (5, 2)]);
        let mut walk = Walk {
            universe: 4,
            slot: 510,
        };
        assert_eq!(walk.pixel(3, true), [(4, 510), (4, 511), (5, 0)]);
        let mut walk = Walk {
            universe: 4,
            slot: 509,
        };
        assert_eq!(walk.pixel(3, false), [(4, 509), (4, 510), (4, 511)]);
        assert_eq!(walk.pixel(1, false), [(5, 0)]);
        // Common practice: 64 panels of 40 pixels of 3 slots pack into 15 universes, full.
        let mut walk = Walk {
            universe: 0,
            slot: 0,
        };
        let last = (0..64 * 40).flat_map(|_| walk.pixel(3, true)).last();
        assert_eq!(last, Some((14, 511)));
    }

    #[test]
    fn what_lights_nothing_is_passed_and_whole_panels_make_room() {
        // Behind a pixel that ends at the last slot, 34 spare slots are the first of the next.
        let mut walk = Walk {
            universe: 0,
            slot: 509,
        };
        assert_eq!(walk.pixel(3, false).last(), Some(&(0, 511)));
        walk.pass(34);
        walk.make_room(27);
        assert_eq!(walk.pixel(3, false)[0], (1, 34));
        let mut walk = Walk {
            universe: 2,
            slot: 500,
        };
        walk.pass(12);
        assert_eq!(walk.pixel(1, true), [(3, 0)]);
        walk.make_room(511);
        assert_eq!(walk.pixel(1, true), [(3, 1)]);
        walk.make_room(511);
        assert_eq!(walk.pixel(1, true), [(4, 0)]);
    }
}
