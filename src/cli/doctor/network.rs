//! Interfaces, ways to the nodes, and who answers.

use std::collections::BTreeSet;
use std::fs;
use std::net::{Ipv4Addr, SocketAddrV4, UdpSocket};
use std::path::Path;
use std::time::Duration;

use super::super::networks::{self, named};
use super::super::standby;
use super::super::summary::counted;
use super::{Point, pair};
use crate::engine::holds;
use crate::floor::Floor;
use crate::floor::model::Node;
use crate::net::ask::{self, Heard};
use crate::net::interfaces::{self, Named};
use crate::net::socket;

/// It is listened for at least so long, for others that speak Art-Net: a console at rest still polls, or
/// sends a frame, this often or so.
const LISTEN: Duration = Duration::from_secs(1);

/// A node answers a poll within three seconds (Art-Net 4, from memory).
const ANSWER: Duration = Duration::from_secs(3);

/// A gigabit or a hundred megabits a second; less is a fault of cable or plug.
const SLOW_MBIT: i64 = 100;

/// All of it. Without a floor no node is looked at. The `listener` is the Art-Net port, if it could be had.
pub(super) fn look(
    floor: Option<&Floor>,
    artnet: SocketAddrV4,
    listener: Option<UdpSocket>,
) -> Vec<Point> {
    let own = interfaces::named();
    let mut points = of_interfaces(&own, Path::new("/sys/class/net"));
    let Some(floor) = floor.filter(|floor| !floor.nodes.is_empty()) else {
        return points;
    };
    let networks: Vec<_> = own.iter().map(|own| (own.address, own.mask)).collect();
    for told in networks::special(&floor.nodes, &networks) {
        points.push(Point::wrong(
            "address",
            told,
            "correct it in the floor file or at the node",
        ));
    }
    points.extend(of_ways(&floor.nodes, &own, &ask::way_to));
    let peer = floor.network.standby.and_then(|two| {
        let (point, peer) = pair::of_role(two, artnet, &networks);
        points.push(point);
        points.push(pair::of_key(std::env::var(standby::KEY).ok().as_deref()));
        peer
    });
    points.extend(of_nodes(&floor.nodes, peer, listener));
    points
}

/// What the system tells of each interface that has an address (`sys` is /sys/class/net; its files are
/// described in the kernel's Documentation/ABI/testing/sysfs-class-net).
pub(super) fn of_interfaces(own: &[Named], sys: &Path) -> Vec<Point> {
    const POINT: &str = "interface";
    const BROADCAST: u32 = 0x2;
    const LOOPBACK: u32 = 0x8;
    const MULTICAST: u32 = 0x1000;
    let mut points = Vec::new();
    let names: BTreeSet<&str> = own
        .iter()
        .filter(|own| !own.address.is_loopback())
        .map(|own| own.name.as_str())
        .collect();
    if names.is_empty() {
        points.push(Point::mind(
            POINT,
            "this machine is in no network",
            "plug the cable in and give it an address, unless all of the floor is simulated here",
        ));
    }
    for name in names {
        let at = sys.join(name);
        let read = |file: &str| {
            fs::read_to_string(at.join(file))
                .map(|text| text.trim().to_owned())
                .ok()
        };
        let addresses: Vec<String> = own
            .iter()
            .filter(|own| own.name == name)
            .map(|own| format!("{}/{}", own.address, u32::from(own.mask).leading_ones()))
            .collect();
        let told = format!("{name} has {}", addresses.join(", "));
        let flags = read("flags")
            .and_then(|text| u32::from_str_radix(text.trim_start_matches("0x"), 16).ok());
        let lacks = |flag| flags.is_some_and(|flags| flags & flag == 0 && flags & LOOPBACK == 0);
        let speed = read("speed").and_then(|text| text.parse::<i64>().ok());
        points.push(if read("carrier").as_deref() == Some("0") {
            Point::wrong(POINT, format!("{told}, but no cable"), "look at cable, plug and switch")
        } else if at.join("wireless").exists() {
            Point::mind(
                POINT,
                format!("{told}, by radio"),
                "a room full of phones eats frames: use a cable between litfloor and the nodes",
            )
        } else if speed.is_some_and(|speed| (1..SLOW_MBIT).contains(&speed)) {
            let speed = speed.unwrap_or_default();
            Point::mind(
                POINT,
                format!("{told}, at {speed} Mbit/s only"),
                "that is a bad cable or plug more often than not: change it",
            )
        } else if lacks(BROADCAST) {
            Point::mind(
                POINT,
                format!("{told}, and can't broadcast"),
                "a console that broadcasts is not heard there: let it send to litfloor's own address",
            )
        } else if lacks(MULTICAST) {
            Point::fine(POINT, format!("{told}; it can't multicast, which Art-Net does not need"))
        } else {
            Point::fine(POINT, told)
        });
    }
    points
}

