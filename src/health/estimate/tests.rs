use super::*;
use crate::floor::testing;
use crate::health::Condition;
use crate::health::facts::{NodeFact, SensorFact, UniverseFact};
use crate::health::snapshot::{Cause, SegmentCondition, Sureness};

use proptest::prelude::*;

fn estimator() -> Estimator {
    let mut floor = testing::demo();
    for strip in floor
        .panel_kinds
        .iter_mut()
        .filter_map(|kind| kind.strip.as_mut())
    {
        strip.fed = crate::floor::model::Fed::Start;
    }
    let tables = Tables::compile(&floor);
    Estimator::new(Arc::new(floor), Arc::new(tables), 1)
}

/// A survey that found these items dead and all others good.
fn survey(estimator: &mut Estimator, dead: impl Fn(&Item) -> bool, s: u64) {
    let judged: Vec<(Item, Judged)> = estimator
        .joints()
        .items
        .iter()
        .map(|item| {
            let condition = if dead(item) {
                Condition::Dead
            } else {
                Condition::Good
            };
            (
                *item,
                Judged {
                    condition,
                    doubt: 1e-6,
                },
            )
        })
        .collect();
    estimator.judge(EvidenceKind::Survey, judged, Time::from_s(s));
}

fn facts(estimator: &Estimator) -> Facts {
    let online = NodeFact {
        online: true,
        last_reply_s: Some(1.0),
        short_circuits: Vec::new(),
    };
    Facts {
        nodes: vec![online; estimator.floor.nodes.len()],
        universes: vec![UniverseFact::default(); estimator.tables.universes.len()],
        sensors: vec![SensorFact::default(); estimator.floor.sensors.len()],
        ..Facts::default()
    }
}

#[test]
fn the_whole_story_of_a_joint() {
    let mut estimator = estimator();
    assert_eq!(estimator.health(Time::from_s(1)).faults, []);
    let panel = u32::try_from(estimator.floor.runs[0].panels[0]).unwrap();
    let position = estimator.floor.panels[panel as usize].position.to_string();
    survey(
        &mut estimator,
        |item| item.panel == panel && item.segment >= 2,
        10,
    );
    let health = estimator.health(Time::from_s(11));
    assert_eq!(health.faults.len(), 1, "{:#?}", health.faults);
    let fault = &health.faults[0];
    assert_eq!(fault.cause, Cause::SupplyOpen);
    assert_eq!(
        fault.place,
        format!("{position}, joint between segments 2 and 3, supply side")
    );
    assert_eq!(fault.key, format!("{position}/2-3/supply_open"));
    assert_eq!(fault.evidence.len(), 1);
    assert!((fault.since_s - 11.0).abs() < 1e-9);
    let segments = &health.panels[panel as usize].segments;
    assert_eq!(segments[1].condition, SegmentCondition::Good);
    assert_eq!(segments[2].condition, SegmentCondition::Dead);
    // It stays the same fault, and a survey after the repair ends it.
    let later = estimator.health(Time::from_s(500));
    assert!((later.faults[0].since_s - 11.0).abs() < 1e-9);
    survey(&mut estimator, |_| false, 600);
    assert_eq!(estimator.health(Time::from_s(601)).faults, []);
}

/// A survey of these panels alone: those segments are dead.
fn survey_of(estimator: &mut Estimator, panels: &[u32], dead: impl Fn(&Item) -> bool, s: u64) {
    let items = estimator.joints().items.clone();
    let judged = items
        .into_iter()
        .filter(|item| panels.contains(&item.panel));
    let judged = judged.map(|item| {
        let condition = if dead(&item) {
            Condition::Dead
        } else {
            Condition::Good
        };
        let doubt = 1e-6;
        (item, Judged { condition, doubt })
    });
    let judged: Vec<(Item, Judged)> = judged.collect();
    estimator.judge(EvidenceKind::Survey, judged, Time::from_s(s));
}

