//! What may not be written, and what can't be: nothing of it is in the book, and the next is.

use super::*;

/// Every pair of states, by what the pages offer and what a survey says.
#[test]
fn steps_that_may_be() {
    use FaultState::{BeingRepaired, Dismissed, Found, Proved, Repaired};
    let may = [
        (Found, vec![BeingRepaired, Repaired, Dismissed]),
        (BeingRepaired, vec![Found, Repaired, Proved, Dismissed]),
        (Repaired, vec![Found, BeingRepaired, Proved, Dismissed]),
        (Proved, vec![Found]),
        (Dismissed, vec![Found]),
    ];
    for (from, expected) in may {
        let next = FaultState::ALL
            .into_iter()
            .filter(|to| from.may_become(*to));
        assert_eq!(next.collect::<Vec<_>>(), expected, "{from:?}");
        assert_eq!(FaultState::of(from.word()), Some(from));
        assert_eq!(serde_json::to_value(from).unwrap(), from.word());
    }
}

#[test]
fn what_may_not_be_is_refused_and_leaves_no_trace() {
    let book = book();
    let fault = book.found(&found(), at(0)).unwrap().unwrap();
    let (version, before) = (book.version(), book.export().unwrap());
    let word = |refused: Result<FaultRow, NotDone>| refused.unwrap_err().word();
    let by = |who: &str, state| Step {
        state,
        who: who.to_owned(),
        note: String::new(),
    };
    let repaired = FaultState::Repaired;
    assert_eq!(
        word(book.step(fault.id, &by(" ", repaired), at(1))),
        "missing"
    );
    assert_eq!(
        word(book.step(fault.id, &by("Litfloor", repaired), at(1))),
        "not_that_name"
    );
    assert_eq!(
        word(book.step(fault.id, &by("I\nda", repaired), at(1))),
        "not_plain"
    );
    assert_eq!(
        word(book.step(fault.id, &by(&"x".repeat(999), repaired), at(1))),
        "too_long"
    );
    assert_eq!(
        word(book.step(99, &by("Ida", repaired), at(1))),
        "no_such_fault"
    );
    assert_eq!(
        word(book.step(fault.id, &by("Ida", FaultState::Found), at(1))),
        "not_from_there"
    );
    assert_eq!(
        word(book.prove(fault.id, "Survey 4 found it good.", at(1))),
        "not_from_there"
    );
    assert_eq!(word(book.fault(99)), "no_such_fault");
    let bench = |current| BenchEntry {
        passed: true,
        who: "Ida".to_owned(),
        note: String::new(),
        signature: Some(Signature::from([("red_a".to_owned(), current)])),
    };
    for current in [f64::NAN, f64::INFINITY, -1e9] {
        let refused = book.bench("M099", &bench(current), at(1));
        assert_eq!(refused.unwrap_err().word(), "no_current");
    }
    assert_eq!(
        book.note("M099", "\u{7}", "Ida", at(1)).unwrap_err().word(),
        "missing"
    );
    assert_eq!(
        book.place("", "A1", "Ida", at(1)).unwrap_err().word(),
        "missing"
    );
    assert_eq!(book.export().unwrap(), before);
    assert_eq!(book.version(), version);
}

/// `SQLite`'s own limit on the pages of a file, which fails just where a disk without room does.
#[test]
fn a_full_disk_refuses_and_forgets_nothing() {
    let directory = tempfile::tempdir().unwrap();
    let place = BookPlace::File(directory.path().join(NAME));
    let book = Book::open(&place).unwrap();
    let most = |pages: i64| {
        let connection = book.connection();
        connection
            .pragma_update(None, "max_page_count", pages)
            .unwrap();
    };
    let pages = book
        .connection()
        .pragma_query_value(None, "page_count", |row| row.get(0));
    most(pages.unwrap());
    let text = "The plug was cut off. ".repeat(20);
    let mut written = 0;
    let refused = loop {
        match book.note("M001", &text, "Ida", at(written)) {
            Ok(()) => written += 1,
            Err(why) => break why,
        }
    };
    assert!(matches!(refused, NotDone::Full), "{refused}");
    assert!(refused.of_machine());
    assert!(refused.to_string().contains("disk is full"), "{refused}");
    assert!(written > 0, "something had room");
    let notes = || book.panel("M001").unwrap().unwrap().notes.len() as u64;
    assert_eq!(notes(), written);
    // There is room again.
    most(1_000_000);
    book.note("M001", &text, "Ida", at(written)).unwrap();
    drop(book.clone());
    let again = Book::open(&place).unwrap();
    assert_eq!(
        again.panel("M001").unwrap().unwrap().notes.len() as u64,
        written + 1
    );
    assert_eq!(again.export().unwrap(), book.export().unwrap());
}

#[test]
fn a_book_that_can_not_be_written_refuses_until_it_can() {
    let book = book();
    book.note("M001", "before", "Ida", at(0)).unwrap();
    let only_read = |on: bool| {
        book.connection()
            .pragma_update(None, "query_only", on)
            .unwrap();
    };
    only_read(true);
    let refused = book.note("M001", "during", "Ida", at(1)).unwrap_err();
    assert!(matches!(refused, NotDone::ReadOnly(_)), "{refused}");
    assert_eq!(refused.word(), "read_only");
    only_read(false);
    book.note("M001", "after", "Ida", at(2)).unwrap();
    let page = book.panel("M001").unwrap().unwrap();
    let texts: Vec<_> = page.notes.iter().map(|note| note.text.as_str()).collect();
    assert_eq!(texts, ["before", "after"]);
}

/// What another program holds is waited for, then said; nothing is half done.
#[test]
fn a_book_that_another_program_holds_is_said() {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join(NAME);
    let book = Book::open(&BookPlace::File(path.clone())).unwrap();
    book.connection().busy_timeout(Duration::ZERO).unwrap();
    let other = Connection::open(&path).unwrap();
    other.execute_batch("BEGIN EXCLUSIVE").unwrap();
    let refused = book.note("M001", "x", "Ida", at(0)).unwrap_err();
    assert!(matches!(refused, NotDone::Held), "{refused}");
    other.execute_batch("ROLLBACK").unwrap();
    book.note("M001", "x", "Ida", at(0)).unwrap();
}

/// Moments are those of RFC 3339; the second by `date -u -d @951782400.007 --rfc-3339=ns`.
#[test]
fn moments_are_written_to_the_millisecond() {
    let moment = |ms| entry::stamp(UNIX_EPOCH + Duration::from_millis(ms));
    assert_eq!(moment(0), "1970-01-01T00:00:00.000Z");
    assert_eq!(moment(951_782_400_007), "2000-02-29T00:00:00.007Z");
    assert_eq!(moment(u64::MAX / 2), "9999-12-31T23:59:59.999Z");
    assert_eq!(entry::stamp(UNIX_EPOCH - Duration::from_secs(1)), moment(0));
}
