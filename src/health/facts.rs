//! What the rest of litfloor knows of nodes, universes and sensors, as far as faults follow from it.

use super::snapshot::Cause;

/// What is known now.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Facts {
    /// Nodes, in the floor's order.
    pub nodes: Vec<NodeFact>,
    /// Mapped universes, in the order of [`Tables::universes`](crate::floor::Tables::universes).
    pub universes: Vec<UniverseFact>,
    /// Sensors, in the floor's order.
    pub sensors: Vec<SensorFact>,
    /// Switches that are not sound.
    pub switches: Vec<SwitchFact>,
    /// Switches that are pressed now: panels and numbers from 1.
    pub pressed: Vec<(usize, u32)>,
}

/// A node.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct NodeFact {
    /// Whether it answers polls.
    pub online: bool,
    /// Seconds since its last answer; nothing if it never answered.
    pub last_reply_s: Option<f64>,
    /// Outputs that it says are short-circuited, as Port-Addresses.
    pub short_circuits: Vec<String>,
}

/// A universe that arrives, or should.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct UniverseFact {
    /// Whether it has been silent for longer than the file allows.
    pub lost: bool,
    /// Seconds since its last frame; nothing if none came.
    pub age_s: Option<f64>,
}

/// A sensor.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct SensorFact {
    /// Why it can't be believed; nothing if it can, or has not said anything yet.
    pub lost: Option<&'static str>,
    /// Amperes that lack beside what it should say, if they are apart for good.
    pub lacks_a: Option<f64>,
    /// Seconds since its last reading.
    pub age_s: Option<f64>,
}

/// A switch that is not sound.
#[derive(Debug, Clone, PartialEq)]
pub struct SwitchFact {
    /// Index of its panel.
    pub panel: usize,
    /// Which of the panel's, counted from 1.
    pub switch: u16,
    /// Stuck, dead or chattering.
    pub cause: Cause,
    /// Why.
    pub evidence: String,
    /// How sure that is.
    pub chance: f64,
}
