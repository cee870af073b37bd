//! The whole floor turned down while it runs, and peaks that happen once.

mod support;

use litfloor::engine::command::{Command, LiveLimit};
use litfloor::sim::link::Chance;
use support::pair::pair;
use support::random::{random_floor, with_more_limits};
use support::{Sent, World};

fn limit(floor_va: Option<u32>) -> Command {
    Command::LimitFloor(LiveLimit { floor_va })
}

/// What the newest frames that left would draw, in volt-amperes.
fn sent_va(world: &World) -> f64 {
    let mut newest = std::collections::BTreeMap::new();
    for Sent {
        to,
        port_address,
        slots,
        ..
    } in &world.sent
    {
        let mut whole = [0; 512];
        whole[..slots.len()].copy_from_slice(slots);
        newest.insert((*to, *port_address), whole);
    }
    world.true_va(&world.amperes_of(&newest))
}

fn noise(world: &mut World, chance: &mut Chance, mut each: impl FnMut(&World)) {
    for universe in 0..world.tables.universes.len() {
        let most = [60, 255][usize::try_from(chance.up_to(1)).unwrap()];
        let slots = [(); 512].map(|()| u8::try_from(chance.up_to(most)).unwrap());
        world.console_sends(universe, &slots);
        world.run_until(world.now.plus_us(chance.up_to(900)), &mut each);
    }
    world.run_until(world.now.plus_us(8_000 + chance.up_to(20_000)), &mut each);
}

#[test]
fn what_is_sent_keeps_a_live_limit_from_the_order_on() {
    let (mut nearest, mut kept) = (0.0_f64, 0);
    for seed in 0..40 {
        let mut chance = Chance::new(seed ^ 0xD1);
        let mut text = random_floor(&mut chance);
        if seed % 2 == 1 {
            text = with_more_limits(&text, &mut chance);
        }
        // Rises take their time, which is not what this is about.
        let fast = text
            .lines()
            .filter(|line| !line.starts_with("slew_a_per_s"));
        let text = fast.collect::<Vec<_>>().join(
            "
",
        );
        let mut world = World::new(&text, seed, 0.2).nodes_that_output_all();
        for _ in 0..40 {
            noise(&mut world, &mut chance, |_| {});
        }
        for round in 0..3 {
            let state = world.engine.state(world.now).floor;
            let share = 0.3 + 0.6 * chance.share();
            let wanted_va = state.idle_va + (state.draw_va - state.idle_va) * share;
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "small"
            )]
            let va = (wanted_va as u32).max(1);
            world.command(limit(Some(va))).unwrap();
            let limit_va = f64::from(va);
            let at = world.now;
            let state = world.engine.state(world.now).floor;
            if state.impossible {
                continue;
            }
            assert!(sent_va(&world) <= limit_va * (1.0 + 1e-9), "floor {seed}");
            let check = |world: &World, nearest: &mut f64| {
                if world.now >= at.plus_ms(1_000) {
                    let true_va = world.true_va(&world.true_amperes());
                    assert!(
                        true_va <= limit_va * (1.0 + 1e-9),
                        "{true_va} of {limit_va}"
                    );
                    *nearest = nearest.max(true_va / limit_va);
                }
            };
            for frame in 0..100 {
                noise(&mut world, &mut chance, |world| check(world, &mut nearest));
                if frame == 60 && round == 1 {
                    world.replace(&text);
                    let state = world.engine.state(world.now).floor;
                    assert!(
                        (state.live_limit_va.unwrap() - limit_va).abs() < 1e-6,
                        "kept"
                    );
                    kept += 1;
                }
            }
            world.command(limit(None)).unwrap();
            for _ in 0..60 {
                noise(&mut world, &mut chance, |_| {});
            }
        }
    }
    assert!(nearest > 0.97 && kept > 10, "{nearest}, {kept}");
}

const RUNS: [&str; 2] = [
    "start = \"0:0:1\"\npanels = [\"A1\"]",
    "start = \"0:0:2\"\npanels = [\"B1\"]",
];

fn white(world: &mut World, ms: u64, mut each: impl FnMut(&World)) {
    for _ in 0..ms / 25 {
        for universe in 0..2 {
            world.console_sends(universe, &[255; 512]);
        }
        world.run_until(world.now.plus_ms(25), &mut each);
    }
}

