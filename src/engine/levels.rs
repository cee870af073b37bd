//! The picture for a screen: red, green and blue of every pixel, white added in.

use super::Engine;
use crate::floor::model::{Byte, Colour};
use crate::floor::tables::{Part, Pattern, Tables};
use crate::power::draw;

impl Engine {
    /// Writes the levels of all pixels, three bytes each, as sent and as asked.
    pub fn levels(&self, sent: &mut Vec<u8>, asked: &mut Vec<u8>) {
        let bytes = self.tables.pixels_mm.len() * 3;
        for buffer in [&mut *sent, &mut *asked] {
            buffer.clear();
            buffer.resize(bytes, 0);
        }
        for out in self.outs() {
            let leaving = self.limiter.leaving(out);
            each_part(&self.tables, out as usize, |part, pattern| {
                let here = &leaving[usize::from(part.dst)..][..usize::from(part.len)];
                paint(part, pattern, here, sent);
                paint(
                    part,
                    pattern,
                    draw::source(part, self.picture.asked()),
                    asked,
                );
            });
        }
    }
}

fn each_part(tables: &Tables, out: usize, mut each: impl FnMut(&Part, &Pattern)) {
    for part in &tables.outputs[out].parts {
        each(part, &tables.patterns[usize::from(part.pattern)]);
    }
}

/// Adds one part's levels to the picture. Of a 16-bit level the coarse half is shown.
fn paint(part: &Part, pattern: &Pattern, slots: &[u8], rgb: &mut [u8]) {
    let stride = pattern.slots.len();
    for (at, &level) in slots.iter().enumerate() {
        let place = usize::from(part.phase) + at;
        let role = pattern.slots[place % stride];
        if matches!(role.byte, Byte::Fine { .. }) {
            continue;
        }
        let pixel = part.first_pixel as usize + place / stride;
        let Some(channels) = rgb.get_mut(pixel * 3..pixel * 3 + 3) else {
            continue;
        };
        match role.colour {
            Colour::Red => channels[0] = channels[0].saturating_add(level),
            Colour::Green => channels[1] = channels[1].saturating_add(level),
            Colour::Blue => channels[2] = channels[2].saturating_add(level),
            Colour::White => {
                for channel in channels {
                    *channel = channel.saturating_add(level);
                }
            }
        }
    }
}
