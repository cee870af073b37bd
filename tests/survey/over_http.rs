//! The real program, a node that keeps what it gets, and a clamp that measures what that draws: all
//! over sockets, asked over HTTP.

#![expect(
    clippy::disallowed_methods,
    reason = "a clamp reports by the clock, and so does a person"
)]

use std::collections::HashMap;
use std::time::{Duration, Instant};

use artnet_protocol::ArtCommand;
use serde_json::{Value, json};

use super::daemon::{self, Daemon, Node, PATIENCE, UNIVERSES};

const TOKEN: &str = "a token of the test";
const EVERY: Duration = Duration::from_millis(100);

/// Which of the six panels is dead: the second, B1.
const DEAD: usize = 1;

fn start(node: &Node) -> (tempfile::TempDir, Daemon) {
    let text = format!(
        "{}\n[[sensor]]\nname = \"clamp\"\nsupply = \"s\"\nevery_s = 0.1\n",
        daemon::six_panels(&[node.address])
    );
    let (directory, path) = daemon::file(&text);
    let ports = ["--artnet", "127.0.0.1:0", "--http", "127.0.0.1:0"];
    let mut command = daemon::litfloor(&["run", &path, ports[0], ports[1], ports[2], ports[3]]);
    command.env("LITFLOOR_READINGS_TOKEN", TOKEN);
    (directory, Daemon::of(command))
}

/// What lies at the supply: frames that the node got, and what the clamp says of them.
struct Supply<'a> {
    node: &'a Node,
    daemon: &'a Daemon,
    frames: HashMap<u16, Vec<u8>>,
    readings: u32,
}

impl<'a> Supply<'a> {
    fn new(node: &'a Node, daemon: &'a Daemon) -> Self {
        Self {
            node,
            daemon,
            frames: HashMap::new(),
            readings: 0,
        }
    }

    /// Takes what arrives until the next reading is due, and reports that.
    fn report(&mut self) {
        let due = Instant::now() + EVERY;
        while let Some(bytes) = self
            .node
            .next(due.saturating_duration_since(Instant::now()))
        {
            if let Ok(ArtCommand::Output(output)) = ArtCommand::from_buffer(&bytes) {
                let universe = output.port_address.into();
                self.frames.insert(universe, output.data.as_ref().clone());
            }
        }
        let panel_a = |(at, universe): (usize, &u16)| {
            let frame = self.frames.get(universe).filter(|_| at != DEAD);
            let lit = frame.map_or(&[][..], |frame| &frame[..daemon::SLOTS.min(frame.len())]);
            daemon::panel_a(lit)
        };
        let true_a: f64 = UNIVERSES.iter().enumerate().map(panel_a).sum();
        self.readings += 1;
        let wavers = f64::from(self.readings % 5) * 0.001;
        let body = json!({"readings": [{"sensor": "clamp", "value": true_a + wavers}]}).to_string();
        let answer = self.daemon.exchange(&format!(
            "POST /api/v1/readings HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n\
             Authorization: Bearer {TOKEN}\r\nContent-Type: application/json\r\n\
             Content-Length: {}\r\n\r\n{body}",
            self.daemon.http,
            body.len()
        ));
        assert!(answer.starts_with("HTTP/1.1 202 "), "{answer}");
    }

    /// Reports until the survey is as it should be, for at most some patience.
    fn until(&mut self, found: impl Fn(&Value) -> bool) -> Value {
        let deadline = Instant::now() + 3 * PATIENCE;
        loop {
            self.report();
            let survey = self.daemon.json("/api/v1/survey");
            if found(&survey) {
                return survey;
            }
            assert!(Instant::now() < deadline, "never came: {survey:#}");
        }
    }
}

#[test]
fn the_dead_panel_is_found_by_the_real_program() {
    let node = Node::open("six");
    let (_directory, daemon) = start(&node);
    let mut supply = Supply::new(&node, &daemon);
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
    let survey = supply.until(|survey| survey["running"] == false);
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
    supply.until(|survey| survey["pattern"].as_u64() > Some(0));
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
