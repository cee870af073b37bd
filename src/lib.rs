//! litfloor is the daemon between whatever makes the picture and the controllers that drive the
//! panels of a light-up floor.
//!
//! # The one way a frame takes
//!
//! ```text
//! datagram ─► wire ─► engine: universes ─► pixels ─► draw ─► cap ─► out ─► wire ─► datagram
//!                                │            │        │       │
//!                                └────────────┴────────┴───────┴──► snapshot ─► web, store
//! ```
//!
//! [`wire`] reads a datagram in place. [`engine`] keeps the newest slots of every universe
//! (sequence, sources, merge, sync) through the tables that [`floor`] compiled from the floor
//! file. [`pattern`] may be laid over what they ask. [`power`] turns it into amperes and makes the capped
//! frame; nothing else can be sent.
//! [`net`] has the sockets and the clock, [`web`] shows snapshots, [`store`] keeps the history, [`sim`] plays console, nodes
//! and a bad network, [`cli`] puts the parts together.
//!
//! Everything below [`net`] is pure: time and datagrams are arguments, and what should leave is
//! told, not sent.

pub mod book;
pub mod cells;
pub mod cli;
pub mod engine;
pub mod floor;
pub mod health;
pub mod net;
pub mod pattern;
pub mod power;
pub mod sim;
pub mod stepping;
pub mod store;
pub mod units;
pub mod web;
pub mod wire;
