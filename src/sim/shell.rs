//! The loops that let the simulated console and nodes run over real sockets in the demo.
//! Everything that decides is in the other files; only this one sees a clock.

use std::io;
use std::net::{SocketAddr, SocketAddrV4};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use tokio::net::UdpSocket;
use tokio::sync::{mpsc, watch};
use tokio::task::JoinHandle;
use tokio::time::{Instant, MissedTickBehavior, interval};

use super::console::Console;
use super::node::SimNode;
use super::plant::Plant;
use super::sensor::SimSensor;
use super::walkers::Press;
use crate::floor::Floor;
use crate::floor::model::Measured;
use crate::units::Time;

/// One of 44 frames a second, the most that DMX512 allows with full universes.
const FRAME: Duration = Duration::from_micros(1_000_000 / 44);

/// Time between two looks at a node's switches: as often as quick ones look themselves.
const SWITCHES: Duration = Duration::from_millis(20);

/// Larger than any datagram that matters.
const LARGEST: usize = 2_048;

/// A node that someone may look into while it runs.
pub type SharedNode = Arc<Mutex<SimNode>>;

/// A demo never leaves this machine.
fn refuse_off_loopback(address: SocketAddr) -> io::Result<()> {
    if address.ip().is_loopback() {
        return Ok(());
    }
    let text = format!("the simulation sends to this machine only, not to {address}");
    Err(io::Error::new(io::ErrorKind::InvalidInput, text))
}

/// When a loop starts.
#[expect(
    clippy::disallowed_methods,
    reason = "the demo's own console and nodes live in real time"
)]
fn now() -> Instant {
    Instant::now()
}

/// Microseconds since `start`.
fn since(start: Instant) -> Time {
    Time(u64::try_from(start.elapsed().as_micros()).unwrap_or(u64::MAX))
}

/// Runs each node on its bound socket until `stop` turns true or its sender is gone.
///
/// # Errors
/// A socket that is not bound to the loopback, or whose address can't be read.
pub fn spawn_nodes(
    nodes: Vec<(UdpSocket, SharedNode)>,
    stop: &watch::Receiver<bool>,
) -> io::Result<Vec<JoinHandle<io::Result<()>>>> {
    for (socket, _) in &nodes {
        refuse_off_loopback(socket.local_addr()?)?;
    }
    let start = now();
    let handles = nodes.into_iter().map(|(socket, node)| {
        let mut stop = stop.clone();
        tokio::spawn(async move {
            tokio::select! {
                ended = run_node(&socket, &node, start) => ended,
                _ = stop.wait_for(|stop| *stop) => Ok(()),
            }
        })
    });
    Ok(handles.collect())
}

async fn run_node(socket: &UdpSocket, node: &SharedNode, start: Instant) -> io::Result<()> {
    let mut buffer = [0; LARGEST];
    let mut ticks = interval(SWITCHES);
    ticks.set_missed_tick_behavior(MissedTickBehavior::Skip);
    loop {
        let received = tokio::select! {
            received = socket.recv_from(&mut buffer) => received,
            _ = ticks.tick() => {
                send_switches(socket, node, since(start)).await;
                continue;
            }
        };
        let (length, from) = match received {
            Ok(received) => received,
            // An earlier answer found no listener; that is the asker's affair.
            Err(error) if error.kind() == io::ErrorKind::ConnectionRefused => continue,
            Err(error) => return Err(error),
        };
        let SocketAddr::V4(from) = from else {
            continue;
        };
        // A socket on the loopback hears nobody else; nobody else is answered.
        if !from.ip().is_loopback() {
            continue;
        }
        let answers = answer(node, since(start), from, &buffer[..length]);
        for bytes in answers {
            // A reply that can't be sent is asked for again by the next poll.
            let _ = socket.send_to(&bytes, from).await;
        }
    }
}

fn answer(node: &SharedNode, now: Time, from: SocketAddrV4, bytes: &[u8]) -> Vec<Vec<u8>> {
    let mut node = node.lock().unwrap_or_else(PoisonError::into_inner);
    node.hear(now, from, bytes);
    node.handle(now, from, bytes)
}

/// Sends what the node's switches have to say.
async fn send_switches(socket: &UdpSocket, node: &SharedNode, now: Time) {
    let due = {
        let mut node = node.lock().unwrap_or_else(PoisonError::into_inner);
        node.settle(now);
        node.due(now)
    };
    for (to, bytes) in due {
        if to.ip().is_loopback() {
            // Who does not listen is told again in a second.
            let _ = socket.send_to(&bytes, to).await;
        }
    }
}

