//! Assembles the parts and runs them until someone says stop: what `run` and `demo` share.

use std::future::IntoFuture;
use std::net::{SocketAddr, SocketAddrV4, TcpListener, UdpSocket};
use std::sync::Arc;
use std::sync::atomic::AtomicUsize;
use std::time::Duration;

use tokio::sync::{mpsc, oneshot, watch};
use tokio::task::JoinSet;

use super::failure::Failure;
use super::meter;
use super::records::Records;
use super::reload::{Hangups, Reader, Reloader};
use super::{health, survey, voltages};
use crate::engine::snapshot::Levels;
use crate::engine::{Engine, Me};
use crate::floor::{Floor, FloorFile, Tables};
use crate::net::clock::Clock;
use crate::net::plane::{self, Heard, Published};
use crate::net::{interfaces, socket};
use crate::store::Place;
use crate::web::{self, Faults, FloorView, Gate, Source, Surveys};

/// How long open connections and records may take to end after the order to stop.
const PATIENCE: Duration = Duration::from_millis(500);

/// How long the frames may, which take back a peak first.
const FRAMES_PATIENCE: Duration = Duration::from_millis(1_500);

/// Both sockets, open.
#[derive(Debug)]
pub(super) struct Sockets {
    artnet: UdpSocket,
    http: TcpListener,
    /// Where Art-Net is listened to.
    pub(super) artnet_at: SocketAddrV4,
    /// Where the dashboard is.
    pub(super) http_at: SocketAddr,
}

impl Sockets {
    /// Opens both, before anything else is done, so that a taken port is said at once.
    pub(super) fn open(artnet: SocketAddrV4, http: SocketAddr) -> Result<Self, Failure> {
        let artnet = socket::artnet(artnet.into()).map_err(Failure::machine)?;
        let http = socket::http(http).map_err(Failure::machine)?;
        let SocketAddr::V4(artnet_at) = artnet.local_addr().map_err(Failure::machine)? else {
            return Err(Failure::machine("the Art-Net socket has no IPv4 address"));
        };
        let http_at = http.local_addr().map_err(Failure::machine)?;
        Ok(Self {
            artnet,
            http,
            artnet_at,
            http_at,
        })
    }

    /// Says where Art-Net is listened to and where the dashboard is.
    pub(super) fn tell(&self) {
        println!("Art-Net in: {}", self.artnet_at);
        let port = self.http_at.port();
        let at = self.http_at.ip();
        if !at.is_unspecified() {
            println!("Dashboard: http://{}", self.http_at);
            if at.is_loopback() {
                println!("It is for this machine only; --http 0.0.0.0:{port} opens it to phones.");
            }
            return;
        }
        println!("Dashboard: http://127.0.0.1:{port}");
        let own = interfaces::list();
        for (address, _) in own.iter().filter(|(address, _)| !address.is_loopback()) {
            println!("From a phone on the same network: http://{address}:{port}");
        }
    }
}

/// The runtime of everything but the data plane.
pub(super) fn runtime() -> Result<tokio::runtime::Runtime, Failure> {
    tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .thread_name("web")
        .enable_all()
        .build()
        .map_err(|error| Failure::machine(format!("no threads can be started: {error}")))
}

/// A floor that is to run.
#[derive(Debug)]
pub(super) struct Plan {
    pub(super) file: FloorFile,
    pub(super) floor: Floor,
    pub(super) tables: Tables,
    /// How the file is read again; nothing for a simulated floor, which has none.
    pub(super) reader: Option<Reader>,
    pub(super) hangups: Hangups,
    /// Where the history of power is kept.
    pub(super) history: Place,
    /// What simulated sensors say.
    pub(super) simulated: Option<mpsc::Receiver<Vec<(String, f64)>>>,
    /// What is simulated of the floor.
    pub(super) simulation: Option<Arc<dyn web::Simulation>>,
}

