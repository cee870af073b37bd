use std::net::SocketAddr;

use axum::body::{Body, to_bytes};
use axum::extract::ConnectInfo;
use axum::http::{Method, Request};
use serde_json::{Value, json};
use tower::ServiceExt;

use super::super::testing::Bench;
use super::*;

/// Asks as a program on this machine does.
async fn reload_by(router: &axum::Router, host: &str) -> (u16, Value) {
    let request = Request::builder()
        .method(Method::POST)
        .uri("/api/v1/floor/reload");
    let request = request.header("host", host).body(Body::empty());
    let mut request = request.unwrap();
    let peer = SocketAddr::from(([127, 0, 0, 1], 50_000));
    request.extensions_mut().insert(ConnectInfo(peer));
    let answer = router.clone().oneshot(request).await.unwrap();
    let status = answer.status().as_u16();
    let body = to_bytes(answer.into_body(), usize::MAX).await.unwrap();
    (status, serde_json::from_slice(&body).unwrap())
}

/// What is told when reading the file ends like this.
async fn told(done: Result<Reloaded, NotReloaded>) -> (u16, Value) {
    let mut bench = Bench::new();
    let shell = async {
        let answer = bench.reloads.recv().await.unwrap();
        answer.send(done).unwrap();
    };
    let (told, ()) = tokio::join!(reload_by(&bench.router, "127.0.0.1:8080"), shell);
    told
}

#[tokio::test]
async fn a_floor_that_was_taken_is_told_with_its_cautions() {
    let done = Reloaded {
        revision: 7,
        name: "Hall".into(),
        cautions: vec!["amperes are computed".into()],
    };
    let body = json!({"revision": 7, "name": "Hall", "cautions": ["amperes are computed"]});
    assert_eq!(told(Ok(done)).await, (200, body));
}

#[tokio::test]
async fn faults_are_told_one_by_one() {
    let faults = crate::floor::parse("f.toml", "nme = 1").unwrap_err().rows();
    let count = faults.len();
    let (status, body) = told(Err(NotReloaded::Faulty(faults))).await;
    assert_eq!((status, &body["error"]), (422, &json!("file_refused")));
    assert_eq!(body["faults"].as_array().unwrap().len(), count);
    let faults = body["faults"].as_array().unwrap();
    let unknown = faults.iter().find(|fault| fault["code"] == "unknown-key");
    assert_eq!(unknown.unwrap()["line"], 1, "{faults:?}");
}

#[tokio::test]
async fn without_a_file_or_a_daemon_that_is_said() {
    let (status, body) = told(Err(NotReloaded::NoFile)).await;
    assert_eq!((status, &body["error"]), (409, &json!("no_file")));
    let mut bench = Bench::new();
    bench.reloads.close();
    let (status, body) = reload_by(&bench.router, "127.0.0.1:8080").await;
    assert_eq!((status, &body["error"]), (503, &json!("ending")));
}

#[tokio::test]
async fn one_at_a_time() {
    let mut bench = Bench::new();
    // The queue holds one, and nobody takes it.
    bench
        .shared
        .source
        .reload
        .try_send(oneshot::channel().0)
        .unwrap();
    let (status, body) = reload_by(&bench.router, "127.0.0.1:8080").await;
    assert_eq!((status, &body["error"]), (503, &json!("busy")));
    assert!(bench.reloads.try_recv().is_ok());
}
