//! The floor file read again while the floor runs: no blink, and no limit passed by what is sent.

mod support;

use litfloor::engine::command::Command;
use litfloor::pattern::{Start, TestPattern};
use litfloor::sim::link::Chance;
use litfloor::units::Time;
use support::pair::pair;
use support::random::{random_floor, with_more_limits};
use support::{CONSOLE, World};

/// Nothing that was sent earlier than this before a change can still be on show after it: the
/// slowest repeat is 40 ms apart, at most four are needed, and none is later than 30 ms.
const REMEMBERED_MS: u64 = 1_000;

/// After a change all that was sent before it is off show within this time.
const SETTLED_MS: u64 = 1_000;

/// What a console plays.
#[derive(Clone, Copy)]
enum Content {
    /// Every slot by chance in every frame.
    Noise,
    /// All at full, then all dark.
    Flip,
    /// Each universe at full or dark, by these bits.
    Still(u64),
}

/// One frame of all universes, and the pause after it.
fn play(
    world: &mut World,
    chance: &mut Chance,
    (content, sync): (Content, bool),
    frame: u64,
    each: &mut impl FnMut(&World),
) {
    for universe in 0..world.tables.universes.len() {
        let full = |on: bool| [u8::from(on) * 255; 512];
        let slots = match content {
            Content::Noise => [(); 512].map(|()| u8::try_from(chance.up_to(255)).unwrap()),
            Content::Flip => full(frame / 20 % 2 == 1),
            Content::Still(bits) => full(bits >> universe & 1 == 1),
        };
        world.console_sends(universe, &slots);
        let until = world.now.plus_us(chance.up_to(800));
        world.run_until(until, |world| each(world));
    }
    if sync {
        world.arrives(CONSOLE, &litfloor::wire::sync::BYTES);
    }
    let until = world.now.plus_us(10_000 + chance.up_to(14_000));
    world.run_until(until, |world| each(world));
}

/// The floor file after someone was at it: other ratings, other addresses, another way of wiring.
fn edited(text: &str, chance: &mut Chance) -> String {
    let what = chance.up_to(7);
    let factor = 0.6 + 0.8 * chance.share();
    let mut lines = Vec::new();
    for line in text.lines() {
        let line = match (what, line.split_once(" = ")) {
            (1 | 2, Some((key @ ("fuse_a" | "rated_a"), value))) => {
                format!("{key} = {:.2}", value.parse::<f64>().unwrap() * factor)
            }
            (2 | 3, Some(("slot", _))) => format!("slot = {}", 1 + chance.up_to(500)),
            (4, Some(("node", value))) if text.contains("\"n1\"") => {
                let other = if value == "\"n0\"" { "n1" } else { "n0" };
                format!("node = \"{other}\"")
            }
            (3 | 5, Some(("packing", _))) => {
                let all = ["packed", "whole-pixel", "whole-panel"];
                format!(
                    "packing = \"{}\"",
                    all[usize::try_from(chance.up_to(2)).unwrap()]
                )
            }
            // What was a panel's first slots is now dark pixels' before it; or the other way round.
            (6, Some(("panels", value))) => match value.strip_prefix("[{ unused_pixels = ") {
                Some(rest) => format!("panels = [{}", rest.split_once("}, ").unwrap().1),
                None => format!("panels = [{{ unused_pixels = 8 }}, {}", &value[1..]),
            },
            _ => line.to_owned(),
        };
        lines.push(line);
    }
    lines.join("\n")
}

