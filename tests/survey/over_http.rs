//! The real program, a node that keeps what it gets, and a clamp that measures what that draws: all
//! over sockets, asked over HTTP.

#![expect(clippy::disallowed_methods, reason = "patience goes by the clock")]

use std::time::Instant;

use serde_json::{Value, json};

use super::clamp::{Supply, start};
use super::daemon::{Daemon, Node, PATIENCE};

/// Which of the six panels is dead: the second, B1.
const DEAD: usize = 1;

/// Reports until the survey is as it should be, for at most some patience.
fn until(supply: &mut Supply<'_>, daemon: &Daemon, found: impl Fn(&Value) -> bool) -> Value {
    let deadline = Instant::now() + 3 * PATIENCE;
    loop {
        supply.report();
        let survey = daemon.json("/api/v1/survey");
        if found(&survey) {
            return survey;
        }
        assert!(Instant::now() < deadline, "never came: {survey:#}");
    }
}

#[test]
fn the_dead_panel_is_found_by_the_real_program() {
    let node = Node::open("six");
    let (_directory, daemon) = start(&node);
    let mut supply = Supply::new(&node, &daemon);
    supply.dead = Some(DEAD);
    let begin = |by: &str| daemon.ask("POST", "/api/v1/survey", &json!({"by": by}).to_string());
    let (status, told) = begin("sensors");
    assert_eq!(
        (status, &told["error"]),
        (409, &json!("no_sensor")),
        "it has said nothing yet"
    );
    for _ in 0..5 {
        supply.report();
    }
    let (status, told) = begin("sensors");
    assert_eq!(
        (status, &told["running"], &told["items"]),
        (200, &json!(true), &json!(6))
    );
    let (status, told) = begin("eyes");
    assert_eq!((status, &told["error"]), (409, &json!("surveying")));
    let state = daemon.json("/api/v1/state");
    assert_eq!(state["pattern"]["kind"], "survey");
    let survey = until(&mut supply, &daemon, |survey| survey["running"] == false);
    let outcome = &survey["outcome"];
    assert_eq!(outcome["ended"], "decided", "{survey:#}");
    let dead = json!([{"position": "B1", "segment": 1, "colour": null}]);
    assert_eq!(outcome["dead"], dead, "{survey:#}");
    assert_eq!(
        (&survey["ended"], &survey["decided"]),
        (&json!(1), &json!(6))
    );
    assert_eq!(survey["map"][DEAD]["segments"][0]["condition"], "dead");
    assert_eq!(survey["map"][0]["segments"][0]["condition"], "good");
    daemon.until(PATIENCE, |state| state["pattern"].is_null().then_some(()));
    // Another one, stopped in the middle.
    let before = daemon.json("/api/v1/state")["survey"].as_u64().unwrap();
    let (status, _) = begin("sensors");
    assert_eq!(status, 200);
    until(&mut supply, &daemon, |survey| {
        survey["pattern"].as_u64() > Some(0)
    });
    let (status, told) = daemon.ask("DELETE", "/api/v1/survey", "{}");
    assert_eq!(
        (status, &told["outcome"]["ended"]),
        (200, &json!("stopped"))
    );
    assert_eq!(
        (&told["running"], &told["ended"]),
        (&json!(false), &json!(2))
    );
    let counted = |state: &Value| (state["survey"].as_u64() > Some(before)).then_some(());
    daemon.until(PATIENCE, counted);
}

#[test]
fn a_person_answers_over_http() {
    let node = Node::open("six");
    let (_directory, daemon) = start(&node);
    let begin = json!({"by": "eyes", "level": 40, "positions": ["A1", "B1", "C1"]}).to_string();
    let (status, mut told) = daemon.ask("POST", "/api/v1/survey", &begin);
    assert_eq!(status, 200, "{told}");
    let mut answered = 0;
    while told["running"] == true {
        let question = &told["question"];
        let lit = question["lit"].as_array().unwrap();
        let b1 = |one: &&Value| one["position"] == "B1";
        let dark: Vec<&Value> = lit.iter().filter(b1).collect();
        let seen = json!({"number": question["number"], "dark": dark}).to_string();
        let (status, next) = daemon.ask("POST", "/api/v1/survey/seen", &seen);
        assert_eq!(status, 200, "{next}");
        answered += 1;
        if answered == 2 {
            let undo = json!({"number": next["question"]["number"]}).to_string();
            let (status, again) = daemon.ask("POST", "/api/v1/survey/undo", &undo);
            assert_eq!((status, &again["question"]), (200, question));
            told = again;
            continue;
        }
        told = next;
    }
    let dead = json!([{"position": "B1", "segment": 1, "colour": null}]);
    assert_eq!(
        (&told["outcome"]["dead"], &told["items"]),
        (&dead, &json!(3)),
        "{told:#}"
    );
    let strange = json!({"by": "sensors", "positions": ["Z9"]}).to_string();
    let (status, _) = daemon.ask("POST", "/api/v1/survey", &strange);
    assert_eq!(status, 409, "no sensor reports, and that is said first");
    let strange = json!({"by": "eyes", "positions": ["Z9"]}).to_string();
    let (status, told) = daemon.ask("POST", "/api/v1/survey", &strange);
    assert_eq!((status, &told["error"]), (422, &json!("no_such_panel")));
    daemon.until(PATIENCE, |state| state["pattern"].is_null().then_some(()));
    let (status, _) = daemon.ask(
        "POST",
        "/api/v1/survey/seen",
        "{\"number\": 1, \"dark\": []}",
    );
    assert_eq!(status, 409);
}
