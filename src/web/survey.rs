//! `/api/v1/survey`: which segments are dead, by lighting them in patterns while sensors or a person
//! look.
//!
//! Nothing is thought here: wishes go to the task that owns the survey, and what it says of it is read
//! from a watch channel.

use std::sync::Arc;

use axum::Json;
use axum::extract::State as Extract;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use serde::Deserialize;
use tokio::sync::{mpsc, oneshot, watch};
use utoipa::ToSchema;

use super::operator::extract::{Operator, Refusals, Told};
use super::problem::Problem;
use super::{NotDone, Shared, pattern, presence};
use crate::engine::survey::By;
use crate::engine::survey::about::About;
use crate::engine::survey::state::{SurveyOutcome, SurveyState};

/// Level of what is lit if nobody says: all for sensors, which see more of it; for eyes half.
const USUAL_SENSORS: u8 = 255;
const USUAL_EYES: u8 = 128;

/// A wish of a survey.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum SurveyWish {
    /// One is to begin.
    Begin {
        /// Who looks.
        by: By,
        /// What it is about.
        about: About,
        /// Whose going away ends it.
        owner: Option<u64>,
    },
    /// A person has looked and tapped these positions and segments, from 1.
    Seen {
        /// The question that this answers.
        number: u32,
        /// What does not look as it is drawn.
        tapped: Vec<(String, u32)>,
    },
    /// The last answer is taken back.
    Undo {
        /// The question that is open.
        number: u32,
    },
    /// It is to end.
    Stop,
}

/// A wish, and where its answer goes.
pub type SurveyOrder = (
    SurveyWish,
    oneshot::Sender<Result<Arc<SurveyState>, NotDone>>,
);

/// The survey, as far as it is not thought here.
#[derive(Debug, Clone)]
pub struct Surveys {
    /// The one that is under way, or what became of the last one.
    pub state: watch::Receiver<Arc<SurveyState>>,
    /// What the last one that ended has found, for who makes verdicts of it.
    pub outcome: watch::Receiver<Arc<SurveyOutcome>>,
    /// Where wishes go.
    pub wishes: mpsc::Sender<SurveyOrder>,
}

impl Surveys {
    /// Channels whose other ends are [`SurveyEnds`].
    pub fn channels() -> (Self, SurveyEnds) {
        let (told, state) = watch::channel(Arc::default());
        let (found, outcome) = watch::channel(Arc::default());
        let (wishes, wished) = mpsc::channel(8);
        let here = Self {
            state,
            outcome,
            wishes,
        };
        let ends = SurveyEnds {
            told,
            found,
            wished,
        };
        (here, ends)
    }

    async fn wish(&self, wish: SurveyWish) -> Result<Arc<SurveyState>, NotDone> {
        let (answer, answered) = oneshot::channel();
        self.wishes.try_send((wish, answer))?;
        answered.await.map_err(|_| NotDone::Ended)?
    }
}

/// The other ends of [`Surveys`], for the task that owns the survey.
#[derive(Debug)]
pub struct SurveyEnds {
    /// What people are told.
    pub told: watch::Sender<Arc<SurveyState>>,
    /// What was found.
    pub found: watch::Sender<Arc<SurveyOutcome>>,
    /// Wishes that wait.
    pub wished: mpsc::Receiver<SurveyOrder>,
}

/// Which survey is to begin.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct BeginSurvey {
    /// Who looks.
    by: By,
    /// Positions that it is about; all if left out. The others stay dark meanwhile.
    positions: Option<Vec<String>>,
    /// Level of what is lit, 1 to 255; 255 for sensors and 128 for eyes if left out.
    #[schema(minimum = 1, maximum = 255)]
    level: Option<u8>,
    /// Whether sensors are to find segments that draw too little as well as dead ones, which takes some
    /// 25 times as long; not if left out. Some are found on the way all the same.
    #[serde(default)]
    weak: bool,
    /// The id of a live connection (see `/api/v1/live`): the survey ends when that has been closed
    /// for three seconds. If left out it does not end with anybody.
    ends_with: Option<String>,
}

/// What a person saw.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct SeenSurvey {
    /// Number of the question that this answers.
    number: u32,
    /// Segments that do not look as they are drawn: lit ones that are dark, dark ones that give light.
    dark: Vec<TappedSegment>,
}

/// A segment that was tapped.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct TappedSegment {
    /// Where its panel lies.
    #[schema(example = "C4")]
    position: String,
    /// Counted from 1, in wiring order.
    segment: u32,
}

/// Which answer is to be taken back: the one before this question.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct UndoSurvey {
    /// Number of the question that is open.
    number: u32,
}

