//! After warm-up a frame allocates nothing on its way, counted by the allocator itself.

#[path = "support/wide.rs"]
mod wide;

use litfloor::engine::out::{Datagram, Outlet};
use litfloor::engine::tally::Outcome;
use litfloor::units::Time;
use litfloor::wire::PortAddress;
use litfloor::wire::dmx::{self, LARGEST};

/// Frames a second of a console.
const RATE: u64 = 44;

/// Counts what leaves.
struct Counting(u64);

impl Outlet for Counting {
    fn send(&mut self, datagram: Datagram<'_>) -> bool {
        self.0 += u64::from(!datagram.parts()[0].is_empty());
        true
    }
}

/// Allocations of all frames of a second, and how many frames left, on a floor whose supplies carry
/// `share` of full white, after ten seconds.
fn second(share: f64, level: impl Fn(u64, usize) -> u8) -> (u64, u64) {
    let mut engine = wide::engine(2, share);
    let (mut allocated, mut outlet) = (0, Counting(0));
    let (mut sent_before, mut first) = (0, 0);
    for picture in 0..11 * RATE {
        let now = Time(picture * 1_000_000 / RATE);
        if picture == 10 * RATE {
            sent_before = outlet.0;
        }
        for universe in 0..32_u16 {
            let slots: [u8; 512] =
                std::array::from_fn(|slot| level(picture, usize::from(universe) * 512 + slot));
            let mut buffer = [0; LARGEST];
            let number = u8::try_from(picture % 255 + 1).unwrap();
            let address = PortAddress::new(universe).unwrap();
            let bytes = dmx::write(&mut buffer, number, 0, address, &slots);
            let mut outcome = Outcome::PassedOver;
            let counted = allocation_counter::measure(|| {
                outcome = engine.handle(now, wide::CONSOLE, bytes, &mut outlet);
            });
            assert_eq!(outcome, Outcome::Taken);
            if picture >= 10 * RATE {
                allocated += counted.count_total;
            } else if picture < RATE {
                first += counted.count_total;
            }
        }
        engine.tick(now, &mut outlet);
    }
    assert!(first > 0, "what warms up is counted, so the counter counts");
    (allocated, outlet.0 - sent_before)
}

/// An `ArtSync` (Art-Net 4), by which all that waits is shown.
const SYNC: &[u8] = b"Art-Net\0\x00\x52\x00\x0e\x00\x00";

#[test]
fn a_sync_allocates_nothing_nor_does_what_waited_for_it() {
    let mut engine = wide::engine(2, 0.3);
    let (mut allocated, mut syncs, mut outlet) = (0, 0, Counting(0));
    for picture in 0..11 * RATE {
        let now = Time(picture * 1_000_000 / RATE);
        let warm = picture >= 10 * RATE;
        for universe in 0..32_u16 {
            let slots: [u8; 512] =
                std::array::from_fn(|slot| moving(picture, usize::from(universe) * 512 + slot));
            let mut buffer = [0; LARGEST];
            let address = PortAddress::new(universe).unwrap();
            let bytes = dmx::write(&mut buffer, 0, 0, address, &slots);
            let outcome = engine.handle(now, wide::CONSOLE, bytes, &mut outlet);
            assert!(!warm || outcome == Outcome::HeldForSync);
        }
        // One that leaves, and one that comes too soon after it and has to wait.
        for after_ms in [0, 1] {
            let sent_before = outlet.0;
            let now = now.plus_ms(after_ms);
            let mut outcome = Outcome::PassedOver;
            let counted = allocation_counter::measure(|| {
                outcome = engine.handle(now, wide::CONSOLE, SYNC, &mut outlet);
            });
            assert_eq!(outcome, Outcome::Sync);
            if warm {
                allocated += counted.count_total;
                syncs += u64::from(outlet.0 > sent_before);
            }
        }
        engine.tick(now.plus_ms(6), &mut outlet);
    }
    assert_eq!(allocated, 0);
    assert!(syncs >= RATE, "{syncs} syncs showed something");
}

#[expect(clippy::cast_possible_truncation, reason = "the lowest byte is meant")]
fn moving(picture: u64, slot: usize) -> u8 {
    (picture * 5 + slot as u64 * 13) as u8
}

#[test]
fn a_frame_that_fits_allocates_nothing() {
    let (allocated, sent) = second(1.1, moving);
    assert_eq!(allocated, 0);
    assert!(sent >= 32 * RATE, "{sent} frames left");
}

#[test]
fn a_frame_that_is_capped_allocates_nothing() {
    let (allocated, sent) = second(0.3, moving);
    assert_eq!(allocated, 0);
    assert!(sent >= 32 * RATE, "{sent} frames left");
}

#[test]
fn a_frame_that_is_the_same_again_allocates_nothing_and_does_not_leave() {
    let (allocated, sent) = second(1.1, |_, slot| moving(0, slot));
    assert_eq!(allocated, 0);
    assert!(sent <= 3 * 32, "{sent} frames left, and a poll");
}
