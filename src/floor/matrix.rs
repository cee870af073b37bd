//! Where the pixels of a matrix lie, in wiring order.

/// Which way the wire goes first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum First {
    Rows,
    Columns,
}

impl First {
    /// Each with its word in the floor file.
    pub(super) const WORDS: [(&'static str, Self); 2] =
        [("rows", Self::Rows), ("columns", Self::Columns)];
}

/// What the wire does at the end of a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Way {
    /// Every line begins at the same side.
    Straight,
    /// It turns round: every second line runs back.
    Serpentine,
}

impl Way {
    /// Each with its word in the floor file.
    pub(super) const WORDS: [(&'static str, Self); 2] = [
        ("straight", Self::Straight),
        ("serpentine", Self::Serpentine),
    ];
}

/// How a matrix is wired; `right` and `bottom` say from which corner.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Wiring {
    pub(super) first: First,
    pub(super) way: Way,
    pub(super) right: bool,
    pub(super) bottom: bool,
}

/// Rows first, straight, from the top left.
impl Default for Wiring {
    fn default() -> Self {
        Self {
            first: First::Rows,
            way: Way::Straight,
            right: false,
            bottom: false,
        }
    }
}

/// Centres in mm from the panel's upper left corner: the panel is divided into equal fields.
pub(super) fn lay(columns: u32, rows: u32, wiring: Wiring, panel_mm: [f64; 2]) -> Vec<[f64; 2]> {
    let (lines, along) = match wiring.first {
        First::Rows => (rows, columns),
        First::Columns => (columns, rows),
    };
    let mut pixels = Vec::new();
    for line in 0..lines {
        let back = wiring.way == Way::Serpentine && line % 2 == 1;
        for step in 0..along {
            let step = if back { along - 1 - step } else { step };
            let (column, row) = match wiring.first {
                First::Rows => (step, line),
                First::Columns => (line, step),
            };
            let column = if wiring.right {
                columns - 1 - column
            } else {
                column
            };
            let row = if wiring.bottom { rows - 1 - row } else { row };
            pixels.push([
                (f64::from(column) + 0.5) * panel_mm[0] / f64::from(columns),
                (f64::from(row) + 0.5) * panel_mm[1] / f64::from(rows),
            ]);
        }
    }
    pixels
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_serpentine_of_two_rows_turns_round() {
        let wiring = Wiring {
            way: Way::Serpentine,
            ..Wiring::default()
        };
        let pixels = lay(3, 2, wiring, [300.0, 200.0]);
        let expected = [
            [50.0, 50.0],
            [150.0, 50.0],
            [250.0, 50.0],
            [250.0, 150.0],
            [150.0, 150.0],
            [50.0, 150.0],
        ];
        assert_eq!(pixels, expected);
    }

    #[test]
    fn columns_first_from_the_bottom_right_goes_up_at_the_right() {
        let wiring = Wiring {
            first: First::Columns,
            way: Way::Straight,
            right: true,
            bottom: true,
        };
        let pixels = lay(2, 2, wiring, [2.0, 2.0]);
        assert_eq!(pixels, [[1.5, 1.5], [1.5, 0.5], [0.5, 1.5], [0.5, 0.5]]);
    }

    proptest! {
        /// An independent way to the same order: the triangle wave
        /// column = |((i + n) mod 2n) - n + ½| - ½, mirrored, which the textbook serpentine is.
        #[test]
        fn serpentine_follows_the_triangle_wave(columns in 1_u32..30, rows in 1_u32..30, right: bool, bottom: bool) {
            let wiring = Wiring { first: First::Rows, way: Way::Serpentine, right, bottom };
            let pixels = lay(columns, rows, wiring, [f64::from(columns), f64::from(rows)]);
            prop_assert_eq!(pixels.len(), (columns * rows) as usize);
            for (i, [x, y]) in (0_u32..).zip(pixels) {
                let n = f64::from(columns);
                let wave = n - (f64::from(i % (2 * columns)) + 0.5 - n).abs();
                let x_expected = if right { n - wave } else { wave };
                let line = f64::from(i / columns) + 0.5;
                let y_expected = if bottom { f64::from(rows) - line } else { line };
                prop_assert!((x - x_expected).abs() < 1e-9 && (y - y_expected).abs() < 1e-9);
            }
        }

        /// In a serpentine every pixel lies beside the one before it.
        #[test]
        fn a_serpentine_has_no_jumps(columns in 1_u32..20, rows in 1_u32..20, by_columns: bool, right: bool, bottom: bool) {
            let first = if by_columns { First::Columns } else { First::Rows };
            let wiring = Wiring { first, way: Way::Serpentine, right, bottom };
            let pixels = lay(columns, rows, wiring, [f64::from(columns), f64::from(rows)]);
            for pair in pixels.windows(2) {
                let step = (pair[0][0] - pair[1][0]).abs() + (pair[0][1] - pair[1][1]).abs();
                prop_assert!((step - 1.0).abs() < 1e-9);
            }
        }
    }
}
