//! Who is dimmed on a supply with `sharing = "max-min"`: only the panels that ask for most, all to
//! one level, and that is the highest that keeps the limit.

mod support;

use std::fmt::Write;

use litfloor::power::draw::Scale;
use litfloor::sim::link::Chance;
use support::bench::Bench;

/// Panels in a row, each with a universe of its own; every feed has four. A panel draws 14.4 A in
/// white: 160 pixels of 3 × 30 mA.
fn row(panels: usize, supply_a: f64, fuse_a: f64) -> String {
    let mut text = format!(
        "name = \"row\"\n[grid]\ncolumns = {panels}\nrows = 1\npanel_mm = [400, 400]\n\
         panel = \"p\"\n[cap]\nmargin = 1\nlet_up_s = 0.3\n\
         [pixel.d]\nslots = \"RGB\"\nvolts = 12\nidle_ma = 1\n\
         full_ma = {{ red = 30, green = 30, blue = 30 }}\n\
         [panel.p]\npixel = \"d\"\ncolumns = 16\nrows = 10\n\
         [[node]]\nname = \"n\"\naddress = \"10.9.1.1\"\n\
         [[circuit]]\nname = \"c\"\nvolts = 230\nrated_a = 100\n\
         [[supply]]\nname = \"s\"\ncircuit = \"c\"\nvolts = 12\nrated_a = {supply_a:.4}\n\
         efficiency = 0.9\npower_factor = 0.9\nsharing = \"max-min\"\n"
    );
    for at in 0..panels {
        let letter = letter(at);
        let _ = writeln!(
            text,
            "[[run]]\nnode = \"n\"\nstart = \"0:0:{at}\"\npanels = [\"{letter}1\"]"
        );
        if at % 4 == 0 {
            let last = self::letter((at + 3).min(panels - 1));
            let _ = writeln!(
                text,
                "[[feed]]\nname = \"f{at}\"\nsupply = \"s\"\nfuse_a = {fuse_a}\n\
                 positions = [\"{letter}1..{last}1\"]"
            );
        }
    }
    text
}

fn letter(at: usize) -> char {
    char::from(b'A' + u8::try_from(at).unwrap())
}

/// The level by sorting: panels that ask for less than an equal part of what is left get all that
/// they ask, in order; the rest share alike (progressive filling, as in textbooks on networks).
fn level_by_sorting(asked_a: &[f64], room_a: f64) -> Option<f64> {
    if asked_a.iter().sum::<f64>() <= room_a {
        return None;
    }
    let mut sorted = asked_a.to_vec();
    sorted.sort_by(f64::total_cmp);
    let mut left_a = room_a;
    for (at, &asked_a) in sorted.iter().enumerate() {
        let equal_a = left_a / f64::from(u32::try_from(sorted.len() - at).unwrap());
        if asked_a > equal_a {
            return Some(equal_a);
        }
        left_a -= asked_a;
    }
    None
}

impl Bench {
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
                let left = self.limiter.frame(out, &self.arrived, self.now, repeat);
                if left.is_some() {
                    self.limiter.left(out, self.now);
                }
            }
            for (at, element) in self.limiter.tree().elements.iter().enumerate() {
                let reading = self.limiter.reading(u32::try_from(at).unwrap());
                assert!(reading.sent <= element.limit, "{element:?} {reading:?}");
            }
            each(self);
        }
    }

    /// What every panel asks, and what it gets, beyond idle, in amperes.
    fn panels_a(&self) -> (Vec<f64>, Vec<f64>) {
        let tree = self.limiter.tree();
        let of = |panel| {
            let reading = self.limiter.reading(tree.panel(panel));
            let idle = tree.elements[panel].idle;
            let beyond = |draw: litfloor::units::Draw| (draw - idle).amps().0;
            (beyond(reading.asked), beyond(reading.sent))
        };
        (0..self.tables.panels.len()).map(of).unzip()
    }

    fn ask_at_random(&mut self, chance: &mut Chance) {
        for universe in 0..self.tables.universes.len() {
            let level = u8::try_from(10 + chance.up_to(245)).unwrap();
            self.arrived[universe * 512..][..512].fill(level);
        }
    }
}

