//! Browsers that are there: what one of them started ends when it has gone, if that was asked.
//!
//! A live client that asks for it is given an id that nobody can guess, and whoever starts a
//! pattern may name it. When its last connection has closed and none with the same id came back
//! within [`GRACE`], the data plane is told that this owner is gone.

use std::collections::HashMap;
use std::fmt::Write as _;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use argon2::password_hash::rand_core::{self, OsRng, RngCore};

use super::{Source, timers};
use crate::engine::command::Command;

/// How long a browser may be away without being gone: a blink of its network.
pub(super) const GRACE: Duration = Duration::from_secs(3);

/// A browser that is there, or was within the last [`GRACE`].
#[derive(Debug)]
struct Known {
    owner: u64,
    connections: usize,
    /// How often it came, so that a wait for its return knows whether it did.
    came: u64,
    /// Whether it has started something that is to end with it.
    owns: bool,
}

#[derive(Debug, Default)]
struct Book {
    owners: u64,
    known: HashMap<String, Known>,
}

/// All browsers that are there.
#[derive(Debug, Default)]
pub(super) struct Presences(Mutex<Book>);

impl Presences {
    fn book(&self) -> MutexGuard<'_, Book> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// One more connection of the browser that had `id` before, or of a new one; gives its id.
    ///
    /// # Errors
    /// When the system gives no random numbers.
    pub(super) fn came(&self, id: &str) -> Result<String, rand_core::Error> {
        let mut book = self.book();
        if let Some(known) = book.known.get_mut(id) {
            known.connections += 1;
            known.came += 1;
            return Ok(id.to_owned());
        }
        let id = random()?;
        book.owners += 1;
        let known = Known {
            owner: book.owners,
            connections: 1,
            came: 1,
            owns: false,
        };
        book.known.insert(id.clone(), known);
        Ok(id)
    }

    /// The owner that goes by `id`, which from now on owns something; nothing if it is not there.
    pub(super) fn owner(&self, id: &str) -> Option<u64> {
        let mut book = self.book();
        let known = book.known.get_mut(id)?;
        known.owns = true;
        Some(known.owner)
    }

    /// A connection has closed. Waits whether it comes back, and if not, ends what it owned.
    pub(super) async fn left(&self, id: &str, source: &Source) {
        let Some(came) = self.lose(id) else { return };
        timers::until(timers::now() + GRACE).await;
        if let Some(owner) = self.forget(id, came) {
            gone(owner, source).await;
        }
    }

    /// One connection less; if it was the last, how often it had come.
    fn lose(&self, id: &str) -> Option<u64> {
        let mut book = self.book();
        let known = book.known.get_mut(id)?;
        known.connections = known.connections.saturating_sub(1);
        (known.connections == 0).then_some(known.came)
    }

    /// Forgets who has not come again; gives the owner if it owned something.
    fn forget(&self, id: &str, came: u64) -> Option<u64> {
        let mut book = self.book();
        let stayed_away = book.known.get(id).is_some_and(|known| known.came == came);
        let known = stayed_away.then(|| book.known.remove(id)).flatten()?;
        known.owns.then_some(known.owner)
    }
}

/// Tells the data plane that an owner is gone.
pub(super) async fn gone(owner: u64, source: &Source) {
    source.surely(&Command::OwnerGone(owner)).await;
}

/// 128 random bits.
fn random() -> Result<String, rand_core::Error> {
    let mut bytes = [0; 16];
    OsRng.try_fill_bytes(&mut bytes)?;
    Ok(bytes.iter().fold(String::new(), |mut text, byte| {
        let _ = write!(text, "{byte:02x}");
        text
    }))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_id_is_kept_while_someone_has_it_and_differs_from_all_others() {
        let there = Presences::default();
        let first = there.came("").unwrap();
        let second = there.came("made up").unwrap();
        assert!(first.len() == 32 && first != second);
        assert_eq!(there.came(&first).unwrap(), first, "another connection");
        assert_ne!(there.owner(&first), there.owner(&second));
        assert_eq!(there.owner("made up"), None);
    }

    #[test]
    fn only_the_last_connection_counts_and_a_return_within_the_grace() {
        let there = Presences::default();
        let id = there.came("").unwrap();
        let owner = there.owner(&id).unwrap();
        there.came(&id).unwrap();
        assert_eq!(there.lose(&id), None, "one is left");
        let came = there.lose(&id).unwrap();
        // It comes back while someone waits, and leaves again.
        there.came(&id).unwrap();
        let again = there.lose(&id).unwrap();
        assert_eq!(there.forget(&id, came), None);
        assert_eq!(there.forget(&id, again), Some(owner));
        assert_eq!(there.owner(&id), None);
        // Who owned nothing ends nothing.
        let idle = there.came("").unwrap();
        let came = there.lose(&idle).unwrap();
        assert_eq!(there.forget(&idle, came), None);
    }
}
