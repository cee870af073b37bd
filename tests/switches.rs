//! Switches that nodes send as Art-Net inputs: who is listened to, what is a press, what is unknown,
//! and that polls are answered so that nodes find litfloor. On a made-up clock, and over a real socket.

mod support;

use std::net::{Ipv4Addr, SocketAddr, SocketAddrV4, UdpSocket};
use std::sync::Arc;
use std::time::Duration;

use artnet_protocol::{ArtCommand, Output, PollReply};
use litfloor::engine::levels::Shown;
use litfloor::engine::snapshot::State;
use litfloor::engine::switches::RING;
use litfloor::engine::tally::Outcome;
use litfloor::engine::{Engine, Me};
use litfloor::floor::model::MachineSettings;
use litfloor::floor::tables::Tables;
use litfloor::net::batch::Way;
use litfloor::net::clock::Clock;
use litfloor::net::plane::{self, Heard, How, Published};
use litfloor::units::Time;
use support::stage::{A, Stage, dmx, floor, node};
use tokio::sync::{mpsc, watch};

/// Two panels of four switches each; those of A1 come first.
fn with_switches(more: &str) -> String {
    let text = floor(&[(1, "0:0:1"), (2, "0:0:2")], 20.0, "");
    let text = text.replace(
        "columns = 2\nrows = 1\n[[",
        "columns = 2\nrows = 1\nswitches = 4\n[[",
    );
    assert!(text.contains("switches"));
    format!(
        "{text}[[input]]\nnode = \"n1\"\nstart = \"0:2:0\"\nslot = 3\npositions = [\"A1..B1\"]\n{more}"
    )
}

fn stage() -> Stage {
    Stage::new(&with_switches(""))
}

/// Universe of the switches: `0:2:0`.
const SWITCHES: u16 = 0x20;

/// What is pressed, by level: two slots of something else, then A1's and B1's.
fn frame(pressed: &[usize]) -> Vec<u8> {
    let mut slots = [0_u8; 10];
    for &at in pressed {
        slots[2 + at] = 255;
    }
    dmx(0, SWITCHES, &slots)
}

fn pressed(state: &State) -> Vec<(Vec<u32>, bool)> {
    let panels = state.panels.iter();
    panels
        .map(|panel| (panel.pressed.clone(), panel.switches_known))
        .collect()
}

/// Number, panel, switch, down, milliseconds.
fn presses(stage: &Stage) -> Vec<(u64, u32, u16, bool, u64)> {
    let latest = stage.engine.presses().latest;
    let row = |p: &litfloor::health::switches::Press| {
        (p.number, p.panel, p.switch, p.down, p.at.0 / 1_000)
    };
    latest.iter().map(row).collect()
}

#[test]
fn only_the_nodes_own_frames_count_and_each_has_its_outcome() {
    let mut stage = stage();
    assert_eq!(pressed(&stage.state()), [(vec![], false), (vec![], false)]);
    assert_eq!(
        stage.console(A, &frame(&[0])),
        Outcome::SwitchesFromElsewhere
    );
    assert_eq!(
        stage.arrives(node(2), &frame(&[0])),
        Outcome::SwitchesFromElsewhere
    );
    assert_eq!(pressed(&stage.state()), [(vec![], false), (vec![], false)]);
    assert_eq!(stage.arrives(node(1), &frame(&[1, 7])), Outcome::Switches);
    let state = stage.state();
    assert_eq!(pressed(&state), [(vec![2], true), (vec![4], true)]);
    assert_eq!(state.datagrams["switches"], 1);
    assert_eq!(state.frames_refused["switches_from_elsewhere"], 2);
    assert_eq!(state.frames_in, 0, "no picture came");
    assert!(!state.universes.iter().any(|of| of.port_address == "0:2:0"));
    assert_eq!(
        (
            state.inputs[0].port_address.as_str(),
            state.inputs[0].node.as_str()
        ),
        ("0:2:0", "n1")
    );
    // What was pressed already when it was heard of first was not pressed now.
    assert!(state.presses.is_empty());
}

