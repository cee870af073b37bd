//! A daemon without sockets, for tests: requests go straight into the router, live clients are
//! connected through pipes in memory, so that everything runs on made-up time.

use std::io;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use axum::Router;
use axum::body::{Body, Bytes, to_bytes};
use axum::http::{HeaderMap, Method, Request, StatusCode};
use axum::response::Response;
use axum::serve::Listener;
use futures_util::{SinkExt, StreamExt};
use tokio::io::{DuplexStream, duplex};
use tokio::sync::{mpsc, watch};
use tokio_tungstenite::tungstenite::client::IntoClientRequest;
use tokio_tungstenite::tungstenite::{Error, Message};
use tokio_tungstenite::{WebSocketStream, client_async};
use tower::ServiceExt;

use super::operator::{Gate, Keep};
use super::{FloorView, Order, ReloadOrder, Shared, Simulation, Source, assemble};
use crate::engine::slots::AllSlots;
use crate::engine::snapshot::{Dropped, Levels, State};
use crate::engine::voltages::Voltages;
use crate::floor::{FloorFile, testing};
use crate::power::tally::Energy;
use crate::store::book::BookPlace;

mod archive;
pub(super) mod here;
mod snapshots;

pub(super) use archive::MadeUp;
pub(super) use snapshots::{full_state, levels, state};

/// An answer, read to its end.
pub(super) struct Answer {
    pub(super) status: StatusCode,
    pub(super) headers: HeaderMap,
    pub(super) body: Bytes,
}

impl Answer {
    pub(super) fn json(&self) -> serde_json::Value {
        serde_json::from_slice(&self.body).unwrap()
    }
}

/// Asks `router` for `path` with `GET`.
pub(super) async fn ask(router: &Router, path: &str, headers: &[(&str, &str)]) -> Answer {
    ask_with(router, Method::GET, path, headers).await
}

/// Asks `router` for `path`.
pub(super) async fn ask_with(
    router: &Router,
    method: Method,
    path: &str,
    headers: &[(&str, &str)],
) -> Answer {
    let mut request = Request::builder().method(method).uri(path);
    for (name, value) in headers {
        request = request.header(*name, *value);
    }
    let request = request.body(Body::empty()).unwrap();
    read(router.clone().oneshot(request).await.unwrap()).await
}

/// Reads an answer to its end.
async fn read(answer: Response) -> Answer {
    let (parts, body) = answer.into_parts();
    let body = to_bytes(body, usize::MAX).await.unwrap();
    Answer {
        status: parts.status,
        headers: parts.headers,
        body,
    }
}

/// The test floor.
pub(super) fn view(revision: u32) -> Arc<FloorView> {
    let (floor, tables) = (Arc::new(testing::floor()), Arc::new(testing::tables()));
    Arc::new(FloorView::new(no_file(), &floor, &tables, revision, false))
}

/// The test floor is written by hand: no file describes it.
pub(super) fn no_file() -> FloorFile {
    FloorFile {
        name: "floor.toml".to_owned(),
        text: String::new(),
    }
}

/// Connections through memory instead of sockets.
struct Pipes(mpsc::UnboundedReceiver<DuplexStream>);

impl Listener for Pipes {
    type Io = DuplexStream;
    type Addr = ();

    async fn accept(&mut self) -> (DuplexStream, ()) {
        match self.0.recv().await {
            Some(pipe) => (pipe, ()),
            None => std::future::pending().await,
        }
    }

    fn local_addr(&self) -> io::Result<()> {
        Ok(())
    }
}

/// The daemon's web part and the other ends of its channels.
pub(super) struct Bench {
    pub(super) router: Router,
    pub(super) shared: Shared,
    pub(super) floor: watch::Sender<Arc<FloorView>>,
    pub(super) state: watch::Sender<Arc<State>>,
    pub(super) levels: watch::Sender<Arc<Levels>>,
    pub(super) orders: mpsc::Receiver<Order>,
    pub(super) slots: watch::Sender<Arc<AllSlots>>,
    pub(super) reloads: mpsc::Receiver<ReloadOrder>,
    pub(super) energy: watch::Sender<Arc<Energy>>,
    pub(super) dropped: watch::Sender<Option<Dropped>>,
    pub(super) surveys: super::SurveyEnds,
    pub(super) faults: super::FaultEnds,
    pub(super) book: crate::store::book::Book,
    watchers: Arc<AtomicUsize>,
    slot_watchers: Arc<AtomicUsize>,
    pub(super) voltages: watch::Sender<Arc<Voltages>>,
    pipes: mpsc::UnboundedSender<DuplexStream>,
}

impl Bench {
    pub(super) fn new() -> Self {
        Self::with_assets(Router::new())
    }

    pub(super) fn with_assets(assets: Router) -> Self {
        Self::with(Gate::open(Keep::Memory, None).unwrap(), assets)
    }

