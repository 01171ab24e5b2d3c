//! What an audit says: faults, which break a bundle, and findings, which only ask for a look.

use crate::limits::AUDIT_FAULTS_MAX;
use serde::Serialize;
use std::fmt;

/// Something that is wrong with a bundle. It names the note, or the file and the byte (F26).
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Fault {
    /// The note at fault.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub seq: Option<u64>,
    /// The file at fault, by its path in the bundle.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub file: Option<String>,
    /// Where in the file, counted in bytes from 0.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub byte: Option<u64>,
    /// What is wrong, in one sentence.
    pub says: String,
}

impl Fault {
    /// A note that breaks a rule.
    pub fn of_note(seq: u64, says: impl Into<String>) -> Self {
        Self { seq: Some(seq), file: None, byte: None, says: says.into() }
    }

    /// A file whose content is not the right one, from `byte` on.
    pub fn in_file(file: impl Into<String>, byte: usize, says: impl Into<String>) -> Self {
        Self { seq: None, file: Some(file.into()), byte: Some(byte as u64), says: says.into() }
    }

    /// A file that should not be there, or is not.
    pub fn of_file(file: impl Into<String>, says: impl Into<String>) -> Self {
        Self { seq: None, file: Some(file.into()), byte: None, says: says.into() }
    }

    /// Something that the auditor kept and that does not agree with the bundle.
    pub fn of_bundle(says: impl Into<String>) -> Self {
        Self { seq: None, file: None, byte: None, says: says.into() }
    }

    /// The same fault, and the note that it touches.
    #[must_use]
    pub fn at_note(self, seq: u64) -> Self {
        Self { seq: Some(seq), ..self }
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let seq = self.seq.map(|seq| format!("seq {seq}"));
        let byte = self.byte.map(|byte| format!("byte {byte}"));
        let place: Vec<String> = [seq, self.file.clone(), byte].into_iter().flatten().collect();
        if place.is_empty() { f.write_str(&self.says) } else { write!(f, "{}: {}", place.join(", "), self.says) }
    }
}

/// Faults as they are found; beyond [`AUDIT_FAULTS_MAX`] they are only counted.
#[derive(Debug, Default)]
pub struct Faults {
    list: Vec<Fault>,
    left_out: u64,
}

impl Faults {
    /// Takes a fault.
    pub fn add(&mut self, fault: Fault) {
        if self.list.len() < AUDIT_FAULTS_MAX {
            self.list.push(fault);
        } else {
            self.left_out += 1;
        }
    }

    /// Whether no more are kept.
    #[must_use]
    pub fn full(&self) -> bool {
        self.list.len() >= AUDIT_FAULTS_MAX
    }

    /// The faults, those of notes first in seq order, and how many more there are.
    #[must_use]
    pub fn sorted(mut self) -> (Vec<Fault>, u64) {
        self.list.sort_by_key(|fault| fault.seq.unwrap_or(u64::MAX));
        (self.list, self.left_out)
    }
}

/// What a finding is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum About {
    /// A number that a key left out (F12).
    CountMissing,
    /// Two notes of one key with one number (F12).
    CountTwice,
    /// A device's clock ran ahead of the log's (F16).
    DeviceClock,
    /// A registrar vouches for the note of a key not in force, or of one that waited long (F11).
    VouchedFor,
    /// A note that tells what has happened lacks the second signature its kind wants (F19).
    ApprovalMissing,
    /// The author's key is suspected from before the note was recorded (F11).
    KeySuspected,
    /// The body is withheld (F23).
    Withheld,
    /// A question that only a withheld body could answer.
    CannotTell,
    /// A file that a note names is not in the bundle.
    EvidenceAbsent,
    /// A report was issued over a root that is not this log's.
    ReportRoot,
}

/// Something that an auditor may want to ask about. It is no fault of the bundle.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Finding {
    /// What it is about.
    pub about: About,
    /// The note that it touches.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub seq: Option<u64>,
    /// What was found, in one sentence.
    pub says: String,
}

impl Finding {
    /// A finding about one note.
    pub fn of_note(about: About, seq: u64, says: impl Into<String>) -> Self {
        Self { about, seq: Some(seq), says: says.into() }
    }
}

impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.seq {
            Some(seq) => write!(f, "seq {seq}: {}", self.says),
            None => f.write_str(&self.says),
        }
    }
}
