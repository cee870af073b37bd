//! Discovery (Art-Net 4): polls answered for every mapped Port-Address, polls sent every 2.5 to
//! 3 s, and the table of nodes that comes of their replies.

mod support;

use std::collections::BTreeSet;
use std::net::SocketAddrV4;

use artnet_protocol::{ArtCommand, PollReply};
use litfloor::engine::snapshot::State;
use litfloor::engine::tally::Outcome;
use support::stage::{A, Stage, dmx, floor, node};

/// 14 bytes are enough (Art-Net 4).
const POLL: &[u8] = b"Art-Net\0\x00\x20\x00\x0e\x00\x00";

fn replies(stage: &mut Stage, to: SocketAddrV4) -> Vec<PollReply> {
    let news = stage.news();
    assert!(
        news.iter().all(|left| left.to == to),
        "unicast to who asked"
    );
    let decoded = news.iter().map(|left| match left.decoded() {
        ArtCommand::PollReply(reply) => *reply,
        other => panic!("{other:?}"),
    });
    decoded.collect()
}

/// Port-Addresses of the outputs that a reply lists.
fn outputs(reply: &PollReply) -> Vec<u16> {
    let base = u16::from(reply.port_address[0]) << 8 | u16::from(reply.port_address[1]) << 4;
    assert_eq!(reply.num_ports[0], 0);
    (0..usize::from(reply.num_ports[1]))
        .inspect(|&at| assert_eq!(reply.port_types[at], 0x80))
        .map(|at| base | u16::from(reply.swout[at]))
        .collect()
}

/// Nine universes over three Sub-Nets.
fn many() -> Stage {
    let runs = [
        "0:0:1", "0:0:2", "0:0:3", "0:0:4", "0:0:5", "0:0:15", "0:1:0", "5:3:2", "5:3:3",
    ]
    .map(|start| (1, start));
    let mut stage = Stage::new(&floor(&runs, 20.0, ""));
    stage.pass(500);
    stage.news();
    stage
}

#[test]
fn a_poll_is_answered_for_every_mapped_port_address() {
    let mut stage = many();
    let from = SocketAddrV4::new(A, 6454);
    stage.console(A, &dmx(0, 2, &[1; 6]));
    stage.news();
    assert_eq!(stage.arrives(from, POLL), Outcome::Poll);
    let replies = replies(&mut stage, from);
    let listed: Vec<Vec<u16>> = replies.iter().map(outputs).collect();
    assert_eq!(
        listed,
        [
            vec![1, 2, 3, 4],
            vec![5, 15],
            vec![0x10],
            vec![0x532, 0x533]
        ]
    );
    let indices: Vec<u8> = replies.iter().map(|reply| reply.bind_index).collect();
    assert_eq!(indices, [1, 2, 3, 4], "1 is the root");
    for reply in &replies {
        assert_eq!(reply.port, 6454);
        assert_eq!(
            reply.address.octets(),
            [10, 9, 0, 99],
            "ours in that network"
        );
        assert_eq!(reply.bind_ip, [10, 9, 0, 99]);
        assert_eq!(reply.status_2 & 0x08, 0x08, "15-bit Port-Addresses");
        assert!(reply.short_name.starts_with(b"litfloor"));
    }
    assert_eq!(
        replies[0].good_output,
        [0, 0x80, 0, 0],
        "data flows in 0:0:2"
    );
}

#[test]
fn a_targeted_poll_is_answered_only_within_its_range() {
    let mut stage = many();
    let from = SocketAddrV4::new(A, 50_123);
    // Flag bit 5; 14 and 16 hold the top and the bottom of the range.
    let targeted = |top: u16, bottom: u16| {
        let mut poll = b"Art-Net\0\x00\x20\x00\x0e\x20\x00".to_vec();
        poll.extend(top.to_be_bytes());
        poll.extend(bottom.to_be_bytes());
        poll
    };
    stage.arrives(from, &targeted(0x53F, 0x530));
    let within: Vec<_> = replies(&mut stage, from).iter().map(outputs).collect();
    assert_eq!(within, [[0x532, 0x533]]);
    stage.arrives(from, &targeted(5, 5));
    assert_eq!(replies(&mut stage, from).len(), 1);
    assert_eq!(stage.arrives(from, &targeted(0x7FFF, 0x600)), Outcome::Poll);
    assert!(replies(&mut stage, from).is_empty());
    // Without the flag the range means nothing.
    let mut poll = targeted(0x7FFF, 0x600);
    poll[12] = 0;
    stage.arrives(from, &poll);
    assert_eq!(replies(&mut stage, from).len(), 4);
    assert_eq!(stage.arrives(from, &POLL[..13]), Outcome::Truncated);
}

