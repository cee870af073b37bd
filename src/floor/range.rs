//! Rectangles of positions, written `A1` or `A1..B4`.

use super::model::Position;

/// From one corner to the other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Rectangle {
    pub(super) from: Position,
    pub(super) to: Position,
}

/// What [`Rectangle::parse`] wants.
const WANTED: &str = "a position is a column letter and a row number, for example C4; \
                      a rectangle of them is written A1..B4";

impl Rectangle {
    /// Reads one position or two with `..` between.
    pub(super) fn parse(text: &str) -> Result<Self, &'static str> {
        let (from, to) = text.split_once("..").unwrap_or((text, text));
        let from: Position = from.trim().parse().map_err(|_| WANTED)?;
        let to = to.trim().parse().map_err(|_| WANTED)?;
        Ok(Self { from, to })
    }

    /// Whether both corners lie in a grid of this size.
    pub(super) fn inside(self, columns: u16, rows: u16) -> bool {
        [self.from, self.to]
            .iter()
            .all(|p| p.column < columns && p.row < rows)
    }

    /// What of it lies in a grid of this size.
    pub(super) fn clipped(self, columns: u16, rows: u16) -> Option<Self> {
        let nowhere = self.from.column.min(self.to.column) >= columns
            || self.from.row.min(self.to.row) >= rows;
        let clip = |p: Position| Position {
            row: p.row.min(rows.saturating_sub(1)),
            column: p.column.min(columns.saturating_sub(1)),
        };
        (!nowhere).then(|| Self {
            from: clip(self.from),
            to: clip(self.to),
        })
    }

    /// Number of positions.
    pub(super) fn count(self) -> u64 {
        let side = |a: u16, b: u16| u64::from(a.abs_diff(b)) + 1;
        side(self.from.column, self.to.column) * side(self.from.row, self.to.row)
    }

    /// Its rows, in the order and the direction of [`Self::walk`].
    pub(super) fn rows(self) -> Vec<Self> {
        let row = |row| Self {
            from: Position { row, ..self.from },
            to: Position { row, ..self.to },
        };
        along(self.from.row, self.to.row).map(row).collect()
    }

    /// Its columns, from the column of the first corner, each from its row.
    pub(super) fn columns(self) -> Vec<Self> {
        let column = |column| Self {
            from: Position {
                column,
                ..self.from
            },
            to: Position { column, ..self.to },
        };
        along(self.from.column, self.to.column)
            .map(column)
            .collect()
    }

    /// From the second corner to the first.
    pub(super) fn reversed(self) -> Self {
        Self {
            from: self.to,
            to: self.from,
        }
    }

    /// Row by row, each in the direction from the first corner to the second.
    pub(super) fn walk(self) -> impl Iterator<Item = Position> {
        along(self.from.row, self.to.row).flat_map(move |row| {
            along(self.from.column, self.to.column).map(move |column| Position { row, column })
        })
    }
}

fn along(from: u16, to: u16) -> impl Iterator<Item = u16> {
    let steps = from.abs_diff(to);
    (0..=steps).map(move |step| if from <= to { from + step } else { from - step })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn walked(text: &str) -> Vec<String> {
        Rectangle::parse(text)
            .unwrap()
            .walk()
            .map(|p| p.to_string())
            .collect()
    }

    #[test]
    fn a_rectangle_is_walked_row_by_row_in_the_order_of_its_ends() {
        assert_eq!(walked("C4"), ["C4"]);
        assert_eq!(walked("A3..C3"), ["A3", "B3", "C3"]);
        assert_eq!(walked("C3..A3"), ["C3", "B3", "A3"]);
        assert_eq!(walked("B2..A1"), ["B2", "A2", "B1", "A1"]);
        assert_eq!(Rectangle::parse("A1..ZZ9999").unwrap().count(), 702 * 9999);
    }

    #[test]
    fn what_is_no_position_is_refused() {
        for bad in [
            "",
            "A",
            "1",
            "A0",
            "A1..",
            "..B2",
            "A1..B2..C3",
            "A1-B2",
            "A99999",
            "ZZZZ1",
            "É1",
        ] {
            assert!(Rectangle::parse(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn what_hangs_over_is_cut_off() {
        let hanging = Rectangle::parse("B2..D9").unwrap();
        assert!(!hanging.inside(3, 3));
        assert_eq!(
            hanging.clipped(3, 3),
            Some(Rectangle::parse("B2..C3").unwrap())
        );
        assert_eq!(Rectangle::parse("D1..E1").unwrap().clipped(3, 3), None);
    }
}
