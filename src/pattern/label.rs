//! A panel's own label, in its own pixels, upright for whoever looks at the floor as it is drawn.
//!
//! Where the pixels lie on the floor says whether they make a grid, so turned and oddly wired
//! panels need nothing of their own.

use super::font::{HEIGHT, WIDTH, lit};

/// Pixels that lie nearer to one line than this share of their distance are on it.
const ON_LINE: f32 = 0.25;

/// Lines nearer than this are one, in mm.
const SAME_LINE_MM: f32 = 0.5;

/// How a label is shown.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Label {
    /// These pixels, counted within the panel, are lit.
    Whole(Vec<u32>),
    /// One letter after the other.
    Letters(Vec<Vec<u32>>),
}

/// The label `text` on pixels that lie at `pixels_mm`; nothing if they make no grid that is
/// large enough for a letter.
pub(super) fn draw(text: &str, pixels_mm: &[[f32; 2]]) -> Option<Label> {
    let grid = Grid::of(pixels_mm);
    let split = text.find(|c: char| c.is_ascii_digit()).unwrap_or(0);
    let (letters, digits) = text.split_at(split);
    grid.write(&[text])
        .or_else(|| grid.write(&[letters, digits]))
        .map(Label::Whole)
        .or_else(|| {
            let alone = |at| grid.write(&[&text[at..=at]]);
            let figures: Option<Vec<_>> = (0..text.len()).map(alone).collect();
            figures.map(Label::Letters)
        })
}

/// Which pixels lie where columns and rows of pixels meet.
struct Grid {
    columns: usize,
    rows: usize,
    /// Row by row.
    cells: Vec<Vec<u32>>,
}

impl Grid {
    fn of(pixels_mm: &[[f32; 2]]) -> Self {
        let distance = |[a, b]: [f32; 2], [c, d]: [f32; 2]| (a - c).hypot(b - d);
        let nearest = pixels_mm
            .windows(2)
            .map(|pair| distance(pair[0], pair[1]))
            .fold(f32::INFINITY, f32::min);
        let apart = (nearest * ON_LINE).max(SAME_LINE_MM);
        let (columns, column_of) = lines(pixels_mm.iter().map(|at| at[0]), apart);
        let (rows, row_of) = lines(pixels_mm.iter().map(|at| at[1]), apart);
        let mut cells = vec![Vec::new(); columns * rows];
        for (pixel, (column, row)) in (0..).zip(column_of.into_iter().zip(row_of)) {
            cells[row * columns + column].push(pixel);
        }
        Self {
            columns,
            rows,
            cells,
        }
    }

    /// The pixels that are lit when `lines` are written in the middle; nothing where they don't
    /// fit or a pixel is missing.
    fn write(&self, lines: &[&str]) -> Option<Vec<u32>> {
        let longest = lines.iter().map(|line| line.len()).max()?;
        let (width, height) = (
            (longest * (WIDTH + 1)).checked_sub(1)?,
            (lines.len() * (HEIGHT + 1)).checked_sub(1)?,
        );
        let left = self.columns.checked_sub(width)? / 2;
        let top = self.rows.checked_sub(height)? / 2;
        let mut found = Vec::new();
        for (row, column) in (0..height).flat_map(|row| (0..width).map(move |c| (row, c))) {
            let pixels = &self.cells[(top + row) * self.columns + left + column];
            if pixels.is_empty() {
                return None;
            }
            let letters = lines[row / (HEIGHT + 1)].as_bytes();
            let letter = letters.get(column / (WIDTH + 1)).copied().unwrap_or(b' ');
            if lit(letter, column % (WIDTH + 1), row % (HEIGHT + 1)) {
                found.extend(pixels);
            }
        }
        Some(found)
    }
}

/// Sorts coordinates into lines; gives how many lines there are, and the line of each.
fn lines(coordinates: impl Iterator<Item = f32>, apart: f32) -> (usize, Vec<usize>) {
    let mut sorted: Vec<(f32, usize)> = coordinates.zip(0..).collect();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut line_of = vec![0; sorted.len()];
    let mut line = 0;
    for (at, &(coordinate, pixel)) in sorted.iter().enumerate() {
        if at > 0 && coordinate - sorted[at - 1].0 > apart {
            line += 1;
        }
        line_of[pixel] = line;
    }
    let count = if sorted.is_empty() { 0 } else { line + 1 };
    (count, line_of)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square(columns: u8, rows: u8) -> Vec<[f32; 2]> {
        (0..rows)
            .flat_map(|row| (0..columns).map(move |column| (column, row)))
            .map(|(column, row)| {
                [
                    20.0 + 33.3 * f32::from(column),
                    15.0 + 33.3 * f32::from(row),
                ]
            })
            .collect()
    }

    fn seen(label: &[u32], columns: u32, rows: u32) -> Vec<String> {
        (0..rows)
            .map(|row| {
                let cell = |column| {
                    if label.contains(&(row * columns + column)) {
                        '#'
                    } else {
                        '.'
                    }
                };
                (0..columns).map(cell).collect()
            })
            .collect()
    }

    fn whole(text: &str, columns: u8, rows: u8) -> Vec<String> {
        let Some(Label::Whole(label)) = draw(text, &square(columns, rows)) else {
            panic!("{text} is not drawn on {columns} × {rows}");
        };
        seen(&label, columns.into(), rows.into())
    }

    #[test]
    fn a_label_stands_in_one_line_or_in_two() {
        let line = [".##.#.#.", "#...#.#.", "#...###.", "#.....#.", ".##...#."];
        assert_eq!(whole("C4", 8, 6)[..5], line);
        assert_eq!(whole("C4", 8, 6)[5], "........");
        assert_eq!(
            whole("L10", 7, 11),
            [
                "#......", "#......", "#......", "#......", "###....", ".......", ".#..###",
                "##..#.#", ".#..#.#", ".#..#.#", "###.###",
            ]
        );
    }

    #[test]
    fn a_smaller_grid_spells_and_none_draws_nothing() {
        let Some(Label::Letters(letters)) = draw("C4", &square(6, 8)) else {
            panic!("6 × 8 is enough for a letter");
        };
        assert_eq!(letters.len(), 2);
        assert_eq!(
            seen(&letters[0], 6, 8)[1..6],
            ["..##..", ".#....", ".#....", ".#....", "..##.."]
        );
        assert_eq!(draw("C4", &square(3, 4)), None);
        assert_eq!(draw("C4", &[]), None);
        // A strip round the edge has columns and rows, but nothing inside.
        let rim: Vec<_> = square(12, 12)
            .into_iter()
            .zip(0..)
            .filter(|(_, at)| at % 12 == 0 || at % 12 == 11 || at / 12 == 0 || at / 12 == 11)
            .map(|(pixel, _)| pixel)
            .collect();
        assert_eq!(draw("C4", &rim), None);
    }

    #[test]
    fn pixels_a_little_off_their_line_are_still_on_it() {
        let mut pixels = square(7, 5);
        let straight = draw("H1", &pixels);
        for (pixel, off) in pixels
            .iter_mut()
            .zip([1.5, -2.0, 0.5, 2.5, -1.0].into_iter().cycle())
        {
            pixel[0] += off;
            pixel[1] -= off;
        }
        assert_eq!(draw("H1", &pixels), straight);
        assert!(matches!(straight, Some(Label::Whole(_))));
    }
}
