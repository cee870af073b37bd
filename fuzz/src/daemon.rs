//! The web part as it is served, with a real engine behind it, without sockets and on made-up time.

use std::io;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use axum::Router;
use axum::serve::Listener;
use litfloor::engine::levels::Shown;
use litfloor::engine::slots::AllSlots;
use litfloor::engine::snapshot::{Levels, State};
use litfloor::engine::voltages::Voltages;
use litfloor::power::record::{Element, Sum};
use litfloor::power::series::{Archive, Ask, Line, Recording, Row, Series, Unread};
use litfloor::power::tally::Energy;
use litfloor::store::book::{Book, BookPlace};
use litfloor::web::operator::Keep;
use litfloor::web::{
    self, FaultEnds, Faults, FloorView, Gate, NotDone, Order, ReloadOrder, Reloaded, Source,
    SurveyEnds, Surveys,
};
use tokio::io::DuplexStream;
use tokio::sync::{mpsc, watch};

use crate::MADE;
use crate::world::World;

/// The token with which readings are taken.
pub const TOKEN: &str = "a token of the fuzzer";

/// Who serves, and the ends of its channels that the data plane has.
pub struct Daemon {
    pub router: Router,
    pub world: World,
    pub floor: watch::Sender<Arc<FloorView>>,
    ends: Ends,
    orders: mpsc::Receiver<Order>,
    reloads: mpsc::Receiver<ReloadOrder>,
    survey: SurveyEnds,
    faults: FaultEnds,
    watchers: Arc<AtomicUsize>,
    slot_watchers: Arc<AtomicUsize>,
    frame: u32,
    revision: u32,
    /// Orders that reached the data plane.
    pub ordered: u32,
}

/// What the data plane publishes.
struct Ends {
    state: watch::Sender<Arc<State>>,
    levels: watch::Sender<Arc<Levels>>,
    slots: watch::Sender<Arc<AllSlots>>,
    voltages: watch::Sender<Arc<Voltages>>,
    _energy: watch::Sender<Arc<Energy>>,
}

