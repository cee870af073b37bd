//! One universe as it arrives: its sources, their merge, its age.
//!
//! Art-Net 4: two sources are merged, a third is ignored, a silent one leaves after ten seconds.
//! A source is an IP address and a Physical field.

use std::net::Ipv4Addr;

use super::motion::Motion;
use super::numbering::{LastMinute, Numbering};
use super::sequence::Sequence;
use super::tally::Outcome;
use crate::floor::model::Merge;
use crate::floor::tables::UNIVERSE_SLOTS;
use crate::power::near::lines;
use crate::units::Time;
use crate::wire::dmx::Dmx;

/// A source that is silent for so long leaves (Art-Net 4).
pub const SOURCE_LEAVES_AFTER_S: u64 = 10;

/// Who sends.
pub type SourceId = (Ipv4Addr, u8);

/// One of the two sources that are merged.
#[derive(Debug, Clone)]
pub struct Source {
    /// Who it is.
    pub id: SourceId,
    /// When its last packet was taken.
    pub at: Time,
    sequence: Sequence,
    numbering: Numbering,
    /// What it sent, while it is merged with another; alone it sent what is in
    /// [`Universe::merged`].
    slots: Option<Box<[u8; UNIVERSE_SLOTS]>>,
}

/// One universe as it arrives.
#[derive(Debug, Clone)]
pub struct Universe {
    sources: Vec<Source>,
    /// A third source that is ignored, and when it last sent.
    pub third: Option<(SourceId, Time)>,
    /// The sources merged.
    pub merged: [u8; UNIVERSE_SLOTS],
    /// Whether they have changed since somebody last took note of it.
    pub changed: bool,
    /// When a packet was last taken.
    pub at: Option<Time>,
    /// Address of the newest packet.
    pub newest_from: Option<Ipv4Addr>,
    /// Slots in the newest packet.
    pub length: u16,
    /// Whether what came waits for `ArtSync`.
    pub pending: bool,
    /// Frames a second.
    pub rate: Rate,
    /// What the merged slots have done lately.
    pub motion: Motion,
    /// Frames that came after newer ones of the same source.
    pub overtaken: LastMinute,
    /// Sources that came in the place of another, or to it.
    pub joined: LastMinute,
    missing: LastMinute,
    last_id: Option<SourceId>,
}

impl Default for Universe {
    fn default() -> Self {
        Self {
            sources: Vec::with_capacity(2),
            third: None,
            merged: [0; UNIVERSE_SLOTS],
            changed: true,
            at: None,
            newest_from: None,
            length: 0,
            pending: false,
            rate: Rate::default(),
            motion: Motion::default(),
            overtaken: LastMinute::default(),
            joined: LastMinute::default(),
            missing: LastMinute::default(),
            last_id: None,
        }
    }
}

impl Universe {
    /// Takes a packet and merges it.
    ///
    /// # Errors
    /// The outcome of a packet that is old or from a third source.
    pub fn take(
        &mut self,
        from: Ipv4Addr,
        dmx: &Dmx<'_>,
        merge: Merge,
        now: Time,
    ) -> Result<(), Outcome> {
        self.leave(now);
        let id = (from, dmx.physical);
        let at = match self.sources.iter().position(|source| source.id == id) {
            Some(at) => at,
            None if self.sources.len() < 2 => {
                let slots = self.join(merge, dmx.slots.len());
                let sequence = Sequence::default();
                if self.last_id.is_some_and(|last| last != id) {
                    self.joined.add(1, now);
                }
                self.sources.push(Source {
                    id,
                    at: now,
                    sequence,
                    numbering: Numbering::default(),
                    slots,
                });
                self.sources.len() - 1
            }
            None => {
                self.third = Some((id, now));
                return Err(Outcome::ThirdSource);
            }
        };
        let source = &mut self.sources[at];
        if !source.sequence.take(dmx.sequence, now) {
            // What was counted as missing has only been overtaken.
            self.missing.take_back(now);
            self.overtaken.add(1, now);
            return Err(Outcome::OldSequence);
        }
        let missing = source.numbering.take(dmx.sequence);
        if missing > 0 {
            self.missing.add(missing.into(), now);
        }
        source.at = now;
        self.last_id = Some(id);
        if self.third.is_some_and(|(third, _)| third == id) {
            self.third = None;
        }
        self.at = Some(now);
        self.newest_from = Some(from);
        #[expect(clippy::cast_possible_truncation, reason = "512 at most")]
        let length = dmx.slots.len() as u16;
        self.length = length;
        self.rate.count(now);
        let before = match &mut source.slots {
            None if self.merged[..dmx.slots.len()] == *dmx.slots => {
                self.motion.take_still(&self.merged, length, now);
                return Ok(());
            }
            None => {
                self.motion.take_over(&mut self.merged, dmx.slots, now);
                self.changed = true;
                return Ok(());
            }
            Some(slots) => {
                let before = self.merged;
                if merge == Merge::Ltp {
                    let moves = dmx.slots.iter().zip(slots.iter());
                    for ((&new, &old), merged) in moves.zip(&mut self.merged) {
                        if new != old {
                            *merged = new;
                        }
                    }
                }
                slots[..dmx.slots.len()].copy_from_slice(dmx.slots);
                if merge == Merge::Htp {
                    self.merge_highest();
                }
                before
            }
        };
        self.changed |= before != self.merged;
        self.motion.take(&before, &self.merged, length, now);
        Ok(())
    }

