use axum::http::Method;
use serde_json::{Value, json};
use tokio::sync::mpsc;

use super::super::operator::{Gate, Keep};
use super::super::testing::here::{ask_here, request};
use super::super::testing::{Bench, full_state, view};
use super::*;
use crate::floor::model::{Measured, Quantity, Sensor};
use crate::pattern::Refused;

const READINGS: &str = "/api/v1/readings";
const TOKEN: &str = "a token for tests";

/// A daemon whose floor has a sensor in milliamperes.
fn bench() -> Bench {
    let gate = Gate::open(Keep::Memory, None).unwrap();
    let bench = Bench::with(gate.with_readings_token(TOKEN), axum::Router::new());
    let mut of_tests = (*view(1)).clone();
    let mut floor = (*of_tests.floor).clone();
    floor.sensors.push(Sensor {
        name: "main clamp".into(),
        of: Measured::Supply(0),
        quantity: Quantity::Current,
        tolerance_percent: 5.0,
        every_s: 1.0,
        topic: None,
        factor: 0.001,
    });
    of_tests.floor = floor.into();
    bench.floor.send_replace(of_tests.into());
    bench
}

async fn ask(bench: &Bench, token: Option<&str>, body: &Value) -> (u16, Value) {
    use axum::body::to_bytes;
    use tower::ServiceExt;
    let mut asked = request(Method::POST, READINGS, body);
    if let Some(token) = token {
        let said = format!("Bearer {token}").parse().unwrap();
        asked.headers_mut().insert(AUTHORIZATION, said);
    }
    let answer = bench.router.clone().oneshot(asked).await.unwrap();
    let status = answer.status().as_u16();
    let body = to_bytes(answer.into_body(), usize::MAX).await.unwrap();
    (status, serde_json::from_slice(&body).unwrap_or(Value::Null))
}

/// Takes the next order and answers it.
async fn next(orders: &mut mpsc::Receiver<super::super::Order>) -> Command {
    let (command, answer) = orders.recv().await.unwrap();
    answer.send(Ok(None)).unwrap();
    command
}

#[tokio::test(start_paused = true)]
async fn readings_are_taken_by_name_and_who_is_unknown_is_told() {
    let mut bench = bench();
    let mut orders = std::mem::replace(&mut bench.orders, mpsc::channel(1).1);
    let body = json!({"readings": [
        {"sensor": "main clamp", "value": 12_300.0}, {"sensor": "other", "value": 1},
    ]});
    let asked = ask(&bench, Some(TOKEN), &body);
    let ((status, told), command) = tokio::join!(asked, next(&mut orders));
    assert_eq!(status, 202);
    let told: Vec<_> = told["readings"].as_array().unwrap().iter().collect();
    assert_eq!(
        told[0],
        &json!({"sensor": "main clamp", "outcome": "taken"})
    );
    assert_eq!(
        told[1],
        &json!({"sensor": "other", "outcome": "unknown_sensor"})
    );
    let Command::Readings(readings) = command else {
        panic!("{command:?}");
    };
    assert_eq!(readings.len(), 1);
    assert!(readings[0].0 == "main clamp" && (readings[0].1 - 12.3).abs() < 1e-9);
}

#[tokio::test(start_paused = true)]
async fn only_the_token_reports_and_it_does_nothing_else() {
    let bench = bench();
    let body = json!({"readings": []});
    let (status, told) = ask(&bench, None, &body).await;
    assert_eq!(
        (status, told["error"].as_str()),
        (401, Some("token_missing"))
    );
    let (status, told) = ask(&bench, Some("another token"), &body).await;
    assert_eq!((status, told["error"].as_str()), (403, Some("wrong_token")));
    // Who has no right is not read at all.
    let (status, _) = ask(&bench, None, &json!({"nonsense": 1})).await;
    assert_eq!(status, 401);
    // Without any, nobody reports.
    let none = Bench::new();
    let (status, told) = ask(&none, Some(TOKEN), &body).await;
    assert_eq!((status, told["error"].as_str()), (403, Some("no_token")));
    let (status, told) = ask_here(
        &bench.router,
        Method::POST,
        "/api/v1/readings/token",
        Value::Null,
    )
    .await;
    assert_eq!((status, told["error"].as_str()), (409, Some("token_given")));
    let (status, told) = ask_here(
        &none.router,
        Method::POST,
        "/api/v1/readings/token",
        Value::Null,
    )
    .await;
    assert_eq!((status, told["token"].as_str().unwrap().len()), (200, 64));
}

#[tokio::test(start_paused = true)]
async fn what_is_no_reading_is_refused() {
    let bench = bench();
    for (body, wanted) in [
        (json!({"readings": [{"sensor": "main clamp"}]}), 400),
        (
            json!({"readings": [{"sensor": "main clamp", "value": "12"}]}),
            400,
        ),
        (
            json!({"readings": [{"sensor": "main clamp", "value": 1, "unit": "A"}]}),
            400,
        ),
        (json!({"readings": 1}), 400),
        (
            json!({"readings": [{"sensor": "x".repeat(70_000), "value": 1}]}),
            413,
        ),
        (
            json!({"readings": vec![json!({"sensor": "x", "value": 1}); 1_001]}),
            413,
        ),
    ] {
        let (status, told) = ask(&bench, Some(TOKEN), &body).await;
        assert_eq!(status, wanted, "{told}");
    }
}

#[tokio::test(start_paused = true)]
async fn too_many_requests_are_told() {
    let bench = bench();
    let mut last = 0;
    for _ in 0..60 {
        last = ask(&bench, Some(TOKEN), &json!({})).await.0;
    }
    assert_eq!(last, 429);
}

#[tokio::test(start_paused = true)]
async fn a_run_begins_only_on_a_floor_that_is_said_to_be_clear() {
    let mut bench = bench();
    let path = "/api/v1/calibration";
    for unsaid in [json!({"floor_is_clear": false}), json!({})] {
        let (status, told) = ask_here(&bench.router, Method::POST, path, unsaid).await;
        let wanted = [(422, Some("not_confirmed")), (400, Some("not_understood"))];
        assert!(wanted.contains(&(status, told["error"].as_str())), "{told}");
    }
    let mut orders = std::mem::replace(&mut bench.orders, mpsc::channel(1).1);
    let plane = async {
        let (command, answer) = orders.recv().await.unwrap();
        let refused = Refused::new("no_sensor", "No sensor of current reports.");
        answer.send(Err(refused)).unwrap();
        command
    };
    let clear = json!({"floor_is_clear": true});
    let asked = ask_here(&bench.router, Method::POST, path, clear);
    let ((status, told), command) = tokio::join!(asked, plane);
    assert_eq!((status, told["error"].as_str()), (409, Some("no_sensor")));
    assert_eq!(command, Command::Calibrate);
}

#[tokio::test(start_paused = true)]
async fn sensors_are_those_of_the_state() {
    let bench = bench();
    bench.state.send_replace(full_state());
    let (status, told) = ask_here(&bench.router, Method::GET, "/api/v1/sensors", Value::Null).await;
    assert_eq!(status, 200);
    let state = serde_json::to_value(&*full_state()).unwrap();
    assert_eq!(told["sensors"], state["sensors"]);
    assert!(!told["sensors"].as_array().unwrap().is_empty());
    assert_eq!(told["calibration"], state["calibration"]);
}
