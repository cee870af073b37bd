//! A client, so far as tests need one.

use super::{DELTA, LEVELS};

/// Takes a picture, or what changed of it.
pub(in crate::web) fn apply(picture: &mut [u8], message: &[u8]) {
    match message[0] {
        LEVELS => picture.copy_from_slice(&message[16..]),
        DELTA => read(picture, &message[20..], usize::from(message[2])),
        kind => panic!("{kind} is no picture"),
    }
}

/// Reads runs as the description above says, apart from how they are written.
pub(in crate::web) fn read(picture: &mut [u8], mut runs: &[u8], channels: usize) {
    let mut at = 0;
    while let [a, b, c, d, rest @ ..] = runs {
        at += usize::from(u16::from_le_bytes([*a, *b])) * channels;
        let bytes = usize::from(u16::from_le_bytes([*c, *d]) % 32_768) * channels;
        let levels = &mut picture[at..at + bytes];
        at += bytes;
        if *d < 128 {
            levels.copy_from_slice(&rest[..bytes]);
            runs = &rest[bytes..];
            continue;
        }
        let (halves, mut far) = rest.split_at(bytes.div_ceil(2));
        for (number, level) in levels.iter_mut().enumerate() {
            match halves[number / 2] >> (number % 2 * 4) & 15 {
                0 => (*level, far) = (far[0], &far[1..]),
                code => *level = level.wrapping_add(code).wrapping_sub(8),
            }
        }
        runs = far;
    }
    assert!(runs.is_empty());
}
