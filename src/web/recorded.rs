//! The recorded history: ranges for charts, rows for spreadsheets, totals since the start.

use std::sync::Arc;

use axum::Json;
use axum::body::Body;
use axum::extract::rejection::QueryRejection;
use axum::extract::{Query, State as Extract};
use axum::http::StatusCode;
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};
use serde::Deserialize;
use tokio::sync::{Semaphore, mpsc};
use utoipa::IntoParams;

use super::Shared;
use super::history::{History, HistoryReply};
use super::problem::{Problem, problem};
use super::ranges::{EnergyState, RangeHistory};
use super::timers;
use crate::power::moment;
use crate::power::series::{Archive, Ask, Unread};

mod csv;

/// Buckets when nothing is said, and at most.
const POINTS: u32 = 600;
const MOST_POINTS: u32 = 2_000;

/// Seconds back from the end when nothing is said.
const BACK_S: i64 = 3_600;

/// Questions that are answered at one time; more wait.
pub(super) const AT_ONCE: usize = 2;

/// A range of the history.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(super) struct Wanted {
    /// When it begins: seconds since 1970 or a time in UTC like `2026-06-20T21:14:03Z`. An hour before
    /// its end if it is not said.
    from: Option<String>,
    /// When it ends, likewise. Now if it is not said.
    to: Option<String>,
    /// The most buckets that it is cut into, 1 to 2000; 600 if it is not said.
    points: Option<u32>,
    /// One element: `floor`, `circuit:NAME`, `supply:NAME` or `feed:NAME`. All if it is not said.
    element: Option<String>,
}

fn refused(why: String) -> Response {
    problem(StatusCode::BAD_REQUEST, "bad_range", why)
}

impl Wanted {
    fn is_nothing(&self) -> bool {
        self.from.is_none() && self.to.is_none() && self.points.is_none() && self.element.is_none()
    }

    fn ask(&self, now: i64) -> Result<Ask, String> {
        let moment = |name: &str, text: &Option<String>| match text {
            None => Ok(None),
            Some(text) => moment::read(text)
                .map(Some)
                .map_err(|wanted| format!("{name} must be {wanted}")),
        };
        let to = moment("to", &self.to)?.unwrap_or(now + 1);
        let from = moment("from", &self.from)?.unwrap_or(to - BACK_S);
        if from >= to {
            return Err("from must be before to".to_owned());
        }
        let points = self.points.unwrap_or(POINTS);
        if !(1..=MOST_POINTS).contains(&points) {
            return Err(format!("points must be 1 to {MOST_POINTS}"));
        }
        let element = match &self.element {
            None => None,
            Some(text) => Some(
                text.parse()
                    .map_err(|wanted| format!("element must be {wanted}"))?,
            ),
        };
        Ok(Ask {
            from,
            to,
            points,
            element,
        })
    }
}

/// What the query says, or what is wrong with it.
fn wanted(
    shared: &Shared,
    query: Result<Query<Wanted>, QueryRejection>,
) -> Result<Option<Ask>, String> {
    let Query(wanted) = query.map_err(|rejection| rejection.body_text())?;
    if wanted.is_nothing() {
        return Ok(None);
    }
    wanted.ask(shared.source.archive.now()).map(Some)
}

fn unread(why: &Unread) -> Response {
    problem(
        StatusCode::SERVICE_UNAVAILABLE,
        "history_unread",
        why.to_string(),
    )
}

/// Does what may block off the threads that serve, a few at a time.
async fn apart<T: Send + 'static>(
    shared: &Shared,
    turns: &Arc<Semaphore>,
    work: impl FnOnce(&dyn Archive) -> Result<T, Unread> + Send + 'static,
) -> Result<T, Unread> {
    let failed = |error: &dyn std::fmt::Display| Unread(error.to_string());
    let turn = Arc::clone(turns).acquire_owned().await;
    let turn = turn.map_err(|error| failed(&error))?;
    let archive = Arc::clone(&shared.source.archive);
    let done = tokio::task::spawn_blocking(move || {
        let result = work(&*archive);
        drop(turn);
        result
    });
    done.await.map_err(|error| failed(&error))?
}

