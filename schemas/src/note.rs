//! Checkpoints and the keys that sign them: C2SP signed-note and tlog-checkpoint, Ed25519 (F16).

use crate::encoding::{base64, from_base64, from_base64_32};
use crate::merkle::{Hash, sha256};
use ed25519_dalek::{Signature, Signer as _, SigningKey, VerifyingKey};
use std::fmt::Write as _;

/// The algorithm byte of plain Ed25519 note keys (C2SP signed-note).
pub const ED25519: u8 = 0x01;
/// The algorithm byte of a witness's timestamped cosignature (C2SP tlog-cosignature).
pub const COSIGNATURE: u8 = 0x04;

/// A key that verifies notes: `name+hash+base64(algorithm ‖ public key)`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct VerifierKey {
    name: String,
    hash: [u8; 4],
    algorithm: u8,
    key: VerifyingKey,
}

impl VerifierKey {
    /// The key of an Ed25519 note signer of that name.
    #[must_use]
    pub fn new(name: &str, key: VerifyingKey) -> Self {
        let hash = key_hash(name, ED25519, key.as_bytes());
        Self { name: name.to_owned(), hash, algorithm: ED25519, key }
    }

    /// Reads the text form.
    ///
    /// # Errors
    /// A sentence that says what is wrong with it.
    pub fn parse(text: &str) -> Result<Self, String> {
        let mut parts = text.splitn(3, '+');
        let (name, hash, key) = (parts.next().unwrap_or_default(), parts.next(), parts.next());
        let (Some(hash), Some(key)) = (hash, key) else {
            return Err(format!("{text:?} is not a verifier key of the form name+hash+key"));
        };
        if !name_fits(name) {
            return Err(format!("{name:?} cannot be the name of a note key"));
        }
        let bytes = from_base64(key).ok_or("the key is not base64")?;
        let (algorithm, public) = bytes.split_first().ok_or("the key is empty")?;
        if ![ED25519, COSIGNATURE].contains(algorithm) {
            return Err(format!("the key's algorithm byte is {algorithm:#04x}; only Ed25519 is known here"));
        }
        let public: [u8; 32] = public.try_into().map_err(|_| "the key must have 32 bytes")?;
        let expected = key_hash(name, *algorithm, &public);
        if crate::encoding::from_hex::<4>(hash) != Some(expected) {
            return Err(format!("the key's hash is {hash}, but its value gives {}", crate::encoding::hex(&expected)));
        }
        let key = VerifyingKey::from_bytes(&public).map_err(|_| "the key is no point of the curve")?;
        Ok(Self { name: name.to_owned(), hash: expected, algorithm: *algorithm, key })
    }

    /// The name: for a log key, the log's origin.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The first four bytes of the key's hash, as they stand before each signature.
    #[must_use]
    pub fn hash(&self) -> [u8; 4] {
        self.hash
    }

    /// The public key.
    #[must_use]
    pub fn public_key(&self) -> &VerifyingKey {
        &self.key
    }

    /// Whether this is a log's own key rather than a witness's.
    #[must_use]
    pub fn is_plain(&self) -> bool {
        self.algorithm == ED25519
    }

    /// Whether `signature` (the bytes after the key hash) is this key's over `text`.
    #[must_use]
    pub fn verifies(&self, text: &str, signature: &[u8]) -> bool {
        match (self.algorithm, signature.len()) {
            (ED25519, 64) => self.strict(text.as_bytes(), signature),
            (COSIGNATURE, 72) => {
                let mut stamp = [0; 8];
                stamp.copy_from_slice(&signature[..8]);
                let message = format!("cosignature/v1\ntime {}\n{text}", u64::from_be_bytes(stamp));
                self.strict(message.as_bytes(), &signature[8..])
            }
            _ => false,
        }
    }

    fn strict(&self, message: &[u8], signature: &[u8]) -> bool {
        Signature::from_slice(signature).is_ok_and(|signature| self.key.verify_strict(message, &signature).is_ok())
    }
}

impl std::fmt::Display for VerifierKey {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let mut bytes = vec![self.algorithm];
        bytes.extend_from_slice(self.key.as_bytes());
        write!(f, "{}+{}+{}", self.name, crate::encoding::hex(&self.hash), base64(&bytes))
    }
}

/// Whether a name may stand in a note: not empty, no space, no plus (C2SP signed-note).
#[must_use]
pub fn name_fits(name: &str) -> bool {
    !name.is_empty() && !name.contains('+') && !name.chars().any(char::is_whitespace)
}

fn key_hash(name: &str, algorithm: u8, public: &[u8; 32]) -> [u8; 4] {
    let digest = sha256(&[name.as_bytes(), b"\n", &[algorithm], public].concat());
    [digest[0], digest[1], digest[2], digest[3]]
}

/// What a log vouches for: so many leaves, and this root over them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Checkpoint {
    /// The log's origin.
    pub origin: String,
    /// Number of leaves.
    pub size: u64,
    /// The root over them.
    pub root: Hash,
}

