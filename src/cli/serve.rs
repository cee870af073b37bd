//! Assembles the parts and runs them until someone says stop: what `run` and `demo` share.

use std::sync::Arc;
use std::sync::atomic::AtomicUsize;
use std::time::Duration;

use tokio::sync::{mpsc, oneshot, watch};
use tokio::task::JoinSet;

use super::doors::Pages;
use super::failure::Failure;
use super::meter;
use super::records::Records;
use super::reload::{Hangups, Reader, Reloader};
use super::sockets::Sockets;
use super::{book, health, keeping, show, standby, survey, voltages, watchdog};
use crate::engine::levels::Shown;
use crate::engine::look::Look;
use crate::engine::sending::Sending;
use crate::engine::slots::AllSlots;
use crate::engine::snapshot::{Dropped, Levels, StandbyState, State};
use crate::engine::standby::Setup;
use crate::engine::survey::News;
use crate::engine::switches::Presses;
use crate::engine::voltages::Voltages;
use crate::engine::{Engine, Me};
use crate::floor::{Floor, FloorFile, Tables};
use crate::net::clock::Clock;
use crate::net::drops::Drops;
use crate::net::plane::{self, Heard, How, Published};
use crate::net::{interfaces, processor};
use crate::store::Place;
use crate::units::Time;
use crate::web::{self, FaultEnds, Faults, FloorView, Gate, Source, SurveyEnds, Surveys};

/// How long open connections and records may take to end after the order to stop.
const PATIENCE: Duration = Duration::from_millis(500);

/// How long the frames may, which take back a peak first.
const FRAMES_PATIENCE: Duration = Duration::from_millis(1_500);

/// The runtime of everything but the data plane.
pub(super) fn runtime() -> Result<tokio::runtime::Runtime, Failure> {
    tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .thread_name("web")
        .on_thread_start(processor::stand_back)
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
    /// The other litfloor, if this one has one that stands by.
    pub(super) standby: Option<Setup>,
}

/// What the data plane publishes, for the rest of the program.
struct Seen {
    state: watch::Receiver<Arc<State>>,
    levels: watch::Receiver<Arc<Shown>>,
    watchers: Arc<AtomicUsize>,
    slots: watch::Receiver<Arc<AllSlots>>,
    slot_watchers: Arc<AtomicUsize>,
    sending: watch::Receiver<Arc<Sending>>,
    looks: mpsc::Receiver<Look>,
    presses: watch::Receiver<Arc<Presses>>,
    survey: watch::Receiver<Option<Arc<News>>>,
}

/// Both ends of all that the data plane publishes.
fn publish(engine: &Engine, now: Time) -> (Published, Seen) {
    let (state, state_seen) = watch::channel(Arc::new(engine.state(now)));
    let (levels, levels_seen) = watch::channel(Arc::new(Shown::default()));
    let watchers = Arc::new(AtomicUsize::new(0));
    let (slots, slots_seen) = watch::channel(Arc::default());
    let slot_watchers = Arc::new(AtomicUsize::new(0));
    let (sending, sending_seen) = watch::channel(Arc::default());
    let (looks, looks_seen) = mpsc::channel(plane::MOST_LOOKS);
    let (presses, presses_seen) = watch::channel(Arc::default());
    let (survey, survey_seen) = watch::channel(None);
    let seen = Seen {
        state: state_seen,
        levels: levels_seen,
        watchers: Arc::clone(&watchers),
        slots: slots_seen,
        slot_watchers: Arc::clone(&slot_watchers),
        sending: sending_seen,
        looks: looks_seen,
        presses: presses_seen,
        survey: survey_seen,
    };
    let published = Published {
        state,
        levels,
        watchers,
        slots,
        slot_watchers,
        sending,
        looks,
        presses,
        survey,
    };
    (published, seen)
}

/// Where those who think beside the frames hear wishes and tell what they found.
struct Ends {
    levels: watch::Sender<Arc<Levels>>,
    voltages: watch::Sender<Arc<Voltages>>,
    survey: SurveyEnds,
    faults: FaultEnds,
}

