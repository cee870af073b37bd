//! What is written into the book is there.

use std::time::{Duration, SystemTime, UNIX_EPOCH};

use super::*;

mod damage;
mod model;
mod refused;

/// So many seconds after a moment of 2026.
fn at(s: u64) -> SystemTime {
    UNIX_EPOCH + Duration::from_secs(1_795_771_800 + s)
}

fn book() -> Book {
    Book::open(&BookPlace::Memory).unwrap()
}

fn found() -> Found {
    Found {
        key: "C4/2-3/supply_open".to_owned(),
        serial: Some("M017".to_owned()),
        position: Some("C4".to_owned()),
        cause: "supply_open".to_owned(),
        place: "C4, joint between segments 2 and 3, supply side".to_owned(),
        text: "Segments 3 to 6 are dark.".to_owned(),
        sure: "certain".to_owned(),
        evidence: Some("Survey 3 found it dead.".to_owned()),
        same_place: Vec::new(),
    }
}

fn step(state: FaultState) -> Step {
    Step {
        state,
        who: "Ida".to_owned(),
        note: "cold joint".to_owned(),
    }
}

#[test]
fn a_fault_goes_from_found_to_proved() {
    let book = book();
    let before = book.version();
    let fault = book.found(&found(), at(0)).unwrap().unwrap();
    assert!(book.found(&found(), at(1)).unwrap().is_none(), "it is open");
    book.step(fault.id, &step(FaultState::BeingRepaired), at(2))
        .unwrap();
    book.step(fault.id, &step(FaultState::Repaired), at(3))
        .unwrap();
    let wish = book.step(fault.id, &step(FaultState::Proved), at(4));
    assert!(matches!(wish, Err(NotDone::OnlyBySurvey)));
    let proved = book
        .prove(fault.id, "Survey 4 found it good.", at(5))
        .unwrap();
    assert!(!proved.open);
    assert_eq!(book.version(), before + 4, "one for each change");
    let steps: Vec<_> = proved
        .steps
        .iter()
        .map(|s| (s.state, s.who.as_str()))
        .collect();
    let expected = [
        (FaultState::Found, DAEMON),
        (FaultState::BeingRepaired, "Ida"),
        (FaultState::Repaired, "Ida"),
        (FaultState::Proved, DAEMON),
    ];
    assert_eq!(steps, expected);
    // By `date -u -d @1795771800 +%FT%T`.
    assert_eq!(proved.found_at, "2026-11-27T09:30:00.000Z");
    assert_eq!(book.faults().unwrap(), [proved]);
    // The same joint again is a fault of its own.
    let again = book.found(&found(), at(6)).unwrap().unwrap();
    assert_ne!(again.id, fault.id);
    let reopened = book.step(fault.id, &step(FaultState::Found), at(7));
    assert!(matches!(reopened, Err(NotDone::OpenAgain { open }) if open == again.id));
}

#[test]
fn a_panel_moves_and_leaves_its_place() {
    let book = book();
    book.place("M001", "A1", "Ida", at(0)).unwrap();
    book.place("M002", "B1", "Ida", at(1)).unwrap();
    let version = book.version();
    book.place("M001", "A1", "Noor", at(2)).unwrap();
    assert_eq!(book.version(), version, "it lies there already");
    // It takes the other's place, and its own is free.
    book.place("M001", "B1", "Noor", at(3)).unwrap();
    let placed = book.placed().unwrap();
    assert_eq!(placed.len(), 1);
    assert_eq!(
        (placed[0].position.as_str(), placed[0].serial.as_str()),
        ("B1", "M001")
    );
    let page = book.panel("M001").unwrap().unwrap();
    assert_eq!(page.position.as_deref(), Some("B1"));
    let spans: Vec<_> = page
        .positions
        .iter()
        .map(|span| (span.position.as_str(), span.to.as_deref()))
        .collect();
    assert_eq!(
        spans,
        [("A1", Some("2026-11-27T09:30:03.000Z")), ("B1", None)]
    );
    assert_eq!(book.panel("M002").unwrap().unwrap().position, None);
    assert!(book.unplace("B1", at(4)).unwrap());
    assert!(!book.unplace("B1", at(5)).unwrap());
    assert!(book.panel("M003").unwrap().is_none());
}

