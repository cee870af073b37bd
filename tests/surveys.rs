//! Small surveys of a made-up floor, start to end; `benches/surveys.rs` runs thousands of big ones.

#[path = "support/surveyed.rs"]
mod surveyed;

use litfloor::health::Condition;
use litfloor::health::survey::{End, Room};
use surveyed::{Is, Kind, eight_sensors, faulty, one_sensor, survey, with_faults};

/// Twenty segments on one sensor: a few patterns decide.
fn small() -> Kind {
    Kind {
        segments: 20,
        noise_a: 0.2,
        offset_a: 0.2,
        step_a: 0.02,
        most_s: 60.0,
        ..one_sensor()
    }
}

#[test]
fn exactly_the_dead_are_named() {
    for (seed, dead) in (0..20).zip((0..4).cycle()) {
        let is = with_faults(20, dead, seed, |_| Is::Dead);
        let told = survey(&small(), &is, seed);
        assert_eq!(told.end, End::Decided, "{seed}");
        assert_eq!(told.faulty, faulty(&is), "{seed}");
        assert!(told.spent_s < 20.0, "{seed}: {}", told.spent_s);
    }
}

/// As behind an open data wire: there are many sets of so many that fit a few readings.
#[test]
fn most_of_a_feed_is_named_when_it_is_dead() {
    let floor = Kind {
        segments: 40,
        most_s: 120.0,
        ..small()
    };
    for seed in 0..6 {
        let is = with_faults(40, 14, seed, |_| Is::Dead);
        let told = survey(&floor, &is, seed);
        assert_eq!(told.end, End::Decided, "{seed}");
        assert_eq!(told.faulty, faulty(&is), "{seed}");
    }
}

#[test]
fn eight_sensors_at_once_are_faster_than_one() {
    let is = with_faults(64, 3, 7, |_| Is::Dead);
    let floor = |sensors| Kind {
        segments: 64,
        sensors,
        most_s: 120.0,
        ..eight_sensors()
    };
    let (many, one) = (survey(&floor(8), &is, 7), survey(&floor(1), &is, 7));
    assert_eq!((&many.faulty, &one.faulty), (&faulty(&is), &faulty(&is)));
    assert!(
        many.spent_s < one.spent_s,
        "{} {}",
        many.spent_s,
        one.spent_s
    );
}

#[test]
fn weak_ones_are_named_if_they_are_asked_for() {
    let kind = Kind {
        weak: true,
        noise_a: 0.05,
        ..small()
    };
    for seed in 0..5 {
        let is = with_faults(20, 2, seed, |chance| Is::Weak(0.4 + 0.35 * chance.even()));
        let told = survey(&kind, &is, seed);
        assert_eq!(told.faulty, faulty(&is), "{seed}");
        for at in told.faulty {
            let (Is::Weak(share), Condition::Weak(found)) = (is[at], told.conditions[at]) else {
                panic!("{seed}: {:?}", told.conditions[at]);
            };
            assert!((share - found).abs() < 0.1, "{seed}: {share} {found}");
        }
    }
}

/// Which of them is stuck takes a well known offset: without a sure word it is called dead, as it
/// does nothing of what it is told.
#[test]
fn one_that_always_draws_is_called_stuck_or_at_least_dead() {
    let kind = Kind {
        noise_a: 0.1,
        offset_a: 0.1,
        ..small()
    };
    let mut stuck = 0;
    for seed in 0..10 {
        let is = with_faults(20, 1, seed, |_| Is::Stuck(1.0));
        let told = survey(&kind, &is, seed);
        assert_eq!(told.faulty, faulty(&is), "{seed}");
        match told.conditions[told.faulty[0]] {
            Condition::Dead => {}
            // How weak a dead one may be was not asked for.
            Condition::Weak(share) if share < 0.4 => {}
            Condition::Stuck(share) if (0.6..1.4).contains(&share) => stuck += 1,
            other => panic!("{seed}: {other:?}"),
        }
    }
    assert!(stuck >= 5, "{stuck} of 10");
}

#[test]
fn a_survey_within_narrow_rooms_never_asks_for_more_and_still_finds() {
    // One room for all has a quarter of what all draw; one of half of them has two segments' worth.
    let rooms = vec![
        Room {
            items: (0..20).collect(),
            room_a: 0.25 * 20.0 * 0.78,
        },
        Room {
            items: (0..10).collect(),
            room_a: 1.6,
        },
    ];
    let kind = Kind { rooms, ..small() };
    for seed in 0..5 {
        let is = with_faults(20, 2, seed, |_| Is::Dead);
        let told = survey(&kind, &is, seed);
        assert!(told.worst_over_a <= 0.0, "{}", told.worst_over_a);
        assert_eq!(told.faulty, faulty(&is), "{seed}");
    }
}

#[test]
fn the_time_left_is_told_about_right() {
    let kind = Kind {
        noise_a: 1.0,
        ..small()
    };
    for seed in 0..5 {
        let told = survey(&kind, &with_faults(20, 1, seed, |_| Is::Dead), seed);
        let (guess_s, was_s) = told.guess_s.unwrap();
        assert!(
            (0.3..3.0).contains(&(guess_s / was_s)),
            "{seed}: {guess_s} {was_s}"
        );
    }
}

#[test]
fn a_wandering_offset_is_followed() {
    let kind = Kind {
        drift_a: 0.1,
        ..small()
    };
    for seed in 0..5 {
        let is = with_faults(20, 2, seed, |_| Is::Dead);
        assert_eq!(survey(&kind, &is, seed).faulty, faulty(&is), "{seed}");
    }
}

#[test]
fn what_noise_hides_is_left_unknown_when_time_is_up() {
    let kind = Kind {
        noise_a: 20.0,
        most_s: 5.0,
        ..small()
    };
    for seed in 0..5 {
        let told = survey(&kind, &with_faults(20, 3, seed, |_| Is::Dead), seed);
        assert_eq!(told.end, End::TimeIsUp);
        assert!(
            told.conditions
                .iter()
                .all(|condition| *condition == Condition::Unknown)
        );
    }
}
