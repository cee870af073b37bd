//! Fifty browsers that look and never read, and as many connections that say half a sentence: frames must
//! neither be late nor lost, and what the stuck ones hold is given back.

use std::io::Write;
use std::net::{SocketAddrV4, TcpStream};
use std::time::{Duration, Instant};

use crate::daemon::{self, Daemon, Node, PATIENCE};
use crate::found;
use crate::player::{Playing, SOON, Seen, during, ms, until};

const BROWSERS: usize = 50;

/// How long the console plays with and without them.
const PLAYS: Duration = Duration::from_secs(5);

/// One that asks for all there is, thirty times a second, and takes nothing of it.
fn stuck(http: SocketAddrV4) -> TcpStream {
    let socket = socket2::Socket::new(socket2::Domain::IPV4, socket2::Type::STREAM, None).unwrap();
    // Hardly anything fits into its own buffer, so that soon nothing more can be sent to it.
    socket.set_recv_buffer_size(4_096).unwrap();
    socket.connect(&http.into()).unwrap();
    let mut stream = TcpStream::from(socket);
    write!(
        stream,
        "GET /api/v1/live HTTP/1.1\r\nHost: {http}\r\nConnection: Upgrade\r\nUpgrade: websocket\r\n\
         Sec-WebSocket-Version: 13\r\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n\r\n"
    )
    .unwrap();
    let wish =
        br#"{"view":"sent","max_fps":30,"also_fps":30,"voltages":true,"slots":["0:0:1","0:0:2"]}"#;
    // RFC 6455, section 5.2: a text, masked with zeros.
    let mut frame = vec![0x81, 0x80 | u8::try_from(wish.len()).unwrap(), 0, 0, 0, 0];
    frame.extend(wish);
    stream.write_all(&frame).unwrap();
    stream
}

/// One that never comes to the end of its question.
fn half(http: SocketAddrV4) -> TcpStream {
    let mut stream = TcpStream::connect(http).unwrap();
    write!(
        stream,
        "POST /api/v1/pattern HTTP/1.1\r\nHost: {http}\r\nContent-Length: 50\r\n"
    )
    .unwrap();
    stream
}

/// Files and sockets that a process has open.
fn open_files(daemon: &Daemon) -> usize {
    std::fs::read_dir(format!("/proc/{}/fd", daemon.pid()))
        .unwrap()
        .count()
}

/// Plays for a while: pictures that were lost, and how late they were, each from just before its first
/// universe was sent until its last had come out, the least first.
fn play(daemon: &Daemon, node: &Node, first: u32) -> (u32, u32, Vec<Duration>) {
    let console = Playing::to(daemon.artnet, first);
    let mut seen = Seen::default();
    during(node, &mut seen, PLAYS);
    let times = console.times();
    let last = console.end();
    until(node, &mut seen, |seen| seen.whole() == Some(last));
    let mut late: Vec<Duration> = (first + 1..=last)
        .zip(&times)
        .filter_map(|(number, sent)| Some(seen.pictures.get(&number)?.1 - *sent))
        .collect();
    late.sort();
    (seen.missing(first + 1, last), last - first, late)
}

#[test]
fn fifty_that_are_stuck_make_no_frame_late_or_lost() {
    let node = Node::open("six");
    let (_directory, path) = daemon::file(&daemon::six_panels(&[node.address]));
    let daemon = daemon::run(&path);
    let (_, _, alone) = play(&daemon, &node, 0);
    // All files are open by now, and no browser is there.
    let before = open_files(&daemon);
    let came = Instant::now();
    let browsers: Vec<_> = (0..BROWSERS).map(|_| stuck(daemon.http)).collect();
    let halves: Vec<_> = (0..BROWSERS).map(|_| half(daemon.http)).collect();
    // All of them are there before it counts.
    daemon.until(PATIENCE, |_| {
        (open_files(&daemon) >= before + 2 * BROWSERS).then_some(())
    });
    let (lost, pictures, late) = play(&daemon, &node, 10_000);
    // Somebody who does read is served all the while.
    let begun = Instant::now();
    daemon.json("/api/v1/state");
    let answered = begun.elapsed();
    let open = open_files(&daemon);
    drop(halves);
    // A client that takes nothing for ten seconds is let go, and one that answers no ping for thirty.
    daemon.until(2 * PATIENCE, |_| {
        (open_files(&daemon) <= before + 5).then_some(())
    });
    let given_back = came.elapsed();
    let of = |late: &[Duration], share: usize| late[(late.len() - 1) * share / 100];
    found(
        &format!("{BROWSERS} browsers that never read, {BROWSERS} half requests"),
        &format!(
            "{pictures} pictures of 6 universes: latest {} (median {}), without them {} ({}); {open} files open \
             instead of {before}; a reader is answered in {}",
            ms(of(&late, 100)),
            ms(of(&late, 50)),
            ms(of(&alone, 100)),
            ms(of(&alone, 50)),
            ms(answered),
        ),
        &format!("{lost} pictures"),
        &format!(
            "their connections were given back {} after they came",
            ms(given_back)
        ),
    );
    drop(browsers);
    assert_eq!(lost, 0, "pictures were lost");
    // Generous: this is a debug build, on a machine that may have other things to do.
    assert!(of(&late, 50) <= Duration::from_millis(50), "{late:?}");
    assert!(of(&late, 95) <= SOON, "{late:?}");
}
