//! Leading and standing by: who stands by takes all that comes and sends nothing to nodes.

use std::net::Ipv4Addr;

use super::Engine;
use super::command::Command;
use super::out::{self, Outlet};
use super::send::Leaving;
use super::snapshot::{StandbyDuty, StandbyRole, StandbyState};
use super::standby::{Change, Duty, Role, Says, Setup, Standby};
use super::survey::Ending;
use super::sync_out::SyncOut;
use crate::pattern::Refused;
use crate::power::cap::{Limiter, OutIndex};
use crate::power::tree::KILO;
use crate::units::{Amps, Draw, Time};
use crate::wire::beat::Beat;

impl Engine {
    /// This floor has another litfloor that stands by, or for which this one does: it sends nothing until
    /// it has listened.
    pub fn set_standby(&mut self, setup: Setup, now: Time) {
        self.standby = Some(Standby::new(setup, now));
    }

    /// The number of the floor file, by which two litfloors see whether they have the same.
    pub const fn set_file_number(&mut self, number: u64) {
        self.file_number = number;
    }

    /// Whether it sends to nodes.
    pub(super) fn leads(&self) -> bool {
        self.standby.as_ref().is_none_or(Standby::leads)
    }

    /// Whether the other litfloor has this address.
    pub(super) fn is_standby(&self, from: Ipv4Addr) -> bool {
        self.standby
            .as_ref()
            .is_some_and(|standby| standby.is_peer(from))
    }

    /// Notes that time has passed: a process that was stopped for a while must not go on sending, for the
    /// other one does.
    pub(super) fn wake(&mut self, now: Time) {
        let Some(standby) = &mut self.standby else {
            return;
        };
        if standby.was_away(now) {
            standby.listen(now);
            self.begin_anew(now);
        }
    }

    /// Takes a beat; false if it is none.
    pub(super) fn hear_beat(&mut self, now: Time, bytes: &[u8], outlet: &mut impl Outlet) -> bool {
        let Some(standby) = self.standby.as_mut().filter(|_| Beat::looks_like(bytes)) else {
            return false;
        };
        let fought = standby.leads()
            && standby
                .heard()
                .is_some_and(|(beat, _)| beat.duty == Duty::Leads);
        if !standby.hear(bytes, now) {
            return false;
        }
        let heard = standby.heard().map(|(beat, _)| *beat);
        if let Some(beat) = heard.filter(|beat| beat.duty == Duty::Leads && !self.leads()) {
            self.follow_limit(beat.floor_va);
        }
        if fought && heard.is_some_and(|beat| beat.duty != Duty::Leads) {
            // What the other one sent meanwhile is in no sum of ours.
            self.begin_anew(now);
            self.send_all(now, outlet);
        }
        self.change_duty(now, outlet);
        true
    }

    /// Leads or stands by, as has to be, and says so to the other one.
    pub(super) fn change_duty(&mut self, now: Time, outlet: &mut impl Outlet) {
        let Some(standby) = &mut self.standby else {
            return;
        };
        match standby.decide(now) {
            Some(Change::Lead) => {
                self.begin_anew(now);
                self.send_all(now, outlet);
            }
            Some(Change::Stand) => {
                self.survey_ends(Ending::Stopped);
                self.end_pattern(now, outlet);
                self.begin_anew(now);
            }
            None => {}
        }
        self.beat(now, outlet);
    }

    fn beat(&mut self, now: Time, outlet: &mut impl Outlet) {
        if self
            .standby
            .as_ref()
            .is_none_or(|standby| now < standby.next())
        {
            return;
        }
        let says = self.says(now);
        if let Some(standby) = &mut self.standby
            && let Some(bytes) = standby.beat(now, says)
        {
            out::send_beat(outlet, standby.peer(), &bytes);
        }
    }

    /// Tells the other one that this one ends, so that it leads at once. The last that an engine does.
    pub fn say_goodbye(&mut self, now: Time, outlet: &mut impl Outlet) {
        let says = self.says(now);
        if let Some(standby) = &mut self.standby {
            let bytes = standby.last_beat(now, says);
            out::send_beat(outlet, standby.peer(), &bytes);
        }
    }

