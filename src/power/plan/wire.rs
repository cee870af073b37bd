//! What a wire carries for long, and whether a fuse is too large for it.

use serde::Serialize;

use crate::floor::model::{Conductor, Feed, Floor, PanelKind};

/// NEC 400.5(A), flexible cord with two conductors, at 30 °C: gauge and amperes, thin to thick.
const CORD_AWG: [(u8, f64); 4] = [(18, 10.0), (16, 13.0), (14, 18.0), (12, 25.0)];

/// UK flexible cord (secondary source), at 30 °C: mm² and amperes, thin to thick.
const CORD_MM2: [(f64, f64); 6] = [
    (0.5, 3.0),
    (0.75, 6.0),
    (1.0, 10.0),
    (1.25, 13.0),
    (1.5, 15.0),
    (2.5, 20.0),
];

/// At this temperature of the air the tables hold, in °C.
pub(super) const TABLE_AMBIENT_C: f64 = 30.0;

/// In warmer air a wire carries less: up to so many °C this share, for insulation that bears
/// 60 °C. NEC 310.15(B)(1), from memory; it is √((60 − t)/30) of the warmest of each band.
const WARMER: [(f64, f64); 5] = [
    (35.0, 0.91),
    (40.0, 0.82),
    (45.0, 0.71),
    (50.0, 0.58),
    (55.0, 0.41),
];

/// What a wire carries for long.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub enum Carries {
    /// So many amperes by the table; a size between two of the table counts as the thinner one.
    #[serde(rename = "table_a")]
    Amps(f64),
    /// Thicker than all of the table: at least that of the thickest, in amperes.
    #[serde(rename = "at_least_a")]
    AtLeast(f64),
    /// Thinner than all of the table, or in air too warm for it: less than this, in amperes.
    #[serde(rename = "less_than_a")]
    LessThan(f64),
}

/// Whether a wire carries what a fuse lets through.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Fits {
    /// It does not: the wire burns first.
    No,
    /// No figure here: ask the cable's maker.
    Unknown,
    /// It does.
    Yes,
}

impl Carries {
    /// Of a conductor in air of so many °C.
    pub fn of(conductor: Conductor, ambient_c: f64) -> Self {
        let of_table = match conductor {
            Conductor::Awg(gauge) => of_table(&CORD_AWG.map(|(size, a)| (-f64::from(size), a)), {
                -f64::from(gauge)
            }),
            Conductor::Mm2(mm2) => of_table(&CORD_MM2, mm2),
        };
        if ambient_c <= TABLE_AMBIENT_C {
            return of_table;
        }
        match WARMER.iter().find(|(up_to_c, _)| ambient_c <= *up_to_c) {
            Some((_, share)) => of_table.times(*share),
            None => Self::LessThan(of_table.amps() * WARMER[WARMER.len() - 1].1),
        }
    }

    /// The number in it.
    pub const fn amps(self) -> f64 {
        match self {
            Self::Amps(a) | Self::AtLeast(a) | Self::LessThan(a) => a,
        }
    }

    fn times(self, share: f64) -> Self {
        match self {
            Self::Amps(a) => Self::Amps(a * share),
            Self::AtLeast(a) => Self::AtLeast(a * share),
            Self::LessThan(a) => Self::LessThan(a * share),
        }
    }

    /// Whether it carries so many amperes.
    pub fn fits(self, fuse_a: f64) -> Fits {
        match self {
            Self::Amps(a) | Self::AtLeast(a) if fuse_a <= a => Fits::Yes,
            Self::Amps(_) => Fits::No,
            Self::LessThan(a) if fuse_a >= a => Fits::No,
            Self::AtLeast(_) | Self::LessThan(_) => Fits::Unknown,
        }
    }
}

/// `table` ascends by size.
fn of_table(table: &[(f64, f64)], size: f64) -> Carries {
    let no_thicker = |(listed, _): &&(f64, f64)| *listed <= size + 1e-9;
    let (thinnest, thickest) = (table[0], table[table.len() - 1]);
    if size > thickest.0 + 1e-9 {
        return Carries::AtLeast(thickest.1);
    }
    let listed = table.iter().rev().find(no_thicker);
    listed.map_or(Carries::LessThan(thinnest.1), |(_, a)| Carries::Amps(*a))
}

/// A wire behind a fuse.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Wire {
    /// Which one.
    pub what: String,
    /// `2.5 mm²`, `14 AWG`; nothing for the own wiring of a panel, of which the file gives the
    /// rating.
    pub size: Option<String>,
    /// Amperes.
    pub carries: Carries,
}

/// `2.5 mm²` or `14 AWG`.
pub(super) fn size(conductor: Conductor) -> String {
    match conductor {
        Conductor::Mm2(mm2) => format!("{mm2} mm²"),
        Conductor::Awg(gauge) => format!("{gauge} AWG"),
    }
}

impl Wire {
    /// `cable of 2.5 mm²`.
    pub fn told(&self) -> String {
        match &self.size {
            Some(size) => format!("{} of {size}", self.what),
            None => self.what.clone(),
        }
    }
}

