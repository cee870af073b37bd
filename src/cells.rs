//! Cells of tables that are opened with a spreadsheet.

use std::borrow::Cow;

/// With these first a spreadsheet takes a cell for a formula, also one that fetches or runs something
/// (OWASP, "CSV Injection").
const STARTS: [char; 11] = ['=', '+', '-', '@', '\t', '\r', '\n', '＝', '＋', '－', '＠'];

/// What is put before it, so that it is text: an apostrophe, as OWASP advises.
const AS_TEXT: char = '\'';

/// A cell that no spreadsheet runs. Numbers stay numbers.
pub fn harmless<'a>(cell: impl Into<Cow<'a, str>>) -> Cow<'a, str> {
    let cell = cell.into();
    if cell.starts_with(STARTS) && !is_number(&cell) {
        format!("{AS_TEXT}{cell}").into()
    } else {
        cell
    }
}

/// What it was before it was made harmless.
pub fn as_it_was(cell: &str) -> &str {
    let bare = cell.strip_prefix(AS_TEXT);
    bare.filter(|bare| bare.starts_with(STARTS) && !is_number(bare))
        .unwrap_or(cell)
}

/// Digits, perhaps with a sign, a point and an exponent: nothing that names another cell or a function.
fn is_number(cell: &str) -> bool {
    let only = |c: char| c.is_ascii_digit() || matches!(c, '+' | '-' | '.' | 'e' | 'E');
    cell.chars().all(only) && cell.parse::<f64>().is_ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    use proptest::prelude::*;

    #[test]
    fn what_a_spreadsheet_would_run_is_text_and_numbers_stay_numbers() {
        for formula in [
            "=1+1",
            "=HYPERLINK(\"http://example.org\")",
            "+A1",
            "-2+3",
            "-",
            "@SUM(A1)",
            "\t=1",
            "\r=1",
            "\n=1",
            "＝1+1",
            "-inf",
            "--1",
        ] {
            assert_eq!(harmless(formula), format!("'{formula}"));
        }
        for cell in [
            "", "-1", "+2.5", "-1e-9", "-0.041", "C4", "a=b", "'quoted", "1-2",
        ] {
            assert_eq!(harmless(cell), cell);
        }
    }

    proptest! {
        #[test]
        fn it_can_be_taken_back(cell in "[=+@'a1\t-]{0,5}") {
            let made = harmless(cell.as_str());
            prop_assert!(!made.starts_with(STARTS) || is_number(&made));
            // A cell that was written with an apostrophe before a formula can't be told apart.
            if made != cell {
                prop_assert_eq!(as_it_was(&made), cell.as_str());
            }
        }
    }
}
