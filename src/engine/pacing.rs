//! Keeps orders from flashing the floor: whoever holds a key down starts or steps patterns far
//! faster than people on the floor can bear.

use crate::units::Time;

/// Changes of the picture by orders within any second, at most. Two of them make one flash, so
/// this stays under the three flashes of WCAG 2.2, success criterion 2.3.1.
const MOST: usize = 4;

const WINDOW_MS: u64 = 1_000;

/// When orders last changed the picture.
#[derive(Debug, Default)]
pub(super) struct Pacing {
    last: [Option<Time>; MOST],
    oldest: usize,
}

impl Pacing {
    /// When an order may change the picture: now, or as soon as there was a pause.
    pub(super) fn earliest(&self, now: Time) -> Time {
        let over = |at: Time| at.plus_ms(WINDOW_MS);
        self.last[self.oldest].map_or(now, over).max(now)
    }

    /// The same for lights that follow each other all over the floor, where what falls leaves before
    /// what rises: each may be a dip and a rise, which is a flash, so there are three in a second.
    pub(super) fn earliest_of_many(&self, now: Time) -> Time {
        let third = self.last[(self.oldest + 1) % MOST];
        third.map_or(now, |at| at.plus_ms(WINDOW_MS)).max(now)
    }

    /// An order changes the picture now.
    pub(super) const fn changed(&mut self, now: Time) {
        self.last[self.oldest] = Some(now);
        self.oldest = (self.oldest + 1) % MOST;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn four_changes_go_at_once_and_the_fifth_waits_for_the_first_to_be_a_second_old() {
        let mut pacing = Pacing::default();
        for ms in [100, 110, 120, 700] {
            assert_eq!(pacing.earliest(Time::from_ms(ms)), Time::from_ms(ms));
            pacing.changed(Time::from_ms(ms));
        }
        assert_eq!(pacing.earliest(Time::from_ms(800)), Time::from_ms(1_100));
        pacing.changed(Time::from_ms(1_100));
        assert_eq!(pacing.earliest(Time::from_ms(1_100)), Time::from_ms(1_110));
        assert_eq!(pacing.earliest(Time::from_ms(5_000)), Time::from_ms(5_000));
        // Of 110, 120, 700 and 1,100 the third last is 120.
        let third = pacing.earliest_of_many(Time::from_ms(1_105));
        assert_eq!(third, Time::from_ms(1_120));
    }
}
