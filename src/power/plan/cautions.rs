//! What a competent electrician would print below every plan.

use super::wire::TABLE_AMBIENT_C;
use crate::floor::model::Floor;

/// What holds for every floor.
const ALWAYS: [&str; 10] = [
    "mains voltage kills: everything before the output of a supply is planned, connected and tested \
     by a licensed person, under the electrical code of the place, which stands above this plan",
    "a residual-current device (RCD; GFCI in some countries) stands before everything that people \
     touch or stand on, above all outdoors and where drinks are spilt; press its test button \
     before every show",
    "every feed has its fuse at the supply, no larger than the thinnest wire anywhere behind it \
     carries, the strip and the wires inside the panels too; no fuse is replaced by a larger one",
    "the tables here are for single flexible cords in free air; bundled, covered, coiled up, under \
     a floor or in the sun they carry less; tables for 'chassis wiring' never hold here",
    "a short circuit inside a panel or a strip, or one through a bad contact, draws less than what \
     is worked out here, and may burn without opening any fuse: look at connectors and joints for \
     heat while the floor is at full white",
    "whether a supply feeds a short, switches off or tries again and again is in its datasheet: \
     write its short-circuit current into short_a",
    "blade fuses carry less where it is hot, and supplies give less: see the curves of their makers",
    "relieve every cable of strain, keep cables where nobody treads, no sharp edges, and no plug \
     that fits where it must not",
    "supplies draw many times their current at the moment they are switched on: switch them on one \
     after the other (common practice)",
    "all amperes, volts and watts here are reckoned from the floor file, not measured: measure a \
     panel dark and at full white, a cable and a strip, before you buy and before you trust it. An \
     estimate is never a permission",
];

/// Of this floor; the air comes first if it is warm.
pub(super) fn of(floor: &Floor) -> Vec<String> {
    let ambient_c = floor.plan.ambient_c;
    let warm = (ambient_c > TABLE_AMBIENT_C).then(|| {
        format!(
            "the air is up to {ambient_c} °C warm by the file: what cables carry was lowered from \
             the tables' 30 °C by the factors of NEC 310.15(B)(1) for 60 °C insulation, from \
             memory; have it confirmed"
        )
    });
    let always = ALWAYS.iter().map(|caution| (*caution).to_owned());
    warm.into_iter().chain(always).collect()
}
