//! litfloor held against a bare forwarder that receives, sends on and does nothing else, over the
//! loopback of this machine, in turn: `make bench`, or
//! `cargo run --release --example wire_bench -- run`.
//!
//! `load` puts one forwarder under one load, for a profiler to look at.

#[cfg(target_os = "linux")]
#[path = "line.rs"]
mod line;

#[cfg(target_os = "linux")]
fn main() -> std::io::Result<()> {
    line::follow()
}

#[cfg(not(target_os = "linux"))]
fn main() {
    println!("This bench asks the kernel what only Linux tells.");
}
