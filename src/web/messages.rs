//! The live stream's binary messages, little endian. Clients that watch the same thing share
//! one encoded copy.

use std::collections::VecDeque;
use std::sync::{Arc, Mutex, PoisonError};

use axum::body::Bytes;
use serde::Serialize;

use crate::engine::offset::Verdict;
use crate::engine::slots::{AllSlots, Reference, UniverseSlots};
use crate::engine::snapshot::{Levels, State};
use crate::engine::voltages::Voltages;
use crate::floor::tables::UNIVERSE_SLOTS;
use crate::wire::PortAddress;

mod delta;
#[cfg(test)]
pub(super) mod testing;

const LAYOUT: u8 = 1;
const LEVELS: u8 = 2;
const STATE: u8 = 3;
const ID: u8 = 4;
const SLOTS: u8 = 5;
const VOLTAGES: u8 = 6;
const DELTA: u8 = 7;

/// So many encoded changes are kept: one for each view, and for those that are a picture behind.
const DELTAS: usize = 4;

/// Version of the layout message.
const VERSION: u8 = 1;

/// Bytes before a state's JSON.
pub(super) const STATE_HEADER: usize = 8;

/// Which picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Picture {
    /// As it leaves.
    Sent = 0,
    /// As it was asked for.
    Asked = 1,
}

/// The layout: what the floor is and where its pixels lie.
///
/// ```text
/// u8 1 · u8 version · u16 0 · u32 revision · u32 bytes of JSON · u32 pixels
/// JSON, filled up with spaces to a multiple of 4 · pixels × (f32 x_mm, f32 y_mm)
/// ```
///
/// The length counts the spaces, which JSON allows at its end.
pub(super) fn layout(revision: u32, json: &[u8], pixels_mm: &[[f32; 2]]) -> Bytes {
    let padded = json.len().next_multiple_of(4);
    let mut message = Vec::with_capacity(16 + padded + 8 * pixels_mm.len());
    message.extend([LAYOUT, VERSION, 0, 0]);
    message.extend(revision.to_le_bytes());
    message.extend(count(padded).to_le_bytes());
    message.extend(count(pixels_mm.len()).to_le_bytes());
    message.extend(json);
    message.resize(16 + padded, b' ');
    message.extend(
        pixels_mm
            .iter()
            .flatten()
            .flat_map(|part| part.to_le_bytes()),
    );
    message.into()
}

/// A length as the messages carry it. No floor comes near four thousand million of anything.
fn count(length: usize) -> u32 {
    u32::try_from(length).unwrap_or(u32::MAX)
}

/// ```text
/// u8 2 · u8 picture · u8 channels · u8 0 · u32 revision · u32 frame · u32 uptime_ms
/// pixels × (red, green, blue and, with four channels, white)
/// ```
fn levels(levels: &Levels, picture: Picture, revision: u32) -> Bytes {
    let slots = pixels(levels, picture);
    let mut message = Vec::with_capacity(16 + slots.len());
    message.extend([LEVELS, picture as u8, levels.channels, 0]);
    message.extend(revision.to_le_bytes());
    message.extend(levels.frame.to_le_bytes());
    message.extend(levels.uptime_ms.to_le_bytes());
    message.extend(slots);
    message.into()
}

/// What of a picture changed since one that the client has, for those that say `{"deltas":true}`.
/// Whoever has none, or would get no less, gets all of it.
///
/// ```text
/// u8 7 · u8 picture · u8 channels · u8 0 · u32 revision · u32 frame · u32 uptime_ms
/// u32 frame that it changes
/// runs, see [`delta::write`]
/// ```
fn delta(before: &Levels, now: &Levels, picture: Picture) -> Option<Bytes> {
    let slots = (pixels(before, picture), pixels(now, picture));
    if before.revision != now.revision || slots.0.len() != slots.1.len() {
        return None;
    }
    let whole = 16 + slots.1.len();
    let mut message = vec![DELTA, picture as u8, now.channels, 0];
    message.extend(now.revision.to_le_bytes());
    message.extend(now.frame.to_le_bytes());
    message.extend(now.uptime_ms.to_le_bytes());
    message.extend(before.frame.to_le_bytes());
    delta::write(&mut message, slots, usize::from(now.channels), whole).then(|| message.into())
}

/// The levels of every pixel of one picture.
pub(super) fn pixels(levels: &Levels, picture: Picture) -> &[u8] {
    match picture {
        Picture::Sent => &levels.sent,
        Picture::Asked => &levels.asked,
    }
}

/// The state with kind 3, voltages with kind 6: `u8 kind · u8 0 · u16 0 · u32 revision · JSON`
fn json(kind: u8, content: &impl Serialize, revision: u32) -> serde_json::Result<Bytes> {
    let mut message = vec![kind, 0, 0, 0];
    message.extend(revision.to_le_bytes());
    serde_json::to_writer(&mut message, content)?;
    Ok(message.into())
}

