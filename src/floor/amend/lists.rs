//! Lists of the file, element by element: what stays as it was is not touched, and what changes
//! is broken up no further than needed.

use toml_edit::{Array, InlineTable, Value};

use super::super::model::Position;
use super::super::range::Rectangle;
use super::super::serial;
use super::super::short::{self, Line, Lying};

/// Panels of one element of a run; 0 where it passes something.
pub(super) fn panels_of(element: &Value) -> usize {
    let at = match element {
        Value::InlineTable(table) => table.get("at").and_then(Value::as_str),
        _ => element.as_str(),
    };
    let rectangle = at.and_then(|at| Rectangle::parse(at).ok());
    let count = rectangle.map_or(0, Rectangle::count);
    usize::try_from(count).unwrap_or(usize::MAX)
}

/// Serials of one element.
pub(super) fn serials_of(element: &Value) -> usize {
    let all = element.as_str().and_then(|text| serial::expand(text).ok());
    all.map_or(0, |all| all.len())
}

/// Writes `new` where `old` stands. Elements that have `count` things each stay if theirs are the
/// same; the others are `written` anew. No element goes across one of `cuts`.
pub(super) fn rewrite<T: Clone + PartialEq>(
    array: &mut Array,
    (old, new): (&[T], &[T]),
    cuts: &[usize],
    count: impl Fn(&Value) -> usize,
    written: impl Fn(&[T]) -> Vec<Value>,
) {
    let mut out = Vec::new();
    let mut from = 0;
    for element in array.iter() {
        let to = (from + count(element)).min(new.len());
        let cut = cuts.iter().any(|cut| (from + 1..to).contains(cut));
        if old.get(from..to) == new.get(from..to) && !cut {
            out.push(element.clone());
        } else {
            let mut pieces = Vec::new();
            let mut begin = from;
            let inside = cuts
                .iter()
                .copied()
                .filter(|cut| (from + 1..to).contains(cut));
            for end in inside.chain([to]) {
                pieces.extend(written(&new[begin..end]));
                begin = end;
            }
            out.extend(dressed(element, pieces));
        }
        from = to;
    }
    replace(array, out);
}

/// Elements on one line, at most: a longer one can't be reviewed.
const IN_LINE: usize = 10;

/// What stands before an element that is not the first.
fn between(at: usize) -> &'static str {
    if at.is_multiple_of(IN_LINE) {
        "\n    "
    } else {
        " "
    }
}

/// New elements as a list of their own.
pub(super) fn list(mut elements: Vec<Value>) -> Array {
    for (at, element) in elements.iter_mut().enumerate().skip(1) {
        element.decor_mut().set_prefix(between(at));
    }
    let mut list = Array::new();
    replace(&mut list, elements);
    list
}

/// New elements with the blanks and comments of the one whose place they take.
fn dressed(of: &Value, mut pieces: Vec<Value>) -> Vec<Value> {
    let raw = |raw: Option<&toml_edit::RawString>| {
        raw.and_then(toml_edit::RawString::as_str)
            .unwrap_or_default()
            .to_owned()
    };
    let (prefix, suffix) = (raw(of.decor().prefix()), raw(of.decor().suffix()));
    let last = pieces.len().saturating_sub(1);
    for (at, piece) in pieces.iter_mut().enumerate() {
        piece.decor_mut().set_prefix(if at == 0 {
            prefix.as_str()
        } else {
            between(at)
        });
        piece
            .decor_mut()
            .set_suffix(if at == last { suffix.as_str() } else { "" });
    }
    pieces
}

/// Puts other elements in a list, and leaves the rest of it as it was.
pub(super) fn replace(array: &mut Array, elements: Vec<Value>) {
    let (trailing, comma) = (array.trailing().clone(), array.trailing_comma());
    array.clear();
    for element in elements {
        array.push_formatted(element);
    }
    array.set_trailing(trailing);
    array.set_trailing_comma(comma);
}

/// Panels as few elements: lines of panels that lie alike.
pub(super) fn lines(panels: &[Lying]) -> Vec<Value> {
    short::lines(panels).iter().map(line).collect()
}

fn line(line: &Line) -> Value {
    let at = line.ends();
    if line.first.turn_deg == 0 && !line.first.mirrored {
        return at.into();
    }
    let mut table = InlineTable::new();
    table.insert("at", at.into());
    if line.first.turn_deg != 0 {
        table.insert("turn", i64::from(line.first.turn_deg).into());
    }
    if line.first.mirrored {
        table.insert("mirrored", true.into());
    }
    Value::InlineTable(table)
}

/// Serials as few elements.
pub(super) fn serials(all: &[String]) -> Vec<Value> {
    short::serials(all).into_iter().map(Value::from).collect()
}

/// Takes a position out of a list of them.
pub(super) fn take_out(array: &mut Array, position: Position) {
    let mut out = Vec::new();
    for element in array.iter() {
        let text = element.as_str().unwrap_or_default();
        match Rectangle::parse(text) {
            Ok(rectangle) if rectangle.walk().any(|at| at == position) => {
                out.extend(dressed(element, without(rectangle, position)));
            }
            _ => out.push(element.clone()),
        }
    }
    replace(array, out);
}

/// What is left of a rectangle: above, left, right, below.
fn without(of: Rectangle, hole: Position) -> Vec<Value> {
    let rows = (of.from.row.min(of.to.row), of.from.row.max(of.to.row));
    let columns = (
        of.from.column.min(of.to.column),
        of.from.column.max(of.to.column),
    );
    let mut found = Vec::new();
    let mut add = |rows: (u16, u16), columns: (u16, u16)| {
        let at = |row, column| Position { row, column };
        found.push(short::ends(at(rows.0, columns.0), at(rows.1, columns.1)).into());
    };
    if hole.row > rows.0 {
        add((rows.0, hole.row - 1), columns);
    }
    if hole.column > columns.0 {
        add((hole.row, hole.row), (columns.0, hole.column - 1));
    }
    if hole.column < columns.1 {
        add((hole.row, hole.row), (hole.column + 1, columns.1));
    }
    if hole.row < rows.1 {
        add((hole.row + 1, rows.1), columns);
    }
    found
}
