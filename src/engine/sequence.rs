//! Whether an `ArtDmx` is older than one that already came.
//!
//! Art-Net numbers the packets of a Port-Address 1 to 255, then 1 again; 0 means that they are
//! not numbered. Real senders freeze the number, count all their universes with one counter, or
//! start anew, so a number is only evidence: a packet is called old when its number lies shortly
//! behind the newest, and a sender that keeps sending such packets is believed.

use crate::units::Time;

/// Numbers this far behind and nearer are taken for overtaken packets; further away the sender
/// has jumped. (E1.31 uses 20 for the same purpose; Art-Net gives no figure.)
const WINDOW: u8 = 20;

/// So many old packets one after the other mean that the sender has started anew.
const RESTART_AFTER: u8 = 3;

/// After a silence of so long nothing can be overtaken any more.
const FORGET_AFTER_MS: u64 = 1_000;

/// Distrust that one old packet adds, and that one good packet takes away (our choice, as is the
/// measure below: one old packet in seven is too many for a network that merely reorders).
const OLD_ADDS: u8 = 6;
const GOOD_TAKES: u8 = 1;

/// With so much distrust the sender's numbers are not looked at.
const DISTRUSTED: u8 = 24;

/// The sequence of one source's packets for one Port-Address.
#[derive(Debug, Clone, Default)]
pub struct Sequence {
    newest: u8,
    at: Time,
    old_in_a_row: u8,
    distrust: u8,
}

impl Sequence {
    /// Takes the number of a packet that came at `now`; false when the packet is old.
    pub fn take(&mut self, number: u8, now: Time) -> bool {
        let fresh = number == 0
            || self.newest == 0
            || self.distrust >= DISTRUSTED
            || now.us_since(self.at) > FORGET_AFTER_MS * 1_000
            || !is_behind(number, self.newest);
        if fresh {
            // A distrusted sender is watched on, so that it can earn trust again.
            let suspicious = number != 0 && self.newest != 0 && is_behind(number, self.newest);
            if suspicious {
                self.distrust = self.distrust.saturating_add(1).min(DISTRUSTED + OLD_ADDS);
            } else {
                self.distrust = self.distrust.saturating_sub(GOOD_TAKES);
            }
            self.accept(number, now);
            return true;
        }
        self.distrust = self.distrust.saturating_add(OLD_ADDS);
        self.old_in_a_row += 1;
        if self.old_in_a_row >= RESTART_AFTER {
            self.accept(number, now);
            return true;
        }
        false
    }

    const fn accept(&mut self, number: u8, now: Time) {
        self.newest = number;
        self.at = now;
        self.old_in_a_row = 0;
    }
}

/// Whether `number` lies 1 to [`WINDOW`] steps behind `newest` on the ring of 255 numbers.
const fn is_behind(number: u8, newest: u8) -> bool {
    let steps = (newest as u16 + 255 - number as u16) % 255;
    steps >= 1 && steps <= WINDOW as u16
}

#[cfg(test)]
mod tests {
    use super::*;

    fn taken(numbers: &[u8]) -> Vec<bool> {
        let mut sequence = Sequence::default();
        numbers
            .iter()
            .zip(1_u64..)
            .map(|(&number, at)| sequence.take(number, Time::from_ms(at * 23)))
            .collect()
    }

    #[test]
    fn an_overtaken_packet_is_old_also_across_the_wrap() {
        assert_eq!(taken(&[10, 12, 11, 13]), [true, true, false, true]);
        // Art-Net 4: 255 is followed by 1.
        assert_eq!(
            taken(&[254, 255, 1, 255, 2]),
            [true, true, true, false, true]
        );
    }

    #[test]
    fn zero_and_frozen_numbers_are_always_taken() {
        assert!(taken(&[0, 0, 5, 0, 3, 0]).iter().all(|&taken| taken));
        assert!(taken(&[7; 50]).iter().all(|&taken| taken));
    }

    #[test]
    fn gaps_are_no_losses() {
        // One counter over 45 universes: each sees every 45th number.
        let numbers: Vec<u8> = (0..200_u32).map(|n| (n * 45 % 255) as u8 + 1).collect();
        assert!(taken(&numbers).iter().all(|&taken| taken));
    }

    #[test]
    fn a_counter_that_seems_to_run_backwards_is_soon_not_looked_at() {
        // One counter over 250 universes: each sees its number fall by 5.
        let numbers: Vec<u8> = (0..400_u32).map(|n| (n * 250 % 255) as u8 + 1).collect();
        let taken = taken(&numbers);
        assert!(taken[..12].iter().filter(|&&taken| !taken).count() <= 8);
        assert!(taken[12..].iter().all(|&taken| taken));
    }

    #[test]
    fn a_source_that_starts_anew_is_believed_within_three_packets() {
        assert_eq!(
            taken(&[14, 15, 1, 2, 3, 4]),
            [true, true, false, false, true, true]
        );
        let mut sequence = Sequence::default();
        assert!(sequence.take(15, Time::from_ms(0)));
        assert!(sequence.take(1, Time::from_ms(1_001)));
    }
}
