//! What single cells of a spreadsheet mean.

use crate::floor::model::Packing;
use crate::wire::PortAddress;

/// Where flat universe numbers begin, and how the sheet splits an address.
#[derive(Debug, Clone, Copy)]
pub(super) struct Addressing {
    /// 0 or 1.
    pub(super) universes_from: u16,
}

/// A whole number as spreadsheets write it: `121`, `121.0`, `121,00`.
pub(super) fn whole(cell: &str) -> Option<u32> {
    let cell = cell.trim_start_matches('\'').trim();
    let (digits, decimals) = cell.split_once(['.', ',']).unwrap_or((cell, "0"));
    let plain = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    if !plain(digits) || !plain(decimals) || decimals.bytes().any(|byte| byte != b'0') {
        return None;
    }
    digits.parse().ok()
}

impl Addressing {
    /// A universe, `0:0:3` or flat.
    pub(super) fn universe(self, cell: &str) -> Result<PortAddress, String> {
        if cell.contains(':') {
            return cell.parse().map_err(|why| {
                format!(
                    "\"{cell}\" is no universe: {why}; if the spreadsheet made a time of it, \
                         format the column as text"
                )
            });
        }
        let from = u32::from(self.universes_from);
        let number = whole(cell)
            .and_then(|number| number.checked_sub(from))
            .and_then(|number| u16::try_from(number).ok())
            .and_then(PortAddress::new);
        number.ok_or_else(|| {
            let last = u32::from(PortAddress::MAX) + from;
            format!(
                "\"{cell}\" is no universe: write 0:0:3, or a flat number from {from} to {last}"
            )
        })
    }

    /// Both, with a slash between.
    pub(super) fn both(self, cell: &str) -> Result<(PortAddress, u16), String> {
        let (universe, first) = cell.split_once('/').ok_or_else(|| {
            format!("\"{cell}\" is no address: write universe and slot, such as 0:0:3/121")
        })?;
        Ok((self.universe(universe.trim())?, slot(first.trim())?))
    }
}

/// A slot, 1 to 512.
pub(super) fn slot(cell: &str) -> Result<u16, String> {
    let number = whole(cell).and_then(|number| u16::try_from(number).ok());
    number
        .filter(|slot| (1..=512).contains(slot))
        .ok_or_else(|| format!("\"{cell}\" is no slot: slots count from 1 to 512"))
}

/// An output of a node.
pub(super) fn port(cell: &str) -> Result<u16, String> {
    let number = whole(cell).and_then(|number| u16::try_from(number).ok());
    number
        .filter(|port| (1..=9999).contains(port))
        .ok_or_else(|| format!("\"{cell}\" is no port: outputs count from 1 to 9999"))
}

/// Degrees clockwise.
pub(super) fn turn(cell: &str) -> Result<u16, String> {
    let degrees = cell.trim_end_matches('°').trim_end();
    match whole(degrees) {
        Some(turn @ (0 | 90 | 180 | 270)) => Ok(u16::try_from(turn).unwrap_or(0)),
        _ => Err(format!(
            "\"{cell}\" is no turn: write 0, 90, 180 or 270, degrees clockwise"
        )),
    }
}

/// Yes or no.
pub(super) fn yes(cell: &str) -> Result<bool, String> {
    match cell.to_lowercase().as_str() {
        "yes" | "y" | "true" | "1" | "x" => Ok(true),
        "no" | "n" | "false" | "0" => Ok(false),
        _ => Err(format!("\"{cell}\" is neither yes nor no")),
    }
}

/// As the floor file writes it.
pub(super) fn packing(cell: &str) -> Result<Packing, String> {
    let mut words = Packing::ALL.iter();
    let found = words.find(|(word, _)| *word == cell.to_lowercase());
    found.map(|(_, packing)| *packing).ok_or_else(|| {
        let words = Packing::ALL.map(|(word, _)| word).join(", ");
        format!("\"{cell}\" is no packing: write one of {words}")
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_taken_as_spreadsheets_write_them() {
        for cell in ["121", "121.0", "121,00", "'121", "0121"] {
            assert_eq!(whole(cell), Some(121), "{cell}");
        }
        for cell in ["", "121.5", "1.2.1", "-1", "+1", "1e2", "121.", "12 1"] {
            assert_eq!(whole(cell), None, "{cell}");
        }
    }

    #[test]
    fn flat_universes_begin_where_they_are_said_to() {
        let read = |universes_from, cell: &str| {
            let addressing = Addressing { universes_from };
            addressing.universe(cell).map(PortAddress::number)
        };
        // Art-Net 4: `0:1:2` is 0x0012 = 18; who counts from 1 calls it 19.
        assert_eq!(read(0, "18"), Ok(18));
        assert_eq!(read(1, "19"), Ok(18));
        for from in [0, 1] {
            assert_eq!(read(from, "0:1:2"), Ok(18));
            // What a spreadsheet makes of it when it takes it for a time.
            assert_eq!(read(from, "00:01:02"), Ok(18));
        }
        assert!(read(1, "0").unwrap_err().contains("from 1 to 32768"));
        assert!(read(0, "32768").is_err() && read(1, "32768") == Ok(32_767));
        assert!(read(0, "12:00:03 AM").unwrap_err().contains("as text"));
        let both = Addressing { universes_from: 0 }.both("0:0:3/121");
        assert_eq!(both, Ok((PortAddress::new(3).unwrap(), 121)));
    }

    #[test]
    fn what_can_not_be_is_refused() {
        assert!(slot("0").is_err() && slot("513").is_err() && slot("512.0") == Ok(512));
        assert!(port("0").is_err() && port("3") == Ok(3));
        assert!(turn("45").is_err() && turn("90°") == Ok(90) && turn("270.0") == Ok(270));
        assert!(yes("Yes") == Ok(true) && yes("no") == Ok(false) && yes("maybe").is_err());
        assert!(packing("whole-panel") == Ok(Packing::WholePanel) && packing("?").is_err());
    }
}
