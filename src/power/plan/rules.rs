//! By which rule each figure was worked out, and where the rule is from.

use serde::Serialize;
use serde::ser::SerializeStruct;

/// A rule.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Rule {
    /// Things of the floor file, counted.
    Count,
    /// Universes.
    Universes,
    /// Current of pixels.
    Draw,
    /// Power at a supply's output.
    Power,
    /// How far a supply may be loaded.
    SupplyLoad,
    /// Mains current and power.
    Mains,
    /// How far a breaker may be loaded.
    BreakerLoad,
    /// How far a generator may be loaded.
    FloorLoad,
    /// Own wiring of a panel.
    PanelLoad,
    /// The limit of one pixel.
    PixelLoad,
    /// Size of a fuse.
    Fuse,
    /// How far a fuse may be loaded.
    FuseLoad,
    /// What wires behind a fuse must carry.
    Ampacity,
    /// What a peak lets through for a short time.
    Peak,
    /// Current into a short circuit.
    Short,
    /// Whether that opens a fuse.
    Opens,
    /// Voltage lost on the way.
    Drop,
    /// The thinnest conductor that will do.
    Smallest,
    /// Power from a second end.
    SecondEnd,
    /// Heat.
    Heat,
    /// What to buy.
    Bill,
}

impl Rule {
    /// What it says.
    pub const fn text(self) -> &'static str {
        match self {
            Self::Count => "counted in the floor file",
            Self::Universes => "512 slots a universe, filled as `packing` of each run says",
            Self::Draw => "idle + sum of colour current × level, at the nominal voltage",
            Self::Power => "volts × amperes at the supply's output",
            Self::SupplyLoad => "a load that lasts takes at most 80 % of a supply's rating",
            Self::Mains => "output W ÷ (mains V × efficiency × power factor)",
            Self::BreakerLoad => {
                "breaker at least 125 % of a load that lasts: at most 80 % of its rating"
            }
            Self::FloorLoad => "apparent power at most 80 % of `floor_va`",
            Self::PanelLoad => "at most `rated_a` of the panel's kind, through the fuse too",
            Self::PixelLoad => "at most `limit_ma` of the pixel's kind",
            Self::Fuse => "next blade fuse of at least 1.25 × the load at full white",
            Self::FuseLoad => {
                "at most 80 % of the fuse for a load that lasts; makers' guides say 75 % at 25 °C"
            }
            Self::Ampacity => "the fuse is no larger than what the thinnest wire behind it carries",
            Self::Peak => {
                "percent × margin × rating: at most 1.35 × a fuse, and what the weakest wire carries"
            }
            Self::Short => {
                "volts ÷ resistance out and back of cable, links and tail, no more than the \
                 supply gives"
            }
            Self::Opens => {
                "a blade fuse may carry 110 % for ever and 135 % for 10 min; 200 % opens it in 5 s"
            }
            Self::Drop => {
                "cables and strips as a network of resistances out and back, with what each pixel \
                 draws at its own voltage; copper at `copper_c`"
            }
            Self::Smallest => {
                "the thinnest standard conductor with which the lowest pixel loses at most \
                 `drop_percent`"
            }
            Self::SecondEnd => "the same sums with power at both ends",
            Self::Heat => "all electric power that goes in comes out as heat or light",
            Self::Bill => "counted and measured in the floor file, nothing to spare",
        }
    }

    /// Where it is from.
    pub const fn source(self) -> &'static str {
        match self {
            Self::Count | Self::Draw | Self::Power | Self::Mains | Self::Bill => "arithmetic",
            Self::Universes => "ANSI E1.11, Art-Net 4",
            Self::SupplyLoad | Self::FloorLoad => "common practice, no source",
            Self::BreakerLoad => "NEC 210.20(A), 215.3",
            Self::PanelLoad | Self::PixelLoad => "the floor file",
            Self::Fuse => "sizes: ISO 8820-3; 1.25: NEC 210.20(A), 215.3",
            Self::FuseLoad => "NEC 210.20(A); fuse makers' guides",
            Self::Ampacity => {
                "AWG: NEC 400.5(A), flexible cord, two conductors; mm²: UK flexible cord \
                 (secondary source); both at 30 °C"
            }
            Self::Short => "Ohm's law; IEC 60228 class 5, ASTM B258",
            Self::Peak | Self::Opens => "ISO 8820-3, from memory",
            Self::Drop => "Kirchhoff's laws; IEC 60228 class 5, ASTM B258, IEC 60028",
            Self::Smallest => "IEC 60228 class 5, ASTM B258",
            Self::SecondEnd => "Kirchhoff's laws",
            Self::Heat => "conservation of energy",
        }
    }
}

/// The rules of each part of a plan, by the part's name.
pub(super) const SECTIONS: [(&str, &[Rule]); 11] = [
    ("data", &[Rule::Count, Rule::Universes]),
    ("panel_kinds", &[Rule::Draw, Rule::Power, Rule::Heat]),
    ("feeds", &[Rule::Draw, Rule::Power, Rule::FuseLoad]),
    (
        "fuses",
        &[Rule::Fuse, Rule::Ampacity, Rule::PanelLoad, Rule::Peak],
    ),
    ("shorts", &[Rule::Short, Rule::Opens]),
    ("voltages", &[Rule::Drop]),
    ("cables", &[Rule::Smallest, Rule::SecondEnd]),
    ("supplies", &[Rule::Draw, Rule::Power, Rule::SupplyLoad]),
    ("circuits", &[Rule::Mains, Rule::BreakerLoad]),
    (
        "floor",
        &[Rule::Power, Rule::Heat, Rule::Mains, Rule::FloorLoad],
    ),
    ("bill", &[Rule::Bill]),
];

/// The rules of one part.
pub fn of_section(name: &str) -> &'static [Rule] {
    let found = SECTIONS.iter().find(|(section, _)| *section == name);
    found.map_or(&[], |(_, rules)| rules)
}

/// A part of a plan and its rules.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SectionRules {
    /// The part.
    pub section: &'static str,
    /// Its rules.
    pub rules: &'static [Rule],
}

impl Serialize for Rule {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut row = serializer.serialize_struct("Rule", 2)?;
        row.serialize_field("rule", self.text())?;
        row.serialize_field("source", self.source())?;
        row.end()
    }
}
