//! `litfloor doctor`, by real processes: a machine that is fit or is not, the ports it will need, two litfloors
//! that are to stand by for each other, certificates that browsers would refuse.

#![allow(
    clippy::disallowed_methods,
    reason = "takes ports away, and is a clock for certificates"
)]

#[path = "../daemon/mod.rs"]
mod daemon;

mod certificates;
mod pair;

use std::net::{Ipv4Addr, SocketAddrV4, TcpListener, UdpSocket};
use std::path::Path;
use std::process::Command;

use daemon::{ANY_PORT, Node, PATIENCE, ended};
use serde_json::Value;

/// Looks with these options and this environment too; no port that another test may have is asked for.
fn looked(floor: &str, more: &[&str], environment: &[(&str, &str)], format: &str) -> (i32, String) {
    let mut command = daemon::litfloor(&["doctor", floor, "--format", format]);
    command.args(more).envs(environment.iter().copied());
    for (option, port) in [("--artnet", "127.0.0.1:0"), ("--http", "127.0.0.1:0")] {
        if !more.contains(&option) {
            command.args([option, port]);
        }
    }
    let output = command.output().unwrap();
    let errors = String::from_utf8(output.stderr).unwrap();
    assert_eq!(errors, "");
    let text = String::from_utf8(output.stdout).unwrap();
    (output.status.code().unwrap(), text)
}

/// The same, read.
fn found(floor: &str, more: &[&str], environment: &[(&str, &str)]) -> (i32, Value) {
    let (status, text) = looked(floor, more, environment, "json");
    (status, serde_json::from_str(&text).unwrap())
}

/// What is told of the one thing that is called so and is so, and what to do.
fn told(found: &Value, name: &str, verdict: &str) -> (String, String) {
    let point = point(found, name, verdict);
    let text = |key: &str| point[key].as_str().unwrap_or_default().to_owned();
    (text("told"), text("to_do"))
}

/// What `doctor` found, and its exit status.
fn doctor(floor: &str, artnet: &str, http: &str, state: &Path) -> (i32, Value, String) {
    let state = state.to_str().unwrap();
    let (status, out, err) = ended(&[
        "doctor", floor, "--artnet", artnet, "--http", http, "--state", state, "--format", "json",
    ]);
    (status, serde_json::from_str(&out).unwrap(), err)
}

/// The one thing that is called so and is so.
fn point<'f>(found: &'f Value, name: &str, verdict: &str) -> &'f Value {
    let points = found["points"].as_array().unwrap();
    let mut fitting = points
        .iter()
        .filter(|point| point["point"] == name && point["verdict"] == verdict);
    let point = fitting.next();
    point.unwrap_or_else(|| panic!("no {name} is {verdict} in {found:#}"))
}

#[test]
fn doctor_has_nothing_against_a_machine_that_is_fit() {
    let node = Node::open("six");
    let (directory, path) = daemon::file(&daemon::six_panels(&[node.address]));
    let state = directory.path().join("state");
    let (status, found, err) = doctor(&path, "127.0.0.1:0", "127.0.0.1:0", &state);
    assert_eq!((status, err.as_str()), (0, ""), "{found:#}");
    for name in [
        "floor_file",
        "artnet_port",
        "http_port",
        "route",
        "nodes",
        "state",
        "versions",
    ] {
        point(&found, name, "fine");
    }
    assert!(
        point(&found, "nodes", "fine")["told"]
            .as_str()
            .unwrap()
            .contains("1 node answered")
    );
    assert!(!state.exists(), "it changes nothing");
    // It asked the node, and sent nothing else.
    let asked = node.next(PATIENCE).unwrap();
    assert_eq!(asked[8..10], 0x2000_u16.to_le_bytes());
    assert!(node.arrived.try_iter().next().is_none());
    let (status, out, _) = ended(&[
        "doctor",
        &path,
        "--artnet",
        "127.0.0.1:0",
        "--http",
        "127.0.0.1:0",
        "--state",
        state.to_str().unwrap(),
    ]);
    assert_eq!(status, 0, "{out}");
    assert!(out.contains("0 wrong"), "{out}");
}

