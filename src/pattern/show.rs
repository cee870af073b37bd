//! A pattern looked up on a floor, ready to be shown.

use std::ops::Range;
use std::sync::Arc;

use super::blink::SLOT_MS;
use super::choose;
use super::order::{LEAST_STEP_MS, MOST_STEP_MS, Pace, Start, TestPattern};
use super::paint::{self, Lit};
use super::refused::Refused;
use super::scenes::{self, Scene, Signs};
use super::woven::{self, Levels, Woven};
use crate::floor::Floor;
use crate::floor::tables::Tables;

/// A pattern looked up on a floor. Times are milliseconds since it began.
#[derive(Debug, Clone)]
pub struct Show {
    covered: Vec<bool>,
    pace: Pace,
    scenes: Vec<Scene>,
    signs: Signs,
    pixels: usize,
    /// For each scene, the bytes of a lit pixel of each kind.
    bytes: Vec<Vec<Vec<u8>>>,
    /// For each scene, pixels that have bytes of their own.
    tones: Vec<Vec<(Range<u32>, Vec<u8>)>>,
    shade: String,
    /// What every pixel shows, if that was told pixel by pixel.
    woven: Option<Arc<[Levels]>>,
}

impl Show {
    /// A light that was told pixel by pixel. It covers the whole floor.
    pub fn woven(light: &Woven, tables: &Tables) -> Self {
        let scene = Scene {
            name: light.words.clone(),
            panels: light.panels.clone(),
            ..Scene::default()
        };
        Self {
            covered: vec![true; tables.panels.len()],
            pace: Pace::Held(0),
            scenes: vec![scene],
            signs: Vec::new(),
            pixels: tables.pixels_mm.len(),
            bytes: vec![Vec::new()],
            tones: vec![Vec::new()],
            shade: String::new(),
            woven: Some(Arc::clone(&light.pixels)),
        }
    }

    /// Looks up what `start` names.
    ///
    /// # Errors
    /// Says what is unknown or out of bounds, and what would do.
    pub fn new(start: &Start, floor: &Floor, tables: &Tables) -> Result<Self, Refused> {
        let covered = choose::covered(floor, &start.cover)?;
        let (mut scenes, signs) = match start.pattern {
            TestPattern::Labels => scenes::labels(floor, tables, &covered),
            _ => (
                scenes::of(&start.pattern, floor, tables, &covered)?,
                Vec::new(),
            ),
        };
        scenes.retain(|scene| !scene.panels.is_empty());
        if scenes.is_empty() {
            let text = "The pattern would light nothing of the panels that it covers: cover more, \
                        or choose another.";
            return Err(Refused::new("lights_nothing", text));
        }
        let pace = start.pattern.pace().unwrap_or(Pace::Held(0));
        check(pace, scenes.len())?;
        let bytes_of = |scene: &Scene| {
            let kinds = tables.patterns.iter();
            kinds
                .map(|kind| {
                    let bytes = paint::lit_pixel(kind, scene.only, start.colour, start.level);
                    paint::halves(kind, bytes, scene.coarse)
                })
                .collect()
        };
        let per_cent = (u32::from(start.level) * 100 + 127) / 255;
        let shade = match start.pattern {
            TestPattern::Colours { .. } | TestPattern::Mark { .. } => format!(" at {per_cent} %"),
            _ => format!(", {} at {per_cent} %", start.colour.name()),
        };
        let toned = |scene: &Scene| {
            let tones = scene.tones.iter().map(|(range, colour)| {
                let panel = scene.panels.first().copied().unwrap_or_default();
                let kind = &floor.panel_kinds[floor.panels[panel].kind];
                let kind = &tables.patterns[kind.pixel_kind];
                let bytes = paint::lit_pixel(kind, Some(*colour), start.colour, start.level);
                (range.clone(), paint::halves(kind, bytes, scene.coarse))
            });
            tones.collect()
        };
        Ok(Self {
            tones: scenes.iter().map(toned).collect(),
            bytes: scenes.iter().map(bytes_of).collect(),
            pixels: tables.pixels_mm.len(),
            covered,
            pace,
            scenes,
            signs,
            shade,
            woven: None,
        })
    }

    /// Whether a panel of the floor is covered.
    pub fn covers(&self, panel: usize) -> bool {
        self.covered[panel]
    }

    /// Number of panels that are covered.
    pub fn covered(&self) -> usize {
        self.covered.iter().filter(|&&covered| covered).count()
    }

