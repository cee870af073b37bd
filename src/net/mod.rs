//! The clock and the sockets. (Timers of the web part are in `web/timers.rs`, those of the
//! demo in `sim/shell.rs`; nothing else has any.)
//!
//! The data plane ([`plane`]) has a thread of its own, which waits in one call for datagrams, orders and
//! time (`wait`). It meets the rest of the program only in channels, so nothing that looks can hold a
//! frame back.

pub mod ask;
pub mod batch;
pub mod clock;
pub mod drops;
pub mod holder;
pub mod interfaces;
pub mod plane;
pub mod processor;
pub mod socket;
mod wait;
pub mod webhook;
