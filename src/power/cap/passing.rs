//! What the passing of time changes: accounts of what was carried above limits, and ceilings that
//! rise.

use super::Limiter;
use crate::floor::model::{Floor, Peak};
use crate::power::peak::{Account, FOLLOWS_EVERY_MS};
use crate::power::room::NO_CEILING;
use crate::power::slew::Ramp;
use crate::power::tree::{ElementIndex, Tree};
use crate::units::{Draw, Time};

/// While nodes wait for `ArtSync` nobody knows when they show a darker frame: until this time
/// after the last sync nothing is carried above a limit.
const AFTER_SYNC_MS: u64 = 5_000;

/// What goes by time.
#[derive(Debug)]
pub(super) struct Passing {
    accounts: Vec<Account>,
    ramps: Vec<Ramp>,
    followed: Time,
    /// No peaks until then, for the sake of syncs.
    synced_until: Time,
    /// No peaks any more: nobody will be there to end them.
    ended: bool,
}

/// A peak, for people.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PeakReading {
    /// What may be carried above the limit now.
    pub extra: Draw,
    /// The most that ever may be.
    pub most: Draw,
    /// Ampere-seconds that are left.
    pub left_as: f64,
    /// Ampere-seconds of a full account.
    pub full_as: f64,
}

impl Passing {
    pub(super) fn new(floor: &Floor, tree: &Tree, now: Time) -> Self {
        let mut passing = Self {
            accounts: Vec::new(),
            ramps: Vec::new(),
            followed: now,
            synced_until: Time::default(),
            ended: false,
        };
        let feeds = floor.feeds.iter().enumerate();
        let feeds = feeds.map(|(at, feed)| (tree.feed(at), feed.peak, feed.slew_a_per_s));
        let supplies = floor.supplies.iter().enumerate();
        let supplies = supplies.map(|(at, of)| (tree.supply(at), of.peak, of.slew_a_per_s));
        for (element, peak, slew) in feeds.chain(supplies) {
            let own = &tree.elements[element as usize];
            if !own.capped {
                continue;
            }
            let account = |peak: Peak| Account::new(element, peak, own.limit, now, floor.delivery);
            passing.accounts.extend(peak.map(account));
            passing
                .ramps
                .extend(slew.map(|slew| Ramp::new(element, slew, now)));
        }
        passing
    }

    /// Whether anything goes by time.
    pub(super) const fn idle(&self) -> bool {
        self.accounts.is_empty() && self.ramps.is_empty()
    }

    /// Whether any element may carry more than its limit.
    pub(super) const fn has_peaks(&self) -> bool {
        !self.accounts.is_empty()
    }

    fn account(&self, element: ElementIndex) -> Option<&Account> {
        let mut accounts = self.accounts.iter();
        accounts.find(|account| account.element == element)
    }
}

impl Limiter {
    /// Lets time pass for all that goes by it, with what may have been drawn since.
    pub(super) fn pass(&mut self, now: Time) {
        if self.passing.idle() {
            return;
        }
        let none = self.passing.ended || now < self.passing.synced_until;
        for account in &mut self.passing.accounts {
            let at = account.element as usize;
            let own = &mut self.tree.elements[at];
            account.pass(self.sums[at].reserved + own.idle, own.limit, now);
            let allowed = if none || self.sums[at].crowded > 0 {
                Draw::ZERO
            } else {
                account.allows()
            };
            // While more than the limit is asked it only falls, so that the light does not pump.
            own.extra = if self.sums[at].over && !none {
                allowed.min(own.extra)
            } else {
                allowed
            };
        }
        for ramp in &mut self.passing.ramps {
            let at = ramp.element as usize;
            self.sums[at].ceiling = ramp.pass(self.sums[at].ceiling, self.sums[at].sent, now);
        }
    }

    /// Lets factors follow what may be carried above limits now; says whether there may be more
    /// room for what waits.
    pub(super) fn follow(&mut self, now: Time) -> bool {
        if self.passing.idle() || now < self.passing.followed.plus_ms(FOLLOWS_EVERY_MS) {
            return false;
        }
        self.passing.followed = now;
        for at in 0..self.passing.accounts.len() {
            let account = &mut self.passing.accounts[at];
            let element = account.element;
            let extra = self.tree.elements[element as usize].extra;
            if std::mem::replace(&mut account.followed, extra) != extra {
                self.touch(element);
            }
        }
        self.settle();
        true
    }

