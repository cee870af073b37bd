//! Who asks: what a request says of where it comes from.

use std::net::{IpAddr, SocketAddr};

use axum::extract::ConnectInfo;
use axum::http::header::{COOKIE, FORWARDED, HOST, VIA};
use axum::http::request::Parts;
use axum::http::uri::Authority;
use axum::http::{HeaderMap, HeaderName};

use super::super::origin::Origin;
use super::super::{Guest, Https};
use super::sessions::SessionId;

/// The cookie with the token.
pub(in super::super) const COOKIE_NAME: &str = "litfloor_session";

/// What a proxy adds: then the peer is the proxy, and who asks may be anywhere.
const BY_PROXY: [HeaderName; 5] = [
    FORWARDED,
    VIA,
    HeaderName::from_static("x-forwarded-for"),
    HeaderName::from_static("x-forwarded-host"),
    HeaderName::from_static("x-real-ip"),
];

/// Who asks.
#[derive(Debug, Clone)]
#[expect(
    clippy::struct_excessive_bools,
    reason = "each is something else that a request says of itself"
)]
pub(in super::super) struct Caller {
    /// The other end of the connection.
    pub(in super::super) peer: Option<IpAddr>,
    by_proxy: bool,
    /// Whether it came in by the door where nobody may do more than look.
    pub(in super::super) guest: bool,
    /// Whether nobody can listen in.
    pub(in super::super) encrypted: bool,
    /// Whether this host is named by an address or as `localhost`. Whoever owns any other name
    /// can make it lead to this machine, and a page under it is then of the same origin.
    pub(super) by_number: bool,
    pub(super) origin: Origin,
    /// Those that it says it has; they may have ended, or never have been.
    pub(super) sessions: Vec<SessionId>,
}

impl Caller {
    pub(in super::super) fn of(parts: &Parts) -> Self {
        let peer = parts.extensions.get::<ConnectInfo<SocketAddr>>();
        let encrypted = parts.extensions.get::<Https>().is_some();
        Self {
            guest: parts.extensions.get::<Guest>().is_some(),
            encrypted,
            peer: peer.map(|ConnectInfo(peer)| peer.ip().to_canonical()),
            by_proxy: BY_PROXY.iter().any(|name| parts.headers.contains_key(name)),
            by_number: by_number(&parts.headers),
            origin: Origin::of(&parts.headers, encrypted),
            sessions: sessions(&parts.headers),
        }
    }

    pub(in super::super) fn on_this_machine(&self) -> bool {
        !self.guest && self.peer.is_some_and(|peer| peer.is_loopback()) && !self.by_proxy
    }

    pub(in super::super) fn foreign(&self) -> bool {
        self.origin == Origin::Foreign
    }
}

fn by_number(headers: &HeaderMap) -> bool {
    let mut hosts = headers.get_all(HOST).iter();
    let (Some(host), None) = (hosts.next(), hosts.next()) else {
        return false;
    };
    let Ok(authority) = Authority::try_from(host.as_bytes()) else {
        return false;
    };
    let host = authority.host();
    let bare = host
        .strip_prefix('[')
        .and_then(|host| host.strip_suffix(']'));
    host.eq_ignore_ascii_case("localhost") || bare.unwrap_or(host).parse::<IpAddr>().is_ok()
}

/// Cookies do not say which port they are for, so that there may be several of this name.
fn sessions(headers: &HeaderMap) -> Vec<SessionId> {
    let lists = headers.get_all(COOKIE).iter();
    lists
        .filter_map(|list| list.to_str().ok())
        .flat_map(|list| list.split(';'))
        .filter_map(|cookie| cookie.trim().split_once('='))
        .filter(|(name, _)| *name == COOKIE_NAME)
        .map(|(_, token)| SessionId::of(token))
        .collect()
}

#[cfg(test)]
mod tests {
    use axum::http::Request;

    use super::*;

    fn caller(peer: &str, headers: &[(&str, &str)]) -> Caller {
        let mut request = Request::builder();
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        let (mut parts, ()) = request.body(()).unwrap().into_parts();
        let peer: SocketAddr = peer.parse().unwrap();
        parts.extensions.insert(ConnectInfo(peer));
        Caller::of(&parts)
    }

    #[test]
    fn this_machine_is_told_by_the_other_end_and_not_through_a_proxy() {
        // RFC 1122, section 3.2.1.3: all of 127/8; RFC 4291, section 2.5.3: ::1.
        for peer in [
            "127.0.0.1:5",
            "127.9.9.9:5",
            "[::1]:5",
            "[::ffff:127.0.0.1]:5",
        ] {
            assert!(caller(peer, &[]).on_this_machine(), "{peer}");
        }
        for peer in [
            "10.0.0.1:5",
            "[2001:db8::1]:5",
            "[::ffff:10.0.0.1]:5",
            "0.0.0.0:5",
        ] {
            assert!(!caller(peer, &[]).on_this_machine(), "{peer}");
        }
        for name in [
            "Forwarded",
            "Via",
            "X-Forwarded-For",
            "X-Forwarded-Host",
            "X-Real-IP",
        ] {
            assert!(
                !caller("127.0.0.1:5", &[(name, "10.0.0.1")]).on_this_machine(),
                "{name}"
            );
        }
        let (parts, ()) = Request::new(()).into_parts();
        assert!(!Caller::of(&parts).on_this_machine(), "nobody knows");
    }

    #[test]
    fn a_host_by_number_is_one_that_no_name_server_has_a_say_in() {
        let by_number = |host: &str| caller("127.0.0.1:5", &[("host", host)]).by_number;
        for host in [
            "127.0.0.1",
            "127.0.0.1:8080",
            "[::1]",
            "[::1]:8080",
            "localhost",
            "LocalHost:8080",
            "192.168.1.7:8080",
        ] {
            assert!(by_number(host), "{host}");
        }
        for host in [
            "elsewhere.example",
            "elsewhere.example:8080",
            "localhost.elsewhere.example",
            "127.0.0.1.elsewhere.example:8080",
            "127.1",
            "0x7f000001",
            "floor.local",
            "",
            ":8080",
            "[::1",
        ] {
            assert!(!by_number(host), "{host}");
        }
        assert!(!caller("127.0.0.1:5", &[]).by_number);
        let two = [("host", "127.0.0.1"), ("host", "elsewhere.example")];
        assert!(!caller("127.0.0.1:5", &two).by_number);
    }

    #[test]
    fn every_cookie_of_the_name_is_looked_at_and_no_other() {
        let found = caller(
            "127.0.0.1:5",
            &[
                ("cookie", "a=1; litfloor_session=one;litfloor_session=two"),
                ("cookie", "litfloor_session_2=x; litfloor_session=three"),
            ],
        );
        let expected = ["one", "two", "three"].map(SessionId::of);
        assert_eq!(found.sessions, expected);
    }
}
