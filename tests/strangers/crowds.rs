//! Too many at once: connections, live streams, messages.

use std::io::Write;
use std::net::TcpStream;
use std::time::{Duration, Instant};

use tokio::runtime::Runtime;
use tokio_tungstenite::tungstenite::Message;
use tokio_tungstenite::{WebSocketStream, client_async};

use super::*;

/// Many connections need many descriptors, ours as well.
fn allow_descriptors() {
    #[cfg(target_os = "linux")]
    {
        use nix::sys::resource::{Resource, getrlimit, setrlimit};
        let (_, most) = getrlimit(Resource::RLIMIT_NOFILE).unwrap();
        setrlimit(Resource::RLIMIT_NOFILE, most.min(8_192), most).unwrap();
    }
}

#[test]
fn six_hundred_connections_of_one_address_shut_nobody_out() {
    allow_descriptors();
    let house = House::new(&[], None);
    let at = house.daemon.http;
    let flood: Vec<TcpStream> = (0..600).map(|_| connect(ME, at)).collect();
    // A friend is answered at once, again and again, and so is this machine itself: of its own the oldest
    // that have said nothing make room.
    let begun = Instant::now();
    for _ in 0..20 {
        assert_eq!(get(FRIEND, at, "/api/v1/state", "").status, 200);
    }
    println!(
        "20 answers beside 600 connections took {:?}",
        begun.elapsed()
    );
    assert_eq!(get(ME, at, "/healthz", "").status, 200);
    // Those that hold are the youngest 256, less the one that made room.
    let closed = flood.iter().filter(|stream| is_closed(stream)).count();
    assert!((600 - 256..600 - 256 + 3).contains(&closed), "{closed}");
    drop(flood);

    // From many addresses: whoever holds least gets in.
    let flood: Vec<TcpStream> = (0..700_u32)
        .map(|n| connect([127, 0, 1, 1 + u8::try_from(n % 4).unwrap()], at))
        .collect();
    for _ in 0..20 {
        assert_eq!(get(FRIEND, at, "/api/v1/state", "").status, 200);
    }
    drop(flood);
    house.is_well();
}

/// Whether the other end has closed it.
fn is_closed(stream: &TcpStream) -> bool {
    stream.set_nonblocking(true).unwrap();
    let mut byte = [0];
    match stream.peek(&mut byte) {
        Ok(_) => true,
        Err(error) => error.kind() != ErrorKind::WouldBlock,
    }
}

type Live = WebSocketStream<tokio::net::TcpStream>;

/// A live stream, or the status with which it was refused.
async fn live(from: [u8; 4], at: SocketAddrV4) -> Result<Live, u16> {
    use tokio_tungstenite::tungstenite::Error;
    let stream = connect(from, at);
    stream.set_nonblocking(true).unwrap();
    let stream = tokio::net::TcpStream::from_std(stream).unwrap();
    match client_async(format!("ws://{at}/api/v1/live"), stream).await {
        Ok((live, _)) => Ok(live),
        Err(Error::Http(refused)) => Err(refused.status().as_u16()),
        Err(error) => panic!("{error}"),
    }
}

/// The code with which a stream is closed; nothing if it breaks off.
async fn closed(live: &mut Live) -> Option<u16> {
    use futures_util::StreamExt;
    let ends = async {
        loop {
            match live.next().await {
                Some(Ok(Message::Close(frame))) => break frame.map(|frame| frame.code.into()),
                Some(Ok(_)) => {}
                Some(Err(_)) | None => break None,
            }
        }
    };
    tokio::time::timeout(PATIENCE, ends)
        .await
        .expect("it stays")
}

