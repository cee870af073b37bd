//! What of a picture changed, as runs of pixels.

/// So many pixels are compared at once while nothing has changed.
const BLOCK: usize = 64;

/// Writes the pixels of `now` that differ from `before`, each of `channels` bytes, after what
/// `message` holds; gives it up once that holds `most` bytes.
///
/// ```text
/// runs × (u16 pixels that stay as they are · u16 pixels that follow · their levels)
/// ```
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
            &now[from..to],
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
fn run(message: &mut Vec<u8>, mut skip: usize, levels: &[u8], channels: usize) {
    const MOST: usize = u16::MAX as usize;
    while skip > MOST {
        message.extend([0xFF, 0xFF, 0, 0]);
        skip -= MOST;
    }
    for part in levels.chunks(MOST * channels) {
        for number in [skip, part.len() / channels] {
            // Neither is above `MOST`.
            message.extend(u16::try_from(number).unwrap_or(u16::MAX).to_le_bytes());
        }
        message.extend(part);
        skip = 0;
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Reads runs as the description above says, apart from how they are written.
    fn apply(picture: &mut [u8], mut runs: &[u8], channels: usize) {
        let mut at = 0;
        while let [a, b, c, d, rest @ ..] = runs {
            at += usize::from(u16::from_le_bytes([*a, *b])) * channels;
            let bytes = usize::from(u16::from_le_bytes([*c, *d])) * channels;
            picture[at..at + bytes].copy_from_slice(&rest[..bytes]);
            at += bytes;
            runs = &rest[bytes..];
        }
        assert!(runs.is_empty());
    }

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
        let now = [0, 0, 0, 1, 2, 3, 0, 0, 0, 4, 0, 0, 0, 0, 0];
        assert_eq!(
            runs(&before, &now, 3),
            [1, 0, 3, 0, 1, 2, 3, 0, 0, 0, 4, 0, 0]
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
        now[3 * 140_000..].fill(7);
        let mut shown = before.clone();
        apply(&mut shown, &runs(&before, &now, 3), 3);
        assert!(shown == now);
        let all = vec![7; before.len()];
        let mut shown = before.clone();
        let message = runs(&before, &all, 3);
        assert_eq!(message.len(), all.len() + 3 * 4);
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
