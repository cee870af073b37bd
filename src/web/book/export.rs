//! All of the book, to take away.

use axum::extract::State as Extract;
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};

use super::super::Shared;
use super::super::problem::Problem;
use super::done;
use crate::book::{Keeps, NotDone};

/// All of the book.
#[utoipa::path(
    get,
    path = "/api/v1/book/export.json",
    tag = "book",
    responses(
        (status = 200, description = "Every table with its rows", body = serde_json::Value),
        (status = 404, description = "No book is kept", body = Problem),
        (status = 503, description = "It can't be read now", body = Problem)
    )
)]
pub(in super::super) async fn book_json(Extract(shared): Extract<Shared>) -> Response {
    file(&shared, "application/json", "json", |book| book.json()).await
}

/// The faults of the book and what was done about them, for spreadsheets.
#[utoipa::path(
    get,
    path = "/api/v1/book/export.csv",
    tag = "book",
    responses(
        (status = 200, description = "CSV (RFC 4180) with a line of names", body = String,
         content_type = "text/csv"),
        (status = 404, description = "No book is kept", body = Problem),
        (status = 503, description = "It can't be read now", body = Problem)
    )
)]
pub(in super::super) async fn book_csv(Extract(shared): Extract<Shared>) -> Response {
    file(&shared, "text/csv; charset=utf-8", "csv", |book| book.csv()).await
}

async fn file(
    shared: &Shared,
    kind: &'static str,
    end: &'static str,
    work: impl FnOnce(&dyn Keeps) -> Result<String, NotDone> + Send + 'static,
) -> Response {
    let text = match done(shared, work).await {
        Ok(text) => text,
        Err(refusal) => return refusal,
    };
    let name = format!("attachment; filename=\"book.{end}\"");
    let headers = [(CONTENT_TYPE, kind.to_owned()), (CONTENT_DISPOSITION, name)];
    (headers, text).into_response()
}