#[test]
fn a_press_and_a_release_are_told_once_with_their_time() {
    let mut stage = stage();
    stage.arrives(node(1), &frame(&[]));
    stage.pass(999);
    stage.arrives(node(1), &frame(&[2]));
    stage.arrives(node(1), &frame(&[2]));
    stage.pass(500);
    stage.arrives(node(1), &frame(&[]));
    assert_eq!(
        presses(&stage),
        [(1, 0, 3, true, 1_000), (2, 0, 3, false, 1_500)]
    );
    let state = stage.state();
    let told: Vec<_> = state
        .presses
        .iter()
        .map(|p| (p.position.as_str(), p.switch, p.down))
        .collect();
    assert_eq!(told, [("A1", 3, true), ("A1", 3, false)]);
    let seen = stage.engine.presses().seen[2];
    assert_eq!(
        (seen.presses, seen.ended, seen.ended_ms, seen.longest_ms),
        (1, 1, 500, 500)
    );
    assert_eq!((seen.changes, seen.chattered), (2, 0));
    stage.pass(1_001);
    stage.arrives(node(1), &frame(&[]));
    assert!(
        stage.state().presses.is_empty(),
        "a state lists the last second"
    );
    assert_eq!(presses(&stage).len(), 2, "the ring keeps them");
}

#[test]
fn bounces_are_one_press_and_are_counted_as_chatter() {
    let mut stage = stage();
    stage.arrives(node(1), &frame(&[]));
    stage.pass(999);
    // Down, and five more changes 20 ms apart: it ends pressed.
    for (down, _) in [true, false, true, false, true].iter().zip(0..) {
        stage.arrives(node(1), &frame(if *down { &[4] } else { &[] }));
        stage.pass(20);
    }
    assert_eq!(presses(&stage), [(1, 1, 1, true, 1_000)]);
    stage.pass(200);
    assert_eq!(presses(&stage).len(), 1);
    // Up, down, up: it ends released, without another frame.
    for pressed in [&[][..], &[4], &[]] {
        stage.arrives(node(1), &frame(pressed));
        stage.pass(20);
    }
    assert_eq!(presses(&stage).len(), 2);
    let seen = stage.engine.presses().seen[4];
    assert_eq!(
        (seen.presses, seen.ended, seen.changes, seen.chattered),
        (1, 1, 8, 2)
    );
}

/// A press so short that its release comes while the level still bounces.
#[test]
fn what_ends_otherwise_than_it_began_counts_from_when_it_rests() {
    let mut stage = stage();
    stage.arrives(node(1), &frame(&[]));
    stage.pass(999);
    stage.arrives(node(1), &frame(&[0]));
    stage.pass(30);
    stage.arrives(node(1), &frame(&[]));
    stage.pass(49);
    assert_eq!(presses(&stage).len(), 1);
    stage.pass(10);
    assert_eq!(
        presses(&stage),
        [(1, 0, 1, true, 1_000), (2, 0, 1, false, 1_030)]
    );
    assert_eq!(pressed(&stage.state())[0], (vec![], true));
}

#[test]
fn a_silent_universe_is_unknown_and_not_released() {
    // The file says less than three seconds: three it is.
    let text = with_switches("[signal]\nlost_after_s = 1\n");
    let mut stage = Stage::new(&text);
    stage.arrives(node(1), &frame(&[0]));
    stage.pass(2_900);
    assert_eq!(pressed(&stage.state())[0], (vec![1], true));
    assert!(!stage.has_notice("switches_lost"));
    stage.pass(300);
    let state = stage.state();
    assert_eq!(pressed(&state), [(vec![], false), (vec![], false)]);
    assert!(state.inputs[0].lost && stage.has_notice("switches_lost"));
    assert!(presses(&stage).is_empty(), "nobody stepped off");
    // It comes back with another switch pressed: since when is not known.
    stage.arrives(node(1), &frame(&[1]));
    let state = stage.state();
    assert_eq!(pressed(&state)[0], (vec![2], true));
    assert!(!state.inputs[0].lost && !stage.has_notice("switches_lost"));
    assert!(presses(&stage).is_empty());
}

