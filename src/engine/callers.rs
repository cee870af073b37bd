//! Who polls, and how often each is answered.
//!
//! A poll is small and its answer may be hundreds of datagrams, so a poll with a forged address would
//! make litfloor flood whom it names. Each caller gets a few answers, then one a second; all together
//! get some more, of which half are for callers that have polled before: a flood of new addresses
//! leaves the console that polls every three seconds its answers.
//!
//! A caller is an address, with the port of Art-Net or with any other: who forges the console's address
//! from other ports uses up another right than the console's, and one only, whatever ports he makes up. Answers
//! go to the port that asked, so an address gets no more than twice what one caller gets.
//!
//! Whose picture is taken, and whom the floor file names, shares with nobody: however many others poll
//! however often, those have their answers. So that this makes no flood either, they are few; whom the floor
//! file names goes before whoever only sends.

use std::net::{Ipv4Addr, SocketAddrV4};

use super::universe::SOURCE_LEAVES_AFTER_S;
use crate::units::Time;
use crate::wire::PORT;

/// Callers that are remembered: so many that polled once …
const NEW: usize = 32;
/// … and so many that polled again later.
const KNOWN: usize = 32;
/// Addresses that share with nobody.
const FAVOURED: usize = 16;

/// A caller that polls again after so long is known from then on. What is forged in bulk seldom comes
/// back so late; a controller polls every 2.5 to 3 s (Art-Net 4).
const KNOWN_AFTER_MS: u64 = 1_000;

/// Answers that one caller gets at once, and the time after which it gets one more.
const ITS_BURST: u64 = 4;
const ITS_PAUSE_US: u64 = 1_000_000;

/// Answers that new, and known callers get at once together, and the time after which they get one more.
const BURST: u64 = 20;
const PAUSE_US: u64 = 100_000;

/// A right to some answers at once, and to more as time passes: the "generic cell rate algorithm" of
/// ITU-T I.371 (from memory), by the time at which all is unused again.
#[derive(Debug, Clone, Copy, Default)]
struct Right {
    whole_at: Time,
}

impl Right {
    fn has(self, now: Time, burst: u64, pause_us: u64) -> bool {
        self.whole_at.us_since(now) <= (burst - 1) * pause_us
    }

    fn use_one(&mut self, now: Time, pause_us: u64) {
        self.whole_at = self.whole_at.max(now).plus_us(pause_us);
    }
}

/// An address, and whether it polls from the port of Art-Net, as controllers do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Who {
    address: Ipv4Addr,
    usual_port: bool,
}

impl Who {
    fn of(from: SocketAddrV4) -> Self {
        Self {
            address: *from.ip(),
            usual_port: from.port() == PORT,
        }
    }
}

#[derive(Debug, Clone, Copy)]
struct Caller {
    who: Who,
    first: Time,
    last: Time,
    right: Right,
}

/// An address that shares with nobody.
#[derive(Debug, Clone, Copy)]
struct Favoured {
    address: Ipv4Addr,
    /// Whether the floor file names it.
    named: bool,
    /// When there last was a reason to favour it.
    last: Time,
    /// What it has from the port of Art-Net, and from all others.
    usual: Right,
    other: Right,
}

impl Favoured {
    /// Favour lasts as long as a silent source stays one.
    const fn is_over(&self, now: Time) -> bool {
        now.us_since(self.last) >= SOURCE_LEAVES_AFTER_S * 1_000_000
    }
}

/// Who has polled lately: tables of fixed size, in which who was silent longest gives way.
#[derive(Debug, Default)]
pub(super) struct Callers {
    new: Vec<Caller>,
    known: Vec<Caller>,
    /// What new callers may get in all, and what known ones may.
    of_new: Right,
    of_known: Right,
    /// Whose picture is still taken gives way here only to whom the floor file names.
    favoured: [Option<Favoured>; FAVOURED],
}

impl Callers {
    /// Favours an address: its picture is taken now.
    pub(super) fn favour(&mut self, address: Ipv4Addr, now: Time) {
        self.take_place(address, false, now);
    }

    /// Favours an address that the floor file names.
    pub(super) fn favour_named(&mut self, address: Ipv4Addr, now: Time) {
        self.take_place(address, true, now);
    }

