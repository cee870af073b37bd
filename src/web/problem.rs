//! Errors as JSON.

use axum::Json;
use axum::http::{Method, StatusCode, Uri};
use axum::response::{IntoResponse, Response};
use serde::Serialize;
use utoipa::ToSchema;

/// What went wrong.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct Problem {
    /// A stable word for it.
    #[schema(example = "not_found")]
    pub error: String,
    /// For people.
    pub message: String,
}

/// An answer that says what went wrong.
pub(super) fn problem(status: StatusCode, error: &str, message: impl Into<String>) -> Response {
    let body = Problem {
        error: error.into(),
        message: message.into(),
    };
    (status, Json(body)).into_response()
}

/// No such path.
pub(super) async fn unknown(uri: Uri) -> Response {
    let text = format!(
        "there is no {}; /api/v1/openapi.json lists what there is",
        uri.path()
    );
    problem(StatusCode::NOT_FOUND, "not_found", text)
}

/// The path is there, but only to be read.
pub(super) async fn wrong_method(method: Method, uri: Uri) -> Response {
    let text = format!("{} can't be used with {method}", uri.path());
    problem(StatusCode::METHOD_NOT_ALLOWED, "method_not_allowed", text)
}

/// What should never fail did: text could not be written.
pub(super) fn unwritten(error: std::fmt::Error) -> Response {
    tracing::error!(%error, "a text can't be written");
    problem(
        StatusCode::INTERNAL_SERVER_ERROR,
        "internal",
        "the answer could not be written",
    )
}

/// What should never fail did: a snapshot could not be written as JSON.
pub(super) fn internal(error: &serde_json::Error) -> Response {
    tracing::error!(%error, "a snapshot can't be written as JSON");
    problem(
        StatusCode::INTERNAL_SERVER_ERROR,
        "internal",
        "the answer could not be written",
    )
}
