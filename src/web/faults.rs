//! `/api/v1/faults`: what is dead and why, what people say of it, and evidence that is taken back.
//!
//! Nothing is thought here: what is said goes to the task that owns the estimator, and what it makes of
//! everything is read from a watch channel.

use std::sync::Arc;

use axum::Json;
use axum::extract::{Path, State as Extract};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use serde::Deserialize;
use tokio::sync::{mpsc, oneshot, watch};
use utoipa::ToSchema;

use super::operator::extract::{Operator, Refusals, Told};
use super::problem::{Problem, problem};
use super::{NotDone, Shared};
use crate::health::estimate::NotTaken;
use crate::health::evidence::Says;
use crate::health::snapshot::Health;

/// What people tell the estimator.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum HealthWish {
    /// Somebody says something of a panel.
    Report {
        /// Column letter and row number.
        position: String,
        /// One of its segments, counted from 1.
        segment: Option<u32>,
        /// What.
        says: Says,
    },
    /// A piece of evidence is taken back.
    Withdraw(u64),
}

/// What came of it: what is known then.
pub type HealthAnswer = Result<Arc<Health>, NotTaken>;

/// A wish, and where its answer goes.
pub type HealthOrder = (HealthWish, oneshot::Sender<HealthAnswer>);

/// What is known of faults, as far as it is not thought here.
#[derive(Debug, Clone)]
pub struct Faults {
    /// What is known.
    pub health: watch::Receiver<Arc<Health>>,
    /// Where wishes go.
    pub wishes: mpsc::Sender<HealthOrder>,
}

/// The other ends of [`Faults`], for the task that owns the estimator.
#[derive(Debug)]
pub struct FaultEnds {
    /// What is known.
    pub told: watch::Sender<Arc<Health>>,
    /// Wishes that wait.
    pub wished: mpsc::Receiver<HealthOrder>,
}

impl Faults {
    /// Channels whose other ends are [`FaultEnds`].
    pub fn channels() -> (Self, FaultEnds) {
        let (told, health) = watch::channel(Arc::default());
        let (wishes, wished) = mpsc::channel(8);
        (Self { health, wishes }, FaultEnds { told, wished })
    }

    async fn wish(&self, wish: HealthWish) -> Result<HealthAnswer, NotDone> {
        let (answer, answered) = oneshot::channel();
        self.wishes.try_send((wish, answer))?;
        answered.await.map_err(|_| NotDone::Ended)
    }
}

/// What somebody says of a panel.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct SayOfPanel {
    /// Column letter and row number.
    #[schema(example = "C4")]
    position: String,
    /// One of its segments, counted from 1 in wiring order; the whole panel if left out.
    segment: Option<u32>,
    /// What.
    says: Says,
}

/// What is dead or not right, as far as all evidence tells. An estimate: what it does not name is not
/// proven to be sound.
///
/// Evidence of kind `show` comes from the running show: what sensors of current read, beside what was
/// computed from what really left. There is none before a survey by sensors has come to its end on this
/// floor, for that is what teaches how the sensors err; none of segments that no survey has judged, and
/// none while a survey, a calibration run or a silent node explains what lacks. A survey that is newer
/// overrules it, and so does somebody who says that a panel is fine.
#[utoipa::path(
    get,
    path = "/api/v1/faults",
    tag = "faults",
    responses((status = 200, description = "What is known", body = Health))
)]
pub(super) async fn faults(Extract(shared): Extract<Shared>) -> Response {
    let health = Arc::clone(&shared.source.faults.health.borrow());
    Json(&*health).into_response()
}

/// Says what somebody sees of a panel. `fine_now` takes back what was said of it before.
#[utoipa::path(
    post,
    path = "/api/v1/reports",
    tag = "faults",
    request_body = SayOfPanel,
    security(("session" = [])),
    responses(
        (status = 200, description = "Taken; what is known now", body = Health),
        (status = 404, description = "There is no such panel or segment", body = Problem),
        Refusals
    )
)]
pub(super) async fn report_panel(
    Extract(shared): Extract<Shared>,
    _: Operator,
    Told(said): Told<SayOfPanel>,
) -> Response {
    let wish = HealthWish::Report {
        position: said.position,
        segment: said.segment,
        says: said.says,
    };
    answer(shared.source.faults.wish(wish).await)
}

/// Takes a piece of evidence back.
#[utoipa::path(
    delete,
    path = "/api/v1/evidence/{id}",
    tag = "faults",
    params(("id" = u64, Path, description = "`id` of the evidence")),
    security(("session" = [])),
    responses(
        (status = 200, description = "Taken back; what is known now", body = Health),
        (status = 404, description = "There is no such evidence", body = Problem),
        Refusals
    )
)]
pub(super) async fn withdraw_evidence(
    Extract(shared): Extract<Shared>,
    _: Operator,
    id: Result<Path<u64>, axum::extract::rejection::PathRejection>,
) -> Response {
    let Ok(Path(id)) = id else {
        let text = "An id of evidence is a whole number, as `/api/v1/faults` gives it.";
        return problem(StatusCode::NOT_FOUND, "no_evidence", text);
    };
    answer(shared.source.faults.wish(HealthWish::Withdraw(id)).await)
}

fn answer(done: Result<HealthAnswer, NotDone>) -> Response {
    match done {
        Ok(Ok(health)) => Json(&*health).into_response(),
        Ok(Err(not)) => {
            let code = match not {
                NotTaken::NoPanel(_) => "no_panel",
                NotTaken::NoSegment { .. } => "no_segment",
                NotTaken::NoEvidence(_) => "no_evidence",
            };
            problem(StatusCode::NOT_FOUND, code, not.to_string())
        }
        Err(not) => not.told(StatusCode::CONFLICT),
    }
}

#[cfg(test)]
mod tests;