#[test]
fn a_frame_that_is_too_short_leaves_the_rest_unknown() {
    let mut stage = stage();
    stage.arrives(node(1), &dmx(0, SWITCHES, &[0, 0, 0, 255, 0, 0, 0, 0]));
    let state = stage.state();
    assert_eq!(pressed(&state), [(vec![2], true), (vec![], false)]);
    assert_eq!((state.inputs[0].switches, state.inputs[0].cut_off), (8, 2));
}

#[test]
fn overtaken_frames_change_nothing() {
    let mut stage = stage();
    let numbered = |sequence, level| dmx(sequence, SWITCHES, &[0, 0, level, 0, 0, 0, 0, 0, 0, 0]);
    assert_eq!(stage.arrives(node(1), &numbered(10, 0)), Outcome::Switches);
    assert_eq!(
        stage.arrives(node(1), &numbered(12, 255)),
        Outcome::Switches
    );
    assert_eq!(
        stage.arrives(node(1), &numbered(11, 0)),
        Outcome::OldSequence
    );
    assert_eq!(pressed(&stage.state())[0].0, [1]);
}

#[test]
fn low_switches_are_pressed_at_low_levels() {
    let mut stage = Stage::new(&with_switches("pressed = \"low\"\n"));
    stage.arrives(
        node(1),
        &dmx(
            0,
            SWITCHES,
            &[255, 255, 127, 128, 255, 255, 255, 0, 255, 255],
        ),
    );
    assert_eq!(pressed(&stage.state()), [(vec![1], true), (vec![2], true)]);
}

#[test]
fn the_ring_keeps_the_latest() {
    let mut stage = stage();
    stage.arrives(node(1), &frame(&[]));
    let turns = u64::try_from(RING).unwrap() + 100;
    for turn in 1..=turns {
        stage.pass(60);
        stage.arrives(node(1), &frame(if turn % 2 == 1 { &[0] } else { &[] }));
    }
    let kept = presses(&stage);
    assert_eq!(
        (kept.len(), kept[0].0, kept[RING - 1].0),
        (RING, 101, turns)
    );
}

/// Port-Addresses of the outputs of our replies, read by a protocol library.
fn advertised(stage: &mut Stage) -> Vec<(u16, u8)> {
    let from = SocketAddrV4::new(A, 6454);
    stage.news();
    stage.arrives(from, b"Art-Net\0\x00\x20\x00\x0e\x00\x00");
    let replies = stage.news().into_iter().map(|left| match left.decoded() {
        ArtCommand::PollReply(reply) => *reply,
        other => panic!("{other:?}"),
    });
    let of = |reply: PollReply| {
        let base = u16::from(reply.port_address[0]) << 8 | u16::from(reply.port_address[1]) << 4;
        let ports = 0..usize::from(reply.num_ports[1]);
        let ports: Vec<_> = ports
            .inspect(|&at| assert_eq!(reply.port_types[at], 0x80))
            .map(|at| (base | u16::from(reply.swout[at]), reply.good_output[at]))
            .collect();
        ports
    };
    replies.flat_map(of).collect()
}

/// An input looks for who outputs its Port-Address (Art-Net 4, inferred).
#[test]
fn polls_are_answered_with_the_switches_port_addresses() {
    let mut stage = stage();
    stage.pass(100);
    assert_eq!(advertised(&mut stage), [(1, 0), (2, 0), (SWITCHES, 0)]);
    stage.arrives(node(1), &frame(&[]));
    assert_eq!(advertised(&mut stage)[2], (SWITCHES, 0x80), "data flows");
    stage.pass(4_000);
    assert_eq!(advertised(&mut stage)[2], (SWITCHES, 0));
}

#[test]
fn another_floor_goes_on_with_the_same_switches() {
    let mut stage = stage();
    stage.arrives(node(1), &frame(&[0]));
    stage.pass(100);
    stage.arrives(node(1), &frame(&[0, 7]));
    // Only A1's switches are left.
    let text = with_switches("").replace(
        "slot = 3\npositions = [\"A1..B1\"]",
        "slot = 3\npositions = [\"A1\"]",
    );
    let floor = litfloor::floor::parse("other.toml", &text).unwrap();
    let tables = Arc::new(Tables::compile(&floor));
    let me = Me {
        listener: SocketAddrV4::new(Ipv4Addr::UNSPECIFIED, 6454),
        interfaces: Vec::new(),
    };
    let mut other = Engine::new(Arc::new(floor), tables, me, stage.now);
    other.take_over(&mut stage.engine, stage.now, &mut Nowhere);
    stage.engine = other;
    let state = stage.state();
    assert_eq!(pressed(&state), [(vec![1], true), (vec![], false)]);
    stage.pass(200);
    stage.arrives(node(1), &frame(&[]));
    let numbers: Vec<_> = presses(&stage)
        .iter()
        .map(|p| (p.0, p.1, p.2, p.3))
        .collect();
    assert_eq!(numbers, [(2, 0, 1, false)], "numbers go on");
}

