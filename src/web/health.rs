//! `/healthz`: whether the data plane is alive.

use std::sync::Arc;
use std::time::Duration;

use axum::extract::State as Extract;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use tokio::sync::watch;

use super::problem::{Problem, problem};
use super::{Shared, timers};
use crate::engine::snapshot::State;

/// The data plane leaves a snapshot five times a second; after so long without one it is taken
/// as stuck.
pub(super) const PATIENCE: Duration = Duration::from_secs(3);

/// How the data plane is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Health {
    /// It has left no snapshot yet.
    Starting,
    /// It left one lately.
    Fresh,
    /// It has left none for [`PATIENCE`].
    Stuck,
    /// It has ended.
    Ended,
}

/// Follows the snapshots until the data plane ends.
pub(super) async fn follow(mut state: watch::Receiver<Arc<State>>, health: watch::Sender<Health>) {
    loop {
        let now = match timers::within(PATIENCE, state.changed()).await {
            Ok(Ok(())) => Health::Fresh,
            Ok(Err(_)) => Health::Ended,
            Err(_) => Health::Stuck,
        };
        let before = health.send_replace(now);
        if before != now {
            tracing::info!(?before, ?now, "the data plane's health changed");
        }
        if now == Health::Ended {
            return;
        }
    }
}

/// Whether the data plane is alive: 200 while its snapshots are fresh.
#[utoipa::path(
    get,
    path = "/healthz",
    tag = "daemon",
    responses(
        (status = 200, description = "The data plane runs", body = String, content_type = "text/plain"),
        (status = 503, description = "It does not", body = Problem)
    )
)]
pub(super) async fn healthz(Extract(shared): Extract<Shared>) -> Response {
    let reason = match *shared.health.borrow() {
        Health::Fresh => return "ok".into_response(),
        Health::Starting => "the data plane has not reported yet",
        Health::Stuck => "the data plane has not reported for 3 s",
        Health::Ended => "the data plane has ended",
    };
    problem(StatusCode::SERVICE_UNAVAILABLE, "unhealthy", reason)
}

#[cfg(test)]
mod tests {
    use super::super::testing::{Bench, ask, state};
    use super::*;

    #[tokio::test(start_paused = true)]
    async fn tells_a_fresh_data_plane_from_a_stuck_one() {
        let mut bench = Bench::new();
        let mut health = bench.shared.health.clone();
        let answer = ask(&bench.router, "/healthz", &[]).await;
        assert_eq!(answer.status, StatusCode::SERVICE_UNAVAILABLE);
        assert_eq!(
            answer.json()["message"],
            "the data plane has not reported yet"
        );
        for round in 1..=2_u8 {
            bench.state.send_replace(state(f64::from(round), 0.0));
            health
                .wait_for(|health| *health == Health::Fresh)
                .await
                .unwrap();
            let answer = ask(&bench.router, "/healthz", &[]).await;
            assert_eq!(
                (answer.status, &answer.body[..]),
                (StatusCode::OK, &b"ok"[..])
            );
            let fresh_since = timers::now();
            health
                .wait_for(|health| *health == Health::Stuck)
                .await
                .unwrap();
            assert!(fresh_since.elapsed() >= PATIENCE);
            let answer = ask(&bench.router, "/healthz", &[]).await;
            assert_eq!(answer.status, StatusCode::SERVICE_UNAVAILABLE);
            assert_eq!(
                answer.json()["message"],
                "the data plane has not reported for 3 s"
            );
        }
        bench.drop_state();
        health
            .wait_for(|health| *health == Health::Ended)
            .await
            .unwrap();
        let answer = ask(&bench.router, "/healthz", &[]).await;
        assert_eq!(answer.json()["message"], "the data plane has ended");
    }
}