/// Plays the console to `target` at 44 frames a second until `stop` turns true or its sender is
/// gone.
///
/// # Errors
/// A target off the loopback, or a socket that fails.
pub async fn run_console(
    socket: UdpSocket,
    target: SocketAddr,
    mut console: Console,
    mut stop: watch::Receiver<bool>,
) -> io::Result<()> {
    refuse_off_loopback(target)?;
    let start = now();
    let mut ticks = interval(FRAME);
    ticks.set_missed_tick_behavior(MissedTickBehavior::Skip);
    loop {
        tokio::select! {
            _ = stop.wait_for(|stop| *stop) => return Ok(()),
            _ = ticks.tick() => {}
        }
        for bytes in console.datagrams(since(start)) {
            match socket.send_to(&bytes, target).await {
                // Nobody listens yet, or no longer: the next frame may find someone.
                Err(error) if error.kind() == io::ErrorKind::ConnectionRefused => {}
                sent => drop(sent?),
            }
        }
    }
}

/// How often people move, and joints open and close.
const MOVING: Duration = Duration::from_millis(20);

/// How often what flows is worked out: no sensor reports more often.
const FLOWING_MS: u64 = 100;

/// A floor that someone may break while it runs.
pub type SharedPlant = Arc<Mutex<Plant>>;

/// Lets people walk on a simulated floor and its sensors, in the floor's order, report what its nodes
/// hold really draws, until `stop` turns true or nobody listens any more. `pressed` is given what comes
/// down and goes up under their feet.
pub async fn run_floor(
    floor: &Floor,
    plant: &SharedPlant,
    nodes: &[SharedNode],
    mut sensors: Vec<SimSensor>,
    mut pressed: impl FnMut(&[Press]) + Send,
    told: mpsc::Sender<Vec<(String, f64)>>,
    mut stop: watch::Receiver<bool>,
) {
    let start = now();
    let mut flows_next = Time(0);
    let mut ticks = interval(MOVING);
    ticks.set_missed_tick_behavior(MissedTickBehavior::Skip);
    loop {
        tokio::select! {
            _ = stop.wait_for(|stop| *stop) => return,
            _ = ticks.tick() => {}
        }
        let now = since(start);
        let flows = now >= flows_next;
        let amperes = {
            let mut plant = plant.lock().unwrap_or_else(PoisonError::into_inner);
            let presses = plant.step(now);
            if !presses.is_empty() {
                pressed(&presses);
            }
            flows.then(|| plant.amperes(&seen(nodes)))
        };
        let Some(amperes) = amperes else { continue };
        while flows_next <= now {
            flows_next = flows_next.plus_ms(FLOWING_MS);
        }
        let readings = sensors.iter_mut().zip(&floor.sensors);
        let readings = readings.filter_map(|(sensor, of)| {
            let true_a = match of.of {
                Measured::Circuit(at) => amperes.circuits[at],
                Measured::Supply(at) => amperes.supplies[at],
                Measured::Feed(at) => amperes.feeds[at],
                Measured::Panel(at) => amperes.panels[at],
            };
            Some((of.name.clone(), sensor.read(true_a, now)?))
        });
        let readings: Vec<_> = readings.collect();
        if !readings.is_empty() && told.send(readings).await.is_err() {
            return;
        }
    }
}

/// The nodes as they are now.
fn seen(nodes: &[SharedNode]) -> Vec<SimNode> {
    let nodes = nodes.iter();
    nodes
        .map(|node| node.lock().unwrap_or_else(PoisonError::into_inner).clone())
        .collect()
}

#[cfg(test)]
mod tests {
    use std::net::Ipv4Addr;

    use artnet_protocol::{ArtCommand, Poll};

    use super::*;
    use crate::floor::testing;
    use crate::sim::node::Character;
    use crate::wire::PortAddress;

