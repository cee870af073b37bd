//! Owns the survey: carries news of the data plane to what thinks of it, and lights back as orders.
//! What takes its time is done on a thread that may.

use std::sync::Arc;

use tokio::sync::watch;
use tokio::task::spawn_blocking;

use crate::engine::command::Command;
use crate::engine::survey::about::About;
use crate::engine::survey::eyes::Eyes;
use crate::engine::survey::state::{Ended, SurveyOutcome, SurveyResult, SurveyState};
use crate::engine::survey::surveyor::Surveyor;
use crate::engine::survey::{Brief, By, Held, Light, News, What, Wish};
use crate::net::clock::Clock;
use crate::pattern::Refused;
use crate::units::Time;
use crate::web::{NotDone, Source, SurveyEnds, SurveyWish};

/// Whoever looks.
#[derive(Debug)]
enum Looker {
    Sensors(Box<Surveyor>),
    Eyes(Box<Eyes>),
}

impl Looker {
    fn light(&self) -> Option<Light> {
        match self {
            Self::Sensors(surveyor) => surveyor.light(),
            Self::Eyes(eyes) => eyes.light(),
        }
    }

    fn state(&self) -> SurveyState {
        match self {
            Self::Sensors(surveyor) => surveyor.state(),
            Self::Eyes(eyes) => eyes.state(),
        }
    }

    fn outcome(&self) -> SurveyOutcome {
        match self {
            Self::Sensors(surveyor) => surveyor.outcome(),
            Self::Eyes(eyes) => eyes.outcome(),
        }
    }

    fn end(&mut self, ended: Ended, text: &str) {
        match self {
            Self::Sensors(surveyor) => surveyor.end(ended, text),
            Self::Eyes(eyes) => eyes.end(ended, text),
        }
    }
}

/// The survey that is under way.
#[derive(Debug)]
struct Underway {
    run: u32,
    looker: Looker,
    since: Time,
}

/// Follows wishes and news until the data plane ends.
pub(super) async fn follow(
    source: Source,
    mut ends: SurveyEnds,
    mut news: watch::Receiver<Option<Arc<News>>>,
    clock: Clock,
) {
    let mut keeper = Keeper {
        source,
        clock,
        underway: None,
        last: 0,
        ended: 0,
    };
    loop {
        tokio::select! {
            changed = news.changed() => {
                if changed.is_err() {
                    return;
                }
                let newest = news.borrow_and_update().clone();
                if let Some(newest) = newest {
                    keeper.hear(&newest, &ends).await;
                }
            }
            wish = ends.wished.recv() => {
                let Some((wish, answer)) = wish else { return };
                let done = keeper.follow(wish, &ends, &mut news).await;
                // Who asked may have gone away since.
                let _ = answer.send(done);
            }
        }
    }
}

struct Keeper {
    source: Source,
    clock: Clock,
    underway: Option<Underway>,
    /// The last that has begun.
    last: u32,
    /// How many have ended.
    ended: u32,
}

impl Keeper {
    async fn follow(
        &mut self,
        wish: SurveyWish,
        ends: &SurveyEnds,
        news: &mut watch::Receiver<Option<Arc<News>>>,
    ) -> Result<Arc<SurveyState>, NotDone> {
        match wish {
            SurveyWish::Begin { by, about, owner } => {
                self.source
                    .command(Command::Survey(Wish { by, owner }))
                    .await?;
                let (run, brief) = begun(news, self.last).await?;
                self.last = run;
                // Whatever was under way has ended, or this one would not have begun.
                self.over(ends, "The survey ended because another one was begun.");
                match self.look(by, about, run, brief).await {
                    Ok(looker) => {
                        let since = self.clock.now();
                        self.underway = Some(Underway { run, looker, since });
                    }
                    Err(refused) => {
                        self.source.surely(&Command::StopSurvey(Some(run))).await;
                        return Err(refused.into());
                    }
                }
            }
            SurveyWish::Seen { number, tapped } => {
                let now = self.clock.now();
                let (eyes, since) = self.eyes()?;
                eyes.answer(number, &tapped, now.s_since(since))?;
            }
            SurveyWish::Undo { number } => self.eyes()?.0.undo(number)?,
            SurveyWish::Stop => {
                if let Some(underway) = &mut self.underway {
                    let text = crate::engine::survey::Ending::Stopped.text();
                    underway.looker.end(Ended::Stopped, text);
                }
            }
        }
        self.go_on(ends).await;
        Ok(Arc::clone(&ends.told.borrow()))
    }

    fn eyes(&mut self) -> Result<(&mut Eyes, Time), Refused> {
        if let Some(Underway {
            looker: Looker::Eyes(eyes),
            since,
            ..
        }) = &mut self.underway
        {
            return Ok((eyes, *since));
        }
        let text = "No survey by eyes is under way.";
        Err(Refused::new("no_survey", text))
    }

