//! Circuits, supplies and feeds, each alone or several alike.

use super::super::defaults::MOST_ALIKE;
use super::super::draft::{CircuitDraft, FeedDraft, Places, SupplyDraft};
use super::super::entry::{Entry, Numbers};
use super::super::fault::Fault;
use super::super::model::Sharing;
use super::super::schema;
use super::super::sink::At;
use super::super::walk::Keys;
use super::{copper, number, numbered, places, split_up};

const AMPERES: Numbers = Numbers::UpTo(10_000.0);
const VOLTS: Numbers = Numbers::UpTo(1_000.0);
const SHARE: Numbers = Numbers::UpTo(1.0);

/// Reads a `[[circuit]]`, or several of them.
pub(super) fn circuits(keys: &Keys<'_>) -> Vec<CircuitDraft> {
    let name = keys.need("name").and_then(|entry| entry.name());
    let (volts, rated_a) = (
        number(keys, "volts", VOLTS),
        number(keys, "rated_a", AMPERES),
    );
    let circuit = |name| CircuitDraft {
        name,
        volts,
        rated_a,
    };
    alike(keys, name.as_ref()).map(circuit).collect()
}

/// Reads a `[[supply]]`, or several of them.
pub(super) fn supplies(keys: &Keys<'_>) -> Vec<SupplyDraft> {
    let name = keys.need("name").and_then(|entry| entry.name());
    let circuit = keys.need("circuit").and_then(|entry| entry.name());
    let volts = keys.need("volts").and_then(|entry| entry.number(VOLTS));
    let rated_a = number(keys, "rated_a", AMPERES);
    let efficiency = number(keys, "efficiency", SHARE);
    let power_factor = number(keys, "power_factor", SHARE);
    let short_a = keys
        .get("short_a")
        .and_then(|entry| entry.number(AMPERES))
        .map(|short| short.value);
    let sharing = keys
        .get("sharing")
        .and_then(|entry| entry.word(&Sharing::ALL))
        .map_or(Sharing::default(), |sharing| sharing.value);
    let brief = copper::brief(keys);
    let per_circuit = count(keys.get("per_circuit").as_ref());
    let supply = |(at, name)| SupplyDraft {
        name,
        circuit: shared_out(circuit.as_ref(), per_circuit, at),
        volts: volts.clone(),
        rated_a,
        efficiency,
        power_factor,
        short_a,
        sharing,
        brief: brief.clone(),
    };
    alike(keys, name.as_ref()).enumerate().map(supply).collect()
}

/// Reads a `[[feed]]`, or several of them.
pub(super) fn feeds(keys: &Keys<'_>) -> Vec<FeedDraft> {
    let name = keys.need("name").and_then(|entry| entry.name());
    let supply = keys.need("supply").and_then(|entry| entry.name());
    let fuse_a = number(keys, "fuse_a", AMPERES);
    let positions = keys.need("positions").map_or_else(
        || Places {
            list: Vec::new(),
            broken: true,
        },
        |entry| {
            let places = places(&entry);
            if places.list.is_empty() && !places.broken {
                let message = "a feed without panels is none";
                let help = "name the panels that it feeds, or take this [[feed]] out";
                entry.fault(Fault::new("empty-list", &entry.span(), message, help));
            }
            places
        },
    );
    let (cables, brief) = (copper::of_feed(keys), copper::brief(keys));
    let feed = |name, supply, positions| FeedDraft {
        name,
        supply,
        fuse_a,
        positions,
        cables,
        brief: brief.clone(),
    };
    let Some(split) = keys.get("split") else {
        return vec![feed(name, supply, positions)];
    };
    let split = split.table(&schema::FEED_SPLIT);
    let panels = split.as_ref().and_then(|keys| keys.need("panels"));
    let panels = count(panels.as_ref());
    let per_supply = split.as_ref().and_then(|keys| keys.get("per_supply"));
    let per_supply = count(per_supply.as_ref());
    let Some(panels) = panels else {
        return vec![feed(name, supply, positions)];
    };
    let broken = positions.broken;
    split_up(positions.list, panels)
        .into_iter()
        .enumerate()
        .map(|(at, list)| {
            feed(
                numbered(name.as_ref(), at + 1),
                shared_out(supply.as_ref(), per_supply, at),
                Places { list, broken },
            )
        })
        .collect()
}

/// The name, or with `count` so many of them with a number each.
fn alike(keys: &Keys<'_>, name: Option<&At<String>>) -> impl Iterator<Item = Option<At<String>>> {
    let names: Vec<_> = match count(keys.get("count").as_ref()) {
        None => vec![name.cloned()],
        Some(count) => (1..=count).map(|number| numbered(name, number)).collect(),
    };
    names.into_iter()
}

/// What number `at` hangs on if every `per` share one.
fn shared_out(name: Option<&At<String>>, per: Option<usize>, at: usize) -> Option<At<String>> {
    match per {
        None => name.cloned(),
        Some(per) => numbered(name, at / per + 1),
    }
}

fn count(entry: Option<&Entry<'_>>) -> Option<usize> {
    let count = entry?.whole::<u16>(&(1..=MOST_ALIKE))?;
    Some(usize::from(count.value))
}
