//! The token with which sensors report: a secret of its own, so that nothing that reports can change
//! anything else.

use std::fmt::Write;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use argon2::password_hash::rand_core::{OsRng, RngCore};
use blake2::{Blake2s256, Digest};
use serde::{Deserialize, Serialize};
use tokio::time::Instant;

use super::super::operator::Keep;

/// The file of the state directory that keeps the token's hash.
const NAME: &str = "readings.json";

/// The shortest token that someone may give, in characters.
pub const SHORTEST: usize = 16;

/// Wrong tokens that are answered at once; after them, one in [`PAUSE`].
const WRONG: u32 = 10;
const PAUSE: Duration = Duration::from_secs(1);

/// Requests with the right token within a second, at most.
const RIGHT: u32 = 50;
const SECOND: Duration = Duration::from_secs(1);

#[derive(Serialize, Deserialize)]
struct Contents {
    /// BLAKE2s-256 of the token, in hexadecimal digits. A token of 256 random bits needs no slow
    /// hash.
    token_blake2s: String,
}

#[derive(Debug, Clone, PartialEq, Eq)]
enum Secret {
    Unset,
    /// One that was made here.
    Made([u8; 32]),
    /// One that litfloor was started with.
    Given([u8; 32]),
    /// What was kept can't be read, and why.
    Unreadable(String),
}

/// So many at once, and another whenever a share of `per` has passed.
#[derive(Debug, Clone, Copy)]
struct Bucket {
    left: f64,
    most: u32,
    per: Duration,
    since: Option<Instant>,
}

impl Bucket {
    fn new(most: u32, per: Duration) -> Self {
        Self {
            left: f64::from(most),
            most,
            per,
            since: None,
        }
    }

    fn fill(&mut self, now: Instant) {
        let passed = self.since.map_or(Duration::ZERO, |since| now - since);
        self.since = Some(now);
        let more = passed.as_secs_f64() / self.per.as_secs_f64();
        self.left = (self.left + more).min(f64::from(self.most));
    }

    fn takes(&mut self, now: Instant) -> bool {
        self.fill(now);
        let takes = self.left >= 1.0;
        if takes {
            self.left -= 1.0;
        }
        takes
    }
}

/// Why someone may not report.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Shut {
    NoToken,
    Unsaid,
    Wrong,
    TooOften,
    Unreadable,
}

/// Why there is no new token.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum NotMade {
    Given,
    NoRandom,
    NotKept(String),
}

/// Lets in who reports readings.
#[derive(Debug)]
pub(in super::super) struct Door {
    keep: Keep,
    inner: Mutex<Inner>,
}

#[derive(Debug)]
struct Inner {
    secret: Secret,
    wrong: Bucket,
    right: Bucket,
}

fn hash(token: &str) -> [u8; 32] {
    Blake2s256::digest(token.as_bytes()).into()
}

/// Compares without telling by its time where the two differ.
fn same(a: &[u8; 32], b: &[u8; 32]) -> bool {
    let differs = a.iter().zip(b).fold(0, |all, (a, b)| all | (a ^ b));
    std::hint::black_box(differs) == 0
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().fold(String::new(), |mut text, byte| {
        // Writing to a text can't fail.
        let _ = write!(text, "{byte:02x}");
        text
    })
}

fn unhex(text: &str) -> Option<[u8; 32]> {
    if text.len() != 64 || !text.is_ascii() {
        return None;
    }
    let mut bytes = [0; 32];
    for (at, byte) in bytes.iter_mut().enumerate() {
        *byte = u8::from_str_radix(&text[2 * at..2 * at + 2], 16).ok()?;
    }
    Some(bytes)
}

impl Door {
    /// Reads what was kept. A token that is `given` counts instead.
    pub(in super::super) fn open(keep: &Keep, given: Option<&str>) -> Self {
        let secret = given.map_or_else(|| kept(keep), |given| Secret::Given(hash(given)));
        Self {
            keep: keep.clone(),
            inner: Mutex::new(Inner {
                secret,
                wrong: Bucket::new(WRONG, PAUSE),
                right: Bucket::new(RIGHT, SECOND / RIGHT),
            }),
        }
    }

    fn inner(&self) -> MutexGuard<'_, Inner> {
        self.inner.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Whether who shows this token may report now, and if not, why.
    pub(super) fn lets_in(&self, token: Option<&str>, now: Instant) -> Result<(), Shut> {
        let mut inner = self.inner();
        let known = match &inner.secret {
            Secret::Unset => return Err(Shut::NoToken),
            Secret::Unreadable(_) => return Err(Shut::Unreadable),
            Secret::Made(known) | Secret::Given(known) => *known,
        };
        let token = token.ok_or(Shut::Unsaid)?;
        // Nobody who guesses can shut out who knows it.
        if same(&hash(token), &known) {
            return inner.right.takes(now).then_some(()).ok_or(Shut::TooOften);
        }
        if inner.wrong.takes(now) {
            Err(Shut::Wrong)
        } else {
            Err(Shut::TooOften)
        }
    }

