//! What goes to the log, and in which form.

use std::io::{self, Write};
use std::time::{Duration, UNIX_EPOCH};

use clap::ValueEnum;
use serde_json::json;
use tracing_subscriber::EnvFilter;

use super::failure::Failure;
use crate::net::clock;

/// The form of the log.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, ValueEnum)]
pub(super) enum LogFormat {
    /// For people.
    #[default]
    Text,
    /// For programs: one object a line.
    Json,
}

impl LogFormat {
    /// Begins the log on the standard error of this process.
    pub(super) fn begin(self, color: bool) {
        // RUST_LOG chooses what is logged; warnings and worse by default.
        let filter = EnvFilter::try_from_default_env().unwrap_or_else(|_| EnvFilter::new("warn"));
        let log = tracing_subscriber::fmt()
            // Without a terminal nothing can be logged; that must not end the frames.
            .log_internal_errors(false)
            .with_env_filter(filter)
            .with_writer(io::stderr);
        match self {
            Self::Text => log.with_ansi(color).init(),
            Self::Json => {
                log.json().init();
                std::panic::set_hook(Box::new(|panic| {
                    let told = line(&panic.to_string(), "panic", 101);
                    // Where even that can't be said, the end must still come.
                    let _ = writeln!(io::stderr(), "{told}");
                }));
            }
        }
    }

    /// Says why a command ends. That is no matter of `RUST_LOG`.
    pub(super) fn tell(self, failure: &Failure) {
        let message = failure.message.trim_end();
        // Where nobody reads it, the exit status still says it.
        let _: io::Result<()> = match self {
            Self::Text => writeln!(io::stderr(), "{message}"),
            Self::Json => writeln!(io::stderr(), "{}", line(message, "end", failure.status)),
        };
    }
}

/// A line as the log's own are, for what goes past it.
fn line(message: &str, what: &str, status: u8) -> serde_json::Value {
    let now = UNIX_EPOCH + Duration::from_secs(clock::unix_s());
    json!({
        "timestamp": humantime::format_rfc3339_micros(now).to_string(),
        "level": "ERROR",
        "fields": { "message": message, "event": what, "status": status },
        "target": "litfloor",
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_goes_past_the_log_is_one_line_as_its_own_are() {
        let told = line("two\nlines \"quoted\"", "end", 3).to_string();
        assert_eq!(told.lines().count(), 1);
        let told: serde_json::Value = serde_json::from_str(&told).unwrap();
        assert_eq!(told["fields"]["message"], "two\nlines \"quoted\"");
        assert_eq!(
            (&told["level"], &told["fields"]["status"]),
            (&json!("ERROR"), &json!(3))
        );
        // RFC 3339 in UTC, as the library writes it.
        assert!(told["timestamp"].as_str().unwrap().ends_with('Z'));
    }
}