#[test]
fn the_book_knows_what_lies_where() {
    let book = book();
    book.place("M005", "E1", "Ida", at(0)).unwrap();
    let seen = |serial: Option<&str>, position: Option<&str>| ByHand {
        serial: serial.map(str::to_owned),
        position: position.map(str::to_owned),
        text: "The plate is cracked in one corner.".to_owned(),
        who: "Noor".to_owned(),
    };
    let by_place = book.by_hand(&seen(None, Some("E1")), at(1)).unwrap();
    assert_eq!(by_place.serial.as_deref(), Some("M005"));
    let by_serial = book.by_hand(&seen(Some("M005"), None), at(2)).unwrap();
    assert_eq!(by_serial.position.as_deref(), Some("E1"));
    assert_eq!(by_serial.key, format!("hand/{}", by_serial.id));
    assert_eq!(by_serial.cause, "reported");
    let nowhere = book.by_hand(&seen(None, Some(" ")), at(3));
    assert!(matches!(nowhere, Err(NotDone::Nowhere)));
    // A fault stays where it was found when its panel goes on.
    book.place("M005", "F2", "Ida", at(4)).unwrap();
    let row = book.fault(by_place.id).unwrap();
    assert_eq!(row.position.as_deref(), Some("E1"));
    let panels = book.panels().unwrap();
    assert_eq!((panels.len(), panels[0].open_faults), (1, 2));
    assert_eq!(book.panel("M005").unwrap().unwrap().faults.len(), 2);
}

#[test]
fn a_bench_test_keeps_its_signature() {
    let book = book();
    let signature = Signature::from([("dark_a".to_owned(), 0.041), ("white_a".to_owned(), 2.0)]);
    let test = |passed, signature: Option<&Signature>| BenchEntry {
        passed,
        who: "Ida".to_owned(),
        note: String::new(),
        signature: signature.cloned(),
    };
    book.bench("M017", &test(false, None), at(0)).unwrap();
    book.bench("M017", &test(true, Some(&signature)), at(1))
        .unwrap();
    book.note("M017", "New plug.\nOn the supply side.", "Ida", at(2))
        .unwrap();
    let page = book.panel("M017").unwrap().unwrap();
    assert_eq!(page.benches[0].signature, None);
    assert_eq!(page.benches[1].signature.as_ref(), Some(&signature));
    assert_eq!(page.notes[0].text, "New plug.\nOn the supply side.");
    let signed = book.signatures("M017").unwrap();
    assert_eq!(signed.len(), 1);
    assert!(signed[0].passed);
    let last = book.panels().unwrap()[0].last_bench.clone().unwrap();
    assert_eq!(last.at, "2026-11-27T09:30:01.000Z");
}

/// The tables say what `contents` says of them, and `SQLite` holds every row to it.
#[test]
fn tables_are_as_they_are_described() {
    let book = book();
    let connection = book.connection();
    for form in &contents::FORMS {
        let strict = "SELECT strict FROM pragma_table_list WHERE name = ?";
        let strict: bool = connection
            .query_row(strict, [form.name], |row| row.get(0))
            .unwrap();
        assert!(strict, "{}", form.name);
        let columns = "SELECT name, type, \"notnull\" FROM pragma_table_info(?) ORDER BY cid";
        let mut columns = connection.prepare(columns).unwrap();
        let columns = columns.query_map([form.name], |row| {
            Ok((row.get(0)?, row.get(1)?, row.get(2)?))
        });
        let columns: Vec<(String, String, bool)> = columns.unwrap().map(Result::unwrap).collect();
        assert_eq!(columns[0].0, "id");
        let described = form.columns.iter().map(|(name, kind)| {
            let (kind, must) = match kind {
                contents::Kind::Integer => ("INTEGER", true),
                contents::Kind::Real => ("REAL", true),
                contents::Kind::Text => ("TEXT", true),
                contents::Kind::MayLack => ("TEXT", false),
            };
            ((*name).to_owned(), kind.to_owned(), must)
        });
        assert_eq!(
            columns[1..],
            described.collect::<Vec<_>>()[..],
            "{}",
            form.name
        );
    }
}

/// What is kept shows in CSV as a reader of that standard finds it: `csv`'s own.
#[test]
fn the_faults_are_exported_step_by_step() {
    let book = book();
    let mut wild = found();
    wild.text = "Says \"dark\", and\nflickers".to_owned();
    let fault = book.found(&wild, at(0)).unwrap().unwrap();
    book.step(fault.id, &step(FaultState::BeingRepaired), at(1))
        .unwrap();
    let mut text = Vec::new();
    book.export().unwrap().faults_csv(&mut text).unwrap();
    let mut rows = csv::Reader::from_reader(text.as_slice());
    let head = rows.headers().unwrap().clone();
    let at = |name: &str| head.iter().position(|field| field == name).unwrap();
    let rows: Vec<_> = rows.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), 2);
    assert_eq!(&rows[0][at("text")], wild.text);
    assert_eq!(&rows[1][at("step")], "being_repaired");
    assert_eq!(&rows[1][at("step_note")], "cold joint");
    assert_eq!(&rows[1][at("state")], "being_repaired");
}
