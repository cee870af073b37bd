//! The data plane: one thread that receives, decides and sends.

use std::io;
use std::net::UdpSocket;
use std::pin::pin;
use std::sync::Arc;
use std::thread::JoinHandle;

use tokio::sync::{mpsc, oneshot, watch};

use self::publishing::Publishing;
use super::batch::{Inbox, Outbox, Way};
use super::clock::Clock;
use super::processor;
use super::wait::{self, Came, Wait};
use crate::engine::command::Command;
use crate::engine::out::{Datagram, Outlet};
use crate::engine::snapshot::PatternState;
use crate::engine::voltages::Voltages;
use crate::engine::{Engine, Interface};
use crate::floor::FaultRow;
use crate::floor::model::MachineSettings;
use crate::pattern::Refused;
use crate::units::Time;

mod publishing;

pub use publishing::{MOST_LOOKS, Published};

/// Batches taken before anybody else is listened to.
const BATCHES: usize = 8;

/// A peak that is on show when litfloor ends is given so long to be taken back, in milliseconds: what
/// the worst `[delivery]` needs is less.
const ENDS_WITHIN_MS: u64 = 1_000;

/// Orders that may wait at one time. Whoever gives one more must be told that it is busy, not wait.
pub const MOST_ORDERS: usize = 32;

/// An order, and where its answer goes: the pattern that is shown then, or why it is not.
pub type Order = (
    Command,
    oneshot::Sender<Result<Option<PatternState>, Refused>>,
);

/// What came of reading the floor file again.
#[derive(Debug)]
pub enum Reread {
    /// Another floor: its engine takes over. Answered with the engine of before, which takes time to
    /// be dropped.
    Floor(Box<Engine>, oneshot::Sender<Box<Engine>>),
    /// It has faults, and the floor that runs goes on.
    Refused(Vec<FaultRow>),
}

/// What the data plane hears from the rest of the program.
#[derive(Debug)]
pub struct Heard {
    /// Networks of this machine.
    pub interfaces: watch::Receiver<Vec<Interface>>,
    /// Orders from people; the channel holds [`MOST_ORDERS`].
    pub orders: mpsc::Receiver<Order>,
    /// Floor files that were read again.
    pub reread: mpsc::Receiver<Reread>,
    /// Voltages that were found of what was sent.
    pub voltages: watch::Receiver<Arc<Voltages>>,
    /// Turns true when it is to end.
    pub stop: watch::Receiver<bool>,
}

/// How the data plane runs.
#[derive(Debug, Clone, Copy)]
pub struct How {
    /// In which way it takes and sends datagrams.
    pub way: Way,
    /// On which core, and how urgently, if the floor file says so.
    pub machine: MachineSettings,
}

impl How {
    /// In the best way that this system has.
    pub fn best(machine: MachineSettings) -> Self {
        let way = Way::best();
        Self { way, machine }
    }
}

/// Starts the data plane on a thread of its own. It ends when it hears so.
///
/// # Errors
/// When the thread can't be made.
pub fn start(
    socket: UdpSocket,
    How { way, machine }: How,
    engine: Engine,
    published: Published,
    clock: Clock,
    heard: Heard,
) -> io::Result<JoinHandle<io::Result<()>>> {
    std::thread::Builder::new()
        .name("frames".into())
        .spawn(move || {
            processor::settle(machine);
            let inbox = Inbox::new(&socket, way)?;
            tracing::info!(datagrams = inbox.way().name(), "the data plane runs");
            let waiting_on = socket.try_clone()?;
            wait::run(&waiting_on, way, clock, async |wait| {
                Plane::new(socket, inbox, wait, engine, published, clock, &heard)
                    .run(heard)
                    .await;
                Ok(())
            })
        })
}

struct Plane {
    wait: Wait,
    /// Whether more waits than was taken in one go.
    more: bool,
    socket: UdpSocket,
    inbox: Inbox,
    outbox: Outbox,
    engine: Engine,
    publishing: Publishing,
    clock: Clock,
    next_tick: Time,
    interfaces: watch::Receiver<Vec<Interface>>,
    voltages: watch::Receiver<Arc<Voltages>>,
}

impl Plane {
    fn new(
        socket: UdpSocket,
        inbox: Inbox,
        wait: Wait,
        engine: Engine,
        published: Published,
        clock: Clock,
        heard: &Heard,
    ) -> Self {
        let now = clock.now();
        Self {
            outbox: Outbox::new(inbox.way()),
            inbox,
            wait,
            more: false,
            socket,
            engine,
            publishing: Publishing::new(published, now),
            clock,
            next_tick: now,
            interfaces: heard.interfaces.clone(),
            voltages: heard.voltages.clone(),
        }
    }

    async fn run(&mut self, heard: Heard) {
        let Heard {
            mut orders,
            mut reread,
            mut stop,
            ..
        } = heard;
        let mut stopped = pin!(stop.wait_for(|&stop| stop));
        loop {
            let until = self.next_wake();
            tokio::select! {
                biased;
                _ = &mut stopped => break,
                Some(order) = orders.recv() => {
                    self.follow(order);
                    // Even a flood of orders leaves room for frames after each.
                    self.receive();
                }
                Some(reread) = reread.recv() => {
                    self.take_reread(reread);
                    self.receive();
                }
                came = self.wait.next(until, self.clock) => {
                    if came == Came::Datagrams || self.more {
                        self.receive();
                    }
                    // All that rings has been asked and has nothing: until it rings there is no other.
                    self.forward_alone();
                }
            }
            self.pass_time();
        }
        self.end_peaks().await;
        self.go_dark().await;
        self.act(|engine, now, wire| engine.say_goodbye(now, wire));
        self.publishing.publish_last(&self.engine, self.clock.now());
    }

