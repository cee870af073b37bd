//! `litfloor demo`: a simulated floor, console and nodes around the real daemon, over real UDP
//! on this machine's loopback.

use std::io::{self, Write};
use std::net::{Ipv4Addr, SocketAddr, SocketAddrV4};
use std::sync::{Arc, Mutex, PoisonError};

use clap::Args;
use tokio::net::UdpSocket;
use tokio::sync::{mpsc, watch};

use super::doors::Opened;
use super::failure::Failure;
use super::reload::Hangups;
use super::serve::{self, Plan};
use super::sockets::Sockets;
use super::{address, control, simulation};
use crate::floor::model::Floor;
use crate::floor::{FloorFile, Tables};
use crate::net::socket;
use crate::sim::console::Console;
use crate::sim::node::{Character, SimNode};
use crate::sim::shell::{SharedNode, SharedPlant, run_console, run_floor, spawn_nodes};
use crate::sim::switches::SimSwitches;
use crate::sim::walkers::Press;
use crate::store::Place;
use crate::web::operator::Keep;

/// The demo's floor.
const FLOOR: &str = include_str!("../../config/demo.toml");

/// Options of `demo`.
#[derive(Debug, Args)]
pub struct Demo {
    /// Where to listen to the simulated console; port 0 takes a free one
    #[arg(long, value_name = "ADDRESS:PORT", default_value = "127.0.0.1:6454", value_parser = address::v4)]
    artnet: SocketAddrV4,
    /// Where to serve the dashboard; port 0 takes a free one
    #[arg(long, value_name = "ADDRESS:PORT", default_value = "127.0.0.1:8080", value_parser = address::any)]
    http: SocketAddr,
}

/// Runs the demo until it is told to stop.
///
/// # Errors
/// When Art-Net is to be listened to off the loopback, or a port can't be had.
pub fn run(options: &Demo, color: bool) -> Result<(), Failure> {
    if !options.artnet.ip().is_loopback() {
        return Err(Failure::usage(format!(
            "the demo sends and listens on this machine only: give --artnet a loopback address, \
             for example 127.0.0.1:{}",
            options.artnet.port()
        )));
    }
    let file = FloorFile {
        name: "config/demo.toml".to_owned(),
        text: FLOOR.to_owned(),
    };
    let mut floor = file
        .floor(&|_| false)
        .map_err(|faults| Failure::input(faults.render(color)))?;
    let gate = control::gate(Keep::Memory)?;
    let sockets = Sockets::open(options.artnet, options.http, Opened::default())?;
    serve::runtime()?.block_on(async {
        let (stop, stopping) = watch::channel(false);
        let tables = Tables::compile(&floor);
        let nodes = simulate_nodes(&mut floor, &tables)?;
        let held: Vec<SharedNode> = nodes.iter().map(|(_, node)| Arc::clone(node)).collect();
        let ended = spawn_nodes(nodes, &stopping).map_err(Failure::machine)?;
        let console = Console::new(&floor, &tables);
        let (told, readings) = mpsc::channel(4);
        let plant: SharedPlant = Arc::new(Mutex::new(simulation::plant(&floor)));
        let really = Arc::new(floor.clone());
        let (floor_too, plant_too) = (Arc::clone(&really), Arc::clone(&plant));
        let breaker = simulation::Breaker::new(floor_too, plant_too, held.clone());
        let sensors = simulation::sensors(&really);
        let measuring = stopping.clone();
        let measuring = tokio::spawn(async move {
            let stand_on = held.clone();
            let pressed = move |presses: &[Press]| press(&stand_on, presses);
            run_floor(&really, &plant, &held, sensors, pressed, told, measuring).await;
        });
        let from = on_loopback()?;
        let playing = tokio::spawn(run_console(
            from,
            SocketAddr::V4(sockets.artnet_at),
            console,
            stopping,
        ));
        let announced = |out: &mut dyn Write| {
            writeln!(
                out,
                "A simulated floor, {}: console, nodes, panels and sensors are not real.",
                floor.name
            )?;
            sockets.tell(out)?;
            writeln!(out, "Control: {}\nCtrl-C ends it.", gate.told())
        };
        // Where nobody reads it any more, it is played all the same.
        let _: io::Result<()> = announced(&mut io::stdout());
        let plan = Plan {
            file,
            floor,
            tables,
            reader: None,
            hangups: Hangups::new(false),
            history: Place::Memory,
            simulated: Some(readings),
            standby: None,
            simulation: Some(Arc::new(breaker)),
        };
        let result = serve::serve(plan, gate, sockets, stop).await.map(|_| ());
        playing.abort();
        measuring.abort();
        ended.iter().for_each(tokio::task::JoinHandle::abort);
        result
    })
}

/// Gives every node of the floor a simulated one on the loopback and its address to the floor.
fn simulate_nodes(
    floor: &mut Floor,
    tables: &Tables,
) -> Result<Vec<(UdpSocket, SharedNode)>, Failure> {
    let mut nodes = Vec::new();
    for (at, node) in floor.nodes.iter_mut().enumerate() {
        let socket = on_loopback()?;
        let Ok(SocketAddr::V4(address)) = socket.local_addr() else {
            return Err(Failure::machine("a simulated node got no IPv4 address"));
        };
        node.address = address;
        let of_node = |of: Option<u32>| of.is_some_and(|of| of as usize == at);
        let outputs = tables
            .outputs
            .iter()
            .filter(|universe| of_node(universe.node));
        let character = Character {
            short_name: node.name.clone(),
            long_name: format!("Simulated node {}", node.name),
            address,
            outputs: outputs.map(|universe| universe.port_address).collect(),
            syncs: true,
            orders: true,
        };
        nodes.push((socket, SimNode::new(character)));
    }
    let nodes = nodes.into_iter().enumerate().map(|(at, (socket, node))| {
        let node = node.with_switches(SimSwitches::new(floor, at));
        (socket, Arc::new(Mutex::new(node)))
    });
    Ok(nodes.collect())
}

/// Tells the nodes what people do: only the one that has a switch takes notice of it.
fn press(nodes: &[SharedNode], presses: &[Press]) {
    for node in nodes {
        let mut node = node.lock().unwrap_or_else(PoisonError::into_inner);
        for press in presses {
            node.press(press.panel, press.switch, press.down);
        }
    }
}

fn on_loopback() -> Result<UdpSocket, Failure> {
    let address = SocketAddrV4::new(Ipv4Addr::LOCALHOST, 0);
    let socket = socket::artnet(address.into()).map_err(Failure::machine)?;
    UdpSocket::from_std(socket).map_err(Failure::machine)
}

#[cfg(test)]
mod tests {
    #[test]
    fn the_demo_has_the_sizes_that_it_is_for() {
        let floor = crate::floor::parse("config/demo.toml", super::FLOOR).unwrap();
        let tables = crate::floor::tables::Tables::compile(&floor);
        assert!(
            (45..=60).contains(&floor.panels.len()),
            "{} panels",
            floor.panels.len()
        );
        assert!(
            tables.pixels_mm.len() >= 2_000,
            "{} pixels",
            tables.pixels_mm.len()
        );
        assert_eq!((floor.nodes.len(), floor.supplies.len()), (2, 2));
        let places = usize::from(floor.grid.columns) * usize::from(floor.grid.rows);
        assert!(floor.panels.len() < places, "the grid has a hole");
    }
}
