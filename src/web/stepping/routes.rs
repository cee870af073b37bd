//! `/api/v1/stepping`: what can be asked and told of a walk.

use std::sync::Arc;

use axum::Json;
use axum::extract::State as Extract;
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};
use serde::Deserialize;
use utoipa::ToSchema;

use super::super::operator::extract::{Operator, Refusals, Told};
use super::super::problem::Problem;
use super::super::{Shared, pattern};
use super::shown::Stepping;
use super::{Found, Underway, Why, change, corrected, think};
use crate::pattern::{Start, TestPattern};
use crate::stepping::{Answer, Walk};

/// How a walk is to begin.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(in super::super) struct BeginWalk {
    /// Level of its lights, 1 to 255; 128 if left out.
    #[schema(minimum = 1, maximum = 255)]
    level: Option<u8>,
    /// The id of a live connection (see `/api/v1/live`): its lights end when that has been closed
    /// for three seconds. The walk does not.
    ends_with: Option<String>,
    /// Whether it may take the place of another, whose report is lost then.
    #[serde(default)]
    again: bool,
}

/// An answer to the open question.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(in super::super) struct GiveAnswer {
    /// Number of the question that it answers.
    number: usize,
    /// What was tapped.
    answer: Answer,
}

/// Which answer is to be taken back: the one before this question.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(in super::super) struct TakeBack {
    /// Number of the open question, or of answers when there is none.
    number: usize,
}

/// Whom the light is to end with.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(in super::super) struct ShowLight {
    /// The id of a live connection (see `/api/v1/live`): this light and those that follow end when
    /// that has been closed for three seconds. If left out they do not end with anybody.
    ends_with: Option<String>,
}

/// The walk: its open question and what was found so far.
#[utoipa::path(
    get,
    path = "/api/v1/stepping",
    tag = "stepping",
    responses((status = 200, description = "The walk, if there is one", body = Stepping))
)]
pub(in super::super) async fn look(Extract(shared): Extract<Shared>) -> Response {
    Json(shared.stepping.stepping(&shared.source)).into_response()
}

/// Begins a walk and shows its first light.
#[utoipa::path(
    post,
    path = "/api/v1/stepping",
    tag = "stepping",
    request_body = BeginWalk,
    security(("session" = [])),
    responses(
        (status = 200, description = "It has begun", body = Stepping),
        (status = 409, description = "There is one already, or another change is being made",
         body = Problem),
        (status = 422, description = "Nothing can be lit so on this floor", body = Problem),
        Refusals
    )
)]
pub(in super::super) async fn begin(
    Extract(shared): Extract<Shared>,
    _: Operator,
    Told(wish): Told<BeginWalk>,
) -> Response {
    change(shared, async move |shared: Shared| {
        let before = shared.stepping.walk();
        if before.is_some() && !wish.again {
            return Err(Why::UnderWay);
        }
        let level = wish.level.unwrap_or(Start::new(TestPattern::All).level);
        if level == 0 {
            return Err(Why::TooDark);
        }
        pattern::owner(&shared, wish.ends_with.as_deref())?;
        let view = Arc::clone(&shared.source.floor.borrow());
        let plan = Arc::clone(&view.floor);
        let found = think(move || Ok(Found::of(Walk::new(plan.as_ref().clone())?))).await?;
        let walk = Underway {
            view,
            found: Arc::new(found),
            level,
            ends_with: wish.ends_with,
            // It is ended, or replaced by the next.
            light: before.and_then(|before| before.light.clone()),
        };
        Ok(Some(lit(walk, &shared).await))
    })
    .await
}

/// Answers the open question, and shows the light of the next.
#[utoipa::path(
    post,
    path = "/api/v1/stepping/answer",
    tag = "stepping",
    request_body = GiveAnswer,
    security(("session" = [])),
    responses(
        (status = 200, description = "It is answered", body = Stepping),
        (status = 409, description = "There is no walk, that question is not open, the floor was \
                                      replaced, or another change is being made", body = Problem),
        (status = 422, description = "That can't be meant", body = Problem),
        Refusals
    )
)]
pub(in super::super) async fn answer(
    Extract(shared): Extract<Shared>,
    _: Operator,
    Told(GiveAnswer { number, answer }): Told<GiveAnswer>,
) -> Response {
    let step = |walk: &mut Walk| Ok(walk.answer(answer)?);
    change(shared, |shared| go(shared, number, step)).await
}

/// Takes the last answer back, and shows that question's light again.
#[utoipa::path(
    post,
    path = "/api/v1/stepping/undo",
    tag = "stepping",
    request_body = TakeBack,
    security(("session" = [])),
    responses(
        (status = 200, description = "It is taken back", body = Stepping),
        (status = 409, description = "There is no walk, that question is not open, the floor was \
                                      replaced, or another change is being made", body = Problem),
        (status = 422, description = "There is none", body = Problem),
        Refusals
    )
)]
pub(in super::super) async fn undo(
    Extract(shared): Extract<Shared>,
    _: Operator,
    Told(TakeBack { number }): Told<TakeBack>,
) -> Response {
    let step = |walk: &mut Walk| walk.undo().then_some(()).ok_or(Why::NothingToUndo);
    change(shared, move |shared| go(shared, number, step)).await
}

