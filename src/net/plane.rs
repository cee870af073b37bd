//! The data plane: one thread that receives, decides and sends.

use std::io;
use std::net::UdpSocket;
use std::pin::pin;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread::JoinHandle;

use tokio::sync::{mpsc, oneshot, watch};

use super::batch::{Inbox, Outbox, Way};
use super::clock::Clock;
use super::processor;
use super::wait::{self, Came, Wait};
use crate::engine::command::Command;
use crate::engine::levels::Shown;
use crate::engine::look::Look;
use crate::engine::out::{Datagram, Outlet};
use crate::engine::report::Draft;
use crate::engine::sending::Sending;
use crate::engine::slots::AllSlots;
use crate::engine::snapshot::{PatternState, State};
use crate::engine::survey::News;
use crate::engine::switches::Presses;
use crate::engine::voltages::Voltages;
use crate::engine::{Engine, Interface};
use crate::floor::FaultRow;
use crate::floor::model::MachineSettings;
use crate::pattern::Refused;
use crate::units::Time;

/// Batches taken before anybody else is listened to.
const BATCHES: usize = 8;

/// What people look at is made when no datagram has come for so long, lest the next burst of a console
/// waits for it …
const QUIET_US: u64 = 1_000;

/// … but no later than this after its time, however many come.
const LATE_MS: u64 = 100;

/// Time between two published states, and between two published pictures.
const STATE_EVERY_MS: u64 = 200;
const LEVELS_EVERY_MS: u64 = 33;

/// Time between two publications of all slots.
const SLOTS_EVERY_MS: u64 = 100;

/// A peak that is on show when litfloor ends is given so long to be taken back, in milliseconds: what
/// the worst `[delivery]` needs is less.
const ENDS_WITHIN_MS: u64 = 1_000;

/// Time between two publications of what leaves.
const SENDING_EVERY_MS: u64 = 400;

/// Looks that may wait; when more would, their readings wait for the next.
pub const MOST_LOOKS: usize = 40;

/// Where the data plane publishes what people look at.
#[derive(Debug)]
pub struct Published {
    /// Five times a second.
    pub state: watch::Sender<Arc<State>>,
    /// Thirty times a second, while anyone watches.
    pub levels: watch::Sender<Arc<Shown>>,
    /// How many watch the picture.
    pub watchers: Arc<AtomicUsize>,
    /// Up to ten times a second, while anyone looks at slots.
    pub slots: watch::Sender<Arc<AllSlots>>,
    /// How many look at slots.
    pub slot_watchers: Arc<AtomicUsize>,
    /// What leaves, for the voltages: more than twice a second.
    pub sending: watch::Sender<Arc<Sending>>,
    /// What leaves with what sensors say of it, ten times a second where any measures current. The
    /// channel holds [`MOST_LOOKS`].
    pub looks: mpsc::Sender<Look>,
    /// Switches under panels, with every state.
    pub presses: watch::Sender<Arc<Presses>>,
    /// What is new of a survey.
    pub survey: watch::Sender<Option<Arc<News>>>,
}

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
                let Heard {
                    interfaces,
                    orders,
                    reread,
                    voltages,
                    stop,
                } = heard;
                Plane::new(
                    (socket, inbox, wait),
                    engine,
                    published,
                    clock,
                    (interfaces, voltages),
                )
                .run(orders, reread, stop)
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
    published: Published,
    clock: Clock,
    next_tick: Time,
    next_state: Time,
    next_levels: Time,
    next_slots: Time,
    next_sending: Time,
    next_look: Time,
    /// Buffers for the next picture.
    shown: Shown,
    /// The state before the last one that was published.
    spare: Option<Arc<State>>,
    /// The state that is being made.
    draft: Option<Draft>,
    interfaces: watch::Receiver<Vec<Interface>>,
    voltages: watch::Receiver<Arc<Voltages>>,
    /// When a datagram last came.
    heard: Time,
}

impl Plane {
    fn new(
        (socket, inbox, wait): (UdpSocket, Inbox, Wait),
        engine: Engine,
        published: Published,
        clock: Clock,
        (interfaces, voltages): (
            watch::Receiver<Vec<Interface>>,
            watch::Receiver<Arc<Voltages>>,
        ),
    ) -> Self {
        let now = clock.now();
        Self {
            outbox: Outbox::new(inbox.way()),
            inbox,
            wait,
            more: false,
            socket,
            engine,
            published,
            clock,
            next_tick: now,
            next_state: now,
            next_levels: now,
            next_slots: now,
            next_sending: now,
            next_look: now,
            shown: Shown::default(),
            spare: None,
            draft: None,
            interfaces,
            voltages,
            heard: now,
        }
    }

