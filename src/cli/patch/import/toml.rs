//! Runs as they stand in the floor file.

use std::fmt::Write as _;

use super::super::sheet::packing_word;
use super::Entry;
use crate::floor::joined::JoinedRun;
use crate::floor::model::{Packing, Position};

/// A line of a list is no longer.
const LINE: usize = 92;

/// One `[[run]]`.
pub(super) fn run(run: &JoinedRun, entries: &[Entry]) -> Option<String> {
    let panels: Vec<(&Entry, u16)> = run
        .panels
        .iter()
        .filter_map(|(at, spare)| Some((entries.get(*at)?, *spare)))
        .collect();
    let first = panels.first()?.0;
    let mut text = "[[run]]\n".to_owned();
    match &first.node {
        Some(node) => {
            let _ = writeln!(text, "node = {}", quoted(node));
        }
        None => text += "# node = \"…\"   the sheet does not say on which node it hangs\n",
    }
    if let Some(port) = first.port {
        let _ = writeln!(text, "port = {port}");
    }
    let _ = writeln!(text, "start = \"{}\"", first.begin.start);
    if first.begin.slot != 1 {
        let _ = writeln!(text, "slot = {}", first.begin.slot);
    }
    if run.packing_is_guessed {
        text += "# How its pixels are packed is a guess: the start addresses fit several ways.\n";
    }
    if run.packing != Packing::default() {
        let _ = writeln!(text, "packing = \"{}\"", packing_word(run.packing));
    }
    list("panels", &places(&panels), &mut text);
    let serials: Vec<&str> = panels
        .iter()
        .filter_map(|(entry, _)| entry.serial.as_deref())
        .collect();
    if !serials.is_empty() {
        list("serials", &ranges(&serials), &mut text);
    }
    Some(text)
}

fn list(key: &str, items: &[String], text: &mut String) {
    let line = format!("{key} = [{}]", items.join(", "));
    if line.chars().count() <= LINE {
        *text += &line;
        text.push('\n');
        return;
    }
    let _ = writeln!(text, "{key} = [");
    let mut line = String::new();
    for item in items {
        if !line.is_empty() && line.chars().count() + item.chars().count() + 2 > LINE {
            let _ = writeln!(text, "   {line}");
            line.clear();
        }
        let _ = write!(line, " {item},");
    }
    let _ = writeln!(text, "   {line}\n]");
}

/// Elements of `panels`: neighbours in a line that lie alike are written as its ends.
fn places(panels: &[(&Entry, u16)]) -> Vec<String> {
    let mut items = Vec::new();
    let mut rest = panels;
    while let Some(((first, spare), after)) = rest.split_first() {
        if *spare > 0 {
            items.push(format!("{{ spare_slots = {spare} }}"));
        }
        let mut last = *first;
        let mut step = None;
        let mut length = 1;
        for (next, spare) in after {
            let way = step_to(last.position, next.position);
            let alike = (next.turn_deg, next.mirrored) == (first.turn_deg, first.mirrored);
            if *spare > 0 || !alike || way.is_none() || step.is_some_and(|step| Some(step) != way) {
                break;
            }
            step = way;
            last = next;
            length += 1;
        }
        let at = if length == 1 {
            format!("\"{}\"", first.position)
        } else {
            format!("\"{}..{}\"", first.position, last.position)
        };
        items.push(match (first.turn_deg, first.mirrored) {
            (0, false) => at,
            (0, true) => format!("{{ at = {at}, mirrored = true }}"),
            (turn, false) => format!("{{ at = {at}, turn = {turn} }}"),
            (turn, true) => format!("{{ at = {at}, turn = {turn}, mirrored = true }}"),
        });
        rest = &rest[length..];
    }
    items
}

/// Columns and rows from one to the next, if it is a neighbour in row or column.
fn step_to(from: Position, to: Position) -> Option<(i32, i32)> {
    let by = (
        i32::from(to.column) - i32::from(from.column),
        i32::from(to.row) - i32::from(from.row),
    );
    (by.0.abs() + by.1.abs() == 1).then_some(by)
}

/// Elements of `serials`: those that count up are written as their ends.
fn ranges(serials: &[&str]) -> Vec<String> {
    let mut items = Vec::new();
    let mut rest = serials;
    while let Some(first) = rest.first() {
        let mut length = 1;
        while let Some(next) = rest.get(length)
            && counted_up(rest[length - 1]).as_deref() == Some(*next)
        {
            length += 1;
        }
        items.push(if length == 1 {
            format!("\"{first}\"")
        } else {
            format!("\"{first}..{}\"", rest[length - 1])
        });
        rest = &rest[length..];
    }
    items
}

/// The next serial of the same length.
fn counted_up(serial: &str) -> Option<String> {
    let digits = serial.bytes().rev().take_while(u8::is_ascii_digit).count();
    let (head, number) = serial.split_at(serial.len() - digits);
    let next = number.parse::<u64>().ok()?.checked_add(1)?;
    let next = format!("{head}{next:0digits$}");
    (next.len() == serial.len()).then_some(next)
}

/// A text as TOML writes it.
fn quoted(text: &str) -> String {
    let mut quoted = String::from("\"");
    for character in text.chars() {
        match character {
            '"' | '\\' => {
                quoted.push('\\');
                quoted.push(character);
            }
            control if control.is_control() => {
                let _ = write!(quoted, "\\u{:04X}", u32::from(control));
            }
            other => quoted.push(other),
        }
    }
    quoted.push('"');
    quoted
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn serials_that_count_up_are_written_as_their_ends() {
        let told = |serials: &[&str]| ranges(serials).join(" ");
        assert_eq!(told(&["P098", "P099", "P100"]), "\"P098..P100\"");
        assert_eq!(told(&["P9", "P10", "x", "y"]), "\"P9\" \"P10\" \"x\" \"y\"");
        assert_eq!(told(&["P2", "P1"]), "\"P2\" \"P1\"");
    }

    #[test]
    fn texts_are_written_so_that_the_reader_gives_them_back() {
        for text in ["north", "a \"b\" \\ c", "tab\there", "ü–☂", "\u{7f}"] {
            let written = format!("x = {}", quoted(text));
            let read = toml::de::DeTable::parse(&written).unwrap();
            let read = read.get_ref().get("x").unwrap().get_ref().as_str();
            assert_eq!(read, Some(text), "{written}");
        }
    }
}
