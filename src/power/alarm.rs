//! Alarms: what lasts too long or comes too near, with hysteresis, so that a picture that beats
//! does not make them beat too.

use std::collections::BTreeMap;

use crate::floor::model::AlarmSettings;
use crate::units::Time;

/// An alarm ends only after its cause was away for so long. Our choice: longer than a bar of music.
pub const REST_S: f64 = 3.0;

/// So many per cent below the share that raises it, an alarm of nearness may end.
pub const NEAR_CLEARS_BELOW: f64 = 5.0;

/// So much more than the lowest allowed voltage ends an alarm of low voltage: 2 %, our choice.
const VOLTAGE_CLEARS_AT: f64 = 1.02;

/// Why there is an alarm.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Cause {
    /// The draw is near a limit.
    NearLimit,
    /// The cap has dimmed for long.
    CappingLong,
    /// The voltage at a panel's lowest pixel is too low.
    VoltageLow,
    /// A measured value and the computed one are apart.
    MeasuredApart,
    /// A sensor is silent.
    SensorLost,
}

impl Cause {
    /// A stable word for it.
    pub const fn code(self) -> &'static str {
        match self {
            Self::NearLimit => "near_limit",
            Self::CappingLong => "capping_long",
            Self::VoltageLow => "voltage_low",
            Self::MeasuredApart => "measured_apart",
            Self::SensorLost => "sensor_lost",
        }
    }
}

/// What a value says of an alarm.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sign {
    /// There should be one.
    Raise,
    /// Between: what was before goes on.
    Keep,
    /// There should be none.
    Clear,
}

impl Sign {
    /// For what is so or not.
    pub const fn of(on: bool) -> Self {
        if on { Self::Raise } else { Self::Clear }
    }

    /// For a draw as a share of its limit.
    pub fn near(share: f64, settings: &AlarmSettings) -> Self {
        let percent = share * 100.0;
        if percent >= settings.near_percent {
            Self::Raise
        } else if percent >= settings.near_percent - NEAR_CLEARS_BELOW {
            Self::Keep
        } else {
            Self::Clear
        }
    }

    /// For the lowest voltage of a panel's pixels against the lowest that is well; nothing is known
    /// of a panel without one.
    pub fn voltage(lowest_v: Option<f64>, well_v: f64) -> Self {
        match lowest_v {
            Some(volts) if volts < well_v => Self::Raise,
            Some(volts) if volts < well_v * VOLTAGE_CLEARS_AT => Self::Keep,
            _ => Self::Clear,
        }
    }
}

/// One alarm, or what may become one.
#[derive(Debug, Clone, Copy)]
struct Latch {
    /// Since when its cause is there.
    since: Time,
    /// When its cause was last there.
    seen: Time,
    raised: bool,
}

/// All alarms of a floor; elements are numbers that the caller gives.
#[derive(Debug, Clone, Default)]
pub struct Alarms {
    latches: BTreeMap<(Cause, u32), Latch>,
}

impl Alarms {
    /// Takes what is seen of one element now. Its alarm is raised once the cause is there for
    /// `after_s` seconds, with breaks shorter than [`REST_S`].
    pub fn see(&mut self, now: Time, cause: Cause, element: u32, sign: Sign, after_s: f64) {
        let key = (cause, element);
        let Some(latch) = self.latches.get_mut(&key) else {
            if sign == Sign::Raise {
                let latch = Latch {
                    since: now,
                    seen: now,
                    raised: after_s <= 0.0,
                };
                self.latches.insert(key, latch);
            }
            return;
        };
        let there = sign == Sign::Raise || (sign == Sign::Keep && latch.raised);
        if there {
            latch.seen = now;
            latch.raised |= now.s_since(latch.since) >= after_s;
        } else if now.s_since(latch.seen) >= REST_S {
            self.latches.remove(&key);
        }
    }

