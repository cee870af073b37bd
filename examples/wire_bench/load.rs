//! Console and nodes around a forwarder: how much it takes, and how long that takes.

use std::io;
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

use super::console::{BATCH, Console};
use super::process::{Forwarder, keep_to, processors};
use super::sink::{Arrived, Sink};

/// Frames that may be on their way at once when as many are sent as the forwarder takes: far less
/// than the sockets hold.
const WINDOW: u64 = 1_024;

/// Silence after which what has not come is lost.
const LOST_AFTER: Duration = Duration::from_millis(300);

/// Frames that a console which spreads them evenly sends together.
const TOGETHER: f64 = 16.0;

/// What came of a time of load.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Flow {
    pub(crate) sent: u64,
    pub(crate) arrived: Arrived,
    pub(crate) took: Duration,
    /// The forwarder's processor time.
    pub(crate) cpu: Duration,
}

impl Flow {
    pub(crate) fn lost(&self) -> u64 {
        self.sent - self.arrived.frames.min(self.sent)
    }

    pub(crate) fn per_second(&self) -> f64 {
        count(self.arrived.frames) / self.took.as_secs_f64()
    }

    /// Nanoseconds of processor time a frame.
    pub(crate) fn ns_a_frame(&self) -> f64 {
        1e9 * self.cpu.as_secs_f64() / count(self.arrived.frames.max(1))
    }

    /// The forwarder's share of one processor.
    pub(crate) fn busy(&self) -> f64 {
        self.cpu.as_secs_f64() / self.took.as_secs_f64()
    }
}

#[expect(
    clippy::cast_precision_loss,
    reason = "no count of frames comes near 2^53"
)]
pub(crate) fn count(frames: u64) -> f64 {
    frames as f64
}

/// Console and nodes.
pub(crate) struct Rig {
    pub(crate) console: Console,
    pub(crate) sink: Sink,
    /// Whether this and the forwarder's thread each keep to a processor.
    pinned: bool,
    next: usize,
}

impl Rig {
    pub(crate) fn new(universes: u32, brightest: u8, pinned: bool) -> io::Result<Self> {
        // They are counted before any thread is kept to one.
        processors();
        Ok(Self {
            pinned,
            console: Console::new(universes, brightest)?,
            sink: Sink::new(universes)?,
            next: 0,
        })
    }

    /// Sends to this forwarder from now on.
    pub(crate) fn meet(&mut self, forwarder: &Forwarder) -> io::Result<()> {
        if self.pinned {
            // Where there is one processor only, they share it.
            if let [first, .., last] = processors() {
                keep_to(0, &[*last])?;
                forwarder.keep_to(&[*first])?;
            }
        }
        self.console.aim(forwarder.artnet)
    }

    /// Sends the next frames, universe after universe, round and round.
    fn send(&mut self, most: usize) -> io::Result<()> {
        self.next += self.console.send(self.next, most)?;
        if self.next == self.console.universes() {
            self.next = 0;
        }
        Ok(())
    }

    /// Sends evenly until the forwarder passes on every frame of a second as it is: its nodes have
    /// answered, and it knows what they show.
    pub(crate) fn settle(&mut self, forwarder: &Forwarder) -> io::Result<()> {
        self.meet(forwarder)?;
        let universes = u32::try_from(self.console.universes()).unwrap_or(u32::MAX);
        let mut rate = (44.0 * f64::from(universes)).min(40_000.0);
        for _ in 0..60 {
            let flow = self.evenly(forwarder, rate, Duration::from_secs(1))?;
            if flow.sent > 0 && flow.lost() == 0 && flow.arrived.odd == 0 {
                return Ok(());
            }
            rate = (0.9 * rate).max(2_000.0);
        }
        Err(io::Error::other(
            "a minute has gone and the forwarder does not pass on all that it gets",
        ))
    }

    /// As much as the forwarder takes: a new frame is sent whenever one has arrived.
    pub(crate) fn as_fast_as_it_goes(
        &mut self,
        forwarder: &Forwarder,
        span: Duration,
    ) -> io::Result<Flow> {
        self.measured(forwarder, |rig, sent_before| {
            let start = Instant::now();
            let mut given_up = 0;
            loop {
                let over = start.elapsed() >= span;
                let arrived = &rig.sink.arrived;
                let told = arrived.frames + arrived.skipped + arrived.odd + given_up;
                let underway = (rig.console.sent - sent_before).saturating_sub(told);
                let room = !over && underway + BATCH as u64 <= WINDOW;
                if room {
                    rig.send(BATCH)?;
                } else if over && underway == 0 {
                    return Ok(());
                }
                if rig.sink.take()? + rig.sink.take()? == 0 && !room {
                    rig.sink.wait(LOST_AFTER)?;
                    if rig.sink.take()? == 0 {
                        given_up += underway;
                    }
                }
            }
        })
    }

