//! `litfloor patch --import SHEET`: a spreadsheet's start addresses become runs.

mod cells;
mod table;
mod toml;

use std::collections::{BTreeMap, HashMap};
use std::fmt::Write as _;
use std::path::Path;

use crate::floor;
use crate::floor::joined::{self, Begin, NotJoined};
use crate::floor::model::{Floor, Position};
use cells::Addressing;
use table::{Column, Row, Table};

use super::super::summary::counted;

/// How large the panels are.
#[derive(Debug)]
pub(super) enum Size<'f> {
    /// As the floor file says of each.
    Floor(&'f Floor),
    /// All alike: slots of a panel, and of a pixel.
    Alike(u32, usize),
}

/// One row that could be read.
#[derive(Debug)]
struct Entry {
    row: usize,
    position: Position,
    begin: Begin,
    node: Option<String>,
    port: Option<u16>,
    serial: Option<String>,
    turn_deg: u16,
    mirrored: bool,
}

/// What is wrong, each with its row.
type Wrong = Vec<(usize, String)>;

/// Turns the bytes of a sheet into `[[run]]` tables.
///
/// # Errors
/// Everything that is wrong with it, one line each.
pub(super) fn runs(
    name: &Path,
    bytes: &[u8],
    size: &Size<'_>,
    universes_from: u16,
) -> Result<String, String> {
    let name = name.display();
    let table = Table::read(bytes).map_err(|why| format!("{name}: {}\n", harmless(&why)))?;
    let addressing = Addressing { universes_from };
    let mut wrong = Wrong::new();
    let mut entries = Vec::new();
    for row in &table.rows {
        match entry(&table, row, size, addressing) {
            Ok(entry) => entries.push(entry),
            Err(why) => wrong.extend(why.into_iter().map(|why| (row.number, why))),
        }
    }
    doubles(&entries, &mut wrong);
    let joined = join(&entries, &mut wrong);
    for run in &joined {
        let members = || run.panels.iter().filter_map(|(at, _)| entries.get(*at));
        if members().any(|entry| entry.serial.is_some()) {
            for entry in members().filter(|entry| entry.serial.is_none()) {
                let why = "no serial, but other panels of its run have one: write all or none";
                wrong.push((entry.row, why.to_owned()));
            }
        }
    }
    if entries.is_empty() && wrong.is_empty() {
        return Err(format!("{name}: no rows below the header\n"));
    }
    if !wrong.is_empty() {
        wrong.sort();
        wrong.dedup();
        let lines = wrong
            .iter()
            .map(|(row, why)| format!("{name}: row {row}: {}\n", harmless(why)));
        let count = counted(wrong.len() as u64, "fault");
        return Err(format!("{}{count} in {name}\n", lines.collect::<String>()));
    }
    let mut text = format!(
        "# {} in {}. Put them into the floor file in the place of its runs, then let it be checked.\n",
        counted(entries.len() as u64, "panel"),
        counted(joined.len() as u64, "run"),
    );
    if !table.unused.is_empty() {
        let titles: Vec<String> = table
            .unused
            .iter()
            .map(|title| title.replace(char::is_control, " "))
            .collect();
        let _ = writeln!(
            text,
            "# Not used: the columns {}. Runs are written by where their first slots lie at the nodes:\n\
             # a source of its own at the console, spare slots and unused pixels have to be added by hand.",
            titles.join(", ")
        );
    }
    for run in &joined {
        text.push('\n');
        text += &toml::run(run, &entries).unwrap_or_default();
    }
    Ok(text)
}

/// A reason that quotes cells of the sheet, as a terminal may be given it: one that holds control
/// characters must not tell it what to do.
fn harmless(why: &str) -> String {
    why.replace(char::is_control, "\u{FFFD}")
}

