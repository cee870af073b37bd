//! How the panels of one element of a run lie: `{ at = "A1..H4", path = "serpentine" }`.

use super::super::defaults::MOST_PASSED;
use super::super::draft::{Lie, Place};
use super::super::fault::{Fault, Span};
use super::super::matrix::{First, Way};
use super::super::model::Lead;
use super::super::range::Rectangle;
use super::super::walk::Keys;

/// Reads what is passed and lights nothing: `{ spare_slots = 6 }`, `{ unused_pixels = 1 }`.
pub(super) fn passed(keys: &Keys<'_>) -> Option<Lead> {
    let count = |key| match keys.get(key) {
        None => Some(0),
        Some(entry) => entry.whole::<u16>(&(1..=MOST_PASSED)).map(|n| n.value),
    };
    let (spare_slots, unused_pixels) = (count("spare_slots"), count("unused_pixels"));
    if keys.get("spare_slots").is_none() && keys.get("unused_pixels").is_none() {
        keys.need("at");
        return None;
    }
    for key in ["turn", "mirrored", "first", "path", "turn_back"] {
        needs_at(keys, key);
    }
    Some(Lead {
        spare_slots: spare_slots?,
        unused_pixels: unused_pixels?,
        spare_behind: 0,
    })
}

fn needs_at(keys: &Keys<'_>, key: &str) {
    if let Some(entry) = keys.get(key) {
        let message = format!("`{key}` says how panels lie, but there is no `at`");
        let help = "add `at`, or take it out";
        keys.fault(Fault::new("needless-key", &entry.span(), message, help));
    }
}

/// Reads the places of an element with `at`.
pub(super) fn places(keys: &Keys<'_>) -> Option<Vec<Place>> {
    for key in ["spare_slots", "unused_pixels"] {
        if let Some(entry) = keys.get(key) {
            let message = format!("`{key}` stands before a panel, in an element of its own");
            let help = format!("write {{ {key} = … }}, and after it the panels");
            keys.fault(Fault::new("needless-key", &entry.span(), message, help));
        }
    }
    let at = keys.need("at")?;
    let rectangle = at.parsed("bad-position", Rectangle::parse)?;
    let turn = quarter(keys, "turn")?;
    let turn_back = quarter(keys, "turn_back")?;
    let mirrored = match keys.get("mirrored") {
        None => false,
        Some(entry) => entry.flag()?,
    };
    let first = match keys.get("first") {
        None => First::Rows,
        Some(entry) => entry.word(&First::WORDS)?.value,
    };
    let way = match keys.get("path") {
        None => Way::Straight,
        Some(entry) => entry.word(&Way::WORDS)?.value,
    };
    if let (Way::Straight, Some(entry)) = (way, keys.get("turn_back")) {
        let message = "`turn_back` turns the panels of lines that run back, but none does";
        let help = "add `path = \"serpentine\"`, or take `turn_back` out";
        keys.fault(Fault::new("needless-key", &entry.span(), message, help));
    }
    Some(lines(rectangle.value, first, way, |back| {
        let more = if back { turn_back } else { 0 };
        let lie = Lie {
            turn_deg: (turn + more) % 360,
            mirrored,
            lead: Lead::default(),
        };
        (lie, rectangle.span.clone())
    }))
}

fn quarter(keys: &Keys<'_>, key: &str) -> Option<u16> {
    let Some(entry) = keys.get(key) else {
        return Some(0);
    };
    let turn = entry.whole::<u16>(&(0..=270))?;
    if turn.value % 90 == 0 {
        return Some(turn.value);
    }
    let message = "panels are turned by quarters";
    let help = format!("`{key}` is 0, 90, 180 or 270 degrees, clockwise");
    entry.fault(Fault::new("out-of-range", &turn.span, message, help));
    None
}

/// The lines of a rectangle, one place each.
fn lines(
    whole: Rectangle,
    first: First,
    way: Way,
    each: impl Fn(bool) -> (Lie, Span),
) -> Vec<Place> {
    let lines = match first {
        First::Rows => whole.rows(),
        First::Columns => whole.columns(),
    };
    let place = |(at, line): (usize, Rectangle)| {
        let back = way == Way::Serpentine && at % 2 == 1;
        let (lie, span) = each(back);
        let rectangle = if back { line.reversed() } else { line };
        Place {
            rectangle,
            span,
            lie,
        }
    };
    lines.into_iter().enumerate().map(place).collect()
}
