//! The `litfloor` command.
fn main() {}
