//! `/api/v1/live`: who may open the live stream.

use std::net::{IpAddr, Ipv4Addr};
use std::sync::Arc;

use axum::extract::State as Extract;
use axum::extract::ws::WebSocketUpgrade;
use axum::extract::ws::rejection::WebSocketUpgradeRejection;
use axum::http::StatusCode;
use axum::http::request::Parts;
use axum::response::Response;

use super::crowd::Stage;
use super::operator::Caller;
use super::place::Place;
use super::problem::{Problem, problem};
use super::{Shared, session};

/// No message of a client needs to be longer.
const LARGEST: usize = 4 * 1_024;

/// The live stream: a WebSocket with binary messages, little endian.
///
/// The first byte is the kind: 1 the floor and where its pixels lie, 2 the picture (levels as they
/// stand in the slots: red, green, blue and, where a pixel has it, white), 3 the state as JSON. A client may send `{"view":"sent"|"asked"|"none","max_fps":30,"also_fps":5}`. With
/// `also_fps` (1 to 30) the other view's pictures come too, at most so often; the second byte of
/// a picture says which view it is. A wish with a view but without `also_fps` ends them, and so
/// does the view `none`.
///
/// A client that says `{"deltas":true}` gets a message of kind 7 in place of a whole picture wherever that
/// is shorter: what changed since the last picture of that view that it was sent, as runs of pixels.
/// A level that moved by less than a 64th of itself may wait for up to a second: the picture is exact once it
/// stands still, and that near while it moves.
///
/// A client that says `{"me":""}` is given an id as a message of kind 4, with which it may ask that
/// a pattern ends when it goes away. When it connects again it says `{"me":"the id"}` to be known
/// as the same.
///
/// With `{"voltages":true}` the voltages come as JSON, as `/api/v1/voltages` gives them, some two times
/// a second, as messages of kind 6.
///
/// With `{"slots":["0:0:3"],"reference":"first_pixels"|"all"}` the slots of up to 64 universes come
/// as they arrive, at most ten times a second, as messages of kind 5; an empty list ends them. With
/// a reference, which the operator sends from the console on purpose, each universe comes with where
/// it has landed.
#[utoipa::path(
    get,
    path = "/api/v1/live",
    tag = "floor",
    responses(
        (status = 101, description = "The stream follows"),
        (status = 403, description = "Asked by a page from elsewhere", body = Problem),
        (status = 426, description = "Not a WebSocket request", body = Problem),
        (status = 503, description = "Too many are connected", body = Problem)
    )
)]
pub(super) async fn live(
    Extract(shared): Extract<Shared>,
    parts: Parts,
    upgrade: Result<WebSocketUpgrade, WebSocketUpgradeRejection>,
) -> Response {
    let caller = Caller::of(&parts);
    if caller.foreign() {
        let text = "the live stream is for pages of this daemon only";
        return problem(StatusCode::FORBIDDEN, "foreign_origin", text);
    }
    let upgrade = match upgrade {
        Ok(upgrade) => upgrade,
        Err(refused) => {
            return problem(
                StatusCode::UPGRADE_REQUIRED,
                "not_a_websocket",
                refused.body_text(),
            );
        }
    };
    let seats = if caller.guest {
        &shared.guest_seats
    } else {
        &shared.seats
    };
    let turned = shared.gate.turned();
    let place = Place::of(caller.peer.unwrap_or(IpAddr::V4(Ipv4Addr::UNSPECIFIED)));
    let Some(admitted) = seats.admit(place, Stage::Looking) else {
        turned.stream_refused(seats);
        let text = "too many are connected from where you are: close some of the pages there";
        return problem(StatusCode::SERVICE_UNAVAILABLE, "too_many", text);
    };
    if admitted.instead_of.is_some() {
        turned.stream_gave_way(seats);
    }
    upgrade
        .max_message_size(LARGEST)
        .max_frame_size(LARGEST)
        .on_upgrade(async move |socket| {
            let id = session::run(socket, Arc::clone(&shared), admitted.leave).await;
            drop(admitted.seat);
            if let Some(id) = id {
                shared.presences.left(&id, &shared.source).await;
            }
        })
}

#[cfg(test)]
mod tests {
    use super::super::SEATS;
    use super::super::testing::{Bench, Live, ask, refusal};
    use super::*;

    #[tokio::test(start_paused = true)]
    async fn a_page_from_elsewhere_is_refused() {
        let bench = Bench::new();
        let refused = bench
            .open(Some("http://elsewhere.example"))
            .await
            .unwrap_err();
        assert_eq!(refusal(&refused), StatusCode::FORBIDDEN);
        let own = bench.open(Some("http://floor.local:8080")).await.unwrap();
        drop(own);
        let none = bench.open(None).await.unwrap();
        drop(none);
        let plain = ask(&bench.router, "/api/v1/live", &[]).await;
        assert_eq!(plain.status, StatusCode::UPGRADE_REQUIRED);
        assert_eq!(plain.json()["error"], "not_a_websocket");
    }

    #[tokio::test(start_paused = true)]
    async fn one_too_many_is_refused_until_another_leaves() {
        let bench = Bench::new();
        let mut clients: Vec<Live> = Vec::new();
        // All of them come from one place.
        for _ in 0..SEATS.of_one {
            clients.push(bench.open(None).await.unwrap());
        }
        let refused = bench.open(None).await.unwrap_err();
        assert_eq!(refusal(&refused), StatusCode::SERVICE_UNAVAILABLE);
        assert_eq!(bench.shared.gate.turned().counts().streams_refused, 1);
        clients.pop().unwrap().leave().await;
        bench.open(None).await.unwrap();
    }
}
