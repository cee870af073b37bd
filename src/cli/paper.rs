//! What every page for paper has: one file that needs no other, and no script.

use std::fmt::Write as _;

/// For A4 and Letter alike: it names no size of paper.
const STYLE: &str = include_str!("paper.css");

/// What stands behind everything.
pub(super) const END: &str = "</body>\n</html>\n";

/// Everything up to the heading, which is the title. `style` is added to the common one.
pub(super) fn begin(title: &str, style: &str) -> String {
    let title = escape(title);
    format!(
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <title>{title}</title>\n<style>\n{STYLE}{style}</style>\n</head>\n<body>\n\
         <h1>{title}</h1>\n"
    )
}

/// For texts and attributes.
pub(super) fn escape(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    for character in text.chars() {
        match character {
            '&' => escaped += "&amp;",
            '<' => escaped += "&lt;",
            '>' => escaped += "&gt;",
            '"' => escaped += "&quot;",
            '\'' => escaped += "&#39;",
            other => escaped.push(other),
        }
    }
    escaped
}

/// A box with a heading and a sentence for each caution.
pub(super) fn cautions(heading: &str, cautions: &[String], page: &mut String) {
    let _ = writeln!(
        page,
        "<div class=\"caution\"><strong>{}</strong>\n<ul>",
        escape(heading)
    );
    for caution in cautions {
        let _ = writeln!(page, "<li>{}.</li>", escape(caution));
    }
    *page += "</ul></div>\n";
}
