//! The 15-bit address of a universe.

use std::fmt;
use std::str::FromStr;

/// A 15-bit Art-Net Port-Address: Net (7) · Sub-Net (4) · Universe (4), written `0:1:2`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PortAddress(u16);

impl PortAddress {
    /// The largest, `127:15:15`.
    pub const MAX: u16 = 0x7FFF;

    /// From its number, if it is a 15-bit one.
    pub const fn new(number: u16) -> Option<Self> {
        if number <= Self::MAX {
            Some(Self(number))
        } else {
            None
        }
    }

    /// Its number, 0 to 32,767.
    pub const fn number(self) -> u16 {
        self.0
    }

    /// Net, 0 to 127.
    pub const fn net(self) -> u8 {
        (self.0 >> 8) as u8
    }

    /// Sub-Net, 0 to 15.
    pub const fn sub_net(self) -> u8 {
        ((self.0 >> 4) & 0xF) as u8
    }

    /// Universe within its Sub-Net, 0 to 15.
    pub const fn universe(self) -> u8 {
        (self.0 & 0xF) as u8
    }
}

impl fmt::Display for PortAddress {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}:{}", self.net(), self.sub_net(), self.universe())
    }
}

/// A text is not a Port-Address.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("a Port-Address is net:sub-net:universe, for example 0:1:2 (0–127, 0–15, 0–15)")]
pub struct NotAPortAddress;

impl FromStr for PortAddress {
    type Err = NotAPortAddress;

    fn from_str(text: &str) -> Result<Self, NotAPortAddress> {
        let mut parts = [0_u16; 3];
        let mut fields = text.split(':');
        for (part, most) in parts.iter_mut().zip([127, 15, 15]) {
            let field = fields.next().ok_or(NotAPortAddress)?;
            if field.is_empty() || !field.bytes().all(|b| b.is_ascii_digit()) {
                return Err(NotAPortAddress);
            }
            *part = field.parse().map_err(|_| NotAPortAddress)?;
            if *part > most {
                return Err(NotAPortAddress);
            }
        }
        if fields.next().is_some() {
            return Err(NotAPortAddress);
        }
        Ok(Self(parts[0] << 8 | parts[1] << 4 | parts[2]))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn packs_as_the_specification_says() {
        // Art-Net 4: `0:1:2` is 0x0012 = 18.
        let address: PortAddress = "0:1:2".parse().unwrap();
        assert_eq!(address.number(), 18);
        assert_eq!(PortAddress::new(0x7FFF).unwrap().to_string(), "127:15:15");
        assert_eq!(PortAddress::new(0x8000), None);
        for bad in [
            "", "1", "0:1", "0:16:0", "128:0:0", "0:0:16", "0:0:0:0", "a:0:0", "0::0", "+1:0:0",
        ] {
            assert_eq!(bad.parse::<PortAddress>(), Err(NotAPortAddress), "{bad}");
        }
    }
}
