//! Browsers that watch the picture as fast as they are given it, and look at nothing.

use std::io;
use std::net::{SocketAddrV4, TcpStream};

use tokio_tungstenite::tungstenite::{Message, client};

/// What a floor page asks for.
const WISH: &str = r#"{"view": "sent", "max_fps": 30}"#;

/// Watches until it is killed. Says so when all are there.
pub(crate) fn watch(at: SocketAddrV4, count: u32) -> io::Result<()> {
    let mut threads = Vec::new();
    for _ in 0..count {
        let stream = TcpStream::connect(at)?;
        let url = format!("ws://{at}/api/v1/live");
        let (mut socket, _) = client(url, stream).map_err(io::Error::other)?;
        socket.send(Message::text(WISH)).map_err(io::Error::other)?;
        socket.read().map_err(io::Error::other)?;
        threads.push(std::thread::spawn(move || while socket.read().is_ok() {}));
    }
    println!("watching");
    for thread in threads {
        // Each ends when the forwarder does.
        let _ = thread.join();
    }
    Ok(())
}
