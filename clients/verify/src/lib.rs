//! The auditor's verifier: checks a bundle off line, with no service, no network and no trust in
//! whoever handed it over. All rules are those of `selachron_schemas::audit`; here are only the
//! folder, the threads and the words. Read in this order:
//! * [`folder`]: reads a bundle from disk;
//! * [`threads`]: spreads the signatures over the processors;
//! * [`arguments`]: what the program is asked;
//! * [`words`]: what it answers.
//!
//! # What it shows
//!
//! Every note is as it was signed, in the order it came, and none has been taken away since the
//! checkpoint; it does not show that a note is true, nor that everything that happened was noted.
//!
//! # What cannot be found without something kept outside
//!
//! A bundle cannot vouch for itself. Whoever holds the log's key can
//! * **leave out the newest notes** and sign a checkpoint over the rest: such a bundle is faultless.
//!   A checkpoint or receipt kept from earlier (`--seen`) finds it, if it is at least as new as the
//!   first note left out;
//! * **show two auditors two histories**, each faultless. They find it by exchanging checkpoints,
//!   or by wanting the lines of witnesses (`--policy`), who sign one history only.
//!
//! Whoever holds no key at all can
//! * **make up a whole log**, with keys of their own, down to the founding: it is consistent with
//!   itself. The log key got by another way (`--log-key`), a policy, or anything kept finds it. That
//!   is why a bundle to which nothing is held is never called sound, and `--self-consistent` must be
//!   said before the program calls that a success.
//!
//! Some things nothing can find: a note that was never written; a note that is not true; a time
//! that the observer got wrong; keys used by others before somebody noticed. And of a withheld
//! body (F23) nothing is known but its hash, its signers' key ids and what the note says that
//! withholds it: its signatures cannot be verified, for what they sign is gone. Whoever keeps such
//! a body can still show that it is the one, by its hash.

pub mod folder;

pub mod threads;

pub mod arguments;

pub mod words;

use folder::Unreadable;
use selachron_schemas::audit::folder::Folder;
use selachron_schemas::audit::trust::Trust;
use selachron_schemas::audit::{Audit, Scope, audit};
use std::path::Path;
use threads::Threads;

/// Checks the bundle in a folder.
///
/// # Errors
/// The folder cannot be read; what is wrong *in* it stands in the answer's faults.
pub fn bundle(path: &Path, trust: &Trust) -> Result<Audit, Unreadable> {
    bundle_of_scope(path, trust, Scope::Whole)
}

/// As [`bundle`]; [`Scope::EncodingsOnly`] is for check vectors.
///
/// # Errors
/// As [`bundle`].
pub fn bundle_of_scope(path: &Path, trust: &Trust, scope: Scope) -> Result<Audit, Unreadable> {
    let folder = folder::read(path)?;
    Ok(files(&folder, trust, scope))
}

/// Checks a bundle that is in memory already.
#[must_use]
pub fn files(folder: &Folder, trust: &Trust, scope: Scope) -> Audit {
    audit(folder, trust, scope, &Threads::of_this_machine())
}
