//! Damaged files: refused with what to do, and read as far as can be.

use std::fs;
use std::path::{Path, PathBuf};

use proptest::prelude::*;

use super::*;
use crate::store::book::recover::recover;
use crate::store::book::salvage::{Count, Looked, look};

/// A book of many pages, with every kind of row, and its contents.
fn large(directory: &Path, rounds: u64) -> (PathBuf, Contents) {
    let path = directory.join(NAME);
    let book = Book::open(&BookPlace::File(path.clone())).unwrap();
    // As fast as in memory: what is on the disk is not asked here.
    book.connection()
        .pragma_update(None, "synchronous", "off")
        .unwrap();
    for round in 0..rounds {
        let serial = format!("M{round:03}");
        let mut wish = found();
        wish.key = format!("C{round}/2-3/supply_open");
        wish.serial = Some(serial.clone());
        let fault = book.found(&wish, at(round)).unwrap().unwrap();
        book.step(fault.id, &step(FaultState::BeingRepaired), at(round))
            .unwrap();
        if round % 2 == 0 {
            book.step(fault.id, &step(FaultState::Repaired), at(round))
                .unwrap();
            book.prove(fault.id, "Survey 4 found it good.", at(round))
                .unwrap();
        }
        book.place(&serial, &format!("C{round}"), "Ida", at(round))
            .unwrap();
        let signature = Signature::from([
            ("dark_a".to_owned(), 0.041),
            ("white_a".to_owned(), 2.0),
            ("red_a".to_owned(), -0.25),
        ]);
        let test = BenchEntry {
            passed: round % 3 == 0,
            who: "Ida".to_owned(),
            note: "ü".repeat(usize::try_from(round % 7).unwrap()),
            signature: Some(signature),
        };
        book.bench(&serial, &test, at(round)).unwrap();
        // Some that need pages of their own.
        let long = if round % 10 == 0 { 3_900 } else { 20 };
        book.note(&serial, &"é".repeat(long), "Noor", at(round))
            .unwrap();
    }
    let contents = book.export().unwrap();
    (path, contents)
}

fn refused(path: &Path) -> NotOpened {
    let before = fs::read(path).unwrap();
    let refused = Book::open(&BookPlace::File(path.to_owned())).unwrap_err();
    assert_eq!(fs::read(path).unwrap(), before, "nothing was changed in it");
    refused
}

/// The bare pages say what `SQLite` says, which is who wrote them.
#[test]
fn bare_pages_are_read_as_sqlite_reads_them() {
    let directory = tempfile::tempdir().unwrap();
    let (path, contents) = large(directory.path(), 120);
    let scanned = pages::scan(&fs::read(&path).unwrap());
    assert_eq!(scanned.contents, contents);
    for ((form, rows), had) in contents::FORMS
        .iter()
        .zip(&contents.tables)
        .zip(scanned.had)
    {
        let last = rows.last_key_value().map(|(id, _)| *id);
        assert_eq!(had, last, "{}: it counts on", form.name);
        assert_eq!(
            i64::try_from(rows.len()).ok(),
            last,
            "{}: no gap",
            form.name
        );
    }
}

/// Without its head `SQLite` reads nothing at all; all rows are found but those of the first page, which has none.
#[test]
fn a_book_without_its_head_is_found_again() {
    let directory = tempfile::tempdir().unwrap();
    let (path, contents) = large(directory.path(), 40);
    let mut file = fs::read(&path).unwrap();
    file[..2_000].fill(0x5A);
    fs::write(&path, &file).unwrap();
    let said = refused(&path).to_string();
    for part in [
        "can't be used",
        path.to_str().unwrap(),
        "litfloor book recover",
    ] {
        assert!(said.contains(part), "{said}");
    }
    let new = directory.path().join("new.sqlite3");
    let recovered = recover(&path, &new, at(999)).unwrap();
    assert!(
        recovered.counts.iter().all(|count| count.lost == 0),
        "{recovered:?}"
    );
    let book = Book::open(&BookPlace::File(new.clone())).unwrap();
    assert_eq!(book.export().unwrap(), contents);
    assert_eq!(fs::read(&path).unwrap(), file, "the old file is as it was");
    let again = recover(&path, &new, at(999)).unwrap_err();
    assert!(again.to_string().contains("already"), "{again}");
    // It goes on where the old one was.
    let fault = book.by_hand(
        &ByHand {
            serial: Some("M001".to_owned()),
            position: None,
            text: "x".to_owned(),
            who: "Ida".to_owned(),
        },
        at(1_000),
    );
    assert_eq!(fault.unwrap().id, 41);
}

