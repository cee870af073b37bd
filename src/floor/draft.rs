//! What the floor file says, key by key, before anything is checked against anything else.
//!
//! `None` means that the key is missing or wrong and that the fault has been told already, so
//! whoever checks further leaves it out.

use std::net::{Ipv4Addr, SocketAddrV4};

use super::fault::Span;
use super::matrix::Wiring;
use super::model::{
    AlarmSettings, Cable, CapSettings, Delivery, Drive, Fed, Lead, Load, MachineSettings, Mqtt,
    Packing, Peak, PlanSettings, Position, Pressed, Quantity, Sharing, Signal, SlotRole, Subnet,
    Topic,
};
use super::range::Rectangle;
use super::sink::At;
use crate::wire::PortAddress;

#[derive(Debug)]
pub(super) struct Draft {
    pub(super) name: Option<At<String>>,
    pub(super) grid: Option<GridDraft>,
    pub(super) signal: Signal,
    pub(super) delivery: Delivery,
    pub(super) cap: CapSettings,
    pub(super) plan: PlanSettings,
    pub(super) alarm: AlarmSettings,
    pub(super) machine: MachineSettings,
    pub(super) sources: Vec<Subnet>,
    pub(super) pins: Vec<PinDraft>,
    pub(super) standby: Option<StandbyDraft>,
    pub(super) pixels: Vec<PixelDraft>,
    pub(super) panels: Vec<PanelDraft>,
    pub(super) nodes: Vec<NodeDraft>,
    pub(super) runs: Vec<RunDraft>,
    pub(super) circuits: Vec<CircuitDraft>,
    pub(super) supplies: Vec<SupplyDraft>,
    pub(super) feeds: Vec<FeedDraft>,
    pub(super) sensors: Vec<SensorDraft>,
    pub(super) inputs: Vec<InputDraft>,
    pub(super) mqtt: Option<Mqtt>,
}

#[derive(Debug)]
pub(super) struct GridDraft {
    pub(super) span: Span,
    pub(super) columns: Option<u16>,
    pub(super) rows: Option<u16>,
    pub(super) panel_mm: Option<[f64; 2]>,
    pub(super) gap_mm: f64,
    pub(super) panel: Option<At<String>>,
    pub(super) empty: Places,
}

/// A list of positions.
#[derive(Debug, Default)]
pub(super) struct Places {
    pub(super) list: Vec<Place>,
    /// Whether an element of the list was refused, so that it does not say all it should.
    pub(super) broken: bool,
}

/// One element of it.
#[derive(Debug, Clone)]
pub(super) struct Place {
    pub(super) rectangle: Rectangle,
    pub(super) span: Span,
    /// How the panels there lie, in runs.
    pub(super) lie: Lie,
}

impl Place {
    /// The same panels, each as a place of its own.
    pub(super) fn singles(&self) -> impl Iterator<Item = Self> + '_ {
        self.rectangle
            .walk()
            .enumerate()
            .map(|(at, position)| Self {
                rectangle: Rectangle {
                    from: position,
                    to: position,
                },
                span: self.span.clone(),
                lie: Lie {
                    lead: if at == 0 {
                        self.lie.lead
                    } else {
                        Lead::default()
                    },
                    ..self.lie
                },
            })
    }
}

/// How the panels of one place lie, and what comes before the first of them.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Lie {
    /// Clockwise.
    pub(super) turn_deg: u16,
    pub(super) mirrored: bool,
    pub(super) lead: Lead,
}

#[derive(Debug)]
pub(super) struct PixelDraft {
    pub(super) name: At<String>,
    pub(super) slots: Option<Vec<SlotRole>>,
    pub(super) volts: Option<At<f64>>,
    pub(super) idle_ua: Option<u32>,
    pub(super) limit_ua: Option<At<u32>>,
    pub(super) load: Load,
    pub(super) drive: Drive,
}

#[derive(Debug)]
pub(super) struct PanelDraft {
    pub(super) name: At<String>,
    pub(super) pixel: Option<At<String>>,
    pub(super) shape: Option<Shape>,
    pub(super) segments: Option<At<Vec<u32>>>,
    pub(super) switches: u16,
    pub(super) rated_a: Option<f64>,
    pub(super) strip: Option<StripDraft>,
    pub(super) tail: Option<Cable>,
    pub(super) at: Places,
}

/// The copper of a panel's strip.
#[derive(Debug)]
pub(super) struct StripDraft {
    pub(super) ohm_per_m: Option<f64>,
    pub(super) pitch_mm: Option<f64>,
    pub(super) fed: At<Fed>,
}

