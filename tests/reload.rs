//! The floor file read again by the real program: by SIGHUP and by the route, faulty and sound.

mod daemon;

use std::net::TcpStream;

use daemon::{Console, Node, PATIENCE, SLOTS, UNIVERSES};
use serde_json::{Value, json};
use tokio_tungstenite::tungstenite::{WebSocket, client};

/// Waits until the node holds `level` in the first slot of the first universe.
fn until_held(console: &Console, node: &Node, level: u8) {
    for _ in 0..1_000 {
        console.dmx(UNIVERSES[0], &[level; SLOTS]);
        while let Some(bytes) = node.next(std::time::Duration::from_millis(20)) {
            if let Ok(artnet_protocol::ArtCommand::Output(output)) =
                artnet_protocol::ArtCommand::from_buffer(&bytes)
                && u16::from(output.port_address) == UNIVERSES[0]
                && output.data.as_ref()[0] == level
            {
                return;
            }
        }
    }
    panic!("level {level} never arrived");
}

/// The revision of the next layout that a browser gets.
fn next_layout(live: &mut WebSocket<TcpStream>) -> u32 {
    loop {
        let message = live.read().unwrap().into_data();
        if message[0] == 1 {
            return u32::from_le_bytes(message[4..8].try_into().unwrap());
        }
    }
}

fn told_of(state: &Value) -> bool {
    let notices = state["notices"].as_array().unwrap();
    notices
        .iter()
        .any(|notice| notice["code"] == "file_refused")
}

#[test]
#[expect(clippy::disallowed_methods, reason = "a browser")]
fn a_sound_file_is_taken_and_a_faulty_one_changes_nothing() {
    let node = Node::open("six");
    let sound = daemon::six_panels(&[node.address]);
    let (_directory, path) = daemon::file(&sound);
    let mut daemon = daemon::run(&path);
    let console = Console::open(daemon.artnet);
    until_held(&console, &node, 11);
    let stream = TcpStream::connect(daemon.http).unwrap();
    stream.set_read_timeout(Some(PATIENCE)).unwrap();
    let (mut live, _) = client(format!("ws://{}/api/v1/live", daemon.http), stream).unwrap();
    assert_eq!(next_layout(&mut live), 1);

    // Whoever looks is told the file's own name, not where it is.
    let (directory, own_name) = path.rsplit_once('/').unwrap();
    let hidden = |told: &Value| !told.to_string().contains(directory);

    // Faulty: the floor of before goes on, and everyone can see why.
    std::fs::write(&path, format!("nme = 1\n{sound}")).unwrap();
    daemon.signal("HUP");
    let state = daemon.until(PATIENCE, |state| told_of(state).then(|| state.clone()));
    assert_eq!(
        (&state["revision"], &state["file"]["name"]),
        (&json!(1), &json!(own_name))
    );
    let faults = state["file"]["refusal"]["faults"].as_array().unwrap();
    assert_eq!(
        (faults.len(), &faults[0]["line"]),
        (1, &json!(1)),
        "{faults:?}"
    );
    assert!(hidden(&state) && faults[0]["file"] == own_name, "{state}");
    until_held(&console, &node, 22);
    let (status, told) = daemon.ask("POST", "/api/v1/floor/reload", "");
    assert_eq!((status, &told["error"]), (422, &json!("file_refused")));
    assert_eq!(told["faults"], json!(faults));

    // Gone: the same.
    std::fs::remove_file(&path).unwrap();
    let (status, told) = daemon.ask("POST", "/api/v1/floor/reload", "");
    assert_eq!(
        (status, &told["faults"][0]["code"]),
        (422, &json!("unreadable"))
    );
    let message = told["faults"][0]["message"].as_str().unwrap();
    assert!(hidden(&told) && message.contains(own_name), "{told}");
    until_held(&console, &node, 33);

    // Sound, with another name.
    let renamed = sound.replacen("name = \"", "name = \"New ", 1);
    std::fs::write(&path, &renamed).unwrap();
    let (status, told) = daemon.ask("POST", "/api/v1/floor/reload", "");
    assert_eq!((status, &told["revision"]), (200, &json!(2)), "{told}");
    assert!(!told["cautions"].as_array().unwrap().is_empty());
    assert_eq!(daemon.json("/api/v1/floor")["name"], told["name"]);
    assert!(told["name"].as_str().unwrap().starts_with("New "));
    assert_eq!(next_layout(&mut live), 2);
    daemon.said("The floor file was read again and taken: New ");
    let state = daemon.until(PATIENCE, |state| {
        (state["revision"] == 2).then(|| state.clone())
    });
    assert!(!told_of(&state) && state["file"]["refusal"].is_null());
    until_held(&console, &node, 44);

    // By the signal, while the console goes on.
    std::fs::write(&path, &sound).unwrap();
    daemon.signal("HUP");
    assert_eq!(next_layout(&mut live), 3);
    until_held(&console, &node, 55);
    assert!(daemon.end_with("TERM").success());
}
