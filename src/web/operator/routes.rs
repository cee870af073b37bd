//! `/api/v1/session` and `/api/v1/passphrase`: signing in and out, and what it takes.

use std::sync::Arc;

use axum::Json;
use axum::extract::State as Extract;
use axum::http::request::Parts;
use axum::http::{HeaderName, StatusCode, header::SET_COOKIE};
use axum::response::{IntoResponse, Response};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::super::problem::Problem;
use super::super::{Shared, timers};
use super::caller::{COOKIE_NAME, Caller};
use super::extract::{Operator, Refusals, Told};
use super::passphrase::Passphrase;
use super::refusal::Refusal;
use super::sessions::{LASTS, Token};

/// What the one who asks may do.
#[derive(Debug, Serialize, ToSchema)]
#[expect(
    clippy::struct_excessive_bools,
    reason = "each answers another question of a page"
)]
pub(in super::super) struct SessionState {
    /// Whether changes are taken from here now.
    may_control: bool,
    /// Whether changes need a passphrase. If not, they are taken from this machine only.
    passphrase_set: bool,
    /// Whether the request comes from the machine that litfloor runs on.
    from_this_machine: bool,
    /// Whether this address is for guests, who may only look.
    guest: bool,
    /// Whether the connection is encrypted.
    encrypted: bool,
}

/// The operator's passphrase.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(in super::super) struct SignIn {
    passphrase: String,
}

/// A new passphrase for the operator.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(in super::super) struct NewPassphrase {
    /// At least 8 characters.
    #[schema(min_length = 8)]
    passphrase: String,
}

/// Scripts can't read it, and pages from elsewhere can't make a browser send it. One that came
/// `encrypted` never travels without.
fn cookie(token: &str, max_age_s: u64, encrypted: bool) -> [(HeaderName, String); 1] {
    let secure = if encrypted { "; Secure" } else { "" };
    let cookie = format!(
        "{COOKIE_NAME}={token}; Path=/; Max-Age={max_age_s}; HttpOnly; SameSite=Strict{secure}"
    );
    [(SET_COOKIE, cookie)]
}

fn signed_in(token: &Token, encrypted: bool) -> Response {
    let cookie = cookie(&token.to_string(), LASTS.as_secs(), encrypted);
    (StatusCode::NO_CONTENT, cookie).into_response()
}

/// Whether the one who asks may change something.
#[utoipa::path(
    get,
    path = "/api/v1/session",
    tag = "operator",
    responses((status = 200, description = "What may be done from here", body = SessionState))
)]
pub(in super::super) async fn session(
    Extract(shared): Extract<Shared>,
    parts: Parts,
) -> Json<SessionState> {
    let caller = Caller::of(&parts);
    Json(SessionState {
        may_control: shared.gate.authorise(&caller, timers::now()).is_ok(),
        passphrase_set: shared.gate.passphrase_set(),
        from_this_machine: caller.on_this_machine(),
        guest: caller.guest,
        encrypted: caller.encrypted,
    })
}

/// Signs in: the answer sets a cookie that lasts twelve hours.
///
/// After a wrong passphrase the next try from the same address is answered later and later.
#[utoipa::path(
    post,
    path = "/api/v1/session",
    tag = "operator",
    request_body = SignIn,
    responses(
        (status = 204, description = "Signed in", headers(("set-cookie" = String))),
        (status = 400, description = "Not understood", body = Problem),
        (status = 401, description = "Not the passphrase", body = Problem),
        (status = 403, description = "Asked by a page from elsewhere", body = Problem),
        (status = 408, description = "The body took too long to arrive", body = Problem),
        (status = 409, description = "No passphrase is set", body = Problem),
        (status = 413, description = "Longer than 64 KiB", body = Problem),
        (status = 415, description = "Not JSON", body = Problem),
        (status = 429, description = "Another try from there is waiting", body = Problem),
        (status = 500, description = "It failed inside", body = Problem)
    )
)]
pub(in super::super) async fn sign_in(
    Extract(shared): Extract<Shared>,
    parts: Parts,
    Told(said): Told<SignIn>,
) -> Result<Response, Refusal> {
    let caller = Caller::of(&parts);
    let encrypted = caller.encrypted;
    let token = shared.gate.sign_in(caller, said.passphrase).await?;
    Ok(signed_in(&token, encrypted))
}

/// Signs out.
#[utoipa::path(
    delete,
    path = "/api/v1/session",
    tag = "operator",
    responses(
        (status = 204, description = "Signed out, if it was not before",
            headers(("set-cookie" = String))),
        (status = 403, description = "Asked by a page from elsewhere", body = Problem)
    )
)]
pub(in super::super) async fn sign_out(
    Extract(shared): Extract<Shared>,
    parts: Parts,
) -> Result<Response, Refusal> {
    let caller = Caller::of(&parts);
    shared.gate.sign_out(&caller)?;
    let cookie = cookie("", 0, caller.encrypted);
    Ok((StatusCode::NO_CONTENT, cookie).into_response())
}

/// Sets the passphrase: the first one from this machine only, another one when signed in.
///
/// All sessions end; the answer signs in anew.
#[utoipa::path(
    put,
    path = "/api/v1/passphrase",
    tag = "operator",
    request_body = NewPassphrase,
    security(("session" = [])),
    responses(
        (status = 204, description = "Set, and signed in", headers(("set-cookie" = String))),
        (status = 409, description = "It was given when litfloor was started", body = Problem),
        (status = 422, description = "Too short", body = Problem),
        (status = 503, description = "It can't be kept", body = Problem),
        Refusals
    )
)]
pub(in super::super) async fn set_passphrase(
    Extract(shared): Extract<Shared>,
    operator: Operator,
    parts: Parts,
    Told(said): Told<NewPassphrase>,
) -> Result<Response, Refusal> {
    let new = Passphrase::new(said.passphrase)?;
    let gate = Arc::clone(&shared.gate);
    let encrypted = Caller::of(&parts).encrypted;
    Ok(signed_in(&gate.set(operator.0, new).await?, encrypted))
}
