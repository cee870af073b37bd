//! The patch sheet for paper: one file that needs no other, and no script.

use std::fmt::Write as _;

use super::super::paper::{self, escape};
use super::super::summary::counted;
use super::plan;
use super::sheet::{PanelRow, Place, RunSheet, Sheet};
use super::text::passed;
use crate::floor::model::Floor;

/// What only this page needs.
const STYLE: &str = include_str!("sheet.css");

/// The whole page.
pub(super) fn page(floor: &Floor, sheet: &Sheet) -> String {
    let mut page = paper::begin(&format!("Patch sheet: {}", sheet.name), STYLE);
    let _ = writeln!(
        page,
        "<p>{}, {}, {} on {}. Printed or changed by hand on: ____________ by: ____________</p>",
        counted(sheet.panels as u64, "panel"),
        counted(sheet.pixels, "pixel"),
        counted(sheet.slots, "slot"),
        counted(sheet.runs.len() as u64, "run"),
    );
    paper::cautions(
        "Caution, before lights are switched on",
        &sheet.cautions,
        &mut page,
    );
    for plan in plan::plans(floor, sheet) {
        let _ = writeln!(
            page,
            "<figure>\n{}<figcaption>{}</figcaption>\n</figure>",
            plan.svg,
            escape(&plan.caption)
        );
    }
    page += "<p>Addresses are net:sub-net:universe/slot, slots from 1. In brackets the same \
             universe as one number counted from 0, as many programs have it; some count from 1. \
             Panels are in wiring order. Tick a panel when it lights as it should.</p>\n";
    for run in &sheet.runs {
        table(run, &mut page);
    }
    page += paper::END;
    page
}

/// What a column is called, how its cells are classed, and what stands in it.
type Column<'a> = (&'static str, &'static str, &'a dyn Fn(&PanelRow) -> String);

fn table(run: &RunSheet, page: &mut String) {
    let _ = writeln!(
        page,
        "<h2>{}</h2>\n<p>{}, {}, {}, packing {}.</p>\n<table>\n<thead><tr>",
        escape(&run.title()),
        counted(run.panels.len() as u64, "panel"),
        counted(run.pixels, "pixel"),
        counted(run.slots, "slot"),
        run.packing
    );
    let place = |place: Place| format!("{place} ({})", place.flat());
    let first = |row: &PanelRow| place(row.at_node.first);
    let last = |row: &PanelRow| row.at_node.last.to_string();
    let console_first = |row: &PanelRow| place(row.at_console.first);
    let console_last = |row: &PanelRow| row.at_console.last.to_string();
    let mut columns: Vec<Column<'_>> = vec![
        ("", "box", &|_| String::new()),
        ("#", "number", &|row| row.order.to_string()),
        ("Panel", "whole", &|row| row.position.clone()),
        ("Serial", "name", &|row| row.serial.clone()),
        ("Kind", "name", &|row| row.kind.clone()),
        ("Lies", "", &PanelRow::lies),
        ("First slot at the node", "", &first),
        ("Last", "whole", &last),
    ];
    if run.console_differs {
        columns.push(("First slot at the console", "", &console_first));
        columns.push(("Last", "whole", &console_last));
    }
    columns.push(("Pixels", "number", &|row| row.pixels.to_string()));
    columns.push(("Slots", "number", &|row| row.slots.to_string()));
    columns.push(("Feed", "name", &|row| row.feed.clone()));
    for (title, class, _) in &columns {
        let title = if *class == "box" { "OK" } else { title };
        let _ = write!(page, "<th class=\"{class}\" scope=\"col\">{title}</th>");
    }
    *page += "</tr></thead>\n<tbody>\n";
    for row in &run.panels {
        if let Some(passed) = passed(row) {
            let _ = writeln!(
                page,
                "<tr class=\"passed\"><td colspan=\"{}\">passed: {passed}</td></tr>",
                columns.len()
            );
        }
        *page += "<tr>";
        for (_, class, cell) in &columns {
            let _ = write!(page, "<td class=\"{class}\">{}</td>", escape(&cell(row)));
        }
        *page += "</tr>\n";
    }
    *page += "</tbody>\n</table>\n";
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::floor::testing;

    #[test]
    fn nothing_of_the_file_becomes_markup_and_nothing_is_fetched() {
        let mut floor = testing::floor();
        let evil = "<script>alert('\"&')</script>";
        floor.name = evil.into();
        floor.nodes[0].name = evil.into();
        floor.feeds[0].name = evil.into();
        floor.panel_kinds[0].name = evil.into();
        floor.panels[0].serial = evil.into();
        let page = page(&floor, &Sheet::of(&floor));
        assert!(!page.contains("<script"), "{page}");
        assert!(page.contains("&lt;script&gt;alert(&#39;&quot;&amp;&#39;)&lt;/script&gt;"));
        for fetched in ["http:", "https:", "url(", "@import", "src=", "href="] {
            assert!(!page.contains(fetched), "{fetched}");
        }
    }

    #[test]
    fn every_run_has_a_table_with_a_box_for_each_panel() {
        let floor = testing::floor();
        let page = page(&floor, &Sheet::of(&floor));
        assert_eq!(page.matches("<table>").count(), 2);
        assert_eq!(page.matches("<td class=\"box\">").count(), 3);
        assert!(page.contains("Run 2: south (127.0.0.22:6454) port 1"));
        assert!(page.contains("0:0:2/501 (2/501)") && page.contains("0:0:3/4"));
        assert!(page.contains("Caution") && !page.contains("First slot at the console"));
    }
}
