//! Switches that stay pressed, never are, or chatter: found by what their neighbours do.
//!
//! Each verdict has a chance: how likely a sound switch would look like that, times the number of
//! switches of the floor, for with many of them some look odd by accident (Bonferroni). People do not
//! step evenly, so every rule gives a sound switch a generous factor before it counts:
//!
//! - **Never pressed**: its panel's other switches were pressed in `n` visits. A sound switch takes part
//!   in a visit with at least a quarter of an even share, `p = 1/(4·switches)`; it misses all with
//!   `(1 − p)^n`, the binomial distribution at 0. Steps within ten seconds are one visit, for somebody who
//!   stands on one corner is one piece of evidence, not many.
//! - **Stuck**: the `n` presses that all other switches have ended lasted `T` seconds together. Were
//!   presses exponential, one of the same mean that lasts four times as long as `t / 4` would have
//!   `t/4 ÷ (T/n)` distributed as F(2, 2n): chance `(1 + t/(4T))^−n`. It must also last ten minutes and
//!   four times as long as the longest of the others, and people must have come and gone.
//! - **Chatters**: `k` of its `n` presses chattered, `K` of `N` at all the others. Given both together,
//!   and with a rate of at most four times the others', `k` is at most binomial with
//!   `p = 4n/(4n + N)`: the conditional test of Przyborowski and Wilenski (Biometrika 31, 1940).
//!
//! The thresholds are our choice; no source has them.

use crate::units::Time;

use super::chance::{at_least, to_the};
use super::snapshot::Cause;

/// What has been seen of one switch since the floor was taken up.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct SwitchSeen {
    /// Index into [`Floor::panels`](crate::floor::model::Floor::panels).
    pub panel: u32,
    /// Which of the panel's, counted from 1.
    pub switch: u16,
    /// Whether it is pressed; nothing while its node says nothing.
    pub down: Option<bool>,
    /// When that began, or was first known.
    pub since: Time,
    /// Presses that were seen to begin.
    pub presses: u32,
    /// Presses that were seen from beginning to end.
    pub ended: u32,
    /// How long those lasted together, and the longest of them, in milliseconds.
    pub ended_ms: u64,
    /// See `ended_ms`.
    pub longest_ms: u64,
    /// Changes of its level, those of chatter as well.
    pub changes: u32,
    /// Presses and releases that chattered.
    pub chattered: u32,
}

/// Somebody stepped on a switch, or off it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Press {
    /// Counts up with every press and release of the floor, from 1.
    pub number: u64,
    /// Index into [`Floor::panels`](crate::floor::model::Floor::panels).
    pub panel: u32,
    /// Which of the panel's, counted from 1.
    pub switch: u16,
    /// Pressed, or released.
    pub down: bool,
    /// When its level changed.
    pub at: Time,
}

/// A switch that is not sound.
#[derive(Debug, Clone, PartialEq)]
pub struct SwitchFinding {
    /// Index into [`Floor::panels`](crate::floor::model::Floor::panels).
    pub panel: u32,
    /// Which of the panel's, counted from 1.
    pub switch: u16,
    /// Stuck, dead or chattering.
    pub cause: Cause,
    /// Why, for people.
    pub evidence: String,
    /// How sure it is: 1 less the chance that any sound switch of the floor would look like that.
    pub chance: f64,
    /// When it began, or was found.
    pub since: Time,
}

/// When something is said.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rules {
    /// The chance that any sound switch of the floor is called faulty, each time anew.
    pub false_alarm: f64,
    /// So many times worse than even is still sound.
    pub generous: f64,
    /// So long a switch must be pressed to be stuck, in seconds.
    pub stuck_s: f64,
    /// So often others must have been pressed meanwhile.
    pub stuck_others: u32,
    /// So many visits of its panel a switch must have missed to be dead.
    pub dead_visits: u32,
    /// So many of its presses must have chattered.
    pub chattered: u32,
    /// Steps within so long are one visit, in milliseconds.
    pub visit_ms: u64,
}

