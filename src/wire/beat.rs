//! The beat that two litfloors which stand by for each other exchange: our own, no part of Art-Net,
//! over the same port. It begins with other bytes than Art-Net's, so that no node takes it for a packet.
//!
//! | bytes | what |
//! |---|---|
//! | 0–7 | `LitBeat` and a zero |
//! | 8 | version: 1 |
//! | 9 | who sends it: 1 the first, 2 the second |
//! | 10 | what it does: 0 stands by, 1 leads, 2 ends |
//! | 11 | bit 0: it wants to lead again; bit 1: it hears no picture |
//! | 12–19 | number of its floor file, little-endian like all that follows |
//! | 20–27 | number of its run: drawn when it was started |
//! | 28–35 | number of the beat in that run: counts up |
//! | 36–43 | number of the other's run that it has heard; 0 if none |
//! | 44–47 | live limit of the floor in VA; all ones if there is none |
//! | 48–63 | BLAKE2s of bytes 0–47, keyed, 16 bytes (RFC 7693) |

use blake2::Blake2sMac;
use blake2::digest::Mac;
use blake2::digest::consts::U16;

/// Length of a beat.
pub const LENGTH: usize = 64;

/// What it begins with.
const BEGINS: [u8; 8] = *b"LitBeat\0";

const VERSION: u8 = 1;

/// Bytes before the code.
const SIGNED: usize = 48;

/// No live limit.
const NO_LIMIT: u32 = u32::MAX;

/// What both know and nobody else.
pub type Key = [u8; 32];

/// Which of the two.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// Leads while it can.
    First,
    /// Leads while the first can't.
    Second,
}

/// What it does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Duty {
    /// Sends nothing to nodes.
    StandsBy,
    /// Sends the picture.
    Leads,
    /// Has been told to end.
    Ends,
}

/// A beat.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Beat {
    /// Who sends it.
    pub role: Role,
    /// What it does.
    pub duty: Duty,
    /// Whether it wants to lead again.
    pub wants: bool,
    /// Whether it hears no picture, so that the floor would be dark if it led.
    pub blind: bool,
    /// Number of its floor file.
    pub file: u64,
    /// Number of its run.
    pub run: u64,
    /// Number of the beat in that run.
    pub number: u64,
    /// Number of the other's run that it has heard; 0 if none.
    pub heard: u64,
    /// Live limit of the floor, in volt-amperes.
    pub floor_va: Option<u32>,
}

fn code(key: &Key, bytes: &[u8]) -> Blake2sMac<U16> {
    let code = Blake2sMac::<U16>::new_from_slice(key).unwrap_or_else(|_| unreachable!("32 bytes"));
    code.chain_update(bytes)
}

impl Beat {
    /// Whether a datagram looks like one.
    pub fn looks_like(bytes: &[u8]) -> bool {
        bytes.len() == LENGTH && bytes.starts_with(&BEGINS)
    }

    /// Its bytes.
    pub fn write(&self, key: &Key) -> [u8; LENGTH] {
        let mut bytes = [0; LENGTH];
        bytes[..8].copy_from_slice(&BEGINS);
        bytes[8] = VERSION;
        bytes[9] = match self.role {
            Role::First => 1,
            Role::Second => 2,
        };
        bytes[10] = match self.duty {
            Duty::StandsBy => 0,
            Duty::Leads => 1,
            Duty::Ends => 2,
        };
        bytes[11] = u8::from(self.wants) | u8::from(self.blind) << 1;
        for (at, number) in [
            (12, self.file),
            (20, self.run),
            (28, self.number),
            (36, self.heard),
        ] {
            bytes[at..at + 8].copy_from_slice(&number.to_le_bytes());
        }
        let floor_va = self.floor_va.unwrap_or(NO_LIMIT);
        bytes[44..SIGNED].copy_from_slice(&floor_va.to_le_bytes());
        let code = code(key, &bytes[..SIGNED]).finalize().into_bytes();
        bytes[SIGNED..].copy_from_slice(&code);
        bytes
    }

