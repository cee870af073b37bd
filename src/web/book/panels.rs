//! Panels by their serials: tests on the bench, positions, faults, notes.

use axum::Json;
use axum::extract::{Path, State as Extract};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use serde::Deserialize;
use utoipa::ToSchema;

use super::super::Shared;
use super::super::operator::extract::{Operator, Refusals, Told};
use super::super::problem::{Problem, problem};
use super::{Written, answer, done};
use crate::book::{BenchEntry, PanelPage, PanelRow, Signature};

/// All panels that the book knows, by serial.
#[utoipa::path(
    get,
    path = "/api/v1/book/panels",
    tag = "book",
    responses(
        (status = 200, description = "The panels", body = Vec<PanelRow>),
        (status = 404, description = "No book is kept", body = Problem),
        (status = 503, description = "It can't be read now", body = Problem)
    )
)]
pub(in super::super) async fn book_panels(Extract(shared): Extract<Shared>) -> Response {
    answer(&shared, |book| book.panels()).await
}

/// All that the book holds of one panel.
#[utoipa::path(
    get,
    path = "/api/v1/book/panels/{serial}",
    tag = "book",
    params(("serial" = String, Path, description = "The panel's serial", example = "M017")),
    responses(
        (status = 200, description = "The panel", body = PanelPage),
        (status = 404, description = "The book knows no such panel, or none is kept", body = Problem),
        (status = 503, description = "It can't be read now", body = Problem)
    )
)]
pub(in super::super) async fn book_panel(
    Extract(shared): Extract<Shared>,
    Path(serial): Path<String>,
) -> Response {
    let asked = serial.clone();
    match done(&shared, move |book| book.panel(&asked)).await {
        Ok(Some(page)) => Json(page).into_response(),
        Ok(None) => {
            let text = format!("The book knows no panel {serial}.");
            problem(StatusCode::NOT_FOUND, "no_such_panel", text)
        }
        Err(refusal) => refusal,
    }
}

/// A note on a panel.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(in super::super) struct PanelNote {
    /// What.
    text: String,
    /// Who writes it.
    #[schema(example = "Ida")]
    who: String,
}

/// Writes a note on a panel. A panel that the book does not know yet it knows then.
#[utoipa::path(
    post,
    path = "/api/v1/book/panels/{serial}/notes",
    tag = "book",
    params(("serial" = String, Path, description = "The panel's serial", example = "M017")),
    request_body = PanelNote,
    security(("session" = [])),
    responses(
        (status = 200, description = "It is written", body = Written),
        (status = 404, description = "No book is kept", body = Problem),
        (status = 422, description = "Something is missing or too long", body = Problem),
        (status = 503, description = "It can't be written now", body = Problem),
        Refusals
    )
)]
pub(in super::super) async fn write_note(
    Extract(shared): Extract<Shared>,
    _: Operator,
    Path(serial): Path<String>,
    Told(note): Told<PanelNote>,
) -> Response {
    answer(&shared, move |book| {
        book.note(&serial, &note.text, &note.who)
            .map(|()| Written {})
    })
    .await
}

/// A test on the bench.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(in super::super) struct BenchTest {
    /// Whether the panel was good.
    passed: bool,
    /// Who tested it.
    #[schema(example = "Ida")]
    who: String,
    /// What they say of it.
    #[serde(default)]
    note: String,
    /// Mean currents in amperes, if a sensor was there: `dark_a`, `red_a`, …
    #[schema(value_type = Option<std::collections::BTreeMap<String, f64>>)]
    signature: Option<Signature>,
}

/// Writes a test on the bench. A panel that the book does not know yet it knows then.
#[utoipa::path(
    post,
    path = "/api/v1/book/panels/{serial}/bench",
    tag = "book",
    params(("serial" = String, Path, description = "The panel's serial", example = "M017")),
    request_body = BenchTest,
    security(("session" = [])),
    responses(
        (status = 200, description = "It is written", body = Written),
        (status = 404, description = "No book is kept", body = Problem),
        (status = 422, description = "Something is missing or can't be", body = Problem),
        (status = 503, description = "It can't be written now", body = Problem),
        Refusals
    )
)]
pub(in super::super) async fn write_bench(
    Extract(shared): Extract<Shared>,
    _: Operator,
    Path(serial): Path<String>,
    Told(test): Told<BenchTest>,
) -> Response {
    let test = BenchEntry {
        passed: test.passed,
        who: test.who,
        note: test.note,
        signature: test.signature,
    };
    answer(&shared, move |book| {
        book.bench(&serial, &test).map(|()| Written {})
    })
    .await
}
