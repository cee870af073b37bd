//! `litfloor run FLOOR.toml`: the real thing.

use std::io;
use std::net::{SocketAddr, SocketAddrV4};
use std::path::PathBuf;

use clap::Args;
use tokio::sync::watch;

use super::failure::Failure;
use super::serve::{self, Sockets};
use super::summary::Summary;
use super::{address, check, control};
use crate::floor::{Faults, FloorFile, Tables};
use crate::net::interfaces;

/// Options of `run`.
#[derive(Debug, Args)]
pub struct Run {
    /// The floor file
    floor: PathBuf,
    /// Where to listen to Art-Net
    #[arg(long, value_name = "ADDRESS:PORT", default_value = "0.0.0.0:6454", value_parser = address::v4)]
    artnet: SocketAddrV4,
    /// Where to serve the dashboard
    #[arg(long, value_name = "ADDRESS:PORT", default_value = "0.0.0.0:8080", value_parser = address::any)]
    http: SocketAddr,
    /// Where the operator's passphrase is kept [default: `$STATE_DIRECTORY`, else
    /// `$XDG_STATE_HOME/litfloor`, else `~/.local/state/litfloor`]
    #[arg(long, value_name = "DIR")]
    state: Option<PathBuf>,
}

/// Runs a floor until it is told to stop.
///
/// # Errors
/// When the floor file has faults, the given passphrase is too short, or a port can't be had.
pub fn run(options: &Run, color: bool) -> Result<(), Failure> {
    let own = interfaces::list();
    let leads_back = |node| interfaces::loops_back(node, options.artnet, &own);
    let faulty = |faults: Faults| Failure::input(faults.render(color));
    let file = FloorFile::read(&options.floor).map_err(faulty)?;
    let floor = file.floor(&leads_back).map_err(faulty)?;
    let gate = control::gate(control::keep(options.state.as_deref()))?;
    let sockets = Sockets::open(options.artnet, options.http)?;
    println!("Floor: {}", floor.name);
    sockets.tell();
    println!("Control: {}", gate.told());
    let tables = Tables::compile(&floor);
    let summary = Summary::of(&floor, &tables);
    check::cautions(&summary.cautions, &mut io::stdout()).map_err(Failure::machine)?;
    println!("Ctrl-C ends it.");
    let watched = floor.nodes.is_empty();
    let (stop, _) = watch::channel(false);
    serve::runtime()?.block_on(serve::serve(
        file, floor, tables, false, gate, sockets, stop,
    ))?;
    if !watched {
        println!(
            "Ended. The nodes hold the last picture they got: to make the floor dark, switch off \
             its supplies or let the console send black before the end."
        );
    }
    Ok(())
}
