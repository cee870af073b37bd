//! From the floor file to resistances.

use super::Network;
use super::spec::{FeedSpec, Law, PanelSpec, StripSpec};
use crate::floor::model::{Cable, Feed, Floor, PanelKind, Strip};
use crate::power::copper::{ohm_per_m, warmed};

impl Network {
    /// The networks of a floor, with its copper as warm as its plan says.
    pub fn new(floor: &Floor) -> Self {
        Self::from_feeds(&FeedSpec::of_floor(floor, floor.plan.copper_c))
    }
}

impl FeedSpec {
    /// Every feed of a floor, with all copper at `copper_c` °C: cables and strips alike.
    pub fn of_floor(floor: &Floor, copper_c: f64) -> Vec<Self> {
        let first_pixels: Vec<usize> = floor
            .panels
            .iter()
            .scan(0, |pixels, panel| {
                let first = *pixels;
                *pixels += floor.panel_kinds[panel.kind].pixels_mm.len();
                Some(first)
            })
            .collect();
        let feed = |feed: &Feed| Self {
            supply: feed.supply,
            volts: floor.supplies[feed.supply].volts.0,
            cable_ohm: feed.cable.map_or(0.0, |cable| loop_ohm(cable, copper_c)),
            link_ohm: feed.link.map(|cable| loop_ohm(cable, copper_c)),
            far_ohm: feed.far_cable.map(|cable| loop_ohm(cable, copper_c)),
            cable_known: feed.cable.is_some(),
            panels: feed
                .panels
                .iter()
                .map(|panel| PanelSpec::of_floor(floor, *panel, first_pixels[*panel], copper_c))
                .collect(),
        };
        floor.feeds.iter().map(feed).collect()
    }
}

impl PanelSpec {
    fn of_floor(floor: &Floor, panel: usize, first_pixel: usize, copper_c: f64) -> Self {
        let kind = &floor.panel_kinds[floor.panels[panel].kind];
        let pixel = &floor.pixel_kinds[kind.pixel_kind];
        let strip = kind.strip.as_ref();
        Self {
            panel,
            first_pixel,
            pixels: kind.pixels_mm.len(),
            tail_ohm: kind.tail.map_or(0.0, |tail| loop_ohm(tail, copper_c)),
            strip: strip.map(|strip| StripSpec::of_kind(kind, strip, copper_c)),
            law: Law::new(pixel.load, pixel.volts.0, f64::from(pixel.idle_ua) / 1e6),
            unused_pixels: floor.panels[panel].lead.unused_pixels.into(),
        }
    }
}

impl StripSpec {
    /// The strip of a kind of panel with its copper at `copper_c` °C.
    ///
    /// Where the file gives no pitch, each piece is as long as the distance between its pixels,
    /// and the pieces before the first and behind the last are as long as those beside them.
    pub fn of_kind(kind: &PanelKind, strip: &Strip, copper_c: f64) -> Self {
        let pixels = &kind.pixels_mm;
        let between = |pair: &[[f64; 2]]| {
            strip.pitch_mm.unwrap_or_else(|| {
                let [[x0, y0], [x1, y1]] = [pair[0], pair[1]];
                (x1 - x0).hypot(y1 - y0)
            })
        };
        let mut pieces_mm: Vec<f64> = pixels.windows(2).map(between).collect();
        let alone = strip.pitch_mm.unwrap_or(0.0);
        let first = pieces_mm.first().copied().unwrap_or(alone);
        let last = pieces_mm.last().copied().unwrap_or(alone);
        pieces_mm.insert(0, first);
        pieces_mm.push(last);
        let both_rails = 2.0 * warmed(strip.ohm_per_m, copper_c) / 1_000.0;
        Self {
            section_ohm: pieces_mm.iter().map(|mm| mm * both_rails).collect(),
            fed: strip.fed.clone(),
        }
    }

    /// Resistance from the first pixel to the last, out and back.
    #[cfg(test)]
    fn whole_ohm(&self) -> f64 {
        let inner = self.section_ohm.len().saturating_sub(1).max(1);
        self.section_ohm[1..inner].iter().sum()
    }
}

