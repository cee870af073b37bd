//! A floor whose picture moves, with what weighs it and what is known of its faults, as the program brings
//! them together beside the frames.

use std::collections::BTreeSet;
use std::sync::Arc;

use litfloor::engine::showing::Showing;
use litfloor::engine::snapshot::State;
use litfloor::floor::tables::{InUniverse, Tables, UNIVERSE_SLOTS};
use litfloor::health::estimate::Estimator;
use litfloor::health::facts::{Facts, NodeFact};
use litfloor::health::snapshot::{EvidenceKind, Health};
use litfloor::health::switches::Press;
use litfloor::health::{Condition, Item};
use litfloor::sim::real::faults::{Fault, Spot};
use litfloor::units::Time;

use super::bench::{self, Bench};

/// Milliseconds from step to step, with a look at each; frames are 25 a second.
const STEP_MS: u64 = 20;
const FRAME_MS: u64 = 40;

/// A survey is asked so often whether it has ended.
const ASKED_MS: u64 = 100;

/// Where one colour of one pixel is sent, and a number of its segment's and colour's own.
struct Place {
    universe: usize,
    slot: usize,
    own: f64,
}

fn places(tables: &Tables) -> Vec<Place> {
    let mut places = Vec::new();
    let mut own = 0.0;
    for row in &tables.panels {
        for segment in 0..row.segments.len() {
            own += 1.0;
            for pixel in row.segment(segment) {
                for (colour, place) in (0_u8..).zip(tables.slots_of(pixel)) {
                    let address = tables.outputs[place.output as usize].port_address;
                    let same = |universe: &InUniverse| universe.port_address == address;
                    places.push(Place {
                        universe: tables.universes.iter().position(same).unwrap(),
                        slot: usize::from(place.slot),
                        own: own + 0.3 * f64::from(colour),
                    });
                }
            }
        }
    }
    places
}

pub struct Stage {
    pub bench: Bench,
    showing: Showing,
    estimator: Estimator,
    pub health: Health,
    /// How often the show has said something new.
    pub said: u32,
    places: Vec<Place>,
    good: BTreeSet<Item>,
    presses: u64,
}

impl Stage {
    /// On a network that loses a tenth of all that is sent.
    pub fn new(seed: u64) -> Self {
        Self::with_loss(seed, 0.1)
    }

    /// On one that loses such a share.
    pub fn with_loss(seed: u64, loss: f64) -> Self {
        let bench = Bench::with_loss(&bench::floor(bench::FEEDS), seed, loss, |_| {});
        let (floor, tables) = (&bench.world.floor, &bench.world.tables);
        let revision = bench.world.engine.revision();
        Self {
            showing: Showing::new(Arc::clone(floor), Arc::clone(tables), revision),
            estimator: Estimator::new(Arc::clone(floor), Arc::clone(tables), revision),
            health: Health::default(),
            said: 0,
            good: BTreeSet::new(),
            presses: 0,
            places: places(tables),
            bench,
        }
    }

    /// From now on just this is wrong with the floor.
    pub fn breaks(&mut self, faults: &[(Spot, Fault)]) {
        self.bench.real.afflict(faults);
    }

    /// Somebody steps on the first switch of a panel, or off it.
    pub fn steps_on(&mut self, panel: usize, down: bool) {
        self.presses += 1;
        self.showing.pressed(&Press {
            number: self.presses,
            panel: u32::try_from(panel).unwrap(),
            switch: 1,
            down,
            at: self.bench.world.now,
        });
    }

    /// A survey by sensors, from beginning to end.
    pub fn survey(&mut self) {
        self.survey_with(false);
    }

    /// A survey ends, of whose readings it is said that they fit nothing.
    pub fn doubtful_survey(&mut self) {
        self.survey_with(true);
    }

    fn survey_with(&mut self, doubtful: bool) {
        self.showing.survey_begins();
        self.bench.survey(None);
        while self.bench.ended.is_none() {
            self.pass(ASKED_MS);
        }
        let mut outcome = self.bench.surveyor.as_ref().unwrap().outcome();
        assert!(outcome.decided && !outcome.doubtful, "{outcome:?}");
        outcome.doubtful = doubtful;
        let now = self.bench.world.now;
        let judged = outcome.judged.iter().copied();
        self.estimator.judge(EvidenceKind::Survey, judged, now);
        self.showing.surveyed(&outcome, now);
        self.think();
    }

