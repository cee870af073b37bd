//! Where a text is no TOML: one fault for each broken line, and help for the usual slips.

use std::collections::HashSet;

use super::defaults::MOST_FAULTS;
use super::fault::{Fault, Lines, Span};

/// Quotes that word processors, phones and web pages put in the place of straight ones.
const CURLY: [char; 10] = ['“', '”', '„', '‟', '‘', '’', '‚', '‛', '«', '»'];

/// How the parser says that two elements of a list have no comma between them.
const NO_COMMA: &str = "missing comma between array elements";

const TOML: &str = "TOML is written `key = value`, one to a line: texts in \"quotes\", lists in \
                    [brackets] with commas between, tables begin with a line [name] or [[name]]";

/// What the parser found, without what only follows from it: the first of each broken line, and
/// nothing behind a list that is never closed, for all of the rest was read as its elements.
/// The second value is up to where the text was read as it was meant.
pub(super) fn faults(text: &str, errors: &[toml::de::Error]) -> (Vec<Fault>, usize) {
    let mut errors: Vec<(Span, &str)> = errors
        .iter()
        .map(|error| {
            (
                error.span().unwrap_or(text.len()..text.len()),
                error.message(),
            )
        })
        .collect();
    errors.sort_by_key(|(at, _)| at.start);
    let mut end = text.len();
    if errors
        .iter()
        .any(|(_, message)| message.contains("unclosed array"))
        && let Some(first) = errors
            .iter()
            .position(|(_, message)| message.contains(NO_COMMA))
    {
        errors.truncate(first + 1);
        end = errors[first].0.start;
    }
    let lines = Lines::of(text);
    let mut broken = HashSet::new();
    errors.retain(|(at, _)| broken.insert(lines.line(at.start)));
    let faults = errors
        .iter()
        .take(MOST_FAULTS)
        .map(|(at, message)| fault(text, at, message))
        .collect();
    (faults, end)
}

fn fault(text: &str, at: &Span, message: &str) -> Fault {
    if message.contains("duplicate key") {
        let help = "a key stands once in its table, and a table once in the file; where there are \
                    several, each begins with its name in two brackets, as in [[node]]";
        return Fault::new("duplicate-key", at, message, help);
    }
    let Some(before) = text.get(..at.start) else {
        return Fault::new("syntax", at, message, TOML);
    };
    let line = before.rfind('\n').map_or(0, |i| i + 1);
    let code = code_of(&text[line..]);
    if let Some((comma, number)) = decimal_comma(code) {
        let at = line + comma..line + comma + 1;
        let help = match number.split_once('.') {
            // Three decimals may be the digits behind a thousand.
            Some((whole, part)) if part.len() == 3 => {
                format!("write {number} with a point, or {whole}{part} if thousands are meant")
            }
            _ => format!("write {number} with a point"),
        };
        return Fault::new("syntax", &at, "a number has a comma in it", help);
    }
    if let Some((quote, c)) = curly_quote(code) {
        let at = line + quote..line + quote + c.len_utf8();
        let message = format!("{c} is no quote of TOML");
        return Fault::new("syntax", &at, message, "write straight quotes: \"text\"");
    }
    if let Some((at, number, unit)) = unit_behind(code) {
        let at = line + at..line + at + unit.len();
        let message = format!("behind the number {number} stands {unit}");
        let help = format!("write {number} alone: the name of a key says its unit");
        return Fault::new("syntax", &at, message, help);
    }
    if message.contains(NO_COMMA) {
        let help = "put a comma between the elements of a list, and a ] behind the last";
        return Fault::new("syntax", at, message, help);
    }
    Fault::new("syntax", at, message, TOML)
}

/// The first line of a text, without a comment.
fn code_of(text: &str) -> &str {
    let line = text.lines().next().unwrap_or_default();
    let comment = line
        .match_indices('#')
        .find(|(at, _)| !quoted(&line[..*at]));
    comment.map_or(line, |(at, _)| &line[..at])
}

/// Whether what follows stands between straight quotes.
fn quoted(before: &str) -> bool {
    before.matches('"').count() % 2 == 1
}

/// The first value with a comma between two digits, `= 0,85`: where the comma stands, and the
/// number that was meant, 0.85.
fn decimal_comma(code: &str) -> Option<(usize, String)> {
    let digit = |c: char| c.is_ascii_digit();
    code.match_indices(',').find_map(|(comma, _)| {
        let (before, after) = (&code[..comma], &code[comma + 1..]);
        let value = before.trim_end_matches(digit);
        let whole = &before[value.len()..];
        let part = &after[..after.find(|c| !digit(c)).unwrap_or(after.len())];
        let is_value = value.trim_end().ends_with('=') && !quoted(before);
        (is_value && !whole.is_empty() && !part.is_empty())
            .then(|| (comma, format!("{whole}.{part}")))
    })
}

/// What stands behind a number that is a whole value, as in `= 10 A`: its place, the number, and it.
fn unit_behind(code: &str) -> Option<(usize, &str, &str)> {
    let (key, value) = code.split_once('=')?;
    let number = value.trim_start();
    let from = code.len() - number.len();
    let end = number.find(|c: char| !c.is_ascii_digit() && c != '.')?;
    let unit = number[end..].trim();
    let is_unit = unit.chars().all(|c| c.is_alphabetic() || "%²".contains(c));
    let at = from + end + number[end..].find(unit)?;
    (end > 0 && !unit.is_empty() && is_unit && !quoted(key)).then(|| (at, &number[..end], unit))
}

/// The first curly quote that does not stand between straight ones, where it would be right.
fn curly_quote(code: &str) -> Option<(usize, char)> {
    code.char_indices().find(|(at, c)| {
        let closed = code[*at..].contains('"');
        CURLY.contains(c) && !(quoted(&code[..*at]) && closed)
    })
}