#[test]
fn what_is_sent_after_a_change_keeps_the_limits_of_the_new_floor() {
    let (mut nearest, mut changes, mut checks, mut settled) = (0.0_f64, 0, 0_u64, 0_u64);
    for seed in 0..60 {
        let mut chance = Chance::new(seed ^ 0x0BAD_F00D);
        let mut text = random_floor(&mut chance);
        if seed % 2 == 1 {
            text = with_more_limits(&text, &mut chance);
        }
        let mut world = World::new(&text, seed, 0.2).nodes_that_output_all();
        let sync = seed % 5 == 4;
        for round in 0..4 {
            for frame in 0..30 {
                let content =
                    [Content::Noise, Content::Flip][usize::try_from((seed + round) % 2).unwrap()];
                play(
                    &mut world,
                    &mut chance,
                    (content, sync),
                    frame,
                    &mut |_: &World| {},
                );
            }
            // A still picture, so long that nothing else can be on show: what is drawn after the
            // change has nothing brighter of before to hide behind.
            let bits = chance.bits();
            let still = world.now;
            while world.now < still.plus_ms(2 * REMEMBERED_MS) {
                let content = Content::Still(bits);
                play(
                    &mut world,
                    &mut chance,
                    (content, sync),
                    0,
                    &mut |_: &World| {},
                );
            }
            text = edited(&text, &mut chance);
            let since = Time(world.now.0.saturating_sub(REMEMBERED_MS * 1_000));
            let before = world.brightest(since);
            let at = world.now;
            world.replace(&text);
            changes += 1;
            // What nodes may still show of before is drawn, however the new floor reckons it.
            let most = world.amperes_of(&before);
            for frame in 0..90 {
                let content = match frame {
                    0..20 => Content::Still(!bits),
                    _ if (seed + round) % 3 == 0 => Content::Noise,
                    _ => Content::Flip,
                };
                play(
                    &mut world,
                    &mut chance,
                    (content, sync),
                    frame,
                    &mut |world: &World| {
                        let over = world.now >= at.plus_ms(SETTLED_MS);
                        for (name, draw_a, limit_a, most_a) in world.loads(&most) {
                            let may_a = if over { limit_a } else { limit_a.max(most_a) };
                            assert!(
                                draw_a <= may_a * (1.0 + 1e-9),
                                "{name} draws {draw_a} of {limit_a} A (before: {most_a} A) at {:?}, \
                             changed at {at:?}, floor {seed}",
                                world.now
                            );
                            if over {
                                nearest = nearest.max(draw_a / limit_a);
                                settled += 1;
                            }
                            checks += 1;
                        }
                    },
                );
            }
        }
    }
    // The test would prove nothing if the floors were never near their limits.
    assert!(nearest > 0.97, "came only to {nearest} of a limit");
    assert!(settled > 100_000, "{settled} of {checks}");
    println!("{changes} changes, {checks} checks, nearest to a limit: {nearest:.4}");
}

/// A console plays noise, on a floor that is never dimmed; the file is read again unchanged.
#[test]
fn the_same_floor_again_changes_no_picture_that_leaves() {
    for seed in 0..20 {
        let mut pictures = Vec::new();
        for again in [false, true] {
            let mut chance = Chance::new(seed);
            let text: String = random_floor(&mut chance)
                .lines()
                .map(|line| match line.split_once(" = ") {
                    Some((key @ ("fuse_a" | "rated_a"), _)) => format!("{key} = 500\n"),
                    _ => format!("{line}\n"),
                })
                .collect();
            let mut world = World::new(&text, seed, 0.0).nodes_that_output_all();
            for frame in 0..60 {
                play(
                    &mut world,
                    &mut chance,
                    (Content::Noise, false),
                    frame,
                    &mut |_: &World| {},
                );
                if again && frame % 10 == 7 {
                    world.replace(&text);
                }
            }
            assert_eq!(world.engine.revision(), if again { 7 } else { 1 });
            // Repeats are no news.
            let mut told = std::collections::BTreeMap::<_, Vec<Vec<u8>>>::new();
            // One that has nothing but unused pixels is dark for ever.
            let lit: Vec<_> = (world.tables.outputs.iter())
                .filter(|universe| !universe.parts.is_empty())
                .map(|universe| universe.port_address)
                .collect();
            let sent = world.sent.iter();
            for sent in sent.filter(|sent| lit.contains(&sent.port_address)) {
                let of = told.entry((sent.to, sent.port_address)).or_default();
                if of.last() != Some(&sent.slots) {
                    of.push(sent.slots.clone());
                }
            }
            assert!(
                told.values().all(|of| of.len() > 55),
                "noise did not arrive"
            );
            pictures.push(told);
        }
        assert!(pictures[0] == pictures[1], "floor {seed}");
    }
}

#[test]
fn a_still_picture_that_is_dimmed_stays_as_it_is() {
    let mut dimmed = 0;
    for seed in 0..20 {
        let mut chance = Chance::new(seed);
        let text = random_floor(&mut chance);
        let mut world = World::new(&text, seed, 0.0).nodes_that_output_all();
        for _ in 0..200 {
            for universe in 0..world.tables.universes.len() {
                world.console_sends(universe, &[255; 512]);
            }
            world.run_until(world.now.plus_ms(23), |_| {});
        }
        let before = world.sent.len();
        let last = |world: &World| -> std::collections::BTreeMap<_, _> {
            let sent = world.sent.iter();
            sent.map(|sent| ((sent.to, sent.port_address), sent.slots.clone()))
                .collect()
        };
        let picture = last(&world);
        dimmed += u32::from(
            picture
                .values()
                .flatten()
                .any(|&level| (1..255).contains(&level)),
        );
        world.replace(&text);
        for _ in 0..60 {
            world.run_until(world.now.plus_ms(23), |_| {});
        }
        for sent in &world.sent[before..] {
            let was = &picture[&(sent.to, sent.port_address)];
            assert!(&sent.slots == was, "floor {seed}, {:?}", sent.port_address);
        }
    }
    assert!(dimmed > 10, "only {dimmed} of 20 floors are dimmed");
}

