//! Faults: found, being repaired, repaired, and proved by a survey.

use axum::extract::rejection::{PathRejection, QueryRejection};
use axum::extract::{Path, Query, State as Extract};
use axum::http::StatusCode;
use axum::response::Response;
use serde::Deserialize;
use utoipa::{IntoParams, ToSchema};

use super::super::Shared;
use super::super::operator::extract::{Operator, Refusals, Told};
use super::super::problem::{Problem, problem};
use super::answer;
use crate::book::{ByHand, FaultRow, FaultState, Step};

/// Which faults.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(in super::super) struct WhichFaults {
    /// Only those of which something is left to do, or only those that are through; all if it is not said.
    open: Option<bool>,
}

/// All faults of the book, in the order in which they were found.
#[utoipa::path(
    get,
    path = "/api/v1/book/faults",
    tag = "book",
    params(WhichFaults),
    responses(
        (status = 200, description = "The faults with their steps", body = Vec<FaultRow>),
        (status = 400, description = "The query is not understood", body = Problem),
        (status = 404, description = "No book is kept", body = Problem),
        (status = 503, description = "It can't be read now", body = Problem)
    )
)]
pub(in super::super) async fn book_faults(
    Extract(shared): Extract<Shared>,
    query: Result<Query<WhichFaults>, QueryRejection>,
) -> Response {
    let which = match query {
        Ok(Query(which)) => which,
        Err(why) => return problem(StatusCode::BAD_REQUEST, "bad_query", why.body_text()),
    };
    answer(&shared, move |book| {
        let mut rows = book.faults()?;
        rows.retain(|row| which.open.is_none_or(|open| row.open == open));
        Ok(rows)
    })
    .await
}

/// A fault that somebody saw.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(in super::super) struct SeenFault {
    /// The panel's serial. Without one the book says who lies at the position.
    #[schema(example = "M017")]
    serial: Option<String>,
    /// Where it is. Without one the book says where the panel lies.
    #[schema(example = "C4")]
    position: Option<String>,
    /// What was seen.
    #[schema(example = "The plate is cracked in one corner.")]
    text: String,
    /// Who saw it.
    #[schema(example = "Ida")]
    who: String,
}

/// Writes a fault that somebody saw.
#[utoipa::path(
    post,
    path = "/api/v1/book/faults",
    tag = "book",
    request_body = SeenFault,
    security(("session" = [])),
    responses(
        (status = 200, description = "It is written", body = FaultRow),
        (status = 404, description = "No book is kept", body = Problem),
        (status = 422, description = "Something is missing or too long", body = Problem),
        (status = 503, description = "It can't be written now", body = Problem),
        Refusals
    )
)]
pub(in super::super) async fn write_fault(
    Extract(shared): Extract<Shared>,
    _: Operator,
    Told(seen): Told<SeenFault>,
) -> Response {
    let seen = ByHand {
        serial: seen.serial,
        position: seen.position.map(|position| position.trim().to_uppercase()),
        text: seen.text,
        who: seen.who,
    };
    answer(&shared, move |book| book.by_hand(&seen)).await
}

/// What was done about a fault.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(in super::super) struct StepOfFault {
    /// What it becomes. That it is proved only a survey says.
    state: FaultState,
    /// Who says so.
    #[schema(example = "Ida")]
    who: String,
    /// What they say of it.
    #[serde(default)]
    note: String,
}

/// Writes what was done about a fault. A survey proves what somebody has repaired.
#[utoipa::path(
    post,
    path = "/api/v1/book/faults/{id}",
    tag = "book",
    params(("id" = i64, Path, description = "Number of the fault in the book")),
    request_body = StepOfFault,
    security(("session" = [])),
    responses(
        (status = 200, description = "It is written", body = FaultRow),
        (status = 404, description = "There is no such fault, or no book is kept", body = Problem),
        (status = 409, description = "It can't become that from what it is", body = Problem),
        (status = 422, description = "Something is missing, or only a survey may say so", body = Problem),
        (status = 503, description = "It can't be written now", body = Problem),
        Refusals
    )
)]
pub(in super::super) async fn step_fault(
    Extract(shared): Extract<Shared>,
    _: Operator,
    id: Result<Path<i64>, PathRejection>,
    Told(step): Told<StepOfFault>,
) -> Response {
    let Ok(Path(id)) = id else {
        let text = "A fault's number is a whole number, as `/api/v1/book/faults` gives it.";
        return problem(StatusCode::NOT_FOUND, "no_such_fault", text);
    };
    let step = Step {
        state: step.state,
        who: step.who,
        note: step.note,
    };
    answer(&shared, move |book| book.step(id, &step)).await
}
