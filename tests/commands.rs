//! The commands as processes: exit status, what is said where, and the demo.

mod daemon;

use std::net::{SocketAddrV4, TcpListener, UdpSocket};
use std::process::Output;
use std::time::Duration;

use daemon::{ANY_PORT, Daemon, PATIENCE, litfloor};
use serde_json::Value;

/// The demo's looks take turns in 60 s; the white one, which needs the cap, comes once.
const ALL_LOOKS: Duration = Duration::from_secs(70);

fn ended(arguments: &[&str]) -> (i32, String, String) {
    let Output {
        status,
        stdout,
        stderr,
    } = litfloor(arguments).output().unwrap();
    let text = |bytes| String::from_utf8(bytes).unwrap();
    (status.code().unwrap(), text(stdout), text(stderr))
}

#[test]
fn a_file_without_faults_is_summed_up_with_status_0() {
    let (status, out, err) = ended(&["check", "config/demo.toml"]);
    assert_eq!((status, err.as_str()), (0, ""));
    assert!(out.contains("51 panels, 2408 pixels"), "{out}");
    let (status, out, _) = ended(&["check", "--format", "json", "config/first-floor.toml"]);
    let summary: Value = serde_json::from_str(&out).unwrap();
    assert_eq!((status, &summary["slots"]), (0, &Value::from(240)));
}

#[test]
fn every_fault_is_said_with_its_place_and_status_1() {
    let sound = include_str!("../config/first-floor.toml");
    let faulty = sound
        .replace("rated_a = 10\n", "rated_amps = 10\n")
        .replace("\"B2\", \"A2\"", "\"B2\", \"A9\"");
    assert_ne!(faulty, sound);
    let (_directory, path) = daemon::file(&faulty);
    let place = |what: &str| {
        let before = &faulty[..faulty.find(what).unwrap()];
        let column = before.len() - before.rfind('\n').unwrap();
        format!("{path}:{}:{column}", before.matches('\n').count() + 1)
    };
    for arguments in [&["check", &path][..], &["run", &path]] {
        let (status, out, err) = ended(arguments);
        assert_eq!((status, out.as_str()), (1, ""), "{err}");
        for what in ["rated_amps", "\"A9\""] {
            assert!(err.contains(&place(what)), "{} in\n{err}", place(what));
        }
    }
    let (status, out, err) = ended(&["check", "--format", "json", &path]);
    assert_eq!((status, err.as_str()), (1, ""));
    let told: Value = serde_json::from_str(&out).unwrap();
    let faults = told["faults"].as_array().unwrap();
    let places = faults
        .iter()
        .map(|fault| format!("{path}:{}:{}", fault["line"], fault["column"]));
    assert!(
        places.collect::<Vec<_>>().contains(&place("rated_amps")),
        "{out}"
    );
    let (status, _, err) = ended(&["check", "no-such-floor.toml"]);
    assert_eq!(status, 1);
    let first = err.lines().next().unwrap();
    assert!(first.contains("no-such-floor.toml"), "{err}");
}

#[test]
fn wrong_usage_is_status_2() {
    for arguments in [
        &[][..],
        &["check"],
        &["check", "--format", "poem", "config/demo.toml"],
        &["run", "config/demo.toml", "--artnet", "here"],
        &["demo", "--loud"],
    ] {
        let (status, out, err) = ended(arguments);
        assert_eq!((status, out.as_str()), (2, ""), "{arguments:?}");
        assert!(!err.is_empty());
    }
    let (status, out, err) = ended(&["demo", "--artnet", "0.0.0.0:0", "--http", "127.0.0.1:0"]);
    assert_eq!((status, out.as_str()), (2, ""));
    assert!(
        err.contains("--artnet") && err.contains("loopback"),
        "{err}"
    );
    assert_eq!(ended(&["--help"]).0, 0);
    for (option, written, right) in [
        ("--http", "18090", "127.0.0.1:18090"),
        ("--artnet", "192.168.1.5", "192.168.1.5:6454"),
    ] {
        let (status, out, err) = ended(&["run", "config/demo.toml", option, written]);
        assert_eq!((status, out.as_str()), (2, ""));
        let told = format!("write ADDRESS:PORT, such as {right}");
        assert!(err.contains(option) && err.contains(&told), "{err}");
    }
}

