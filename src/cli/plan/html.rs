//! The plan for paper.

use std::fmt::Write as _;

use super::super::paper::{self, escape};
use super::sections::sections;
use super::table::Section;
use super::text::sentence;
use crate::power::plan::{Danger, Plan};

/// What only this page needs.
const STYLE: &str = include_str!("plan.css");

/// The whole page.
pub(super) fn page(plan: &Plan) -> String {
    let mut page = paper::begin(&format!("Plan: {}", plan.name), STYLE);
    page += "<p>Power and data, before anything is bought. Printed on: ____________ checked by: \
             ____________</p>\n";
    findings(plan, &mut page);
    for section in sections(plan) {
        table(&section, &mut page);
    }
    paper::cautions("Caution", &plan.cautions, &mut page);
    page += paper::END;
    page
}

fn findings(plan: &Plan, page: &mut String) {
    if plan.findings.is_empty() {
        *page +=
            "<p>Nothing that was checked is out of bounds. Read the cautions at the end.</p>\n";
        return;
    }
    *page += "<h2>Out of bounds, the worst first</h2>\n";
    for danger in [
        Danger::Fire,
        Danger::Overload,
        Danger::Voltage,
        Danger::NotKnown,
    ] {
        let mut own = plan
            .findings
            .iter()
            .filter(|found| found.danger == danger)
            .peekable();
        if own.peek().is_none() {
            continue;
        }
        let class = match danger {
            Danger::Fire | Danger::Overload => "caution",
            Danger::Voltage | Danger::NotKnown => "caution mild",
        };
        let _ = write!(
            page,
            "<div class=\"{class}\"><strong>{}</strong>\n<ul>\n",
            danger.name()
        );
        for finding in own {
            let _ = writeln!(
                page,
                "<li>{} <cite>{}</cite></li>",
                escape(&sentence(finding)),
                escape(finding.rule.source())
            );
        }
        *page += "</ul></div>\n";
    }
}

fn table(section: &Section, page: &mut String) {
    let _ = write!(
        page,
        "<section><h2>{}</h2>\n<table{}>\n<thead><tr>",
        escape(&section.title),
        // A table of few columns is not stretched over the page.
        if section.columns.len() < 4 {
            " class=\"narrow\""
        } else {
            ""
        }
    );
    let class = |at: usize| match (at, section.columns[at].right) {
        (0, _) => "name",
        (_, true) => "number",
        (_, false) => "",
    };
    for (at, column) in section.columns.iter().enumerate() {
        let class = class(at);
        let _ = write!(
            page,
            "<th class=\"{class}\" scope=\"col\">{}</th>",
            escape(&column.title)
        );
    }
    *page += "</tr></thead>\n<tbody>\n";
    let rows = section
        .columns
        .first()
        .map_or(0, |column| column.cells.len());
    for row in 0..rows {
        *page += "<tr>";
        for (at, column) in section.columns.iter().enumerate() {
            let class = class(at);
            let _ = write!(
                page,
                "<td class=\"{class}\">{}</td>",
                escape(&column.cells[row])
            );
        }
        *page += "</tr>\n";
    }
    *page += "</tbody>\n</table>\n";
    for rule in section.rules {
        let _ = writeln!(
            page,
            "<p class=\"rule\">Rule: {} <cite>{}</cite></p>",
            escape(&rule.text().replace('`', "")),
            escape(rule.source())
        );
    }
    *page += "</section>\n";
}
