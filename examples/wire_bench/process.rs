//! Forwarders as processes, and what the kernel says of them.

use std::fs;
use std::io::{self, BufRead, BufReader};
use std::net::SocketAddrV4;
use std::process::{Child, Command, Stdio};
use std::sync::OnceLock;
use std::time::Duration;

use nix::sched::{CpuSet, sched_getaffinity, sched_setaffinity};
use nix::time::{clock_getcpuclockid, clock_gettime};
use nix::unistd::Pid;

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
        command.stdin(Stdio::null()).stdout(Stdio::piped());
        let mut child = spawn_loose(&mut command)?;
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

    /// Keeps the thread that forwards to some processors: litfloor's is called `frames`, the bare
    /// forwarder has but one.
    pub(crate) fn keep_to(&self, processors: &[usize]) -> io::Result<()> {
        let mut thread = self.id();
        for entry in fs::read_dir(format!("/proc/{}/task", self.id()))? {
            let entry = entry?;
            let name = fs::read_to_string(entry.path().join("comm")).unwrap_or_default();
            let number = entry
                .file_name()
                .to_str()
                .and_then(|text| text.parse().ok());
            if name.trim() == "frames" {
                thread = number.unwrap_or(thread);
            }
        }
        keep_to(thread, processors)
    }

    pub(crate) fn id(&self) -> u32 {
        self.child.id()
    }

    /// Processor time so far, user's and system's, of all its threads: to the nanosecond, where
    /// `/proc/PID/stat` counts hundredths of a second (`clock_getcpuclockid(3)`).
    pub(crate) fn cpu(&self) -> io::Result<Duration> {
        let id = i32::try_from(self.id()).map_err(io::Error::other)?;
        let clock = clock_getcpuclockid(Pid::from_raw(id))?;
        Ok(clock_gettime(clock)?.into())
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

/// The processors that this program was given when it started, before any thread was kept to one.
pub(crate) fn processors() -> &'static [usize] {
    static ALL: OnceLock<Vec<usize>> = OnceLock::new();
    ALL.get_or_init(|| {
        let given = sched_getaffinity(Pid::from_raw(0)).unwrap_or_default();
        (0..CpuSet::count())
            .filter(|&processor| given.is_set(processor).unwrap_or(false))
            .collect()
    })
}

/// Starts a process that may run anywhere, wherever the thread that starts it keeps to.
pub(crate) fn spawn_loose(command: &mut Command) -> io::Result<Child> {
    let anywhere = || {
        keep_to(0, processors())?;
        command.spawn()
    };
    std::thread::scope(|scope| {
        let spawned = scope.spawn(anywhere).join();
        spawned.map_err(|_| io::Error::other("it panicked"))?
    })
}

/// Keeps a thread to some processors; 0 is the one that asks.
pub(crate) fn keep_to(thread: u32, processors: &[usize]) -> io::Result<()> {
    let mut set = CpuSet::new();
    for &processor in processors {
        set.set(processor)?;
    }
    let thread = i32::try_from(thread).map_err(io::Error::other)?;
    Ok(sched_setaffinity(Pid::from_raw(thread), &set)?)
}

impl Drop for Forwarder {
    fn drop(&mut self) {
        // It may have ended already.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
