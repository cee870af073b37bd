//! Runs as they stand in the floor file.

use std::fmt::Write as _;

use super::super::sheet::packing_word;
use super::Entry;
use crate::floor::joined::JoinedRun;
use crate::floor::model::Packing;
use crate::floor::short::{self, Line, Lying};

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
        let serials = short::serials(&serials);
        let written: Vec<String> = serials.iter().map(|serial| quoted(serial)).collect();
        list("serials", &written, &mut text);
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

/// Elements of `panels`.
fn places(panels: &[(&Entry, u16)]) -> Vec<String> {
    let mut items = Vec::new();
    // What is passed lies before a panel, so that a line begins with it.
    for line in panels.chunk_by(|_, (_, spare)| *spare == 0) {
        let spare = line.first().map_or(0, |(_, spare)| *spare);
        if spare > 0 {
            items.push(format!("{{ spare_slots = {spare} }}"));
        }
        let lying: Vec<Lying> = line.iter().map(|(entry, _)| lying(entry)).collect();
        items.extend(short::lines(&lying).iter().map(element));
    }
    items
}

fn lying(entry: &Entry) -> Lying {
    Lying {
        at: entry.position,
        turn_deg: entry.turn_deg,
        mirrored: entry.mirrored,
    }
}

fn element(line: &Line) -> String {
    let at = quoted(&line.ends());
    match (line.first.turn_deg, line.first.mirrored) {
        (0, false) => at,
        (0, true) => format!("{{ at = {at}, mirrored = true }}"),
        (turn, false) => format!("{{ at = {at}, turn = {turn} }}"),
        (turn, true) => format!("{{ at = {at}, turn = {turn}, mirrored = true }}"),
    }
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
    fn texts_are_written_so_that_the_reader_gives_them_back() {
        for text in ["north", "a \"b\" \\ c", "tab\there", "ü–☂", "\u{7f}"] {
            let written = format!("x = {}", quoted(text));
            let read = toml::de::DeTable::parse(&written).unwrap();
            let read = read.get_ref().get("x").unwrap().get_ref().as_str();
            assert_eq!(read, Some(text), "{written}");
        }
    }
}
