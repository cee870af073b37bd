//! A program on this machine, which may change something while no passphrase is set.

use std::net::SocketAddr;

use axum::Router;
use axum::body::Body;
use axum::extract::ConnectInfo;
use axum::http::{Method, Request};
use axum::response::Response;
use serde_json::{Value, json};
use tokio_tungstenite::tungstenite::Message as Said;
use tower::ServiceExt;

use super::{Answer, Live, read};

/// A request of that program; `null` is no body.
pub(in super::super) fn request(method: Method, path: &str, body: &Value) -> Request<Body> {
    let peer = SocketAddr::from(([127, 0, 0, 1], 50_000));
    let request = Request::builder().method(method).uri(path);
    let request = request.header("host", "127.0.0.1:8080");
    let request = request.extension(ConnectInfo(peer));
    let request = if body.is_null() {
        request.body(Body::empty())
    } else {
        let request = request.header("content-type", "application/json");
        request.body(Body::from(body.to_string()))
    };
    request.unwrap()
}

/// Asks as that program does; gives status and body.
pub(in super::super) async fn ask_here(
    router: &Router,
    method: Method,
    path: &str,
    body: Value,
) -> (u16, Value) {
    let answer: Response = (router.clone().oneshot(request(method, path, &body)).await).unwrap();
    let answer: Answer = read(answer).await;
    (answer.status.as_u16(), answer.json())
}

/// Asks for an id over a live connection, saying the one that it had `before`.
pub(in super::super) async fn id_of(client: &mut Live, before: &str) -> String {
    client
        .say(Said::text(json!({"me": before}).to_string()))
        .await;
    let told = client.next_of(4).await;
    String::from_utf8(told[4..].to_vec()).unwrap()
}
