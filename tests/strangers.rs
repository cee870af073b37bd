//! Strangers at the door: each attack tried on the real program, over real sockets. What is decided of
//! who may change something is tried in `src/web/operator/tests/`; here it is the whole program.

#![allow(
    clippy::disallowed_methods,
    reason = "these tests are strangers: they have sockets and a clock"
)]

mod daemon;

#[path = "strangers/at_the_door.rs"]
mod at_the_door;
#[path = "strangers/crowds.rs"]
mod crowds;
#[path = "strangers/encrypted.rs"]
mod encrypted;
#[path = "strangers/guests.rs"]
mod guests;
#[path = "strangers/signing_in.rs"]
mod signing_in;

use std::io::{ErrorKind, Read, Write};
use std::net::{Ipv4Addr, SocketAddr, SocketAddrV4, TcpStream};
use std::time::Duration;

use daemon::{Daemon, Node, PATIENCE};
use serde_json::Value;
use socket2::{Domain, Socket, Type};

/// A floor that runs, with all that it stands on.
struct House {
    daemon: Daemon,
    _node: Node,
    directory: tempfile::TempDir,
}

impl House {
    /// Started so, keeping what it keeps in a directory of its own.
    fn new(options: &[&str], passphrase: Option<&str>) -> Self {
        let node = Node::open("six");
        let (directory, floor) = daemon::file(&daemon::six_panels(&[node.address]));
        let mut command = daemon::to_run(&floor);
        command.arg("--state").arg(directory.path().join("state"));
        command.args(options);
        if let Some(passphrase) = passphrase {
            command.env("LITFLOOR_PASSPHRASE", passphrase);
        }
        // What strangers do is told in the log, of which these tests have no need.
        command.env("RUST_LOG", "error");
        Self {
            daemon: Daemon::of(command),
            _node: node,
            directory,
        }
    }

    /// Frames go on, and a friend is answered, whatever strangers do.
    fn is_well(&self) {
        self.daemon.until_well();
    }
}

/// A connection from an address of the loopback: each of 127/8 is one of its own (RFC 1122, section
/// 3.2.1.3).
fn connect(from: [u8; 4], to: SocketAddrV4) -> TcpStream {
    let socket = Socket::new(Domain::IPV4, Type::STREAM, None).unwrap();
    let from = SocketAddr::from((Ipv4Addr::from(from), 0));
    socket.bind(&from.into()).unwrap();
    socket.connect(&SocketAddr::from(to).into()).unwrap();
    let stream = TcpStream::from(socket);
    stream.set_read_timeout(Some(PATIENCE)).unwrap();
    stream
}

/// All that comes until the other end closes, or does not go on within a read's patience; a connection
/// that is reset has ended too.
fn read_all(stream: &mut TcpStream) -> String {
    let (mut all, mut buffer) = (Vec::new(), [0; 4_096]);
    loop {
        match stream.read(&mut buffer) {
            Ok(0) => break,
            Ok(length) => all.extend_from_slice(&buffer[..length]),
            Err(error) if error.kind() == ErrorKind::ConnectionReset => break,
            Err(error) => panic!(
                "it does not close: {error}; so far {}",
                String::from_utf8_lossy(&all)
            ),
        }
    }
    String::from_utf8_lossy(&all).into_owned()
}

/// An answer, taken apart.
#[derive(Debug)]
struct Answer {
    status: u16,
    head: String,
    body: String,
}

impl Answer {
    fn of(text: &str) -> Self {
        let (head, body) = text.split_once("\r\n\r\n").unwrap_or((text, ""));
        let status = head
            .split(' ')
            .nth(1)
            .and_then(|status| status.parse().ok());
        Self {
            status: status.unwrap_or_else(|| panic!("no answer: {text:?}")),
            head: head.to_ascii_lowercase(),
            body: body.to_owned(),
        }
    }

    fn header(&self, name: &str) -> Option<&str> {
        let mut lines = self.head.lines().filter_map(|line| line.split_once(": "));
        lines
            .find(|(known, _)| *known == name)
            .map(|(_, value)| value)
    }

    /// The stable word of a refusal.
    fn word(&self) -> String {
        let body: Value = serde_json::from_str(&self.body).unwrap_or_default();
        body["error"].as_str().unwrap_or_default().to_owned()
    }
}

/// Sends bytes as they are from an address of the loopback, and reads until the end.
fn send(from: [u8; 4], to: SocketAddrV4, request: &str) -> Answer {
    let mut stream = connect(from, to);
    // What is not read to its end may be refused before it is sent to its end.
    let _ = stream.write_all(request.as_bytes());
    Answer::of(&read_all(&mut stream))
}

const ME: [u8; 4] = [127, 0, 0, 1];
const FRIEND: [u8; 4] = [127, 0, 0, 2];

fn get(from: [u8; 4], to: SocketAddrV4, path: &str, more: &str) -> Answer {
    let request = format!("GET {path} HTTP/1.1\r\nHost: {to}\r\nConnection: close\r\n{more}\r\n");
    send(from, to, &request)
}

/// What a page of the daemon itself sends.
fn change(
    from: [u8; 4],
    to: SocketAddrV4,
    method: &str,
    path: &str,
    more: &str,
    body: &str,
) -> Answer {
    let request = format!(
        "{method} {path} HTTP/1.1\r\nHost: {to}\r\nOrigin: http://{to}\r\nConnection: close\r\n\
         Content-Type: application/json\r\nContent-Length: {}\r\n{more}\r\n{body}",
        body.len()
    );
    send(from, to, &request)
}

/// Waits on a connection for so long that nothing can be on its way any more.
fn closes_within(stream: &mut TcpStream, patience: Duration) -> String {
    stream.set_read_timeout(Some(patience)).unwrap();
    read_all(stream)
}