#[test]
fn nodes_are_polled_every_two_and_a_half_to_three_seconds() {
    let mut stage = Stage::new(&floor(&[(1, "0:0:1"), (2, "0:0:2")], 20.0, ""));
    stage.pass(60_000);
    for n in [1, 2] {
        let times: Vec<u64> = stage
            .left
            .iter()
            .filter(|left| left.is_poll() && left.to == node(n))
            .map(|left| left.at.0 / 1_000)
            .collect();
        assert!(times.len() >= 20, "{times:?}");
        for pair in times.windows(2) {
            assert!((2_500..=3_000).contains(&(pair[1] - pair[0])), "{times:?}");
        }
    }
    let poll = stage.left.iter().find(|left| left.is_poll()).unwrap();
    assert!(matches!(poll.decoded(), ArtCommand::Poll(_)));
}

/// A reply of a node with outputs 0:0:1 and 0:0:2, written by an independent library.
fn reply_of(n: u8, version: [u8; 2]) -> Vec<u8> {
    let mut short_name = [0; 18];
    short_name[..5].copy_from_slice(b"north");
    let mut long_name = [0; 64];
    long_name[..10].copy_from_slice(b"North side");
    let mut node_report = [0; 64];
    node_report[..8].copy_from_slice(b"all fine");
    let reply = PollReply {
        address: *node(n).ip(),
        version,
        short_name,
        long_name,
        node_report,
        num_ports: [0, 2],
        port_types: [0x80, 0x80, 0, 0],
        good_output: [0x80, 0x04, 0, 0],
        swout: [1, 2, 0, 0],
        ..PollReply::default()
    };
    ArtCommand::PollReply(Box::new(reply))
        .write_to_buffer()
        .unwrap()
}

#[test]
fn the_table_of_nodes_tells_what_replies_said() {
    let mut stage = Stage::new(&floor(&[(1, "0:0:1"), (1, "0:0:9")], 20.0, ""));
    stage.pass(1_000);
    let before = &stage.state().nodes[0];
    assert!(!before.online && before.last_reply_s.is_none());
    // Art-Net 4: 207 bytes and more are a reply; what is missing counts as zero.
    let whole = reply_of(1, [2, 7]);
    assert_eq!(stage.arrives(node(1), &whole[..206]), Outcome::Truncated);
    assert!(!stage.state().nodes[0].online);
    for length in [207, 213, 239] {
        assert_eq!(stage.arrives(node(1), &whole[..length]), Outcome::PollReply);
        stage.pass(250);
        let seen = stage.state().nodes[0].clone();
        assert!(seen.online);
        assert_eq!(
            [
                &seen.short_name,
                &seen.long_name,
                &seen.firmware,
                &seen.report
            ],
            ["north", "North side", "2.7", "all fine"]
        );
        let ports: Vec<_> = seen
            .ports
            .iter()
            .map(|p| {
                (
                    p.direction.as_str(),
                    p.port_address.as_str(),
                    p.active,
                    p.short_circuit,
                )
            })
            .collect();
        let wanted = [
            ("output", "0:0:1", true, false),
            ("output", "0:0:2", false, true),
        ];
        assert_eq!(ports, wanted);
        assert!((seen.last_reply_s.unwrap() - 0.25).abs() < 1e-6);
        assert_eq!(seen.not_listed, ["0:0:9"]);
    }
    assert!(stage.has_notice("node_lacks_universe"));
    assert!(stage.has_notice("node_short_circuit"));
    // Of a node that is not in the file only its name is kept, and nothing is ever sent to it.
    stage.arrives(node(77), &reply_of(77, [0, 1]));
    stage.pass(5_000);
    assert_eq!(stage.state().strangers[0].address, "10.9.1.77");
    assert!(stage.left.iter().all(|left| left.to != node(77)));
}

