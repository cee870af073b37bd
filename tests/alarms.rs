//! Alarms of a running floor on a made-up clock: raised, told, ended, and carried to another floor.

mod support;

use std::sync::Arc;

use litfloor::engine::command::Command;
use litfloor::engine::snapshot::State;
use litfloor::engine::voltages::{FeedVoltages, Voltages};
use litfloor::units::Time;
use support::World;

/// One supply of 10 A × 0.8 = 8 A behind a feed that may carry more; ten pixels of 1.8 A at white.
const FLOOR: &str = r#"
name = "Alarms"
grid = { columns = 1, rows = 1, panel_mm = [500, 500], panel = "tile" }
cap = { margin = 0.8, let_up_s = 0.2 }
[alarm]
capping_s = 4
[pixel.p]
slots = "RGB"
volts = 12
full_ma = { red = 600, green = 600, blue = 600 }
idle_ma = 0
[panel.tile]
pixel = "p"
columns = 5
rows = 2
[[node]]
name = "n0"
address = "10.9.1.1"
[[circuit]]
name = "c"
volts = 230
rated_a = 16
[[supply]]
name = "s"
circuit = "c"
volts = 12
rated_a = 10
efficiency = 0.9
power_factor = 0.9
[[feed]]
name = "f"
supply = "s"
fuse_a = 40
positions = ["A1"]
[[run]]
node = "n0"
port = 1
start = "0:0:1"
panels = ["A1"]
"#;

/// Shows one level for so long, as a console does that sends forty times a second.
fn show(world: &mut World, level: u8, ms: u64) -> State {
    let end = world.now.plus_ms(ms);
    while world.now < end {
        world.console_sends(0, &[level; 30]);
        let until = world.now.plus_ms(25);
        world.run_until(until, |_| {});
    }
    world.engine.state(world.now)
}

fn raised(state: &State) -> Vec<(&str, &str)> {
    let alarms = state.alarms.iter();
    alarms
        .map(|alarm| (alarm.code.as_str(), alarm.element.as_str()))
        .collect()
}

#[test]
fn near_and_long_are_told_by_their_time_and_end() {
    let mut world = World::new(FLOOR, 1, 0.0);
    // Level 100 of 255 asks 18 A × 100 / 255 = 7.06 A of 8 A: 88 %.
    assert_eq!(raised(&show(&mut world, 100, 2_000)), []);
    // 105: 7.41 A, 92.6 %.
    let state = show(&mut world, 105, 500);
    assert_eq!(raised(&state), [("near_limit", "supply:s")]);
    assert_eq!(
        state.alarms[0].text,
        "Supply s: 7.41 A drawn, 93 % of its limit of 8.00 A."
    );
    assert!(
        state
            .notices
            .iter()
            .any(|notice| notice.code == "near_limit")
    );
    // 12 V × 7.41 A / 0.9, the same at the circuit: its apparent power times the power factor.
    let drawn_a = 18.0 * 105.0 / 255.0;
    assert!((state.supplies[0].mains_w - 12.0 * drawn_a / 0.9).abs() < 0.01);
    let circuit = &state.circuits[0];
    assert!((circuit.mains_w - circuit.draw_a * 230.0 * 0.9).abs() < 0.01);
    // At 88 % it stays; well below it ends after three seconds.
    assert_eq!(raised(&show(&mut world, 100, 5_000)).len(), 1);
    assert_eq!(raised(&show(&mut world, 80, 2_500)).len(), 1);
    assert_eq!(raised(&show(&mut world, 80, 1_000)), []);
    // White is dimmed at once; that it lasts is told after four seconds.
    let early = show(&mut world, 255, 3_500);
    assert_eq!(raised(&early), [("near_limit", "supply:s")]);
    let late = show(&mut world, 255, 1_000);
    assert_eq!(
        raised(&late),
        [("near_limit", "supply:s"), ("capping_long", "supply:s")]
    );
    assert!(
        late.alarms[1]
            .text
            .starts_with("Supply s: dimmed by the cap for 4 s, now to 4"),
        "{}",
        late.alarms[1].text
    );
    assert_eq!(raised(&show(&mut world, 0, 6_000)), []);
}

/// Lets time pass with this voltage behind the feed, found five times a second.
fn sag(world: &mut World, revision: u32, lowest_v: f64, ms: u64) -> State {
    let found = |world: &World| Voltages {
        revision,
        uptime_s: world.engine.state(world.now).uptime_s,
        found: true,
        feeds: vec![FeedVoltages {
            name: "f".to_owned(),
            lowest_v,
            ..FeedVoltages::default()
        }],
        ..Voltages::default()
    };
    let end = world.now.plus_ms(ms);
    while world.now < end {
        let found = Arc::new(found(world));
        world.engine.see_voltages(&found);
        let until = world.now.plus_ms(200);
        world.run_until(until, |_| {});
    }
    world.engine.state(world.now)
}

