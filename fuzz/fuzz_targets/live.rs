//! What browsers say over the live stream, while pictures, states and floors come and go.
//!
//! ```text
//! records: u8 kind · …
//!   0  a text:                     u16 length · bytes
//!   1  bytes, a ping, a pong:      u8 which · u16 length · bytes
//!   2  bytes as they are, past all that frames messages: u16 length · bytes
//!   3  a picture and a state:      u8 level
//!   4  time:                       u8 twentieths of a second
//!   5  the floor is read again
//!   6  what came is read
//! ```
#![no_main]

use std::time::Duration;

use futures_util::{SinkExt, StreamExt};
use libfuzzer_sys::fuzz_target;
use litfloor_fuzz::MADE;
use litfloor_fuzz::bytes::Bytes;
use litfloor_fuzz::daemon::{Daemon, Pipes};
use litfloor_fuzz::world::CONSOLE;
use tokio::io::{AsyncWriteExt, DuplexStream, duplex};
use tokio::sync::mpsc;
use tokio::time::{sleep, timeout};
use tokio_tungstenite::tungstenite::client::IntoClientRequest;
use tokio_tungstenite::tungstenite::{Error, Message};
use tokio_tungstenite::{WebSocketStream, client_async};

/// Longer than a client that does nothing is suffered.
const AWAY: Duration = Duration::from_secs(60);

/// What the pipe between both holds.
const HOLDS: usize = 1 << 14;

type Client = WebSocketStream<DuplexStream>;

/// Every message is one of those that `/api/v1/live` describes.
fn check(message: &[u8]) {
    let kind = message.first().expect("no message is empty");
    let pixels = MADE.tables.pixels_mm.len();
    match kind {
        1 => assert_eq!(&message[12..16], (pixels as u32).to_le_bytes()),
        2 => assert_eq!(message.len(), 16 + pixels * usize::from(message[2])),
        3 | 6 => drop(serde_json::from_slice::<serde_json::Value>(&message[8..]).expect("JSON")),
        4 => assert!(message.len() > 8 && message.len() < 200),
        5 => {}
        7 => assert!(message.len() < 20 + pixels * 4),
        other => panic!("a message of kind {other}"),
    }
}

/// Takes what is there; false when the connection has ended.
async fn take(client: &mut Client) -> bool {
    while let Ok(next) = timeout(Duration::from_millis(1), client.next()).await {
        match next {
            Some(Ok(Message::Binary(bytes))) => check(&bytes),
            Some(Ok(Message::Text(_))) => panic!("texts never come"),
            Some(Ok(Message::Close(_)) | Err(_)) | None => return false,
            Some(Ok(_)) => {}
        }
    }
    true
}

async fn say(client: &mut Client, message: Message) -> bool {
    // One that takes nothing may be let go before it has said all.
    match timeout(Duration::from_secs(1), client.send(message)).await {
        Ok(Err(
            Error::ConnectionClosed | Error::AlreadyClosed | Error::Io(_) | Error::Protocol(_),
        )) => false,
        Ok(Err(error)) => panic!("{error}"),
        Ok(Ok(())) | Err(_) => true,
    }
}

fn picture(daemon: &mut Daemon, level: u8) {
    for universe in &MADE.tables.universes {
        let slots: Vec<u8> = (0..512_u16)
            .map(|slot| level.wrapping_mul(slot as u8 | 1))
            .collect();
        daemon
            .world
            .dmx(CONSOLE, 0, universe.port_address.number(), &slots);
    }
    daemon.world.passes(25);
    daemon.publish();
    daemon.publish_slots();
}

async fn open(pipes: &mpsc::UnboundedSender<DuplexStream>) -> Client {
    let (client, server) = duplex(HOLDS);
    pipes.send(server).expect("it listens");
    let request = "ws://floor.local:8080/api/v1/live"
        .into_client_request()
        .expect("a request");
    client_async(request, client).await.expect("it may look").0
}

async fn record(daemon: &mut Daemon, client: &mut Client, bytes: &mut Bytes<'_>) -> bool {
    match bytes.u8() {
        0 => {
            let text = String::from_utf8_lossy(bytes.piece()).into_owned();
            say(client, Message::text(text)).await
        }
        1 => {
            let which = bytes.u8();
            let piece = bytes.piece().to_vec();
            let short = piece[..piece.len().min(125)].to_vec();
            let message = match which % 4 {
                0 => Message::binary(piece),
                1 => Message::Ping(short.into()),
                2 => Message::Pong(short.into()),
                _ => Message::Close(None),
            };
            say(client, message).await
        }
        2 => {
            let raw = bytes.piece();
            let sent = client.get_mut().write_all(raw);
            !matches!(timeout(Duration::from_secs(1), sent).await, Ok(Err(_)))
        }
        3 => {
            picture(daemon, bytes.u8());
            true
        }
        4 => {
            sleep(Duration::from_millis(50) * bytes.u8().into()).await;
            true
        }
        5 => {
            daemon.replace();
            daemon.publish();
            true
        }
        _ => take(client).await,
    }
}

async fn all(data: &[u8]) {
    let mut daemon = Daemon::new(false);
    let (pipes, accepted) = mpsc::unbounded_channel();
    let served = axum::serve(Pipes(accepted), daemon.router.clone());
    let serving = tokio::spawn(async move { served.await });
    let mut client = open(&pipes).await;
    let mut bytes = Bytes(data);
    while bytes.more() && record(&mut daemon, &mut client, &mut bytes).await {}
    // Whatever was said, others are served, and what is left of this one goes away.
    let mut other = open(&pipes).await;
    assert!(take(&mut other).await, "another client is not served");
    drop((client, other));
    sleep(AWAY).await;
    assert_eq!(
        daemon.watched(),
        (0, 0),
        "somebody is still counted as watching"
    );
    serving.abort();
}

fuzz_target!(|data: &[u8]| litfloor_fuzz::in_no_time(all(data)));
