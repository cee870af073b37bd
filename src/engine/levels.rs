//! The picture for a screen: the level of every colour of every pixel, as it stands in its slot.

use super::Engine;
use crate::floor::model::{Byte, Colour};
use crate::floor::tables::{Part, Pattern};
use crate::power::draw;

impl Engine {
    /// Bytes of each pixel in [`Self::levels`]: red, green and blue, and white if any pixel of the
    /// floor has it.
    pub fn channels(&self) -> u8 {
        if self.tables.has_white() { 4 } else { 3 }
    }

    /// Writes the levels of all pixels, [`Self::channels`] bytes each, as sent and as asked. A
    /// colour that a pixel lacks is 0.
    pub fn levels(&self, sent: &mut Vec<u8>, asked: &mut Vec<u8>) {
        let channels = usize::from(self.channels());
        let bytes = self.tables.pixels_mm.len() * channels;
        for buffer in [&mut *sent, &mut *asked] {
            buffer.clear();
            buffer.resize(bytes, 0);
        }
        for out in self.outs() {
            let leaving = self.limiter.leaving(out);
            for part in &self.tables.outputs[out as usize].parts {
                let pattern = &self.tables.patterns[usize::from(part.pattern)];
                let leaves = &leaving[usize::from(part.dst)..][..usize::from(part.len)];
                let arrived = draw::source(part, self.picture.asked());
                paint(part, pattern, channels, leaves, sent);
                paint(part, pattern, channels, arrived, asked);
            }
        }
    }
}

/// Puts one part's levels into the picture. Of a 16-bit level the coarse half is shown.
fn paint(part: &Part, pattern: &Pattern, channels: usize, slots: &[u8], picture: &mut [u8]) {
    let stride = pattern.slots.len();
    for (at, &level) in slots.iter().enumerate() {
        let place = usize::from(part.phase) + at;
        let role = pattern.slots[place % stride];
        if matches!(role.byte, Byte::Fine { .. }) {
            continue;
        }
        let pixel = part.first_pixel as usize + place / stride;
        let channel = match role.colour {
            Colour::Red => 0,
            Colour::Green => 1,
            Colour::Blue => 2,
            Colour::White => 3,
        };
        if let Some(shown) = picture.get_mut(pixel * channels + channel) {
            *shown = level;
        }
    }
}