#[test]
fn low_voltage_is_told_and_ends_well_above() {
    let mut world = World::new(FLOOR, 4, 0.0);
    let revision = world.engine.state(world.now).revision;
    // 5 % of 12 V may be lost: 11.4 V are well, and 2 % more end an alarm.
    assert_eq!(raised(&sag(&mut world, revision, 11.41, 2_000)), []);
    let low = sag(&mut world, revision, 11.39, 500);
    assert_eq!(raised(&low), [("voltage_low", "feed:f")]);
    assert!(
        low.alarms[0]
            .text
            .starts_with("Feed f: 11.39 V at its lowest pixel, less than the 11.40 V"),
        "{}",
        low.alarms[0].text
    );
    assert!(
        low.notices
            .iter()
            .any(|notice| notice.code == "voltage_low")
    );
    assert_eq!(raised(&sag(&mut world, revision, 11.6, 5_000)).len(), 1);
    assert_eq!(raised(&sag(&mut world, revision, 11.7, 5_000)), []);
    // What was found long ago says nothing of now.
    sag(&mut world, revision, 11.3, 1_000);
    let until = world.now.plus_ms(9_000);
    world.run_until(until, |_| {});
    assert_eq!(raised(&world.engine.state(world.now)), []);
    // What was found of another floor says nothing of this one.
    assert_eq!(raised(&sag(&mut world, revision + 1, 9.0, 2_000)), []);
}

#[test]
fn a_silent_sensor_and_one_that_measures_more_are_told() {
    let text = format!("{FLOOR}[[sensor]]\nname = \"clamp\"\nsupply = \"s\"\n");
    let mut world = World::new(&text, 6, 0.0);
    let of = |state: &State| -> Vec<(String, String)> {
        let alarms = state.alarms.iter();
        let own = alarms.filter(|alarm| alarm.element == "sensor:clamp");
        own.map(|alarm| (alarm.code.clone(), alarm.text.clone()))
            .collect()
    };
    // Level 50 draws 18 A × 50 / 255 = 3.53 A; the clamp says half as much again.
    let mut state = world.engine.state(world.now);
    for round in 0..100 {
        world.console_sends(0, &[50; 30]);
        let until = world.now.plus_ms(100);
        world.run_until(until, |_| {});
        if round % 10 == 0 {
            let value = 5.3 + f64::from(round) / 1e4;
            let reading = Command::Readings(vec![("clamp".to_owned(), value)]);
            world.command(reading).unwrap();
        }
        state = world.engine.state(world.now);
    }
    let apart = of(&state);
    assert_eq!(apart.len(), 1, "{apart:?}");
    assert_eq!(apart[0].0, "measured_apart");
    assert!(apart[0].1.contains("3.53 A expected"), "{}", apart[0].1);
    let codes = |state: &State| -> Vec<String> {
        let notices = state.notices.iter();
        notices.map(|notice| notice.code.clone()).collect()
    };
    let told = codes(&state)
        .iter()
        .filter(|code| *code == "measured_apart")
        .count();
    assert_eq!(told, 1, "one notice, that of the sensors");
    let silent = show(&mut world, 50, 15_000);
    let lost: Vec<String> = of(&silent).into_iter().map(|(code, _)| code).collect();
    assert_eq!(lost, ["sensor_lost"]);
    assert!(codes(&silent).contains(&"sensor_silent".to_owned()));
}

#[test]
fn the_whole_floor_has_alarms_too() {
    // 18 A at white are 12 × 18 / (230 × 0.9 × 0.9) = 1.159 A of mains, 266.7 VA; the supply's
    // limit of 8 A lets 118.5 VA pass.
    let text = FLOOR.replace("let_up_s = 0.2 }", "let_up_s = 0.2, floor_va = 125 }");
    let mut world = World::new(&text, 5, 0.0);
    let state = show(&mut world, 255, 6_000);
    let told = raised(&state);
    assert!(told.contains(&("near_limit", "floor")), "{told:?}");
    assert!(told.contains(&("capping_long", "floor")), "{told:?}");
    let near = state.alarms.iter().find(|alarm| alarm.element == "floor");
    let text = &near.unwrap().text;
    assert!(text.ends_with("of its limit of 100 VA."), "{text}");
    assert!(state.floor.draw_va <= 100.0 && state.floor.draw_va > 95.0);
}

#[test]
fn another_floor_goes_on_with_the_alarms_of_the_same_names() {
    let mut world = World::new(FLOOR, 2, 0.0).nodes_that_output_all();
    let before = show(&mut world, 255, 6_000);
    assert_eq!(raised(&before).len(), 2);
    world.replace(FLOOR);
    let after = world.engine.state(world.now);
    assert_eq!(raised(&after), raised(&before));
    assert!((after.alarms[1].since_s - before.alarms[1].since_s).abs() < 1e-9);
    // Under another name it is another supply.
    world.replace(&FLOOR.replace("\"s\"", "\"t\""));
    assert_eq!(raised(&world.engine.state(world.now)), []);
    assert!(world.now > Time::from_s(6));
}

#[test]
fn what_is_only_watched_is_told_by_what_is_asked() {
    let watched = FLOOR
        .replace("[[node]]\nname = \"n0\"\naddress = \"10.9.1.1\"\n", "")
        .replace("node = \"n0\"\nport = 1\n", "");
    let mut world = World::new(&watched, 3, 0.0);
    let state = show(&mut world, 255, 1_000);
    assert_eq!(raised(&state), [("near_limit", "supply:s")]);
    assert!(
        state.alarms[0].text.contains("18.00 A drawn"),
        "{}",
        state.alarms[0].text
    );
}
