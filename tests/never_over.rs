//! No instant passes a limit.
//!
//! The engine sends over a made-up network that loses, delays, reorders and doubles datagrams
//! within the floor file's `[delivery]`. After every single datagram that reaches a node, a
//! witness that shares no code with the engine sums what every node really holds.

mod support;

use litfloor::engine::command::{Command, Step};
use litfloor::floor::model::Delivery;
use litfloor::pattern::{Cover, Light, Pace, Start, TestPattern};
use litfloor::sim::link::Chance;
use litfloor::units::Time;
use support::pair::pair;
use support::random::{random_floor, with_more_limits};
use support::{CONSOLE, World};

/// What a console plays.
#[derive(Clone, Copy, Debug)]
enum Content {
    /// Every slot by chance in every frame.
    Noise,
    /// One universe after the other at full, the others dark.
    Chase,
    /// The same, but each for a second, so that every factor is let up in between.
    SlowChase,
    /// All at full or all dark, by chance.
    Flip,
    /// All at full, always.
    White,
}

impl Content {
    fn fill(self, universe: usize, universes: usize, frame: u64, chance: &mut Chance) -> Vec<u8> {
        let level = match self {
            Self::Noise => {
                return (0..512)
                    .map(|_| u8::try_from(chance.up_to(255)).unwrap())
                    .collect();
            }
            Self::Chase | Self::SlowChase => {
                let frames = if matches!(self, Self::Chase) { 3 } else { 45 };
                let lit = usize::try_from(frame / frames).unwrap() % universes;
                if lit == universe { 255 } else { 0 }
            }
            Self::Flip => u8::try_from(chance.up_to(1) * 255).unwrap(),
            Self::White => 255,
        };
        vec![level; 512]
    }
}

fn play(seed: u64, content: Content, sync: bool) -> (f64, u64) {
    let mut chance = Chance::new(seed);
    let text = random_floor(&mut chance);
    play_on(
        World::new(&text, seed, 0.2),
        chance,
        content,
        sync,
        World::assert_within_limits,
    )
}

/// Plays for some seconds; gives how near to a limit it came and how many datagrams
/// reached nodes.
fn play_on(
    mut world: World,
    mut chance: Chance,
    content: Content,
    sync: bool,
    measure: impl Fn(&World) -> f64,
) -> (f64, u64) {
    let universes = world.tables.universes.len();
    let mut nearest = 0.0_f64;
    let mut datagrams = 0;
    let frames: u64 = if matches!(content, Content::SlowChase) {
        400
    } else {
        100
    };
    for frame in 0..frames + 30 {
        let content = match frame.checked_sub(frames) {
            None => content,
            Some(0..15) => Content::Flip,
            Some(_) => Content::White,
        };
        for universe in 0..universes {
            let slots = content.fill(universe, universes, frame, &mut chance);
            world.console_sends(universe, &slots);
            let until = world.now.plus_us(chance.up_to(800));
            world.run_until(until, |world| {
                datagrams += 1;
                nearest = nearest.max(measure(world));
            });
        }
        if sync {
            world.arrives(CONSOLE, &litfloor::wire::sync::BYTES);
        }
        let until = world.now.plus_us(10_000 + chance.up_to(14_000));
        world.run_until(until, |world| {
            datagrams += 1;
            nearest = nearest.max(measure(world));
        });
    }
    (nearest, datagrams)
}

#[test]
fn no_instant_passes_a_limit() {
    let contents = [
        Content::Noise,
        Content::Chase,
        Content::Flip,
        Content::White,
    ];
    let mut datagrams = 0;
    let mut nearest = 0.0_f64;
    for seed in 0..250 {
        let content = contents[usize::try_from(seed).unwrap() % contents.len()];
        let (near, count) = play(seed, content, seed % 7 == 6);
        nearest = nearest.max(near);
        datagrams += count;
    }
    // The test would prove nothing if the floors were never near their limits.
    assert!(nearest > 0.97, "came only to {nearest} of a limit");
    assert!(datagrams > 80_000, "only {datagrams} datagrams");
    println!("{datagrams} datagrams, nearest to a limit: {nearest:.4}");
}