    /// Makes whoever looks.
    async fn look(
        &self,
        by: By,
        about: About,
        run: u32,
        brief: Arc<Brief>,
    ) -> Result<Looker, Refused> {
        let view = Arc::clone(&self.source.floor.borrow());
        if view.document.revision != brief.revision {
            let text = "The floor was replaced just now: try again.";
            return Err(Refused::new("replaced", text));
        }
        let made = spawn_blocking(move || {
            let (floor, tables) = (Arc::clone(&view.floor), Arc::clone(&view.tables));
            Ok(match by {
                By::Sensors => {
                    Looker::Sensors(Box::new(Surveyor::new(floor, tables, brief, run, &about)?))
                }
                By::Eyes => Looker::Eyes(Box::new(Eyes::new(floor, &tables, brief, run, &about)?)),
            })
        });
        made.await.unwrap_or_else(|error| {
            tracing::error!(%error, "a survey could not be prepared");
            let text = "It failed inside: look at litfloor's log.";
            Err(Refused::new("internal", text))
        })
    }

    async fn hear(&mut self, news: &News, ends: &SurveyEnds) {
        let Some(underway) = &self.underway else {
            return;
        };
        if news.run != underway.run {
            return;
        }
        match &news.what {
            What::Begun(_) => {}
            What::Held(held) => {
                self.think(Arc::clone(held), ends).await;
                self.go_on(ends).await;
            }
            What::Ended(ending) => {
                let run = news.run;
                self.over(ends, ending.text());
                // It has ended long since, but people are only told now.
                self.source.surely(&Command::StopSurvey(Some(run))).await;
            }
        }
    }

    /// Takes in what was seen of a light.
    async fn think(&mut self, held: Arc<Held>, ends: &SurveyEnds) {
        let Some(Underway { run, looker, since }) = self.underway.take() else {
            return;
        };
        let thought = spawn_blocking(move || {
            let mut looker = looker;
            if let Looker::Sensors(surveyor) = &mut looker {
                surveyor.take(&held);
            }
            looker
        });
        match thought.await {
            Ok(looker) => self.underway = Some(Underway { run, looker, since }),
            Err(error) => {
                tracing::error!(%error, "a survey failed");
                self.source.surely(&Command::StopSurvey(Some(run))).await;
                self.ended += 1;
                let mut state = SurveyState::clone(&ends.told.borrow());
                (state.running, state.question, state.ended) = (false, None, self.ended);
                state.outcome = Some(SurveyResult {
                    text: "The survey failed inside: look at litfloor's log.".to_owned(),
                    ..SurveyResult::default()
                });
                ends.told.send_replace(Arc::new(state));
            }
        }
    }

    /// Tells how it goes, and shows the next light or ends it.
    async fn go_on(&mut self, ends: &SurveyEnds) {
        let Some(underway) = &self.underway else {
            return;
        };
        let run = underway.run;
        let Some(light) = underway.looker.light() else {
            self.over(ends, "");
            self.source.surely(&Command::StopSurvey(Some(run))).await;
            return;
        };
        self.tell(ends);
        // If it has ended just now this is refused, and the news of that is on its way.
        self.source.surely(&Command::SurveyLight(light)).await;
    }

    fn tell(&self, ends: &SurveyEnds) {
        if let Some(underway) = &self.underway {
            let mut state = underway.looker.state();
            state.ended = self.ended;
            ends.told.send_replace(Arc::new(state));
        }
    }

    /// The survey that is under way is over; `why` if it did not come to its own end.
    fn over(&mut self, ends: &SurveyEnds, why: &str) {
        if let Some(underway) = &mut self.underway {
            underway.looker.end(Ended::Stopped, why);
            self.ended += 1;
            self.tell(ends);
            if let Some(underway) = self.underway.take() {
                let mut outcome = underway.looker.outcome();
                outcome.ended = self.ended;
                ends.found.send_replace(Arc::new(outcome));
            }
        }
    }
}

/// Waits for the news that a survey after `last` has begun.
async fn begun(
    news: &mut watch::Receiver<Option<Arc<News>>>,
    last: u32,
) -> Result<(u32, Arc<Brief>), NotDone> {
    loop {
        news.changed().await.map_err(|_| NotDone::Ended)?;
        let newest = news.borrow_and_update().clone();
        let Some(newest) = newest.filter(|newest| newest.run > last) else {
            continue;
        };
        return match &newest.what {
            What::Begun(brief) => Ok((newest.run, Arc::clone(brief))),
            What::Ended(ending) => Err(Refused::new("ended", ending.text()).into()),
            What::Held(_) => continue,
        };
    }
}