/// Where the pixels of a panel lie.
#[derive(Debug)]
pub(super) enum Shape {
    Matrix {
        columns: u32,
        rows: u32,
        wiring: Wiring,
        span: Span,
    },
    List {
        pixels: Vec<At<[f64; 2]>>,
        span: Span,
    },
}

impl Shape {
    /// Number of pixels.
    pub(super) fn pixels(&self) -> u64 {
        match self {
            Self::Matrix { columns, rows, .. } => u64::from(*columns) * u64::from(*rows),
            Self::List { pixels, .. } => pixels.len() as u64,
        }
    }

    /// Where it is written.
    pub(super) fn span(&self) -> &Span {
        match self {
            Self::Matrix { span, .. } | Self::List { span, .. } => span,
        }
    }
}

#[derive(Debug)]
pub(super) struct NodeDraft {
    pub(super) name: Option<At<String>>,
    pub(super) address: Option<At<Ipv4Addr>>,
    pub(super) port: u16,
}

#[derive(Debug)]
pub(super) struct RunDraft {
    pub(super) span: Span,
    pub(super) node: Option<At<String>>,
    pub(super) port: Option<At<u16>>,
    pub(super) start: Option<At<PortAddress>>,
    pub(super) slot: u16,
    pub(super) packing: Packing,
    pub(super) source: Option<SourceDraft>,
    pub(super) panels: Places,
    /// In wiring order.
    pub(super) serials: Option<At<Vec<At<String>>>>,
}

/// Where the console's slots for a run lie.
#[derive(Debug, Clone)]
pub(super) struct SourceDraft {
    pub(super) start: At<SourceStart>,
    pub(super) slot: u16,
    pub(super) packing: Packing,
    /// Whether other runs may read the same slots.
    pub(super) shared: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum SourceStart {
    Address(PortAddress),
    /// After the last slot of the run before it in the file.
    Next,
}

#[derive(Debug)]
pub(super) struct CircuitDraft {
    pub(super) name: Option<At<String>>,
    pub(super) volts: Option<f64>,
    pub(super) rated_a: Option<f64>,
}

#[derive(Debug)]
pub(super) struct SupplyDraft {
    pub(super) name: Option<At<String>>,
    pub(super) circuit: Option<At<String>>,
    pub(super) volts: Option<At<f64>>,
    pub(super) rated_a: Option<f64>,
    pub(super) efficiency: Option<f64>,
    pub(super) power_factor: Option<f64>,
    pub(super) short_a: Option<f64>,
    pub(super) sharing: Sharing,
    pub(super) brief: BriefDraft,
}

#[derive(Debug)]
pub(super) struct FeedDraft {
    pub(super) name: Option<At<String>>,
    pub(super) supply: Option<At<String>>,
    pub(super) fuse_a: Option<f64>,
    pub(super) positions: Places,
    pub(super) cables: FeedCables,
    pub(super) brief: BriefDraft,
}

/// The cables of a feed.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct FeedCables {
    pub(super) cable: Option<Cable>,
    pub(super) link: Option<Cable>,
    pub(super) far_cable: Option<Cable>,
}

/// What a feed or a supply may do for a moment.
#[derive(Debug, Clone, Default)]
pub(super) struct BriefDraft {
    pub(super) peak: Option<Peak>,
    pub(super) slew_a_per_s: Option<At<f64>>,
}

#[derive(Debug)]
pub(super) struct SensorDraft {
    pub(super) span: Span,
    pub(super) name: Option<At<String>>,
    pub(super) of: Option<SensorPlace>,
    pub(super) quantity: Quantity,
    pub(super) tolerance_percent: f64,
    pub(super) every_s: f64,
    pub(super) topic: Option<Topic>,
    pub(super) factor: f64,
}

#[derive(Debug)]
pub(super) struct InputDraft {
    pub(super) span: Span,
    pub(super) node: Option<At<String>>,
    pub(super) start: Option<At<PortAddress>>,
    pub(super) slot: u16,
    pub(super) pressed: Pressed,
    pub(super) positions: Places,
}

/// Where each of two listens to Art-Net.
#[derive(Debug)]
pub(super) struct StandbyDraft {
    pub(super) first: At<SocketAddrV4>,
    pub(super) second: At<SocketAddrV4>,
}

#[derive(Debug)]
pub(super) struct PinDraft {
    pub(super) start: Option<At<PortAddress>>,
    pub(super) universes: Option<u16>,
    pub(super) source: Option<At<Ipv4Addr>>,
}

/// Where a sensor sits, as it is written.
#[derive(Debug)]
pub(super) enum SensorPlace {
    Circuit(At<String>),
    Supply(At<String>),
    Feed(At<String>),
    Panel(At<Position>),
}