/// One row, or all that is wrong with it.
fn entry(
    table: &Table,
    row: &Row,
    size: &Size<'_>,
    addressing: Addressing,
) -> Result<Entry, Vec<String>> {
    let cell = |column| table.cell(row, column);
    let mut wrong = Vec::new();
    let position = read(cell(Column::Position), &mut wrong, |cell| {
        cell.parse::<Position>()
            .map_err(|why| format!("\"{cell}\" is no position: {why}"))
    });
    if cell(Column::Position).is_none() {
        wrong.push("no position".to_owned());
    }
    let begins = begins(table, row, addressing).map_err(|why| wrong.extend(why));
    let sized = position.and_then(|at| size.of(at).map_err(|why| wrong.push(why)).ok());
    let serial = read(cell(Column::Serial), &mut wrong, |cell| {
        let good = floor::serial_is_valid(cell) && !cell.contains("..");
        good.then(|| cell.to_owned())
            .ok_or_else(|| format!("\"{cell}\" is no serial: 1 to 32 letters, digits or - . _"))
    });
    let node = read(cell(Column::Node), &mut wrong, |cell| size.node(cell));
    let port = read(cell(Column::Port), &mut wrong, cells::port);
    let turn_deg = read(cell(Column::Turn), &mut wrong, cells::turn);
    let mirrored = read(cell(Column::Mirrored), &mut wrong, cells::yes);
    let packing = read(cell(Column::Packing), &mut wrong, cells::packing);
    match (position, begins, sized) {
        (Some(position), Ok((start, slot)), Some((pixels, slots_per_pixel)))
            if wrong.is_empty() =>
        {
            Ok(Entry {
                row: row.number,
                position,
                begin: Begin {
                    start,
                    slot,
                    pixels,
                    slots_per_pixel,
                    packing,
                },
                node: node.or_else(|| size.only_node()),
                port,
                serial,
                turn_deg: turn_deg.unwrap_or(0),
                mirrored: mirrored.unwrap_or(false),
            })
        }
        _ => Err(wrong),
    }
}

/// Reads a cell that may be empty.
fn read<T>(
    cell: Option<&str>,
    wrong: &mut Vec<String>,
    read: impl FnOnce(&str) -> Result<T, String>,
) -> Option<T> {
    read(cell?).map_err(|why| wrong.push(why)).ok()
}

/// Where a row says that its panel begins.
fn begins(
    table: &Table,
    row: &Row,
    addressing: Addressing,
) -> Result<(crate::wire::PortAddress, u16), Vec<String>> {
    let address = table.cell(row, Column::Address);
    if let Some(both) = address.filter(|cell| cell.contains('/')) {
        return addressing.both(both).map_err(|why| vec![why]);
    }
    // Without a slash it stands for the one that has no column of its own.
    let of = |column| {
        if table.has(column) {
            table.cell(row, column)
        } else {
            address
        }
    };
    let (universe, slot) = (of(Column::Universe), of(Column::Slot));
    let universe = match universe {
        Some(cell) => addressing.universe(cell),
        None => Err("no universe".to_owned()),
    };
    let slot = match slot {
        Some(cell) => cells::slot(cell),
        None => Err("no first slot".to_owned()),
    };
    match (universe, slot) {
        (Ok(universe), Ok(slot)) => Ok((universe, slot)),
        (universe, slot) => Err(universe.err().into_iter().chain(slot.err()).collect()),
    }
}

impl Size<'_> {
    /// Pixels of the panel in a position, and slots of each.
    fn of(&self, position: Position) -> Result<(u32, usize), String> {
        match self {
            Self::Alike(slots, per_pixel) => {
                let pixels = usize::try_from(*slots).unwrap_or(0) / (*per_pixel).max(1);
                Ok((u32::try_from(pixels).unwrap_or(0), *per_pixel))
            }
            Self::Floor(floor) => {
                let at = floor
                    .panel_at(position)
                    .ok_or_else(|| format!("nothing lies in {position} on this floor"))?;
                let kind = &floor.panel_kinds[floor.panels[at].kind];
                let pixels = u32::try_from(kind.pixels_mm.len()).unwrap_or(0);
                Ok((pixels, floor.pixel_kinds[kind.pixel_kind].slots.len()))
            }
        }
    }

    /// A node's name, if it may stand in the file.
    fn node(&self, name: &str) -> Result<String, String> {
        if let Self::Floor(floor) = self
            && !floor.nodes.iter().any(|node| node.name == name)
        {
            let known: Vec<&str> = floor.nodes.iter().map(|node| node.name.as_str()).collect();
            return Err(format!(
                "no node is called \"{name}\"; known: {}",
                known.join(", ")
            ));
        }
        if name.chars().count() > 64 || name.chars().any(char::is_control) {
            return Err(format!("{} is no name of a node", name.escape_debug()));
        }
        Ok(name.to_owned())
    }

    /// The node of a floor that has only one.
    fn only_node(&self) -> Option<String> {
        match self {
            Self::Floor(floor) if floor.nodes.len() == 1 => Some(floor.nodes[0].name.clone()),
            _ => None,
        }
    }
}

