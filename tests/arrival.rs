//! What is said of how universes arrive, on a made-up clock.

mod support;

use litfloor::engine::snapshot::{ArrivalState, UniverseState};
use support::stage::{A, B, Stage, dmx, dmx_bytes, floor};

/// Twenty panels of two RGB pixels in one universe: slots 1 to 120.
fn wide() -> String {
    let all: Vec<String> = ('A'..='T').map(|column| format!("{column}1")).collect();
    floor(&[(1, "0:0:1")], 20.0, "")
        .replace(
            "columns = 1\nrows = 1\npanel_mm",
            "columns = 20\nrows = 1\npanel_mm",
        )
        .replace("positions = [\"A1..A1\"]", "positions = [\"A1..T1\"]")
        .replace("panels = [\"A1\"]", &format!("panels = {all:?}"))
}

fn universe(stage: &Stage, port_address: &str) -> UniverseState {
    let state = stage.state();
    let mut universes = state.universes.into_iter();
    universes
        .find(|universe| universe.port_address == port_address)
        .unwrap()
}

fn arrival(stage: &Stage) -> ArrivalState {
    universe(stage, "0:0:1").arrival
}

/// Sends frames of `of(frame)` for so many frames at 40 a second.
fn play(stage: &mut Stage, frames: u32, mut of: impl FnMut(u32) -> Vec<u8>) {
    for frame in 0..frames {
        let slots = of(frame);
        stage.console(A, &dmx(0, 1, &slots));
        stage.pass(25);
    }
}

#[test]
fn slots_move_stand_still_or_carry_light_that_lights_nothing() {
    let mut stage = Stage::new(&wide());
    let picture = |frame: u32| {
        let mut slots = vec![0; 512];
        slots[..3].fill(u8::try_from(frame % 200).unwrap() + 1);
        slots[30..40].fill(77);
        slots[400..402].fill(9);
        slots
    };
    play(&mut stage, 200, picture);
    let seen = arrival(&stage);
    assert_eq!(
        (
            seen.moving_slots,
            seen.still_lit_slots,
            seen.stray_lit_slots
        ),
        (3, 12, 2)
    );
    assert_eq!((seen.needs_slots, seen.short_by_slots), (120, 0));
    assert_eq!(seen.offset_slots, None);
    play(&mut stage, 200, |_| picture(0));
    assert_eq!(arrival(&stage).moving_slots, 0);
}

#[test]
fn a_frame_that_is_too_short_names_the_panels_that_get_nothing() {
    let mut stage = Stage::new(&wide());
    play(&mut stage, 100, |_| vec![200; 100]);
    let seen = arrival(&stage);
    // Slots 97 to 102 are panel 17's, counted from 1: Q.
    assert_eq!((seen.short_by_slots, seen.cut_off_panels), (20, 4));
    assert_eq!(seen.cut_off, ["Q1", "R1", "S1", "T1"]);
    assert!(!seen.odd_length && !seen.length_varies);
    assert!(stage.has_notice("frames_too_short"));
    // Now and then a whole one: nothing is missing, but the length is told to change.
    play(&mut stage, 100, |frame| {
        vec![200; if frame % 4 == 0 { 120 } else { 99 }]
    });
    let seen = arrival(&stage);
    assert_eq!((seen.short_by_slots, seen.cut_off.len()), (0, 0));
    assert!(seen.odd_length && seen.length_varies);
    assert!(!stage.has_notice("frames_too_short"));
}

#[test]
fn missing_and_overtaken_frames_are_counted_for_a_minute() {
    let mut stage = Stage::new(&wide());
    let mut newest = 0_u32;
    let mut send = |stage: &mut Stage, steps: &[i32]| {
        for &step in steps {
            newest = newest.checked_add_signed(step).unwrap();
            let ring = u8::try_from((newest - 1) % 255 + 1).unwrap();
            stage.console(A, &dmx(ring, 1, &[1; 120]));
            stage.pass(25);
        }
    };
    assert_eq!(arrival(&stage).missing_frames, None);
    send(&mut stage, &[1; 300]);
    assert_eq!(arrival(&stage).missing_frames, Some(0));
    for _ in 0..10 {
        send(&mut stage, &[4]);
        send(&mut stage, &[1; 20]);
    }
    let seen = arrival(&stage);
    assert_eq!((seen.missing_frames, seen.overtaken_frames), (Some(30), 0));
    assert!(stage.has_notice("frames_missing"));
    // One comes before the one that it follows: neither is missing.
    send(&mut stage, &[2, -1, 2]);
    send(&mut stage, &[1; 20]);
    let seen = arrival(&stage);
    assert_eq!((seen.missing_frames, seen.overtaken_frames), (Some(30), 1));
    send(&mut stage, &[1; 2_800]);
    let seen = arrival(&stage);
    assert_eq!((seen.missing_frames, seen.overtaken_frames), (Some(0), 0));
    assert!(!stage.has_notice("frames_missing"));
}

