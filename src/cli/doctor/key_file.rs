//! The private key of the certificate: who on this machine can read or replace it.

#[cfg(unix)]
use std::fs;
use std::path::Path;

use super::Point;

/// Who can read or replace the key. What the group may read is the owner's wish: some systems keep keys so.
#[cfg(unix)]
pub(super) fn look(path: &Path) -> Option<Point> {
    use std::os::unix::fs::MetadataExt;
    const POINT: &str = "key_file";
    // That it is not there was said before. Where it really lies, whatever leads there.
    let path = fs::canonicalize(path).ok()?;
    let mode_of = |path: &Path| Some(fs::metadata(path).ok()?.mode() & 0o7777);
    let mode = mode_of(&path)?;
    let above: Vec<u32> = path.ancestors().skip(1).filter_map(mode_of).collect();
    let open = open_to(mode, &above);
    let shown = path.display();
    let (who, rights) = match (open & 0o004 != 0, open & 0o022 != 0) {
        (true, true) => (
            "everybody on this machine can read, and others than its owner can replace,",
            "o=,go-w",
        ),
        (true, false) => ("everybody on this machine can read", "o="),
        (false, true) => ("others than its owner can replace", "go-w"),
        (false, false) => {
            let told = format!("{shown} is not for everybody (mode {mode:04o})");
            return Some(Point::fine(POINT, told));
        }
    };
    Some(Point::mind(
        POINT,
        format!("{who} the private key {shown} (mode {mode:04o})"),
        format!(
            "whoever has it can pass for this machine: `chmod {rights} '{shown}'`, let the user that litfloor \
             runs as own it or be in its group, and have a new key and certificate made if strangers were here"
        ),
    ))
}

/// What is left of a file's mode for those who get to it through the directories `above`, with these modes:
/// where they may not pass (see `path_resolution(7)`), it does not matter what the file would let them do.
#[cfg(unix)]
fn open_to(mode: u32, above: &[u32]) -> u32 {
    let nobody_else = above.iter().any(|mode| mode & 0o001 == 0);
    // Who is in the file's group may be anybody to the directory.
    let nor_group = above.iter().any(|mode| mode & 0o011 == 0);
    match (nobody_else, nor_group) {
        (_, true) => mode & !0o077,
        (true, false) => mode & !0o007,
        (false, false) => mode,
    }
}

#[cfg(not(unix))]
pub(super) fn look(_: &Path) -> Option<Point> {
    None
}

#[cfg(all(test, unix))]
mod tests {
    use super::open_to;

    #[test]
    fn a_mode_counts_only_for_those_who_get_to_the_file() {
        for (mode, above, left) in [
            (0o644, &[0o755, 0o1777, 0o755][..], 0o644),
            (0o644, &[0o755, 0o700, 0o755], 0o600),
            (0o666, &[0o755, 0o750], 0o660),
            (0o666, &[0o710, 0o701], 0o660),
            (0o600, &[], 0o600),
        ] {
            assert_eq!(open_to(mode, above), left, "{mode:o} {above:?}");
        }
    }
}
