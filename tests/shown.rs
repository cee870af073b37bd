//! What people are shown is what is really there: nothing is called capped on a floor that is
//! only watched, and the levels of a picture are those that leave.

mod support;

use support::stage::{A, Left, Stage, dmx, floor, node};

/// The levels of all pixels, as sent and as asked.
fn levels(stage: &Stage) -> (Vec<u8>, Vec<u8>) {
    let (mut sent, mut asked) = (Vec::new(), Vec::new());
    stage.engine.levels(&mut sent, &mut asked);
    (sent, asked)
}

/// Without nodes nothing can be held back, so nothing may be said to be. Two panels of 2 × 300 mA
/// at full draw 1.2 A; 80 % of 1 A is 0.8 A (datasheet arithmetic: pixels × current at full).
#[test]
fn a_floor_that_is_only_watched_shows_what_is_asked() {
    let mut stage = Stage::new(&floor(&[(0, "0:0:1"), (0, "0:0:2")], 1.0, ""));
    for level in [10, 255, 200, 255] {
        for universe in [1, 2] {
            stage.console(A, &dmx(0, universe, &[level; 6]));
        }
        stage.pass(2_000);
        let state = stage.state();
        let draw_a = 1.2 * f64::from(level) / 255.0;
        for load in state.supplies.iter().chain(&state.feeds) {
            for shown in [load.asked_a, load.draw_a, load.reserved_a] {
                assert!((shown - draw_a).abs() < 1e-4, "{shown} for {draw_a}");
            }
            assert!((load.scale - 1.0).abs() < 1e-9, "{}", load.scale);
        }
        assert!(state.panels.iter().all(|p| (p.scale - 1.0).abs() < 1e-9));
        let (sent, asked) = levels(&stage);
        assert_eq!(sent, asked);
        assert_eq!(asked, [level; 12]);
        assert_eq!(stage.has_notice("over_limit"), draw_a > 0.8);
        assert!(!stage.has_notice("capping"));
    }
    assert!(stage.left.is_empty(), "it only watches");
}

/// The same floor with a node is held back, and says nothing of passed limits.
#[test]
fn a_floor_with_a_node_is_capped() {
    let mut stage = Stage::new(&floor(&[(1, "0:0:1"), (1, "0:0:2")], 1.0, ""));
    for universe in [1, 2] {
        stage.console(A, &dmx(0, universe, &[255; 6]));
    }
    stage.pass(2_000);
    assert!(stage.state().supplies[0].draw_a <= 0.8);
    assert!(stage.has_notice("capping"));
    assert!(!stage.has_notice("over_limit"));
}

/// What a silent node may still be showing takes room from the others, and the notice says so: what
/// is asked in all would not explain how far the others are dimmed.
#[test]
fn a_silent_node_is_said_to_be_what_takes_the_room() {
    let mut stage = Stage::new(&floor(&[(1, "0:0:1"), (2, "0:0:2")], 1.0, ""));
    // 239 bytes are the whole reply; all of its fields may be 0.
    let mut reply = b"Art-Net\0\x00\x21".to_vec();
    reply.resize(239, 0);
    let console = |stage: &mut Stage| {
        for universe in [1, 2] {
            stage.console(A, &dmx(0, universe, &[255; 6]));
        }
    };
    stage.arrives(node(2), &reply);
    for _ in 0..400 {
        console(&mut stage);
        stage.arrives(node(1), &reply);
        stage.pass(40);
    }
    let state = stage.state();
    assert!(!state.nodes[1].online && state.nodes[0].online);
    let supply = &state.supplies[0];
    assert!(supply.silent_a > 0.0, "{supply:?}");
    assert!(supply.reserved_a <= supply.limit_a);
    // The factor is for what can be reached: it asks for 0.6 A, and the rest is kept.
    let room_a = supply.limit_a - supply.silent_a;
    assert!(
        (supply.scale - (room_a / 0.6).min(1.0)).abs() < 1e-3,
        "{supply:?}"
    );
    let capping = state.notices.iter().find(|notice| notice.code == "capping");
    let kept = format!("{:.2} A stay reserved", supply.silent_a);
    let text = &capping.expect("0.6 A do not fit").text;
    assert!(text.contains(&kept), "{text}");
}

/// White is a level of its own: added into the others it would hide that a panel is dimmed.
#[test]
fn levels_with_white_are_those_that_leave() {
    let text = floor(&[(1, "0:0:1")], 0.6, "")
        .replace("slots = \"RGB\"", "slots = \"WBGR\"")
        .replace("blue = 100 }", "blue = 100, white = 100 }");
    let mut stage = Stage::new(&text);
    stage.console(A, &dmx(0, 1, &[255, 255, 255, 255, 255, 0, 0, 10]));
    stage.pass(2_000);
    assert_eq!(stage.engine.channels(), 4);
    let (sent, asked) = levels(&stage);
    assert_eq!(asked, [255, 255, 255, 255, 10, 0, 0, 255]);
    let (_, _, left) = stage.left.iter().rev().find_map(Left::dmx).unwrap();
    // What left, decoded by another library, from the order of the wire to the order of colours.
    let of_pixel = |slots: &[u8]| [slots[3], slots[2], slots[1], slots[0]];
    let really: Vec<u8> = left.chunks(4).flat_map(of_pixel).collect();
    assert_eq!(sent, really);
    assert!(sent[0] < 255 && sent[0] > 0, "{sent:?}");
}
