//! What is said to be out of bounds, and what every plan keeps to.

use proptest::prelude::*;

use super::*;
use crate::floor::model::{Cable, Colour, Conductor};
use crate::units::Amps;

fn cable(length_m: f64, conductor: Conductor) -> Cable {
    Cable {
        length_m,
        conductor,
    }
}

/// The first feed alone draws: two panels of four pixels, `pixel_ua` each at full, nothing idle.
fn one_feed(pixel_ua: u32, of_feed: Option<Cable>) -> Floor {
    let mut floor = testing::floor();
    let kind = &mut floor.pixel_kinds[0];
    kind.idle_ua = 0;
    for slot in &mut kind.slots {
        slot.full_ua = if slot.colour == Colour::Red {
            pixel_ua
        } else {
            0
        };
    }
    floor.feeds[0].cable = of_feed;
    floor
}

/// Worked: 10 m of 24 AWG draw 7.1 A from 12 V into a short and never open a 10 A fuse.
#[test]
fn fire_is_said_first() {
    let mut floor = one_feed(1_000_000, Some(cable(10.0, Conductor::Awg(24))));
    floor.cap.floor_va = Some(100.0);
    let plan = plan(&floor);
    let told = |danger: Danger| -> Vec<&str> {
        let found = plan
            .findings
            .iter()
            .filter(|finding| finding.danger == danger);
        found.map(|finding| finding.text.as_str()).collect()
    };
    let fire = told(Danger::Fire);
    assert!(
        fire.iter()
            .any(|text| text.contains("draws 7.1 A and never opens the 10 A fuse")),
        "{fire:?}"
    );
    assert!(
        fire.iter()
            .any(|text| text.contains("cable of 24 AWG, which carries less than 10.0 A")),
        "{fire:?}"
    );
    assert!(
        told(Danger::Voltage)[0].contains("5 % are allowed"),
        "{plan:?}"
    );
    assert!(
        told(Danger::NotKnown)
            .iter()
            .any(|text| text.contains("no cable in the file"))
    );
    // 8 A of 12 V, 96 W ÷ (0.88 · 0.95) = 114.8 VA and the other feed's 0.16 A: more than 80 VA.
    assert!(
        told(Danger::Overload)[0].contains("% of 100 VA"),
        "{:?}",
        told(Danger::Overload)
    );
    let dangers: Vec<Danger> = plan.findings.iter().map(|finding| finding.danger).collect();
    assert!(dangers.is_sorted());
    assert_eq!(dangers[0], Danger::Fire);
}

#[test]
fn a_sound_feed_is_not_blamed() {
    let floor = one_feed(500_000, Some(cable(1.0, Conductor::Mm2(2.5))));
    let blamed = plan(&floor).findings;
    let blamed: Vec<_> = blamed
        .iter()
        .filter(|f| f.names.contains(&"F1".to_owned()) && f.danger != Danger::NotKnown)
        .collect();
    // The panels' own wiring is rated 2 A in the file, and the fuse 10 A.
    assert_eq!(blamed.len(), 1, "{blamed:?}");
    assert!(
        blamed[0].text.contains("wiring in square, rated 2.0 A"),
        "{blamed:?}"
    );
}

#[test]
fn who_keeps_an_overload_down_is_said() {
    // Eight pixels of 1.1 A: 8.8 A of a 10 A fuse.
    let mut floor = one_feed(1_100_000, None);
    let told = |floor: &Floor| {
        let findings = plan(floor).findings;
        let found = findings.into_iter().find(|f| f.rule == Rule::FuseLoad);
        found.map(|finding| finding.text).unwrap_or_default()
    };
    assert_eq!(
        told(&floor),
        "draws 8.8 A at full white, 88 % of 10 A: a console without litfloor would pass it; the cap \
         holds it at 8.0 A"
    );
    floor.cap.margin = 0.85;
    assert!(
        told(&floor).ends_with("8.5 A by its margin, more than 80 %"),
        "{}",
        told(&floor)
    );
    floor.nodes.clear();
    assert!(told(&floor).ends_with("nothing caps it"));
    floor.feeds[0].fuse_a = Amps(8.0);
    assert!(
        told(&floor).contains("may blow the fuse"),
        "{}",
        told(&floor)
    );
    floor.pixel_kinds[0].idle_ua = 1_000_000;
    assert!(told(&floor).contains("even when dark"), "{}", told(&floor));
}

