//! A person's key on this machine: PKCS#8 PEM (RFC 8410), readable by its owner only, with the
//! outbox of its notes beside it.
//!
//! A key may be kept under a passphrase: encrypted PKCS#8 (RFC 5958 section 3, RFC 8018 PBES2
//! with scrypt, RFC 7914).

use crate::answer::Outcome;
use crate::fault::Fault;
use crate::files;
use crate::outbox::{Outbox, Unsent};
use crate::passphrase;
use ed25519_dalek::SigningKey;
use ed25519_dalek::pkcs8::KeypairBytes;
use pkcs8::{DecodePrivateKey as _, EncodePrivateKey as _, LineEnding};
use selachron_schemas::encoding::base64;
use selachron_schemas::envelope::SignatureBytes;
use selachron_schemas::names::{KeyId, Subject};
use selachron_schemas::signing;
use std::fmt;
use std::path::{Path, PathBuf};

/// A key that signs, and the outbox beside it.
pub struct Identity {
    path: PathBuf,
    key: SigningKey,
    keyid: KeyId,
    outbox: Outbox,
}

impl Identity {
    /// Makes a new key and writes it to `path`, mode 0600. A file that exists is never replaced.
    ///
    /// # Errors
    /// `path` exists or cannot be written; the system has no random bytes.
    pub fn create(path: impl AsRef<Path>) -> Result<Self, Fault> {
        Self::create_with(path.as_ref(), None)
    }

    /// The same, under a passphrase.
    ///
    /// # Errors
    /// As [`Identity::create`].
    pub fn create_protected(path: impl AsRef<Path>, passphrase: &str) -> Result<Self, Fault> {
        Self::create_with(path.as_ref(), Some(passphrase))
    }

    fn create_with(path: &Path, passphrase: Option<&str>) -> Result<Self, Fault> {
        let mut secret = [0; 32];
        getrandom::fill(&mut secret).map_err(|error| Fault::Failed(format!("the system gives no random bytes: {error}")))?;
        // Version 1, the private key alone, is what every reader of RFC 8410 understands.
        let document = KeypairBytes { secret_key: secret, public_key: None };
        let pem = match passphrase {
            None => document.to_pkcs8_pem(LineEnding::LF),
            Some(passphrase) => document.to_pkcs8_encrypted_pem(passphrase, LineEnding::LF),
        };
        let pem = pem.map_err(|error| Fault::Failed(format!("the key cannot be encoded: {error}")))?;
        files::write_new(path, pem.as_bytes())?;
        let identity = Self::of(path, SigningKey::from_bytes(&secret));
        identity.outbox.begin()?;
        Ok(identity)
    }

    /// Opens the key at `path`; if it wants a passphrase, [`passphrase::of`] gets it.
    ///
    /// # Errors
    /// There is no such file, others can read it, the passphrase is not the right one or cannot
    /// be asked for, or it is no Ed25519 key in PKCS#8 PEM.
    pub fn open(path: impl AsRef<Path>) -> Result<Self, Fault> {
        Self::open_with(path.as_ref(), passphrase::of)
    }

    /// The same; `ask` gets the passphrase if there must be one.
    ///
    /// # Errors
    /// As [`Identity::open`].
    pub fn open_with(path: &Path, ask: impl FnOnce(&Path) -> Result<String, Fault>) -> Result<Self, Fault> {
        let none = || Fault::NoSuchThing(format!("there is no key file {}; make one with `selachron key new`", path.display()));
        let pem = files::read_text(path)?.ok_or_else(none)?;
        check_mode(path)?;
        let shown = path.display();
        let key = if pem.contains("BEGIN ENCRYPTED PRIVATE KEY") {
            SigningKey::from_pkcs8_encrypted_pem(&pem, ask(path)?)
                .map_err(|_| Fault::Failed(format!("{shown} does not open with this passphrase, or is no Ed25519 key in PKCS#8 PEM")))?
        } else {
            SigningKey::from_pkcs8_pem(&pem).map_err(|error| Fault::Failed(format!("{shown} is no Ed25519 key in PKCS#8 PEM: {error}")))?
        };
        Ok(Self::of(path, key))
    }

    fn of(path: &Path, key: SigningKey) -> Self {
        let keyid = KeyId::of(key.verifying_key().as_bytes());
        Self { path: path.to_owned(), key, keyid, outbox: Outbox::beside(path, keyid) }
    }

    /// Where the key lies.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The key's id (F8).
    #[must_use]
    pub fn keyid(&self) -> KeyId {
        self.keyid
    }

    /// The subject of this key, `key/<keyid>`.
    #[must_use]
    pub fn subject(&self) -> Subject {
        Subject::key(self.keyid)
    }

    /// The raw public key, 32 bytes.
    #[must_use]
    pub fn public_key(&self) -> [u8; 32] {
        self.key.verifying_key().to_bytes()
    }

    /// The public key in base64, as enrolments and foundings carry it.
    #[must_use]
    pub fn public_key_base64(&self) -> String {
        base64(&self.public_key())
    }

    /// Signs a body (F6).
    #[must_use]
    pub fn signature(&self, body: &[u8]) -> SignatureBytes {
        signing::sign(&self.key, body)
    }

    /// The counts and unsent notes beside the key.
    #[must_use]
    pub fn outbox(&self) -> &Outbox {
        &self.outbox
    }

    /// The next count that was never used.
    ///
    /// # Errors
    /// The counts cannot be read.
    pub fn next_count(&self) -> Result<u32, Fault> {
        self.outbox.next_count()
    }

    /// Notes that wait to be recorded.
    ///
    /// # Errors
    /// A file cannot be read.
    pub fn waiting(&self) -> Result<Vec<Unsent>, Fault> {
        self.outbox.waiting()
    }

    /// Takes answers in, see [`Outbox::settle`].
    ///
    /// # Errors
    /// A file cannot be written.
    pub fn settle(&self, outcomes: &[Outcome]) -> Result<(), Fault> {
        self.outbox.settle(outcomes)
    }
}

/// The key itself is never printed.
impl fmt::Debug for Identity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Identity").field("path", &self.path).field("keyid", &self.keyid).finish_non_exhaustive()
    }
}

#[cfg(unix)]
fn check_mode(path: &Path) -> Result<(), Fault> {
    use std::os::unix::fs::PermissionsExt as _;
    let mode = std::fs::metadata(path).map_err(|error| files::fault("read", path, &error))?.permissions().mode() & 0o777;
    if mode & 0o077 == 0 {
        return Ok(());
    }
    let path = path.display();
    Err(Fault::Failed(format!("the key file {path} has mode {mode:04o}, so others can read it; run `chmod 600 {path}`")))
}

#[cfg(not(unix))]
fn check_mode(_path: &Path) -> Result<(), Fault> {
    Ok(())
}
