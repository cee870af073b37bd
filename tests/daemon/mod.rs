//! The real program as a process, a console and nodes around it: all on the loopback.

#![allow(dead_code, reason = "each test uses its own part")]
#![allow(unreachable_pub, reason = "each test is a crate of its own")]
#![allow(
    clippy::disallowed_methods,
    reason = "these tests are a console, nodes and a browser: they have sockets and a clock"
)]

use std::fmt::Write as _;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{Ipv4Addr, SocketAddr, SocketAddrV4, TcpStream, UdpSocket};
use std::path::Path;
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::mpsc::{self, Receiver, RecvTimeoutError};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use artnet_protocol::{ArtCommand, PollReply};
use serde_json::Value;

/// Longer than anything here takes on a machine that is busy with other things.
pub const PATIENCE: Duration = Duration::from_secs(30);

/// How often something is looked at that tells nobody when it changes.
const LOOK_EVERY: Duration = Duration::from_millis(20);

/// A loopback address whose port the system chooses.
pub const ANY_PORT: SocketAddrV4 = SocketAddrV4::new(Ipv4Addr::LOCALHOST, 0);

/// An address that nobody listens to at the moment.
pub fn free_udp_port() -> SocketAddrV4 {
    let socket = UdpSocket::bind(ANY_PORT).unwrap();
    SocketAddrV4::new(Ipv4Addr::LOCALHOST, socket.local_addr().unwrap().port())
}

/// How many programs were started by this process.
static STARTED: AtomicU64 = AtomicU64::new(0);

/// A command line of the program.
pub fn litfloor(arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_litfloor"));
    command.args(arguments).env_remove("RUST_LOG");
    // What whoever runs the tests has set, or has kept, is none of their business.
    for name in [
        "LITFLOOR_LOG",
        "LITFLOOR_PASSPHRASE",
        "LITFLOOR_READINGS_TOKEN",
        "LITFLOOR_MQTT_USER",
        "LITFLOOR_MQTT_PASSWORD",
        "LITFLOOR_STANDBY_KEY",
        "STATE_DIRECTORY",
    ] {
        command.env_remove(name);
    }
    // Each keeps what it keeps for itself: two that write into one directory complain of each other.
    let own = STARTED.fetch_add(1, Ordering::Relaxed);
    let state = format!(
        "{}/states/{}-{own}",
        env!("CARGO_TARGET_TMPDIR"),
        std::process::id()
    );
    command.env("XDG_STATE_HOME", state);
    command.current_dir(env!("CARGO_MANIFEST_DIR"));
    command
}

/// What the program ends with: its exit status, what it printed and what it complained of.
pub fn ended(arguments: &[&str]) -> (i32, String, String) {
    let std::process::Output {
        status,
        stdout,
        stderr,
    } = litfloor(arguments).output().unwrap();
    let text = |bytes| String::from_utf8(bytes).unwrap();
    (status.code().unwrap(), text(stdout), text(stderr))
}

/// The running program; it is killed when a test leaves it running.
pub struct Daemon {
    child: Child,
    lines: Receiver<String>,
    seen: Vec<String>,
    /// Where it serves.
    pub http: SocketAddrV4,
    /// Where it listens to Art-Net.
    pub artnet: SocketAddrV4,
}

impl Daemon {
    /// Starts it and waits until it has said where it is. `arguments` must take both ports.
    pub fn start(arguments: &[&str]) -> Self {
        Self::of(litfloor(arguments))
    }

    /// Starts it from a command line that was made for it.
    pub fn of(mut command: Command) -> Self {
        let mut child = command
            .stdout(Stdio::piped())
            .stderr(Stdio::inherit())
            .spawn()
            .unwrap();
        let out = BufReader::new(child.stdout.take().unwrap());
        let (line, lines) = mpsc::channel();
        std::thread::spawn(move || {
            out.lines()
                .map_while(Result::ok)
                .try_for_each(|text| line.send(text))
        });
        let mut daemon = Self {
            child,
            lines,
            seen: Vec::new(),
            http: ANY_PORT,
            artnet: ANY_PORT,
        };
        daemon.artnet = daemon.said("Art-Net in: ").parse().unwrap();
        let at = daemon.said("Dashboard: ");
        daemon.http = at.split_once("://").unwrap().1.parse().unwrap();
        daemon
    }

