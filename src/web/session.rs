//! One client of the live stream.
//!
//! It is always given the newest of everything, at its own pace: whatever is replaced while the
//! client takes something else is never sent. A client that takes nothing for ten seconds, or
//! answers no ping, is let go.

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

use axum::body::Bytes;
use axum::extract::ws::{CloseFrame, Message, WebSocket};
use serde::Deserialize;
use tokio::sync::{oneshot, watch};
use tokio::time::Interval;

use self::pace::{MOST_FPS, Pace, Stream};
use self::ribbons::Ribbons;
use super::messages::{self, Picture};
use super::view::FloorView;
use super::{Shared, timers};
use crate::engine::slots::{AllSlots, Reference};
use crate::engine::snapshot::{Levels, State};
use crate::engine::voltages::Voltages;

mod pace;
mod ribbons;
mod voltages;

/// How long a client may take for one message.
const SEND_LIMIT: Duration = Duration::from_secs(10);

/// Time between pings.
const PING_EVERY: Duration = Duration::from_secs(10);

/// So many pings without any sign of life, and the client is gone.
const PINGS: u32 = 2;

/// So much may a client say from ping to ping; a page says some ten things when somebody is busy with it.
const MOST_SAID: u32 = 1_000;

/// Codes of the registry of RFC 6455, section 11.7: a policy was broken; come again later.
const POLICY: u16 = 1_008;
const LATER: u16 = 1_013;

/// Time between two states.
const STATE_EVERY: Duration = Duration::from_millis(250);

/// Why a session ends.
enum Ended {
    /// The client left, or broke the rules of the protocol.
    ByClient,
    /// Somebody else needs its seat.
    Crowded,
    /// It says more than any page does.
    Noisy,
    /// It took a message too slowly, or did not answer.
    Lifeless,
    /// The daemon stops.
    ByDaemon,
    /// A snapshot could not be written.
    Fault(serde_json::Error),
}

/// What a client may say.
#[derive(Debug, Deserialize)]
struct Wish {
    view: Option<View>,
    max_fps: Option<f64>,
    /// So often the other view too.
    also_fps: Option<f64>,
    /// The id that it had before, or nothing, to be given one.
    me: Option<String>,
    /// Port-Addresses whose slots are looked at; none ends it.
    slots: Option<Vec<String>>,
    /// What is sent on purpose, to be compared with the floor file.
    reference: Option<Reference>,
    /// Whether changes of pictures are understood, and are to come in place of whole ones.
    deltas: Option<bool>,
    /// Whether voltages come.
    voltages: Option<bool>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
enum View {
    Sent,
    Asked,
    None,
}

impl View {
    const fn picture(self) -> Option<Picture> {
        match self {
            Self::Sent => Some(Picture::Sent),
            Self::Asked => Some(Picture::Asked),
            Self::None => None,
        }
    }
}

/// Counts this client among those that watch the picture, for as long as it lives.
struct Watching(Arc<AtomicUsize>);

impl Watching {
    fn new(watchers: &Arc<AtomicUsize>) -> Self {
        watchers.fetch_add(1, Ordering::Relaxed);
        Self(Arc::clone(watchers))
    }
}

impl Drop for Watching {
    fn drop(&mut self) {
        self.0.fetch_sub(1, Ordering::Relaxed);
    }
}

struct Session {
    watching: Option<Watching>,
    /// The view that the client looks at, if any.
    main: Option<Picture>,
    /// As sent, as asked: each keeps its own pace.
    streams: [Stream; 2],
    socket: WebSocket,
    shared: Shared,
    floor: watch::Receiver<Arc<FloorView>>,
    state: watch::Receiver<Arc<State>>,
    levels: watch::Receiver<Arc<Levels>>,
    slots: watch::Receiver<Arc<AllSlots>>,
    ribbons: Option<Ribbons>,
    voltages: watch::Receiver<Arc<Voltages>>,
    voltages_pace: Option<Pace>,
    max_fps: f64,
    deltas: bool,
    state_pace: Pace,
    revision: u32,
    pixels: usize,
    pings: Interval,
    unanswered: u32,
    /// What it said since the last ping.
    said: u32,
    /// Comes when another needs its seat.
    leave: oneshot::Receiver<()>,
    /// The id that it goes by, if it asked for one.
    id: Option<String>,
}

/// Serves one client until it ends; gives the id that it went by.
pub(super) async fn run(
    socket: WebSocket,
    shared: Shared,
    leave: oneshot::Receiver<()>,
) -> Option<String> {
    let source = shared.source.clone();
    let mut session = Session {
        watching: Some(Watching::new(&source.watchers)),
        main: Some(Picture::Sent),
        streams: [Picture::Sent, Picture::Asked].map(Stream::new),
        socket,
        shared,
        floor: source.floor,
        state: source.state,
        levels: source.levels,
        slots: source.slots,
        ribbons: None,
        voltages: source.voltages,
        voltages_pace: None,
        max_fps: MOST_FPS,
        deltas: false,
        state_pace: Pace::new(STATE_EVERY),
        revision: 0,
        pixels: 0,
        pings: timers::every(PING_EVERY),
        unanswered: 0,
        said: 0,
        leave,
        id: None,
    };
    session.streams[Picture::Sent as usize].wanted = true;
    match session.serve().await {
        Ended::ByClient => {}
        Ended::Lifeless => tracing::debug!("a live client was let go: it took nothing"),
        Ended::ByDaemon => drop(session.send(Message::Close(None)).await),
        Ended::Crowded => session.close(LATER, "others need the place").await,
        Ended::Noisy => session.close(POLICY, "too many messages").await,
        Ended::Fault(error) => tracing::error!(%error, "a snapshot can't be written as JSON"),
    }
    session.id
}

impl Session {
    async fn serve(&mut self) -> Ended {
        let mut done = self.greet().await;
        while done.is_ok() {
            done = self.step().await;
        }
        done.err().unwrap_or(Ended::ByDaemon)
    }

