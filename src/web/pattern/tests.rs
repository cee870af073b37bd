use std::time::Duration;

use axum::http::Method;
use serde_json::{Value, json};

use super::super::testing::here::{ask_here, id_of};
use super::super::testing::{Bench, full_state};
use super::super::timers;
use super::*;
use crate::pattern::{Pace, Refused};

const PATTERN: &str = "/api/v1/pattern";

/// Asks as a program on this machine does.
async fn ask(bench: &Bench, method: Method, path: &str, body: Value) -> (u16, Value) {
    ask_here(&bench.router, method, path, body).await
}

/// Starts a pattern and plays the data plane, which shows it; gives the order as it came there.
async fn start(bench: &mut Bench, wish: Value) -> Start {
    let mut orders = std::mem::replace(&mut bench.orders, tokio::sync::mpsc::channel(1).1);
    let plane = async {
        let (command, answer) = orders.recv().await.unwrap();
        answer.send(Ok(full_state().pattern.clone())).unwrap();
        match command {
            Command::Start(start) => start,
            other => panic!("{other:?}"),
        }
    };
    let ((status, told), start) = tokio::join!(ask(bench, Method::POST, PATTERN, wish), plane);
    assert_eq!((status, &told["pattern"]["kind"]), (200, &json!("panel")));
    bench.orders = orders;
    start
}

#[tokio::test(start_paused = true)]
async fn an_order_reaches_the_data_plane_as_it_was_said() {
    let mut bench = Bench::new();
    let short = start(&mut bench, json!({"pattern": {"kind": "labels"}})).await;
    assert_eq!(short, Start::new(TestPattern::Labels));
    let long = json!({
        "pattern": {"kind": "walk", "run": 2, "pace": {"held": 3}},
        "cover": {"panels": ["C4"]}, "level": 200, "colour": "magenta", "lasts_s": 60,
    });
    let run = Some(2);
    let pace = Pace::Held(3);
    let wanted = Start {
        cover: Cover::Panels(vec!["C4".into()]),
        level: 200,
        colour: Light::Magenta,
        lasts_s: 60,
        ..Start::new(TestPattern::Walk { run, pace })
    };
    assert_eq!(start(&mut bench, long).await, wanted);
}

#[tokio::test(start_paused = true)]
async fn steps_and_stop_are_orders_too() {
    let mut bench = Bench::new();
    for (method, path, body, wanted) in [
        (
            Method::POST,
            "/api/v1/pattern/step",
            json!({"by": -1}),
            Command::Step(Step::By(-1)),
        ),
        (
            Method::POST,
            "/api/v1/pattern/step",
            json!({"to": 4}),
            Command::Step(Step::To(4)),
        ),
        (Method::DELETE, PATTERN, Value::Null, Command::Stop),
    ] {
        let mut orders = std::mem::replace(&mut bench.orders, tokio::sync::mpsc::channel(1).1);
        let plane = async {
            let (command, answer) = orders.recv().await.unwrap();
            answer.send(Ok(None)).unwrap();
            command
        };
        let (told, command) = tokio::join!(ask(&bench, method, path, body), plane);
        assert_eq!(told, (200, json!({"pattern": null})));
        assert_eq!(command, wanted);
        bench.orders = orders;
    }
}

#[tokio::test(start_paused = true)]
async fn what_is_not_done_says_why() {
    let mut bench = Bench::new();
    let walk = json!({"pattern": {"kind": "walk"}});
    // The data plane refuses.
    let plane = async {
        let (_, answer) = bench.orders.recv().await.unwrap();
        answer
            .send(Err(Refused::new("no_such_run", "There is no run 7.")))
            .unwrap();
    };
    let order = ask_here(&bench.router, Method::POST, PATTERN, walk.clone());
    let (told, ()) = tokio::join!(order, plane);
    assert_eq!(
        told,
        (
            422,
            json!({"error": "no_such_run", "message": "There is no run 7."})
        )
    );
    // What is not understood does not get there.
    for wrong in [
        json!({"pattern": {"kind": "walk"}, "owner": 1}),
        json!({"pattern": {"kind": "wolk"}}),
    ] {
        let (status, told) = ask(&bench, Method::POST, PATTERN, wrong).await;
        assert_eq!((status, &told["error"]), (400, &json!("not_understood")));
    }
    // The queue is full: its one place is taken.
    let (answer, _answered) = tokio::sync::oneshot::channel();
    let queue = &bench.shared.source.commands;
    queue.try_send((Command::Stop, answer)).unwrap();
    let (status, told) = ask(&bench, Method::POST, PATTERN, walk.clone()).await;
    assert_eq!((status, &told["error"]), (503, &json!("busy")));
    // The data plane has ended.
    bench.orders.close();
    while bench.orders.recv().await.is_some() {}
    let (status, told) = ask(&bench, Method::DELETE, PATTERN, Value::Null).await;
    assert_eq!((status, &told["error"]), (503, &json!("ending")));
    let wish = json!({"pattern": {"kind": "all"}, "ends_with": "nobody"});
    let (status, told) = ask(&bench, Method::POST, PATTERN, wish).await;
    assert_eq!((status, &told["error"]), (422, &json!("not_connected")));
}

/// The next order within ten seconds of the made-up clock.
async fn next_order(bench: &mut Bench) -> Option<Command> {
    let next = timers::within(Duration::from_secs(10), bench.orders.recv()).await;
    next.ok()?.map(|(command, _)| command)
}

#[tokio::test(start_paused = true)]
async fn a_pattern_ends_with_the_connection_that_it_was_tied_to() {
    let mut bench = Bench::new();
    let mut client = bench.open(None).await.unwrap();
    let id = id_of(&mut client, "").await;
    assert_eq!(id_of(&mut client, "").await, id, "asked again");
    let mut other = bench.open(None).await.unwrap();
    let others = id_of(&mut other, "").await;
    assert_ne!(id, others);
    let wish = json!({"pattern": {"kind": "all"}, "ends_with": id});
    let owner = start(&mut bench, wish).await.owner.unwrap();
    // Somebody else goes, who has started nothing.
    other.leave().await;
    assert_eq!(next_order(&mut bench).await, None);
    client.leave().await;
    assert_eq!(
        next_order(&mut bench).await,
        Some(Command::OwnerGone(owner))
    );
    let wish = json!({"pattern": {"kind": "all"}, "ends_with": id});
    let (status, told) = ask(&bench, Method::POST, PATTERN, wish).await;
    assert_eq!((status, &told["error"]), (422, &json!("not_connected")));
}

#[tokio::test(start_paused = true)]
async fn who_comes_back_soon_was_never_gone() {
    let mut bench = Bench::new();
    let mut client = bench.open(None).await.unwrap();
    let id = id_of(&mut client, "").await;
    let wish = json!({"pattern": {"kind": "all"}, "ends_with": id});
    let owner = start(&mut bench, wish).await.owner.unwrap();
    client.leave().await;
    let mut back = bench.open(None).await.unwrap();
    assert_eq!(id_of(&mut back, &id).await, id);
    assert_eq!(next_order(&mut bench).await, None);
    back.leave().await;
    assert_eq!(
        next_order(&mut bench).await,
        Some(Command::OwnerGone(owner))
    );
    // After that the id is nobody's: who says it is somebody new.
    let mut late = bench.open(None).await.unwrap();
    assert_ne!(id_of(&mut late, &id).await, id);
}
