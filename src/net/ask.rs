//! Asks nodes whether they are there, once, and listens who else speaks Art-Net meanwhile. Only the nodes
//! that are named are asked.

use std::collections::{BTreeMap, BTreeSet};
use std::io;
use std::net::{IpAddr, Ipv4Addr, SocketAddr, SocketAddrV4, UdpSocket};
use std::time::Duration;

use super::clock::Clock;
use crate::wire::{Packet, PortAddress, poll, read};

/// No datagram of Art-Net is longer.
const LONGEST: usize = 2_048;

/// Others that are told apart; a flood from forged addresses must not fill the memory.
const MOST_OTHERS: usize = 64;

/// What was heard.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Heard {
    /// Which nodes answered and from which port, with the short name that each gives.
    pub answers: BTreeMap<SocketAddrV4, String>,
    /// Who sends light, and for which universes.
    pub frames: BTreeMap<Ipv4Addr, BTreeSet<PortAddress>>,
    /// Who else asks.
    pub polls: BTreeSet<Ipv4Addr>,
    /// Nodes that could not even be asked, with why.
    pub unsent: Vec<(SocketAddrV4, String)>,
}

/// Asks `nodes` from `socket`, and listens until all have answered, for `least` at least and `most` at most.
///
/// # Errors
/// When the socket fails.
pub fn ask(
    socket: &UdpSocket,
    nodes: &[SocketAddrV4],
    least: Duration,
    most: Duration,
) -> io::Result<Heard> {
    let mut heard = Heard::default();
    let question = poll::write();
    for &node in nodes {
        if let Err(error) = socket.send_to(&question, node) {
            heard.unsent.push((node, error.to_string()));
        }
    }
    socket.set_nonblocking(false)?;
    let clock = Clock::start();
    let mut buffer = [0; LONGEST];
    // Looked at anew only when there is another answer.
    let (mut all, mut answers) = (nodes.is_empty(), 0);
    loop {
        let gone = Duration::from_micros(clock.now().0);
        if answers != heard.answers.len() {
            answers = heard.answers.len();
            all = nodes.iter().all(|&node| heard.answered(node, nodes));
        }
        let until = if all { least } else { most };
        let Some(left) = until.checked_sub(gone).filter(|left| !left.is_zero()) else {
            return Ok(heard);
        };
        socket.set_read_timeout(Some(left))?;
        match socket.recv_from(&mut buffer) {
            Ok((length, SocketAddr::V4(from))) => heard.take(from, &buffer[..length], nodes),
            Ok(_) => {}
            // A node without a program at its port is told by its system; another may still answer.
            Err(error) if goes_on(&error) => {}
            Err(error) => return Err(error),
        }
    }
}

fn goes_on(error: &io::Error) -> bool {
    use io::ErrorKind::{
        ConnectionRefused, ConnectionReset, HostUnreachable, Interrupted, NetworkUnreachable,
        TimedOut, WouldBlock,
    };
    matches!(
        error.kind(),
        ConnectionRefused
            | ConnectionReset
            | HostUnreachable
            | Interrupted
            | NetworkUnreachable
            | TimedOut
            | WouldBlock
    )
}

impl Heard {
    /// Whether a node of the file answered. Where several share an address, as simulated ones do, it must
    /// have done so from its own port; nodes may answer from any.
    pub fn answered(&self, node: SocketAddrV4, all: &[SocketAddrV4]) -> bool {
        let alone = all.iter().filter(|other| other.ip() == node.ip()).count() == 1;
        let same = |from: &&SocketAddrV4| **from == node || alone && from.ip() == node.ip();
        self.answers.keys().any(|from| same(&from))
    }

    fn take(&mut self, from: SocketAddrV4, bytes: &[u8], nodes: &[SocketAddrV4]) {
        let ip = *from.ip();
        let full = self.frames.len() + self.polls.len() >= MOST_OTHERS;
        // Nobody but nodes was asked; and who forges many ports of one must not fill the memory.
        let of_node = nodes.iter().any(|node| *node.ip() == ip);
        let room = self.answers.len() < nodes.len() + MOST_OTHERS;
        match read(bytes) {
            Ok(Packet::PollReply(reply)) if nodes.contains(&from) || of_node && room => {
                self.answers.entry(from).or_insert(reply.short_name);
            }
            Ok(Packet::Dmx(dmx)) if !full || self.frames.contains_key(&ip) => {
                let universes = self.frames.entry(ip).or_default();
                if universes.len() < MOST_OTHERS {
                    universes.insert(dmx.port_address);
                }
            }
            Ok(Packet::Poll(_)) if !full => {
                self.polls.insert(ip);
            }
            _ => {}
        }
    }
}