    /// The layout, then the picture and the state that belong to it.
    async fn greet(&mut self) -> Result<(), Ended> {
        let view = Arc::clone(&self.floor.borrow_and_update());
        (self.revision, self.pixels) = (view.document.revision, view.pixels);
        self.send_bytes(view.layout()).await?;
        for at in 0..self.streams.len() {
            self.streams[at].seen = None;
            self.send_levels(at).await?;
        }
        self.send_state().await
    }

    /// Waits for the next thing that happens and deals with it.
    async fn step(&mut self) -> Result<(), Ended> {
        // News wakes every stream that waits for some; the earliest that has news is served first.
        let idle = (self.streams.iter()).any(|stream| stream.wanted && !stream.pace.due);
        let first = (self.streams.iter().enumerate())
            .filter(|(_, stream)| stream.wanted && stream.pace.due)
            .map(|(at, stream)| (stream.pace.next, at))
            .min();
        let (next, at) = first.unwrap_or((self.state_pace.next, 0));
        let ribbons = self.ribbons.as_ref().map(|ribbons| &ribbons.pace);
        let (looks, due) = (ribbons.is_some(), ribbons.is_some_and(|pace| pace.due));
        let next_slots = ribbons.map_or(next, |pace| pace.next);
        let volts = self.voltages_pace.as_ref();
        let (wants_volts, volts_due) = (volts.is_some(), volts.is_some_and(|pace| pace.due));
        let next_volts = volts.map_or(next, |pace| pace.next);
        tokio::select! {
            received = self.socket.recv() => match received {
                Some(Ok(message)) => {
                    let asks = self.hear(&message)?;
                    if asks { self.send_id().await } else { Ok(()) }
                }
                Some(Err(_)) | None => Err(Ended::ByClient),
            },
            changed = self.floor.changed() => {
                changed.map_err(|_| Ended::ByDaemon)?;
                self.greet().await
            }
            changed = self.levels.changed(), if idle => {
                for stream in &mut self.streams {
                    stream.pace.due = true;
                }
                changed.map_err(|_| Ended::ByDaemon)
            }
            () = timers::until(next), if first.is_some() => self.send_levels(at).await,
            changed = self.slots.changed(), if looks && !due => {
                if let Some(ribbons) = &mut self.ribbons {
                    ribbons.pace.due = true;
                }
                changed.map_err(|_| Ended::ByDaemon)
            }
            () = timers::until(next_slots), if due => self.send_slots().await,
            changed = self.voltages.changed(), if wants_volts && !volts_due => {
                if let Some(pace) = &mut self.voltages_pace {
                    pace.due = true;
                }
                changed.map_err(|_| Ended::ByDaemon)
            }
            () = timers::until(next_volts), if volts_due => self.send_voltages().await,
            changed = self.state.changed(), if !self.state_pace.due => {
                self.state_pace.due = true;
                changed.map_err(|_| Ended::ByDaemon)
            }
            () = timers::until(self.state_pace.next), if self.state_pace.due => {
                self.send_state().await
            }
            _ = &mut self.leave => Err(Ended::Crowded),
            _ = self.pings.tick() => self.ping().await,
        }
    }

