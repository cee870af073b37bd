//! Patterns, refusals, and what is said without evidence. Whole surveys are in `tests/surveys.rs`.

use proptest::prelude::*;

use super::*;

fn spec(items: u32) -> SurveySpec {
    let item = SurveyItem {
        full_a: 0.8,
        sensors: vec![0],
    };
    SurveySpec {
        items: vec![item; items as usize],
        sensors: vec![SurveySensor {
            noise_a: 0.5,
            ..SurveySensor::default()
        }],
        most_s: 30.0,
        ..SurveySpec::default()
    }
}

#[test]
fn without_readings_nothing_is_said_and_time_runs_out() {
    let mut survey = Survey::new(spec(10)).unwrap();
    let mut patterns = 0;
    let end = loop {
        patterns += 1;
        // Neither is a reading: no number, no such sensor.
        survey.read(0, f64::NAN, &[0.8; 10]);
        survey.read(1, 1.0, &[0.8; 10]);
        survey.read(0, 1.0, &[0.8; 3]);
        if let Step::Done(end) = survey.advance() {
            break end;
        }
    };
    assert_eq!((end, patterns), (End::TimeIsUp, 150));
    assert!(survey.judged().iter().all(|judged| *judged == UNKNOWN));
    let progress = survey.progress();
    assert_eq!(
        (progress.decided, progress.items, progress.left_s),
        (0, 10, None)
    );
}

#[test]
fn what_cannot_be_is_refused() {
    let refused = |change: fn(&mut SurveySpec)| {
        let mut spec = spec(4);
        change(&mut spec);
        Survey::new(spec).map(|_| ()).unwrap_err().to_string()
    };
    let nobody =
        "no sensor sees anything that may be lit: add a sensor to the floor file, or survey by eye";
    assert_eq!(
        refused(|spec| spec.items.iter_mut().for_each(|item| item.sensors.clear())),
        nobody
    );
    assert_eq!(refused(|spec| spec.items.clear()), nobody);
    let dark = |spec: &mut SurveySpec| {
        spec.rooms = vec![Room {
            items: vec![0, 1, 2, 3],
            room_a: -1.0,
        }];
    };
    assert_eq!(refused(dark), nobody);
    assert_eq!(
        refused(|spec| spec.items[2].sensors = vec![3]),
        "item 2: it names a sensor that is not there"
    );
    let told = refused(|spec| spec.items[1].full_a = f64::NAN);
    assert_eq!(
        told,
        "item 1: its current must be a number that is not negative"
    );
    assert!(refused(|spec| spec.sensors[0].factor = 0.0).starts_with("sensor 0: "));
    assert!(refused(|spec| spec.miss = 0.0).starts_with("survey 0: "));
}

#[test]
fn a_sensor_is_given_time_to_settle() {
    assert!((Survey::new(spec(4)).unwrap().hold_s() - 0.2).abs() < 1e-12);
    let mut slow = spec(4);
    slow.sensors[0].lag_s = 0.5;
    slow.sensors[0].every_s = 1.0;
    slow.sensors[0].noise_a = 1e-6;
    slow.least_hold_s = 0.0;
    assert!((Survey::new(slow).unwrap().hold_s() - 3.0).abs() < 1e-12);
}

#[test]
fn an_item_that_is_too_much_for_its_room_is_dimmed() {
    let mut tight = spec(4);
    tight.rooms = vec![Room {
        items: vec![1],
        room_a: 0.4,
    }];
    let mut survey = Survey::new(tight).unwrap();
    let mut levels = std::collections::BTreeSet::new();
    for _ in 0..20 {
        levels.insert(survey.light()[1]);
        survey.advance();
    }
    assert_eq!(levels.into_iter().collect::<Vec<_>>(), [0, 127]);
}

proptest! {
    #[test]
    fn no_pattern_asks_for_more_than_a_room_has_and_every_item_gets_its_turn(
        items in 2_u32..40,
        cuts in prop::collection::vec((0_u32..40, 0_u32..40, 0.5_f64..8.0), 0..4),
        seed in any::<u64>(),
    ) {
        let mut spec = SurveySpec { seed, ..spec(items) };
        for (from, to, room_a) in cuts {
            spec.rooms.push(Room { items: (from.min(items)..to.min(items)).collect(), room_a });
        }
        let rooms = spec.rooms.clone();
        let mut survey = Survey::new(spec).unwrap();
        let mut lit = vec![0; items as usize];
        let mut dark = 0;
        for _ in 0..100 {
            for room in &rooms {
                let levels = room.items.iter().map(|item| f64::from(survey.light()[*item as usize]));
                let asked: f64 = levels.map(|level| 0.8 * level / 255.0).sum();
                prop_assert!(asked <= room.room_a + 1e-9, "{} of {}", asked, room.room_a);
            }
            for (times, level) in lit.iter_mut().zip(survey.light()) {
                *times += u32::from(*level > 0);
            }
            dark += u32::from(survey.light().iter().all(|level| *level == 0));
            prop_assert!(survey.hold_s() >= LEAST_HOLD_S);
            survey.advance();
        }
        prop_assert!(lit.iter().all(|times| *times > 0), "{:?}", lit);
        prop_assert!(dark >= 3);
    }
}
