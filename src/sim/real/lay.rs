//! A real floor put together: cables, links, tails, strips and their pixels.

use std::collections::HashMap;

use super::{Data, Light, PanelParts, Pixel, Real, Scatter};
use crate::floor::model::{Byte, Cable, Conductor, Fed, Floor, Packing, PixelKind, SlotRole};
use crate::sim::link::Chance;
use crate::sim::walk::Walk;
use crate::sim::wires::{Joint, Wires};
use crate::wire::PortAddress;

/// Ohm·mm² of a metre of copper at 20 °C (IEC 60028: 1/58), and what a degree adds.
const COPPER: f64 = 1.0 / 58.0;
const PER_DEGREE: f64 = 0.00393;

/// Ohms of a cable, out and back, at `celsius`.
fn ohm(cable: &Cable, celsius: f64) -> f64 {
    let mm2 = match cable.conductor {
        Conductor::Mm2(mm2) => mm2,
        // ASTM B258: 0.127 mm × 92^((36 − n)/39) across.
        Conductor::Awg(gauge) => {
            let across = 0.127 * 92_f64.powf((36.0 - f64::from(gauge)) / 39.0);
            std::f64::consts::PI / 4.0 * across * across
        }
    };
    2.0 * cable.length_m * COPPER / mm2 * (1.0 + PER_DEGREE * (celsius - 20.0))
}

/// Where a panel's cables end, and what brought power there.
#[derive(Debug, Clone, Copy, Default)]
struct End {
    point: usize,
    link: Option<(Joint, f64)>,
}

pub(super) fn lay(floor: &Floor, chance: &mut Chance, scatter: impl Fn(usize) -> Scatter) -> Real {
    let mut real = Real {
        universes: Vec::new(),
        pixels: Vec::new(),
        at_point: Vec::new(),
        wires: Wires::default(),
        panels: Vec::new(),
        supply_of_feed: floor.feeds.iter().map(|feed| feed.supply).collect(),
        mains: (floor.supplies.iter())
            .map(|supply| {
                let circuit = floor.circuits[supply.circuit].volts.0;
                let into = circuit * supply.efficiency * supply.power_factor;
                (supply.circuit, supply.volts.0 / into)
            })
            .collect(),
        circuits: floor.circuits.len(),
    };
    let ends = real.lay_cables(floor);
    real.solder(floor, &ends, chance, scatter);
    real.at_point = vec![Vec::new(); real.wires.len()];
    for (at, pixel) in real.pixels.iter().enumerate() {
        real.at_point[pixel.point].push(at);
    }
    real
}

impl Real {
    /// Joins two points and remembers with how many ohms.
    fn join(&mut self, a: usize, b: usize, ohm: f64) -> (Joint, f64) {
        (self.wires.join(a, b, ohm), ohm)
    }

    /// From every fuse to the end of every panel's tail; gives those ends.
    fn lay_cables(&mut self, floor: &Floor) -> Vec<End> {
        let celsius = floor.plan.copper_c;
        let of = |cable: Option<&Cable>| cable.map_or(0.0, |cable| ohm(cable, celsius));
        let mut ends = vec![End::default(); floor.panels.len()];
        let supplies = floor.supplies.iter();
        let sources: Vec<usize> = supplies.map(|s| self.wires.source(s.volts.0)).collect();
        for feed in &floor.feeds {
            let (source, volts) = (sources[feed.supply], floor.supplies[feed.supply].volts.0);
            let first = self.wires.point(volts);
            let cable = self.join(source, first, of(feed.cable.as_ref()));
            let mut at = first;
            for (number, &panel) in feed.panels.iter().enumerate() {
                let mut link = None;
                if number == 0 {
                    link = Some(cable);
                } else if let Some(cable) = &feed.link {
                    let next = self.wires.point(volts);
                    link = Some(self.join(at, next, ohm(cable, celsius)));
                    at = next;
                }
                let kind = &floor.panel_kinds[floor.panels[panel].kind];
                let point = self.wires.point(volts);
                let tail = self.join(at, point, of(kind.tail.as_ref()));
                let link = link.or(Some(tail));
                ends[panel] = End { point, link };
            }
            if let (Some(far), true) = (&feed.far_cable, at != first) {
                self.join(source, at, ohm(far, celsius));
            }
        }
        ends
    }

