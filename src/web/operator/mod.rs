//! Who may change something: the operator.
//!
//! Looking is free. While no passphrase is set, changes are taken from this machine only; once
//! one is set, from everywhere and only after signing in, from this machine too. A handler of a
//! change takes [`Operator`](extract::Operator), and its body as [`Told`](extract::Told).

use std::net::{IpAddr, Ipv4Addr};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use tokio::sync::{OwnedSemaphorePermit, Semaphore};
use tokio::time::Instant;

use self::passphrase::{Hash, Passphrase};
use self::refusal::Refusal;
use self::sessions::{SessionId, Sessions, Token};
use self::tries::{Begun, Tries};
use super::place::Place;
use super::readings::token::Door;
use super::timers;
use super::turned::Turned;

mod caller;
pub(super) mod extract;
mod keep;
mod passphrase;
mod refusal;
pub(super) mod routes;
mod sessions;
#[cfg(test)]
mod tests;
mod tries;

pub(super) use caller::{COOKIE_NAME, Caller};
pub use keep::Keep;

/// Why there is no [`Gate`].
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Unopened {
    /// The given passphrase is too short.
    #[error(transparent)]
    TooShort(#[from] passphrase::TooShort),
    /// The given passphrase could not be hashed: no memory, or no random numbers.
    #[error("the passphrase can't be hashed: {0}")]
    NoHash(String),
}

/// What lets the operator in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OpenedBy {
    /// Being on this machine: no passphrase is set.
    BeingHere,
    /// A passphrase.
    Passphrase,
    /// Nothing: a passphrase was set and can't be read.
    Nothing,
}

/// What opens the gate.
#[derive(Debug)]
enum Secret {
    /// No passphrase: being on this machine.
    Unset,
    /// The passphrase that was set.
    Set(Hash),
    /// The passphrase that litfloor was started with; it can't be changed while it runs.
    Given(Hash),
    /// One may have been set, but what was kept can't be read, and why: nothing opens it.
    Unreadable(String),
}

/// Why a change is allowed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Grant {
    /// It comes from this machine, and no passphrase is set.
    Machine,
    /// It comes from someone who has signed in.
    Session(SessionId),
}

#[derive(Debug)]
struct Rights {
    secret: Secret,
    sessions: Sessions,
}

impl Rights {
    fn holds(&self, grant: Grant, now: Instant) -> bool {
        match grant {
            Grant::Machine => matches!(self.secret, Secret::Unset),
            Grant::Session(id) => self.sessions.holds(id, now),
        }
    }
}

fn locked(why: &str, caller: &Caller) -> Refusal {
    Refusal::Locked(caller.on_this_machine().then(|| why.to_owned()))
}

/// Lets the operator through and nobody else.
#[derive(Debug)]
pub struct Gate {
    keep: Keep,
    rights: Mutex<Rights>,
    tries: Mutex<Tries>,
    /// One hash at a time: each takes 19 MiB and all of a core.
    turn: Arc<Semaphore>,
    /// Of those that failed before, one at a time waits for its turn: who did not comes before the rest.
    again: Semaphore,
    /// Who reports readings comes in here, and gets nowhere else.
    readings: Door,
    /// Who was not let in, here and before.
    turned: Arc<Turned>,
}

impl Gate {
    /// Reads what was kept. A passphrase that is `given` counts instead, and is not kept.
    ///
    /// # Errors
    /// When the given passphrase is too short or can't be hashed.
    pub fn open(keep: Keep, given: Option<String>) -> Result<Self, Unopened> {
        let secret = match given {
            Some(given) => {
                let hash = Passphrase::new(given)?.hash();
                Secret::Given(hash.map_err(|error| Unopened::NoHash(error.to_string()))?)
            }
            None => match keep.read() {
                Ok(None) => Secret::Unset,
                Ok(Some(hash)) => Secret::Set(hash),
                Err(why) => Secret::Unreadable(why),
            },
        };
        Ok(Self {
            readings: Door::open(&keep, None),
            keep,
            rights: Mutex::new(Rights {
                secret,
                sessions: Sessions::default(),
            }),
            tries: Mutex::default(),
            turn: Arc::new(Semaphore::new(1)),
            again: Semaphore::new(1),
            turned: Arc::default(),
        })
    }

