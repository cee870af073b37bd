//! `litfloor book` as a process: what it prints where, and its exit status, for a sound book, a damaged one,
//! and none.

mod daemon;

use std::fs;
use std::path::{Path, PathBuf};
use std::time::{Duration, UNIX_EPOCH};

use daemon::ended;
use litfloor::store::book::{Book, BookPlace, Found, NAME};
use serde_json::Value;

/// A book with a few faults and many notes.
fn written(directory: &Path) -> PathBuf {
    let path = directory.join(NAME);
    let book = Book::open(&BookPlace::File(path.clone())).unwrap();
    for number in 0..60_u64 {
        let at = UNIX_EPOCH + Duration::from_secs(1_795_771_800 + number);
        let serial = format!("M{number:02}");
        let text = "The plug was cut off and a new one was put on. ".repeat(4);
        book.note(&serial, &text, "Ida", at).unwrap();
        if number % 20 == 0 {
            let found = Found {
                key: format!("C{number}/2-3/supply_open"),
                serial: Some(serial),
                position: Some(format!("C{number}")),
                cause: "supply_open".to_owned(),
                place: "joint between segments 2 and 3, supply side".to_owned(),
                text: "Segments 3 to 6 are dark.".to_owned(),
                sure: "certain".to_owned(),
                evidence: Some("Survey 3 found it dead.".to_owned()),
                same_place: Vec::new(),
            };
            book.found(&found, at).unwrap().unwrap();
        }
    }
    path
}

fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

#[test]
fn a_sound_book_is_checked_exported_and_copied() {
    let directory = tempfile::tempdir().unwrap();
    let path = written(directory.path());
    let before = fs::read(&path).unwrap();
    let state = text(directory.path());
    let (status, out, err) = ended(&["book", "check", "--state", state]);
    assert_eq!((status, err.as_str()), (0, ""), "{out}");
    assert!(out.contains("is whole"), "{out}");
    let (status, out, err) = ended(&["book", "export", "--state", state]);
    assert_eq!((status, err.as_str()), (0, ""));
    let all: Value = serde_json::from_str(&out).unwrap();
    assert_eq!(all["notes"].as_array().unwrap().len(), 60);
    assert_eq!(all["faults"][2]["key"], "C40/2-3/supply_open");
    let (status, out, _) = ended(&["book", "export", "--book", text(&path), "--format", "csv"]);
    assert_eq!((status, out.lines().count()), (0, 4), "{out}");
    let csv = directory.path().join("steps.csv");
    let arguments = [
        "book",
        "export",
        "--book",
        text(&path),
        "--format",
        "csv",
        "--table",
        "steps",
        "--out",
        text(&csv),
    ];
    assert_eq!(ended(&arguments), (0, String::new(), String::new()));
    assert!(
        fs::read_to_string(&csv)
            .unwrap()
            .contains("Survey 3 found it dead.")
    );
    let (status, out, err) = ended(&arguments);
    assert_eq!((status, out.as_str()), (3, ""), "nothing is written over");
    assert!(err.contains(text(&csv)), "{err}");
    let (status, _, err) = ended(&["book", "export", "--book", text(&path), "--table", "steps"]);
    assert_eq!(status, 2, "{err}");
    let (status, out, err) = ended(&["book", "recover", "--state", state]);
    assert_eq!((status, err.as_str()), (0, ""));
    let copy = directory.path().join("book-recovered.sqlite3");
    assert!(out.contains("copy") && out.contains(text(&copy)), "{out}");
    let export = |path: &Path| ended(&["book", "export", "--book", text(path)]);
    assert_eq!(export(&path), export(&copy));
    assert_eq!(fs::read(&path).unwrap(), before, "it was only read");
}

#[test]
fn a_damaged_book_is_refused_with_what_to_do_and_read_all_the_same() {
    let directory = tempfile::tempdir().unwrap();
    let path = written(directory.path());
    let mut file = fs::read(&path).unwrap();
    let middle = file.len() / 2;
    file[middle..middle + 4_096].fill(0);
    fs::write(&path, &file).unwrap();
    let state = text(directory.path());
    let (status, out, err) = ended(&["book", "check", "--state", state]);
    assert_eq!((status, out.as_str()), (1, ""), "{err}");
    for part in [
        "damaged",
        text(&path),
        "book recover",
        "book export",
        "lost",
    ] {
        assert!(err.contains(part), "{part} in\n{err}");
    }
    let (status, out, err) = ended(&["book", "export", "--state", state]);
    assert_eq!(status, 1, "{err}");
    let left: Value = serde_json::from_str(&out).unwrap();
    let rows: usize = left
        .as_object()
        .unwrap()
        .values()
        .map(|rows| rows.as_array().unwrap().len())
        .sum();
    assert!(rows > 60, "most of its 126 rows: {rows}");
    let (status, out, err) = ended(&["book", "recover", "--state", state]);
    assert_eq!((status, err.as_str()), (0, ""), "{out}");
    assert!(out.contains("kept") && out.contains("lost"), "{out}");
    let new = directory.path().join("book-recovered.sqlite3");
    assert_eq!(ended(&["book", "check", "--book", text(&new)]).0, 0);
    let (status, _, err) = ended(&["book", "recover", "--state", state]);
    assert_eq!(status, 3, "there is one already");
    assert!(err.contains("choose another"), "{err}");
    assert_eq!(fs::read(&path).unwrap(), file, "the old one is as it was");
}

#[test]
fn no_book_is_said_and_none_is_made() {
    let directory = tempfile::tempdir().unwrap();
    let state = text(directory.path());
    for what in ["check", "export", "recover"] {
        let (status, out, err) = ended(&["book", what, "--state", state]);
        assert_eq!((status, out.as_str()), (3, ""), "{err}");
        assert!(err.contains(NAME), "{err}");
    }
    assert_eq!(fs::read_dir(directory.path()).unwrap().count(), 0);
    let letter = directory.path().join("letter.txt");
    fs::write(&letter, "a letter to somebody").unwrap();
    let (status, _, err) = ended(&["book", "check", "--book", text(&letter)]);
    assert_eq!(status, 1);
    assert!(err.contains("no book of litfloor"), "{err}");
}
