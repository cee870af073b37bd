//! The `litfloor` command.

use std::process::ExitCode;

fn main() -> ExitCode {
    litfloor::cli::main()
}
