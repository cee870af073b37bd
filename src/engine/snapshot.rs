//! What people look at: plain values, taken beside the frame path, shaped as the API shows them.

use std::collections::BTreeMap;

use serde::Serialize;
use utoipa::ToSchema;

use crate::floor::FaultRow;
use crate::floor::model::Position;

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
    /// Alarms of circuits, supplies and feeds.
    pub alarms: Vec<AlarmState>,
    /// What someone should know now, worst first.
    pub notices: Vec<Notice>,
}

/// Whether a sensor can be believed.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum SensorVerdict {
    /// It has not said anything yet.
    #[default]
    Waiting,
    /// It says about what it should.
    Good,
    /// It has fallen silent.
    Silent,
    /// It says the very same while the computed current moved.
    Frozen,
    /// It says what can't be.
    Absurd,
    /// More is measured than computed, and has been for some seconds: the cap goes by that.
    ApartAbove,
    /// Less is measured than computed. That changes no limit.
    ApartBelow,
}

/// Something that measures, and what is computed at its place.
#[derive(Debug, Clone, Default, PartialEq, Serialize, ToSchema)]
pub struct SensorState {
    /// What its readings call it.
    pub name: String,
    /// Where it sits.
    #[schema(example = "supply main")]
    pub place: String,
    /// `current` (in amperes) or `voltage` (in volts).
    #[schema(example = "current")]
    pub quantity: String,
    /// Whether it can be believed.
    pub state: SensorVerdict,
    /// Its last reading, in amperes or volts; nothing if none came or it was no number.
    #[schema(required)]
    pub measured: Option<f64>,
    /// What is computed at its place, of a voltage the nominal one; nothing if that is not known.
    #[schema(required)]
    pub computed: Option<f64>,
    /// The same by its calibration, if it has one: what it should say.
    #[schema(required)]
    pub expected: Option<f64>,
    /// How far measured lies above expected, in per cent; nothing if there is next to nothing.
    #[schema(required)]
    pub difference_percent: Option<f64>,
    /// How far they may be apart, in per cent.
    pub tolerance_percent: f64,
    /// Seconds since its last reading.
    #[schema(required)]
    pub age_s: Option<f64>,
    /// What its place may be computed to draw because of what was measured, in amperes; nothing if
    /// that is no less than its limit.
    #[schema(required)]
    pub live_limit_a: Option<f64>,
    /// Whether it makes its place stricter than its calibration does, for more was measured.
    pub stricter: bool,
    /// What a run taught of it.
    #[schema(required)]
    pub calibration: Option<SensorCalibration>,
}

/// What a place really draws, as a run taught.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SensorCalibration {
    /// With all dark, in amperes.
    pub idle_a: f64,
    /// Real over computed current of each colour.
    pub gains: BTreeMap<String, f64>,
    /// The farthest that a step of the run lay from this, in amperes.
    pub residual_a: f64,
    /// The farthest that one lay above it, in amperes.
    pub above_a: f64,
}

/// A calibration run.
#[derive(Debug, Clone, Default, PartialEq, Serialize, ToSchema)]
pub struct CalibrationState {
    /// Whether one is under way.
    pub running: bool,
    /// Its step, counted from 0.
    pub step: u32,
    /// How many it has.
    pub steps: u32,
    /// Seconds until it ends.
    pub ends_in_s: f64,
    /// How many have ended since the start.
    pub ended: u32,
    /// What the last one taught.
    pub outcomes: Vec<CalibrationOutcome>,
}

/// What a run taught of one sensor.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct CalibrationOutcome {
    /// Its name.
    pub sensor: String,
    /// Why nothing; null if it is calibrated.
    #[schema(required)]
    pub refused: Option<String>,
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

/// The signal as a whole.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum SignalState {
    /// No mapped universe has arrived since the start.
    #[default]
    Waiting,
    /// Every mapped universe arrives.
    Live,
    /// Some mapped universes arrive and some don't.
    Partial,
    /// All that arrived have fallen silent.
    Lost,
}

