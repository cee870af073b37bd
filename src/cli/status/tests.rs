use serde_json::{Value, json};

use super::asked::{Answers, Recording};
use super::*;

/// A state in which all is well, as the API writes it, with more keys than are looked at.
fn state() -> Value {
    let load = |name: &str, draw_a: f64| json!({"name": name, "parent": null, "draw_a": draw_a, "limit_a": 4.0, "scale": 1.0});
    json!({
        "revision": 1,
        "file": {"name": "six.toml", "taken_s": 0.0},
        "uptime_s": 3_723.4,
        "artnet": "0.0.0.0:6454",
        "signal": "live",
        "frames_in": 100,
        "frames_out": 120,
        "universes": [
            {"port_address": "0:0:1", "fps": 40.0, "mapped": true, "arrival": {"missing_frames": 0}},
            {"port_address": "0:0:2", "fps": 39.5, "mapped": true, "arrival": {"missing_frames": null}},
            {"port_address": "0:0:9", "fps": 40.0, "mapped": false, "arrival": {"missing_frames": 7}},
        ],
        "nodes": [
            {"name": "west", "online": true, "last_send_error_s": null},
            {"name": "east", "online": true, "last_send_error_s": 300.0},
        ],
        "floor": {"draw_va": 54.0, "limit_va": null, "scale": 1.0},
        "circuits": [load("c", 0.3)],
        "supplies": [load("s", 3.5)],
        "feeds": [load("f1", 0.5), load("f2", 3.0), load("f3", 1.0), load("f4", 0.1)],
        "panels": [{"name": "p1", "scale": 1.0}],
        "notices": [{"code": "pattern_on", "severity": "info", "text": "A test pattern is shown."}],
    })
}

const METRICS: &str = "litfloor_build_info{version=\"9.8.7\"} 1\n\
                       litfloor_kernel_dropped_datagrams_total 5\n\
                       litfloor_kernel_dropped_last_uptime_seconds 12.5\n";

fn answers(state: Value, faults: &Value) -> Answers {
    Answers {
        unhealthy: None,
        state: serde_json::from_value(state).unwrap(),
        faults: serde_json::from_value(faults.clone()).unwrap(),
        recording: Recording {
            in_file: true,
            trouble: None,
        },
        metrics: METRICS.to_owned(),
        as_guest: false,
    }
}

fn wrong(answers: Answers) -> Vec<String> {
    judged::judge(answers).1
}

/// What is wrong when one thing of the state is otherwise.
fn wrong_with(pointer: &str, value: Value) -> Vec<String> {
    let mut state = state();
    *state.pointer_mut(pointer).unwrap() = value;
    wrong(answers(state, &json!([])))
}

/// What is told of a state.
fn told_of(state: Value) -> Told {
    let (seen, wrong) = judged::judge(answers(state, &json!([])));
    Told {
        well: wrong.is_empty(),
        at: "http://127.0.0.1:8080".to_owned(),
        answers: true,
        wrong,
        seen: Some(seen),
    }
}

#[test]
fn all_is_well_and_told_in_a_few_lines() {
    let told = told_of(state());
    let (mut out, mut err) = (Vec::new(), Vec::new());
    assert_eq!(tell(&told, Format::Text, &mut out, &mut err).unwrap(), 0);
    let out = String::from_utf8(out).unwrap();
    assert!(err.is_empty());
    for line in [
        "All is well: six.toml at http://127.0.0.1:8080, litfloor 9.8.7, for 1h 2m 3s",
        "Signal:  live, 80 frames a second; 100 taken and 120 sent since the start",
        "Draw:    floor 54 VA (computed, not measured)",
        "         supply s: 3.50 of 4.00 A (88 %)",
        "         feed f2: 3.00 of 4.00 A (75 %)",
        "         and 1 more of this kind, further from their limits",
        "Nodes:   2 of 2 online",
        "Faults:  0 known, 0 possible",
        "  - A test pattern is shown.",
    ] {
        assert!(out.lines().any(|found| found == line), "{line} in\n{out}");
    }
    assert!(!out.contains("f4") && !out.contains("  ! "), "{out}");
    assert!(out.lines().count() < 20, "{out}");

    let mut out = Vec::new();
    assert_eq!(tell(&told, Format::Json, &mut out, &mut err).unwrap(), 0);
    let told: Value = serde_json::from_slice(&out).unwrap();
    assert_eq!(
        (&told["well"], &told["answers"]),
        (&json!(true), &json!(true))
    );
    assert_eq!(
        (&told["dropped"], &told["nodes"]["online"]),
        (&json!(5.0), &json!(2))
    );
    assert_eq!(told["loads"].as_array().unwrap().len(), 6);
}