    /// The strips and their pixels.
    fn solder(
        &mut self,
        floor: &Floor,
        ends: &[End],
        chance: &mut Chance,
        scatter: impl Fn(usize) -> Scatter,
    ) {
        let mut index = HashMap::new();
        let mut parts: Vec<Option<PanelParts>> = vec![None; floor.panels.len()];
        for run in &floor.runs {
            let mut walk = Walk::from(run.start, run.slot);
            let packed = run.packing == Packing::Packed;
            for &panel in &run.panels {
                let kind = &floor.panel_kinds[floor.panels[panel].kind];
                let pixel_kind = &floor.pixel_kinds[kind.pixel_kind];
                let per_pixel = pixel_kind.slots.len();
                let feed = floor.panels[panel].feed;
                let scatter = scatter(floor.feeds[feed].supply);
                let points = self.strip_points(floor, panel);
                let lead = floor.panels[panel].lead;
                let unused = usize::from(lead.unused_pixels);
                walk.pass(usize::from(lead.spare_slots - lead.spare_behind));
                let first = self.pixels.len() + unused;
                for pixel in 0..unused + points.len() {
                    if pixel == unused {
                        walk.pass(lead.spare_behind.into());
                        if run.packing == Packing::WholePanel {
                            walk.make_room(per_pixel * points.len());
                        }
                    }
                    let places = walk.pixel(per_pixel, packed);
                    let slots = places.into_iter().filter_map(|(universe, slot)| {
                        let address = PortAddress::new(universe)?;
                        let universes = &mut self.universes;
                        let at = *index.entry((run.node, address)).or_insert_with(|| {
                            universes.push((run.node, address));
                            universes.len() - 1
                        });
                        Some((at, slot))
                    });
                    let slots: Vec<_> = slots.collect();
                    let own = scatter.own * (2.0 * chance.share() - 1.0);
                    // Unused pixels hang on the wires that lead to the panel.
                    let on_strip = pixel.checked_sub(unused);
                    self.pixels.push(Pixel {
                        point: on_strip.map_or(ends[panel].point, |at| points[at]),
                        volts: pixel_kind.volts.0,
                        idle_a: f64::from(pixel_kind.idle_ua) / 1e6,
                        load: pixel_kind.load,
                        lights: lights(pixel_kind, &slots, 1.0 + scatter.reel + own),
                        dead: false,
                        whole: 1.0,
                        stuck: None,
                        data: Data::Arrives,
                        panel,
                    });
                }
                let mut segments = vec![first];
                let mut next = first;
                for &pixels in &kind.segments {
                    next += pixels as usize;
                    segments.push(next);
                }
                let link = ends[panel].link.expect("every panel is on a feed");
                let mut part = PanelParts {
                    feed,
                    supply: vec![None; segments.len()],
                    segments,
                    run_ends: 0,
                    fed_at: Vec::new(),
                    link,
                };
                self.feed_strip(floor, panel, ends[panel].point, &points, &mut part);
                parts[panel] = Some(part);
            }
            for &panel in &run.panels {
                if let Some(part) = &mut parts[panel] {
                    part.run_ends = self.pixels.len();
                }
            }
        }
        let parts = parts.into_iter();
        self.panels = parts
            .map(|part| part.expect("every panel is in a run"))
            .collect();
    }

    /// A point of the wires for each pixel; where the file says nothing of the strip, one for each
    /// segment.
    fn strip_points(&mut self, floor: &Floor, panel: usize) -> Vec<usize> {
        let kind = &floor.panel_kinds[floor.panels[panel].kind];
        let volts = floor.pixel_kinds[kind.pixel_kind].volts.0;
        if kind.strip.is_some() {
            let pixels = kind.pixels_mm.iter();
            return pixels.map(|_| self.wires.point(volts)).collect();
        }
        let segments = kind.segments.iter();
        let points = segments.flat_map(|&pixels| vec![self.wires.point(volts); pixels as usize]);
        points.collect()
    }

    /// Rails from pixel to pixel, and the wires that feed them. A strip that the file does not
    /// describe is fed at its start and has no resistance worth the name.
    fn feed_strip(
        &mut self,
        floor: &Floor,
        panel: usize,
        end: usize,
        points: &[usize],
        part: &mut PanelParts,
    ) {
        let kind = &floor.panel_kinds[floor.panels[panel].kind];
        let heat = 1.0 + PER_DEGREE * (floor.plan.copper_c - 20.0);
        let piece = kind.strip.as_ref().map_or(0.0, |strip| {
            2.0 * strip.ohm_per_m * heat * strip.pitch_mm.unwrap_or(50.0) / 1e3
        });
        let begins: Vec<usize> = (part.segments.iter())
            .map(|at| at - part.segments[0])
            .collect();
        for at in 1..points.len() {
            if points[at] == points[at - 1] {
                continue;
            }
            let joint = self.join(points[at - 1], points[at], piece);
            if let Some(segment) = begins.iter().position(|begin| *begin == at) {
                part.supply[segment] = Some(joint);
            }
        }
        let last = points.len() - 1;
        let fed: Vec<(usize, f64)> = match kind.strip.as_ref().map(|strip| &strip.fed) {
            None | Some(Fed::Start) => vec![(0, piece)],
            Some(Fed::End) => vec![(last, piece)],
            Some(Fed::Both) => vec![(0, piece), (last, piece)],
            Some(Fed::Pixels(pixels)) => pixels.iter().map(|&at| (at as usize, 0.0)).collect(),
        };
        for (at, ohm) in fed {
            let joint = self.join(end, points[at], ohm);
            let segment = begins.iter().rposition(|begin| *begin <= at).unwrap_or(0);
            part.fed_at.push(segment);
            if at == 0 {
                part.supply[0] = Some(joint);
            } else if at == last {
                let behind = part.supply.len() - 1;
                part.supply[behind] = Some(joint);
            }
        }
    }
}

/// The colours of one pixel, each `factor` times what the file says.
fn lights(kind: &PixelKind, slots: &[(usize, usize)], factor: f64) -> Vec<Light> {
    let roles = kind.slots.iter().zip(slots).enumerate();
    let light = |(at, (role, &coarse)): (usize, (&SlotRole, &(usize, usize)))| {
        let fine = match role.byte {
            Byte::Whole => None,
            Byte::Coarse { partner } => {
                Some(*slots.get(at.checked_add_signed(isize::from(partner))?)?)
            }
            Byte::Fine { .. } => return None,
        };
        Some(Light {
            colour: role.colour,
            full_a: f64::from(role.full_ua) / 1e6 * factor,
            coarse,
            fine,
            out: false,
            told: 0.0,
        })
    };
    roles.filter_map(light).collect()
}