#[test]
fn only_who_asks_for_most_is_dimmed_and_all_of_them_to_one_level() {
    let (mut dimmed, mut spared) = (0, 0);
    for seed in 0..120 {
        let mut chance = Chance::new(seed);
        let panels = 2 + usize::try_from(chance.up_to(10)).unwrap();
        let white_a = 14.4 * f64::from(u32::try_from(panels).unwrap());
        let supply_a = white_a * (0.1 + 0.6 * chance.share());
        let mut bench = Bench::new(&row(panels, supply_a, 500.0));
        bench.ask_at_random(&mut chance);
        bench.run(4_000, |_| {});
        let (asked_a, sent_a) = bench.panels_a();
        let idle_a = 0.16 * f64::from(u32::try_from(panels).unwrap());
        let level_a = level_by_sorting(&asked_a, supply_a - idle_a);
        for (&asked_a, &sent_a) in asked_a.iter().zip(&sent_a) {
            match level_a {
                Some(level_a) if asked_a > level_a => {
                    // Rounded down to a step of all its levels, 14.4 A / 255.
                    let step_a = 14.4 / 255.0;
                    assert!(sent_a <= level_a + 1e-9, "{sent_a} of {level_a}");
                    assert!(sent_a > level_a - step_a - 0.001, "{sent_a} of {level_a}");
                    dimmed += 1;
                }
                _ => {
                    assert!((sent_a - asked_a).abs() < 1e-9, "{sent_a} of {asked_a}");
                    spared += u32::from(level_a.is_some());
                }
            }
        }
        let told = bench.limiter.level(bench.limiter.tree().supply(0));
        let told_a = told.map(|level| level.amps().0);
        assert_eq!(told_a.is_some(), level_a.is_some());
        if let (Some(told_a), Some(level_a)) = (told_a, level_a) {
            // In parts of 65,536 of what the largest panel draws.
            assert!((told_a - level_a).abs() < 2.0 * 14.4 / 65_536.0);
        }
    }
    assert!(dimmed > 300 && spared > 100, "{dimmed} {spared}");
}

/// A feed that holds its panels back leaves more for the others, and needs no level below what it
/// lets through.
#[test]
fn what_a_feed_holds_back_is_left_for_the_others() {
    // Four panels at 14.4 A on a fuse of 10 A, and one more on another; 20 A in all.
    let mut bench = Bench::new(&row(5, 20.0, 10.0));
    bench.arrived.fill(255);
    bench.run(4_000, |_| {});
    let (_, sent_a) = bench.panels_a();
    // 10 A less 4 × 160 mA idle are left for four, 10 A less 160 mA for the fifth; the supply has
    // 20 A less 0.8 A, which is just both.
    for &sent_a in &sent_a[..4] {
        assert!(
            sent_a <= 9.36 / 4.0 && sent_a > 9.36 / 4.0 - 0.06,
            "{sent_a}"
        );
    }
    assert!(
        sent_a[4] <= 9.84 && sent_a[4] > 9.84 - 0.06,
        "{}",
        sent_a[4]
    );
}

#[test]
fn constant_input_makes_factors_rise_and_then_stand_still() {
    for seed in 0..20 {
        let mut chance = Chance::new(seed);
        let mut bench = Bench::new(&row(6, 12.0 + 30.0 * chance.share(), 25.0));
        bench.arrived.fill(255);
        bench.run(2_000, |_| {});
        bench.ask_at_random(&mut chance);
        bench.run(200, |_| {});
        let scales = |bench: &Bench| -> Vec<Scale> {
            let panels = 0..bench.tables.panels.len();
            panels
                .map(|panel| bench.limiter.panel_scale(panel))
                .collect()
        };
        let mut last = scales(&bench);
        bench.run(4_000, |bench| {
            let now = scales(bench);
            for (before, after) in last.iter().zip(&now) {
                // Rounded factors may be a few parts of 65,536 apart.
                assert!(after.0 + 8 >= before.0, "{before:?} fell to {after:?}");
            }
            last = now;
        });
        let (settled, pictures) = (scales(&bench), bench.panels_a().1);
        bench.run(2_000, |bench| {
            assert_eq!(scales(bench), settled);
            assert_eq!(bench.panels_a().1, pictures);
        });
    }
}
