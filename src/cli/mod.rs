//! What a person types: one file for each command.
//!
//! Exit status: 0 fine, 1 the input is at fault, 2 wrong usage, 3 the machine is at fault.

mod address;
mod alarms;
mod book;
pub mod book_file;
mod changes;
pub mod check;
mod columns;
mod control;
pub mod demo;
pub mod doctor;
mod doors;
mod failure;
mod health;
mod keeping;
mod log;
pub mod manuals;
mod meter;
mod more;
mod networks;
mod paper;
pub mod patch;
pub mod plan;
mod records;
mod reload;
mod report;
pub mod run;
mod serve;
mod show;
mod simulation;
mod sockets;
mod standby;
pub mod status;
mod summary;
mod survey;
mod voltages;
mod watchdog;

use std::io::{self, IsTerminal};
use std::process::ExitCode;

use clap::{Parser, Subcommand, ValueEnum};

pub use failure::Failure;
use log::LogFormat;
#[cfg(fuzzing)]
pub use meter::reading_of;

/// How a report is printed.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// For people.
    #[default]
    Text,
    /// For programs.
    Json,
}

/// The daemon between a lighting console and a light-up floor: maps, meters, caps and forwards
/// Art-Net, and shows it in a browser.
#[derive(Debug, Parser)]
#[command(
    version,
    after_help = "Currents are computed from the floor file, not measured. Fuses and breakers \
                  protect; mains is work for licensed people under the code of the place."
)]
struct Line {
    /// The form of the log, which goes to the standard error: text, or JSON, one object a line
    #[arg(long, global = true, value_enum, default_value_t, env = "LITFLOOR_LOG")]
    log: LogFormat,
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Simulate a floor, a console and nodes on this machine, with the dashboard
    Demo(demo::Demo),
    /// Run a floor
    Run(run::Run),
    /// Name every fault of a floor file, or what it adds up to
    Check(check::Check),
    /// Print the patch: which slot lights which pixel, as a sheet or asked both ways
    Patch(patch::Patch),
    /// Print the plan: power, fuses, cables, voltages and data, before anything is bought
    Plan(plan::Plan),
    /// Look at this machine and its network before the night, and say what to do
    Doctor(doctor::Doctor),
    /// Ask a litfloor that runs whether all is well
    Status(status::Status),
    /// Check, export or recover the book of repairs
    Book(book_file::BookFile),
    /// Write the manual pages and shell completions
    Manuals(manuals::Manuals),
}

/// Runs the command line of this process.
pub fn main() -> ExitCode {
    let line = Line::parse();
    let color = io::stderr().is_terminal() && std::env::var_os("NO_COLOR").is_none();
    line.log.begin(color);
    let result = match &line.command {
        Command::Demo(options) => demo::run(options, color),
        Command::Run(options) => run::run(options, color),
        Command::Manuals(options) => manuals::run(options),
        Command::Check(options) => {
            return check::run(options, &mut io::stdout(), &mut io::stderr()).into();
        }
        Command::Patch(options) => {
            return patch::run(options, &mut io::stdout(), &mut io::stderr()).into();
        }
        Command::Plan(options) => {
            return plan::run(options, &mut io::stdout(), &mut io::stderr()).into();
        }
        Command::Doctor(options) => {
            return doctor::run(options, &mut io::stdout(), &mut io::stderr()).into();
        }
        Command::Status(options) => {
            return status::run(options, &mut io::stdout(), &mut io::stderr()).into();
        }
        Command::Book(options) => {
            return book_file::run(options, &mut io::stdout(), &mut io::stderr()).into();
        }
    };
    match result {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            line.log.tell(&failure);
            failure.status.into()
        }
    }
}
