//! skeleton

pub mod cli;
pub mod engine;
pub mod floor;
pub mod net;
pub mod power;
pub mod units;
pub mod wire;
