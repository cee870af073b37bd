//! The difference between two texts of a floor file, for review.

use similar::TextDiff;

/// What changes from one text of the file `name` to another, as a unified diff (POSIX `diff -u`); empty if
/// nothing does. `now` says what the second text is. Both stand behind a tabulator, where `patch` looks
/// for times, so that it takes the name even if there are blanks in it.
pub fn difference(name: &str, now: &str, (old, new): (&str, &str)) -> String {
    let name = name.replace(char::is_control, "_");
    let diff = TextDiff::from_lines(old, new);
    let mut unified = diff.unified_diff();
    let (was, is) = (format!("{name}\tas it is"), format!("{name}\t{now}"));
    unified.header(&was, &is).to_string()
}