    /// Reads one; nothing if it is none, of another version, or not made with `key`.
    pub fn read(bytes: &[u8], key: &Key) -> Option<Self> {
        if !Self::looks_like(bytes) || bytes[8] != VERSION {
            return None;
        }
        let (signed, its_code) = bytes.split_at(SIGNED);
        code(key, signed).verify_slice(its_code).ok()?;
        let number = |at: usize| {
            let bytes = signed[at..].first_chunk::<8>();
            bytes.map_or(0, |bytes| u64::from_le_bytes(*bytes))
        };
        let floor_va = signed[44..].first_chunk::<4>().copied();
        let floor_va = floor_va.map_or(NO_LIMIT, u32::from_le_bytes);
        Some(Self {
            role: match signed[9] {
                1 => Role::First,
                2 => Role::Second,
                _ => return None,
            },
            duty: match signed[10] {
                0 => Duty::StandsBy,
                1 => Duty::Leads,
                2 => Duty::Ends,
                _ => return None,
            },
            wants: signed[11] & 1 != 0,
            blind: signed[11] & 2 != 0,
            file: number(12),
            run: number(20),
            number: number(28),
            heard: number(36),
            floor_va: (floor_va != NO_LIMIT).then_some(floor_va),
        })
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::wire;

    const BEAT: Beat = Beat {
        role: Role::Second,
        duty: Duty::Leads,
        wants: true,
        blind: false,
        file: 0x0102_0304_0506_0708,
        run: 0x1112_1314_1516_1718,
        number: 7,
        heard: 0x2122_2324_2526_2728,
        floor_va: Some(3_000),
    };

    fn key() -> Key {
        std::array::from_fn(|at| u8::try_from(at).unwrap())
    }

    /// The code is that of `hashlib.blake2s(message, key=bytes(range(32)), digest_size=16)` of Python 3.11.
    #[test]
    fn bytes_are_where_the_table_says() {
        let mut expected = b"LitBeat\0\x01\x02\x01\x01".to_vec();
        expected.extend([8, 7, 6, 5, 4, 3, 2, 1]);
        expected.extend([0x18, 0x17, 0x16, 0x15, 0x14, 0x13, 0x12, 0x11]);
        expected.extend([7, 0, 0, 0, 0, 0, 0, 0]);
        expected.extend([0x28, 0x27, 0x26, 0x25, 0x24, 0x23, 0x22, 0x21]);
        expected.extend([0xB8, 0x0B, 0, 0]);
        let code = wire::testing::unhex("f887c98b3263e60bcb938181b3c49fa5");
        expected.extend(code);
        assert_eq!(BEAT.write(&key()).to_vec(), expected);
    }

    #[test]
    fn it_is_no_art_net() {
        assert_eq!(
            wire::read(&BEAT.write(&key())),
            Err(wire::Refusal::NotArtNet)
        );
    }

    proptest! {
        #[test]
        fn what_is_written_is_read(
            first: bool, duty in 0..3, wants: bool, blind: bool, numbers: [u64; 4], limit in prop::option::of(0..u32::MAX),
        ) {
            let beat = Beat {
                role: if first { Role::First } else { Role::Second },
                duty: [Duty::StandsBy, Duty::Leads, Duty::Ends][usize::try_from(duty).unwrap()],
                wants,
                blind,
                file: numbers[0],
                run: numbers[1],
                number: numbers[2],
                heard: numbers[3],
                floor_va: limit,
            };
            prop_assert_eq!(Beat::read(&beat.write(&key()), &key()), Some(beat));
        }

        #[test]
        fn one_changed_byte_or_another_key_is_refused(at in 0..LENGTH, change in 1_u8..) {
            let mut bytes = BEAT.write(&key());
            prop_assert_eq!(Beat::read(&bytes, &[9; 32]), None);
            bytes[at] ^= change;
            prop_assert_eq!(Beat::read(&bytes, &key()), None);
        }

        #[test]
        fn no_bytes_make_it_panic(bytes in prop::collection::vec(any::<u8>(), 0..80)) {
            let mut begun = BEGINS.to_vec();
            begun.extend(&bytes);
            prop_assert_eq!(Beat::read(&bytes, &key()), None);
            prop_assert_eq!(Beat::read(&begun, &key()), None);
        }
    }
}
