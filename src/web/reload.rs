//! `/api/v1/floor/reload`: the floor file is read again.

use axum::Json;
use axum::extract::State as Extract;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use serde::Serialize;
use tokio::sync::{mpsc, oneshot};
use utoipa::ToSchema;

use super::Shared;
use super::operator::extract::{Operator, Refusals};
use super::problem::{Problem, problem};
use crate::floor::FaultRow;

/// The wish that the floor file be read again, and where the answer goes.
pub type ReloadOrder = oneshot::Sender<Result<Reloaded, NotReloaded>>;

/// Where such wishes go.
pub type ReloadOrders = mpsc::Sender<ReloadOrder>;

/// The floor was replaced.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct Reloaded {
    /// Revision of the floor that runs now.
    pub revision: u32,
    /// Its name.
    pub name: String,
    /// What someone should know before relying on it.
    pub cautions: Vec<String>,
}

/// The floor was not replaced.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NotReloaded {
    /// The file has faults.
    Faulty(Vec<FaultRow>),
    /// There is no file: the floor is part of the program.
    NoFile,
    /// A fault of litfloor's own.
    Failed,
}

/// The faults of a floor file that was not taken.
#[derive(Debug, Serialize, ToSchema)]
struct FaultyFile {
    /// `file_refused`.
    error: &'static str,
    /// For people.
    message: String,
    /// All of them, in the order of their places.
    faults: Vec<FaultRow>,
}

/// Reads the floor file again. If it is sound, its floor replaces the one that runs between two
/// frames; if not, that goes on.
#[utoipa::path(
    post,
    path = "/api/v1/floor/reload",
    tag = "floor",
    security(("session" = [])),
    responses(
        (status = 200, description = "The floor was replaced", body = Reloaded),
        (status = 409, description = "There is no file to read", body = Problem),
        (status = 422, description = "The file has faults; the floor of before goes on",
         body = FaultyFile),
        (status = 500, description = "A fault of litfloor's own", body = Problem),
        (status = 503, description = "It is being read already, or litfloor is ending",
         body = Problem),
        Refusals
    )
)]
pub(super) async fn reload(Extract(shared): Extract<Shared>, _: Operator) -> Response {
    let (answer, answered) = oneshot::channel();
    if let Err(mpsc::error::TrySendError::Full(_)) = shared.source.reload.try_send(answer) {
        let text = "the floor file is being read already: wait for that";
        return problem(StatusCode::SERVICE_UNAVAILABLE, "busy", text);
    }
    match answered.await {
        Ok(Ok(reloaded)) => Json(reloaded).into_response(),
        Ok(Err(NotReloaded::Faulty(faults))) => {
            let body = FaultyFile {
                error: "file_refused",
                message: "the floor file has faults, and the floor of before goes on".to_owned(),
                faults,
            };
            (StatusCode::UNPROCESSABLE_ENTITY, Json(body)).into_response()
        }
        Ok(Err(NotReloaded::NoFile)) => {
            let text = "this floor is part of the program: there is no file to read again";
            problem(StatusCode::CONFLICT, "no_file", text)
        }
        Ok(Err(NotReloaded::Failed)) => {
            let text = "the floor file could not be read for a fault of litfloor's own, which the \
                        log tells; the floor of before goes on";
            problem(StatusCode::INTERNAL_SERVER_ERROR, "internal", text)
        }
        Err(_) => {
            let text = "litfloor is ending";
            problem(StatusCode::SERVICE_UNAVAILABLE, "ending", text)
        }
    }
}

#[cfg(test)]
mod tests;
