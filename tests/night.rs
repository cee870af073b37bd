//! What goes wrong before and in the night, by real processes: a port that is taken, a daemon that
//! is asked how it is, a log for programs. A machine that is not fit: `tests/doctor/main.rs`.

#![allow(
    clippy::disallowed_methods,
    reason = "takes ports away, and answers as a stranger"
)]

mod daemon;

use std::io::{BufRead, BufReader};
use std::net::{TcpListener, UdpSocket};
use std::process::{Command, Stdio};
use std::sync::mpsc::{self, RecvTimeoutError};
use std::time::Duration;

use daemon::{ANY_PORT, Console, Daemon, Node, PATIENCE, ended};
use serde_json::Value;

/// A console's pace.
const FRAME: Duration = Duration::from_millis(25);

#[cfg(target_os = "linux")]
#[test]
fn a_port_that_is_taken_is_told_with_who_has_it() {
    let (_directory, path) = daemon::file(&daemon::six_panels(&[daemon::free_udp_port()]));
    let holder = daemon::run(&path);
    let at = holder.artnet.to_string();
    let who = format!("is taken by litfloor (process {})", holder.pid());
    // The same address, and all of them.
    let port = at.rsplit_once(':').unwrap().1;
    for artnet in [at.clone(), format!("0.0.0.0:{port}")] {
        let (status, out, err) =
            ended(&["run", &path, "--artnet", &artnet, "--http", "127.0.0.1:0"]);
        assert_eq!((status, out.as_str()), (3, ""), "{err}");
        assert!(err.contains(&who) && err.contains("--artnet"), "{err}");
    }
    assert!(holder.end_with("INT").success(), "it goes on");
    // And the dashboard's, held by this very process.
    let listener = TcpListener::bind(ANY_PORT).unwrap();
    let tcp = listener.local_addr().unwrap();
    let (status, _, err) = ended(&[
        "run",
        &path,
        "--artnet",
        "127.0.0.1:0",
        "--http",
        &tcp.to_string(),
    ]);
    let who = format!("(process {})", std::process::id());
    assert!(
        status == 3 && err.contains(&who) && err.contains("--http"),
        "{err}"
    );
    drop(listener);
}

