//! The file `calibration.json` of the state directory: what runs taught.

use serde::{Deserialize, Serialize};

use crate::engine::command::Command;
use crate::engine::metering::Kept;
use crate::engine::snapshot::{SensorState, State};
use crate::net::clock;
use crate::web::Source;
use crate::web::operator::Keep;

const NAME: &str = "calibration.json";

/// What the file holds.
#[derive(Debug, Default, Serialize, Deserialize)]
struct Contents {
    calibrations: Vec<Entry>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct Entry {
    #[serde(flatten)]
    kept: Kept,
    /// When the run ended: seconds since 1970, UTC.
    when_unix_s: u64,
}

/// Gives what was kept to every new floor, and keeps what new runs teach, until the data plane ends.
pub(super) async fn follow(source: Source, keep: Keep) {
    let mut entries = read(&keep).await;
    let mut state = source.state.clone();
    let (mut revision, mut ended) = (None, 0);
    loop {
        let now = state.borrow_and_update().clone();
        if revision != Some(now.revision) {
            if revision.is_none() {
                ended = now.calibration.ended;
            }
            revision = Some(now.revision);
            let (known, strange): (Vec<_>, Vec<_>) = entries.iter().partition(|entry| {
                let mut sensors = now.sensors.iter();
                sensors.any(|sensor| is_of(entry, sensor) && sensor.calibration.is_none())
            });
            tell(&strange, &now);
            let known: Vec<Kept> = known.into_iter().map(|entry| entry.kept.clone()).collect();
            if !known.is_empty() && source.command(Command::Calibrations(known)).await.is_err() {
                // Too many orders at once: at the next state.
                revision = None;
            }
        }
        if now.calibration.ended != ended {
            ended = now.calibration.ended;
            if now
                .calibration
                .outcomes
                .iter()
                .any(|one| one.refused.is_none())
            {
                merge(&mut entries, &now, clock::unix_s());
                write(&keep, &entries).await;
            }
        }
        if state.changed().await.is_err() {
            return;
        }
    }
}

fn is_of(entry: &Entry, sensor: &SensorState) -> bool {
    (&entry.kept.sensor, &entry.kept.place) == (&sensor.name, &sensor.place)
}

/// Calibrations that this floor has no use for.
fn tell(strange: &[&Entry], state: &State) {
    for entry in strange {
        if !state.sensors.iter().any(|sensor| is_of(entry, sensor)) {
            tracing::warn!(
                sensor = entry.kept.sensor,
                place = entry.kept.place,
                "a calibration was kept for a sensor that this floor has no more; it is not used"
            );
        }
    }
}

/// Takes in what the last run taught; what it does not speak of stays.
fn merge(entries: &mut Vec<Entry>, state: &State, when_unix_s: u64) {
    let calibrated = |sensor: &str| {
        let mut outcomes = state.calibration.outcomes.iter();
        outcomes.any(|one| one.sensor == sensor && one.refused.is_none())
    };
    for sensor in state
        .sensors
        .iter()
        .filter(|sensor| calibrated(&sensor.name))
    {
        let Some(fit) = &sensor.calibration else {
            continue;
        };
        entries.retain(|entry| !is_of(entry, sensor));
        entries.push(Entry {
            kept: Kept {
                sensor: sensor.name.clone(),
                place: sensor.place.clone(),
                idle_a: fit.idle_a,
                gains: fit.gains.clone(),
                residual_a: fit.residual_a,
                above_a: fit.above_a,
            },
            when_unix_s,
        });
    }
}

async fn read(keep: &Keep) -> Vec<Entry> {
    let keep = keep.clone();
    let read = tokio::task::spawn_blocking(move || keep.read_file(NAME)).await;
    let text = match read {
        Ok(Ok(Some(text))) => text,
        Ok(Ok(None)) | Err(_) => return Vec::new(),
        Ok(Err(why)) => {
            tracing::warn!("calibrations that were kept are not used: {why}");
            return Vec::new();
        }
    };
    match serde_json::from_str::<Contents>(&text) {
        Ok(contents) => contents.calibrations,
        Err(error) => {
            tracing::warn!(%error, "calibrations that were kept are not used: {NAME} is faulty");
            Vec::new()
        }
    }
}

async fn write(keep: &Keep, entries: &[Entry]) {
    let contents = Contents {
        calibrations: entries.to_vec(),
    };
    let text = serde_json::to_vec_pretty(&contents);
    let keep = keep.clone();
    let written = match text {
        Ok(text) => tokio::task::spawn_blocking(move || keep.write_file(NAME, &text)).await,
        Err(error) => Ok(Err(error.to_string())),
    };
    match written {
        Ok(Ok(())) => {}
        Ok(Err(why)) => tracing::warn!("the calibration is lost when litfloor ends: {why}"),
        Err(error) => tracing::warn!(%error, "the calibration is lost when litfloor ends"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    use crate::engine::snapshot::{CalibrationOutcome, SensorCalibration};

    fn state(idle_a: f64, refused: Option<&str>) -> State {
        let mut state = State::default();
        state.sensors.push(SensorState {
            name: "clamp".into(),
            place: "supply s".into(),
            calibration: Some(SensorCalibration {
                idle_a,
                gains: [("red".to_owned(), 1.1)].into(),
                residual_a: 0.1,
                above_a: 0.05,
            }),
            ..SensorState::default()
        });
        state.calibration.outcomes.push(CalibrationOutcome {
            sensor: "clamp".into(),
            refused: refused.map(Into::into),
        });
        state
    }

    #[tokio::test]
    async fn what_was_learned_is_kept_and_read_again() {
        let directory = tempfile::tempdir().unwrap();
        let keep = Keep::Directory(directory.path().to_owned());
        assert_eq!(read(&keep).await, []);
        let mut entries = Vec::new();
        merge(&mut entries, &state(0.25, None), 1_700_000_000);
        write(&keep, &entries).await;
        assert_eq!(read(&keep).await, entries);
        // A newer run takes its place; one that taught nothing changes nothing.
        merge(&mut entries, &state(0.5, None), 1_700_000_001);
        merge(
            &mut entries,
            &state(0.75, Some("it was silent during the run")),
            1_700_000_002,
        );
        assert_eq!((entries.len(), entries[0].when_unix_s), (1, 1_700_000_001));
        keep.write_file(NAME, b"{\"calibrations\": 3}").unwrap();
        assert_eq!(read(&keep).await, []);
    }
}
