//! The state directory: whether it can be written, whose it is, and how much room there is.

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use super::{Point, Verdict};
use crate::web::operator::Keep;

/// With less, the night's history and the book may not fit.
const LEAST: u64 = 64 << 20;

/// The history grows to half of this in a year and more (docs/history.md).
const ENOUGH: u64 = 1 << 30;

/// Files and directories that may still be made.
const FEW_FILES: u64 = 1_000;

pub(super) fn look(keep: &Keep) -> Vec<Point> {
    let directory = match keep {
        Keep::Directory(directory) => directory,
        Keep::Memory => return Vec::new(),
        Keep::Nowhere(why) => {
            return vec![Point::wrong(
                "state",
                format!("passphrase, history and book are kept nowhere: {why}"),
                "give `--state DIR` here and at `litfloor run`",
            )];
        }
    };
    let Some(there) = nearest(directory) else {
        return vec![Point::wrong(
            "state",
            format!("there is no way to {}", directory.display()),
            "give another one with --state",
        )];
    };
    let mut points = vec![of_writing(directory, &there)];
    points.extend(of_owner(&there, directory));
    points.extend(of_room(&there));
    points
}

/// Whether something can be kept by what was found, and why not if it can't.
pub(super) fn kept(points: &[Point]) -> Result<(), String> {
    let wrong = |point: &&Point| point.name == "state" && point.verdict == Verdict::Wrong;
    let found = points.iter().find(wrong);
    found.map_or(Ok(()), |point| Err(point.told.clone()))
}

/// The directory itself, or the nearest above it that is there.
fn nearest(directory: &Path) -> Option<PathBuf> {
    let absolute = std::path::absolute(directory).ok()?;
    let found = absolute.ancestors().find(|path| path.exists())?;
    Some(found.to_owned())
}

/// Writes a file and takes it away again: permissions alone don't tell of a disk that is full or read-only.
fn try_out(there: &Path) -> io::Result<()> {
    let path = there.join(format!(".litfloor-doctor-{}", std::process::id()));
    let mut file = fs::File::create_new(&path)?;
    let written = file.write_all(&[0; 4_096]).and_then(|()| file.sync_all());
    let removed = fs::remove_file(&path);
    written.and(removed)
}

fn of_writing(directory: &Path, there: &Path) -> Point {
    let shown = directory.display();
    if !there.is_dir() {
        return Point::wrong(
            "state",
            format!(
                "{} is no directory, so nothing can be kept in {shown}",
                there.display()
            ),
            "move that file away, or give another directory with --state",
        );
    }
    match try_out(there) {
        Ok(()) if directory.is_dir() => Point::fine("state", format!("{shown} can be written")),
        Ok(()) => Point::fine("state", format!("{shown} is not there yet and can be made")),
        Err(why) => Point::wrong(
            "state",
            format!("nothing can be written to {} ({why})", there.display()),
            format!(
                "without it passphrase, history and book are lost at the end: as root, `chown` it to the \
                 user that litfloor runs as, mount its disk for writing or make room on it, or give \
                 another directory than {shown} with --state"
            ),
        ),
    }
}

#[cfg(unix)]
fn of_owner(there: &Path, directory: &Path) -> Option<Point> {
    use std::os::unix::fs::MetadataExt;
    if there != std::path::absolute(directory).ok()? {
        return None;
    }
    let data = fs::metadata(there).ok()?;
    let (mode, owner) = (data.mode() & 0o7777, data.uid());
    let shown = directory.display();
    if mode & 0o022 != 0 {
        return Some(Point::mind(
            "state_owner",
            format!("others than its owner may write to {shown} (mode {mode:o})"),
            format!("whoever may can put another passphrase there: `chmod go-w '{shown}'`"),
        ));
    }
    let own = own_uid()?;
    (owner != own).then(|| {
        Point::mind(
            "state_owner",
            format!("{shown} belongs to user {owner}, and this is user {own}"),
            "what one writes the other may not be able to write again: run doctor, and litfloor, as the \
             user that the night's litfloor runs as",
        )
    })
}

#[cfg(not(unix))]
fn of_owner(_: &Path, _: &Path) -> Option<Point> {
    None
}

#[cfg(target_os = "linux")]
#[expect(clippy::unnecessary_wraps, reason = "elsewhere it is not told")]
fn own_uid() -> Option<u32> {
    Some(nix::unistd::geteuid().as_raw())
}

#[cfg(all(unix, not(target_os = "linux")))]
fn own_uid() -> Option<u32> {
    None
}

