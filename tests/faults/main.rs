//! Faults that a night brings, on real processes and real sockets: each is made, and what was lost and how
//! long it took to be well again is measured and printed (`cargo test --test faults -- --nocapture`).
//!
//! What can't be made here (a mount or a network of its own needs root and a system that lets it) is printed
//! as `NOT RUN` with the reason. Other faults have tests of their own: a taken port `tests/commands.rs`, the
//! book alone under a hundred kills `tests/book_kills.rs`, orders to the floor `tests/turned_down.rs`.

#![cfg(target_os = "linux")]
#![allow(unreachable_pub, reason = "the parts of one test")]
#![allow(
    clippy::disallowed_methods,
    reason = "these tests are consoles, nodes, browsers and a sensor: they have sockets and a clock"
)]

#[path = "../daemon/mod.rs"]
mod daemon;

mod browsers;
mod clock;
mod consoles;
mod disk;
mod interface;
mod killed;
mod panicked;
mod player;
mod reboot;
mod told_to_end;

/// Something can't be made here: said, and passed over.
fn not_run(what: &str, why: &str) {
    println!("NOT RUN: {what}: {why}");
}

/// A line of the table of faults.
fn found(fault: &str, happened: &str, lost: &str, recovered: &str) {
    println!("FAULT | {fault} | {happened} | lost: {lost} | well again: {recovered}");
}
