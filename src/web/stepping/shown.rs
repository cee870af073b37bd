//! A walk as the API shows it.

use serde::Serialize;
use utoipa::ToSchema;

use super::super::Source;
use super::Underway;
use crate::pattern::Light;
use crate::stepping::{Ask, Drawing, Progress, Question, Report};

/// Every colour that can be tapped.
const COLOURS: [Light; 7] = [
    Light::Red,
    Light::Green,
    Light::Blue,
    Light::Yellow,
    Light::Cyan,
    Light::Magenta,
    Light::White,
];

/// The walk, if there is one.
#[derive(Debug, Serialize, ToSchema)]
pub(super) struct Stepping {
    /// The walk; nothing if there is none.
    #[schema(required)]
    walk: Option<SteppingWalk>,
}

impl Stepping {
    pub(super) const fn of(walk: Option<SteppingWalk>) -> Self {
        Self { walk }
    }
}

/// A walk across a floor.
#[derive(Debug, Serialize, ToSchema)]
pub(super) struct SteppingWalk {
    /// Revision of the floor that it was begun on.
    revision: u32,
    /// Whether the floor was replaced since: the report stands, and there is no further question.
    outdated: bool,
    /// The open question; nothing when all is answered.
    #[schema(required)]
    question: Option<SteppingQuestion>,
    /// Whether the light of that question is shown just now. If not, it was ended, or another
    /// pattern was started.
    lit: bool,
    /// The colours that can be tapped, where a colour is asked for.
    colours: Vec<Light>,
    /// Answers so far: each can be taken back.
    answers: usize,
    /// How far it is.
    progress: Progress,
    /// What was found so far.
    report: Report,
}

/// What is asked.
#[derive(Debug, Serialize, ToSchema)]
pub(super) struct SteppingQuestion {
    /// Answers that were given before it. An answer has to name it.
    number: usize,
    /// How it is answered.
    ask: Ask,
    /// The question, for people.
    text: String,
    /// What the floor may look like, the likeliest first; twelve at most. None where something
    /// else is asked, and where all is expected to be dark.
    drawings: Vec<Drawing>,
    /// The position where light was, to show it large; where a pixel is to be tapped.
    #[schema(required)]
    near: Option<String>,
}

impl From<Question> for SteppingQuestion {
    fn from(question: Question) -> Self {
        Self {
            number: question.number,
            ask: question.ask,
            text: question.text,
            drawings: question.drawings,
            near: question.near,
        }
    }
}

impl Underway {
    /// As the API shows it.
    pub(super) fn shown(&self, source: &Source) -> SteppingWalk {
        let outdated = self.is_outdated(source);
        let question = self.found.question.clone().filter(|_| !outdated);
        let asks_colour = question.as_ref().is_some_and(|q| q.ask == Ask::Colour);
        SteppingWalk {
            revision: self.view.document.revision,
            outdated,
            lit: question.is_some() && self.is_lit(source),
            question: question.map(Into::into),
            colours: if asks_colour {
                COLOURS.to_vec()
            } else {
                Vec::new()
            },
            answers: self.found.number(),
            progress: self.found.walk.progress(),
            report: self.found.report.clone(),
        }
    }
}
