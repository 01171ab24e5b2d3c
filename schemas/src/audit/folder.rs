//! The files of a bundle as they were found, and the checks that need no replay: which files may
//! be there, and that each is what `log.vkey`, `schemas/` and `SHA256SUMS` say (F25).

use super::Scope;
use super::said::{About, Fault, Faults, Finding};
use super::spread::Spread;
use super::walk::Walked;
use crate::bundle::{
    ATTACHMENTS, CHECKPOINT, CHECKPOINTS, ENVELOPES, Files, LEAVES, LOG_VKEY, REPORT_ENDING, REPORTS, SCHEMAS, SUMS, sum_line, vkey_line,
};
use crate::catalogue;
use crate::encoding::{from_hex, hex};
use crate::merkle::{Hash, sha256};
use crate::note::{VerifierKey, plain_number};
use std::collections::BTreeMap;

/// One file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Content {
    /// Its bytes.
    Text(Vec<u8>),
    /// Only its SHA-256: all that is asked of attachments and reports.
    Hashed(Hash),
}

/// A bundle's files by their path, with `/` between its parts.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Folder {
    /// Ordinary files.
    pub files: BTreeMap<String, Content>,
    /// Paths of what is no ordinary file, such as a link.
    pub strange: Vec<String>,
}

impl From<Files> for Folder {
    fn from(files: Files) -> Self {
        let content = |path: &str, bytes: Vec<u8>| if only_hashed(path) { Content::Hashed(sha256(&bytes)) } else { Content::Text(bytes) };
        let files = files.into_iter().map(|(path, bytes)| (path.clone(), content(&path, bytes)));
        Self { files: files.collect(), strange: Vec::new() }
    }
}

/// Whether of this file only the hash is asked, so that a reader need not hold it in memory.
#[must_use]
pub fn only_hashed(path: &str) -> bool {
    attachment_hash(path).is_some() || report_hash(path).is_some()
}

fn attachment_hash(path: &str) -> Option<Hash> {
    from_hex(path.strip_prefix(ATTACHMENTS)?)
}

fn report_hash(path: &str) -> Option<Hash> {
    from_hex(path.strip_prefix(REPORTS)?.strip_suffix(REPORT_ENDING)?)
}

/// The size in the name of an older checkpoint's file.
pub(super) fn checkpoint_size(path: &str) -> Option<u64> {
    plain_number(path.strip_prefix(CHECKPOINTS)?)
}

/// Where two byte strings first differ; `None` when they are equal.
pub(super) fn first_difference(found: &[u8], right: &[u8]) -> Option<usize> {
    let same = found.iter().zip(right).take_while(|(a, b)| a == b).count();
    (same < found.len().max(right.len())).then_some(same)
}

impl Folder {
    /// The bytes of a text file; `None` where there is no such file.
    #[must_use]
    pub fn bytes(&self, path: &str) -> Option<&[u8]> {
        match self.files.get(path) {
            Some(Content::Text(bytes)) => Some(bytes),
            _ => None,
        }
    }

    /// A text file that must be UTF-8. That it is there is asked by the layout.
    pub(super) fn text(&self, path: &str, faults: &mut Faults) -> Option<&str> {
        match std::str::from_utf8(self.bytes(path)?) {
            Ok(text) => Some(text),
            Err(error) => {
                faults.add(Fault::in_file(path, error.valid_up_to(), "the file is not UTF-8"));
                None
            }
        }
    }

    /// Only the files of F25 are there, and those that must be are.
    pub(super) fn check_layout(&self, scope: Scope, faults: &mut Faults) {
        for path in &self.strange {
            faults.add(Fault::of_file(path, "a bundle holds ordinary files only; take this one out"));
        }
        for path in self.files.keys().filter(|path| !belongs(path)) {
            faults.add(Fault::of_file(path, "no bundle holds a file of this name; take it out"));
        }
        let mut needed: Vec<String> = [LOG_VKEY, CHECKPOINT, LEAVES, ENVELOPES, SUMS].map(str::to_owned).to_vec();
        if scope == Scope::Whole {
            needed.extend(catalogue::files().keys().map(|name| format!("{SCHEMAS}{name}")));
        }
        for path in needed.into_iter().filter(|path| !self.files.contains_key(path)) {
            faults.add(Fault::of_file(path, "the file is missing; every bundle holds it"));
        }
    }

