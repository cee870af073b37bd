//! What may be asked at a door, before any route sees it: by which names, encrypted or not, by guests.

use std::net::{IpAddr, SocketAddr};
use std::sync::Arc;

use axum::Router;
use axum::body::Body;
use axum::extract::ConnectInfo;
use axum::http::header::{HOST, LOCATION, STRICT_TRANSPORT_SECURITY};
use axum::http::uri::Authority;
use axum::http::{HeaderValue, Method, Request, StatusCode, Version};
use axum::response::{IntoResponse, Response};
use tower::ServiceExt;

use super::super::headers;
use super::super::problem::problem;
use super::super::tls::Encryption;
use super::super::{Guest, Https};

/// Ends of names that nobody can own on the Internet, so that no stranger's page can come under one:
/// RFC 6762 (`local`), RFC 8375 (`home.arpa`), RFC 6761 (`localhost`, `test`), and ICANN's resolution of
/// July 2024 (`internal`). The others are common practice, no source, and no delegated domains.
const PRIVATE_ENDS: [&str; 9] = [
    "local",
    "home.arpa",
    "localhost",
    "test",
    "internal",
    "lan",
    "home",
    "intranet",
    "localdomain",
];

/// What guests may look at beside the page itself. What is not named here they don't get: that also
/// holds for what is added later.
const FOR_GUESTS: [&str; 13] = [
    "/api/v1/floor",
    "/api/v1/state",
    "/api/v1/voltages",
    "/api/v1/history",
    "/api/v1/energy",
    "/api/v1/live",
    "/api/v1/openapi.json",
    "/api/v1/session",
    "/api/v1/sensors",
    "/api/v1/survey",
    "/api/v1/simulation",
    "/api/v1/faults",
    "/healthz",
];

/// How long a browser that was here encrypted asks for nothing else: a day.
const HSTS: HeaderValue = HeaderValue::from_static("max-age=86400");

/// Names under which litfloor may be asked beside addresses and names that nobody can own.
#[derive(Debug, Clone, Default)]
pub struct Names(Arc<[String]>);

impl Names {
    /// Just these.
    pub fn new(names: &[String]) -> Self {
        Self(names.iter().map(|name| plain(name)).collect())
    }

    /// Whether a page under this host can only be ours. Whoever owns a name in the Internet can make it
    /// lead to this machine, and then a page of his may read here what its visitor may.
    pub fn have(&self, host: &str) -> bool {
        let Ok(authority) = Authority::try_from(host) else {
            return false;
        };
        let name = plain(authority.host());
        let bare = name
            .strip_prefix('[')
            .and_then(|name| name.strip_suffix(']'));
        if bare.unwrap_or(&name).parse::<IpAddr>().is_ok() {
            return true;
        }
        let ends = |end: &&str| {
            name.strip_suffix(*end)
                .is_some_and(|rest| rest.ends_with('.'))
        };
        !name.contains('.') || PRIVATE_ENDS.iter().any(ends) || self.0.contains(&name)
    }
}

fn plain(name: &str) -> String {
    name.strip_suffix('.').unwrap_or(name).to_ascii_lowercase()
}

/// What may be asked at one door.
#[derive(Debug)]
pub(super) struct Manners {
    router: Router,
    names: Names,
    https: bool,
    /// Whether the certificate is one that browsers trust, so that they may be told to.
    trusted: bool,
    guests: bool,
}

impl Manners {
    pub(super) fn new(router: Router, names: Names, encryption: Option<&Encryption>) -> Self {
        Self {
            router,
            names,
            https: encryption.is_some(),
            trusted: encryption.is_some_and(Encryption::was_given),
            guests: false,
        }
    }

    pub(super) fn for_guests(mut self) -> Self {
        self.guests = true;
        self
    }

    /// Answers what was asked over a connection of `peer`.
    pub(super) async fn receive(&self, mut request: Request<Body>, peer: SocketAddr) -> Response {
        if let Err(refusal) = self.admit(&request) {
            return headers::onto(*refusal);
        }
        let extensions = request.extensions_mut();
        extensions.insert(ConnectInfo(peer));
        if self.https {
            extensions.insert(Https);
        }
        if self.guests {
            extensions.insert(Guest);
        }
        let Ok(mut answer) = self.router.clone().oneshot(request).await;
        if self.trusted {
            answer.headers_mut().insert(STRICT_TRANSPORT_SECURITY, HSTS);
        }
        answer
    }

    fn admit(&self, request: &Request<Body>) -> Result<(), Box<Response>> {
        match host(request) {
            Ok(Some(host)) if !self.names.have(host) => {
                let text = format!(
                    "litfloor does not go by the name {host}, which somebody else may have made to lead \
                     here. Ask for it by its address; if the name is yours, start it with --name"
                );
                let refusal = problem(StatusCode::MISDIRECTED_REQUEST, "foreign_host", text);
                return Err(Box::new(refusal));
            }
            Ok(_) => {}
            Err(why) => {
                let refusal = problem(StatusCode::BAD_REQUEST, "not_understood", why);
                return Err(Box::new(refusal));
            }
        }
        if self.guests && !for_guests(request.method(), request.uri().path()) {
            let text = "this address is for guests: from here the floor can only be looked at";
            let refusal = problem(StatusCode::FORBIDDEN, "guests_only_look", text);
            return Err(Box::new(refusal));
        }
        Ok(())
    }

