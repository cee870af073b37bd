//! What a floor file says, after every check has passed.
//!
//! Everything refers to everything else by index into the vectors of [`Floor`], so nothing here
//! can point to what does not exist.

use std::net::SocketAddrV4;

pub use super::alarm::{AlarmSettings, Webhook};
pub use super::electrical::{
    Cable, Conductor, Drive, Fed, Load, Peak, PlanSettings, Sharing, Strip,
};
pub use super::inputs::{Input, Pressed, SwitchSlot};
pub use super::metering::{Measured, Mqtt, Quantity, Sensor, Topic};
pub use super::network::{NetworkSettings, Pin, StandbyPair, Subnet};
pub use super::position::{NotAPosition, Position};
use crate::units::{Amps, Millimetres, Volts};
use crate::wire::PortAddress;

/// The whole installation.
#[derive(Debug, Clone, PartialEq)]
pub struct Floor {
    /// What people call it.
    pub name: String,
    /// The grid of positions.
    pub grid: Grid,
    /// Kinds of pixel.
    pub pixel_kinds: Vec<PixelKind>,
    /// Kinds of panel.
    pub panel_kinds: Vec<PanelKind>,
    /// Every panel, by rows from the top, left to right: row 1 first, column A first.
    pub panels: Vec<Panel>,
    /// Controllers on the network.
    pub nodes: Vec<Node>,
    /// Panels in wiring order.
    pub runs: Vec<Run>,
    /// Mains circuits.
    pub circuits: Vec<Circuit>,
    /// Power supplies.
    pub supplies: Vec<Supply>,
    /// Fused branches.
    pub feeds: Vec<Feed>,
    /// What measures.
    pub sensors: Vec<Sensor>,
    /// Switches that nodes send.
    pub inputs: Vec<Input>,
    /// The broker, if there is one.
    pub mqtt: Option<Mqtt>,
    /// What to do with the signal.
    pub signal: Signal,
    /// What the network may do to a datagram.
    pub delivery: Delivery,
    /// How the cap behaves.
    pub cap: CapSettings,
    /// What the plan reckons with.
    pub plan: PlanSettings,
    /// When alarms are raised.
    pub alarm: AlarmSettings,
    /// How litfloor runs on its machine.
    pub machine: MachineSettings,
    /// Whom it listens to, and who stands by.
    pub network: NetworkSettings,
}

/// The grid of positions.
#[derive(Debug, Clone, PartialEq)]
pub struct Grid {
    /// Number of columns, lettered A, B, …, Z, AA, AB, …
    pub columns: u16,
    /// Number of rows, numbered from 1; row 1 is drawn at the top.
    pub rows: u16,
    /// Width and height of one panel.
    pub panel_mm: [Millimetres; 2],
    /// Gap between neighbours.
    pub gap_mm: Millimetres,
}

/// A colour that a pixel mixes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Colour {
    /// Red.
    Red,
    /// Green.
    Green,
    /// Blue.
    Blue,
    /// White.
    White,
}

impl Colour {
    /// All of them, in the order of their letters R, G, B, W.
    pub const ALL: [Self; 4] = [Self::Red, Self::Green, Self::Blue, Self::White];

    /// `red`, `green`, `blue` or `white`.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Red => "red",
            Self::Green => "green",
            Self::Blue => "blue",
            Self::White => "white",
        }
    }
}

/// What one slot of a pixel carries.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Byte {
    /// The whole 8-bit level.
    Whole,
    /// The upper half of a 16-bit level; the lower half lies `partner` slots further on
    /// (negative: before).
    Coarse {
        /// Distance in slots to the fine half.
        partner: i8,
    },
    /// The lower half of a 16-bit level.
    Fine {
        /// Distance in slots to the coarse half.
        partner: i8,
    },
}

/// One slot of a pixel, in wire order.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SlotRole {
    /// The colour it drives.
    pub colour: Colour,
    /// Which part of the level.
    pub byte: Byte,
    /// The colour's current at full, in whole microamperes.
    pub full_ua: u32,
}

impl SlotRole {
    /// Parts of a [`Draw`](crate::units::Draw) that one step of this slot adds
    /// (a slot at 255 has 255 steps).
    pub const fn parts_per_step(self) -> u64 {
        let steps = match self.byte {
            Byte::Whole => 257,
            Byte::Coarse { .. } => 256,
            Byte::Fine { .. } => 1,
        };
        self.full_ua as u64 * steps
    }
}