    /// What follows `beginning` in the line that has it.
    pub fn said(&mut self, beginning: &str) -> String {
        let deadline = Instant::now() + PATIENCE;
        loop {
            let left = deadline.saturating_duration_since(Instant::now());
            let Ok(line) = self.lines.recv_timeout(left) else {
                panic!("no line {beginning:?}; it said {:#?}", self.seen);
            };
            if let Some(rest) = line.strip_prefix(beginning) {
                return rest.to_owned();
            }
            self.seen.push(line);
        }
    }

    /// Status and body of what is served at `path`.
    pub fn get(&self, path: &str) -> (u16, String) {
        let answer = self.exchange(&format!(
            "GET {path} HTTP/1.0\r\nHost: {}\r\n\r\n",
            self.http
        ));
        let (head, body) = answer.split_once("\r\n\r\n").unwrap();
        let status = head.split(' ').nth(1).unwrap().parse().unwrap();
        (status, body.to_owned())
    }

    /// Sends a request, byte by byte as it is, and reads until the daemon closes the connection.
    pub fn exchange(&self, request: &str) -> String {
        let mut stream = TcpStream::connect(self.http).unwrap();
        stream.set_read_timeout(Some(PATIENCE)).unwrap();
        stream.write_all(request.as_bytes()).unwrap();
        let mut answer = String::new();
        stream.read_to_string(&mut answer).unwrap();
        answer
    }

    /// Asks as a program on this machine does.
    pub fn ask(&self, method: &str, path: &str, body: &str) -> (u16, Value) {
        let answer = self.exchange(&format!(
            "{method} {path} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n\
             Content-Type: application/json\r\nContent-Length: {}\r\n\r\n{body}",
            self.http,
            body.len()
        ));
        let (head, body) = answer.split_once("\r\n\r\n").unwrap();
        let status = head.split(' ').nth(1).unwrap().parse().unwrap();
        (status, serde_json::from_str(body).unwrap())
    }

    /// What is served at `path`, as JSON.
    pub fn json(&self, path: &str) -> Value {
        let (status, body) = self.get(path);
        assert_eq!(status, 200, "{path}: {body}");
        serde_json::from_str(&body).unwrap()
    }

    /// Looks at the state again and again until `found` is content, for at most `patience`.
    pub fn until<T>(&self, patience: Duration, found: impl Fn(&Value) -> Option<T>) -> T {
        let deadline = Instant::now() + patience;
        loop {
            let state = self.json("/api/v1/state");
            if let Some(found) = found(&state) {
                return found;
            }
            assert!(Instant::now() < deadline, "never came: {state:#}");
            // Ends early when the daemon does, for then its output ends.
            let ended = self.lines.recv_timeout(LOOK_EVERY);
            assert_ne!(ended, Err(RecvTimeoutError::Disconnected), "it has ended");
        }
    }

    /// The number of its process.
    pub fn pid(&self) -> u32 {
        self.child.id()
    }

    /// Kills it, as the system does that has no memory left.
    pub fn kill(mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }

    /// Waits until the data plane has reported: that takes a moment from the start.
    pub fn until_well(&self) {
        self.until(PATIENCE, |_| (self.get("/healthz").0 == 200).then_some(()));
    }

    /// Sends a signal by its name.
    pub fn signal(&self, signal: &str) {
        let pid = self.child.id().to_string();
        let sent = Command::new("kill").args(["-s", signal, &pid]).status();
        assert!(sent.unwrap().success());
    }

    /// Sends a signal by its name and waits for the end.
    pub fn end_with(self, signal: &str) -> ExitStatus {
        self.end_told_with(signal).0
    }

    /// The same, with what it says until then.
    pub fn end_told_with(self, signal: &str) -> (ExitStatus, Vec<String>) {
        self.signal(signal);
        self.told_until_it_ends(signal)
    }

    /// Waits until it ends by itself, of what was done to it.
    pub fn ends(self) -> ExitStatus {
        self.told_until_it_ends("what was done to it").0
    }

