//! What a handler of a change takes: the right to it, and what was said.
//!
//! ```text
//! #[utoipa::path(post, path = "/api/v1/…", tag = "…", request_body = Wish,
//!     security(("session" = [])), responses((status = 204, …), Refusals))]
//! async fn change(operator: Operator, Told(wish): Told<Wish>) -> Response
//! ```

use std::collections::BTreeMap;
use std::time::Duration;

use axum::body::Bytes;
use axum::extract::{DefaultBodyLimit, FromRequest, FromRequestParts, Request};
use axum::http::header::{CONTENT_LENGTH, CONTENT_TYPE, TRANSFER_ENCODING};
use axum::http::request::Parts;
use axum::http::{HeaderMap, StatusCode};
use serde::de::DeserializeOwned;
use utoipa::IntoResponses;
use utoipa::openapi::{ContentBuilder, Ref, RefOr, ResponseBuilder, response};

use super::super::origin::Origin;
use super::super::{Shared, timers};
use super::Grant;
use super::caller::Caller;
use super::refusal::Refusal;

/// Longest body, in bytes.
pub(in super::super) const LARGEST: usize = 64 * 1_024;

/// How long a body may take to arrive.
const ARRIVES_WITHIN: Duration = Duration::from_secs(10);

/// The right to change something. Only who has it gets into a handler that takes it; a body must
/// be JSON then, which no page from elsewhere can send unasked.
#[derive(Debug, Clone, Copy)]
pub(in super::super) struct Operator(pub(super) Grant);

impl FromRequestParts<Shared> for Operator {
    type Rejection = Refusal;

    async fn from_request_parts(parts: &mut Parts, shared: &Shared) -> Result<Self, Refusal> {
        let caller = Caller::of(parts);
        let grant = shared.gate.authorise(&caller, timers::now())?;
        // Every browser says where a change comes from. A cookie without that may be borrowed.
        if matches!(grant, Grant::Session(_)) && caller.origin == Origin::Unsaid {
            return Err(Refusal::OriginUnsaid);
        }
        if says_something(&parts.headers) && !is_json(&parts.headers) {
            return Err(Refusal::NotJson);
        }
        Ok(Self(grant))
    }
}

/// What was said, as JSON in the body. Take it after [`Operator`], so that nothing is read for
/// who has no right.
#[derive(Debug)]
pub(in super::super) struct Told<T>(pub(in super::super) T);

impl<T: DeserializeOwned, S: Send + Sync> FromRequest<S> for Told<T> {
    type Rejection = Refusal;

    async fn from_request(mut request: Request, state: &S) -> Result<Self, Refusal> {
        if !is_json(request.headers()) {
            return Err(Refusal::NotJson);
        }
        // Who says that it is too long need not send it.
        if length(request.headers()).is_some_and(|length| length > LARGEST as u64) {
            return Err(Refusal::TooLarge);
        }
        DefaultBodyLimit::max(LARGEST).apply(&mut request);
        let body = timers::within(ARRIVES_WITHIN, Bytes::from_request(request, state))
            .await
            .map_err(|_| Refusal::TooSlow)?
            .map_err(|error| match error.status() {
                StatusCode::PAYLOAD_TOO_LARGE => Refusal::TooLarge,
                _ => Refusal::NotUnderstood(error.body_text()),
            })?;
        // What is described are objects. A list of their values in the order of their keys would be taken, too.
        if body.trim_ascii_start().first() == Some(&b'[') {
            let text = "a list, but an object in braces is expected";
            return Err(Refusal::NotUnderstood(text.to_owned()));
        }
        serde_json::from_slice(&body)
            .map(Self)
            .map_err(|error| Refusal::NotUnderstood(error.to_string()))
    }
}

fn length(headers: &HeaderMap) -> Option<u64> {
    headers.get(CONTENT_LENGTH)?.to_str().ok()?.parse().ok()
}

/// Whether there is a body. An empty form has none, but a kind.
fn says_something(headers: &HeaderMap) -> bool {
    let length = headers.get(CONTENT_LENGTH);
    let body = headers.contains_key(TRANSFER_ENCODING) || length.is_some_and(|l| l != "0");
    body || headers.contains_key(CONTENT_TYPE)
}

fn is_json(headers: &HeaderMap) -> bool {
    let kind = headers
        .get(CONTENT_TYPE)
        .and_then(|kind| kind.to_str().ok());
    let essence = kind.and_then(|kind| kind.split(';').next());
    essence.is_some_and(|kind| kind.trim().eq_ignore_ascii_case("application/json"))
}

/// The answers of [`Operator`] and [`Told`], for the description of a route.
pub(in super::super) struct Refusals;

impl IntoResponses for Refusals {
    fn responses() -> BTreeMap<String, RefOr<response::Response>> {
        let texts = [
            ("400", "Not understood"),
            ("401", "Not signed in"),
            (
                "403",
                "Asked by a page from elsewhere, or not from this machine while no passphrase is set",
            ),
            ("408", "The body took too long to arrive"),
            ("413", "Longer than 64 KiB"),
            ("415", "Not JSON"),
            ("500", "It failed inside"),
        ];
        texts
            .into_iter()
            .map(|(status, text)| {
                let problem = ContentBuilder::new()
                    .schema(Some(Ref::from_schema_name("Problem")))
                    .build();
                let answer = ResponseBuilder::new()
                    .description(text)
                    .content("application/json", problem)
                    .build();
                (status.to_owned(), answer.into())
            })
            .collect()
    }
}