#[test]
fn doctor_names_what_is_wrong_with_a_machine_and_what_to_do() {
    let (node, silent) = (Node::open("six"), daemon::free_udp_port());
    let (directory, path) = daemon::file(&daemon::six_panels(&[node.address, silent]));
    let udp = UdpSocket::bind(ANY_PORT).unwrap();
    let tcp = TcpListener::bind(ANY_PORT).unwrap();
    let (udp_at, tcp_at) = (
        udp.local_addr().unwrap().to_string(),
        tcp.local_addr().unwrap().to_string(),
    );
    // A node that is silent, where its answer could be heard.
    let state = directory.path().join("state");
    let (status, found, _) = doctor(&path, "127.0.0.1:0", "127.0.0.1:0", &state);
    assert_eq!((status, &found["verdict"]), (3, &"wrong".into()));
    let told = point(&found, "nodes", "wrong")["told"].as_str().unwrap();
    assert!(
        told.contains("1 of 2 nodes answered") && told.contains(&silent.to_string()),
        "{told}"
    );
    // Ports that are taken, and a state directory that is a file.
    let file = directory.path().join("file");
    std::fs::write(&file, "").unwrap();
    let (status, found, _) = doctor(&path, &udp_at, &tcp_at, &file);
    assert_eq!(status, 3);
    for (name, at) in [("artnet_port", &udp_at), ("http_port", &tcp_at)] {
        let point = point(&found, name, "wrong");
        assert!(
            point["told"].as_str().unwrap().contains(at.as_str()),
            "{point}"
        );
        if cfg!(target_os = "linux") {
            let who = format!("(process {})", std::process::id());
            assert!(point["told"].as_str().unwrap().contains(&who), "{point}");
        }
        assert!(point["to_do"].is_string(), "{point}");
    }
    point(&found, "state", "wrong");
    // Who could not listen at the port must not call a node silent.
    point(&found, "nodes", "mind");
    // 240.0.0.0/4 is reserved (RFC 1112, 4), and lies in
    // no network of any machine.
    let nowhere = SocketAddrV4::new(Ipv4Addr::new(240, 0, 0, 1), 6_454);
    let (_directory, path) = daemon::file(&daemon::six_panels(&[nowhere]));
    let (status, found, _) = doctor(&path, "127.0.0.1:0", "127.0.0.1:0", &state);
    assert_eq!(status, 3, "{found:#}");
    let points = found["points"].as_array().unwrap();
    let route = points
        .iter()
        .find(|point| point["point"] == "route")
        .unwrap();
    // With a router there is a way, of a sort.
    let told = route["told"].as_str().unwrap();
    assert!(
        told.contains("240.0.0.1") && route["verdict"] != "fine",
        "{route}"
    );
    point(&found, "nodes", "wrong");
}

#[cfg(target_os = "linux")]
#[test]
fn doctor_says_that_there_is_no_way_where_there_is_no_network() {
    let network = ["unshare", "--user", "--map-root-user", "--net"];
    let can = Command::new(network[0])
        .args(&network[1..])
        .arg("true")
        .output();
    if !can.is_ok_and(|output| output.status.success()) {
        println!("not run: this user may make no network of its own");
        return;
    }
    let far = SocketAddrV4::new(Ipv4Addr::new(10, 1, 2, 3), 6_454);
    let (directory, path) = daemon::file(&daemon::six_panels(&[far]));
    let wanted = daemon::litfloor(&["doctor", &path, "--format", "json"]);
    let mut within = Command::new(network[0]);
    within
        .args(&network[1..])
        .arg(wanted.get_program())
        .args(wanted.get_args());
    within.env("STATE_DIRECTORY", directory.path());
    let output = within.output().unwrap();
    let found: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(output.status.code(), Some(3), "{found:#}");
    let route = point(&found, "route", "wrong");
    assert!(
        route["told"]
            .as_str()
            .unwrap()
            .contains("no way to node n0 (10.1.2.3:6454)"),
        "{route}"
    );
    point(&found, "interface", "mind");
}

#[test]
fn the_door_for_guests_is_looked_at_with_the_dashboard_s_open() {
    let (_directory, path) = daemon::file(&daemon::six_panels(&[daemon::free_udp_port()]));
    let taken = TcpListener::bind(ANY_PORT).unwrap();
    let at = taken.local_addr().unwrap().to_string();
    let (status, points) = found(&path, &["--guests", &at], &[]);
    let (why, to_do) = told(&points, "guests_port", "wrong");
    assert_eq!(status, 3);
    assert!(
        why.contains(&at) && to_do.contains("--guests"),
        "{why} {to_do}"
    );
    if cfg!(target_os = "linux") {
        assert!(
            why.contains(&format!("(process {})", std::process::id())),
            "{why}"
        );
    }
    drop(taken);
    let (_, points) = found(&path, &["--guests", &at], &[]);
    told(&points, "guests_port", "fine");
    let (_, points) = found(&path, &["--guests", &at, "--http", &at], &[]);
    told(&points, "http_port", "fine");
    let (why, _) = told(&points, "guests_port", "wrong");
    if cfg!(target_os = "linux") {
        assert!(why.contains("is where the dashboard will be"), "{why}");
    }
    let (_, points) = found(&path, &[], &[]);
    let points = points["points"].as_array().unwrap();
    assert!(points.iter().all(|point| point["point"] != "guests_port"));
}

