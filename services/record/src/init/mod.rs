//! The folder of a log, and its founding: the log key is made here, the root keys never are,
//! unless it is a demonstration that says so.

pub mod demo;

pub mod rekey;

use crate::clock::Clock;
use crate::failure::{Failure, Setup, io};
use crate::journal::outside::Folder;
use crate::journal::writer::Parts;
use crate::journal::{Answer, Journal, Submitted};
use crate::store::sqlite::Sqlite;
use chrono_tz::Tz;
use ed25519_dalek::SigningKey;
use ed25519_dalek::pkcs8::spki::der::pem::LineEnding;
use ed25519_dalek::pkcs8::{DecodePrivateKey as _, EncodePrivateKey as _};
use selachron_schemas::encoding::{base64, base64url};
use selachron_schemas::limits::{ROOT_KEYS_MAX, ROOT_KEYS_MIN};
use selachron_schemas::names::{KeyId, is_person};
use selachron_schemas::note::{VerifierKey, name_fits};
use selachron_schemas::refusal::Refusal;
use selachron_schemas::signing::admissible;
use selachron_schemas::time::Instant;
use serde_json::{Value, json};
use std::fs::{File, OpenOptions};
use std::io::{ErrorKind, Write as _};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// The log's store.
pub const STORE_FILE: &str = "log.sqlite";
/// The log's key.
pub const KEY_FILE: &str = "log.key";
/// The founding body, to be signed elsewhere.
pub const FOUNDING_FILE: &str = "founding.body.json";
/// The file whose lock says that a process has the log.
pub const LOCK_FILE: &str = "lock";

/// What the founding note will fix for ever (F10).
#[derive(Debug, Clone)]
pub struct Plan {
    /// The log's origin: no scheme, never used for another log.
    pub origin: String,
    /// The collection's name.
    pub name: String,
    /// Two capital letters.
    pub country: String,
    /// IANA time zone.
    pub time_zone: String,
    /// Public keys of the roots with their persons; the first is the founding note's author.
    pub roots: Vec<([u8; 32], String)>,
    /// How many root persons decide.
    pub root_threshold: usize,
    /// An invented season with a simulated clock.
    pub simulated_clock: bool,
}

impl Plan {
    fn check(&self) -> Result<(), Failure> {
        let wrong = |said: String| Err(Setup::Refused(said).into());
        if !name_fits(&self.origin) || self.origin.contains("://") {
            return wrong(format!("origin {:?}: give it without scheme and spaces, like records.example.org/nursery", self.origin));
        }
        if self.time_zone.parse::<Tz>().is_err() {
            return wrong(format!("time zone {:?} is no IANA time zone known here; give one like Australia/Brisbane", self.time_zone));
        }
        if self.country.len() != 2 || !self.country.bytes().all(|byte| byte.is_ascii_uppercase()) {
            return wrong(format!("country {:?}: give two capital letters", self.country));
        }
        let count = self.roots.len();
        if !(ROOT_KEYS_MIN..=ROOT_KEYS_MAX).contains(&count) || !(ROOT_KEYS_MIN..=count).contains(&self.root_threshold) {
            return wrong(format!(
                "a collection has {ROOT_KEYS_MIN} to {ROOT_KEYS_MAX} root keys and a threshold from {ROOT_KEYS_MIN} to their number"
            ));
        }
        self.roots.iter().try_for_each(|(key, person)| check_root(key, person))
    }

    /// The founding body for a log key: what the root keys sign.
    fn body(&self, log_key: &SigningKey, now: Instant) -> Result<Vec<u8>, Failure> {
        let roots: Vec<Value> = self.roots.iter().map(|(key, person)| json!({"public_key": base64(key), "person": person})).collect();
        let mut data = json!({
            "name": self.name, "country": self.country, "time_zone": self.time_zone, "origin": self.origin,
            "root_keys": roots, "root_threshold": self.root_threshold,
            "log_vkey": VerifierKey::new(&self.origin, log_key.verifying_key()).to_string(),
        });
        if self.simulated_clock {
            data["simulated_clock"] = Value::Bool(true);
        }
        let body = json!({
            "specversion": "1.0", "id": ulid(now)?, "source": format!("https://{}", self.origin),
            "type": "collection.founded.v1", "subject": "collection", "time": now.utc_text(),
            "keyid": KeyId::of(&self.roots[0].0).to_string(), "keycount": 1,
            "nonce": base64url(&random::<16>()?), "signedtime": now.utc_text(), "data": data,
        });
        Ok(body.to_string().into_bytes())
    }
}

fn check_root(key: &[u8; 32], person: &str) -> Result<(), Failure> {
    admissible(key).map_err(|reason| Setup::Refused(format!("root key {}: {reason}", base64(key))))?;
    if is_person(person) { Ok(()) } else { Err(Setup::Refused(format!("{person:?} is no pseudonym of the form person/<ULID>")).into()) }
}

/// So many random bytes from the operating system.
///
/// # Errors
/// It gives none.
pub fn random<const N: usize>() -> Result<[u8; N], Failure> {
    let mut bytes = [0; N];
    getrandom::fill(&mut bytes).map_err(|error| Setup::Io(format!("no random bytes: {error}")))?;
    Ok(bytes)
}