/// Runs a floor until Ctrl-C or a signal to end, and gives the floor that ran last. `gate` lets
/// the operator change something. `stop` is turned true when it ends, so that what else runs can
/// end too.
#[expect(
    clippy::too_many_lines,
    reason = "it puts the parts together, one after the other"
)]
pub(super) async fn serve(
    plan: Plan,
    gate: Gate,
    sockets: Sockets,
    stop: watch::Sender<bool>,
) -> Result<Arc<Floor>, Failure> {
    let clock = Clock::start();
    let Plan { file, reader, .. } = plan;
    let (floor, tables) = (Arc::new(plan.floor), Arc::new(plan.tables));
    let (simulated, name) = (reader.is_none(), file.own_name());
    let view = Arc::new(FloorView::new(file, &floor, &tables, 1, simulated));
    let (networks, networks_seen) = watch::channel(interfaces::list());
    let me = Me {
        listener: sockets.artnet_at,
        interfaces: networks_seen.borrow().clone(),
    };
    let mut engine = Engine::new(floor, tables, me.clone(), clock.now());
    engine.set_file(&name, 1, clock.now());

    let (view, floor_seen) = watch::channel(view);
    let runs = floor_seen.clone();
    let (state, state_seen) = watch::channel(Arc::new(engine.state(clock.now())));
    let (levels, levels_seen) = watch::channel(Arc::new(Levels::default()));
    let watchers = Arc::new(AtomicUsize::new(0));
    let (slots, slots_seen) = watch::channel(Arc::default());
    let slot_watchers = Arc::new(AtomicUsize::new(0));
    let (sending, sending_seen) = watch::channel(Arc::default());
    let (presses, presses_seen) = watch::channel(Arc::default());
    let (found, voltages_seen) = watch::channel(Arc::default());
    let voltages_heard = voltages_seen.clone();
    let (survey, survey_heard) = watch::channel(None);
    let (surveys, survey_ends) = Surveys::channels();
    let (faults, fault_ends) = Faults::channels();
    let published = Published {
        state,
        levels,
        watchers: Arc::clone(&watchers),
        slots,
        slot_watchers: Arc::clone(&slot_watchers),
        sending,
        presses,
        survey,
    };
    let records = Records::start(plan.history, &state_seen, &floor_seen)?;
    let (commands, orders) = mpsc::channel(plane::MOST_ORDERS);
    let (reload, wishes) = mpsc::channel(1);
    let (to_plane, reread) = mpsc::channel(1);
    let reloader = Reloader {
        reader,
        hangups: plan.hangups,
        me,
        clock,
        view,
        plane: to_plane,
    };
    // What runs beside the frames; it ends when this is dropped.
    let mut beside = JoinSet::new();
    beside.spawn(voltages::follow(
        sending_seen,
        floor_seen.clone(),
        found,
        clock,
    ));
    let source = Source {
        floor: floor_seen,
        state: state_seen,
        levels: levels_seen,
        watchers,
        slots: slots_seen,
        slot_watchers,
        voltages: voltages_seen,
        commands,
        reload,
        archive: Arc::new(records.recorder.archive()),
        energy: records.energy.clone(),
        simulation: plan.simulation,
        survey: surveys,
        faults,
    };
    beside.spawn(survey::follow(
        source.clone(),
        survey_ends,
        survey_heard,
        clock,
    ));
    beside.spawn(health::follow(
        source.clone(),
        fault_ends,
        presses_seen,
        clock,
    ));
    beside.spawn(meter::run(source.clone(), &gate, plan.simulated));
    let (router, keeper) = web::router(source, gate, web::assets::router());
    let service = router.into_make_service_with_connect_info::<SocketAddr>();
    let http = tokio::net::TcpListener::from_std(sockets.http).map_err(Failure::machine)?;
    let mut plane_ended = stop.subscribe();
    let heard = Heard {
        interfaces: networks_seen,
        orders,
        reread,
        voltages: voltages_heard,
        stop: stop.subscribe(),
    };
    let frames =
        plane::start(sockets.artnet, engine, published, clock, heard).map_err(Failure::machine)?;
    beside.spawn(interfaces::follow(networks));
    let (join, died) = watched(frames);
    beside.spawn(keeper.run());
    beside.spawn(reloader.run(wishes));
    let web = tokio::spawn(axum::serve(http, service).into_future());

    let ended_early = tokio::select! {
        () = until_told() => false,
        _ = died => !*plane_ended.borrow_and_update(),
    };
    let _ = stop.send(true);
    drop(beside);
    web.abort();
    let why = ended(join, records).await;
    if !ended_early {
        return Ok(Arc::clone(&runs.borrow().floor));
    }
    Err(Failure::machine(format!(
        "the data plane has ended by itself: {why}"
    )))
}

/// What the data plane's thread gave, or its panic.
type Ended = std::thread::Result<std::io::Result<()>>;

/// Waits for the data plane's thread on another one, and says when it has ended: a thread that ends
/// without being told to must not leave a page that looks alive.
fn watched(
    frames: std::thread::JoinHandle<std::io::Result<()>>,
) -> (std::thread::JoinHandle<Ended>, oneshot::Receiver<()>) {
    let (dead, died) = oneshot::channel();
    let join = std::thread::spawn(move || {
        let ended = frames.join();
        let _ = dead.send(());
        ended
    });
    (join, died)
}

/// Lets the data plane and the records come to their end; gives why the data plane did, if it says.
async fn ended(join: std::thread::JoinHandle<Ended>, records: Records) -> String {
    let ended = tokio::task::spawn_blocking(move || join.join());
    let written = records.end();
    let ended = tokio::time::timeout(FRAMES_PATIENCE, ended).await;
    if tokio::time::timeout(PATIENCE, written).await.is_err() {
        tracing::warn!("the end of the history of power could not be written in time");
    }
    // Joined twice: by the blocking task, then by the thread that watched the data plane.
    match ended {
        Ok(Ok(Ok(Ok(Err(error))))) => error.to_string(),
        _ => "see the log above".to_owned(),
    }
}

/// Waits for Ctrl-C or, where there is one, a signal to end.
async fn until_told() {
    let interrupt = async {
        if tokio::signal::ctrl_c().await.is_err() {
            std::future::pending::<()>().await;
        }
    };
    #[cfg(unix)]
    {
        use tokio::signal::unix::{SignalKind, signal};
        if let Ok(mut terminate) = signal(SignalKind::terminate()) {
            tokio::select! {
                () = interrupt => {}
                _ = terminate.recv() => {}
            }
            return;
        }
    }
    interrupt.await;
}