    async fn run(
        &mut self,
        mut orders: mpsc::Receiver<Order>,
        mut reread: mpsc::Receiver<Reread>,
        mut stop: watch::Receiver<bool>,
    ) {
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
                    self.pass_time();
                    // All that rings has been asked and has nothing: until it rings there is no other.
                    self.forward_alone();
                }
            }
            self.pass_time();
        }
        self.end_peaks().await;
    }

    /// Forwards and lets time pass until somebody rings.
    fn forward_alone(&mut self) {
        loop {
            if self.more && !self.wait.is_rung() {
                self.receive();
            } else {
                match self.wait.alone(self.next_wake()) {
                    Some(Came::Datagrams) => self.receive(),
                    Some(Came::Time) => {}
                    None => return,
                }
            }
            self.pass_time();
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

    /// When there is something to do although nobody says anything.
    fn next_wake(&self) -> Time {
        if self.more || self.draft.is_some() {
            return Time::default();
        }
        let if_any =
            |who: &AtomicUsize, due: Time| (who.load(Ordering::Relaxed) > 0).then_some(due);
        let looked_at = [
            Some(self.next_state),
            Some(self.next_sending),
            if_any(&self.published.watchers, self.next_levels),
            if_any(&self.published.slot_watchers, self.next_slots),
        ];
        let look = self.engine.looks_every_ms().map(|_| self.next_look);
        let due = looked_at.into_iter().flatten();
        due.map(|due| self.quiet_from(due))
            .chain(look)
            .fold(self.next_tick, Time::min)
    }

    /// From when on something that people look at may be made that is due then: it waits for a quiet
    /// moment.
    fn quiet_from(&self, due: Time) -> Time {
        let quiet = self.heard.plus_us(QUIET_US);
        due.max(quiet).min(due.plus_ms(LATE_MS))
    }

    /// Whether it is time for something that people look at.
    fn may(&self, due: Time, now: Time) -> bool {
        now >= self.quiet_from(due)
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
                        self.heard = now;
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
        self.next_state = now;
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
                self.next_levels = now;
                // Whoever waits for it may have gone away.
                let _ = done.send(other);
            }
            Reread::Refused(faults) => self.engine.refuse_file(faults, now),
        }
        self.next_state = now;
    }

    fn pass_time(&mut self) {
        let now = self.clock.now();
        if now >= self.next_tick {
            self.look_around();
            self.act(|engine, now, wire| engine.tick(now, wire));
            self.next_tick = self.engine.next_tick();
        }
        if let Some(news) = self.engine.survey_news() {
            self.published.survey.send_replace(Some(Arc::new(news)));
        }
        if self.draft.is_some() || self.may(self.next_state, now) {
            self.go_on_with_state(now);
        }
        if self.may(self.next_levels, now) && self.published.watchers.load(Ordering::Relaxed) > 0 {
            // On average, for quiet moments come late; what was missed is not made up for.
            let next = self.next_levels.plus_ms(LEVELS_EVERY_MS);
            self.next_levels = if now < next {
                next
            } else {
                now.plus_ms(LEVELS_EVERY_MS)
            };
            self.publish_levels(now);
        }
        if self.may(self.next_sending, now) {
            self.next_sending = now.plus_ms(SENDING_EVERY_MS);
            self.published
                .sending
                .send_replace(Arc::new(self.engine.sending(now)));
        }
        if now >= self.next_look
            && let Some(every_ms) = self.engine.looks_every_ms()
        {
            self.next_look = now.plus_ms(every_ms);
            // Whoever weighs the show may be slow, or gone.
            if let Ok(place) = self.published.looks.try_reserve() {
                place.send(self.engine.look(now));
            }
        }
        let look = || self.published.slot_watchers.load(Ordering::Relaxed) > 0;
        if self.may(self.next_slots, now) && look() {
            self.next_slots = now.plus_ms(SLOTS_EVERY_MS);
            self.published
                .slots
                .send_replace(Arc::new(self.engine.slots(now)));
        }
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

    /// Makes one more piece of a state, and publishes it when it is done. The state before the last one
    /// is written over, if nobody looks at it any more.
    fn go_on_with_state(&mut self, now: Time) {
        let mut draft = self.draft.take().unwrap_or_else(|| {
            self.next_state = now.plus_ms(STATE_EVERY_MS);
            let spare = self.spare.take().and_then(Arc::into_inner);
            self.engine.draft(spare)
        });
        if !self.engine.go_on(&mut draft) {
            self.draft = Some(draft);
            return;
        }
        let state = self.engine.state_of(draft, now);
        let before = self.published.state.send_replace(Arc::new(state));
        self.spare = Some(before);
        self.published
            .presses
            .send_replace(Arc::new(self.engine.presses()));
    }

    /// A copy of slots and no more: what becomes of it is painted and compared elsewhere.
    fn publish_levels(&mut self, now: Time) {
        let mut shown = std::mem::take(&mut self.shown);
        self.engine.shown(now, &mut shown);
        let before = self.published.levels.send_replace(Arc::new(shown));
        // Unless someone still paints it, its buffers serve again.
        self.shown = Arc::into_inner(before).unwrap_or_default();
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
