use std::net::Ipv4Addr;
use std::sync::Arc;

use super::*;
use crate::engine::out::{Datagram, Outlet};
use crate::engine::{Engine, Me};
use crate::floor::tables::Tables;

const DAEMON: SocketAddrV4 = SocketAddrV4::new(Ipv4Addr::new(10, 20, 30, 1), 6454);

fn floor() -> Floor {
    crate::floor::parse("demo.toml", include_str!("../../../config/demo.toml")).unwrap()
}

fn panel(floor: &Floor, position: &str) -> usize {
    let at = floor
        .panels
        .iter()
        .position(|panel| panel.position.to_string() == position);
    at.unwrap()
}

/// Universe, sequence and slots of what is sent to the daemon.
fn levels(due: &[(SocketAddrV4, Vec<u8>)]) -> Vec<(u16, u8, Vec<u8>)> {
    let read = due.iter().filter_map(|(to, bytes)| {
        assert_eq!(*to, DAEMON);
        match ArtCommand::from_buffer(bytes).unwrap() {
            ArtCommand::Output(sent) => Some((
                sent.port_address.into(),
                sent.sequence,
                sent.data.as_ref().clone(),
            )),
            _ => None,
        }
    });
    read.collect()
}

#[test]
fn a_change_is_sent_at_once_and_what_stays_every_second() {
    let floor = floor();
    let mut switches = SimSwitches::new(&floor, 1);
    assert!(switches.due(Time::from_s(1)).is_empty(), "nobody listens");
    switches.send_to(DAEMON);
    let first = levels(&switches.due(Time::from_s(2)));
    // The south node has 6 + 8 + 7 + 6 panels of four switches each.
    assert_eq!(first, [(0x21, 1, vec![0; 27 * 4])]);
    assert!(switches.due(Time::from_ms(2_999)).is_empty());
    assert_eq!(levels(&switches.due(Time::from_s(3))).len(), 1);
    assert!(switches.press(panel(&floor, "B4"), 3, true));
    let changed = levels(&switches.due(Time::from_ms(3_010)));
    assert_eq!(changed[0].1, 3);
    let lit: Vec<usize> = (0..changed[0].2.len())
        .filter(|&at| changed[0].2[at] > 127)
        .collect();
    assert_eq!(lit, [6], "B4 is the second panel, its third switch");
    // The same again is no change; the north node has B1.
    assert!(switches.press(panel(&floor, "B4"), 3, true));
    assert!(switches.due(Time::from_ms(3_020)).is_empty());
    assert!(!switches.press(panel(&floor, "B1"), 1, true));
    assert!(!switches.press(panel(&floor, "B4"), 5, true));
}

/// What leaves the engine for the simulated node.
struct ToNode(Vec<Vec<u8>>);

impl Outlet for ToNode {
    fn send(&mut self, datagram: Datagram<'_>) -> bool {
        self.0.push(datagram.to_vec());
        true
    }
}

/// The node finds the real engine by its poll replies, and the engine sees every press as it was.
#[test]
fn a_node_finds_the_daemon_by_itself_and_its_presses_are_seen() {
    let floor = floor();
    let north = floor.nodes[0].address;
    let mut switches = SimSwitches::new(&floor, 0);
    let tables = Arc::new(Tables::compile(&floor));
    let me = Me {
        listener: DAEMON,
        interfaces: Vec::new(),
    };
    let mut engine = Engine::new(Arc::new(floor.clone()), tables, me, Time::from_ms(1));
    let on = panel(&floor, "F2");
    for ms in 2..8_000 {
        let now = Time::from_ms(ms);
        let mut out = ToNode(Vec::new());
        engine.tick(now, &mut out);
        if ms == 5_000 {
            switches.press(on, 2, true);
        }
        if ms == 6_000 {
            switches.press(on, 2, false);
        }
        for (to, bytes) in switches.due(now) {
            assert_eq!(to, DAEMON);
            engine.handle(now, north, &bytes, &mut out);
        }
        for bytes in out.0 {
            switches.hear(now, DAEMON, &bytes);
        }
    }
    let now = Time::from_ms(8_000);
    let seen: Vec<_> = engine.presses().latest;
    let seen: Vec<_> = seen
        .iter()
        .map(|press| (press.panel as usize, press.switch, press.down, press.at))
        .collect();
    let at = Time::from_ms;
    assert_eq!(seen, [(on, 2, true, at(5_000)), (on, 2, false, at(6_000))]);
    let state = engine.state(now);
    assert!(state.panels[on].switches_known && state.panels[on].pressed.is_empty());
    assert!(!state.inputs[0].lost && state.inputs[0].age_s.unwrap() <= 1.0);
}

#[test]
fn who_says_no_more_that_it_listens_is_sent_no_more() {
    let floor = floor();
    let mut switches = SimSwitches::new(&floor, 0);
    let bytes = |kind| {
        let reply = artnet_protocol::PollReply {
            port_address: [0, 2],
            port_types: [kind, 0, 0, 0],
            ..artnet_protocol::PollReply::default()
        };
        let reply = ArtCommand::PollReply(Box::new(reply));
        reply.write_to_buffer().unwrap()
    };
    switches.hear(Time::from_s(1), DAEMON, &bytes(0x80));
    assert_eq!(levels(&switches.due(Time::from_s(2))).len(), 1);
    assert_eq!(levels(&switches.due(Time::from_s(10))).len(), 1);
    assert!(switches.due(Time::from_s(12)).is_empty());
    // An input of that number is no listener.
    switches.hear(Time::from_s(13), DAEMON, &bytes(0x40));
    assert!(switches.due(Time::from_s(14)).is_empty());
}
