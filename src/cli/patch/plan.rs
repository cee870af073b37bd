//! The floor plan of the printed patch sheet, as SVG in black and white.

use std::fmt::Write as _;
use std::ops::Range;

use super::super::paper::escape;
use super::sheet::{PanelRow, Sheet};
use crate::floor::model::{Floor, Position};

/// Width of a letter over its height, in the sans serif that most printers have; a little more
/// than the average, so that nothing runs over.
const LETTER: f64 = 0.62;

/// So many columns, and rows of square panels, can be read on one sheet of paper: a start address in
/// a panel of 17 mm is then as large as the text beside the plan.
const MOST_COLUMNS: u16 = 10;
const MOST_ROWS: u16 = 12;

/// One drawing, and what it shows.
pub(super) struct Plan {
    /// For below the drawing.
    pub caption: String,
    /// The drawing, as SVG.
    pub svg: String,
}

/// Columns and rows from 0 that are drawn together.
struct Part {
    columns: Range<u16>,
    rows: Range<u16>,
}

/// What stands in the panels.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Detail {
    /// The position alone.
    Overview,
    /// Also serial and start address.
    All,
}

/// The plan: one drawing if it can be read on one sheet of paper, else an overview and then parts.
pub(super) fn plans(floor: &Floor, sheet: &Sheet) -> Vec<Plan> {
    let parts = parts(floor);
    let inside = "In every panel: position, serial, first slot at the node. Arrows follow the data \
                  wire from the first panel of a run. The black corner is the upper left one of \
                  the panel as its kind is drawn.";
    let all = Part {
        columns: 0..floor.grid.columns,
        rows: 0..floor.grid.rows,
    };
    if parts.len() == 1 {
        return vec![Plan {
            caption: format!("Seen from above. {inside}"),
            svg: drawing(floor, sheet, &all, Detail::All),
        }];
    }
    let overview = Plan {
        caption: format!(
            "Overview, seen from above; {} parts with serials and addresses follow. Arrows follow \
             the data wire from the first panel of a run. The black corner is the upper left one \
             of the panel as its kind is drawn.",
            parts.len()
        ),
        svg: drawing(floor, sheet, &all, Detail::Overview),
    };
    let count = parts.len();
    let drawn = (1..).zip(&parts).map(|(number, part)| Plan {
        caption: format!(
            "Part {number} of {count}, {} to {}, seen from above. {inside} An arrow at the edge \
             leads to another part.",
            name(part.rows.start, part.columns.start),
            name(part.rows.end - 1, part.columns.end - 1),
        ),
        svg: drawing(floor, sheet, part, Detail::All),
    });
    std::iter::once(overview).chain(drawn).collect()
}

fn name(row: u16, column: u16) -> String {
    Position { row, column }.to_string()
}

/// Parts of about the same size, row by row.
fn parts(floor: &Floor) -> Vec<Part> {
    let [width, height] = floor.grid.panel_mm.map(|size| size.0);
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to a few dozen"
    )]
    let most_rows = (f64::from(MOST_ROWS) * width / height).clamp(1.0, 24.0) as u16;
    let columns = slices(floor.grid.columns, MOST_COLUMNS);
    let rows = slices(floor.grid.rows, most_rows);
    rows.iter()
        .flat_map(|rows| {
            columns.iter().map(|columns| Part {
                columns: columns.clone(),
                rows: rows.clone(),
            })
        })
        .collect()
}

/// As few ranges as can be of no more than `most`, each about as long as the others.
fn slices(count: u16, most: u16) -> Vec<Range<u16>> {
    let slices = count.div_ceil(most).max(1);
    let mut start = 0;
    let mut next = |left| {
        let end = start + (count - start) / left;
        std::mem::replace(&mut start, end)..end
    };
    (1..=slices).rev().map(&mut next).collect()
}

/// One drawing. Lengths in it are millimetres of the floor.
fn drawing(floor: &Floor, sheet: &Sheet, part: &Part, detail: Detail) -> String {
    let [panel_width, panel_height] = floor.grid.panel_mm.map(|size| size.0);
    let gap = floor.grid.gap_mm.0;
    let along = |at: u16, size: f64| f64::from(at) * (size + gap);
    let (left, right) = (
        along(part.columns.start, panel_width),
        along(part.columns.end, panel_width) - gap,
    );
    let (top, bottom) = (
        along(part.rows.start, panel_height),
        along(part.rows.end, panel_height) - gap,
    );
    // Room for the letters of the columns and the numbers of the rows, and at the other edges for
    // arrows that go on elsewhere.
    let edge = 0.35 * panel_width.min(panel_height);
    let mut svg = format!(
        "<svg viewBox=\"{:.0} {:.0} {:.0} {:.0}\" role=\"img\" \
         aria-label=\"Floor plan, seen from above\">\n",
        left - 1.6 * edge,
        top - 1.2 * edge,
        right - left + 2.2 * edge,
        bottom - top + 1.8 * edge,
    );
    axes(floor, part, edge, &mut svg);
    for run in &sheet.runs {
        let rows = run
            .panels
            .iter()
            .filter_map(|row| Some((row, at(floor, row)?, part.has(row))));
        let places: Vec<_> = rows.collect();
        let here = || places.iter().filter(|(_, _, here)| *here);
        for (row, rect, _) in here() {
            let (x, y, w, h) = *rect;
            let _ = writeln!(
                svg,
                "<rect x=\"{x:.1}\" y=\"{y:.1}\" width=\"{w:.1}\" height=\"{h:.1}\"/>"
            );
            top_corner(row, *rect, &mut svg);
        }
        for pair in places.windows(2).filter(|pair| pair[0].2 || pair[1].2) {
            let [from, to] = [pair[0].1, pair[1].1].map(|(x, y, w, h)| (x + w / 2.0, y + h / 2.0));
            arrow(from, to, panel_width.min(panel_height), &mut svg);
        }
        for (row, rect, _) in here() {
            let number = (row.order == 1).then_some(run.run);
            labels(row, number, *rect, detail, &mut svg);
        }
    }
    svg.push_str("</svg>\n");
    svg
}

