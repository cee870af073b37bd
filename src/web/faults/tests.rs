use axum::http::Method;
use serde_json::{Value, json};

use super::super::testing::Bench;
use super::super::testing::here::ask_here;
use super::*;
use crate::health::snapshot::PanelHealth;

const REPORTS: &str = "/api/v1/reports";

/// Says `body` and plays the task that owns the estimator, which answers with `answer`.
async fn said(
    bench: &mut Bench,
    (method, path, body): (Method, &str, Value),
    answer: HealthAnswer,
) -> (HealthWish, u16, Value) {
    let asked = ask_here(&bench.router, method, path, body);
    let task = async {
        let (wish, told) = bench.faults.wished.recv().await.unwrap();
        told.send(answer).unwrap();
        wish
    };
    let ((status, told), wish) = tokio::join!(asked, task);
    (wish, status, told)
}

fn known() -> Arc<Health> {
    Arc::new(Health {
        revision: 3,
        panels: vec![PanelHealth {
            position: "C4".to_owned(),
            ..PanelHealth::default()
        }],
        ..Health::default()
    })
}

#[tokio::test(start_paused = true)]
async fn what_people_say_reaches_the_task_as_they_said_it() {
    let mut bench = Bench::new();
    let body = json!({"position": "C4", "segment": 2, "says": "wrong_colour"});
    let (wish, status, told) = said(&mut bench, (Method::POST, REPORTS, body), Ok(known())).await;
    let wanted = HealthWish::Report {
        position: "C4".to_owned(),
        segment: Some(2),
        says: Says::WrongColour,
    };
    assert_eq!((wish, status), (wanted, 200));
    assert_eq!(told["panels"][0]["position"], "C4");
    let whole = json!({"position": "C4", "segment": null, "says": "fine_now"});
    let (wish, ..) = said(&mut bench, (Method::POST, REPORTS, whole), Ok(known())).await;
    let wanted = HealthWish::Report {
        position: "C4".to_owned(),
        segment: None,
        says: Says::FineNow,
    };
    assert_eq!(wish, wanted);
    let withdraw = (Method::DELETE, "/api/v1/evidence/17", Value::Null);
    let (wish, status, _) = said(&mut bench, withdraw, Ok(known())).await;
    assert_eq!((wish, status), (HealthWish::Withdraw(17), 200));
}

#[tokio::test(start_paused = true)]
async fn what_is_not_taken_says_why() {
    let mut bench = Bench::new();
    let body = || json!({"position": "ZZ9", "says": "dark"});
    let no = Err(NotTaken::NoPanel("ZZ9".to_owned()));
    let (_, status, told) = said(&mut bench, (Method::POST, REPORTS, body()), no).await;
    assert_eq!((status, &told["error"]), (404, &json!("no_panel")));
    let gone = (Method::DELETE, "/api/v1/evidence/17", Value::Null);
    let (_, status, told) = said(&mut bench, gone, Err(NotTaken::NoEvidence(17))).await;
    assert_eq!((status, &told["error"]), (404, &json!("no_evidence")));
    let strange = ask_here(
        &bench.router,
        Method::DELETE,
        "/api/v1/evidence/x",
        Value::Null,
    );
    assert_eq!(strange.await.0, 404);
    let smells = json!({"position": "C4", "says": "smells"});
    assert_eq!(
        ask_here(&bench.router, Method::POST, REPORTS, smells)
            .await
            .0,
        400
    );
    assert!(bench.faults.wished.try_recv().is_err());
}

#[tokio::test(start_paused = true)]
async fn what_is_known_is_told_to_everybody() {
    let bench = Bench::new();
    bench.faults.told.send_replace(known());
    let (status, told) = ask_here(&bench.router, Method::GET, "/api/v1/faults", Value::Null).await;
    assert_eq!((status, &told["revision"]), (200, &json!(3)));
}
