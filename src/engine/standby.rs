//! Two litfloors that stand by for each other: who leads, by the beats that they exchange.
//!
//! The first leads while it can. The second stands by: it hears the console, sends nothing, and leads
//! when the first has been silent for [`SILENT_MS`]. When the first is back it listens for a while and
//! then wants the lead again; the second lets go, says so, and only then does the first lead. If both
//! ever lead, because they could not hear each other, the second lets go at the first beat that comes
//! through.

use std::net::{Ipv4Addr, SocketAddrV4};

use crate::units::Time;
use crate::wire::beat::Beat;
pub use crate::wire::beat::{Duty, Key, Role};

/// Time between two beats.
pub(super) const BEAT_EVERY_MS: u64 = 50;

/// Who was not heard for so long is gone: six beats.
const SILENT_MS: u64 = 300;

/// Who has not sent a beat for nearly so long may find that the other one leads.
const AWAY_MS: u64 = SILENT_MS - 2 * BEAT_EVERY_MS;

/// Whoever starts listens for so long whether the other leads.
const LISTENS_MS: u64 = 600;

/// The first wants the lead again when it has heard the console for so long.
const WELL_AFTER_MS: u64 = 10_000;

/// Runs of the other one that are remembered as over.
const MOST_GONE: usize = 32;

/// Runs that claim to be the other one's, of which ours names one after the other while none is heard.
const MOST_CLAIMS: usize = 16;

/// A claim that was not repeated for so long is forgotten.
const CLAIM_LASTS_MS: u64 = 1_000;

/// Who answers polls and whose beats can't be read for so long has another key. Before that its beats may be on
/// their way: an answer may come before the beat that names our run.
const DEAF_AFTER_MS: u64 = 1_000;

/// Whoever begins anew without ending counts its run up; no further than this from the one before.
const SAME_PROCESS: u64 = 1 << 16;

/// What a second litfloor needs to stand by for the first, and the first to be stood by for.
#[derive(Debug, Clone)]
pub struct Setup {
    /// Which of the two this one is.
    pub role: Role,
    /// Where the other one listens to Art-Net.
    pub peer: SocketAddrV4,
    /// What both know.
    pub key: Key,
    /// Drawn at random when this one was started; not 0.
    pub run: u64,
}

/// What a beat says of the one who sends it, beside who leads.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Says {
    /// Number of its floor file.
    pub(super) file: u64,
    /// Live limit of the floor, in volt-amperes.
    pub(super) floor_va: Option<u32>,
    /// Whether it hears no picture.
    pub(super) blind: bool,
}

/// What has to be done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Change {
    /// Send from now on; nodes may be showing anything.
    Lead,
    /// Send nothing from now on.
    Stand,
}

/// Somebody who knows the key says that this is the other one's run; it may be one that is long over.
#[derive(Debug, Clone, Copy)]
struct Claim {
    run: u64,
    at: Time,
}

/// The other one, as it was heard last.
#[derive(Debug, Clone, Copy)]
struct Heard {
    beat: Beat,
    at: Time,
}

/// One of the two.
#[derive(Debug)]
pub(super) struct Standby {
    setup: Setup,
    leads: bool,
    /// Whether it still listens whether the other leads.
    listens: bool,
    /// When it began to listen.
    began: Time,
    /// When it began to lead or to stand by.
    pub(super) since: Time,
    number: u64,
    next_beat: Time,
    heard: Option<Heard>,
    /// Who claims to be the other one while none is heard.
    claims: Vec<Claim>,
    /// Which of them our next beat names.
    turn: usize,
    /// Its runs before the one that is heard, of those that have named ours.
    gone: Vec<u64>,
    /// When the other one answered a poll.
    answered: Option<Time>,
    /// When it first did so of those times that came after its last beat.
    unread: Option<Time>,
    /// When time was last let pass.
    seen: Time,
    /// How often it took the lead because the other was gone.
    pub(super) taken: u32,
}

impl Standby {
    /// Listens at first, and sends nothing.
    pub(super) const fn new(setup: Setup, now: Time) -> Self {
        Self {
            setup,
            leads: false,
            listens: true,
            began: now,
            since: now,
            number: 0,
            next_beat: now,
            heard: None,
            claims: Vec::new(),
            turn: 0,
            gone: Vec::new(),
            answered: None,
            unread: None,
            seen: now,
            taken: 0,
        }
    }