    /// The floor file is read again, with this in it.
    pub fn reloads(&mut self, text: &str) {
        self.bench.world.replace(text);
        let world = &self.bench.world;
        let (floor, tables) = (&world.floor, &world.tables);
        let revision = world.engine.revision();
        let told = || (Arc::clone(floor), Arc::clone(tables));
        let ((floor, tables), now) = (told(), world.now);
        let nothing = Showing::new(Arc::clone(&floor), Arc::clone(&tables), revision);
        let before = std::mem::replace(&mut self.showing, nothing);
        self.showing = before.replace(floor, tables, revision, now);
        let (floor, tables) = told();
        self.estimator.replace(floor, tables, revision);
        self.good.clear();
    }

    /// The picture moves for so many seconds.
    pub fn play(&mut self, s: u64) {
        self.play_until(s, |_| false);
    }

    /// The same until something is so; gives after how many seconds it was, nothing if it never was.
    pub fn play_until(&mut self, s: u64, found: impl Fn(&Self) -> bool) -> Option<u64> {
        for passed in 0..s {
            self.pass(1_000);
            self.think();
            if found(self) {
                return Some(passed + 1);
            }
        }
        None
    }

    /// What is known to be broken, for people.
    pub fn faults(&self) -> Vec<String> {
        self.health
            .faults
            .iter()
            .map(|one| one.place.clone())
            .collect()
    }

    /// Of how many segments the show has said that they are good.
    pub fn good(&self) -> usize {
        self.good.len()
    }

    fn pass(&mut self, ms: u64) {
        let begin = self.bench.world.now;
        for step in 1..=ms / STEP_MS {
            if (step * STEP_MS).is_multiple_of(FRAME_MS) {
                self.frame();
            }
            self.bench.pass(STEP_MS, |_| {});
            for (held, at) in std::mem::take(&mut self.bench.held) {
                self.showing.held(held, at);
            }
            let now = self.bench.world.now;
            let look = self.bench.world.engine.look(now);
            self.showing.look(&look);
        }
        assert_eq!(self.bench.world.now, begin.plus_ms(ms));
    }

    /// Each segment fades in and out at a pace of its own, with colours that do so too.
    fn frame(&mut self) {
        let now_s = self.bench.world.now.s_since(Time(0));
        let universes = self.bench.world.tables.universes.len();
        let mut frames = vec![[0_u8; UNIVERSE_SLOTS]; universes];
        for place in &self.places {
            let pace_s = 3.0 + 7.0 * (place.own * 0.618).fract();
            let turn = std::f64::consts::TAU * (now_s / pace_s + place.own * 0.37);
            frames[place.universe][place.slot] = level(0.5 + 0.5 * turn.sin());
        }
        for (universe, slots) in frames.iter().enumerate() {
            self.bench.world.console_sends(universe, slots);
        }
    }

    fn think(&mut self) {
        let now = self.bench.world.now;
        let state = self.bench.world.engine.state(now);
        self.estimator.know(facts(&state), now);
        if let Some(said) = self.showing.step(now) {
            self.said += 1;
            for (item, judged, at) in said.judged {
                if judged.condition == Condition::Good {
                    self.good.insert(item);
                }
                self.estimator
                    .judge(EvidenceKind::Show, [(item, judged)], at);
            }
            self.estimator.hear_show(said.shortfalls, said.loose);
        }
        self.health = self.estimator.health(now);
    }
}

fn facts(state: &State) -> Facts {
    let nodes = state.nodes.iter().map(|node| NodeFact {
        online: node.online,
        last_reply_s: node.last_reply_s,
        short_circuits: Vec::new(),
    });
    Facts {
        nodes: nodes.collect(),
        ..Facts::default()
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a share of 255"
)]
fn level(share: f64) -> u8 {
    (share.clamp(0.0, 1.0) * 255.0) as u8
}
