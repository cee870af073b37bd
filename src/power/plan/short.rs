//! What a short circuit at the far end of a feed draws, and whether that opens its fuse.

use serde::Serialize;

use super::fuse::Opens;
use crate::floor::model::{Feed, Floor};
use crate::power::network::FeedSpec;
use crate::units::count;

/// Copper is not colder than this under a floor, in °C: it resists least then.
pub const COLD_C: f64 = 20.0;

/// A short circuit behind the longest way that a feed has.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Short {
    /// The panel at whose input it is.
    pub at: String,
    /// Resistance out and back with cold copper.
    pub cold_ohm: f64,
    /// The same with warm copper.
    pub warm_ohm: f64,
    /// Current with cold copper: the most.
    pub cold_a: f64,
    /// Current with warm copper: the least.
    pub warm_a: f64,
    /// What the supply gives into a short circuit.
    pub supply_gives_a: f64,
    /// Whether that is the supply's rating, because the file does not say.
    pub supply_guessed: bool,
    /// What the least current does to the fuse; nothing when the file describes no cable, and so
    /// not the way, unless the supply alone gives too little.
    pub opens: Option<Opens>,
}

impl Short {
    /// Of a feed; `cold` and `warm` are its resistances.
    pub(super) fn of(floor: &Floor, feed: &Feed, cold: &FeedSpec, warm: &FeedSpec) -> Option<Self> {
        let supply = &floor.supplies[feed.supply];
        let supply_gives_a = supply.short_a.unwrap_or(supply.rated_a).0;
        let (at, cold_ohm) = longest(cold)?;
        let (_, warm_ohm) = longest(warm)?;
        // No resistance: as much as the supply gives.
        let current_a = |ohm: f64| (supply.volts.0 / ohm).min(supply_gives_a);
        let warm_a = current_a(warm_ohm);
        let fuse_a = feed.fuse_a.0;
        let opens = if feed.cable.is_some() {
            Some(Opens::with(warm_a, fuse_a))
        } else {
            // A cable only makes it less.
            Some(Opens::with(supply_gives_a, fuse_a)).filter(|most| *most != Opens::Soon)
        };
        Some(Self {
            at: floor.panels[at].position.to_string(),
            cold_ohm,
            warm_ohm,
            cold_a: current_a(cold_ohm),
            warm_a,
            supply_gives_a,
            supply_guessed: supply.short_a.is_none(),
            opens,
        })
    }

    /// Whether it is good only if the supply gives its rating into a short circuit, which the file
    /// does not say.
    pub fn good_by_guess(&self) -> bool {
        self.supply_guessed && self.opens == Some(Opens::Soon)
    }

    /// Whether the supply, not the cables, sets the current.
    pub fn held_by_supply(&self) -> bool {
        self.warm_a >= self.supply_gives_a
    }
}

/// The panel with the most resistance before its strip, and that resistance.
fn longest(feed: &FeedSpec) -> Option<(usize, f64)> {
    let links = feed.panels.len().saturating_sub(1);
    let way_ohm = |at: usize| {
        let Some(link_ohm) = feed.link_ohm else {
            return feed.cable_ohm;
        };
        let from_here = feed.cable_ohm + count(at) * link_ohm;
        let Some(far_ohm) = feed.far_ohm else {
            return from_here;
        };
        let from_there = far_ohm + count(links - at) * link_ohm;
        let both = from_here + from_there;
        if both > 0.0 {
            from_here * from_there / both
        } else {
            0.0
        }
    };
    let ways = feed.panels.iter().enumerate();
    ways.map(|(at, panel)| (panel.panel, way_ohm(at) + panel.tail_ohm))
        .max_by(|one, other| one.1.total_cmp(&other.1))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::floor::model::{Cable, Conductor};
    use crate::floor::testing;
    use crate::units::Amps;

    fn short(floor: &Floor) -> Short {
        let specs = |c| FeedSpec::of_floor(floor, c);
        Short::of(floor, &floor.feeds[0], &specs(20.0)[0], &specs(60.0)[0]).unwrap()
    }

    fn cable(length_m: f64, conductor: Conductor) -> Cable {
        Cable {
            length_m,
            conductor,
        }
    }

    /// Worked: 10 m of 24 AWG (84.22 Ω/km, ASTM B258) is 1.684 Ω out and back, draws 7.1 A from
    /// 12 V and never opens a 10 A fuse.
    #[test]
    fn a_long_thin_cable_hides_a_short_from_its_fuse() {
        let mut floor = testing::floor();
        floor.feeds[0].cable = Some(cable(10.0, Conductor::Awg(24)));
        let short = short(&floor);
        assert_eq!(
            format!("{:.3} {:.1}", short.cold_ohm, short.cold_a),
            "1.684 7.1"
        );
        assert_eq!(
            (short.opens, short.held_by_supply()),
            (Some(Opens::Never), false)
        );
        // Copper at 60 °C resists 15.72 % more (IEC 60028: 0.00393 a kelvin).
        assert!((short.warm_ohm / short.cold_ohm - 1.1572).abs() < 1e-9);
    }

    #[test]
    fn a_supply_that_limits_its_current_hides_one_too() {
        let mut floor = testing::floor();
        floor.supplies[0].rated_a = Amps(12.0);
        let told = short(&floor);
        assert_eq!((told.warm_a, told.opens), (12.0, Some(Opens::Never)));
        assert!(told.held_by_supply() && told.supply_guessed);
        floor.supplies[0].short_a = Some(Amps(60.0));
        // 60 A would open it, but there is no cable in the file, and it may be long.
        assert_eq!((short(&floor).warm_a, short(&floor).opens), (60.0, None));
        floor.feeds[0].cable = Some(cable(1.0, Conductor::Mm2(2.5)));
        let told = short(&floor);
        assert_eq!(told.opens, Some(Opens::Soon));
        assert!(!told.good_by_guess());
        floor.supplies[0].rated_a = Amps(60.0);
        floor.supplies[0].short_a = None;
        assert!(short(&floor).good_by_guess());
    }

    /// By hand: 0.0798 Ω of 5 m of 2.5 mm² (7.98 Ω/km), one link of 1 m of 1.5 mm² (0.0266 Ω), a
    /// far cable like the first: the way to either panel is 0.0798 beside 0.1064 Ω.
    #[test]
    fn a_second_cable_lies_beside_the_first() {
        let mut floor = testing::floor();
        let feed = &mut floor.feeds[0];
        feed.cable = Some(cable(5.0, Conductor::Mm2(2.5)));
        feed.link = Some(cable(1.0, Conductor::Mm2(1.5)));
        let one = short(&floor);
        assert!((one.cold_ohm - 0.1064).abs() < 1e-12 && one.at == "B1");
        floor.feeds[0].far_cable = Some(cable(5.0, Conductor::Mm2(2.5)));
        let both = short(&floor);
        assert!((both.cold_ohm - 0.0798 * 0.1064 / 0.1862).abs() < 1e-12);
    }
}