/// Our choice.
pub const RULES: Rules = Rules {
    false_alarm: 1e-3,
    generous: 4.0,
    stuck_s: 600.0,
    stuck_others: 20,
    dead_visits: 30,
    chattered: 5,
    visit_ms: 10_000,
};

/// One switch, as it is followed.
#[derive(Debug, Clone, Copy, Default)]
struct Followed {
    seen: SwitchSeen,
    /// Visits of its panel in which it took part, and in which it did not.
    visits: u32,
    missed: u32,
    in_visit: bool,
    /// When its panel was first stepped on while it was known.
    first_missed: Option<Time>,
    /// Presses of all others when it was pressed last, and of its panel's.
    others_then: u64,
    panel_then: u64,
    chatters_since: Option<Time>,
}

/// Visits to one panel.
#[derive(Debug, Clone, Copy, Default)]
struct Visits {
    /// When the last step of the visit under way was seen.
    last_step: Option<Time>,
}

/// Follows all switches of a floor.
#[derive(Debug, Clone)]
pub struct Switches {
    rules: Rules,
    /// Sorted by panel and number.
    all: Vec<Followed>,
    /// Where each panel's switches lie in `all`.
    panels: Vec<std::ops::Range<usize>>,
    visits: Vec<Visits>,
}

impl Switches {
    /// Nothing seen yet.
    pub const fn new(rules: Rules) -> Self {
        Self {
            rules,
            all: Vec::new(),
            panels: Vec::new(),
            visits: Vec::new(),
        }
    }

    /// Takes what has been seen by now; call it some times a second. Other switches than before are
    /// another floor, and everything begins anew.
    pub fn see(&mut self, seen: &[SwitchSeen], now: Time) {
        let mut sorted = seen.to_vec();
        sorted.sort_unstable_by_key(|one| (one.panel, one.switch));
        self.settle_in(&sorted);
        let pairs = self.all.iter().zip(&sorted);
        let stepped: Vec<bool> = pairs
            .map(|(before, now)| now.presses > before.seen.presses)
            .collect();
        let fresh = |at: usize| u64::from(sorted[at].presses);
        let floor: u64 = (0..sorted.len()).map(fresh).sum();
        for (panel, range) in self.panels.iter().enumerate() {
            let of_panel: u64 = range.clone().map(fresh).sum();
            let any = range.clone().any(|at| stepped[at]);
            let visit = &mut self.visits[panel];
            let over = visit
                .last_step
                .is_some_and(|last| now.us_since(last) > self.rules.visit_ms * 1_000);
            if over {
                visit.last_step = None;
                for followed in &mut self.all[range.clone()] {
                    followed.end_visit(now);
                }
            }
            if any {
                visit.last_step = Some(now);
            }
            for at in range.clone() {
                let followed = &mut self.all[at];
                followed.in_visit |= stepped[at];
                let here = sorted[at];
                let pressed = here.down == Some(true);
                let anew = here.since != followed.seen.since || here.down != followed.seen.down;
                if pressed && anew {
                    followed.others_then = floor;
                    followed.panel_then = of_panel;
                }
                followed.seen = here;
            }
        }
    }

    /// What is wrong now.
    pub fn findings(&mut self, now: Time) -> Vec<SwitchFinding> {
        let total = Totals::of(&self.all);
        let mut found = Vec::new();
        for range in self.panels.clone() {
            let switches = range.len();
            let panel: u64 = presses(&self.all[range.clone()]);
            for at in range {
                let own = self.all[at];
                let finding = self
                    .stuck(&own, &total, panel, now)
                    .or_else(|| self.dead(&own, switches));
                let chatters = self.chatters(&own, &total);
                let followed = &mut self.all[at];
                if chatters.is_some() {
                    followed.chatters_since.get_or_insert(now);
                }
                let since = followed.chatters_since.unwrap_or(now);
                found.extend(finding);
                found.extend(chatters.map(|chatters| SwitchFinding { since, ..chatters }));
            }
        }
        found
    }

    /// The chance with all switches of the floor, if it is small enough.
    fn small(&self, chance: f64) -> Option<f64> {
        #[expect(clippy::cast_precision_loss, reason = "far fewer than 2^53")]
        let all = chance * self.all.len() as f64;
        (all <= self.rules.false_alarm).then_some(all)
    }

