//! How a command ends when it can't do its job.

use std::fmt;

/// Why a command ends, and with which exit status.
#[derive(Debug)]
pub struct Failure {
    /// 1 the input is at fault, 2 wrong usage, 3 the machine is at fault.
    pub status: u8,
    /// For people.
    pub message: String,
}

impl Failure {
    /// The input is at fault.
    pub fn input(message: impl fmt::Display) -> Self {
        Self {
            status: 1,
            message: message.to_string(),
        }
    }

    /// The command was used wrongly.
    pub fn usage(message: impl fmt::Display) -> Self {
        Self {
            status: 2,
            message: message.to_string(),
        }
    }

    /// The machine is at fault.
    pub fn machine(message: impl fmt::Display) -> Self {
        Self {
            status: 3,
            message: message.to_string(),
        }
    }
}
