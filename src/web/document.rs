//! The floor as the API shows it: the shape of `/api/v1/floor`.

use std::collections::BTreeMap;

use serde::Serialize;
use utoipa::ToSchema;

/// The floor, its wiring and its limits: what does not change while it runs.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct FloorDocument {
    /// What people call it.
    pub name: String,
    /// Counts up whenever the floor is replaced.
    pub revision: u32,
    /// Width of the grid.
    pub width_mm: f64,
    /// Height of the grid.
    pub height_mm: f64,
    /// The grid of positions.
    pub grid: Grid,
    /// Whether it has no nodes and is only watched: nothing is sent, nothing is capped.
    pub watch_only: bool,
    /// Whether it is the demo, whose nodes, panels and console are not real.
    pub simulated: bool,
    /// Whether a book of repairs is kept.
    pub book: bool,
    /// How the cap behaves.
    pub cap: Cap,
    /// What to do with the signal.
    pub signal: Signal,
    /// What the network may do to a datagram.
    pub delivery: Delivery,
    /// Panels, in the order of their pixels.
    pub panels: Vec<Panel>,
    /// Panels in wiring order.
    pub runs: Vec<Run>,
    /// Controllers on the network.
    pub nodes: Vec<Node>,
    /// Mains circuits.
    pub circuits: Vec<Circuit>,
    /// Power supplies.
    pub supplies: Vec<Supply>,
    /// Fused branches.
    pub feeds: Vec<Feed>,
    /// Universes that are mapped.
    pub universes: Vec<Universe>,
    /// Kinds of pixel.
    pub pixel_kinds: Vec<Pixel>,
}

/// The grid of positions.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Grid {
    /// Number of columns, lettered from A.
    pub columns: u16,
    /// Number of rows, numbered from 1 at the top.
    pub rows: u16,
    /// Width and height of one panel.
    pub panel_mm: [f64; 2],
    /// Gap between neighbours.
    pub gap_mm: f64,
    /// Positions without a panel.
    #[schema(example = json!(["D4"]))]
    pub empty: Vec<String>,
}

/// How the cap behaves.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Cap {
    /// The share of every rating that the computed draw is kept under.
    pub margin: f64,
    /// Time constant with which a lowered scale is let up again.
    pub let_up_s: f64,
}

/// What to do with the signal.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Signal {
    /// How two sources are merged.
    pub merge: Merge,
    /// Silence after which a universe counts as lost.
    pub lost_after_s: f64,
    /// What then.
    pub when_lost: AfterLoss,
    /// Length of the fade to black, if it fades.
    pub fade_s: Option<f64>,
    /// What the floor shows when litfloor has been told to end.
    pub when_ended: AfterEnd,
}

/// What the floor shows when litfloor has been told to end.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum AfterEnd {
    /// Nodes keep what they show.
    Hold,
    /// All that litfloor drives is dark.
    Dark,
}

/// How two sources of one universe are merged.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Merge {
    /// Highest takes precedence.
    Htp,
    /// Latest takes precedence.
    Ltp,
}

/// What the floor does when the signal is lost.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum AfterLoss {
    /// Keeps the last picture.
    Hold,
    /// Fades to black.
    Fade,
}

/// What the network may do to a datagram.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Delivery {
    /// Of so many in a row at least one arrives.
    pub copies: u8,
    /// None arrives later than this.
    pub late_ms: u16,
}