    /// From now on nothing may be drawn above a limit: whoever drives the limiter ends, and nodes hold
    /// what they got last.
    pub fn end_peaks(&mut self, now: Time) {
        self.passing.ended = true;
        self.passing.followed = Time::default();
        self.pass(now);
        self.follow(now.max(Time::from_ms(FOLLOWS_EVERY_MS)));
    }

    /// Whether any limit changes by itself: for a short time more may be carried, or a rise takes time.
    pub const fn goes_by_time(&self) -> bool {
        !self.passing.idle()
    }

    /// Whether anything may be drawing more than its limit, so that time must be told often.
    pub fn peaking(&self) -> bool {
        self.passing.accounts.iter().any(|account| {
            let own = &self.tree.elements[account.element as usize];
            self.sums[account.element as usize].reserved + own.idle > own.limit
        })
    }

    /// An `ArtSync` wants to leave; says whether it may. From now on nothing may be drawn above a
    /// limit.
    ///
    /// While nodes act at once (`waiting` is false) it must not leave as long as a peak may be on
    /// show: they would go on showing that until the next sync. Nodes that wait already need every
    /// sync, and so do those that may still be showing what they did before the start.
    pub fn may_sync(&mut self, waiting: bool, now: Time) -> bool {
        if !self.passing.has_peaks() {
            return true;
        }
        self.passing.synced_until = now.plus_ms(AFTER_SYNC_MS);
        self.pass(now);
        let peak = |account: &Account| {
            let at = account.element as usize;
            let own = &self.tree.elements[at];
            self.sums[at].reserved.less(self.sums[at].unreachable) + own.idle > own.limit
        };
        waiting
            || self.shares.iter().any(|share| {
                // One that is silent takes no part in what can be waited for.
                share.held.inherited() && !share.held.silent()
            })
            || !self.passing.accounts.iter().any(peak)
    }

    /// What an element may carry for a short time, if it may.
    pub fn peak(&self, element: ElementIndex) -> Option<PeakReading> {
        let account = self.passing.account(element)?;
        let (left_as, full_as) = account.ampere_seconds();
        Some(PeakReading {
            extra: self.tree.elements[element as usize].extra,
            most: account.most(),
            left_as,
            full_as,
        })
    }

    /// Goes on where `before` is now, for each pair of the same element: here, there. What the
    /// newest frames draw must have been carried over.
    pub(super) fn take_over_passing(
        &mut self,
        before: &Self,
        same: &[(ElementIndex, ElementIndex)],
        now: Time,
    ) {
        self.first_ceilings();
        self.passing.synced_until = before.passing.synced_until;
        if self.passing.idle() {
            return;
        }
        let panels = self.tree.feed(0);
        for &(here, there) in same.iter().filter(|pair| pair.0 >= panels) {
            let at = there as usize;
            let mut accounts = self.passing.accounts.iter_mut();
            if let (Some(account), Some(was)) = (
                accounts.find(|account| account.element == here),
                before.passing.account(there),
            ) {
                let own = &before.tree.elements[at];
                let mut was = was.clone();
                was.pass(before.sums[at].reserved + own.idle, own.limit, now);
                account.carry(&was);
            }
            if self.sums[here as usize].ceiling != NO_CEILING
                && before.sums[at].ceiling != NO_CEILING
            {
                let left = before.sums[at].ceiling.less(before.sums[at].sent);
                let sums = &mut self.sums[here as usize];
                sums.ceiling = sums.ceiling.min(sums.sent + left);
            }
        }
        for ramp in &mut self.passing.ramps {
            ramp.begin(now);
        }
        self.pass(now);
    }

    /// Where the ceilings stand at the start: one step above nothing.
    pub(super) fn first_ceilings(&mut self) {
        for sums in &mut self.sums {
            sums.ceiling = NO_CEILING;
        }
        for ramp in &self.passing.ramps {
            let at = ramp.element as usize;
            self.sums[at].ceiling = ramp.above(self.sums[at].sent);
        }
    }
}
