//! What a metre of copper conductor resists, and the sizes that are sold.

use crate::floor::model::Conductor;

/// Resistivity of annealed copper at 20 °C in Ω·mm²/m: the international standard (IEC 60028),
/// 1/58 by definition, which is 1.7241e-8 Ω·m.
const OHM_MM2_PER_M: f64 = 1.0 / 58.0;

/// Of its resistance at 20 °C, copper gains this share with each degree.
const PER_KELVIN: f64 = 0.003_93;

/// IEC 60228, class 5 (flexible, plain): nominal mm² and the most Ω/km at 20 °C. What is sold as
/// 2.5 mm² has less copper than that; the standard bounds its resistance, not its area.
const CLASS_5: [(f64, f64); 12] = [
    (0.5, 39.0),
    (0.75, 26.0),
    (1.0, 19.5),
    (1.5, 13.3),
    (2.5, 7.98),
    (4.0, 4.95),
    (6.0, 3.30),
    (10.0, 1.91),
    (16.0, 1.21),
    (25.0, 0.780),
    (35.0, 0.554),
    (50.0, 0.386),
];

/// Gauges that are sold as cable, thin to thick: even ones, and 1.
const GAUGES: [u8; 13] = [24, 22, 20, 18, 16, 14, 12, 10, 8, 6, 4, 2, 1];

/// Nominal cross-sections of IEC 60228 from 0.5 to 50 mm², thin to thick.
pub fn standard_mm2() -> impl ExactSizeIterator<Item = Conductor> + Clone {
    CLASS_5.iter().map(|(mm2, _)| Conductor::Mm2(*mm2))
}

/// American wire gauges from 24 to 1, thin to thick.
pub fn standard_awg() -> impl ExactSizeIterator<Item = Conductor> + Clone {
    GAUGES.iter().map(|gauge| Conductor::Awg(*gauge))
}

/// Ω/m of one conductor whose copper has `celsius` degrees.
///
/// A cross-section that is not in the table counts as the worst of the table does: copper of
/// that area, times the largest excess of any listed size over its own (16 %, that of 1.5 and of 2.5 mm²).
/// So an odd size is never taken for better than a listed one.
pub fn ohm_per_m(conductor: Conductor, celsius: f64) -> f64 {
    let at_20 = match conductor {
        Conductor::Mm2(mm2) => of_mm2(mm2),
        Conductor::Awg(gauge) => OHM_MM2_PER_M / awg_mm2(gauge),
    };
    warmed(at_20, celsius)
}

/// What resists `ohm` at 20 °C does so at `celsius` degrees.
pub fn warmed(ohm: f64, celsius: f64) -> f64 {
    ohm * (1.0 + PER_KELVIN * (celsius - 20.0))
}

/// Cross-section in mm²: the nominal one, or that of the gauge.
#[cfg(test)]
fn area_mm2(conductor: Conductor) -> f64 {
    match conductor {
        Conductor::Mm2(mm2) => mm2,
        Conductor::Awg(gauge) => awg_mm2(gauge),
    }
}

/// ASTM B258: each gauge is thinner than the last by the 39th root of 92.
fn awg_mm2(gauge: u8) -> f64 {
    let diameter_mm = 0.127 * 92.0_f64.powf((36.0 - f64::from(gauge)) / 39.0);
    std::f64::consts::PI / 4.0 * diameter_mm * diameter_mm
}

fn of_mm2(mm2: f64) -> f64 {
    let listed = CLASS_5
        .iter()
        .find(|(size, _)| (size - mm2).abs() < 1e-6 * size);
    if let Some((_, ohm_per_km)) = listed {
        return ohm_per_km / 1_000.0;
    }
    let excess = |(size, ohm_per_km): &(f64, f64)| ohm_per_km / 1_000.0 * size / OHM_MM2_PER_M;
    let worst = CLASS_5.iter().map(excess).fold(1.0, f64::max);
    OHM_MM2_PER_M / mm2 * worst
}

#[cfg(test)]
mod tests {
    use super::*;

    fn per_km(conductor: Conductor, celsius: f64) -> f64 {
        ohm_per_m(conductor, celsius) * 1_000.0
    }

