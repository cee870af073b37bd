//! Forwarders as processes, and what the kernel says of them.

use std::fs;
use std::io::{self, BufRead, BufReader};
use std::net::SocketAddrV4;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

/// A forwarder that runs; it is killed when this is dropped.
pub(crate) struct Forwarder {
    child: Child,
    /// Where it listens to Art-Net.
    pub(crate) artnet: SocketAddrV4,
    /// Where it serves, if it does.
    pub(crate) http: Option<SocketAddrV4>,
}

impl Forwarder {
    /// Starts it and waits until it has said where it listens.
    pub(crate) fn start(mut command: Command) -> io::Result<Self> {
        let mut child = command
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .spawn()?;
        let lines = child.stdout.take();
        let mut forwarder = Self {
            child,
            artnet: SocketAddrV4::new([0, 0, 0, 0].into(), 0),
            http: None,
        };
        let lines = lines.ok_or_else(|| io::Error::other("no standard output"))?;
        let mut lines = BufReader::new(lines).lines();
        let (mut artnet, serves) = (None, command.get_args().any(|word| word == "--http"));
        while artnet.is_none() || (serves && forwarder.http.is_none()) {
            let line = lines
                .next()
                .ok_or_else(|| io::Error::other("the forwarder ended at once"))??;
            if let Some(at) = line.strip_prefix("Art-Net in: ") {
                artnet = Some(at.parse().map_err(io::Error::other)?);
            } else if let Some(at) = line.strip_prefix("Dashboard: http://") {
                forwarder.http = Some(at.parse().map_err(io::Error::other)?);
            }
        }
        forwarder.artnet = artnet.unwrap_or(forwarder.artnet);
        // What it still says must not fill the pipe.
        std::thread::spawn(move || lines.map_while(Result::ok).for_each(drop));
        Ok(forwarder)
    }

    pub(crate) fn id(&self) -> u32 {
        self.child.id()
    }

    /// Processor time so far, user's and system's (`/proc/PID/stat`, proc(5)).
    pub(crate) fn cpu(&self) -> io::Result<Duration> {
        let text = fs::read_to_string(format!("/proc/{}/stat", self.id()))?;
        // The name of the program may have blanks; it ends with the last parenthesis.
        let fields = text.rsplit(')').next().unwrap_or_default();
        let ticks = |at: usize| fields.split_whitespace().nth(at)?.parse::<u64>().ok();
        let ticks = ticks(11)
            .zip(ticks(12))
            .map(|(user, system)| user + system)
            .ok_or_else(|| io::Error::other("/proc/PID/stat is not as expected"))?;
        // A hundred ticks a second on every machine that Linux runs on (USER_HZ).
        Ok(Duration::from_millis(10 * ticks))
    }

    /// Resident memory in bytes (`VmRSS`).
    pub(crate) fn resident(&self) -> io::Result<u64> {
        let text = fs::read_to_string(format!("/proc/{}/status", self.id()))?;
        text.lines()
            .find_map(|line| line.strip_prefix("VmRSS:")?.split_whitespace().next())
            .and_then(|kilobytes| kilobytes.parse::<u64>().ok())
            .map(|kilobytes| 1_024 * kilobytes)
            .ok_or_else(|| io::Error::other("/proc/PID/status is not as expected"))
    }
}

impl Drop for Forwarder {
    fn drop(&mut self) {
        // It may have ended already.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
