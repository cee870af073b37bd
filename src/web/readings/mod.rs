//! `/api/v1/readings` and `/api/v1/calibration`: what sensors report, and the run that learns from
//! them.
//!
//! ```text
//! curl -H 'Authorization: Bearer TOKEN' -H 'Content-Type: application/json' \
//!   -d '{"readings": [{"sensor": "main clamp", "value": 12.3}]}' http://HOST:8080/api/v1/readings
//! ```

use axum::Json;
use axum::extract::{FromRequestParts, State as Extract};
use axum::http::StatusCode;
use axum::http::header::{AUTHORIZATION, WWW_AUTHENTICATE};
use axum::http::request::Parts;
use axum::response::{IntoResponse, Response};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::operator::extract::{Operator, Refusals, Told};
use super::problem::{Problem, problem};
use super::{Shared, timers};
use crate::engine::command::Command;
use crate::engine::snapshot::{CalibrationState, SensorState};

pub(super) mod token;

pub use token::SHORTEST;
use token::{NotMade, Shut};

/// Readings in one request, at most.
const MOST: usize = 1_000;

/// The right to report. Only who shows the token gets into a handler that takes it.
pub(super) struct Reporter;

impl FromRequestParts<Shared> for Reporter {
    type Rejection = Response;

    async fn from_request_parts(parts: &mut Parts, shared: &Shared) -> Result<Self, Response> {
        let said = parts.headers.get(AUTHORIZATION);
        let token = said.and_then(|said| said.to_str().ok()).and_then(bearer);
        let door = shared.gate.readings();
        door.lets_in(token, timers::now()).map_err(refused)?;
        Ok(Self)
    }
}

/// The token of `Bearer TOKEN` (RFC 6750, section 2.1).
fn bearer(said: &str) -> Option<&str> {
    let (scheme, token) = said.split_once(' ')?;
    scheme.eq_ignore_ascii_case("bearer").then(|| token.trim())
}

fn refused(why: Shut) -> Response {
    let (status, error, text) = match why {
        Shut::NoToken => (
            StatusCode::FORBIDDEN,
            "no_token",
            "nobody can report readings yet: let the operator make a token, or start litfloor with \
             LITFLOOR_READINGS_TOKEN",
        ),
        Shut::Unreadable => (
            StatusCode::FORBIDDEN,
            "token_unreadable",
            "nobody can report readings, for the token can't be read: let the operator make a new one",
        ),
        Shut::Unsaid => (
            StatusCode::UNAUTHORIZED,
            "token_missing",
            "send the header Authorization: Bearer TOKEN",
        ),
        Shut::Wrong => (
            StatusCode::FORBIDDEN,
            "wrong_token",
            "this is not the token of this floor",
        ),
        Shut::TooOften => (
            StatusCode::TOO_MANY_REQUESTS,
            "too_often",
            "too many requests: report several readings in one, and again in a second",
        ),
    };
    let mut answer = problem(status, error, text);
    if status == StatusCode::UNAUTHORIZED {
        let bearer = axum::http::HeaderValue::from_static("Bearer");
        answer.headers_mut().insert(WWW_AUTHENTICATE, bearer);
    }
    answer
}

/// Some readings.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct Readings {
    /// In the order in which they were taken, at most 1,000.
    readings: Vec<Reading>,
}

/// One reading.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct Reading {
    /// Name of the sensor in the floor file.
    #[schema(example = "main clamp")]
    sensor: String,
    /// What it says; times `factor` of the floor file, amperes or volts.
    value: f64,
}

/// What became of some readings.
#[derive(Debug, Serialize, ToSchema)]
pub(super) struct Reported {
    /// In the order in which they were said.
    readings: Vec<ReportedReading>,
}

/// What became of one reading.
#[derive(Debug, Serialize, ToSchema)]
struct ReportedReading {
    /// Name of its sensor.
    sensor: String,
    /// `taken`, or `unknown_sensor` if the floor file has none of that name.
    #[schema(example = "taken")]
    outcome: &'static str,
}

/// Takes readings. Who is unknown is told; the others are taken all the same.
#[utoipa::path(
    post,
    path = "/api/v1/readings",
    tag = "sensors",
    request_body = Readings,
    security(("readings" = [])),
    responses(
        (status = 202, description = "Taken, as far as the sensors are known", body = Reported),
        (status = 400, description = "Not understood", body = Problem),
        (status = 401, description = "No token", body = Problem),
        (status = 403, description = "Not the token, or there is none yet", body = Problem),
        (status = 408, description = "The body took too long to arrive", body = Problem),
        (status = 413, description = "Longer than 64 KiB, or more than 1,000 readings", body = Problem),
        (status = 415, description = "Not JSON", body = Problem),
        (status = 429, description = "Too many requests", body = Problem),
        (status = 503, description = "Too many orders at once, or it is ending", body = Problem),
    )
)]
pub(super) async fn report(
    Extract(shared): Extract<Shared>,
    _: Reporter,
    Told(said): Told<Readings>,
) -> Response {
    if said.readings.len() > MOST {
        let text = "more than 1,000 readings: send them in several requests";
        return problem(StatusCode::PAYLOAD_TOO_LARGE, "too_large", text);
    }
    let mut taken = Vec::new();
    let mut told = Vec::new();
    {
        let view = shared.source.floor.borrow();
        for Reading { sensor, value } in said.readings {
            let of = view.floor.sensors.iter().find(|of| of.name == sensor);
            let outcome = if of.is_some() {
                "taken"
            } else {
                "unknown_sensor"
            };
            taken.extend(of.map(|of| (sensor.clone(), value * of.factor)));
            told.push(ReportedReading { sensor, outcome });
        }
    }
    match shared.source.command(Command::Readings(taken)).await {
        Ok(_) => (StatusCode::ACCEPTED, Json(Reported { readings: told })).into_response(),
        Err(why) => why.told(StatusCode::CONFLICT),
    }
}