/// A kind of pixel.
#[derive(Debug, Clone, PartialEq)]
pub struct PixelKind {
    /// Its name in the file.
    pub name: String,
    /// Slots in wire order, 1 to 8 of them.
    pub slots: Vec<SlotRole>,
    /// Nominal supply voltage.
    pub volts: Volts,
    /// Current that a dark pixel draws, in whole microamperes.
    pub idle_ua: u32,
    /// The most that one pixel may draw, idle included, in whole microamperes.
    pub limit_ua: Option<u32>,
    /// How its current depends on its voltage.
    pub load: Load,
    /// How it is told what to show.
    pub drive: Drive,
}

impl PixelKind {
    /// Its colours, each once, in the order of [`Colour::ALL`].
    pub fn colours(&self) -> impl Iterator<Item = Colour> + Clone + '_ {
        let has = |colour: &Colour| self.slots.iter().any(|slot| slot.colour == *colour);
        Colour::ALL.into_iter().filter(has)
    }
}

/// A kind of panel.
#[derive(Debug, Clone, PartialEq)]
pub struct PanelKind {
    /// Its name in the file.
    pub name: String,
    /// Index into [`Floor::pixel_kinds`].
    pub pixel_kind: usize,
    /// Centre of every pixel in wiring order, from the panel's upper left corner, unturned.
    pub pixels_mm: Vec<[f64; 2]>,
    /// Pixels of each segment in wiring order; their sum is `pixels_mm.len()`.
    pub segments: Vec<u32>,
    /// Microswitches under it.
    pub switches: u16,
    /// Rating of its own wiring, if the file gives one.
    pub rated_a: Option<Amps>,
    /// Its strip, if the file describes it.
    pub strip: Option<Strip>,
    /// Its own cable, if the file describes one.
    pub tail: Option<Cable>,
}

/// The physical thing in a position.
#[derive(Debug, Clone, PartialEq)]
pub struct Panel {
    /// Where it lies.
    pub position: Position,
    /// Index into [`Floor::panel_kinds`].
    pub kind: usize,
    /// Clockwise turn: 0, 90, 180 or 270 degrees.
    pub turn_deg: u16,
    /// Whether left and right are swapped, before it is turned.
    pub mirrored: bool,
    /// Its serial, which it keeps wherever it lies; empty if the file gives none.
    pub serial: String,
    /// What lies before it in its run and lights nothing.
    pub lead: Lead,
    /// Index into [`Floor::runs`].
    pub run: usize,
    /// Index into [`Floor::feeds`].
    pub feed: usize,
}

/// What lies before a panel in its run and lights nothing.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Lead {
    /// Slots that drive nothing.
    pub spare_slots: u16,
    /// Pixels, of the panel's kind, that stay dark: between a node and the first panel, for
    /// example, where one only renews the data signal.
    pub unused_pixels: u16,
    /// How many of the spare slots lie behind the unused pixels; the others lie before them.
    pub spare_behind: u16,
}

/// How a run's pixels fill its universes.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Packing {
    /// To the last slot: a pixel may begin in one universe and end in the next.
    Packed,
    /// A pixel lies whole in one universe.
    #[default]
    WholePixel,
    /// A panel lies whole in one universe, if a universe can hold it; it begins one of its own
    /// otherwise.
    WholePanel,
}

impl Packing {
    /// Each with its word in the floor file.
    pub const ALL: [(&'static str, Self); 3] = [
        ("packed", Self::Packed),
        ("whole-pixel", Self::WholePixel),
        ("whole-panel", Self::WholePanel),
    ];
}

/// Where the console's slots for a run lie, if elsewhere than the node's. What lights nothing at
/// the node has no slots there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Source {
    /// Where the first slot lies.
    pub start: PortAddress,
    /// First slot, 1 to 512.
    pub slot: u16,
    /// How its slots fill the universes.
    pub packing: Packing,
}

/// A controller on the network.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Node {
    /// Its name in the file.
    pub name: String,
    /// Where it listens; the port is 6454 unless the file says otherwise.
    pub address: SocketAddrV4,
}

