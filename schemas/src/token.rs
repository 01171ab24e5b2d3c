//! Tokens by which a key reads: JSON Web Tokens (RFC 7519) in the compact form of RFC 7515, signed
//! with Ed25519 as RFC 8037 says. A few lines of our own, for three reasons: signatures are as
//! strict here as those of notes (F6), the clock is an argument, and one algorithm is all there is.
//!
//! What is signed begins with `eyJ` and what a note signs with `DSSEv1`, so neither can ever stand
//! for the other.

use crate::encoding::{base64url, from_base64url};
use crate::limits::{CLOCK_SKEW_MS, TOKEN_BYTES_MAX, TOKEN_ID_BYTES_MAX, TOKEN_ID_BYTES_MIN, TOKEN_LIFE_MAX_S, TOKEN_LIFE_S};
use crate::names::KeyId;
use crate::time::{Instant, SECOND_MS};
use ed25519_dalek::{Signature, Signer as _, SigningKey, VerifyingKey};
use serde_json::{Map, Value, json};

/// The one algorithm (RFC 8037 3.1).
pub const ALGORITHM: &str = "EdDSA";

/// What is wrong with a token. Every sentence says what to do.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TokenFault {
    /// It has not the form.
    #[error("the token cannot be read: {0}")]
    Malformed(&'static str),
    /// Another algorithm than EdDSA, `none` included.
    #[error("the token says alg {0:?}; tokens are signed with EdDSA by an Ed25519 key and nothing else is taken")]
    Algorithm(String),
    /// Its `kid` names no key of the log.
    #[error(
        "the token's kid names the key {0}, which is not enrolled in this log; ask a registrar to enrol it (once its enrolment waits for its signature, it reads that in /v1/waiting)"
    )]
    KeyUnknown(KeyId),
    /// Its key is revoked or has expired.
    #[error("the key {0} is not in force: it is revoked or past its valid_until; ask a registrar for a new enrolment")]
    KeyNotInForce(KeyId),
    /// The signature does not verify.
    #[error("the token's signature does not verify under the key that its kid names; sign a new token")]
    Signature,
    /// Made for another log.
    #[error("the token is for {found:?}; this log is {wanted:?}: its aud must be the log's origin, to the letter")]
    Audience {
        /// What it says.
        found: String,
        /// The log's origin.
        wanted: String,
    },
    /// Its time is over.
    #[error("the token ended at {exp}, and the service's clock says {now}; sign a new one, and look at the device's clock if it was new")]
    Expired {
        /// Its end.
        exp: String,
        /// The service's clock.
        now: String,
    },
    /// Its time has not come.
    #[error("the token begins at {begin}, and the service's clock says {now}; put the device's clock right and sign a new one")]
    NotYetValid {
        /// Its begin.
        begin: String,
        /// The service's clock.
        now: String,
    },
    /// It would live too long.
    #[error("the token would live {0} seconds; exp is at most {TOKEN_LIFE_MAX_S} seconds after iat, and after it")]
    TooLong(i64),
}

/// A JWS in compact serialisation, taken apart; nothing in it is believed yet.
#[derive(Debug, Clone, PartialEq)]
pub struct Jws {
    /// The protected header.
    pub header: Map<String, Value>,
    /// The payload's bytes.
    pub payload: Vec<u8>,
    signed: String,
    signature: [u8; 64],
}

impl Jws {
    /// Signs a payload (RFC 8037 appendix A.4 is the check vector).
    #[must_use]
    pub fn sign(key: &SigningKey, header: &Value, payload: &[u8]) -> String {
        let signed = format!("{}.{}", base64url(header.to_string().as_bytes()), base64url(payload));
        let signature = key.sign(signed.as_bytes());
        format!("{signed}.{}", base64url(&signature.to_bytes()))
    }

