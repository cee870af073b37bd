//! What the file says of voltages, cables, and loads that last for a moment only.

/// How the current of a pixel depends on its voltage.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Load {
    /// A driver keeps the current of each colour until its voltage falls too low.
    ConstantCurrent {
        /// At and below this voltage the colours draw nothing.
        dark_volts: f64,
        /// At and above it they draw their full current; in between it rises evenly.
        full_volts: f64,
    },
    /// LEDs and a resistor: the current rises evenly from nothing at `dark_volts` to the full
    /// current at the nominal voltage, and on.
    Resistive {
        /// At and below this voltage the colours draw nothing.
        dark_volts: f64,
    },
}

impl Load {
    /// The share of their full current that the colours draw at `volts`, for pixels made for
    /// `nominal_volts`. More than 1 for a resistive one above its nominal voltage.
    pub fn share(self, volts: f64, nominal_volts: f64) -> f64 {
        let (dark, full, most) = match self {
            Self::ConstantCurrent {
                dark_volts,
                full_volts,
            } => (dark_volts, full_volts, 1.0),
            Self::Resistive { dark_volts } => (dark_volts, nominal_volts, f64::INFINITY),
        };
        ((volts - dark) / (full - dark)).clamp(0.0, most)
    }
}

/// How a pixel is told what to show.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Drive {
    /// A driver on the strip reads a data wire, from pixel to pixel.
    #[default]
    Addressed,
    /// The controller switches each colour by a wire of its own.
    Analogue,
}

impl Drive {
    /// Each with its word in the floor file.
    pub const ALL: [(&'static str, Self); 2] =
        [("addressed", Self::Addressed), ("analogue", Self::Analogue)];
}

/// The copper of the strip in a kind of panel.
#[derive(Debug, Clone, PartialEq)]
pub struct Strip {
    /// Resistance of one rail at 20 °C, in ohms a metre.
    pub ohm_per_m: f64,
    /// Strip from pixel to pixel in millimetres; nothing: the distance between their centres.
    pub pitch_mm: Option<f64>,
    /// Where power enters it.
    pub fed: Fed,
}

/// Where power enters the strip of a panel.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Fed {
    /// One pitch before its first pixel.
    Start,
    /// One pitch behind its last pixel.
    End,
    /// At both ends.
    Both,
    /// At these pixels, counted from 0 in wiring order, ascending.
    Pixels(Vec<u32>),
}

/// A cable with two equal conductors, out and back.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cable {
    /// One way.
    pub length_m: f64,
    /// What it is made of.
    pub conductor: Conductor,
}

/// The size of a copper conductor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Conductor {
    /// Nominal cross-section in square millimetres.
    Mm2(f64),
    /// American wire gauge.
    Awg(u8),
}

/// What something may carry above its limit for a short time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Peak {
    /// Of the limit, more than 100.
    pub percent: f64,
    /// For so many seconds.
    pub s: f64,
}

/// Who is dimmed when a supply is over its limit.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Sharing {
    /// Every panel on it, by the same factor.
    #[default]
    Alike,
    /// Only the panels that ask for most: max-min fair.
    MaxMin,
}

impl Sharing {
    /// Each with its word in the floor file.
    pub const ALL: [(&'static str, Self); 2] = [("alike", Self::Alike), ("max-min", Self::MaxMin)];
}

/// What the plan reckons with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlanSettings {
    /// The warmest air that cables lie in, in °C.
    pub ambient_c: f64,
    /// Temperature of the copper that voltages are reckoned at, in °C.
    pub copper_c: f64,
    /// How much of the voltage may be lost between a supply and a pixel, in per cent.
    pub drop_percent: f64,
    /// A typical picture's share of full white, 0 to 1.
    pub typical: f64,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn loads_follow_their_laws() {
        // The netlists of the worked ladders: I = 0.0562·min(1, max(0, (V − 9)/1.5)); 9 V and
        // 53.38 Ω, which is 56.2 mA at 12 V; 213.523132 Ω.
        let driver = Load::ConstantCurrent {
            dark_volts: 9.0,
            full_volts: 10.5,
        };
        let resistor = Load::Resistive { dark_volts: 9.0 };
        let plain = Load::Resistive { dark_volts: 0.0 };
        for volts in [0.0_f64, 8.0, 9.0, 9.3, 10.4, 10.5, 11.2, 12.0, 13.0] {
            let knee = 0.0562 * ((volts - 9.0) / 1.5).clamp(0.0, 1.0);
            let led = ((volts - 9.0) / 53.38).max(0.0);
            assert!((0.0562 * driver.share(volts, 12.0) - knee).abs() < 1e-12);
            assert!((0.0562 * resistor.share(volts, 12.0) - led).abs() < 1e-5);
            assert!((0.0562 * plain.share(volts, 12.0) - volts / 213.523_132).abs() < 1e-9);
        }
    }
}
