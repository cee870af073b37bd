//! skeleton

pub mod engine;
pub mod floor;
pub mod power;
pub mod units;
pub mod wire;
