//! What is asked wrongly: too long, too slow, in disguise.

use std::io::{Read, Write};
use std::time::{Duration, Instant};

use super::*;

#[test]
fn heads_that_are_too_long_or_too_slow_are_refused() {
    let house = House::new(&[], None);
    house.is_well();
    let at = house.daemon.http;
    let padded = |bytes: usize| format!("X-Long: {}\r\n", "a".repeat(bytes));
    // RFC 6585, section 5: 431 Request Header Fields Too Large.
    assert_eq!(get(ME, at, "/healthz", &padded(30 * 1_024)).status, 200);
    assert_eq!(get(ME, at, "/healthz", &padded(33 * 1_024)).status, 431);
    assert_eq!(get(ME, at, "/healthz", &padded(4 << 20)).status, 431);
    let many = |count: usize| "X-Many: a\r\n".repeat(count);
    // Host and Connection are two of the 64.
    assert_eq!(get(ME, at, "/healthz", &many(62)).status, 200);
    assert_eq!(get(ME, at, "/healthz", &many(63)).status, 431);
    let long = format!("/{}", "a".repeat(40 * 1_024));
    assert!(matches!(get(ME, at, &long, "").status, 414 | 431));
    assert_eq!(
        send(ME, at, "\x16\x03\x01 what is this\r\n\r\n").status,
        400
    );

    // One that says a little of its head every second, for ever: it has ten seconds for all of it.
    let mut slow = connect(ME, at);
    let begun = Instant::now();
    slow.write_all(b"GET /healthz HTTP/1.1\r\n").unwrap();
    slow.set_read_timeout(Some(Duration::from_millis(500)))
        .unwrap();
    let mut byte = [0];
    let ended = loop {
        // A write into a closed connection is its end as well.
        if slow.write_all(b"X-Slow: a\r\n").is_err() {
            break begun.elapsed();
        }
        match slow.read(&mut byte) {
            Err(error) if error.kind() == ErrorKind::WouldBlock => {}
            _ => break begun.elapsed(),
        }
        assert!(begun.elapsed() < PATIENCE, "it waits for ever");
    };
    assert!(
        ended > Duration::from_secs(8),
        "{ended:?}: honest phones are slow too"
    );
    // One that says nothing at all, and one that has been answered and says no more.
    let mut silent = connect(ME, at);
    assert_eq!(closes_within(&mut silent, PATIENCE), "");
    let mut kept = connect(ME, at);
    kept.write_all(format!("GET /healthz HTTP/1.1\r\nHost: {at}\r\n\r\n").as_bytes())
        .unwrap();
    let answer = closes_within(&mut kept, PATIENCE);
    assert!(
        answer.starts_with("HTTP/1.1 200 OK") && answer.ends_with("ok"),
        "{answer}"
    );
    house.is_well();
}

#[test]
fn bodies_that_are_too_long_or_wrapped_up_are_refused() {
    let house = House::new(&[], None);
    let at = house.daemon.http;
    let told = |length: &str, body: &str| {
        send(
            ME,
            at,
            &format!(
                "PUT /api/v1/limit HTTP/1.1\r\nHost: {at}\r\nConnection: close\r\n\
                 Content-Type: application/json\r\n{length}\r\n{body}"
            ),
        )
    };
    // Refused by its length alone: nothing of it is waited for.
    let huge = told("Content-Length: 10000000000\r\n", "{");
    assert_eq!((huge.status, huge.word().as_str()), (413, "too_large"));
    let chunk = format!("10000\r\n{}\r\n", "a".repeat(0x1_0000));
    let chunked = told(
        "Transfer-Encoding: chunked\r\n",
        &format!("{}0\r\n\r\n", chunk.repeat(4)),
    );
    assert_eq!(
        (chunked.status, chunked.word().as_str()),
        (413, "too_large")
    );
    // A bomb: nothing is ever unpacked, so JSON that is said to be packed is read as it stands, and what is
    // really packed is no JSON.
    let as_it_stands = told(
        "Content-Encoding: gzip\r\nContent-Length: 17\r\n",
        "{\"floor_va\": 100}",
    );
    assert_eq!(as_it_stands.status, 200);
    let packed = told(
        "Content-Encoding: gzip\r\nContent-Length: 10\r\n",
        "\x1f\x0b\x08\0\0\0\0\0\0\x03",
    );
    assert_eq!(
        (packed.status, packed.word().as_str()),
        (400, "not_understood")
    );
    let deep = told(
        &format!("Content-Length: {}\r\n", 60_000),
        &"[".repeat(60_000),
    );
    assert_eq!((deep.status, deep.word().as_str()), (400, "not_understood"));
    // A body that never comes.
    let begun = Instant::now();
    let never = told("Content-Length: 100\r\n", "{");
    assert_eq!((never.status, never.word().as_str()), (408, "too_slow"));
    assert!(
        begun.elapsed() > Duration::from_secs(5),
        "{:?}",
        begun.elapsed()
    );
    house.is_well();
}

