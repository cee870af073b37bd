//! What a sensor is like, felt before anything is weighed: all dark, as bright as limits let, all
//! dark again. How long it lags behind the light, how much it wavers, in which steps it speaks.

use super::brief::{BESIDE, SensorBrief};
use super::order::SeenReading;
use crate::units::count;

/// How many of a sensor's periods a light is held for it, and how much longer: brokers pass on.
const PERIODS: f64 = 10.0;
const LONGER_S: f64 = 1.0;

/// This last share of a light's readings says where the sensor settles.
const SETTLED_SHARE: f64 = 0.4;

/// A reading has settled when it is as near to that as this share of the change of the light, and so
/// many times its noise more.
const NEAR: f64 = 0.01;
const NOISES: f64 = 4.0;

/// Of a sensor that wavers in the dark, so many readings are expected to differ before it is believed that
/// all are alike by chance: then fewer than one in a thousand has none (Poisson).
const NEVER_ALIKE: f64 = 7.0;

/// So many times what it may be beside, the light must have risen by to say that nothing flows.
const SHOWS: f64 = 2.0;

/// What is dark wanders by so much of the noise at least between two looks.
const LEAST_WANDERED: f64 = 0.1;

/// What is counted to the lag beyond what was felt: ticks and jitter.
const LAG_MORE_S: f64 = 0.02;

/// Fewest readings of a light that say something.
const FEWEST: usize = 5;

/// How long a light is held to feel a sensor that reports so often, in seconds.
pub(super) fn hold_s(every_s: f64) -> f64 {
    every_s.mul_add(PERIODS, LONGER_S)
}

/// What a sensor is like.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Felt {
    /// After so long a reading says what is on show.
    pub(super) lag_s: f64,
    /// For so long after the next light was ordered it still says what was on show before.
    pub(super) stays_s: f64,
    /// Standard deviation of one reading.
    pub(super) noise_a: f64,
    /// From how many readings beyond one that is known.
    pub(super) noise_from: f64,
    /// The smallest step in which it speaks; nothing if that was not seen.
    pub(super) step_a: f64,
    /// What it says of a dark floor.
    pub(super) dark_a: f64,
    /// How well that is known, as a standard deviation.
    pub(super) dark_sd_a: f64,
    /// By how much that wanders in a second.
    pub(super) drift_a: f64,
    /// Whether it always said the very same, and that is what flows where all is dead.
    pub(super) steady: bool,
}

/// One that said nothing but `value_a`: what it sees is dead, if that is what flows then, and it is not its
/// way to stand still.
fn steady(
    value_a: f64,
    readings: usize,
    brief: &SensorBrief,
    lit_a: f64,
) -> Result<Felt, &'static str> {
    if !brief.is_idle(value_a) {
        return Err(
            "said exactly the same in the dark and in the light, and more than flows in the dark: it is \
             frozen",
        );
    }
    if brief.wavers * count(readings) > NEVER_ALIKE {
        return Err(
            "said exactly the same in the dark and in the light, though it wavered before: it is frozen",
        );
    }
    if lit_a < SHOWS * BESIDE * brief.offset_sd_a {
        return Err(
            "said exactly the same in the dark and in the light, and so little was lit that it can't be \
             told whether it is frozen or all that it sees is dead",
        );
    }
    Ok(Felt {
        lag_s: LAG_MORE_S,
        stays_s: 0.0,
        noise_a: brief.offset_sd_a,
        noise_from: f64::INFINITY,
        step_a: 0.0,
        dark_a: value_a,
        dark_sd_a: brief.offset_sd_a,
        drift_a: 0.0,
        steady: true,
    })
}

