//! The walk: what to light next, what to ask, and what an answer makes of it.

mod hear;

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use super::ask::{Answer, Ask, NotAnAnswer, Progress, Question, drawn};
use super::choice::{self, Order};
use super::report::{self, Report};
use super::seen::{Said, Seen};
use super::suspect::{Riddle, Suspect, position, think_on};
use super::wired::{Sent, Sight, Wired, sent};
use crate::floor::Floor;
use crate::floor::tables::Tables;
use crate::pattern::Start;

/// Drawings that fit a phone.
const MOST_DRAWINGS: usize = 12;

/// Taps beyond one for each panel that a mistake may cost.
const TAPS_PER_MISTAKE: usize = 2;

/// A walk across a floor, panel by panel in wiring order.
#[derive(Debug, Clone)]
pub struct Walk {
    plan: Floor,
    tables: Tables,
    /// For each panel the universes that have slots of it.
    outputs: Vec<Vec<usize>>,
    order: Vec<usize>,
    /// How many of `order` are done.
    done: usize,
    /// What may be so, the likeliest first; never empty.
    suspects: Vec<Suspect>,
    history: Vec<Seen>,
    /// What was answered, in words; one for each of `history`.
    log: Vec<String>,
    unexplained: Vec<(usize, String)>,
    answers: Vec<Answer>,
    /// Questions that may still be asked beyond one for each panel.
    allowance: usize,
    /// Panels of which nobody said that they look as they should.
    unsettled: Vec<usize>,
    current: Option<Current>,
}

/// The question that is open.
#[derive(Debug, Clone)]
struct Current {
    panel: usize,
    order: Order,
    start: Start,
    sent: Vec<Sent>,
    drawings: Vec<Sight>,
    /// The panel where light was last.
    near: Option<usize>,
    /// Whether it is one beyond one for each panel.
    extra: bool,
}

/// What has to be kept of a walk to go on with it later.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Kept {
    /// All answers.
    pub answers: Vec<Answer>,
}

/// A floor that nothing can be lit on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("a floor without nodes is only watched: nothing can be lit on it")]
pub struct OnlyWatched;

impl Walk {
    /// Begins a walk across a floor.
    ///
    /// # Errors
    /// If the floor has no nodes.
    pub fn new(plan: Floor) -> Result<Self, OnlyWatched> {
        let wired = Wired::new(plan.clone(), BTreeSet::new());
        let (Some(wired), false) = (wired, plan.nodes.is_empty()) else {
            return Err(OnlyWatched);
        };
        let tables = Tables::compile(&plan);
        let mut outputs = vec![Vec::new(); plan.panels.len()];
        for (out, universe) in tables.outputs.iter().enumerate() {
            for part in &universe.parts {
                let of = &mut outputs[part.panel as usize];
                if of.last() != Some(&out) {
                    of.push(out);
                }
            }
        }
        let runs = plan.runs.iter();
        let mut walk = Self {
            order: runs.flat_map(|run| run.panels.iter().copied()).collect(),
            plan,
            tables,
            outputs,
            done: 0,
            suspects: vec![Suspect {
                mistakes: Vec::new(),
                wired,
            }],
            history: Vec::new(),
            log: Vec::new(),
            unexplained: Vec::new(),
            answers: Vec::new(),
            allowance: 0,
            unsettled: Vec::new(),
            current: None,
        };
        walk.ask_next();
        Ok(walk)
    }

    /// Goes on with a walk that was kept.
    ///
    /// # Errors
    /// If the floor has no nodes; answers that don't fit its questions, because the floor is
    /// another, end it there.
    pub fn resume(plan: Floor, kept: &Kept) -> Result<Self, OnlyWatched> {
        let mut walk = Self::new(plan)?;
        for answer in &kept.answers {
            if walk.answer(answer.clone()).is_err() {
                break;
            }
        }
        Ok(walk)
    }

    /// What to keep, to go on later.
    pub fn kept(&self) -> Kept {
        Kept {
            answers: self.answers.clone(),
        }
    }

