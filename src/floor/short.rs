//! Short forms of lists, as people would write them: neighbours in a line by its ends, serials that
//! count up by the first and the last.

use super::model::Position;
use super::serial;

/// How a panel lies in its run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Lying {
    /// Its place.
    pub at: Position,
    /// In degrees clockwise.
    pub turn_deg: u16,
    /// Whether left and right are swapped.
    pub mirrored: bool,
}

/// A line of neighbours that lie alike, or one panel.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Line {
    /// Where it begins, and how all of it lies.
    pub first: Lying,
    /// Where it ends.
    pub to: Position,
}

impl Line {
    /// Its ends as the floor file writes them: `A1..C1`.
    pub fn ends(&self) -> String {
        ends(self.first.at, self.to)
    }
}

/// A rectangle by two of its corners, one position by itself.
pub(super) fn ends(from: Position, to: Position) -> String {
    if from == to {
        from.to_string()
    } else {
        format!("{from}..{to}")
    }
}

/// Panels in wiring order as few lines.
pub fn lines(panels: &[Lying]) -> Vec<Line> {
    let mut found = Vec::new();
    let mut rest = panels;
    while let Some(&first) = rest.first() {
        let alike = |next: &Lying| {
            let lies = |of: &Lying| (of.turn_deg, of.mirrored);
            lies(next) == lies(&first)
        };
        let way = rest.get(1).and_then(|second| step(first.at, second.at));
        let mut length = 1;
        while way.is_some()
            && let Some(next) = rest.get(length)
            && alike(next)
            && step(rest[length - 1].at, next.at) == way
        {
            length += 1;
        }
        let to = rest[length - 1].at;
        found.push(Line { first, to });
        rest = &rest[length..];
    }
    found
}

/// Columns and rows from one to the next, if it is a neighbour in row or column.
fn step(from: Position, to: Position) -> Option<(i32, i32)> {
    let by = (
        i32::from(to.column) - i32::from(from.column),
        i32::from(to.row) - i32::from(from.row),
    );
    (by.0.abs() + by.1.abs() == 1).then_some(by)
}

/// Serials in wiring order as few elements: three and more that count up are written as a range.
pub fn serials<S: AsRef<str>>(all: &[S]) -> Vec<String> {
    let mut found = Vec::new();
    let mut rest = all;
    while let Some(first) = rest.first().map(AsRef::as_ref) {
        let mut length = 1;
        while let Some(next) = rest.get(length)
            && follows(rest[length - 1].as_ref(), next.as_ref())
        {
            length += 1;
        }
        let range = format!("{first}..{}", rest[length - 1].as_ref());
        // The reader has the last word on what a range stands for.
        let read = serial::expand(&range).unwrap_or_default();
        let same = read.iter().eq(rest[..length].iter().map(AsRef::as_ref));
        if length > 2 && same {
            found.push(range);
        } else {
            length = 1;
            found.push(first.to_owned());
        }
        rest = &rest[length..];
    }
    found
}

/// Whether one serial counts up to the next.
fn follows(serial: &str, next: &str) -> bool {
    let range = serial::expand(&format!("{serial}..{next}"));
    range.is_ok_and(|range| range == [serial, next])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn serials_that_count_up_are_written_as_their_ends() {
        let told = |all: &[&str]| serials(all).join(" ");
        assert_eq!(told(&["P098", "P099", "P100"]), "P098..P100");
        assert_eq!(told(&["P8", "P9", "P10", "P11"]), "P8..P11");
        assert_eq!(told(&["P9", "P10", "x", "y"]), "P9 P10 x y");
        assert_eq!(told(&["P2", "P1"]), "P2 P1");
        assert_eq!(told(&["P1", "P2", "P4", "P5", "P6"]), "P1 P2 P4..P6");
        assert_eq!(told(&["P09", "P10", "P11", "P011"]), "P09..P11 P011");
    }

    #[test]
    fn neighbours_that_lie_alike_are_written_as_a_line() {
        let told = |panels: &str| {
            let lying = |word: &str| {
                let (at, turn) = word.split_once('/').unwrap_or((word, "0"));
                Lying {
                    at: at.parse().unwrap(),
                    turn_deg: turn.parse().unwrap(),
                    mirrored: false,
                }
            };
            let panels: Vec<Lying> = panels.split(' ').map(lying).collect();
            let lines = lines(&panels);
            lines.iter().map(Line::ends).collect::<Vec<_>>().join(" ")
        };
        assert_eq!(told("A1 B1 C1"), "A1..C1");
        assert_eq!(told("C1 B1 A1 A2 A3"), "C1..A1 A2..A3");
        assert_eq!(told("A1 B1/90 C1/90 D1"), "A1 B1..C1 D1");
        assert_eq!(told("A1 C1 B2 A1"), "A1 C1 B2 A1");
    }
}