/// The address of this machine from which datagrams to `node` leave. Nothing is sent.
///
/// # Errors
/// What the system says when it knows no way.
pub fn way_to(node: SocketAddrV4) -> io::Result<Ipv4Addr> {
    let socket = super::socket::any()?;
    socket.connect(node)?;
    match socket.local_addr()?.ip() {
        IpAddr::V4(address) => Ok(address),
        IpAddr::V6(_) => Err(io::Error::other("no IPv4 address")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    use crate::wire::{dmx, poll_reply};

    const LEAST: Duration = Duration::from_millis(300);
    const MOST: Duration = Duration::from_secs(1);

    fn here() -> (UdpSocket, SocketAddrV4) {
        let socket = super::super::socket::any().unwrap();
        let SocketAddr::V4(address) = socket.local_addr().unwrap() else {
            panic!("not IPv4");
        };
        (
            socket,
            SocketAddrV4::new(Ipv4Addr::LOCALHOST, address.port()),
        )
    }

    fn reply() -> Vec<u8> {
        let who = poll_reply::Identity {
            address: Ipv4Addr::LOCALHOST,
            short_name: "left\u{1b}".into(),
            long_name: String::new(),
            version: [0, 1],
        };
        let page = &poll_reply::pages(&[PortAddress::new(3).unwrap()])[0];
        poll_reply::write(&who, page, |_| true, 1, 0)
    }

    #[test]
    fn who_answers_and_who_sends_light_is_told() {
        let (asker, at) = here();
        let (node, node_at) = here();
        let (_silent, silent_at) = here();
        let answering = std::thread::spawn(move || {
            let mut buffer = [0; 100];
            let (length, from) = node.recv_from(&mut buffer).unwrap();
            assert!(matches!(read(&buffer[..length]), Ok(Packet::Poll(_))));
            node.send_to(&reply(), from).unwrap();
            let mut frame = dmx::header(0, 0, PortAddress::new(3).unwrap(), 4).to_vec();
            frame.extend([0; 4]);
            node.send_to(&frame, at).unwrap();
            node.send_to(b"no Art-Net", at).unwrap();
            node.send_to(&poll::write(), at).unwrap();
        });
        let heard = ask(&asker, &[node_at, silent_at], LEAST, MOST).unwrap();
        answering.join().unwrap();
        assert_eq!(heard.answers, [(node_at, "left?".to_owned())].into());
        assert!(heard.answered(node_at, &[node_at, silent_at]));
        assert!(!heard.answered(silent_at, &[node_at, silent_at]));
        assert!(heard.answered(silent_at, &[silent_at]), "from another port");
        let universes: Vec<u16> = heard.frames[&Ipv4Addr::LOCALHOST]
            .iter()
            .map(|universe| universe.number())
            .collect();
        assert_eq!(universes, [3]);
        assert!(heard.polls.contains(&Ipv4Addr::LOCALHOST));
    }

    #[test]
    fn a_flood_of_strangers_is_held_in_a_table_of_fixed_size() {
        let node = SocketAddrV4::new(Ipv4Addr::new(10, 0, 0, 21), 6_454);
        let mut heard = Heard::default();
        let reply = reply();
        for number in 0..10_000_u16 {
            let forged = SocketAddrV4::new(u32::from(number).into(), 6_454);
            heard.take(forged, &poll::write(), &[node]);
            heard.take(forged, &reply, &[node]);
            heard.take(SocketAddrV4::new(*node.ip(), number), &reply, &[node]);
        }
        assert_eq!(heard.polls.len(), MOST_OTHERS);
        assert_eq!(heard.answers.len(), 2 + MOST_OTHERS, "and the node's own");
        assert!(heard.answered(node, &[node]));
    }

    #[test]
    fn the_loopback_is_the_way_to_itself() {
        let node = SocketAddrV4::new(Ipv4Addr::new(127, 0, 0, 9), 6_454);
        assert_eq!(way_to(node).unwrap(), Ipv4Addr::LOCALHOST);
    }
}
