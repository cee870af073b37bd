//! What is dead: evidence about nodes, panels, segments and switches, and the estimators that turn
//! it into a verdict which names a cause, its place and how sure that is.

pub mod belief;
pub mod causes;
mod chance;
pub mod design;
pub mod estimate;
pub mod evidence;
pub mod facts;
pub mod infer;
pub mod joints;
pub mod show;
pub mod snapshot;
pub mod survey;
pub mod switches;

use self::snapshot::SegmentCondition;
use crate::floor::model::Colour;

/// The smallest thing that can be dead by itself: a segment, on analogue strip one colour of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Item {
    /// Index into [`Floor::panels`](crate::floor::model::Floor::panels).
    pub panel: u32,
    /// Counted from 0, in wiring order.
    pub segment: u32,
    /// The colour on analogue strip; nothing where one driver makes all colours.
    pub colour: Option<Colour>,
}

/// How an item is.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub enum Condition {
    /// Nothing can be said of it.
    #[default]
    Unknown,
    /// It draws what it should.
    Good,
    /// It draws this share of what it should.
    Weak(f64),
    /// It draws nothing of what it is asked to.
    Dead,
    /// It draws this share of its full current whatever it is asked to.
    Stuck(f64),
}

impl Condition {
    /// The word for it.
    pub const fn word(self) -> SegmentCondition {
        match self {
            Self::Unknown => SegmentCondition::Unknown,
            Self::Good => SegmentCondition::Good,
            Self::Weak(_) => SegmentCondition::Weak,
            Self::Dead => SegmentCondition::Dead,
            Self::Stuck(_) => SegmentCondition::Stuck,
        }
    }

    /// The share of its current that it draws; nothing if that is not known.
    pub const fn share(self) -> Option<f64> {
        match self {
            Self::Unknown => None,
            Self::Good => Some(1.0),
            Self::Dead => Some(0.0),
            Self::Weak(share) | Self::Stuck(share) => Some(share),
        }
    }
}

/// What an estimator says of one item.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Judged {
    /// How it is, or most likely is.
    pub condition: Condition,
    /// Probability that this is wrong, as the estimator sees it: 0 to 1, 1 if it knows nothing.
    pub doubt: f64,
}
