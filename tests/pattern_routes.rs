//! Test patterns over the API: the real program, a node, and a browser that goes away.

mod daemon;

use std::net::TcpStream;

use daemon::{Daemon, Node, PATIENCE};
use serde_json::{Value, json};
use tokio_tungstenite::tungstenite::{Message, WebSocket, client};

/// A live connection and the id that it is given.
#[expect(clippy::disallowed_methods, reason = "a browser")]
fn live(daemon: &Daemon) -> (WebSocket<TcpStream>, String) {
    let stream = TcpStream::connect(daemon.http).unwrap();
    stream.set_read_timeout(Some(PATIENCE)).unwrap();
    let url = format!("ws://{}/api/v1/live", daemon.http);
    let (mut live, _) = client(url, stream).unwrap();
    live.send(Message::text(json!({"me": ""}).to_string()))
        .unwrap();
    loop {
        let message = live.read().unwrap().into_data();
        if message[0] == 4 {
            let id = String::from_utf8(message[4..].to_vec()).unwrap();
            return (live, id);
        }
    }
}

#[test]
fn a_pattern_is_started_stepped_stopped_and_ends_with_the_browser() {
    let node = Node::open("six");
    let (_directory, floor) = daemon::file(&daemon::six_panels(&[node.address]));
    let daemon = Daemon::start(&[
        "run",
        &floor,
        "--artnet",
        "127.0.0.1:0",
        "--http",
        "127.0.0.1:0",
    ]);
    assert_eq!(daemon.json("/api/v1/state")["pattern"], Value::Null);

    let walk = json!({"pattern": {"kind": "walk", "pace": {"held": 0}}}).to_string();
    let (status, told) = daemon.ask("POST", "/api/v1/pattern", &walk);
    assert_eq!(status, 200, "{told}");
    assert_eq!(
        (&told["pattern"]["step"], &told["pattern"]["lit_panels"]),
        (&json!(0), &json!(1))
    );
    let back = json!({"by": -1}).to_string();
    let (_, told) = daemon.ask("POST", "/api/v1/pattern/step", &back);
    // Round the end: from the first of six panels to the last.
    assert_eq!(told["pattern"]["step"], 5);
    // It is what everyone sees, and why the console's picture is gone.
    daemon.until(PATIENCE, |state| {
        let notices = state["notices"].as_array()?;
        let told = notices.iter().any(|notice| notice["code"] == "pattern_on");
        (told && state["pattern"]["step"] == 5).then_some(())
    });
    let nowhere = json!({"pattern": {"kind": "panel", "position": "Z9"}}).to_string();
    let (status, told) = daemon.ask("POST", "/api/v1/pattern", &nowhere);
    assert_eq!((status, &told["error"]), (422, &json!("no_such_panel")));
    let stopped = daemon.ask("DELETE", "/api/v1/pattern", "");
    assert_eq!(stopped, (200, json!({"pattern": null})));

    let (browser, id) = live(&daemon);
    let tied = json!({"pattern": {"kind": "all"}, "ends_with": id}).to_string();
    let (status, told) = daemon.ask("POST", "/api/v1/pattern", &tied);
    assert_eq!(
        (status, &told["pattern"]["ends_with_owner"]),
        (200, &json!(true))
    );
    drop(browser);
    daemon.until(PATIENCE, |state| state["pattern"].is_null().then_some(()));
}