    fn told_until_it_ends(mut self, why: &str) -> (ExitStatus, Vec<String>) {
        let deadline = Instant::now() + PATIENCE;
        let mut said = Vec::new();
        loop {
            let left = deadline.saturating_duration_since(Instant::now());
            match self.lines.recv_timeout(left) {
                Ok(line) => said.push(line),
                Err(RecvTimeoutError::Disconnected) => return (self.child.wait().unwrap(), said),
                Err(RecvTimeoutError::Timeout) => panic!("it does not end on {why}"),
            }
        }
    }
}

impl Drop for Daemon {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// A node: it answers polls by an independent library and keeps what it gets.
pub struct Node {
    /// Where it listens.
    pub address: SocketAddrV4,
    /// Everything that arrived, in order.
    pub arrived: Receiver<Vec<u8>>,
    stop: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Node {
    /// Opens its socket; it outputs the lowest four universes of Net 0, Sub-Net 0.
    pub fn open(name: &str) -> Self {
        Self::at(name, ANY_PORT)
    }

    /// The same at an address.
    pub fn at(name: &str, address: SocketAddrV4) -> Self {
        Self::through(name, UdpSocket::bind(address).unwrap())
    }

    /// The same through a socket that was opened for it.
    pub fn through(name: &str, socket: UdpSocket) -> Self {
        let SocketAddr::V4(address) = socket.local_addr().unwrap() else {
            panic!("not IPv4");
        };
        socket
            .set_read_timeout(Some(Duration::from_millis(50)))
            .unwrap();
        let mut reply = PollReply {
            address: Ipv4Addr::LOCALHOST,
            version: [3, 7],
            num_ports: [0, 4],
            port_types: [0x80; 4],
            good_output: [0x80; 4],
            swout: [0, 1, 2, 3],
            bind_index: 1,
            ..PollReply::default()
        };
        reply.short_name[..name.len()].copy_from_slice(name.as_bytes());
        let reply = ArtCommand::PollReply(Box::new(reply))
            .write_to_buffer()
            .unwrap();
        let stop = Arc::new(AtomicBool::new(false));
        let (datagram, arrived) = mpsc::channel();
        let stopped = Arc::clone(&stop);
        let thread = std::thread::spawn(move || {
            let mut buffer = [0; 2_048];
            while !stopped.load(Ordering::Relaxed) {
                let Ok((length, from)) = socket.recv_from(&mut buffer) else {
                    continue;
                };
                let bytes = &buffer[..length];
                if let Ok(ArtCommand::Poll(_)) = ArtCommand::from_buffer(bytes) {
                    // Its network may just have gone.
                    drop(socket.send_to(&reply, from));
                }
                if datagram.send(bytes.to_vec()).is_err() {
                    return;
                }
            }
        });
        Self {
            address,
            arrived,
            stop,
            thread: Some(thread),
        }
    }

    /// The next datagram, if one comes within `patience`.
    pub fn next(&self, patience: Duration) -> Option<Vec<u8>> {
        self.arrived.recv_timeout(patience).ok()
    }
}

impl Drop for Node {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

fn output(port_address: u16, slots: &[u8]) -> ArtCommand {
    ArtCommand::Output(artnet_protocol::Output {
        port_address: port_address.try_into().unwrap(),
        data: slots.to_vec().into(),
        ..artnet_protocol::Output::default()
    })
}

/// A console: a socket, and packets written by an independent library.
pub struct Console {
    socket: UdpSocket,
    to: SocketAddrV4,
}

impl Console {
    /// Opens its socket.
    pub fn open(to: SocketAddrV4) -> Self {
        let socket = UdpSocket::bind(ANY_PORT).unwrap();
        Self::through(socket, to)
    }

    /// The same through a socket that was opened for it.
    pub fn through(socket: UdpSocket, to: SocketAddrV4) -> Self {
        socket.set_read_timeout(Some(PATIENCE)).unwrap();
        Self { socket, to }
    }

    /// Sends one universe.
    pub fn dmx(&self, port_address: u16, slots: &[u8]) {
        self.send(output(port_address, slots));
    }

    /// Sends one universe, whether or not somebody is there.
    pub fn try_dmx(&self, port_address: u16, slots: &[u8]) {
        let bytes = output(port_address, slots).write_to_buffer().unwrap();
        drop(self.socket.send_to(&bytes, self.to));
    }

