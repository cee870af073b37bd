//! One client of the live stream.
//!
//! It is always given the newest of everything, at its own pace: whatever is replaced while the
//! client takes something else is never sent. A client that takes nothing for ten seconds, or
//! answers no ping, is let go.

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

use axum::body::Bytes;
use axum::extract::ws::{Message, WebSocket};
use serde::Deserialize;
use tokio::sync::watch;
use tokio::time::{Instant, Interval};

use super::messages::{self, Picture};
use super::view::FloorView;
use super::{Shared, timers};
use crate::engine::snapshot::{Levels, State};

/// How long a client may take for one message.
const SEND_LIMIT: Duration = Duration::from_secs(10);

/// Time between pings.
const PING_EVERY: Duration = Duration::from_secs(10);

/// So many pings without any sign of life, and the client is gone.
const PINGS: u32 = 2;

/// Time between two states.
const STATE_EVERY: Duration = Duration::from_millis(250);

/// Most pictures a second.
const MOST_FPS: f64 = 30.0;

/// Why a session ends.
enum Ended {
    /// The client left, or broke the rules of the protocol.
    ByClient,
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

/// When something may be sent again.
struct Pace {
    every: Duration,
    next: Instant,
    /// Whether there is something new.
    due: bool,
}

impl Pace {
    fn new(every: Duration) -> Self {
        Self {
            every,
            next: timers::now(),
            due: true,
        }
    }

    /// It is sent now. The pace is kept on average, and what was missed is not made up for.
    fn sent(&mut self) {
        let now = timers::now();
        let late = now.saturating_duration_since(self.next);
        self.next = if late < self.every { self.next } else { now } + self.every;
        self.due = false;
    }
}

struct Session {
    watching: Option<(Watching, Picture)>,
    socket: WebSocket,
    shared: Shared,
    floor: watch::Receiver<Arc<FloorView>>,
    state: watch::Receiver<Arc<State>>,
    levels: watch::Receiver<Arc<Levels>>,
    levels_pace: Pace,
    state_pace: Pace,
    /// Frame counter of the picture that was sent last; nothing after a change of view.
    seen: Option<u32>,
    revision: u32,
    pixels: usize,
    pings: Interval,
    unanswered: u32,
}

/// Serves one client until it ends.
pub(super) async fn run(socket: WebSocket, shared: Shared) {
    let source = shared.source.clone();
    let mut session = Session {
        watching: Some((Watching::new(&source.watchers), Picture::Sent)),
        socket,
        shared,
        floor: source.floor,
        state: source.state,
        levels: source.levels,
        levels_pace: Pace::new(Duration::from_secs_f64(1.0 / MOST_FPS)),
        state_pace: Pace::new(STATE_EVERY),
        seen: None,
        revision: 0,
        pixels: 0,
        pings: timers::every(PING_EVERY),
        unanswered: 0,
    };
    match session.serve().await {
        Ended::ByClient => {}
        Ended::Lifeless => tracing::debug!("a live client was let go: it took nothing"),
        Ended::ByDaemon => drop(session.send(Message::Close(None)).await),
        Ended::Fault(error) => tracing::error!(%error, "a snapshot can't be written as JSON"),
    }
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
        (self.revision, self.pixels, self.seen) = (view.document.revision, view.pixels, None);
        self.send_bytes(view.layout.clone()).await?;
        self.send_levels().await?;
        self.send_state().await
    }

    /// Waits for the next thing that happens and deals with it.
    async fn step(&mut self) -> Result<(), Ended> {
        let watches = self.watching.is_some();
        tokio::select! {
            received = self.socket.recv() => match received {
                Some(Ok(message)) => self.hear(&message),
                Some(Err(_)) | None => Err(Ended::ByClient),
            },
            changed = self.floor.changed() => {
                changed.map_err(|_| Ended::ByDaemon)?;
                self.greet().await
            }
            changed = self.levels.changed(), if watches && !self.levels_pace.due => {
                self.levels_pace.due = true;
                changed.map_err(|_| Ended::ByDaemon)
            }
            () = timers::until(self.levels_pace.next), if watches && self.levels_pace.due => {
                self.send_levels().await
            }
            changed = self.state.changed(), if !self.state_pace.due => {
                self.state_pace.due = true;
                changed.map_err(|_| Ended::ByDaemon)
            }
            () = timers::until(self.state_pace.next), if self.state_pace.due => {
                self.send_state().await
            }
            _ = self.pings.tick() => self.ping().await,
        }
    }

    /// The newest picture, if it is news and belongs to this floor.
    async fn send_levels(&mut self) -> Result<(), Ended> {
        self.levels_pace.due = false;
        let Some((_, picture)) = self.watching else {
            return Ok(());
        };
        let newest = Arc::clone(&self.levels.borrow_and_update());
        let fits = messages::pixels(&newest, picture).len() == 3 * self.pixels;
        if !fits || self.seen == Some(newest.frame) {
            return Ok(());
        }
        self.seen = Some(newest.frame);
        self.levels_pace.sent();
        let message = self.shared.messages.levels(&newest, picture, self.revision);
        self.send_bytes(message).await
    }

    async fn send_state(&mut self) -> Result<(), Ended> {
        let newest = Arc::clone(&self.state.borrow_and_update());
        self.state_pace.sent();
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

    /// Takes what a client says; what can't be understood is no reason to leave it in the dark.
    fn hear(&mut self, message: &Message) -> Result<(), Ended> {
        self.unanswered = 0;
        let text = match message {
            Message::Text(text) => text,
            Message::Close(_) => return Err(Ended::ByClient),
            _ => return Ok(()),
        };
        let Ok(wish) = serde_json::from_str::<Wish>(text) else {
            return Ok(());
        };
        if let Some(fps) = wish.max_fps {
            self.levels_pace.every = Duration::from_secs_f64(1.0 / fps.clamp(1.0, MOST_FPS));
        }
        let Some(view) = wish.view else { return Ok(()) };
        let before = self.watching.as_ref().map(|(_, picture)| *picture);
        if view.picture() != before {
            self.seen = None;
            self.levels_pace.due = true;
            let watchers = &self.shared.source.watchers;
            self.watching = view
                .picture()
                .map(|picture| (Watching::new(watchers), picture));
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests;
