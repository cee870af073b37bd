//! Who may change something: the real program, asked over a real socket.

mod daemon;

use std::net::Ipv4Addr;

use daemon::{Daemon, Node, litfloor};
use serde_json::{Value, json};

/// Status, the cookie that is set, and the body of an answer.
struct Answer {
    status: u16,
    cookie: Option<String>,
    body: Value,
}

/// Asks as a browser would that shows a page of the daemon.
fn ask(daemon: &Daemon, method: &str, path: &str, cookie: Option<&str>, body: &Value) -> Answer {
    let at = daemon.http;
    let body = if body.is_null() {
        String::new()
    } else {
        body.to_string()
    };
    let cookie = cookie.map_or_else(String::new, |cookie| format!("Cookie: {cookie}\r\n"));
    let answer = daemon.exchange(&format!(
        "{method} {path} HTTP/1.1\r\nHost: {at}\r\nOrigin: http://{at}\r\nConnection: close\r\n\
         Content-Type: application/json\r\nContent-Length: {}\r\n{cookie}\r\n{body}",
        body.len()
    ));
    let (head, body) = answer.split_once("\r\n\r\n").unwrap();
    let cookie = (head.lines()).find_map(|line| line.strip_prefix("set-cookie: "));
    Answer {
        status: head.split(' ').nth(1).unwrap().parse().unwrap(),
        cookie: cookie.map(|cookie| cookie.split(';').next().unwrap().to_owned()),
        body: serde_json::from_str(body).unwrap_or_default(),
    }
}

fn passphrase(text: &str) -> Value {
    json!({ "passphrase": text })
}

/// Starts `run` with a state directory, reachable under every address of this machine.
fn run(floor: &str, state: &str) -> Daemon {
    Daemon::start(&[
        "run",
        floor,
        "--artnet",
        "127.0.0.1:0",
        "--http",
        "127.0.0.1:0",
        "--state",
        state,
    ])
}

#[test]
fn a_passphrase_is_set_from_this_machine_and_holds_after_a_new_start() {
    let node = Node::open("six");
    let (directory, floor) = daemon::file(&daemon::six_panels(&[node.address]));
    let state = directory.path().join("state");
    let state = state.to_str().unwrap();
    let session = "/api/v1/session";

    let daemon = run(&floor, state);
    let open = json!({"may_control": true, "passphrase_set": false, "from_this_machine": true, "guest": false, "encrypted": false});
    assert_eq!(daemon.json(session), open);
    let set = ask(
        &daemon,
        "PUT",
        "/api/v1/passphrase",
        None,
        &passphrase("correct horse"),
    );
    assert_eq!(set.status, 204, "{}", set.body);
    let cookie = set.cookie.unwrap();
    let locked = json!({"may_control": false, "passphrase_set": true, "from_this_machine": true, "guest": false, "encrypted": false});
    assert_eq!(daemon.json(session), locked);
    assert_eq!(
        ask(&daemon, "GET", session, Some(&cookie), &Value::Null).body["may_control"],
        true
    );
    assert!(daemon.end_with("TERM").success());

    let daemon = run(&floor, state);
    // Sessions end with the process.
    let change = |cookie, text| {
        ask(
            &daemon,
            "PUT",
            "/api/v1/passphrase",
            cookie,
            &passphrase(text),
        )
    };
    let old = change(Some(cookie.as_str()), "battery staple");
    assert_eq!(
        (old.status, &old.body["error"]),
        (401, &json!("not_signed_in"))
    );
    let wrong = ask(
        &daemon,
        "POST",
        session,
        None,
        &passphrase("battery staple"),
    );
    assert_eq!((wrong.status, wrong.cookie), (401, None));
    let right = ask(&daemon, "POST", session, None, &passphrase("correct horse"));
    assert_eq!(right.status, 204);
    assert_eq!(
        change(right.cookie.as_deref(), "battery staple").status,
        204
    );
    // Looking stays free.
    assert_eq!(daemon.json("/api/v1/floor")["name"], "Six");
    let file = std::fs::read_to_string(format!("{state}/operator.json")).unwrap();
    assert!(
        file.contains("$argon2id$") && !file.contains("staple"),
        "{file}"
    );
}

/// The address of an interface that leads elsewhere, if this machine has one: what comes from
/// there has not a loopback address as its peer.
fn other_address() -> Option<Ipv4Addr> {
    let own = litfloor::net::interfaces::list();
    own.iter()
        .map(|(address, _)| *address)
        .find(|address| !address.is_loopback())
}

#[test]
fn what_comes_over_the_network_may_look_but_not_change() {
    let Some(address) = other_address() else {
        // On a machine without a network the routes' own tests are all there is.
        return;
    };
    let demo = Daemon::start(&[
        "demo",
        "--artnet",
        "127.0.0.1:0",
        "--http",
        &format!("{address}:0"),
    ]);
    assert_eq!(*demo.http.ip(), address);
    let told = demo.json("/api/v1/session");
    let closed = json!({"may_control": false, "passphrase_set": false, "from_this_machine": false, "guest": false, "encrypted": false});
    assert_eq!(told, closed);
    let refused = ask(
        &demo,
        "PUT",
        "/api/v1/passphrase",
        None,
        &passphrase("correct horse"),
    );
    assert_eq!(
        (refused.status, &refused.body["error"]),
        (403, &json!("not_this_machine"))
    );
}

#[test]
fn a_passphrase_of_the_environment_counts_and_a_short_one_is_wrong_usage() {
    let arguments = ["demo", "--artnet", "127.0.0.1:0", "--http", "127.0.0.1:0"];
    let mut command = litfloor(&arguments);
    let short = command
        .env("LITFLOOR_PASSPHRASE", "short")
        .output()
        .unwrap();
    assert_eq!(short.status.code(), Some(2));
    let said = String::from_utf8(short.stderr).unwrap();
    assert!(
        said.contains("LITFLOOR_PASSPHRASE") && said.contains("8 characters"),
        "{said}"
    );

    let mut command = litfloor(&arguments);
    command.env("LITFLOOR_PASSPHRASE", "correct horse");
    let demo = Daemon::of(command);
    assert_eq!(demo.json("/api/v1/session")["passphrase_set"], true);
    let signed_in = ask(
        &demo,
        "POST",
        "/api/v1/session",
        None,
        &passphrase("correct horse"),
    );
    assert_eq!(signed_in.status, 204);
    let cookie = signed_in.cookie.as_deref();
    let refused = ask(
        &demo,
        "PUT",
        "/api/v1/passphrase",
        cookie,
        &passphrase("battery staple"),
    );
    assert_eq!(
        (refused.status, &refused.body["error"]),
        (409, &json!("passphrase_given"))
    );
}

#[test]
fn a_state_directory_that_can_not_be_written_is_said_and_the_floor_runs() {
    let node = Node::open("six");
    let (_directory, floor) = daemon::file(&daemon::six_panels(&[node.address]));
    // A file where the directory should be.
    let mut daemon = run(&floor, &floor);
    let said = daemon.said("Control: ");
    assert!(
        said.contains("from this machine only") && said.contains("can't be written"),
        "{said}"
    );
    let set = ask(
        &daemon,
        "PUT",
        "/api/v1/passphrase",
        None,
        &passphrase("correct horse"),
    );
    assert_eq!((set.status, &set.body["error"]), (503, &json!("not_kept")));
    assert_eq!(daemon.json("/api/v1/session")["may_control"], true);
}
