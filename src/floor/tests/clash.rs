//! Runs that share slots, against counting slot by slot.

use std::collections::HashSet;
use std::fmt::Write;

use proptest::prelude::*;

use super::super::parse;

/// Node, first universe, first slot, whether it is packed, pixels and slots of a pixel of two panels.
type Plan = (usize, usize, usize, bool, [(usize, usize); 2]);

fn plan() -> impl Strategy<Value = Plan> {
    let panel = || (1_usize..250, 1_usize..=4);
    let panels = (panel(), panel()).prop_map(|(a, b)| [a, b]);
    (0_usize..2, 0_usize..5, 1_usize..=512, any::<bool>(), panels)
}

fn text(plans: &[Plan]) -> String {
    let mut text = format!(
        "name = \"x\"\n[grid]\ncolumns = 2\nrows = {}\npanel_mm = [9, 9]\n",
        plans.len()
    );
    for (slots, order, currents) in [
        (1, "R", "red = 1"),
        (2, "RG", "red = 1, green = 1"),
        (3, "RGB", "red = 1, green = 1, blue = 1"),
        (4, "RGBW", "red = 1, green = 1, blue = 1, white = 1"),
    ] {
        let _ = writeln!(
            text,
            "[pixel.p{slots}]\nslots = \"{order}\"\nvolts = 12\nidle_ma = 0\nfull_ma = {{ {currents} }}"
        );
    }
    for (row, (node, universe, slot, packed, panels)) in (1..).zip(plans) {
        let packing = if *packed { "packed" } else { "whole-pixel" };
        for (letter, (pixels, slots)) in ["A", "B"].iter().zip(panels) {
            let _ = writeln!(
                text,
                "[panel.{letter}{row}]\npixel = \"p{slots}\"\ncolumns = {pixels}\nrows = 1\nat = [\"{letter}{row}\"]"
            );
        }
        let _ = writeln!(
            text,
            "[[run]]\nnode = \"n{node}\"\nstart = \"0:0:{universe}\"\nslot = {slot}\n\
             packing = \"{packing}\"\npanels = [\"A{row}..B{row}\"]\n\
             source = {{ start = \"0:1:{universe}\", shared = true }}"
        );
    }
    let _ = writeln!(
        text,
        "[[node]]\nname = \"n0\"\naddress = \"10.0.0.1\"\n[[node]]\nname = \"n1\"\naddress = \"10.0.0.2\"\n\
         [[circuit]]\nname = \"c\"\nvolts = 230\nrated_a = 16\n\
         [[supply]]\nname = \"s\"\ncircuit = \"c\"\nvolts = 12\nrated_a = 9\nefficiency = 1\npower_factor = 1\n\
         [[feed]]\nname = \"f\"\nsupply = \"s\"\nfuse_a = 9\npositions = [\"A1..B{}\"]",
        plans.len()
    );
    text
}

/// Whether two slots meet, laid one by one.
fn clash(plans: &[Plan]) -> bool {
    let mut seen = HashSet::new();
    for (node, universe, slot, packed, panels) in plans {
        let mut at = universe * 512 + slot - 1;
        for (pixels, slots) in panels {
            for _ in 0..*pixels {
                if !packed && at % 512 + slots > 512 {
                    at = (at / 512 + 1) * 512;
                }
                for _ in 0..*slots {
                    if !seen.insert((node, at)) {
                        return true;
                    }
                    at += 1;
                }
            }
        }
    }
    false
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    #[test]
    fn shared_slots_are_found_exactly_when_there_are_some(plans in prop::collection::vec(plan(), 1..5)) {
        match parse("clash.toml", &text(&plans)) {
            Ok(_) => prop_assert!(!clash(&plans)),
            Err(faults) => {
                let codes: Vec<_> = faults.list().iter().map(|fault| fault.code).collect();
                prop_assert!(codes.iter().all(|code| *code == "shared-slots"), "{}", faults);
                prop_assert!(clash(&plans), "{}", faults);
            }
        }
    }
}
