//! Why something is not done, and what to do about it.

use std::fmt;

use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use super::super::problem::problem;
use super::passphrase::TooShort;

/// Why something is not done. Its text is for people.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub(in super::super) enum Refusal {
    #[error("changes are for pages of this daemon only: open its own address and try there")]
    ForeignOrigin,
    #[error(
        "a change with a session must say where it comes from: send the header Origin, with \
         http:// (https:// where that is spoken) and what is in Host"
    )]
    OriginUnsaid,
    #[error(
        "without a passphrase, changes are taken only under a numeric address: open \
         http://127.0.0.1 with this port instead, or set a passphrase there"
    )]
    ForeignHost,
    #[error(
        "no passphrase is set, so changes are taken only from the machine that litfloor runs on: \
         open the dashboard there and set a passphrase"
    )]
    NotThisMachine,
    #[error("this address is for guests: from here the floor can only be looked at")]
    GuestsLook,
    #[error("sign in with the operator's passphrase first")]
    NotSignedIn,
    /// Why is only for who is on this machine: it names a path.
    #[error(
        "nobody can change anything, for the passphrase can't be read{}: mend {}, or remove it so \
         that a new passphrase can be set from this machine, and start litfloor again",
        .0.as_ref().map_or_else(String::new, |why| format!(" ({why})")),
        .0.as_ref().map_or("the file on the machine that litfloor runs on", |_| "that file")
    )]
    Locked(Option<String>),
    #[error(
        "no passphrase is set: changes are taken from the machine that litfloor runs on, without \
         signing in"
    )]
    NoPassphrase,
    #[error("this is not the operator's passphrase")]
    WrongPassphrase,
    #[error("another passphrase is being tried from there: wait for its answer and try again")]
    TooManyTries,
    #[error(
        "the passphrase was given by LITFLOOR_PASSPHRASE: change it there and start litfloor again"
    )]
    Given,
    #[error(transparent)]
    TooShort(#[from] TooShort),
    #[error(
        "the passphrase was not set, for it can't be kept: {0}. Mend that, or start litfloor with \
         another --state directory"
    )]
    NotKept(String),
    #[error("what is changed must come as JSON: send the header Content-Type: application/json")]
    NotJson,
    #[error("this is not understood: {0}")]
    NotUnderstood(String),
    #[error("this is longer than 64 KiB")]
    TooLarge,
    #[error("this took too long to arrive: try again")]
    TooSlow,
    #[error("it failed inside: look at litfloor's log")]
    Failed,
}

impl Refusal {
    /// What should never fail did.
    pub(super) fn failed(error: &dyn fmt::Display) -> Self {
        tracing::error!(%error, "a passphrase or a session can't be dealt with");
        Self::Failed
    }

    const fn kind(&self) -> (StatusCode, &'static str) {
        match self {
            Self::ForeignOrigin => (StatusCode::FORBIDDEN, "foreign_origin"),
            Self::OriginUnsaid => (StatusCode::FORBIDDEN, "origin_unsaid"),
            Self::ForeignHost => (StatusCode::FORBIDDEN, "foreign_host"),
            Self::NotThisMachine => (StatusCode::FORBIDDEN, "not_this_machine"),
            Self::GuestsLook => (StatusCode::FORBIDDEN, "guests_only_look"),
            Self::NotSignedIn => (StatusCode::UNAUTHORIZED, "not_signed_in"),
            Self::Locked(_) => (StatusCode::FORBIDDEN, "locked"),
            Self::NoPassphrase => (StatusCode::CONFLICT, "no_passphrase"),
            Self::WrongPassphrase => (StatusCode::UNAUTHORIZED, "wrong_passphrase"),
            Self::TooManyTries => (StatusCode::TOO_MANY_REQUESTS, "too_many_tries"),
            Self::Given => (StatusCode::CONFLICT, "passphrase_given"),
            Self::TooShort(_) => (StatusCode::UNPROCESSABLE_ENTITY, "too_short"),
            Self::NotKept(_) => (StatusCode::SERVICE_UNAVAILABLE, "not_kept"),
            Self::NotJson => (StatusCode::UNSUPPORTED_MEDIA_TYPE, "not_json"),
            Self::NotUnderstood(_) => (StatusCode::BAD_REQUEST, "not_understood"),
            Self::TooLarge => (StatusCode::PAYLOAD_TOO_LARGE, "too_large"),
            Self::TooSlow => (StatusCode::REQUEST_TIMEOUT, "too_slow"),
            Self::Failed => (StatusCode::INTERNAL_SERVER_ERROR, "internal"),
        }
    }
}

impl IntoResponse for Refusal {
    fn into_response(self) -> Response {
        let (status, error) = self.kind();
        problem(status, error, self.to_string())
    }
}
