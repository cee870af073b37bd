//! Who guesses, steals, or borrows somebody's browser.

use std::time::{Duration, Instant};

use super::*;

const PASSPHRASE: &str = "correct horse";
const SESSION: &str = "/api/v1/session";

fn said(passphrase: &str) -> String {
    serde_json::json!({ "passphrase": passphrase }).to_string()
}

/// Signs in, and gives the whole cookie that was set.
fn sign_in(from: [u8; 4], at: SocketAddrV4) -> String {
    let answer = change(from, at, "POST", SESSION, "", &said(PASSPHRASE));
    assert_eq!(answer.status, 204, "{answer:?}");
    answer.header("set-cookie").unwrap().to_owned()
}

/// Turns the floor down: what only the operator may.
fn turn_down(from: [u8; 4], at: SocketAddrV4, more: &str) -> (u16, String) {
    let answer = change(
        from,
        at,
        "PUT",
        "/api/v1/limit",
        more,
        "{\"floor_va\": 100}",
    );
    (answer.status, answer.word())
}

#[test]
fn who_guesses_waits_longer_and_longer_and_nobody_else_does() {
    let house = House::new(&[], Some(PASSPHRASE));
    let at = house.daemon.http;
    let guess = |n: usize| {
        let begun = Instant::now();
        let answer = change(
            ME,
            at,
            "POST",
            SESSION,
            "",
            &said(&format!("guess number {n}")),
        );
        assert_eq!(
            (answer.status, answer.word().as_str()),
            (401, "wrong_passphrase")
        );
        begun.elapsed()
    };
    let begun = Instant::now();
    let waits: Vec<_> = (0..6).map(guess).collect();
    // Our own choice, no source: 0.25 s doubled from the second on.
    for (n, wait) in waits.iter().enumerate().skip(1) {
        let least = Duration::from_millis(250 << (n - 1));
        assert!(*wait >= least, "{n}: {wait:?}");
    }
    // Two more at once: one of them waits for eight seconds, the other is refused, whichever came first.
    let two = [0, 1].map(|n| {
        std::thread::spawn(move || {
            change(ME, at, "POST", SESSION, "", &said(&format!("at once {n}"))).status
        })
    });
    // Meanwhile a friend elsewhere signs in at once.
    let friend = Instant::now();
    assert!(!sign_in(FRIEND, at).is_empty());
    println!("a friend signed in within {:?}", friend.elapsed());
    let mut found = two.map(|one| one.join().unwrap());
    found.sort_unstable();
    assert_eq!(found, [401, 429]);
    println!("eight guesses took {:?}", begun.elapsed());
    house.is_well();
}

#[test]
fn a_cookie_is_worth_something_only_as_it_was_given() {
    let house = House::new(&[], Some(PASSPHRASE));
    let at = house.daemon.http;
    assert_eq!(turn_down(ME, at, ""), (401, "not_signed_in".to_owned()));
    let whole = sign_in(ME, at);
    // RFC 6265bis: out of reach of scripts and of pages from elsewhere. It came in the clear, so it can't be
    // `Secure`: see the encrypted door for that.
    for flag in ["httponly", "samesite=strict", "path=/", "max-age=43200"] {
        assert!(whole.split("; ").any(|part| part == flag), "{whole}");
    }
    let pair = whole.split(';').next().unwrap().to_owned();
    let cookie = |pair: &str| format!("Cookie: {pair}\r\n");
    assert_eq!(turn_down(ME, at, &cookie(&pair)).0, 200);
    // Altered: any of its digits, shorter, longer.
    let (name, token) = pair.split_once('=').unwrap();
    assert_eq!(token.len(), 64);
    for at_digit in [0, 31, 63] {
        let other = if &token[at_digit..=at_digit] == "0" {
            "1"
        } else {
            "0"
        };
        let altered = format!(
            "{name}={}{other}{}",
            &token[..at_digit],
            &token[at_digit + 1..]
        );
        assert_eq!(turn_down(ME, at, &cookie(&altered)).0, 401, "{altered}");
    }
    for altered in [
        format!("{pair}0"),
        pair[..pair.len() - 1].to_owned(),
        format!("{name}="),
    ] {
        assert_eq!(turn_down(ME, at, &cookie(&altered)).0, 401, "{altered}");
    }
    // Borrowed by a page from elsewhere, or by something that does not say where it comes from.
    let borrowed = |lines: &str| {
        let request = format!(
            "PUT /api/v1/limit HTTP/1.1\r\nHost: {at}\r\nConnection: close\r\nCookie: {pair}\r\n{lines}\
             Content-Type: application/json\r\nContent-Length: 17\r\n\r\n{{\"floor_va\": 100}}"
        );
        let answer = send(ME, at, &request);
        (answer.status, answer.word())
    };
    for lines in [
        "Origin: http://elsewhere.example\r\n",
        "Origin: null\r\n",
        "Origin: http://127.0.0.1:1\r\n",
        "Sec-Fetch-Site: cross-site\r\n",
    ] {
        assert_eq!(
            borrowed(lines),
            (403, "foreign_origin".to_owned()),
            "{lines}"
        );
    }
    assert_eq!(borrowed(""), (403, "origin_unsaid".to_owned()));
    // Ended: signed out, and what was stolen before is worth nothing.
    let out = change(ME, at, "DELETE", SESSION, &cookie(&pair), "");
    assert_eq!(out.status, 204);
    assert_eq!(
        turn_down(ME, at, &cookie(&pair)),
        (401, "not_signed_in".to_owned())
    );
}
