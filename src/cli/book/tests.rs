use super::*;
use crate::book::Step;
use crate::floor::testing;
use crate::health::Judged;
use crate::health::joints::items_of;

fn keeper() -> Keeper {
    Keeper {
        book: Book::open(&BookPlace::Memory).unwrap(),
        proved: 0,
        failing: false,
    }
}

/// The test floor with serials on its panels.
fn floor() -> Floor {
    let mut floor = testing::floor();
    for (at, panel) in floor.panels.iter_mut().enumerate() {
        panel.serial = format!("M{at}");
    }
    floor
}

fn fault(position: &str, sure: Sureness, since_s: f64) -> FoundFault {
    FoundFault {
        key: format!("{position}/1/segment_dead"),
        cause: Cause::SegmentDead,
        place: format!("{position}, segment 1"),
        effect: "Segment 1 is dark.".to_owned(),
        position: Some(position.to_owned()),
        serial: None,
        segments: vec![1],
        behind: Vec::new(),
        sure,
        chance: 0.9999,
        here: if sure == Sureness::Possible {
            0.5
        } else {
            0.9999
        },
        alternatives: Vec::new(),
        same_place: Vec::new(),
        evidence: Vec::new(),
        since_s,
    }
}

fn known(faults: Vec<FoundFault>, uptime_s: f64, surveys: u32) -> Health {
    Health {
        uptime_s,
        surveys,
        faults,
        ..Health::default()
    }
}

/// A survey that found one panel so.
fn survey(floor: &Floor, panel: usize, ended: u32, condition: Condition) -> SurveyOutcome {
    let judged = Judged {
        condition,
        doubt: 0.0001,
    };
    let items = items_of(floor, panel);
    SurveyOutcome {
        ended,
        judged: items.into_iter().map(|item| (item, judged)).collect(),
        ..SurveyOutcome::default()
    }
}

fn nothing() -> SurveyOutcome {
    SurveyOutcome::default()
}

fn states(keeper: &Keeper) -> Vec<FaultState> {
    let rows = keeper.book.faults().unwrap();
    rows.iter().map(|row| row.state).collect()
}

fn say(keeper: &Keeper, state: FaultState) {
    let step = Step {
        state,
        who: "Ida".to_owned(),
        note: String::new(),
    };
    keeper.book.step(1, &step, now()).unwrap();
}

#[test]
fn what_stands_is_written_once_under_the_serial_that_lies_there() {
    let floor = floor();
    let position = floor.panels[1].position.to_string();
    let mut keeper = keeper();
    keeper.enter(&floor).unwrap();
    let mut see = |sure, uptime_s| {
        let health = known(vec![fault(&position, sure, 10.0)], uptime_s, 0);
        keeper.see(&health, &nothing(), &floor).unwrap();
        keeper.book.faults().unwrap()
    };
    assert_eq!(see(Sureness::Certain, 14.9), []);
    assert_eq!(see(Sureness::Possible, 60.0), []);
    let written = see(Sureness::Likely, 15.0);
    assert_eq!(written[0].serial.as_deref(), Some("M1"));
    assert_eq!(see(Sureness::Certain, 99.0).len(), 1);
    // Another litfloor on the same book.
    let mut next = Keeper {
        book: keeper.book.clone(),
        proved: 0,
        failing: false,
    };
    let health = known(vec![fault(&position, Sureness::Certain, 0.0)], 20.0, 0);
    next.enter(&floor).unwrap();
    next.see(&health, &nothing(), &floor).unwrap();
    assert_eq!(next.book.faults().unwrap().len(), 1);
    assert_eq!(next.book.panel("M1").unwrap().unwrap().positions.len(), 1);
}

#[test]
fn what_is_known_by_its_place_is_written_and_stays_one_fault_when_it_is_known_better() {
    let floor = floor();
    let position = floor.panels[1].position.to_string();
    let mut keeper = keeper();
    keeper.enter(&floor).unwrap();
    let key = |side: &str| format!("{position}/2-3/{side}");
    let side = |side: &str, sure| FoundFault {
        key: key(side),
        cause: Cause::SupplyOpen,
        place: format!("{position}, joint between segments 2 and 3, supply side or data side"),
        alternatives: vec!["the data side of it (open)".to_owned()],
        same_place: [key("supply_open"), key("data_open")]
            .into_iter()
            .filter(|other| *other != key(side))
            .collect(),
        here: 0.99,
        ..fault(&position, sure, 0.0)
    };
    let mut see = |fault: FoundFault| {
        let health = known(vec![fault], 60.0, 0);
        keeper.see(&health, &nothing(), &floor).unwrap();
        keeper.book.faults().unwrap()
    };
    let elsewhere = FoundFault {
        here: 0.89,
        ..side("supply_open", Sureness::Possible)
    };
    assert_eq!(see(elsewhere), []);
    let written = see(side("supply_open", Sureness::Possible));
    assert_eq!(written.len(), 1);
    assert_eq!(written[0].sure, "possible");
    assert!(written[0].place.ends_with("supply side or data side"));
    assert!(
        written[0]
            .text
            .contains("can't be told apart yet; or it is: the data side"),
        "{}",
        written[0].text
    );
    // It turns out to be the other side of the same joint.
    assert_eq!(see(side("data_open", Sureness::Certain)).len(), 1);
    // Said to be repaired, and a survey finds that it is not.
    say(&keeper, FaultState::Repaired);
    let health = known(vec![side("data_open", Sureness::Certain)], 70.0, 1);
    let dead = survey(&floor, 1, 1, Condition::Dead);
    keeper.see(&health, &dead, &floor).unwrap();
    assert_eq!(states(&keeper), [FaultState::Found]);
}