    /// `log.vkey` is the newest key that the log itself names.
    pub(super) fn check_vkey(&self, log_keys: &[VerifierKey], faults: &mut Faults) {
        let (Some(found), Some(key)) = (self.bytes(LOG_VKEY), log_keys.last()) else { return };
        if let Some(byte) = first_difference(found, vkey_line(&key.to_string()).as_bytes()) {
            faults.add(Fault::in_file(LOG_VKEY, byte, format!("the file must hold the newest log key that the log names, {key}")));
        }
    }

    /// `schemas/` is the verifier's own, byte for byte.
    pub(super) fn check_schemas(&self, scope: Scope, faults: &mut Faults) {
        if scope == Scope::EncodingsOnly {
            return;
        }
        for (name, right) in catalogue::files() {
            let path = format!("{SCHEMAS}{name}");
            if let Some(byte) = self.bytes(&path).and_then(|found| first_difference(found, right)) {
                faults.add(Fault::in_file(path, byte, "the schema differs from this verifier's own"));
            }
        }
    }

    /// Attachments and reports are what their names say, and a note names each. What a note
    /// names need not be here: originals may be kept elsewhere.
    pub(super) fn check_evidence(&self, walked: &mut Walked, faults: &mut Faults) {
        for (path, content) in &self.files {
            let (name, named) = match (attachment_hash(path), report_hash(path)) {
                (Some(name), _) => (name, walked.attachments.contains_key(&name)),
                (_, Some(name)) => (name, walked.reports.contains_key(&name)),
                _ => continue,
            };
            if *content != Content::Hashed(name) {
                faults.add(Fault::of_file(path, "the file's SHA-256 is not the one that its name says"));
            }
            if walked.complete && !named {
                faults.add(Fault::of_file(path, "no note names this file; take it out"));
            }
        }
        let absent = |folder: &str, ending: &str, hash: &Hash| !self.files.contains_key(&format!("{folder}{}{ending}", hex(hash)));
        let attachments = walked.attachments.iter().filter(|(hash, _)| absent(ATTACHMENTS, "", hash));
        let reports = walked.reports.iter().filter(|(hash, _)| absent(REPORTS, REPORT_ENDING, hash));
        let says = |hash: &Hash| format!("it names a file with SHA-256 {} that is not in the bundle", hex(hash));
        let found = attachments.chain(reports).map(|(hash, seq)| Finding::of_note(About::EvidenceAbsent, *seq, says(hash)));
        walked.findings.extend(found.collect::<Vec<_>>());
    }

    /// `SHA256SUMS` names every other file with its hash, and nothing else.
    pub(super) fn check_sums(&self, spread: &impl Spread, faults: &mut Faults) {
        let Some(found) = self.bytes(SUMS) else { return };
        let others: Vec<_> = self.files.iter().filter(|(path, _)| path.as_str() != SUMS).collect();
        let lines = spread.map(others, |(path, content)| {
            let hash = match content {
                Content::Text(bytes) => sha256(bytes),
                Content::Hashed(hash) => *hash,
            };
            (path, sum_line(path, &hash))
        });
        let right: String = lines.iter().map(|(_, line)| line.as_str()).collect();
        let Some(byte) = first_difference(found, right.as_bytes()) else { return };
        let mut end = 0;
        let at = lines.iter().find(|(_, line)| {
            end += line.len();
            byte < end
        });
        let says = match at {
            Some((path, _)) => format!("the line for {path} is not that of the file as it is here"),
            None => "there are lines for files that are not here".to_owned(),
        };
        faults.add(Fault::in_file(SUMS, byte, says));
    }
}

/// Whether a bundle may hold a file of this name.
fn belongs(path: &str) -> bool {
    if let Some(name) = path.strip_prefix(SCHEMAS) {
        return catalogue::files().contains_key(name);
    }
    [LOG_VKEY, CHECKPOINT, LEAVES, ENVELOPES, SUMS].contains(&path) || checkpoint_size(path).is_some() || only_hashed(path)
}
