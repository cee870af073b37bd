//! The floor plan of the printed patch sheet, as SVG in black and white.

use std::fmt::Write as _;

use super::html::escape;
use super::sheet::{PanelRow, Sheet};
use crate::floor::model::{Floor, Position};

/// Width of a letter over its height, in the sans serif that most printers have; a little more
/// than the average, so that nothing runs over.
const LETTER: f64 = 0.62;

/// The drawing. Lengths in it are millimetres of the floor.
pub(super) fn drawing(floor: &Floor, sheet: &Sheet) -> String {
    let (width, height) = floor.size_mm();
    let [panel_width, panel_height] = floor.grid.panel_mm.map(|size| size.0);
    // Room for the letters of the columns and the numbers of the rows.
    let edge = 0.35 * panel_width.min(panel_height);
    let (left, top) = (-1.6 * edge, -1.2 * edge);
    let mut svg = format!(
        "<svg viewBox=\"{left:.0} {top:.0} {:.0} {:.0}\" role=\"img\" \
         aria-label=\"Floor plan, seen from above\">\n",
        width - left + 0.2 * edge,
        height - top + 0.2 * edge,
    );
    axes(floor, edge, &mut svg);
    for run in &sheet.runs {
        let rows = run
            .panels
            .iter()
            .filter_map(|row| Some((row, at(floor, row)?)));
        let places: Vec<_> = rows.collect();
        for (row, rect) in &places {
            let (x, y, w, h) = *rect;
            let _ = writeln!(
                svg,
                "<rect x=\"{x:.1}\" y=\"{y:.1}\" width=\"{w:.1}\" height=\"{h:.1}\"/>"
            );
            top_corner(row, *rect, &mut svg);
        }
        let centres: Vec<(f64, f64)> = places
            .iter()
            .map(|(_, (x, y, w, h))| (x + w / 2.0, y + h / 2.0))
            .collect();
        for pair in centres.windows(2) {
            arrow(pair[0], pair[1], panel_width.min(panel_height), &mut svg);
        }
        for (row, rect) in &places {
            let number = (row.order == 1).then_some(run.run);
            labels(row, number, *rect, &mut svg);
        }
    }
    svg.push_str("</svg>\n");
    svg
}

fn at(floor: &Floor, row: &PanelRow) -> Option<(f64, f64, f64, f64)> {
    let position: Position = row.position.parse().ok()?;
    Some(floor.panel_rect_mm(floor.panel_at(position)?))
}

fn axes(floor: &Floor, edge: f64, svg: &mut String) {
    let [width, height] = floor.grid.panel_mm.map(|size| size.0);
    let gap = floor.grid.gap_mm.0;
    let size = 0.8 * edge;
    for column in 0..floor.grid.columns {
        let name = Position { row: 0, column }.to_string();
        let letters = name.trim_end_matches(char::is_numeric);
        let x = f64::from(column) * (width + gap) + width / 2.0;
        text(letters, x, -0.4 * edge, size, "middle", svg);
    }
    for row in 0..floor.grid.rows {
        let y = f64::from(row) * (height + gap) + height / 2.0 + 0.35 * size;
        text(&(row + 1).to_string(), -0.3 * edge, y, size, "end", svg);
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
    svg: &mut String,
) {
    let start = row.at_node.first.to_string();
    let lines = [
        (row.position.as_str(), 0.24, 0.26),
        (row.serial.as_str(), 0.17, 0.58),
        (start.as_str(), 0.17, 0.86),
    ];
    for (line, share, down) in lines {
        let size = fitting(line, share * h, 0.86 * w);
        text(line, x + w / 2.0, y + down * h, size, "middle", svg);
    }
    if let Some(run) = run {
        let name = format!("run {run}");
        let size = fitting(&name, 0.14 * h, 0.4 * w);
        let down = y + 0.42 * h;
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
mod tests {
    use super::*;
    use crate::floor::testing;

    #[test]
    fn the_drawn_corner_goes_round_with_the_panel() {
        let sheet = |turn_deg, mirrored| {
            let mut floor = testing::floor();
            floor.panels[0].turn_deg = turn_deg;
            floor.panels[0].mirrored = mirrored;
            Sheet::of(&floor)
        };
        // The first pixel of a kind drawn with a single pixel in its upper left corner lies where
        // the drawn corner is: `panel_pixels_mm` turns it.
        for turn_deg in [0, 90, 180, 270] {
            for mirrored in [false, true] {
                let mut floor = testing::floor();
                floor.panel_kinds[0].pixels_mm = vec![[0.0, 0.0]];
                floor.panels[0].turn_deg = turn_deg;
                floor.panels[0].mirrored = mirrored;
                let [x, y] = floor.panel_pixels_mm(0).next().unwrap();
                let mut svg = String::new();
                let rect = floor.panel_rect_mm(0);
                top_corner(&sheet(turn_deg, mirrored).runs[0].panels[0], rect, &mut svg);
                assert!(
                    svg.starts_with(&format!("<path d=\"M{x:.1} {y:.1}h")),
                    "{turn_deg} {mirrored}: {svg}"
                );
            }
        }
    }

    #[test]
    fn every_panel_has_position_serial_and_start_and_every_step_an_arrow() {
        let mut floor = testing::floor();
        floor.panels[1].serial = "P<1".into();
        let svg = drawing(&floor, &Sheet::of(&floor));
        for part in [
            ">A1<",
            ">B1<",
            ">A2<",
            ">0:0:1/13<",
            ">0:0:2/501<",
            ">P&lt;1<",
        ] {
            assert!(svg.contains(part), "{part} in\n{svg}");
        }
        assert_eq!(svg.matches("<rect").count(), 3);
        assert_eq!(svg.matches("class=\"way\"").count(), 1);
    }

    #[test]
    fn letters_shrink_until_they_fit() {
        assert!((fitting("A1", 100.0, 1000.0) - 100.0).abs() < 1e-9);
        let size = fitting("127:15:15/512", 100.0, 400.0);
        assert!(size * LETTER * 13.0 <= 400.0 + 1e-9);
    }
}
