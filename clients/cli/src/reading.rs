//! The key that a client reads with, and the tokens it makes: short-lived, one after the other,
//! each for one log (SPEC.md, Reading).

use crate::draft::new_ulid;
use crate::fault::Fault;
use ed25519_dalek::SigningKey;
use selachron_schemas::limits::{TOKEN_LIFE_S, TOKEN_RENEW_S};
use selachron_schemas::names::KeyId;
use selachron_schemas::time::{Instant, SECOND_MS};
use selachron_schemas::token::Token;
use std::fmt;
use std::sync::{Mutex, PoisonError};

/// A key that signs tokens, and nothing else here.
#[derive(Clone)]
pub struct ReadKey(SigningKey);

impl ReadKey {
    /// Reads with this key.
    #[must_use]
    pub fn new(key: SigningKey) -> Self {
        Self(key)
    }

    /// A new token for the log `origin`, as of `now`.
    ///
    /// # Errors
    /// The system gives no random bytes.
    pub fn token(&self, origin: &str, now: Instant) -> Result<String, Fault> {
        Ok(Token::sign(&self.0, origin, now, &new_ulid(now)?))
    }
}

/// The key itself is never printed.
impl fmt::Debug for ReadKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_tuple("ReadKey").field(&KeyId::of(self.0.verifying_key().as_bytes())).finish()
    }
}

/// The token in use.
#[derive(Debug, Default)]
pub struct Current(Mutex<Option<(String, Instant)>>);

impl Current {
    /// The token in use, or a new one before it ends. A clock that was put back asks for a new one
    /// too, for the old one may not have begun.
    ///
    /// # Errors
    /// As [`ReadKey::token`].
    pub fn token(&self, key: &ReadKey, origin: &str, now: Instant) -> Result<String, Fault> {
        let mut current = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let fresh = |made: Instant| now >= made && now.0 - made.0 < (TOKEN_LIFE_S - TOKEN_RENEW_S) * SECOND_MS;
        if let Some((token, _)) = current.as_ref().filter(|(_, made)| fresh(*made)) {
            return Ok(token.clone());
        }
        let token = key.token(origin, now)?;
        *current = Some((token.clone(), now));
        Ok(token)
    }

    /// Throws the token away: it is refused.
    pub fn forget(&self) {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = None;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_token_is_used_until_shortly_before_it_ends() {
        let (key, current) = (ReadKey::new(SigningKey::from_bytes(&[3; 32])), Current::default());
        let now = Instant(1_772_320_440_000);
        let at = |ms: i64| current.token(&key, "records.example.org/x", now.plus_ms(ms)).expect("a token");
        let first = at(0);
        assert_eq!(at((TOKEN_LIFE_S - TOKEN_RENEW_S) * SECOND_MS - 1), first);
        let second = at((TOKEN_LIFE_S - TOKEN_RENEW_S) * SECOND_MS);
        assert_ne!(second, first);
        assert_ne!(at(0), second, "the clock was put back");
        let third = at(0);
        current.forget();
        assert_ne!(at(0), third);
        assert!(!format!("{key:?}").contains("SigningKey"));
    }
}