#[test]
fn status_asks_a_daemon_that_runs() {
    let node = Node::open("six");
    let floor = include_str!("../config/first-floor.toml");
    let address = format!("address = \"127.0.0.1\"\nport = {}", node.address.port());
    let ours = floor.replace("address = \"192.168.1.50\"", &address);
    assert_ne!(ours, floor);
    let (_directory, path) = daemon::file(&ours);
    let daemon = daemon::run(&path);
    let at = format!("http://{}", daemon.http);
    let ask = |format| ended(&["status", "--at", &at, "--format", format]);
    // Nothing has gone wrong, and no console was heard.
    daemon.until(PATIENCE, |state| {
        (state["nodes"][0]["online"] == true).then_some(())
    });
    let (status, out, _) = ask("text");
    assert_eq!(status, 1, "{out}");
    let told = format!("which listens at {}", daemon.artnet);
    assert!(
        out.starts_with("NOT WELL") && out.contains("  ! No console") && out.contains(&told),
        "{out}"
    );
    let console = Console::open(daemon.artnet);
    let (stop, stopped) = mpsc::channel::<()>();
    let playing = std::thread::spawn(move || {
        while stopped.recv_timeout(FRAME) == Err(RecvTimeoutError::Timeout) {
            // All of its one universe.
            console.dmx(1, &[40; 240]);
        }
    });
    daemon.until(PATIENCE, |state| {
        (state["signal"] == "live" && state["nodes"][0]["online"] == true).then_some(())
    });
    let state = daemon.json("/api/v1/state");
    let (status, out, err) = ask("json");
    assert_eq!((status, err.as_str()), (0, ""), "{out}");
    let told: Value = serde_json::from_str(&out).unwrap();
    assert_eq!(
        (&told["well"], &told["answers"]),
        (&true.into(), &true.into())
    );
    assert_eq!(
        (&told["signal"], &told["file"]),
        (&"live".into(), &"floor.toml".into())
    );
    assert_eq!(
        told["nodes"],
        serde_json::json!({"online": 1, "offline": []})
    );
    assert_eq!(told["version"], env!("CARGO_PKG_VERSION"));
    assert_eq!(
        told["recording"],
        serde_json::json!({"in_file": true, "trouble": null})
    );
    assert!(told["frames_in"].as_u64() >= state["frames_in"].as_u64());
    assert_eq!(told["loads"].as_array().unwrap().len(), 3);
    let (status, out, _) = ask("text");
    assert_eq!(status, 0, "{out}");
    assert!(
        out.starts_with(&format!("All is well: floor.toml at {at}")),
        "{out}"
    );
    drop(stop);
    playing.join().unwrap();
    // The console has ended: after the time that the file allows the signal is lost.
    daemon.until(PATIENCE, |state| (state["signal"] == "lost").then_some(()));
    let (status, out, err) = ask("text");
    assert_eq!((status, err.as_str()), (1, ""), "{out}");
    assert!(
        out.starts_with("NOT WELL") && out.contains("  ! The signal is lost"),
        "{out}"
    );
    assert!(daemon.end_with("INT").success());
    let (status, out, err) = ask("text");
    assert_eq!((status, out.as_str()), (3, ""));
    assert!(
        err.contains(&format!("No litfloor answers at {at}")),
        "{err}"
    );
    let (status, out, err) = ask("json");
    let told: Value = serde_json::from_str(&out).unwrap();
    assert_eq!((status, err.as_str()), (3, ""));
    assert_eq!(
        (&told["well"], &told["answers"]),
        (&false.into(), &false.into())
    );
}

#[test]
fn status_says_that_the_history_is_not_kept() {
    let node = Node::open("six");
    let (directory, path) = daemon::file(&daemon::six_panels(&[node.address]));
    let state = directory.path().join("state");
    std::fs::write(&state, "").unwrap();
    let mut command = daemon::to_run(&path);
    command.env("STATE_DIRECTORY", &state);
    let daemon = Daemon::of(command);
    let at = format!("http://{}", daemon.http);
    daemon.until(PATIENCE, |_| {
        let energy = daemon.json("/api/v1/energy");
        energy["recording"]["trouble"].is_string().then_some(())
    });
    let (status, out, _) = ended(&["status", "--at", &at]);
    assert_eq!(status, 1, "{out}");
    assert!(
        out.contains("  ! The history of power is not kept"),
        "{out}"
    );
}

#[test]
fn status_knows_a_stranger() {
    use std::io::{Read, Write};
    let listener = TcpListener::bind(ANY_PORT).unwrap();
    let at = listener.local_addr().unwrap().to_string();
    let answering = std::thread::spawn(move || {
        let (mut stream, _) = listener.accept().unwrap();
        let mut request = [0; 4_096];
        let length = stream.read(&mut request).unwrap();
        assert!(request[..length].starts_with(b"GET /healthz "));
        let answer = "HTTP/1.1 200 OK\r\nContent-Length: 5\r\nConnection: close\r\n\r\nhello";
        stream.write_all(answer.as_bytes()).unwrap();
    });
    let (status, _, err) = ended(&["status", "--at", &at]);
    answering.join().unwrap();
    assert!(
        status == 3 && err.contains("but not as a litfloor"),
        "{err}"
    );
    assert_eq!(ended(&["status", "--at", "ftp://floor"]).0, 2);
}

