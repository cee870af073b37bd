//! The clock and the sockets. (Timers of the web part are in `web/timers.rs`, those of the
//! demo in `sim/shell.rs`; nothing else has any.)
//!
//! The data plane ([`plane`]) has a thread of its own with a single-threaded runtime. It meets
//! the rest of the program only in two `watch` channels that it publishes into, so nothing that
//! looks can hold a frame back.

pub mod batch;
pub mod clock;
pub mod drops;
pub mod interfaces;
pub mod plane;
pub mod processor;
pub mod socket;
pub mod webhook;
