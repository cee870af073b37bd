//! Which page a request comes from, by what the browser says about it.

use axum::http::HeaderMap;
use axum::http::header::{HOST, HeaderName, ORIGIN};

/// Says in newer browsers how the page and this host are related (Fetch Metadata).
const FETCH_SITE: HeaderName = HeaderName::from_static("sec-fetch-site");

/// The page that a request comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Origin {
    /// Nothing is said: no browser, or one that only reads.
    Unsaid,
    /// A page that this host served.
    Own,
    /// A page from elsewhere, or one that hides where it is from.
    Foreign,
}

impl Origin {
    /// Of a request that came encrypted only an encrypted page is our own: another of the same name
    /// may be anybody's who stands between.
    pub(super) fn of(headers: &HeaderMap, encrypted: bool) -> Self {
        let site = headers.get(FETCH_SITE);
        if site.is_some_and(|site| site != "same-origin" && site != "none") {
            return Self::Foreign;
        }
        let Some(origin) = headers.get(ORIGIN) else {
            return Self::Unsaid;
        };
        let (Ok(origin), Some(Ok(host))) =
            (origin.to_str(), headers.get(HOST).map(|host| host.to_str()))
        else {
            return Self::Foreign;
        };
        if served_by(origin, host, encrypted) {
            Self::Own
        } else {
            Self::Foreign
        }
    }
}

fn served_by(origin: &str, host: &str, encrypted: bool) -> bool {
    let Some((scheme, authority)) = origin.split_once("://") else {
        return false;
    };
    let usual_port = match scheme {
        "http" if !encrypted => ":80",
        // Also where something in between has taken the encryption off.
        "https" => ":443",
        _ => return false,
    };
    let plain = |text: &str| {
        text.strip_suffix(usual_port)
            .unwrap_or(text)
            .to_ascii_lowercase()
    };
    plain(authority) == plain(host)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn headers(list: &[(HeaderName, &str)]) -> HeaderMap {
        let list = list.iter();
        list.map(|(name, value)| (name.clone(), value.parse().unwrap()))
            .collect()
    }

    #[test]
    fn an_origin_is_compared_with_the_host() {
        let check = |origin: &str, host: &str| {
            Origin::of(&headers(&[(ORIGIN, origin), (HOST, host)]), false)
        };
        for (origin, host) in [
            ("http://10.0.0.2:8080", "10.0.0.2:8080"),
            ("http://Floor.local", "floor.local:80"),
            ("https://floor.local", "floor.local"),
            ("http://[::1]:8080", "[::1]:8080"),
        ] {
            assert_eq!(check(origin, host), Origin::Own, "{origin}");
        }
        for origin in [
            "http://10.0.0.2:8081",
            "http://elsewhere.example",
            "http://10.0.0.2:8080.elsewhere.example",
            "null",
            "file://10.0.0.2:8080",
        ] {
            assert_eq!(check(origin, "10.0.0.2:8080"), Origin::Foreign, "{origin}");
        }
        assert_eq!(Origin::of(&HeaderMap::new(), false), Origin::Unsaid);
    }

    #[test]
    fn of_an_encrypted_request_no_plain_page_is_our_own() {
        let check = |origin: &str| {
            Origin::of(
                &headers(&[(ORIGIN, origin), (HOST, "floor.local:8443")]),
                true,
            )
        };
        assert_eq!(check("https://floor.local:8443"), Origin::Own);
        assert_eq!(check("http://floor.local:8443"), Origin::Foreign);
        assert_eq!(check("https://floor.local"), Origin::Foreign);
    }

    /// The four values of Fetch Metadata (W3C working draft, section 2.3, from memory).
    #[test]
    fn what_a_browser_says_of_the_page_counts_also_without_its_origin() {
        let check = |site: &str| Origin::of(&headers(&[(FETCH_SITE, site)]), false);
        assert_eq!(check("same-origin"), Origin::Unsaid);
        assert_eq!(check("none"), Origin::Unsaid);
        assert_eq!(check("same-site"), Origin::Foreign);
        assert_eq!(check("cross-site"), Origin::Foreign);
        let both = headers(&[
            (ORIGIN, "http://10.0.0.2"),
            (HOST, "10.0.0.2"),
            (FETCH_SITE, "cross-site"),
        ]);
        assert_eq!(Origin::of(&both, false), Origin::Foreign);
    }
}
