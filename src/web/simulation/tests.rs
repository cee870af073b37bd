use std::sync::{Arc, Mutex};

use axum::http::Method;
use serde_json::{Value, json};

use super::super::testing::here::ask_here;
use super::super::testing::{Bench, ask, ask_with};
use super::*;

const SIMULATION: &str = "/api/v1/simulation";

/// A floor of which only A1 is there.
#[derive(Debug, Default)]
struct OnlyA1(Mutex<Vec<BrokenJoint>>);

impl Simulation for OnlyA1 {
    fn broken(&self) -> Vec<BrokenJoint> {
        self.0.lock().unwrap().clone()
    }

    fn possible(&self) -> Vec<JointFault> {
        JointFault::ALL.to_vec()
    }

    fn change(&self, wish: &BreakJoint) -> Result<(), CantBreak> {
        if wish.position != "A1" {
            let why = format!("there is no panel at {}", wish.position);
            return Err(CantBreak::NoSuchJoint(why));
        }
        if wish.colour.as_deref() == Some("white") {
            return Err(CantBreak::NotLikeThat("A1 has no white".to_owned()));
        }
        let mut broken = self.0.lock().unwrap();
        broken.clear();
        if wish.fault != JointFault::None {
            broken.push(BrokenJoint {
                position: wish.position.clone(),
                segment: wish.segment,
                fault: wish.fault,
                colour: wish.colour.clone(),
                acts: true,
            });
        }
        Ok(())
    }
}

fn simulated() -> Bench {
    Bench::simulated(Some(Arc::new(OnlyA1::default())))
}

#[tokio::test(start_paused = true)]
async fn a_joint_is_broken_listed_and_mended() {
    let bench = simulated();
    let none = ask(&bench.router, SIMULATION, &[]).await.json();
    assert_eq!(none["broken"], json!([]));
    assert_eq!(none["possible"].as_array().unwrap().len(), 11);
    let wish = json!({"position": "A1", "segment": 3, "fault": "colour_open", "colour": "red"});
    let (status, told) = ask_here(&bench.router, Method::POST, SIMULATION, wish).await;
    let broken = json!([{
        "position": "A1", "segment": 3, "fault": "colour_open", "colour": "red", "acts": true
    }]);
    assert_eq!((status, &told["broken"]), (200, &broken));
    let seen = ask(&bench.router, SIMULATION, &[]).await.json();
    assert_eq!(seen, told);
    let mend = json!({"position": "A1", "segment": 3, "fault": "none"});
    let (status, told) = ask_here(&bench.router, Method::POST, SIMULATION, mend).await;
    assert_eq!((status, &told["broken"]), (200, &json!([])));
}

#[tokio::test(start_paused = true)]
async fn nonsense_and_strangers_break_nothing() {
    let bench = simulated();
    for (wish, code) in [
        (
            json!({"position": "B9", "segment": 1, "fault": "loose"}),
            "no_such_joint",
        ),
        (
            json!({"position": "A1", "segment": 1, "fault": "colour_open", "colour": "white"}),
            "not_like_that",
        ),
        (
            json!({"position": "A1", "segment": 1, "fault": "rusty"}),
            "",
        ),
        (json!({"position": "A1", "segment": 1}), ""),
        (
            json!({"position": "A1", "segment": -1, "fault": "loose"}),
            "",
        ),
        (
            json!({"position": "A1", "segment": 1, "fault": "loose", "ohm": 3}),
            "",
        ),
    ] {
        let (status, told) = ask_here(&bench.router, Method::POST, SIMULATION, wish.clone()).await;
        assert!((400..500).contains(&status), "{wish}: {status}");
        assert!(code.is_empty() || told["error"] == code, "{wish}: {told}");
    }
    // No passphrase is set, and this does not come from this machine.
    let stranger = ask_with(&bench.router, Method::POST, SIMULATION, &[]).await;
    assert_eq!(stranger.status, StatusCode::FORBIDDEN);
    let seen = ask(&bench.router, SIMULATION, &[]).await.json();
    assert_eq!(seen["broken"], json!([]));
}

#[tokio::test(start_paused = true)]
async fn a_real_floor_has_nothing_of_this() {
    let bench = Bench::new();
    let seen = ask(&bench.router, SIMULATION, &[]).await;
    assert_eq!(seen.status, StatusCode::NOT_FOUND);
    assert_eq!(seen.json()["error"], "not_simulated");
    let wish = json!({"position": "A1", "segment": 1, "fault": "loose"});
    let (status, told): (u16, Value) =
        ask_here(&bench.router, Method::POST, SIMULATION, wish).await;
    assert_eq!((status, &told["error"]), (404, &json!("not_simulated")));
}
