//! A daemon with changes that only these tests have, and browsers that try them.

use std::net::SocketAddr;

use axum::Router;
use axum::body::{Body, to_bytes};
use axum::extract::ConnectInfo;
use axum::http::{HeaderMap, Method, Request, StatusCode};
use axum::routing::{delete, post};
use serde_json::{Value, json};
use tower::ServiceExt;

use super::super::testing::Bench;
use super::extract::{Operator, Told};
use super::*;

mod attacks;
mod rights;

const HERE: &str = "127.0.0.1:50000";
const PHONE: &str = "192.168.1.7:50000";
const PASSPHRASE: &str = "correct horse";

async fn change(_: Operator, Told(_): Told<Value>) -> StatusCode {
    StatusCode::NO_CONTENT
}

async fn remove(_: Operator) -> StatusCode {
    StatusCode::NO_CONTENT
}

/// The daemon, with two changes that only these tests have.
struct House {
    bench: Bench,
    router: Router,
}

impl House {
    fn new(given: Option<&str>) -> Self {
        Self::kept(Keep::Memory, given)
    }

    fn kept(keep: Keep, given: Option<&str>) -> Self {
        let gate = Gate::open(keep, given.map(str::to_owned)).unwrap();
        let bench = Bench::with(gate, Router::new());
        let tried = Router::new()
            .route("/change", post(change))
            .route("/thing", delete(remove))
            .with_state(Arc::clone(&bench.shared));
        let router = bench.router.clone().merge(tried);
        Self { bench, router }
    }
}

/// A browser, or something that looks like one.
#[derive(Clone)]
struct Browser<'a> {
    house: &'a House,
    peer: &'a str,
    headers: Vec<(&'static str, String)>,
    cookie: Option<String>,
}

struct Reply {
    status: StatusCode,
    headers: HeaderMap,
    body: Value,
}

impl Reply {
    fn error(&self) -> (u16, &str) {
        let error = self.body["error"].as_str().unwrap_or_default();
        (self.status.as_u16(), error)
    }
}

impl<'a> Browser<'a> {
    /// On the daemon's own page, under the address by which that machine reaches it.
    fn new(house: &'a House, peer: &'a str) -> Self {
        let host = if peer == HERE {
            "127.0.0.1:8080"
        } else {
            "192.168.1.2:8080"
        };
        Self {
            house,
            peer,
            headers: vec![
                ("host", host.to_owned()),
                ("origin", format!("http://{host}")),
                ("content-type", "application/json".to_owned()),
            ],
            cookie: None,
        }
    }

    fn with(mut self, name: &'static str, value: &str) -> Self {
        self = self.without(name);
        self.headers.push((name, value.to_owned()));
        self
    }

    fn without(mut self, name: &str) -> Self {
        self.headers.retain(|(known, _)| *known != name);
        self
    }

    async fn send(&self, method: Method, path: &str, body: impl Into<Body>) -> Reply {
        let mut request = Request::builder().method(method).uri(path);
        let cookie = self.cookie.iter().map(|cookie| ("cookie", cookie));
        for (name, value) in self.headers.iter().map(|(n, v)| (*n, v)).chain(cookie) {
            request = request.header(name, value);
        }
        let mut request = request.body(body.into()).unwrap();
        let peer: SocketAddr = self.peer.parse().unwrap();
        request.extensions_mut().insert(ConnectInfo(peer));
        let (head, body) = (self.house.router.clone().oneshot(request).await)
            .unwrap()
            .into_parts();
        let body = to_bytes(body, usize::MAX).await.unwrap();
        Reply {
            status: head.status,
            headers: head.headers,
            body: serde_json::from_slice(&body).unwrap_or_default(),
        }
    }

    async fn change(&self) -> Reply {
        self.send(Method::POST, "/change", "{}").await
    }

    async fn say(&mut self, method: Method, path: &str, passphrase: &str) -> Reply {
        let body = json!({ "passphrase": passphrase }).to_string();
        let reply = self.send(method, path, body).await;
        if let Some(cookie) = reply.headers.get("set-cookie") {
            let pair = cookie.to_str().unwrap().split(';').next().unwrap();
            self.cookie = Some(pair.to_owned());
        }
        reply
    }

    async fn sign_in(&mut self, passphrase: &str) -> Reply {
        self.say(Method::POST, "/api/v1/session", passphrase).await
    }

    async fn set(&mut self, passphrase: &str) -> Reply {
        self.say(Method::PUT, "/api/v1/passphrase", passphrase)
            .await
    }

    async fn may(&self) -> Value {
        self.send(Method::GET, "/api/v1/session", "").await.body
    }
}
