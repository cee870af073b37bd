//! The light of a question: whether it is shown, and when it ends.

use std::time::Duration;

use tower::ServiceExt;

use super::super::super::testing::here::{id_of, request};
use super::super::super::timers;
use super::super::Underway;
use super::super::routes::lit;
use super::*;
use crate::engine::command::Command;
use crate::pattern::{Cover, Refused, Start, TestPattern};

const PATTERN: &str = "/api/v1/pattern";

#[tokio::test(start_paused = true)]
async fn a_light_is_a_pattern_at_the_level_that_was_asked_for_and_lasts_an_hour() {
    let mut bench = idle(FOUR);
    let mut orders = orders_of(&mut bench);
    let plane = async {
        let mut came = Vec::new();
        for _ in 0..3 {
            let (command, answer) = orders.recv().await.unwrap();
            answer.send(Ok(None)).unwrap();
            came.push(command);
        }
        came
    };
    let walk = async {
        post(&bench, STEPPING, json!({"level": 255})).await;
        answer(&bench, 0, first()).await;
        post(&bench, STEPPING, json!({"level": 1, "again": true})).await
    };
    let (came, _) = tokio::join!(plane, walk);
    let light = |position: &str, level| {
        let position = position.to_owned();
        Command::Start(Start {
            cover: Cover::All,
            level,
            lasts_s: 3_600,
            ..Start::new(TestPattern::Mark { position })
        })
    };
    assert_eq!(came, [light("A1", 255), light("B1", 255), light("A1", 1)]);
}

#[tokio::test(start_paused = true)]
async fn whether_it_is_shown_is_told_as_it_is() {
    let bench = daemon(FOUR);
    let walk = begin(&bench).await;
    assert_eq!(walk["lit"], true);
    assert!(shown(&bench).unwrap().contains("A1"));
    // Someone stops it.
    ask(&bench, Method::DELETE, PATTERN, Value::Null).await;
    assert_eq!(look(&bench).await["lit"], false);
    let light = "/api/v1/stepping/light";
    assert_eq!(post(&bench, light, json!({})).await["lit"], true);
    // Others start something: other panels, another level, other panels covered.
    let mark = json!({"kind": "mark", "position": "A1"});
    for other in [
        json!({"pattern": {"kind": "all"}}),
        json!({"pattern": {"kind": "panel", "position": "A1"}}),
        json!({"pattern": mark, "level": 20}),
        json!({"pattern": mark, "cover": {"panels": ["A1"]}}),
        json!({"pattern": {"kind": "mark", "position": "B1"}}),
    ] {
        let (status, _) = ask(&bench, Method::POST, PATTERN, other.clone()).await;
        assert_eq!(status, 200);
        assert_eq!(look(&bench).await["lit"], false, "{other}");
    }
    // An answer brings the next question's light.
    assert_eq!(answer(&bench, 0, first()).await["lit"], true);
    assert!(shown(&bench).unwrap().contains("B1"));
}

#[tokio::test(start_paused = true)]
async fn the_end_of_a_walk_ends_its_own_light_alone() {
    let bench = daemon(FOUR);
    begin(&bench).await;
    for number in 0..4 {
        assert!(shown(&bench).is_some());
        answer(&bench, number, first()).await;
    }
    assert_eq!(shown(&bench), None, "all is answered");
    post(&bench, STEPPING, json!({"again": true})).await;
    let all = json!({"pattern": {"kind": "all"}});
    ask(&bench, Method::POST, PATTERN, all).await;
    let others = shown(&bench);
    ask(&bench, Method::DELETE, STEPPING, Value::Null).await;
    assert!(others.is_some());
    assert_eq!(shown(&bench), others, "somebody else wants to see it");
}

