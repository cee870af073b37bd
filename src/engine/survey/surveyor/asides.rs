//! What people have to know beside what a survey found.

use super::super::rooms;
use super::super::stuck::{self, InTheDark};
use super::Surveyor;
use crate::health::Condition;

/// So many times the scatter that chance leaves (its mean square) says that the readings are of something else
/// than was found. On time it was 1.0 to 1.2 in trials; readings that came 0.15 s late made it 2 to 300.
const MUCH: f64 = 2.0;

const UNLIKE: &str = "But the readings differ more from what was found than chance lets them: some came late, \
     something else draws current, or the floor is not wired as its file says. Before a panel is opened, do the \
     survey again, or let a person look.";

impl Surveyor {
    /// Whether the readings are unlike all that could be found.
    pub(super) fn doubtful(&self) -> bool {
        self.misfit.is_some_and(|misfit| misfit > MUCH)
    }

    /// Tells stuck items from dead ones; gives what people have to know beside what was found.
    pub(super) fn asides(&mut self) -> Vec<String> {
        let unlike = self.doubtful().then(|| UNLIKE.to_owned());
        let mut asides = self.look_in_the_dark();
        asides.extend(unlike);
        asides
    }

    /// Tells stuck items from dead ones; gives where that can't be told.
    fn look_in_the_dark(&mut self) -> Vec<String> {
        let in_the_dark = self.felt.iter().map(|(at, felt)| {
            let brief = &self.brief.sensors[*at];
            let sees = self.items.all.iter().enumerate();
            let sees = sees
                .filter(|(_, item)| rooms::hangs_on(&self.brief.tree, item.panel, brief.element));
            InTheDark {
                more_a: (felt.idle_a - brief.idle_a) / felt.factor,
                sd_a: brief.offset_sd_a / felt.factor,
                sees: sees.map(|(at, _)| at).collect(),
            }
        });
        let in_the_dark: Vec<InTheDark> = in_the_dark.collect();
        let name = |at: usize| &self.floor.sensors[at].name;
        let which = stuck::find(&in_the_dark, &self.full_a, &mut self.judged);
        let which = which.into_iter().map(|(number, count)| {
            format!(
                "{} says more in the dark than it should: one of the {count} dead ones there draws all the \
                 time, and it can't be told which; see whether one is lit.",
                name(self.felt[number].0)
            )
        });
        let dead = |at: usize| {
            let sees = self
                .felt
                .iter()
                .zip(&in_the_dark)
                .filter(|((of, _), _)| *of == at);
            let mut sees = sees.flat_map(|(_, one)| &one.sees);
            sees.any(|&item| self.judged[item].condition == Condition::Dead)
        };
        let steady = self.steady.iter().filter(|at| dead(**at)).map(|&at| {
            format!(
                "{} says exactly the same whatever is lit, as where nothing flows: what it sees is called \
                 dead. If light comes from there, the sensor is frozen.",
                name(at)
            )
        });
        which.chain(steady).collect()
    }
}