/// Where A1 was, 40 unused pixels are now, and B1 has got a universe of its own.
#[test]
fn light_on_pixels_that_are_unused_now_leaves_less_for_the_others() {
    let before = pair(3.0, &["start = \"0:0:1\"\npanels = [\"A1\", \"B1\"]"]);
    let after = pair(
        3.0,
        &[
            "start = \"0:0:1\"\npanels = [{ unused_pixels = 40 }, \"A1\"]",
            "start = \"0:0:2\"\npanels = [\"B1\"]",
        ],
    );
    let mut white = [0; 512];
    white[..120].fill(255);
    for seed in 0..20 {
        let mut world = World::new(&before, seed, 0.3).nodes_that_output_all();
        for _ in 0..80 {
            world.console_sends(0, &white);
            world.run_until(world.now.plus_ms(25), |_| {});
        }
        assert!((world.true_amperes().feeds[0] - 2.4).abs() < 1e-9);
        world.replace(&after);
        let mut last = 0.0;
        for _ in 0..120 {
            world.console_sends(1, &[255; 512]);
            world.console_sends(0, &white);
            world.run_until(world.now.plus_ms(25), |world| {
                last = world.assert_within_limits();
            });
        }
        // Then B1 gets all that it asks for, 2.4 A of 3 A.
        assert!((last - 0.8).abs() < 1e-9, "{last}");
    }
}

/// Four panels in a row, the last one in a universe of its own.
fn row(panels: u16) -> String {
    let (long, empty, last) = match panels {
        4 => (
            "[[run]]\nnode = \"n\"\nstart = \"0:0:9\"\nslot = 1\npanels = [\"D1\"]\n",
            "",
            "D1",
        ),
        _ => ("", "empty = [\"D1\"]\n", "C1"),
    };
    format!(
        "name = \"row\"\n[grid]\ncolumns = 4\nrows = 1\npanel_mm = [400, 400]\npanel = \"square\"\n{empty}\
         [pixel.p]\nslots = \"GRB\"\nvolts = 12\nidle_ma = 1\nfull_ma = {{ red = 18, green = 18, blue = 18 }}\n\
         [panel.square]\npixel = \"p\"\ncolumns = 2\nrows = 2\n\
         [[node]]\nname = \"n\"\naddress = \"10.9.1.1\"\n\
         [[run]]\nnode = \"n\"\nstart = \"0:0:1\"\nslot = 1\npanels = [\"A1..C1\"]\n{long}\
         [[circuit]]\nname = \"c\"\nvolts = 230\nrated_a = 10\n\
         [[supply]]\nname = \"s\"\ncircuit = \"c\"\nvolts = 12\nrated_a = 30\n\
         efficiency = 0.88\npower_factor = 0.95\n\
         [[feed]]\nname = \"f\"\nsupply = \"s\"\nfuse_a = 10\npositions = [\"A1..{last}\"]\n"
    )
}

fn held(world: &World, universe: u16) -> Vec<u8> {
    let address = litfloor::wire::PortAddress::new(universe).unwrap();
    world.nodes[0].held(address).unwrap()[..12].to_vec()
}

#[test]
fn what_is_no_longer_mapped_goes_dark() {
    let mut world = World::new(&row(4), 1, 0.2).nodes_that_output_all();
    for universe in 0..2 {
        world.console_sends(universe, &[200; 512]);
    }
    world.run_until(world.now.plus_ms(500), |_| {});
    assert_eq!(
        (held(&world, 1), held(&world, 9)),
        (vec![200; 12], vec![200; 12])
    );
    world.replace(&row(3));
    world.run_until(world.now.plus_ms(500), |_| {});
    assert_eq!(
        (held(&world, 1), held(&world, 9)),
        (vec![200; 12], vec![0; 12])
    );
    // It comes back when it is mapped again: its console never stopped.
    world.replace(&row(4));
    world.console_sends(1, &[200; 512]);
    world.run_until(world.now.plus_ms(500), |_| {});
    assert_eq!(
        (held(&world, 1), held(&world, 9)),
        (vec![200; 12], vec![200; 12])
    );
}