    /// What a source that joins has sent so far, and what the one that was alone has; nothing if it
    /// is alone now, with a frame of `length` slots.
    ///
    /// Under LTP a source that joins agrees with what is there until it sends something else; under
    /// HTP slots that it never sent must not hold others up.
    fn join(&mut self, merge: Merge, length: usize) -> Option<Box<[u8; UNIVERSE_SLOTS]>> {
        let Some(alone) = self.sources.first_mut() else {
            // What those before it left behind is not its own.
            self.merged[length..].fill(0);
            self.changed = true;
            return None;
        };
        alone.slots = Some(Box::new(self.merged));
        Some(Box::new(match merge {
            Merge::Htp => [0; UNIVERSE_SLOTS],
            Merge::Ltp => self.merged,
        }))
    }

    /// Reads what is needed to take another frame.
    pub(super) fn near(&self) -> u8 {
        let source = self.sources.first().map_or(0, |source| source.id.1);
        let rest = u8::from(self.changed) ^ u8::from(self.pending) ^ self.motion.near();
        lines(&self.merged) ^ source ^ rest
    }

    /// Lets silent sources leave; says whether the merged slots may have changed.
    pub fn leave(&mut self, now: Time) -> bool {
        let gone = |at: Time| now.us_since(at) >= SOURCE_LEAVES_AFTER_S * 1_000_000;
        if self.third.is_some_and(|(_, at)| gone(at)) {
            self.third = None;
        }
        if !self.sources.iter().any(|source| gone(source.at)) {
            return false;
        }
        self.sources.retain(|source| !gone(source.at));
        // The last one to send stays on show: what becomes of it is for the floor file to decide.
        let [one] = self.sources.as_mut_slice() else {
            return false;
        };
        let Some(slots) = one.slots.take() else {
            return false;
        };
        self.changed |= self.merged != *slots;
        self.merged = *slots;
        true
    }

    /// The sources that are merged.
    pub fn sources(&self) -> &[Source] {
        &self.sources
    }

    /// Whether two sources are merged now.
    pub fn merging(&self) -> bool {
        self.sources.len() > 1
    }

    /// Frames of the last minute that their numbers say are missing; nothing while no source's
    /// numbers can tell.
    pub fn missing_frames(&self, now: Time) -> Option<u32> {
        let sure = self.sources.iter().any(|source| source.numbering.is_sure());
        sure.then(|| self.missing.total(now))
    }

    /// Slots that both of two sources light, and not alike.
    pub fn contested_slots(&self) -> u32 {
        let [one, other] = self.sources.as_slice() else {
            return 0;
        };
        let (Some(one), Some(other)) = (&one.slots, &other.slots) else {
            return 0;
        };
        let pairs = one.iter().zip(other.iter());
        let contested = pairs.filter(|&(&a, &b)| a > 0 && b > 0 && a != b);
        u32::try_from(contested.count()).unwrap_or(u32::MAX)
    }

    fn merge_highest(&mut self) {
        if let [
            Source {
                slots: Some(one), ..
            },
            Source {
                slots: Some(other), ..
            },
        ] = self.sources.as_slice()
        {
            for ((merged, &a), &b) in self.merged.iter_mut().zip(one.iter()).zip(other.iter()) {
                *merged = a.max(b);
            }
        }
    }
}

/// Frames a second, counted over windows of a second.
#[derive(Debug, Clone, Copy, Default)]
pub struct Rate {
    since: Time,
    count: u32,
    last: f64,
}

/// Length of a window.
const WINDOW_US: u64 = 1_000_000;

impl Rate {
    /// One more frame.
    pub fn count(&mut self, now: Time) {
        self.roll(now);
        self.count += 1;
    }

    fn roll(&mut self, now: Time) {
        let elapsed = now.us_since(self.since);
        if elapsed >= WINDOW_US {
            self.last = if elapsed < 3 * WINDOW_US {
                f64::from(self.count) / now.s_since(self.since)
            } else {
                0.0
            };
            self.count = 0;
            self.since = now;
        }
    }

