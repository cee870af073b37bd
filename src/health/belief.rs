//! What was seen of one item, as likelihoods of each way it may be.

use super::snapshot::SegmentCondition;
use super::{Condition, Judged};

/// The share of items that estimators take to be dead or weak before they have seen anything. A
/// verdict's odds are divided by these, so that what was assumed does not count twice.
const ASSUMED_BAD: f64 = 0.02;

/// Nobody is surer than this of anything: one in a million.
const LEAST_DOUBT: f64 = 1e-6;

/// Natural logarithms of the likelihood of what was seen, for each way an item may be. Only their
/// differences mean something.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Belief {
    /// If it is good.
    pub good: f64,
    /// If it draws too little.
    pub weak: f64,
    /// If it draws nothing.
    pub dead: f64,
    /// If it draws whatever it is told.
    pub stuck: f64,
}

impl Belief {
    /// What an estimator's verdict says.
    pub fn of(judged: Judged) -> Self {
        let doubt = judged.doubt.clamp(LEAST_DOUBT, 1.0);
        let odds = ((1.0 - doubt).max(LEAST_DOUBT) / doubt).ln();
        let assumed = (ASSUMED_BAD / (1.0 - ASSUMED_BAD)).ln();
        let mut belief = Self::default();
        match judged.condition {
            Condition::Unknown => {}
            Condition::Good => belief.good = (odds + assumed).max(0.0),
            Condition::Weak(_) => belief.weak = (odds - assumed).max(0.0),
            Condition::Dead => belief.dead = (odds - assumed).max(0.0),
            Condition::Stuck(_) => belief.stuck = (odds - assumed).max(0.0),
        }
        // A joint that is nearly open and one that is open look much alike.
        let near = 4.0;
        belief.weak = belief.weak.max(belief.dead - near);
        belief.dead = belief.dead.max(belief.weak - near);
        belief
    }

    /// Both, if they are independent.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        Self {
            good: self.good + other.good,
            weak: self.weak + other.weak,
            dead: self.dead + other.dead,
            stuck: self.stuck + other.stuck,
        }
    }

    /// The same, believed so much less: 1 whole, 0 not at all.
    #[must_use]
    pub fn faded(self, weight: f64) -> Self {
        Self {
            good: self.good * weight,
            weak: self.weak * weight,
            dead: self.dead * weight,
            stuck: self.stuck * weight,
        }
    }

    /// What is likeliest, by Bayes' rule, and the probability of everything else.
    pub fn likeliest(self) -> (SegmentCondition, f64) {
        let bad = (ASSUMED_BAD / 3.0).ln();
        let all = [
            (SegmentCondition::Good, self.good + (1.0 - ASSUMED_BAD).ln()),
            (SegmentCondition::Weak, self.weak + bad),
            (SegmentCondition::Dead, self.dead + bad),
            (SegmentCondition::Stuck, self.stuck + bad),
        ];
        let best = all.into_iter().max_by(|a, b| a.1.total_cmp(&b.1));
        let (condition, most) = best.unwrap_or((SegmentCondition::Unknown, 0.0));
        let others: f64 = all
            .iter()
            .filter(|(other, _)| *other != condition)
            .map(|(_, log)| (log - most).exp())
            .sum();
        (condition, others / (1.0 + others))
    }

    /// Whether something else than good explains it best.
    pub fn is_suspicious(self) -> bool {
        self.weak.max(self.dead).max(self.stuck) > self.good
    }

    /// Whether anything was seen.
    pub fn says_something(self) -> bool {
        self != Self::default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    use proptest::prelude::*;

    fn judged(condition: Condition, doubt: f64) -> Belief {
        Belief::of(Judged { condition, doubt })
    }

    #[test]
    fn odds_are_those_of_bayes() {
        // Bayes' rule by hand: posterior odds 0.99 / 0.01 = 99 over prior odds 0.02 / 0.98.
        let dead = judged(Condition::Dead, 0.01);
        assert!((dead.dead - dead.good - (99.0_f64 * 49.0).ln()).abs() < 1e-9);
        let good = judged(Condition::Good, 0.01);
        assert!((good.good - good.dead - (99.0_f64 / 49.0).ln()).abs() < 1e-9);
    }

    #[test]
    fn who_knows_nothing_says_nothing() {
        assert!(!judged(Condition::Unknown, 1.0).says_something());
        assert!(!judged(Condition::Good, 1.0).says_something());
        assert!(!judged(Condition::Good, 1.0).is_suspicious());
    }

    proptest! {
        #[test]
        fn less_doubt_never_says_less(a in 0.0..1.0_f64, b in 0.0..1.0_f64) {
            let (less, more) = (a.min(b), a.max(b));
            let of = |doubt| { let belief = judged(Condition::Dead, doubt); belief.dead - belief.good };
            prop_assert!(of(less) >= of(more));
        }
    }
}
