//! The voltages of what is being sent, and the currents that come of them, for people to look at.
//!
//! The cap goes by the file's full currents, which are what a floor draws at its nominal voltage. Where
//! cables and strips lose voltage it draws less and gives less light: that is what is found here,
//! beside the frames and some times a second.

use std::sync::Arc;

use serde::Serialize;
use utoipa::ToSchema;

use super::sending::Sending;
use crate::floor::tables::UNIVERSE_SLOTS;
use crate::floor::{Floor, Tables};
use crate::power::network::{Network, PanelState, Work, pixel_currents};

/// A panel that loses at least so much of its light starves: less is hardly seen (our choice).
const STARVES_PERCENT: f64 = 1.0;

/// Panels that are named.
const MOST_NAMED: usize = 16;

/// Voltages and currents of the whole floor. Computed from the cables and strips of the floor file,
/// not measured; where the file says nothing of them, nothing is lost there.
#[derive(Debug, Clone, Default, PartialEq, Serialize, ToSchema)]
pub struct Voltages {
    /// Revision of the floor that they belong to.
    pub revision: u32,
    /// Uptime at which it was sent, in seconds.
    pub uptime_s: f64,
    /// How long it took to find them, in milliseconds.
    pub took_ms: f64,
    /// Whether all were found; no figure is to be trusted if not.
    pub found: bool,
    /// No voltage is further off the solution of the network than this, in millivolts.
    pub off_mv: f64,
    /// In the order of the floor's panels.
    pub panels: PanelVoltages,
    /// In the order of the floor's feeds.
    pub feeds: Vec<FeedVoltages>,
    /// Output amperes of each supply.
    pub supplies_a: Vec<f64>,
    /// Mains amperes of each circuit.
    pub circuits_a: Vec<f64>,
    /// Panels that lose at least one per cent of their light, worst first: the first 16 of them.
    pub starving: Vec<Starving>,
    /// How many there are in all.
    pub starving_panels: u32,
}

/// One list for each figure, in the order of the floor's panels.
#[derive(Debug, Clone, Default, PartialEq, Serialize, ToSchema)]
pub struct PanelVoltages {
    /// Where power enters the panel.
    pub input_v: Vec<f64>,
    /// At the pixel that has least.
    pub lowest_v: Vec<f64>,
    /// Which pixel that is, from 1 in wiring order.
    pub lowest_pixel: Vec<u32>,
    /// Of its light for want of voltage, in per cent; nothing if it is dark.
    pub lost_percent: Vec<Option<f64>>,
    /// What the panel draws at these voltages.
    pub draw_a: Vec<f64>,
}

/// A feed.
#[derive(Debug, Clone, Default, PartialEq, Serialize, ToSchema)]
pub struct FeedVoltages {
    /// Its name in the file.
    pub name: String,
    /// Through its fuse.
    pub draw_a: f64,
    /// Voltage at the pixel behind it that has least.
    pub lowest_v: f64,
    /// Heat in its cables, links and tails.
    pub cables_w: f64,
    /// Heat in the copper of its strips.
    pub strips_w: f64,
}

/// A panel that is darker than it should be.
#[derive(Debug, Clone, Default, PartialEq, Serialize, ToSchema)]
pub struct Starving {
    /// Column letter and row number.
    #[schema(example = "C4")]
    pub position: String,
    /// Name of its feed.
    pub feed: String,
    /// Voltage where power enters it.
    pub input_v: f64,
    /// Voltage at the pixel that has least.
    pub lowest_v: f64,
    /// Which pixel that is, from 1 in wiring order.
    pub lowest_pixel: u32,
    /// Of its light, in per cent.
    pub lost_percent: f64,
}

/// Finds them again and again for one floor.
#[derive(Debug)]
pub struct VoltageFinder {
    floor: Arc<Floor>,
    tables: Arc<Tables>,
    network: Network,
    work: Work,
    pixel_a: Vec<f64>,
}

