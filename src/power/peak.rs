//! What a fuse or a supply may carry above its limit for a short time, as an account that is never
//! overdrawn.
//!
//! The account holds at most what the floor file's `percent` for `s` seconds is worth above the
//! limit. What *may be* drawn above the limit is taken from it, and what is left below the limit is
//! paid in; both exactly, in whole parts and microseconds. So in every window of time, whatever its
//! length, no more is drawn than the limit × its length and one full account. It begins empty,
//! because nobody knows what was drawn before.
//!
//! A frame can't be called back: until one that is darker has surely arrived, what may be drawn
//! stays as it was, for [`reaction_us`] at most. So that the account lasts until then, what may
//! be carried above the limit is never more than what would empty it in four times that. This is
//! enough: let the account be B(t), the reaction θ. What may be drawn above the limit at t is at
//! most what was allowed at some moment since t − θ, so at most B(t − θ) / 4θ as long as B falls.
//! If B(s) ≥ B(s − θ) / 2 held until t, then within the θ before t the account lost at most
//! θ · B(t − 2θ) / 4θ ≤ B(t − θ) / 2, so it holds at t as well, and B never reaches zero.
//!
//! All that holds for nodes that can be reached. One that falls silent during a peak may go on with it
//! for as long as it is silent: then the account is overdrawn, by one full account at most, and what
//! was overdrawn is paid back before there is another peak.
//!
//! While the newest pictures ask for more than the limit, what is allowed above it only falls. So
//! on constant input a peak happens once, and the light does not pump.

use super::tree::ElementIndex;
use crate::floor::model::{self, Delivery};
use crate::units::{Draw, Time};

/// A frame that is to replace another leaves within this time after its factor fell …
pub const FALLS_WITHIN_MS: u64 = 50;

/// … and is repeated within this time. (Whoever drives the limiter keeps both.)
pub const REPEATS_WITHIN_MS: u64 = 50;

/// Factors follow what is allowed above the limit at least this often.
pub(super) const FOLLOWS_EVERY_MS: u64 = 20;

/// So many times the reaction the account would last.
const LASTS_REACTIONS: i128 = 4;

/// How long what may be drawn can stay as it was after it is asked to fall: until the darker frame
/// leaves; until the brighter one can no longer arrive and `copies` of darker ones were sent; and
/// until the last of these has surely arrived.
pub(super) const fn reaction_us(rules: Delivery) -> u64 {
    let late_ms = rules.late_ms as u64;
    let copies = rules.copies as u64;
    (FALLS_WITHIN_MS + 2 * late_ms + copies * REPEATS_WITHIN_MS) * 1_000
}

/// The account of one element.
#[derive(Debug, Clone)]
pub(super) struct Account {
    pub(super) element: ElementIndex,
    /// The most that may be carried above the limit.
    most: Draw,
    /// What a full account holds, in parts × microseconds.
    size: i128,
    /// Less than nothing when a node that fell silent went on with its peak.
    left: i128,
    reaction_us: u64,
    at: Time,
    /// What factors were last found with.
    pub(super) followed: Draw,
}

