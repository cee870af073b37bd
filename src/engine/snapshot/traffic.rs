//! What arrives and where it goes, as people see it: signal, universes, nodes.

use serde::Serialize;
use utoipa::ToSchema;

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

impl SignalState {
    /// Whether nothing mapped arrives.
    pub const fn is_dark(self) -> bool {
        matches!(self, Self::Waiting | Self::Lost)
    }
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
