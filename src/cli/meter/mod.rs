//! Sensors of the floor that runs: what is kept of their calibration, and those that report over
//! MQTT.

mod kept;
mod mqtt;

use std::env;

use tokio::sync::mpsc::Receiver;

use super::failure::Failure;
use crate::engine::command::Command;
use crate::web::operator::Keep;
use crate::web::{Gate, SHORTEST_READINGS_TOKEN, Source};

/// What a payload from the broker says of a sensor, for the fuzzer.
#[cfg(fuzzing)]
pub fn reading_of(sensor: &crate::floor::model::Sensor, payload: &[u8]) -> (String, f64) {
    mqtt::reading(sensor, payload)
}

/// The environment variable that gives the token for readings.
const GIVEN: &str = "LITFLOOR_READINGS_TOKEN";

/// The same gate, with the token for readings of the environment if there is one.
///
/// # Errors
/// When that token is too short to be one.
pub(super) fn with_token(gate: Gate) -> Result<Gate, Failure> {
    match env::var(GIVEN) {
        Err(env::VarError::NotPresent) => Ok(gate),
        Err(env::VarError::NotUnicode(_)) => Err(Failure::usage(format!("{GIVEN} is not UTF-8"))),
        Ok(given) if given.chars().count() < SHORTEST_READINGS_TOKEN => {
            let least = SHORTEST_READINGS_TOKEN;
            let text = format!("{GIVEN} has fewer than {least} characters: make one by chance");
            Err(Failure::usage(text))
        }
        Ok(given) => Ok(gate.with_readings_token(given.trim())),
    }
}

/// Everything of sensors that runs beside the frames, until the data plane ends.
/// `simulated` is what the sensors of a floor that is not real say.
pub(super) fn run(
    source: Source,
    gate: &Gate,
    simulated: Option<Receiver<Said>>,
) -> impl Future<Output = ()> + use<> {
    if let Some(why) = gate.readings_fault() {
        tracing::warn!("nobody can report readings: {why}");
    }
    beside(source, gate.keep().clone(), simulated)
}

async fn beside(source: Source, keep: Keep, simulated: Option<Receiver<Said>>) {
    let mqtt = mqtt::follow(source.clone());
    let relay = relay(source.clone(), simulated);
    tokio::select! {
        () = kept::follow(source, keep) => {}
        () = mqtt => {}
        () = relay => {}
    }
}

/// Readings by the names of their sensors, in amperes or volts.
type Said = Vec<(String, f64)>;

async fn relay(source: Source, simulated: Option<Receiver<Said>>) {
    if let Some(mut simulated) = simulated {
        while let Some(readings) = simulated.recv().await {
            if let Err(why) = source.command(Command::Readings(readings)).await {
                tracing::debug!(%why, "simulated readings were not taken");
            }
        }
    }
    std::future::pending::<()>().await;
}