    /// Sends a packet.
    pub fn send(&self, packet: ArtCommand) {
        self.raw(&packet.write_to_buffer().unwrap());
    }

    /// Sends any bytes.
    pub fn raw(&self, bytes: &[u8]) {
        self.socket.send_to(bytes, self.to).unwrap();
    }

    /// The next datagram.
    pub fn receive(&self) -> Vec<u8> {
        let mut buffer = [0; 2_048];
        let (length, _) = self.socket.recv_from(&mut buffer).unwrap();
        buffer[..length].to_vec()
    }
}

/// A floor of six panels, each of 20 pixels in a universe of its own, all on one supply that
/// may give 4 A. A panel draws 0.02 A dark and 1.22 A at full white.
///
/// `nodes` get the panels in turns. The universes are [`UNIVERSES`].
pub fn six_panels(nodes: &[SocketAddrV4]) -> String {
    let mut text = String::from(
        "name = \"Six\"\n[grid]\ncolumns = 3\nrows = 2\npanel_mm = [500, 500]\npanel = \"tile\"\n\
         [cap]\nmargin = 0.8\nlet_up_s = 0.2\n\
         [pixel.p]\nslots = \"RGB\"\nvolts = 12\n\
         full_ma = { red = 20, green = 20, blue = 20 }\nidle_ma = 1\n\
         [panel.tile]\npixel = \"p\"\ncolumns = 5\nrows = 4\n\
         [[circuit]]\nname = \"c\"\nvolts = 230\nrated_a = 16\n\
         [[supply]]\nname = \"s\"\ncircuit = \"c\"\nvolts = 12\nrated_a = 5\nefficiency = 0.9\n\
         power_factor = 0.9\n\
         [[feed]]\nname = \"f\"\nsupply = \"s\"\nfuse_a = 15\npositions = [\"A1..C2\"]\n",
    );
    for (at, node) in nodes.iter().enumerate() {
        let _ = writeln!(
            text,
            "[[node]]\nname = \"n{at}\"\naddress = \"{}\"\nport = {}",
            node.ip(),
            node.port()
        );
    }
    let panels = ["A1", "B1", "C1", "A2", "B2", "C2"];
    for (at, (panel, universe)) in panels.iter().zip(UNIVERSES).enumerate() {
        let _ = writeln!(
            text,
            "[[run]]\nnode = \"n{}\"\nport = {}\nstart = \"{}:{}:{}\"\npanels = [\"{panel}\"]",
            at % nodes.len(),
            at / nodes.len() + 1,
            universe >> 8,
            universe >> 4 & 0xF,
            universe & 0xF,
        );
    }
    text
}

/// Port-Addresses of [`six_panels`]: five in one Sub-Net, so that two poll replies are needed
/// for it, and one far away.
pub const UNIVERSES: [u16; 6] = [0x0001, 0x0002, 0x0003, 0x0004, 0x0005, 0x0123];

/// Slots of one panel.
pub const SLOTS: usize = 60;

/// Computed draw of one panel of [`six_panels`]: the linear rule, each slot 20 mA at 255.
pub fn panel_a(slots: &[u8]) -> f64 {
    0.02 + 0.02 * slots.iter().map(|&level| f64::from(level)).sum::<f64>() / 255.0
}

/// What the supply of [`six_panels`] may give: 5 A × 0.8.
pub const LIMIT_A: f64 = 4.0;

/// Writes a floor file into a directory of its own, which lasts as long as the first value.
pub fn file(text: &str) -> (tempfile::TempDir, String) {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("floor.toml");
    std::fs::write(&path, text).unwrap();
    let path = path.to_str().unwrap().to_owned();
    (directory, path)
}

/// Starts `run` on a floor text, on ports of the system's choice.
pub fn run(path: &str) -> Daemon {
    Daemon::of(to_run(path))
}

/// The same, keeping what it has to keep there.
pub fn run_keeping(path: &str, state: &Path) -> Daemon {
    let mut command = to_run(path);
    command.arg("--state").arg(state);
    Daemon::of(command)
}

/// The command that does, to which something may be added.
pub fn to_run(path: &str) -> Command {
    litfloor(&[
        "run",
        path,
        "--artnet",
        "127.0.0.1:0",
        "--http",
        "127.0.0.1:0",
    ])
}
