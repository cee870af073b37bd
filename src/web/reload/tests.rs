use axum::Router;
use axum::http::Method;
use serde_json::{Value, json};

use super::super::testing::Bench;
use super::super::testing::here::ask_here;
use super::*;

async fn reload_by(router: &Router) -> (u16, Value) {
    ask_here(router, Method::POST, "/api/v1/floor/reload", Value::Null).await
}

/// What is told when reading the file ends like this.
async fn told(done: Result<Reloaded, NotReloaded>) -> (u16, Value) {
    let mut bench = Bench::new();
    let shell = async {
        let answer = bench.reloads.recv().await.unwrap();
        answer.send(done).unwrap();
    };
    let (told, ()) = tokio::join!(reload_by(&bench.router), shell);
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
    let (status, body) = reload_by(&bench.router).await;
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
    let (status, body) = reload_by(&bench.router).await;
    assert_eq!((status, &body["error"]), (503, &json!("busy")));
    assert!(bench.reloads.try_recv().is_ok());
}