    /// Takes the last answer back; says whether there was one.
    pub fn undo(&mut self) -> bool {
        let mut kept = self.kept();
        if kept.answers.pop().is_none() {
            return false;
        }
        match Self::resume(self.plan.clone(), &kept) {
            Ok(walk) => *self = walk,
            Err(OnlyWatched) => return false,
        }
        true
    }

    /// The open question; nothing when the walk is over.
    pub fn question(&self) -> Option<Question> {
        let current = self.current.as_ref()?;
        let plan = &self.plan;
        let near = current.near.map(|panel| position(plan, panel).to_string());
        let drawings = &current.drawings;
        let text = match (current.order, drawings.len()) {
            (Order::Mark, 0) => "Does anything light? If so, tap where.".to_owned(),
            (Order::Mark, 1) => "Does the floor look exactly so?".to_owned(),
            (Order::Mark, _) => "Which of these does the floor look like?".to_owned(),
            (Order::Pixel(..), _) => "One pixel lights. Tap it.".to_owned(),
            (Order::Colour(_), _) => "Which colour does it light in, most of it?".to_owned(),
        };
        Some(Question {
            number: self.answers.len(),
            start: current.start.clone(),
            ask: match current.order {
                Order::Mark => Ask::Look,
                Order::Pixel(..) => Ask::Tap,
                Order::Colour(_) => Ask::Colour,
            },
            text,
            drawings: drawings.iter().map(|sight| drawn(plan, sight)).collect(),
            near: near.filter(|_| matches!(current.order, Order::Pixel(..))),
            progress: self.progress(),
        })
    }

    /// How far it is.
    pub fn progress(&self) -> Progress {
        Progress {
            done: self.done,
            panels: self.order.len(),
            taps: self.answers.len(),
        }
    }

    /// What was found so far.
    pub fn report(&self) -> Report {
        report::of(&self.plan, &self.suspects, &self.log, &self.unexplained)
    }

    /// The floor as it was planned.
    pub(super) fn plan(&self) -> &Floor {
        &self.plan
    }

    /// The floor as it was found. What is dark is in it like all else.
    pub fn found(&self) -> &Floor {
        &self.suspects[0].wired.floor
    }

    /// Takes the answer to the open question.
    ///
    /// # Errors
    /// Says why it can't be meant; the question stays open.
    pub fn answer(&mut self, answer: Answer) -> Result<(), NotAnAnswer> {
        let Some(current) = self.current.clone() else {
            return Err(NotAnAnswer("The walk is over.".to_owned()));
        };
        let said = self.said(&current, &answer)?;
        self.answers.push(answer);
        let words = self.words(&current, &said);
        if current.extra {
            self.allowance -= 1;
        }
        let at = match said {
            Said::There(panel, _) | Said::Point(panel, ..) => Some(panel),
            _ => None,
        };
        let seen = Seen {
            sent: current.sent.clone(),
            said,
        };
        let fits = |suspect: &&Suspect| seen.fits(&suspect.wired);
        let mut left: Vec<Suspect> = self.suspects.iter().filter(fits).cloned().collect();
        self.history.push(seen);
        if left.is_empty() {
            let riddle = Riddle {
                sent: &current.sent,
                at,
                kinds: self.plan.pixel_kinds.len(),
                history: &self.history,
            };
            left = think_on(&self.suspects, &riddle);
            let before = self.suspects[0].mistakes.len();
            let now = left.first().map_or(before, |first| first.mistakes.len());
            self.allowance += TAPS_PER_MISTAKE * now.saturating_sub(before);
        }
        if left.is_empty() {
            self.history.pop();
            self.unexplained.push((current.panel, words));
            self.leave(&current);
            return Ok(());
        }
        self.log.push(words);
        self.suspects = left;
        self.follow_up(&current, at);
        Ok(())
    }