    pub(super) const fn leads(&self) -> bool {
        self.leads
    }

    pub(super) const fn listens(&self) -> bool {
        self.listens
    }

    pub(super) const fn role(&self) -> Role {
        self.setup.role
    }

    pub(super) const fn peer(&self) -> SocketAddrV4 {
        self.setup.peer
    }

    /// Whether the other one has this address.
    pub(super) fn is_peer(&self, from: Ipv4Addr) -> bool {
        *self.setup.peer.ip() == from
    }

    /// When it has to be asked again.
    pub(super) const fn next(&self) -> Time {
        self.next_beat
    }

    /// The last beat of the other one, and when it came.
    pub(super) fn heard(&self) -> Option<(&Beat, Time)> {
        self.heard.as_ref().map(|heard| (&heard.beat, heard.at))
    }

    /// Whether the other one answers polls but its beats can't be read: its key is another. What it answered
    /// before it fell silent says nothing of that.
    pub(super) fn deaf(&self, now: Time) -> bool {
        let unread = self
            .unread
            .is_some_and(|at| now.us_since(at) >= DEAF_AFTER_MS * 1_000);
        !self.hears(now) && unread && self.answers_polls(now)
    }

    fn answers_polls(&self, now: Time) -> bool {
        let lasts = super::nodes::SILENT_AFTER_MS * 1_000;
        self.answered.is_some_and(|at| now.us_since(at) < lasts)
    }

    /// Whether the other one is there: it beats, and has not said that it ends.
    pub(super) fn hears(&self, now: Time) -> bool {
        self.heard.is_some_and(|heard| {
            heard.beat.duty != Duty::Ends && now.us_since(heard.at) <= SILENT_MS * 1_000
        })
    }

    /// The other one has answered a poll.
    pub(super) fn peer_answered(&mut self, now: Time) {
        let known = self.unread.is_some() && self.answers_polls(now);
        if !known && !self.hears(now) {
            self.unread = Some(now);
        }
        self.answered = Some(now);
    }

    /// Takes a beat; false if it is none of the other one's, or an old one that somebody sends again. From
    /// which of its addresses it comes is no matter: who has several sends from any.
    ///
    /// Every run has a number that is drawn when it begins. Of a run that is heard a beat must be newer
    /// than the last. Another run is heard only when it names ours, which it can't have known before we
    /// began; while one is heard it must also be what the same process goes on as. The one before is then
    /// forgotten for good.
    pub(super) fn hear(&mut self, bytes: &[u8], now: Time) -> bool {
        let read = Beat::read(bytes, &self.setup.key);
        let Some(beat) = read.filter(|beat| beat.role != self.setup.role) else {
            return false;
        };
        let before = self.heard.map(|heard| (heard.beat.run, heard.beat.number));
        if let Some((run, number)) = before
            && run == beat.run
        {
            if beat.number <= number {
                return false;
            }
        } else {
            if self.gone.contains(&beat.run) {
                return false;
            }
            let goes_on = before
                .is_some_and(|(run, _)| (1..=SAME_PROCESS).contains(&beat.run.wrapping_sub(run)));
            if beat.heard != self.setup.run || (self.hears(now) && !goes_on) {
                // It will name ours when it has heard us, and be heard when nobody else is.
                self.claim(beat.run, now);
                return true;
            }
            if let Some((run, _)) = before {
                self.forget(run);
            }
        }
        self.heard = Some(Heard { beat, at: now });
        self.unread = None;
        true
    }

    /// Notes that somebody says to be the other one. Those that came first stay, so that nobody is
    /// pushed out by many.
    fn claim(&mut self, run: u64, now: Time) {
        let fresh = |claim: &Claim| now.us_since(claim.at) < CLAIM_LASTS_MS * 1_000;
        self.claims.retain(fresh);
        if let Some(claim) = self.claims.iter_mut().find(|claim| claim.run == run) {
            claim.at = now;
        } else if self.claims.len() < MOST_CLAIMS {
            self.claims.push(Claim { run, at: now });
        }
    }

    /// A run is over. When too many are, ours gets another number: what was recorded of those that are no
    /// longer remembered names the one before.
    fn forget(&mut self, run: u64) {
        if self.gone.len() == MOST_GONE {
            self.gone.clear();
            self.setup.run = next_run(self.setup.run);
        }
        self.gone.push(run);
    }

