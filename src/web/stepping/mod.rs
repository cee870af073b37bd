//! The stepping mode over the API: one walk at a time, in memory, on the floor it was begun on.
//!
//! Only one change is made at a time ([`change`]): a walk may think for seconds, on a thread of
//! its own, and whoever taps meanwhile is told so. Looking never waits. The light of a question is
//! a pattern as any other, ordered when the question comes up; when the floor is replaced it is
//! withdrawn ([`follow`]), for nobody will answer that question any more.

use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use axum::Json;
use axum::response::{IntoResponse, Response};
use tokio::sync::Semaphore;

use super::pattern::{self, NotShown};
use super::{FloorView, Inner, Shared, Source};
use crate::engine::command::{Command, MOST_S};
use crate::engine::snapshot::{PatternState, State};
use crate::pattern::Start;
use crate::stepping::{Question, Report, Walk};

mod corrected;
pub(super) mod routes;
mod shown;
#[cfg(test)]
mod tests;
mod why;

use shown::Stepping;
use why::Why;

/// Where the one walk is kept.
#[derive(Debug)]
pub(super) struct Desk {
    /// Who has it may change the walk.
    turn: Arc<Semaphore>,
    /// Who has it may make a corrected file. Whoever waits for it holds no thread.
    correcting: Arc<Semaphore>,
    walk: Mutex<Option<Arc<Underway>>>,
}

impl Default for Desk {
    fn default() -> Self {
        Self {
            turn: Arc::new(Semaphore::new(1)),
            correcting: Arc::new(Semaphore::new(1)),
            walk: Mutex::default(),
        }
    }
}

impl Desk {
    fn walk(&self) -> Option<Arc<Underway>> {
        let walk = self.walk.lock();
        walk.unwrap_or_else(PoisonError::into_inner).clone()
    }

    fn put(&self, walk: Option<Underway>) {
        let mut place = self.walk.lock().unwrap_or_else(PoisonError::into_inner);
        *place = walk.map(Arc::new);
    }

    fn stepping(&self, source: &Source) -> Stepping {
        let walk = self.walk();
        Stepping::of(walk.map(|walk| walk.shown(source)))
    }
}

/// A walk, and its light.
#[derive(Debug, Clone)]
struct Underway {
    /// The floor that it goes across.
    view: Arc<FloorView>,
    found: Arc<Found>,
    /// Level of its lights.
    level: u8,
    /// The id of the live connection that its lights end with.
    ends_with: Option<String>,
    /// The last light that was ordered and shown.
    light: Option<Light>,
}

/// A walk as far as it is, and what it says. It never changes: an answer makes another.
#[derive(Debug)]
struct Found {
    walk: Walk,
    question: Option<Question>,
    report: Report,
    /// Made when someone asks for it.
    corrected: OnceLock<Result<corrected::File, Why>>,
}

impl Found {
    fn of(walk: Walk) -> Self {
        Self {
            question: walk.question(),
            report: walk.report(),
            walk,
            corrected: OnceLock::new(),
        }
    }

    /// The number of the open question.
    fn number(&self) -> usize {
        self.walk.progress().taps
    }
}

/// A light that was shown.
#[derive(Debug, Clone)]
struct Light {
    /// The order for it.
    order: Start,
    /// What was shown then.
    told: Option<PatternState>,
    /// The newest state when that was told. It may be older than that.
    before: Arc<State>,
}

impl Light {
    /// Whether it is still shown.
    fn is_on(&self, source: &Source) -> bool {
        let newest = source.state.borrow();
        let Some(told) = &self.told else { return false };
        Arc::ptr_eq(&newest, &self.before)
            || newest.pattern.as_ref().is_some_and(|shown| {
                (&shown.kind, &shown.what) == (&told.kind, &told.what)
                    && shown.covers_all == told.covers_all
            })
    }
}

impl Underway {
    /// Whether another floor is in the place of the one that it goes across.
    fn is_outdated(&self, source: &Source) -> bool {
        source.floor.borrow().document.revision != self.view.document.revision
    }

    /// The light of the open question; whom it belongs to is left open.
    fn wanted(&self) -> Option<Start> {
        let question = self.found.question.as_ref()?;
        Some(Start {
            level: self.level,
            lasts_s: MOST_S,
            ..question.start.clone()
        })
    }

    /// Whether the light of the open question is shown just now.
    fn is_lit(&self, source: &Source) -> bool {
        let ordered = |light: &&Light| {
            let order = Start {
                owner: None,
                ..light.order.clone()
            };
            self.wanted() == Some(order)
        };
        let light = self.light.as_ref().filter(ordered);
        light.is_some_and(|light| light.is_on(source))
    }

    /// Shows the light of the open question, or ends the last one when there is none.
    async fn relight(&mut self, shared: &Inner) -> Result<(), NotShown> {
        let Some(wanted) = self.wanted() else {
            self.darken(&shared.source).await;
            return Ok(());
        };
        let ends_with = self.ends_with.as_deref();
        let owner = pattern::owner(shared, ends_with)?;
        let order = Start { owner, ..wanted };
        let told = pattern::show(shared, order.clone(), ends_with).await?;
        self.light = Some(Light {
            order,
            told,
            before: Arc::clone(&shared.source.state.borrow()),
        });
        Ok(())
    }

    /// Ends its light, unless another pattern is shown by now.
    async fn darken(&mut self, source: &Source) {
        if let Some(light) = self.light.take() {
            source.surely(&Command::Withdraw(light.order)).await;
        }
    }
}

/// Ends the light of a walk whenever another floor takes the place of the one that it goes across.
/// Never ends: without floors to come there is nothing to follow.
pub(super) async fn follow(shared: Shared) {
    let mut floor = shared.source.floor.clone();
    while floor.changed().await.is_ok() {
        // A change that is being made may still light something: it waits for that.
        let Ok(_turn) = shared.stepping.turn.acquire().await else {
            break;
        };
        let Some(walk) = shared.stepping.walk() else {
            continue;
        };
        if walk.light.is_some() && walk.is_outdated(&shared.source) {
            let mut walk = Underway::clone(&walk);
            walk.darken(&shared.source).await;
            shared.stepping.put(Some(walk));
        }
    }
    std::future::pending::<()>().await;
}

/// Makes a change of the walk, if nobody else is about to, and tells what there is then. It is
/// made to its end even if who asked for it goes away meanwhile.
async fn change<F>(shared: Shared, work: impl FnOnce(Shared) -> F) -> Response
where
    F: Future<Output = Result<Option<Underway>, Why>> + Send + 'static,
{
    let Ok(turn) = Arc::clone(&shared.stepping.turn).try_acquire_owned() else {
        return Why::Thinking.into_response();
    };
    let work = work(Arc::clone(&shared));
    let made = tokio::spawn(async move {
        let made = work.await;
        let answer = made.map(|walk| {
            shared.stepping.put(walk);
            Json(shared.stepping.stepping(&shared.source))
        });
        drop(turn);
        answer
    });
    match made.await {
        Ok(answer) => answer.into_response(),
        Err(error) => why::failed(&error).into_response(),
    }
}

/// Thinks off the threads that serve.
async fn think<T: Send + 'static>(
    work: impl FnOnce() -> Result<T, Why> + Send + 'static,
) -> Result<T, Why> {
    let thought = tokio::task::spawn_blocking(work).await;
    thought.unwrap_or_else(|error| Err(why::failed(&error)))
}
