//! A survey for a person who looks: without any sensor, in a few lights.
//!
//! A person sees every segment by itself, so each needs to be lit in one look only, and dark in
//! another: whatever is lit there is frozen or stuck. Half of the segments are lit at a time, every
//! other one, so that whoever taps knows which is which. What was tapped is shown once more, alone:
//! that sorts out what was tapped beside its place.

use std::sync::Arc;

use super::about::About;
use super::brief::Brief;
use super::items::Items;
use super::order::{By, Light};
use super::question::{self, Look, belief};
use super::rooms;
use super::state::{
    self, Ended, LitSegment, SurveyOutcome, SurveyQuestion, SurveyResult, SurveyState,
};
use crate::floor::{Floor, Tables};
use crate::health::{Condition, Judged};
use crate::pattern::Refused;

/// A survey by eyes.
#[derive(Debug)]
pub struct Eyes {
    floor: Arc<Floor>,
    brief: Arc<Brief>,
    run: u32,
    level: u8,
    items: Items,
    full_a: Vec<f64>,
    /// Items that may be lit, ascending.
    usable: Vec<usize>,
    /// What is asked of everyone.
    looks: Vec<Look>,
    /// For each look that was answered whether each item was tapped.
    answers: Vec<(Look, Vec<bool>)>,
    /// Counted up with every light, so that each has a number of its own even after an undo.
    lights: u32,
    spent_s: f64,
    result: Option<SurveyResult>,
}

impl Eyes {
    /// One that begins with what the engine says.
    ///
    /// # Errors
    /// Says why that can't be done.
    pub fn new(
        floor: Arc<Floor>,
        tables: &Tables,
        brief: Arc<Brief>,
        run: u32,
        about: &About,
    ) -> Result<Self, Refused> {
        let (items, full_a) = about.items(&floor, tables)?;
        let in_doubt = items.touched(tables, &brief.silent);
        let lightable: Vec<usize> = (0..items.all.len())
            .filter(|&at| !in_doubt[at] && full_a[at] > 0.0)
            .collect();
        let (_, fits) = rooms::rooms(&brief.tree, &items, &lightable, &full_a);
        let usable = lightable.into_iter().zip(fits);
        let usable: Vec<usize> = usable.filter_map(|(at, fits)| fits.then_some(at)).collect();
        if usable.is_empty() {
            let text = "No segment may be lit: look at the nodes and the limits.";
            return Err(Refused::new("nothing_lit", text));
        }
        Ok(Self {
            looks: question::looks(&brief.tree, &items, &usable, &full_a),
            floor,
            brief,
            run,
            level: about.level,
            items,
            full_a,
            usable,
            answers: Vec::new(),
            lights: 0,
            spent_s: 0.0,
            result: None,
        })
    }

    /// All looks: those that are asked of everyone, then once more what was tapped in those.
    fn all_looks(&self) -> Vec<Look> {
        let mut looks = self.looks.clone();
        if self.answers.len() < looks.len() {
            return looks;
        }
        let asked = &self.answers[..looks.len()];
        let tapped = |at: &usize| asked.iter().any(|(_, taps)| taps[*at]);
        let tapped: Vec<usize> = self.usable.iter().copied().filter(tapped).collect();
        let groups: std::collections::BTreeSet<_> =
            tapped.iter().map(|&at| self.items.all[at].colour).collect();
        for group in groups {
            let own = tapped.iter().copied();
            let own: Vec<usize> = own
                .filter(|&at| self.items.all[at].colour == group)
                .collect();
            let name = group.map_or("white", crate::floor::model::Colour::name);
            let tree = &self.brief.tree;
            let again = question::split(tree, &self.items, &self.usable, &self.full_a, &own, name);
            looks.extend(again);
        }
        looks
    }

    fn look(&self) -> Option<Look> {
        if self.result.is_some() {
            return None;
        }
        self.all_looks().into_iter().nth(self.answers.len())
    }

    /// The light that is to be shown now.
    pub fn light(&self) -> Option<Light> {
        let look = self.look()?;
        let levels = look.lit.iter().map(|&lit| if lit { self.level } else { 0 });
        let levels: Vec<u8> = levels.collect();
        let number = self.answers.len() + 1;
        let words = format!("Survey by eye: look {number}");
        Some(Light {
            run: self.run,
            number: self.lights + 1,
            woven: self.items.woven(&levels, words),
            hold_ms: None,
        })
    }

