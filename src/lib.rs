//! skeleton

pub mod cli;
pub mod engine;
pub mod floor;
pub mod net;
pub mod power;
pub mod sim;
pub mod units;
pub mod web;
pub mod wire;
