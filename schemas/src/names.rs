//! ULIDs, subjects, key ids and kinds, as text that has been checked (F1, F3).

use crate::encoding;
use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};
use std::fmt;

/// The nouns a subject may begin with, beside `collection` and `key` (F1).
pub const NOUNS: [&str; 16] = [
    "egg",
    "clutch",
    "animal",
    "group",
    "system",
    "tank",
    "place",
    "species",
    "food",
    "sample",
    "consignment",
    "round",
    "incident",
    "instrument",
    "loan",
    "document",
];

/// Whether `text` is a ULID: 26 upper-case Crockford characters, the first at most `7` (F1).
#[must_use]
pub fn is_ulid(text: &str) -> bool {
    let bytes = text.as_bytes();
    bytes.len() == 26
        && bytes[0] <= b'7'
        && bytes.iter().all(|byte| byte.is_ascii_digit() || (byte.is_ascii_uppercase() && !b"ILOU".contains(byte)))
}

/// What a note is about: `collection`, `key/<keyid>` or `<noun>/<ULID>`.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Subject(String);

impl Subject {
    /// Reads a subject; `None` if it is not of the form of F1.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let fits = match text.split_once('/') {
            None => text == "collection",
            Some(("key", id)) => KeyId::parse(id).is_some(),
            Some((noun, id)) => NOUNS.contains(&noun) && is_ulid(id),
        };
        fits.then(|| Self(text.to_owned()))
    }

    /// The subject `collection`.
    #[must_use]
    pub fn collection() -> Self {
        Self("collection".to_owned())
    }

    /// The subject of a key.
    #[must_use]
    pub fn key(id: KeyId) -> Self {
        Self(format!("key/{id}"))
    }

    /// The whole text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// `egg`, `key`, `collection`, …
    #[must_use]
    pub fn noun(&self) -> &str {
        self.0.split('/').next().unwrap_or_default()
    }

    /// The part after the slash; empty for `collection`.
    #[must_use]
    pub fn id(&self) -> &str {
        self.0.split_once('/').map_or("", |(_, id)| id)
    }
}

impl fmt::Display for Subject {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// The id of a public key (F8): the first 16 bytes of a hash of its algorithm and value.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct KeyId(pub [u8; 16]);

impl KeyId {
    /// The id of a raw Ed25519 public key of 32 bytes.
    #[must_use]
    pub fn of(public_key: &[u8; 32]) -> Self {
        let digest = Sha256::new().chain_update(b"selachron-key/v1\n\x01").chain_update(public_key).finalize();
        let mut id = [0; 16];
        id.copy_from_slice(&digest[..16]);
        Self(id)
    }

    /// Reads 32 lower-case hexadecimal characters.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        encoding::from_hex(text).map(Self)
    }
}

impl fmt::Display for KeyId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&encoding::hex(&self.0))
    }
}

impl fmt::Debug for KeyId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "KeyId({self})")
    }
}

impl Serialize for KeyId {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

/// Whether `text` is a kind with its version, such as `egg.candled.v1` (F3).
#[must_use]
pub fn is_kind(text: &str) -> bool {
    let Some((rest, version)) = text.rsplit_once(".v") else { return false };
    let Some((noun, verb)) = rest.split_once('.') else { return false };
    let lower = |part: &str, also: u8| !part.is_empty() && part.bytes().all(|b| b.is_ascii_lowercase() || b == also);
    let number = !version.starts_with('0') && !version.is_empty() && version.bytes().all(|b| b.is_ascii_digit());
    lower(noun, b'a') && lower(verb, b'_') && number
}

/// Whether `text` is a person's pseudonym, `person/<ULID>` (F10).
#[must_use]
pub fn is_person(text: &str) -> bool {
    text.strip_prefix("person/").is_some_and(is_ulid)
}
