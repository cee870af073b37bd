//! Two litfloors that stand by for each other, as people see it.

use serde::Serialize;
use utoipa::ToSchema;

/// Which of two litfloors that stand by for each other this is, and which of them leads.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct StandbyState {
    /// Which of the two it is, by the floor file.
    pub role: StandbyRole,
    /// What it does.
    pub duty: StandbyDuty,
    /// For how long, in seconds.
    pub since_s: f64,
    /// How often it has taken the lead because the other one was gone.
    pub taken: u32,
    /// Where the other one listens to Art-Net.
    #[schema(example = "192.168.10.3:6454")]
    pub peer: String,
    /// What the other one did when it was heard last; nothing if it never was.
    #[schema(required)]
    pub peer_duty: Option<StandbyDuty>,
    /// Seconds since then.
    #[schema(required)]
    pub peer_heard_s: Option<f64>,
    /// Whether it had the same floor file.
    #[schema(required)]
    pub same_file: Option<bool>,
    /// Whether it heard the console's picture.
    #[schema(required)]
    pub peer_hears_picture: Option<bool>,
    /// Whether the other one answers polls, but its beats can't be read.
    pub deaf: bool,
}

/// Who was not heard for longer, in seconds, is gone.
const LATE_S: f64 = 1.0;

impl StandbyState {
    /// Whether the other one is heard.
    pub fn is_heard(&self) -> bool {
        self.peer_heard_s.is_some_and(|s| s < LATE_S)
    }

    /// A second that stands by for a first that is well.
    #[cfg(test)]
    pub(crate) fn of_a_second() -> Self {
        Self {
            role: StandbyRole::Second,
            duty: StandbyDuty::StandsBy,
            since_s: 5.0,
            taken: 0,
            peer: "10.0.0.2:6454".to_owned(),
            peer_duty: Some(StandbyDuty::Leads),
            peer_heard_s: Some(0.02),
            same_file: Some(true),
            peer_hears_picture: Some(true),
            deaf: false,
        }
    }
}

/// Which of the two.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum StandbyRole {
    /// Leads while it can.
    First,
    /// Leads while the first can't.
    Second,
}

/// What it does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum StandbyDuty {
    /// Listens whether the other one leads, and sends nothing yet.
    Listens,
    /// Sends the picture to the nodes.
    Leads,
    /// Takes all that comes and sends nothing to the nodes.
    StandsBy,
    /// Was told to end.
    Ended,
}