/// One universe that arrives, or should.
#[expect(
    clippy::struct_excessive_bools,
    reason = "each is a fact of its own in the API"
)]
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct UniverseState {
    /// `net:sub-net:universe`.
    #[schema(example = "0:1:2")]
    pub port_address: String,
    /// Frames a second, over the last second or two.
    pub fps: f64,
    /// Seconds since its last frame; nothing if none came.
    pub age_s: Option<f64>,
    /// Who sends it.
    pub sources: Vec<SourceState>,
    /// Slots in its last frame.
    pub slots: u16,
    /// Whether the floor file maps it.
    pub mapped: bool,
    /// Whether two sources are merged now.
    pub merging: bool,
    /// Whether its frames wait for `ArtSync`.
    pub synced: bool,
    /// Whether it has been silent for longer than the file allows.
    pub lost: bool,
    /// What its slots and frames have done lately.
    pub arrival: ArrivalState,
}

/// What a universe's slots and frames have done lately. Of one that the file does not map only
/// the lengths and the slots that move or are lit are known.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, ToSchema)]
pub struct ArrivalState {
    /// The highest slot that the file maps.
    pub needs_slots: u16,
    /// So many slots the longest frame of the last second or two ends before that.
    pub short_by_slots: u16,
    /// Panels that get nothing from it, or not all, because of that: the first 16.
    pub cut_off: Vec<String>,
    /// How many those are in all.
    pub cut_off_panels: u32,
    /// Whether its last frame has an odd number of slots, which Art-Net forbids.
    pub odd_length: bool,
    /// Whether its frames of the last second or two differ in length.
    pub length_varies: bool,
    /// Slots that changed within the last second or two.
    pub moving_slots: u32,
    /// Slots that are lit and did not change.
    pub still_lit_slots: u32,
    /// Slots that are lit and that the file does not map.
    pub stray_lit_slots: u32,
    /// Frames of the last minute that their sequence numbers say are missing; nothing while the
    /// numbers can't tell.
    pub missing_frames: Option<u32>,
    /// Frames of the last minute that came after newer ones.
    pub overtaken_frames: u32,
    /// Slots that both of two sources light, and not alike.
    pub contested_slots: u32,
    /// Times in the last minute that a source came in the place of another, or to it.
    pub source_changes: u32,
    /// So many slots later than mapped the light lies, earlier if negative; nothing if it lies
    /// right or if it can't be told.
    pub offset_slots: Option<i16>,
}

/// Who sends a universe: an IP address and a physical port.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct SourceState {
    /// IPv4 address.
    #[schema(example = "10.0.0.5")]
    pub address: String,
    /// The Physical field of its packets.
    pub physical: u8,
    /// Seconds since its last frame.
    pub age_s: f64,
    /// Whether it is ignored because two others came first.
    pub ignored: bool,
}

/// A node of the file.
#[derive(Debug, Clone, Default, Serialize, ToSchema)]
pub struct NodeState {
    /// Its name in the file.
    pub name: String,
    /// IPv4 address and port.
    #[schema(example = "10.0.0.21:6454")]
    pub address: String,
    /// Whether it answers polls.
    pub online: bool,
    /// Seconds since its last reply; nothing if it never answered.
    pub last_reply_s: Option<f64>,
    /// Short name it gives.
    pub short_name: String,
    /// Long name it gives.
    pub long_name: String,
    /// Firmware version it gives, `major.minor`.
    pub firmware: String,
    /// Its last node report.
    pub report: String,
    /// What its replies say of its ports.
    pub ports: Vec<NodePort>,
    /// Port-Addresses that the file sends to it.
    pub sends: Vec<String>,
    /// Port-Addresses that the file sends to it but that it does not say it outputs.
    pub not_listed: Vec<String>,
    /// Frames sent to it.
    pub frames_out: u64,
    /// Frames to it that the system refused to send.
    pub send_errors: u64,
    /// Seconds since the system last refused to send it a frame; nothing if it never did.
    pub last_send_error_s: Option<f64>,
}

/// One port of a node, as its replies tell.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct NodePort {
    /// `output` (Art-Net to the light) or `input`.
    #[schema(example = "output")]
    pub direction: String,
    /// `net:sub-net:universe`.
    pub port_address: String,
    /// Whether data flows, as the node says.
    pub active: bool,
    /// Whether it reports a short at this output.
    pub short_circuit: bool,
}

/// A node that answered a poll but is not in the file.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct Stranger {
    /// IPv4 address.
    pub address: String,
    /// Short name it gives.
    pub short_name: String,
    /// Seconds since its last reply.
    pub last_reply_s: f64,
}