    /// What is raised: why, for which element, and since when the cause is there.
    pub fn raised(&self) -> impl Iterator<Item = (Cause, u32, Time)> + '_ {
        self.latches
            .iter()
            .filter(|(_, latch)| latch.raised)
            .map(|(&(cause, element), latch)| (cause, element, latch.since))
    }

    /// Goes on where `before` is, whose elements have other numbers now; one that is no more is
    /// forgotten.
    pub fn take_over(&mut self, before: &Self, number: impl Fn(u32) -> Option<u32>) {
        let kept = before.latches.iter();
        let kept = kept.filter_map(|(&(cause, was), latch)| Some(((cause, number(was)?), *latch)));
        self.latches = kept.collect();
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::floor::defaults::ALARM;

    fn at(tenths: u64) -> Time {
        Time::from_ms(tenths * 100)
    }

    fn count(alarms: &Alarms) -> usize {
        alarms.raised().count()
    }

    #[test]
    fn near_is_raised_at_ninety_and_ends_below_eighty_five() {
        // The shares that the floor file's defaults promise.
        let mut alarms = Alarms::default();
        let mut see = |tenths, share| {
            let sign = Sign::near(share, &ALARM);
            alarms.see(at(tenths), Cause::NearLimit, 7, sign, 0.0);
            count(&alarms)
        };
        assert_eq!(see(0, 0.899), 0);
        assert_eq!(see(1, 0.90), 1);
        assert_eq!(see(60, 0.86), 1, "between the two it stays");
        assert_eq!(see(61, 0.84), 1, "a short break is none");
        assert_eq!(see(62, 0.91), 1);
        assert_eq!(see(100, 0.84), 0);
        assert_eq!(see(101, 0.86), 0, "and from below it is not raised there");
    }

    #[test]
    fn capping_is_told_after_ten_seconds_though_it_beats() {
        let mut alarms = Alarms::default();
        for tenth in 0..=100 {
            assert_eq!(count(&alarms), 0, "{tenth}");
            // Half of every second it rests.
            let capped = tenth % 10 < 5;
            alarms.see(at(tenth), Cause::CappingLong, 0, Sign::of(capped), 10.0);
        }
        let raised: Vec<_> = alarms.raised().collect();
        assert_eq!(raised, [(Cause::CappingLong, 0, at(0))]);
        alarms.see(at(130), Cause::CappingLong, 0, Sign::Clear, 10.0);
        assert_eq!(count(&alarms), 0);
        // It begins afresh.
        alarms.see(at(131), Cause::CappingLong, 0, Sign::Raise, 10.0);
        alarms.see(at(230), Cause::CappingLong, 0, Sign::Raise, 10.0);
        assert_eq!(count(&alarms), 0);
    }

    #[test]
    fn a_low_voltage_is_told_and_an_unknown_one_is_none() {
        assert_eq!(Sign::voltage(Some(9.9), 10.0), Sign::Raise);
        assert_eq!(Sign::voltage(Some(10.1), 10.0), Sign::Keep);
        assert_eq!(Sign::voltage(Some(10.3), 10.0), Sign::Clear);
        assert_eq!(Sign::voltage(None, 10.0), Sign::Clear);
    }

    #[test]
    fn it_goes_on_on_another_floor_under_another_number() {
        let mut before = Alarms::default();
        for element in [1, 2] {
            before.see(at(5), Cause::NearLimit, element, Sign::Raise, 0.0);
        }
        let mut after = Alarms::default();
        after.take_over(&before, |was| (was == 2).then_some(9));
        let raised: Vec<_> = after.raised().collect();
        assert_eq!(raised, [(Cause::NearLimit, 9, at(5))]);
    }

    proptest! {
        /// Whatever a value does, two changes of its alarm from on to off lie further apart than
        /// the rest.
        #[test]
        fn it_never_beats(shares in prop::collection::vec(0.7..1.1_f64, 1..400)) {
            let mut alarms = Alarms::default();
            let mut ends = Vec::new();
            let mut was = false;
            for (tenth, share) in (0..).zip(shares) {
                let sign = Sign::near(share, &ALARM);
                alarms.see(at(tenth), Cause::NearLimit, 0, sign, 0.0);
                let is = count(&alarms) > 0;
                prop_assert!(is || sign != Sign::Raise, "a value at once raises it");
                if was && !is {
                    ends.push(tenth);
                }
                was = is;
            }
            prop_assert!(ends.windows(2).all(|pair| pair[1] - pair[0] >= 30));
        }
    }
}