struct Nowhere;

impl litfloor::engine::out::Outlet for Nowhere {
    fn send(&mut self, _: litfloor::engine::out::Datagram<'_>) -> bool {
        true
    }
}

#[expect(clippy::disallowed_methods, reason = "a node and a data plane")]
fn socket() -> UdpSocket {
    UdpSocket::bind((Ipv4Addr::LOCALHOST, 0)).unwrap()
}

/// Written by a protocol library, over a real socket, to what the data plane publishes.
#[test]
fn a_real_frame_reaches_the_state_and_the_presses() {
    let own = socket();
    own.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
    let port = own.local_addr().unwrap().port();
    let text = with_switches("").replace("\"10.9.1.1\"", &format!("\"127.0.0.1\"\nport = {port}"));
    let floor = litfloor::floor::parse("small.toml", &text).unwrap();
    let tables = Arc::new(Tables::compile(&floor));
    let artnet = socket();
    artnet.set_nonblocking(true).unwrap();
    let Ok(SocketAddr::V4(listener)) = artnet.local_addr() else {
        panic!("an IPv4 socket");
    };
    let me = Me {
        listener,
        interfaces: Vec::new(),
    };
    let clock = Clock::start();
    let engine = Engine::new(Arc::new(floor), tables, me, clock.now());
    let (state, mut states) = watch::channel(Arc::new(State::default()));
    let (told, mut presses) = watch::channel(Arc::default());
    let published = Published {
        state,
        levels: watch::channel(Arc::new(Shown::default())).0,
        watchers: Arc::default(),
        slots: watch::channel(Arc::default()).0,
        slot_watchers: Arc::default(),
        sending: watch::channel(Arc::default()).0,
        looks: mpsc::channel(1).0,
        presses: told,
        survey: watch::channel(None).0,
    };
    let (stop, stop_heard) = watch::channel(false);
    let heard = Heard {
        interfaces: watch::channel(Vec::new()).1,
        orders: mpsc::channel(1).1,
        reread: mpsc::channel(1).1,
        voltages: watch::channel(Arc::default()).1,
        stop: stop_heard,
    };
    let machine = MachineSettings::default();
    let how = How {
        way: Way::best(),
        machine,
    };
    let plane = plane::start(artnet, how, engine, published, clock, heard).unwrap();
    let send = |pressed: &[usize]| {
        let mut slots = vec![0; 10];
        for at in pressed {
            slots[2 + at] = 255;
        }
        let output = ArtCommand::Output(Output {
            port_address: SWITCHES.try_into().unwrap(),
            data: slots.into(),
            ..Output::default()
        });
        own.send_to(&output.write_to_buffer().unwrap(), listener)
            .unwrap();
    };
    let runtime = tokio::runtime::Builder::new_current_thread()
        .build()
        .unwrap();
    send(&[]);
    let known = |state: &Arc<State>| state.panels.get(1).is_some_and(|p| p.switches_known);
    runtime.block_on(states.wait_for(known)).unwrap();
    send(&[5]);
    let down = |state: &Arc<State>| state.panels.get(1).is_some_and(|p| p.pressed == [2]);
    runtime.block_on(states.wait_for(down)).unwrap();
    let came = |presses: &Arc<litfloor::engine::switches::Presses>| !presses.latest.is_empty();
    let press = runtime.block_on(presses.wait_for(came)).unwrap().latest[0];
    assert_eq!((press.panel, press.switch, press.down), (1, 2, true));
    assert!(press.at > Time(0));
    stop.send(true).unwrap();
    plane.join().unwrap().unwrap();
}