/// `u8 4 · u8 0 · u16 0 · the id as ASCII`
///
/// The id that this client goes by, so that a pattern can end with it: for `ends_with` of
/// `POST /api/v1/pattern`, and to be said again (`{"me":"…"}`) by who connects anew.
pub(super) fn id(id: &str) -> Bytes {
    [&[ID, 0, 0, 0], id.as_bytes()].concat().into()
}

/// Bytes of one universe in a slots message.
const OF_UNIVERSE: usize = 12 + UNIVERSE_SLOTS + UNIVERSE_SLOTS / 8;

/// The slots of the universes that are wished for and known, in the order of the wish.
///
/// ```text
/// u8 5 · u8 0 · u16 universes · u32 revision · u32 uptime_ms
/// universes × (
///     u16 Port-Address · u16 slots in its last frame · u32 age_ms, all ones if none came
///     u8 verdict · u8 0 · i16 shift
///     512 × u8 level as it arrived, sources merged
///     64 × u8: bit 0 of the first is slot 1; set if it changed within the last second or two
/// )
/// ```
///
/// The verdict says where the reference has landed that the wish names: 0 none was named, 1 nothing
/// is lit, 2 it lies right, and all of it is lit, 3 it lies `shift` slots later (earlier if
/// negative; −511 to 511), 4 unclear: no shift is clearly the best, or some of it is missing.
pub(super) fn slots(
    all: &AllSlots,
    wished: &[PortAddress],
    reference: Option<Reference>,
    revision: u32,
) -> Bytes {
    let known = wished.iter().filter_map(|wished| {
        let mut universes = all.universes.iter();
        universes.find(|universe| universe.port_address == *wished)
    });
    let known: Vec<&UniverseSlots> = known.collect();
    let mut message = Vec::with_capacity(12 + OF_UNIVERSE * known.len());
    message.extend([SLOTS, 0]);
    let universes = u16::try_from(known.len()).unwrap_or(u16::MAX);
    message.extend(universes.to_le_bytes());
    message.extend(revision.to_le_bytes());
    message.extend(all.uptime_ms.to_le_bytes());
    for universe in known {
        let verdict = reference.map(|reference| universe.check(reference));
        let (verdict, shift) = match verdict {
            None => (0, 0),
            Some(Verdict::Dark) => (1, 0),
            Some(Verdict::Fits) => (2, 0),
            Some(Verdict::Shifted(by)) => (3, by),
            Some(Verdict::Unclear) => (4, 0),
        };
        message.extend(universe.port_address.number().to_le_bytes());
        message.extend(universe.length.to_le_bytes());
        message.extend(universe.age_ms.unwrap_or(u32::MAX).to_le_bytes());
        message.extend([verdict, 0]);
        message.extend(i16::to_le_bytes(shift));
        message.extend(universe.levels);
        message.extend(universe.moving.bytes());
    }
    message.into()
}

/// The newest encoded message of a kind and what it was made from.
type Slot<T> = Mutex<Option<(Arc<T>, u32, Bytes)>>;

/// The newest encoded messages.
#[derive(Debug, Default)]
pub(super) struct Messages {
    state: Slot<State>,
    voltages: Slot<Voltages>,
    levels: [Slot<Levels>; 2],
    /// What was changed, what it became, which view, and the message; the newest last.
    deltas: Mutex<VecDeque<Change>>,
}

/// A change that was encoded, and what of.
type Change = (Arc<Levels>, Arc<Levels>, Picture, Bytes);

/// Takes the message from `slot`, or makes it there if it was made from something else.
fn cached<T, E>(
    slot: &Slot<T>,
    from: &Arc<T>,
    revision: u32,
    make: impl FnOnce() -> Result<Bytes, E>,
) -> Result<Bytes, E> {
    let mut slot = slot.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some((made_from, made_for, message)) = &*slot
        && Arc::ptr_eq(made_from, from)
        && *made_for == revision
    {
        return Ok(message.clone());
    }
    let message = make()?;
    *slot = Some((Arc::clone(from), revision, message.clone()));
    Ok(message)
}

impl Messages {
    /// The state as a message.
    pub(super) fn state(&self, from: &Arc<State>, revision: u32) -> serde_json::Result<Bytes> {
        cached(&self.state, from, revision, || {
            json(STATE, &**from, revision)
        })
    }

    /// The voltages as a message.
    pub(super) fn voltages(
        &self,
        from: &Arc<Voltages>,
        revision: u32,
    ) -> serde_json::Result<Bytes> {
        cached(&self.voltages, from, revision, || {
            json(VOLTAGES, &**from, revision)
        })
    }

    /// A picture as a message.
    pub(super) fn levels(&self, from: &Arc<Levels>, picture: Picture, revision: u32) -> Bytes {
        let slot = &self.levels[picture as usize];
        let made = cached(slot, from, revision, || {
            Ok::<_, std::convert::Infallible>(levels(from, picture, revision))
        });
        match made {
            Ok(message) => message,
        }
    }