/// The token, which is shown this once.
#[derive(Debug, Serialize, ToSchema)]
pub(super) struct NewToken {
    /// Whoever shows it may report readings and do nothing else.
    token: String,
}

/// Makes a new token for readings. The one before is void.
#[utoipa::path(
    post,
    path = "/api/v1/readings/token",
    tag = "sensors",
    security(("session" = [])),
    responses(
        (status = 200, description = "The token, which is shown this once", body = NewToken),
        (status = 409, description = "It was given when litfloor was started", body = Problem),
        (status = 503, description = "It can't be kept", body = Problem),
        Refusals
    )
)]
pub(super) async fn renew(Extract(shared): Extract<Shared>, _: Operator) -> Response {
    // It writes a small file, which on a slow card may take a moment.
    let made = tokio::task::spawn_blocking(move || shared.gate.readings().renew()).await;
    match made {
        Ok(Ok(token)) => Json(NewToken { token }).into_response(),
        Ok(Err(NotMade::Given)) => {
            let text = "the token was given by LITFLOOR_READINGS_TOKEN: change it there and start \
                        litfloor again";
            problem(StatusCode::CONFLICT, "token_given", text)
        }
        Ok(Err(NotMade::NotKept(why))) => {
            let text = format!("the token was not made, for it can't be kept: {why}");
            problem(StatusCode::SERVICE_UNAVAILABLE, "not_kept", text)
        }
        Ok(Err(NotMade::NoRandom)) | Err(_) => {
            let text = "it failed inside: look at litfloor's log";
            problem(StatusCode::INTERNAL_SERVER_ERROR, "internal", text)
        }
    }
}

/// All sensors.
#[derive(Debug, Serialize, ToSchema)]
pub(super) struct Sensors {
    /// In the order of the floor file.
    sensors: Vec<SensorState>,
    /// The calibration run that is under way, or what became of the last one.
    calibration: CalibrationState,
}

/// What sensors say, and what is computed at their places.
#[utoipa::path(
    get,
    path = "/api/v1/sensors",
    tag = "sensors",
    responses((status = 200, description = "All of them", body = Sensors))
)]
pub(super) async fn sensors(Extract(shared): Extract<Shared>) -> Json<Sensors> {
    let state = shared.source.state.borrow();
    Json(Sensors {
        sensors: state.sensors.clone(),
        calibration: state.calibration.clone(),
    })
}

/// The wish to calibrate.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct Calibrate {
    /// That nobody is on the floor, works at its wires, or is harmed by a whole floor that changes
    /// its light, up to full white. Without that no run begins.
    floor_is_clear: bool,
}

/// Begins a calibration run: the whole floor goes dark, then red, green, blue and white, each at
/// half and at full, some seconds each. All limits are kept.
#[utoipa::path(
    post,
    path = "/api/v1/calibration",
    tag = "sensors",
    request_body = Calibrate,
    security(("session" = [])),
    responses(
        (status = 202, description = "It runs; `calibration` of `/api/v1/sensors` says how it goes"),
        (status = 409, description = "No sensor reports, one runs already, or the floor is only watched",
         body = Problem),
        (status = 422, description = "Nobody said that the floor is clear", body = Problem),
        (status = 503, description = "Too many orders at once, or it is ending", body = Problem),
        Refusals
    )
)]
pub(super) async fn calibrate(
    Extract(shared): Extract<Shared>,
    _: Operator,
    Told(wish): Told<Calibrate>,
) -> Response {
    if !wish.floor_is_clear {
        let text = "the whole floor changes its light, up to full white: see that nobody stands on \
                    it or works at its wires, and say so";
        return problem(StatusCode::UNPROCESSABLE_ENTITY, "not_confirmed", text);
    }
    match shared.source.command(Command::Calibrate).await {
        Ok(_) => StatusCode::ACCEPTED.into_response(),
        Err(why) => why.told(StatusCode::CONFLICT),
    }
}

/// Ends a calibration run. It teaches nothing then.
#[utoipa::path(
    delete,
    path = "/api/v1/calibration",
    tag = "sensors",
    security(("session" = [])),
    responses(
        (status = 204, description = "None is under way"),
        (status = 503, description = "Too many orders at once, or it is ending", body = Problem),
        Refusals
    )
)]
pub(super) async fn stop_calibration(Extract(shared): Extract<Shared>, _: Operator) -> Response {
    match shared.source.command(Command::StopCalibration).await {
        Ok(_) => StatusCode::NO_CONTENT.into_response(),
        Err(why) => why.told(StatusCode::CONFLICT),
    }
}

#[cfg(test)]
mod tests;