/// The panels that hang on one port, in wiring order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Run {
    /// Index into [`Floor::nodes`]; nothing when the floor has no nodes and is only watched.
    pub node: Option<usize>,
    /// The node's output as printed on its case, if the file gives it.
    pub port: Option<u16>,
    /// Where its first slot lies at the node.
    pub start: PortAddress,
    /// First slot, 1 to 512.
    pub slot: u16,
    /// How its pixels fill the universes.
    pub packing: Packing,
    /// Where the console's slots lie, if elsewhere.
    pub source: Option<Source>,
    /// Indices into [`Floor::panels`], in wiring order.
    pub panels: Vec<usize>,
}

/// A mains circuit.
#[derive(Debug, Clone, PartialEq)]
pub struct Circuit {
    /// Its name in the file.
    pub name: String,
    /// Mains voltage.
    pub volts: Volts,
    /// Rating of its breaker.
    pub rated_a: Amps,
}

/// A power supply.
#[derive(Debug, Clone, PartialEq)]
pub struct Supply {
    /// Its name in the file.
    pub name: String,
    /// Index into [`Floor::circuits`].
    pub circuit: usize,
    /// Output voltage.
    pub volts: Volts,
    /// Output rating.
    pub rated_a: Amps,
    /// Output power over input power, 0 to 1.
    pub efficiency: f64,
    /// True over apparent input power, 0 to 1.
    pub power_factor: f64,
    /// Current that it gives into a short circuit; nothing: its rating.
    pub short_a: Option<Amps>,
    /// Who is dimmed when it is over its limit.
    pub sharing: Sharing,
    /// What it may carry for a short time.
    pub peak: Option<Peak>,
    /// How fast its current may rise, in amperes a second.
    pub slew_a_per_s: Option<f64>,
}

/// One fused branch of a supply.
#[derive(Debug, Clone, PartialEq)]
pub struct Feed {
    /// Its name in the file.
    pub name: String,
    /// Index into [`Floor::supplies`].
    pub supply: usize,
    /// Rating of its fuse.
    pub fuse_a: Amps,
    /// Indices into [`Floor::panels`], in the order in which the file names them.
    pub panels: Vec<usize>,
    /// From the fuse to its first panel, or to where all its panels join.
    pub cable: Option<Cable>,
    /// From each panel to the next; nothing: all panels join at the cable's end.
    pub link: Option<Cable>,
    /// A second cable, from the fuse to its last panel.
    pub far_cable: Option<Cable>,
    /// What it may carry for a short time.
    pub peak: Option<Peak>,
    /// How fast its current may rise, in amperes a second.
    pub slew_a_per_s: Option<f64>,
}

/// How two sources of one Port-Address are merged.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Merge {
    /// Highest takes precedence.
    Htp,
    /// Latest takes precedence.
    Ltp,
}

/// What the floor does when the signal is lost.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum WhenLost {
    /// Keep the last picture.
    Hold,
    /// Fade to black in this many seconds.
    Fade {
        /// Length of the fade.
        s: f64,
    },
}

/// What litfloor leaves behind when it is told to end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WhenEnded {
    /// Nodes keep what they show.
    Hold,
    /// All that it drives is made dark first.
    Dark,
}

/// What to do with the signal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Signal {
    /// How two sources are merged.
    pub merge: Merge,
    /// Silence after which a universe counts as lost, in seconds.
    pub lost_after_s: f64,
    /// What then.
    pub when_lost: WhenLost,
    /// What the floor shows when litfloor has ended.
    pub when_ended: WhenEnded,
}

/// What the network may do to a datagram, so that the sums can reckon with it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Delivery {
    /// Of so many datagrams of one universe in a row at least one arrives.
    pub copies: u8,
    /// None arrives later than this after it was sent, in milliseconds.
    pub late_ms: u16,
}

/// How the cap behaves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CapSettings {
    /// The share of every rating that the computed draw is kept under, 0 to 1.
    pub margin: f64,
    /// Time constant with which a lowered scale is let up again, in seconds.
    pub let_up_s: f64,
    /// Apparent mains power that the whole floor may take, in volt-amperes, times the margin.
    pub floor_va: Option<f64>,
}

/// How litfloor's thread of frames runs on its machine.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct MachineSettings {
    /// The processor core that it keeps to, counted from 0; nothing: the system chooses.
    pub core: Option<u16>,
    /// Its real-time priority (`SCHED_FIFO`); nothing: it takes turns with everything else.
    pub real_time_priority: Option<u8>,
}