#[test]
fn live_streams_are_shared_out_and_none_says_too_much() {
    use futures_util::SinkExt;
    allow_descriptors();
    let house = House::new(&[], None);
    let at = house.daemon.http;
    Runtime::new().unwrap().block_on(async {
        // As many as one address may have; the next is refused, another address is not.
        let mut held = Vec::new();
        for _ in 0..100 {
            held.push(live(ME, at).await.unwrap());
        }
        assert_eq!(live(ME, at).await.unwrap_err(), 503);
        for _ in 0..100 {
            held.push(live([127, 0, 0, 9], at).await.unwrap());
        }
        // All are taken: the oldest of who has most gives way to who has none.
        let mut friend = live(FRIEND, at).await.unwrap();
        let (oldest, other) = held.split_at_mut(100);
        let gone = tokio::select! {
            code = closed(&mut oldest[0]) => code,
            code = closed(&mut other[0]) => code,
        };
        // The registry of RFC 6455: 1013, try again later.
        assert_eq!(gone, Some(1_013));
        drop(held);

        // A message longer than any that a page sends: RFC 6455, section 7.4.1, or it breaks off.
        let mut giant = live(ME, at).await.unwrap();
        let _ = giant.send(Message::text("a".repeat(1 << 20))).await;
        assert!(matches!(
            closed(&mut giant).await,
            None | Some(1_009 | 1_002)
        ));
        // More messages than any page sends: 1008, a policy was broken.
        let mut noisy = live(ME, at).await.unwrap();
        for _ in 0..2_000 {
            if noisy.send(Message::text("{}")).await.is_err() {
                break;
            }
        }
        assert!(matches!(closed(&mut noisy).await, None | Some(1_008)));
        // What is no text, no JSON or no wish is no reason to leave an honest one in the dark.
        for odd in [
            "",
            "{",
            "[]",
            "{\"view\":\"none\",\"max_fps\":1e308}",
            "{\"slots\":[\"x\"]}",
        ] {
            friend.send(Message::text(odd)).await.unwrap();
        }
        friend
            .send(Message::binary(vec![0xFF; 1_000]))
            .await
            .unwrap();
        friend.send(Message::text("{\"me\":\"\"}")).await.unwrap();
        wait_for_kind(&mut friend, 4).await;
    });
    house.is_well();
}

async fn wait_for_kind(live: &mut Live, kind: u8) {
    use futures_util::StreamExt;
    let comes = async {
        loop {
            match live.next().await {
                Some(Ok(Message::Binary(bytes))) if bytes[0] == kind => break,
                Some(Ok(_)) => {}
                other => panic!("{other:?}"),
            }
        }
    };
    tokio::time::timeout(PATIENCE, comes).await.unwrap();
}

/// One that opens a stream and then takes nothing at all.
#[test]
fn a_browser_that_takes_nothing_is_let_go() {
    let house = House::new(&[], None);
    let at = house.daemon.http;
    let mut stuck = connect(ME, at);
    // Little fits on the way, so that what is sent soon waits.
    socket2::SockRef::from(&stuck)
        .set_recv_buffer_size(4_096)
        .unwrap();
    stuck
        .write_all(
            format!(
                "GET /api/v1/live HTTP/1.1\r\nHost: {at}\r\nConnection: Upgrade\r\nUpgrade: websocket\r\n\
                 Sec-WebSocket-Version: 13\r\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n\r\n"
            )
            .as_bytes(),
        )
        .unwrap();
    let begun = Instant::now();
    // Its end of the connection is gone from the kernel's table, or on its way out, once it is let go.
    let port = stuck.local_addr().unwrap().port();
    while is_served(at.port(), port) {
        assert!(
            begun.elapsed() < Duration::from_secs(90),
            "it is kept for ever"
        );
        // An answer of the daemon takes the time that is waited.
        house
            .daemon
            .until(PATIENCE, |state| state["uptime_s"].as_f64());
    }
    println!("let go after {:?}", begun.elapsed());
    house.is_well();
}

/// Whether the kernel has an established connection between these ports: `proc_net_tcp` of the kernel's
/// documentation, state 01.
fn is_served(local: u16, remote: u16) -> bool {
    let table = std::fs::read_to_string("/proc/net/tcp").unwrap();
    table.lines().skip(1).any(|line| {
        let fields: Vec<_> = line.split_whitespace().collect();
        let port = |field: &str| u16::from_str_radix(field.split(':').nth(1).unwrap(), 16).unwrap();
        port(fields[1]) == local && port(fields[2]) == remote && fields[3] == "01"
    })
}
