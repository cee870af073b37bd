//! The book of repairs beside a daemon that runs, by the real program: what was acknowledged is there
//! after `kill -9`, and a damaged book is refused and not touched.

mod daemon;

use std::fs;

use daemon::{Daemon, Node};
use serde_json::{Value, json};

fn run(floor: &str, state: &str) -> Vec<String> {
    let words = [
        "run",
        floor,
        "--artnet",
        "127.0.0.1:0",
        "--http",
        "127.0.0.1:0",
        "--state",
        state,
    ];
    words.map(str::to_owned).to_vec()
}

fn started(words: &[String]) -> Daemon {
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    Daemon::start(&words)
}

fn post(daemon: &Daemon, path: &str, body: &Value) -> (u16, Value) {
    daemon.ask("POST", path, &body.to_string())
}

#[test]
fn what_was_written_is_there_after_a_kill_and_serials_are_entered_once() {
    let node = Node::open("six");
    let floor = daemon::six_panels(&[node.address]);
    // The file names its panels.
    let floor = floor
        .replace("panels = [\"A1\"]", "panels = [\"A1\"]\nserials = [\"P1\"]")
        .replace("panels = [\"B1\"]", "panels = [\"B1\"]\nserials = [\"P2\"]");
    let (directory, floor) = daemon::file(&floor);
    let state = directory.path().join("state");
    let words = run(&floor, state.to_str().unwrap());

    let daemon = started(&words);
    let named = daemon.json("/api/v1/floor")["panels"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|panel| panel["serial"] != "")
        .count();
    assert_eq!(named, 2);
    let (status, _) = post(
        &daemon,
        "/api/v1/book/panels/P9/notes",
        &json!({"text": "New plug on the supply side.", "who": "Ida"}),
    );
    assert_eq!(status, 200);
    let (status, row) = post(
        &daemon,
        "/api/v1/book/faults",
        &json!({"serial": "P9", "text": "The plate is cracked.", "who": "Noor"}),
    );
    assert_eq!((status, &row["state"]), (200, &json!("found")));
    let (status, row) = post(
        &daemon,
        "/api/v1/book/placed",
        &json!({"serial": "P9", "position": "C2", "who": "Ida"}),
    );
    assert_eq!(
        (status, row),
        (200, json!({"position": "C2", "serial": "P9"}))
    );
    let page = daemon.json("/api/v1/book/panels/P9");
    assert!(!daemon.end_with("KILL").success());

    let daemon = started(&words);
    assert_eq!(daemon.json("/api/v1/book/panels/P9"), page);
    let list = daemon.json("/api/v1/book/checklist");
    assert_eq!(
        list["placed"].as_array().unwrap().len(),
        named + 1,
        "{list}"
    );
    for row in list["placed"].as_array().unwrap() {
        let path = format!("/api/v1/book/panels/{}", row["serial"].as_str().unwrap());
        let positions = daemon.json(&path)["positions"].as_array().unwrap().len();
        assert_eq!(positions, 1, "{row} was entered more than once");
    }
    assert!(daemon.end_with("TERM").success());
}

#[test]
fn a_floor_is_lit_without_a_damaged_book_which_is_left_as_it_is() {
    let node = Node::open("six");
    let (directory, floor) = daemon::file(&daemon::six_panels(&[node.address]));
    let state = directory.path().join("state");
    let words = run(&floor, state.to_str().unwrap());
    let daemon = started(&words);
    for number in 0..40 {
        let text = format!("Note {number}: {}", "looked at again ".repeat(60));
        let note = json!({"text": text, "who": "Ida"});
        let (status, _) = post(&daemon, "/api/v1/book/panels/P9/notes", &note);
        assert_eq!(status, 200);
    }
    assert!(daemon.end_with("TERM").success());
    let book = state.join("book.sqlite3");
    let mut bytes = fs::read(&book).unwrap();
    // Pages in the middle are lost.
    let (from, to) = (bytes.len() / 3, bytes.len() / 2);
    bytes[from..to].fill(0xA5);
    fs::write(&book, &bytes).unwrap();

    let daemon = started(&words);
    let told = daemon.until(daemon::PATIENCE, |state| {
        let notices = state["notices"].as_array()?;
        let notice = notices.iter().find(|notice| notice["code"] == "not_kept")?;
        Some(notice["text"].as_str()?.to_owned())
    });
    for part in ["damaged", "litfloor book"] {
        assert!(told.contains(part), "{part} is not in: {told}");
    }
    while node
        .next(daemon::PATIENCE)
        .is_none_or(|bytes| !bytes.starts_with(b"Art-Net\0\0\x50"))
    {}
    let note = json!({"text": "not to be kept", "who": "Ida"});
    assert_eq!(post(&daemon, "/api/v1/book/panels/P9/notes", &note).0, 404);
    assert!(daemon.end_with("TERM").success());
    assert_eq!(fs::read(&book).unwrap(), bytes);
}