/// The same with all that may be limited beside the ratings: the floor as a whole, peaks, rises.
#[test]
fn no_window_passes_a_limit() {
    let contents = [
        Content::White,
        Content::Chase,
        Content::Flip,
        Content::Noise,
        Content::SlowChase,
    ];
    let (mut nearest, mut spent, mut above, mut risen) = (0.0_f64, 0.0_f64, 0.0_f64, 0.0_f64);
    for seed in 0..70 {
        let content = contents[usize::try_from(seed).unwrap() % contents.len()];
        let mut chance = Chance::new(seed ^ 0x5EA1);
        let text = random_floor(&mut chance);
        let text = with_more_limits(&text, &mut chance);
        let mut world = World::new(&text, seed, 0.2);
        world.watches_windows = true;
        let universes = world.tables.universes.len();
        for frame in 0..250 {
            // Now and then all goes dark for a while, so that accounts fill.
            let rest = frame / 50 % 2 == 1 && content_rests(content);
            for universe in 0..universes {
                let mut slots = content.fill(universe, universes, frame, &mut chance);
                if rest {
                    slots.fill(0);
                }
                world.console_sends(universe, &slots);
                let until = world.now.plus_us(chance.up_to(800));
                world.run_until(until, |world| {
                    nearest = nearest.max(world.assert_within_limits());
                });
            }
            if seed % 7 == 6 && frame > 100 {
                world.arrives(CONSOLE, &litfloor::wire::sync::BYTES);
            }
            let until = world.now.plus_us(10_000 + chance.up_to(14_000));
            world.run_until(until, |world| {
                nearest = nearest.max(world.assert_within_limits());
            });
        }
        spent = spent.max(world.windows.spent);
        above = above.max(world.windows.above_a);
        risen = risen.max(world.windows.risen);
    }
    // The test would prove nothing if nothing came near to what it may.
    println!("nearest {nearest:.4}, spent {spent:.4}, above {above:.4}, risen {risen:.6}");
    assert!(nearest > 0.97, "came only to {nearest} of a limit");
    assert!(spent > 0.7 && above > 1.4, "{spent} of an account, {above}");
    assert!(risen > 0.99, "{risen} of a step");
}

const fn content_rests(content: Content) -> bool {
    matches!(content, Content::White | Content::Flip)
}

/// An order by chance: most start something.
fn order(world: &World, chance: &mut Chance) -> Command {
    let panel = |chance: &mut Chance| {
        let last = u64::try_from(world.floor.panels.len()).unwrap() - 1;
        let at = usize::try_from(chance.up_to(last)).unwrap();
        world.floor.panels[at].position.to_string()
    };
    let run = u32::try_from(chance.up_to(1)).unwrap();
    let pace = match chance.up_to(2) {
        0 => Pace::Held(0),
        _ => Pace::StepMs(250 + u32::try_from(chance.up_to(200)).unwrap()),
    };
    let pattern = match chance.up_to(16) {
        0 => return Command::Stop,
        1..=4 => return Command::Step(Step::By(1)),
        5 => return Command::OwnerGone(1),
        6 | 7 => TestPattern::All,
        8 | 9 => TestPattern::Panel {
            position: panel(chance),
        },
        10 => TestPattern::Walk { run: None, pace },
        11 => TestPattern::Run { run },
        12 => TestPattern::Node {
            node: "n0".to_owned(),
        },
        13 => TestPattern::Row { row: 1 },
        14 => TestPattern::Column {
            column: "B".to_owned(),
        },
        15 => TestPattern::Colours { pace },
        _ => TestPattern::Joints { pace },
    };
    let colours = [Light::White, Light::White, Light::Red, Light::Cyan];
    let cover = match chance.up_to(2) {
        0 => Cover::Panels((0..3).map(|_| panel(chance)).collect()),
        _ => Cover::All,
    };
    Command::Start(Start {
        cover,
        level: u8::try_from(255 - chance.up_to(3) * 60).unwrap(),
        colour: colours[usize::try_from(chance.up_to(3)).unwrap()],
        lasts_s: u32::try_from(1 + chance.up_to(2)).unwrap(),
        owner: Some(chance.up_to(2)),
        ..Start::new(pattern)
    })
}

