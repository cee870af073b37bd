//! Places of the grid, as people write them.

use std::fmt;
use std::str::FromStr;

/// One place of the grid, written column letter + row number: `C4`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Position {
    /// 0 is row 1.
    pub row: u16,
    /// 0 is column A.
    pub column: u16,
}

impl fmt::Display for Position {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut letters = [0_u8; 4];
        let mut at = letters.len();
        let mut rest = u32::from(self.column) + 1;
        while rest > 0 {
            at -= 1;
            letters[at] = b'A' + ((rest - 1) % 26) as u8;
            rest = (rest - 1) / 26;
        }
        let text = std::str::from_utf8(&letters[at..]).map_err(|_| fmt::Error)?;
        write!(f, "{text}{}", u32::from(self.row) + 1)
    }
}

/// A text is not a position.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("a position is a column letter and a row number, for example C4")]
pub struct NotAPosition;

impl FromStr for Position {
    type Err = NotAPosition;

    fn from_str(text: &str) -> Result<Self, NotAPosition> {
        let split = text
            .find(|c: char| c.is_ascii_digit())
            .ok_or(NotAPosition)?;
        let (letters, digits) = text.split_at(split);
        if letters.is_empty() || letters.len() > 3 || digits.len() > 5 || digits.starts_with('0') {
            return Err(NotAPosition);
        }
        let mut column = 0_u32;
        for letter in letters.chars() {
            if !letter.is_ascii_alphabetic() {
                return Err(NotAPosition);
            }
            column = column * 26 + (letter.to_ascii_uppercase() as u32 - 'A' as u32) + 1;
        }
        let row: u32 = digits.parse().map_err(|_| NotAPosition)?;
        Ok(Self {
            row: u16::try_from(row - 1).map_err(|_| NotAPosition)?,
            column: u16::try_from(column - 1).map_err(|_| NotAPosition)?,
        })
    }
}
