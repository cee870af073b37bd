//! What a survey lights and weighs: segments, and what each of them draws of what was sent.

use crate::floor::model::Colour;
use crate::floor::tables::UNIVERSE_SLOTS;
use crate::floor::{Floor, Tables};
use crate::health::Item;
use crate::health::joints::items_of;
use crate::pattern::woven::Levels;
use crate::pattern::{Light, Show, Woven};
use crate::power::pixel_limit;
use crate::units::Draw;

/// A pixel's colour that no item stands for.
const NONE: u32 = u32::MAX;

/// The items of a floor, or of some of its panels.
#[derive(Debug, Clone)]
pub struct Items {
    /// By panels, segments and colours.
    pub all: Vec<Item>,
    /// Which item each colour of each pixel belongs to.
    of_pixel: Vec<[u32; Colour::ALL.len()]>,
    /// Whether that colour is lit when its item is.
    lights: Vec<[bool; Colour::ALL.len()]>,
}

impl Items {
    /// The items of the panels that are `wanted`.
    #[expect(
        clippy::cast_possible_truncation,
        reason = "counts are checked by the reader"
    )]
    pub fn new(floor: &Floor, tables: &Tables, wanted: &[bool]) -> Self {
        let mut items = Self {
            all: Vec::new(),
            of_pixel: vec![[NONE; 4]; tables.pixels_mm.len()],
            lights: vec![[false; 4]; tables.pixels_mm.len()],
        };
        for (panel, row) in tables
            .panels
            .iter()
            .enumerate()
            .filter(|(at, _)| wanted[*at])
        {
            let kind = floor.panel_kinds[floor.panels[panel].kind].pixel_kind;
            let has: Vec<Colour> = floor.pixel_kinds[kind].colours().collect();
            for item in items_of(floor, panel) {
                let (own, lit) = match item.colour {
                    Some(colour) => (vec![colour], vec![colour]),
                    None => (has.clone(), Light::White.parts(&has)),
                };
                let at = items.all.len() as u32;
                items.all.push(item);
                for pixel in row.segment(item.segment as usize) {
                    for &colour in &own {
                        items.of_pixel[pixel as usize][colour as usize] = at;
                        items.lights[pixel as usize][colour as usize] = lit.contains(&colour);
                    }
                }
            }
        }
        items
    }

    /// What every pixel shows when items have these levels; all else is dark.
    pub fn weave(&self, levels: &[u8]) -> Vec<Levels> {
        let pixels = self.of_pixel.iter().zip(&self.lights);
        let woven = pixels.map(|(items, lights)| {
            std::array::from_fn(|colour| match items[colour] {
                item if lights[colour] && item != NONE => levels[item as usize],
                _ => 0,
            })
        });
        woven.collect()
    }

    /// That light, with words for people and the panels that it lights.
    pub fn woven(&self, levels: &[u8], words: String) -> Woven {
        let lit = self.all.iter().zip(levels).filter(|(_, level)| **level > 0);
        let mut panels: Vec<usize> = lit.map(|(item, _)| item.panel as usize).collect();
        panels.dedup();
        Woven {
            pixels: self.weave(levels).into(),
            panels,
            words,
        }
    }

    /// What every item draws beyond idle of these slots, 512 for each universe that leaves.
    pub fn amps(&self, tables: &Tables, slots: &[u8]) -> Vec<f64> {
        let mut draws = vec![Draw::ZERO; self.all.len()];
        let (universes, _) = slots.as_chunks::<UNIVERSE_SLOTS>();
        for (output, slots) in tables.outputs.iter().zip(universes) {
            for part in &output.parts {
                let roles = &tables.patterns[usize::from(part.pattern)].slots;
                let levels = &slots[usize::from(part.dst)..][..usize::from(part.len)];
                for (at, &level) in levels.iter().enumerate() {
                    let place = usize::from(part.phase) + at;
                    let pixel = part.first_pixel as usize + place / roles.len();
                    let role = &roles[place % roles.len()];
                    let item = self.of_pixel[pixel][role.colour as usize];
                    if let Some(draw) = draws.get_mut(item as usize) {
                        *draw += Draw(u64::from(level) * role.parts_per_step());
                    }
                }
            }
        }
        draws.into_iter().map(|draw| draw.amps().0).collect()
    }

    /// What every item draws beyond idle when it is lit at `level`. Colours of one pixel that are
    /// items of their own may be held to less together.
    pub fn full_a(&self, tables: &Tables, level: u8) -> Vec<f64> {
        let mut full = vec![0.0; self.all.len()];
        let groups: [Option<Colour>; 5] = std::array::from_fn(|at| Colour::ALL.get(at).copied());
        for group in groups {
            let own = |item: &Item| item.colour == group;
            let levels = self
                .all
                .iter()
                .map(|item| if own(item) { level } else { 0 });
            let levels: Vec<u8> = levels.collect();
            if levels.iter().all(|&level| level == 0) {
                continue;
            }
            let slots = paint(&self.woven(&levels, String::new()), tables);
            for ((full, a), item) in full
                .iter_mut()
                .zip(self.amps(tables, &slots))
                .zip(&self.all)
            {
                if own(item) {
                    *full = a;
                }
            }
        }
        full
    }

    /// For each item whether any of its slots leaves in one of these universes.
    pub fn touched(&self, tables: &Tables, universes: &[bool]) -> Vec<bool> {
        let mut touched = vec![false; self.all.len()];
        for (output, _) in tables.outputs.iter().zip(universes).filter(|(_, is)| **is) {
            for part in &output.parts {
                let roles = &tables.patterns[usize::from(part.pattern)].slots;
                for at in 0..usize::from(part.len) {
                    let place = usize::from(part.phase) + at;
                    let pixel = part.first_pixel as usize + place / roles.len();
                    let colour = roles[place % roles.len()].colour as usize;
                    if let Some(touched) = touched.get_mut(self.of_pixel[pixel][colour] as usize) {
                        *touched = true;
                    }
                }
            }
        }
        touched
    }
}

/// All slots of a light, each pixel within the limit of its kind.
fn paint(light: &Woven, tables: &Tables) -> Vec<u8> {
    let show = Show::woven(light, tables);
    let lit = show.lit(0);
    let mut slots = vec![0; tables.outputs.len() * UNIVERSE_SLOTS];
    for (out, slots) in slots.chunks_exact_mut(UNIVERSE_SLOTS).enumerate() {
        show.paint(tables, &lit, 0, out, slots);
        for part in &tables.outputs[out].parts {
            pixel_limit::hold(part, &tables.patterns[usize::from(part.pattern)], slots);
        }
    }
    slots
}