    /// The run that our next beat names: the one that is heard, else the claims in turn, for only the one that is
    /// no recording answers.
    fn names(&mut self, now: Time) -> u64 {
        if let Some(heard) = self.heard.filter(|_| self.hears(now)) {
            return heard.beat.run;
        }
        self.turn = self.turn.wrapping_add(1);
        let claims = self.claims.len();
        let claim = self.turn.checked_rem(claims).map(|at| self.claims[at].run);
        claim
            .or(self.heard.map(|heard| heard.beat.run))
            .unwrap_or(0)
    }

    /// Whether it was away for so long that the other one may have taken the lead meanwhile, or given it
    /// up: this process was stopped, or its machine slept. Where nobody was there before, nobody has.
    pub(super) fn was_away(&mut self, now: Time) -> bool {
        let away = now.us_since(self.seen) > AWAY_MS * 1_000;
        let there = self.hears(self.seen);
        self.seen = now;
        away && there
    }

    /// Begins anew to listen whether the other one leads, as at the start: what waits in the socket from
    /// before says nothing of now, so only beats that name the new run are heard.
    pub(super) fn listen(&mut self, now: Time) {
        (self.leads, self.listens) = (false, true);
        (self.began, self.since) = (now, now);
        self.setup.run = next_run(self.setup.run);
        self.heard = None;
        self.unread = None;
        self.next_beat = now;
    }

    /// Says what has to be done now, if anything has.
    pub(super) fn decide(&mut self, now: Time) -> Option<Change> {
        let change = self.wish(now)?;
        let leads = change == Change::Lead;
        if leads && !self.leads && self.heard.is_some() && !self.hears(now) {
            self.taken = self.taken.saturating_add(1);
        }
        (self.leads, self.listens) = (leads, false);
        self.since = now;
        // The other one hears it at once.
        self.next_beat = now;
        Some(change)
    }

    fn wish(&mut self, now: Time) -> Option<Change> {
        let other = self
            .heard
            .filter(|_| self.hears(now))
            .map(|heard| heard.beat);
        let first = self.setup.role == Role::First;
        let Some(other) = other else {
            let wait = self.listens && now < self.began.plus_ms(LISTENS_MS);
            // Somebody is there who can't be understood: rather none leads than both.
            let held = !first && self.answers_polls(now) && self.heard.is_none();
            if held {
                self.listens = false;
            }
            return (!self.leads && !wait && !held).then_some(Change::Lead);
        };
        match (self.leads, other.duty) {
            // Both lead: the second lets go. So it does when the first asks for it.
            (true, Duty::Leads) => (!first).then_some(Change::Stand),
            (true, _) => (!first && other.wants).then_some(Change::Stand),
            (false, Duty::Leads) => {
                self.listens = false;
                None
            }
            (false, _) => first.then_some(Change::Lead),
        }
    }

    fn wants(&self, now: Time) -> bool {
        self.setup.role == Role::First
            && !self.leads
            && now >= self.began.plus_ms(WELL_AFTER_MS)
            && self.hears(now)
    }

    /// The beat that is due, as bytes.
    pub(super) fn beat(&mut self, now: Time, says: Says) -> Option<Vec<u8>> {
        if now < self.next_beat {
            return None;
        }
        let duty = if self.leads {
            Duty::Leads
        } else {
            Duty::StandsBy
        };
        Some(self.write(duty, now, says))
    }

    /// The last beat: this one ends.
    pub(super) fn last_beat(&mut self, now: Time, says: Says) -> Vec<u8> {
        self.write(Duty::Ends, now, says)
    }

    fn write(&mut self, duty: Duty, now: Time, says: Says) -> Vec<u8> {
        self.next_beat = now.plus_ms(BEAT_EVERY_MS);
        self.number += 1;
        let names = self.names(now);
        let beat = Beat {
            role: self.setup.role,
            duty,
            wants: self.wants(now),
            blind: says.blind,
            file: says.file,
            run: self.setup.run,
            number: self.number,
            heard: names,
            floor_va: says.floor_va,
        };
        beat.write(&self.setup.key).to_vec()
    }
}

/// What a run that begins anew goes on as.
const fn next_run(run: u64) -> u64 {
    match run.wrapping_add(1) {
        // 0 says that none was heard.
        0 => 1,
        next => next,
    }
}

#[cfg(test)]
mod tests;