/// Lets all think that do so beside the frames.
fn think(beside: &mut JoinSet<()>, source: &Source, seen: Seen, ends: Ends, clock: Clock) {
    let sending = seen.sending;
    let floor = source.floor.clone();
    beside.spawn(web::paint(seen.levels, floor.clone(), ends.levels));
    beside.spawn(voltages::follow(sending, floor, ends.voltages, clock));
    let news = seen.survey.clone();
    beside.spawn(survey::follow(source.clone(), ends.survey, news, clock));
    let (said, heard_of_show) = mpsc::channel(4);
    let (words, words_heard) = mpsc::channel(16);
    let heard = show::Heard {
        looks: seen.looks,
        survey: seen.survey,
        presses: seen.presses.clone(),
        words: words_heard,
    };
    beside.spawn(show::follow(source.clone(), heard, said, clock));
    let ear = health::Ear {
        presses: seen.presses,
        show: heard_of_show,
        words,
    };
    beside.spawn(health::follow(source.clone(), ends.faults, ear, clock));
}

/// The engine of a floor that begins.
fn begin(
    file: &FloorFile,
    (floor, tables): (&Arc<Floor>, &Arc<Tables>),
    me: Me,
    other: Option<Setup>,
    now: Time,
) -> Engine {
    let mut engine = Engine::new(Arc::clone(floor), Arc::clone(tables), me, now);
    engine.set_file(&file.own_name(), 1, now);
    engine.set_file_number(standby::number(&file.text));
    if let Some(other) = other {
        engine.set_standby(other, now);
    }
    engine
}

/// What is kept beside the frames: the book, if it can be had, and the records.
fn keep(
    history: Place,
    seen: &Seen,
    floor: &watch::Receiver<Arc<FloorView>>,
) -> Result<(book::Opened, Records), Failure> {
    let book = book::open(&history);
    let records = Records::start(history, &seen.state, floor)?;
    Ok((book, records))
}

/// Ends frames that had hardly begun, for something else can't be had.
async fn end_frames(
    frames: std::thread::JoinHandle<std::io::Result<()>>,
    stop: &watch::Sender<bool>,
) {
    // Whoever listens may have ended already.
    let _ = stop.send(true);
    // Why it can't go on is said by what failed.
    let _ = tokio::task::spawn_blocking(move || frames.join()).await;
}

/// What ran last, when it ends.
#[derive(Debug)]
pub(super) struct Last {
    pub(super) floor: Arc<Floor>,
    pub(super) standby: Option<StandbyState>,
}

impl Last {
    fn of(view: &FloorView, state: &State) -> Self {
        Self {
            floor: Arc::clone(&view.floor),
            standby: state.standby.clone(),
        }
    }
}

/// Runs a floor until Ctrl-C or a signal to end, and gives what ran last. `gate` lets
/// the operator change something. `stop` is turned true when it ends, so that what else runs can
/// end too.
pub(super) async fn serve(
    plan: Plan,
    gate: Gate,
    sockets: Sockets,
    stop: watch::Sender<bool>,
) -> Result<Last, Failure> {
    // Before anybody can see that it runs: who sees that may end it.
    let told = until_told();
    let clock = Clock::start();
    let (networks, networks_seen) = watch::channel(interfaces::list());
    let me = Me {
        listener: sockets.artnet_at,
        interfaces: networks_seen.borrow().clone(),
    };
    let simulated = plan.reader.is_none();
    let started_with = (plan.floor.machine, plan.floor.network.standby);
    let machine = plan.floor.machine;
    let (running, tables) = (Arc::new(plan.floor), Arc::new(plan.tables));
    let laid = (&running, &tables);
    let engine = begin(&plan.file, laid, me.clone(), plan.standby, clock.now());
    let (published, seen) = publish(&engine, clock.now());
    let (commands, orders) = mpsc::channel(plane::MOST_ORDERS);
    let (reload, wishes) = mpsc::channel(1);
    let (to_plane, reread) = mpsc::channel(1);
    let (found, voltages) = watch::channel(Arc::default());
    let (survey, survey_ends) = Surveys::channels();
    let (faults, fault_ends) = Faults::channels();
    let heard = Heard {
        interfaces: networks_seen,
        orders,
        reread,
        voltages: voltages.clone(),
        stop: stop.subscribe(),
    };
    let pages = Pages::of(sockets.http, sockets.doors)?;
    let dropped = Drops::of(&sockets.artnet);
    // The frames first. All else waits for a disk or makes what people look at.
    let frames = plane::start(
        sockets.artnet,
        How::best(machine),
        engine,
        published,
        clock,
        heard,
    )
    .map_err(Failure::machine)?;
    processor::stand_back();
    let view = FloorView::new(plan.file, &running, &tables, 1, simulated);
    drop((running, tables));
    let (view, floor) = watch::channel(Arc::new(view));
    let (runs, states) = (floor.clone(), seen.state.clone());
    let (book, records) = match keep(plan.history, &seen, &floor) {
        Ok(kept) => kept,
        Err(why) => {
            end_frames(frames, &stop).await;
            return Err(why);
        }
    };
    let reloader = Reloader {
        reader: plan.reader,
        hangups: plan.hangups,
        me,
        clock,
        view,
        plane: to_plane,
        started_with,
    };
    let (levels, painted) = watch::channel(Arc::default());
    // What runs beside the frames; it ends when this is dropped.
    let mut beside = JoinSet::new();
    let dropped = count_drops(&mut beside, dropped, clock);
    let source = Source {
        floor,
        state: seen.state.clone(),
        levels: painted,
        watchers: Arc::clone(&seen.watchers),
        slots: seen.slots.clone(),
        slot_watchers: Arc::clone(&seen.slot_watchers),
        voltages,
        commands,
        reload,
        archive: Arc::new(records.recorder.archive()),
        energy: records.energy.clone(),
        dropped,
        simulation: plan.simulation,
        survey,
        faults,
        book: book::for_pages(book.book.as_ref()),
    };
    let ends = Ends {
        levels,
        voltages: found,
        survey: survey_ends,
        faults: fault_ends,
    };
    think(&mut beside, &source, seen, ends, clock);
    tend(&mut beside, &source, book);
    beside.spawn(meter::run(source.clone(), &gate, plan.simulated));
    beside.spawn(interfaces::follow(networks));
    beside.spawn(reloader.run(wishes));
    let watchdog = tokio::spawn(watchdog::follow(source.state.clone(), stop.subscribe()));
    pages.serve(&mut beside, source, gate);
    let end = run_until_told(told, frames, &stop).await;
    drop(beside);
    // It says at once that this is the end.
    let _ = tokio::time::timeout(PATIENCE, watchdog).await;
    come_to_rest(end, records).await?;
    Ok(Last::of(&runs.borrow(), &states.borrow()))
}

