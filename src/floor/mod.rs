//! What the floor is.
pub mod model;
pub mod tables;
