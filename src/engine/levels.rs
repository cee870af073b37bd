//! The picture for a screen. The data plane only copies slots; whoever looks paints them, elsewhere.

use super::Engine;
use super::snapshot::Levels;
use crate::floor::model::{Byte, Colour};
use crate::floor::tables::{Part, Pattern, Tables, UNIVERSE_SLOTS};
use crate::units::Time;

/// The slots of all universes that leave, 512 each, from which a picture can be painted.
#[derive(Debug, Clone, Default)]
pub struct Shown {
    /// Revision of the floor that they belong to.
    pub revision: u32,
    /// Milliseconds since the daemon started.
    pub uptime_ms: u32,
    /// As sent.
    pub sent: Vec<u8>,
    /// As asked, likewise.
    pub asked: Vec<u8>,
}

impl Engine {
    /// Bytes of each pixel in [`Self::levels`]: red, green and blue, and white if any pixel of the
    /// floor has it.
    pub fn channels(&self) -> u8 {
        channels(&self.tables)
    }

    /// Copies what is shown now. A `shown` that was used before is not allocated anew.
    pub fn shown(&self, now: Time, shown: &mut Shown) {
        shown.revision = self.revision;
        shown.uptime_ms = u32::try_from(now.0 / 1_000).unwrap_or(u32::MAX);
        shown.sent.clear();
        for out in self.outs() {
            shown.sent.extend_from_slice(self.limiter.leaving(out));
        }
        shown.asked.clear();
        shown.asked.extend_from_slice(self.picture.asked());
    }

    /// Writes the levels of all pixels, [`Self::channels`] bytes each, as sent and as asked. A
    /// colour that a pixel lacks is 0.
    pub fn levels(&self, sent: &mut Vec<u8>, asked: &mut Vec<u8>) {
        let mut shown = Shown::default();
        self.shown(self.started, &mut shown);
        shown.paint(&self.tables, sent, asked);
    }
}

impl Shown {
    /// Paints the picture of a floor with these `tables`, into buffers that are used again.
    ///
    /// # Errors
    /// Gives the buffers back if the slots are not of such a floor.
    pub fn picture(&self, tables: &Tables, mut used: Levels) -> Result<Levels, Levels> {
        let bytes = tables.outputs.len() * UNIVERSE_SLOTS;
        if self.sent.len() != bytes || self.asked.len() != bytes {
            return Err(used);
        }
        used.revision = self.revision;
        used.uptime_ms = self.uptime_ms;
        used.channels = channels(tables);
        self.paint(tables, &mut used.sent, &mut used.asked);
        Ok(used)
    }

    fn paint(&self, tables: &Tables, sent: &mut Vec<u8>, asked: &mut Vec<u8>) {
        let channels = usize::from(channels(tables));
        for (slots, picture) in [(&self.sent, sent), (&self.asked, asked)] {
            picture.clear();
            picture.resize(tables.pixels_mm.len() * channels, 0);
            for (out, slots) in tables
                .outputs
                .iter()
                .zip(slots.chunks_exact(UNIVERSE_SLOTS))
            {
                for part in &out.parts {
                    let pattern = &tables.patterns[usize::from(part.pattern)];
                    let own = &slots[usize::from(part.dst)..][..usize::from(part.len)];
                    paint(part, pattern, channels, own, picture);
                }
            }
        }
    }
}

fn channels(tables: &Tables) -> u8 {
    if tables.has_white() { 4 } else { 3 }
}

/// Puts one part's levels into the picture. Of a 16-bit level the coarse half is shown.
fn paint(part: &Part, pattern: &Pattern, channels: usize, slots: &[u8], picture: &mut [u8]) {
    let stride = pattern.slots.len();
    let phase = usize::from(part.phase);
    let mut pixel = part.first_pixel as usize + phase / stride;
    let mut place = phase % stride;
    for &level in slots {
        let role = pattern.slots[place];
        let channel = match role.colour {
            Colour::Red => 0,
            Colour::Green => 1,
            Colour::Blue => 2,
            Colour::White => 3,
        };
        if !matches!(role.byte, Byte::Fine { .. })
            && let Some(shown) = picture.get_mut(pixel * channels + channel)
        {
            *shown = level;
        }
        place += 1;
        if place == stride {
            place = 0;
            pixel += 1;
        }
    }
}
