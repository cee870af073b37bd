//! What the engine is told for a survey, and what it says of it.

use std::sync::Arc;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::brief::Brief;
use crate::pattern::Woven;

/// Who looks.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum By {
    /// The floor's sensors of current.
    #[default]
    Sensors,
    /// A person.
    Eyes,
}

/// The wish for a survey.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Wish {
    /// Who looks.
    pub by: By,
    /// Whose going away ends it.
    pub owner: Option<u64>,
}

/// A light that is to be shown next.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Light {
    /// Of which survey.
    pub run: u32,
    /// Counted up from one light to the next.
    pub number: u32,
    /// What is lit.
    pub woven: Woven,
    /// How long it is held once it is surely on show; nothing: until the next.
    pub hold_ms: Option<u64>,
}

/// What one sensor said while a light was surely on show.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeenReading {
    /// Index into the floor's sensors.
    pub sensor: usize,
    /// In amperes.
    pub value_a: f64,
    /// When it came, in seconds after the light was surely on show, or was ordered.
    pub after_s: f64,
    /// Whether the sensor looks frozen: it is, or nothing flows that could change.
    pub frozen: bool,
}

/// What was seen of one light.
#[derive(Debug, Clone, PartialEq)]
pub struct Held {
    /// Which light.
    pub number: u32,
    /// What was sent all that time, 512 slots for each universe that leaves.
    pub slots: Vec<u8>,
    /// In the order in which they came.
    pub readings: Vec<SeenReading>,
    /// What came in the first seconds after this light was ordered, and how long after that: a sensor that
    /// tells late still speaks of the light before. Nothing if that one changed after it was held.
    pub late: Vec<SeenReading>,
    /// How long it was surely on show.
    pub held_s: f64,
    /// Seconds since the survey began.
    pub spent_s: f64,
}

/// Why a survey ended before it was through.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ending {
    /// Somebody stopped it.
    Stopped,
    /// Whoever began it has gone away.
    StarterGone,
    /// Another light was ordered.
    OtherLight,
    /// The floor was replaced.
    Replaced,
    /// Nothing came for too long: no answer, or no next light.
    Forgotten,
    /// Frames don't surely arrive, or limits change all the time.
    Unsteady,
    /// A node fell silent.
    NodeSilent,
}

impl Ending {
    /// For people.
    pub const fn text(self) -> &'static str {
        match self {
            Self::Stopped => "The survey was stopped.",
            Self::StarterGone => {
                "The survey ended because the page that began it was closed. Begin it again and \
                 leave the page open."
            }
            Self::OtherLight => "The survey ended because another light was ordered meanwhile.",
            Self::Replaced => {
                "The survey ended because the floor file was read again. Begin it again."
            }
            Self::Forgotten => "The survey ended because nobody answered for a quarter of an hour.",
            Self::Unsteady => {
                "The survey ended because its light could not be held still for 20 s: limits \
                 change all the time, or syncs of the console are missing. Look at the notices, \
                 then begin it again."
            }
            Self::NodeSilent => {
                "The survey ended because a node fell silent: nobody knows what it shows. Look at \
                 the nodes, then begin it again."
            }
        }
    }
}

/// What is new of a survey.
#[derive(Debug, Clone, PartialEq)]
pub struct News {
    /// Of which survey, counted from 1.
    pub run: u32,
    /// What.
    pub what: What,
}

/// What is new of a survey.
#[derive(Debug, Clone, PartialEq)]
pub enum What {
    /// It has begun; the floor is dark and waits for the first light.
    Begun(Arc<Brief>),
    /// A light was held for as long as was asked.
    Held(Arc<Held>),
    /// It has ended, and the console's picture shows again.
    Ended(Ending),
}
