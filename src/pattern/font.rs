//! Letters and digits of three pixels by five, drawn from memory as such tiny fonts are.

/// Columns of a letter.
pub(super) const WIDTH: usize = 3;

/// Rows of a letter.
pub(super) const HEIGHT: usize = 5;

/// Five rows from the top, one octal digit each: 4 is the left pixel, 2 the middle, 1 the right.
const LETTERS: [u16; 26] = [
    0o25755, 0o65656, 0o34443, 0o65556, 0o74647, 0o74644, 0o34553, 0o55755, 0o72227, 0o11152,
    0o55655, 0o44447, 0o57755, 0o65555, 0o25552, 0o65644, 0o25563, 0o65655, 0o34216, 0o72222,
    0o55557, 0o55552, 0o55775, 0o55255, 0o55222, 0o71247,
];

const DIGITS: [u16; 10] = [
    0o75557, 0o26227, 0o71747, 0o71717, 0o55711, 0o74717, 0o74757, 0o71122, 0o75757, 0o75717,
];

/// Whether the pixel at `column` and `row` of a letter is lit; nothing is drawn for what is
/// neither a capital letter nor a digit.
pub(super) fn lit(letter: u8, column: usize, row: usize) -> bool {
    let shape = match letter {
        b'A'..=b'Z' => LETTERS[usize::from(letter - b'A')],
        b'0'..=b'9' => DIGITS[usize::from(letter - b'0')],
        _ => 0,
    };
    column < WIDTH
        && row < HEIGHT
        && shape >> (3 * (HEIGHT - 1 - row) + WIDTH - 1 - column) & 1 == 1
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_two_shapes_are_alike_and_all_fill_their_height() {
        let all: Vec<u16> = LETTERS.into_iter().chain(DIGITS).collect();
        for (at, shape) in all.iter().enumerate() {
            assert!(!all[..at].contains(shape), "{shape:o}");
            assert!(shape >> 12 > 0 && shape & 7 > 0, "{shape:o}");
        }
    }

    #[test]
    fn a_letter_is_drawn_from_the_upper_left() {
        let drawn = |letter| -> Vec<String> {
            (0..HEIGHT)
                .map(|row| {
                    (0..WIDTH)
                        .map(|column| if lit(letter, column, row) { '#' } else { '.' })
                        .collect()
                })
                .collect()
        };
        assert_eq!(drawn(b'L'), ["#..", "#..", "#..", "#..", "###"]);
        assert_eq!(drawn(b'7'), ["###", "..#", "..#", ".#.", ".#."]);
    }
}
