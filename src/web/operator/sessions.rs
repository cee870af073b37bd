//! Who is signed in: random tokens, of which only hashes are kept.

use std::collections::VecDeque;
use std::fmt;
use std::time::Duration;

use argon2::password_hash::rand_core::{self, OsRng, RngCore};
use blake2::{Blake2s256, Digest};
use tokio::time::Instant;

/// How long one sign-in lasts: a night.
pub(super) const LASTS: Duration = Duration::from_secs(12 * 3_600);

/// Sessions at one time, at most; the oldest gives way.
const MOST: usize = 64;

/// What the browser of a signed-in operator shows: 256 random bits.
pub(super) struct Token([u8; 32]);

impl Token {
    /// # Errors
    /// When the system gives no random numbers.
    pub(super) fn random() -> Result<Self, rand_core::Error> {
        let mut bytes = [0; 32];
        OsRng.try_fill_bytes(&mut bytes)?;
        Ok(Self(bytes))
    }

    fn id(&self) -> SessionId {
        SessionId::of(&self.to_string())
    }
}

impl fmt::Display for Token {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

/// The hash of a token as text. Whoever reads it can't make the token of it, and comparing it
/// tells nothing about the token by the time it takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct SessionId([u8; 32]);

impl SessionId {
    pub(super) fn of(token: &str) -> Self {
        Self(Blake2s256::digest(token.as_bytes()).into())
    }
}

/// The sessions that are open, oldest first.
#[derive(Debug, Default)]
pub(super) struct Sessions(VecDeque<(SessionId, Instant)>);

impl Sessions {
    pub(super) fn open(&mut self, token: &Token, now: Instant) {
        self.0.retain(|(_, ends)| now < *ends);
        while self.0.len() >= MOST {
            self.0.pop_front();
        }
        self.0.push_back((token.id(), now + LASTS));
    }

    pub(super) fn holds(&self, id: SessionId, now: Instant) -> bool {
        self.0.iter().any(|(open, ends)| *open == id && now < *ends)
    }

    pub(super) fn close(&mut self, id: SessionId) {
        self.0.retain(|(open, _)| *open != id);
    }

    pub(super) fn close_all(&mut self) {
        self.0.clear();
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::super::super::timers;
    use super::*;

    /// RFC 7693, appendix B: BLAKE2s-256 of "abc".
    #[test]
    fn a_token_is_kept_as_its_hash() {
        let hash = "508c5e8c327c14e2e1a72ba34eeb452f37458b209ed63a294d999b4c86675982";
        assert_eq!(Token(SessionId::of("abc").0).to_string(), hash);
    }

    #[test]
    fn tokens_are_long_and_no_two_alike() {
        let tokens: BTreeSet<String> = (0..1_000)
            .map(|_| Token::random().unwrap().to_string())
            .collect();
        assert_eq!(tokens.len(), 1_000);
        assert!(tokens.iter().all(|token| token.len() == 64));
    }

    #[tokio::test(start_paused = true)]
    async fn a_session_ends_after_its_time_or_when_it_is_closed() {
        let (now, token) = (timers::now(), Token::random().unwrap());
        let mut sessions = Sessions::default();
        assert!(!sessions.holds(token.id(), now));
        sessions.open(&token, now);
        assert!(sessions.holds(token.id(), now + LASTS - Duration::from_nanos(1)));
        assert!(!sessions.holds(token.id(), now + LASTS));
        sessions.close(token.id());
        assert!(!sessions.holds(token.id(), now));
    }

    #[tokio::test(start_paused = true)]
    async fn the_oldest_gives_way() {
        let now = timers::now();
        let mut sessions = Sessions::default();
        let tokens: Vec<Token> = (0..=MOST).map(|_| Token::random().unwrap()).collect();
        for token in &tokens {
            sessions.open(token, now);
        }
        assert!(!sessions.holds(tokens[0].id(), now));
        assert!(tokens[1..].iter().all(|t| sessions.holds(t.id(), now)));
        // One that has ended does not count.
        let late = now + LASTS;
        sessions.open(&tokens[0], late);
        assert_eq!(sessions.0.len(), 1);
    }
}
