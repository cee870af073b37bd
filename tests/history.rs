//! The history of power as the real program keeps it: what was drawn is recorded, told, exported, and
//! still there after a restart; alarms are posted.

mod daemon;

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpListener;
use std::sync::mpsc;

use daemon::{Console, Node, PATIENCE, SLOTS, UNIVERSES};
use serde_json::{Value, json};

/// A server that answers every POST with 204 and gives what was posted.
#[expect(clippy::disallowed_methods, reason = "whom the alarms are posted to")]
fn posted() -> (String, mpsc::Receiver<Value>) {
    let listener = TcpListener::bind(daemon::ANY_PORT).unwrap();
    let address = format!("http://{}/alarms", listener.local_addr().unwrap());
    let (told, posts) = mpsc::channel();
    std::thread::spawn(move || {
        for stream in listener.incoming().map_while(Result::ok) {
            let mut stream = BufReader::new(stream);
            let mut length = 0;
            loop {
                let mut line = String::new();
                if stream.read_line(&mut line).unwrap_or(0) == 0 || line == "\r\n" {
                    break;
                }
                let line = line.to_ascii_lowercase();
                if let Some(value) = line.strip_prefix("content-length:") {
                    length = value.trim().parse().unwrap();
                }
            }
            let mut body = vec![0; length];
            stream.read_exact(&mut body).unwrap();
            let answer = b"HTTP/1.1 204 No Content\r\nConnection: close\r\n\r\n";
            stream.get_mut().write_all(answer).unwrap();
            if told.send(serde_json::from_slice(&body).unwrap()).is_err() {
                return;
            }
        }
    });
    (address, posts)
}

fn white(console: &Console) {
    for universe in UNIVERSES {
        console.dmx(universe, &[255; SLOTS]);
    }
}

#[test]
fn what_was_drawn_is_kept_told_and_posted() {
    let node = Node::open("six");
    let (webhook, posts) = posted();
    let text = format!(
        "{}\n[alarm]\ncapping_s = 1\nwebhook = \"{webhook}\"\n",
        daemon::six_panels(&[node.address])
    );
    let (_directory, path) = daemon::file(&text);
    let state = tempfile::tempdir().unwrap();
    let daemon = daemon::run_keeping(&path, state.path());
    let console = Console::open(daemon.artnet);

    // White asks for more than the supply may give.
    let alarmed = |code: &str, state: &Value| {
        let alarms = state["alarms"].as_array().unwrap();
        alarms.iter().any(|alarm| alarm["code"] == code)
    };
    daemon.until(PATIENCE, |state| {
        white(&console);
        let notices = state["notices"].as_array().unwrap().iter();
        let codes: Vec<_> = notices.map(|notice| &notice["code"]).collect();
        (alarmed("capping_long", state) && codes.contains(&&json!("capping_long"))).then_some(())
    });
    let told = loop {
        white(&console);
        match posts.recv_timeout(std::time::Duration::from_millis(50)) {
            Ok(told) if told["code"] == "capping_long" => break told,
            Ok(_) | Err(mpsc::RecvTimeoutError::Timeout) => {}
            Err(error) => panic!("{error}"),
        }
    };
    assert_eq!(
        (&told["event"], &told["element"], &told["floor"]),
        (&json!("raised"), &json!("supply:s"), &json!("Six"))
    );
    assert!(told["since"].as_str().unwrap().ends_with('Z'), "{told}");

    // Until the totals know of three seconds of it.
    let energy = loop {
        white(&console);
        let energy = daemon.json("/api/v1/energy");
        let known = energy["elements"].as_array().unwrap().iter();
        let supply = known.clone().find(|row| row["kind"] == "supply").cloned();
        if supply.is_some_and(|row| row["total"]["capped_s"].as_f64().unwrap() > 3.0) {
            break energy;
        }
        daemon.until(PATIENCE, |_| Some(()));
    };
    let supply = &energy["elements"][2]["total"];
    let peak_a = supply["peak_a"].as_f64().unwrap();
    assert!(
        peak_a <= 4.0 && supply["over_s"].as_f64().unwrap() > 0.0,
        "{supply}"
    );
    assert_eq!(
        energy["recording"],
        json!({"in_file": true, "trouble": null, "lost_rows": 0})
    );
    assert!(daemon.end_with("TERM").success());

    // All of it is there for who starts it again.
    let daemon = daemon::run_keeping(&path, state.path());
    let range = daemon.json("/api/v1/history?element=supply:s");
    let total = &range["elements"][0]["total"];
    assert_eq!(total["peak_a"], supply["peak_a"], "{range}");
    let near = |key: &str| {
        let (file, told) = (total[key].as_f64().unwrap(), supply[key].as_f64().unwrap());
        // The totals were looked at a moment before the end.
        assert!(file >= told * 0.99 && file > 0.0, "{key}: {file} of {told}");
    };
    for key in ["seconds", "kwh", "amp_hours", "capped_s", "over_s"] {
        near(key);
    }
    let (status, table) = daemon.get("/api/v1/history.csv?element=supply:s");
    assert_eq!(status, 200);
    let mut rows = csv::Reader::from_reader(table.as_bytes());
    let names = rows.headers().unwrap().clone();
    let column = |name: &str| names.iter().position(|known| known == name).unwrap();
    let (seconds, mean) = (column("seconds"), column("draw_mean_a"));
    let charge: f64 = rows
        .records()
        .map(|row| {
            let row = row.unwrap();
            row[seconds].parse::<f64>().unwrap() * row[mean].parse::<f64>().unwrap()
        })
        .sum();
    let amp_hours = total["amp_hours"].as_f64().unwrap();
    assert!(
        (charge / 3_600.0 - amp_hours).abs() < 0.002,
        "{charge} {amp_hours}"
    );
    assert!(daemon.end_with("INT").success());
}

#[test]
fn a_history_that_can_not_be_kept_stops_nothing() {
    let node = Node::open("six");
    let (_directory, path) = daemon::file(&daemon::six_panels(&[node.address]));
    let state = tempfile::tempdir().unwrap();
    // A file stands where the history should be a file: it is a directory that can't be moved over.
    std::fs::create_dir(state.path().join("history.sqlite3")).unwrap();
    let daemon = daemon::run_keeping(&path, state.path());
    let console = Console::open(daemon.artnet);
    daemon.until(PATIENCE, |state| {
        white(&console);
        (state["signal"] == "live").then_some(())
    });
    let recording = &daemon.json("/api/v1/energy")["recording"];
    let trouble = recording["trouble"].as_str().unwrap();
    assert!(trouble.contains("history.sqlite3"), "{trouble}");
    let (status, said) = daemon.get("/api/v1/history?points=5");
    assert_eq!(status, 503);
    // Everyone can read that: it does not say where the file is.
    let place = state.path().to_str().unwrap();
    assert!(
        !said.contains(place) && !trouble.contains(place),
        "{said} {trouble}"
    );
    assert!(daemon.end_with("TERM").success());
}
