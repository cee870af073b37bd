//! `litfloor run FLOOR.toml`: the real thing.

use std::net::{SocketAddr, SocketAddrV4};
use std::path::PathBuf;

use clap::Args;
use tokio::sync::watch;

use super::failure::Failure;
use super::serve::{self, Sockets};
use crate::net::interfaces;

/// Options of `run`.
#[derive(Debug, Args)]
pub struct Run {
    /// The floor file
    floor: PathBuf,
    /// Where to listen to Art-Net
    #[arg(long, value_name = "ADDRESS:PORT", default_value = "0.0.0.0:6454")]
    artnet: SocketAddrV4,
    /// Where to serve the dashboard
    #[arg(long, value_name = "ADDRESS:PORT", default_value = "0.0.0.0:8080")]
    http: SocketAddr,
}

/// Runs a floor until it is told to stop.
///
/// # Errors
/// When the floor file has faults, or a port can't be had.
pub fn run(options: &Run, color: bool) -> Result<(), Failure> {
    let floor = crate::floor::read(&options.floor)
        .map_err(|faults| Failure::input(faults.render(color)))?;
    let sockets = Sockets::open(options.artnet, options.http)?;
    let own = interfaces::list();
    if let Some(node) = interfaces::loops_back(&floor.nodes, sockets.artnet_at, &own) {
        return Err(Failure::input(interfaces::loop_text(node)));
    }
    println!("Floor: {}", floor.name);
    println!("Art-Net in: {}", sockets.artnet_at);
    for address in sockets.dashboards() {
        println!("Dashboard: {address}");
    }
    if floor.nodes.is_empty() {
        println!("The floor file has no nodes: litfloor only watches and sends no light.");
    }
    let (stop, _) = watch::channel(false);
    serve::runtime()?.block_on(serve::serve(floor, sockets, stop))
}