#[test]
#[expect(clippy::disallowed_methods, reason = "takes ports away")]
fn a_port_that_is_taken_is_named_with_its_option_and_status_3() {
    let udp = UdpSocket::bind(ANY_PORT).unwrap();
    let tcp = TcpListener::bind(ANY_PORT).unwrap();
    let udp = udp.local_addr().unwrap().to_string();
    let tcp = tcp.local_addr().unwrap().to_string();
    let free = ANY_PORT.to_string();
    for (command, floor) in [("demo", None), ("run", Some("config/demo.toml"))] {
        for (artnet, http, taken, option) in [
            (&udp, &free, &udp, "--artnet"),
            (&free, &tcp, &tcp, "--http"),
        ] {
            let mut arguments = vec![command, "--artnet", artnet, "--http", http];
            arguments.extend(floor);
            let (status, out, err) = ended(&arguments);
            assert_eq!((status, out.as_str()), (3, ""), "{err}");
            assert!(err.contains(taken) && err.contains(option), "{err}");
        }
    }
}

#[test]
fn a_node_that_is_the_program_itself_is_refused_with_its_place() {
    let free = daemon::free_udp_port();
    let text = daemon::six_panels(&[free]);
    let (_directory, path) = daemon::file(&text);
    let before = &text[..text.find(&format!("{:?}", free.ip().to_string())).unwrap()];
    let line = before.matches('\n').count() + 1;
    let listen = free.to_string();
    for command in ["run", "check"] {
        let (status, out, err) = ended(&[command, &path, "--artnet", &listen]);
        assert_eq!((status, out.as_str()), (1, ""), "{err}");
        assert!(err.contains(&format!("{path}:{line}:")), "{err}");
        assert!(err.contains("round in a circle"), "{err}");
    }
    let (status, out, _) = ended(&["check", &path, "--format", "json", "--artnet", &listen]);
    let told: Value = serde_json::from_str(&out).unwrap();
    assert_eq!(
        (status, &told["faults"][0]["code"]),
        (1, &"leads-back".into())
    );
    assert_eq!(told["faults"][0]["line"], line);
    assert_eq!(ended(&["check", &path]).0, 0, "it listens elsewhere");
}

fn demo() -> Daemon {
    Daemon::start(&["demo", "--artnet", "127.0.0.1:0", "--http", "127.0.0.1:0"])
}

#[test]
fn the_demo_does_the_whole_job_and_ends_on_ctrl_c() {
    let daemon = demo();
    assert!(daemon.http.ip().is_loopback() && daemon.http.port() != 0);
    let floor = daemon.json("/api/v1/floor");
    let nodes = floor["nodes"].as_array().unwrap();
    assert_eq!(nodes.len(), 2);
    for node in nodes {
        let address: SocketAddrV4 = node["address"].as_str().unwrap().parse().unwrap();
        assert!(address.ip().is_loopback(), "{address} is not this machine");
    }
    let numbers = |state: &Value| {
        let of = |key: &str| state[key].as_u64().unwrap();
        (of("frames_in"), of("frames_out"))
    };
    let (first_in, first_out) = daemon.until(PATIENCE, |state| {
        let online = |node: &Value| node["online"] == true;
        let all = state["nodes"].as_array().unwrap().iter().all(online);
        (all && state["signal"] == "live").then(|| numbers(state))
    });
    assert_eq!(daemon.get("/healthz").0, 200);
    // 17 universes or so: a thousand frames are a second or two.
    daemon.until(PATIENCE, |state| {
        let (now_in, now_out) = numbers(state);
        (now_in > first_in + 1_000 && now_out > first_out + 1_000).then_some(())
    });
    // The cap works in the white look, and then no supply draws more than its limit.
    let (scale, draw_a, limit_a) = daemon.until(ALL_LOOKS, |state| {
        let supplies = state["supplies"].as_array().unwrap();
        let number = |supply: &Value, key: &str| supply[key].as_f64().unwrap();
        for supply in supplies {
            let (draw_a, limit_a) = (number(supply, "draw_a"), number(supply, "limit_a"));
            assert!(draw_a <= limit_a, "{supply}");
        }
        let dimmed = supplies
            .iter()
            .find(|supply| number(supply, "scale") < 1.0)?;
        Some(
            ["scale", "draw_a", "limit_a"]
                .map(|key| number(dimmed, key))
                .into(),
        )
    });
    println!("scale {scale:.3}, {draw_a:.2} of {limit_a:.2} A");
    assert!(daemon.end_with("INT").success());
}

#[test]
fn the_demo_ends_on_a_signal_to_end() {
    let daemon = demo();
    daemon.until(PATIENCE, |state| (state["frames_out"] != 0).then_some(()));
    assert!(daemon.end_with("TERM").success());
}
