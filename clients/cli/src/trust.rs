//! What this machine holds against the service: the log key it pinned at first contact, and the
//! newest checkpoint that it has verified and proved consistent with the one before (F5, F17).
//!
//! `logs/<hash of the origin>/` holds `log.vkey` and `checkpoint`; `urls/<hash of the address>`
//! says which log was met there, so that another log at a known address is noticed.

use crate::fault::Fault;
use crate::files::{self, Lock};
use selachron_schemas::encoding::hex;
use selachron_schemas::merkle::{Hash, sha256};
use selachron_schemas::names::KeyId;
use selachron_schemas::note::{SignedCheckpoint, VerifierKey};
use std::path::{Path, PathBuf};

/// The state folder.
#[derive(Debug, Clone)]
pub struct Trust {
    folder: PathBuf,
}

/// Bytes of a hash that name a folder or a file.
const SHORT_HASH_BYTES: usize = 16;

/// The fingerprint of a log key, to be compared by reading aloud: the id that its public key
/// would have as a key (F8). The verifier shows the same.
#[must_use]
pub fn fingerprint(key: &VerifierKey) -> KeyId {
    KeyId::of(key.public_key().as_bytes())
}

fn short_hash(text: &str) -> String {
    hex(&sha256(text.as_bytes())[..SHORT_HASH_BYTES])
}

impl Trust {
    /// Trust kept in this folder, which need not exist yet.
    #[must_use]
    pub fn in_folder(folder: &Path) -> Self {
        Self { folder: folder.to_owned() }
    }

    /// The folder of a log's own files.
    #[must_use]
    pub fn log_folder(&self, origin: &str) -> PathBuf {
        self.folder.join("logs").join(short_hash(origin))
    }

    fn url_file(&self, url: &str) -> PathBuf {
        self.folder.join("urls").join(short_hash(url))
    }

    /// The key pinned for the log met at `url`, if it was met before.
    ///
    /// # Errors
    /// A file cannot be read, or is no key.
    pub fn pinned(&self, url: &str) -> Result<Option<VerifierKey>, Fault> {
        match files::read_text(&self.url_file(url))? {
            Some(origin) => self.key_of(origin.trim_end()),
            None => Ok(None),
        }
    }

    /// The key pinned for a log, whatever its address.
    ///
    /// # Errors
    /// The file cannot be read, or is no key.
    pub fn key_of(&self, origin: &str) -> Result<Option<VerifierKey>, Fault> {
        let file = self.log_folder(origin).join("log.vkey");
        let Some(text) = files::read_text(&file)? else { return Ok(None) };
        let key = VerifierKey::parse(text.trim_end()).map_err(|reason| Fault::Failed(format!("{}: {reason}", file.display())))?;
        Ok(Some(key))
    }

    /// Pins `key` for its log and for `url`. `true` when the log was never met before.
    ///
    /// # Errors
    /// Broken, when another key is pinned already: nothing is replaced.
    pub fn pin(&self, url: &str, key: &VerifierKey) -> Result<bool, Fault> {
        let folder = self.log_folder(key.name());
        files::make_folder(&folder)?;
        files::make_folder(&self.folder.join("urls"))?;
        let _lock = Lock::take(&folder.join("lock"))?;
        let known = match self.pinned(url)? {
            Some(known) => Some(known),
            None => self.key_of(key.name())?,
        };
        let new = known.is_none();
        if let Some(known) = known.filter(|known| known != key) {
            return Err(changed(&known, key));
        }
        files::replace(&folder.join("log.vkey"), format!("{key}\n").as_bytes())?;
        files::replace(&self.url_file(url), format!("{}\n", key.name()).as_bytes())?;
        Ok(new)
    }

    /// Pins `new` in the place of `pinned`, the key of the same log that is pinned now.
    ///
    /// # Errors
    /// Broken, when another key is pinned meanwhile; a file cannot be written.
    pub fn replace(&self, pinned: &VerifierKey, new: &VerifierKey) -> Result<(), Fault> {
        let folder = self.log_folder(new.name());
        files::make_folder(&folder)?;
        let _lock = Lock::take(&folder.join("lock"))?;
        // A key that was given by flag need not be pinned.
        match self.key_of(new.name())? {
            Some(known) if known != *pinned && known != *new => Err(changed(&known, new)),
            Some(_) => files::replace(&folder.join("log.vkey"), format!("{new}\n").as_bytes()),
            None => Ok(()),
        }
    }

    /// The newest checkpoint kept for a log, verified under its pinned key.
    ///
    /// # Errors
    /// Broken, when what is kept here is not signed by `key`.
    pub fn seen(&self, key: &VerifierKey) -> Result<Option<SignedCheckpoint>, Fault> {
        let file = self.log_folder(key.name()).join("checkpoint");
        let Some(text) = files::read_text(&file)? else { return Ok(None) };
        let note = SignedCheckpoint::parse(&text).map_err(|reason| Fault::Failed(format!("{}: {reason}", file.display())))?;
        if note.checkpoint.origin != key.name() || !note.signed_by(key) {
            let detail = "was not signed by the log key in use; compare log keys with the registrar before anything is sent";
            return Err(Fault::Broken(format!("the checkpoint kept in {} {detail}", file.display())));
        }
        Ok(Some(note))
    }

    /// Puts `to` in the place of `from`, the checkpoint it was proved consistent with. `false`
    /// when somebody else has moved it meanwhile: look again.
    ///
    /// # Errors
    /// A file cannot be read or written.
    pub fn advance(&self, key: &VerifierKey, from: Option<&SignedCheckpoint>, to: &SignedCheckpoint) -> Result<bool, Fault> {
        let folder = self.log_folder(key.name());
        files::make_folder(&folder)?;
        let _lock = Lock::take(&folder.join("lock"))?;
        let now = self.seen(key)?;
        if now.map(|note| note.checkpoint) != from.map(|note| note.checkpoint.clone()) {
            return Ok(false);
        }
        files::replace(&folder.join("checkpoint"), to.to_note().as_bytes())?;
        Ok(true)
    }
}

fn changed(known: &VerifierKey, new: &VerifierKey) -> Fault {
    Fault::Broken(format!(
        "the log key has changed: pinned is {} of {} ({known}), the service now shows {} of {} ({new}); ask the registrar which is right before anything is sent, and then say `selachron trust VKEY`",
        fingerprint(known),
        known.name(),
        fingerprint(new),
        new.name()
    ))
}

/// A fork in one sentence: two roots for one size.
#[must_use]
pub fn forked(size: u64, known: &Hash, shown: &Hash) -> Fault {
    Fault::Broken(format!(
        "the log has forked: for its first {size} notes this machine verified the root {}, the service now shows {}; keep this message and call the registrar",
        selachron_schemas::encoding::base64(known),
        selachron_schemas::encoding::base64(shown)
    ))
}