impl Daemon {
    /// With a book of repairs only where one is wanted, for it takes longer than all else.
    pub fn new(with_book: bool) -> Self {
        let world = World::new(0);
        let (floor, floor_seen) = watch::channel(Arc::clone(&MADE.view));
        let (state, state_seen) = watch::channel(Arc::new(world.state()));
        let (levels, levels_seen) = watch::channel(Arc::default());
        let (slots, slots_seen) = watch::channel(Arc::default());
        let (voltages, voltages_seen) = watch::channel(Arc::default());
        let (energy, energy_seen) = watch::channel(Arc::default());
        let (commands, orders) = mpsc::channel(8);
        let (reload, reloads) = mpsc::channel(1);
        let (surveys, survey) = Surveys::channels();
        let (known, faults) = Faults::channels();
        let (watchers, slot_watchers) = (Arc::default(), Arc::default());
        let book = with_book.then(|| Book::open(&BookPlace::Memory).expect("a book in memory"));
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
            archive: Arc::new(Nothing),
            energy: energy_seen,
            simulation: None,
            survey: surveys,
            faults: known,
            book: book.map(|book| web::Book::new(Arc::new(book))),
            dropped: watch::channel(None).1,
        };
        let gate = Gate::open(Keep::Memory, None).expect("nothing is kept");
        let gate = gate.with_readings_token(TOKEN);
        let (router, keeper) = web::router(source, gate, Router::new());
        tokio::spawn(keeper.run());
        Self {
            router,
            world,
            floor,
            ends: Ends {
                state,
                levels,
                slots,
                voltages,
                _energy: energy,
            },
            orders,
            reloads,
            survey,
            faults,
            watchers,
            slot_watchers,
            frame: 0,
            revision: 1,
            ordered: 0,
        }
    }

    /// Answers orders as the data plane and those beside it would, as long as it is polled.
    pub async fn follow(&mut self) {
        loop {
            tokio::select! {
                Some((command, answer)) = self.orders.recv() => {
                    self.ordered += 1;
                    let done = self.world.command(command);
                    self.world.passes(30);
                    self.publish();
                    let _ = answer.send(done);
                }
                Some(answer) = self.reloads.recv() => {
                    self.ordered += 1;
                    self.replace();
                    let _ = answer.send(Ok(Reloaded {
                        revision: self.revision,
                        name: "Made up".to_owned(),
                        cautions: Vec::new(),
                    }));
                }
                Some((_, answer)) = self.survey.wished.recv() => {
                    self.ordered += 1;
                    let _ = answer.send(Err(NotDone::Busy));
                }
                Some((_, answer)) = self.faults.wished.recv() => {
                    self.ordered += 1;
                    let _ = answer.send(Ok(Arc::default()));
                }
                else => std::future::pending().await,
            }
        }
    }

    /// The floor is read again: the same, with the next revision.
    pub fn replace(&mut self) {
        self.revision += 1;
        let view = crate::view_of(crate::FLOOR, &MADE.floor, &MADE.tables, self.revision);
        self.floor.send_replace(Arc::new(view));
    }

    /// The data plane publishes what it publishes all the time.
    pub fn publish(&mut self) {
        let mut state = self.world.state();
        state.revision = self.revision;
        self.ends.state.send_replace(Arc::new(state));
        if self.watchers.load(Ordering::Relaxed) > 0 {
            let mut shown = Shown::default();
            self.world.engine.shown(self.world.now, &mut shown);
            self.frame += 1;
            let Ok(mut levels) = shown.picture(&MADE.tables, Levels::default()) else {
                panic!("a picture of this floor is one of this floor");
            };
            (levels.revision, levels.frame) = (self.revision, self.frame);
            self.ends.levels.send_replace(Arc::new(levels));
        }
        self.ends.slots.send_modify(|_| {});
        self.ends.voltages.send_modify(|_| {});
    }

    /// Slots of all universes, as they arrive.
    pub fn publish_slots(&mut self) {
        let mut slots = self.world.engine.slots(self.world.now);
        slots.revision = self.revision;
        self.ends.slots.send_replace(Arc::new(slots));
    }

    /// How many watch pictures and slots.
    pub fn watched(&self) -> (usize, usize) {
        let count = |of: &AtomicUsize| of.load(Ordering::Relaxed);
        (count(&self.watchers), count(&self.slot_watchers))
    }
}

/// Connections through memory.
pub struct Pipes(pub mpsc::UnboundedReceiver<DuplexStream>);

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

/// A history with next to nothing in it: how it is asked is what strangers say.
#[derive(Debug)]
struct Nothing;

impl Archive for Nothing {
    fn now(&self) -> i64 {
        1_795_771_800
    }

    fn recording(&self) -> Recording {
        Recording {
            in_file: false,
            trouble: None,
            lost_rows: 0,
        }
    }

    fn series(&self, ask: &Ask) -> Result<Series, Unread> {
        let bucket_s = ask.bucket_s(1);
        assert!(bucket_s > 0 && ask.from <= ask.to, "{ask:?}");
        let count = usize::try_from((ask.to - ask.from) / bucket_s + 1).expect("a count");
        assert!(count <= 100_000, "{count} buckets are asked for: {ask:?}");
        let element = ask.element.clone().unwrap_or_default();
        Ok(Series {
            from: ask.from,
            bucket_s,
            row_s: 1,
            count,
            lines: vec![Line {
                element,
                buckets: vec![None; count],
            }],
        })
    }

    fn rows(&self, ask: &Ask, each: &mut dyn FnMut(Row) -> bool) -> Result<(), Unread> {
        let element = Element::default();
        each(Row {
            at: ask.from,
            element,
            sum: Sum::default(),
        });
        Ok(())
    }
}