#[test]
fn a_book_that_was_cut_off_says_how_much_is_lost() {
    let directory = tempfile::tempdir().unwrap();
    let (path, contents) = large(directory.path(), 120);
    let file = fs::read(&path).unwrap();
    fs::write(&path, &file[..file.len() / 2 + 100]).unwrap();
    let why = refused(&path);
    assert!(matches!(why.flaw, Flaw::Damaged(_)), "{why}");
    let Looked {
        contents: left,
        counts,
        flaw,
    } = look(&path).unwrap();
    assert!(flaw.is_some());
    let mut lost = 0;
    for ((all, left), count) in contents.tables.iter().zip(&left.tables).zip(&counts) {
        assert!(
            left.iter().all(|(id, row)| all.get(id) == Some(row)),
            "nothing is made up"
        );
        assert_eq!(
            (count.kept + count.lost, count.at_least),
            (all.len() as u64, false),
            "{count:?}"
        );
        lost += count.lost;
    }
    assert!(
        lost > 0 && counts.iter().any(|count| count.kept > 0),
        "{counts:?}"
    );
    let new = directory.path().join("new.sqlite3");
    let recovered = recover(&path, &new, at(999)).unwrap();
    assert_eq!(
        recovered.counts, counts,
        "all that can be read is in the new one"
    );
    let book = Book::open(&BookPlace::File(new)).unwrap();
    assert!(
        book.faults()
            .unwrap()
            .iter()
            .all(|fault| !fault.steps.is_empty())
    );
}

#[test]
fn what_is_no_book_is_left_alone() {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join(NAME);
    fs::write(&path, "").unwrap();
    assert!(refused(&path).to_string().contains("it is empty"));
    fs::write(&path, "a letter to somebody ".repeat(500)).unwrap();
    assert!(matches!(refused(&path).flaw, Flaw::NoBook));
    assert!(matches!(look(&path).unwrap_err().flaw, Flaw::NoBook));
    fs::remove_file(&path).unwrap();
    let other = Connection::open(&path).unwrap();
    other.execute_batch("CREATE TABLE letters (text)").unwrap();
    drop(other);
    assert!(matches!(refused(&path).flaw, Flaw::NoBook));
    fs::remove_file(&path).unwrap();
    drop(Book::open(&BookPlace::File(path.clone())).unwrap());
    let newer = Connection::open(&path).unwrap();
    newer
        .pragma_update(None, "user_version", layout::LAYOUT + 1)
        .unwrap();
    drop(newer);
    assert!(matches!(refused(&path).flaw, Flaw::Newer(2)));
    assert!(matches!(look(&path).unwrap_err().flaw, Flaw::Newer(2)));
    let nowhere = directory.path().join("not there");
    assert!(matches!(look(&nowhere).unwrap_err().flaw, Flaw::NotHad(_)));
    assert!(!nowhere.exists());
}