/// Keeps the book, and says what can't be kept.
fn tend(beside: &mut JoinSet<()>, source: &Source, opened: book::Opened) {
    if let Some(book) = opened.book {
        beside.spawn(book::follow(source.clone(), book));
    }
    beside.spawn(keeping::follow(source.clone(), opened.not_kept));
}

/// Counts what the system throws away, where it tells.
fn count_drops(
    beside: &mut JoinSet<()>,
    drops: Option<Drops>,
    clock: Clock,
) -> watch::Receiver<Option<Dropped>> {
    let (told, dropped) = watch::channel(None);
    drops.map(|drops| beside.spawn(drops.follow(told, clock)));
    dropped
}

/// Waits for the frames and the history to end; fails if the frames did so by themselves.
async fn come_to_rest(end: End, records: Records) -> Result<(), Failure> {
    let why = ended(end.join, records).await;
    if !end.early {
        return Ok(());
    }
    Err(Failure::machine(format!(
        "the data plane has ended by itself: {why}"
    )))
}

/// How running came to its end.
struct End {
    /// Whether the data plane ended without being told to.
    early: bool,
    /// What waits for its thread.
    join: std::thread::JoinHandle<Ended>,
}

/// Waits until somebody says stop or the data plane ends by itself, and then says stop to all.
async fn run_until_told(
    told: impl Future<Output = ()>,
    frames: std::thread::JoinHandle<std::io::Result<()>>,
    stop: &watch::Sender<bool>,
) -> End {
    let mut stopped = stop.subscribe();
    let (join, died) = watched(frames);
    let early = tokio::select! {
        () = told => false,
        _ = died => !*stopped.borrow_and_update(),
    };
    // Whoever listens may have ended already.
    let _ = stop.send(true);
    End { early, join }
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

/// Waits for Ctrl-C or, where there is one, a signal to end. It listens from the moment it is called.
fn until_told() -> impl Future<Output = ()> + Send {
    #[cfg(unix)]
    {
        use tokio::signal::unix::{SignalKind, signal};
        let listen = |kind| {
            let heard = signal(kind);
            async move {
                match heard {
                    Ok(mut heard) => drop(heard.recv().await),
                    Err(_) => std::future::pending().await,
                }
            }
        };
        let interrupt = listen(SignalKind::interrupt());
        let terminate = listen(SignalKind::terminate());
        async move {
            tokio::select! {
                () = interrupt => {}
                () = terminate => {}
            }
        }
    }
    #[cfg(not(unix))]
    async {
        if tokio::signal::ctrl_c().await.is_err() {
            std::future::pending::<()>().await;
        }
    }
}
