//! A simulated console: plays [`Look`](super::looks::Look)s over the floor's pixels and sends
//! them as `ArtDmx`.

use super::link::Chance;
use super::looks::{Place, Playing};
use crate::floor::model::{Byte, Colour, Floor};
use crate::floor::tables::{Tables, UNIVERSE_SLOTS};
use crate::units::Time;
use crate::wire::{PortAddress, dmx};

/// One slot and what to put there.
#[derive(Debug, Clone, Copy)]
struct Lamp {
    slot: u32,
    pixel: u32,
    colour: Colour,
    byte: Byte,
}

/// One universe as the console sends it.
#[derive(Debug, Clone)]
struct Universe {
    port_address: PortAddress,
    slots: usize,
    sequence: u8,
}

/// The simulated console.
#[derive(Debug, Clone)]
pub struct Console {
    places: Vec<Place>,
    lamps: Vec<Lamp>,
    universes: Vec<Universe>,
    slots: Vec<u8>,
    colours: Vec<[f32; 3]>,
}

impl Console {
    /// A console patched to `floor`.
    pub fn new(floor: &Floor, tables: &Tables) -> Self {
        let universes: Vec<_> = tables
            .universes
            .iter()
            .map(|universe| Universe {
                port_address: universe.port_address,
                slots: usize::from(universe.slots),
                sequence: 0,
            })
            .collect();
        Self {
            places: places(floor, tables),
            lamps: lamps(tables),
            slots: vec![0; universes.len() * UNIVERSE_SLOTS],
            universes,
            colours: vec![[0.0; 3]; tables.pixels_mm.len()],
        }
    }

    /// The name of the look that plays, or comes in, at `t`.
    pub fn look(&self, t: Time) -> &'static str {
        Playing::at(t).to.name()
    }

    /// The slots of all universes at `t`, 512 for each, in the order of [`Tables::universes`].
    pub fn render(&mut self, t: Time) -> &[u8] {
        let playing = Playing::at(t);
        for (colour, place) in self.colours.iter_mut().zip(&self.places) {
            *colour = playing.colour(*place);
        }
        for lamp in &self.lamps {
            let [red, green, blue] = self.colours[lamp.pixel as usize];
            let level = match lamp.colour {
                Colour::Red => red,
                Colour::Green => green,
                Colour::Blue => blue,
                Colour::White => red.min(green).min(blue),
            };
            self.slots[lamp.slot as usize] = byte(lamp.byte, level);
        }
        &self.slots
    }

    /// One `ArtDmx` for every universe at `t`, each with its own running sequence number.
    pub fn datagrams(&mut self, t: Time) -> impl Iterator<Item = Vec<u8>> + '_ {
        self.render(t);
        let frames = self.slots.chunks_exact(UNIVERSE_SLOTS);
        self.universes
            .iter_mut()
            .zip(frames)
            .map(|(universe, frame)| {
                // 1 to 255; 0 would mean that packets are not numbered.
                universe.sequence = universe.sequence % 255 + 1;
                let mut buffer = [0; dmx::LARGEST];
                let slots = &frame[..universe.slots];
                dmx::write(
                    &mut buffer,
                    universe.sequence,
                    0,
                    universe.port_address,
                    slots,
                )
                .to_vec()
            })
    }
}

/// What one slot carries of `level`, 0 to 1.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "clamped"
)]
fn byte(byte: Byte, level: f32) -> u8 {
    let level = level.clamp(0.0, 1.0);
    let sixteen = (level * 65_535.0).round() as u16;
    match byte {
        Byte::Whole => (level * 255.0).round() as u8,
        Byte::Coarse { .. } => sixteen.to_be_bytes()[0],
        Byte::Fine { .. } => sixteen.to_be_bytes()[1],
    }
}

/// Every pixel's place, scaled to the floor's longer side.
#[expect(
    clippy::cast_possible_truncation,
    reason = "for looks, an f32 is plenty"
)]
fn places(floor: &Floor, tables: &Tables) -> Vec<Place> {
    let (width, height) = floor.size_mm();
    let (width, height) = (width as f32, height as f32);
    let longer = width.max(height).max(1.0);
    let mut chance = Chance::new(7);
    tables
        .pixels_mm
        .iter()
        .map(|&[x, y]| Place {
            x: x / longer,
            y: y / longer,
            radius: (x - width / 2.0).hypot(y - height / 2.0) / longer,
            chance: chance.share() as f32,
        })
        .collect()
}

/// Every slot that lights something.
fn lamps(tables: &Tables) -> Vec<Lamp> {
    let mut lamps = Vec::new();
    for part in tables.outputs.iter().flat_map(|output| &output.parts) {
        let pattern = &tables.patterns[usize::from(part.pattern)].slots;
        for (slot, step) in (part.src..)
            .zip(usize::from(part.phase)..)
            .take(usize::from(part.len))
        {
            let role = pattern[step % pattern.len()];
            #[expect(
                clippy::cast_possible_truncation,
                reason = "at most the slots of a universe"
            )]
            let pixel = part.first_pixel + (step / pattern.len()) as u32;
            lamps.push(Lamp {
                slot,
                pixel,
                colour: role.colour,
                byte: role.byte,
            });
        }
    }
    lamps
}

#[cfg(test)]
mod tests {
    use artnet_protocol::ArtCommand;

    use super::super::flashes::Flashes;
    use super::*;
    use crate::floor::testing;

    fn console() -> Console {
        Console::new(&testing::floor(), &testing::tables())
    }

    /// The middle of the white look.
    const WHITE: Time = Time::from_s(4 * 12 + 6);