/// By which way datagrams to each node leave. Nothing is sent for that.
pub(super) fn of_ways(
    nodes: &[Node],
    own: &[Named],
    way_to: &dyn Fn(SocketAddrV4) -> std::io::Result<Ipv4Addr>,
) -> Vec<Point> {
    const POINT: &str = "route";
    let name_of = |address: Ipv4Addr| {
        let found = own.iter().find(|own| own.address == address);
        found.map_or("an interface without a name", |own| own.name.as_str())
    };
    let (mut points, mut good, mut by) = (Vec::new(), 0_u64, BTreeSet::new());
    for node in nodes {
        let ip = *node.address.ip();
        let told = format!("node {} ({})", node.name, node.address);
        let from = match way_to(node.address) {
            Ok(from) => from,
            Err(why) => {
                points.push(Point::wrong(
                    POINT,
                    format!("there is no way to {told}: {why}"),
                    "look at this machine's cable, address and mask, and at the node's address in the \
                     floor file",
                ));
                continue;
            }
        };
        let leaves = name_of(from);
        let home = own.iter().find(|own| holds((own.address, own.mask), ip));
        // Whatever this machine sends to itself goes by the loopback.
        let here = ip.is_loopback() || own.iter().any(|own| own.address == ip);
        points.push(match home {
            _ if here => {
                good += 1;
                by.insert("this machine itself".to_owned());
                continue;
            }
            None => Point::mind(
                POINT,
                format!(
                    "{told} lies in no network of this machine: datagrams to it leave by {leaves} \
                     ({from}) for a router"
                ),
                "nodes belong into one network with litfloor: look at address and mask on both sides",
            ),
            Some(home) if home.name != leaves => Point::mind(
                POINT,
                format!(
                    "{told} lies in the network of {}, but datagrams to it leave by {leaves} ({from})",
                    home.name
                ),
                "two interfaces in networks that overlap: give each a range of its own, or take one out",
            ),
            Some(_) => {
                good += 1;
                by.insert(format!("{leaves} ({from})"));
                continue;
            }
        });
    }
    if good > 0 {
        let by: Vec<String> = by.into_iter().collect();
        let told = format!(
            "datagrams to {} leave by {}",
            counted(good, "node"),
            by.join(", ")
        );
        points.insert(0, Point::fine(POINT, told));
    }
    points
}

/// Asks the nodes and the other litfloor, from the Art-Net port if it can be had.
fn of_nodes(nodes: &[Node], peer: Option<SocketAddrV4>, listener: Option<UdpSocket>) -> Vec<Point> {
    let own_port = listener.is_some();
    let addresses = nodes.iter().map(|node| node.address);
    let addresses: Vec<SocketAddrV4> = addresses.chain(peer).collect();
    let socket = listener.map_or_else(socket::any, Ok);
    match socket.and_then(|socket| ask::ask(&socket, &addresses, LISTEN, ANSWER)) {
        Ok(heard) => {
            let mut points = of_answers(nodes, &addresses, &heard, own_port);
            points.extend(peer.map(|peer| pair::of_other(peer, &addresses, &heard, own_port)));
            points.extend(of_others(&heard));
            points
        }
        Err(why) => vec![Point::wrong(
            "nodes",
            format!("the nodes can't be asked: {why}"),
            "look whether this machine has a network at all",
        )],
    }
}

/// Which nodes answered, of all that were `asked`: the other litfloor at a node's address may have answered too.
pub(super) fn of_answers(
    nodes: &[Node],
    asked: &[SocketAddrV4],
    heard: &Heard,
    own_port: bool,
) -> Vec<Point> {
    const POINT: &str = "nodes";
    let silent = nodes
        .iter()
        .filter(|node| !heard.answered(node.address, asked));
    let silent: Vec<String> = silent
        .map(|node| {
            let unsent = heard.unsent.iter().find(|(to, _)| *to == node.address);
            let why = unsent.map_or_else(String::new, |(_, why)| format!(", {why}"));
            format!("{} ({}{why})", node.name, node.address)
        })
        .collect();
    let (count, answered) = (nodes.len(), nodes.len() - silent.len());
    if silent.is_empty() {
        let told = format!("{} answered a poll", counted(count as u64, "node"));
        return vec![Point::fine(POINT, told)];
    }
    let told = format!(
        "{answered} of {count} nodes answered a poll; silent: {}",
        named(&silent)
    );
    vec![if own_port {
        Point::wrong(
            POINT,
            told,
            "look at their power, cable and address; some answer only while their own page allows \
             Art-Net, and a firewall here must let UDP 6454 in",
        )
    } else {
        Point::mind(
            POINT,
            told,
            "the Art-Net port is taken, so those that answer to that port alone were not heard: free it \
             and look again",
        )
    }]
}

/// Who else speaks Art-Net.
pub(super) fn of_others(heard: &Heard) -> Vec<Point> {
    let mut points = Vec::new();
    let sources: Vec<String> = heard
        .frames
        .iter()
        .map(|(from, universes)| {
            format!("{from} ({})", counted(universes.len() as u64, "universe"))
        })
        .collect();
    match sources.len() {
        0 => {}
        1 => points.push(Point::fine(
            "console",
            format!("{} sends light here", sources[0]),
        )),
        _ => points.push(Point::mind(
            "console",
            format!("several send light here: {}", named(&sources)),
            "two sources of one universe are merged and a third is ignored: end what is not wanted",
        )),
    }
    if !heard.polls.is_empty() {
        let polls: Vec<String> = heard.polls.iter().map(Ipv4Addr::to_string).collect();
        points.push(Point::fine(
            "controllers",
            format!("others that ask for nodes: {}", named(&polls)),
        ));
    }
    points
}
