//! `/api/v1/book`: the book of repairs. What people do and ask here is read and written on threads that
//! may wait for the disk.
//!
//! - [`faults`]: what was found and what was done about it;
//! - [`panels`]: what is known of a panel by its serial;
//! - [`placing`]: which panel lies where, what is left to look at, and the floor file that says so;
//! - [`export`]: all of it, to take away.

pub(super) mod export;
pub(super) mod faults;
pub(super) mod panels;
pub(super) mod placing;
#[cfg(test)]
mod tests;

use std::sync::Arc;

use axum::Json;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use serde::Serialize;
use tokio::sync::watch;
use utoipa::ToSchema;

use super::Shared;
use super::problem::problem;
use crate::book::{Keeps, NotDone};

/// The book, and who hears that something was written.
#[derive(Debug, Clone)]
pub struct Book {
    /// Who keeps it.
    pub keeper: Arc<dyn Keeps>,
    /// Its version, told by whoever has written.
    pub version: watch::Sender<u64>,
}

impl Book {
    /// Nobody has heard of it yet.
    pub fn new(keeper: Arc<dyn Keeps>) -> Self {
        let version = watch::channel(keeper.version()).0;
        Self { keeper, version }
    }

    /// Tells that something may have been written.
    pub fn written(&self) {
        let is = self.keeper.version();
        self.version
            .send_if_modified(|was| std::mem::replace(was, is) != is);
    }
}

/// What there is to say when something was written that has no answer of its own.
#[derive(Debug, Serialize, ToSchema)]
pub(super) struct Written {}

/// Asks the book, or writes into it.
async fn done<T: Send + 'static>(
    shared: &Shared,
    work: impl FnOnce(&dyn Keeps) -> Result<T, NotDone> + Send + 'static,
) -> Result<T, Response> {
    let Some(book) = shared.source.book.clone() else {
        let text =
            "No book is kept, for there is no place for it: choose a directory with --state.";
        return Err(problem(StatusCode::NOT_FOUND, "no_book", text));
    };
    let done = tokio::task::spawn_blocking(move || {
        let done = work(&*book.keeper);
        book.written();
        done
    });
    match done.await {
        Ok(done) => done.map_err(|why| refused(&why)),
        Err(error) => {
            tracing::error!(%error, "the book could not be used");
            let text = "The book could not be used; nothing of it was lost. Try again.";
            Err(problem(StatusCode::INTERNAL_SERVER_ERROR, "internal", text))
        }
    }
}

/// The answer to one who asks.
async fn answer<T: Serialize + Send + 'static>(
    shared: &Shared,
    work: impl FnOnce(&dyn Keeps) -> Result<T, NotDone> + Send + 'static,
) -> Response {
    match done(shared, work).await {
        Ok(it) => Json(it).into_response(),
        Err(refusal) => refusal,
    }
}

/// What whoever asked is told.
fn refused(why: &NotDone) -> Response {
    let status = match why {
        NotDone::NoSuchFault(_) => StatusCode::NOT_FOUND,
        NotDone::NotFromThere { .. } | NotDone::OpenAgain { .. } => StatusCode::CONFLICT,
        _ if why.of_machine() => {
            tracing::error!(%why, "the book of repairs");
            StatusCode::SERVICE_UNAVAILABLE
        }
        _ => StatusCode::UNPROCESSABLE_ENTITY,
    };
    problem(status, why.word(), sentence(&why.to_string()))
}

/// A text with a capital letter and a full stop.
fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().into_iter().flat_map(char::to_uppercase);
    let whole: String = first.chain(letters).collect();
    format!("{}.", whole.trim_end_matches('.'))
}