    /// The same, with a token for readings that counts instead of the one that was kept.
    #[must_use]
    pub fn with_readings_token(mut self, given: &str) -> Self {
        self.readings = Door::open(&self.keep, Some(given));
        self
    }

    /// Where who reports readings comes in.
    pub(super) const fn readings(&self) -> &Door {
        &self.readings
    }

    /// Why nobody can report readings, if a token was kept that can't be read.
    pub fn readings_fault(&self) -> Option<String> {
        self.readings.fault()
    }

    /// Who was turned away, counted.
    pub fn turned(&self) -> Arc<Turned> {
        Arc::clone(&self.turned)
    }

    /// Where what must outlast the process is kept.
    pub const fn keep(&self) -> &Keep {
        &self.keep
    }

    /// Who may change something, in one sentence for the person who starts litfloor.
    pub fn told(&self) -> String {
        self.told_where(self.keep.probe())
    }

    /// The same by who knows already whether a passphrase can be kept, and why not if it can't.
    pub fn told_where(&self, kept: Result<(), String>) -> String {
        match (&self.rights().secret, kept) {
            (Secret::Unset, Ok(())) => {
                "from this machine only, until a passphrase is set".to_owned()
            }
            (Secret::Unset, Err(why)) => {
                format!("from this machine only, for no passphrase can be kept: {why}")
            }
            (Secret::Set(_), Ok(())) => {
                format!("with the passphrase, kept in {}", self.keep.place())
            }
            (Secret::Set(_), Err(why)) => {
                format!("with the passphrase, which can't be changed: {why}")
            }
            (Secret::Given(_), _) => "with the passphrase that it was started with".to_owned(),
            (Secret::Unreadable(why), _) => Refusal::Locked(Some(why.clone())).to_string(),
        }
    }

    /// What lets the operator in.
    pub fn opened_by(&self) -> OpenedBy {
        match self.rights().secret {
            Secret::Unset => OpenedBy::BeingHere,
            Secret::Set(_) | Secret::Given(_) => OpenedBy::Passphrase,
            Secret::Unreadable(_) => OpenedBy::Nothing,
        }
    }

    fn rights(&self) -> MutexGuard<'_, Rights> {
        self.rights.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn tries(&self) -> MutexGuard<'_, Tries> {
        self.tries.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn passphrase_set(&self) -> bool {
        !matches!(self.rights().secret, Secret::Unset)
    }

    /// Whether `caller` may change something now, and if not, why.
    fn authorise(&self, caller: &Caller, now: Instant) -> Result<Grant, Refusal> {
        if caller.guest {
            return Err(Refusal::GuestsLook);
        }
        if caller.foreign() {
            return Err(Refusal::ForeignOrigin);
        }
        let rights = self.rights();
        match &rights.secret {
            Secret::Unset if !caller.on_this_machine() => Err(Refusal::NotThisMachine),
            Secret::Unset if !caller.by_number => Err(Refusal::ForeignHost),
            Secret::Unset => Ok(Grant::Machine),
            Secret::Set(_) | Secret::Given(_) => {
                let mut shown = caller.sessions.iter();
                let open = shown.find(|id| rights.sessions.holds(**id, now));
                open.map(|id| Grant::Session(*id))
                    .ok_or(Refusal::NotSignedIn)
            }
            Secret::Unreadable(why) => Err(locked(why, caller)),
        }
    }

