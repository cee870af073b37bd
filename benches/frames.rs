//! What a frame costs between its arrival and its departure, without the system's calls:
//! `cargo bench --bench frames`.
//!
//! Every frame differs from the one before in all slots. The clock is made up: 44 frames a second of
//! every universe.

#[path = "../tests/support/wide.rs"]
mod wide;

use divan::Bencher;
use divan::counter::ItemsCount;
use litfloor::engine::Engine;
use litfloor::engine::out::{Datagram, Outlet};
use litfloor::units::Time;
use litfloor::wire::PortAddress;
use litfloor::wire::dmx::{self, LARGEST};

fn main() {
    divan::main();
}

/// Takes all and keeps nothing.
struct Sink {
    bytes: usize,
}

impl Outlet for Sink {
    fn send(&mut self, datagram: Datagram<'_>) -> bool {
        let parts = divan::black_box(datagram.parts());
        self.bytes += parts.iter().map(|part| part.len()).sum::<usize>();
        true
    }
}

struct Chain {
    engine: Engine,
    frames: Vec<[u8; LARGEST]>,
    next: usize,
    now_us: u64,
    tick: Time,
    sink: Sink,
}

const PICTURES: usize = 4;

impl Chain {
    /// Sixteen universes a row; every frame `moves`, or all are alike.
    fn new(rows: usize, share: f64, moves: bool) -> Self {
        let universes = rows * wide::ROW;
        let mut frames = Vec::new();
        for picture in 0..PICTURES {
            let number = u8::try_from(picture).unwrap();
            for universe in 0..universes {
                let mut frame = [0; LARGEST];
                let level = |slot: usize| {
                    let moved = if moves { picture * 31 } else { 0 };
                    u8::try_from((universe * 7 + slot * 13 + moved) % 256).unwrap()
                };
                let slots: [u8; 512] = std::array::from_fn(level);
                let address = PortAddress::new(u16::try_from(universe).unwrap()).unwrap();
                dmx::write(&mut frame, number + 1, 0, address, &slots);
                frames.push(frame);
            }
        }
        let now = Time::from_ms(0);
        let mut chain = Self {
            engine: wide::engine(rows, share),
            frames,
            next: 0,
            now_us: 0,
            tick: now,
            sink: Sink { bytes: 0 },
        };
        for _ in 0..40 * universes {
            chain.frame();
        }
        chain
    }

    fn universes(&self) -> usize {
        self.frames.len() / PICTURES
    }

    fn frame(&mut self) {
        let at = self.next;
        let all = self.frames.len();
        self.next = if at + 1 == all { 0 } else { at + 1 };
        // Numbers run as a console's do.
        let universes = all / PICTURES;
        self.now_us += if universes < 45 {
            1_000_000 / 44 / universes as u64
        } else {
            5
        };
        if self.next.is_multiple_of(universes) && universes >= 45 {
            self.now_us = self.now_us.next_multiple_of(1_000_000 / 44);
        }
        let now = Time(self.now_us);
        let frame = &mut self.frames[at];
        frame[12] = frame[12] % 251 + 4;
        self.engine
            .handle(now, wide::CONSOLE, frame, &mut self.sink);
        if now >= self.tick {
            self.engine.tick(now, &mut self.sink);
            self.tick = self.engine.next_tick();
        }
    }
}

/// Rows of sixteen universes.
const ROWS: [usize; 3] = [1, 16, 256];

fn run(bencher: Bencher, rows: usize, share: f64, moves: bool) {
    let mut chain = Chain::new(rows, share, moves);
    let round = chain.universes().max(256);
    bencher.counter(ItemsCount::new(round)).bench_local(|| {
        for _ in 0..round {
            chain.frame();
        }
    });
}

/// All fits.
#[divan::bench(args = ROWS)]
fn moving(bencher: Bencher, rows: usize) {
    run(bencher, rows, 1.1, true);
}

/// Supplies carry a third of full white.
#[divan::bench(args = ROWS)]
fn capped(bencher: Bencher, rows: usize) {
    run(bencher, rows, 0.33, true);
}

/// The console repeats one picture.
#[divan::bench(args = ROWS)]
fn still(bencher: Bencher, rows: usize) {
    run(bencher, rows, 1.1, false);
}
