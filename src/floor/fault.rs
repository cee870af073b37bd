//! What is wrong with a floor file, and how people are told.

use std::fmt;
use std::ops::Range;

use annotate_snippets::{AnnotationKind, Level, Renderer, Snippet, normalize_untrusted_str};
use serde::Serialize;

use super::file::own_name;

/// Bytes of the file's text, from its beginning.
pub type Span = Range<usize>;

/// Faults that are drawn with their snippet; what lies beyond is counted. The rows have them all.
const MOST_DRAWN: usize = 100;

/// One thing that is wrong.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// A stable word for programs: `unknown-key`, `shared-slots`, …
    pub code: &'static str,
    /// What is wrong.
    pub message: String,
    /// Where; nothing when the file could not be read at all.
    pub at: Option<Span>,
    /// Further places that belong to it, each with what is to be seen there.
    pub labels: Vec<(Span, String)>,
    /// What would be right.
    pub help: String,
}

impl Fault {
    /// A fault at one place.
    pub(super) fn new(
        code: &'static str,
        at: &Span,
        message: impl Into<String>,
        help: impl Into<String>,
    ) -> Self {
        Self {
            code,
            message: message.into(),
            at: Some(at.clone()),
            labels: Vec::new(),
            help: help.into(),
        }
    }

    /// The same fault with one more place.
    #[must_use]
    pub(super) fn and(mut self, at: &Span, text: impl Into<String>) -> Self {
        self.labels.push((at.clone(), text.into()));
        self
    }
}

/// A fault as one row of a table.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, utoipa::ToSchema)]
pub struct FaultRow {
    /// The file as it was named.
    pub file: String,
    /// Line, counting from 1; nothing when the file could not be read.
    pub line: Option<usize>,
    /// Column in characters, counting from 1.
    pub column: Option<usize>,
    /// A stable word.
    pub code: &'static str,
    /// What is wrong.
    pub message: String,
    /// What would be right.
    pub help: String,
}

/// All faults of one file, in the order of their places. Absurdly many are cut off at
/// [`MOST_FAULTS`](super::defaults::MOST_FAULTS).
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Faults {
    file: String,
    source: String,
    lines: Lines,
    list: Vec<Fault>,
}

impl Faults {
    /// Puts them in order and drops what was said twice.
    pub(super) fn new(file: &str, source: &str, mut list: Vec<Fault>) -> Self {
        for fault in &mut list {
            if let Some(at) = &mut fault.at {
                *at = inside(source, at);
            }
            for (at, _) in &mut fault.labels {
                *at = inside(source, at);
            }
        }
        list.sort_by_key(|fault| fault.at.as_ref().map(|at| (at.start, at.end)));
        list.dedup();
        Self {
            file: file.to_owned(),
            source: source.to_owned(),
            lines: Lines::of(source),
            list,
        }
    }

    /// Each of them.
    pub fn list(&self) -> &[Fault] {
        &self.list
    }

    /// For programs.
    pub fn rows(&self) -> Vec<FaultRow> {
        self.list
            .iter()
            .map(|fault| {
                let place = fault
                    .at
                    .as_ref()
                    .map(|at| self.lines.line_column(&self.source, at.start));
                FaultRow {
                    file: self.file.clone(),
                    line: place.map(|(line, _)| line),
                    column: place.map(|(_, column)| column),
                    code: fault.code,
                    message: fault.message.clone(),
                    help: fault.help.clone(),
                }
            })
            .collect()
    }

    /// The same for who may look at the floor but not at this machine: the file goes by its own
    /// name, without its directory.
    pub fn rows_without_directory(&self) -> Vec<FaultRow> {
        let name = own_name(&self.file);
        let mut rows = self.rows();
        for row in &mut rows {
            row.file.clone_from(&name);
            row.message = row.message.replace(&self.file, &name);
        }
        rows
    }

    /// For people: every fault with its place, the lines around it and what would be right,
    /// with colours for a terminal if `color`.
    pub fn render(&self, color: bool) -> String {
        let renderer = if color {
            Renderer::styled()
        } else {
            Renderer::plain()
        };
        let mut text = String::new();
        for fault in self.list.iter().take(MOST_DRAWN) {
            text += &renderer.render(&[self.group(fault)]);
            text += "\n\n";
        }
        let more = self.list.len().saturating_sub(MOST_DRAWN);
        if more > 0 {
            text = text + "… and " + &more.to_string() + " more\n\n";
        }
        let name = normalize_untrusted_str(&self.file);
        text + &match self.list.len() {
            1 => format!("1 fault in {name}\n"),
            n => format!("{n} faults in {name}\n"),
        }
    }