    #[test]
    fn gauges_resist_what_astm_b258_lists() {
        // Ω/km at 20 °C, solid copper of 100 % IACS, diameters by ASTM B258.
        for (gauge, listed) in [
            (10, 3.277),
            (12, 5.211),
            (14, 8.286),
            (16, 13.17),
            (18, 20.95),
            (20, 33.31),
            (22, 52.96),
            (24, 84.22),
        ] {
            let ours = per_km(Conductor::Awg(gauge), 20.0);
            // To all digits; only 24 AWG is 0.006 % beside, for the table's areas are rounded.
            let digit = if listed < 10.0 { 0.0005 } else { 0.005 };
            assert!(
                (ours - listed).abs() <= f64::max(digit, 1e-4 * listed).min(0.006),
                "{gauge}: {ours}"
            );
        }
        // ASTM B258: 36 AWG is 0.127 mm and 0000 is 11.684 mm; 10 AWG is 5.261 mm² (table).
        assert!((area_mm2(Conductor::Awg(36)) - 0.012_668).abs() < 1e-6);
        assert!((area_mm2(Conductor::Awg(10)) - 5.261).abs() < 5e-4);
    }

    #[test]
    fn flexible_conductors_resist_what_iec_60228_allows() {
        // IEC 60228, class 5, plain copper, largest Ω/km at 20 °C.
        for (mm2, listed) in [
            (0.5, 39.0),
            (0.75, 26.0),
            (1.5, 13.3),
            (2.5, 7.98),
            (4.0, 4.95),
            (16.0, 1.21),
            (50.0, 0.386),
        ] {
            assert!((per_km(Conductor::Mm2(mm2), 20.0) - listed).abs() < 1e-12);
        }
    }

    #[test]
    fn warm_copper_resists_more() {
        // IEC 60228's correction to 20 °C is 250/(230 + t): 0.962 at 30 °C, 0.820 at 75 °C.
        for (celsius, correction) in [(30.0, 0.962), (75.0, 0.820)] {
            let ratio = warmed(1.0, 20.0) / warmed(1.0, celsius);
            assert!((ratio - correction).abs() < 0.003, "{ratio}");
        }
        // NEC Chapter 9 Table 8, stranded uncoated copper at 75 °C, from memory: 14 AWG is
        // 10.3 Ω/km and 10 AWG 4.07. Strands are longer than their cable: 2 % more than solid.
        for (gauge, listed) in [(14, 10.3), (12, 6.50), (10, 4.07), (8, 2.551), (6, 1.608)] {
            let ratio = listed / per_km(Conductor::Awg(gauge), 75.0);
            assert!((1.0..1.03).contains(&ratio), "{gauge}: {ratio}");
        }
    }

    #[test]
    fn a_cable_drops_what_was_worked_out() {
        // Worked from the tables: 10 A over 5 m one way, out and back.
        let drop = |conductor, celsius| 2.0 * 5.0 * 10.0 * ohm_per_m(conductor, celsius);
        assert!((drop(Conductor::Awg(14), 20.0) - 0.8286).abs() < 5e-5);
        assert!((drop(Conductor::Mm2(2.5), 20.0) - 0.7980).abs() < 5e-5);
        assert!((drop(Conductor::Mm2(2.5), 60.0) - 0.9234).abs() < 5e-5);
        // 10 m of 24 AWG, out and back: 1.684 Ω.
        let loop_ohm = 20.0 * ohm_per_m(Conductor::Awg(24), 20.0);
        assert!((loop_ohm - 1.684).abs() < 5e-4);
    }

    #[test]
    fn an_odd_size_lies_between_its_neighbours_or_is_worse() {
        // 1.25 mm² is sold, but IEC 60228 does not list it.
        let ours = per_km(Conductor::Mm2(1.25), 20.0);
        assert!(ours > 13.3 && ours < 19.5, "{ours}");
        // Never better than copper of that area would be.
        assert!(ours >= 17.241 / 1.25);
    }

    #[test]
    fn thicker_conductors_resist_less() {
        let falling = |sizes: Vec<Conductor>| {
            sizes
                .windows(2)
                .all(|pair| ohm_per_m(pair[0], 60.0) > ohm_per_m(pair[1], 60.0))
        };
        assert!(falling(standard_mm2().collect()));
        assert!(falling(standard_awg().collect()));
    }
}