/// RFC 9112, sections 6.1, 6.3 and 11.2: a request of which two readers may see different ends is refused,
/// or read in the one safe way and the connection closed; what was smuggled in is never answered.
#[test]
fn nothing_is_smuggled_in_behind_a_request() {
    let house = House::new(&[], None);
    let at = house.daemon.http;
    let smuggled = format!("GET /api/v1/floor HTTP/1.1\r\nHost: {at}\r\n\r\n");
    let length = smuggled.len();
    let tries = [
        // Two lengths that differ.
        format!("Content-Length: 0\r\nContent-Length: {length}\r\n\r\n{smuggled}"),
        // A length and chunks: by the length this is one request, by the chunks two.
        format!(
            "Content-Length: {}\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n{smuggled}",
            length + 5
        ),
        // Chunks that are not the last coding, and one that only looks like it.
        format!("Transfer-Encoding: chunked, identity\r\n\r\n0\r\n\r\n{smuggled}"),
        format!("Transfer-Encoding: xchunked\r\n\r\n0\r\n\r\n{smuggled}"),
        // A length that is none.
        format!("Content-Length: +{length}\r\n\r\n{smuggled}"),
        format!("Content-Length: 0x10\r\n\r\n{smuggled}"),
        // A header before the colon of which there is a space (section 5.1), and a bare CR in a line.
        format!("Content-Length : {length}\r\n\r\n{smuggled}"),
        format!("X: a\rContent-Length: {length}\r\n\r\n{smuggled}"),
        // A line that goes on (section 5.2).
        format!("X: a\r\n Content-Length: {length}\r\n\r\n{smuggled}"),
    ];
    for tried in tries {
        let mut stream = connect(ME, at);
        let request = format!(
            "POST /api/v1/pattern HTTP/1.1\r\nHost: {at}\r\nContent-Type: application/json\r\n{tried}"
        );
        let _ = stream.write_all(request.as_bytes());
        let answers = read_all(&mut stream);
        assert_eq!(
            answers.matches("HTTP/1.1 ").count(),
            1,
            "{tried:?}: {answers}"
        );
        assert!(answers.starts_with("HTTP/1.1 4"), "{tried:?}: {answers}");
        assert!(!answers.contains("panel_kinds"), "{tried:?}");
    }
    house.is_well();
}

#[test]
fn no_path_leads_out_of_the_pages() {
    let house = House::new(&[], None);
    let at = house.daemon.http;
    for path in [
        "/../../../../etc/passwd",
        "/assets/../../../../etc/passwd",
        "/assets/%2e%2e/%2e%2e/%2e%2e/etc/passwd",
        "/assets/..%2f..%2f..%2fetc%2fpasswd",
        "/assets/..%5c..%5cetc",
        "//etc/passwd",
        "/assets/%00",
        "/api/v1/labels/..%2f..%2fetc%2fpasswd",
        "/api/v1/book/panels/..%2f..%2f..%2foperator.json",
        "/operator.json",
        "/api/v1/../../operator.json",
    ] {
        let answer = get(ME, at, path, "");
        assert!((400..500).contains(&answer.status), "{path}: {answer:?}");
        assert!(
            !answer.body.contains("root:") && !answer.body.contains("argon2"),
            "{path}"
        );
    }
}

