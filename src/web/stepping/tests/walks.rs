//! Walks from the first question to the corrected file.

use std::future::poll_fn;
use std::task::Poll;

use super::super::super::openapi::tests::faults;
use super::super::super::testing;
use super::*;

/// Whoever answers must name the question, so that a double tap counts once.
#[tokio::test(start_paused = true)]
async fn a_floor_as_planned_takes_an_answer_a_panel_and_each_can_be_taken_back() {
    let bench = daemon(FOUR);
    assert_eq!(look(&bench).await, Value::Null);
    let mut walk = begin(&bench).await;
    let question = &walk["question"];
    assert_eq!(
        (&question["number"], &question["ask"], &question["near"]),
        (&json!(0), &json!("look"), &Value::Null)
    );
    // All 16 pixels of A1, and nothing else.
    let lights = question["drawings"][0]["lights"].as_array().unwrap();
    assert_eq!(lights.len(), 16);
    assert!(lights.iter().all(|light| light["position"] == "A1"));
    assert_eq!(walk["colours"], json!([]));
    for number in 0..4 {
        assert_eq!(
            (
                &walk["answers"],
                &walk["question"]["number"],
                &walk["progress"]
            ),
            (
                &json!(number),
                &json!(number),
                &json!({"done": number, "panels": 4, "taps": number})
            )
        );
        assert_eq!(
            (&walk["revision"], &walk["outdated"]),
            (&json!(1), &json!(false))
        );
        assert_eq!(look(&bench).await, walk, "a second phone sees the same");
        walk = answer(&bench, number, first()).await;
    }
    assert_eq!(
        (&walk["question"], &walk["lit"]),
        (&Value::Null, &json!(false))
    );
    assert_eq!(walk["report"]["differences"], json!([]));
    let undo = post(&bench, "/api/v1/stepping/undo", json!({"number": 4})).await;
    assert_eq!(
        (&undo["question"]["number"], &undo["answers"], &undo["lit"]),
        (&json!(3), &json!(3), &json!(true))
    );
    let ended = ask(&bench, Method::DELETE, STEPPING, Value::Null).await;
    assert_eq!(ended, (200, json!({"walk": null})));
    assert_eq!(shown(&bench), None);
    // Once more is no fault.
    assert_eq!(
        ask(&bench, Method::DELETE, STEPPING, Value::Null).await,
        ended
    );
}

/// Someone says that what should light A1 lights B1, and then taps the likeliest drawing: that
/// the two are swapped.
async fn swapped(bench: &Bench) -> Value {
    begin(bench).await;
    let mut walk = answer(bench, 0, json!({"kind": "panel", "position": "B1"})).await;
    while let Some(number) = walk["question"]["number"].as_u64() {
        walk = answer(bench, number, first()).await;
    }
    walk
}

