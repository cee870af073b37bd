//! Weighs the show that runs: brings what leaves, what sensors say and what surveys found to the one that
//! thinks of it, on a thread that may take its time, and tells what is new.

use std::sync::Arc;

use tokio::sync::{mpsc, watch};
use tokio::task::{JoinHandle, spawn_blocking};

use crate::engine::look::Look;
use crate::engine::showing::{Said, Showing};
use crate::engine::survey::state::SurveyOutcome;
use crate::engine::survey::{Held, News, What};
use crate::engine::switches::Presses;
use crate::net::clock::Clock;
use crate::units::Time;
use crate::web::{FloorView, Source};

/// So often what the show says is asked.
const EVERY_S: f64 = 1.0;

/// What waits while it is thought; looks that come on top of that wait in their channel.
const MOST_WAITING: usize = 64;

/// What somebody says that changes what the show may go by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Word {
    /// That panel, or its segment, is fine: both are indices.
    Fine(usize, Option<usize>),
    /// What the show said is taken back.
    TakenBack,
}

/// What is heard of the show.
#[derive(Debug)]
pub(super) struct Heard {
    /// What leaves, with what was read.
    pub(super) looks: mpsc::Receiver<Look>,
    /// What is new of a survey.
    pub(super) survey: watch::Receiver<Option<Arc<News>>>,
    pub(super) presses: watch::Receiver<Arc<Presses>>,
    pub(super) words: mpsc::Receiver<Word>,
}

/// Something that it is told.
#[derive(Debug)]
enum Input {
    Look(Look),
    Begun,
    Held(Arc<Held>, Time),
    Surveyed(Arc<SurveyOutcome>),
    Word(Word),
}

/// What is thought with.
#[derive(Debug, Default)]
struct Mine {
    showing: Option<Showing>,
    asked: Option<Time>,
}

/// Follows the show until the data plane ends or nobody wants to hear of it any more.
pub(super) async fn follow(source: Source, heard: Heard, said: mpsc::Sender<Said>, clock: Clock) {
    let Heard {
        mut looks,
        mut survey,
        presses,
        mut words,
    } = heard;
    let mut outcomes = source.survey.outcome.clone();
    let mut mine = Some(Mine::default());
    let mut thinking: Option<JoinHandle<(Mine, Option<Said>)>> = None;
    let mut waiting: Vec<Input> = Vec::new();
    loop {
        if !waiting.is_empty()
            && let Some(own) = mine.take()
        {
            let inputs = std::mem::take(&mut waiting);
            let view = Arc::clone(&source.floor.borrow());
            let presses = Arc::clone(&presses.borrow());
            let now = clock.now();
            thinking = Some(spawn_blocking(move || {
                think(own, inputs, &view, &presses, now)
            }));
        }
        // What a survey says comes in its order, and before the looks of after it.
        tokio::select! {
            biased;
            changed = survey.changed() => {
                if changed.is_err() {
                    return;
                }
                let newest = survey.borrow_and_update().clone();
                match newest.as_ref().map(|news| &news.what) {
                    Some(What::Begun(_)) => waiting.push(Input::Begun),
                    Some(What::Held(held)) => {
                        waiting.push(Input::Held(Arc::clone(held), clock.now()));
                    }
                    Some(What::Ended(_)) | None => {}
                }
            }
            changed = outcomes.changed() => {
                if changed.is_err() {
                    return;
                }
                waiting.push(Input::Surveyed(Arc::clone(&outcomes.borrow_and_update())));
            }
            Some(word) = words.recv() => waiting.push(Input::Word(word)),
            thought = thought(&mut thinking), if thinking.is_some() => {
                thinking = None;
                let (own, news) = thought.unwrap_or_else(|| (Mine::default(), None));
                mine = Some(own);
                if let Some(news) = news
                    && said.send(news).await.is_err()
                {
                    return;
                }
            }
            look = looks.recv(), if waiting.len() < MOST_WAITING => match look {
                Some(look) => waiting.push(Input::Look(look)),
                None => return,
            },
        }
    }
}

/// What was thought; nothing if that failed, and then all that was known is gone.
async fn thought(
    thinking: &mut Option<JoinHandle<(Mine, Option<Said>)>>,
) -> Option<(Mine, Option<Said>)> {
    let thought = thinking.as_mut()?.await;
    thought
        .inspect_err(|error| tracing::error!(%error, "the show could not be weighed"))
        .ok()
}

fn think(
    mine: Mine,
    inputs: Vec<Input>,
    view: &FloorView,
    presses: &Presses,
    now: Time,
) -> (Mine, Option<Said>) {
    let revision = view.document.revision;
    let (floor, tables) = (Arc::clone(&view.floor), Arc::clone(&view.tables));
    let mut showing = match mine.showing {
        Some(one) if one.revision() == revision => one,
        Some(before) => before.replace(floor, tables, revision, now),
        None => Showing::new(floor, tables, revision),
    };
    for input in inputs {
        match input {
            Input::Look(look) => showing.look(&look),
            Input::Begun => showing.survey_begins(),
            Input::Held(held, at) => showing.held(held, at),
            Input::Surveyed(outcome) => showing.surveyed(&outcome, now),
            Input::Word(Word::Fine(panel, segment)) => showing.said_fine(panel, segment),
            Input::Word(Word::TakenBack) => showing.taken_back(),
        }
    }
    if presses.revision == revision {
        for press in &presses.latest {
            showing.pressed(press);
        }
    }
    let due = mine.asked.is_none_or(|asked| now.s_since(asked) >= EVERY_S);
    let said = if due { showing.step(now) } else { None };
    let asked = if due { Some(now) } else { mine.asked };
    let showing = Some(showing);
    (Mine { showing, asked }, said)
}