#[tokio::test(start_paused = true)]
async fn an_answer_counts_even_if_its_light_is_not_shown() {
    let mut bench = idle(FOUR);
    let mut orders = orders_of(&mut bench);
    let plane = async {
        for _ in 0..2 {
            let (_, answer) = orders.recv().await.unwrap();
            answer.send(Err(Refused::new("no", "No."))).unwrap();
        }
    };
    let walk = async {
        assert_eq!(begin(&bench).await["lit"], false);
        answer(&bench, 0, first()).await
    };
    let ((), walk) = tokio::join!(plane, walk);
    assert_eq!((&walk["answers"], &walk["lit"]), (&json!(1), &json!(false)));
    // The queue is full.
    let (told, _told) = tokio::sync::oneshot::channel();
    let queue = &bench.shared.source.commands;
    queue.try_send((Command::Stop, told)).unwrap();
    let walk = answer(&bench, 1, first()).await;
    assert_eq!((&walk["answers"], &walk["lit"]), (&json!(2), &json!(false)));
    // Who asks for the light itself is told why there is none.
    let (status, told) = ask(&bench, Method::POST, "/api/v1/stepping/light", json!({})).await;
    assert_eq!((status, &told["error"]), (503, &json!("busy")));
    // The daemon ends.
    orders.close();
    while orders.recv().await.is_some() {}
    let (status, told) = ask(&bench, Method::POST, "/api/v1/stepping/light", json!({})).await;
    assert_eq!((status, &told["error"]), (503, &json!("ending")));
}

#[tokio::test(start_paused = true)]
async fn it_ends_with_the_browser_and_the_walk_goes_on_when_that_comes_back() {
    let bench = daemon(FOUR);
    let mut phone = bench.open(None).await.unwrap();
    let id = id_of(&mut phone, "").await;
    let walk = post(&bench, STEPPING, json!({"ends_with": id})).await;
    assert_eq!(walk["lit"], true);
    let walk = answer(&bench, 0, first()).await;
    assert_eq!(walk["lit"], true);
    let ends_with_owner = |bench: &Bench| {
        let state = bench.shared.source.state.borrow();
        state
            .pattern
            .as_ref()
            .map(|pattern| pattern.ends_with_owner)
    };
    assert_eq!(ends_with_owner(&bench), Some(true));
    phone.leave().await;
    dark(&bench).await;
    let walk = look(&bench).await;
    assert_eq!((&walk["answers"], &walk["lit"]), (&json!(1), &json!(false)));
    // Nobody would end what is lit now.
    let walk = answer(&bench, 1, first()).await;
    assert_eq!((&walk["answers"], &walk["lit"]), (&json!(2), &json!(false)));
    assert_eq!(shown(&bench), None);
    let mut phone = bench.open(None).await.unwrap();
    let id = id_of(&mut phone, &id).await;
    let light = "/api/v1/stepping/light";
    let walk = post(&bench, light, json!({"ends_with": id})).await;
    assert_eq!(walk["lit"], true);
    assert_eq!(answer(&bench, 2, first()).await["lit"], true);
    assert_eq!(ends_with_owner(&bench), Some(true));
}

#[tokio::test(start_paused = true)]
async fn one_change_at_a_time_and_looking_does_not_wait() {
    let mut bench = idle(FOUR);
    let mut orders = orders_of(&mut bench);
    // A walk begins, and waits until its light is shown.
    let beginning = ask(&bench, Method::POST, STEPPING, json!({}));
    let meanwhile = async {
        let (_, shown) = orders.recv().await.unwrap();
        assert_eq!(look(&bench).await, Value::Null);
        for (method, path, body) in [
            (Method::POST, STEPPING, json!({})),
            (
                Method::POST,
                "/api/v1/stepping/answer",
                json!({"number": 0, "answer": first()}),
            ),
            (Method::POST, "/api/v1/stepping/undo", json!({"number": 0})),
            (Method::POST, "/api/v1/stepping/light", json!({})),
            (Method::DELETE, STEPPING, Value::Null),
        ] {
            let (status, told) = ask(&bench, method, path, body).await;
            assert_eq!(
                (status, &told["error"]),
                (409, &json!("thinking")),
                "{path}"
            );
        }
        shown.send(Ok(None)).unwrap();
    };
    let ((status, told), ()) = tokio::join!(beginning, meanwhile);
    assert_eq!((status, &told["walk"]["answers"]), (200, &json!(0)));
}