    fn stuck(
        &self,
        own: &Followed,
        total: &Totals,
        panel: u64,
        now: Time,
    ) -> Option<SwitchFinding> {
        let rules = &self.rules;
        let lasts_s = now.s_since(own.seen.since);
        if own.seen.down != Some(true) || lasts_s < rules.stuck_s {
            return None;
        }
        let others = total.presses.saturating_sub(own.others_then);
        let near = panel.saturating_sub(own.panel_then);
        let longest_s = total.longest_but(own) * rules.generous;
        let (ended, ended_s) = total.ended_but(own);
        if others < u64::from(rules.stuck_others) || lasts_s < longest_s || ended == 0 {
            return None;
        }
        let chance = self.small(longer_than(lasts_s / rules.generous, ended, ended_s))?;
        let evidence = format!(
            "Pressed for {}, while other switches were pressed {others} times, {near} of them \
             under the same panel; presses last {:.1} s here as a rule, the longest {:.0} s. If \
             something stands on it, take that away first.",
            lasting(lasts_s),
            ended_s / f64::from(ended),
            longest_s / rules.generous,
        );
        Some(own.finding(Cause::SwitchStuck, evidence, chance, own.seen.since))
    }

    fn dead(&self, own: &Followed, switches: usize) -> Option<SwitchFinding> {
        let rules = &self.rules;
        let never = own.seen.presses == 0 && own.seen.down == Some(false);
        if !never || own.visits > 0 || own.missed < rules.dead_visits {
            return None;
        }
        #[expect(clippy::cast_precision_loss, reason = "at most 1,000 switches a panel")]
        let share = 1.0 / (rules.generous * switches as f64);
        let chance = self.small(to_the(1.0 - share, own.missed))?;
        let evidence = format!(
            "Never pressed, though people stepped on other switches of its panel in {} visits.",
            own.missed
        );
        let since = own.first_missed.unwrap_or(own.seen.since);
        Some(own.finding(Cause::SwitchDead, evidence, chance, since))
    }

    fn chatters(&self, own: &Followed, total: &Totals) -> Option<SwitchFinding> {
        let seen = &own.seen;
        let turns = |presses: u64| presses.saturating_mul(2);
        let own_turns = turns(seen.presses.into());
        let other_turns = turns(total.presses - u64::from(seen.presses));
        if seen.chattered < self.rules.chattered || own_turns == 0 || other_turns == 0 {
            return None;
        }
        let others = total.chattered - u64::from(seen.chattered);
        #[expect(clippy::cast_precision_loss, reason = "far fewer than 2^53")]
        let (n, all) = (own_turns as f64 * self.rules.generous, other_turns as f64);
        let p = n / (n + all);
        let chance = self.small(at_least(
            seen.chattered.into(),
            others + u64::from(seen.chattered),
            p,
        ))?;
        #[expect(clippy::cast_precision_loss, reason = "for people")]
        let per_press = |changes: u64, presses: u64| changes as f64 / presses.max(1) as f64;
        let evidence = format!(
            "{} of its {own_turns} presses and releases chattered, {others} of {other_turns} at \
             the others; its level changes {:.1} times a press, theirs {:.1} times.",
            seen.chattered,
            per_press(seen.changes.into(), seen.presses.into()),
            per_press(
                total.changes - u64::from(seen.changes),
                total.presses - u64::from(seen.presses)
            ),
        );
        Some(own.finding(Cause::SwitchChatters, evidence, chance, seen.since))
    }

