//! All explanations of what some sensors read, with their probabilities.

use super::scan::Act;
use super::whats::What;

/// All of them, with their probabilities; the first has no acts.
#[derive(Debug, Clone, Default)]
pub(super) struct Explained {
    pub(super) all: Vec<(Vec<Act>, f64)>,
    /// What the best leaves, against what noise explains.
    pub(super) misfit: f64,
}

/// Those that are not over: what opened and is closed again is no fault that lasts.
pub(super) fn lasting(acts: &[Act]) -> impl Iterator<Item = &Act> {
    acts.iter().filter(|act| match act.what {
        What::Back(_) => false,
        What::Open(at) => acts.iter().all(|other| other.what != What::Back(at)),
        _ => true,
    })
}

/// What opened and is closed again: the candidate, from when to when.
pub(super) fn passing(acts: &[Act]) -> impl Iterator<Item = (usize, Act, Act)> + '_ {
    acts.iter().filter_map(|act| {
        let What::Open(at) = act.what else {
            return None;
        };
        let back = acts.iter().find(|other| other.what == What::Back(at))?;
        Some((at, *act, *back))
    })
}

impl Explained {
    /// How probable it is that one of the things that happened, and is so still, is such.
    pub(super) fn chance(&self, is: impl Fn(What) -> bool) -> f64 {
        let with = self.all.iter();
        with.filter(|(acts, _)| lasting(acts).any(|act| is(act.what)))
            .map(|(_, chance)| chance)
            .sum()
    }

    /// How probable it is that something opened and is closed again.
    pub(super) fn passes(&self) -> f64 {
        self.all
            .iter()
            .filter(|(acts, _)| passing(acts).next().is_some())
            .map(|(_, chance)| chance)
            .sum()
    }

    /// How probable it is that nothing lasts of all that happened.
    pub(super) fn nothing(&self) -> f64 {
        self.all
            .iter()
            .filter(|(acts, _)| lasting(acts).next().is_none())
            .map(|(_, chance)| chance)
            .sum()
    }

    /// The most probable explanation.
    pub(super) fn best(&self) -> &[Act] {
        let best = self.all.iter().max_by(|a, b| a.1.total_cmp(&b.1));
        best.map_or(&[], |(acts, _)| acts)
    }
}
