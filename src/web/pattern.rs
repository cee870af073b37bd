//! `/api/v1/pattern`: test patterns in place of the console's picture.

use axum::Json;
use axum::extract::State as Extract;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::operator::extract::{Operator, Refusals, Told};
use super::problem::{Problem, problem};
use super::{NotDone, Shared, presence};
use crate::engine::command::{Command, Step};
use crate::engine::snapshot::PatternState;
use crate::pattern::{Cover, Light, Start, TestPattern};

/// Which pattern is to be shown.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct StartPattern {
    /// What lights up.
    pattern: TestPattern,
    /// Which panels it takes from the console; all if left out.
    #[serde(default)]
    cover: Cover,
    /// Level of what is lit, 0 to 255; 128 if left out.
    level: Option<u8>,
    /// Colour of what is lit; white if left out.
    #[serde(default)]
    colour: Light,
    /// Seconds after which it ends by itself, 1 to 3,600; 300 if left out.
    #[schema(minimum = 1, maximum = 3600)]
    lasts_s: Option<u32>,
    /// The id of a live connection (see `/api/v1/live`): the pattern ends when that has been
    /// closed for three seconds. If left out it does not end with anybody.
    ends_with: Option<String>,
}

impl StartPattern {
    fn start(self, owner: Option<u64>) -> Start {
        let usual = Start::new(self.pattern);
        Start {
            cover: self.cover,
            level: self.level.unwrap_or(usual.level),
            colour: self.colour,
            lasts_s: self.lasts_s.unwrap_or(usual.lasts_s),
            owner,
            ..usual
        }
    }
}

/// What is shown after an order.
#[derive(Debug, Serialize, ToSchema)]
pub(super) struct Shown {
    /// The pattern; nothing if the console's picture is shown.
    #[schema(required)]
    pattern: Option<PatternState>,
}

/// Shows a pattern, in place of the one that is shown.
#[utoipa::path(
    post,
    path = "/api/v1/pattern",
    tag = "pattern",
    request_body = StartPattern,
    security(("session" = [])),
    responses(
        (status = 200, description = "It is shown", body = Shown),
        (status = 422, description = "It can't be shown on this floor", body = Problem),
        (status = 503, description = "Too many orders at once, or it is ending", body = Problem),
        Refusals
    )
)]
pub(super) async fn start(
    Extract(shared): Extract<Shared>,
    _: Operator,
    Told(mut wish): Told<StartPattern>,
) -> Response {
    let id = wish.ends_with.take();
    let owner = id.as_deref().map(|id| shared.presences.owner(id));
    if owner == Some(None) {
        let text = "the pattern is to end with a live connection that is not there: connect, and \
                    try again with the id that you get";
        return problem(StatusCode::UNPROCESSABLE_ENTITY, "not_connected", text);
    }
    let owner = owner.flatten();
    let answer = order(&shared, Command::Start(wish.start(owner))).await;
    // It may have gone for good before there was anything that its going could end.
    if let (Some(id), Some(owner)) = (id, owner)
        && shared.presences.owner(&id).is_none()
    {
        presence::gone(owner, &shared.source).await;
    }
    answer
}

/// Goes to another step of the pattern that is shown, and stays there.
#[utoipa::path(
    post,
    path = "/api/v1/pattern/step",
    tag = "pattern",
    request_body = Step,
    security(("session" = [])),
    responses(
        (status = 200, description = "That step is shown", body = Shown),
        (status = 422, description = "No such step, or no pattern with steps", body = Problem),
        (status = 503, description = "Too many orders at once, or it is ending", body = Problem),
        Refusals
    )
)]
pub(super) async fn step(
    Extract(shared): Extract<Shared>,
    _: Operator,
    Told(step): Told<Step>,
) -> Response {
    order(&shared, Command::Step(step)).await
}

/// Shows the console's picture again.
#[utoipa::path(
    delete,
    path = "/api/v1/pattern",
    tag = "pattern",
    security(("session" = [])),
    responses(
        (status = 200, description = "No pattern is shown", body = Shown),
        (status = 503, description = "Too many orders at once, or it is ending", body = Problem),
        Refusals
    )
)]
pub(super) async fn stop(Extract(shared): Extract<Shared>, _: Operator) -> Response {
    order(&shared, Command::Stop).await
}

async fn order(shared: &Shared, command: Command) -> Response {
    let (status, error, text) = match shared.source.command(command).await {
        Ok(pattern) => return Json(Shown { pattern }).into_response(),
        Err(NotDone::Refused(why)) => (StatusCode::UNPROCESSABLE_ENTITY, why.code, why.text),
        Err(why @ NotDone::Busy) => (StatusCode::SERVICE_UNAVAILABLE, "busy", why.to_string()),
        Err(why @ NotDone::Ended) => (StatusCode::SERVICE_UNAVAILABLE, "ending", why.to_string()),
    };
    problem(status, error, text)
}

#[cfg(test)]
mod tests;