/// The survey that is under way, or what became of the last one.
#[utoipa::path(
    get,
    path = "/api/v1/survey",
    tag = "survey",
    responses((status = 200, description = "As far as it is", body = SurveyState))
)]
pub(super) async fn survey(Extract(shared): Extract<Shared>) -> Json<SurveyState> {
    let state = Arc::clone(&shared.source.survey.state.borrow());
    Json(SurveyState::clone(&state))
}

/// Begins a survey. The whole floor goes dark, then its segments light up in patterns, at most three
/// a second; all limits are kept. Tell whoever is on the floor first.
#[utoipa::path(
    post,
    path = "/api/v1/survey",
    tag = "survey",
    request_body = BeginSurvey,
    security(("session" = [])),
    responses(
        (status = 200, description = "It has begun", body = SurveyState),
        (status = 409, description = "No sensor is fit for it, something else lights the floor, or \
                                      the floor is only watched", body = Problem),
        (status = 422, description = "The floor has no such panel, or the level is 0", body = Problem),
        (status = 503, description = "Too many orders at once, or it is ending", body = Problem),
        Refusals
    )
)]
pub(super) async fn begin_survey(
    Extract(shared): Extract<Shared>,
    _: Operator,
    Told(wish): Told<BeginSurvey>,
) -> Response {
    let owner = match pattern::owner(&shared, wish.ends_with.as_deref()) {
        Ok(owner) => owner,
        Err(why) => return why.into_response(),
    };
    let usual = match wish.by {
        By::Sensors => USUAL_SENSORS,
        By::Eyes => USUAL_EYES,
    };
    let begin = SurveyWish::Begin {
        by: wish.by,
        about: About {
            positions: wish.positions,
            level: wish.level.unwrap_or(usual),
            weak: wish.weak,
        },
        owner,
    };
    let done = shared.source.survey.wish(begin).await;
    // It may have gone for good before there was anything that its going could end.
    if let (Some(id), Some(owner)) = (wish.ends_with.as_deref(), owner)
        && shared.presences.owner(id).is_none()
    {
        presence::gone(owner, &shared.source).await;
    }
    told(done)
}

/// Answers the question that a person is asked, and shows the next light.
#[utoipa::path(
    post,
    path = "/api/v1/survey/seen",
    tag = "survey",
    request_body = SeenSurvey,
    security(("session" = [])),
    responses(
        (status = 200, description = "It goes on", body = SurveyState),
        (status = 409, description = "That question is not open", body = Problem),
        (status = 422, description = "No such segment", body = Problem),
        (status = 503, description = "Too many orders at once, or it is ending", body = Problem),
        Refusals
    )
)]
pub(super) async fn seen_in_survey(
    Extract(shared): Extract<Shared>,
    _: Operator,
    Told(seen): Told<SeenSurvey>,
) -> Response {
    let tapped = seen.dark.into_iter().map(|one| (one.position, one.segment));
    let wish = SurveyWish::Seen {
        number: seen.number,
        tapped: tapped.collect(),
    };
    told(shared.source.survey.wish(wish).await)
}

/// Takes the last answer of a person back.
#[utoipa::path(
    post,
    path = "/api/v1/survey/undo",
    tag = "survey",
    request_body = UndoSurvey,
    security(("session" = [])),
    responses(
        (status = 200, description = "The question before is open again", body = SurveyState),
        (status = 409, description = "Nothing was answered yet", body = Problem),
        (status = 503, description = "Too many orders at once, or it is ending", body = Problem),
        Refusals
    )
)]
pub(super) async fn undo_in_survey(
    Extract(shared): Extract<Shared>,
    _: Operator,
    Told(undo): Told<UndoSurvey>,
) -> Response {
    let wish = SurveyWish::Undo {
        number: undo.number,
    };
    told(shared.source.survey.wish(wish).await)
}

/// Ends the survey that is under way; what it has found by then stands.
#[utoipa::path(
    delete,
    path = "/api/v1/survey",
    tag = "survey",
    security(("session" = [])),
    responses(
        (status = 200, description = "None is under way", body = SurveyState),
        (status = 503, description = "Too many orders at once, or it is ending", body = Problem),
        Refusals
    )
)]
pub(super) async fn stop_survey(Extract(shared): Extract<Shared>, _: Operator) -> Response {
    told(shared.source.survey.wish(SurveyWish::Stop).await)
}

fn told(done: Result<Arc<SurveyState>, NotDone>) -> Response {
    let why = match done {
        Ok(state) => return Json(SurveyState::clone(&state)).into_response(),
        Err(why) => why,
    };
    let unknown = ["no_such_panel", "no_such_segment", "too_dark"];
    let of_words = matches!(&why, NotDone::Refused(why) if unknown.contains(&why.code));
    why.told(if of_words {
        StatusCode::UNPROCESSABLE_ENTITY
    } else {
        StatusCode::CONFLICT
    })
}

#[cfg(test)]
mod tests;
