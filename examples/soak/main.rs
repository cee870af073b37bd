//! Hours of an event in a go: `make soak MINUTES=30`.
//!
//! The real program runs the demo's floor between a console and nodes that are simulated here, over real
//! sockets, while faults are made at random: frames that are lost, overtaken or nonsense, floods, nodes
//! that restart, a console that falls silent, floor files that are read again, orders, browsers that come
//! and go or get stuck, and, in the first sixth, `kill -9`. What must hold is looked at all the time:
//!
//! - no limit of the floor file is passed by what the nodes show (by `sim::truth`, which shares no code
//!   with the frame path);
//! - every datagram that was sent ends in the one outcome that it was sent for: nothing is lost that was
//!   not lost on purpose;
//! - when all is quiet the nodes show what the console sends;
//! - what the book has acknowledged is in it at the end;
//! - once it is warm, neither memory nor descriptors grow.

#[cfg(target_os = "linux")]
#[expect(
    clippy::disallowed_methods,
    reason = "this is a console, nodes and browsers: they have sockets"
)]
#[path = "soak.rs"]
mod soak;

#[cfg(target_os = "linux")]
fn main() -> std::process::ExitCode {
    soak::main()
}

#[cfg(not(target_os = "linux"))]
fn main() {
    println!("This asks the kernel what only Linux tells.");
}
