//! `artnet_protocol`, an independent implementation of Art-Net, decodes what the running program
//! sends over real sockets.

mod daemon;

use std::collections::{BTreeMap, BTreeSet};
use std::net::Ipv4Addr;
use std::time::Duration;

use artnet_protocol::{ArtCommand, Output};
use daemon::{Console, Node, PATIENCE, SLOTS, UNIVERSES};

/// Longer than what the program waits before it repeats unchanged data.
const SILENCE: Duration = Duration::from_secs(5);

/// A picture with another level in every slot; about 35 % of full, so that nothing is capped.
fn picture(universe: u16) -> [u8; SLOTS] {
    std::array::from_fn(|slot| u8::try_from((usize::from(universe) * 7 + slot * 3) % 180).unwrap())
}

fn next_output(node: &Node) -> Output {
    loop {
        let bytes = node.next(SILENCE).expect("silence");
        match ArtCommand::from_buffer(&bytes).unwrap() {
            ArtCommand::Output(output) => {
                // The crate takes what the datagram has; the Length field must say the same.
                let length = usize::from(u16::from_be_bytes([bytes[16], bytes[17]]));
                assert_eq!((length, bytes.len()), (SLOTS, 18 + SLOTS));
                return output;
            }
            ArtCommand::Poll(_) => {}
            other => panic!("a node gets no {other:?}"),
        }
    }
}

#[test]
fn an_independent_library_reads_frames_numbers_and_polls() {
    let nodes = [Node::open("west"), Node::open("east")];
    let (_directory, path) =
        daemon::file(&daemon::six_panels(&[nodes[0].address, nodes[1].address]));
    let daemon = daemon::run(&path);
    let console = Console::open(daemon.artnet);

    // Polls: version and flags are the library's own defaults.
    for node in &nodes {
        let poll = loop {
            let bytes = node.next(PATIENCE).expect("no poll");
            if let ArtCommand::Poll(poll) = ArtCommand::from_buffer(&bytes).unwrap() {
                break poll;
            }
        };
        assert_eq!(poll.version, [0, 14]);
    }
    let names = daemon.until(PATIENCE, |state| {
        let nodes = state["nodes"].as_array().unwrap();
        let of = |key: &str| {
            nodes
                .iter()
                .map(|node| node[key].clone())
                .collect::<Vec<_>>()
        };
        (of("online") == [true, true]).then(|| (of("short_name"), of("firmware")))
    });
    assert_eq!(names.0, ["west", "east"]);
    assert_eq!(names.1, ["3.7", "3.7"]);

    // Frames: each node gets its own universes and no others, with the levels that were sent.
    for (at, node) in nodes.iter().enumerate() {
        let own: BTreeSet<u16> = UNIVERSES.into_iter().skip(at).step_by(2).collect();
        let mut right = BTreeSet::new();
        let mut numbers: BTreeMap<u16, u8> = BTreeMap::new();
        let mut wraps = 0;
        let mut frame = 0_u8;
        // Until every number from 1 to 255 was seen to be followed by the right one.
        while right != own || wraps == 0 {
            frame = frame.wrapping_add(1);
            for universe in UNIVERSES {
                let mut slots = picture(universe);
                // Something new in every frame, so that each is sent.
                slots[0] = frame % 100;
                console.dmx(universe, &slots);
            }
            let mut output = next_output(node);
            loop {
                let address = u16::from(output.port_address);
                assert!(own.contains(&address), "{address:#06x} is not of this node");
                assert_eq!((output.version, output.physical), ([0, 14], 0));
                if output.data.as_ref()[1..] == picture(address)[1..] {
                    right.insert(address);
                }
                // 0, "not numbered", is for the first frames only: the node may remember
                // another sender.
                let last = numbers.insert(address, output.sequence).unwrap_or(0);
                let follows = match last {
                    0 => output.sequence <= 1,
                    255 => output.sequence == 1,
                    last => output.sequence == last + 1,
                };
                assert!(follows, "{address:#06x}: {last} then {}", output.sequence);
                wraps += u32::from(last == 255);
                match node.arrived.try_recv() {
                    Ok(bytes) => match ArtCommand::from_buffer(&bytes).unwrap() {
                        ArtCommand::Output(next) => output = next,
                        _ => break,
                    },
                    Err(_) => break,
                }
            }
        }
        println!("node {at}: {right:x?}, {wraps} wraps");
    }
    assert!(daemon.end_with("INT").success());
}

#[test]
fn an_independent_library_reads_the_answers_to_its_poll() {
    let node = Node::open("west");
    let (_directory, path) = daemon::file(&daemon::six_panels(&[node.address]));
    let daemon = daemon::run(&path);
    let console = Console::open(daemon.artnet);
    console.dmx(UNIVERSES[5], &[1; SLOTS]);
    daemon.until(PATIENCE, |state| (state["frames_in"] == 1).then_some(()));
    console.send(ArtCommand::Poll(artnet_protocol::Poll::default()));

    // Four ports a reply, all of one Net and Sub-Net: 4 + 1 + 1.
    let mut listed = Vec::new();
    for bind_index in 1..=3 {
        let bytes = console.receive();
        assert_eq!(bytes.len(), 239, "Art-Net 4");
        let ArtCommand::PollReply(reply) = ArtCommand::from_buffer(&bytes).unwrap() else {
            panic!("not a reply: {bytes:x?}");
        };
        assert_eq!((reply.address, reply.port), (Ipv4Addr::LOCALHOST, 6454));
        assert_eq!(reply.bind_index, bind_index);
        assert_eq!(reply.short_name[..13], *b"litfloor Six\0");
        assert_eq!(reply.num_ports[0], 0);
        let ports = usize::from(reply.num_ports[1]);
        let [net, sub_net] = reply.port_address.map(u16::from);
        for port in 0..4 {
            if port >= ports {
                assert_eq!((reply.port_types[port], reply.swout[port]), (0, 0));
                continue;
            }
            assert_eq!(reply.port_types[port], 0x80, "an output");
            let address = net << 8 | sub_net << 4 | u16::from(reply.swout[port]);
            let live = reply.good_output[port] & 0x80 != 0;
            assert_eq!(live, address == UNIVERSES[5], "{address:#06x}");
            listed.push(address);
        }
    }
    assert_eq!(listed, UNIVERSES);
    assert!(daemon.end_with("INT").success());
}
