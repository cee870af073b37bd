//! The book against one that is kept in plain lists, over random changes.

use std::collections::{BTreeMap, BTreeSet};

use proptest::prelude::*;

use super::*;

/// What somebody may do. Few names, so that they meet.
#[derive(Debug, Clone)]
enum Do {
    Find(u8, Option<u8>, Option<u8>),
    Write(Option<u8>, Option<u8>),
    Step(i64, FaultState),
    Prove(i64),
    Still(i64),
    Place(u8, u8),
    Unplace(u8),
    Note(u8),
    Bench(u8, bool, Vec<u8>),
}

fn doing() -> impl Strategy<Value = Do> {
    let name = || 0_u8..4;
    let state = proptest::sample::select(FaultState::ALL.to_vec());
    prop_oneof![
        1 => (name(), proptest::option::of(name()), proptest::option::of(name())).prop_map(|(key, serial, position)| Do::Find(key, serial, position)),
        1 => (proptest::option::of(name()), proptest::option::of(name())).prop_map(|(serial, position)| Do::Write(serial, position)),
        3 => (1_i64..8, state).prop_map(|(id, state)| Do::Step(id, state)),
        1 => (1_i64..8).prop_map(Do::Prove),
        1 => (1_i64..8).prop_map(Do::Still),
        2 => (name(), name()).prop_map(|(serial, position)| Do::Place(serial, position)),
        1 => name().prop_map(Do::Unplace),
        1 => name().prop_map(Do::Note),
        1 => (name(), any::<bool>(), proptest::collection::vec(any::<u8>(), 0..3)).prop_map(|(serial, passed, currents)| Do::Bench(serial, passed, currents)),
    ]
}

fn serial(name: u8) -> String {
    format!("M{name}")
}

fn position(name: u8) -> String {
    format!("A{name}")
}

