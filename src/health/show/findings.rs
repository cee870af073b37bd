//! What the show says.

use super::steps::Unclear;
use crate::health::Judged;
use crate::units::Time;

/// All of it.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Findings {
    /// Of each item.
    pub judged: Vec<Judged>,
    /// Panels of which a share is missing where their segments can't be told apart.
    pub shortfalls: Vec<Shortfall>,
    /// Joints that open under feet.
    pub loose: Vec<Loose>,
    /// Joints that opened and stayed open.
    pub dropped: Vec<Dropped>,
    /// Current that stopped where not even the panel can be told.
    pub unclear: Vec<Unclear>,
    /// Of each sensor.
    pub sensors: Vec<SensorWord>,
}

/// A panel that draws less than it should, by segments that content never tells apart.
#[derive(Debug, Clone, PartialEq)]
pub struct Shortfall {
    /// Index of the panel.
    pub panel: u32,
    /// The items of it among which those that lack are.
    pub items: Vec<u32>,
    /// The share of the whole panel's current that is missing.
    pub share: f64,
    /// Probability that it is so.
    pub chance: f64,
}

/// A joint that opens under feet.
#[derive(Debug, Clone, PartialEq)]
pub struct Loose {
    /// Index of the panel.
    pub panel: u32,
    /// The first segment that drops out, if that can be told.
    pub segment: Option<u32>,
    /// Probability that it is so.
    pub chance: f64,
    /// For people: how often, by which presses.
    pub evidence: String,
}

/// Current that stopped at once, and which items explain it.
#[derive(Debug, Clone, PartialEq)]
pub struct Dropped {
    /// Index of the panel.
    pub panel: u32,
    /// The first segment that dropped out, if that can be told.
    pub segment: Option<u32>,
    /// The items that dropped out.
    pub items: Vec<u32>,
    /// When.
    pub at: Time,
    /// Probability that it is so.
    pub chance: f64,
    /// For people.
    pub evidence: String,
}

/// How a sensor does.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum SensorWord {
    /// Nothing was read yet, or nothing for a while.
    #[default]
    Silent,
    /// As it should.
    Fine,
    /// Reads the same all the time while what is lit changes: it is not believed.
    Frozen,
    /// Reads what no floor can draw: it is not believed.
    Absurd,
    /// Reads only idle while much is lit: nothing flows, its items are dead.
    NothingFlows,
}

impl SensorWord {
    /// For people.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Silent => "silent",
            Self::Fine => "fine",
            Self::Frozen => "frozen",
            Self::Absurd => "absurd",
            Self::NothingFlows => "nothing flows",
        }
    }

    /// Whether what it reads says anything of items.
    pub const fn is_believed(self) -> bool {
        matches!(self, Self::Fine | Self::NothingFlows)
    }
}