    #[test]
    fn white_fills_every_patched_slot_and_no_other() {
        let mut console = console();
        assert_eq!(console.look(WHITE), "all white");
        let slots = console.render(WHITE);
        let lit: Vec<_> = (0..slots.len())
            .filter(|&slot| slots[slot] == 255)
            .collect();
        let patched: Vec<_> = (0..24).chain(512 + 500..512 + 516).collect();
        assert_eq!(lit, patched);
        assert_eq!(slots.iter().filter(|&&slot| slot != 0).count(), 40);
    }

    #[test]
    fn slot_order_and_halves_are_kept() {
        let mut console = console();
        let t = Time::from_s(6);
        let slots = console.render(t).to_vec();
        let colour = |pixel: usize| Playing::at(t).colour(console.places[pixel]);
        let [red, green, blue] = colour(0);
        let expected = [green, red, blue].map(|level| f64::from(level) * 255.0);
        for (slot, level) in slots[..3].iter().zip(expected) {
            assert!((f64::from(*slot) - level).abs() <= 0.5);
        }
        // The ninth pixel, 16-bit, begins at slot 501 of the second universe; coarse before fine.
        let [red, green, blue] = colour(8);
        let levels = [red, green, blue, red.min(green).min(blue)];
        for (pair, level) in slots[512 + 500..512 + 508].chunks_exact(2).zip(levels) {
            let sent = f64::from(u16::from_be_bytes([pair[0], pair[1]]));
            assert!((sent - f64::from(level) * 65_535.0).abs() <= 0.51);
        }
    }

    #[test]
    fn datagrams_are_what_a_protocol_library_reads() {
        let mut console = console();
        for round in 1..=256_u16 {
            let sent: Vec<_> = console.datagrams(WHITE).collect();
            assert_eq!(sent.len(), 3);
            for (bytes, (address, slots)) in sent.iter().zip([(1, 24), (2, 512), (3, 4)]) {
                let Ok(ArtCommand::Output(output)) = ArtCommand::from_buffer(bytes) else {
                    panic!("not an ArtDmx: {bytes:?}");
                };
                assert_eq!(u16::from(output.port_address), address);
                assert_eq!(
                    (output.data.as_ref().len(), bytes.len()),
                    (slots, 18 + slots)
                );
                // 255 is followed by 1 (Art-Net 4).
                assert_eq!(
                    u16::from(output.sequence),
                    if round == 256 { 1 } else { round }
                );
            }
        }
    }

    /// Red, green and blue of every pixel, 0 to 1, as the floor shows them.
    fn picture(console: &Console, tables: &Tables) -> Vec<[f64; 3]> {
        let mut pixels = vec![[0.0; 3]; tables.pixels_mm.len()];
        for lamp in &console.lamps {
            let value = f64::from(console.slots[lamp.slot as usize]);
            let level = match lamp.byte {
                Byte::Whole => value / 255.0,
                Byte::Coarse { .. } => value * 256.0 / 65_535.0,
                Byte::Fine { .. } => value / 65_535.0,
            };
            let pixel = &mut pixels[lamp.pixel as usize];
            match lamp.colour {
                Colour::Red => pixel[0] += level,
                Colour::Green => pixel[1] += level,
                Colour::Blue => pixel[2] += level,
                Colour::White => pixel.iter_mut().for_each(|part| *part += level),
            }
        }
        pixels
            .iter_mut()
            .flatten()
            .for_each(|part| *part = part.min(1.0));
        pixels
    }

    /// Counts the flashes of `groups` of pixels for `s` seconds at 44 frames a second.
    fn watch(floor: &Floor, tables: &Tables, groups: &[Vec<usize>], s: u64) {
        let mut console = Console::new(floor, tables);
        let mut counters = vec![Flashes::default(); groups.len()];
        let mut brightest = 0.0_f64;
        for frame in 0..s * 44 {
            let t = Time(frame * 1_000_000 / 44);
            console.render(t);
            let pixels = picture(&console, tables);
            for (group, counter) in groups.iter().zip(&mut counters) {
                let mut mean = [0.0; 3];
                for &pixel in group {
                    #[expect(clippy::cast_precision_loss, reason = "some thousands")]
                    (0..3).for_each(|i| mean[i] += pixels[pixel][i] / group.len() as f64);
                }
                brightest = brightest.max(mean[1]);
                counter.see(t, mean);
            }
        }
        assert!(brightest > 0.99, "the looks were seen");
        for (group, counter) in groups.iter().zip(&counters) {
            let most = counter.most_in_a_second();
            assert!(counter.changes() > 4, "{group:?} moves");
            assert!(most <= 3, "{group:?}: {most} flashes in a second");
        }
    }

    /// The pixels of every panel, and of the whole floor.
    fn panels_and_all(tables: &Tables) -> Vec<Vec<usize>> {
        let all = 0..tables.pixels_mm.len();
        let panels = tables.panels.iter().map(|panel| {
            let first = panel.first_pixel as usize;
            (first..first + panel.pixels as usize).collect()
        });
        panels.chain([all.collect()]).collect()
    }

    #[test]
    fn no_look_flashes_more_than_three_times_in_any_second() {
        let tables = testing::tables();
        let mut groups = panels_and_all(&tables);
        groups.extend((0..10).map(|pixel| vec![pixel]));
        watch(&testing::floor(), &tables, &groups, 120);
    }

    #[test]
    fn nor_does_the_demo_flash() {
        let floor = testing::demo();
        let tables = Tables::compile(&floor);
        let mut groups = panels_and_all(&tables);
        groups.extend(
            (0..tables.pixels_mm.len())
                .step_by(23)
                .map(|pixel| vec![pixel]),
        );
        // Every look and every fade once.
        watch(&floor, &tables, &groups, 63);
    }
}
