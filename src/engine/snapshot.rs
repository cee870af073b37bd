//! What people look at: plain values, taken beside the frame path, shaped as the API shows them.

use std::collections::BTreeMap;

use serde::Serialize;
use utoipa::ToSchema;

use crate::floor::FaultRow;

mod loads;
mod sensors;
mod standby;
mod traffic;

pub use loads::{FloorLoadState, LoadState, PanelState, PeakState};
pub use sensors::{
    CalibrationOutcome, CalibrationState, SensorCalibration, SensorState, SensorVerdict,
};
pub use standby::{StandbyDuty, StandbyRole, StandbyState};
pub use traffic::{
    ArrivalState, NodePort, NodeState, SignalState, SourceState, Stranger, UniverseState,
};

/// Everything that changes while a floor runs.
#[derive(Debug, Clone, Default, Serialize, ToSchema)]
pub struct State {
    /// Counts up whenever the floor is replaced; what is listed below belongs to that floor.
    pub revision: u32,
    /// The floor file.
    pub file: FileState,
    /// Seconds since the daemon started.
    pub uptime_s: f64,
    /// Where it listens to Art-Net.
    #[schema(example = "0.0.0.0:6454")]
    pub artnet: String,
    /// The signal as a whole.
    pub signal: SignalState,
    /// `ArtDmx` packets for mapped universes that were taken.
    pub frames_in: u64,
    /// Capped frames that were sent to nodes.
    pub frames_out: u64,
    /// `ArtDmx` packets that were not taken, by reason.
    pub frames_refused: BTreeMap<String, u64>,
    /// Every datagram that arrived, by its one outcome.
    pub datagrams: BTreeMap<String, u64>,
    /// Mapped universes, then unmapped ones that were seen.
    pub universes: Vec<UniverseState>,
    /// Nodes of the file.
    pub nodes: Vec<NodeState>,
    /// Nodes that answered but are not in the file.
    pub strangers: Vec<Stranger>,
    /// What the floor takes from the mains in all.
    pub floor: FloorLoadState,
    /// Mains circuits (mains amperes).
    pub circuits: Vec<LoadState>,
    /// Supplies.
    pub supplies: Vec<LoadState>,
    /// Feeds.
    pub feeds: Vec<LoadState>,
    /// Panels.
    pub panels: Vec<PanelState>,
    /// Universes of switches under panels.
    pub inputs: Vec<InputState>,
    /// What was pressed and released within the last second, the latest 64 of it.
    pub presses: Vec<PressState>,
    /// What measures, in the order of the floor file.
    pub sensors: Vec<SensorState>,
    /// The calibration run that is under way, or what became of the last one.
    pub calibration: CalibrationState,
    /// The test pattern that is shown in place of the console's picture, if one is.
    #[schema(required)]
    pub pattern: Option<PatternState>,
    /// Counts up whenever a survey has something new: `/api/v1/survey` says what.
    pub survey: u32,
    /// Counts up whenever what is known of faults changes: `/api/v1/faults` says what.
    pub health_version: u32,
    /// What can't be kept, and why; a notice says it.
    #[serde(skip)]
    pub not_kept: Vec<String>,
    /// The other litfloor that stands by, or for which this one does; nothing where the floor file names none.
    #[schema(required)]
    pub standby: Option<StandbyState>,
    /// Alarms of circuits, supplies and feeds.
    pub alarms: Vec<AlarmState>,
    /// What someone should know now, worst first.
    pub notices: Vec<Notice>,
}

/// The floor file, and what came of reading it again.
#[derive(Debug, Clone, Default, PartialEq, Serialize, ToSchema)]
pub struct FileState {
    /// Its own name, without its directory.
    #[schema(example = "floor.toml")]
    pub name: String,
    /// Uptime at which the floor that runs was taken from it.
    pub taken_s: f64,
    /// Universes that the file left out when the floor was replaced, with the addresses of their
    /// nodes: they are sent black for some minutes.
    pub made_dark: Vec<String>,
    /// Why it was not taken when it was read last; nothing if it was.
    #[schema(required)]
    pub refusal: Option<FileRefusal>,
}