    /// Forwards and lets time pass until somebody rings.
    fn forward_alone(&mut self) {
        loop {
            self.pass_time();
            if self.more && !self.wait.is_rung() {
                self.receive();
                continue;
            }
            match self.wait.alone(self.next_wake()) {
                Some(Came::Datagrams) => self.receive(),
                Some(Came::Time) => {}
                None => return,
            }
        }
    }

    /// Leaves nothing above its limit behind.
    async fn end_peaks(&mut self) {
        if !self.engine.peaking() {
            return;
        }
        let until = self.clock.now().plus_ms(ENDS_WITHIN_MS);
        self.act(|engine, now, wire| engine.end_peaks(now, wire));
        while self.engine.peaking() && self.clock.now() < until {
            let wake = self.engine.next_tick();
            self.wait.pause(wake, self.clock).await;
            self.act(|engine, now, wire| engine.tick(now, wire));
        }
    }

    /// Leaves nothing lit behind, if the floor file says so.
    async fn go_dark(&mut self) {
        let Some(until) = self.engine.begin_to_end(self.clock.now()) else {
            return;
        };
        tracing::info!("the floor is made dark, as its file says for the end (when_ended)");
        while self.clock.now() < until {
            let next = self.act(|engine, now, wire| engine.go_dark(now, wire));
            self.wait.pause(next, self.clock).await;
        }
    }

    /// When there is something to do although nobody says anything.
    fn next_wake(&self) -> Time {
        if self.more {
            return Time::default();
        }
        self.publishing.next(&self.engine).min(self.next_tick)
    }

    /// Lets the engine do something now, and sends what comes of it.
    fn act<T>(&mut self, act: impl FnOnce(&mut Engine, Time, &mut Wire<'_>) -> T) -> T {
        let now = self.clock.now();
        let mut wire = Wire {
            socket: &self.socket,
            outbox: &mut self.outbox,
        };
        let done = act(&mut self.engine, now, &mut wire);
        wire.flush(&mut self.engine, now);
        done
    }

    fn receive(&mut self) {
        self.more = true;
        for _ in 0..BATCHES {
            let now = self.clock.now();
            let at_once = self.engine.leaves_at_once();
            let engine = &mut self.engine;
            let mut wire = Wire {
                socket: &self.socket,
                outbox: &mut self.outbox,
            };
            let taken = self.inbox.receive(&self.socket, |datagrams| {
                engine.foresee(datagrams.iter().map(|&(_, bytes)| bytes));
                for &(from, bytes) in datagrams {
                    engine.handle(now, from, bytes, &mut wire);
                    if at_once {
                        wire.flush(engine, now);
                    }
                }
            });
            wire.flush(engine, now);
            match taken {
                Ok(taken) => {
                    if taken.datagrams > 0 {
                        self.publishing.datagrams_came(now);
                    }
                    if taken.all {
                        self.more = false;
                        self.wait.nothing_is_left();
                        break;
                    }
                }
                // A node that is not there may answer through ICMP; that is no fault of ours.
                Err(error) => tracing::debug!(%error, "receiving failed"),
            }
        }
        self.next_tick = self.engine.next_tick();
    }

    fn follow(&mut self, (command, answer): Order) {
        let done = self.act(|engine, now, wire| engine.command(now, command, wire));
        let now = self.clock.now();
        self.next_tick = self.engine.next_tick();
        // What people look at shows the change at once.
        self.publishing.state_is_due(now);
        // Who asked may have gone away since.
        let _ = answer.send(done);
    }

    fn take_reread(&mut self, reread: Reread) {
        let now = self.clock.now();
        match reread {
            Reread::Floor(mut other, done) => {
                std::mem::swap(&mut self.engine, &mut other);
                self.act(|engine, now, wire| engine.take_over(&mut other, now, wire));
                let took_us = self.clock.now().us_since(now);
                tracing::info!(took_us, "another floor has taken over");
                self.next_tick = now;
                self.publishing.picture_is_due(now);
                // Whoever waits for it may have gone away.
                let _ = done.send(other);
            }
            Reread::Refused(faults) => self.engine.refuse_file(faults, now),
        }
        self.publishing.state_is_due(now);
    }

    fn pass_time(&mut self) {
        let now = self.clock.now();
        if now >= self.next_tick {
            self.look_around();
            self.act(|engine, now, wire| engine.tick(now, wire));
            self.next_tick = self.engine.next_tick();
        }
        self.publishing.pass(&mut self.engine, now);
    }

    /// Takes what was found beside the frames.
    fn look_around(&mut self) {
        if self.interfaces.has_changed().unwrap_or(false) {
            let now = self.interfaces.borrow_and_update().clone();
            self.engine.set_interfaces(now);
        }
        if self.voltages.has_changed().unwrap_or(false) {
            self.engine.see_voltages(&self.voltages.borrow_and_update());
        }
    }
}

/// Sends what the engine says, and nothing else: it waits in the outbox until that is flushed.
struct Wire<'a> {
    socket: &'a UdpSocket,
    outbox: &'a mut Outbox,
}

impl Wire<'_> {
    /// Sends what waits, and tells the engine what the system did not take.
    fn flush(&mut self, engine: &mut Engine, now: Time) {
        self.outbox.flush(self.socket, |to, error| {
            // Counted by node and shown; a log line a frame would be a flood.
            tracing::debug!(%error, %to, "sending failed");
            engine.refused(to, now);
        });
    }
}

impl Outlet for Wire<'_> {
    fn send(&mut self, datagram: Datagram<'_>) -> bool {
        self.outbox
            .put(self.socket, datagram.to(), datagram.parts());
        true
    }
}