#[test]
fn status_has_its_own_advice_for_each_cause() {
    let refused = |at: &str| {
        let (status, out, err) = ended(&["status", "--at", at]);
        assert_eq!((status, out.as_str()), (3, ""), "{err}");
        err
    };
    // RFC 6761, section 6.4: names under "invalid" lead nowhere.
    let err = refused("http://floor.invalid:8080");
    assert!(
        err.contains("the name floor.invalid leads nowhere"),
        "{err}"
    );
    // The system takes the connection, and nobody reads what is asked.
    let hanging = TcpListener::bind(ANY_PORT).unwrap();
    let err = refused(&format!("http://{}", hanging.local_addr().unwrap()));
    assert!(err.contains("it hangs"), "{err}");
    assert!(!err.contains("No litfloor answers"), "{err}");
    // A door that speaks plainly, asked encrypted.
    let node = Node::open("six");
    let (_directory, path) = daemon::file(&daemon::six_panels(&[node.address]));
    let guests = TcpListener::bind(ANY_PORT).unwrap().local_addr().unwrap();
    let mut command = daemon::to_run(&path);
    command.args(["--guests", &guests.to_string()]);
    let daemon = Daemon::of(command);
    let err = refused(&format!("https://{}", daemon.http));
    let wanted = format!(
        "speaks plain http only. Ask with --at http://{}",
        daemon.http
    );
    assert!(err.contains(&wanted), "{err}");
    // And the door for guests.
    daemon.until_well();
    let (status, out, _) = ended(&["status", "--at", &guests.to_string()]);
    assert_eq!(status, 1, "no console was heard: {out}");
    assert!(
        out.contains("the address for guests, which tells less, for") && !out.contains("unknown"),
        "{out}"
    );
}

#[cfg(target_os = "linux")]
#[test]
fn status_says_that_there_is_no_way() {
    let network = ["unshare", "--user", "--map-root-user", "--net"];
    let within = |program: &std::ffi::OsStr, arguments: &[&str]| {
        let mut command = Command::new(network[0]);
        command.args(&network[1..]).arg(program).args(arguments);
        command.output()
    };
    if !within("true".as_ref(), &[]).is_ok_and(|output| output.status.success()) {
        println!("not run: this user may make no network of its own");
        return;
    }
    let litfloor = daemon::litfloor(&[]);
    let far = ["status", "--at", "http://10.1.2.3:8080"];
    let output = within(litfloor.get_program(), &far).unwrap();
    let err = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(3), "{err}");
    assert!(
        err.contains("there is no way from this machine to 10.1.2.3"),
        "{err}"
    );
}

#[test]
fn frames_go_on_where_nobody_reads_what_is_told() {
    let node = Node::open("six");
    let (_directory, path) = daemon::file(&daemon::six_panels(&[node.address]));
    // As after `litfloor run FLOOR.toml | head -1`: whoever read has gone.
    let gone = || Stdio::from(std::io::pipe().unwrap().1);
    let mut command = daemon::to_run(&path);
    command
        .env("RUST_LOG", "debug")
        .stdout(gone())
        .stderr(gone());
    let mut child = command.spawn().unwrap();
    // What nobody sends is made dark.
    assert!(node.next(PATIENCE).is_some());
    let pid = child.id().to_string();
    let sent = Command::new("kill").args(["-s", "TERM", &pid]).status();
    assert!(sent.unwrap().success());
    assert!(child.wait().unwrap().success());
}

/// An access point for guests that comes up late. The address is of those for documentation (RFC 5737).
#[cfg(target_os = "linux")]
#[test]
fn a_page_whose_address_is_not_there_yet_keeps_no_frame_from_the_floor() {
    let node = Node::open("six");
    let (_directory, path) = daemon::file(&daemon::six_panels(&[node.address]));
    let mut command = daemon::to_run(&path);
    command.args(["--guests", "203.0.113.9:0"]);
    let daemon = daemon::Daemon::of(command);
    assert!(node.next(PATIENCE).is_some());
    daemon.until_well();
    assert!(daemon.end_with("TERM").success());
}

