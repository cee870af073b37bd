//! The cap on awkward floors: a panel in two universes, a 16-bit level whose halves leave in two
//! universes, one universe read by two outputs. Everything that may still be on show stays within
//! every limit at any moment, and in the end light is not held back.

mod support;

use litfloor::units::Draw;
use proptest::prelude::*;
use support::bench::Bench;

/// Two panels of 2 × 2 pixels on one supply. `slot` is where the runs begin, so that with
/// `packed` pixels and levels lie across universes 0:0:1 and 0:0:2.
fn floor(slots: &str, slot: usize, mirrored: bool, panel_a: f64, supply_a: f64) -> String {
    let run = |node: u8, panels: &str| {
        format!(
            "[[run]]\nnode = \"n{node}\"\nstart = \"0:0:1\"\nslot = {slot}\npacking = \"packed\"\n\
             panels = [{panels}]\n\
             source = {{ start = \"0:0:1\", slot = {slot}, shared = true }}\n"
        )
    };
    let runs = if mirrored {
        run(1, "\"A1\"") + &run(2, "\"B1\"")
    } else {
        run(1, "\"A1\", \"B1\"")
    };
    format!(
        "name = \"awkward\"\n[grid]\ncolumns = 2\nrows = 1\npanel_mm = [200, 200]\npanel = \"p\"\n\
         [cap]\nmargin = 1.0\nlet_up_s = 0.1\n[pixel.d]\nslots = \"{slots}\"\nvolts = 12\n\
         full_ma = {{ red = 90, green = 70, blue = 50 }}\nidle_ma = 1\n\
         [panel.p]\npixel = \"d\"\ncolumns = 2\nrows = 2\nrated_a = {panel_a:.3}\n\
         [[node]]\nname = \"n1\"\naddress = \"10.9.1.1\"\n\
         [[node]]\nname = \"n2\"\naddress = \"10.9.1.2\"\n\
         [[circuit]]\nname = \"c\"\nvolts = 230\nrated_a = 16\n\
         [[supply]]\nname = \"s\"\ncircuit = \"c\"\nvolts = 12\nrated_a = {supply_a:.3}\n\
         efficiency = 0.9\npower_factor = 0.9\n\
         [[feed]]\nname = \"f\"\nsupply = \"s\"\nfuse_a = 20\npositions = [\"A1\", \"B1\"]\n{runs}"
    )
}

impl Bench {
    /// One universe is asked for and sent, or all are sent once more; nothing is lost.
    fn step(&mut self, universe: Option<usize>) -> Result<(), TestCaseError> {
        self.now = self.now.plus_ms(10);
        self.limiter.retire(self.now);
        self.limiter.let_up(0.01);
        let asked = match universe {
            Some(universe) => self.tables.universes[universe].outputs.clone(),
            None => self.outs().collect(),
        };
        for &out in &asked {
            self.limiter.ask(out, &self.arrived);
        }
        for out in asked {
            let left = self
                .limiter
                .frame(out, &self.arrived, self.now, true)
                .is_some();
            if left {
                self.limiter.left(out, self.now);
            }
            self.check()?;
        }
        Ok(())
    }

    /// All that was sent is within every limit, by a sum of our own over the slots that left.
    fn check(&self) -> Result<(), TestCaseError> {
        let mut panels = vec![0_u64; self.tables.panels.len()];
        for out in self.outs() {
            let leaving = self.limiter.leaving(out);
            for part in &self.tables.outputs[out as usize].parts {
                let slots = &self.tables.patterns[usize::from(part.pattern)].slots;
                for at in 0..usize::from(part.len) {
                    let role = slots[(usize::from(part.phase) + at) % slots.len()];
                    panels[part.panel as usize] +=
                        u64::from(leaving[usize::from(part.dst) + at]) * role.parts_per_step();
                }
            }
        }
        let tree = self.limiter.tree();
        for (at, draw) in panels.iter().enumerate() {
            let element = tree.panel(at);
            let idle = tree.elements[at].idle;
            let reading = self.limiter.reading(element);
            prop_assert_eq!(reading.sent, Draw(*draw) + idle, "counted once");
        }
        for (at, element) in tree.elements.iter().enumerate() {
            let reading = self.limiter.reading(u32::try_from(at).unwrap());
            prop_assert!(reading.sent <= element.limit, "{element:?} {reading:?}");
            prop_assert!(reading.sent <= reading.reserved);
        }
        Ok(())
    }
}

