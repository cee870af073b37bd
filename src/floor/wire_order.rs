//! The wire order of a pixel's slots, written `GRB` or `RrGgBb`.

use super::model::{Byte, Colour, PixelKind};

/// What one letter says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Letter {
    pub(super) colour: Colour,
    pub(super) byte: Byte,
}

/// A capital is a colour's whole 8-bit level, or the coarse half when its small letter, the fine
/// half, is there too. Errors say what would be right.
pub(super) fn parse(text: &str) -> Result<Vec<Letter>, String> {
    let letters: Vec<char> = text.chars().collect();
    if letters.is_empty() || letters.len() > 8 {
        return Err("write 1 to 8 letters, one for each slot, for example \"GRB\"".to_owned());
    }
    let place = |wanted: char| letters.iter().position(|letter| *letter == wanted);
    let mut found = Vec::with_capacity(letters.len());
    for (here, letter) in letters.iter().enumerate() {
        let capital = letter.to_ascii_uppercase();
        let colour = match capital {
            'R' => Colour::Red,
            'G' => Colour::Green,
            'B' => Colour::Blue,
            'W' => Colour::White,
            _ => {
                return Err(
                    "the letters are R, G, B and W; for 16 bits the capital is the coarse \
                            half and the small letter the fine half, for example \"RrGgBb\""
                        .to_owned(),
                );
            }
        };
        if place(*letter) != Some(here) {
            return Err(format!(
                "each letter stands once, but {letter} stands twice"
            ));
        }
        let byte = if *letter == capital {
            match place(letter.to_ascii_lowercase()) {
                Some(fine) => Byte::Coarse {
                    partner: steps(here, fine),
                },
                None => Byte::Whole,
            }
        } else {
            let coarse = place(capital)
                .ok_or_else(|| format!("the fine half {letter} needs its coarse half {capital}"))?;
            Byte::Fine {
                partner: steps(here, coarse),
            }
        };
        found.push(Letter { colour, byte });
    }
    Ok(found)
}

impl PixelKind {
    /// The order of its slots as the floor file writes it: `GRB`, `RrGgBb`.
    pub fn wire_order(&self) -> String {
        let letter = |slot: &super::model::SlotRole| {
            let capital = match slot.colour {
                Colour::Red => 'R',
                Colour::Green => 'G',
                Colour::Blue => 'B',
                Colour::White => 'W',
            };
            if matches!(slot.byte, Byte::Fine { .. }) {
                capital.to_ascii_lowercase()
            } else {
                capital
            }
        };
        self.slots.iter().map(letter).collect()
    }
}

/// Slots from one to the other; 7 at most.
#[expect(clippy::cast_possible_truncation, reason = "8 letters at most")]
fn steps(from: usize, to: usize) -> i8 {
    to as i8 - from as i8
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_become_slots_in_wire_order() {
        let grb = parse("GRB").unwrap();
        assert_eq!(
            grb.iter().map(|l| l.colour).collect::<Vec<_>>(),
            [Colour::Green, Colour::Red, Colour::Blue]
        );
        assert!(grb.iter().all(|l| l.byte == Byte::Whole));
        let neighbours = parse("RrGg").unwrap();
        assert_eq!(neighbours[0].byte, Byte::Coarse { partner: 1 });
        assert_eq!(neighbours[3].byte, Byte::Fine { partner: -1 });
        let apart = parse("RGBrgb").unwrap();
        assert_eq!(apart[1].byte, Byte::Coarse { partner: 3 });
        assert_eq!(apart[5].byte, Byte::Fine { partner: -3 });
        let mixed = parse("RrW").unwrap();
        assert_eq!(mixed[2].byte, Byte::Whole);
    }

    #[test]
    fn wrong_letters_are_refused() {
        for bad in ["", "RGX", "RGR", "rGB", "RrRr", "RGBWRGBWR", "Ŕ"] {
            assert!(parse(bad).is_err(), "{bad}");
        }
    }
}