#[cfg(target_os = "linux")]
fn of_room(there: &Path) -> Vec<Point> {
    match nix::sys::statvfs::statvfs(there) {
        #[allow(clippy::useless_conversion, reason = "not on all processors")]
        Ok(disk) => {
            let bytes = u64::from(disk.blocks_available()) * u64::from(disk.fragment_size());
            let files = (u64::from(disk.files()), u64::from(disk.files_available()));
            vec![of_bytes(bytes, there), of_files(files.0, files.1)]
        }
        Err(why) => vec![Point::mind(
            "disk",
            format!("how much room there is can't be told ({why})"),
            "look with `df -h`",
        )],
    }
}

#[cfg(not(target_os = "linux"))]
fn of_room(_: &Path) -> Vec<Point> {
    Vec::new()
}

#[cfg_attr(not(target_os = "linux"), allow(dead_code))]
fn of_bytes(bytes: u64, there: &Path) -> Point {
    let told = format!("{} MiB are free at {}", bytes >> 20, there.display());
    let to_do = "make room: `du -xh --max-depth=2 / | sort -h | tail` shows what takes it";
    match bytes {
        ..LEAST => Point::wrong("disk", told, to_do),
        LEAST..ENOUGH => Point::mind("disk", told, to_do),
        _ => Point::fine("disk", told),
    }
}

#[cfg_attr(not(target_os = "linux"), allow(dead_code))]
fn of_files(all: u64, free: u64) -> Point {
    let to_do = "remove small files that nobody needs: `df -i` shows where there are many";
    match free {
        // Some file systems make them as they are needed, and count none.
        _ if all == 0 => Point::fine("inodes", "the disk makes them as they are needed"),
        0 => Point::wrong("inodes", "the disk can hold no more files", to_do),
        1..FEW_FILES => Point::mind(
            "inodes",
            format!("the disk can hold {free} more files"),
            to_do,
        ),
        _ => Point::fine("inodes", format!("{free} are free")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn verdicts(keep: &Keep) -> Vec<(&'static str, Verdict)> {
        let points = look(keep);
        points
            .iter()
            .map(|point| (point.name, point.verdict))
            .collect()
    }

    #[test]
    fn a_directory_that_is_there_or_can_be_made_is_fine_and_left_as_it_was() {
        let home = tempfile::tempdir().unwrap();
        for path in [home.path().to_owned(), home.path().join("a/b")] {
            let points = look(&Keep::Directory(path.clone()));
            assert_eq!(
                (points[0].name, points[0].verdict),
                ("state", Verdict::Fine),
                "{points:?}"
            );
        }
        assert_eq!(fs::read_dir(home.path()).unwrap().count(), 0);
    }

    #[test]
    fn what_can_not_be_written_is_wrong() {
        let home = tempfile::tempdir().unwrap();
        let file = home.path().join("file");
        fs::write(&file, "").unwrap();
        let points = verdicts(&Keep::Directory(file.join("below")));
        assert_eq!(points[0], ("state", Verdict::Wrong));
        let points = verdicts(&Keep::Nowhere("no home".to_owned()));
        assert_eq!(points, [("state", Verdict::Wrong)]);
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn a_file_system_without_files_is_wrong() {
        // /proc takes no new files from anybody (proc(5)).
        let points = look(&Keep::Directory("/proc/litfloor".into()));
        assert_eq!(points[0].verdict, Verdict::Wrong, "{points:?}");
        assert!(points[0].told.contains("/proc"), "{points:?}");
    }

    #[cfg(unix)]
    #[test]
    fn a_directory_that_others_may_write_to_is_told() {
        use std::os::unix::fs::PermissionsExt;
        let home = tempfile::tempdir().unwrap();
        let told = |mode| {
            fs::set_permissions(home.path(), fs::Permissions::from_mode(mode)).unwrap();
            of_owner(home.path(), home.path())
        };
        assert_eq!(told(0o750), None);
        assert_eq!(told(0o770).unwrap().verdict, Verdict::Mind);
    }

    #[test]
    fn room_is_judged_by_what_a_night_and_a_year_need() {
        let of = |bytes| of_bytes(bytes, Path::new("/")).verdict;
        assert_eq!(of(0), Verdict::Wrong);
        assert_eq!(of(LEAST), Verdict::Mind);
        assert_eq!(of(ENOUGH), Verdict::Fine);
        assert_eq!(of_files(0, 0).verdict, Verdict::Fine);
        assert_eq!(of_files(100_000, 0).verdict, Verdict::Wrong);
        assert_eq!(of_files(100_000, 10).verdict, Verdict::Mind);
    }
}
