//! skeleton

pub mod engine;
pub mod floor;
pub mod units;
pub mod wire;
