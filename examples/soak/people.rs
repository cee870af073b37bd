//! Browsers that come and go, or get stuck.

use std::io::Write;
use std::net::{SocketAddrV4, TcpStream};
use std::thread::JoinHandle;
use std::time::Duration;

use tokio_tungstenite::tungstenite::{Message, client};

/// What a floor page asks for.
const WISH: &str = r#"{"view": "sent", "max_fps": 30}"#;

#[derive(Default)]
pub(crate) struct People {
    /// Those that read, until they have read enough.
    reading: Vec<JoinHandle<Option<()>>>,
    /// Those that read nothing.
    stuck: Vec<TcpStream>,
}

impl People {
    /// A page that is looked at until so many messages have come.
    pub(crate) fn look(&mut self, at: SocketAddrV4, messages: u64) {
        let reads = std::thread::spawn(move || read(at, messages));
        self.reading.push(reads);
    }

    /// A page that asks for all and reads nothing.
    pub(crate) fn get_stuck(&mut self, at: SocketAddrV4) {
        let Ok(stream) = TcpStream::connect(at) else {
            return;
        };
        let Ok(own) = stream.try_clone() else { return };
        let _ = own.set_read_timeout(Some(Duration::from_secs(5)));
        if let Ok((mut socket, _)) = client(format!("ws://{at}/api/v1/live"), own) {
            let _ = socket.send(Message::text(WISH));
            self.stuck.push(stream);
        }
    }

    /// Half of a request, and no more.
    pub(crate) fn stop_short(&mut self, at: SocketAddrV4) {
        if let Ok(mut stream) = TcpStream::connect(at) {
            let _ = stream.write_all(b"GET /api/v1/state HTTP/1.1\r\nHost: 127.0.0.1\r\nX-");
            self.stuck.push(stream);
        }
    }

    /// All go; those that read have read enough soon.
    pub(crate) fn go(&mut self) {
        self.stuck.clear();
        for reads in self.reading.drain(..) {
            // One whose daemon was killed has read what it could.
            let _ = reads.join();
        }
    }
}

fn read(at: SocketAddrV4, messages: u64) -> Option<()> {
    let stream = TcpStream::connect(at).ok()?;
    stream.set_read_timeout(Some(Duration::from_secs(5))).ok()?;
    let (mut socket, _) = client(format!("ws://{at}/api/v1/live"), stream).ok()?;
    socket.send(Message::text(WISH)).ok()?;
    for _ in 0..messages {
        socket.read().ok()?;
    }
    Some(())
}