/// What one sensor is like by what it said of the three lights: dark, bright, dark; `late` is what it said
/// from when the second and the third were ordered. `lit_a` is what the bright one should have added.
///
/// # Errors
/// Says why it can't take part.
pub(super) fn feel(
    lights: &[Vec<SeenReading>; 3],
    late: &[Vec<SeenReading>; 2],
    brief: &SensorBrief,
    lit_a: f64,
) -> Result<Felt, &'static str> {
    let too_few = |lights: &[Vec<SeenReading>; 3]| lights.iter().any(|light| light.len() < FEWEST);
    if too_few(lights) {
        return Err("said too little that can be believed: it is silent, or says what can't be");
    }
    let said = lights.iter().flatten();
    let value_a = lights[0][0].value_a;
    let alike = |reading: &SeenReading| reading.value_a.to_bits() == value_a.to_bits();
    if said.clone().all(alike) {
        return steady(value_a, said.count(), brief, lit_a);
    }
    let believed = |readings: &Vec<SeenReading>| -> Vec<SeenReading> {
        let believed = readings.iter().filter(|reading| !reading.frozen);
        believed.copied().collect()
    };
    let lights = &lights.each_ref().map(believed);
    if too_few(lights) {
        return Err("said exactly the same for too long while the light changed: it is frozen");
    }
    let [first, bright, dark] = lights;
    let all = lights.iter().flatten();
    let settled = [first, bright, dark].map(|readings| Plateau::of(readings));
    let noise_from: f64 = settled.iter().map(|plateau| plateau.count - 1.0).sum();
    let squares: f64 = settled.iter().map(|plateau| plateau.squares).sum();
    let noise_a = (squares / noise_from).sqrt();
    let change_a = (settled[1].mean_a - settled[2].mean_a).abs();
    let near_a = NEAR.mul_add(change_a, NOISES * noise_a);
    let lag_s = [(bright, &settled[1]), (dark, &settled[2])].map(|(readings, plateau)| {
        let off = |reading: &&SeenReading| (reading.value_a - plateau.mean_a).abs() > near_a;
        let last_off = readings.iter().rposition(|reading| off(&reading));
        let first_good = last_off.map_or(0, |at| at + 1);
        readings.get(first_good).map(|reading| reading.after_s)
    });
    let stays_s = if change_a > 2.0 * near_a {
        let changes = late.iter().zip(&settled);
        changes
            .map(|(late, before)| stays_s(late, before.mean_a, near_a))
            .fold(f64::INFINITY, f64::min)
    } else {
        0.0
    };
    let [Some(a), Some(b)] = lag_s else {
        return Err("did not come to rest in a light that was held");
    };
    let mut values: Vec<f64> = all.map(|reading| reading.value_a).collect();
    values.sort_by(f64::total_cmp);
    let steps = values.windows(2).map(|pair| pair[1] - pair[0]);
    let step_a = steps
        .filter(|step| *step > 1e-9)
        .fold(f64::INFINITY, f64::min);
    let least_noise_a = 1e-4 * (settled[1].mean_a.abs() + change_a) + 1e-6;
    let noise_a = noise_a.max(least_noise_a);
    let wandered_a = (settled[2].mean_a - settled[0].mean_a).abs();
    let held_s = |readings: &[SeenReading]| readings.last().map_or(0.0, |last| last.after_s);
    let between_s = (held_s(bright) + held_s(dark)).max(0.1);
    Ok(Felt {
        lag_s: a.max(b) + LAG_MORE_S,
        stays_s: (stays_s - LAG_MORE_S).max(0.0),
        noise_a,
        noise_from,
        step_a: if step_a.is_finite() { step_a } else { 0.0 },
        dark_a: settled[2].mean_a,
        dark_sd_a: noise_a / settled[2].count.sqrt(),
        drift_a: wandered_a.max(LEAST_WANDERED * noise_a) / between_s.sqrt(),
        steady: false,
    })
}

/// For how long a sensor surely said `before_a` of a light that was there before: until the last reading
/// ahead of the first that is off. Nothing if none ever is.
fn stays_s(late: &[SeenReading], before_a: f64, near_a: f64) -> f64 {
    let off = |reading: &SeenReading| (reading.value_a - before_a).abs() > near_a;
    match late.iter().position(off) {
        None | Some(0) => 0.0,
        Some(first) => late[first - 1].after_s,
    }
}

/// Where a sensor settles in a light.
#[derive(Debug)]
struct Plateau {
    mean_a: f64,
    /// Of the differences from that.
    squares: f64,
    count: f64,
}