/// Whether what may be on show is within every limit, once nothing from before the start is.
fn reserve_kept(bench: &Bench) -> bool {
    let tree = bench.limiter.tree();
    tree.elements.iter().enumerate().all(|(at, element)| {
        bench.limiter.reading(u32::try_from(at).unwrap()).reserved <= element.limit
    })
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(150) })]
    #[test]
    fn awkward_floors_keep_every_limit(
        wide in any::<bool>(),
        mirrored in any::<bool>(),
        slot in 480..=512_usize,
        panel_share in 0.3..1.2_f64,
        supply_share in 0.2..1.2_f64,
        frames in prop::collection::vec((any::<bool>(), any::<u64>(), 0..4_u8), 1..40),
    ) {
        // Full white of a panel: 4 × 210 mA, and 4 mA idle.
        let (panel_a, supply_a) = (0.844 * panel_share, 1.688 * supply_share);
        let slots = if wide { "RrGgBb" } else { "GRB" };
        let mut bench = Bench::new(&floor(slots, slot, mirrored, panel_a, supply_a));
        for _ in 0..12 {
            bench.step(None)?;
        }
        prop_assert!(reserve_kept(&bench));
        let universes = bench.tables.universes.len();
        for (second, bits, kind) in frames {
            let universe = usize::from(second).min(universes - 1);
            let target = &mut bench.arrived[universe * 512..][..512];
            for (at, level) in target.iter_mut().enumerate() {
                let noise = bits.rotate_left(u32::try_from(at % 64).unwrap()).to_le_bytes()[0];
                *level = match kind {
                    0 => 0,
                    1 => 255,
                    2 => noise,
                    // Coarse halves at 1, fine at 0: scaling moves current between halves.
                    _ => u8::from(at % 2 == slot % 2),
                };
            }
            bench.step(Some(universe))?;
            prop_assert!(reserve_kept(&bench));
        }
        // Constant white: in the end the tightest limit is used, but for rounding down.
        bench.arrived.fill(255);
        for _ in 0..200 {
            bench.step(None)?;
        }
        let tree = bench.limiter.tree();
        let used = tree.elements.iter().enumerate().filter_map(|(at, element)| {
            let reading = bench.limiter.reading(u32::try_from(at).unwrap());
            // The asked current passes the limit here: this element, or one of its path, dims.
            (reading.asked > element.limit)
                .then(|| reading.sent.amps().0 / element.limit.amps().0)
        });
        let most = used.fold(f64::NAN, f64::max);
        // A level of 50 rounded down loses up to 2 %.
        prop_assert!(most.is_nan() || most > 0.95, "only {most} of what may be is used");
        prop_assert!(reserve_kept(&bench));
    }
}

#[test]
fn extreme_currents_are_summed_exactly_or_refused() {
    // The largest pixels that a file can have, 30 A each, on the largest ratings.
    let text = floor("RGB", 1, false, 10_000.0, 10_000.0)
        .replace(
            "red = 90, green = 70, blue = 50",
            "red = 10000, green = 10000, blue = 10000",
        )
        .replace(
            "columns = 2\nrows = 2\nrated_a",
            "columns = 80\nrows = 80\nrated_a",
        );
    let mut bench = Bench::new(&text);
    bench.arrived.fill(255);
    for _ in 0..15 {
        bench.step(None).unwrap();
    }
    let supply = bench.limiter.tree().supply(0);
    // 12,800 pixels × 30.001 A.
    let asked_a = bench.limiter.reading(supply).asked.amps().0;
    assert!((asked_a - 384_012.8).abs() < 1e-3, "{asked_a}");
    for (from, to) in [
        ("efficiency = 0.9", "efficiency = 1e-9"),
        (
            "columns = 80\nrows = 80\nrated_a",
            "columns = 900\nrows = 900\nrated_a",
        ),
    ] {
        let faults = litfloor::floor::parse("absurd.toml", &text.replace(from, to)).unwrap_err();
        assert!(
            faults.render(false).contains("absurd-current"),
            "{}",
            faults.render(false)
        );
    }
}