/// The first black frames may be overtaken by the last bright one, or be lost, on a network that
/// keeps its promise.
#[test]
fn what_is_no_longer_mapped_goes_dark_on_the_worst_network_that_is_promised() {
    for seed in 0..200 {
        let text = |panels| {
            row(panels).replace(
                "[pixel.p]",
                "[delivery]\ncopies = 4\nlate_ms = 200\n[pixel.p]",
            )
        };
        let mut world = World::new(&text(4), seed, 0.6).nodes_that_output_all();
        for frame in 0..20_u8 {
            for universe in 0..2 {
                world.console_sends(universe, &[200 + frame; 512]);
            }
            world.run_until(world.now.plus_ms(25), |_| {});
        }
        world.replace(&text(3));
        world.run_until(world.now.plus_ms(2_000), |_| {});
        assert_eq!(held(&world, 9), vec![0; 12], "network {seed}");
    }
}

#[test]
fn what_is_no_longer_mapped_is_told_until_it_is_surely_dark() {
    let mut world = World::new(&row(4), 1, 0.2).nodes_that_output_all();
    let told = |world: &World| world.engine.state(world.now).file.made_dark;
    assert!(told(&world).is_empty());
    world.replace(&row(3));
    assert_eq!(told(&world), ["0:0:9 at 10.9.1.1:6454"]);
    world.run_until(world.now.plus_ms(299_000), |_| {});
    assert_eq!(told(&world).len(), 1);
    let sent = world.sent.len();
    world.run_until(world.now.plus_ms(3_000), |_| {});
    assert!(told(&world).is_empty());
    world.run_until(world.now.plus_ms(3_000), |_| {});
    let dark = |sent: &support::Sent| sent.port_address.number() == 9;
    assert!(world.sent[sent..].iter().filter(|sent| dark(sent)).count() < 5);
    // What is mapped again is sent its own picture and nothing else.
    world.replace(&row(4));
    world.replace(&row(3));
    world.replace(&row(4));
    assert!(told(&world).is_empty());
}

#[test]
fn a_pattern_goes_on_where_it_can_and_ends_where_it_can_not() {
    let mut world = World::new(&row(4), 1, 0.0).nodes_that_output_all();
    for universe in 0..2 {
        world.console_sends(universe, &[40; 512]);
    }
    let start = |position: &str| {
        let position = position.to_owned();
        Command::Start(Start::new(TestPattern::Panel { position }))
    };
    world.command(start("A1")).unwrap();
    world.run_until(world.now.plus_ms(2_000), |_| {});
    let lit = [vec![128; 12], vec![0; 12]];
    assert_eq!([held(&world, 1), held(&world, 9)], lit);
    world.replace(&row(3));
    world.replace(&row(4));
    world.run_until(world.now.plus_ms(1_000), |_| {});
    let pattern = world.engine.state(world.now).pattern.unwrap();
    assert!((pattern.since_s - 3.0).abs() < 0.1, "{}", pattern.since_s);
    assert_eq!([held(&world, 1), held(&world, 9)], lit);
    // D1 is not on the smaller floor: the console's picture shows again.
    world.command(start("D1")).unwrap();
    world.replace(&row(3));
    assert_eq!(world.engine.state(world.now).pattern, None);
    world.run_until(world.now.plus_ms(500), |_| {});
    assert_eq!(
        [held(&world, 1), held(&world, 9)],
        [vec![40; 12], vec![0; 12]]
    );
}

#[test]
fn a_refused_file_is_told_and_forgotten_when_one_is_taken() {
    let mut world = World::new(&row(4), 1, 0.0).nodes_that_output_all();
    let faults = litfloor::floor::parse("floor.toml", "nme = 1").unwrap_err();
    world.engine.refuse_file(faults.rows(), world.now);
    let state = world.engine.state(world.now);
    let refusal = state.file.refusal.as_ref().unwrap();
    assert_eq!(refusal.count as usize, refusal.faults.len());
    let notice = |state: &litfloor::engine::snapshot::State| {
        let mut notices = state.notices.iter();
        notices
            .find(|notice| notice.code == "file_refused")
            .cloned()
    };
    let text = notice(&state).unwrap().text;
    assert!(
        text.contains("the floor of before goes on. First: line 1: "),
        "{text}"
    );
    world.replace(&row(4));
    let state = world.engine.state(world.now);
    assert_eq!(
        (state.revision, state.file.refusal.clone(), notice(&state)),
        (2, None, None)
    );
}