#[test]
fn no_test_pattern_passes_a_limit() {
    let contents = [Content::Noise, Content::Chase, Content::Flip];
    let (mut nearest, mut datagrams, mut shown, mut ended) = (0.0_f64, 0, 0, 0);
    for seed in 0..120 {
        let mut chance = Chance::new(seed ^ 0xFACE);
        let text = random_floor(&mut chance);
        let mut world = World::new(&text, seed, 0.2);
        let universes = world.tables.universes.len();
        // Every fourth floor has no console.
        let content = contents.get(usize::try_from(seed).unwrap() % 4).copied();
        let mut on = false;
        for frame in 0..150 {
            for universe in 0..universes {
                if let Some(content) = content {
                    let slots = content.fill(universe, universes, frame, &mut chance);
                    world.console_sends(universe, &slots);
                }
                if chance.up_to(9) == 0 {
                    let order = order(&world, &mut chance);
                    // A step without a pattern, or a pattern beside its cover, is refused.
                    shown += u32::from(world.command(order).is_ok());
                }
                let until = world.now.plus_us(chance.up_to(2_000));
                world.run_until(until, |world| {
                    datagrams += 1;
                    nearest = nearest.max(world.assert_within_limits());
                });
            }
            if seed % 5 == 4 {
                world.arrives(CONSOLE, &litfloor::wire::sync::BYTES);
            }
            let until = world.now.plus_us(5_000 + chance.up_to(30_000));
            world.run_until(until, |world| {
                datagrams += 1;
                nearest = nearest.max(world.assert_within_limits());
            });
            let before =
                std::mem::replace(&mut on, world.engine.state(world.now).pattern.is_some());
            ended += u32::from(before && !on);
        }
    }
    // The test would prove nothing if the floors were never near their limits.
    assert!(nearest > 0.97, "came only to {nearest} of a limit");
    assert!(shown > 1_000 && ended > 100, "{shown} orders, {ended} ends");
    assert!(datagrams > 50_000, "only {datagrams} datagrams");
    println!("{datagrams} datagrams, {shown} orders, nearest to a limit: {nearest:.4}");
}

/// Proves the witness: when the network is worse than the floor file says, limits are passed and
/// it sees it.
#[test]
fn a_broken_promise_is_seen() {
    let mut passed = 0;
    for seed in 0..40 {
        let mut chance = Chance::new(seed);
        let text = random_floor(&mut chance)
            .lines()
            .map(|line| match line.split_once(" = ") {
                Some(("copies", _)) => "copies = 1",
                Some(("late_ms", _)) => "late_ms = 0",
                _ => line,
            })
            .collect::<Vec<_>>()
            .join("\n");
        let really = Delivery {
            copies: 6,
            late_ms: 60,
        };
        let world = World::with_network(&text, seed, 0.4, Some(really));
        let (nearest, _) = play_on(world, chance, Content::SlowChase, false, |world| {
            world.nearest_to_limit().1
        });
        passed += u32::from(nearest > 1.01);
    }
    assert!(passed >= 10, "only {passed} of 40 floors passed a limit");
}