/// Lets `ms` pass while node 1 answers every poll to it, or does not.
fn live(stage: &mut Stage, ms: u64, answers: bool) {
    for _ in 0..ms / 50 {
        stage.pass(50);
        let polls = stage
            .news()
            .iter()
            .filter(|l| l.is_poll() && l.to == node(1))
            .count();
        for _ in 0..polls {
            if answers {
                stage.arrives(node(1), &reply_of(1, [1, 0]));
            }
        }
    }
}

fn feed_of(state: &State) -> (f64, f64) {
    (state.supplies[0].reserved_a, state.supplies[0].limit_a)
}

#[test]
fn a_node_that_leaves_polls_unanswered_is_silent_and_its_draw_is_reserved_until_it_returns() {
    // Full white of both panels is 1.2 A, the limit 0.8 A.
    let runs = [(1, "0:0:1"), (2, "0:0:2")];
    let mut stage = Stage::new(&floor(&runs, 1.0, "[cap]\nlet_up_s = 0.2"));
    live(&mut stage, 3_000, true);
    stage.console(A, &dmx(0, 1, &[255; 6]));
    live(&mut stage, 6_000, true);
    assert_eq!(stage.sent(0), [255; 6], "0.6 of 0.8 A");
    live(&mut stage, 12_000, false);
    assert!(stage.has_notice("node_silent"));
    assert!(!stage.state().nodes[0].online);
    // Its picture turns dark and the other's bright: it may still be showing 0.6 A.
    stage.console(A, &dmx(0, 1, &[0; 6]));
    stage.console(A, &dmx(0, 2, &[255; 6]));
    live(&mut stage, 8_000, false);
    assert_eq!(stage.sent(0), [0; 6]);
    let level = stage.sent(1)[0];
    // 0.2 of 0.6 A are left: a third of 255 is 85.
    assert!((80..=85).contains(&level), "{level}");
    let (reserved_a, limit_a) = feed_of(&stage.state());
    assert!(reserved_a <= limit_a && reserved_a > 0.78, "{reserved_a}");
    // It answers again, but still shows 0.6 A until a new frame is surely there.
    let back = stage.now;
    stage.left.clear();
    stage.arrives(node(1), &reply_of(1, [1, 0]));
    stage.console(A, &dmx(0, 2, &[255; 6]));
    assert_eq!(stage.sent(1)[0], level, "nothing new has reached it");
    stage.pass(19);
    assert_eq!(stage.sent(1)[0], level);
    stage.pass(3_000);
    assert!(!stage.has_notice("node_silent"));
    assert_eq!(stage.sent(1), [255; 6], "the reserve has ended");
    // Three datagrams to it came before the first brighter one to its sibling.
    let rise = stage
        .left
        .iter()
        .position(|left| {
            left.dmx()
                .is_some_and(|(_, universe, slots)| universe == 2 && slots[0] > level)
        })
        .unwrap();
    let before = &stage.left[..rise];
    let to_it = before
        .iter()
        .filter(|l| l.at > back && l.dmx().is_some_and(|d| d.1 == 1));
    assert!(to_it.count() >= 3);
}

#[test]
fn a_reply_within_three_seconds_of_each_poll_keeps_a_node_online() {
    let mut stage = Stage::usual("");
    live(&mut stage, 3_000, true);
    for _ in 0..20 {
        // Every third poll or reply is lost: no reason to call it silent.
        live(&mut stage, 5_600, false);
        assert!(stage.state().nodes[0].online);
        live(&mut stage, 2_850, true);
    }
    let codes: BTreeSet<String> = stage.state().notices.into_iter().map(|n| n.code).collect();
    assert!(!codes.contains("node_silent") && !codes.contains("node_never_answered"));
}