/// Why a floor file was not taken.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct FileRefusal {
    /// Uptime at which it was read.
    pub at_s: f64,
    /// Its faults, the first of them.
    pub faults: Vec<FaultRow>,
    /// How many there are in all.
    pub count: u32,
}

/// A universe of switches.
#[derive(Debug, Clone, Default, PartialEq, Serialize, ToSchema)]
pub struct InputState {
    /// `net:sub-net:universe`.
    #[schema(example = "0:2:0")]
    pub port_address: String,
    /// The node that sends it.
    #[schema(example = "north")]
    pub node: String,
    /// Seconds since its last frame; nothing if none came.
    #[schema(required)]
    pub age_s: Option<f64>,
    /// Whether it has fallen silent, so that its switches are unknown.
    pub lost: bool,
    /// How many switches it has.
    pub switches: u32,
    /// So many of them lie beyond the end of its last frame, and stay unknown.
    pub cut_off: u32,
}

/// Somebody stepped on a switch, or off it.
#[derive(Debug, Clone, Default, PartialEq, Serialize, ToSchema)]
pub struct PressState {
    /// Counts up with every press and release, from 1.
    pub number: u64,
    /// The panel.
    #[schema(example = "C4")]
    pub position: String,
    /// Which of its switches, counted from 1.
    pub switch: u32,
    /// Pressed, or released.
    pub down: bool,
    /// Uptime at which it was.
    pub at_s: f64,
}

/// A test pattern that is shown.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PatternState {
    /// The `kind` of the order that started it.
    #[schema(example = "panel")]
    pub kind: String,
    /// What is shown, for people.
    #[schema(example = "Panel C4 alone, white at 50 %")]
    pub what: String,
    /// Panels that it lights now, the first 16 of them. While labels blink, those that do so, too.
    pub lit: Vec<String>,
    /// How many those are in all.
    pub lit_panels: u32,
    /// Number of panels that it takes from the console; those it does not light are black.
    pub covered_panels: u32,
    /// Whether those are all panels of the floor.
    pub covers_all: bool,
    /// The step that is shown, from 0; nothing if it has no steps.
    pub step: Option<u32>,
    /// Number of its steps; nothing if it has none.
    pub steps: Option<u32>,
    /// Whether it stays at its step until it is told to go on.
    pub held: bool,
    /// Whether it ends when the one who started it goes away.
    pub ends_with_owner: bool,
    /// Seconds until it is shown: more than zero after many orders within one second, for those
    /// would make the floor flash.
    pub starts_in_s: f64,
    /// Seconds since it began.
    pub since_s: f64,
    /// Seconds until it ends by itself.
    pub ends_in_s: f64,
}

/// An alarm that is raised.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct AlarmState {
    /// A stable word for why.
    #[schema(example = "near_limit")]
    pub code: String,
    /// How bad it is.
    pub severity: Severity,
    /// For people.
    pub text: String,
    /// What it is about: `circuit:NAME`, `supply:NAME` or `feed:NAME`.
    #[schema(example = "feed:left")]
    pub element: String,
    /// Uptime at which its cause began.
    pub since_s: f64,
}

/// Something that a person should know now.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct Notice {
    /// A stable word for it.
    #[schema(example = "signal_lost")]
    pub code: String,
    /// How bad it is.
    pub severity: Severity,
    /// For people.
    pub text: String,
}

/// How bad a notice is, worst first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Severity {
    /// A limit can't be kept.
    Danger,
    /// Something does not work.
    Warning,
    /// Worth knowing.
    Info,
}

/// Datagrams that the system threw away before anybody could read them.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Dropped {
    /// So many since the start.
    pub count: u64,
    /// Uptime at which it was last seen that there were more, in seconds; nothing if it never was.
    pub last_s: Option<f64>,
}

/// The picture, as the levels that stand in the slots.
#[derive(Debug, Clone, Default)]
pub struct Levels {
    /// Revision of the floor that they belong to.
    pub revision: u32,
    /// Counts up by one whenever the picture differs from the one before.
    pub frame: u32,
    /// Milliseconds since the daemon started.
    pub uptime_ms: u32,
    /// Bytes of each pixel: red, green, blue and, if any pixel of the floor has it, white.
    pub channels: u8,
    /// As sent.
    pub sent: Vec<u8>,
    /// As asked, likewise.
    pub asked: Vec<u8>,
}