/// Computed draw: without any parameter that of the last ten minutes, one row a second; with one
/// that of a range of the recorded history, cut into buckets.
#[utoipa::path(
    get,
    path = "/api/v1/history",
    tag = "history",
    params(Wanted),
    responses(
        (status = 200, description = "Up to 600 rows, oldest first; or the range",
         body = HistoryReply),
        (status = 400, description = "The range can't be", body = Problem),
        (status = 503, description = "The history can't be read now", body = Problem)
    )
)]
pub(super) async fn history(
    Extract(shared): Extract<Shared>,
    query: Result<Query<Wanted>, QueryRejection>,
) -> Response {
    let ask = match wanted(&shared, query) {
        Ok(Some(ask)) => ask,
        Ok(None) => return Json(newest(&shared)).into_response(),
        Err(why) => return refused(why),
    };
    let read = apart(&shared, &shared.reads, move |archive| {
        Ok(RangeHistory::new(
            &archive.series(&ask)?,
            archive.recording(),
        ))
    });
    match read.await {
        Ok(range) => Json(range).into_response(),
        Err(why) => unread(&why),
    }
}

fn newest(shared: &Shared) -> History {
    let ring = shared.history.lock();
    ring.unwrap_or_else(std::sync::PoisonError::into_inner)
        .history()
}

/// The rows of a range of the recorded history, for spreadsheets: seconds where the whole range
/// has them, else minutes.
#[utoipa::path(
    get,
    path = "/api/v1/history.csv",
    tag = "history",
    params(Wanted),
    responses(
        (status = 200, description = "CSV (RFC 4180) with a line of names; times in UTC",
         body = String, content_type = "text/csv"),
        (status = 400, description = "The range can't be", body = Problem),
        (status = 503, description = "The history can't be read now", body = Problem)
    )
)]
pub(super) async fn history_csv(
    Extract(shared): Extract<Shared>,
    query: Result<Query<Wanted>, QueryRejection>,
) -> Response {
    let ask = match wanted(&shared, query) {
        Ok(Some(ask)) => ask,
        Ok(None) => {
            let to = shared.source.archive.now() + 1;
            Ask {
                from: to - BACK_S,
                to,
                points: POINTS,
                element: None,
            }
        }
        Err(why) => return refused(why),
    };
    let (parts, mut written) = mpsc::channel(csv::PARTS);
    let work = Arc::clone(&shared);
    tokio::spawn(async move {
        let to = parts.clone();
        let read = apart(&work, &work.exports, move |archive| {
            csv::write(archive, &ask, &parts, timers::now() + csv::LONGEST)
        });
        if let Err(why) = read.await {
            // Whoever asked may have gone away.
            let _ = to.send(Err(why)).await;
        }
    });
    // The first part tells whether there is anything to answer with.
    let first = match written.recv().await {
        Some(Ok(first)) => first,
        Some(Err(why)) => return unread(&why),
        None => return unread(&Unread("it ended".to_owned())),
    };
    let mut first = Some(Ok(first));
    let parts = futures_util::stream::poll_fn(move |context| match first.take() {
        Some(first) => std::task::Poll::Ready(Some(first)),
        None => written.poll_recv(context),
    });
    let head = [
        (CONTENT_TYPE, "text/csv; charset=utf-8; header=present"),
        (
            CONTENT_DISPOSITION,
            "attachment; filename=\"litfloor-history.csv\"",
        ),
    ];
    (head, Body::from_stream(parts)).into_response()
}

/// What every circuit, supply and feed drew since litfloor was started: peak, average, ampere-hours,
/// kilowatt-hours, and for how long the cap worked.
#[utoipa::path(
    get,
    path = "/api/v1/energy",
    tag = "history",
    responses((status = 200, description = "The totals", body = EnergyState))
)]
pub(super) async fn energy(Extract(shared): Extract<Shared>) -> Json<EnergyState> {
    let energy = Arc::clone(&shared.source.energy.borrow());
    Json(EnergyState::new(&energy, shared.source.archive.recording()))
}

#[cfg(test)]
mod tests;
