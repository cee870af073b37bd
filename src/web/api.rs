//! The API's snapshots.

use std::sync::Arc;

use axum::Json;
use axum::body::Bytes;
use axum::extract::State as Extract;
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse, Response};

use super::Shared;
use super::document::FloorDocument;
use super::messages::STATE_HEADER;
use super::problem::{Problem, internal};
use crate::engine::snapshot::State;
use crate::engine::voltages::Voltages;

fn json(body: Bytes) -> Response {
    ([(CONTENT_TYPE, "application/json")], body).into_response()
}

/// The floor, its wiring and its limits: what does not change while it runs.
#[utoipa::path(
    get,
    path = "/api/v1/floor",
    tag = "floor",
    responses((status = 200, description = "The floor", body = FloorDocument))
)]
pub(super) async fn floor(Extract(shared): Extract<Shared>) -> Response {
    let view = Arc::clone(&shared.source.floor.borrow());
    json(view.json())
}

/// Everything that changes: signal, universes, nodes, computed draw and scale, notices.
#[utoipa::path(
    get,
    path = "/api/v1/state",
    tag = "floor",
    responses(
        (status = 200, description = "The newest snapshot", body = State),
        (status = 500, description = "It could not be written", body = Problem)
    )
)]
pub(super) async fn state(Extract(shared): Extract<Shared>) -> Response {
    let newest = Arc::clone(&shared.source.state.borrow());
    match shared.messages.state(&newest, newest.revision) {
        Ok(message) => json(message.slice(STATE_HEADER..)),
        Err(error) => internal(&error),
    }
}

/// The voltage at every panel while what is being sent is on show, and what is really drawn then. The
/// revision is 0 until the first are found.
#[utoipa::path(
    get,
    path = "/api/v1/voltages",
    tag = "floor",
    responses((status = 200, description = "The newest, computed from the floor file", body = Voltages))
)]
pub(super) async fn voltages(Extract(shared): Extract<Shared>) -> Json<Voltages> {
    let newest = Arc::clone(&shared.source.voltages.borrow());
    Json(Voltages::clone(&newest))
}

#[cfg(test)]
mod tests {
    use axum::http::{Method, StatusCode};
    use serde_json::json;

    use super::super::testing::{Bench, ask, ask_with, state};
    use crate::engine::voltages::Voltages;

    #[tokio::test(start_paused = true)]
    async fn floor_and_state_are_served_as_published() {
        let bench = Bench::new();
        let floor = ask(&bench.router, "/api/v1/floor", &[]).await;
        assert_eq!(floor.status, StatusCode::OK);
        assert_eq!(floor.headers["content-type"], "application/json");
        assert_eq!(floor.json()["panels"][2]["position"], "A2");
        for uptime_s in [1.0, 2.0] {
            bench.state.send_replace(state(uptime_s, 1.5));
            let answer = ask(&bench.router, "/api/v1/state", &[]).await;
            assert_eq!(answer.json()["uptime_s"], uptime_s);
            assert_eq!(answer.json()["circuits"][0]["draw_a"], 1.5);
        }
    }

    #[tokio::test(start_paused = true)]
    async fn voltages_are_served_as_they_are_found() {
        let bench = Bench::new();
        let before = ask(&bench.router, "/api/v1/voltages", &[]).await.json();
        assert_eq!(
            (&before["revision"], &before["found"]),
            (&json!(0), &json!(false))
        );
        let mut voltages = Voltages {
            revision: 1,
            found: true,
            ..Voltages::default()
        };
        voltages.panels.lowest_v = vec![11.25, 12.0, 9.5];
        bench.voltages.send_replace(voltages.into());
        let after = ask(&bench.router, "/api/v1/voltages", &[]).await.json();
        assert_eq!(after["panels"]["lowest_v"], json!([11.25, 12.0, 9.5]));
    }

    #[tokio::test(start_paused = true)]
    async fn what_is_not_there_is_said_in_json() {
        let bench = Bench::new();
        for path in [
            "/api",
            "/api/",
            "/api/v1",
            "/api/v1/nothing",
            "/api/v2/state",
        ] {
            let answer = ask(&bench.router, path, &[]).await;
            assert_eq!(answer.status, StatusCode::NOT_FOUND, "{path}");
            assert_eq!(answer.json()["error"], "not_found", "{path}");
        }
        let answer = ask_with(&bench.router, Method::POST, "/api/v1/state", &[]).await;
        assert_eq!(answer.status, StatusCode::METHOD_NOT_ALLOWED);
        assert_eq!(
            answer.json(),
            json!({"error": "method_not_allowed", "message": "/api/v1/state can't be used with POST"})
        );
    }

    #[tokio::test(start_paused = true)]
    async fn json_is_compressed_for_who_can_read_it() {
        let bench = Bench::new();
        let plain = ask(&bench.router, "/api/v1/floor", &[]).await;
        assert_eq!(plain.headers.get("content-encoding"), None);
        let packed = ask(
            &bench.router,
            "/api/v1/floor",
            &[("accept-encoding", "gzip")],
        )
        .await;
        assert_eq!(packed.headers["content-encoding"], "gzip");
        // The magic number of gzip (RFC 1952).
        assert_eq!(packed.body[..2], [0x1F, 0x8B]);
        assert!(packed.body.len() < plain.body.len());
    }
}
