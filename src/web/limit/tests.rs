use axum::http::Method;
use serde_json::{Value, json};

use super::super::testing::Bench;
use super::super::testing::here::ask_here;
use super::*;
use crate::pattern::Refused;

const LIMIT: &str = "/api/v1/limit";

#[tokio::test(start_paused = true)]
async fn a_limit_reaches_the_data_plane_as_it_was_said() {
    let mut bench = Bench::new();
    for floor_va in [Some(3_000), None, Some(0)] {
        let wish = json!({ "floor_va": floor_va });
        let plane = async {
            let (command, answer) = bench.orders.recv().await.unwrap();
            assert_eq!(command, Command::LimitFloor(LiveLimit { floor_va }));
            answer.send(Ok(None)).unwrap();
        };
        let asks = ask_here(&bench.router, Method::PUT, LIMIT, wish.clone());
        let (told, ()) = tokio::join!(asks, plane);
        assert_eq!(told, (200, wish));
    }
}

#[tokio::test(start_paused = true)]
async fn what_can_not_be_kept_is_refused_with_its_reason() {
    let mut bench = Bench::new();
    // What is left out must not take a limit away.
    for wish in [
        json!({}),
        json!({"floor_va": -1}),
        json!({"floor_va": "3 kVA"}),
        json!({"floor_va": 1, "floor_a": 1}),
    ] {
        let (status, _) = ask_here(&bench.router, Method::PUT, LIMIT, wish.clone()).await;
        assert!((400..500).contains(&status), "{wish}: {status}");
    }
    assert!(
        bench.orders.try_recv().is_err(),
        "none of these is an order"
    );
    let plane = async {
        let (_, answer) = bench.orders.recv().await.unwrap();
        answer
            .send(Err(Refused::new("watch_only", "No nodes.")))
            .unwrap();
    };
    let asks = ask_here(&bench.router, Method::PUT, LIMIT, json!({"floor_va": 1}));
    let ((status, body), ()) = tokio::join!(asks, plane);
    assert_eq!((status, &body["error"]), (422, &json!("watch_only")));
    bench.orders.close();
    let asks = ask_here(&bench.router, Method::PUT, LIMIT, json!({"floor_va": 1}));
    let (status, body): (u16, Value) = asks.await;
    assert_eq!((status, &body["error"]), (503, &json!("ending")));
}
