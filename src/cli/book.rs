//! The book of repairs beside a floor that runs: where it is kept, and what is written into it without
//! anybody's word. Faults that stand are written once; what somebody has repaired is proved when a
//! survey finds its place good, and found again when it doesn't.

use std::sync::Arc;

use tokio::sync::watch;
use tokio::task::spawn_blocking;

use crate::book::{FaultRow, FaultState, Found, NotDone, PlacedRow};
use crate::engine::survey::state::SurveyOutcome;
use crate::floor::Floor;
use crate::health::snapshot::{Cause, FoundFault, Health, Sureness};
use crate::health::{Condition, Item};
use crate::store::Place;
use crate::store::book::{Book, BookPlace, Flaw, NAME, NotOpened, now};
use crate::web::{self, Source};

/// What is found must stand so long before it is written, in seconds: a sensor that lags or a cable that
/// is being plugged is no repair.
const STANDS_S: f64 = 5.0;

/// What comes back by itself must stand so long: a node that starts anew needs some ten seconds.
/// Common practice, no source.
const AWAY_S: f64 = 30.0;

/// The book, or why there is none.
#[derive(Debug, Default)]
pub(super) struct Opened {
    pub(super) book: Option<Book>,
    /// What can't be kept, for people.
    pub(super) not_kept: Option<String>,
}

/// Opens the book where the history is kept. The floor is not to stay dark for want of one: where it can't be used
/// litfloor runs without, and leaves it as it is.
pub(super) fn open(history: &Place) -> Opened {
    let place = match history {
        Place::Memory => BookPlace::Memory,
        Place::Directory(directory) => BookPlace::File(directory.join(NAME)),
        Place::Nowhere(why) => {
            tracing::warn!(%why, "no book of repairs is kept");
            return without(format!("No book of repairs is kept: {why}."));
        }
    };
    match Book::open(&place) {
        Ok(book) if book.is_writable() => Opened {
            book: Some(book),
            not_kept: None,
        },
        Ok(book) => {
            let told = "The book of repairs can only be looked at: its file can't be written.";
            tracing::warn!("{told}");
            Opened {
                book: Some(book),
                not_kept: Some(told.to_owned()),
            }
        }
        Err(NotOpened {
            path,
            flaw: Flaw::NotHad(why),
        }) => {
            let path = path.display();
            tracing::warn!(%why, %path, "no book of repairs is kept");
            without(format!("No book of repairs is kept: {why}."))
        }
        Err(refused) => {
            tracing::error!("{refused}");
            without(format!(
                "The book of repairs can't be used, and nothing is written into it: {}. The log of litfloor \
                 says what to do; `litfloor book` has the means.",
                refused.flaw
            ))
        }
    }
}

const fn without(not_kept: String) -> Opened {
    Opened {
        book: None,
        not_kept: Some(not_kept),
    }
}

/// Keeps the book beside a floor that runs.
pub(super) async fn follow(source: Source, book: Book) {
    let mut healths = source.faults.health.clone();
    let mut floors = source.floor.clone();
    let mut keeper = Keeper {
        book,
        proved: 0,
        failing: false,
    };
    floors.mark_changed();
    loop {
        tokio::select! {
            changed = healths.changed() => {
                if changed.is_err() {
                    return;
                }
            }
            changed = floors.changed() => {
                if changed.is_err() {
                    return;
                }
                let floor = Arc::clone(&floors.borrow_and_update().floor);
                keeper = keeper.with(move |keeper| keeper.enter(&floor)).await;
            }
        }
        let health = Arc::clone(&healths.borrow_and_update());
        let outcome = Arc::clone(&source.survey.outcome.borrow());
        let floor = Arc::clone(&floors.borrow().floor);
        keeper = keeper
            .with(move |keeper| keeper.see(&health, &outcome, &floor))
            .await;
        if let Some(book) = &source.book {
            book.written();
        }
    }
}

/// Writes what nobody typed.
#[derive(Debug)]
struct Keeper {
    book: Book,
    /// The last survey that was reckoned with.
    proved: u32,
    /// Whether the last try to write failed, so that it is said once.
    failing: bool,
}

impl Keeper {
    /// Does what waits for the disk where that holds nobody up.
    async fn with(
        mut self,
        work: impl FnOnce(&mut Self) -> Result<(), NotDone> + Send + 'static,
    ) -> Self {
        let book = self.book.clone();
        let done = spawn_blocking(move || {
            let done = work(&mut self);
            if let Err(why) = &done
                && !self.failing
            {
                tracing::error!(%why, "the book of repairs");
            }
            self.failing = done.is_err();
            self
        });
        match done.await {
            Ok(keeper) => keeper,
            Err(error) => {
                tracing::error!(%error, "the book of repairs could not be kept");
                Self {
                    book,
                    proved: 0,
                    failing: true,
                }
            }
        }
    }

    /// Writes where the floor file says that panels lie, of those that the book does not know.
    fn enter(&mut self, floor: &Floor) -> Result<(), NotDone> {
        let named = floor.panels.iter().filter(|panel| !panel.serial.is_empty());
        let lying = named.map(|panel| PlacedRow {
            position: panel.position.to_string(),
            serial: panel.serial.clone(),
        });
        let lying: Vec<_> = lying.collect();
        self.book.enter(&lying, now()).map(drop)
    }

