//! The same by the real program, over sockets: a clamp at a supply, a console whose picture moves, and a
//! panel that goes dark in the middle.

#![expect(clippy::disallowed_methods, reason = "a console plays by the clock")]

use std::time::Instant;

use serde_json::{Value, json};

use super::clamp::{Supply, start};
use super::daemon::{Console, Daemon, Node, PATIENCE, SLOTS, UNIVERSES};

/// The second panel, B1.
const DEAD: usize = 1;

/// A console, and what lies at its end.
struct Show<'a> {
    supply: Supply<'a>,
    daemon: &'a Daemon,
    console: Console,
    began: Instant,
}

impl Show<'_> {
    /// Plays and reports until something is found, for at most some patience.
    fn until<T>(&mut self, what: &str, found: impl Fn(&Daemon) -> Option<T>) -> T {
        let deadline = Instant::now() + 3 * PATIENCE;
        loop {
            self.frame();
            self.supply.report();
            if let Some(found) = found(self.daemon) {
                return found;
            }
            assert!(Instant::now() < deadline, "{what} never came");
        }
    }

    /// Every panel fades in and out at a pace of its own.
    fn frame(&self) {
        let now_s = self.began.elapsed().as_secs_f64();
        for (number, universe) in (1_u8..).zip(UNIVERSES) {
            let pace_s = 1.5 + 0.37 * f64::from(number);
            let share = 0.5 + 0.5 * (std::f64::consts::TAU * now_s / pace_s).sin();
            self.console.dmx(universe, &[level(share); SLOTS]);
        }
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a share of a hundred"
)]
fn level(share: f64) -> u8 {
    (share.clamp(0.0, 1.0) * 100.0) as u8
}

fn faults(daemon: &Daemon) -> Vec<Value> {
    let health = daemon.json("/api/v1/faults");
    let all = health["faults"].as_array().unwrap();
    let panel = |one: &&Value| !one["position"].is_null();
    all.iter().filter(panel).cloned().collect()
}

#[test]
fn a_panel_that_goes_dark_in_the_show_is_named_by_the_real_program() {
    let node = Node::open("six");
    let (_directory, daemon) = start(&node);
    let mut show = Show {
        supply: Supply::new(&node, &daemon),
        daemon: &daemon,
        console: Console::open(daemon.artnet),
        began: Instant::now(),
    };
    let begun = |daemon: &Daemon| {
        let by = json!({"by": "sensors"}).to_string();
        let (status, _) = daemon.ask("POST", "/api/v1/survey", &by);
        (status == 200).then_some(())
    };
    show.until("a survey that begins", begun);
    let ended = |daemon: &Daemon| {
        let survey = daemon.json("/api/v1/survey");
        (survey["running"] == false).then_some(survey)
    };
    let survey = show.until("its end", ended);
    assert_eq!(survey["outcome"]["ended"], "decided", "{survey:#}");
    assert_eq!(survey["outcome"]["dead"], json!([]), "{survey:#}");
    assert_eq!(faults(&daemon), Vec::<Value>::new());
    show.supply.dead = Some(DEAD);
    let named = show.until("a fault", |daemon| faults(daemon).pop());
    assert_eq!(named["position"], "B1", "{named:#}");
    let kinds: Vec<&Value> = named["evidence"].as_array().unwrap().iter().collect();
    assert!(kinds.iter().any(|one| one["kind"] == "show"), "{named:#}");
}
