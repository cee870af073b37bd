//! What of a picture changed, as runs of pixels.

/// Set in the second number of a run whose levels are told by how far they moved.
const NEAR: u16 = 1 << 15;

/// Most pixels of one run.
const MOST: usize = NEAR as usize - 1;

/// So many pixels are compared at once while nothing has changed.
const BLOCK: usize = 64;

/// Writes the pixels of `now` that differ from `before`, each of `channels` bytes, after what
/// `message` holds; gives it up once that holds `most` bytes.
///
/// ```text
/// runs × (u16 pixels that stay as they are · u16 pixels that follow, 15 bits · their levels)
/// ```
///
/// If the 16th bit of the second number is set, their levels are told by how far they moved: half a
/// byte for each, the lower half first, which is 8 more than what is added, or 0; then a byte for
/// each 0, which is the level.
pub(super) fn write(
    message: &mut Vec<u8>,
    (before, now): (&[u8], &[u8]),
    channels: usize,
    most: usize,
) -> bool {
    let mut stands = 0;
    let mut from = next(before, now, channels, 0);
    while from < now.len() {
        let mut to = from;
        let next = loop {
            to = same(before, now, channels, to);
            let next = next(before, now, channels, to);
            // One pixel that stays as it is costs less than another run's head.
            if next >= now.len() || next - to > channels {
                break next;
            }
            to = next;
        };
        run(
            message,
            (from - stands) / channels,
            (&before[from..to], &now[from..to]),
            channels,
        );
        if message.len() >= most {
            return false;
        }
        (stands, from) = (to, next);
    }
    true
}

/// Where the next pixel that differs begins, or the end.
fn next(before: &[u8], now: &[u8], channels: usize, mut at: usize) -> usize {
    let block = BLOCK * channels;
    while at + block <= now.len() && before[at..at + block] == now[at..at + block] {
        at += block;
    }
    while at < now.len() && before[at..at + channels] == now[at..at + channels] {
        at += channels;
    }
    at
}

/// Where the next pixel that is the same begins, or the end.
fn same(before: &[u8], now: &[u8], channels: usize, mut at: usize) -> usize {
    while at < now.len() && before[at..at + channels] != now[at..at + channels] {
        at += channels;
    }
    at
}

/// One run; what is too long for one head takes several.
fn run(message: &mut Vec<u8>, mut skip: usize, (before, now): (&[u8], &[u8]), channels: usize) {
    while skip > MOST {
        message.extend([0xFF, 0x7F, 0, 0]);
        skip -= MOST;
    }
    let parts = before.chunks(MOST * channels);
    for (before, now) in parts.zip(now.chunks(MOST * channels)) {
        let moved = || {
            before
                .iter()
                .zip(now)
                .map(|(&was, &is)| (code(was, is), is))
        };
        let far = moved().filter(|&(code, _)| code == 0).count();
        let near = now.len().div_ceil(2) + far < now.len();
        // Neither is above `MOST`.
        let [skipped, pixels] = [skip, now.len() / channels].map(|n| u16::try_from(n).unwrap_or(0));
        message.extend(skipped.to_le_bytes());
        message.extend((if near { pixels | NEAR } else { pixels }).to_le_bytes());
        if near {
            let whole = now.len() / 2 * 2;
            let pairs = before[..whole].chunks_exact(2).zip(now.chunks_exact(2));
            message.extend(pairs.map(|(was, is)| code(was[0], is[0]) | code(was[1], is[1]) << 4));
            message.extend((whole..now.len()).map(|last| code(before[last], now[last])));
            message.extend(moved().filter(|&(code, _)| code == 0).map(|(_, is)| is));
        } else {
            message.extend(now);
        }
        skip = 0;
    }
}

/// Half a byte that says how far a level moved, up to 7 either way; 0 if that is further.
fn code(was: u8, is: u8) -> u8 {
    // Round the end of a byte it still adds up.
    let code = is.wrapping_sub(was).wrapping_add(8);
    if code < 16 { code } else { 0 }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::testing::read as apply;
    use super::*;

    fn runs(before: &[u8], now: &[u8], channels: usize) -> Vec<u8> {
        let mut message = Vec::new();
        assert!(write(&mut message, (before, now), channels, usize::MAX));
        message
    }

    #[test]
    fn runs_are_written_as_agreed() {
        let before = [0; 15];
        assert!(runs(&before, &before, 3).is_empty());
        // The second and the fourth pixel: the one between comes along.
        let now = [0, 0, 0, 101, 102, 103, 0, 0, 0, 104, 0, 0, 0, 0, 0];
        assert_eq!(
            runs(&before, &now, 3),
            [1, 0, 3, 0, 101, 102, 103, 0, 0, 0, 104, 0, 0]
        );
        // By how far it moved: up, down, not at all and, further than that, to what.
        let moved = [0, 0, 0, 4, 253, 0, 1, 99, 2, 0, 0, 0, 0, 0, 0];
        assert_eq!(
            runs(&before, &moved, 3),
            [1, 0, 2, 0x80, 0x5C, 0x98, 0xA0, 99]
        );
        // The first and the last.
        let now = [9, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 8];
        assert_eq!(
            runs(&before, &now, 3),
            [0, 0, 1, 0, 9, 0, 0, 3, 0, 1, 0, 0, 0, 8]
        );
        let mut message = Vec::new();
        assert!(!write(&mut message, (&before, &now), 3, 14));
    }

    #[test]
    fn runs_that_are_too_long_for_one_head_are_split() {
        let before = vec![0; 3 * 150_000];
        let mut now = before.clone();
        now[3 * 140_000..].fill(77);
        let mut shown = before.clone();
        apply(&mut shown, &runs(&before, &now, 3), 3);
        assert!(shown == now);
        let all = vec![77; before.len()];
        let mut shown = before.clone();
        let message = runs(&before, &all, 3);
        assert_eq!(message.len(), all.len() + 5 * 4);
        apply(&mut shown, &message, 3);
        assert!(shown == all);
    }

    proptest! {
        /// Whatever was shown and however many pictures a client misses, it ends at what is shown.
        #[test]
        fn who_misses_pictures_still_ends_at_the_last(
            channels in 3_usize..=4,
            pixels in 1_usize..300,
            changes in prop::collection::vec((any::<prop::sample::Index>(), 1_usize..90, any::<u8>(), any::<bool>()), 1..40),
        ) {
            let mut picture = vec![0; pixels * channels];
            let mut client = (picture.clone(), picture.clone());
            for (at, length, value, taken) in changes {
                let from = at.index(picture.len());
                let to = (from + length).min(picture.len());
                picture[from..to].fill(value);
                if taken {
                    apply(&mut client.0, &runs(&client.1, &picture, channels), channels);
                    client.1.clone_from(&picture);
                    prop_assert_eq!(&client.0, &picture);
                }
            }
            apply(&mut client.0, &runs(&client.1, &picture, channels), channels);
            prop_assert_eq!(client.0, picture);
        }
    }
}
