//! What a person is asked, and what can be answered. One answer is one tap.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::wired::{Sight, light};
use crate::floor::Floor;
use crate::pattern::{Light, Start};

/// How a question is answered.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Ask {
    /// Tap the drawing that looks like the floor, or else the panel where most of the light is.
    Look,
    /// Tap the pixel that lights. The page shows the panel where light was last, and its
    /// neighbours, large enough for a finger.
    Tap,
    /// Tap the colour that most of the light has.
    Colour,
}

/// What lights now, and what is asked about it.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Question {
    /// Answers that were given before it.
    pub number: usize,
    /// What the daemon is to show meanwhile.
    pub start: Start,
    /// How it is answered.
    pub ask: Ask,
    /// The question, for people.
    pub text: String,
    /// What it may look like, the likeliest first; twelve at most. None with other asks, and where
    /// all is expected to be dark.
    pub drawings: Vec<Drawing>,
    /// The position where light was, to show it large; with [`Ask::Tap`] only.
    pub near: Option<String>,
    /// How far the walk is.
    pub progress: Progress,
}

/// How far a walk is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
pub struct Progress {
    /// Panels that are done.
    pub done: usize,
    /// Panels of the floor.
    pub panels: usize,
    /// Answers so far.
    pub taps: usize,
}

/// What a floor looks like: everything that lights.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Drawing {
    /// Pixels that light; all others are dark.
    pub lights: Vec<DrawnPixel>,
}

/// A pixel that lights.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct DrawnPixel {
    /// The position where it is.
    #[schema(example = "C4")]
    pub position: String,
    /// From the left edge of the floor.
    pub x_mm: f64,
    /// From the upper edge of the floor.
    pub y_mm: f64,
    /// Its colour.
    pub colour: Light,
}

/// What was tapped.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
pub enum Answer {
    /// One of the drawings, counted from 0.
    Drawing {
        /// Which.
        drawing: u32,
    },
    /// It looks like none of the drawings; most of the light is in this position.
    Panel {
        /// Column letter and row number.
        #[schema(example = "C4")]
        position: String,
    },
    /// Nothing lights, anywhere.
    Nothing,
    /// This point; the nearest pixel is meant.
    Point {
        /// Column letter and row number.
        #[schema(example = "C4")]
        position: String,
        /// From the left edge of the position.
        x_mm: f64,
        /// From its upper edge.
        y_mm: f64,
    },
    /// This colour.
    Colour {
        /// Which.
        colour: Light,
    },
}

/// An answer can't be meant.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct NotAnAnswer(pub(super) String);

/// A sight as a page can draw it.
pub(super) fn drawn(floor: &Floor, sight: &Sight) -> Drawing {
    #[expect(
        clippy::cast_precision_loss,
        reason = "a floor is far smaller than 2^53"
    )]
    let mm = |tenths: i64| tenths as f64 / 10.0;
    let lights = sight.0.iter().map(|((panel, x, y), shade)| DrawnPixel {
        position: floor.panels[*panel].position.to_string(),
        x_mm: mm(*x),
        y_mm: mm(*y),
        colour: light(*shade),
    });
    Drawing {
        lights: lights.collect(),
    }
}