    fn says(&self, now: Time) -> Says {
        Says {
            file: self.file_number,
            floor_va: self.live_floor_va(),
            blind: self.signal(now).is_dark(),
        }
    }

    fn live_floor_va(&self) -> Option<u32> {
        let floor = self.limiter.tree().floor();
        let limit = self.limiter.live_limit(floor)?;
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "set from a u32"
        )]
        let va = (limit.amps().0 / KILO).round() as u32;
        Some(va)
    }

    /// The limit that somebody has set at the one that leads holds here, too.
    fn follow_limit(&mut self, floor_va: Option<u32>) {
        let floor = self.limiter.tree().floor();
        let limit = floor_va.map(|va| Draw::limit(Amps(f64::from(va) * KILO)));
        if self.limiter.live_limit(floor) != limit {
            self.limiter.set_live_limit(floor, limit);
        }
    }

    /// Reckons anew, as at the start: nodes may be showing anything that the other one sent.
    fn begin_anew(&mut self, now: Time) {
        let mut limiter = Limiter::new(&self.floor, std::sync::Arc::clone(&self.tables), now);
        limiter.keep_live_limits(&self.limiter);
        self.limiter = limiter;
        self.leaving = Leaving::anew(&self.leaving, &self.tables, now);
        self.syncs = SyncOut::new(self.nodes.len());
        for node in self.nodes.silent() {
            self.node_answers(node, false, now);
        }
        for out in self.outs() {
            self.limiter.ask(out, self.picture.asked());
        }
    }

    /// Sends every universe that has arrived.
    fn send_all(&mut self, now: Time, outlet: &mut impl Outlet) {
        let all: Vec<OutIndex> = self.outs().collect();
        self.send_asked(&all, now, outlet);
    }

    /// Refuses what would light the floor, where the other one does.
    pub(super) fn may_follow(&self, command: &Command) -> Result<(), Refused> {
        let lights = match command {
            Command::Start(_)
            | Command::Step(_)
            | Command::LimitFloor(_)
            | Command::Calibrate
            | Command::Survey(_)
            | Command::SurveyLight(_) => true,
            Command::Stop
            | Command::OwnerGone(_)
            | Command::Withdraw(_)
            | Command::Readings(_)
            | Command::StopCalibration
            | Command::HealthVersion(_)
            | Command::NotKept(_)
            | Command::Calibrations(_)
            | Command::StopSurvey(_) => false,
        };
        match &self.standby {
            Some(standby) if lights && !standby.leads() => Err(Refused::new(
                "stands_by",
                format!(
                    "This litfloor stands by and sends nothing: give the order to the one at {}, which \
                     leads.",
                    standby.peer().ip()
                ),
            )),
            _ => Ok(()),
        }
    }

    /// Who leads, for people.
    pub(super) fn standby_state(&self, now: Time) -> Option<StandbyState> {
        let standby = self.standby.as_ref()?;
        let heard = standby.heard();
        let duty = |duty: Duty| match duty {
            Duty::StandsBy => StandbyDuty::StandsBy,
            Duty::Leads => StandbyDuty::Leads,
            Duty::Ends => StandbyDuty::Ended,
        };
        Some(StandbyState {
            role: match standby.role() {
                Role::First => StandbyRole::First,
                Role::Second => StandbyRole::Second,
            },
            duty: if standby.leads() {
                StandbyDuty::Leads
            } else if standby.listens() {
                StandbyDuty::Listens
            } else {
                StandbyDuty::StandsBy
            },
            since_s: now.s_since(standby.since),
            taken: standby.taken,
            peer: standby.peer().to_string(),
            peer_duty: heard.map(|(beat, _)| duty(beat.duty)),
            peer_heard_s: heard.map(|(_, at)| now.s_since(at)),
            same_file: heard.map(|(beat, _)| beat.file == self.file_number),
            peer_hears_picture: heard.map(|(beat, _)| !beat.blind),
            deaf: standby.deaf(now),
        })
    }
}