/// A panel.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Panel {
    /// Column letter and row number.
    #[schema(example = "C4")]
    pub position: String,
    /// Its kind.
    pub kind: String,
    /// The kind of its pixels.
    pub pixel_kind: String,
    /// Left edge.
    pub x_mm: f64,
    /// Upper edge.
    pub y_mm: f64,
    /// Width.
    pub width_mm: f64,
    /// Height.
    pub height_mm: f64,
    /// Clockwise turn.
    pub turn_deg: u16,
    /// Whether left and right are swapped, before it is turned.
    pub mirrored: bool,
    /// Its serial; empty if the file gives none.
    pub serial: String,
    /// Slots before it in its run that light nothing.
    pub spare_slots: u16,
    /// Pixels before it in its run that stay dark.
    pub unused_pixels: u16,
    /// Its first pixel on the whole floor.
    pub first_pixel: u32,
    /// Number of its pixels.
    pub pixels: u32,
    /// Pixels of each segment, in wiring order.
    pub segments: Vec<u32>,
    /// Microswitches under it.
    pub switches: u16,
    /// Index of its run.
    pub run: usize,
    /// Its node, if the floor has nodes.
    pub node: Option<String>,
    /// The node's output as printed on its case, if known.
    pub port: Option<u16>,
    /// Where its slots lie at the node.
    pub spans: Vec<Span>,
    /// Where its slots lie at the console: the same, unless its run has a source of its own.
    pub source_spans: Vec<Span>,
    /// Its feed.
    pub feed: String,
    /// Its supply.
    pub supply: String,
    /// Its circuit.
    pub circuit: String,
    /// Computed draw when dark.
    pub idle_a: f64,
    /// Computed draw with every slot at full, idle included.
    pub full_a: f64,
    /// Limit of its own wiring, if the file gives a rating.
    pub limit_a: Option<f64>,
    /// Whether the file describes its strip, so that its voltages are known.
    pub strip_known: bool,
}

/// A stretch of slots in one universe.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Span {
    /// `net:sub-net:universe`.
    #[schema(example = "0:1:2")]
    pub port_address: String,
    /// First slot, counted from 1.
    pub first_slot: u16,
    /// Last slot, counted from 1.
    pub last_slot: u16,
}

/// Panels in wiring order.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Run {
    /// Its node, if the floor has nodes.
    pub node: Option<String>,
    /// The node's output as printed on its case, if known.
    pub port: Option<u16>,
    /// Where its first slot lies at the node.
    #[schema(example = "0:1:2")]
    pub start: String,
    /// Its first slot, counted from 1.
    pub slot: u16,
    /// How its pixels fill the universes.
    pub packing: Packing,
    /// Where the console's slots lie, if elsewhere than the node's.
    pub source: Option<RunSource>,
    /// Positions, in wiring order.
    pub panels: Vec<String>,
}

/// How a run's pixels fill its universes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Packing {
    /// A pixel may begin in one universe and end in the next.
    Packed,
    /// A pixel lies whole in one universe.
    WholePixel,
    /// A panel lies whole in one universe, if it can.
    WholePanel,
}

/// Where the console's slots for a run lie.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct RunSource {
    /// Where the first slot lies.
    #[schema(example = "0:0:1")]
    pub start: String,
    /// The first slot, counted from 1.
    pub slot: u16,
    /// How its slots fill the universes.
    pub packing: Packing,
}

/// A controller on the network.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Node {
    /// Its name.
    pub name: String,
    /// IPv4 address and port.
    #[schema(example = "10.0.0.21:6454")]
    pub address: String,
}

/// A mains circuit.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Circuit {
    /// Its name.
    pub name: String,
    /// Mains voltage.
    pub volts: f64,
    /// Rating of its breaker.
    pub rated_a: f64,
    /// Rating × margin.
    pub limit_a: f64,
}

/// A power supply.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Supply {
    /// Its name.
    pub name: String,
    /// Its circuit.
    pub circuit: String,
    /// Output voltage.
    pub volts: f64,
    /// Output rating.
    pub rated_a: f64,
    /// Rating × margin.
    pub limit_a: f64,
    /// Output power over input power.
    pub efficiency: f64,
    /// True over apparent input power.
    pub power_factor: f64,
}

/// One fused branch of a supply.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Feed {
    /// Its name.
    pub name: String,
    /// Its supply.
    pub supply: String,
    /// Rating of its fuse.
    pub fuse_a: f64,
    /// Rating × margin.
    pub limit_a: f64,
    /// Whether the file describes its cable, so that its voltages are known.
    pub cable_known: bool,
}

/// A universe that is mapped.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Universe {
    /// `net:sub-net:universe`.
    #[schema(example = "0:1:2")]
    pub port_address: String,
    /// The highest slot that lights anything.
    pub slots: u16,
}

/// A kind of pixel.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Pixel {
    /// Its name.
    pub name: String,
    /// Wire order: a capital is a whole level or the coarse half, a small letter the fine half.
    #[schema(example = "GRB")]
    pub slots: String,
    /// Nominal supply voltage.
    pub volts: f64,
    /// Current of a dark pixel.
    pub idle_ma: f64,
    /// Current of each colour at full.
    pub full_ma: BTreeMap<String, f64>,
}
