//! The program as a process: started, asked, killed, and what the kernel says of it.

use std::fs;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{SocketAddrV4, TcpStream};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use serde_json::Value;

/// Longer than any answer takes.
const PATIENCE: Duration = Duration::from_secs(10);

pub(crate) struct Daemon {
    child: Child,
    pub(crate) artnet: SocketAddrV4,
    pub(crate) http: SocketAddrV4,
}

/// What the package's service has in its environment for the C library's memory: it runs here as there.
fn of_the_unit() -> impl Iterator<Item = (&'static str, &'static str)> {
    let unit = include_str!("../../packaging/litfloor.service");
    let lines = unit
        .lines()
        .filter_map(|line| line.strip_prefix("Environment="));
    let pairs = lines.flat_map(str::split_whitespace);
    pairs
        .filter_map(|pair| pair.split_once('='))
        .filter(|(name, _)| name.starts_with("MALLOC_"))
}

impl Daemon {
    /// Starts it and waits until it has said where it is.
    pub(crate) fn start(program: &Path, floor: &Path, state: &Path) -> Self {
        let any = "127.0.0.1:0";
        let log = fs::File::options()
            .create(true)
            .append(true)
            .open(log_of(state))
            .expect("a log");
        let mut child = Command::new(program)
            .arg("run")
            .arg(floor)
            .args(["--artnet", any, "--http", any, "--state"])
            .arg(state)
            .env_remove("LITFLOOR_PASSPHRASE")
            .envs(of_the_unit())
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(log)
            .spawn()
            .expect("litfloor starts");
        let mut lines = BufReader::new(child.stdout.take().expect("piped")).lines();
        let mut said = |beginning: &str| loop {
            let line = lines.next().expect("it has ended").expect("text");
            if let Some(rest) = line.strip_prefix(beginning) {
                return rest.parse().expect("an address");
            }
        };
        let (artnet, http) = (said("Art-Net in: "), said("Dashboard: http://"));
        // What it still says must not fill the pipe.
        std::thread::spawn(move || lines.map_while(Result::ok).for_each(drop));
        Self {
            child,
            artnet,
            http,
        }
    }

    pub(crate) fn kill(&mut self) {
        // It may have ended already, which shows.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }

    pub(crate) fn signal(&self, name: &str) {
        let pid = self.child.id().to_string();
        let sent = Command::new("kill").args(["-s", name, &pid]).status();
        assert!(sent.is_ok_and(|status| status.success()), "it has ended");
    }

    /// Status and body of an answer.
    pub(crate) fn ask(&self, method: &str, path: &str, body: &str) -> Option<(u16, String)> {
        let mut stream = TcpStream::connect(self.http).ok()?;
        stream.set_read_timeout(Some(PATIENCE)).ok()?;
        let at = self.http;
        let length = body.len();
        let request = format!(
            "{method} {path} HTTP/1.1\r\nHost: {at}\r\nConnection: close\r\n\
             Content-Type: application/json\r\nContent-Length: {length}\r\n\r\n{body}"
        );
        stream.write_all(request.as_bytes()).ok()?;
        let mut answer = Vec::new();
        stream.read_to_end(&mut answer).ok()?;
        let answer = String::from_utf8_lossy(&answer);
        let (head, body) = answer.split_once("\r\n\r\n")?;
        let status = head.split(' ').nth(1)?.parse().ok()?;
        Some((status, body.to_owned()))
    }

    pub(crate) fn state(&self) -> Value {
        let (_, body) = self.ask("GET", "/api/v1/state", "").expect("it answers");
        serde_json::from_str(&body).expect("JSON")
    }

    /// Resident memory in bytes, without what is only mapped from files (`RssAnon`, proc(5)).
    pub(crate) fn memory(&self) -> u64 {
        let text =
            fs::read_to_string(format!("/proc/{}/status", self.child.id())).expect("it runs");
        let line = text
            .lines()
            .find_map(|line| line.strip_prefix("RssAnon:"))
            .expect("proc(5)");
        let kilobytes = line
            .split_whitespace()
            .next()
            .and_then(|text| text.parse::<u64>().ok());
        1_024 * kilobytes.expect("proc(5)")
    }

    /// Open descriptors.
    pub(crate) fn descriptors(&self) -> Vec<String> {
        let all = fs::read_dir(format!("/proc/{}/fd", self.child.id())).expect("it runs");
        // One may be closed while they are read.
        let named = all.filter_map(|one| fs::read_link(one.ok()?.path()).ok());
        named
            .map(|what| what.to_string_lossy().into_owned())
            .collect()
    }
}

/// Where it logs.
pub(crate) fn log_of(state: &Path) -> PathBuf {
    state.with_extension("log")
}

impl Drop for Daemon {
    fn drop(&mut self) {
        self.kill();
    }
}
