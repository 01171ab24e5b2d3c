//! Which tokens have been shown, and from where. A read changes nothing, so a token may open
//! several; what must not happen is that a copy of it is used elsewhere. So the first address
//! that shows a token has it for as long as it lives, and a `jti` belongs to one token only.

use crate::failure::Closed;
use selachron_schemas::limits::TOKENS_KEPT_PER_KEY_MAX;
use selachron_schemas::merkle::{Hash, sha256};
use selachron_schemas::names::KeyId;
use selachron_schemas::time::Instant;
use selachron_schemas::token::Token;
use std::collections::HashMap;
use std::net::IpAddr;
use std::sync::{Mutex, PoisonError};

struct Shown {
    token: Hash,
    peer: Option<IpAddr>,
    expires: Instant,
}

/// Tokens that live. It is forgotten when the service stops: no token lives longer than minutes.
#[derive(Default)]
pub struct Tokens(Mutex<HashMap<KeyId, HashMap<String, Shown>>>);

impl Tokens {
    /// Takes a token that checked, shown by `peer`.
    ///
    /// # Errors
    /// It was shown from elsewhere, or its `jti` was used in another token.
    pub fn show(&self, token: &Token, peer: Option<IpAddr>, now: Instant) -> Result<(), Closed> {
        let mut keys = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let shown = keys.entry(token.keyid).or_default();
        let hash = sha256(token.signed().as_bytes());
        match shown.get(&token.id) {
            Some(before) if before.token != hash && before.expires > now => {
                Err(Closed::Replayed("the jti of this token was used in another token; every token has a new one"))
            }
            Some(before) if before.token == hash && before.peer != peer => {
                Err(Closed::Replayed("this token was shown from another address before; make a new one"))
            }
            Some(before) if before.token == hash => Ok(()),
            _ => {
                make_room(shown, now);
                shown.insert(token.id.clone(), Shown { token: hash, peer, expires: token.expires });
                Ok(())
            }
        }
    }
}

/// Forgets what has ended; if a key still has too many, the one that ends first.
fn make_room(shown: &mut HashMap<String, Shown>, now: Instant) {
    shown.retain(|_, token| token.expires > now);
    while shown.len() >= TOKENS_KEPT_PER_KEY_MAX {
        let first = shown.iter().min_by_key(|(_, token)| token.expires).map(|(id, _)| id.clone());
        let Some(first) = first else { return };
        shown.remove(&first);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ed25519_dalek::SigningKey;
    use serde_json::json;

    const NOW: Instant = Instant(1_772_320_440_000);

    fn token(number: usize, life_s: i64) -> Token {
        let iat = NOW.0 / 1000;
        let claims = json!({"aud": "log", "iat": iat, "exp": iat + life_s, "jti": format!("token number {number:08}")});
        Token::read(&Token::sign_claims(&SigningKey::from_bytes(&[5; 32]), &claims)).unwrap()
    }

    #[test]
    fn a_token_serves_one_address_and_a_jti_one_token() {
        let tokens = Tokens::default();
        let (here, there) = (Some(IpAddr::from([192, 0, 2, 1])), Some(IpAddr::from([192, 0, 2, 2])));
        assert_eq!(tokens.show(&token(1, 60), here, NOW), Ok(()));
        assert_eq!(tokens.show(&token(1, 60), here, NOW), Ok(()), "it may open several reads");
        assert!(matches!(tokens.show(&token(1, 60), there, NOW), Err(Closed::Replayed(_))));
        assert!(matches!(tokens.show(&token(1, 61), here, NOW), Err(Closed::Replayed(_))), "another token with its jti");
        assert_eq!(tokens.show(&token(2, 60), there, NOW), Ok(()));
        assert_eq!(tokens.show(&token(1, 300), there, NOW.plus_ms(60_000)), Ok(()), "when it has ended its jti is free");
    }

    #[test]
    fn no_key_makes_the_service_remember_without_end() {
        let tokens = Tokens::default();
        (0..TOKENS_KEPT_PER_KEY_MAX + 9).for_each(|number| tokens.show(&token(number, 60), None, NOW).unwrap());
        assert_eq!(tokens.0.lock().unwrap().values().map(HashMap::len).sum::<usize>(), TOKENS_KEPT_PER_KEY_MAX);
        tokens.show(&token(TOKENS_KEPT_PER_KEY_MAX * 2, 300), None, NOW.plus_ms(60_001)).unwrap();
        assert_eq!(tokens.0.lock().unwrap().values().map(HashMap::len).sum::<usize>(), 1);
    }
}
