//! What follows from the explanations of what some sensors read: what is named, what is not yet.

use std::collections::{BTreeMap, BTreeSet};

use super::explained::{Explained, lasting, passing};
use super::scan::Act;
use super::whats::What;
use super::{Out, Steps};
use crate::units::Time;

/// More than this is left unexplained: then nothing is named.
const MUCH: f64 = 2.0;
/// What conducts a share is named if it is at least so probable: a sensor's gain may look like that.
const WEAK_NAMED: f64 = 0.995;

/// One look at some sensors.
pub(super) struct Look<'a> {
    pub(super) sensors: &'a BTreeSet<usize>,
    pub(super) explained: &'a Explained,
    pub(super) now: Time,
    /// Since the last thing happened that lasts.
    lasts_s: f64,
    /// Whether the best explanation leaves nothing odd, beside a floor that was seen sound.
    fits: bool,
    /// Nothing is surer than this.
    pub(super) careful: f64,
    /// A panel is told if it is at least so probable.
    pub(super) panel_named: f64,
    least: f64,
    /// Panels of which these sensors see anything.
    here: BTreeSet<u32>,
}

impl Steps {
    pub(super) fn conclude(
        &mut self,
        sensors: &BTreeSet<usize>,
        explained: &Explained,
        now: Time,
        stands: &impl Fn(u32, Time) -> bool,
    ) {
        let best = explained.best().to_vec();
        if explained.passes() >= self.rules.named {
            for (candidate, from, to) in passing(&best) {
                self.pass_over(candidate, from.at, to.at);
            }
        }
        if explained.nothing() > 0.5 {
            return;
        }
        let look = self.look(sensors, explained, &best, now);
        let mut learnt = BTreeSet::new();
        let (mut opened, mut closed) = (Vec::new(), Vec::new());
        for act in lasting(&best) {
            if let Some(candidate) = act.what.candidate() {
                opened.extend(self.opens(&look, candidate, *act, stands));
            } else if let Some(sensor) = act.what.sensor() {
                if self.errs(&look, sensor, *act) {
                    learnt.insert(sensor);
                }
            } else if let What::Close(at) = act.what
                && explained.chance(|what| what == act.what) >= self.rules.named
            {
                closed.push((at, act.at));
            }
        }
        for (at, since) in closed {
            self.out[at].until = Some(since);
        }
        self.out.extend(opened);
        for &sensor in sensors.difference(&learnt) {
            self.lines[sensor].pending = true;
        }
    }

    fn look<'a>(
        &self,
        sensors: &'a BTreeSet<usize>,
        explained: &'a Explained,
        best: &[Act],
        now: Time,
    ) -> Look<'a> {
        // A sensor that errs while a joint opens, or several things that went out in part, are more likely
        // something else. And who has not seen a sound floor a while ago can't tell what changed.
        let is = |kind: fn(What) -> bool| lasting(best).any(|act| kind(act.what));
        let weak = is(|what| matches!(what, What::Weak(_)));
        let odd = is(|what| what.sensor().is_some()) && is(|what| what.candidate().is_some())
            || weak && lasting(best).count() > 1;
        let longest_s = self.rules.longest_s;
        let seen = sensors.iter().all(|sensor| {
            let line = &self.lines[*sensor];
            let sound = line.sound.is_some_and(|at| now.s_since(at) <= longest_s);
            sound || line.window.is_empty()
        });
        let fits = explained.misfit <= MUCH && !odd && seen;
        let named = self.rules.named;
        // One that came a moment ago may still turn out as another, and with it what was before.
        let last = lasting(best).map(|act| act.at).max().unwrap_or(now);
        let near = self.candidates.iter().filter(|candidate| {
            let mut seen = candidate.seen.iter();
            seen.any(|(sensor, _)| sensors.contains(sensor))
        });
        Look {
            sensors,
            explained,
            now,
            lasts_s: now.s_since(last),
            fits,
            careful: if fits { 1.0 } else { named },
            // Where it does not fit no panel is sure either.
            panel_named: if fits { named } else { f64::INFINITY },
            least: if weak { WEAK_NAMED } else { named },
            here: near.map(|candidate| candidate.panel).collect(),
        }
    }

    /// Something opened: that is told, or waited for, or what can be told of it is.
    fn opens(
        &mut self,
        look: &Look<'_>,
        candidate: usize,
        act: Act,
        stands: &impl Fn(u32, Time) -> bool,
    ) -> Option<Out> {
        let chance = (look.explained).chance(|what| what.candidate() == Some(candidate));
        let by_a = self.by_a(candidate, act.at) * act.size;
        if !look.fits || chance < look.least {
            self.told.unsure(&self.candidates, look, act, by_a);
            return None;
        }
        // Nobody knows before they have left whether it closes then. Which panel it is may not be sure yet:
        // for a while whoever stepped anywhere here counts.
        let waits_s = if stands(self.candidates[candidate].panel, act.at) {
            f64::INFINITY
        } else if look.here.iter().any(|panel| stands(*panel, act.at)) {
            self.rules.under_feet_s
        } else {
            self.rules.lasts_s
        };
        if look.lasts_s < waits_s {
            return None;
        }
        let held_a = match act.what {
            What::Held(_) => self.held(candidate, act.at),
            _ => BTreeMap::new(),
        };
        Some(Out {
            candidate,
            what: act.what,
            lack: act.size.clamp(0.0, 1.0),
            since: act.at,
            until: None,
            chance: chance.min(look.careful),
            by_a,
            held_a,
        })
    }

    /// A sensor errs; whether that is sure, and taken for how it is from now on.
    fn errs(&mut self, look: &Look<'_>, sensor: usize, act: Act) -> bool {
        let chance = look.explained.chance(|what| what.sensor() == Some(sensor));
        let sure = chance >= self.rules.named;
        if !sure {
            self.told.unsure(&self.candidates, look, act, 0.0);
        }
        let taken = sure && look.fits && look.lasts_s >= self.rules.lasts_s;
        if taken {
            self.take_over(sensor, act, chance, look.now);
        }
        taken
    }
}