/// All wires behind the fuse of a feed that the file describes.
pub(super) fn wires(floor: &Floor, feed: &Feed) -> Vec<Wire> {
    let ambient_c = floor.plan.ambient_c;
    let wire = |what: &str, conductor| Wire {
        what: what.to_owned(),
        size: Some(size(conductor)),
        carries: Carries::of(conductor, ambient_c),
    };
    let own = [
        ("cable", feed.cable),
        ("link", feed.link),
        ("far cable", feed.far_cable),
    ];
    let mut wires: Vec<Wire> = own
        .iter()
        .filter_map(|(what, cable)| Some(wire(what, cable.as_ref()?.conductor)))
        .collect();
    for kind in kinds(floor, feed) {
        if let Some(tail) = &kind.tail {
            wires.push(wire(&format!("tail ({})", kind.name), tail.conductor));
        }
        if let Some(rated) = kind.rated_a {
            wires.push(Wire {
                what: format!("wiring in {}", kind.name),
                size: None,
                carries: Carries::Amps(rated.0),
            });
        }
    }
    wires
}

/// Every kind of panel on a feed, once.
fn kinds<'a>(floor: &'a Floor, feed: &Feed) -> impl Iterator<Item = &'a PanelKind> {
    let mut kinds: Vec<usize> = feed
        .panels
        .iter()
        .map(|&at| floor.panels[at].kind)
        .collect();
    kinds.sort_unstable();
    kinds.dedup();
    kinds.into_iter().map(|kind| &floor.panel_kinds[kind])
}

/// Kinds of panel on a feed of which the file does not say what their inside carries.
pub(super) fn unrated(floor: &Floor, feed: &Feed) -> Vec<String> {
    let unrated = kinds(floor, feed).filter(|kind| kind.rated_a.is_none());
    unrated.map(|kind| kind.name.clone()).collect()
}

/// The wire that a fuse endangers most: the first that does not fit, then one without a figure,
/// then the one that carries least.
pub(super) fn weakest(wires: &[Wire], fuse_a: f64) -> Option<&Wire> {
    let rank = |wire: &Wire| (wire.carries.fits(fuse_a), wire.carries.amps());
    wires.iter().min_by(|one, other| {
        let (one, other) = (rank(one), rank(other));
        one.0.cmp(&other.0).then(one.1.total_cmp(&other.1))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cords_carry_what_the_tables_say() {
        let at_30 = |conductor| Carries::of(conductor, 30.0);
        // NEC 400.5(A), two conductors.
        for (gauge, a) in [(18, 10.0), (16, 13.0), (14, 18.0), (12, 25.0)] {
            assert_eq!(at_30(Conductor::Awg(gauge)), Carries::Amps(a));
        }
        // UK flexible cord, secondary source.
        for (mm2, a) in [
            (0.5, 3.0),
            (0.75, 6.0),
            (1.0, 10.0),
            (1.25, 13.0),
            (2.5, 20.0),
        ] {
            assert_eq!(at_30(Conductor::Mm2(mm2)), Carries::Amps(a));
        }
        // Between two sizes the thinner one counts; beyond the tables there is no figure.
        assert_eq!(at_30(Conductor::Mm2(2.0)), Carries::Amps(15.0));
        assert_eq!(at_30(Conductor::Awg(17)), Carries::Amps(10.0));
        assert_eq!(at_30(Conductor::Mm2(4.0)), Carries::AtLeast(20.0));
        assert_eq!(at_30(Conductor::Awg(10)), Carries::AtLeast(25.0));
        assert_eq!(at_30(Conductor::Awg(24)), Carries::LessThan(10.0));
        assert_eq!(at_30(Conductor::Mm2(0.34)), Carries::LessThan(3.0));
    }

    #[test]
    fn what_is_not_known_is_never_said_to_fit() {
        let thick = Carries::AtLeast(20.0);
        assert_eq!(
            [15.0, 20.0, 25.0].map(|a| thick.fits(a)),
            [Fits::Yes, Fits::Yes, Fits::Unknown]
        );
        let thin = Carries::LessThan(10.0);
        assert_eq!(
            [5.0, 10.0, 15.0].map(|a| thin.fits(a)),
            [Fits::Unknown, Fits::No, Fits::No]
        );
        let listed = Carries::Amps(13.0);
        assert_eq!(
            [10.0, 13.0, 15.0].map(|a| listed.fits(a)),
            [Fits::Yes, Fits::Yes, Fits::No]
        );
    }

    #[test]
    fn in_warm_air_a_wire_carries_less() {
        let at = |c| Carries::of(Conductor::Mm2(2.5), c);
        assert_eq!(at(20.0), Carries::Amps(20.0));
        // NEC 310.15(B)(1), 60 °C, from memory; against √((60 − t)/30), from which it is made.
        for (c, t) in [
            (33.0, 35.0_f64),
            (40.0, 40.0),
            (44.0, 45.0),
            (50.0, 50.0),
            (55.0, 55.0),
        ] {
            let law = 20.0 * ((60.0 - t) / 30.0).sqrt();
            assert!((at(c).amps() - law).abs() < 0.1, "{c}: {:?}", at(c));
        }
        assert_eq!(at(60.0).fits(3.0), Fits::Unknown);
        assert_eq!(at(60.0).fits(10.0), Fits::No);
    }

    #[test]
    fn the_weakest_wire_is_one_that_burns() {
        let wire = |what: &str, carries| Wire {
            what: what.into(),
            size: None,
            carries,
        };
        let wires = [
            wire("thick", Carries::Amps(20.0)),
            wire("hair", Carries::LessThan(10.0)),
            wire("thin", Carries::Amps(3.0)),
        ];
        let what = |fuse_a| weakest(&wires, fuse_a).unwrap().what.clone();
        assert_eq!(
            (what(5.0), what(2.0), what(15.0)),
            ("thin".into(), "hair".into(), "thin".into())
        );
    }
}