#[test]
fn the_log_says_once_when_the_signal_goes_and_when_it_comes_back() {
    let node = Node::open("six");
    let (_directory, path) = daemon::file(&daemon::six_panels(&[node.address]));
    let at = daemon::free_udp_port();
    let mut command = daemon::litfloor(&["run", &path, "--http", "127.0.0.1:0"]);
    command.args(["--artnet", &at.to_string()]);
    let mut child = command
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let (line, lines) = mpsc::channel();
    let err = BufReader::new(child.stderr.take().unwrap());
    let reading = std::thread::spawn(move || {
        err.lines()
            .map_while(Result::ok)
            .try_for_each(|text| line.send(text))
    });
    let console = Console::open(at);
    let mut all = Vec::new();
    // Plays until a line of the log has this, or is silent meanwhile.
    let mut until = |wanted: &str, plays: bool| {
        let deadline = std::time::Instant::now() + PATIENCE;
        loop {
            if plays {
                for universe in daemon::UNIVERSES {
                    console.dmx(universe, &[40; 512]);
                }
            }
            match lines.recv_timeout(FRAME) {
                Ok(text) => {
                    let found = text.contains(wanted);
                    all.push(text);
                    if found {
                        return all.clone();
                    }
                }
                Err(RecvTimeoutError::Timeout) => {}
                Err(RecvTimeoutError::Disconnected) => panic!("it has ended: {all:#?}"),
            }
            assert!(
                std::time::Instant::now() < deadline,
                "never {wanted}: {all:#?}"
            );
        }
    };
    until("the signal is there", true);
    until("the signal is lost", false);
    let all = until("the signal is there again", true);
    let count = |what: &str| all.iter().filter(|line| line.contains(what)).count();
    assert_eq!(count("the signal is lost"), 1, "{all:#?}");
    assert!(all.iter().all(|line| !line.contains("node n0")), "{all:#?}");
    child.kill().unwrap();
    child.wait().unwrap();
    drop(reading.join());
}

#[test]
fn every_line_of_a_log_for_programs_is_json() {
    let (_directory, path) = daemon::file(&daemon::six_panels(&[daemon::free_udp_port()]));
    let logged = |arguments: &[&str], variable: Option<&str>| {
        let mut command = daemon::to_run(&path);
        command.args(arguments).env("RUST_LOG", "debug");
        if let Some(form) = variable {
            command.env("LITFLOOR_LOG", form);
        }
        let mut child = command
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut lines = Vec::new();
        for line in BufReader::new(child.stderr.take().unwrap()).lines() {
            let line = line.unwrap();
            if line.contains("the data plane runs") {
                let pid = child.id().to_string();
                let sent = Command::new("kill").args(["-s", "TERM", &pid]).status();
                assert!(sent.unwrap().success());
            }
            lines.push(line);
        }
        assert!(child.wait().unwrap().success());
        lines
    };
    for lines in [
        logged(&["--log", "json"], None),
        logged(&[], Some("json")),
        logged(&["--log", "json"], Some("text")),
    ] {
        assert!(lines.len() > 1, "{lines:?}");
        for line in &lines {
            let told: Value =
                serde_json::from_str(line).unwrap_or_else(|why| panic!("{why}: {line}"));
            assert!(
                told["timestamp"].is_string() && told["level"].is_string(),
                "{line}"
            );
            assert!(told["fields"]["message"].is_string(), "{line}");
        }
    }
    let lines = logged(&[], None);
    let json = |line: &String| serde_json::from_str::<Value>(line).is_ok();
    assert!(lines.len() > 1 && !lines.iter().any(json), "{lines:?}");
    // Why it ends goes there too, though not by way of the log.
    let udp = UdpSocket::bind(ANY_PORT).unwrap();
    let at = udp.local_addr().unwrap().to_string();
    let (status, _, err) = ended(&[
        "--log",
        "json",
        "run",
        &path,
        "--artnet",
        &at,
        "--http",
        "127.0.0.1:0",
    ]);
    let lines: Vec<Value> = err
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect();
    let last = lines.last().unwrap();
    assert_eq!((status, &last["fields"]["status"]), (3, &3.into()));
    assert!(
        last["fields"]["message"].as_str().unwrap().contains(&at),
        "{last}"
    );
}