    pub(super) fn with(gate: Gate, assets: Router) -> Self {
        Self::of(gate, assets, None)
    }

    /// A floor that is simulated so.
    pub(super) fn simulated(simulation: Option<Arc<dyn Simulation>>) -> Self {
        let gate = Gate::open(Keep::Memory, None).unwrap();
        Self::of(gate, Router::new(), simulation)
    }

    fn of(gate: Gate, assets: Router, simulation: Option<Arc<dyn Simulation>>) -> Self {
        let (floor, floor_seen) = watch::channel(view(1));
        let (state, state_seen) = watch::channel(Arc::new(State {
            revision: 1,
            ..State::default()
        }));
        let (levels, levels_seen) = watch::channel(Arc::default());
        let (commands, orders) = mpsc::channel(1);
        let (slots, slots_seen) = watch::channel(Arc::default());
        let (voltages, voltages_seen) = watch::channel(Arc::default());
        let (reload, reloads) = mpsc::channel(1);
        let (energy, energy_seen) = watch::channel(Arc::default());
        let (dropped, dropped_seen) = watch::channel(None);
        let (watchers, slot_watchers) = (Arc::default(), Arc::default());
        let (survey, surveys) = super::Surveys::channels();
        let (faults, fault_ends) = super::Faults::channels();
        let book = crate::store::book::Book::open(&BookPlace::Memory).unwrap();
        let source = Source {
            floor: floor_seen,
            state: state_seen,
            levels: levels_seen,
            watchers: Arc::clone(&watchers),
            slots: slots_seen,
            slot_watchers: Arc::clone(&slot_watchers),
            voltages: voltages_seen,
            commands,
            reload,
            archive: Arc::new(MadeUp),
            energy: energy_seen,
            dropped: dropped_seen,
            simulation,
            survey,
            faults,
            book: Some(super::Book::new(Arc::new(book.clone()))),
        };
        let (router, keeper, shared) = assemble(source, gate, assets);
        tokio::spawn(keeper.run());
        let (pipes, accepted) = mpsc::unbounded_channel();
        let served = axum::serve(Pipes(accepted), router.clone());
        tokio::spawn(async move { served.await });
        Self {
            router,
            shared,
            floor,
            state,
            levels,
            orders,
            slots,
            reloads,
            energy,
            dropped,
            surveys,
            faults: fault_ends,
            book,
            watchers,
            slot_watchers,
            voltages,
            pipes,
        }
    }

    /// The data plane ends.
    pub(super) fn drop_state(&mut self) {
        self.state = watch::channel(Arc::default()).0;
    }

    pub(super) fn watchers(&self) -> usize {
        self.watchers.load(Ordering::Relaxed)
    }

    pub(super) fn slot_watchers(&self) -> usize {
        self.slot_watchers.load(Ordering::Relaxed)
    }

    pub(super) fn history_rows(&self) -> usize {
        self.shared.history.lock().unwrap().history().uptime_s.len()
    }

    /// A live client that says it comes from a page of `origin`.
    pub(super) async fn open(&self, origin: Option<&str>) -> Result<Live, Error> {
        self.open_through(1 << 16, origin).await
    }

    /// A live client whose connection holds `bytes` that nobody has read.
    pub(super) async fn open_through(
        &self,
        bytes: usize,
        origin: Option<&str>,
    ) -> Result<Live, Error> {
        let (client, server) = duplex(bytes);
        self.pipes.send(server).unwrap();
        let mut request = "ws://floor.local:8080/api/v1/live"
            .into_client_request()
            .unwrap();
        if let Some(origin) = origin {
            request
                .headers_mut()
                .insert("origin", origin.parse().unwrap());
        }
        let (stream, _) = client_async(request, client).await?;
        Ok(Live(stream))
    }
}

/// The status with which a live client was refused.
pub(super) fn refusal(error: &Error) -> StatusCode {
    match error {
        Error::Http(answer) => answer.status(),
        other => panic!("{other}"),
    }
}

/// A live client.
#[derive(Debug)]
pub(super) struct Live(WebSocketStream<DuplexStream>);

impl Live {
    /// The next message; nothing when the connection has ended.
    pub(super) async fn next(&mut self) -> Option<Bytes> {
        loop {
            match self.0.next().await?.ok()? {
                Message::Binary(bytes) => return Some(bytes),
                Message::Close(_) => return None,
                _ => {}
            }
        }
    }

    /// The next message of one kind; others are passed over.
    pub(super) async fn next_of(&mut self, kind: u8) -> Bytes {
        loop {
            let message = self.next().await.unwrap();
            if message[0] == kind {
                return message;
            }
        }
    }

    pub(super) async fn say(&mut self, message: Message) {
        self.0.send(message).await.unwrap();
    }

    /// Closes the connection and waits until the other side has done so too.
    pub(super) async fn leave(mut self) {
        self.0.close(None).await.unwrap();
        while self.0.next().await.is_some_and(|message| message.is_ok()) {}
    }
}