    /// So many frames a second, as evenly as a console can.
    pub(crate) fn evenly(
        &mut self,
        forwarder: &Forwarder,
        rate: f64,
        span: Duration,
    ) -> io::Result<Flow> {
        self.measured(forwarder, |rig, sent_before| {
            let start = Instant::now();
            let together = Duration::from_secs_f64(TOGETHER / rate);
            loop {
                let passed = start.elapsed();
                if passed >= span {
                    return rig.last();
                }
                let due = rig.send_due(rate, passed, sent_before)?;
                if rig.sink.take()? == 0 && due < TOGETHER {
                    rig.sink.wait(together)?;
                }
            }
        })
    }

    /// Sends what a load of this rate owes after so long, a batch at most; says how much was owed.
    fn send_due(&mut self, rate: f64, passed: Duration, sent_before: u64) -> io::Result<f64> {
        let due = rate * passed.as_secs_f64() - count(self.console.sent - sent_before);
        if due >= 1.0 {
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "one at least, and a batch at most is sent"
            )]
            self.send(due as usize)?;
        }
        Ok(due)
    }

    /// Sends evenly to a forwarder that starts, until the first frame that is not black comes out, and
    /// says how long after `began` that was.
    pub(crate) fn until_first(&mut self, rate: f64, began: Instant) -> io::Result<Duration> {
        self.sink.begin();
        let sent_before = self.console.sent;
        loop {
            let passed = began.elapsed();
            let arrived = &self.sink.arrived;
            if arrived.frames + arrived.odd > 0 {
                return Ok(passed);
            }
            if passed > Duration::from_secs(60) {
                return Err(io::Error::other("nothing comes out for a minute"));
            }
            self.send_due(rate, passed, sent_before)?;
            if self.sink.take()? == 0 {
                self.sink.wait(Duration::from_secs_f64(TOGETHER / rate))?;
            }
        }
    }

    /// All universes back to back, so often a second. Tells how long after the last datagram went in
    /// the last came out, of every burst of which all came out; in microseconds, in order.
    pub(crate) fn bursts(
        &mut self,
        forwarder: &Forwarder,
        hertz: f64,
        span: Duration,
    ) -> io::Result<(Flow, Vec<f64>)> {
        let mut late_us = Vec::new();
        self.sink.stamp(true)?;
        let universes = self.console.universes();
        let flow = self.measured(forwarder, |rig, _| {
            let start = Instant::now();
            for number in 0.. {
                let due = Duration::from_secs_f64(f64::from(number) / hertz);
                if due >= span {
                    break;
                }
                rig.idle_until(start + due)?;
                let before = rig.sink.arrived.frames;
                let mut next = 0;
                while next < universes - 1 {
                    next += rig.console.send(next, BATCH.min(universes - 1 - next))?;
                }
                let went_in = unix();
                rig.console.send(next, 1)?;
                let next_due = Duration::from_secs_f64(f64::from(number + 1) / hertz);
                rig.idle_until(start + next_due)?;
                if rig.sink.arrived.frames - before == universes as u64 {
                    let late = rig.sink.arrived.at.as_secs_f64() - went_in.as_secs_f64();
                    late_us.push(1e6 * late);
                }
            }
            rig.last()
        })?;
        self.sink.stamp(false)?;
        late_us.sort_by(f64::total_cmp);
        Ok((flow, late_us))
    }

    /// Takes what arrives until then.
    pub(crate) fn idle_until(&mut self, then: Instant) -> io::Result<()> {
        loop {
            let left = then.saturating_duration_since(Instant::now());
            if self.sink.take()? == 0 {
                if left.is_zero() {
                    return Ok(());
                }
                self.sink.wait(left)?;
            }
        }
    }

    /// Waits for what is still on its way.
    fn last(&mut self) -> io::Result<()> {
        loop {
            self.sink.wait(LOST_AFTER)?;
            let before = self.sink.arrived.frames;
            while self.sink.take()? > 0 {}
            if self.sink.arrived.frames == before {
                return Ok(());
            }
        }
    }

    fn measured(
        &mut self,
        forwarder: &Forwarder,
        load: impl FnOnce(&mut Self, u64) -> io::Result<()>,
    ) -> io::Result<Flow> {
        self.sink.begin();
        let (sent, cpu, start) = (self.console.sent, forwarder.cpu()?, Instant::now());
        load(self, sent)?;
        Ok(Flow {
            sent: self.console.sent - sent,
            arrived: self.sink.arrived,
            took: start.elapsed(),
            cpu: forwarder.cpu()?.saturating_sub(cpu),
        })
    }
}

/// The kernel's clock of arrivals.
fn unix() -> Duration {
    SystemTime::now()
        .duration_since(UNIX_EPOCH)
        .unwrap_or_default()
}

/// The value below which this share of ordered ones lies (nearest rank).
pub(crate) fn percentile(ordered: &[f64], share: f64) -> f64 {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        clippy::cast_precision_loss,
        reason = "a place in a list"
    )]
    let place = (share * ordered.len() as f64).ceil() as usize;
    let value = ordered.get(place.saturating_sub(1)).copied();
    value.unwrap_or(f64::NAN)
}
