//! What was found.

/// Voltages and currents of a whole floor.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Solution {
    /// In the order of the floor's panels.
    pub panels: Vec<PanelState>,
    /// In the order of the feeds.
    pub feeds: Vec<FeedState>,
    /// What each supply gives, in amperes.
    pub supplies_a: Vec<f64>,
}

/// One panel.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct PanelState {
    /// Voltage where power enters it.
    pub input_v: f64,
    /// Voltage at the pixel that has least.
    pub lowest_v: f64,
    /// Which pixel that is, from 0 in wiring order.
    pub lowest_pixel: usize,
    /// What its colours would draw at full voltage, in amperes.
    pub full_a: f64,
    /// What its colours do draw, in amperes.
    pub light_a: f64,
    /// All that it draws, idle current included, in amperes.
    pub drawn_a: f64,
}

/// One fused branch.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct FeedState {
    /// Through its fuse, in amperes.
    pub drawn_a: f64,
    /// Of that through the second cable, in amperes.
    pub far_a: f64,
    /// Heat in its cables, links and tails, in watts.
    pub cables_w: f64,
    /// Heat in the copper of its strips, in watts.
    pub strips_w: f64,
    /// Whether its voltages were found: none is off by more than 0.1 mV.
    pub converged: bool,
    /// No voltage is further off than this, in millivolts.
    pub off_mv: f64,
    /// Steps that the search took.
    pub steps: u32,
}

impl PanelState {
    /// How much of its light is lost for want of voltage, in per cent; nothing if it is dark.
    pub fn lost_percent(&self) -> Option<f64> {
        (self.full_a > 0.0).then(|| ((1.0 - self.light_a / self.full_a) * 100.0).max(0.0))
    }
}

impl Solution {
    /// Whether all voltages were found.
    pub fn converged(&self) -> bool {
        self.feeds.iter().all(|feed| feed.converged)
    }

    /// No voltage of the floor is further off than this, in millivolts.
    pub fn off_mv(&self) -> f64 {
        // Not by `max` alone, which would pass over what is not a number.
        let worse = |worst: f64, off_mv: f64| {
            if off_mv <= worst { worst } else { off_mv }
        };
        self.feeds.iter().map(|feed| feed.off_mv).fold(0.0, worse)
    }
}
