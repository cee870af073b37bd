//! Sensors of the floor that runs: what is kept of their calibration, and those that report over
//! MQTT.

mod kept;
mod mqtt;

use std::env;

use super::failure::Failure;
use crate::web::{Gate, SHORTEST_READINGS_TOKEN, Source};

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
pub(super) async fn run(source: Source, keep: crate::web::operator::Keep) {
    let mqtt = mqtt::follow(source.clone());
    tokio::select! {
        () = kept::follow(source, keep) => {}
        () = mqtt => {}
    }
}
