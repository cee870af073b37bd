//! What is not done, and how that is told.

use super::*;

/// Asks for what must not be done; gives status, code and text.
async fn refused(bench: &Bench, method: Method, path: &str, body: Value) -> (u16, String, String) {
    let (status, told) = ask(bench, method, path, body).await;
    let text = |key: &str| told[key].as_str().unwrap_or_default().to_owned();
    (status, text("error"), text("message"))
}

#[tokio::test(start_paused = true)]
async fn without_a_walk_there_is_nothing_to_answer() {
    let bench = daemon(FOUR);
    for (path, body) in [
        ("answer", json!({"number": 0, "answer": first()})),
        ("undo", json!({"number": 0})),
        ("light", json!({})),
        ("corrected", Value::Null),
        ("corrected.toml", Value::Null),
    ] {
        let method = if body.is_null() {
            Method::GET
        } else {
            Method::POST
        };
        let path = format!("/api/v1/stepping/{path}");
        let (status, error, _) = refused(&bench, method, &path, body).await;
        assert_eq!((status, error.as_str()), (409, "no_walk"), "{path}");
    }
}

#[tokio::test(start_paused = true)]
async fn a_walk_does_not_begin() {
    let bench = daemon(FOUR);
    for (wish, wanted) in [
        (json!({"level": 256}), (400, "not_understood")),
        (json!({"level": -1}), (400, "not_understood")),
        (json!({"levels": 3}), (400, "not_understood")),
        (json!([null, null]), (400, "not_understood")),
        (json!({"level": 0}), (422, "too_dark")),
        (json!({"ends_with": "nobody"}), (422, "not_connected")),
    ] {
        let (status, error, _) = refused(&bench, Method::POST, STEPPING, wish.clone()).await;
        assert_eq!((status, error.as_str()), wanted, "{wish}");
    }
    assert_eq!(look(&bench).await, Value::Null);
    begin(&bench).await;
    answer(&bench, 0, first()).await;
    let (status, error, text) = refused(&bench, Method::POST, STEPPING, json!({})).await;
    assert_eq!((status, error.as_str()), (409, "walk_under_way"));
    assert!(text.contains("report would be lost"), "{text}");
    assert_eq!(look(&bench).await["answers"], 1);
    // What can't begin again leaves the walk that is there.
    let wish = json!({"again": true, "level": 0});
    refused(&bench, Method::POST, STEPPING, wish).await;
    assert_eq!(look(&bench).await["answers"], 1);
    let again = post(&bench, STEPPING, json!({"again": true})).await;
    assert_eq!(again["answers"], 0);
}

#[tokio::test(start_paused = true)]
async fn a_floor_without_nodes_is_only_watched() {
    let node = "[[node]]\nname = \"north\"\naddress = \"127.0.0.21\"\n";
    let watched = FOUR.replace(node, "");
    let watched = watched.replace("node = \"north\"\nport = 1\n", "");
    let bench = daemon(&watched);
    let (status, error, text) = refused(&bench, Method::POST, STEPPING, json!({})).await;
    assert_eq!((status, error.as_str()), (422, "only_watched"), "{text}");
    assert!(text.contains("without nodes"), "{text}");
    assert_eq!(look(&bench).await, Value::Null);
}

#[tokio::test(start_paused = true)]
async fn an_answer_is_not_taken() {
    let bench = daemon(FOUR);
    begin(&bench).await;
    answer(&bench, 0, first()).await;
    for (number, said, wanted) in [
        // A double tap, and a phone that has not looked.
        (0, first(), (409, "question_moved_on")),
        (2, first(), (409, "question_moved_on")),
        (
            1,
            json!({"kind": "drawing", "drawing": 99}),
            (422, "not_an_answer"),
        ),
        (
            1,
            json!({"kind": "panel", "position": "Z9"}),
            (422, "not_an_answer"),
        ),
        (
            1,
            json!({"kind": "colour", "colour": "red"}),
            (422, "not_an_answer"),
        ),
        (
            1,
            json!({"kind": "colour", "colour": "mauve"}),
            (400, "not_understood"),
        ),
        (1, json!({"kind": "shrug"}), (400, "not_understood")),
    ] {
        let body = json!({"number": number, "answer": said});
        let path = "/api/v1/stepping/answer";
        let (status, error, _) = refused(&bench, Method::POST, path, body.clone()).await;
        assert_eq!((status, error.as_str()), wanted, "{body}");
        let walk = look(&bench).await;
        assert_eq!((&walk["answers"], &walk["lit"]), (&json!(1), &json!(true)));
    }
    let undo = "/api/v1/stepping/undo";
    let (status, error, _) = refused(&bench, Method::POST, undo, json!({"number": 0})).await;
    assert_eq!((status, error.as_str()), (409, "question_moved_on"));
    post(&bench, undo, json!({"number": 1})).await;
    let (status, error, _) = refused(&bench, Method::POST, undo, json!({"number": 0})).await;
    assert_eq!((status, error.as_str()), (422, "nothing_to_undo"));
}

#[tokio::test(start_paused = true)]
async fn when_all_is_answered_there_is_nothing_to_light_or_to_correct() {
    let bench = daemon(FOUR);
    begin(&bench).await;
    for number in 0..4 {
        answer(&bench, number, first()).await;
    }
    let late = json!({"number": 4, "answer": first()});
    for (method, path, body, wanted) in [
        (Method::POST, "light", json!({}), (409, "walk_over")),
        (Method::POST, "answer", late, (422, "not_an_answer")),
        (
            Method::GET,
            "corrected",
            Value::Null,
            (422, "nothing_found"),
        ),
        (
            Method::GET,
            "corrected.toml",
            Value::Null,
            (422, "nothing_found"),
        ),
    ] {
        let path = format!("/api/v1/stepping/{path}");
        let (status, error, _) = refused(&bench, method, &path, body).await;
        assert_eq!((status, error.as_str()), wanted, "{path}");
    }
}

#[tokio::test(start_paused = true)]
async fn what_a_file_can_not_say_is_told() {
    let bench = daemon(FOUR);
    // The file was not read from this text.
    let mut other = FloorView::clone(&view(FOUR, 1));
    other.file.text = FOUR.replace("\"A1\", \"B1\", \"A2\", \"B2\"", "\"A1..B2\"");
    other.file.text = other
        .file
        .text
        .replace("slots = \"GRB\"", "slots = \"RGB\"");
    bench.floor.send_replace(Arc::new(other));
    begin(&bench).await;
    answer(&bench, 0, json!({"kind": "panel", "position": "B1"})).await;
    let path = "/api/v1/stepping/corrected";
    let (status, error, text) = refused(&bench, Method::GET, path, Value::Null).await;
    assert_eq!((status, error.as_str()), (422, "unamended"), "{text}");
    assert!(text.contains("could not be amended"), "{text}");
}