    /// Takes the three parts apart; the header must be strict JSON that says EdDSA.
    ///
    /// # Errors
    /// `Malformed`, `Algorithm`.
    pub fn read(text: &str) -> Result<Self, TokenFault> {
        if text.len() > TOKEN_BYTES_MAX {
            return Err(TokenFault::Malformed("it is longer than any token we take"));
        }
        let (signed, signature) = text.rsplit_once('.').ok_or(TokenFault::Malformed("it has not three parts"))?;
        let (header, payload) = signed.split_once('.').ok_or(TokenFault::Malformed("it has not three parts"))?;
        let header = from_base64url(header).ok_or(TokenFault::Malformed("its header is not base64url"))?;
        let header = object(&header).ok_or(TokenFault::Malformed("its header is not a JSON object"))?;
        // The algorithm is looked at before anything is decoded that it governs.
        let algorithm = header.get("alg").and_then(Value::as_str).unwrap_or_default();
        if algorithm != ALGORITHM {
            return Err(TokenFault::Algorithm(algorithm.to_owned()));
        }
        if header.keys().any(|name| !["alg", "kid", "typ"].contains(&name.as_str())) {
            return Err(TokenFault::Malformed("its header has other members than alg, kid and typ"));
        }
        let payload = from_base64url(payload).ok_or(TokenFault::Malformed("its payload is not base64url"))?;
        let signature = from_base64url(signature).and_then(|bytes| bytes.try_into().ok());
        let signature = signature.ok_or(TokenFault::Malformed("its signature is not 64 bytes in base64url"))?;
        Ok(Self { header, payload, signed: signed.to_owned(), signature })
    }

    /// Whether the signature is valid, as strictly as F6 says.
    #[must_use]
    pub fn signed_by(&self, key: &VerifyingKey) -> bool {
        key.verify_strict(self.signed.as_bytes(), &Signature::from_bytes(&self.signature)).is_ok()
    }
}

fn object(bytes: &[u8]) -> Option<Map<String, Value>> {
    match crate::ijson::parse(bytes) {
        Ok(Value::Object(members)) => Some(members),
        _ => None,
    }
}

/// A token that was read; its key has yet to be found and [`Token::check`] to be asked.
#[derive(Debug, Clone, PartialEq)]
pub struct Token {
    /// The key that is said to have signed (`kid`).
    pub keyid: KeyId,
    /// Its own name (`jti`).
    pub id: String,
    /// When it ends (`exp`).
    pub expires: Instant,
    audience: String,
    issued: Instant,
    begins: Instant,
    jws: Jws,
}

impl Token {
    /// Signs a token for the log `audience` that begins `now`. `id` is new for every token, such
    /// as a ULID.
    #[must_use]
    pub fn sign(key: &SigningKey, audience: &str, now: Instant, id: &str) -> String {
        let issued_s = now.0.div_euclid(SECOND_MS);
        let claims = json!({"aud": audience, "iat": issued_s, "exp": issued_s + TOKEN_LIFE_S, "jti": id});
        Self::sign_claims(key, &claims)
    }

    /// Signs whatever claims these are, with the header that every token has.
    #[must_use]
    pub fn sign_claims(key: &SigningKey, claims: &Value) -> String {
        let keyid = KeyId::of(key.verifying_key().as_bytes());
        Jws::sign(key, &json!({"alg": ALGORITHM, "typ": "JWT", "kid": keyid}), claims.to_string().as_bytes())
    }

    /// Reads a token. Claims other than aud, iat, nbf, exp and jti say nothing here.
    ///
    /// # Errors
    /// `Malformed`, `Algorithm`.
    pub fn read(text: &str) -> Result<Self, TokenFault> {
        let jws = Jws::read(text)?;
        if jws.header.get("typ").is_some_and(|kind| kind != "JWT") {
            return Err(TokenFault::Malformed("its typ is not JWT"));
        }
        let keyid = jws.header.get("kid").and_then(Value::as_str).and_then(KeyId::parse);
        let keyid = keyid.ok_or(TokenFault::Malformed("its kid is no key id of 32 hexadecimal characters"))?;
        let claims = object(&jws.payload).ok_or(TokenFault::Malformed("its claims are not a JSON object"))?;
        let text = |name: &str| claims.get(name).and_then(Value::as_str).map(str::to_owned);
        let issued = seconds(&claims, "iat").ok_or(TokenFault::Malformed("iat must be whole seconds since 1970"))?;
        let expires = seconds(&claims, "exp").ok_or(TokenFault::Malformed("exp must be whole seconds since 1970"))?;
        let begins = match claims.get("nbf") {
            None => issued,
            Some(_) => seconds(&claims, "nbf").ok_or(TokenFault::Malformed("nbf must be whole seconds since 1970"))?.max(issued),
        };
        let id = text("jti").filter(|id| (TOKEN_ID_BYTES_MIN..=TOKEN_ID_BYTES_MAX).contains(&id.len()));
        let id = id.ok_or(TokenFault::Malformed("jti must be a name of its own, 16 to 64 bytes long"))?;
        let audience = text("aud").ok_or(TokenFault::Malformed("aud must be one string"))?;
        Ok(Self { keyid, id, expires, audience, issued, begins, jws })
    }