    /// The newest picture of one stream, if it is news to it and belongs to this floor.
    async fn send_levels(&mut self, at: usize) -> Result<(), Ended> {
        let stream = &mut self.streams[at];
        stream.pace.due = false;
        if !stream.wanted {
            return Ok(());
        }
        let picture = stream.picture;
        // Not marked as seen: what is newest now may still be news to the other stream.
        let newest = Arc::clone(&self.levels.borrow());
        let channels = usize::from(newest.channels);
        let levels = messages::pixels(&newest, picture).len();
        // Before the first picture there are no channels.
        let fits =
            newest.revision == self.revision && channels > 0 && levels == channels * self.pixels;
        if !fits || (stream.seen.as_ref()).is_some_and(|seen| seen.frame == newest.frame) {
            return Ok(());
        }
        stream.pace.sent();
        let messages = &self.shared.messages;
        let message = match stream.seen.replace(Arc::clone(&newest)) {
            Some(seen) if self.deltas => messages.delta(&seen, &newest, picture),
            _ => messages.levels(&newest, picture, self.revision),
        };
        self.send_bytes(message).await
    }

    async fn send_state(&mut self) -> Result<(), Ended> {
        let newest = Arc::clone(&self.state.borrow_and_update());
        self.state_pace.sent();
        // The state and the layout of a new floor come one after the other.
        if newest.revision != self.revision {
            return Ok(());
        }
        let message = self
            .shared
            .messages
            .state(&newest, self.revision)
            .map_err(Ended::Fault)?;
        self.send_bytes(message).await
    }

    async fn ping(&mut self) -> Result<(), Ended> {
        if self.unanswered == PINGS {
            return Err(Ended::Lifeless);
        }
        self.unanswered += 1;
        self.said = 0;
        self.send(Message::Ping(Bytes::new())).await
    }

    async fn send_bytes(&mut self, message: Bytes) -> Result<(), Ended> {
        self.send(Message::Binary(message)).await
    }

    async fn send(&mut self, message: Message) -> Result<(), Ended> {
        match timers::within(SEND_LIMIT, self.socket.send(message)).await {
            Ok(Ok(())) => Ok(()),
            Ok(Err(_)) => Err(Ended::ByClient),
            Err(_) => Err(Ended::Lifeless),
        }
    }

    /// Ends it with a word why.
    async fn close(&mut self, code: u16, reason: &'static str) {
        let frame = CloseFrame {
            code,
            reason: reason.into(),
        };
        drop(self.send(Message::Close(Some(frame))).await);
    }

    async fn send_id(&mut self) -> Result<(), Ended> {
        match &self.id {
            Some(id) => self.send_bytes(messages::id(id)).await,
            None => Ok(()),
        }
    }

    /// Takes what a client says, and tells whether it asks for its id; what can't be understood is
    /// no reason to leave it in the dark.
    fn hear(&mut self, message: &Message) -> Result<bool, Ended> {
        self.unanswered = 0;
        self.said += 1;
        if self.said > MOST_SAID {
            return Err(Ended::Noisy);
        }
        let text = match message {
            Message::Text(text) => text,
            Message::Close(_) => return Err(Ended::ByClient),
            _ => return Ok(false),
        };
        let Ok(wish) = serde_json::from_str::<Wish>(text) else {
            return Ok(false);
        };
        if let Some(fps) = wish.max_fps {
            self.max_fps = fps;
        }
        if let Some(deltas) = wish.deltas {
            self.deltas = deltas;
        }
        if let Some(named) = &wish.slots {
            self.look_at_slots(named, wish.reference);
        }
        if let Some(wanted) = wish.voltages {
            self.want_voltages(wanted);
        }
        match wish.view {
            Some(view) => self.look(view.picture(), wish.also_fps),
            None => {
                if let Some(main) = self.main {
                    self.streams[main as usize].want(self.max_fps, false);
                }
            }
        }
        if let (None, Some(me)) = (&self.id, &wish.me) {
            // Without random numbers nothing can end with it, which it is told when it asks.
            self.id = self.shared.presences.came(me).ok();
        }
        Ok(wish.me.is_some())
    }

    /// The client looks at `main`, and `also_fps` times a second at the other view.
    fn look(&mut self, main: Option<Picture>, also_fps: Option<f64>) {
        let changed = main != self.main;
        self.main = main;
        let max_fps = self.max_fps;
        for stream in &mut self.streams {
            match (main, also_fps) {
                (Some(main), _) if main == stream.picture => stream.want(max_fps, changed),
                (Some(_), Some(fps)) => stream.want(fps, false),
                _ => stream.wanted = false,
            }
        }
        if main.is_none() {
            self.watching = None;
        } else if self.watching.is_none() {
            self.watching = Some(Watching::new(&self.shared.source.watchers));
        }
    }
}

#[cfg(test)]
mod tests;