#[test]
fn two_sources_that_light_the_same_slots_differently_fight() {
    let mut stage = Stage::new(&wide());
    let both = |stage: &mut Stage, other: &[u8]| {
        for _ in 0..20 {
            stage.console(A, &dmx(0, 1, &[100; 120]));
            stage.console(B, &dmx(0, 1, other));
            stage.pass(25);
        }
    };
    // A dark one beside it, or one that agrees, is no fight.
    both(&mut stage, &[0; 120]);
    assert_eq!(arrival(&stage).contested_slots, 0);
    both(&mut stage, &[100; 120]);
    assert_eq!(arrival(&stage).contested_slots, 0);
    assert!(!stage.has_notice("sources_fight"));
    let mut other = [0; 120];
    other[50..57].fill(250);
    both(&mut stage, &other);
    assert_eq!(arrival(&stage).contested_slots, 7);
    assert!(stage.has_notice("sources_fight"));
    // The other leaves after ten seconds.
    play(&mut stage, 420, |_| vec![100; 120]);
    assert_eq!(arrival(&stage).contested_slots, 0);
}

#[test]
fn sources_that_come_in_each_others_place_are_told() {
    let mut stage = Stage::new(&wide());
    for turn in 0..5 {
        let from = [A, B][turn % 2];
        for _ in 0..2 {
            stage.console(from, &dmx(0, 1, &[100; 120]));
            stage.pass(25);
        }
        // Art-Net's ten seconds, after which a silent source has left.
        stage.pass(10_100);
    }
    let seen = arrival(&stage);
    assert_eq!((seen.source_changes, seen.contested_slots), (4, 0));
}

#[test]
fn light_that_lies_beside_its_slots_is_said_to_be_offset() {
    let mut stage = Stage::new(&wide());
    for (first, wanted) in [(0, None), (3, Some(3)), (7, Some(7))] {
        let picture = |frame: u32| {
            let mut slots = vec![0; 512];
            for (at, slot) in (frame..).zip(&mut slots[first..first + 120]) {
                // A moving picture: a third of the slots is dark at any time.
                *slot = if at.is_multiple_of(3) { 0 } else { 200 };
            }
            slots
        };
        // Light is remembered for up to 20 s.
        play(&mut stage, 840, picture);
        assert_eq!(arrival(&stage).offset_slots, wanted);
        assert_eq!(stage.has_notice("universe_offset"), wanted.is_some());
    }
}

#[test]
fn what_arrives_and_lights_nothing_is_looked_at_too() {
    let mut stage = Stage::new(&wide());
    for frame in 0..100_u8 {
        let mut slots = [5; 12];
        slots[0] = frame + 1;
        stage.console(A, &dmx_bytes(0, 0, 7, 12, &slots));
        stage.pass(25);
    }
    let seen = universe(&stage, "0:0:7");
    assert!(!seen.mapped);
    let arrival = seen.arrival;
    assert_eq!((arrival.moving_slots, arrival.stray_lit_slots), (1, 12));
    // Mapped, and never seen: nothing is called short.
    let never = universe(&stage, "0:0:1");
    assert_eq!(never.age_s, None);
    assert_eq!(
        (never.arrival.needs_slots, never.arrival.short_by_slots),
        (120, 0)
    );
    let all = stage.engine.slots(stage.now);
    assert_eq!(all.universes.len(), 2);
    assert_eq!(all.universes[1].levels[..3], [100, 5, 5]);
    assert_eq!(all.universes[1].length, 12);
}

/// Six slots of each panel, one behind the other, while each node's output begins at slot 1.
#[test]
fn slots_are_those_of_the_console_where_the_nodes_are_addressed_otherwise() {
    let text = floor(&[(1, "0:0:1"), (1, "0:0:2")], 20.0, "")
        .replace(
            "panels = [\"A1\"]",
            "panels = [\"A1\"]\nsource = { start = \"0:0:1\", slot = 101 }",
        )
        .replace("panels = [\"B1\"]", "panels = [\"B1\"]\nsource = \"next\"");
    let mut stage = Stage::new(&text);
    play(&mut stage, 100, |_| {
        let mut slots = vec![0; 106];
        slots[0] = 50;
        slots[100..].fill(200);
        slots
    });
    let seen = arrival(&stage);
    assert_eq!((seen.needs_slots, seen.short_by_slots), (112, 6));
    assert_eq!(seen.cut_off, ["B1"]);
    assert_eq!((seen.still_lit_slots, seen.stray_lit_slots), (7, 1));
    assert_eq!(stage.state().universes.len(), 1, "all else only leaves");
    assert_eq!((stage.asked(0), stage.asked(1)), ([200; 6], [0; 6]));
}