#[test]
fn two_certain_faults_at_one_place_are_two() {
    let floor = floor();
    let position = floor.panels[1].position.to_string();
    let mut keeper = keeper();
    let one = fault(&position, Sureness::Certain, 0.0);
    let other = FoundFault {
        key: format!("{position}/1/segment_weak"),
        same_place: vec![one.key.clone()],
        ..one.clone()
    };
    let health = known(vec![one, other], 60.0, 0);
    keeper.see(&health, &nothing(), &floor).unwrap();
    assert_eq!(states(&keeper).len(), 2);
}

#[test]
fn the_console_and_what_comes_back_are_no_repairs() {
    let mut lost = fault("A1", Sureness::Certain, 0.0);
    lost.cause = Cause::SignalLost;
    assert!(!stands(&lost, &known(vec![], 1_000.0, 0)));
    lost.cause = Cause::NodeSilent;
    assert!(!stands(&lost, &known(vec![], 29.0, 0)));
    assert!(stands(&lost, &known(vec![], 30.0, 0)));
}

#[test]
fn a_survey_proves_a_repair_or_finds_it_again() {
    let floor = floor();
    let position = floor.panels[1].position.to_string();
    let mut keeper = keeper();
    keeper.enter(&floor).unwrap();
    let faulty = |surveys| {
        known(
            vec![fault(&position, Sureness::Certain, 0.0)],
            60.0,
            surveys,
        )
    };
    keeper.see(&faulty(0), &nothing(), &floor).unwrap();
    // Nobody has worked at it, so a good survey proves nothing.
    let good = |ended| survey(&floor, 1, ended, Condition::Good);
    keeper
        .see(&known(vec![], 70.0, 1), &good(1), &floor)
        .unwrap();
    assert_eq!(states(&keeper), [FaultState::Found]);
    say(&keeper, FaultState::Repaired);
    // A survey of another panel, and one that the verdicts don't know of yet.
    let other = survey(&floor, 0, 2, Condition::Good);
    keeper.see(&known(vec![], 80.0, 2), &other, &floor).unwrap();
    keeper
        .see(&known(vec![], 80.0, 2), &good(3), &floor)
        .unwrap();
    assert_eq!(states(&keeper), [FaultState::Repaired]);
    // One whose readings fit nothing, whatever it found.
    let doubtful = |ended, condition| SurveyOutcome {
        doubtful: true,
        ..survey(&floor, 1, ended, condition)
    };
    let found_good = doubtful(3, Condition::Good);
    keeper
        .see(&known(vec![], 85.0, 3), &found_good, &floor)
        .unwrap();
    assert_eq!(states(&keeper), [FaultState::Repaired]);
    let found_dead = doubtful(4, Condition::Dead);
    keeper.see(&faulty(4), &found_dead, &floor).unwrap();
    assert_eq!(states(&keeper), [FaultState::Repaired]);
    // Still dead.
    let dead = survey(&floor, 1, 5, Condition::Dead);
    keeper.see(&faulty(5), &dead, &floor).unwrap();
    assert_eq!(states(&keeper), [FaultState::Found]);
    say(&keeper, FaultState::Repaired);
    keeper
        .see(&known(vec![], 90.0, 6), &good(6), &floor)
        .unwrap();
    assert_eq!(states(&keeper), [FaultState::Proved]);
    let row = keeper.book.fault(1).unwrap();
    let last = row.steps.last().unwrap();
    assert_eq!(last.who, "litfloor");
    assert!(
        last.evidence
            .as_deref()
            .unwrap()
            .starts_with("Survey 6 found all")
    );
}

#[test]
fn a_panel_takes_its_faults_along() {
    let floor = floor();
    let at = |panel: usize| floor.panels[panel].position.to_string();
    let mut keeper = keeper();
    keeper.enter(&floor).unwrap();
    let health = known(vec![fault(&at(1), Sureness::Certain, 0.0)], 60.0, 0);
    keeper.see(&health, &nothing(), &floor).unwrap();
    say(&keeper, FaultState::Repaired);
    keeper.book.place("M1", &at(2), "Noor", now()).unwrap();
    let there = |panel, ended| survey(&floor, panel, ended, Condition::Good);
    keeper
        .see(&known(vec![], 70.0, 1), &there(1, 1), &floor)
        .unwrap();
    assert_eq!(states(&keeper), [FaultState::Repaired]);
    keeper
        .see(&known(vec![], 80.0, 2), &there(2, 2), &floor)
        .unwrap();
    assert_eq!(states(&keeper), [FaultState::Proved]);
    // The floor file still says otherwise, and that stands back.
    keeper.enter(&floor).unwrap();
    let page = keeper.book.panel("M1").unwrap().unwrap();
    assert_eq!(page.position, Some(at(2)));
}

#[test]
fn where_there_is_no_place_no_book_is_kept() {
    let nowhere = open(&Place::Nowhere("no home".to_owned()));
    assert!(nowhere.book.is_none());
    assert_eq!(
        nowhere.not_kept.as_deref(),
        Some("No book of repairs is kept: no home.")
    );
    let directory = tempfile::tempdir().unwrap();
    let place = Place::Directory(directory.path().to_owned());
    assert!(open(&place).not_kept.is_none());
    let text = "no book at all, and longer than a head";
    std::fs::write(directory.path().join(NAME), text).unwrap();
    let refused = open(&place);
    assert!(refused.book.is_none());
    let told = refused.not_kept.unwrap();
    assert!(told.contains("no book of litfloor"), "{told}");
    let kept = std::fs::read_to_string(directory.path().join(NAME)).unwrap();
    assert_eq!(kept, text, "it is left as it is");
}
