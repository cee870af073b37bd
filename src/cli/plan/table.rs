//! A table of the plan in the making: a row for each thing, a column for each figure.

use super::super::columns::Column;
use crate::power::plan::{Case, Load, Rule, rules_of};

/// One table.
pub(super) struct Section {
    pub(super) title: String,
    /// The first one names the rows.
    pub(super) columns: Vec<Column>,
    /// By which rules its figures were worked out.
    pub(super) rules: &'static [Rule],
}

/// In these, neighbours with the same figures stand in one row.
const MERGED: [&str; 7] = [
    "feeds", "fuses", "shorts", "voltages", "cables", "supplies", "circuits",
];

/// A table in the making: one row for each of `items`.
pub(super) struct Table<'a, T> {
    items: &'a [T],
    columns: Vec<Column>,
}

impl<'a, T> Table<'a, T> {
    pub(super) fn new(items: &'a [T], title: &str, name: impl Fn(&T) -> String) -> Self {
        let names = items.iter().map(name).collect();
        Self {
            items,
            columns: vec![Column::new(title, false, names)],
        }
    }

    pub(super) fn number(mut self, title: impl Into<String>, cell: impl Fn(&T) -> String) -> Self {
        let cells = self.items.iter().map(cell).collect();
        self.columns.push(Column::new(title, true, cells));
        self
    }

    pub(super) fn words(mut self, title: &str, cell: impl Fn(&T) -> String) -> Self {
        let cells = self.items.iter().map(cell).collect();
        self.columns.push(Column::new(title, false, cells));
        self
    }

    /// Amperes of every load case, and of some the per cent of a rating.
    pub(super) fn loads(mut self, cases: &[Case], loads: impl Fn(&T) -> &Vec<Load>) -> Self {
        for (at, case) in cases.iter().enumerate() {
            self = self.number(format!("{case} A"), |item| amps(loads(item)[at].draw_a));
            if lasting(*case) {
                self = self.number("%", |item| percent(loads(item)[at].percent_of_rating));
            }
        }
        self
    }

    pub(super) fn section(self, title: impl Into<String>, name: &str) -> Section {
        Section {
            title: title.into(),
            columns: if MERGED.contains(&name) {
                merged(self.columns)
            } else {
                self.columns
            },
            rules: rules_of(name),
        }
    }
}

/// Neighbours with the same figures stand in one row: from the first to the last, and how many.
fn merged(columns: Vec<Column>) -> Vec<Column> {
    let Some((names, figures)) = columns.split_first() else {
        return columns;
    };
    let alike = |one: usize, other: usize| figures.iter().all(|c| c.cells[one] == c.cells[other]);
    let mut merged: Vec<Column> = columns
        .iter()
        .map(|column| Column::new(column.title.clone(), column.right, Vec::new()))
        .collect();
    let mut first = 0;
    while first < names.cells.len() {
        let more = (first + 1..names.cells.len()).take_while(|&next| alike(first, next));
        let last = more.last().unwrap_or(first);
        let name = &names.cells[first];
        merged[0].cells.push(match last - first {
            0 => name.clone(),
            1 => format!("{name}, {}", names.cells[last]),
            between => format!("{name} … {} ({})", names.cells[last], between + 1),
        });
        for (column, figures) in merged.iter_mut().skip(1).zip(figures) {
            column.cells.push(figures.cells[first].clone());
        }
        first = last + 1;
    }
    merged
}

/// Whether a load of this case may last.
pub(super) const fn lasting(case: Case) -> bool {
    matches!(case, Case::FullWhite | Case::Typical(_))
}

pub(super) fn amps(amps: f64) -> String {
    format!("{amps:.2}")
}

pub(super) fn percent(percent: Option<f64>) -> String {
    percent.map_or_else(|| "–".to_owned(), |percent| format!("{percent:.0}"))
}
