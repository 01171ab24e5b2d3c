//! The passphrase of a key file: from the environment, or from the person at the terminal.

use crate::fault::Fault;
use std::io::IsTerminal as _;
use std::path::Path;

/// The variable that holds a passphrase where nobody can be asked.
pub const VARIABLE: &str = "SELACHRON_PASSPHRASE";

/// The passphrase of the key at `path`.
///
/// # Errors
/// The variable is not set and there is no terminal to ask at.
pub fn of(path: &Path) -> Result<String, Fault> {
    match from_environment() {
        Some(passphrase) => Ok(passphrase),
        None => prompt(path, &format!("passphrase of {}: ", path.display())),
    }
}

/// A passphrase for a new key at `path`: said twice, for it cannot be read again.
///
/// # Errors
/// As [`of`]; it is empty, or the two differ.
pub fn for_new(path: &Path) -> Result<String, Fault> {
    let passphrase = match from_environment() {
        Some(passphrase) => passphrase,
        None => {
            let first = prompt(path, "passphrase for the new key: ")?;
            if prompt(path, "the same again: ")? != first {
                return Err(Fault::Usage("the two passphrases differ; no key was made".to_owned()));
            }
            first
        }
    };
    if passphrase.is_empty() {
        return Err(Fault::Usage("the passphrase is empty; no key was made".to_owned()));
    }
    Ok(passphrase)
}

fn from_environment() -> Option<String> {
    std::env::var(VARIABLE).ok()
}

fn prompt(path: &Path, words: &str) -> Result<String, Fault> {
    if !std::io::stdin().is_terminal() {
        let detail = format!("{} wants a passphrase and there is no terminal to ask at; set {VARIABLE}", path.display());
        return Err(Fault::Usage(detail));
    }
    rpassword::prompt_password(words).map_err(|error| Fault::Failed(format!("the passphrase cannot be read: {error}")))
}