    /// Checks signature, audience and time. Whether `key` is in force is asked elsewhere.
    ///
    /// # Errors
    /// The first that fails.
    pub fn check(&self, key: &VerifyingKey, audience: &str, now: Instant) -> Result<(), TokenFault> {
        if !self.jws.signed_by(key) {
            return Err(TokenFault::Signature);
        }
        if self.audience != audience {
            return Err(TokenFault::Audience { found: self.audience.clone(), wanted: audience.to_owned() });
        }
        let life_s = (self.expires.0 - self.issued.0) / SECOND_MS;
        if !(1..=TOKEN_LIFE_MAX_S).contains(&life_s) {
            return Err(TokenFault::TooLong(life_s));
        }
        if now >= self.expires {
            return Err(TokenFault::Expired { exp: self.expires.utc_text(), now: now.utc_text() });
        }
        if self.begins > now.plus_ms(CLOCK_SKEW_MS) {
            return Err(TokenFault::NotYetValid { begin: self.begins.utc_text(), now: now.utc_text() });
        }
        Ok(())
    }

    /// What the signature covers; two tokens that differ differ here.
    #[must_use]
    pub fn signed(&self) -> &str {
        &self.jws.signed
    }
}

/// A `NumericDate` (RFC 7519 2) that is whole; farther than a century from 1970 it is none.
fn seconds(claims: &Map<String, Value>, name: &str) -> Option<Instant> {
    let seconds = claims.get(name)?.as_i64().filter(|seconds| (0..=i64::from(u32::MAX)).contains(seconds))?;
    Some(Instant(seconds * SECOND_MS))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::encoding::from_base64url;

    /// RFC 8037 appendix A.1: the key of RFC 8032 7.1 TEST 1.
    fn key_of_the_rfc() -> SigningKey {
        let secret = from_base64url("nWGxne_9WmC6hEr0kuwsxERJxWl7MmkZcDusAxyuf2A").unwrap();
        SigningKey::from_bytes(&secret.try_into().unwrap())
    }

    #[test]
    fn the_example_of_rfc_8037_appendix_a_is_reproduced_and_verifies() {
        let key = key_of_the_rfc();
        assert_eq!(base64url(key.verifying_key().as_bytes()), "11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo", "A.2");
        let jws = Jws::sign(&key, &json!({"alg": "EdDSA"}), b"Example of Ed25519 signing");
        let printed = "eyJhbGciOiJFZERTQSJ9.RXhhbXBsZSBvZiBFZDI1NTE5IHNpZ25pbmc.\
            hgyY0il_MGCjP0JzlnLWG1PPOt7-09PGcvMg3AIbQR6dWbhijcNR4ki4iylGjg5BhVsPt9g7sVvpAr_MuM0KAg";
        assert_eq!(jws, printed, "A.4");
        assert!(Jws::read(printed).unwrap().signed_by(&key.verifying_key()), "A.5");
        let other = SigningKey::from_bytes(&[9; 32]);
        assert!(!Jws::read(printed).unwrap().signed_by(&other.verifying_key()));
    }

    const NOW: Instant = Instant(1_772_320_440_000);
    const LOG: &str = "records.example.org/tests";
    const ID: &str = "01JDH3G6C0TEST000000000001";

    fn checked(claims: &Value, now: Instant) -> Result<(), TokenFault> {
        let key = key_of_the_rfc();
        Token::read(&Token::sign_claims(&key, claims))?.check(&key.verifying_key(), LOG, now)
    }

    #[test]
    fn a_token_holds_from_a_little_before_it_begins_until_it_ends() {
        let key = key_of_the_rfc();
        let token = Token::read(&Token::sign(&key, LOG, NOW, ID)).unwrap();
        assert_eq!((token.keyid, token.id.as_str()), (KeyId::of(key.verifying_key().as_bytes()), ID));
        let at = |ms: i64| token.check(&key.verifying_key(), LOG, NOW.plus_ms(ms));
        assert_eq!(at(0), Ok(()));
        assert_eq!(at(-CLOCK_SKEW_MS), Ok(()), "a device's clock may be a little ahead");
        assert!(matches!(at(-CLOCK_SKEW_MS - 1), Err(TokenFault::NotYetValid { .. })));
        assert_eq!(at(TOKEN_LIFE_S * SECOND_MS - 1), Ok(()));
        assert!(matches!(at(TOKEN_LIFE_S * SECOND_MS), Err(TokenFault::Expired { .. })));
    }

    #[test]
    fn claims_are_read_strictly() {
        let iat = NOW.0 / SECOND_MS;
        let claims = |more: Value| {
            let mut claims = json!({"aud": LOG, "iat": iat, "exp": iat + TOKEN_LIFE_MAX_S, "jti": ID});
            claims.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
            claims
        };
        assert_eq!(checked(&claims(json!({"sub": "anything", "nbf": iat})), NOW), Ok(()));
        for (wrong, why) in [
            (json!({"exp": iat + TOKEN_LIFE_MAX_S + 1}), "601 seconds"),
            (json!({"exp": iat}), "0 seconds"),
            (json!({"exp": iat - 9}), "-9 seconds"),
            (json!({"aud": "records.example.org/other"}), "is for"),
            (json!({"aud": [LOG]}), "one string"),
            (json!({"aud": null}), "one string"),
            (json!({"jti": "short"}), "jti"),
            (json!({"jti": null}), "jti"),
            (json!({"iat": 0.5}), "iat"),
            (json!({"exp": "1772320440"}), "exp"),
            (json!({"exp": 1e300}), "JSON object"),
            (json!({"nbf": iat + 300}), "begins"),
            (json!({"nbf": -1}), "nbf"),
        ] {
            let said = checked(&claims(wrong.clone()), NOW).expect_err(&wrong.to_string()).to_string();
            assert!(said.contains(why), "{wrong}: {said}");
        }
    }

    #[test]
    fn no_other_algorithm_header_or_form_is_taken() {
        let key = key_of_the_rfc();
        let claims = json!({"aud": LOG, "iat": 1, "exp": 2, "jti": ID}).to_string();
        let kid = KeyId::of(key.verifying_key().as_bytes());
        let with = |header: Value| Token::read(&Jws::sign(&key, &header, claims.as_bytes()));
        for alg in ["none", "None", "HS256", "RS256", "ES256", "eddsa", "Ed25519", ""] {
            assert_eq!(with(json!({"alg": alg, "kid": kid})).unwrap_err(), TokenFault::Algorithm(alg.to_owned()));
        }
        for header in [
            json!({"alg": "EdDSA"}),
            json!({"alg": "EdDSA", "kid": "x"}),
            json!({"alg": "EdDSA", "kid": kid, "typ": "JOSE"}),
            json!({"alg": "EdDSA", "kid": kid, "crit": ["exp"]}),
            json!({"alg": "EdDSA", "kid": kid, "jwk": {}}),
        ] {
            assert!(matches!(with(header.clone()), Err(TokenFault::Malformed(_))), "{header}");
        }
        let good = Jws::sign(&key, &json!({"alg": "EdDSA", "kid": kid}), claims.as_bytes());
        let unsigned = format!("{}.{}.", base64url(br#"{"alg":"none"}"#), base64url(claims.as_bytes()));
        let twice = format!("{}.{}", base64url(br#"{"alg":"none","alg":"EdDSA"}"#), good.split_once('.').unwrap().1);
        for text in ["", ".", "..", "a.b", &format!("{good}="), &format!("{good}.x"), &"x".repeat(TOKEN_BYTES_MAX + 1), &unsigned, &twice] {
            assert!(Token::read(text).is_err(), "{text}");
        }
    }
}
