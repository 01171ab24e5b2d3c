//! What the log vouched for: `checkpoint` and the older ones, each over a root of this very tree
//! and signed by keys that may sign here, and by no others (F14, F16, F25).

use super::folder::{Folder, checkpoint_size};
use super::said::{Fault, Faults};
use super::trust::Trust;
use super::walk::Walked;
use crate::bundle::{CHECKPOINT, CHECKPOINTS};
use crate::encoding::base64;
use crate::note::{NoteSignature, SignedCheckpoint, VerifierKey};

/// The bundle's checkpoints, as far as they could be read.
#[derive(Default)]
pub(super) struct Checkpoints {
    /// That over all notes.
    pub newest: Option<SignedCheckpoint>,
    /// Older ones.
    pub older: Vec<SignedCheckpoint>,
}

/// Checks every checkpoint file.
pub(super) fn check(folder: &Folder, walked: &Walked, trust: &Trust, faults: &mut Faults) -> Checkpoints {
    let newest = read(folder, CHECKPOINT, faults);
    if let Some(note) = &newest {
        check_size(note, walked, faults);
        check_note(CHECKPOINT, note, walked, trust, faults);
    }
    let mut older = Vec::new();
    for path in folder.files.keys().filter(|path| path.starts_with(CHECKPOINTS)) {
        let Some(size) = checkpoint_size(path) else { continue };
        let Some(note) = read(folder, path, faults) else { continue };
        if note.checkpoint.size != size || size >= walked.size {
            let says = format!("the file must hold an older checkpoint of size {size}; it holds one of size {}", note.checkpoint.size);
            faults.add(Fault::in_file(path, note.checkpoint.origin.len() + 1, says));
        }
        check_note(path, &note, walked, trust, faults);
        older.push(note);
    }
    Checkpoints { newest, older }
}

fn read(folder: &Folder, path: &str, faults: &mut Faults) -> Option<SignedCheckpoint> {
    let text = folder.text(path, faults)?;
    match SignedCheckpoint::parse(text) {
        Ok(note) if note.to_note() == text => Some(note),
        Ok(_) => {
            faults.add(Fault::in_file(path, 0, "the checkpoint is not in its one form"));
            None
        }
        Err(reason) => {
            faults.add(Fault::in_file(path, 0, format!("this is no checkpoint: {reason}")));
            None
        }
    }
}

fn check_size(note: &SignedCheckpoint, walked: &Walked, faults: &mut Faults) {
    let size = note.checkpoint.size;
    if size != walked.size {
        let says = format!("the checkpoint covers {size} notes; the bundle holds {}", walked.size);
        faults.add(Fault::in_file(CHECKPOINT, note.checkpoint.origin.len() + 1, says));
    }
}

/// Every key that the checkpoint's size asks for has signed it: the newest log key, and during an
/// overlap the one before (F14).
fn check_signers(path: &str, note: &SignedCheckpoint, walked: &Walked, faults: &mut Faults) {
    for (index, key) in walked.replay.log_keys().at(note.checkpoint.size).into_iter().enumerate() {
        if !note.signed_by(key) {
            let which = if index == 0 { "log key in force at this size" } else { "former log key, which overlaps at this size" };
            faults.add(Fault::in_file(path, note.checkpoint.text().len() + 1, format!("no line by the {which}, {key}")));
        }
    }
}

/// Origin, root and lines of one checkpoint.
fn check_note(path: &str, note: &SignedCheckpoint, walked: &Walked, trust: &Trust, faults: &mut Faults) {
    let checkpoint = &note.checkpoint;
    if let Some(founding) = walked.replay.founding()
        && founding.origin != checkpoint.origin
    {
        faults.add(Fault::in_file(path, 0, format!("the checkpoint is of {:?}; this log is {:?}", checkpoint.origin, founding.origin)));
    }
    if let Some(root) = walked.replay.tree().root(checkpoint.size).filter(|_| walked.complete)
        && root != checkpoint.root
    {
        let says = format!(
            "the root over the {} notes of this bundle is {}, the checkpoint signs another: a leaf was changed, added or taken away",
            checkpoint.size,
            base64(&root)
        );
        faults.add(Fault::in_file(path, checkpoint.text().len() - base64(&root).len() - 1, says));
    }
    check_boundary(path, checkpoint.size, walked, faults);
    check_signers(path, note, walked, faults);
    check_lines(path, note, walked, trust, faults);
}

/// A checkpoint ends a commit, and each commit is later than the one before (F16).
fn check_boundary(path: &str, size: u64, walked: &Walked, faults: &mut Faults) {
    if !walked.later_across(size) {
        let says = format!(
            "a checkpoint over {size} notes ends a commit, so the note at seq {size} must have been recorded later than the one before"
        );
        faults.add(Fault::of_file(path, says).at_note(size));
    }
}

/// Every line is by a log key that the log names, or by a witness that its policies or the
/// auditor's name; no key has two.
fn check_lines(path: &str, note: &SignedCheckpoint, walked: &Walked, trust: &Trust, faults: &mut Faults) {
    let text = note.checkpoint.text();
    let mut at = text.len() + 1;
    let log_keys = walked.replay.log_keys().at(note.checkpoint.size);
    for (index, line) in note.signatures.iter().enumerate() {
        let is_by = |key: &&VerifierKey| key.name() == line.name && key.hash() == line.hash && key.verifies(&text, &line.signature);
        let log = log_keys.iter().any(is_by);
        let witness = walked.witnesses.iter().chain(trust.witnesses()).any(|key| is_by(&key));
        if !log && !witness {
            faults.add(Fault::in_file(path, at, format!("a line of {:?} that is of no key which may sign here", line.name)));
        }
        if note.signatures[..index].iter().any(|earlier| same_key(earlier, line)) {
            faults.add(Fault::in_file(path, at, format!("a second line by one key of {:?}", line.name)));
        }
        at += line_length(line);
    }
}

fn same_key(one: &NoteSignature, other: &NoteSignature) -> bool {
    one.name == other.name && one.hash == other.hash
}

/// Bytes of a signature line: em dash, space, name, space, base64, line feed.
fn line_length(line: &NoteSignature) -> usize {
    let raw = line.hash.len() + line.signature.len();
    "\u{2014} ".len() + line.name.len() + 1 + raw.div_ceil(3) * 4 + 1
}
