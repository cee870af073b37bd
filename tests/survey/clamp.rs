//! The real program, a node that keeps what it gets, and a clamp that measures what that draws and reports
//! it over HTTP.

#![expect(clippy::disallowed_methods, reason = "a clamp reports by the clock")]

use std::collections::HashMap;
use std::time::{Duration, Instant};

use artnet_protocol::ArtCommand;
use serde_json::json;

use super::daemon::{self, Daemon, Node, UNIVERSES};

const TOKEN: &str = "a token of the test";
const EVERY: Duration = Duration::from_millis(100);

/// The floor of six panels with a clamp at its supply.
pub fn start(node: &Node) -> (tempfile::TempDir, Daemon) {
    let text = format!(
        "{}\n[[sensor]]\nname = \"clamp\"\nsupply = \"s\"\nevery_s = 0.1\n",
        daemon::six_panels(&[node.address])
    );
    let (directory, path) = daemon::file(&text);
    let ports = ["--artnet", "127.0.0.1:0", "--http", "127.0.0.1:0"];
    let mut command = daemon::litfloor(&["run", &path, ports[0], ports[1], ports[2], ports[3]]);
    command.env("LITFLOOR_READINGS_TOKEN", TOKEN);
    (directory, Daemon::of(command))
}

/// What lies at the supply: frames that the node got, and what the clamp says of them.
pub struct Supply<'a> {
    node: &'a Node,
    daemon: &'a Daemon,
    frames: HashMap<u16, Vec<u8>>,
    readings: u32,
    /// Which of the six panels is dead.
    pub dead: Option<usize>,
}

impl<'a> Supply<'a> {
    /// All panels are good.
    pub fn new(node: &'a Node, daemon: &'a Daemon) -> Self {
        Self {
            node,
            daemon,
            frames: HashMap::new(),
            readings: 0,
            dead: None,
        }
    }

    /// Takes what arrives until the next reading is due, and reports that.
    pub fn report(&mut self) {
        let due = Instant::now() + EVERY;
        while let Some(bytes) = self
            .node
            .next(due.saturating_duration_since(Instant::now()))
        {
            if let Ok(ArtCommand::Output(output)) = ArtCommand::from_buffer(&bytes) {
                let universe = output.port_address.into();
                self.frames.insert(universe, output.data.as_ref().clone());
            }
        }
        let panel_a = |(at, universe): (usize, &u16)| {
            let frame = self.frames.get(universe).filter(|_| Some(at) != self.dead);
            let lit = frame.map_or(&[][..], |frame| &frame[..daemon::SLOTS.min(frame.len())]);
            daemon::panel_a(lit)
        };
        let true_a: f64 = UNIVERSES.iter().enumerate().map(panel_a).sum();
        self.readings += 1;
        let wavers = f64::from(self.readings % 5) * 0.001;
        let body = json!({"readings": [{"sensor": "clamp", "value": true_a + wavers}]}).to_string();
        let answer = self.daemon.exchange(&format!(
            "POST /api/v1/readings HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n\
             Authorization: Bearer {TOKEN}\r\nContent-Type: application/json\r\n\
             Content-Length: {}\r\n\r\n{body}",
            self.daemon.http,
            body.len()
        ));
        assert!(answer.starts_with("HTTP/1.1 202 "), "{answer}");
    }
}