    #[expect(
        clippy::disallowed_methods,
        reason = "a test's own socket on the loopback"
    )]
    async fn bound() -> UdpSocket {
        UdpSocket::bind((Ipv4Addr::LOCALHOST, 0)).await.unwrap()
    }

    fn console() -> Console {
        Console::new(&testing::floor(), &testing::tables())
    }

    #[tokio::test]
    async fn the_console_plays_to_the_loopback_and_stops_when_told() {
        let listener = bound().await;
        let target = listener.local_addr().unwrap();
        let (stop, stopped) = watch::channel(false);
        let playing = tokio::spawn(run_console(bound().await, target, console(), stopped));
        let mut buffer = [0; LARGEST];
        let mut seen = Vec::new();
        while seen.len() < 6 {
            let length = listener.recv(&mut buffer).await.unwrap();
            let Ok(ArtCommand::Output(output)) = ArtCommand::from_buffer(&buffer[..length]) else {
                panic!("not an ArtDmx");
            };
            seen.push((u16::from(output.port_address), u16::from(output.sequence)));
        }
        assert_eq!(seen, [(1, 1), (2, 1), (3, 1), (1, 2), (2, 2), (3, 2)]);
        stop.send(true).unwrap();
        playing.await.unwrap().unwrap();
    }

    #[tokio::test]
    async fn nothing_is_sent_off_the_loopback() {
        // 203.0.113.0/24 is kept for documentation (RFC 5737).
        let target = SocketAddr::from(([203, 0, 113, 9], 6454));
        let (_stop, stopped) = watch::channel(false);
        let error = run_console(bound().await, target, console(), stopped)
            .await
            .unwrap_err();
        assert_eq!(error.kind(), io::ErrorKind::InvalidInput);
    }

    #[tokio::test]
    async fn a_node_answers_polls_and_holds_what_it_gets() {
        let address = PortAddress::new(1).unwrap();
        let socket = bound().await;
        let at = socket.local_addr().unwrap();
        let node = Arc::new(Mutex::new(SimNode::new(Character {
            short_name: "sim".into(),
            long_name: "Simulated node".into(),
            address: SocketAddrV4::new(Ipv4Addr::LOCALHOST, at.port()),
            outputs: vec![address],
            syncs: true,
            orders: true,
        })));
        let (stop, stopped) = watch::channel(false);
        let handles = spawn_nodes(vec![(socket, Arc::clone(&node))], &stopped).unwrap();
        let asker = bound().await;
        let frame = b"Art-Net\0\x00\x50\x00\x0e\x01\x00\x01\x00\x00\x02\x05\x06";
        asker.send_to(frame, at).await.unwrap();
        let poll = ArtCommand::Poll(Poll::default()).write_to_buffer().unwrap();
        asker.send_to(&poll, at).await.unwrap();
        let mut buffer = [0; LARGEST];
        let length = asker.recv(&mut buffer).await.unwrap();
        assert!(matches!(
            ArtCommand::from_buffer(&buffer[..length]),
            Ok(ArtCommand::PollReply(_))
        ));
        // The frame was sent first, so it is there when the poll is answered.
        assert_eq!(node.lock().unwrap().held(address).unwrap()[..2], [5, 6]);
        stop.send(true).unwrap();
        for handle in handles {
            handle.await.unwrap().unwrap();
        }
    }

    /// Made-up time: it goes on when everybody waits.
    #[tokio::test(start_paused = true)]
    async fn sensors_report_what_flows_and_people_press_switches() {
        use crate::sim::link::Chance;
        use crate::sim::plant::Trouble;
        use crate::sim::real::faults::{Fault, Spot};
        use crate::sim::real::{Real, Scatter};
        use crate::sim::walkers::Walkers;

        let floor = testing::demo();
        let scatter = |_| Scatter {
            reel: 0.0,
            own: 0.0,
        };
        let real = Real::new(&floor, &mut Chance::new(1), scatter);
        let plant = Plant::new(real, 1).with_people(Walkers::new(&floor, 4, 1));
        let plant: SharedPlant = Arc::new(Mutex::new(plant));
        let sensors = (0_u64..).zip(&floor.sensors);
        let sensors = sensors.map(|(seed, _)| SimSensor::new(seed, 100, 0.0));
        let sensors = sensors.collect();
        let (told, mut readings) = mpsc::channel(1);
        let (stop, stopped) = watch::channel(false);
        let (pressed, presses) = (Arc::new(Mutex::new(0)), 30);
        let counted = Arc::clone(&pressed);
        let broken = Arc::clone(&plant);
        let running = tokio::spawn(async move {
            let count = |these: &[Press]| *counted.lock().unwrap() += these.len();
            run_floor(&floor, &plant, &[], sensors, count, told, stopped).await;
        });
        let begun = now();
        let first = readings.recv().await.unwrap();
        // Dark meadow panels: 48 pixels of 0.7 mA, six on this feed.
        let of = |said: &[(String, f64)]| {
            said.iter()
                .find(|(name, _)| name == "shunt upper 1")
                .unwrap()
                .1
        };
        assert!((of(&first) - 6.0 * 48.0 * 0.0007).abs() < 0.01, "{first:?}");
        let spot = Spot {
            panel: 0,
            segment: 0,
        };
        broken
            .lock()
            .unwrap()
            .break_at(spot, Trouble::Always(Fault::Stuck(1.0)));
        let mut last = first;
        for _ in 0..50 {
            last = readings.recv().await.unwrap();
        }
        // Six pixels of 3 × 18.5 mA that shine whatever they are told.
        assert!((of(&last) - 0.2016 - 0.333).abs() < 0.01, "{last:?}");
        // Ten readings a second.
        assert!(
            (5_000_000..6_000_000).contains(&since(begun).0),
            "{:?}",
            since(begun)
        );
        assert!(*pressed.lock().unwrap() > presses);
        stop.send(true).unwrap();
        readings.close();
        running.await.unwrap();
    }
}
