//! `/api/v1/pattern`: test patterns in place of the console's picture.

use axum::Json;
use axum::extract::State as Extract;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::operator::extract::{Operator, Refusals, Told};
use super::problem::{Problem, problem};
use super::{Inner, NotDone, Shared, presence};
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
    let ends_with = wish.ends_with.take();
    let done = match owner(&shared, ends_with.as_deref()) {
        Ok(owner) => show(&shared, wish.start(owner), ends_with.as_deref()).await,
        Err(why) => Err(why),
    };
    told(done)
}

/// Why a pattern is not shown.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub(super) enum NotShown {
    /// Nobody has the id that it is to end with.
    #[error(
        "the pattern is to end with a live connection that is not there: connect, and try again \
         with the id that you get"
    )]
    NotConnected,
    /// The order was not followed.
    #[error(transparent)]
    NotDone(#[from] NotDone),
}

impl IntoResponse for NotShown {
    fn into_response(self) -> Response {
        match self {
            Self::NotConnected => {
                let text = self.to_string();
                problem(StatusCode::UNPROCESSABLE_ENTITY, "not_connected", text)
            }
            Self::NotDone(why) => why.told(StatusCode::UNPROCESSABLE_ENTITY),
        }
    }
}

/// The owner of what is to end with a live connection.
pub(super) fn owner(shared: &Inner, ends_with: Option<&str>) -> Result<Option<u64>, NotShown> {
    let owner = |id| shared.presences.owner(id).ok_or(NotShown::NotConnected);
    ends_with.map(owner).transpose()
}

/// Shows a pattern that is to end with a live connection. Its owner must be in the order.
pub(super) async fn show(
    shared: &Inner,
    start: Start,
    ends_with: Option<&str>,
) -> Result<Option<PatternState>, NotShown> {
    let owner = start.owner;
    let done = shared.source.command(Command::Start(start)).await;
    // It may have gone for good before there was anything that its going could end.
    if let (Some(id), Some(owner)) = (ends_with, owner)
        && shared.presences.owner(id).is_none()
    {
        presence::gone(owner, &shared.source).await;
    }
    Ok(done?)
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
    told(shared.source.command(command).await.map_err(Into::into))
}

fn told(done: Result<Option<PatternState>, NotShown>) -> Response {
    match done {
        Ok(pattern) => Json(Shown { pattern }).into_response(),
        Err(why) => why.into_response(),
    }
}

#[cfg(test)]
mod tests;
