//! Which panel lies where, what is left to look at, and the floor file that says so.

use std::collections::BTreeMap;
use std::path::Path as FilePath;
use std::sync::Arc;

use axum::Json;
use axum::extract::{Path, State as Extract};
use axum::http::StatusCode;
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::super::Shared;
use super::super::operator::extract::{Operator, Refusals, Told};
use super::super::problem::{Problem, problem};
use super::{answer, done};
use crate::book::checklist::{Checklist, checklist};
use crate::book::placing::{NotRewritten, Rewritten, rewrite};
use crate::book::{Keeps, NotDone, PlacedRow};
use crate::floor::serial;

/// Which panel is laid where.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(in super::super) struct PlacePanel {
    /// Which.
    #[schema(example = "M017")]
    serial: String,
    /// Where: column letter and row number.
    #[schema(example = "C4")]
    position: String,
    /// Who lays it.
    #[schema(example = "Ida")]
    who: String,
}

/// The position of the floor that somebody means, if it has one.
fn position(shared: &Shared, said: &str) -> Option<String> {
    let wanted = said.trim().to_uppercase();
    let view = Arc::clone(&shared.source.floor.borrow());
    let mut panels = view.document.panels.iter();
    panels
        .any(|panel| panel.position == wanted)
        .then_some(wanted)
}

/// Writes that a panel lies at a position. It lies nowhere else then, and what lay there does not any
/// more. The floor file stays as it is; see `/api/v1/book/floor.toml`.
#[utoipa::path(
    post,
    path = "/api/v1/book/placed",
    tag = "book",
    request_body = PlacePanel,
    security(("session" = [])),
    responses(
        (status = 200, description = "It is written", body = PlacedRow),
        (status = 404, description = "No book is kept", body = Problem),
        (status = 422, description = "There is no such position, the serial can't be one, or something \
                                      is missing", body = Problem),
        (status = 503, description = "It can't be written now", body = Problem),
        Refusals
    )
)]
pub(in super::super) async fn place_panel(
    Extract(shared): Extract<Shared>,
    _: Operator,
    Told(wish): Told<PlacePanel>,
) -> Response {
    let Some(position) = position(&shared, &wish.position) else {
        let text = format!(
            "There is no panel at {} on this floor: name a position such as A1.",
            wish.position
        );
        let status = StatusCode::UNPROCESSABLE_ENTITY;
        return problem(status, "no_such_position", text);
    };
    let said = wish.serial.trim().to_owned();
    if !serial::valid(&said) {
        let text = "A serial has 1 to 32 letters, digits, hyphens, points or underscores.";
        return problem(StatusCode::UNPROCESSABLE_ENTITY, "bad_serial", text);
    }
    answer(&shared, move |book| book.place(&said, &position, &wish.who)).await
}

/// Writes that nothing lies at a position any more.
#[utoipa::path(
    delete,
    path = "/api/v1/book/placed/{position}",
    tag = "book",
    params(("position" = String, Path, description = "Where", example = "C4")),
    security(("session" = [])),
    responses(
        (status = 204, description = "Nothing lies there"),
        (status = 404, description = "No book is kept", body = Problem),
        (status = 422, description = "It can't be a position", body = Problem),
        (status = 503, description = "It can't be written now", body = Problem),
        Refusals
    )
)]
pub(in super::super) async fn unplace_panel(
    Extract(shared): Extract<Shared>,
    _: Operator,
    Path(position): Path<String>,
) -> Response {
    let position = position.trim().to_uppercase();
    match done(&shared, move |book| book.unplace(&position)).await {
        Ok(_) => StatusCode::NO_CONTENT.into_response(),
        Err(refusal) => refusal,
    }
}

