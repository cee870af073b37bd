//! How a run's pixels fill its universes: the one place that knows about straddling.

use super::model::{Lead, Packing, Run};
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
    packing: Packing,
}

/// Slots of one universe, to reckon with.
const FULL: u32 = 512;
const _: () = assert!(FULL as usize == UNIVERSE_SLOTS);

impl Cursor {
    /// At the beginning of a run; `slot` counts from 1.
    pub(super) fn new(start: u16, slot: u16, packing: Packing) -> Self {
        Self {
            universe: u32::from(start),
            slot: u32::from(slot).saturating_sub(1),
            packing,
        }
    }

    /// The universe and the slot, from 1, where the next panel would begin if its slots were
    /// packed.
    pub(super) fn next(self) -> (u32, u32) {
        let over = self.slot / FULL;
        (self.universe + over, self.slot % FULL + 1)
    }

    /// Passes what lies before a panel and lights nothing; `each` gets the unused pixels' slots.
    pub(super) fn pass(&mut self, lead: Lead, slots_per_pixel: usize, each: impl FnMut(Stretch)) {
        self.skip(lead.spare_slots.saturating_sub(lead.spare_behind));
        let pixels = u32::from(lead.unused_pixels);
        let packing = self.packing;
        // A lead is no panel that has to lie whole.
        if packing == Packing::WholePanel {
            self.packing = Packing::WholePixel;
        }
        self.lay(pixels, slots_per_pixel, each);
        self.packing = packing;
        self.skip(lead.spare_behind);
    }

    fn skip(&mut self, slots: u16) {
        if slots > 0 {
            self.slot += u32::from(slots);
            self.universe += self.slot / FULL;
            self.slot %= FULL;
        }
    }

