//! `/api/v1/limit`: the whole floor turned down while it runs.

use axum::Json;
use axum::extract::State as Extract;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use super::operator::extract::{Operator, Refusals, Told};
use super::problem::Problem;
use super::{Shared, pattern};
use crate::engine::command::{Command, LiveLimit};

/// Sets the live limit of the whole floor, or takes it away. It acts at once, and can only lower
/// what the floor file says. State shows it as `floor.live_limit_va`.
#[utoipa::path(
    put,
    path = "/api/v1/limit",
    tag = "floor",
    request_body = LiveLimit,
    security(("session" = [])),
    responses(
        (status = 200, description = "It is kept from now on", body = LiveLimit),
        (status = 422, description = "This floor is only watched", body = Problem),
        (status = 503, description = "Too many orders at once, or it is ending", body = Problem),
        Refusals
    )
)]
pub(super) async fn turn_down(
    Extract(shared): Extract<Shared>,
    _: Operator,
    Told(limit): Told<LiveLimit>,
) -> Response {
    match shared.source.command(Command::LimitFloor(limit)).await {
        Ok(_) => (StatusCode::OK, Json(limit)).into_response(),
        Err(why) => pattern::NotShown::from(why).into_response(),
    }
}

#[cfg(test)]
mod tests;