    fn group<'a>(&'a self, fault: &'a Fault) -> annotate_snippets::Group<'a> {
        let title = Level::ERROR.primary_title(&fault.message).id(fault.code);
        let help = Level::HELP.message(normalize_untrusted_str(&fault.help));
        let Some(at) = &fault.at else {
            return title.element(help);
        };
        // Only the lines from the first place to the last are handed over, so that many faults
        // in a large file stay quick.
        let places = || std::iter::once(at).chain(fault.labels.iter().map(|(at, _)| at));
        let first = places().map(|at| at.start).min().unwrap_or(at.start);
        let last = places().map(|at| at.end).max().unwrap_or(at.end);
        let begin = self.source[..first].rfind('\n').map_or(0, |i| i + 1);
        let end = self.source[last..]
            .find('\n')
            .map_or(self.source.len(), |i| last + i);
        let moved = |at: &Span| at.start - begin..at.end - begin;
        let snippet =
            Snippet::source(&self.source[begin..end])
                .line_start(self.lines.line(begin))
                .path(normalize_untrusted_str(&self.file))
                .annotation(AnnotationKind::Primary.span(moved(at)))
                .annotations(fault.labels.iter().map(|(at, text)| {
                    AnnotationKind::Context.span(moved(at)).label(text.as_str())
                }));
        title.element(snippet).element(help)
    }
}

impl fmt::Display for Faults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.render(false))
    }
}

impl std::error::Error for Faults {}

/// The span cut to the text and to whole characters. A span over several lines is cut to its
/// first, so that a whole table is not drawn where its beginning will do.
fn inside(source: &str, at: &Span) -> Span {
    let mut start = at.start.min(source.len());
    while !source.is_char_boundary(start) {
        start -= 1;
    }
    let mut end = at.end.clamp(start, source.len());
    while !source.is_char_boundary(end) {
        end += 1;
    }
    if let Some(line_end) = source[start..end].find(['\n', '\r']) {
        end = start + line_end;
    }
    start..end
}

/// Where the lines of a text begin.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Lines(Vec<usize>);

impl Lines {
    pub(super) fn of(source: &str) -> Self {
        let after_breaks = source.match_indices('\n').map(|(i, _)| i + 1);
        Self(std::iter::once(0).chain(after_breaks).collect())
    }

    /// The line of a byte, from 1.
    pub(super) fn line(&self, byte: usize) -> usize {
        self.0.partition_point(|start| *start <= byte)
    }

    /// Line and column of a byte, both from 1, the column in characters.
    fn line_column(&self, source: &str, byte: usize) -> (usize, usize) {
        let line = self.line(byte);
        (line, source[self.0[line - 1]..byte].chars().count() + 1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_count_from_one_in_characters() {
        let source = "ab\nçd=1\n";
        let place = |byte| Lines::of(source).line_column(source, byte);
        assert_eq!(
            (place(0), place(2), place(3), place(5), place(9)),
            ((1, 1), (1, 3), (2, 1), (2, 2), (3, 1))
        );
        assert_eq!(inside("ab\nçd", &(4..99)), 3..6);
        assert_eq!(inside("ab\ncd", &(1..5)), 1..2);
    }

    #[test]
    fn a_drawn_fault_shows_file_line_column_both_places_and_help() {
        let source = "one = 1\ntwo = 2\nthree = 3\n";
        let fault =
            Fault::new("some-code", &(16..21), "it is wrong", "do it so").and(&(0..3), "first");
        let faults = Faults::new("my.toml", source, vec![fault]);
        let text = faults.render(false);
        for part in [
            "some-code",
            "my.toml:3:1",
            "three = 3",
            "one = 1",
            "first",
            "do it so",
            "1 fault in my.toml",
        ] {
            assert!(text.contains(part), "{part} is not in\n{text}");
        }
        assert!(faults.render(true).contains("\u{1b}["));
    }

    #[test]
    fn control_characters_of_the_file_never_reach_the_terminal() {
        let source = "a = 1 # \u{1b}[31m\n";
        let fault = Fault::new("x", &(0..1), "bad \u{1b}[2J", "help \u{1b}[2J");
        assert!(
            !Faults::new("f\u{1b}[2J", source, vec![fault])
                .render(false)
                .contains('\u{1b}')
        );
    }
}