    /// Frames a second in the last whole window; 0 after a silence of three.
    pub fn per_s(&self, now: Time) -> f64 {
        let mut copy = *self;
        copy.roll(now);
        copy.last
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::wire::PortAddress;

    const A: Ipv4Addr = Ipv4Addr::new(10, 0, 0, 1);
    const B: Ipv4Addr = Ipv4Addr::new(10, 0, 0, 2);
    const C: Ipv4Addr = Ipv4Addr::new(10, 0, 0, 3);

    fn send(
        universe: &mut Universe,
        from: Ipv4Addr,
        merge: Merge,
        s: u64,
        slots: &[u8],
    ) -> Result<(), Outcome> {
        let port_address = PortAddress::new(1).unwrap();
        let dmx = Dmx {
            sequence: 0,
            physical: 0,
            port_address,
            slots,
        };
        universe.take(from, &dmx, merge, Time::from_s(s))
    }

    #[test]
    fn highest_takes_precedence() {
        let mut universe = Universe::default();
        send(&mut universe, A, Merge::Htp, 1, &[10, 200, 0]).unwrap();
        send(&mut universe, B, Merge::Htp, 2, &[100, 20]).unwrap();
        assert_eq!(universe.merged[..3], [100, 200, 0]);
        assert!(universe.merging());
        send(&mut universe, A, Merge::Htp, 3, &[10, 0, 7]).unwrap();
        assert_eq!(universe.merged[..3], [100, 20, 7]);
        // B is silent for ten seconds and leaves.
        send(&mut universe, A, Merge::Htp, 12, &[10, 0, 7]).unwrap();
        assert_eq!(universe.merged[..3], [10, 0, 7]);
    }

    #[test]
    fn slots_that_a_source_never_sent_do_not_hold_the_others_up() {
        let mut universe = Universe::default();
        send(&mut universe, A, Merge::Htp, 1, &[10, 200, 90]).unwrap();
        send(&mut universe, B, Merge::Htp, 2, &[100]).unwrap();
        assert_eq!(universe.merged[..3], [100, 200, 90]);
        send(&mut universe, A, Merge::Htp, 3, &[10, 0, 0]).unwrap();
        assert_eq!(universe.merged[..3], [100, 0, 0]);
    }

    #[test]
    fn latest_takes_precedence_slot_by_slot() {
        let mut universe = Universe::default();
        send(&mut universe, A, Merge::Ltp, 1, &[10, 200]).unwrap();
        send(&mut universe, B, Merge::Ltp, 2, &[100, 200]).unwrap();
        assert_eq!(universe.merged[..2], [100, 200]);
        // A sends on without a change: B's change stays.
        send(&mut universe, A, Merge::Ltp, 3, &[10, 200]).unwrap();
        assert_eq!(universe.merged[..2], [100, 200]);
        send(&mut universe, A, Merge::Ltp, 4, &[10, 50]).unwrap();
        assert_eq!(universe.merged[..2], [100, 50]);
    }

    #[test]
    fn a_third_source_is_ignored_until_one_leaves() {
        let mut universe = Universe::default();
        send(&mut universe, A, Merge::Htp, 1, &[1]).unwrap();
        send(&mut universe, B, Merge::Htp, 8, &[2]).unwrap();
        assert_eq!(
            send(&mut universe, C, Merge::Htp, 9, &[9]),
            Err(Outcome::ThirdSource)
        );
        assert_eq!(universe.third.unwrap().0, (C, 0));
        assert_eq!(universe.merged[0], 2);
        send(&mut universe, C, Merge::Htp, 11, &[9]).unwrap();
        assert_eq!(universe.merged[0], 9);
    }

    #[test]
    fn one_address_with_two_physical_ports_is_two_sources() {
        let mut universe = Universe::default();
        let port_address = PortAddress::new(1).unwrap();
        for physical in 0..3 {
            let dmx = Dmx {
                sequence: 0,
                physical,
                port_address,
                slots: &[1, 2],
            };
            let taken = universe.take(A, &dmx, Merge::Htp, Time::from_s(1));
            assert_eq!(taken.is_ok(), physical < 2);
        }
    }

    #[test]
    fn a_short_frame_leaves_the_slots_behind_it_as_they_were() {
        let mut universe = Universe::default();
        send(&mut universe, A, Merge::Htp, 1, &[1, 2, 3]).unwrap();
        send(&mut universe, A, Merge::Htp, 2, &[9]).unwrap();
        assert_eq!(universe.merged[..3], [9, 2, 3]);
        assert_eq!(universe.length, 1);
    }

    #[test]
    fn the_rate_is_that_of_the_last_second() {
        let mut rate = Rate::default();
        for frame in 0..100_u64 {
            rate.count(Time(frame * 22_727));
        }
        let now = Time(100 * 22_727);
        assert!((rate.per_s(now) - 44.0).abs() < 0.5, "{}", rate.per_s(now));
        assert!(rate.per_s(Time::from_s(60)).abs() < 1e-9);
    }
}
