//! Every datagram ends in exactly one of these outcomes.

use std::collections::BTreeMap;

use crate::wire::Refusal;

/// What became of a datagram.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(usize)]
pub enum Outcome {
    /// An `ArtDmx` that changed or confirmed the picture.
    Taken,
    /// An `ArtDmx` that waits for `ArtSync`.
    HeldForSync,
    /// An `ArtSync` that was followed.
    Sync,
    /// An `ArtSync` that was not: from another address than the picture's, or while sources are merged.
    SyncIgnored,
    /// An `ArtPoll`.
    Poll,
    /// An `ArtPollReply`.
    PollReply,
    /// A packet of the standard that litfloor has no use for.
    PassedOver,
    /// An `ArtDmx` with switches.
    Switches,
    /// A beat of the litfloor that stands by, or for which this one does.
    Beat,
    /// Refused: not Art-Net.
    NotArtnet,
    /// Refused: shorter than it says.
    Truncated,
    /// Refused: protocol version below 14.
    BadVersion,
    /// Refused: Length of 0 or over 512.
    BadLength,
    /// Refused: Port-Address of more than 15 bits.
    BadAddress,
    /// Refused: OpCode unknown to the standard.
    UnknownOpcode,
    /// Refused: an `ArtDmx` overtaken by a newer one.
    OldSequence,
    /// Refused: an `ArtDmx` from a third source.
    ThirdSource,
    /// Refused: an `ArtDmx` for a universe that the floor file does not map.
    Unmapped,
    /// Refused: an `ArtDmx` for a universe of switches, but not from their node.
    SwitchesFromElsewhere,
    /// Refused: from an address that the floor file does not let in.
    NotAdmitted,
    /// Refused: an `ArtDmx` for a universe that is pinned to another source.
    Pinned,
    /// Refused: an `ArtPoll` of one that polls more often than it is answered.
    PollHeldBack,
}

/// All outcomes, in the order of their numbers.
const ALL: [(Outcome, &str); 22] = [
    (Outcome::Taken, "taken"),
    (Outcome::HeldForSync, "held_for_sync"),
    (Outcome::Sync, "sync"),
    (Outcome::SyncIgnored, "sync_ignored"),
    (Outcome::Poll, "poll"),
    (Outcome::PollReply, "poll_reply"),
    (Outcome::PassedOver, "passed_over"),
    (Outcome::Switches, "switches"),
    (Outcome::Beat, "beat"),
    (Outcome::NotArtnet, "not_artnet"),
    (Outcome::Truncated, "truncated"),
    (Outcome::BadVersion, "bad_version"),
    (Outcome::BadLength, "bad_length"),
    (Outcome::BadAddress, "bad_address"),
    (Outcome::UnknownOpcode, "unknown_opcode"),
    (Outcome::OldSequence, "old_sequence"),
    (Outcome::ThirdSource, "third_source"),
    (Outcome::Unmapped, "unmapped"),
    (Outcome::SwitchesFromElsewhere, "switches_from_elsewhere"),
    (Outcome::NotAdmitted, "not_admitted"),
    (Outcome::Pinned, "pinned"),
    (Outcome::PollHeldBack, "poll_held_back"),
];

impl Outcome {
    /// Its stable name.
    pub const fn name(self) -> &'static str {
        ALL[self as usize].1
    }

    /// Whether the datagram was refused.
    pub const fn refused(self) -> bool {
        self as usize >= Self::NotArtnet as usize
    }
}

impl From<Refusal> for Outcome {
    fn from(refusal: Refusal) -> Self {
        match refusal {
            Refusal::NotArtNet => Self::NotArtnet,
            Refusal::Truncated => Self::Truncated,
            Refusal::BadVersion => Self::BadVersion,
            Refusal::BadLength => Self::BadLength,
            Refusal::BadAddress => Self::BadAddress,
            Refusal::UnknownOpcode => Self::UnknownOpcode,
        }
    }
}

/// Counts of outcomes.
#[derive(Debug, Clone, Default)]
pub struct Tally([u64; ALL.len()]);

impl Tally {
    /// One more.
    pub const fn count(&mut self, outcome: Outcome) {
        self.0[outcome as usize] += 1;
    }

    /// How many so far.
    pub const fn of(&self, outcome: Outcome) -> u64 {
        self.0[outcome as usize]
    }

    /// Every outcome by name, also those that never happened.
    pub fn all(&self) -> BTreeMap<String, u64> {
        ALL.iter()
            .map(|&(outcome, name)| (name.to_owned(), self.of(outcome)))
            .collect()
    }

    /// Refusals by name, also those that never happened.
    pub fn refused(&self) -> BTreeMap<String, u64> {
        ALL.iter()
            .filter(|(outcome, _)| outcome.refused())
            .map(|&(outcome, name)| (name.to_owned(), self.of(outcome)))
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_outcome_stands_at_its_number() {
        for (at, (outcome, name)) in ALL.iter().enumerate() {
            assert_eq!(*outcome as usize, at);
            assert_eq!(outcome.name(), *name);
        }
        let mut tally = Tally::default();
        tally.count(Outcome::Unmapped);
        assert_eq!(tally.all()["unmapped"], 1);
        assert_eq!(tally.refused().len(), 13);
        assert!(!tally.refused().contains_key("poll"));
    }
}
