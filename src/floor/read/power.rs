//! Circuits, supplies and feeds.

use super::super::draft::{CircuitDraft, FeedDraft, Places, SupplyDraft};
use super::super::entry::Numbers;
use super::super::walk::Keys;
use super::{number, places};

const AMPERES: Numbers = Numbers::UpTo(10_000.0);
const VOLTS: Numbers = Numbers::UpTo(1_000.0);
const SHARE: Numbers = Numbers::UpTo(1.0);

/// Reads `[[circuit]]`.
pub(super) fn circuit(keys: &Keys<'_>) -> CircuitDraft {
    CircuitDraft {
        name: keys.need("name").and_then(|entry| entry.name()),
        volts: number(keys, "volts", VOLTS),
        rated_a: number(keys, "rated_a", AMPERES),
    }
}

/// Reads `[[supply]]`.
pub(super) fn supply(keys: &Keys<'_>) -> SupplyDraft {
    SupplyDraft {
        name: keys.need("name").and_then(|entry| entry.name()),
        circuit: keys.need("circuit").and_then(|entry| entry.name()),
        volts: keys.need("volts").and_then(|entry| entry.number(VOLTS)),
        rated_a: number(keys, "rated_a", AMPERES),
        efficiency: number(keys, "efficiency", SHARE),
        power_factor: number(keys, "power_factor", SHARE),
    }
}

/// Reads `[[feed]]`.
pub(super) fn feed(keys: &Keys<'_>) -> FeedDraft {
    FeedDraft {
        name: keys.need("name").and_then(|entry| entry.name()),
        supply: keys.need("supply").and_then(|entry| entry.name()),
        fuse_a: number(keys, "fuse_a", AMPERES),
        positions: keys.need("positions").map_or_else(
            || Places {
                list: Vec::new(),
                broken: true,
            },
            |entry| places(&entry),
        ),
    }
}
