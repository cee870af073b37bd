//! What a browser and other programs see: the HTTP API and the live stream.
//!
//! Nothing here can hold a frame back: everything is read from snapshots that the data plane
//! leaves in watch channels, and a slow client only misses some of them.
//!
//! [`router`] gives the routes and a [`Keeper`], the one task that must run beside them.

use std::sync::atomic::AtomicUsize;
use std::sync::{Arc, Mutex};

use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::routing::{MethodRouter, delete, get, post, put};
use tokio::sync::{Semaphore, mpsc, watch};
use tower_http::compression::CompressionLayer;

use self::crowd::{Crowd, Room};

use crate::engine::slots::AllSlots;
use crate::engine::snapshot::{Dropped, Levels, State};
use crate::engine::voltages::Voltages;
use crate::power::series::Archive;
use crate::power::tally::Energy;

mod api;
pub mod assets;
mod book;
pub mod certificate;
mod command;
mod crowd;
mod document;
pub mod door;
mod faults;
mod headers;
mod health;
mod history;
mod keeper;
mod labels;
mod limit;
mod live;
mod messages;
mod metrics;
mod openapi;
pub mod operator;
mod origin;
mod painted;
mod pattern;
mod place;
mod presence;
mod problem;
mod ranges;
mod readings;
mod recorded;
mod reload;
mod session;
mod simulation;
mod stepping;
mod survey;
#[cfg(test)]
mod testing;
mod timers;
pub mod tls;
pub mod turned;
mod view;

pub use book::Book;
pub use command::{NotDone, Order};
pub use document::FloorDocument;
pub use faults::{FaultEnds, Faults, HealthAnswer, HealthOrder, HealthWish};
pub use history::{Draws, History, Names};
pub use keeper::Keeper;
pub use operator::Gate;
pub use painted::paint;
pub use problem::Problem;
pub use readings::SHORTEST as SHORTEST_READINGS_TOKEN;
pub use reload::{NotReloaded, ReloadOrder, ReloadOrders, Reloaded};
pub use simulation::{BreakJoint, BrokenJoint, CantBreak, JointFault, Simulation};
pub use survey::{SurveyEnds, SurveyOrder, SurveyWish, Surveys};
pub use view::FloorView;

/// Live connections at one time.
const SEATS: Room = Room {
    all: 200,
    of_one: 100,
};

/// Those that come in by the door for guests, who take no seat of anybody else.
const GUEST_SEATS: Room = Room {
    all: 100,
    of_one: 50,
};

/// Connections of browsers at one time by all doors together; each is one open file.
pub const MOST_CONNECTIONS: usize = door::ROOM.all + door::ROOM_FOR_GUESTS.all;

/// Of these, those without which operators' pages are turned away.
pub const LEAST_CONNECTIONS: usize = SEATS.all;

/// Marks a request that came in by the door for guests.
#[derive(Debug, Clone, Copy)]
struct Guest;

/// Marks a request that came encrypted.
#[derive(Debug, Clone, Copy)]
struct Https;

/// Where everything comes from.
#[derive(Debug, Clone)]
pub struct Source {
    /// The floor; a new one when the file was read again.
    pub floor: watch::Receiver<Arc<FloorView>>,
    /// What changes while it runs, about five times a second.
    pub state: watch::Receiver<Arc<State>>,
    /// The picture; only made while someone watches.
    pub levels: watch::Receiver<Arc<Levels>>,
    /// How many watch the picture now; kept by this module.
    pub watchers: Arc<AtomicUsize>,
    /// The slots of all universes, as they arrive.
    pub slots: watch::Receiver<Arc<AllSlots>>,
    /// How many look at slots; they are published only while that is not zero.
    pub slot_watchers: Arc<AtomicUsize>,
    /// The voltages of what leaves, more than twice a second.
    pub voltages: watch::Receiver<Arc<Voltages>>,
    /// Where orders go; see [`Source::command`].
    pub commands: mpsc::Sender<Order>,
    /// Where wishes go that the floor file be read again.
    pub reload: ReloadOrders,
    /// The recorded history.
    pub archive: Arc<dyn Archive>,
    /// What the system threw away; nothing where it does not tell.
    pub dropped: watch::Receiver<Option<Dropped>>,
    /// Totals since the start, once a second.
    pub energy: watch::Receiver<Arc<Energy>>,
    /// What is simulated of the floor; nothing if it is real.
    pub simulation: Option<Arc<dyn Simulation>>,
    /// The survey that is under way, or the last one.
    pub survey: Surveys,
    /// What is known of faults.
    pub faults: Faults,
    /// The book of repairs; nothing where there is no place for one.
    pub book: Option<Book>,
}

/// What all handlers share.
#[derive(Debug)]
struct Inner {
    source: Source,
    messages: messages::Messages,
    history: Mutex<history::Ring>,
    health: watch::Receiver<health::Health>,
    seats: Arc<Crowd>,
    guest_seats: Arc<Crowd>,
    /// Questions to the history that are answered at one time.
    reads: Arc<Semaphore>,
    /// Tables of it that are written at one time: a slow taker must not hold up the charts.
    exports: Arc<Semaphore>,
    presences: presence::Presences,
    gate: Arc<operator::Gate>,
    stepping: stepping::Desk,
}

type Shared = Arc<Inner>;

