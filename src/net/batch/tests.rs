#![expect(
    clippy::disallowed_methods,
    reason = "sockets of the other end, which nobody else opens"
)]

use std::net::Ipv4Addr;
use std::time::Duration;

use proptest::prelude::*;

use super::*;

/// Longer than anything here takes on a machine that is busy with other things.
const PATIENCE: Duration = Duration::from_secs(30);

fn open() -> (UdpSocket, SocketAddrV4) {
    let socket = UdpSocket::bind((Ipv4Addr::LOCALHOST, 0)).unwrap();
    let at = socket.local_addr().unwrap().port();
    (socket, SocketAddrV4::new(Ipv4Addr::LOCALHOST, at))
}

fn ways() -> Vec<Way> {
    if Way::best() == Way::Plain {
        return vec![Way::Plain];
    }
    vec![Way::Plain, Way::Batched]
}

/// What arrives until so many datagrams have.
fn receive(inbox: &mut Inbox, socket: &UdpSocket, count: usize) -> Vec<(SocketAddrV4, Vec<u8>)> {
    let mut all = Vec::new();
    while all.len() < count {
        let before = all.len();
        let taken = inbox
            .receive(socket, |some| {
                all.extend(some.iter().map(|&(from, bytes)| (from, bytes.to_vec())));
            })
            .unwrap();
        assert_eq!(taken.datagrams, all.len() - before);
        if taken.datagrams == 0 {
            socket.set_nonblocking(false).unwrap();
            socket.set_read_timeout(Some(PATIENCE)).unwrap();
            socket.peek_from(&mut [0]).expect("all should arrive");
            socket.set_nonblocking(true).unwrap();
        }
    }
    all
}

fn nothing_waits(inbox: &mut Inbox, socket: &UdpSocket) -> bool {
    inbox.receive(socket, |_| ()).unwrap().datagrams == 0
}

/// Most datagrams of 1,500 bytes that surely wait in a socket whose buffer nobody has enlarged.
const FITS: usize = 70;

/// Sends a list of datagrams to three sockets: all arrive there, whole and in order.
fn pass(sent: &[(usize, Vec<u8>)], out: Way, into: Way, flush_every: usize) {
    let (sender, own) = open();
    let mut outbox = Outbox::new(out);
    let mut others: Vec<_> = (0..3)
        .map(|_| {
            let (socket, at) = open();
            let inbox = Inbox::new(&socket, into).unwrap();
            assert_eq!(inbox.way(), into);
            (socket, at, inbox)
        })
        .collect();
    for sent in sent.chunks(flush_every) {
        for (to, bytes) in sent {
            outbox.put(&sender, others[*to].1, [bytes]);
        }
        outbox.flush(&sender, |to, error| panic!("to {to}: {error}"));
        assert!(outbox.is_empty());
        for (which, (socket, _, inbox)) in others.iter_mut().enumerate() {
            let wanted: Vec<_> = sent
                .iter()
                .filter(|(to, _)| *to == which)
                .map(|(_, bytes)| (own, bytes.clone()))
                .collect();
            assert_eq!(receive(inbox, socket, wanted.len()), wanted);
            assert!(nothing_waits(inbox, socket));
        }
    }
}