impl VoltageFinder {
    /// For a floor, with its tables.
    pub fn new(floor: Arc<Floor>, tables: Arc<Tables>) -> Self {
        let network = Network::new(&floor);
        Self {
            work: network.work(),
            pixel_a: vec![0.0; tables.pixels_mm.len()],
            network,
            floor,
            tables,
        }
    }

    /// The voltages while `sending` is on show; `took_ms` is left for whoever has a clock.
    pub fn find(&mut self, sending: &Sending) -> Voltages {
        let slots = sending.slots.chunks(UNIVERSE_SLOTS);
        pixel_currents(&self.tables, slots, &mut self.pixel_a);
        let found = self.network.solve(&self.pixel_a, &mut self.work);
        let mut voltages = Voltages {
            revision: sending.revision,
            uptime_s: sending.uptime_s,
            took_ms: 0.0,
            found: found.converged(),
            off_mv: found.off_mv(),
            supplies_a: found.supplies_a.iter().copied().map(milli).collect(),
            circuits_a: vec![0.0; self.floor.circuits.len()],
            ..Voltages::default()
        };
        for (supply, amps) in self.floor.supplies.iter().zip(&found.supplies_a) {
            let circuit = &self.floor.circuits[supply.circuit];
            voltages.circuits_a[supply.circuit] += amps * supply.mains_per_output(circuit);
        }
        for amps in &mut voltages.circuits_a {
            *amps = milli(*amps);
        }
        for panel in &found.panels {
            voltages.panels.push(panel);
        }
        for (feed, state) in self.floor.feeds.iter().zip(&found.feeds) {
            let lowest = feed
                .panels
                .iter()
                .map(|&panel| found.panels[panel].lowest_v);
            voltages.feeds.push(FeedVoltages {
                name: feed.name.clone(),
                draw_a: milli(state.drawn_a),
                lowest_v: milli(lowest.fold(f64::INFINITY, f64::min)),
                cables_w: milli(state.cables_w),
                strips_w: milli(state.strips_w),
            });
        }
        voltages.name_starving(&self.floor, &found.panels);
        voltages
    }
}

impl PanelVoltages {
    fn push(&mut self, panel: &PanelState) {
        self.input_v.push(milli(panel.input_v));
        self.lowest_v.push(milli(panel.lowest_v));
        self.lowest_pixel.push(pixel_number(panel));
        self.lost_percent.push(panel.lost_percent().map(milli));
        self.draw_a.push(milli(panel.drawn_a));
    }
}

impl Voltages {
    fn name_starving(&mut self, floor: &Floor, found: &[PanelState]) {
        let lost = |panel: &PanelState| panel.lost_percent().unwrap_or(0.0);
        let panels = floor.panels.iter().zip(found);
        let mut starving: Vec<_> = panels
            .filter(|(_, found)| lost(found) >= STARVES_PERCENT)
            .collect();
        starving.sort_by(|(_, a), (_, b)| lost(b).total_cmp(&lost(a)));
        self.starving_panels = u32::try_from(starving.len()).unwrap_or(u32::MAX);
        let named = starving.into_iter().take(MOST_NAMED);
        self.starving = named
            .map(|(panel, found)| Starving {
                position: panel.position.to_string(),
                feed: floor.feeds[panel.feed].name.clone(),
                input_v: milli(found.input_v),
                lowest_v: milli(found.lowest_v),
                lowest_pixel: pixel_number(found),
                lost_percent: milli(lost(found)),
            })
            .collect();
    }
}

fn pixel_number(panel: &PanelState) -> u32 {
    u32::try_from(panel.lowest_pixel + 1).unwrap_or(u32::MAX)
}