    /// Begins anew if these are other switches, or if their counters did.
    fn settle_in(&mut self, sorted: &[SwitchSeen]) {
        let place = |one: &SwitchSeen| (one.panel, one.switch);
        let same = sorted.len() == self.all.len()
            && sorted.iter().zip(&self.all).all(|(now, before)| {
                place(now) == place(&before.seen) && now.presses >= before.seen.presses
            });
        if same {
            return;
        }
        self.panels.clear();
        let mut from = 0;
        for chunk in sorted.chunk_by(|a, b| a.panel == b.panel) {
            self.panels.push(from..from + chunk.len());
            from += chunk.len();
        }
        self.visits = vec![Visits::default(); self.panels.len()];
        let begin = |one: &SwitchSeen| Followed {
            seen: SwitchSeen { down: None, ..*one },
            ..Followed::default()
        };
        self.all = sorted.iter().map(begin).collect();
    }
}

impl Followed {
    /// A visit to its panel is over.
    fn end_visit(&mut self, now: Time) {
        let took_part = std::mem::take(&mut self.in_visit);
        if took_part {
            self.visits += 1;
        } else if self.seen.down.is_some() {
            self.missed += 1;
            self.first_missed.get_or_insert(now);
        }
    }

    const fn finding(
        &self,
        cause: Cause,
        evidence: String,
        any: f64,
        since: Time,
    ) -> SwitchFinding {
        SwitchFinding {
            panel: self.seen.panel,
            switch: self.seen.switch,
            cause,
            evidence,
            chance: 1.0 - any,
            since,
        }
    }
}

fn presses(switches: &[Followed]) -> u64 {
    let each = switches.iter().map(|one| u64::from(one.seen.presses));
    each.sum()
}

/// All switches together.
struct Totals {
    presses: u64,
    changes: u64,
    chattered: u64,
    ended: u32,
    ended_ms: u64,
    /// The longest press, whose it is, and the longest of all others.
    longest_ms: u64,
    longest_of: (u32, u16),
    second_ms: u64,
}

impl Totals {
    fn of(all: &[Followed]) -> Self {
        let sum = |of: fn(&SwitchSeen) -> u64| all.iter().map(|one| of(&one.seen)).sum();
        let mut longest: Vec<_> = (all.iter())
            .map(|one| (one.seen.longest_ms, (one.seen.panel, one.seen.switch)))
            .collect();
        longest.sort_unstable();
        let (longest_ms, longest_of) = longest.last().copied().unwrap_or_default();
        let second_ms = longest.iter().rev().nth(1).map_or(0, |one| one.0);
        Self {
            presses: sum(|seen| seen.presses.into()),
            changes: sum(|seen| seen.changes.into()),
            chattered: sum(|seen| seen.chattered.into()),
            ended: all
                .iter()
                .fold(0, |sum: u32, one| sum.saturating_add(one.seen.ended)),
            ended_ms: sum(|seen| seen.ended_ms),
            longest_ms,
            longest_of,
            second_ms,
        }
    }

    /// The longest press of all others, in seconds.
    #[expect(
        clippy::cast_precision_loss,
        reason = "far fewer than 2^53 milliseconds"
    )]
    fn longest_but(&self, own: &Followed) -> f64 {
        let ms = if self.longest_of == (own.seen.panel, own.seen.switch) {
            self.second_ms
        } else {
            self.longest_ms
        };
        ms as f64 / 1e3
    }

    /// How many presses of all others ended, and how long they lasted together, in seconds.
    #[expect(
        clippy::cast_precision_loss,
        reason = "far fewer than 2^53 milliseconds"
    )]
    fn ended_but(&self, own: &Followed) -> (u32, f64) {
        let ms = self.ended_ms - own.seen.ended_ms;
        (self.ended - own.seen.ended, ms as f64 / 1e3)
    }
}

/// The chance that an exponential time is longer than `t_s`, when `ended` others of the same mean
/// lasted `ended_s` together: the F distribution with 2 and 2·`ended` degrees of freedom beyond
/// `t_s / (ended_s / ended)`.
fn longer_than(t_s: f64, ended: u32, ended_s: f64) -> f64 {
    to_the(1.0 / (1.0 + t_s / ended_s.max(f64::MIN_POSITIVE)), ended)
}

fn lasting(s: f64) -> String {
    if s < 7_200.0 {
        format!("{:.0} minutes", s / 60.0)
    } else {
        format!("{:.1} hours", s / 3_600.0)
    }
}

#[cfg(test)]
mod tests;