#[tokio::test(start_paused = true)]
async fn an_answer_is_taken_even_if_the_phone_goes_away_meanwhile() {
    let mut bench = idle(FOUR);
    let mut orders = orders_of(&mut bench);
    let begun = tokio::join!(begin(&bench), async {
        let (_, answer) = orders.recv().await.unwrap();
        answer.send(Ok(None)).unwrap();
    });
    assert_eq!(begun.0["answers"], 0);
    let body = json!({"number": 0, "answer": first()});
    let tap = request(Method::POST, "/api/v1/stepping/answer", &body);
    let router = bench.router.clone();
    let phone = tokio::spawn(router.oneshot(tap));
    let (_, shown) = orders.recv().await.unwrap();
    // The connection breaks, and with it the handler ends.
    phone.abort();
    assert!(phone.await.unwrap_err().is_cancelled());
    shown.send(Ok(None)).unwrap();
    let turn = bench.shared.stepping.turn.acquire().await.unwrap();
    drop(turn);
    assert_eq!(look(&bench).await["answers"], 1);
}

/// Waits until no pattern is shown.
async fn dark(bench: &Bench) {
    let mut state = bench.state.subscribe();
    let dark = state.wait_for(|state| state.pattern.is_none());
    timers::within(Duration::from_secs(10), async { dark.await.map(drop) })
        .await
        .expect("within ten seconds of the made-up clock")
        .unwrap();
}

#[tokio::test(start_paused = true)]
async fn a_new_floor_ends_it_without_anybody_looking() {
    let bench = daemon(FOUR);
    begin(&bench).await;
    assert!(shown(&bench).is_some());
    bench.floor.send_replace(view(FOUR, 2));
    dark(&bench).await;
    let walk = look(&bench).await;
    assert_eq!(
        (&walk["outdated"], &walk["lit"]),
        (&json!(true), &json!(false))
    );
    // A pattern of somebody else stays.
    post(&bench, STEPPING, json!({"again": true})).await;
    let all = json!({"pattern": {"kind": "all"}});
    ask(&bench, Method::POST, PATTERN, all).await;
    let others = shown(&bench);
    // A state follows every order, that of the walk's end too.
    let mut state = bench.state.subscribe();
    bench.floor.send_replace(view(FOUR, 3));
    state.changed().await.unwrap();
    assert!(others.is_some());
    assert_eq!(shown(&bench), others);
}

#[tokio::test(start_paused = true)]
async fn what_is_answered_while_the_floor_is_replaced_lights_nothing() {
    let mut bench = idle(FOUR);
    let mut orders = orders_of(&mut bench);
    let first_light = async {
        let (order, answer) = orders.recv().await.unwrap();
        answer.send(Ok(None)).unwrap();
        order
    };
    let (_, order) = tokio::join!(begin(&bench), first_light);
    let Command::Start(first_light) = order else {
        panic!("{order:?}")
    };
    // The next light is ordered while the floor of before is still there, and shown after that.
    let mut came = Vec::new();
    let plane = async {
        let (order, answer) = orders.recv().await.unwrap();
        came.push(order);
        bench.floor.send_replace(view(FOUR, 2));
        answer.send(Ok(None)).unwrap();
        let (order, answer) = orders.recv().await.unwrap();
        came.push(order);
        answer.send(Ok(None)).unwrap();
    };
    let (walk, ()) = tokio::join!(answer(&bench, 0, first()), plane);
    assert_eq!(
        (&walk["answers"], &walk["outdated"]),
        (&json!(1), &json!(true))
    );
    let [Command::Start(shown), Command::Withdraw(withdrawn)] = &came[..] else {
        panic!("{came:?}")
    };
    assert_eq!(shown, withdrawn);
    assert_ne!(&first_light, shown);
}

#[tokio::test(start_paused = true)]
async fn thinking_that_ends_on_another_floor_takes_the_light_away() {
    let mut bench = idle(FOUR);
    let mut orders = orders_of(&mut bench);
    let follow = async {
        let (_, answer) = orders.recv().await.unwrap();
        answer.send(Ok(None)).unwrap();
    };
    let _ = tokio::join!(begin(&bench), follow);
    let walk = bench.shared.stepping.walk().unwrap();
    let order = walk.light.as_ref().unwrap().order.clone();
    bench.floor.send_replace(view(FOUR, 2));
    let lit = lit(Underway::clone(&walk), &bench.shared);
    let plane = async {
        let (order, answer) = orders.recv().await.unwrap();
        answer.send(Ok(None)).unwrap();
        order
    };
    let (walk, came) = tokio::join!(lit, plane);
    assert_eq!(came, Command::Withdraw(order));
    assert!(walk.light.is_none());
}
