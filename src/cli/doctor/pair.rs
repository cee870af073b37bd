//! `[standby]`: the key, which of two litfloors this machine is, and whether the other one is there.

use std::net::SocketAddrV4;

use super::super::standby;
use super::Point;
use crate::engine::Interface;
use crate::engine::standby::Role;
use crate::floor::model::StandbyPair;
use crate::net::ask::Heard;

/// The key, as the environment of doctor has it.
pub(super) fn of_key(text: Option<&str>) -> Point {
    const POINT: &str = "standby_key";
    match (text, standby::key(text)) {
        (_, Ok(_)) => Point::fine(
            POINT,
            format!(
                "{} is set; that the other one has the same, only both can tell",
                standby::KEY
            ),
        ),
        // What the service gets from its own file is not seen here.
        (None, Err(why)) => Point::mind(POINT, format!("{} is not set here", standby::KEY), why),
        (Some(_), Err(why)) => Point::wrong(POINT, format!("{} is too short", standby::KEY), why),
    }
}

/// Which of the two this machine is, and where the other one is if that can be told.
pub(super) fn of_role(
    pair: StandbyPair,
    artnet: SocketAddrV4,
    own: &[Interface],
) -> (Point, Option<SocketAddrV4>) {
    const POINT: &str = "standby";
    match standby::which(pair, artnet, own) {
        Ok((role, peer)) => {
            let role = match role {
                Role::First => "first",
                Role::Second => "second",
            };
            let told = format!("this is the {role} of two litfloors; the other one is at {peer}");
            (Point::fine(POINT, told), Some(peer))
        }
        Err(why) => {
            let told = "which of two litfloors this is can't be told";
            (Point::wrong(POINT, told, why.message), None)
        }
    }
}

/// Whether the other one answered, of all that were `asked`: a node at its address may have answered too.
pub(super) fn of_other(
    peer: SocketAddrV4,
    asked: &[SocketAddrV4],
    heard: &Heard,
    own_port: bool,
) -> Point {
    const POINT: &str = "standby_other";
    if heard.answered(peer, asked) {
        return Point::fine(
            POINT,
            format!("the other litfloor, at {peer}, answered a poll"),
        );
    }
    let to_do = if own_port {
        "start it if it is to run already; if it does, look at its address, at the network between and at \
         firewalls on both"
    } else {
        "the Art-Net port is taken, so an answer to that port was not heard: free it and look again"
    };
    Point::mind(
        POINT,
        format!("the other litfloor, at {peer}, did not answer a poll"),
        to_do,
    )
}
