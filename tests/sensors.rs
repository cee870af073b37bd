//! Readings reach the real program: over HTTP, and over MQTT through Debian's mosquitto, which may
//! go away and come back.

mod daemon;

use std::io::{BufRead, BufReader, Read, Write};
use std::net::{Ipv4Addr, SocketAddrV4, TcpListener, TcpStream};
use std::path::Path;
use std::process::{Child, Command, Stdio};

use daemon::{Daemon, Node, PATIENCE};
use serde_json::{Value, json};

const TOPIC: &str = "floor/power/main";
const TOKEN: &str = "a token of the test";

/// The broker; it is killed at the end.
struct Broker(Child);

impl Broker {
    /// Starts it on a port and waits until it says that it runs.
    fn start(directory: &Path, port: u16) -> Self {
        let config = directory.join("broker.conf");
        let text = format!("listener {port} 127.0.0.1\nallow_anonymous true\npersistence false\n");
        std::fs::write(&config, text).unwrap();
        let mut path = std::env::var_os("PATH").unwrap_or_default();
        path.push(":/usr/sbin");
        let mut child = Command::new("mosquitto")
            .arg("-c")
            .arg(&config)
            .env("PATH", path)
            .stderr(Stdio::piped())
            .spawn()
            .expect("mosquitto is installed");
        let mut lines = BufReader::new(child.stderr.take().unwrap()).lines();
        let runs = lines.any(|line| line.unwrap().contains("running"));
        assert!(runs, "the broker did not start");
        // Somebody has to read what it says, or it would wait for that at some time.
        std::thread::spawn(move || lines.for_each(drop));
        Self(child)
    }
}

impl Drop for Broker {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// A sensor that publishes, byte by byte as MQTT 3.1.1 has it (sections 3.1 and 3.3): nothing of the
/// library that litfloor uses.
struct Publisher(TcpStream);

impl Publisher {
    #[expect(clippy::disallowed_methods, reason = "a sensor")]
    fn connect(port: u16) -> Self {
        let mut stream = TcpStream::connect((Ipv4Addr::LOCALHOST, port)).unwrap();
        stream.set_read_timeout(Some(PATIENCE)).unwrap();
        // Protocol name and level, clean session, keep alive of 0, and the name of the client.
        let mut body = b"\0\x04MQTT\x04\x02\0\0".to_vec();
        body.extend(text("sensor"));
        stream.write_all(&packet(0x10, &body)).unwrap();
        let mut answer = [0; 4];
        stream.read_exact(&mut answer).unwrap();
        assert_eq!(answer, [0x20, 2, 0, 0], "it is let in");
        Self(stream)
    }