#[tokio::test(start_paused = true)]
async fn what_was_found_is_told_and_written_into_the_file() {
    let bench = daemon(FOUR);
    let walk = swapped(&bench).await;
    let found = &walk["report"]["differences"][0];
    assert_eq!(
        (&found["what"], &found["positions"]),
        (&json!("swapped"), &json!(["A1", "B1"]))
    );
    let corrected = "/api/v1/stepping/corrected";
    let (status, told) = ask(&bench, Method::GET, corrected, Value::Null).await;
    assert_eq!(status, 200, "{told}");
    // Where the file lies is nobody's business.
    assert_eq!(told["name"], "my \"four\".toml");
    let text = told["text"].as_str().unwrap();
    let right = FOUR.replace(r#"["A1", "B1", "#, r#"["B1", "A1", "#);
    assert_eq!(text, right);
    let diff = told["diff"].as_str().unwrap();
    assert!(diff.starts_with("--- my \"four\".toml\tas it is\n+++ my \"four\".toml\tcorrected\n"));
    assert!(diff.contains("\n+panels = [\"B1\", \"A1\", \"A2\", \"B2\"]   # as planned\n"));
    let file = testing::ask(&bench.router, "/api/v1/stepping/corrected.toml", &[]).await;
    assert_eq!(file.status, 200);
    assert_eq!(
        file.headers["content-type"],
        "application/toml; charset=utf-8"
    );
    assert_eq!(
        file.headers["content-disposition"],
        "attachment; filename=\"my__four_-corrected.toml\""
    );
    assert_eq!(file.body, right);
}

#[tokio::test(start_paused = true)]
async fn the_report_stands_when_the_floor_is_replaced_and_nothing_more_is_asked() {
    let bench = daemon(FOUR);
    swapped(&bench).await;
    post(&bench, "/api/v1/stepping/undo", json!({"number": 5})).await;
    let before = look(&bench).await;
    assert_ne!(before["question"], Value::Null);
    bench
        .floor
        .send_replace(view(&FOUR.replace("Four", "Other"), 2));
    // Its light ends meanwhile, and nothing else can be changed until that is done.
    let mut state = bench.state.subscribe();
    state
        .wait_for(|state| state.pattern.is_none())
        .await
        .unwrap();
    let after = look(&bench).await;
    assert_eq!(
        (&after["outdated"], &after["question"], &after["lit"]),
        (&json!(true), &Value::Null, &json!(false))
    );
    assert_eq!(
        (&after["report"], &after["revision"]),
        (&before["report"], &json!(1))
    );
    for (path, body) in [
        ("answer", json!({"number": 4, "answer": first()})),
        ("undo", json!({"number": 4})),
        ("light", json!({})),
    ] {
        let path = format!("/api/v1/stepping/{path}");
        let (status, told) = ask(&bench, Method::POST, &path, body).await;
        assert_eq!((status, &told["error"]), (409, &json!("floor_replaced")));
    }
    let corrected = "/api/v1/stepping/corrected";
    let (status, told) = ask(&bench, Method::GET, corrected, Value::Null).await;
    assert_eq!(status, 200, "{told}");
    assert!(
        told["text"]
            .as_str()
            .unwrap()
            .starts_with("name = \"Four\"")
    );
    let again = post(&bench, STEPPING, json!({"again": true})).await;
    assert_eq!(
        (&again["revision"], &again["outdated"], &again["answers"]),
        (&json!(2), &json!(false), &json!(0))
    );
}

#[tokio::test(start_paused = true)]
async fn the_corrected_file_waits_for_its_turn_without_a_thread_and_is_made_once() {
    let bench = daemon(FOUR);
    swapped(&bench).await;
    let corrected = "/api/v1/stepping/corrected";
    let turn = bench.shared.stepping.correcting.acquire().await.unwrap();
    let mut asked: Vec<_> = (0..100)
        .map(|_| Box::pin(ask(&bench, Method::GET, corrected, Value::Null)))
        .collect();
    for one in &mut asked {
        let waits = poll_fn(|context| Poll::Ready(one.as_mut().poll(context).is_pending()));
        assert!(waits.await);
    }
    // None of them has got to a thread that may block.
    let made = bench
        .shared
        .stepping
        .walk()
        .unwrap()
        .found
        .corrected
        .get()
        .is_some();
    assert!(!made);
    drop(turn);
    let told = futures_util::future::join_all(asked).await;
    let first = &told[0];
    assert!(told.iter().all(|told| told.0 == 200 && told.1 == first.1));
    // Once it is made nobody waits for a turn.
    let _turn = bench.shared.stepping.correcting.acquire().await.unwrap();
    let (status, again) = ask(&bench, Method::GET, corrected, Value::Null).await;
    assert_eq!((status, &again), (200, &first.1));
}

#[tokio::test(start_paused = true)]
async fn every_question_is_as_the_description_says() {
    let bench = daemon(FOUR);
    let description = testing::ask(&bench.router, "/api/v1/openapi.json", &[]).await;
    let description = description.json();
    let mut asked = Vec::new();
    let mut check = |told: &Value| {
        let schema = &description["paths"][STEPPING]["get"]["responses"]["200"]["content"]["application/json"]
            ["schema"];
        assert_eq!(faults(&description, schema, told, "walk"), [""; 0]);
        asked.push(told["walk"]["question"]["ask"].clone());
        assert!(!faults(&description, schema, &json!({"walk": 1}), "walk").is_empty());
    };
    check(&json!({"walk": look(&bench).await}));
    check(&json!({"walk": begin(&bench).await}));
    // Whoever sees light there, and not as drawn, is asked for more.
    let mut walk = answer(&bench, 0, json!({"kind": "panel", "position": "A1"})).await;
    while let Some(number) = walk["question"]["number"].as_u64() {
        check(&json!({ "walk": walk }));
        let position = &walk["question"]["near"];
        let said = match walk["question"]["ask"].as_str().unwrap() {
            "tap" => json!({"kind": "point", "position": position, "x_mm": 390, "y_mm": 10}),
            "colour" => {
                assert_eq!(walk["colours"].as_array().unwrap().len(), 7);
                json!({"kind": "colour", "colour": "red"})
            }
            _ => first(),
        };
        walk = answer(&bench, number, said).await;
    }
    check(&json!({"walk": walk}));
    assert!(
        asked.contains(&json!("look")) && asked.contains(&json!("tap")),
        "{asked:?}"
    );
    assert_ne!(walk["report"]["differences"], json!([]));
    let corrected = "/api/v1/stepping/corrected";
    let (_, told) = ask(&bench, Method::GET, corrected, Value::Null).await;
    let schema = &description["paths"][corrected]["get"]["responses"]["200"]["content"]["application/json"]
        ["schema"];
    assert_eq!(faults(&description, schema, &told, "corrected"), [""; 0]);
}