/// What is printed of a state.
fn printed(state: Value) -> String {
    let told = told_of(state);
    let (mut out, mut err) = (Vec::new(), Vec::new());
    tell(&told, Format::Text, &mut out, &mut err).unwrap();
    String::from_utf8(out).unwrap()
}

#[test]
fn what_is_dimmed_most_comes_first() {
    let has = |out: &str, line: &str| {
        assert!(out.lines().any(|found| found == line), "{line} in\n{out}");
    };
    let mut state = state();
    // The one that draws least, and one that is dimmed so little that nobody sees it.
    state["feeds"][3]["scale"] = json!(0.77);
    state["feeds"][0]["scale"] = json!(0.998);
    state["panels"][0]["scale"] = json!(0.77);
    let out = printed(state.clone());
    has(
        &out,
        "Draw:    floor 54 VA (computed, not measured); the picture is dimmed to 77 % at feed f4",
    );
    let feeds: Vec<&str> = out.lines().filter(|line| line.contains("feed f")).collect();
    assert_eq!(feeds.len(), 4, "{out}");
    assert_eq!(
        feeds[1..],
        [
            "         feed f4: 0.10 of 4.00 A (2 %), dimmed to 77 %",
            "         feed f2: 3.00 of 4.00 A (75 %)",
            "         feed f3: 1.00 of 4.00 A (25 %)",
        ]
    );
    assert!(out.contains("and 1 more of this kind, further from their limits"));
    // Of a supply that is dimmed as well, a panel gets the product.
    state["supplies"][0]["scale"] = json!(0.85);
    state["panels"][0]["scale"] = json!(0.77 * 0.85);
    let out = printed(state.clone());
    has(
        &out,
        "Draw:    floor 54 VA (computed, not measured); the picture is dimmed to 77 % at feed f4, \
         and to 65 % at worst with all that dims",
    );
    has(
        &out,
        "         supply s: 3.50 of 4.00 A (88 %), dimmed to 85 %",
    );
    state["floor"]["scale"] = json!(0.5);
    assert!(printed(state.clone()).contains("dimmed to 50 % by the limit of the floor"));
    // More dimmed ones than are told.
    for at in 0..4 {
        state["feeds"][at]["scale"] = json!(0.9);
    }
    assert!(printed(state).contains("and 1 more of this kind, of which 1 dimmed"));
}

#[test]
fn each_thing_that_is_wrong_is_told() {
    let notice =
        json!({"code": "signal_lost", "severity": "warning", "text": "The signal is lost."});
    assert_eq!(wrong_with("/notices/0", notice), ["The signal is lost."]);
    let told = wrong_with("/nodes/0/online", json!(false));
    assert_eq!(told, ["Node west does not answer, or has not done so yet."]);
    let told = wrong_with("/nodes/1/last_send_error_s", json!(59.0));
    assert!(
        told.len() == 1 && told[0].contains("refused to send frames to east"),
        "{told:?}"
    );
    let told = wrong_with("/universes/0/arrival/missing_frames", json!(3));
    assert!(
        told.len() == 1 && told[0].contains("3 of 0:0:1"),
        "{told:?}"
    );
    // The system threw some away at 12.5 s.
    let told = wrong_with("/uptime_s", json!(72.0));
    assert!(
        told.len() == 1 && told[0].contains("threw away"),
        "{told:?}"
    );
    assert!(wrong_with("/uptime_s", json!(73.0)).is_empty());
    let mut stuck = answers(state(), &json!([]));
    stuck.unhealthy = Some("the data plane has not reported for 3 s".to_owned());
    let told = wrong(stuck);
    assert!(
        told.len() == 1 && told[0].contains("has not reported for 3 s"),
        "{told:?}"
    );
}