/// Datagrams as they are likely to be cut and put together: runs of one length to one address.
fn datagrams() -> impl Strategy<Value = Vec<(usize, Vec<u8>)>> {
    let length = prop_oneof![
        4 => Just(530_usize),
        2 => Just(528),
        1 => Just(0),
        1 => 1..40_usize,
        1 => 1..1_500_usize,
    ];
    let run = (0..3_usize, length, 1..70_usize, any::<u8>());
    prop::collection::vec(run, 0..5).prop_map(|runs| {
        let all = runs.into_iter().flat_map(|(to, length, count, first)| {
            (0..count).map(move |number| {
                let mut bytes = vec![first; length];
                // So that a datagram in another's place is noticed.
                for (byte, part) in bytes.iter_mut().zip(number.to_le_bytes()) {
                    *byte = part;
                }
                (to, bytes)
            })
        });
        all.collect()
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn every_way_passes_every_list_on(sent in datagrams(), flush_every in 1..=FITS) {
        for out in ways() {
            for into in ways() {
                pass(&sent, out, into, flush_every);
            }
        }
    }
}

#[test]
fn more_than_fits_leaves_by_itself_and_in_order() {
    let (sender, _) = open();
    for way in ways() {
        let mut others: Vec<_> = (0..8)
            .map(|_| {
                let (socket, at) = open();
                let inbox = Inbox::new(&socket, way).unwrap();
                (socket, at, inbox)
            })
            .collect();
        let mut outbox = Outbox::new(way);
        let mut put = |number: usize, to| outbox.put(&sender, to, [&number.to_le_bytes()]);
        for number in 0..WAITING {
            put(number, others[number % 8].1);
        }
        for (socket, _, inbox) in &mut others {
            assert!(nothing_waits(inbox, socket));
        }
        // One more, and all but this one have left.
        put(WAITING, others[0].1);
        for (which, (socket, _, inbox)) in others.iter_mut().enumerate() {
            let arrived = receive(inbox, socket, WAITING / 8);
            for (number, (_, bytes)) in (which..).step_by(8).zip(arrived) {
                assert_eq!(bytes, number.to_le_bytes());
            }
            assert!(nothing_waits(inbox, socket));
        }
        outbox.flush(&sender, |to, error| panic!("to {to}: {error}"));
        let (socket, _, inbox) = &mut others[0];
        assert_eq!(receive(inbox, socket, 1)[0].1, WAITING.to_le_bytes());
    }
}

#[test]
fn a_datagram_as_large_as_udp_allows_arrives_and_a_larger_one_is_refused() {
    let (sender, _) = open();
    let (receiver, at) = open();
    for way in ways() {
        let mut inbox = Inbox::new(&receiver, way).unwrap();
        let mut outbox = Outbox::new(way);
        outbox.put(&sender, at, [&vec![7; LARGEST]]);
        outbox.put(&sender, at, [&vec![8; LARGEST + 1]]);
        outbox.put(&sender, at, [&[9]]);
        let mut refused = Vec::new();
        outbox.flush(&sender, |to, error| {
            refused.push((to, error.raw_os_error()));
        });
        assert_eq!(refused.len(), 1);
        assert_eq!(refused[0].0, at);
        assert!(refused[0].1.is_some());
        let arrived = receive(&mut inbox, &receiver, 2);
        assert_eq!(arrived[0].1, vec![7; LARGEST]);
        assert_eq!(arrived[1].1, [9]);
    }
}

#[test]
fn who_can_not_be_reached_is_told_and_the_others_get_theirs() {
    // To broadcast is refused to a socket that has not asked for it (EACCES; socket(7)).
    let broadcast = SocketAddrV4::new(Ipv4Addr::BROADCAST, 6_454);
    let (sender, _) = open();
    let (receiver, at) = open();
    for way in ways() {
        let mut inbox = Inbox::new(&receiver, way).unwrap();
        let mut outbox = Outbox::new(way);
        for number in 0..9_u8 {
            outbox.put(&sender, at, [&[number; 100]]);
            outbox.put(&sender, broadcast, [&[number; 100]]);
            outbox.put(&sender, broadcast, [&[number; 100]]);
        }
        let mut refused = 0;
        outbox.flush(&sender, |to, error| {
            assert_eq!(to, broadcast);
            assert_eq!(error.kind(), io::ErrorKind::PermissionDenied);
            refused += 1;
        });
        assert_eq!(refused, 18);
        // Told once.
        outbox.flush(&sender, |to, _| panic!("{to} once more"));
        let arrived = receive(&mut inbox, &receiver, 9);
        for (number, (_, bytes)) in (0..).zip(arrived) {
            assert_eq!(bytes, [number; 100]);
        }
    }
}

#[test]
fn a_port_where_nobody_listens_harms_nobody_else() {
    let (sender, _) = open();
    let (receiver, at) = open();
    let dead = open().1;
    for way in ways() {
        let mut inbox = Inbox::new(&receiver, way).unwrap();
        let mut own = Inbox::new(&sender, way).unwrap();
        let mut outbox = Outbox::new(way);
        for round in 0..20_u8 {
            outbox.put(&sender, dead, [&[round; 60]]);
            outbox.put(&sender, dead, [&[round; 60]]);
            outbox.put(&sender, at, [&[round; 60]]);
            // The dead port's answer by ICMP comes while others are sent to; it has no effect on a
            // socket that talks to many.
            outbox.flush(&sender, |to, error| panic!("to {to}: {error}"));
            assert!(nothing_waits(&mut own, &sender));
        }
        assert_eq!(receive(&mut inbox, &receiver, 20).len(), 20);
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_train_has_one_address_and_one_length_and_an_end() {
    let to = |port| SocketAddrV4::new(Ipv4Addr::LOCALHOST, port);
    let train = |lengths: &[(u16, usize)]| {
        let mut start = 0;
        let all: Vec<_> = lengths
            .iter()
            .map(|&(port, length)| {
                start += length;
                Waiting {
                    to: to(port),
                    start: start - length,
                    end: start,
                }
            })
            .collect();
        linux::train(&all)
    };
    assert_eq!(train(&[]), 0);
    assert_eq!(train(&[(1, 530)]), 1);
    assert_eq!(train(&[(1, 530), (1, 530), (2, 530)]), 2);
    // The last may be shorter, not longer, not empty, and nothing follows it.
    assert_eq!(train(&[(1, 530), (1, 530), (1, 14), (1, 14)]), 3);
    assert_eq!(train(&[(1, 530), (1, 531)]), 1);
    assert_eq!(train(&[(1, 530), (1, 0)]), 1);
    assert_eq!(train(&[(1, 0), (1, 0)]), 1);
    assert_eq!(train(&[(1, 530), (2, 14)]), 1);
    // 64 pieces, and what one message of UDP holds.
    assert_eq!(train(&[(1, 530); 70]), 64);
    assert_eq!(train(&[(1, 1_472); 70]), LARGEST / 1_472);
    assert_eq!(train(&[(1, 40_000); 3]), 1);
    assert_eq!(train(&[(1, 530); 64]), 64);
}

/// A train of 64 of the largest `ArtDmx` goes to the system as one message, for it arrives as one
/// where the receiver asks for that.
#[cfg(target_os = "linux")]
#[test]
fn a_train_arrives_as_one_message_where_that_is_asked_for() {
    use nix::sys::socket::{setsockopt, sockopt};
    let (sender, _) = open();
    let (receiver, at) = open();
    setsockopt(&receiver, sockopt::UdpGroSegment, &true).unwrap();
    receiver.set_read_timeout(Some(PATIENCE)).unwrap();
    let mut outbox = Outbox::new(Way::Batched);
    for number in 0..64_u8 {
        outbox.put(&sender, at, [&[number; 530]]);
    }
    outbox.flush(&sender, |to, error| panic!("to {to}: {error}"));
    let mut buffer = vec![0; 65_535];
    let length = receiver.recv(&mut buffer).unwrap();
    assert_eq!(length, 64 * 530);
}
