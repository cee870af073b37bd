//! Whom a running litfloor lets in, by `[network]` and `[[pin]]`, and how often it answers polls.

mod daemon;

use std::collections::HashSet;
use std::net::{Ipv4Addr, SocketAddrV4};
use std::sync::Arc;

use artnet_protocol::{ArtCommand, Poll};
use daemon::{Console, Node, PATIENCE, SLOTS, UNIVERSES};
use litfloor::engine::out::{Datagram, Outlet};
use litfloor::engine::snapshot::StandbyDuty;
use litfloor::engine::standby::{Role, Setup};
use litfloor::engine::tally::Outcome;
use litfloor::engine::{Engine, Me};
use litfloor::floor::tables::Tables;
use litfloor::units::Time;
use proptest::prelude::*;

/// Polls of the flood.
const POLLS: u64 = 500;

/// How many datagrams so far came to this outcome.
fn count(state: &serde_json::Value, outcome: &str) -> u64 {
    state["datagrams"][outcome].as_u64().unwrap()
}

#[test]
fn who_is_not_let_in_changes_nothing_and_is_counted() {
    let node = Node::open("n0");
    let text = format!(
        "{}[network]\nsources = [\"10.9.8.0/24\"]\n",
        daemon::six_panels(&[node.address])
    );
    let (_files, path) = daemon::file(&text);
    let daemon = daemon::run(&path);
    let console = Console::open(daemon.artnet);
    for _ in 0..5 {
        console.dmx(UNIVERSES[0], &[200; SLOTS]);
        console.dmx(0x0777, &[200; SLOTS]);
    }
    console.send(ArtCommand::Poll(Poll::default()));
    daemon.until(PATIENCE, |state| {
        (count(state, "not_admitted") == 11).then_some(())
    });
    let state = daemon.json("/api/v1/state");
    assert_eq!(
        (
            count(&state, "taken"),
            count(&state, "unmapped"),
            count(&state, "poll")
        ),
        (0, 0, 0)
    );
    // The node answers polls although no network of it is named.
    daemon.until(PATIENCE, |state| {
        (state["nodes"][0]["online"] == true).then_some(())
    });
    // Nothing but dark ever left.
    for bytes in node.arrived.try_iter() {
        if let Ok(ArtCommand::Output(output)) = ArtCommand::from_buffer(&bytes) {
            assert!(output.data.as_ref().iter().all(|&level| level == 0));
        }
    }
}

#[test]
fn a_pinned_universe_has_one_source_and_the_others_are_free() {
    let node = Node::open("n0");
    let text = format!(
        "{}[[pin]]\nstart = \"0:0:1\"\nuniverses = 2\nsource = \"10.9.8.7\"\n",
        daemon::six_panels(&[node.address])
    );
    let (_files, path) = daemon::file(&text);
    let daemon = daemon::run(&path);
    let console = Console::open(daemon.artnet);
    for universe in UNIVERSES {
        console.dmx(universe, &[9; SLOTS]);
    }
    let state = daemon.until(PATIENCE, |state| {
        (count(state, "taken") == 4 && count(state, "pinned") == 2).then(|| state.clone())
    });
    assert_eq!(state["frames_refused"]["pinned"], 2);
}

#[test]
fn polls_without_end_are_answered_a_few_times() {
    let (_files, path) = daemon::file(&daemon::six_panels(&[daemon::free_udp_port()]));
    let daemon = daemon::run(&path);
    let console = Console::open(daemon.artnet);
    for _ in 0..POLLS {
        console.send(ArtCommand::Poll(Poll::default()));
    }
    let (answered, held) = daemon.until(PATIENCE, |state| {
        let (answered, held) = (count(state, "poll"), count(state, "poll_held_back"));
        (answered + held == POLLS).then_some((answered, held))
    });
    println!("{answered} of {POLLS} polls answered, {held} held back");
    assert!(answered >= 4, "who polls a few times is answered");
    // Four at once, and one for each second that the sending took.
    assert!(answered < POLLS / 10, "{answered}");
}

/// Everything that leaves, with its destination.
#[derive(Default)]
struct Sent(Vec<(SocketAddrV4, Vec<u8>)>);

impl Outlet for Sent {
    fn send(&mut self, datagram: Datagram<'_>) -> bool {
        self.0.push((datagram.to(), datagram.to_vec()));
        true
    }
}