#[test]
fn a_console_that_was_never_heard_is_told_once() {
    let told = wrong_with("/signal", json!("waiting"));
    assert!(
        told.len() == 1 && told[0].contains("No console") && told[0].contains("0.0.0.0:6454"),
        "{told:?}"
    );
    // Something else says it already, and better.
    let mut waiting = state();
    waiting["signal"] = json!("waiting");
    waiting["notices"] =
        json!([{"code": "unmapped_only", "severity": "warning", "text": "Only others."}]);
    assert_eq!(wrong(answers(waiting, &json!([]))), ["Only others."]);
}

#[test]
fn a_history_that_is_not_kept_is_told() {
    let mut unkept = answers(state(), &json!([]));
    unkept.recording.trouble = Some("the disk is full.".to_owned());
    let told = wrong(unkept);
    assert!(
        told.len() == 1 && told[0].contains("should be: the disk is full. `"),
        "{told:?}"
    );
}

#[test]
fn a_silent_node_is_told_once() {
    let mut state = state();
    state["nodes"][0]["online"] = json!(false);
    let text = "Node west has not answered for 12 s: look at its power and network cable.";
    state["notices"] = json!([{"code": "node_silent", "severity": "warning", "text": text}]);
    let silent = json!([{"cause": "node_silent", "place": "west", "effect": "Dark.", "sure": "certain",
        "here": 1.0}]);
    assert_eq!(wrong(answers(state, &silent)), [text]);
}

#[test]
fn faults_count_where_one_knows_where_to_go() {
    let fault = |sure: &str, here: f64| {
        let fault = json!([{"cause": "supply_open", "place": "C4, joint 2", "effect": "Dark.",
            "sure": sure, "here": here}]);
        wrong(answers(state(), &fault))
    };
    assert_eq!(fault("likely", 0.95), ["C4, joint 2: Dark."]);
    assert_eq!(fault("possible", 0.95), ["C4, joint 2: Dark."]);
    assert!(fault("possible", 0.5).is_empty());
}

#[test]
fn addresses_are_taken_as_people_write_them() {
    for (written, taken) in [
        ("127.0.0.1:8080", "http://127.0.0.1:8080"),
        ("http://127.0.0.1:8080", "http://127.0.0.1:8080"),
        ("http://127.0.0.1:8080/", "http://127.0.0.1:8080"),
        ("https://floor.local:8080/", "https://floor.local:8080"),
        ("https://[::1]:8080", "https://[::1]:8080"),
    ] {
        assert_eq!(written.parse::<At>().unwrap().to_string(), taken);
    }
    for written in [
        "",
        "http://",
        "ftp://floor:8080",
        "http://a@b",
        "floor/path",
        "floor?x",
        "floor:port",
        ":8080",
        "http://http://floor",
    ] {
        assert!(written.parse::<At>().is_err(), "{written}");
    }
}

#[test]
fn fingerprints_are_taken_with_colons_and_without() {
    // Of the empty text: FIPS 180-4's SHA-256, as in NIST's examples of it.
    let plain = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855";
    let taken: Fingerprint = plain.parse().unwrap();
    let pairs = "E3:B0:C4:42:98:FC:1C:14:9A:FB:F4:C8:99:6F:B9:24:27:AE:41:E4:64:9B:93:4C:A4:95:99:1B:78:52:B8:55";
    assert_eq!(taken, pairs.parse().unwrap());
    let empty = crate::web::tls::fingerprint(&Vec::new().into());
    assert_eq!(taken, empty.parse().unwrap());
    for written in [
        "",
        &plain[1..],
        &plain.replace('e', "g"),
        "é".repeat(32).as_str(),
    ] {
        assert!(written.parse::<Fingerprint>().is_err(), "{written}");
    }
}
