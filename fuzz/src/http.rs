//! Requests as a text that the fuzzer can change, and what every answer must be.
//!
//! ```text
//! METHOD PATH
//! name: value
//! … and a line that begins with `!`: `!N` is the address 10.0.0.N of whoever asks (127.0.0.1 without)
//!
//! body, up to a byte 0x1E, behind which the next request begins
//! ```

use std::net::SocketAddr;

use axum::Router;
use axum::body::{Body, to_bytes};
use axum::extract::ConnectInfo;
use axum::http::{HeaderName, HeaderValue, Method, Request, StatusCode, Uri};
use tower::ServiceExt;

/// Between two requests.
pub const BETWEEN: u8 = 0x1E;

/// One request, and who asks.
pub struct Asked {
    pub request: Request<Body>,
    pub from_here: bool,
}

/// Reads a request; nothing where it is none.
pub fn read(text: &[u8]) -> Option<Asked> {
    let at = text.windows(2).position(|pair| pair == b"\n\n");
    let (head, body) = at.map_or((text, &[][..]), |at| (&text[..at], &text[at + 2..]));
    let mut lines = head.split(|&byte| byte == b'\n');
    let mut first = lines.next()?.splitn(2, |&byte| byte == b' ');
    let method = Method::from_bytes(first.next()?).ok()?;
    let uri = Uri::try_from(first.next()?).ok()?;
    let mut request = Request::builder().method(method).uri(uri);
    let mut peer = [127, 0, 0, 1];
    for line in lines {
        if let Some(&who) = line.strip_prefix(b"!").and_then(|rest| rest.first()) {
            peer = [10, 0, 0, who];
            continue;
        }
        let colon = line.iter().position(|&byte| byte == b':')?;
        let name = HeaderName::from_bytes(&line[..colon]).ok()?;
        let value = HeaderValue::from_bytes(line[colon + 1..].trim_ascii()).ok()?;
        request = request.header(name, value);
    }
    let headers = request.headers_mut()?;
    let usual = |value| HeaderValue::from_static(value);
    headers.entry("host").or_insert(usual("127.0.0.1:8080"));
    if !body.is_empty() {
        headers
            .entry("content-type")
            .or_insert(usual("application/json"));
    }
    let request = request.extension(ConnectInfo(SocketAddr::from((peer, 50_000))));
    Some(Asked {
        request: request.body(Body::from(body.to_vec())).ok()?,
        from_here: peer[0] == 127,
    })
}

/// Asks, and holds the answer against what holds for all of them. Gives its status.
pub async fn ask(router: &Router, request: Request<Body>) -> StatusCode {
    let told = format!("{} {}", request.method(), request.uri());
    let answer = router
        .clone()
        .oneshot(request)
        .await
        .expect("a router always answers");
    let (parts, body) = answer.into_parts();
    let body = to_bytes(body, 1 << 24).await.expect("an answer ends");
    let status = parts.status;
    assert!(
        !status.is_server_error() || status == StatusCode::SERVICE_UNAVAILABLE,
        "{told}: {status} {:?}",
        String::from_utf8_lossy(&body)
    );
    for name in [
        "content-security-policy",
        "x-content-type-options",
        "referrer-policy",
    ] {
        assert!(parts.headers.contains_key(name), "{told}: no {name}");
    }
    let plain = !parts.headers.contains_key("content-encoding");
    let kind = parts.headers.get("content-type").map(HeaderValue::as_bytes);
    if kind == Some(b"application/json") && plain && !body.is_empty() {
        let read = serde_json::from_slice::<serde_json::Value>(&body);
        assert!(read.is_ok(), "{told}: {read:?}");
    }
    status
}
