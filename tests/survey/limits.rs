//! True current is never over any limit while a survey runs, whatever the limits are.

use std::collections::HashMap;
use std::fmt::Write;

use litfloor::engine::command::{Command, LiveLimit};
use litfloor::engine::survey::items::Items;
use litfloor::sim::link::Chance;

use super::bench::Bench;
use super::support::World;
use super::support::random::{random_floor, with_more_limits};

/// A random floor with a sensor at its supply and one at its first feed.
fn floor(chance: &mut Chance, more: bool) -> String {
    let mut text = random_floor(chance);
    if more {
        text = with_more_limits(&text, chance);
    }
    for of in ["supply = \"s\"", "feed = \"fA\""] {
        let _ = writeln!(
            text,
            "\n[[sensor]]\nname = \"at {}\"\n{of}\nevery_s = 0.1",
            of.replace('"', "")
        );
    }
    text
}

/// What items are computed to draw of what was sent, and idle, is what the witness says that panels draw.
#[test]
fn items_draw_what_the_witness_says() {
    for seed in 100..130 {
        let mut chance = Chance::new(seed);
        let text = random_floor(&mut chance);
        let world = World::new(&text, seed, 0.0);
        let items = Items::new(
            &world.floor,
            &world.tables,
            &vec![true; world.floor.panels.len()],
        );
        let length = world.tables.outputs.len() * 512;
        let slots: Vec<u8> = (0..length)
            .map(|_| u8::try_from(chance.up_to(255)).unwrap())
            .collect();
        // Unused pixels are always sent dark.
        let mut slots = slots;
        for (output, frame) in world.tables.outputs.iter().zip(slots.chunks_exact_mut(512)) {
            for unused in &output.unused {
                frame[usize::from(unused.dst)..][..usize::from(unused.len)].fill(0);
            }
        }
        let frames = world.tables.outputs.iter().zip(slots.as_chunks::<512>().0);
        let frames: HashMap<_, _> = frames
            .map(|(output, frame)| {
                let node = output.node.map(|node| usize::try_from(node).unwrap());
                ((node, output.port_address), frame)
            })
            .collect();
        let truth =
            (world.truth).amperes_held(|node, address| frames.get(&(node, address)).copied());
        let mut panels: Vec<f64> = world
            .tables
            .panels
            .iter()
            .map(|row| row.idle.amps().0)
            .collect();
        for (item, a) in items.all.iter().zip(items.amps(&world.tables, &slots)) {
            panels[usize::try_from(item.panel).unwrap()] += a;
        }
        for (panel, (computed, a)) in panels.iter().zip(&truth.panels).enumerate() {
            assert!(
                (computed - a).abs() < 1e-6,
                "{seed} {panel}: {computed} {a}"
            );
        }
    }
}

#[test]
fn no_instant_passes_a_limit_while_a_survey_runs() {
    let (mut nearest, mut datagrams, mut lights, mut refused) = (0.0_f64, 0, 0, 0);
    for seed in 0..40 {
        let mut chance = Chance::new(seed);
        let text = floor(&mut chance, seed % 2 == 1);
        let mut bench = Bench::new(&text, seed);
        let since = bench.world.now.plus_ms(500);
        let mut each = |world: &World| {
            datagrams += 1;
            let near = world.assert_within_limits();
            // That of the console's picture proves nothing of the survey.
            if world.engine.is_surveying() && world.now > since.plus_ms(1_000) {
                nearest = nearest.max(near);
            }
        };
        // The survey begins while a bright picture is on show, and ends in one.
        bench.console_plays(255);
        bench.pass(500, &mut each);
        if !bench.try_survey() {
            refused += 1;
            continue;
        }
        bench.pass(15_000, &mut each);
        // Somebody turns the floor down in the middle.
        if seed % 4 == 3 {
            let limit = LiveLimit {
                floor_va: Some(20 + u32::try_from(chance.up_to(200)).unwrap()),
            };
            bench.world.command(Command::LimitFloor(limit)).unwrap();
            bench.pass(5_000, &mut each);
        }
        lights += bench.state().pattern;
        bench.world.command(Command::StopSurvey(None)).unwrap();
        bench.pass(500, &mut each);
    }
    println!("{datagrams} datagrams, {lights} lights, {refused} refused, nearest {nearest:.4}");
    assert!(lights > 300, "only {lights} lights");
    assert!(refused < 10, "{refused} floors refused");
    assert!(datagrams > 20_000, "only {datagrams} datagrams");
    assert!(nearest > 0.95, "never near a limit: {nearest}");
}

/// Limits that leave light for a few segments only: they are all decided all the same, in the light that
/// the limits leave.
#[test]
fn tight_limits_take_longer_and_find_the_same() {
    // A feed has eight segments of 0.54 A; its fuse may carry three of them, and dark pixels.
    let text = super::bench::floor(super::bench::FEEDS).replace("fuse_a = 10", "fuse_a = 2.2");
    let mut bench = Bench::new(&text, 11);
    let broken = bench.break_some(2);
    bench.survey(None);
    bench.run_to_its_end();
    let outcome = bench.state().outcome.unwrap();
    let found = outcome.dead.iter();
    let found: Vec<_> = found
        .map(|one| (one.position.clone(), one.segment))
        .collect();
    assert_eq!((found, outcome.unknown), (broken, 0), "{}", outcome.text);
}