/// What is left to look at after a rebuild: panels that lie nowhere, that are silent, or that draw
/// otherwise than when they were last good on the bench.
#[utoipa::path(
    get,
    path = "/api/v1/book/checklist",
    tag = "book",
    responses(
        (status = 200, description = "The list", body = Checklist),
        (status = 404, description = "No book is kept", body = Problem),
        (status = 503, description = "It can't be read now", body = Problem)
    )
)]
pub(in super::super) async fn book_checklist(Extract(shared): Extract<Shared>) -> Response {
    let health = Arc::clone(&shared.source.faults.health.borrow());
    answer(&shared, move |book| {
        let panels = book.panels()?;
        let tested = panels.iter().filter(|panel| panel.last_bench.is_some());
        let signed =
            tested.map(|panel| Ok((panel.serial.clone(), book.signatures(&panel.serial)?)));
        let signed = signed.collect::<Result<BTreeMap<_, _>, NotDone>>()?;
        Ok(checklist(&panels, in_order(book)?, &signed, &health))
    })
    .await
}

/// What lies where, row by row: A2 before A10.
fn in_order(book: &dyn Keeps) -> Result<Vec<PlacedRow>, NotDone> {
    let mut placed = book.placed()?;
    placed.sort_by_key(|row| (row.position.len(), row.position.clone()));
    Ok(placed)
}

/// The floor file with the serials as they are placed.
async fn rewritten(shared: &Shared) -> Result<Rewritten, Response> {
    let view = Arc::clone(&shared.source.floor.borrow());
    let made = done(shared, move |book| {
        let placed = book.placed()?;
        let name = view.file.own_name();
        Ok(rewrite(&name, &view.file.text, &view.floor, &placed))
    });
    made.await?.map_err(|why| {
        let (status, word) = match &why {
            NotRewritten::NotAllPlaced(_) => (StatusCode::CONFLICT, "not_all_placed"),
            NotRewritten::Unamended(_) => (StatusCode::UNPROCESSABLE_ENTITY, "not_amended"),
        };
        problem(status, word, super::sentence(&why.to_string()))
    })
}

/// What would change in the floor file.
#[derive(Debug, Serialize, ToSchema)]
pub(in super::super) struct FloorDiff {
    /// A unified diff; empty if the file says it already.
    diff: String,
}

/// What would change in the floor file by the serials as they are placed.
#[utoipa::path(
    get,
    path = "/api/v1/book/diff",
    tag = "book",
    responses(
        (status = 200, description = "The change", body = FloorDiff),
        (status = 404, description = "No book is kept", body = Problem),
        (status = 409, description = "Not all panels of a run are placed", body = Problem),
        (status = 422, description = "The file can't be amended", body = Problem),
        (status = 503, description = "The book can't be read now", body = Problem)
    )
)]
pub(in super::super) async fn floor_diff(Extract(shared): Extract<Shared>) -> Response {
    match rewritten(&shared).await {
        Ok(Rewritten { diff, .. }) => Json(FloorDiff { diff }).into_response(),
        Err(refusal) => refusal,
    }
}

/// The floor file with the serials as they are placed, for review. Nothing is written by litfloor.
#[utoipa::path(
    get,
    path = "/api/v1/book/floor.toml",
    tag = "book",
    responses(
        (status = 200, description = "The file", body = String, content_type = "application/toml"),
        (status = 404, description = "No book is kept", body = Problem),
        (status = 409, description = "Not all panels of a run are placed", body = Problem),
        (status = 422, description = "The file can't be amended", body = Problem),
        (status = 503, description = "The book can't be read now", body = Problem)
    )
)]
pub(in super::super) async fn floor_as_placed(Extract(shared): Extract<Shared>) -> Response {
    let file = match rewritten(&shared).await {
        Ok(file) => file,
        Err(refusal) => return refusal,
    };
    let stem = FilePath::new(&file.name).file_stem();
    let stem = stem.map_or_else(|| "floor".into(), |stem| stem.to_string_lossy());
    let plain = |c: char| c.is_ascii_alphanumeric() || "-_.".contains(c);
    let stem: String = (stem.chars())
        .map(|c| if plain(c) { c } else { '_' })
        .collect();
    let headers = [
        (CONTENT_TYPE, "application/toml; charset=utf-8".to_owned()),
        (
            CONTENT_DISPOSITION,
            format!("attachment; filename=\"{stem}-as-placed.toml\""),
        ),
    ];
    (headers, file.text).into_response()
}