#[test]
fn a_name_that_somebody_bent_to_this_machine_gets_nothing() {
    let house = House::new(&["--name", "floor.example.org"], None);
    let at = house.daemon.http;
    let under = |host: &str, path: &str| {
        let request = format!("GET {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n");
        send(ME, at, &request)
    };
    for path in [
        "/",
        "/api/v1/floor",
        "/api/v1/state",
        "/api/v1/session",
        "/nothing",
    ] {
        let bent = under("rebind.example.com:8080", path);
        // RFC 9110, section 15.5.20: 421 Misdirected Request.
        assert_eq!(
            (bent.status, bent.word().as_str()),
            (421, "foreign_host"),
            "{path}"
        );
    }
    let live = under(
        "rebind.example.com\r\nConnection: Upgrade\r\nUpgrade: websocket\r\nSec-WebSocket-Version: 13\r\n\
         Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==",
        "/api/v1/live",
    );
    assert_eq!(live.status, 421);
    let port = at.port();
    for host in [
        format!("floor.local:{port}"),
        "floor.example.org".to_owned(),
        "[::1]".to_owned(),
    ] {
        assert_eq!(under(&host, "/api/v1/state").status, 200, "{host}");
    }
    // A target that names another host than the header does (RFC 9112, section 3.2.2).
    let absolute = format!(
        "GET http://rebind.example.com/api/v1/floor HTTP/1.1\r\nHost: {at}\r\nConnection: close\r\n\r\n"
    );
    assert_eq!(send(ME, at, &absolute).status, 421);
    // RFC 9112, section 3.2: none, and two.
    let none = "GET /api/v1/floor HTTP/1.1\r\nConnection: close\r\n\r\n";
    assert_eq!(send(ME, at, none).status, 400);
    assert_eq!(
        under(&format!("{at}\r\nHost: {at}"), "/api/v1/floor").status,
        400
    );
}

#[test]
fn every_answer_tells_browsers_to_run_nothing_that_is_not_ours() {
    let house = House::new(&[], None);
    let at = house.daemon.http;
    let page = get(ME, at, "/", "");
    // What the page itself names.
    let named = page
        .body
        .split('"')
        .filter(|part| part.starts_with("/assets/"));
    let mut paths: Vec<String> = named.map(str::to_owned).collect();
    assert!(
        !cfg!(feature = "dashboard") || !paths.is_empty(),
        "{}",
        page.body
    );
    paths.extend(
        [
            "/",
            "/api/v1/floor",
            "/api/v1/nothing",
            "/nothing",
            "/healthz",
        ]
        .map(str::to_owned),
    );
    for path in paths {
        let answer = get(ME, at, &path, "");
        let policy = answer.header("content-security-policy").unwrap();
        assert!(policy.contains("script-src 'self';"), "{path}: {policy}");
        assert!(
            policy.contains("frame-ancestors 'none'"),
            "{path}: {policy}"
        );
        for hole in ["unsafe", "*", "http:", "https:", "nonce"] {
            assert!(!policy.contains(hole), "{path}: {policy}");
        }
        assert_eq!(
            answer.header("x-content-type-options"),
            Some("nosniff"),
            "{path}"
        );
    }
    let refused = send(
        ME,
        at,
        "GET / HTTP/1.1\r\nHost: a.example\r\nConnection: close\r\n\r\n",
    );
    assert!(refused.header("content-security-policy").is_some());
    // Browsers show what is answered in no other page, and no other page reads it.
    assert_eq!(page.header("access-control-allow-origin"), None);
}
