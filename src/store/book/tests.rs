//! The book in memory: what is written is there, and what may not be is refused.

use std::time::{Duration, SystemTime, UNIX_EPOCH};

use super::*;

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
    use FaultState::{BeingRepaired, Found, Proved, Repaired};
    let expected = [
        (Found, DAEMON),
        (BeingRepaired, "Ida"),
        (Repaired, "Ida"),
        (Proved, DAEMON),
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
