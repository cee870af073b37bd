//! Whether what a node's panels draw says anything of them: a node without power is dark, and that is no
//! joint's fault. Its silence is only noticed seconds later, so what lacks waits for the node's word.

use crate::engine::look::NodeSeen;
use crate::engine::nodes::POLL_EVERY_MS;
use crate::units::Time;

/// Answers that are farther apart leave a poll unanswered.
const MISSED_MS: u64 = POLL_EVERY_MS * 3 / 2;

/// After a node has been away, what is read says nothing for so long: it is dark until frames arrive, and
/// sensors take their time.
const BACK_MS: u64 = 5_000;

/// One that answers again is lit so soon: frames are repeated every 0.9 s.
const LIT_MS: u64 = 2_000;

/// One node as it answers.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Presence {
    last: NodeSeen,
    /// The first of the answers that followed each other without a poll missed.
    since: Option<Time>,
    /// When it was last known to be away.
    away: Option<Time>,
}

/// Whether the node explains that something lacks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Says {
    /// It has answered all the time: it is not the node.
    There,
    /// It has not answered since.
    Wait,
    /// It may have been away.
    WasAway,
}

impl Presence {
    /// Sees whether it answers; says whether it is back from having been away.
    pub(super) fn see(&mut self, seen: NodeSeen, now: Time) -> bool {
        let before = std::mem::replace(&mut self.last, seen);
        let missed = match (before.replied, seen.replied) {
            (Some(one), Some(other)) => other.us_since(one) > MISSED_MS * 1_000,
            _ => true,
        };
        if missed && seen.replied != before.replied {
            self.since = seen.replied;
        }
        let away = !seen.online && seen.replied.is_some();
        if away {
            self.away = Some(now);
        }
        seen.online && !before.online && before.replied.is_some()
    }

    /// Whether what is read of its panels says something of them.
    pub(super) fn counts(&self, now: Time) -> bool {
        self.away
            .is_none_or(|away| now.us_since(away) > BACK_MS * 1_000)
    }

    /// What it says now of something that lacks since `lacks`, by what was read from `from` on. One that never
    /// answered says nothing.
    pub(super) fn says(&self, lacks: Time, from: Time, now: Time) -> Says {
        match (self.last.replied, self.since) {
            (Some(replied), Some(since)) if replied > lacks => {
                if since <= from {
                    Says::There
                } else if now.us_since(since) < LIT_MS * 1_000 {
                    // What is read until it is lit again says nothing either.
                    Says::Wait
                } else {
                    Says::WasAway
                }
            }
            (Some(_), _) => Says::Wait,
            (None, _) => Says::There,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn answers(presence: &mut Presence, s: impl IntoIterator<Item = u64>) {
        for s in s {
            let at = Time::from_s(s);
            let seen = NodeSeen {
                online: true,
                replied: Some(at),
            };
            presence.see(seen, at);
        }
    }

    #[test]
    fn a_node_that_answers_all_the_time_is_not_what_lacks() {
        let mut node = Presence::default();
        answers(&mut node, (0..30).step_by(3));
        let s = Time::from_s;
        assert_eq!(node.says(s(28), s(13), s(29)), Says::Wait);
        answers(&mut node, [30]);
        assert_eq!(node.says(s(28), s(13), s(30)), Says::There);
    }

    #[test]
    fn one_that_missed_a_poll_may_be() {
        let mut node = Presence::default();
        answers(&mut node, [0, 3, 6, 9, 12, 15, 18, 24]);
        let s = Time::from_s;
        // It is there again, and may not be lit yet.
        assert_eq!(node.says(s(20), s(5), s(25)), Says::Wait);
        assert_eq!(node.says(s(20), s(5), s(26)), Says::WasAway);
        // What was read since then is not the node's doing.
        answers(&mut node, [27, 30]);
        assert_eq!(node.says(s(29), s(17), s(30)), Says::WasAway);
        assert_eq!(node.says(s(29), s(26), s(30)), Says::There);
    }

    #[test]
    fn one_that_is_away_says_nothing_of_its_panels() {
        let mut node = Presence::default();
        answers(&mut node, [0, 3]);
        let gone = NodeSeen {
            online: false,
            replied: Some(Time::from_s(3)),
        };
        assert!(!node.see(gone, Time::from_s(13)) && !node.counts(Time::from_s(14)));
        let back = NodeSeen {
            online: true,
            replied: Some(Time::from_s(20)),
        };
        assert!(node.see(back, Time::from_s(20)));
        assert!(!node.counts(Time::from_s(18)) && node.counts(Time::from_s(19)));
        // One that never answered has nothing to say.
        assert_eq!(
            Presence::default().says(Time::from_s(9), Time(0), Time::from_s(9)),
            Says::There
        );
    }
}