    /// Takes an answer to the open question: what does not look as it is drawn, as positions and
    /// segments from 1.
    ///
    /// # Errors
    /// When that question is not open, or something was tapped that the floor has not.
    pub fn answer(
        &mut self,
        number: u32,
        tapped: &[(String, u32)],
        spent_s: f64,
    ) -> Result<(), Refused> {
        let look = self.open(number)?;
        let mut taps = vec![false; self.items.all.len()];
        for (position, segment) in tapped {
            let panel = position.parse().ok().and_then(|at| self.floor.panel_at(at));
            let of_segment = |at: &usize| {
                let item = &self.items.all[*at];
                panel == Some(item.panel as usize) && item.segment + 1 == *segment
            };
            let own: Vec<usize> = (0..self.items.all.len()).filter(of_segment).collect();
            if own.is_empty() {
                let text = format!(
                    "The survey has no segment {segment} of a panel {}.",
                    position.escape_debug()
                );
                return Err(Refused::new("no_such_segment", text));
            }
            // Whoever taps what is lit misses what is lit of it; else whatever of it should be dark.
            let any_lit = own.iter().any(|&at| look.lit[at]);
            for at in own {
                taps[at] = look.lit[at] == any_lit;
            }
        }
        self.answers.push((look, taps));
        (self.lights, self.spent_s) = (self.lights + 1, spent_s);
        if self.look().is_none() {
            self.end(Ended::Decided, "The survey is through.");
        }
        Ok(())
    }

    /// Takes the last answer back. `number` is that of the open question.
    ///
    /// # Errors
    /// When there is nothing to take back.
    pub fn undo(&mut self, number: u32) -> Result<(), Refused> {
        self.open(number)?;
        if self.answers.pop().is_none() {
            let text = "Nothing was answered yet.";
            return Err(Refused::new("nothing_answered", text));
        }
        self.lights += 1;
        Ok(())
    }

    fn open(&self, number: u32) -> Result<Look, Refused> {
        let open = u32::try_from(self.answers.len() + 1).unwrap_or(u32::MAX);
        self.look().filter(|_| number == open).ok_or_else(|| {
            let text = "That question is not open: look again.";
            Refused::new("not_open", text)
        })
    }

    fn judged(&self) -> Vec<Judged> {
        let of = |at: usize| {
            let looks = self.answers.iter();
            belief::judge(looks.map(|(look, taps)| (look.lit[at], taps[at])))
        };
        (0..self.items.all.len()).map(of).collect()
    }

    /// It ends with what it knows.
    pub fn end(&mut self, ended: Ended, text: &str) {
        if self.result.is_none() {
            let judged = self.judged();
            let (floor, items) = (&self.floor, &self.items.all);
            let result = state::result(floor, items, &judged, ended, text, Vec::new());
            self.result = Some(result);
        }
    }

    fn question(&self) -> Option<SurveyQuestion> {
        let count = |count: usize| u32::try_from(count).unwrap_or(u32::MAX);
        let look = self.look()?;
        let lit = self
            .items
            .all
            .iter()
            .zip(&look.lit)
            .filter(|(_, lit)| **lit);
        let lit = lit.map(|(item, _)| LitSegment {
            position: self.floor.panels[item.panel as usize].position.to_string(),
            segment: item.segment + 1,
        });
        let text = match look.colour {
            None => "Everything should be dark. Tap every segment that gives light.".to_owned(),
            Some(colour) if self.answers.len() < self.looks.len() => format!(
                "What is drawn lit should be {colour}. Tap every segment that should be lit and \
                 isn't, and every one that is lit though it should be dark."
            ),
            Some(colour) => format!(
                "Once more, only what was tapped: this should be {colour}. Tap every segment that \
                 does not look as it is drawn."
            ),
        };
        Some(SurveyQuestion {
            number: count(self.answers.len() + 1),
            total: count(self.all_looks().len()),
            lit: lit.collect(),
            text,
        })
    }

    /// What people are told of it.
    pub fn state(&self) -> SurveyState {
        let count = |count: usize| u32::try_from(count).unwrap_or(u32::MAX);
        let judged = self.judged();
        let decided = |one: &&Judged| one.condition != Condition::Unknown;
        SurveyState {
            running: self.result.is_none(),
            by: Some(By::Eyes),
            revision: self.brief.revision,
            pattern: count(self.answers.len()),
            decided: count(judged.iter().filter(decided).count()),
            items: count(self.items.all.len()),
            spent_s: self.spent_s,
            left_s: None,
            map: state::map(&self.floor, &self.items.all, &judged),
            outcome: self.result.clone(),
            question: self.question(),
            ended: 0,
        }
    }

    /// What was found, for who makes verdicts of it.
    pub fn outcome(&self) -> SurveyOutcome {
        let decided = self.result.as_ref();
        let items = self.items.all.iter().copied();
        SurveyOutcome {
            ended: 0,
            revision: self.brief.revision,
            by: By::Eyes,
            uptime_s: self.brief.uptime_s + self.spent_s,
            decided: decided.is_some_and(|result| result.ended == Ended::Decided),
            doubtful: false,
            judged: items.zip(self.judged()).collect(),
            sensors: Vec::new(),
        }
    }
}
