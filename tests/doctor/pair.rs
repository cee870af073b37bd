//! `[standby]`: the key, which of the two this machine is, and whether the other one is heard.

use super::*;

const KEY: &str = "LITFLOOR_STANDBY_KEY";
const GOOD: &str = "a key for tests only";

/// A floor file of a pair that listens at these.
fn floor(node: &Node, first: SocketAddrV4, second: SocketAddrV4) -> (tempfile::TempDir, String) {
    daemon::file(&format!(
        "{}[standby]\nfirst = \"{first}\"\nsecond = \"{second}\"\n",
        daemon::six_panels(&[node.address])
    ))
}

/// A port that is free at the loopback's first two addresses.
fn two_listeners() -> [SocketAddrV4; 2] {
    loop {
        let port = daemon::free_udp_port().port();
        let both = [1, 2].map(|last| SocketAddrV4::new(Ipv4Addr::new(127, 0, 0, last), port));
        if both.iter().all(|at| UdpSocket::bind(at).is_ok()) {
            return both;
        }
    }
}

#[test]
fn each_of_two_is_told_its_role_and_whether_the_other_one_is_heard() {
    let node = Node::open("six");
    let [first, second] = two_listeners();
    let (directory, path) = floor(&node, first, second);
    let at = first.to_string();
    let key = [(KEY, GOOD)];
    let (status, points) = found(&path, &["--artnet", &at], &key);
    assert_eq!(status, 0, "{points:#}");
    let (role, _) = told(&points, "standby", "fine");
    let wanted = format!("the first of two litfloors; the other one is at {second}");
    assert!(role.contains(&wanted), "{role}");
    told(&points, "standby_key", "fine");
    assert!(!points.to_string().contains(GOOD));
    let (why, to_do) = told(&points, "standby_other", "mind");
    assert!(why.contains(&second.to_string()), "{why}");
    assert!(to_do.contains("firewalls"), "{to_do}");

    // The other one runs.
    let mut command = daemon::litfloor(&["run", &path, "--http", "127.0.0.1:0"]);
    command.args(["--artnet", &second.to_string(), "--state"]);
    command.arg(directory.path().join("second")).env(KEY, GOOD);
    let other = daemon::Daemon::of(command);
    let (status, text) = looked(&path, &["--artnet", &at], &key, "text");
    assert_eq!(status, 0, "{text}");
    let line = |beginning: &str| {
        let found = text.lines().find(|line| line.starts_with(beginning));
        found.unwrap_or_else(|| panic!("no {beginning} in\n{text}"))
    };
    let heard = format!("the other litfloor, at {second}, answered a poll");
    assert!(line("fine   standby other ").ends_with(&heard), "{text}");
    line("fine   standby key ");
    // Seen from the other machine, its own port is that of the one that runs.
    let (status, points) = found(&path, &["--artnet", &second.to_string()], &key);
    assert_eq!(status, 3);
    let (role, _) = told(&points, "standby", "fine");
    assert!(role.contains("the second of two"), "{role}");
    told(&points, "artnet_port", "wrong");
    // It could not listen at the port to which an answer goes, and says so.
    let (_, to_do) = told(&points, "standby_other", "mind");
    assert!(to_do.contains("the Art-Net port is taken"), "{to_do}");
    assert!(other.end_with("TERM").success());
}

#[test]
fn a_node_that_is_silent_did_not_answer_because_the_other_one_at_its_address_did() {
    let [first, second] = two_listeners();
    // A port at the other one's address, where nobody listens.
    let free = UdpSocket::bind(SocketAddrV4::new(*second.ip(), 0)).unwrap();
    let silent: SocketAddrV4 = free.local_addr().unwrap().to_string().parse().unwrap();
    drop(free);
    let (directory, path) = daemon::file(&format!(
        "{}[standby]\nfirst = \"{first}\"\nsecond = \"{second}\"\n",
        daemon::six_panels(&[silent])
    ));
    let mut command = daemon::litfloor(&["run", &path, "--http", "127.0.0.1:0"]);
    command.args(["--artnet", &second.to_string(), "--state"]);
    command.arg(directory.path().join("second")).env(KEY, GOOD);
    let other = daemon::Daemon::of(command);
    let (status, points) = found(&path, &["--artnet", &first.to_string()], &[(KEY, GOOD)]);
    told(&points, "standby_other", "fine");
    let (why, _) = told(&points, "nodes", "wrong");
    assert_eq!(status, 3);
    assert!(
        why.contains("0 of 1 nodes answered") && why.contains(&silent.to_string()),
        "{why}"
    );
    assert!(other.end_with("TERM").success());
}

#[test]
fn a_key_that_is_missing_is_minded_and_one_too_short_is_wrong_in_words_and_for_programs() {
    let node = Node::open("six");
    let [first, second] = two_listeners();
    let (_directory, path) = floor(&node, first, second);
    let at = first.to_string();
    let artnet = ["--artnet", at.as_str()];
    let (status, text) = looked(&path, &artnet, &[], "text");
    assert_eq!(status, 0, "{text}");
    let missing = "LITFLOOR_STANDBY_KEY is not set here";
    let line = text.lines().find(|line| line.ends_with(missing));
    assert!(
        line.is_some_and(|line| line.starts_with("MIND   standby key ")),
        "{text}"
    );
    assert!(text.contains("/etc/litfloor/secrets"), "{text}");
    let short = "fifteen letters";
    let (status, points) = found(&path, &artnet, &[(KEY, short)]);
    assert_eq!((status, &points["verdict"]), (3, &"wrong".into()));
    let (why, _) = told(&points, "standby_key", "wrong");
    assert!(why.contains("too short"), "{why}");
    assert!(!points.to_string().contains(short));
}

#[test]
fn a_machine_that_is_neither_or_both_is_told() {
    let node = Node::open("six");
    let [first, second] = two_listeners();
    // 192.0.2.0/24 is for documentation (RFC 5737): no interface has it.
    let far = SocketAddrV4::new(Ipv4Addr::new(192, 0, 2, 1), first.port());
    let key = [(KEY, GOOD)];
    let (_directory, path) = floor(&node, far, second);
    let (status, points) = found(&path, &["--artnet", &first.to_string()], &key);
    let (_, to_do) = told(&points, "standby", "wrong");
    assert_eq!(status, 3);
    assert!(
        to_do.contains("neither is where this litfloor listens"),
        "{to_do}"
    );
    let points = points["points"].as_array().unwrap().clone();
    assert!(
        points.iter().all(|point| point["point"] != "standby_other"),
        "{points:#?}"
    );
    // The other one's address is nowhere near.
    let (status, points) = found(&path, &["--artnet", &second.to_string()], &key);
    assert_eq!(status, 0, "{points:#}");
    let (why, _) = told(&points, "standby_other", "mind");
    assert!(why.contains(&far.to_string()), "{why}");
    // It listens at all addresses, and both are its own.
    let (_directory, path) = floor(&node, first, second);
    let all = format!("0.0.0.0:{}", first.port());
    let (_, points) = found(&path, &["--artnet", &all], &key);
    let (_, to_do) = told(&points, "standby", "wrong");
    assert!(to_do.contains("--artnet"), "{to_do}");
}