#[test]
fn what_nodes_showed_before_the_start_is_reckoned_with() {
    let mut unused = 0;
    for seed in 0..40 {
        let mut chance = Chance::new(seed);
        let text = random_floor(&mut chance);
        let mut after = World::new(&text, seed + 1_000, 0.2);
        // Some other sender left light on the unused pixels as well.
        let pictures: Vec<[u8; 512]> = (after.tables.outputs.iter())
            .map(|universe| {
                let mut slots = [u8::try_from(chance.up_to(1) * 255).unwrap(); 512];
                for unused in &universe.unused {
                    slots[usize::from(unused.dst)..][..usize::from(unused.len)].fill(255);
                }
                slots
            })
            .collect();
        unused += after
            .tables
            .outputs
            .iter()
            .map(|universe| universe.unused.len())
            .sum::<usize>();
        // The brightest that just keeps the limits.
        let kept = (0..=255_u32).rev().find(|&share| {
            let mut picture = pictures.iter();
            after.nodes_show(|_| {
                let dimmed = |slot: u8| u8::try_from(u32::from(slot) * share / 255).unwrap();
                picture.next().unwrap().map(dimmed)
            });
            after.nearest_to_limit().1 <= 1.0
        });
        assert!(kept.is_some(), "floor {seed} passes a limit in the dark");
        for frame in 0..40 {
            for universe in 0..after.tables.universes.len() {
                let level = u8::try_from(chance.up_to(1) * 255).unwrap();
                after.console_sends(universe, &[level; 512]);
                after.run_until(after.now.plus_us(500), |world| {
                    world.assert_within_limits();
                });
            }
            after.run_until(Time::from_ms(1 + (frame + 1) * 25), |world| {
                world.assert_within_limits();
            });
        }
    }
    assert!(unused > 60, "only {unused} stretches of unused pixels");
}

/// Some other sender left 4.8 A of light in A1 and the unused pixels before it; the console asks for
/// another 2.4 A at once, where the fuse has 6 A.
#[test]
fn light_on_unused_pixels_of_before_the_start_leaves_less_for_the_others() {
    let runs = [
        "start = \"0:0:1\"\npanels = [{ unused_pixels = 40 }, \"A1\"]",
        "start = \"0:0:2\"\npanels = [\"B1\"]",
    ];
    for seed in 0..20 {
        let mut world = World::new(&pair(6.0, &runs), seed, 0.3);
        world.nodes_show(|universe| match universe.unused.as_slice() {
            [] => [0; 512],
            _ => [255; 512],
        });
        assert!((world.true_amperes().feeds[0] - 4.8).abs() < 1e-9);
        let mut last = 0.0;
        for _ in 0..120 {
            world.console_sends(1, &[255; 512]);
            world.run_until(world.now.plus_ms(25), |world| {
                last = world.assert_within_limits();
            });
        }
        // Then it gets all that it asks for, 2.4 A of 6 A, and the rest is dark.
        assert!((last - 0.4).abs() < 1e-9, "{last}");
    }
}

#[test]
fn a_floor_within_its_limits_is_never_dimmed() {
    for seed in 0..30 {
        let mut chance = Chance::new(seed);
        // Fuses, supply and circuit so large that full white fits.
        let text = random_floor(&mut chance)
            .lines()
            .map(|line| match line.split_once(" = ") {
                Some((key @ ("fuse_a" | "rated_a"), _)) => format!("{key} = 500"),
                _ => line.to_owned(),
            })
            .collect::<Vec<_>>()
            .join("\n");
        let mut world = World::new(&text, seed, 0.2);
        for frame in 0..40 {
            for universe in 0..world.tables.universes.len() {
                let slots = Content::Noise.fill(universe, 1, frame, &mut chance);
                world.console_sends(universe, &slots);
            }
            world.run_until(world.now.plus_ms(23), |_| {});
            let state = world.engine.state(world.now);
            assert!(
                state
                    .panels
                    .iter()
                    .all(|panel| (panel.scale - 1.0).abs() < 1e-9)
            );
            let (mut sent, mut asked) = (Vec::new(), Vec::new());
            world.engine.levels(&mut sent, &mut asked);
            assert_eq!(sent, asked);
        }
    }
}
