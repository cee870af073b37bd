//! What a sensor is like, felt before anything is weighed: all dark, as bright as limits let, all
//! dark again. How long it lags behind the light, how much it wavers, in which steps it speaks.

use super::order::SeenReading;

/// How many of a sensor's periods a light is held for it, and how much longer: brokers pass on.
const PERIODS: f64 = 10.0;
const LONGER_S: f64 = 1.0;

/// This last share of a light's readings says where the sensor settles.
const SETTLED_SHARE: f64 = 0.4;

/// A reading has settled when it is as near to that as this share of the change of the light, and so
/// many times its noise more.
const NEAR: f64 = 0.01;
const NOISES: f64 = 4.0;

/// The noise of few readings is easily taken for too little: so much is added.
const NOISE_MORE: f64 = 1.3;

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
    /// Standard deviation of one reading.
    pub(super) noise_a: f64,
    /// The smallest step in which it speaks; nothing if that was not seen.
    pub(super) step_a: f64,
    /// What it says of a dark floor.
    pub(super) dark_a: f64,
    /// How well that is known, as a standard deviation.
    pub(super) dark_sd_a: f64,
    /// By how much that wanders in a second.
    pub(super) drift_a: f64,
}

/// What one sensor is like by what it said of the three lights: dark, bright, dark.
///
/// # Errors
/// Says why it can't take part.
pub(super) fn feel(lights: &[Vec<SeenReading>; 3]) -> Result<Felt, &'static str> {
    if lights.iter().any(|readings| readings.len() < FEWEST) {
        return Err(
            "said too little that can be believed: it is silent, says what can't be, or says exactly the \
             same whatever is lit, and then it can't be told whether it is frozen or all that it sees is \
             dead",
        );
    }
    let [first, bright, dark] = lights;
    let all = lights.iter().flatten();
    let value = first[0].value_a.to_bits();
    if all
        .clone()
        .all(|reading| reading.value_a.to_bits() == value)
    {
        return Err(
            "said exactly the same in the dark and in the light: it can't be told whether it is frozen or \
             all that it sees is dead",
        );
    }
    let settled = [first, bright, dark].map(|readings| Plateau::of(readings));
    let noise_a = settled
        .iter()
        .map(|plateau| plateau.sd_a)
        .fold(0.0, f64::max)
        * NOISE_MORE;
    let change_a = (settled[1].mean_a - settled[2].mean_a).abs();
    let near_a = NEAR.mul_add(change_a, NOISES * noise_a);
    let lag_s = [(bright, &settled[1]), (dark, &settled[2])].map(|(readings, plateau)| {
        let off = |reading: &&SeenReading| (reading.value_a - plateau.mean_a).abs() > near_a;
        let last_off = readings.iter().rposition(|reading| off(&reading));
        let first_good = last_off.map_or(0, |at| at + 1);
        readings.get(first_good).map(|reading| reading.after_s)
    });
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
        noise_a,
        step_a: if step_a.is_finite() { step_a } else { 0.0 },
        dark_a: settled[2].mean_a,
        dark_sd_a: noise_a / settled[2].count.sqrt(),
        drift_a: wandered_a.max(LEAST_WANDERED * noise_a) / between_s.sqrt(),
    })
}

/// Where a sensor settles in a light.
#[derive(Debug)]
struct Plateau {
    mean_a: f64,
    sd_a: f64,
    count: f64,
}

impl Plateau {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a share of a count"
    )]
    fn of(readings: &[SeenReading]) -> Self {
        let count = crate::units::count;
        let last = (count(readings.len()) * SETTLED_SHARE).ceil() as usize;
        let last = &readings[readings.len() - last.clamp(3, readings.len())..];
        let many = count(last.len());
        let mean_a = last.iter().map(|one| one.value_a).sum::<f64>() / many;
        let squares = last.iter().map(|one| (one.value_a - mean_a).powi(2));
        Self {
            mean_a,
            sd_a: (squares.sum::<f64>() / (many - 1.0)).sqrt(),
            count: many,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

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
                }
            })
            .collect()
    }

    #[test]
    fn the_lag_is_felt_and_never_taken_for_too_little() {
        for lag_s in [0.0, 0.03, 0.17, 0.33, 0.5] {
            let dark = readings(10.0, 0.5, lag_s);
            let felt = feel(&[dark.clone(), readings(0.5, 10.0, lag_s), dark]).unwrap();
            // It is right when the lag and one period have passed, and two periods more are waste.
            let needed = lag_s + 0.1;
            assert!(felt.lag_s + 1e-9 >= needed - 0.04, "{lag_s}: {felt:?}");
            assert!(felt.lag_s < needed + 0.2, "{lag_s}: {felt:?}");
            assert!((felt.dark_a - 0.5).abs() < 0.01);
            assert!((0.014..0.03).contains(&felt.noise_a), "{felt:?}");
        }
    }

    /// A feed on which nothing lights any more: its sensor wavers as ever, and takes part.
    #[test]
    fn one_that_sees_only_what_is_dead_takes_part() {
        let idle: [Vec<SeenReading>; 3] = std::array::from_fn(|_| readings(0.5, 0.5, 0.2));
        let felt = feel(&idle).unwrap();
        assert!((felt.dark_a - 0.5).abs() < 0.02, "{felt:?}");
        assert!(felt.lag_s < 0.1, "{felt:?}");
    }

    #[test]
    fn what_can_t_be_believed_says_why() {
        let same = vec![
            SeenReading {
                sensor: 0,
                value_a: 3.0,
                after_s: 0.1
            };
            10
        ];
        let told = feel(&[same.clone(), same.clone(), same.clone()]).unwrap_err();
        assert!(told.contains("frozen"));
        assert!(feel(&[same.clone(), Vec::new(), same]).is_err());
    }
}
