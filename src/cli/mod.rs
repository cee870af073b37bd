//! What a person types: one file for each command.

pub mod check;
mod summary;

use clap::ValueEnum;

/// How a report is printed.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// For people.
    #[default]
    Text,
    /// For programs.
    Json,
}