#[test]
fn a_passphrase_is_looked_at_as_run_looks_at_it_and_never_told() {
    let (_directory, path) = daemon::file(&daemon::six_panels(&[daemon::free_udp_port()]));
    let with = |passphrase| found(&path, &[], &[("LITFLOOR_PASSPHRASE", passphrase)]).1;
    let points = with("short");
    let (why, _) = told(&points, "control", "wrong");
    assert!(
        why.contains("LITFLOOR_PASSPHRASE") && why.contains("8 characters"),
        "{why}"
    );
    let (_, said, complaint) = {
        let mut command = daemon::to_run(&path);
        let output = command
            .env("LITFLOOR_PASSPHRASE", "short")
            .output()
            .unwrap();
        let text = |bytes| String::from_utf8(bytes).unwrap();
        (output.status, text(output.stdout), text(output.stderr))
    };
    assert!(said.is_empty() && complaint.contains(&why), "{complaint}");
    let points = with("correct horse");
    told(&points, "control", "fine");
    assert!(!points.to_string().contains("correct horse"));
    let (_, points) = found(&path, &["--http", "0.0.0.0:0"], &[]);
    let (why, to_do) = told(&points, "control", "mind");
    assert!(
        why.contains("from this machine only") && to_do.contains("phone"),
        "{why}"
    );
}

#[test]
fn where_a_passphrase_was_looked_for_is_told_and_that_the_service_has_another_place() {
    let (directory, path) = daemon::file(&daemon::six_panels(&[daemon::free_udp_port()]));
    let state = directory.path().join("state");
    let at = state.to_str().unwrap();
    let (_, points) = found(&path, &["--state", at], &[]);
    let (why, _) = told(&points, "control", "fine");
    assert!(why.contains(at), "{why}");
    let (_, points) = found(&path, &["--state", at, "--http", "0.0.0.0:0"], &[]);
    let (why, to_do) = told(&points, "control", "mind");
    assert!(why.contains(at), "{why}");
    assert!(to_do.contains("--state /var/lib/litfloor"), "{to_do}");
    assert!(to_do.contains("a page opened here"), "{to_do}");
    // Where nothing can be kept, no page can set one.
    std::fs::write(&state, "").unwrap();
    let (_, points) = found(&path, &["--state", at, "--http", "0.0.0.0:0"], &[]);
    let (_, to_do) = told(&points, "control", "mind");
    assert!(!to_do.contains("a page opened here"), "{to_do}");
    assert!(to_do.contains("LITFLOOR_PASSPHRASE"), "{to_do}");
}

#[test]
fn the_token_of_sensors_is_looked_at_as_run_looks_at_it_and_never_told() {
    let (directory, path) = daemon::file(&daemon::six_panels(&[daemon::free_udp_port()]));
    let state = directory.path().join("state");
    let keeping = ["--state", state.to_str().unwrap()];
    let with = |token| found(&path, &keeping, &[("LITFLOOR_READINGS_TOKEN", token)]);
    let (status, points) = with("too short");
    let (why, to_do) = told(&points, "readings_token", "wrong");
    assert_eq!(status, 3);
    assert!(why.contains("LITFLOOR_READINGS_TOKEN"), "{why}");
    assert!(to_do.contains("correct or unset that variable"), "{to_do}");
    told(&points, "control", "fine");
    let good = "sixteen letters and more";
    let (_, points) = with(good);
    told(&points, "readings_token", "fine");
    assert!(!points.to_string().contains(good));
    // One that was kept and can't be read: `run` starts, and nobody can report.
    std::fs::create_dir(&state).unwrap();
    std::fs::write(state.join("readings.json"), "{}").unwrap();
    let (_, points) = found(&path, &keeping, &[]);
    let (why, to_do) = told(&points, "readings_token", "mind");
    assert!(why.contains("readings.json"), "{why}");
    assert!(to_do.contains("move it away"), "{to_do}");
}

#[cfg(unix)]
#[test]
fn a_passphrase_that_is_no_text_is_not_called_too_short() {
    use std::ffi::OsStr;
    use std::os::unix::ffi::OsStrExt;
    let (_directory, path) = daemon::file(&daemon::six_panels(&[daemon::free_udp_port()]));
    let mut command = daemon::litfloor(&["doctor", &path, "--format", "json"]);
    command.args(["--artnet", "127.0.0.1:0", "--http", "127.0.0.1:0"]);
    command.env("LITFLOOR_PASSPHRASE", OsStr::from_bytes(b"12345678\xff"));
    let output = command.output().unwrap();
    let points: Value = serde_json::from_slice(&output.stdout).unwrap();
    let (why, to_do) = told(&points, "control", "wrong");
    assert!(why.contains("is not UTF-8"), "{why}");
    assert!(to_do.contains("correct or unset that variable"), "{to_do}");
}
