//! Serials of panels, written `P17` or `P001..P064`.

/// A serial is no longer.
const MOST_CHARACTERS: usize = 32;

/// Serials that one range may name.
const MOST: u64 = 100_000;

const WANTED: &str = "a serial has 1 to 32 letters, digits, hyphens, points or underscores; a row \
                      of them that ends in numbers is written P001..P064";

/// One serial, or all of a range: same text before, a number of the same length after.
///
/// # Errors
/// Says what is wanted.
pub(super) fn expand(text: &str) -> Result<Vec<String>, &'static str> {
    let Some((from, to)) = text.split_once("..") else {
        return valid(text).then(|| vec![text.to_owned()]).ok_or(WANTED);
    };
    let (from, to) = (from.trim(), to.trim());
    let split = |text: &'_ str| {
        let digits = text.chars().rev().take_while(char::is_ascii_digit).count();
        text.len() - digits
    };
    if !valid(from) || !valid(to) {
        return Err(WANTED);
    }
    let (from_head, from_digits) = from.split_at(split(from));
    let (to_head, to_digits) = to.split_at(split(to));
    let (Ok(first), Ok(last)) = (from_digits.parse::<u64>(), to_digits.parse::<u64>()) else {
        return Err(WANTED);
    };
    let alike = from_head == to_head
        && (from_digits.len() == to_digits.len() || !from_digits.starts_with('0'));
    if !alike || last < first || last - first >= MOST {
        return Err(WANTED);
    }
    let width = from_digits.len();
    Ok((first..=last)
        .map(|number| format!("{from_head}{number:0width$}"))
        .collect())
}

/// Whether it can stand in a file, on a label and in a search.
pub fn valid(text: &str) -> bool {
    let good = |c: char| c.is_alphanumeric() || "-._".contains(c);
    (1..=MOST_CHARACTERS).contains(&text.chars().count()) && text.chars().all(good)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ranges_count_up_and_keep_their_zeros() {
        assert_eq!(expand("P17").unwrap(), ["P17"]);
        assert_eq!(
            expand("P098..P101").unwrap(),
            ["P098", "P099", "P100", "P101"]
        );
        assert_eq!(expand("9..11").unwrap(), ["9", "10", "11"]);
        assert_eq!(expand("a-1..a-2").unwrap(), ["a-1", "a-2"]);
    }

    #[test]
    fn what_is_no_serial_is_refused() {
        for bad in [
            "",
            " ",
            "a b",
            "P1..",
            "..P2",
            "P1..Q2",
            "P2..P1",
            "P01..P100",
            "a..b",
            "1..99999999",
            "P1..P2..P3",
        ] {
            assert!(expand(bad).is_err(), "{bad}");
        }
        assert!(!valid(&"x".repeat(33)));
    }
}