    /// Asks again about the same panel if need be, or goes on.
    fn follow_up(&mut self, current: &Current, at: Option<usize>) {
        let marks = self.marks(current.panel);
        let settled = match self.history.last().map(|seen| &seen.said) {
            Some(Said::Exactly(_)) => true,
            Some(Said::Nothing) => marks.iter().all(|sight| sight.0.is_empty()),
            _ => false,
        };
        if settled {
            self.leave(current);
        } else if self.allowance == 0 {
            self.unsettled.push(current.panel);
            self.leave(current);
        } else {
            let near = at.or(current.near).or(Some(current.panel));
            let order = self.best(current.panel, &marks);
            self.current = self.asking(current.panel, order, near, true);
            if self.current.is_none() {
                self.leave(current);
            }
        }
    }

    /// What each suspect says that the marked panel looks like.
    fn marks(&self, panel: usize) -> Vec<Sight> {
        let sent = self.sent(panel, Order::Mark).map(|(_, sent)| sent);
        let sent = sent.unwrap_or_default();
        let suspects = self.suspects.iter();
        suspects.map(|suspect| suspect.wired.see(&sent)).collect()
    }

    /// The question whose answer leaves the least to be told apart by drawings.
    fn best(&self, panel: usize, marks: &[Sight]) -> Order {
        let different: BTreeSet<&Sight> = marks.iter().collect();
        if different.len() <= MOST_DRAWINGS || self.allowance < 2 {
            return Order::Mark;
        }
        let mut best = (usize::MAX, Order::Mark);
        for order in choice::orders(&self.plan, panel) {
            let Some((_, sent)) = self.sent(panel, order) else {
                continue;
            };
            let mut classes: BTreeMap<_, (BTreeSet<&Sight>, BTreeSet<&Sight>)> = BTreeMap::new();
            for (suspect, mark) in self.suspects.iter().zip(marks) {
                let class = choice::class(order, &suspect.wired.see(&sent));
                let (all, lonely) = classes.entry(class).or_default();
                all.insert(mark);
                if suspect.is_lonely() {
                    lonely.insert(mark);
                }
            }
            // What concerns one panel alone shows nowhere else, so it has to fit the drawings; the
            // rest will show at the next panels.
            let left = classes.values().map(|(all, lonely)| {
                let over = lonely.len().saturating_sub(MOST_DRAWINGS);
                1_000 * over.pow(2) + all.len().pow(2)
            });
            let left: usize = left.sum();
            if left < best.0 {
                best = (left, order);
            }
        }
        best.1
    }

    fn sent(&self, panel: usize, order: Order) -> Option<(Start, Vec<Sent>)> {
        let start = choice::start(&self.plan, panel, order);
        let sent = sent(&start, &self.plan, &self.tables, &self.outputs[panel])?;
        Some((start, sent))
    }

    fn asking(
        &self,
        panel: usize,
        order: Order,
        near: Option<usize>,
        extra: bool,
    ) -> Option<Current> {
        let (start, sent) = self.sent(panel, order)?;
        let mut drawings: Vec<Sight> = Vec::new();
        if order == Order::Mark {
            let lonely = self.suspects.iter().filter(|suspect| suspect.is_lonely());
            let others = self.suspects.iter().filter(|suspect| !suspect.is_lonely());
            let first = self.suspects.first();
            for suspect in first.into_iter().chain(lonely).chain(others) {
                let sight = suspect.wired.see(&sent);
                if !sight.0.is_empty()
                    && !drawings.contains(&sight)
                    && drawings.len() < MOST_DRAWINGS
                {
                    drawings.push(sight);
                }
            }
        }
        Some(Current {
            panel,
            order,
            start,
            sent,
            drawings,
            near,
            extra,
        })
    }

    /// Done with a panel for now.
    fn leave(&mut self, current: &Current) {
        if self.order.get(self.done) == Some(&current.panel) {
            self.done += 1;
        }
        self.ask_next();
    }

    /// The next panel; after the last those that nobody has seen as they are thought to be.
    fn ask_next(&mut self) {
        self.current = match self.order.get(self.done) {
            Some(&panel) => self.asking(panel, Order::Mark, None, false),
            None if self.allowance > 0 => self
                .unsettled
                .pop()
                .and_then(|panel| self.asking(panel, Order::Mark, None, true)),
            None => None,
        };
    }
}