/// The other litfloor of a pair has a place on the network, but is no source of pictures.
#[test]
fn who_stands_by_polls_and_answers_but_sends_no_picture_unless_it_is_a_source() {
    let [console, peer, stranger] =
        [5, 8, 7].map(|last| SocketAddrV4::new(Ipv4Addr::new(10, 0, 0, last), 6454));
    let bytes = |packet: ArtCommand| packet.write_to_buffer().unwrap();
    let dmx = bytes(ArtCommand::Output(artnet_protocol::Output {
        port_address: UNIVERSES[0].try_into().unwrap(),
        data: vec![200; SLOTS].into(),
        ..artnet_protocol::Output::default()
    }));
    let poll = bytes(ArtCommand::Poll(Poll::default()));
    let reply = bytes(ArtCommand::PollReply(Box::default()));
    let node = SocketAddrV4::new(Ipv4Addr::new(10, 0, 0, 1), 6454);
    let text = format!(
        "{}[network]\nsources = [\"10.0.0.5\"]\n",
        daemon::six_panels(&[node])
    );
    let floor = Arc::new(litfloor::floor::parse("six.toml", &text).unwrap());
    let me = Me {
        listener: SocketAddrV4::new(Ipv4Addr::new(10, 0, 0, 9), 6454),
        interfaces: Vec::new(),
    };
    let start = Time::from_s(1);
    let tables = Arc::new(Tables::compile(&floor));
    let mut engine = Engine::new(floor, tables, me, start);
    let setup = Setup {
        role: Role::Second,
        peer,
        key: [7; 32],
        run: 22,
    };
    engine.set_standby(setup, start);
    let mut sent = Sent::default();
    // Its answers are heard: as long as they come, the second does not lead.
    for ms in (0..6_000).step_by(10) {
        let now = start.plus_ms(ms);
        if ms % 500 == 0 {
            let got = engine.handle(now, peer, &reply, &mut sent);
            assert_eq!(got, Outcome::PollReply);
        }
        engine.tick(now, &mut sent);
    }
    let now = start.plus_ms(6_000);
    let duty = |engine: &Engine, now| engine.state(now).standby.unwrap().duty;
    assert!(!matches!(duty(&engine, now), StandbyDuty::Leads));
    sent.0.clear();
    // Its polls are answered …
    assert_eq!(engine.handle(now, peer, &poll, &mut sent), Outcome::Poll);
    assert!(!sent.0.is_empty() && sent.0.iter().all(|(to, _)| *to == peer));
    // … but its picture is none, nor is that of anybody else who is no source.
    for from in [peer, stranger] {
        assert_eq!(
            engine.handle(now, from, &dmx, &mut sent),
            Outcome::NotAdmitted
        );
    }
    for packet in [&poll, &reply] {
        let got = engine.handle(now, stranger, packet, &mut sent);
        assert_eq!(got, Outcome::NotAdmitted);
    }
    let state = engine.state(now);
    assert_eq!(state.datagrams["not_admitted"], 4);
    assert_eq!((state.datagrams["taken"], state.datagrams["poll"]), (0, 1));
    assert!(
        state
            .universes
            .iter()
            .all(|universe| universe.sources.is_empty())
    );
    assert_eq!(engine.handle(now, console, &dmx, &mut sent), Outcome::Taken);
}

fn packet() -> impl Strategy<Value = Vec<u8>> {
    let bytes = |packet: ArtCommand| packet.write_to_buffer().unwrap();
    let frame = (0_u16..0x140, prop::collection::vec(any::<u8>(), 1..80)).prop_map(move |frame| {
        bytes(ArtCommand::Output(artnet_protocol::Output {
            port_address: frame.0.try_into().unwrap(),
            data: frame.1.into(),
            ..artnet_protocol::Output::default()
        }))
    });
    prop_oneof![
        4 => frame,
        1 => Just(bytes(ArtCommand::Poll(Poll::default()))),
        1 => Just(bytes(ArtCommand::PollReply(Box::default()))),
        // An ArtSync (Art-Net 4): OpCode 0x5200, version 14, two spare bytes.
        1 => Just(b"Art-Net\0\0\x52\0\x0e\0\0".to_vec()),
        2 => prop::collection::vec(any::<u8>(), 0..700),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(64) })]

    /// Whatever comes from wherever: a picture, a sync and a poll go to nodes of the floor file only, and
    /// an answer to nobody but who polled.
    #[test]
    fn nothing_goes_where_nobody_asked_for_it(
        steps in prop::collection::vec((packet(), any::<u32>(), 1_u16.., 0_u64..400), 1..200),
    ) {
        let nodes = [1, 2].map(|last| SocketAddrV4::new(Ipv4Addr::new(10, 0, 0, last), 6454));
        let floor = Arc::new(litfloor::floor::parse("six.toml", &daemon::six_panels(&nodes)).unwrap());
        let tables = Arc::new(Tables::compile(&floor));
        let me = Me {
            listener: SocketAddrV4::new(Ipv4Addr::new(10, 0, 0, 9), 6454),
            interfaces: Vec::new(),
        };
        let mut now = Time::from_s(1);
        let mut engine = Engine::new(floor, tables, me, now);
        let nodes = HashSet::from(nodes);
        for (bytes, address, port, pause_ms) in steps {
            let from = SocketAddrV4::new(address.into(), port);
            let mut sent = Sent::default();
            engine.handle(now, from, &bytes, &mut sent);
            let polled = matches!(ArtCommand::from_buffer(&bytes), Ok(ArtCommand::Poll(_)));
            for (to, bytes) in &sent.0 {
                let reply = matches!(ArtCommand::from_buffer(bytes), Ok(ArtCommand::PollReply(_)));
                prop_assert!(if reply { polled && *to == from } else { nodes.contains(to) }, "{to}");
            }
            now = now.plus_ms(pause_ms);
            let mut sent = Sent::default();
            engine.tick(now, &mut sent);
            prop_assert!(sent.0.iter().all(|(to, _)| nodes.contains(to)), "{:?}", sent.0);
        }
    }
}