    /// Opens a session for who knows the passphrase; the sessions that `caller` had are closed.
    async fn sign_in(self: &Arc<Self>, caller: Caller, tried: String) -> Result<Token, Refusal> {
        if caller.foreign() {
            return Err(Refusal::ForeignOrigin);
        }
        if caller.guest {
            return Err(Refusal::GuestsLook);
        }
        match &self.rights().secret {
            Secret::Set(_) | Secret::Given(_) => {}
            Secret::Unset => return Err(Refusal::NoPassphrase),
            Secret::Unreadable(why) => return Err(locked(why, &caller)),
        }
        let place = Place::of(caller.peer.unwrap_or(IpAddr::V4(Ipv4Addr::UNSPECIFIED)));
        let begun = self.tries().begin(place, timers::now());
        let Some(Begun { at, first }) = begun else {
            self.turned.wrong_passphrase(place);
            return Err(Refusal::TooManyTries);
        };
        let _trying = Trying(Arc::clone(self), place);
        timers::until(at).await;
        let _again = if first {
            None
        } else {
            let again = self.again.acquire().await;
            Some(again.map_err(|error| Refusal::failed(&error))?)
        };
        self.alone(move |gate| gate.check(&caller, &tried, place))
            .await
    }

    /// The slow part of [`sign_in`](Self::sign_in).
    fn check(&self, caller: &Caller, tried: &str, place: Place) -> Result<Token, Refusal> {
        let hash = match &self.rights().secret {
            Secret::Set(hash) | Secret::Given(hash) => hash.clone(),
            Secret::Unset | Secret::Unreadable(_) => return Err(Refusal::NoPassphrase),
        };
        match hash.fits(tried) {
            Ok(true) => {}
            Ok(false) => {
                self.turned.wrong_passphrase(place);
                return Err(Refusal::WrongPassphrase);
            }
            Err(error) => return Err(Refusal::failed(&error)),
        }
        let token = Token::random().map_err(|error| Refusal::failed(&error))?;
        self.tries().succeeded(place);
        let sessions = &mut self.rights().sessions;
        caller.sessions.iter().for_each(|id| sessions.close(*id));
        sessions.open(&token, timers::now());
        Ok(token)
    }

    fn sign_out(&self, caller: &Caller) -> Result<(), Refusal> {
        if caller.foreign() {
            return Err(Refusal::ForeignOrigin);
        }
        let sessions = &mut self.rights().sessions;
        caller.sessions.iter().for_each(|id| sessions.close(*id));
        Ok(())
    }

    /// Sets the passphrase, closes all sessions and opens one for who has set it.
    async fn set(self: &Arc<Self>, grant: Grant, new: Passphrase) -> Result<Token, Refusal> {
        self.alone(move |gate| gate.replace(grant, &new)).await
    }

    /// The slow part of [`set`](Self::set).
    fn replace(&self, grant: Grant, new: &Passphrase) -> Result<Token, Refusal> {
        {
            let rights = self.rights();
            // Another may have set one while this waited for its turn.
            if !rights.holds(grant, timers::now()) {
                return Err(Refusal::NotSignedIn);
            }
            if matches!(rights.secret, Secret::Given(_)) {
                return Err(Refusal::Given);
            }
        }
        let hash = new.hash().map_err(|error| Refusal::failed(&error))?;
        let token = Token::random().map_err(|error| Refusal::failed(&error))?;
        self.keep.write(&hash).map_err(Refusal::NotKept)?;
        let mut rights = self.rights();
        rights.secret = Secret::Set(hash);
        rights.sessions.close_all();
        rights.sessions.open(&token, timers::now());
        Ok(token)
    }

    /// Does slow `work` off the threads that serve, one at a time. It is done to its end, also
    /// when whoever asked for it goes away.
    async fn alone<T: Send + 'static>(
        self: &Arc<Self>,
        work: impl FnOnce(&Self) -> Result<T, Refusal> + Send + 'static,
    ) -> Result<T, Refusal> {
        let turn: OwnedSemaphorePermit = Arc::clone(&self.turn)
            .acquire_owned()
            .await
            .map_err(|error| Refusal::failed(&error))?;
        let gate = Arc::clone(self);
        let done = tokio::task::spawn_blocking(move || {
            let result = work(&gate);
            drop(turn);
            result
        });
        done.await.map_err(|error| Refusal::failed(&error))?
    }
}

/// A try that has not ended.
struct Trying(Arc<Gate>, Place);

impl Drop for Trying {
    fn drop(&mut self) {
        self.0.tries().ended(self.1, timers::now());
    }
}
