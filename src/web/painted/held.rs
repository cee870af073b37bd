//! Changes that are too small to be seen wait: what goes over a radio need not carry them.
//!
//! A level that differs by no more than a 64th of itself stays what it was shown as, and for no longer
//! than a second: within each second every pixel has its turn to be shown exactly. So a picture that
//! stands still is exact a second later, and one that moves is never further off than that 64th. It
//! is decided once for all who look, which leaves them all with the same picture.

use std::ops::Range;

use crate::engine::snapshot::Levels;

/// Within so long every pixel has its turn.
const TURN_MS: u32 = 1_000;

/// The eye tells lights apart that differ by one or two hundredths (Weber's fraction, common practice,
/// no source): a 64th, and nothing below level 64, where one level is more than that.
const PART: u32 = 6;

/// How far what is shown may be from a level, of whichever of the two is larger.
const fn step(level: u8) -> u8 {
    level >> PART
}

/// Shows levels as `last` showed them where the difference can't be seen.
pub(super) fn hold(last: &Levels, picture: &mut Levels) {
    let fits = last.revision == picture.revision
        && last.channels == picture.channels
        && last.sent.len() == picture.sent.len()
        && last.asked.len() == picture.asked.len();
    let passed = picture.uptime_ms.saturating_sub(last.uptime_ms);
    // After 49 days the milliseconds stand still, and nothing waits any more.
    if !fits || passed == 0 || passed >= TURN_MS {
        return;
    }
    let channels = usize::from(picture.channels.max(1));
    let pixels = picture.sent.len() / channels;
    let (before, after) = (last.uptime_ms % TURN_MS, picture.uptime_ms % TURN_MS);
    let [from, to] = [before, after].map(|ms| ms as usize * pixels / TURN_MS as usize);
    // Those whose turn it is lie between the two, if need be round the end: the others wait.
    let wait: [Range<usize>; 2] = if before < after {
        [0..from, to..pixels]
    } else {
        [to..from, 0..0]
    };
    for range in wait {
        let range = range.start * channels..range.end * channels;
        keep(&last.sent[range.clone()], &mut picture.sent[range.clone()]);
        keep(&last.asked[range.clone()], &mut picture.asked[range]);
    }
}

fn keep(shown: &[u8], levels: &mut [u8]) {
    for (&shown, level) in shown.iter().zip(levels) {
        // Without a branch, so that the compiler takes many at once.
        let near = shown.abs_diff(*level) <= step(shown.max(*level));
        *level = if near { shown } else { *level };
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use proptest::prelude::*;

    use super::super::super::messages::testing::apply;
    use super::super::super::messages::{Messages, Picture};
    use super::*;

    fn picture(uptime_ms: u32, levels: &[u8]) -> Levels {
        Levels {
            revision: 1,
            uptime_ms,
            channels: 3,
            sent: levels.to_vec(),
            asked: levels.to_vec(),
            ..Levels::default()
        }
    }

    #[test]
    fn a_change_that_waits_moves_a_screen_by_less_than_two_of_255() {
        // IEC 61966-2-1: what a screen makes of a linear share of light.
        let encode = |level: u8| {
            let linear = f64::from(level) / 255.0;
            let part = if linear <= 0.003_130_8 {
                12.92 * linear
            } else {
                1.055 * linear.powf(1.0 / 2.4) - 0.055
            };
            255.0 * part
        };
        for level in 0..=255 {
            let lower = level - step(level);
            assert!(encode(level) - encode(lower) < 2.0, "{level}");
            assert!(f64::from(step(level)) <= f64::from(level) / 64.0);
        }
        assert_eq!([0, 63, 64, 127, 128, 255].map(step), [0, 0, 1, 1, 2, 3]);
    }

    #[test]
    fn small_changes_wait_for_their_turn_and_large_ones_do_not() {
        let last = picture(0, &[200; 30]);
        let mut now = picture(100, &[201; 30]);
        now.sent[29] = 204;
        hold(&last, &mut now);
        // The first tenth of a second is the first pixel's.
        assert_eq!(now.sent[..6], [201, 201, 201, 200, 200, 200]);
        assert_eq!((now.sent[28], now.sent[29]), (200, 204));
        assert_eq!(now.asked[29], 200);
        // Round the end: the last and the first.
        let last = picture(900, &[200; 30]);
        let mut now = picture(1_100, &[201; 30]);
        hold(&last, &mut now);
        assert_eq!(now.sent[2..4], [201, 200]);
        assert_eq!(now.sent[26..28], [200, 201]);
        // Another floor, or a second later: nothing waits.
        for (revision, uptime_ms) in [(2, 100), (1, 1_000)] {
            let mut now = picture(uptime_ms, &[201; 30]);
            now.revision = revision;
            hold(&picture(0, &[200; 30]), &mut now);
            assert_eq!(now.sent, [201; 30]);
        }
    }

    proptest! {
        /// Whatever was shown, whenever, and whatever a client misses of it: it has what is held, which
        /// is never further off than a step, and once the picture stands still it becomes exact.
        #[test]
        fn a_client_is_near_meanwhile_and_right_once_still(
            pixels in 1_usize..60,
            began in 0_u32..5_000,
            shown in prop::collection::vec(
                (prop::collection::vec(any::<u8>(), 180), 0_u8..3, 1_u32..1_300, any::<bool>()), 1..25),
            every in 20_u32..200,
        ) {
            let mut uptime_ms = began;
            let mut levels = vec![128; 3 * pixels];
            let messages = Messages::default();
            let mut newest = Arc::new(picture(uptime_ms, &levels));
            let mut client = (Arc::clone(&newest), levels.clone());
            let still = (0..=1_000 / every + 1).map(|_| (Vec::new(), 0, every, false));
            for (dice, how, after_ms, taken) in shown.into_iter().chain(still) {
                uptime_ms += after_ms;
                for (level, dice) in levels.iter_mut().zip(dice) {
                    *level = match how {
                        // All of it, slowly, and here and there.
                        0 => dice,
                        1 => level.saturating_add(dice % 3),
                        _ => if dice < 16 { level.wrapping_sub(dice) } else { *level },
                    };
                }
                let mut now = picture(uptime_ms, &levels);
                hold(&newest, &mut now);
                if now.sent != newest.sent {
                    now.frame = newest.frame + 1;
                    newest = Arc::new(now);
                }
                for (&held, &level) in newest.sent.iter().zip(&levels) {
                    prop_assert!(held.abs_diff(level) <= step(held.max(level)));
                }
                if taken {
                    let message = messages.delta(&client.0, &newest, Picture::Sent);
                    apply(&mut client.1, &message);
                    client.0 = Arc::clone(&newest);
                    prop_assert_eq!(&client.1, &newest.sent);
                }
            }
            let message = messages.delta(&client.0, &newest, Picture::Sent);
            apply(&mut client.1, &message);
            prop_assert_eq!(client.1, levels);
        }
    }
}