impl Plateau {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a share of a count"
    )]
    fn of(readings: &[SeenReading]) -> Self {
        let last = (count(readings.len()) * SETTLED_SHARE).ceil() as usize;
        let last = &readings[readings.len() - last.clamp(3, readings.len())..];
        let many = count(last.len());
        let mean_a = last.iter().map(|one| one.value_a).sum::<f64>() / many;
        let squares = last.iter().map(|one| (one.value_a - mean_a).powi(2));
        Self {
            mean_a,
            squares: squares.sum(),
            count: many,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const NOTHING_LATE: [Vec<SeenReading>; 2] = [Vec::new(), Vec::new()];

    /// Readings every 0.1 s of a sensor that means over its period and is `lag_s` late; the light
    /// before was `from_a`. The spread is that of a triangle wave of ±0.02: its standard deviation
    /// is 0.02/√3 (textbook), or near that for few readings.
    fn readings(from_a: f64, to_a: f64, lag_s: f64) -> Vec<SeenReading> {
        (0..20_u32)
            .map(|at| {
                let after_s = f64::from(at).mul_add(0.1, 0.04);
                let new = ((after_s - lag_s) / 0.1).clamp(0.0, 1.0);
                let wave = [0.0, 0.02, 0.0, -0.02][at as usize % 4];
                SeenReading {
                    sensor: 0,
                    value_a: from_a.mul_add(1.0 - new, to_a * new) + wave,
                    after_s,
                    frozen: false,
                }
            })
            .collect()
    }

    #[test]
    fn the_lag_is_felt_and_never_taken_for_too_little() {
        for lag_s in [0.0, 0.03, 0.17, 0.33, 0.5] {
            let dark = readings(10.0, 0.5, lag_s);
            let lights = [dark.clone(), readings(0.5, 10.0, lag_s), dark];
            let late = [lights[1].clone(), lights[2].clone()];
            let felt = feel(&lights, &late, &brief(), 9.5).unwrap();
            // Its readings mean over 0.1 s: until the lag has passed they are of what was before.
            assert!(felt.stays_s <= lag_s, "{lag_s}: {felt:?}");
            assert!(felt.stays_s > lag_s - 0.13, "{lag_s}: {felt:?}");
            // It is right when the lag and one period have passed, and two periods more are waste.
            let needed = lag_s + 0.1;
            assert!(felt.lag_s + 1e-9 >= needed - 0.04, "{lag_s}: {felt:?}");
            assert!(felt.lag_s < needed + 0.2, "{lag_s}: {felt:?}");
            assert!((felt.dark_a - 0.5).abs() < 0.01);
            // The standard deviation of that wave over whole periods is 0.02/√2.
            assert!((0.013..0.0165).contains(&felt.noise_a), "{felt:?}");
            assert!((felt.noise_from - 21.0).abs() < 1e-9);
        }
    }

    /// A feed on which nothing lights any more: its sensor wavers as ever, and takes part.
    #[test]
    fn one_that_sees_only_what_is_dead_takes_part() {
        let idle: [Vec<SeenReading>; 3] = std::array::from_fn(|_| readings(0.5, 0.5, 0.2));
        let felt = feel(&idle, &NOTHING_LATE, &brief(), 9.5).unwrap();
        assert!(!felt.steady);
        assert!((felt.dark_a - 0.5).abs() < 0.02, "{felt:?}");
        assert!(felt.lag_s < 0.1, "{felt:?}");
    }

    fn brief() -> SensorBrief {
        SensorBrief {
            element: 0,
            unfit: None,
            calibrated: false,
            idle_a: 0.5,
            offset_sd_a: 0.05,
            wavers: 0.0,
        }
    }

    fn same(value_a: f64) -> Vec<SeenReading> {
        let reading = SeenReading {
            sensor: 0,
            value_a,
            after_s: 0.1,
            frozen: true,
        };
        vec![reading; 10]
    }

    #[test]
    fn one_that_always_says_what_flows_where_all_is_dead_takes_part() {
        let lights =
            |value_a: f64| -> [Vec<SeenReading>; 3] { std::array::from_fn(|_| same(value_a)) };
        for dead_a in [0.0, 0.48, 0.5, 0.6] {
            let felt = feel(&lights(dead_a), &NOTHING_LATE, &brief(), 4.0).unwrap();
            assert!(
                felt.steady && (felt.dark_a - dead_a).abs() < 1e-12,
                "{felt:?}"
            );
        }
        // Something flows; it wavered before; so little was lit that nothing is known.
        let told = feel(&lights(3.0), &NOTHING_LATE, &brief(), 4.0).unwrap_err();
        assert!(told.contains("more than flows in the dark"), "{told}");
        let wavers = SensorBrief {
            wavers: 0.5,
            ..brief()
        };
        let told = feel(&lights(0.5), &NOTHING_LATE, &wavers, 4.0).unwrap_err();
        assert!(told.contains("wavered before"), "{told}");
        let told = feel(&lights(0.5), &NOTHING_LATE, &brief(), 0.3).unwrap_err();
        assert!(told.contains("can't be told"), "{told}");
    }

    #[test]
    fn what_can_t_be_believed_says_why() {
        let told = feel(
            &[same(0.5), Vec::new(), same(0.5)],
            &NOTHING_LATE,
            &brief(),
            4.0,
        )
        .unwrap_err();
        assert!(told.contains("too little"), "{told}");
        // It froze in the middle.
        let told = feel(
            &[same(0.5), same(4.5), same(4.5)],
            &NOTHING_LATE,
            &brief(),
            4.0,
        )
        .unwrap_err();
        assert!(told.contains("it is frozen"), "{told}");
    }
}