/// Rounded to a thousandth; what can't be written as JSON becomes 0.
fn milli(value: f64) -> f64 {
    let rounded = (value * 1e3).round() / 1e3;
    // And minus nothing is nothing.
    if rounded.is_finite() {
        rounded + 0.0
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::floor::parse;

    /// Two panels of 40 pixels on one feed each: the worked feed of 5 m, and one without copper.
    const FLOOR: &str = r#"
name = "Two"
[grid]
columns = 2
rows = 1
panel_mm = [500, 500]
panel = "square"
[plan]
copper_c = 20
[pixel.one]
slots = "RGB"
volts = 12
full_ma = { red = 18.733, green = 18.733, blue = 18.734 }
idle_ma = 0
dark_volts = 9
full_volts = 10.5
[panel.square]
pixel = "one"
columns = 8
rows = 5
strip = { ohm_per_m = 0.5, pitch_mm = 50, fed = [1] }
[[run]]
start = "0:0:0"
panels = ["A1", "B1"]
[[circuit]]
name = "mains"
volts = 230
rated_a = 16
[[supply]]
name = "supply"
circuit = "mains"
volts = 12
rated_a = 20
efficiency = 0.88
power_factor = 0.95
[[feed]]
name = "long"
supply = "supply"
fuse_a = 5
positions = ["A1"]
cable = { length_m = 5, mm2 = 2.5 }
[[feed]]
name = "near"
supply = "supply"
fuse_a = 5
positions = ["B1"]
"#;

    fn finder() -> VoltageFinder {
        let floor = parse("two.toml", FLOOR).unwrap_or_else(|faults| panic!("{faults}"));
        let tables = Arc::new(Tables::compile(&floor));
        VoltageFinder::new(Arc::new(floor), tables)
    }

    fn sending(fill: impl Fn(usize) -> u8) -> Sending {
        Sending {
            revision: 3,
            uptime_s: 7.5,
            slots: (0..UNIVERSE_SLOTS).map(fill).collect(),
        }
    }

    #[test]
    fn the_worked_feed_has_its_voltages_and_the_other_its_own() {
        // 5 m of 2.5 mm² (IEC 60228 class 5: 0.0399 Ω a leg at 20 °C), 40 groups of 56.2 mA,
        // 0.025 Ω a leg from group to group, knee from 9 to 10.5 V: 10.037653995 V at the last
        // group, run in ngspice 39.
        let mut finder = finder();
        let found = finder.find(&sending(|slot| if slot < 120 { 255 } else { 0 }));
        assert!(found.found && found.off_mv < 0.1, "{found:?}");
        assert_eq!((found.revision, found.panels.lowest_pixel[0]), (3, 40));
        assert!(
            (found.panels.lowest_v[0] - 10.037_653_995).abs() < 6e-4,
            "{found:?}"
        );
        let lost = found.panels.lost_percent[0].unwrap();
        // The light that is left is the current that is left.
        let left = found.panels.draw_a[0] / (40.0 * 0.0562);
        assert!((lost - (1.0 - left) * 100.0).abs() < 0.1, "{lost} {left}");
        assert_eq!(found.starving.len(), 1);
        assert_eq!(
            (found.starving_panels, &*found.starving[0].position),
            (1, "A1")
        );
        assert_eq!(found.starving[0].feed, "long");
        // The second is dark.
        assert_eq!(found.panels.lost_percent[1], None);
        assert!((found.panels.lowest_v[1] - 12.0).abs() < 1e-9);
        // I = P / (V · power factor · efficiency).
        let mains = found.supplies_a[0] * 12.0 / (230.0 * 0.95 * 0.88);
        assert!((found.circuits_a[0] - mains).abs() < 1e-3);
        assert!((found.feeds[0].draw_a - found.supplies_a[0]).abs() < 2e-3);
    }

    #[test]
    fn what_is_sent_next_is_found_next() {
        let mut finder = finder();
        for level in [255, 0, 128] {
            let found = finder.find(&sending(|_| level));
            let dark = found.panels.draw_a[0] < 1e-9;
            assert_eq!(dark, level == 0);
            assert_eq!(
                found.starving_panels == 0,
                level == 0 || level == 128,
                "{level}"
            );
        }
    }
}