/// Out and back.
fn loop_ohm(cable: Cable, copper_c: f64) -> f64 {
    2.0 * cable.length_m * ohm_per_m(cable.conductor, copper_c)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::floor::model::{Conductor, Fed, Lead};
    use crate::floor::tables::Tables;
    use crate::floor::testing;
    use crate::units::count;

    #[test]
    fn what_the_file_says_becomes_ohms() {
        let mut floor = testing::floor();
        let cable = Cable {
            length_m: 5.0,
            conductor: Conductor::Mm2(2.5),
        };
        floor.feeds[0].cable = Some(cable);
        floor.feeds[0].panels = vec![1, 0];
        floor.panels[0].lead = Lead {
            unused_pixels: 2,
            ..Lead::default()
        };
        floor.panel_kinds[0].strip = Some(Strip {
            ohm_per_m: 0.1,
            pitch_mm: None,
            fed: Fed::Start,
        });
        let feeds = FeedSpec::of_floor(&floor, 20.0);
        // 5 m of 2.5 mm², IEC 60228 class 5: 7.98 Ω/km, out and back.
        assert!((feeds[0].cable_ohm - 0.0798).abs() < 1e-12);
        assert!(feeds[0].cable_known && !feeds[1].cable_known);
        // In the order of the feed; pixels are counted in the order of the floor.
        let panels: Vec<_> = feeds[0]
            .panels
            .iter()
            .map(|p| (p.panel, p.first_pixel))
            .collect();
        assert_eq!(panels, [(1, 4), (0, 0)]);
        assert_eq!(feeds[0].panels[1].unused_pixels, 2);
        // Pixels 200 mm apart on 0.1 Ω/m: 40 mΩ out and back, five pieces.
        let strip = feeds[0].panels[0].strip.clone().unwrap();
        assert_eq!(strip.section_ohm.len(), 5);
        assert!(
            strip
                .section_ohm
                .iter()
                .all(|ohm| (ohm - 0.04).abs() < 1e-12)
        );
        assert!((strip.whole_ohm() - 0.12).abs() < 1e-12);
        // At 60 °C by 0.00393 a kelvin: 15.72 % more.
        let warm = FeedSpec::of_floor(&floor, 60.0);
        assert!((warm[0].cable_ohm - 0.0798 * 1.1572).abs() < 1e-12);
        assert!(feeds[1].panels[0].strip.is_none());
    }

    #[test]
    fn without_resistances_a_floor_draws_what_its_tables_say() {
        // The exact sums of the cap, full white and dark, are the reference.
        let floor = testing::floor();
        let tables = Tables::compile(&floor);
        let network = Network::new(&floor);
        let mut work = network.work();
        let mut pixel_a = vec![0.0; tables.pixels_mm.len()];
        let full = vec![[255_u8; 512]; tables.outputs.len()];
        super::super::pixel_currents(
            &tables,
            full.iter().map(<[u8; 512]>::as_slice),
            &mut pixel_a,
        );
        let white = network.solve(&pixel_a, &mut work).clone();
        pixel_a.fill(0.0);
        let dark = network.solve(&pixel_a, &mut work);
        for (panel, row) in tables.panels.iter().enumerate() {
            let idle = row.idle.amps().0;
            assert!((dark.panels[panel].drawn_a - idle).abs() < 1e-12);
            let both = idle + row.full.amps().0;
            assert!((white.panels[panel].drawn_a - both).abs() < 1e-12);
            assert_eq!(white.panels[panel].lost_percent(), Some(0.0));
        }
        assert!(
            network
                .unknown()
                .iter()
                .all(|unknown| unknown.cable && unknown.strip)
        );
    }

    #[test]
    fn the_demo_floor_starves_where_it_is_wired_thinly_and_never_gains() {
        let floor = testing::demo();
        let network = Network::new(&floor);
        let pixels: usize = FeedSpec::of_floor(&floor, 20.0)
            .iter()
            .flat_map(|feed| &feed.panels)
            .map(|panel| panel.pixels)
            .sum();
        assert_eq!(pixels, Tables::compile(&floor).pixels_mm.len());
        // 18.5 mA a colour: full white of every pixel.
        let mut work = network.work();
        let solution = network.solve(&vec![0.0555; pixels], &mut work);
        assert!(solution.converged(), "{}", solution.off_mv());
        for panel in &solution.panels {
            assert!(panel.lowest_v <= panel.input_v && panel.input_v <= 12.0);
            assert!(panel.light_a <= panel.full_a + 1e-12);
        }
        let watts: f64 = solution
            .feeds
            .iter()
            .map(|feed| feed.cables_w + feed.strips_w)
            .sum();
        assert!(watts > 0.0 && count(pixels) * 0.0555 * 12.0 > watts);
    }
}