    fn see(
        &mut self,
        health: &Health,
        outcome: &SurveyOutcome,
        floor: &Floor,
    ) -> Result<(), NotDone> {
        let stand = health.faults.iter().filter(|fault| stands(fault, health));
        for fault in stand {
            self.found(fault)?;
        }
        // Only once the verdicts know of the survey.
        if health.surveys == outcome.ended && self.proved < outcome.ended {
            // One whose readings fit nothing says nothing of a repair either way.
            if !outcome.doubtful {
                self.prove(health, outcome, floor)?;
            }
            self.proved = outcome.ended;
        }
        Ok(())
    }

    fn found(&self, fault: &FoundFault) -> Result<(), NotDone> {
        let mut found = Found::from(fault);
        if found.position.is_some() {
            // People may have placed another panel there than the floor file says.
            let placed = self.book.placed()?;
            let there = placed
                .into_iter()
                .find(|row| Some(&row.position) == found.position.as_ref());
            found.serial = there.map(|row| row.serial).or(found.serial);
        }
        if let Some(row) = self.book.found(&found, now())? {
            tracing::info!(number = row.id, place = %row.place, "a fault is written into the book");
        }
        Ok(())
    }

    /// What a survey says of repairs.
    fn prove(
        &self,
        health: &Health,
        outcome: &SurveyOutcome,
        floor: &Floor,
    ) -> Result<(), NotDone> {
        let repaired = |row: &&FaultRow| row.state == FaultState::Repaired;
        let faults = self.book.faults()?;
        let placed = self.book.placed()?;
        for row in faults.iter().filter(repaired) {
            let lies = |one: &&PlacedRow| Some(&one.serial) == row.serial.as_ref();
            // A panel takes its joints along; what lies between panels stays.
            let moved = placed.iter().find(lies).map(|one| &one.position);
            let Some(position) = moved.or(row.position.as_ref()) else {
                continue;
            };
            let number = outcome.ended;
            match seen(outcome, floor, position) {
                Seen::Good(segments) => {
                    let text = format!(
                        "Survey {number} found all {segments} segments of {position} good."
                    );
                    self.book.prove(row.id, &text, now())?;
                }
                Seen::Bad if health.faults.iter().any(|fault| is_of(row, fault)) => {
                    let text = format!("Survey {number} found it still there.");
                    self.book.still(row.id, &text, now())?;
                }
                Seen::Bad | Seen::Nothing => {}
            }
        }
        Ok(())
    }
}

/// Whether what is written is this fault: the same, or at the same place where one of both was not known
/// by more than that.
fn is_of(row: &FaultRow, fault: &FoundFault) -> bool {
    let found = Found::from(fault);
    found.key == row.key || (found.same_place.contains(&row.key) && found.may_be(&row.sure))
}

/// Whether a verdict is to be written: something to repair, likely at least or likely at that place, and
/// for a while.
fn stands(fault: &FoundFault, health: &Health) -> bool {
    let after_s = match fault.cause {
        // The console is at fault, or nobody knows where.
        Cause::SignalLost | Cause::CurrentShort | Cause::NodeRestarted => return false,
        Cause::NodeSilent | Cause::SensorLost | Cause::PortFault => AWAY_S,
        _ => STANDS_S,
    };
    (fault.sure <= Sureness::Likely || fault.is_known_by_place())
        && health.uptime_s - fault.since_s >= after_s
}

/// What a survey saw of a panel.
#[derive(Debug, PartialEq, Eq)]
enum Seen {
    /// Not all of it.
    Nothing,
    /// All of it, and all good: so many segments.
    Good(usize),
    /// Something that is not good.
    Bad,
}

fn seen(outcome: &SurveyOutcome, floor: &Floor, position: &str) -> Seen {
    let mut panels = floor.panels.iter();
    let Some(panel) = panels.position(|panel| panel.position.to_string() == position) else {
        return Seen::Nothing;
    };
    let of_panel = |(item, _): &&(Item, _)| item.panel as usize == panel;
    let judged = || outcome.judged.iter().filter(of_panel);
    let all = crate::health::joints::items_of(floor, panel).len();
    let bad = |condition| !matches!(condition, Condition::Good | Condition::Unknown);
    if judged().any(|(_, judged)| bad(judged.condition)) {
        return Seen::Bad;
    }
    let good = judged().filter(|(_, judged)| judged.condition == Condition::Good);
    if all == 0 || good.count() < all {
        return Seen::Nothing;
    }
    Seen::Good(floor.panel_kinds[floor.panels[panel].kind].segments.len())
}

/// The book for the pages.
pub(super) fn for_pages(book: Option<&Book>) -> Option<web::Book> {
    let keeper: Arc<dyn crate::book::Keeps> = Arc::new(book?.clone());
    Some(web::Book::new(keeper))
}

/// Says each time that something was written.
pub(super) fn versions(source: &Source) -> watch::Receiver<u64> {
    match &source.book {
        Some(book) => book.version.subscribe(),
        // Its sender is gone, and it never changes.
        None => watch::channel(0).1,
    }
}

#[cfg(test)]
mod tests;