#[test]
fn where_one_panel_alone_was_surveyed_the_place_is_known_and_the_side_is_not() {
    let mut estimator = estimator();
    let panel = u32::try_from(estimator.floor.runs[0].panels[2]).unwrap();
    let position = estimator.floor.panels[panel as usize].position.to_string();
    let behind = |item: &Item| item.panel == panel && item.segment >= 2;
    survey_of(&mut estimator, &[panel], behind, 10);
    let health = estimator.health(Time::from_s(11));
    assert_eq!(health.faults.len(), 1, "{:#?}", health.faults);
    let fault = &health.faults[0];
    assert_eq!(fault.sure, Sureness::Possible);
    assert!(fault.is_known_by_place(), "{fault:#?}");
    assert_eq!(
        fault.place,
        format!("{position}, joint between segments 2 and 3, supply side or data side")
    );
    let data = format!("{position}/2-3/data_open");
    assert!(fault.same_place.contains(&data), "{fault:#?}");
    assert!(!fault.same_place.contains(&fault.key));
    // By Bayes' rule, with what a joint's sides are taken to break: 5 to 2.5, and hardly anything else.
    assert!((fault.chance - 2.0 / 3.0).abs() < 0.01, "{fault:#?}");
    // Once the panel behind is known to be lit it is the supply.
    let next = u32::try_from(estimator.floor.runs[0].panels[3]).unwrap();
    survey_of(&mut estimator, &[panel, next], behind, 20);
    let health = estimator.health(Time::from_s(21));
    assert!(health.faults[0].sure <= Sureness::Likely);
    assert!(health.faults[0].place.ends_with(", supply side"));
}

#[test]
fn a_panel_that_is_dark_by_something_far_away_is_not_known_by_its_place() {
    let mut estimator = estimator();
    let run = estimator.floor.runs[0].panels.clone();
    let number = |at: usize| u32::try_from(run[at]).unwrap();
    let whole = |item: &Item| item.panel == number(3);
    // The data may be open anywhere before it, and the feed's fuse blown.
    survey_of(&mut estimator, &[number(3)], whole, 10);
    let health = estimator.health(Time::from_s(11));
    assert_eq!(health.faults.len(), 1, "{:#?}", health.faults);
    assert!(
        !health.faults[0].is_known_by_place(),
        "{:#?}",
        health.faults
    );
    // What lies before it is lit, and what hangs on its fuse: so it is the wires that come in there, of
    // whatever side.
    let feed = &estimator.floor.feeds[estimator.floor.panels[run[3]].feed];
    let beside = feed
        .panels
        .iter()
        .find(|at| !run[3..].contains(at))
        .unwrap();
    let beside = u32::try_from(*beside).unwrap();
    survey_of(&mut estimator, &[number(2), number(3), beside], whole, 20);
    let health = estimator.health(Time::from_s(21));
    let fault = &health.faults[0];
    assert!(fault.is_known_by_place(), "{fault:#?}");
    let at = |at: usize| estimator.floor.panels[run[at]].position.to_string();
    assert_eq!(
        fault.place,
        format!(
            "{}, supply where it enters the panel, or its cable; or data between {} and {}",
            at(3),
            at(2),
            at(3)
        )
    );
}

#[test]
fn a_silent_node_explains_its_panels() {
    let mut estimator = estimator();
    let of_node = |estimator: &Estimator, panel: u32| {
        estimator.floor.runs[estimator.floor.panels[panel as usize].run].node == Some(0)
    };
    let mut known = facts(&estimator);
    known.nodes[0] = NodeFact {
        online: false,
        last_reply_s: Some(14.0),
        short_circuits: Vec::new(),
    };
    let dead: Vec<u32> = (0..u32::try_from(estimator.floor.panels.len()).unwrap())
        .filter(|panel| of_node(&estimator, *panel))
        .collect();
    survey(&mut estimator, |item| dead.contains(&item.panel), 10);
    estimator.know(known.clone(), Time::from_s(11));
    let health = estimator.health(Time::from_s(11));
    assert_eq!(health.faults.len(), 1, "{:#?}", health.faults);
    assert_eq!(health.faults[0].cause, Cause::NodeSilent);
    assert!(health.faults[0].place.contains("silent 14 s"));
    assert_eq!(health.faults[0].behind.len(), dead.len());
    // When it answers again, that it was away is told for a while.
    survey(&mut estimator, |_| false, 20);
    let answers = facts(&estimator);
    estimator.know(answers, Time::from_s(21));
    let causes = |estimator: &mut Estimator, s| -> Vec<Cause> {
        let health = estimator.health(Time::from_s(s));
        health.faults.iter().map(|fault| fault.cause).collect()
    };
    assert_eq!(causes(&mut estimator, 22), [Cause::NodeRestarted]);
    assert_eq!(causes(&mut estimator, 400), []);
}