/// A new ULID at `now`.
///
/// # Errors
/// There are no random bytes.
pub fn ulid(now: Instant) -> Result<String, Failure> {
    let chance = u128::from_le_bytes(random::<16>()?);
    Ok(ulid::Ulid::from_parts(now.0.max(0).cast_unsigned(), chance).to_string())
}

/// Makes the folder with an empty log and its key, and writes the founding body. Answers with
/// the body's path.
///
/// # Errors
/// The folder holds a log already, or the plan cannot be founded.
pub fn prepare(folder: &Path, plan: &Plan, clock: &dyn Clock) -> Result<PathBuf, Failure> {
    plan.check()?;
    if folder.join(STORE_FILE).exists() || folder.join(KEY_FILE).exists() {
        let said = format!("{} holds a log already; a log is never made over another", folder.display());
        return Err(Setup::Exists(said).into());
    }
    std::fs::create_dir_all(folder).map_err(|error| io(format!("making {}", folder.display()), &error))?;
    let key = new_key()?;
    let body = plan.body(&key, clock.now())?;
    write_key(&folder.join(KEY_FILE), &key)?;
    let path = folder.join(FOUNDING_FILE);
    std::fs::write(&path, body).map_err(|error| io(format!("writing {}", path.display()), &error))?;
    Sqlite::create(&folder.join(STORE_FILE))?;
    Ok(path)
}

/// Records the founding note, signed by all root keys, as seq 0.
///
/// # Errors
/// `Refused` with what the rules say, or the log is founded already.
pub fn found(folder: &Path, envelope: &[u8], clock: Arc<dyn Clock>) -> Result<(), Failure> {
    let _lock = lock(folder)?;
    let journal = open_journal(folder, clock)?;
    let handle = journal.handle();
    if handle.published().size() > 0 {
        return Err(Setup::Exists(format!("the log in {} is founded already", folder.display())).into());
    }
    let note = Submitted::open(&handle.gate(), envelope);
    match handle.record_blocking(vec![note])?.pop() {
        Some(Answer::Recorded { .. }) => Ok(()),
        Some(Answer::Refused { refusal, .. }) => Err(refusal.into()),
        Some(Answer::NotNow { failure, .. }) => Err(failure),
        None => Err(Refusal::body("", "the journal gave no answer").into()),
    }
}

/// Opens the journal of a folder. Hold its [`lock`] first.
///
/// # Errors
/// There is no log, or it does not check.
pub fn open_journal(folder: &Path, clock: Arc<dyn Clock>) -> Result<Journal, Failure> {
    let store = Arc::new(Sqlite::open(&folder.join(STORE_FILE))?);
    let within = folder.to_owned();
    let keys = Box::new(move || rekey::keys(&within));
    Journal::open(Parts { store, keys, clock, outside: Box::new(Folder::new(folder)) })
}

/// Takes the lock of a log's folder, which lives as long as what is returned.
///
/// # Errors
/// There is no log, or another process has it.
pub fn lock(folder: &Path) -> Result<File, Failure> {
    if !folder.join(STORE_FILE).exists() {
        return Err(Setup::NoLog(folder.to_owned()).into());
    }
    let path = folder.join(LOCK_FILE);
    let file = OpenOptions::new().create(true).truncate(false).write(true).open(&path);
    let file = file.map_err(|error| match error.kind() {
        ErrorKind::ReadOnlyFilesystem | ErrorKind::PermissionDenied => {
            let said = format!("{} cannot be written by this program; the log must stand where it can: {error}", folder.display());
            Setup::Refused(said).into()
        }
        _ => io(format!("opening {}", path.display()), &error),
    })?;
    match file.try_lock() {
        Ok(()) => Ok(file),
        Err(std::fs::TryLockError::WouldBlock) => Err(Setup::InUse(folder.to_owned()).into()),
        Err(std::fs::TryLockError::Error(error)) => Err(io(format!("locking {}", path.display()), &error)),
    }
}

/// A new signing key.
///
/// # Errors
/// There are no random bytes.
pub fn new_key() -> Result<SigningKey, Failure> {
    Ok(SigningKey::from_bytes(&random::<32>()?))
}

/// Writes a key as PKCS#8 PEM (RFC 8410) that only its owner can read.
///
/// # Errors
/// The file is there already, or cannot be written.
pub fn write_key(path: &Path, key: &SigningKey) -> Result<(), Failure> {
    let pem = key.to_pkcs8_pem(LineEnding::LF).map_err(|error| Setup::Io(format!("the key cannot be written: {error}")))?;
    let mut options = OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let written = options.open(path).and_then(|mut file| file.write_all(pem.as_bytes()).and_then(|()| file.sync_all()));
    written.map_err(|error| io(format!("writing {}", path.display()), &error))
}

/// Reads such a key.
///
/// # Errors
/// It is missing, or no PKCS#8 Ed25519 key.
pub fn read_key(path: &Path) -> Result<SigningKey, Failure> {
    let pem = std::fs::read_to_string(path).map_err(|error| io(format!("reading {}", path.display()), &error))?;
    // What the library says of a key that it cannot read is not repeated: it might quote it.
    SigningKey::from_pkcs8_pem(&pem).map_err(|_| Setup::NotOurs(format!("{} is no Ed25519 key in PKCS#8 PEM", path.display())).into())
}