impl Checkpoint {
    /// The text that is signed: three lines, no extension lines (F16).
    #[must_use]
    pub fn text(&self) -> String {
        format!("{}\n{}\n{}\n", self.origin, self.size, base64(&self.root))
    }

    /// Signs it as a note.
    #[must_use]
    pub fn sign(&self, keys: &[&SigningKey]) -> String {
        let text = self.text();
        let lines = keys.iter().map(|key| {
            let verifier = VerifierKey::new(&self.origin, key.verifying_key());
            let signature = key.sign(text.as_bytes()).to_bytes();
            signature_line(&self.origin, &[&verifier.hash[..], &signature].concat())
        });
        lines.fold(format!("{text}\n"), |mut note, line| {
            note.push_str(&line);
            note
        })
    }

    /// The note that a device saw, from the parts it carries in an event (F5): `signature` is
    /// the four bytes of the key hash and the signature.
    #[must_use]
    pub fn with_signature(&self, signature: &[u8]) -> String {
        format!("{}\n{}", self.text(), signature_line(&self.origin, signature))
    }

    /// Reads the signed text.
    #[must_use]
    pub fn parse_text(text: &str) -> Option<Self> {
        let mut lines = text.strip_suffix('\n')?.split('\n');
        let (origin, size, root) = (lines.next()?, lines.next()?, lines.next()?);
        if lines.next().is_some() || !name_fits(origin) {
            return None;
        }
        Some(Self { origin: origin.to_owned(), size: plain_number(size)?, root: from_base64_32(root)? })
    }
}

fn signature_line(name: &str, signature: &[u8]) -> String {
    format!("\u{2014} {name} {}\n", base64(signature))
}

/// Reads `0` or `[1-9][0-9]*`.
#[must_use]
pub fn plain_number(text: &str) -> Option<u64> {
    let fits = text == "0" || (!text.starts_with('0') && text.bytes().all(|b| b.is_ascii_digit()));
    if fits { text.parse().ok() } else { None }
}

/// One signature line of a note.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NoteSignature {
    /// Name of the signer's key.
    pub name: String,
    /// First four bytes of the key's hash.
    pub hash: [u8; 4],
    /// The signature's bytes.
    pub signature: Vec<u8>,
}

/// A signed checkpoint, read but not verified.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SignedCheckpoint {
    /// What the lines sign.
    pub checkpoint: Checkpoint,
    /// The signature lines in their order.
    pub signatures: Vec<NoteSignature>,
}

impl SignedCheckpoint {
    /// Reads a signed note whose text is a checkpoint (C2SP signed-note, tlog-checkpoint).
    ///
    /// # Errors
    /// A sentence that says what is wrong.
    pub fn parse(note: &str) -> Result<Self, String> {
        let (text, lines) = note.split_once("\n\n").ok_or("a note has an empty line before its signatures")?;
        let checkpoint = Checkpoint::parse_text(&format!("{text}\n")).ok_or("the note's text is not a checkpoint of three lines")?;
        let lines = lines.strip_suffix('\n').ok_or("the note does not end with a line feed")?;
        let signatures = lines.split('\n').map(parse_signature_line).collect::<Result<Vec<_>, _>>()?;
        Ok(Self { checkpoint, signatures })
    }

    /// Whether a line of `key` is there and verifies.
    #[must_use]
    pub fn signed_by(&self, key: &VerifierKey) -> bool {
        let text = self.checkpoint.text();
        self.signatures.iter().any(|line| line.name == key.name && line.hash == key.hash && key.verifies(&text, &line.signature))
    }

    /// The signature of `key` as an event carries it: key hash and signature (F5 `seensig`).
    #[must_use]
    pub fn signature_of(&self, key: &VerifierKey) -> Option<Vec<u8>> {
        let line = self.signatures.iter().find(|line| line.name == key.name && line.hash == key.hash)?;
        Some([&line.hash[..], &line.signature].concat())
    }

    /// The note's text again.
    #[must_use]
    pub fn to_note(&self) -> String {
        let mut note = format!("{}\n", self.checkpoint.text());
        for line in &self.signatures {
            let _ = write!(note, "{}", signature_line(&line.name, &[&line.hash[..], &line.signature].concat()));
        }
        note
    }
}

fn parse_signature_line(line: &str) -> Result<NoteSignature, String> {
    let wrong = || format!("{line:?} is not a signature line of a note");
    let rest = line.strip_prefix("\u{2014} ").ok_or_else(wrong)?;
    let (name, value) = rest.split_once(' ').ok_or_else(wrong)?;
    let bytes = from_base64(value).filter(|bytes| bytes.len() > 4).ok_or_else(wrong)?;
    if !name_fits(name) {
        return Err(wrong());
    }
    let hash = [bytes[0], bytes[1], bytes[2], bytes[3]];
    Ok(NoteSignature { name: name.to_owned(), hash, signature: bytes[4..].to_vec() })
}
