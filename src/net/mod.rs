//! Sockets and clocks: the only part that has them.
//!
//! The data plane ([`plane`]) has a thread of its own with a single-threaded runtime. It meets
//! the rest of the program only in two `watch` channels that it publishes into, so nothing that
//! looks can hold a frame back.

pub mod clock;
pub mod interfaces;
pub mod plane;
pub mod socket;