    fn publish(&self, payload: &str, retain: bool) {
        let mut body = text(TOPIC);
        body.extend(payload.as_bytes());
        let kind = if retain { 0x31 } else { 0x30 };
        (&self.0).write_all(&packet(kind, &body)).unwrap();
    }
}

fn text(text: &str) -> Vec<u8> {
    let length = u16::try_from(text.len()).unwrap().to_be_bytes();
    [&length, text.as_bytes()].concat()
}

fn packet(kind: u8, body: &[u8]) -> Vec<u8> {
    let length = u8::try_from(body.len()).unwrap();
    assert!(length < 128, "one byte of length");
    [&[kind, length], body].concat()
}

#[expect(clippy::disallowed_methods, reason = "to find a port that is free")]
fn free_port() -> u16 {
    let listener = TcpListener::bind(SocketAddrV4::new(Ipv4Addr::LOCALHOST, 0)).unwrap();
    listener.local_addr().unwrap().port()
}

/// A daemon whose floor has two sensors at its supply, one of them at the broker.
fn start(node: &Node, broker: u16) -> (tempfile::TempDir, Daemon) {
    let floor = daemon::six_panels(&[node.address]);
    let supply = floor.split("[[supply]]\nname = \"").nth(1).unwrap();
    let supply = supply.split('"').next().unwrap();
    let text = format!(
        "{floor}\n[[sensor]]\nname = \"by radio\"\nsupply = \"{supply}\"\ntopic = \"{TOPIC}\"\n\
         field = \"milliamps\"\nfactor = 0.001\n\
         [[sensor]]\nname = \"by wire\"\nsupply = \"{supply}\"\n\
         [mqtt]\nbroker = \"127.0.0.1:{broker}\"\n\
         alarms = \"floor/warnings\"\n"
    );
    let (directory, path) = daemon::file(&text);
    let mut command = daemon::to_run(&path);
    command.env("LITFLOOR_READINGS_TOKEN", TOKEN);
    (directory, Daemon::of(command))
}

fn measured(state: &Value, sensor: usize) -> Option<f64> {
    state["sensors"][sensor]["measured"].as_f64()
}

#[test]
fn readings_come_over_mqtt_and_again_when_the_broker_is_back() {
    let directory = tempfile::tempdir().unwrap();
    let port = free_port();
    let node = Node::open("six");
    let broker = Broker::start(directory.path(), port);
    let (_file, daemon) = start(&node, port);
    let until = |amperes: f64, milliamps: u32| {
        let publisher = Publisher::connect(port);
        daemon.until(PATIENCE, |state| {
            // litfloor may have subscribed only now: it is said again.
            publisher.publish(&format!("{{\"milliamps\": {milliamps}}}"), false);
            (measured(state, 0) == Some(amperes)).then_some(())
        });
    };
    until(0.25, 250);
    drop(broker);
    let _again = Broker::start(directory.path(), port);
    until(0.5, 500);
}

/// An alarm of a sensor that never reported reaches whoever subscribes to the topic of warnings.
#[test]
fn alarms_are_published() {
    let directory = tempfile::tempdir().unwrap();
    let port = free_port();
    let node = Node::open("six");
    let _broker = Broker::start(directory.path(), port);
    let listener = Publisher::connect(port);
    // SUBSCRIBE with an identifier (section 3.8), and what says that it was taken (3.9).
    let subscribe = [&[0, 1][..], &text("floor/warnings"), &[0]].concat();
    (&listener.0).write_all(&packet(0x82, &subscribe)).unwrap();
    let mut taken = [0; 5];
    (&listener.0).read_exact(&mut taken).unwrap();
    assert_eq!(taken, [0x90, 3, 0, 1, 0]);
    let (_file, _daemon) = start(&node, port);
    loop {
        let (kind, body) = next(&listener.0);
        assert_eq!(kind & 0xF0, 0x30, "only what is published comes");
        let told: Value = serde_json::from_slice(&body[2 + "floor/warnings".len()..]).unwrap();
        assert_eq!(
            (&told["floor"], &told["event"]),
            (&json!("Six"), &json!("raised"))
        );
        if told["element"] == "sensor:by radio" {
            assert_eq!(told["code"], "sensor_lost");
            let text = "Sensor by radio (supply ";
            assert!(told["text"].as_str().unwrap().starts_with(text), "{told}");
            return;
        }
    }
}

/// The next packet: its first byte and what follows its length (section 2.2.3).
fn next(mut stream: &TcpStream) -> (u8, Vec<u8>) {
    let mut byte = || {
        let mut one = [0];
        stream.read_exact(&mut one).unwrap();
        one[0]
    };
    let kind = byte();
    let (mut length, mut shift) = (0, 0);
    loop {
        let digit = byte();
        length |= usize::from(digit & 0x7F) << shift;
        shift += 7;
        if digit & 0x80 == 0 {
            break;
        }
    }
    let mut body = vec![0; length];
    stream.read_exact(&mut body).unwrap();
    (kind, body)
}

#[test]
fn what_is_retained_is_no_reading() {
    let directory = tempfile::tempdir().unwrap();
    let port = free_port();
    let node = Node::open("six");
    let _broker = Broker::start(directory.path(), port);
    let publisher = Publisher::connect(port);
    publisher.publish("{\"milliamps\": 9000}", true);
    let (_file, daemon) = start(&node, port);
    daemon.until(PATIENCE, |state| {
        publisher.publish("{\"milliamps\": 125}", false);
        let now = measured(state, 0);
        assert_ne!(now, Some(9.0));
        (now == Some(0.125)).then_some(())
    });
}

#[test]
fn readings_come_over_http_with_the_token() {
    let node = Node::open("six");
    // No broker is there: that hinders nothing.
    let (_file, daemon) = start(&node, free_port());
    let body = json!({"readings": [{"sensor": "by wire", "value": 0.75}]}).to_string();
    let post = |token: &str| {
        daemon.exchange(&format!(
            "POST /api/v1/readings HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n\
             Authorization: Bearer {token}\r\nContent-Type: application/json\r\n\
             Content-Length: {}\r\n\r\n{body}",
            daemon.http,
            body.len()
        ))
    };
    assert!(post("another token here").starts_with("HTTP/1.1 403 "));
    let taken = post(TOKEN);
    assert!(
        taken.starts_with("HTTP/1.1 202 ") && taken.contains("\"taken\""),
        "{taken}"
    );
    daemon.until(PATIENCE, |state| {
        (measured(state, 1) == Some(0.75)).then_some(())
    });
    // Whoever runs a calibration has to say that the floor is clear.
    let (status, told) = daemon.ask("POST", "/api/v1/calibration", "{\"floor_is_clear\": false}");
    assert_eq!(
        (status, told["error"].as_str()),
        (422, Some("not_confirmed"))
    );
}