    /// The answer to who speaks plainly where encryption is asked for.
    pub(super) fn send_to_encryption(&self, request: &Request<Body>) -> Response {
        let looks = matches!(*request.method(), Method::GET | Method::HEAD);
        let host = host(request).ok().flatten();
        let path = request.uri().path_and_query();
        let target = host
            .filter(|host| looks && self.names.have(host))
            .and_then(|host| {
                HeaderValue::try_from(format!(
                    "https://{host}{}",
                    path.map_or("/", |p| p.as_str())
                ))
                .ok()
            });
        let text = "this port speaks https only: begin the address with https://";
        let answer = match target {
            // Not for good: one day the same address may be without encryption again.
            Some(target) => {
                let mut answer = StatusCode::TEMPORARY_REDIRECT.into_response();
                answer.headers_mut().insert(LOCATION, target);
                answer
            }
            None => problem(StatusCode::BAD_REQUEST, "https_only", text),
        };
        headers::onto(answer)
    }
}

/// The one host that is asked; nothing where an old client names none.
///
/// RFC 9112, section 3.2: a request of HTTP/1.1 without a Host, or with several, is to be refused.
fn host(request: &Request<Body>) -> Result<Option<&str>, &'static str> {
    let mut hosts = request.headers().get_all(HOST).iter();
    let (host, second) = (hosts.next(), hosts.next());
    if second.is_some() {
        return Err("there are several Host headers");
    }
    // RFC 9112, section 3.2.2: of a target that names a host, that one counts.
    if let Some(authority) = request.uri().authority() {
        return Ok(Some(authority.as_str()));
    }
    match host.map(HeaderValue::to_str) {
        Some(Ok(host)) => Ok(Some(host)),
        Some(Err(_)) => Err("the Host header is no text"),
        None if request.version() == Version::HTTP_10 => Ok(None),
        None => Err("there is no Host header"),
    }
}

fn for_guests(method: &Method, path: &str) -> bool {
    let looks = matches!(*method, Method::GET | Method::HEAD);
    let page = path == "/" || path == "/index.html" || path.starts_with("/assets/");
    let of_book = path == "/api/v1/book/faults"
        || path == "/api/v1/book/panels"
        || path.starts_with("/api/v1/book/panels/");
    looks && (page || of_book || FOR_GUESTS.contains(&path))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn addresses_and_names_that_nobody_can_own_are_ours() {
        let names = Names::new(&["Floor.Example.org.".to_owned()]);
        for host in [
            "10.0.0.2:8080",
            "127.0.0.1",
            "[::1]:8080",
            "[2001:db8::1]",
            "localhost:8080",
            "board",
            "floor.local:8080",
            "Floor.Local.",
            "a.b.home.arpa",
            "floor.lan",
            "floor.example.org",
            "FLOOR.example.org:8443",
        ] {
            assert!(names.have(host), "{host}");
        }
        for host in [
            "elsewhere.example",
            "rebind.example.com:8080",
            "10.0.0.2.example.com",
            "local.example.com",
            "notlocal.com",
            "evil.example.org",
            "floor.example.org.example.com",
            "",
            "a b",
        ] {
            assert!(!names.have(host), "{host}");
        }
    }

    #[test]
    fn guests_look_and_take_nothing_away() {
        let may = |method: Method, path: &str| for_guests(&method, path);
        for path in FOR_GUESTS
            .iter()
            .chain(&["/", "/assets/index.js", "/api/v1/book/panels/Q1"])
        {
            assert!(may(Method::GET, path), "{path}");
            assert!(may(Method::HEAD, path), "{path}");
            for method in [
                Method::POST,
                Method::PUT,
                Method::DELETE,
                Method::PATCH,
                Method::OPTIONS,
            ] {
                assert!(!may(method, path), "{path}");
            }
        }
        for path in [
            "/metrics",
            "/api/v1/book/export.json",
            "/api/v1/book/export.csv",
            "/api/v1/book/floor.toml",
            "/api/v1/book/diff",
            "/api/v1/stepping/corrected.toml",
            "/api/v1/history.csv",
            "/api/v1/anything/later",
        ] {
            assert!(!may(Method::GET, path), "{path}");
        }
    }

    /// What is named above is there: a route that is renamed is not lost to guests unseen.
    #[test]
    fn what_guests_may_look_at_is_there() {
        let routes = super::super::super::routes();
        for path in FOR_GUESTS {
            assert!(routes.iter().any(|(known, _)| *known == path), "{path}");
        }
    }
}
