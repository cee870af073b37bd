//! The cap on its own: what it keeps, and that it dims no more than that takes.

mod support;

use std::fmt::Write;

use litfloor::power::draw::Scale;
use litfloor::power::tree::Level;
use litfloor::sim::link::Chance;
use support::bench::Bench;
use support::random::random_floor;

impl Bench {
    /// Asks for levels and sends frames every 10 ms for `ms`; nothing is lost.
    fn run(&mut self, ms: u64, mut each: impl FnMut(&Self)) {
        for out in self.outs() {
            self.limiter.ask(out, &self.arrived);
        }
        for _ in 0..ms / 10 {
            self.now = self.now.plus_ms(10);
            self.limiter.retire(self.now);
            self.limiter.let_up(0.01);
            for out in self.outs() {
                let repeat = self.limiter.unsettled(out);
                if self
                    .limiter
                    .frame(out, &self.arrived, self.now, repeat)
                    .is_some()
                {
                    self.limiter.left(out, self.now);
                }
            }
            each(self);
        }
    }

    fn assert_kept(&self) {
        for (at, element) in self.limiter.tree().elements.iter().enumerate() {
            let reading = self.limiter.reading(u32::try_from(at).unwrap());
            assert!(reading.sent <= element.limit, "{element:?} {reading:?}");
        }
    }

    /// Draw of an element if levels were not rounded, in amperes without idle: every panel's
    /// asked current times the factors of its path up to the element.
    fn unrounded(&self, top: u32) -> f64 {
        let tree = self.limiter.tree();
        let mut sum = 0.0;
        for panel in 0..self.tables.panels.len() {
            let from = tree.panel(panel);
            let asked = self.limiter.reading(from).asked - tree.elements[panel].idle;
            let mut draw = asked.amps().0;
            for element in tree.path(from) {
                draw *= self.limiter.scale(element).fraction();
                if element == top {
                    sum += draw;
                    break;
                }
                let parts = tree.elements[element as usize]
                    .to_parent
                    .of(litfloor::units::Draw(1 << 40));
                draw *= parts.amps().0 / litfloor::units::Draw(1 << 40).amps().0;
            }
        }
        sum
    }
}

#[test]
fn random_floors_have_what_is_hard() {
    let all: Vec<String> = (0..100)
        .map(|seed| random_floor(&mut Chance::new(seed)))
        .collect();
    let hard = [
        ("the next slots of one block", "source = \"next\""),
        ("a console patched elsewhere", "source = { start = \"1:"),
        ("one picture for two runs", "shared = true"),
        ("unused pixels at the head", "panels = [{ unused_pixels"),
        ("spare slots at the head", "panels = [{ spare_slots"),
        ("spare slots between", "\", { spare_slots"),
        ("a mirrored panel", "mirrored = true"),
        ("a turned panel", "turn = 270"),
        ("a second kind", "[panel.other]"),
        ("16 bits", "Rr"),
        ("white", "Ww"),
    ];
    for (what, sign) in hard {
        let have = all.iter().filter(|text| text.contains(sign)).count();
        assert!(have >= 5, "{what}: {have} of 100 floors");
    }
    let laid = |name: &str| {
        let head = format!("[panel.{name}]");
        let kind = |text: &&String| {
            let text = text.split(&head).nth(1).unwrap_or_default();
            text.lines()
                .take_while(|line| !line.starts_with('['))
                .any(|line| line.starts_with("at = "))
        };
        all.iter().filter(kind).count()
    };
    assert!(laid("other") > 30 && laid("line") > 30);
}

