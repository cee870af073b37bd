//! What circuits, supplies, feeds and panels draw, as people see it.

use serde::Serialize;
use utoipa::ToSchema;

use crate::floor::model::Position;

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
    pub(in crate::engine) fn of(position: Position, segments: usize) -> Self {
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