impl Part {
    fn has(&self, row: &PanelRow) -> bool {
        let position = row.position.parse::<Position>();
        position.is_ok_and(|at| self.columns.contains(&at.column) && self.rows.contains(&at.row))
    }
}

fn at(floor: &Floor, row: &PanelRow) -> Option<(f64, f64, f64, f64)> {
    let position: Position = row.position.parse().ok()?;
    Some(floor.panel_rect_mm(floor.panel_at(position)?))
}

fn axes(floor: &Floor, part: &Part, edge: f64, svg: &mut String) {
    let [width, height] = floor.grid.panel_mm.map(|size| size.0);
    let gap = floor.grid.gap_mm.0;
    let size = 0.8 * edge;
    let top = f64::from(part.rows.start) * (height + gap);
    let left = f64::from(part.columns.start) * (width + gap);
    for column in part.columns.clone() {
        let name = name(0, column);
        let letters = name.trim_end_matches(char::is_numeric);
        let x = f64::from(column) * (width + gap) + width / 2.0;
        text(letters, x, top - 0.4 * edge, size, "middle", svg);
    }
    for row in part.rows.clone() {
        let y = f64::from(row) * (height + gap) + height / 2.0 + 0.35 * size;
        let x = left - 0.3 * edge;
        text(&(row + 1).to_string(), x, y, size, "end", svg);
    }
}

/// A corner drawn full: the upper left one of the panel as its kind is drawn, where it lies now.
fn top_corner(row: &PanelRow, (x, y, w, h): (f64, f64, f64, f64), svg: &mut String) {
    let mirrored = usize::from(row.mirrored);
    // Clockwise from the upper left; mirrored, the corner begins at the upper right.
    let corner = (usize::from(row.turn_deg / 90) + mirrored) % 4;
    let size = 0.14 * w.min(h);
    let (cx, cy, dx, dy) = [
        (x, y, size, size),
        (x + w, y, -size, size),
        (x + w, y + h, -size, -size),
        (x, y + h, size, -size),
    ][corner];
    let _ = writeln!(
        svg,
        "<path d=\"M{cx:.1} {cy:.1}h{dx:.1}L{cx:.1} {:.1}z\"/>",
        cy + dy
    );
}

/// A line with its head in the middle, so that neither end hides it.
fn arrow(from: (f64, f64), to: (f64, f64), panel: f64, svg: &mut String) {
    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
    let length = dx.hypot(dy);
    if length <= 0.0 {
        return;
    }
    let (ux, uy) = (dx / length, dy / length);
    let size = 0.11 * panel;
    let (mx, my) = (f64::midpoint(from.0, to.0), f64::midpoint(from.1, to.1));
    let point = |along: f64, across: f64| {
        format!(
            "{:.1} {:.1}",
            mx + ux * along - uy * across,
            my + uy * along + ux * across
        )
    };
    let _ = writeln!(
        svg,
        "<path class=\"way\" d=\"M{:.1} {:.1}L{:.1} {:.1}\"/><path d=\"M{}L{}L{}z\"/>",
        from.0,
        from.1,
        to.0,
        to.1,
        point(size, 0.0),
        point(-size, -0.7 * size),
        point(-size, 0.7 * size),
    );
}

/// Position, serial and start address; the number of the run on its first panel.
fn labels(
    row: &PanelRow,
    run: Option<usize>,
    (x, y, w, h): (f64, f64, f64, f64),
    detail: Detail,
    svg: &mut String,
) {
    let start = row.at_node.first.to_string();
    let all = [
        (row.position.as_str(), 0.24, 0.26),
        (row.serial.as_str(), 0.17, 0.58),
        (start.as_str(), 0.17, 0.86),
    ];
    let overview = [(row.position.as_str(), 0.38, 0.82)];
    let lines = match detail {
        Detail::Overview => &overview[..],
        Detail::All => &all[..],
    };
    for &(line, share, down) in lines {
        let size = fitting(line, share * h, 0.86 * w);
        text(line, x + w / 2.0, y + down * h, size, "middle", svg);
    }
    if let Some(run) = run {
        let name = format!("run {run}");
        let (share, wide, down) = match detail {
            Detail::Overview => (0.3, 0.88, 0.38),
            Detail::All => (0.14, 0.4, 0.42),
        };
        let size = fitting(&name, share * h, wide * w);
        let down = y + down * h;
        text(&name, x + 0.06 * w, down, size, "start", svg);
    }
}

/// The size of letters at which a text is no wider.
#[expect(clippy::cast_precision_loss, reason = "a few dozen letters")]
fn fitting(line: &str, wanted: f64, width: f64) -> f64 {
    let letters = line.chars().count().max(1) as f64;
    wanted.min(width / (letters * LETTER))
}

fn text(line: &str, x: f64, y: f64, size: f64, anchor: &str, svg: &mut String) {
    if line.is_empty() {
        return;
    }
    let _ = writeln!(
        svg,
        "<text x=\"{x:.1}\" y=\"{y:.1}\" font-size=\"{size:.1}\" text-anchor=\"{anchor}\">{}</text>",
        escape(line)
    );
}

#[cfg(test)]
mod tests;