#[test]
fn it_is_let_up_smoothly_and_goes_dark_below_what_is_drawn_in_the_dark() {
    // 4.8 A at 12 V, 0.9 and 0.9: 71.1 VA.
    let text = pair(10.0, &RUNS).replace("idle_ma = 0", "idle_ma = 1");
    let mut world = World::new(&text, 1, 0.0);
    white(&mut world, 1_000, |_| {});
    let full_va = 4.88 * 12.0 / (0.9 * 0.9);
    let state = world.engine.state(world.now).floor;
    assert!((state.draw_va - full_va).abs() < 1e-6, "{}", state.draw_va);
    assert_eq!(state.limit_va, None);
    world.command(limit(Some(30))).unwrap();
    white(&mut world, 1_000, |_| {});
    let dimmed_va = world.true_va(&world.true_amperes());
    assert!(dimmed_va <= 30.0 && dimmed_va > 29.6, "{dimmed_va}");
    world.command(limit(None)).unwrap();
    // Time constant 0.2 s: after 0.1 s some 39 % of the way, after 2 s all.
    white(&mut world, 100, |_| {});
    let risen_va = world.true_va(&world.true_amperes());
    assert!(
        risen_va < dimmed_va + 0.6 * (full_va - dimmed_va),
        "{risen_va}"
    );
    white(&mut world, 2_000, |_| {});
    assert!((world.true_va(&world.true_amperes()) - full_va).abs() < 1e-6);
    world.command(limit(Some(1))).unwrap();
    white(&mut world, 500, |_| {});
    let state = world.engine.state(world.now);
    assert!(state.floor.impossible);
    assert!(
        (state.floor.draw_va - state.floor.idle_va).abs() < 1e-9,
        "dark"
    );
    assert!(
        state
            .notices
            .iter()
            .any(|notice| notice.code == "idle_over_limit")
    );
}

#[test]
fn a_peak_happens_once_and_ends_smoothly() {
    // 4.8 A of 3 A, which may carry 150 % for 2 s: 3 A s.
    let text =
        pair(3.0, &RUNS).replace("fuse_a = 3", "fuse_a = 3\npeak = { percent = 150, s = 2 }");
    let mut world = World::new(&text, 1, 0.2);
    world.watches_windows = true;
    // Until it is dark after 1.1 s the nodes may be drawing 1.8 A more than the limit: 2 A s, paid back within
    // 0.7 s. Then a rest of 1.2 s pays in 3.6 A s, if the account was empty.
    world.run_until(world.now.plus_ms(3_300), |_| {});
    let mut draws = Vec::new();
    white(&mut world, 12_000, |world| {
        draws.push((world.now, world.true_amperes().feeds[0]));
    });
    let begun = draws.iter().find(|draw| draw.1 > 3.0).unwrap().0;
    let at = |ms: u64| {
        let mut later = draws.iter().filter(|draw| draw.0 >= begun.plus_ms(ms));
        later.next().unwrap().1
    };
    println!(
        "{:?}",
        [300, 900, 1_500, 2_000, 3_000, 5_000, 10_000].map(at)
    );
    assert!(
        at(300) > 4.4 && at(900) > 4.4 && at(2_000) > 3.3,
        "{}",
        at(300)
    );
    assert!(at(10_000) <= 3.02 && at(10_000) > 2.9, "{}", at(10_000));
    assert!(world.windows.spent > 0.9, "{}", world.windows.spent);
    // Once it falls it only falls, but for the moments in which one universe waits for the other,
    // and in the end the picture stands still.
    let since = |ms| {
        let sent = world.sent.iter();
        let late = sent.filter(move |sent| sent.at >= begun.plus_ms(ms));
        late.map(|sent| sent.slots[0]).collect::<Vec<u8>>()
    };
    let mut least = 250;
    for level in since(300) {
        assert!(level <= least + 5, "{level} after {least}");
        least = least.min(level);
    }
    assert!(since(9_000).iter().all(|&level| level == least), "{least}");
    // After a rest there is another.
    for _ in 0..200 {
        for universe in 0..2 {
            world.console_sends(universe, &[0; 512]);
        }
        world.run_until(world.now.plus_ms(25), |_| {});
    }
    let mut most_a = 0.0_f64;
    white(&mut world, 500, |world| {
        most_a = most_a.max(world.true_amperes().feeds[0]);
    });
    assert!(most_a > 4.4, "{most_a}");
}

#[test]
fn nothing_above_its_limit_is_left_behind() {
    let text =
        pair(3.0, &RUNS).replace("fuse_a = 3", "fuse_a = 3\npeak = { percent = 150, s = 2 }");
    let mut world = World::new(&text, 3, 0.2);
    world.watches_windows = true;
    world.run_until(world.now.plus_ms(3_300), |_| {});
    white(&mut world, 500, |_| {});
    assert!(world.true_amperes().feeds[0] > 4.4, "a peak is on show");
    assert!(world.engine.peaking());
    let began = world.now;
    world.ends_peaks();
    while world.engine.peaking() {
        world.run_until(world.now.plus_ms(10), |_| {});
        assert!(
            world.now < began.plus_ms(1_000),
            "within the patience of the plane"
        );
    }
    // Nodes hold what they have got now.
    assert!(world.true_amperes().feeds[0] <= 3.0);
    println!("taken back within {} ms", world.now.us_since(began) / 1_000);
}

#[test]
fn up_and_down_again_and_again_is_refused_and_down_never_is() {
    let mut world = World::new(&pair(3.0, &RUNS), 4, 0.0);
    let mut refused = 0;
    for _ in 0..10 {
        world.command(limit(Some(20))).unwrap();
        refused += u32::from(world.command(limit(None)).is_err());
        world.run_until(world.now.plus_ms(20), |_| {});
    }
    assert!(refused >= 8, "{refused}");
    world.run_until(world.now.plus_ms(1_100), |_| {});
    world.command(limit(None)).unwrap();
}
