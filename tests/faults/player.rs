//! A console that plays numbered pictures at its pace, and a node that notes when which arrived.

use std::collections::BTreeMap;
use std::net::{SocketAddrV4, UdpSocket};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
use std::sync::mpsc::{self, RecvTimeoutError};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use artnet_protocol::ArtCommand;

use crate::daemon::{ANY_PORT, Console, Node, PATIENCE, SLOTS, UNIVERSES};

/// A console's pace: a little slower than DMX512-A allows (44.1 frames a second at most).
pub const FRAME: Duration = Duration::from_millis(25);

/// Highest level of a numbered picture: six panels at that draw 6 · (0.02 + 1.2 · 130 / 255) = 3.79 A of the
/// 4 A that they may, so that nothing is dimmed.
const BRIGHT: u8 = 130;

/// A picture that bears its number: four slots of 0 to 99, the others as bright as may be.
pub fn picture(number: u32) -> [u8; SLOTS] {
    let mut slots = [BRIGHT; SLOTS];
    let mut left = number;
    for slot in &mut slots[..4] {
        *slot = u8::try_from(left % 100).unwrap();
        left /= 100;
    }
    slots
}

/// The number of a picture, if it is one, whole.
pub fn number(slots: &[u8]) -> Option<u32> {
    let digits = slots.get(..4)?;
    let whole = slots.len() >= SLOTS && slots[4..SLOTS].iter().all(|level| *level == BRIGHT);
    (whole && digits.iter().all(|digit| *digit < 100)).then(|| {
        digits
            .iter()
            .rev()
            .fold(0, |sum, digit| sum * 100 + u32::from(*digit))
    })
}

/// A console that goes on by itself until it is dropped.
pub struct Playing {
    played: Arc<AtomicU32>,
    sent: Arc<std::sync::Mutex<Vec<Instant>>>,
    stop: Option<mpsc::Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

impl Playing {
    /// Plays all universes to an address, from a picture's number on.
    pub fn to(artnet: SocketAddrV4, first: u32) -> Self {
        Self::from(UdpSocket::bind(ANY_PORT).unwrap(), artnet, first)
    }

    /// The same through a socket that was opened for it.
    pub fn from(socket: UdpSocket, artnet: SocketAddrV4, first: u32) -> Self {
        let played = Arc::new(AtomicU32::new(first));
        let sent = Arc::new(std::sync::Mutex::new(Vec::new()));
        let (stop, stopped) = mpsc::channel::<()>();
        let (count, times) = (Arc::clone(&played), Arc::clone(&sent));
        let thread = std::thread::spawn(move || {
            let console = Console::through(socket, artnet);
            loop {
                let number = count.load(Ordering::Relaxed) + 1;
                times.lock().unwrap().push(Instant::now());
                for universe in UNIVERSES {
                    // While nobody listens, the system says so of the datagram before.
                    console.try_dmx(universe, &picture(number));
                }
                count.store(number, Ordering::Relaxed);
                // The console's pace; it ends at once when it is dropped.
                if stopped.recv_timeout(FRAME) != Err(RecvTimeoutError::Timeout) {
                    return;
                }
            }
        });
        Self {
            played,
            sent,
            stop: Some(stop),
            thread: Some(thread),
        }
    }

    /// The number of the newest picture that was sent.
    pub fn newest(&self) -> u32 {
        self.played.load(Ordering::Relaxed)
    }

    /// When each was sent, the first with the number behind `first`.
    pub fn times(&self) -> Vec<Instant> {
        self.sent.lock().unwrap().clone()
    }

    /// Ends it; gives the number of the last picture.
    pub fn end(mut self) -> u32 {
        self.halt();
        self.newest()
    }

    fn halt(&mut self) {
        drop(self.stop.take());
        if let Some(thread) = self.thread.take() {
            thread.join().unwrap();
        }
    }
}

impl Drop for Playing {
    fn drop(&mut self) {
        self.halt();
    }
}

/// What a node holds, and the numbers of all pictures that it has ever shown.
#[derive(Default)]
pub struct Seen {
    pub held: BTreeMap<u16, Vec<u8>>,
    /// By number: the universes that came with it, and when the last of them did.
    pub pictures: BTreeMap<u32, (u32, Instant)>,
    /// The longest time between two datagrams with slots.
    pub longest_gap: Duration,
    last: Option<Instant>,
    /// Datagrams with slots.
    pub frames: u64,
}

impl Seen {
    pub fn take(&mut self, bytes: &[u8], at: Instant) {
        let Ok(ArtCommand::Output(output)) = ArtCommand::from_buffer(bytes) else {
            return;
        };
        let slots = output.data.as_ref().clone();
        let universe: u16 = output.port_address.into();
        if let Some(last) = self.last.replace(at) {
            self.longest_gap = self.longest_gap.max(at - last);
        }
        self.frames += 1;
        // What is sent again has been counted.
        if self.held.get(&universe) != Some(&slots)
            && let Some(number) = number(&slots)
        {
            let (count, when) = self.pictures.entry(number).or_insert((0, at));
            (*count, *when) = (*count + 1, at);
        }
        self.held.insert(universe, slots);
    }

    /// The number of the newest picture that all universes show.
    pub fn whole(&self) -> Option<u32> {
        let numbers = UNIVERSES.map(|universe| number(self.held.get(&universe)?));
        let first = numbers[0]?;
        numbers
            .iter()
            .all(|number| *number == Some(first))
            .then_some(first)
    }

    /// Pictures between two numbers, both counted, that did not come with all universes.
    pub fn missing(&self, first: u32, last: u32) -> u32 {
        let all = u32::try_from(UNIVERSES.len()).unwrap();
        let came = self
            .pictures
            .range(first..=last)
            .filter(|(_, (count, _))| *count == all);
        last + 1 - first - u32::try_from(came.count()).unwrap()
    }
}

/// Takes what comes to a node until it is content; gives how long that took.
pub fn until(node: &Node, seen: &mut Seen, mut content: impl FnMut(&Seen) -> bool) -> Duration {
    let begun = Instant::now();
    while !content(seen) {
        if let Some(bytes) = node.next(FRAME) {
            seen.take(&bytes, Instant::now());
        }
        assert!(
            begun.elapsed() < PATIENCE,
            "never came; the node holds {:?}",
            seen.held
        );
    }
    begun.elapsed()
}

/// Takes what comes to a node for so long.
pub fn during(node: &Node, seen: &mut Seen, time: Duration) {
    let begun = Instant::now();
    until(node, seen, |_| begun.elapsed() >= time);
}

/// Milliseconds, for people.
pub fn ms(time: Duration) -> String {
    format!("{:.0} ms", time.as_secs_f64() * 1e3)
}

/// Within this light must be back. It is asked of the middle of several times where there are several, for a
/// machine that is busy with other things holds this test up as well.
pub const SOON: Duration = Duration::from_secs(1);

/// The middle of some times, which are sorted then.
pub fn middle(times: &mut [Duration]) -> Duration {
    times.sort();
    times[times.len() / 2]
}

/// A flag that ends a thread when it goes away.
pub struct Flag(pub Arc<AtomicBool>);

impl Drop for Flag {
    fn drop(&mut self) {
        self.0.store(true, Ordering::Relaxed);
    }
}
