//! Labels as they are asked for, and what is refused. That codes can be read is tested with readers that
//! we did not write, in `tests/outside/test_labels.py`.

use axum::http::StatusCode;

use super::super::testing::{Answer, Bench, ask};
use super::*;

async fn get(path: &str) -> Answer {
    ask(&Bench::new().router, path, &[]).await
}

const HERE: &str = "at=http%3A%2F%2F192.168.1.20%3A8080";

#[tokio::test(start_paused = true)]
async fn a_label_is_a_square_picture_that_says_its_serial() {
    let answer = get(&format!("/api/v1/labels/P17.svg?{HERE}")).await;
    assert_eq!(answer.status, StatusCode::OK);
    assert_eq!(answer.headers["content-type"], "image/svg+xml");
    let svg = String::from_utf8(answer.body.to_vec()).unwrap();
    // 37 bytes at level Q need version 4 (ISO/IEC 18004, table 7): 33 modules, and 4 on each side.
    assert!(svg.contains("viewBox=\"0 0 41 41\""), "{svg}");
    assert!(svg.contains("<title>P17</title>"), "{svg}");
    assert!(!svg.contains("<text"), "{svg}");
    // The first finder's upper edge: seven dark modules after the margin.
    assert!(svg.contains("d=\"M4 4h7v1h-7z"), "{svg}");
}

#[tokio::test(start_paused = true)]
async fn the_serial_is_written_under_the_code_for_who_asks() {
    let answer = get(&format!("/api/v1/labels/P17.svg?{HERE}&text=true")).await;
    let svg = String::from_utf8(answer.body.to_vec()).unwrap();
    assert!(svg.contains("viewBox=\"0 0 41 48\""), "{svg}");
    assert!(svg.contains(">P17</text>"), "{svg}");
}

#[tokio::test(start_paused = true)]
async fn what_is_no_label_is_refused() {
    for (path, status, word) in [
        ("P17.svg", 400, "bad_address"),
        ("P17.svg?at=", 400, "bad_address"),
        ("P17.svg?at=ftp%3A%2F%2Fa", 400, "bad_address"),
        ("P17.svg?at=http%3A%2F%2Fa&text=maybe", 400, "bad_address"),
        ("%3Cb%3E.svg?at=http%3A%2F%2Fa", 404, "no_such_label"),
        ("a%2Fb.svg?at=http%3A%2F%2Fa", 404, "no_such_label"),
        (".svg?at=http%3A%2F%2Fa", 404, "no_such_label"),
        ("P17.png?at=http%3A%2F%2Fa", 404, "no_such_label"),
        ("P17?at=http%3A%2F%2Fa", 404, "no_such_label"),
    ] {
        let answer = get(&format!("/api/v1/labels/{path}")).await;
        assert_eq!(answer.status, status, "{path}");
        assert_eq!(answer.json()["error"], word, "{path}");
    }
}

#[test]
fn an_address_leads_to_the_panels_page() {
    for (at, leads_to) in [
        ("http://floor.local", "http://floor.local/#/panel/P-1.a_b"),
        (
            "http://10.0.0.2:8080/",
            "http://10.0.0.2:8080/#/panel/P-1.a_b",
        ),
        (
            "https://[fe80::1]:8443",
            "https://[fe80::1]:8443/#/panel/P-1.a_b",
        ),
    ] {
        assert_eq!(page(at, "P-1.a_b").unwrap(), leads_to);
    }
    // As `encodeURIComponent` writes it (ECMA-262), which the pages read.
    assert_eq!(page("http://a", "Ä1").unwrap(), "http://a/#/panel/%C3%841");
}

#[test]
fn an_address_that_no_phone_can_open_is_refused() {
    let long = format!("http://{}", "a".repeat(LONGEST));
    for at in [
        "floor.local",
        "floor.local:8080",
        "/panel",
        "//floor.local",
        "javascript:alert(1)",
        "ws://floor.local",
        "http://",
        "http://:8080",
        "http://a:0",
        "http://a:65536",
        "http://a:port",
        "http://[::1",
        "http://[::1]x",
        "http://ida@a",
        "http://ida:word@a",
        "http://a/book",
        "http://a?to=b",
        "http://a/#/power",
        "http://a b",
        "http://a\"><script>",
        "http://ä",
        &long,
    ] {
        let why = page(at, "P17").unwrap_err();
        assert!(
            why.contains("such as http://192.168.1.20:8080: "),
            "{at}: {why}"
        );
    }
}

#[test]
fn the_longest_label_still_fits_in_a_code() {
    let at = format!("http://{}", "a".repeat(LONGEST - 7));
    let serial = "🄰".repeat(32);
    assert!(serial::valid(&serial));
    let svg = drawing::label(&page(&at, &serial).unwrap(), &serial, true).unwrap();
    assert!(svg.ends_with("</svg>"));
}