    fn take_place(&mut self, address: Ipv4Addr, named: bool, now: Time) {
        let mut places = self.favoured.iter_mut();
        if let Some(favoured) = places.find_map(|place| of(place, address)) {
            favoured.last = now;
            favoured.named |= named;
            return;
        }
        let Some(at) = self.place_for(named, now) else {
            return;
        };
        // What it has used up it does not get anew.
        let usual = self.forget(address, true);
        let other = self.forget(address, false);
        self.favoured[at] = Some(Favoured {
            address,
            named,
            last: now,
            usual,
            other,
        });
    }

    /// The place that is free, or that of whose favour is over, or else, for whom the floor file names, that of
    /// whom it does not: each time of who was silent longest.
    fn place_for(&self, named: bool, now: Time) -> Option<usize> {
        let rank = |place: &Option<Favoured>| match place {
            None => Some((0, Time::default())),
            Some(old) if old.is_over(now) => Some((1, old.last)),
            Some(old) if named && !old.named => Some((2, old.last)),
            Some(_) => None,
        };
        let places = self.favoured.iter().enumerate();
        let ranks = places.filter_map(|(at, place)| Some((rank(place)?, at)));
        ranks.min().map(|(_, at)| at)
    }

    /// Takes a caller out of the tables of those that share.
    fn forget(&mut self, address: Ipv4Addr, usual_port: bool) -> Right {
        let who = Who {
            address,
            usual_port,
        };
        for table in [&mut self.new, &mut self.known] {
            if let Some(at) = table.iter().position(|caller| caller.who == who) {
                return table.swap_remove(at).right;
            }
        }
        Right::default()
    }

    /// Whether a poll from there is to be answered.
    pub(super) fn may_answer(&mut self, from: SocketAddrV4, now: Time) -> bool {
        let who = Who::of(from);
        let (its, all) = self.find(who, now);
        let shared = all.as_ref().is_none_or(|all| all.has(now, BURST, PAUSE_US));
        let may = its.has(now, ITS_BURST, ITS_PAUSE_US) && shared;
        if may {
            its.use_one(now, ITS_PAUSE_US);
            if let Some(all) = all {
                all.use_one(now, PAUSE_US);
            }
        }
        may
    }

    /// What a caller may get, and what it shares with others, if it does.
    fn find(&mut self, who: Who, now: Time) -> (&mut Right, Option<&mut Right>) {
        let mut places = self.favoured.iter_mut();
        if let Some(favoured) = places.find_map(|place| of(place, who.address)) {
            // One whose favour is over goes by the same right, or it would have a new one each time.
            let all = favoured.is_over(now).then_some(&mut self.of_known);
            let right = if who.usual_port {
                &mut favoured.usual
            } else {
                &mut favoured.other
            };
            return (right, all);
        }
        let is = |caller: &Caller| caller.who == who;
        if let Some(at) = self.known.iter().position(is) {
            self.known[at].last = now;
            return (&mut self.known[at].right, Some(&mut self.of_known));
        }
        if let Some(at) = self.new.iter().position(is) {
            let mut caller = self.new[at];
            caller.last = now;
            if now >= caller.first.plus_ms(KNOWN_AFTER_MS) {
                self.new.swap_remove(at);
                let right = put(&mut self.known, KNOWN, caller);
                return (right, Some(&mut self.of_known));
            }
            self.new[at] = caller;
            return (&mut self.new[at].right, Some(&mut self.of_new));
        }
        let caller = Caller {
            who,
            first: now,
            last: now,
            right: Right::default(),
        };
        (put(&mut self.new, NEW, caller), Some(&mut self.of_new))
    }
}

/// What is in a place, if it is of this address.
fn of(place: &mut Option<Favoured>, address: Ipv4Addr) -> Option<&mut Favoured> {
    place.as_mut().filter(|one| one.address == address)
}

/// Puts a caller into a table of `most`, in the place of whoever was silent longest if that is full.
fn put(table: &mut Vec<Caller>, most: usize, caller: Caller) -> &mut Right {
    let at = if table.len() < most {
        table.push(caller);
        table.len() - 1
    } else {
        let oldest = (0..table.len())
            .min_by_key(|&at| table[at].last)
            .unwrap_or(0);
        table[oldest] = caller;
        oldest
    };
    &mut table[at].right
}

#[cfg(test)]
mod tests;
