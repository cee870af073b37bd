//! What is asked of the patch, as it is typed.

use std::str::FromStr;

use super::sheet::Place;
use crate::wire::PortAddress;

/// A slot: `0:0:3/121`, or `3/121` with the flat universe number counted from 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct AskedSlot(pub(super) Place);

impl FromStr for AskedSlot {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let (universe, slot) = text
            .split_once('/')
            .ok_or("write universe and slot with a slash between, such as 0:0:3/121 or 3/121")?;
        let (universe, slot) = (universe.trim(), slot.trim());
        let port_address: PortAddress = if universe.contains(':') {
            universe.parse().map_err(|why| format!("{why}"))?
        } else {
            whole(universe)
                .and_then(PortAddress::new)
                .ok_or("a flat universe number counts from 0 to 32767")?
        };
        let slot = whole(slot)
            .filter(|slot| (1..=512).contains(slot))
            .ok_or("a slot counts from 1 to 512")?;
        Ok(Self(Place { port_address, slot }))
    }
}

/// A panel by position or serial, and one of its pixels or all.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct AskedPixel {
    pub(super) panel: String,
    /// From 1, in wiring order.
    pub(super) pixel: Option<usize>,
}

impl FromStr for AskedPixel {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let (panel, pixel) = match text.split_once(':') {
            Some((panel, pixel)) => (panel, Some(pixel.trim())),
            None => (text, None),
        };
        let panel = panel.trim().to_owned();
        if panel.is_empty() {
            return Err("write panel and pixel, such as C4:17".to_owned());
        }
        let pixel = match pixel {
            None => None,
            Some(digits) => Some(
                whole(digits)
                    .map(usize::from)
                    .or_else(|| digits.parse().ok())
                    .filter(|pixel| *pixel > 0)
                    .ok_or("pixels count from 1, in wiring order: write C4:17 for the 17th")?,
            ),
        };
        Ok(Self { panel, pixel })
    }
}

fn whole(text: &str) -> Option<u16> {
    let digits = !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    digits.then(|| text.parse().ok()).flatten()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_ways_of_counting_universes_mean_the_same_slot() {
        let read = |text: &str| text.parse::<AskedSlot>();
        assert_eq!(read("0:1:2/121"), read("18/121"));
        assert_eq!(
            read("127:15:15/512").unwrap().0.port_address.number(),
            0x7FFF
        );
        for bad in [
            "", "3", "3/", "3/0", "3/513", "32768/1", "0:0/1", "0:16:0/1", "-1/1", "3/+1", "a/1",
            "3/1/1",
        ] {
            assert!(read(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn a_panel_is_asked_with_or_without_a_pixel() {
        let read = |text: &str| text.parse::<AskedPixel>();
        let asked = |panel: &str, pixel| AskedPixel {
            panel: panel.to_owned(),
            pixel,
        };
        assert_eq!(read("C4:17"), Ok(asked("C4", Some(17))));
        assert_eq!(read("P-04"), Ok(asked("P-04", None)));
        assert_eq!(read("C4:70000"), Ok(asked("C4", Some(70_000))));
        for bad in ["", ":1", "C4:", "C4:0", "C4:-1", "C4:x", "C4:1:2"] {
            assert!(read(bad).is_err(), "{bad}");
        }
    }
}
