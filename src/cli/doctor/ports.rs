//! Ports: whether `run` will have them, and whose they are.

use std::net::{SocketAddr, SocketAddrV4, UdpSocket};

use super::super::networks::named;
use super::Point;
use crate::net::holder::{self, Holder, Kind};
use crate::net::socket::{self, OpenError};

/// All ports that `run` takes; the one for Art-Net stays open, for nodes may answer to it alone.
pub(super) fn look(
    artnet: SocketAddrV4,
    http: SocketAddr,
    guests: Option<SocketAddr>,
) -> (Vec<Point>, Option<UdpSocket>) {
    let (point, listener) = of_artnet(artnet);
    let mut points = vec![point];
    points.extend(of_neighbours(&holder::all(Kind::Udp, artnet.port())));
    let dashboard = socket::http(http);
    points.push(match &dashboard {
        Ok(_) => Point::fine("http_port", format!("TCP (dashboard) port {http} is free")),
        Err(error) => taken("http_port", error),
    });
    // While the dashboard's is open: one port is not enough for both.
    points.extend(guests.map(|guests| match socket::guests(guests) {
        Ok(_) => Point::fine("guests_port", format!("TCP (guests) port {guests} is free")),
        Err(error) if is_own(&error) => Point::wrong(
            "guests_port",
            format!("--guests {guests} is where the dashboard will be (--http {http})"),
            "give guests another port, here and at `litfloor run`",
        ),
        Err(error) => taken("guests_port", &error),
    }));
    (points, listener)
}

/// Whether it is doctor itself that has what can't be had.
fn is_own(error: &OpenError) -> bool {
    let OpenError::Taken { by: Some(by), .. } = error else {
        return false;
    };
    let own = std::process::id();
    by.process.as_ref().is_some_and(|who| who.pid == own)
}

/// Whether the port can be had; if so it stays open, for nodes may answer to it alone.
fn of_artnet(artnet: SocketAddrV4) -> (Point, Option<UdpSocket>) {
    match socket::artnet_quietly(artnet.into()) {
        Ok((socket, _)) => {
            let told = format!("UDP (Art-Net) port {artnet} is free");
            (Point::fine("artnet_port", told), Some(socket))
        }
        Err(error) => (taken("artnet_port", &error), None),
    }
}

/// What to do where nobody has the port, and the system refuses it all the same.
pub(super) fn refused(error: &OpenError) -> &'static str {
    match error {
        // ip(7): ports below `ip_unprivileged_port_start`, 1024 unless set, need CAP_NET_BIND_SERVICE.
        OpenError::Other {
            address, source, ..
        } if source.kind() == std::io::ErrorKind::PermissionDenied && address.port() < 1_024 => {
            "ports below 1024 need a right that this user does not have: choose one from 1024 up, such as \
             8080, or give litfloor that right (AmbientCapabilities=CAP_NET_BIND_SERVICE in its systemd unit)"
        }
        _ => "give an address and port that can be had",
    }
}

fn taken(point: &'static str, error: &OpenError) -> Point {
    let OpenError::Taken {
        what,
        address,
        flag,
        by,
    } = error
    else {
        return Point::wrong(point, error.to_string(), refused(error));
    };
    let whom = socket::by_whom(by.as_deref());
    let process = by.as_ref().and_then(|by| by.process.as_ref());
    let to_do = if process.is_some_and(|process| process.name == "litfloor") {
        "if that is the litfloor of tonight, `litfloor status` says how it is, and doctor is for before \
         its start; else end it"
            .to_owned()
    } else {
        format!(
            "stop that program, or choose another address with {flag}, here and at `litfloor run`"
        )
    };
    Point::wrong(
        point,
        format!("{what} port {address} is taken by {whom}"),
        to_do,
    )
}

/// Others on this machine that listen at the same port of some address: what is sent there goes to them.
pub(super) fn of_neighbours(all: &[Holder]) -> Option<Point> {
    let own = std::process::id();
    let ours = |holder: &&Holder| holder.process.as_ref().is_some_and(|who| who.pid == own);
    let others = all.iter().filter(|holder| !ours(holder));
    let others: Vec<String> = others
        .map(|holder| format!("{holder} at {}", holder.address))
        .collect();
    (!others.is_empty()).then(|| {
        Point::mind(
            "other_listeners",
            format!("others on this machine listen at the Art-Net port: {}", named(&others)),
            "what a console sends to their address goes to them and not to litfloor: end them if they are \
             not wanted, or send to litfloor's address",
        )
    })
}
