//! What the show says that is new, as the estimator of faults is told it.

use super::nodes::Says;
use crate::health::estimate::{LooseJoint, Shortfall};
use crate::health::{Condition, Item, Judged};
use crate::units::Time;

/// That something is good is said again after so long, for it is believed less as time goes by.
const GOOD_AGAIN_S: f64 = 60.0;

/// A weak item is said to be otherwise when its share has moved by so much.
const OTHERWISE: f64 = 0.1;

/// What was said with more doubt than this is said again when there is so many times less of it.
const SURE: f64 = 1e-3;
const SURER: f64 = 10.0;

/// Something that lacks may have begun to so long before it was found: what a node says must reach as
/// far back.
const BEFORE_MS: u64 = 12_000;

/// From when on readings may say that something lacks which was found at `lacks`, if all before `anew` were
/// forgotten.
pub(super) fn reaches(lacks: Time, anew: Time) -> Time {
    Time(lacks.0.saturating_sub(BEFORE_MS * 1_000)).max(anew)
}

/// What is new.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Said {
    /// Revision of the floor that it is about.
    pub revision: u32,
    /// Items of which it says something else than before, and since when.
    pub judged: Vec<(Item, Judged, Time)>,
    /// Panels that draw too little; all of them.
    pub shortfalls: Vec<Shortfall>,
    /// Joints that open under feet; all of them.
    pub loose: Vec<LooseJoint>,
}

/// What was said of one item, and what is about to be.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Told {
    said: Option<(Judged, Time)>,
    /// Found faulty since then, but not said yet.
    waits: Option<Time>,
    /// What was seen before counts no more.
    anew: Time,
}

/// What becomes of one item.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Turn {
    /// Nothing is said.
    Nothing,
    /// This is said, and holds since then.
    Say(Judged, Time),
    /// Its node may have been away: what was seen of it counts no more.
    Forget,
}

impl Told {
    /// What is to be said of an item that is found to be so. `node` says whether its node explains that it
    /// lacks since a moment, by what was read from another on.
    pub(super) fn hear(
        &mut self,
        judged: Judged,
        now: Time,
        node: impl Fn(Time, Time) -> Says,
    ) -> Turn {
        match judged.condition {
            Condition::Unknown => {
                self.waits = None;
                Turn::Nothing
            }
            Condition::Good => {
                self.waits = None;
                let again = self.said.is_none_or(|(said, at)| {
                    said.condition != Condition::Good || now.s_since(at) >= GOOD_AGAIN_S
                });
                if again {
                    self.say(judged, now)
                } else {
                    Turn::Nothing
                }
            }
            _ if self.said.is_some_and(|(said, _)| same(&said, &judged)) => Turn::Nothing,
            _ => {
                let since = *self.waits.get_or_insert(now);
                match node(since, reaches(since, self.anew)) {
                    Says::Wait => Turn::Nothing,
                    Says::There => self.say(judged, since),
                    Says::WasAway => {
                        self.waits = None;
                        Turn::Forget
                    }
                }
            }
        }
    }

    fn say(&mut self, judged: Judged, at: Time) -> Turn {
        self.said = Some((judged, at));
        self.waits = None;
        Turn::Say(judged, at)
    }

    /// Whatever was said counts no more.
    pub(super) fn forget(&mut self, now: Time) {
        *self = Self {
            anew: now,
            ..Self::default()
        };
    }

    /// Whether it was said to be faulty.
    pub(super) fn is_faulty(&self) -> bool {
        let faulty = |said: Judged| said.condition != Condition::Good;
        self.said.is_some_and(|(said, _)| faulty(said))
    }
}

/// Whether a verdict says the same to people as the one before.
fn same(one: &Judged, other: &Judged) -> bool {
    let share = |judged: &Judged| judged.condition.share().unwrap_or(1.0);
    let as_sure = one.doubt <= SURE || other.doubt > one.doubt / SURER;
    let as_weak = (share(one) - share(other)).abs() < OTHERWISE;
    one.condition.word() == other.condition.word() && as_weak && as_sure
}

#[cfg(test)]
mod tests {
    use super::*;

    fn judged(condition: Condition) -> Judged {
        Judged {
            condition,
            doubt: 1e-6,
        }
    }

    #[test]
    fn what_is_faulty_is_said_once_and_when_the_node_has_answered() {
        let mut told = Told::default();
        let dead = judged(Condition::Dead);
        let s = Time::from_s;
        assert_eq!(told.hear(dead, s(5), |_, _| Says::Wait), Turn::Nothing);
        let since = |since, from| {
            assert_eq!((since, from), (s(5), s(0)));
            Says::There
        };
        assert_eq!(told.hear(dead, s(7), since), Turn::Say(dead, s(5)));
        assert_eq!(told.hear(dead, s(8), |_, _| Says::There), Turn::Nothing);
        assert!(told.is_faulty());
        // It is what is dead that is no longer known; nothing new is said.
        let unknown = judged(Condition::Unknown);
        assert_eq!(told.hear(unknown, s(9), |_, _| Says::There), Turn::Nothing);
        let good = judged(Condition::Good);
        assert_eq!(
            told.hear(good, s(20), |_, _| Says::Wait),
            Turn::Say(good, s(20))
        );
        assert_eq!(told.hear(good, s(79), |_, _| Says::Wait), Turn::Nothing);
        assert_eq!(
            told.hear(good, s(80), |_, _| Says::Wait),
            Turn::Say(good, s(80))
        );
        assert!(!told.is_faulty());
    }

    #[test]
    fn a_node_that_was_away_is_no_fault_of_its_panels() {
        let mut told = Told::default();
        let dead = judged(Condition::Dead);
        assert_eq!(
            told.hear(dead, Time::from_s(5), |_, _| Says::WasAway),
            Turn::Forget
        );
        let later = told.hear(dead, Time::from_s(9), |_, _| Says::There);
        assert_eq!(later, Turn::Say(dead, Time::from_s(9)));
    }

    #[test]
    fn what_becomes_much_surer_is_said_again() {
        let mut told = Told::default();
        for (doubt, news) in [
            (0.08, true),
            (0.02, false),
            (0.007, true),
            (5e-4, true),
            (1e-6, false),
        ] {
            let dead = Judged {
                condition: Condition::Dead,
                doubt,
            };
            let turn = told.hear(dead, Time::from_s(1), |_, _| Says::There);
            assert_eq!(turn != Turn::Nothing, news, "{doubt}");
        }
    }

    #[test]
    fn a_share_that_moves_a_little_is_no_news() {
        let mut told = Told::default();
        for (share, news) in [(0.5, true), (0.55, false), (0.45, false), (0.62, true)] {
            let weak = judged(Condition::Weak(share));
            let turn = told.hear(weak, Time::from_s(1), |_, _| Says::There);
            assert_eq!(turn != Turn::Nothing, news, "{share}");
        }
    }
}
