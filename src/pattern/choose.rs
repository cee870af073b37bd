//! From the names in an order to what they mean on a floor.

use std::ops::Range;

use super::order::Cover;
use super::refused::{Refused, some};
use crate::floor::Floor;
use crate::floor::model::Position;
use crate::floor::tables::{Tables, UNIVERSE_SLOTS};
use crate::wire::PortAddress;

/// The index of the panel in a position.
pub(super) fn panel(floor: &Floor, text: &str) -> Result<usize, Refused> {
    let no = |what: String| {
        let known = some(floor.panels.iter().map(|panel| panel.position));
        Refused::new("no_such_panel", format!("{what}. Panels: {known}."))
    };
    let position: Position = text
        .parse()
        .map_err(|why| no(format!("{} is no position: {why}", text.escape_debug())))?;
    let found = floor.panel_at(position);
    found.ok_or_else(|| no(format!("There is no panel at {position}")))
}

/// For each panel of the floor whether it is covered.
pub(super) fn covered(floor: &Floor, cover: &Cover) -> Result<Vec<bool>, Refused> {
    let Cover::Panels(positions) = cover else {
        return Ok(vec![true; floor.panels.len()]);
    };
    let mut covered = vec![false; floor.panels.len()];
    for position in positions {
        covered[panel(floor, position)?] = true;
    }
    if positions.is_empty() {
        let text = "The pattern covers no panel: name some, or cover all.";
        return Err(Refused::new("covers_nothing", text));
    }
    Ok(covered)
}

/// The index of a run.
pub(super) fn run(floor: &Floor, run: u32) -> Result<usize, Refused> {
    let found = usize::try_from(run).unwrap_or(usize::MAX);
    if found < floor.runs.len() {
        return Ok(found);
    }
    let text = match floor.runs.len() {
        1 => format!("There is no run with index {run}: the floor has one, 0."),
        count => format!(
            "There is no run with index {run}: the floor has 0 to {}.",
            count - 1
        ),
    };
    Err(Refused::new("no_such_run", text))
}

/// What people call a run: they count from 1.
pub(super) fn run_name(floor: &Floor, run: usize) -> String {
    let of = &floor.runs[run];
    let node = of.node.map_or("", |node| &floor.nodes[node].name);
    let port = of
        .port
        .map_or_else(String::new, |port| format!(" port {port}"));
    let (start, slot) = (of.start, of.slot);
    let run = run + 1;
    format!("run {run} ({node}{port} from {start}/{slot})")
}

/// The panels that hang on a node, in wiring order.
pub(super) fn node(floor: &Floor, name: &str) -> Result<Vec<usize>, Refused> {
    let found = floor.nodes.iter().position(|node| node.name == name);
    let node = found.ok_or_else(|| {
        let known = some(floor.nodes.iter().map(|node| &node.name));
        let name = name.escape_debug();
        let text = format!("The floor file has no node \"{name}\". Nodes: {known}.");
        Refused::new("no_such_node", text)
    })?;
    let runs = floor.runs.iter().filter(|run| run.node == Some(node));
    Ok(runs.flat_map(|run| run.panels.iter().copied()).collect())
}

/// The panels of a row, counted from 1.
pub(super) fn row(floor: &Floor, row: u16) -> Result<Vec<usize>, Refused> {
    let rows = floor.grid.rows;
    if row == 0 || row > rows {
        let text = format!("There is no row {row}: the floor has rows 1 to {rows}.");
        return Err(Refused::new("no_such_row", text));
    }
    Ok(panels(floor, |position| position.row == row - 1))
}

/// The panels of a column, by its letter.
pub(super) fn column(floor: &Floor, letter: &str) -> Result<Vec<usize>, Refused> {
    let last = floor.grid.columns.saturating_sub(1);
    let first_row = format!("{letter}1").parse::<Position>();
    // "A2" would become A21: only what stays in row 1 is a letter alone.
    match first_row {
        Ok(Position { row: 0, column }) if column <= last => {
            Ok(panels(floor, |position| position.column == column))
        }
        _ => {
            let last = Position {
                row: 0,
                column: last,
            }
            .to_string();
            let last = last.trim_end_matches('1');
            let letter = letter.escape_debug();
            let text = format!("There is no column {letter}: the floor has columns A to {last}.");
            Err(Refused::new("no_such_column", text))
        }
    }
}

fn panels(floor: &Floor, wanted: impl Fn(Position) -> bool) -> Vec<usize> {
    let all = floor.panels.iter().enumerate();
    let found = all.filter(|(_, panel)| wanted(panel.position));
    found.map(|(at, _)| at).collect()
}

/// Pixels with a slot in a universe that arrives, by panel.
pub(super) fn universe(tables: &Tables, text: &str) -> Result<Vec<(usize, Range<u32>)>, Refused> {
    let known = || {
        some(
            tables
                .universes
                .iter()
                .map(|universe| universe.port_address),
        )
    };
    let address: PortAddress = text.parse().map_err(|why| {
        let text = format!("{}: {why}. Mapped: {}.", text.escape_debug(), known());
        Refused::new("no_such_universe", text)
    })?;
    let found = tables
        .universes
        .iter()
        .position(|u| u.port_address == address);
    let at = found.ok_or_else(|| {
        let text = format!(
            "The floor file does not map universe {address}. Mapped: {}.",
            known()
        );
        Refused::new("no_such_universe", text)
    })?;
    let outputs = tables.universes[at].outputs.iter();
    let parts = outputs.flat_map(|&out| &tables.outputs[out as usize].parts);
    let inside = parts.filter(|part| part.src as usize / UNIVERSE_SLOTS == at);
    let pixels = inside.map(|part| {
        let stride = tables.patterns[usize::from(part.pattern)].slots.len();
        let count = (usize::from(part.phase) + usize::from(part.len)).div_ceil(stride);
        let count = u32::try_from(count).unwrap_or_default();
        let pixels = part.first_pixel..part.first_pixel + count;
        (part.panel as usize, pixels)
    });
    Ok(pixels.collect())
}