/// Fed at the start a long strip starves; the plan says what power at both ends would give:
/// i·R·N(N+1)/2 against i·R·N(N+2)/8, the ladders of the textbook.
#[test]
fn a_second_end_is_offered_where_it_helps() {
    let text = include_str!("../../../../config/first-floor.toml");
    let mut floor = crate::floor::parse("first-floor.toml", text).unwrap();
    floor.plan.copper_c = 20.0;
    floor.feeds[0].cable = None;
    let kind = &mut floor.panel_kinds[0];
    kind.tail = None;
    let strip = kind.strip.as_mut().unwrap();
    (strip.ohm_per_m, strip.pitch_mm) = (0.6, Some(50.0));
    floor.pixel_kinds[0].idle_ua = 0;
    let feed = &plan(&floor).feeds[0];
    let (i, ohm, n) = (0.0555, 2.0 * 0.6 * 0.05, 20.0);
    near(
        feed.volts_behind.cases[0].lowest_v,
        12.0 - i * ohm * n * (n + 1.0) / 2.0,
        1e-3,
    );
    let remedy = &feed.volts_behind.remedies[0];
    assert!(remedy.what.contains("both ends of the strip of square") && remedy.enough);
    near(remedy.lowest_v, 12.0 - i * ohm * n * (n + 2.0) / 8.0, 1e-3);
}

/// IEC 60228 class 5, largest Ω/km at 20 °C, thin to thick.
const CLASS_5: [(f64, f64); 8] = [
    (0.5, 39.0),
    (0.75, 26.0),
    (1.0, 19.5),
    (1.5, 13.3),
    (2.5, 7.98),
    (4.0, 4.95),
    (6.0, 3.30),
    (10.0, 1.91),
];

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// The tables above decide which size does: 2 · l · I · R at 60 °C within 5 % of 12 V.
    #[test]
    fn the_smallest_cable_keeps_the_drop_and_the_next_smaller_does_not(
        length_m in 0.5_f64..12.0, pixel_ua in 50_000_u32..1_500_000,
    ) {
        let floor = one_feed(pixel_ua, Some(cable(length_m, Conductor::Mm2(2.5))));
        let found = plan(&floor).feeds[0].volts_behind.smallest.clone().unwrap();
        let amps = 8.0 * f64::from(pixel_ua) / 1e6;
        let lost = |ohm_per_km: f64| 2.0 * length_m * amps * ohm_per_km / 1e3 * 1.1572;
        let near_the_edge = CLASS_5.iter().any(|(_, ohm)| (lost(*ohm) - 0.6).abs() < 1e-3);
        prop_assume!(!near_the_edge);
        let expected = CLASS_5.iter().find(|(_, ohm)| lost(*ohm) <= 0.6);
        if let Some((mm2, _)) = expected {
            prop_assert_eq!(found.for_drop.mm2, Some(*mm2));
        } else {
            prop_assert!(found.for_drop.mm2.is_none_or(|mm2| mm2 > 10.0));
        }
        // ASTM B258: 14 AWG has 8.286, 12 AWG 5.211 Ω/km at 20 °C.
        if let Some(gauge @ (12 | 14)) = found.for_drop.awg {
            let ohm = if gauge == 14 { 8.286 } else { 5.211 };
            prop_assert!(lost(ohm) <= 0.601);
        }
    }

    #[test]
    fn totals_are_sums(pixel_ua in 1_000_u32..1_000_000, share in 0.01_f64..1.0) {
        let floor = one_feed(pixel_ua, None);
        let told = asked(&floor, &Asked { mains_volts: None, typical: vec![share] });
        for (at, _) in told.cases.iter().enumerate() {
            let feeds: f64 = told.feeds.iter().map(|feed| feed.loads[at].draw_a).sum();
            let panels: f64 = told.panel_kinds.iter()
                .map(|kind| kind.loads[at].draw_a * crate::units::count(kind.panels)).sum();
            let supplies: f64 = told.supplies.iter().map(|supply| supply.loads[at].draw_a).sum();
            prop_assert!((feeds - supplies).abs() < 1e-9 && (feeds - panels).abs() < 1e-9);
            prop_assert!((feeds - told.floor.loads[at].draw_a).abs() < 1e-9);
            let mains_va: f64 = told.circuits.iter().map(|circuit| circuit.loads[at].mains_va).sum();
            prop_assert!((mains_va - told.floor.mains[at].mains_va).abs() < 1e-9);
            prop_assert!((mains_va * 0.88 * 0.95 - told.floor.loads[at].draw_w).abs() < 1e-6);
        }
        for feed in &told.feeds {
            if let Some(next_a) = feed.next_fuse_a {
                prop_assert!(next_a >= feed.loads[0].draw_a * 1.25 - 1e-6);
            }
        }
    }
}