#[test]
fn limits_are_kept_and_used() {
    let mut dimmed = 0;
    for seed in 0..80 {
        let mut chance = Chance::new(seed);
        let mut bench = Bench::new(&random_floor(&mut chance));
        let most = 1 + chance.up_to(254);
        for slot in &mut bench.arrived {
            *slot = u8::try_from(chance.up_to(most)).unwrap();
        }
        bench.run(6_000, Bench::assert_kept);
        let tree = bench.limiter.tree();
        for panel in 0..bench.tables.panels.len() {
            let path: Vec<u32> = tree.path(tree.panel(panel)).collect();
            let lowered: Vec<u32> = path
                .iter()
                .copied()
                .filter(|&element| bench.limiter.scale(element) < Scale::ONE)
                .collect();
            let product: f64 = path
                .iter()
                .map(|&element| bench.limiter.scale(element).fraction())
                .product();
            let applied = bench.limiter.panel_scale(panel).fraction();
            assert!(
                (applied - product).abs() < 1e-3,
                "only the path dims: {applied} {product}"
            );
            // The uppermost element that dims uses all that it may: no panel below it could be
            // let up without passing it.
            if let Some(&top) = lowered.last() {
                dimmed += 1;
                let room = tree.elements[top as usize].room().amps().0;
                let used = bench.unrounded(top);
                assert!(used <= room * (1.0 + 1e-9), "{used} {room}");
                assert!(used >= room * 0.998, "{used} of {room} used");
            }
        }
    }
    assert!(dimmed > 100, "only {dimmed} panels were dimmed");
}

#[test]
fn constant_input_is_let_up_monotonously_and_then_stands_still() {
    for seed in 0..20 {
        let mut chance = Chance::new(seed);
        let mut bench = Bench::new(&random_floor(&mut chance));
        bench.arrived.fill(255);
        bench.run(3_000, |_| {});
        bench.arrived.fill(90);
        let mut last: Vec<Scale> = Vec::new();
        bench.run(4_000, |bench| {
            let product = |panel| bench.limiter.panel_scale(panel);
            let now: Vec<Scale> = (0..bench.tables.panels.len()).map(product).collect();
            for (before, after) in last.iter().zip(&now) {
                // Two rounded factors may be one part of 65,536 apart each.
                assert!(after.0 + 8 >= before.0, "{before:?} fell to {after:?}");
            }
            last = now;
        });
        let settled = last.clone();
        bench.run(2_000, |bench| {
            for (panel, scale) in settled.iter().enumerate() {
                assert_eq!(bench.limiter.panel_scale(panel), *scale);
            }
        });
    }
}

/// Two panels in two universes take turns at full, which their supply carries easily. For a moment
/// after each turn both frames may be on show, so the brighter waits; but nothing is over, so
/// nothing is dimmed for longer than that.
#[test]
fn turns_that_are_never_over_are_not_dimmed() {
    let text = common_floor(0.8)
        .replace("rated_a = 200", "rated_a = 15")
        .replace(
            "columns = 8\nrows = 8\npanel_mm",
            "columns = 8\nrows = 2\npanel_mm",
        )
        .split_inclusive('\n')
        .collect::<String>();
    let cut = text.find("[[feed]]\nname = \"f3\"").unwrap();
    let mut bench = Bench::new(&text[..cut]);
    let tree = bench.limiter.tree();
    let supply = tree.supply(0);
    for turn in 0..20 {
        // Panels A1 and A2 at 10 A of 12 A would be too many: four of eight panels, 9.6 A.
        bench.arrived.fill(0);
        let universe = if turn % 2 == 0 { 0 } else { 2 };
        bench.arrived[universe * 512..universe * 512 + 480].fill(255);
        let mut since = 0;
        bench.run(500, |bench| {
            since += 10;
            bench.assert_kept();
            assert_eq!(bench.limiter.scale(supply), Scale::ONE, "nothing is over");
            if since > 150 {
                let reading = bench.limiter.reading(supply);
                assert_eq!(reading.sent, reading.asked, "{since} ms after the turn");
            }
        });
    }
}

