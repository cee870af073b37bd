//! The plan for a terminal of 80 columns.

use std::io::{self, Write};

use super::super::columns::{lines, parts, wrapped};
use super::super::networks::named;
use super::sections::sections;
use super::table::Section;
use crate::power::plan::{Finding, Plan};

/// A line is no wider, if words allow it.
const MOST_COLUMNS: usize = 80;

/// Longer names are cut in tables.
const MOST_NAME: usize = 40;

/// Writes it.
///
/// # Errors
/// When it can't be written.
pub(super) fn write(plan: &Plan, out: &mut dyn Write) -> io::Result<()> {
    writeln!(
        out,
        "Plan of {}: power and data before anything is bought",
        plan.name
    )?;
    findings(plan, out)?;
    for section in sections(plan) {
        table(section, out)?;
    }
    writeln!(out)?;
    for caution in &plan.cautions {
        writeln!(
            out,
            "{}",
            wrapped(&format!("Caution: {caution}."), MOST_COLUMNS, 2)
        )?;
    }
    Ok(())
}

fn findings(plan: &Plan, out: &mut dyn Write) -> io::Result<()> {
    if plan.findings.is_empty() {
        return writeln!(
            out,
            "\nNothing that was checked is out of bounds. Read the cautions below."
        );
    }
    writeln!(out, "\nOUT OF BOUNDS, the worst first:")?;
    let mut danger = None;
    for finding in &plan.findings {
        if danger != Some(finding.danger) {
            danger = Some(finding.danger);
            writeln!(out, "\n{}", finding.danger.name())?;
        }
        let told = format!("  - {} [{}]", sentence(finding), finding.rule.source());
        writeln!(out, "{}", wrapped(&told, MOST_COLUMNS, 4))?;
    }
    Ok(())
}

/// What is wrong, and with what.
pub(super) fn sentence(finding: &Finding) -> String {
    format!(
        "{} {}: {}.",
        finding.level,
        named(&finding.names),
        finding.text
    )
}

fn table(section: Section, out: &mut dyn Write) -> io::Result<()> {
    writeln!(out, "\n{}", section.title)?;
    let mut columns = section.columns;
    if let Some(names) = columns.first_mut() {
        names.cells.iter_mut().for_each(shorten);
    }
    for part in parts(&columns, MOST_COLUMNS) {
        for line in lines(&part) {
            writeln!(out, "{line}")?;
        }
    }
    for rule in section.rules {
        let told = format!("  Rule: {} [{}].", rule.text(), rule.source());
        writeln!(out, "{}", wrapped(&told, MOST_COLUMNS, 4))?;
    }
    Ok(())
}

fn shorten(cell: &mut String) {
    if cell.chars().count() > MOST_NAME {
        let kept: String = cell.chars().take(MOST_NAME - 1).collect();
        *cell = kept + "…";
    }
}