    /// Number of its steps; 1 if it has none.
    pub const fn steps(&self) -> usize {
        self.scenes.len()
    }

    /// Whether it stays at its step until it is told to go on.
    pub const fn is_held(&self) -> bool {
        matches!(self.pace, Pace::Held(_))
    }

    /// The step that is shown, from 0.
    pub fn step(&self, ms: u64) -> usize {
        let at = match self.pace {
            Pace::Held(step) => u64::from(step),
            Pace::StepMs(step_ms) => ms / u64::from(step_ms),
        };
        usize::try_from(at % self.scenes.len() as u64).unwrap_or_default()
    }

    /// Goes `by` steps on (negative: back), round the ends, and stays there.
    pub fn go(&mut self, by: i32, ms: u64) {
        let steps = i64::try_from(self.scenes.len()).unwrap_or(i64::MAX);
        let now = i64::try_from(self.step(ms)).unwrap_or_default();
        let to = (now + i64::from(by)).rem_euclid(steps);
        self.pace = Pace::Held(u32::try_from(to).unwrap_or_default());
    }

    /// Goes to a step, from 0, and stays there.
    ///
    /// # Errors
    /// Says how many steps there are.
    pub fn go_to(&mut self, step: u32) -> Result<(), Refused> {
        check(Pace::Held(step), self.scenes.len())?;
        self.pace = Pace::Held(step);
        Ok(())
    }

    /// What is shown, for people: `Panel C4 alone, white at 50 %`.
    pub fn words(&self, ms: u64) -> String {
        format!("{}{}", self.scenes[self.step(ms)].name, self.shade)
    }

    /// Panels that have a lit pixel. While labels blink, those are all that are covered.
    pub fn panels(&self, ms: u64) -> &[usize] {
        &self.scenes[self.step(ms)].panels
    }

    /// The pixels that are lit.
    pub fn lit(&self, ms: u64) -> Lit {
        if let Some(pixels) = &self.woven {
            return Lit {
                pixels: pixels.iter().map(|levels| *levels != [0; 4]).collect(),
                only: None,
            };
        }
        let scene = &self.scenes[self.step(ms)];
        let mut lit = vec![false; self.pixels];
        let signs = self.signs.iter();
        let figures = signs.filter_map(|(sign, figures)| figures.get(sign.at(ms)?));
        for range in scene.lit.iter().chain(figures.flatten()) {
            lit[range.start as usize..range.end as usize].fill(true);
        }
        Lit {
            pixels: lit,
            only: scene.only,
        }
    }

    /// When the picture changes next by itself, later than `ms`; nothing if it does not. (It may
    /// turn out to be the same: signs are looked at slot by slot.)
    pub fn next_change_ms(&self, ms: u64) -> Option<u64> {
        let every = match self.pace {
            Pace::StepMs(step_ms) if self.scenes.len() > 1 => u64::from(step_ms),
            _ if !self.signs.is_empty() => SLOT_MS,
            _ => return None,
        };
        Some((ms / every + 1) * every)
    }

    /// Lays the pattern over the 512 slots of a universe that leaves: what is covered, and nothing
    /// else. `lit` is what [`Self::lit`] gave for `ms`.
    pub fn paint(&self, tables: &Tables, lit: &Lit, ms: u64, out: usize, slots: &mut [u8]) {
        if let Some(pixels) = &self.woven {
            return woven::write(tables, out, pixels, slots);
        }
        let step = self.step(ms);
        let bytes = paint::Bytes {
            of_kind: &self.bytes[step],
            own: &self.tones[step],
        };
        paint::write(tables, out, &self.covered, lit, bytes, slots);
    }
}

/// Whether a pace is within bounds.
fn check(pace: Pace, steps: usize) -> Result<(), Refused> {
    match pace {
        Pace::StepMs(ms) if !(LEAST_STEP_MS..=MOST_STEP_MS).contains(&ms) => Err(Refused::new(
            "pace_out_of_bounds",
            format!(
                "A step lasts {LEAST_STEP_MS} to {MOST_STEP_MS} ms, not {ms}: shorter ones would \
                 flash too fast for whoever looks at it."
            ),
        )),
        Pace::Held(step) if step as usize >= steps => Err(Refused::new(
            "no_such_step",
            format!(
                "There is no step {step}: the pattern has steps 0 to {}.",
                steps - 1
            ),
        )),
        _ => Ok(()),
    }
}
