//! A made-up floor under survey: what its segments really draw, and what its sensors really say. It
//! shares nothing with the estimator but the words in which a survey is asked for.

#[path = "dice.rs"]
#[allow(dead_code, reason = "others need more of it")]
mod dice;

use litfloor::health::Condition;
use litfloor::health::survey::{End, Room, Step, Survey, SurveyItem, SurveySensor, SurveySpec};

pub(crate) use dice::Dice as Chance;

/// What is wrong with a segment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Is {
    Good,
    Dead,
    Weak(f64),
    /// Draws this share whatever it is told.
    Stuck(f64),
}

/// One kind of floor.
#[derive(Debug, Clone)]
pub(crate) struct Kind {
    pub(crate) segments: usize,
    pub(crate) full_a: f64,
    /// Equal shares of the floor, each on a sensor of its own.
    pub(crate) sensors: usize,
    pub(crate) noise_a: f64,
    pub(crate) step_a: f64,
    pub(crate) offset_a: f64,
    /// Random walk of the offset, in a second.
    pub(crate) drift_a: f64,
    /// Seconds from reading to reading; the first comes that long after a pattern began.
    pub(crate) every_s: f64,
    /// Whether weak ones must be found.
    pub(crate) weak: bool,
    pub(crate) rooms: Vec<Room>,
    pub(crate) most_s: f64,
}

/// 256 segments of 0.78 A on one 200 A sensor with 1 A noise, ten readings a second.
pub(crate) fn one_sensor() -> Kind {
    Kind {
        segments: 256,
        full_a: 0.78,
        sensors: 1,
        noise_a: 1.0,
        step_a: 0.1,
        offset_a: 1.0,
        drift_a: 0.0,
        every_s: 0.1,
        weak: false,
        rooms: Vec::new(),
        most_s: 600.0,
    }
}

/// The same on eight feed sensors of 25 A with 0.125 A noise.
pub(crate) fn eight_sensors() -> Kind {
    Kind {
        sensors: 8,
        noise_a: 0.125,
        step_a: 0.0125,
        offset_a: 0.125,
        ..one_sensor()
    }
}

/// What came of one survey.
#[derive(Debug, Clone)]
pub(crate) struct Told {
    pub(crate) end: End,
    pub(crate) spent_s: f64,
    /// Called dead, weak or stuck, in order.
    pub(crate) faulty: Vec<usize>,
    pub(crate) conditions: Vec<Condition>,
    /// The most that a room was asked for beyond what it has.
    pub(crate) worst_over_a: f64,
    /// What the survey said of the time left after a third of it, and what it was.
    pub(crate) guess_s: Option<(f64, f64)>,
}

fn spec(kind: &Kind, seed: u64) -> SurveySpec {
    let share = kind.segments.div_ceil(kind.sensors);
    let item = |number: usize| SurveyItem {
        full_a: kind.full_a,
        sensors: vec![u16::try_from(number / share).unwrap()],
    };
    let sensor = SurveySensor {
        every_s: kind.every_s,
        noise_a: kind.noise_a,
        step_a: kind.step_a,
        gain_sd: 0.01,
        offset_sd_a: kind.offset_a,
        drift_a: kind.drift_a,
        ..SurveySensor::default()
    };
    SurveySpec {
        items: (0..kind.segments).map(item).collect(),
        sensors: vec![sensor; kind.sensors],
        rooms: kind.rooms.clone(),
        weak: kind.weak,
        most_s: kind.most_s,
        seed: seed ^ 0x5eed,
        ..SurveySpec::default()
    }
}

/// Surveys a floor whose segments are as `is` says: every segment 3 % (standard deviation) from what is
/// computed, every sensor's gain 1 %, offset, rounding, noise.
pub(crate) fn survey(kind: &Kind, is: &[Is], seed: u64) -> Told {
    let mut chance = Chance::new(seed);
    let share = kind.segments.div_ceil(kind.sensors);
    let real_a: Vec<f64> = is
        .iter()
        .map(|_| kind.full_a * (1.0 + 0.03 * chance.normal()))
        .collect();
    let gains: Vec<f64> = (0..kind.sensors)
        .map(|_| 1.0 + 0.01 * chance.normal())
        .collect();
    let mut offsets: Vec<f64> = gains
        .iter()
        .map(|_| kind.offset_a * chance.normal())
        .collect();
    let mut survey = Survey::new(spec(kind, seed)).unwrap();
    let (mut worst_over_a, mut guesses) = (f64::NEG_INFINITY, Vec::new());
    let end = loop {
        let levels: Vec<f64> = survey
            .light()
            .iter()
            .map(|level| f64::from(*level) / 255.0)
            .collect();
        let computed: Vec<f64> = levels.iter().map(|level| kind.full_a * level).collect();
        for room in &kind.rooms {
            let asked: f64 = room.items.iter().map(|item| computed[*item as usize]).sum();
            worst_over_a = worst_over_a.max(asked - room.room_a);
        }
        // Half a reading's period from the end so that rounding of times decides nothing.
        let mut at = kind.every_s;
        while at < survey.hold_s() + kind.every_s / 2.0 {
            for sensor in 0..kind.sensors {
                let own = sensor * share..((sensor + 1) * share).min(kind.segments);
                let true_a: f64 = own
                    .map(|number| match is[number] {
                        Is::Good => real_a[number] * levels[number],
                        Is::Dead => 0.0,
                        Is::Weak(share) => real_a[number] * levels[number] * share,
                        Is::Stuck(share) => real_a[number] * share,
                    })
                    .sum();
                offsets[sensor] += kind.drift_a * kind.every_s.sqrt() * chance.normal();
                let felt =
                    gains[sensor] * true_a + offsets[sensor] + kind.noise_a * chance.normal();
                let told = (felt / kind.step_a).round() * kind.step_a;
                survey.read(sensor, told, &computed);
            }
            at += kind.every_s;
        }
        let step = survey.advance();
        let progress = survey.progress();
        guesses.push((progress.spent_s, progress.left_s));
        if let Step::Done(end) = step {
            break end;
        }
    };
    let spent_s = survey.progress().spent_s;
    let third = guesses.iter().find(|(at, _)| *at >= spent_s / 3.0);
    let conditions: Vec<Condition> = survey
        .judged()
        .iter()
        .map(|judged| judged.condition)
        .collect();
    let is_faulty = |condition: &Condition| {
        matches!(
            condition,
            Condition::Dead | Condition::Weak(_) | Condition::Stuck(_)
        )
    };
    Told {
        end,
        spent_s,
        faulty: (0..conditions.len())
            .filter(|&at| is_faulty(&conditions[at]))
            .collect(),
        conditions,
        worst_over_a,
        guess_s: third.and_then(|(at, left)| left.map(|left| (left, spent_s - at))),
    }
}

/// A floor on which so many segments are as `kind` says, at random places.
pub(crate) fn with_faults(
    segments: usize,
    faults: usize,
    seed: u64,
    mut kind: impl FnMut(&mut Chance) -> Is,
) -> Vec<Is> {
    let mut chance = Chance::new(seed ^ 0xfa17);
    let mut is = vec![Is::Good; segments];
    let mut left = faults;
    while left > 0 {
        let at = chance.below(segments);
        if is[at] == Is::Good {
            is[at] = kind(&mut chance);
            left -= 1;
        }
    }
    is
}

/// Those that are not good.
pub(crate) fn faulty(is: &[Is]) -> Vec<usize> {
    (0..is.len()).filter(|&at| is[at] != Is::Good).collect()
}