    /// What makes `now` of the picture `before`. Clients in step share it.
    pub(super) fn delta(&self, before: &Arc<Levels>, now: &Arc<Levels>, picture: Picture) -> Bytes {
        let mut deltas = self.deltas.lock().unwrap_or_else(PoisonError::into_inner);
        let made = deltas.iter().find(|(from, to, of, _)| {
            Arc::ptr_eq(from, before) && Arc::ptr_eq(to, now) && *of == picture
        });
        if let Some((.., message)) = made {
            return message.clone();
        }
        let message =
            delta(before, now, picture).unwrap_or_else(|| self.levels(now, picture, now.revision));
        if deltas.len() == DELTAS {
            deltas.pop_front();
        }
        deltas.push_back((
            Arc::clone(before),
            Arc::clone(now),
            picture,
            message.clone(),
        ));
        message
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_layout_is_laid_out_as_agreed() {
        // IEEE 754: 1.5 is 0x3FC00000, -2 is 0xC0000000.
        let message = layout(0x0102_0304, b"{\"a\":1}", &[[1.5, -2.0]]);
        let mut expected = vec![1, 1, 0, 0, 4, 3, 2, 1, 8, 0, 0, 0, 1, 0, 0, 0];
        expected.extend(b"{\"a\":1} ");
        expected.extend([0, 0, 0xC0, 0x3F, 0, 0, 0, 0xC0]);
        assert_eq!(message, expected);
    }

    #[test]
    fn levels_are_laid_out_as_agreed() {
        let levels = Arc::new(Levels {
            revision: 1,
            frame: 0x0A0B_0C0D,
            uptime_ms: 258,
            channels: 3,
            sent: vec![1, 2, 3],
            asked: vec![7, 8, 9],
        });
        let messages = Messages::default();
        let sent = messages.levels(&levels, Picture::Sent, 5);
        assert_eq!(
            sent[..],
            [
                2, 0, 3, 0, 5, 0, 0, 0, 0xD, 0xC, 0xB, 0xA, 2, 1, 0, 0, 1, 2, 3
            ]
        );
        let asked = messages.levels(&levels, Picture::Asked, 5);
        assert_eq!(
            asked[..],
            [
                2, 1, 3, 0, 5, 0, 0, 0, 0xD, 0xC, 0xB, 0xA, 2, 1, 0, 0, 7, 8, 9
            ]
        );
    }

    #[test]
    fn changes_are_laid_out_as_agreed_and_shared() {
        let before = Arc::new(Levels {
            revision: 5,
            frame: 9,
            channels: 3,
            sent: vec![0; 12],
            asked: vec![0; 12],
            ..Levels::default()
        });
        let mut now = Levels::clone(&before);
        (now.frame, now.uptime_ms) = (10, 258);
        now.sent[9] = 77;
        now.asked.fill(8);
        let now = Arc::new(now);
        let messages = Messages::default();
        let sent = messages.delta(&before, &now, Picture::Sent);
        assert_eq!(
            sent[..],
            [
                7, 0, 3, 0, 5, 0, 0, 0, 10, 0, 0, 0, 2, 1, 0, 0, 9, 0, 0, 0, 3, 0, 1, 0, 77, 0, 0
            ]
        );
        let again = messages.delta(&before, &now, Picture::Sent);
        assert_eq!(again.as_ptr(), sent.as_ptr());
        // All of it is shorter than what changed.
        let asked = messages.delta(&before, &now, Picture::Asked);
        assert_eq!(asked, messages.levels(&now, Picture::Asked, 5));
        assert_eq!(asked[..2], [2, 1]);
        // Another floor's picture is no picture to change.
        let other = Arc::new(Levels {
            revision: 4,
            ..Levels::clone(&before)
        });
        assert_eq!(messages.delta(&other, &now, Picture::Sent)[0], 2);
    }

    #[test]
    fn an_id_is_laid_out_as_agreed() {
        assert_eq!(id("ab")[..], [4, 0, 0, 0, b'a', b'b']);
    }

    #[test]
    fn one_copy_serves_all_until_something_changes() {
        let messages = Messages::default();
        let first = Arc::new(State::default());
        let made = messages.state(&first, 1).unwrap();
        assert_eq!(made[..8], [3, 0, 0, 0, 1, 0, 0, 0]);
        let json: serde_json::Value = serde_json::from_slice(&made[STATE_HEADER..]).unwrap();
        assert_eq!(json["signal"], "waiting");
        assert_eq!(messages.state(&first, 1).unwrap().as_ptr(), made.as_ptr());
        assert_eq!(messages.state(&first, 2).unwrap()[4], 2);
        let second = Arc::new(State {
            uptime_s: 7.0,
            ..State::default()
        });
        assert_ne!(
            messages.state(&second, 2).unwrap(),
            messages.state(&first, 2).unwrap()
        );
    }
}