/// Key, serial, position, and the steps: state and who.
type Fault = (
    String,
    Option<String>,
    Option<String>,
    Vec<(FaultState, &'static str)>,
);

/// The same book in lists.
#[derive(Debug, Default)]
struct Lists {
    known: BTreeSet<String>,
    faults: Vec<Fault>,
    /// Serial, position, since when, until when.
    spans: Vec<(String, String, u64, Option<u64>)>,
    notes: BTreeMap<String, usize>,
    benches: BTreeMap<String, Vec<(bool, usize)>>,
}

impl Lists {
    fn state(&self, fault: usize) -> FaultState {
        self.faults[fault].3.last().unwrap().0
    }

    fn open(&self, key: &str) -> Option<usize> {
        (0..self.faults.len()).find(|at| self.faults[*at].0 == key && self.state(*at).open())
    }

    fn lies(&self, serial: &str) -> Option<String> {
        let now = self
            .spans
            .iter()
            .find(|span| span.0 == serial && span.3.is_none());
        now.map(|span| span.1.clone())
    }

    fn holds(&self, position: &str) -> Option<String> {
        let now = self
            .spans
            .iter()
            .find(|span| span.1 == position && span.3.is_none());
        now.map(|span| span.0.clone())
    }

    fn add(&mut self, key: String, wished: (Option<u8>, Option<u8>), who: &'static str) {
        let (serial, position) = (wished.0.map(serial), wished.1.map(position));
        let holds = |at: &String| self.holds(at);
        let lies = |serial: &String| self.lies(serial);
        let known = serial.clone().or_else(|| position.as_ref().and_then(holds));
        let at = position.clone().or_else(|| serial.as_ref().and_then(lies));
        self.known.extend(known.clone());
        let steps = vec![(FaultState::Found, who)];
        self.faults.push((key, known, at, steps));
    }

    /// Whether it was done.
    fn step(&mut self, id: i64, to: FaultState, who: &'static str) -> bool {
        let at = usize::try_from(id - 1).unwrap();
        if at >= self.faults.len() || !self.state(at).may_become(to) {
            return false;
        }
        let other = self.open(&self.faults[at].0).filter(|other| *other != at);
        if to.open() && other.is_some() {
            return false;
        }
        self.faults[at].3.push((to, who));
        true
    }

    fn close(&mut self, now: u64, which: impl Fn(&str, &str) -> bool) -> bool {
        let mut closed = false;
        for span in self.spans.iter_mut().filter(|span| span.3.is_none()) {
            if which(&span.0, &span.1) {
                span.3 = Some(now);
                closed = true;
            }
        }
        closed
    }

    /// Whether it was done, or changed something.
    fn act(&mut self, wish: &Do, now: u64) -> bool {
        match wish {
            Do::Find(key, serial_, position_) => {
                let key = format!("key {key}");
                if self.open(&key).is_some() {
                    return false;
                }
                self.add(key, (*serial_, *position_), DAEMON);
                true
            }
            Do::Write(None, None) | Do::Step(_, FaultState::Proved) => false,
            Do::Write(serial_, position_) => {
                let key = format!("hand/{}", self.faults.len() + 1);
                self.add(key, (*serial_, *position_), "Ida");
                true
            }
            Do::Step(id, state) => self.step(*id, *state, "Ida"),
            Do::Prove(id) => self.step(*id, FaultState::Proved, DAEMON),
            Do::Still(id) => self.step(*id, FaultState::Found, DAEMON),
            Do::Place(name, place) => {
                let (serial, position) = (serial(*name), position(*place));
                if self.lies(&serial).as_ref() != Some(&position) {
                    self.close(now, |one, at| one == serial || at == position);
                    self.known.insert(serial.clone());
                    self.spans.push((serial, position, now, None));
                }
                true
            }
            Do::Unplace(place) => self.close(now, |_, at| at == position(*place)),
            Do::Note(name) => {
                self.known.insert(serial(*name));
                *self.notes.entry(serial(*name)).or_default() += 1;
                true
            }
            Do::Bench(name, passed, currents) => {
                self.known.insert(serial(*name));
                let benches = self.benches.entry(serial(*name)).or_default();
                benches.push((*passed, currents.len()));
                true
            }
        }
    }
}

/// The same to the book.
fn act(book: &Book, wish: &Do, now: u64) -> bool {
    let step = |state| Step {
        state,
        who: "Ida".to_owned(),
        note: String::new(),
    };
    match wish {
        Do::Find(key, serial_, position_) => {
            let mut wish = found();
            wish.key = format!("key {key}");
            wish.serial = serial_.map(serial);
            wish.position = position_.map(position);
            book.found(&wish, at(now)).unwrap().is_some()
        }
        Do::Write(serial_, position_) => {
            let wish = ByHand {
                serial: serial_.map(serial),
                position: position_.map(position),
                text: "dark".to_owned(),
                who: "Ida".to_owned(),
            };
            book.by_hand(&wish, at(now)).is_ok()
        }
        Do::Step(id, state) => book.step(*id, &step(*state), at(now)).is_ok(),
        Do::Prove(id) => book.prove(*id, "good", at(now)).is_ok(),
        Do::Still(id) => book.still(*id, "dead", at(now)).is_ok(),
        Do::Place(name, place) => book
            .place(&serial(*name), &position(*place), "Ida", at(now))
            .is_ok(),
        Do::Unplace(place) => book.unplace(&position(*place), at(now)).unwrap(),
        Do::Note(name) => book.note(&serial(*name), "a note", "Ida", at(now)).is_ok(),
        Do::Bench(name, passed, currents) => {
            let numbered = currents.iter().enumerate();
            let signature = numbered.map(|(at, current)| (format!("{at}_a"), f64::from(*current)));
            let test = BenchEntry {
                passed: *passed,
                who: "Ida".to_owned(),
                note: String::new(),
                signature: Some(signature.collect()),
            };
            book.bench(&serial(*name), &test, at(now)).is_ok()
        }
    }
}

fn same(book: &Book, lists: &Lists) -> Result<(), TestCaseError> {
    let faults = book.faults().unwrap();
    let rows = faults.iter().map(|fault| {
        let steps = fault
            .steps
            .iter()
            .map(|step| (step.state, if step.who == DAEMON { DAEMON } else { "Ida" }));
        (
            fault.key.clone(),
            fault.serial.clone(),
            fault.position.clone(),
            steps.collect::<Vec<_>>(),
        )
    });
    prop_assert_eq!(&rows.collect::<Vec<_>>(), &lists.faults);
    for (at, fault) in faults.iter().enumerate() {
        prop_assert_eq!(fault.state, lists.state(at));
        prop_assert_eq!(fault.open, fault.state.open());
        prop_assert_eq!(fault, &book.fault(fault.id).unwrap());
    }
    let panels = book.panels().unwrap();
    prop_assert!(panels.iter().map(|row| &row.serial).eq(&lists.known));
    let mut placed = BTreeMap::new();
    for row in &panels {
        let page = book.panel(&row.serial).unwrap().unwrap();
        prop_assert_eq!(&row.position, &lists.lies(&row.serial));
        prop_assert_eq!(&page.position, &row.position);
        placed.extend(
            row.position
                .clone()
                .map(|position| (position, row.serial.clone())),
        );
        let own = faults
            .iter()
            .filter(|fault| fault.serial.as_ref() == Some(&row.serial));
        prop_assert!(page.faults.iter().eq(own.clone()));
        prop_assert_eq!(
            row.open_faults as usize,
            own.filter(|fault| fault.open).count()
        );
        prop_assert_eq!(
            page.notes.len(),
            lists.notes.get(&row.serial).copied().unwrap_or(0)
        );
        let benches = page.benches.iter().map(|bench| {
            (
                bench.passed,
                bench.signature.as_ref().map_or(0, BTreeMap::len),
            )
        });
        let benches: Vec<_> = benches.collect();
        prop_assert_eq!(
            &benches,
            &lists.benches.get(&row.serial).cloned().unwrap_or_default()
        );
        prop_assert_eq!(
            row.last_bench.as_ref().map(|last| last.passed),
            benches.last().map(|last| last.0)
        );
        let spans = page.positions.iter().map(|span| {
            (
                row.serial.clone(),
                span.position.clone(),
                span.from.clone(),
                span.to.clone(),
            )
        });
        let own = lists.spans.iter().filter(|span| span.0 == row.serial);
        let own = own.map(|(serial, position, from, to)| {
            (
                serial.clone(),
                position.clone(),
                entry::stamp(at(*from)),
                to.map(|to| entry::stamp(at(to))),
            )
        });
        prop_assert!(spans.eq(own));
    }
    let rows = book
        .placed()
        .unwrap()
        .into_iter()
        .map(|row| (row.position, row.serial));
    prop_assert!(rows.eq(placed));
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn the_book_is_what_was_written(wishes in proptest::collection::vec(doing(), 1..60)) {
        let book = book();
        let mut lists = Lists::default();
        for (now, wish) in (0..).zip(&wishes) {
            let version = book.version();
            let before = book.export().unwrap();
            let done = act(&book, wish, now);
            prop_assert_eq!(done, lists.act(wish, now), "{:?}", wish);
            let changed = book.export().unwrap() != before;
            prop_assert_eq!(book.version() > version, changed, "{:?}", wish);
            prop_assert!(done || !changed, "what is refused changes nothing: {:?}", wish);
        }
        same(&book, &lists)?;
        open::whole(&book.connection()).unwrap();
        // No number is ever left out, so that what is lost can be counted.
        let contents = book.export().unwrap();
        let connection = book.connection();
        for form in &contents::FORMS {
            let had = "SELECT coalesce(max(seq), 0) FROM sqlite_sequence WHERE name = ?";
            let had: i64 = connection.query_row(had, [form.name], |row| row.get(0)).unwrap();
            prop_assert_eq!(usize::try_from(had).unwrap(), contents.rows(form.name), "{}", form.name);
        }
    }
}
