//! A feed as plain resistances, before it is made into a network.

use crate::floor::model::{Fed, Load};

/// One fused branch with all that hangs on it. Every resistance is that of the way out and back,
/// at the temperature that is reckoned with.
#[derive(Debug, Clone, PartialEq)]
pub struct FeedSpec {
    /// Index of its supply.
    pub supply: usize,
    /// What the supply holds at the fuse, whatever it gives.
    pub volts: f64,
    /// From the fuse to the first panel, or to where all panels join; 0 if it is not known.
    pub cable_ohm: f64,
    /// From each panel to the next; nothing: all panels join at the cable's end.
    pub link_ohm: Option<f64>,
    /// A second cable from the fuse to the last panel. Without links it is left out.
    pub far_ohm: Option<f64>,
    /// Whether the floor file describes the cable.
    pub cable_known: bool,
    /// In wiring order.
    pub panels: Vec<PanelSpec>,
}

/// One panel.
#[derive(Debug, Clone, PartialEq)]
pub struct PanelSpec {
    /// Which panel of the floor; each stands in one feed.
    pub panel: usize,
    /// Its first pixel on the floor.
    pub first_pixel: usize,
    /// Number of its pixels.
    pub pixels: usize,
    /// Its own cable; 0 if it has none.
    pub tail_ohm: f64,
    /// Its strip; nothing if it is not known: then all its pixels have the panel's voltage.
    pub strip: Option<StripSpec>,
    /// What its pixels do.
    pub law: Law,
    /// Dark pixels before it, which hang on its wires.
    pub unused_pixels: usize,
}

/// The strip of a panel.
#[derive(Debug, Clone, PartialEq)]
pub struct StripSpec {
    /// Of every piece, one more than there are pixels: before the first pixel, between each and
    /// the next, and behind the last. What lies before or behind all places where power enters is
    /// only there if a pixel is.
    pub section_ohm: Vec<f64>,
    /// Where power enters. All these places have the panel's voltage.
    pub fed: Fed,
}

/// What one pixel does with its voltage.
///
/// Its current never falls when the voltage rises. That is what makes the network's state unique,
/// and the way to it sure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Law {
    pub(super) dark_volts: f64,
    pub(super) per_volt: f64,
    pub(super) most: f64,
    pub(super) idle_siemens: f64,
}

/// The least width of a knee, in volts: a driver does not switch off at one point.
const NARROWEST: f64 = 1e-3;

impl Law {
    /// Of pixels made for `nominal_volts` that draw `idle_a` amperes there when dark. Idle current
    /// goes with the voltage.
    pub fn new(load: Load, nominal_volts: f64, idle_a: f64) -> Self {
        let (dark_volts, full_volts, most) = match load {
            Load::ConstantCurrent {
                dark_volts,
                full_volts,
            } => (dark_volts, full_volts, 1.0),
            Load::Resistive { dark_volts } => (dark_volts, nominal_volts, f64::INFINITY),
        };
        Self {
            dark_volts,
            per_volt: 1.0 / (full_volts - dark_volts).max(NARROWEST),
            most,
            idle_siemens: (idle_a / nominal_volts).max(0.0),
        }
    }

    /// The share of their full current that the colours draw, and by how much it grows with each
    /// volt. At a corner the growth is that of one side.
    pub(super) fn share(self, volts: f64) -> (f64, f64) {
        let share = (volts - self.dark_volts) * self.per_volt;
        if share <= 0.0 {
            (0.0, 0.0)
        } else if share >= self.most {
            (self.most, 0.0)
        } else {
            (share, self.per_volt)
        }
    }
}
