//! `litfloor run FLOOR.toml`: the real thing.

use std::io::{self, Write};
use std::net::{SocketAddr, SocketAddrV4};
use std::path::PathBuf;

use clap::Args;
use tokio::sync::watch;

use super::doors::Doors;
use super::failure::Failure;
use super::reload::{Hangups, Reader};
use super::serve::{self, Plan};
use super::sockets::Sockets;
use super::{address, check, control, more, standby};
use crate::floor::Tables;
use crate::net::interfaces;

/// Options of `run`.
#[derive(Debug, Args)]
#[command(after_long_help = more::OF_RUN)]
pub struct Run {
    /// The floor file
    floor: PathBuf,
    /// Where to listen to Art-Net
    #[arg(long, value_name = "ADDRESS:PORT", default_value = "0.0.0.0:6454", value_parser = address::v4)]
    artnet: SocketAddrV4,
    /// Where to serve the dashboard
    #[arg(long, value_name = "ADDRESS:PORT", default_value = "0.0.0.0:8080", value_parser = address::any)]
    http: SocketAddr,
    /// Where history, book of repairs, calibration, the passphrase's hash and litfloor's own certificate are kept
    /// [default: `$STATE_DIRECTORY`, else `$XDG_STATE_HOME/litfloor`, else `~/.local/state/litfloor`]
    #[arg(long, value_name = "DIR")]
    state: Option<PathBuf>,
    #[command(flatten)]
    doors: Doors,
}

/// Runs a floor until it is told to stop.
///
/// # Errors
/// When the floor file has faults, the given passphrase is too short, or a port can't be had.
pub fn run(options: &Run, color: bool) -> Result<(), Failure> {
    let runtime = serve::runtime()?;
    let hangups = {
        let _within = runtime.enter();
        Hangups::new(true)
    };
    let own = interfaces::list();
    let reader = Reader {
        path: options.floor.clone(),
        artnet: options.artnet,
    };
    let read = reader.read();
    let (file, floor) = read.map_err(|faults| Failure::input(faults.render(color)))?;
    let keep = control::keep(options.state.as_deref());
    let history = control::history(&keep);
    let doors = options.doors.open(&keep)?;
    let gate = control::gate(keep)?;
    let pair = standby::setup(&floor, options.artnet, &own)?;
    let sockets = Sockets::open(options.artnet, options.http, doors)?;
    let tables = Tables::compile(&floor);
    let summary = check::summary(&floor, &tables, &own);
    let announced = |out: &mut dyn Write| {
        writeln!(out, "Floor: {}", floor.name)?;
        sockets.tell(out)?;
        writeln!(out, "Control: {}", gate.told())?;
        if let Some(pair) = &pair {
            writeln!(out, "Standby: {}", standby::told(pair))?;
        }
        check::cautions(&summary.cautions, out)?;
        writeln!(out, "SIGHUP reads the floor file again; Ctrl-C ends it.")
    };
    // Where nobody reads it any more, the floor is lit all the same.
    let _: io::Result<()> = announced(&mut io::stdout());
    let plan = Plan {
        file,
        floor,
        tables,
        reader: Some(reader),
        hangups,
        history,
        simulated: None,
        simulation: None,
        standby: pair,
    };
    let (stop, _) = watch::channel(false);
    let last = runtime.block_on(serve::serve(plan, gate, sockets, stop))?;
    if !last.floor.nodes.is_empty() {
        // The terminal may be gone.
        let _ = writeln!(
            io::stdout(),
            "{}",
            standby::end_told(last.standby.as_ref(), last.floor.signal.when_ended)
        );
    }
    Ok(())
}
