//! Why a walk is not begun, changed or corrected.

use std::fmt;

use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use super::super::pattern::NotShown;
use super::super::problem::problem;
use crate::floor::Unamended;
use crate::stepping::{NotAnAnswer, OnlyWatched};

/// Why something is not done. Its text is for people.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub(super) enum Why {
    #[error("litfloor still thinks about the last change: wait a moment and try again")]
    Thinking,
    #[error(
        "there is a walk already, and its report would be lost: go on with it, end it, or say \
         that it is to begin again"
    )]
    UnderWay,
    #[error("no walk has begun: begin one first")]
    NoWalk,
    #[error(transparent)]
    OnlyWatched(#[from] OnlyWatched),
    #[error("at level 0 nothing lights: choose a level from 1 to 255")]
    TooDark,
    #[error(
        "that question has been answered already: look at the one that is open, and answer that"
    )]
    MovedOn,
    #[error("every question is answered: there is nothing to light")]
    Over,
    #[error(
        "the floor was replaced since the walk began: its report stands, and a further question \
         needs a new walk"
    )]
    FloorReplaced,
    #[error(transparent)]
    NotAnAnswer(#[from] NotAnAnswer),
    #[error("there is no answer to take back")]
    NothingToUndo,
    #[error(transparent)]
    NotShown(#[from] NotShown),
    #[error("nothing was found so far that the floor file should say otherwise")]
    NothingFound,
    #[error(transparent)]
    Unamended(#[from] Unamended),
    #[error("it failed inside: look at litfloor's log")]
    Failed,
}

/// What should never fail did.
pub(super) fn failed(error: &dyn fmt::Display) -> Why {
    tracing::error!(%error, "a walk failed");
    Why::Failed
}

impl IntoResponse for Why {
    fn into_response(self) -> Response {
        const TAKEN: StatusCode = StatusCode::CONFLICT;
        const WRONG: StatusCode = StatusCode::UNPROCESSABLE_ENTITY;
        let (status, error) = match self {
            Self::Thinking => (TAKEN, "thinking"),
            Self::UnderWay => (TAKEN, "walk_under_way"),
            Self::NoWalk => (TAKEN, "no_walk"),
            Self::MovedOn => (TAKEN, "question_moved_on"),
            Self::Over => (TAKEN, "walk_over"),
            Self::FloorReplaced => (TAKEN, "floor_replaced"),
            Self::OnlyWatched(_) => (WRONG, "only_watched"),
            Self::TooDark => (WRONG, "too_dark"),
            Self::NotAnAnswer(_) => (WRONG, "not_an_answer"),
            Self::NothingToUndo => (WRONG, "nothing_to_undo"),
            Self::NothingFound => (WRONG, "nothing_found"),
            Self::Unamended(_) => (WRONG, "unamended"),
            Self::NotShown(why) => return why.into_response(),
            Self::Failed => (StatusCode::INTERNAL_SERVER_ERROR, "internal"),
        };
        problem(status, error, self.to_string())
    }
}
