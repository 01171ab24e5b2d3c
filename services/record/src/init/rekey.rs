//! The log's own keys: the first in `log.key`, each next one in `log.key.2`, `log.key.3` and so on.
//! A file is made and never renamed or changed, so that no crash can come between a key and the note
//! that brings it into force. One whose time is over signs nothing more and may be taken away.

use super::{KEY_FILE, new_key, read_key, write_key};
use crate::failure::{Failure, Setup, io};
use ed25519_dalek::SigningKey;
use selachron_schemas::note::VerifierKey;
use std::path::{Path, PathBuf};

/// The keys that lie in the log's folder, by the number of their file.
///
/// # Errors
/// There is none, or one cannot be read.
pub fn keys(folder: &Path) -> Result<Vec<SigningKey>, Failure> {
    let files = files(folder)?;
    if files.is_empty() {
        return Err(Setup::NotOurs(format!("{} holds no {KEY_FILE}; put the log's key back", folder.display())).into());
    }
    files.iter().map(|(_, path)| read_key(path)).collect()
}

/// Makes the next key of this log, and answers with its file and its verifier key, for the root keys to
/// bring into force by a `log.rekeyed`. Until then it signs nothing.
///
/// # Errors
/// The folder holds no key, or the file cannot be written.
pub fn prepare(folder: &Path, origin: &str) -> Result<(PathBuf, VerifierKey), Failure> {
    keys(folder)?;
    let last = files(folder)?.last().map_or(1, |(number, _)| *number);
    let path = folder.join(format!("{KEY_FILE}.{}", last + 1));
    let key = new_key()?;
    write_key(&path, &key)?;
    Ok((path, VerifierKey::new(origin, key.verifying_key())))
}

/// Key files with their numbers, in order.
fn files(folder: &Path) -> Result<Vec<(u32, PathBuf)>, Failure> {
    let reading = |error: std::io::Error| io(format!("reading {}", folder.display()), &error);
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).map_err(reading)? {
        let path = entry.map_err(reading)?.path();
        let name = path.file_name().and_then(|name| name.to_str()).unwrap_or_default();
        let number = match name.strip_prefix(KEY_FILE) {
            Some("") => Some(1),
            Some(rest) => rest.strip_prefix('.').and_then(|number| number.parse().ok()).filter(|number| *number > 1),
            None => None,
        };
        found.extend(number.map(|number| (number, path)));
    }
    found.sort();
    Ok(found)
}