#[test]
fn a_dark_floor_over_its_limit_is_called_impossible() {
    let mut chance = Chance::new(3);
    let text = random_floor(&mut chance)
        .lines()
        .map(|line| {
            if line.starts_with("idle_ma") {
                "idle_ma = 900"
            } else {
                line
            }
        })
        .collect::<Vec<_>>()
        .join("\n");
    let mut bench = Bench::new(&text);
    bench.arrived.fill(255);
    bench.run(1_000, |_| {});
    let tree = bench.limiter.tree();
    let supply = tree.supply(0);
    assert!(tree.elements[supply as usize].impossible());
    for panel in 0..bench.tables.panels.len() {
        assert_eq!(bench.limiter.panel_scale(panel), Scale::ZERO);
    }
    assert_eq!(
        bench.limiter.reading(supply).sent,
        tree.elements[supply as usize].idle
    );
}

/// Common practice, no source: 64 panels of 120 LEDs at 14.4 W/m with 60 LEDs/m on 12 V draw
/// 2.4 A each, 153.6 A together, 76.8 % of a 200 A supply. In 3-LED groups that is 40 pixels and
/// 120 slots a panel.
fn common_floor(margin: f64) -> String {
    let mut text = format!(
        "name = \"common\"\n[grid]\ncolumns = 8\nrows = 8\npanel_mm = [500, 500]\npanel = \"p\"\n\
         [cap]\nmargin = {margin}\n[pixel.g]\nslots = \"RGB\"\nvolts = 12\n\
         full_ma = {{ red = 20, green = 20, blue = 20 }}\nidle_ma = 0\n\
         [panel.p]\npixel = \"g\"\ncolumns = 8\nrows = 5\n\
         [[circuit]]\nname = \"c\"\nvolts = 230\nrated_a = 32\n\
         [[supply]]\nname = \"s\"\ncircuit = \"c\"\nvolts = 12\nrated_a = 200\n\
         efficiency = 0.88\npower_factor = 0.95\n[[node]]\nname = \"n\"\naddress = \"10.9.1.1\"\n"
    );
    for row in 1..=8 {
        let _ = writeln!(
            text,
            "[[feed]]\nname = \"f{row}\"\nsupply = \"s\"\nfuse_a = 40\n\
             positions = [\"A{row}..H{row}\"]\n\
             [[run]]\nnode = \"n\"\nstart = \"0:0:{}\"\npanels = [\"A{row}..H{row}\"]",
            (row - 1) * 2
        );
    }
    text
}

#[test]
fn the_common_floor_draws_what_is_commonly_said() {
    let mut bench = Bench::new(&common_floor(0.8));
    bench.arrived.fill(255);
    bench.run(3_000, Bench::assert_kept);
    let tree = bench.limiter.tree();
    let supply = bench.limiter.reading(tree.supply(0));
    assert!((bench.limiter.reading(tree.panel(0)).sent.amps().0 - 2.4).abs() < 1e-9);
    assert!((supply.sent.amps().0 - 153.6).abs() < 1e-9);
    assert!((supply.sent.amps().0 / 200.0 - 0.768).abs() < 1e-9);
    // Mains current = P / (V × power factor × efficiency): 1,843.2 W at 230 V are 9.586 A.
    let mains = bench.limiter.reading(tree.circuit(0)).sent.amps().0;
    assert!((mains - 1_843.2 / (230.0 * 0.95 * 0.88)).abs() < 1e-6);
    assert!(
        tree.elements
            .iter()
            .all(|element| element.level != Level::Panel || element.rated_a.is_none())
    );
    // With half of the rating as the limit, white is dimmed to 100 A of 153.6 A: 65.1 %.
    let mut bench = Bench::new(&common_floor(0.5));
    bench.arrived.fill(255);
    bench.run(3_000, Bench::assert_kept);
    let tree = bench.limiter.tree();
    let scale = bench.limiter.scale(tree.supply(0)).fraction();
    assert!((scale - 100.0 / 153.6).abs() < 1e-4, "{scale}");
    // Level 255 × 0.651 = 166.0 is rounded down to 166 or 165.
    let draw = bench.limiter.reading(tree.supply(0)).sent.amps().0;
    assert!(draw <= 100.0 && draw > 99.0, "{draw}");
}