impl Account {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "the reader checked both; rounded down"
    )]
    pub(super) fn new(
        element: ElementIndex,
        peak: model::Peak,
        limit: Draw,
        now: Time,
        rules: Delivery,
    ) -> Self {
        let above = (peak.percent / 100.0 - 1.0).max(0.0);
        let most = (u128::from(limit.0) * u128::from((above * 65_536.0) as u64)) >> 16;
        Self {
            element,
            most: Draw(u64::try_from(most).unwrap_or(0)),
            size: i128::from(limit.0) * i128::from((above * peak.s * 1e6) as u64),
            left: 0,
            reaction_us: reaction_us(rules),
            at: now,
            followed: Draw::ZERO,
        }
    }

    /// Goes on with what is left of another account of the same element.
    pub(super) fn carry(&mut self, before: &Self) {
        self.left = before.left.min(self.size);
        self.at = before.at;
    }

    /// Lets time pass in which `carried` may have been drawn, idle included.
    pub(super) fn pass(&mut self, carried: Draw, limit: Draw, now: Time) {
        let us = i128::from(now.us_since(self.at));
        self.at = now.max(self.at);
        let spent = i128::from(carried.less(limit).0) * us;
        let earned = i128::from(limit.less(carried).0) * us;
        self.left = (self.left - spent + earned).clamp(-self.size, self.size);
    }

    /// What may be carried above the limit now.
    pub(super) fn allows(&self) -> Draw {
        let lasting = self.left.max(0) / (LASTS_REACTIONS * i128::from(self.reaction_us));
        Draw(u64::try_from(lasting).unwrap_or(u64::MAX)).min(self.most)
    }

    /// The most that may be carried above the limit.
    pub(super) const fn most(&self) -> Draw {
        self.most
    }

    /// What is left and what a full one holds, in ampere-seconds, for people.
    #[expect(clippy::cast_precision_loss, reason = "for display")]
    pub(super) fn ampere_seconds(&self) -> (f64, f64) {
        let of = |parts: i128| parts as f64 / 65_535.0 / 1e12;
        (of(self.left), of(self.size))
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::units::Amps;

    const RULES: Delivery = Delivery {
        copies: 3,
        late_ms: 20,
    };

    fn account() -> Account {
        let peak = model::Peak {
            percent: 150.0,
            s: 2.0,
        };
        Account::new(0, peak, Draw::limit(Amps(10.0)), Time(0), RULES)
    }

    fn amps(amps: f64) -> Draw {
        Draw::limit(Amps(amps))
    }

    #[test]
    fn an_account_holds_what_half_the_limit_for_two_seconds_is_worth() {
        // By hand: 150 % of 10 A is 5 A more, for 2 s: 10 A s.
        let mut account = account();
        assert!((account.ampere_seconds().1 - 10.0).abs() < 1e-6);
        assert_eq!(account.allows(), Draw::ZERO, "nobody knows what was before");
        // 4 A below the limit for 1.5 s pay in 6 A s; 3 A above it for 1 s take 3 A s.
        account.pass(amps(6.0), amps(10.0), Time::from_ms(1_500));
        assert!((account.ampere_seconds().0 - 6.0).abs() < 1e-6);
        account.pass(amps(13.0), amps(10.0), Time::from_ms(2_500));
        assert!((account.ampere_seconds().0 - 3.0).abs() < 1e-6);
        // 240 ms of reaction, four times that: 3 A s / 0.96 s.
        assert!((account.allows().amps().0 - 3.125).abs() < 1e-6);
        account.pass(amps(0.0), amps(10.0), Time::from_s(9));
        assert!((account.ampere_seconds().0 - 10.0).abs() < 1e-6, "no more");
        assert!((account.allows().amps().0 - 5.0).abs() < 1e-3);
    }

    #[test]
    fn what_a_silent_node_overdraws_is_paid_back_first() {
        let mut account = account();
        account.pass(Draw::ZERO, amps(10.0), Time::from_s(10));
        // 5 A above the limit for a minute: 300 A s, of which the account remembers one filling.
        account.pass(amps(15.0), amps(10.0), Time::from_s(70));
        assert!((account.ampere_seconds().0 + 10.0).abs() < 1e-6);
        assert_eq!(account.allows(), Draw::ZERO);
        // 10 A below it for a second pay back 10 A s, and the next second fills it.
        account.pass(Draw::ZERO, amps(10.0), Time::from_s(71));
        assert_eq!(account.allows(), Draw::ZERO);
        account.pass(Draw::ZERO, amps(10.0), Time::from_s(72));
        assert!((account.ampere_seconds().0 - 10.0).abs() < 1e-6);
    }

    proptest! {
        /// Whoever draws all that was allowed at the worst moment of the reaction before never
        /// overdraws: the claim at the head of this file, by trying.
        #[test]
        fn what_is_allowed_never_overdraws(
            delays in prop::collection::vec(0..=240_u64, 40),
            rest_ms in 0..20_000_u64,
        ) {
            let mut account = account();
            let limit = amps(10.0);
            account.pass(Draw::ZERO, limit, Time::from_ms(rest_ms));
            let mut allowed = vec![account.allows()];
            for ms in 1..4_000_u64 {
                let delay = delays[usize::try_from(ms / 100).unwrap()];
                let back = allowed.len().saturating_sub(1 + usize::try_from(delay).unwrap());
                let drawn = limit + *allowed[back..].iter().max().unwrap();
                let left = account.left;
                account.pass(drawn, limit, Time::from_ms(rest_ms + ms));
                let spent = i128::from(drawn.less(limit).0) * 1_000;
                prop_assert!(spent <= left, "overdrawn at {ms} ms");
                allowed.push(account.allows());
            }
        }
    }
}