/// Every route of the API, as the description in `openapi.json` must have it.
fn routes() -> Vec<(&'static str, MethodRouter<Shared>)> {
    use operator::routes::{session, set_passphrase, sign_in, sign_out};
    use stepping::routes as steps;
    vec![
        ("/api/v1/floor", get(api::floor)),
        ("/api/v1/floor/reload", post(reload::reload)),
        ("/api/v1/state", get(api::state)),
        ("/api/v1/voltages", get(api::voltages)),
        ("/api/v1/history", get(recorded::history)),
        ("/api/v1/history.csv", get(recorded::history_csv)),
        ("/api/v1/energy", get(recorded::energy)),
        ("/api/v1/live", get(live::live)),
        ("/api/v1/openapi.json", get(openapi::openapi)),
        ("/healthz", get(health::healthz)),
        ("/metrics", get(metrics::metrics)),
        (
            "/api/v1/session",
            get(session).post(sign_in).delete(sign_out),
        ),
        ("/api/v1/passphrase", put(set_passphrase)),
        (
            "/api/v1/pattern",
            post(pattern::start).delete(pattern::stop),
        ),
        ("/api/v1/limit", put(limit::turn_down)),
        ("/api/v1/pattern/step", post(pattern::step)),
        (
            "/api/v1/stepping",
            get(steps::look).post(steps::begin).delete(steps::end),
        ),
        (
            "/api/v1/simulation",
            get(simulation::simulation).post(simulation::break_joint),
        ),
        ("/api/v1/sensors", get(readings::sensors)),
        ("/api/v1/readings", post(readings::report)),
        ("/api/v1/readings/token", post(readings::renew)),
        (
            "/api/v1/calibration",
            post(readings::calibrate).delete(readings::stop_calibration),
        ),
        (
            "/api/v1/survey",
            get(survey::survey)
                .post(survey::begin_survey)
                .delete(survey::stop_survey),
        ),
        ("/api/v1/faults", get(faults::faults)),
        ("/api/v1/reports", post(faults::report_panel)),
        ("/api/v1/evidence/{id}", delete(faults::withdraw_evidence)),
        (
            "/api/v1/book/faults",
            get(book::faults::book_faults).post(book::faults::write_fault),
        ),
        ("/api/v1/book/faults/{id}", post(book::faults::step_fault)),
        ("/api/v1/book/panels", get(book::panels::book_panels)),
        (
            "/api/v1/book/panels/{serial}",
            get(book::panels::book_panel),
        ),
        (
            "/api/v1/book/panels/{serial}/notes",
            post(book::panels::write_note),
        ),
        (
            "/api/v1/book/panels/{serial}/bench",
            post(book::panels::write_bench),
        ),
        ("/api/v1/book/placed", post(book::placing::place_panel)),
        (
            "/api/v1/book/placed/{position}",
            delete(book::placing::unplace_panel),
        ),
        ("/api/v1/book/checklist", get(book::placing::book_checklist)),
        ("/api/v1/book/diff", get(book::placing::floor_diff)),
        (
            "/api/v1/book/floor.toml",
            get(book::placing::floor_as_placed),
        ),
        ("/api/v1/book/export.json", get(book::export::book_json)),
        ("/api/v1/book/export.csv", get(book::export::book_csv)),
        ("/api/v1/labels/{file}", get(labels::label)),
        ("/api/v1/survey/seen", post(survey::seen_in_survey)),
        ("/api/v1/survey/undo", post(survey::undo_in_survey)),
        ("/api/v1/stepping/answer", post(steps::answer)),
        ("/api/v1/stepping/undo", post(steps::undo)),
        ("/api/v1/stepping/light", post(steps::light)),
        ("/api/v1/stepping/corrected", get(steps::corrected)),
        (
            "/api/v1/stepping/corrected.toml",
            get(steps::corrected_toml),
        ),
    ]
}

/// The API, with `assets` (the dashboard's files, or an empty router) beside it, and the task
/// that must run as long as it is served.
///
/// Serve it behind a [`door`], which tells it the peers' addresses; without these nothing counts as
/// coming from this machine.
pub fn router(source: Source, gate: Gate, assets: Router) -> (Router, Keeper) {
    let (router, keeper, _) = assemble(source, gate, assets);
    (router, keeper)
}

fn assemble(source: Source, gate: Gate, assets: Router) -> (Router, Keeper, Shared) {
    let (health_told, health) = watch::channel(health::Health::Starting);
    let shared = Arc::new(Inner {
        source,
        messages: messages::Messages::default(),
        history: Mutex::default(),
        health,
        seats: Crowd::new(SEATS),
        guest_seats: Crowd::new(GUEST_SEATS),
        reads: Arc::new(Semaphore::new(recorded::AT_ONCE)),
        exports: Arc::new(Semaphore::new(recorded::AT_ONCE)),
        presences: presence::Presences::default(),
        gate: Arc::new(gate),
        stepping: stepping::Desk::default(),
    });
    let keeper = Keeper::new(Arc::clone(&shared), health_told);
    let api = routes()
        .into_iter()
        .fold(Router::new(), |router, (path, handler)| {
            router.route(path, handler)
        })
        .route("/api", axum::routing::any(problem::unknown))
        .route("/api/", axum::routing::any(problem::unknown))
        .route("/api/{*rest}", axum::routing::any(problem::unknown))
        .method_not_allowed_fallback(problem::wrong_method)
        .layer(DefaultBodyLimit::max(operator::extract::LARGEST))
        .layer(headers::no_store())
        // The dashboard's files come compressed already.
        .layer(CompressionLayer::new())
        .with_state(Arc::clone(&shared));
    (headers::secure(api.merge(assets)), keeper, shared)
}