/// A fault that says something else than its steps was changed by somebody else.
#[test]
fn a_book_that_contradicts_itself_is_refused() {
    let directory = tempfile::tempdir().unwrap();
    let (path, _) = large(directory.path(), 3);
    let other = Connection::open(&path).unwrap();
    other
        .execute("UPDATE faults SET state = 'dismissed' WHERE id = 2", [])
        .unwrap();
    drop(other);
    assert!(
        refused(&path).to_string().contains("fault 2"),
        "{}",
        refused(&path)
    );
    let new = directory.path().join("new.sqlite3");
    recover(&path, &new, at(999)).unwrap();
    let book = Book::open(&BookPlace::File(new)).unwrap();
    assert_eq!(book.fault(2).unwrap().state, FaultState::BeingRepaired);
}

/// The journal of a process that was killed is undone in a copy.
#[test]
fn a_journal_that_was_left_is_undone() {
    let directory = tempfile::tempdir().unwrap();
    let (path, contents) = large(directory.path(), 3);
    let left = directory.path().join("left");
    fs::create_dir(&left).unwrap();
    // Half a change, as it lies on the disk while it is made.
    let writer = Connection::open(&path).unwrap();
    writer
        .execute_batch("PRAGMA cache_size = 1; BEGIN")
        .unwrap();
    for _ in 0..200 {
        let text = "x".repeat(3_000);
        writer.execute("INSERT INTO notes (serial, at, who, text) VALUES ('M001', '2026-11-27T09:30:00.000Z', 'Ida', ?)", [text]).unwrap();
    }
    for name in [NAME.to_owned(), format!("{NAME}-journal")] {
        fs::copy(directory.path().join(&name), left.join(&name)).unwrap();
    }
    writer.execute_batch("ROLLBACK").unwrap();
    let before = fs::read(left.join(NAME)).unwrap();
    assert_ne!(
        before,
        fs::read(&path).unwrap(),
        "there is something to undo"
    );
    let looked = look(&left.join(NAME)).unwrap();
    assert!(looked.flaw.is_none(), "{:?}", looked.flaw);
    assert_eq!(looked.contents, contents);
    assert_eq!(
        fs::read(left.join(NAME)).unwrap(),
        before,
        "it is only looked at"
    );
    let book = Book::open(&BookPlace::File(left.join(NAME))).unwrap();
    assert_eq!(book.export().unwrap(), contents);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// Whatever is written over a book: it is refused, or reads as before but for what was hit; and what is
    /// recovered is a sound book of which every row that was not hit was there before.
    #[test]
    fn any_damage_is_survived(
        places in proptest::collection::vec((0.0_f64..1.0, any::<u8>(), 1_usize..600), 1..4),
        cut in proptest::option::of(0.3_f64..1.0),
    ) {
        let directory = tempfile::tempdir().unwrap();
        let (path, contents) = large(directory.path(), 25);
        let mut file = fs::read(&path).unwrap();
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, clippy::cast_precision_loss, reason = "a place in the file")]
        let place = |share: f64| (share * file.len() as f64) as usize;
        let places: Vec<_> = places.into_iter().map(|(share, byte, long)| (place(share), byte, long)).collect();
        let cut = cut.map(place);
        for (at, byte, long) in places {
            let end = (at + long).min(file.len());
            file[at..end].fill(byte);
        }
        file.truncate(cut.unwrap_or(file.len()));
        fs::write(&path, &file).unwrap();
        let opened = Book::open(&BookPlace::File(path.clone()));
        if let Ok(book) = &opened {
            let now = book.export().unwrap();
            for (now, before) in now.tables.iter().zip(&contents.tables) {
                prop_assert!(now.keys().eq(before.keys()), "a sound book has all its rows");
            }
        }
        drop(opened);
        let new = directory.path().join("new.sqlite3");
        if let Ok(recovered) = recover(&path, &new, at(999)) {
            let book = Book::open(&BookPlace::File(new)).unwrap();
            book.faults().unwrap();
            for Count { table, kept, lost, at_least } in recovered.counts {
                let all = contents.rows(table) as u64;
                prop_assert!(kept + lost >= all || at_least, "{table}: {kept} + {lost} of {all}");
            }
        }
    }
}