#[test]
fn what_somebody_says_stands_until_it_is_taken_back() {
    let mut estimator = estimator();
    let position = estimator.floor.panels[0].position.to_string();
    let now = Time::from_s(5);
    let id = estimator.report(&position, None, Says::Dark, now).unwrap();
    let health = estimator.health(now);
    assert_eq!(health.faults[0].cause, Cause::Reported);
    assert_eq!(health.faults[0].sure, Sureness::Possible);
    assert_eq!(health.faults[0].evidence[0].id, id);
    estimator.withdraw(id).unwrap();
    assert_eq!(estimator.health(now).faults, []);
    assert_eq!(estimator.withdraw(id), Err(NotTaken::NoEvidence(id)));
    let no = estimator.report("ZZ9", None, Says::Dark, now);
    assert_eq!(no, Err(NotTaken::NoPanel("ZZ9".to_owned())));
    assert!(
        estimator
            .report(&position, Some(0), Says::Dark, now)
            .is_err()
    );
    assert!(
        estimator
            .report(&position, Some(99), Says::Dark, now)
            .is_err()
    );
}

#[test]
fn current_that_lacks_is_told_until_a_survey_says_what_it_is() {
    let mut estimator = estimator();
    if estimator.floor.sensors.is_empty() {
        let mut floor = (*estimator.floor).clone();
        floor.sensors.push(crate::floor::model::Sensor {
            name: "clamp".to_owned(),
            of: crate::floor::model::Measured::Supply(0),
            quantity: crate::floor::model::Quantity::Current,
            tolerance_percent: 5.0,
            every_s: 1.0,
            topic: None,
            factor: 1.0,
        });
        let tables = Arc::clone(&estimator.tables);
        estimator.replace(Arc::new(floor), tables, 2);
    }
    let mut known = facts(&estimator);
    known.sensors[0].lacks_a = Some(1.5);
    estimator.know(known, Time::from_s(3));
    let health = estimator.health(Time::from_s(3));
    assert_eq!(health.faults[0].cause, Cause::CurrentShort, "{health:#?}");
    let feeds: Vec<usize> = (0..estimator.floor.panels.len())
        .filter(|panel| estimator.floor.feeds[estimator.floor.panels[*panel].feed].supply == 0)
        .collect();
    let panel = u32::try_from(feeds[0]).unwrap();
    survey(
        &mut estimator,
        |item| item.panel == panel && item.segment >= 2,
        4,
    );
    let health = estimator.health(Time::from_s(5));
    assert!(
        health
            .faults
            .iter()
            .all(|fault| fault.cause != Cause::CurrentShort),
        "{health:#?}"
    );
}

#[test]
fn reports_stay_with_their_position_when_the_floor_is_read_again() {
    let mut estimator = estimator();
    let position = estimator.floor.panels[3].position.to_string();
    estimator
        .report(&position, None, Says::Flickers, Time::from_s(1))
        .unwrap();
    let mut floor = (*estimator.floor).clone();
    floor.panels[3].kind = estimator.floor.panels[3].kind;
    floor.name = "another".to_owned();
    let tables = Arc::new(Tables::compile(&floor));
    estimator.replace(Arc::new(floor), tables, 2);
    let health = estimator.health(Time::from_s(2));
    assert_eq!(health.faults[0].position.as_ref(), Some(&position));
    assert_eq!(health.revision, 2);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]

    /// Whatever was said and seen, withdrawing all of it leaves no fault.
    #[test]
    fn without_evidence_there_is_no_fault(
        said in prop::collection::vec((0..50_usize, 0..4_u8, any::<bool>()), 0..12),
        dead in prop::collection::vec(any::<bool>(), 64),
    ) {
        let mut estimator = estimator();
        let now = Time::from_s(9);
        for (panel, says, whole) in said {
            let panel = panel % estimator.floor.panels.len();
            let position = estimator.floor.panels[panel].position.to_string();
            let says = [Says::Dark, Says::Flickers, Says::WrongColour, Says::FineNow][usize::from(says)];
            estimator.report(&position, (!whole).then_some(1), says, now).unwrap();
        }
        survey(&mut estimator, |item| dead[(item.panel * 7 + item.segment) as usize % 64], 5);
        let health = estimator.health(now);
        let mut keys: Vec<&String> = health.faults.iter().map(|fault| &fault.key).collect();
        keys.sort();
        keys.dedup();
        prop_assert_eq!(keys.len(), health.faults.len());
        for fault in &health.faults {
            prop_assert!(fault.here >= fault.chance && fault.here <= 1.0, "{:?}", fault);
        }
        for id in 0..100 {
            let _ = estimator.withdraw(id);
        }
        prop_assert_eq!(estimator.health(now).faults, []);
    }
}