    /// A new token in place of the one before. Only its hash is kept.
    pub(super) fn renew(&self) -> Result<String, NotMade> {
        let mut inner = self.inner();
        if matches!(inner.secret, Secret::Given(_)) {
            return Err(NotMade::Given);
        }
        let mut bytes = [0; 32];
        OsRng
            .try_fill_bytes(&mut bytes)
            .map_err(|_| NotMade::NoRandom)?;
        let token = hex(&bytes);
        let contents = Contents {
            token_blake2s: hex(&hash(&token)),
        };
        let text = serde_json::to_vec_pretty(&contents)
            .map_err(|error| NotMade::NotKept(error.to_string()))?;
        self.keep
            .write_file(NAME, &text)
            .map_err(NotMade::NotKept)?;
        inner.secret = Secret::Made(hash(&token));
        Ok(token)
    }

    /// What keeps readings out for good, for who starts litfloor.
    pub(in super::super) fn fault(&self) -> Option<String> {
        match &self.inner().secret {
            Secret::Unreadable(why) => Some(why.clone()),
            _ => None,
        }
    }
}

fn kept(keep: &Keep) -> Secret {
    match keep.read_file(NAME) {
        Ok(None) => Secret::Unset,
        Ok(Some(text)) => {
            let contents: Option<Contents> = serde_json::from_str(&text).ok();
            let known = contents.and_then(|contents| unhex(&contents.token_blake2s));
            known.map_or_else(
                || Secret::Unreadable(format!("{NAME} of the state directory has no whole hash")),
                Secret::Made,
            )
        }
        Err(why) => Secret::Unreadable(why),
    }
}

#[cfg(test)]
mod tests {
    use super::super::super::timers;
    use super::*;

    #[tokio::test(start_paused = true)]
    async fn only_the_token_lets_in_and_only_its_hash_is_kept() {
        let directory = tempfile::tempdir().unwrap();
        let keep = Keep::Directory(directory.path().join("state"));
        let door = Door::open(&keep, None);
        assert_eq!(door.lets_in(Some("x"), timers::now()), Err(Shut::NoToken));
        let token = door.renew().unwrap();
        assert_eq!(
            (token.len(), door.lets_in(Some(&token), timers::now())),
            (64, Ok(()))
        );
        let text = keep.read_file(NAME).unwrap().unwrap();
        assert!(!text.contains(&token) && text.contains(&hex(&hash(&token))));
        // Another start knows it; a new one takes its place.
        let again = Door::open(&keep, None);
        assert_eq!(again.lets_in(Some(&token), timers::now()), Ok(()));
        let next = again.renew().unwrap();
        assert_eq!(again.lets_in(Some(&token), timers::now()), Err(Shut::Wrong));
        assert_eq!(again.lets_in(Some(&next), timers::now()), Ok(()));
        assert_eq!(again.lets_in(None, timers::now()), Err(Shut::Unsaid));
        keep.write_file(NAME, b"{}").unwrap();
        let faulty = Door::open(&keep, None);
        assert_eq!(
            faulty.lets_in(Some(&next), timers::now()),
            Err(Shut::Unreadable)
        );
    }

    #[tokio::test(start_paused = true)]
    async fn who_guesses_waits_and_shuts_nobody_out() {
        let door = Door::open(&Keep::Memory, Some("sixteen characters"));
        let right = || door.lets_in(Some("sixteen characters"), timers::now());
        let wrong = || door.lets_in(Some("guess"), timers::now());
        for _ in 0..WRONG {
            assert_eq!(wrong(), Err(Shut::Wrong));
        }
        assert_eq!(wrong(), Err(Shut::TooOften));
        assert_eq!(right(), Ok(()));
        tokio::time::advance(PAUSE).await;
        assert_eq!((wrong(), wrong()), (Err(Shut::Wrong), Err(Shut::TooOften)));
        assert_eq!(door.renew(), Err(NotMade::Given));
        // Who floods with the right token is told so as well.
        tokio::time::advance(SECOND).await;
        for _ in 0..RIGHT {
            assert_eq!(right(), Ok(()));
        }
        assert_eq!(right(), Err(Shut::TooOften));
    }

    /// RFC 7693, appendix B: BLAKE2s-256 of "abc".
    #[test]
    fn the_hash_is_blake2s() {
        let known = "508c5e8c327c14e2e1a72ba34eeb452f37458b209ed63a294d999b4c86675982";
        assert_eq!(hex(&hash("abc")), known);
        assert_eq!(unhex(known), Some(hash("abc")));
        assert_eq!(unhex(&known.replace('5', "g")), None);
    }
}