/// Shows the light of the open question again.
#[utoipa::path(
    post,
    path = "/api/v1/stepping/light",
    tag = "stepping",
    request_body = ShowLight,
    security(("session" = [])),
    responses(
        (status = 200, description = "It is shown", body = Stepping),
        (status = 409, description = "There is no walk or no open question, the floor was \
                                      replaced, or another change is being made", body = Problem),
        (status = 422, description = "It can't be shown", body = Problem),
        (status = 503, description = "Too many orders at once, or it is ending", body = Problem),
        Refusals
    )
)]
pub(in super::super) async fn light(
    Extract(shared): Extract<Shared>,
    _: Operator,
    Told(wish): Told<ShowLight>,
) -> Response {
    change(shared, async move |shared: Shared| {
        let mut walk = current(&shared)?;
        if walk.found.question.is_none() {
            return Err(Why::Over);
        }
        walk.ends_with = wish.ends_with;
        walk.relight(&shared).await?;
        Ok(Some(walk))
    })
    .await
}

/// Ends the walk and its light; its report is lost.
#[utoipa::path(
    delete,
    path = "/api/v1/stepping",
    tag = "stepping",
    security(("session" = [])),
    responses(
        (status = 200, description = "There is none", body = Stepping),
        (status = 409, description = "Another change is being made", body = Problem),
        Refusals
    )
)]
pub(in super::super) async fn end(Extract(shared): Extract<Shared>, _: Operator) -> Response {
    change(shared, async move |shared: Shared| {
        if let Some(walk) = shared.stepping.walk() {
            Underway::clone(&walk).darken(&shared.source).await;
        }
        Ok(None)
    })
    .await
}

/// The floor file as it should be by what was found so far, for review.
#[utoipa::path(
    get,
    path = "/api/v1/stepping/corrected",
    tag = "stepping",
    responses(
        (status = 200, description = "The corrected file", body = corrected::File),
        (status = 409, description = "There is no walk", body = Problem),
        (status = 422, description = "There is nothing to correct, or a floor file can't say it",
         body = Problem)
    )
)]
pub(in super::super) async fn corrected(Extract(shared): Extract<Shared>) -> Response {
    corrected::file(&shared).await.map(Json).into_response()
}

/// The same as a file to keep.
#[utoipa::path(
    get,
    path = "/api/v1/stepping/corrected.toml",
    tag = "stepping",
    responses(
        (status = 200, description = "The corrected file", body = String,
         content_type = "application/toml"),
        (status = 409, description = "There is no walk", body = Problem),
        (status = 422, description = "There is nothing to correct, or a floor file can't say it",
         body = Problem)
    )
)]
pub(in super::super) async fn corrected_toml(Extract(shared): Extract<Shared>) -> Response {
    let file = match corrected::file(&shared).await {
        Ok(file) => file,
        Err(why) => return why.into_response(),
    };
    let headers = [
        (CONTENT_TYPE, "application/toml; charset=utf-8".to_owned()),
        (
            CONTENT_DISPOSITION,
            format!("attachment; filename=\"{}\"", file.own_name()),
        ),
    ];
    (headers, file.text).into_response()
}

/// The walk, if it can still go on.
fn current(shared: &Shared) -> Result<Underway, Why> {
    let walk = shared.stepping.walk().ok_or(Why::NoWalk)?;
    if walk.is_outdated(&shared.source) {
        return Err(Why::FloorReplaced);
    }
    Ok(Underway::clone(&walk))
}

/// Goes from the question with that number to another.
async fn go(
    shared: Shared,
    number: usize,
    step: impl FnOnce(&mut Walk) -> Result<(), Why> + Send + 'static,
) -> Result<Option<Underway>, Why> {
    let mut walk = current(&shared)?;
    if number != walk.found.number() {
        return Err(Why::MovedOn);
    }
    let found = Arc::clone(&walk.found);
    let next = think(move || {
        let mut next = found.walk.clone();
        step(&mut next)?;
        Ok(Found::of(next))
    });
    walk.found = Arc::new(next.await?);
    Ok(Some(lit(walk, &shared).await))
}

/// The walk with its light shown. What was answered counts even if that fails, or if the floor was
/// replaced while it thought: then there is nothing to light. The walk says so.
pub(super) async fn lit(mut walk: Underway, shared: &Shared) -> Underway {
    if walk.is_outdated(&shared.source) {
        walk.darken(&shared.source).await;
    } else if let Err(why) = walk.relight(shared).await {
        tracing::warn!(%why, "the light of a question is not shown");
    }
    walk
}