/// Positions and serials that stand twice.
fn doubles(entries: &[Entry], wrong: &mut Wrong) {
    let mut positions = HashMap::new();
    let mut serials = HashMap::new();
    for entry in entries {
        let row = entry.row;
        if let Some(first) = positions.insert(entry.position, row) {
            let why = format!("{} stands in row {first} already", entry.position);
            wrong.push((row, why));
        }
        let serial = entry.serial.as_ref();
        if let Some((serial, first)) = serial.and_then(|s| Some((s, serials.insert(s, row)?))) {
            wrong.push((
                row,
                format!("serial {serial} stands in row {first} already"),
            ));
        }
    }
}

/// Joins what hangs on one output, or, where the sheet names none, what follows each other.
fn join(entries: &[Entry], wrong: &mut Wrong) -> Vec<joined::JoinedRun> {
    overlaps(entries, wrong);
    let mut outputs: BTreeMap<_, Vec<(usize, Begin)>> = BTreeMap::new();
    for (at, entry) in entries.iter().enumerate() {
        let output = (&entry.node, entry.port);
        outputs.entry(output).or_default().push((at, entry.begin));
    }
    let mut runs = Vec::new();
    for ((_, port), mut panels) in outputs {
        panels.sort_by_key(|(_, begin)| begin.order());
        match joined::join(&panels, port.is_some()) {
            Ok(found) => runs.extend(found),
            Err(faults) => {
                for fault in faults {
                    let (panel, why) = told(entries, fault);
                    let row = entries[panel].row;
                    // An overlap may have been found already, of the same two panels.
                    if !wrong.iter().any(|(other, _)| *other == row) {
                        wrong.push((row, why));
                    }
                }
            }
        }
    }
    runs
}

/// Panels of one node that begin before another one can have ended.
fn overlaps(entries: &[Entry], wrong: &mut Wrong) {
    let mut sorted: Vec<usize> = (0..entries.len()).collect();
    sorted.sort_by_key(|&at| (&entries[at].node, entries[at].begin.order()));
    for pair in sorted.windows(2) {
        let (before, after) = (&entries[pair[0]], &entries[pair[1]]);
        if before.node == after.node && before.begin.packed_end() > after.begin.first() {
            wrong.push((after.row, overlap(before, after)));
        }
    }
}

fn overlap(before: &Entry, after: &Entry) -> String {
    format!(
        "{} begins at {}/{}, but {} of row {} begins at {}/{} and has {} slots",
        after.position,
        after.begin.start,
        after.begin.slot,
        before.position,
        before.row,
        before.begin.start,
        before.begin.slot,
        before.begin.packed_end() - before.begin.first(),
    )
}

fn told(entries: &[Entry], fault: NotJoined) -> (usize, String) {
    match fault {
        NotJoined::Overlap { panel, before } => (panel, overlap(&entries[before], &entries[panel])),
        NotJoined::TooFar {
            panel,
            before,
            slots,
        } => (
            panel,
            format!(
                "{slots} slots lie free between it and {} of row {} on the same output: give it a \
                 port of its own",
                entries[before].position, entries[before].row
            ),
        ),
        NotJoined::PastLast { panel } => (
            panel,
            "its slots go past the last universe 127:15:15".to_owned(),
        ),
    }
}

#[cfg(test)]
mod tests;