/// What the floor as a whole takes from the mains, in volt-amperes (apparent power, as generators
/// are rated): computed amperes of every circuit times its volts.
#[derive(Debug, Clone, Default, Serialize, ToSchema)]
pub struct FloorLoadState {
    /// Of the picture as asked.
    pub asked_va: f64,
    /// Of the picture as sent.
    pub draw_va: f64,
    /// The most that nodes may be drawing now if datagrams were lost or are late; what is asked
    /// on a floor that is only watched.
    pub reserved_va: f64,
    /// The part of `reserved_va` that stays reserved for nodes that no longer answer.
    pub silent_va: f64,
    /// When all panels are dark.
    pub idle_va: f64,
    /// What must not be passed: the lower of rating × margin and of the live limit.
    #[schema(required)]
    pub limit_va: Option<f64>,
    /// `floor_va` of the floor file.
    #[schema(required)]
    pub rated_va: Option<f64>,
    /// The limit that someone set while it runs; it is kept when the floor file is read again, and
    /// forgotten when litfloor ends.
    #[schema(required)]
    pub live_limit_va: Option<f64>,
    /// The factor for the whole floor, 1 when it is not over.
    pub scale: f64,
    /// Whether even a dark floor draws more than the limit: no cap can keep it.
    pub impossible: bool,
}

/// A circuit, a supply or a feed. Amperes are mains amperes for a circuit and output amperes
/// for a supply and a feed.
#[derive(Debug, Clone, Default, Serialize, ToSchema)]
pub struct LoadState {
    /// Its name in the file.
    pub name: String,
    /// The supply of a feed, the circuit of a supply; nothing for a circuit.
    pub parent: Option<String>,
    /// Computed draw of the picture as asked.
    pub asked_a: f64,
    /// Computed draw of the picture as sent.
    pub draw_a: f64,
    /// The most that nodes may be drawing now if datagrams were lost or are late; what is asked
    /// on a floor that is only watched.
    pub reserved_a: f64,
    /// The part of `reserved_a` that stays reserved for nodes that no longer answer.
    pub silent_a: f64,
    /// What it draws when all its panels are dark.
    pub idle_a: f64,
    /// What must not be passed: rating × margin.
    pub limit_a: f64,
    /// The rating itself.
    pub rated_a: f64,
    /// The factor at this level, 1 when it is not over. Where only the panels that ask for most are
    /// dimmed, the least of theirs.
    pub scale: f64,
    /// What each of its panels may draw beyond idle, if it is over and only those that ask for more
    /// are dimmed.
    #[schema(required)]
    pub level_a: Option<f64>,
    /// What it may carry above its limit for a short time; nothing if the file allows none.
    #[schema(required)]
    pub peak: Option<PeakState>,
    /// Real power that the mains give for `draw_a`, in watts: output volts × amperes ÷ the
    /// supply's efficiency.
    pub mains_w: f64,
    /// Whether even a dark floor draws more than the limit: no cap can keep it.
    pub impossible: bool,
}

/// The account of what may be carried above a limit.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, ToSchema)]
pub struct PeakState {
    /// Amperes that may be carried above the limit now.
    pub extra_a: f64,
    /// Amperes that may be carried above it at most.
    pub most_a: f64,
    /// Ampere-seconds that are left.
    pub left_as: f64,
    /// Ampere-seconds of a full account.
    pub full_as: f64,
}

/// A panel.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct PanelState {
    /// Column letter and row number.
    #[schema(example = "C4")]
    pub position: String,
    /// Computed draw of the picture as asked.
    pub asked_a: f64,
    /// Computed draw of the picture as sent.
    pub draw_a: f64,
    /// Limit of its own wiring, if the file gives a rating.
    pub limit_a: Option<f64>,
    /// The least factor that its levels were last multiplied with: the product over its path, and
    /// what the headroom allowed.
    pub scale: f64,
    /// Whether even dark it draws more than its limit: no cap can keep it.
    pub impossible: bool,
    /// Computed draw as sent of each segment, in wiring order.
    pub segments_a: Vec<f64>,
    /// Switches under it that are known to be pressed, counted from 1.
    pub pressed: Vec<u32>,
    /// Whether its switches are all known: it has some that a node sends, and that node does.
    pub switches_known: bool,
}

impl PanelState {
    /// One of which nothing is known yet.
    pub(super) fn of(position: Position, segments: usize) -> Self {
        Self {
            position: position.to_string(),
            asked_a: 0.0,
            draw_a: 0.0,
            limit_a: None,
            scale: 1.0,
            impossible: false,
            segments_a: vec![0.0; segments],
            pressed: Vec::new(),
            switches_known: false,
        }
    }
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