    /// Lays one panel's pixels. What does not fit as the packing wants it begins the next
    /// universe.
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
        if self.packing == Packing::WholePanel && self.slot > 0 && total > FULL - self.slot {
            self.universe += 1;
            self.slot = 0;
        }
        let mut laid = 0;
        while laid < total {
            let mut room = FULL - self.slot;
            if self.packing != Packing::Packed {
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

/// The slots of one panel inside one universe of the node and one of the console.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Both {
    /// At the node.
    pub(super) node: Stretch,
    /// Number of the console's Port-Address.
    pub(super) source_universe: u32,
    /// First slot there, from 0.
    pub(super) source_first: u16,
}

/// Follows a run at the node and at the console.
#[derive(Debug, Clone)]
pub(super) struct Follower {
    node: Cursor,
    source: Option<Cursor>,
}

impl Follower {
    /// At the beginning of a run.
    pub(super) fn new(run: &Run) -> Self {
        Self {
            node: Cursor::new(run.start.number(), run.slot, run.packing),
            source: run
                .source
                .map(|source| Cursor::new(source.start.number(), source.slot, source.packing)),
        }
    }

    /// Passes a panel's lead and lays the panel; `unused` gets the slots of the lead's pixels.
    pub(super) fn lay(
        &mut self,
        lead: Lead,
        pixels: u32,
        slots_per_pixel: usize,
        unused: impl FnMut(Stretch),
        mut each: impl FnMut(Both),
    ) {
        self.node.pass(lead, slots_per_pixel, unused);
        let Some(source) = &mut self.source else {
            self.node.lay(pixels, slots_per_pixel, |node| {
                each(Both {
                    node,
                    source_universe: node.universe,
                    source_first: node.first,
                });
            });
            return;
        };
        let mut arriving = Vec::new();
        source.lay(pixels, slots_per_pixel, |stretch| arriving.push(stretch));
        let mut arriving = arriving.into_iter();
        let mut here = arriving.next();
        self.node.lay(pixels, slots_per_pixel, |mut node| {
            // Cut wherever the console's universe ends.
            while let (Some(source), true) = (&mut here, node.len > 0) {
                let len = node.len.min(source.len);
                each(Both {
                    node: Stretch { len, ..node },
                    source_universe: source.universe,
                    source_first: source.first,
                });
                advance(&mut node, len, slots_per_pixel);
                advance(source, len, slots_per_pixel);
                if source.len == 0 {
                    here = arriving.next();
                }
            }
        });
    }
}

/// Takes the first `len` slots off a stretch.
#[expect(clippy::cast_possible_truncation, reason = "8 slots a pixel at most")]
fn advance(stretch: &mut Stretch, len: u16, slots_per_pixel: usize) {
    let per_pixel = slots_per_pixel as u16;
    let phase = stretch.phase + len;
    stretch.pixel += u32::from(phase / per_pixel);
    stretch.phase = phase % per_pixel;
    stretch.first += len;
    stretch.len -= len;
}

#[cfg(test)]
mod tests {
    use super::*;
    use Packing::{Packed, WholePanel, WholePixel};

    fn lay(start: u16, slot: u16, packing: Packing, panels: &[(u32, usize)]) -> Vec<Stretch> {
        let mut cursor = Cursor::new(start, slot, packing);
        let mut all = Vec::new();
        for (pixels, per_pixel) in panels {
            cursor.lay(*pixels, *per_pixel, |stretch| all.push(stretch));
        }
        all
    }

    #[test]
    fn without_straddling_a_universe_holds_170_pixels_of_three_slots() {
        // Common practice, no source: 170 RGB pixels, 510 slots, in a universe.
        let all = lay(1, 1, WholePixel, &[(171, 3)]);
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
        let all = lay(0, 1, Packed, &[(40, 3); 64]);
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
        assert_eq!(lay(7, 511, WholePixel, &[(1, 3)])[0].universe, 8);
        assert_eq!(lay(7, 510, WholePixel, &[(1, 3)])[0].universe, 7);
        let straddling = lay(7, 511, Packed, &[(1, 3)]);
        assert_eq!(
            (straddling[0].len, straddling[1].len, straddling[1].phase),
            (2, 1, 2)
        );
    }

    #[test]
    fn whole_panels_begin_a_universe_when_they_do_not_fit() {
        // Common practice, no source: 4 panels of 40 RGB pixels (120 slots) fit a universe whole,
        // so 64 of them take 16 universes.
        let all = lay(0, 1, WholePanel, &[(40, 3); 64]);
        assert_eq!(all.len(), 64, "none is cut");
        assert_eq!(all.last().unwrap().universe, 15);
        assert!(all.iter().all(|stretch| stretch.len == 120));
        // One that no universe can hold begins one of its own and goes on in whole pixels.
        let all = lay(0, 1, WholePanel, &[(1, 3), (200, 3), (1, 3)]);
        let places: Vec<_> = all.iter().map(|s| (s.universe, s.first, s.len)).collect();
        assert_eq!(places, [(0, 0, 3), (1, 0, 510), (2, 0, 90), (2, 90, 3)]);
    }

    #[test]
    fn spare_slots_and_unused_pixels_are_passed() {
        let lead = |spare_slots, unused_pixels| Lead {
            spare_slots,
            unused_pixels,
            spare_behind: 0,
        };
        let first = |packing, slot, lead| {
            let mut cursor = Cursor::new(3, slot, packing);
            cursor.pass(lead, 3, |_| {});
            let mut found = None;
            cursor.lay(1, 3, |stretch| found = found.or(Some(stretch)));
            let found = found.unwrap();
            (found.universe, found.first + 1)
        };
        assert_eq!(first(WholePixel, 1, lead(0, 1)), (3, 4));
        assert_eq!(first(WholePixel, 1, lead(6, 1)), (3, 10));
        assert_eq!(first(Packed, 1, lead(600, 0)), (4, 89));
        assert_eq!(
            first(WholePixel, 1, lead(0, 170)),
            (4, 1),
            "511 and 512 stay free"
        );
        assert_eq!(first(Packed, 1, lead(0, 170)), (3, 511));
        assert_eq!(first(WholePanel, 1, lead(0, 170)), (4, 1));
        assert_eq!(first(WholePixel, 1, lead(512, 0)), (4, 1));
    }

    #[test]
    fn unused_pixels_lie_where_the_run_has_them_among_spare_slots() {
        let unused = |spare_slots, spare_behind, unused_pixels| {
            let lead = Lead {
                spare_slots,
                unused_pixels,
                spare_behind,
            };
            let mut cursor = Cursor::new(3, 501, WholePixel);
            let mut found = Vec::new();
            cursor.pass(lead, 3, |s| found.push((s.universe, s.first + 1, s.len)));
            (found, cursor.next())
        };
        // Counted by hand from slot 501; a pixel has three slots and is not cut.
        assert_eq!(unused(6, 0, 1), (vec![(3, 507, 3)], (3, 510)));
        assert_eq!(unused(6, 6, 1), (vec![(3, 501, 3)], (3, 510)));
        assert_eq!(unused(6, 2, 2), (vec![(3, 505, 6)], (4, 1)));
        assert_eq!(
            unused(2, 1, 4),
            (vec![(3, 502, 9), (4, 1, 3)], (4, 5)),
            "511 and 512 stay free"
        );
    }
}
