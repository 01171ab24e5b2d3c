//! A bundle: the whole record as a folder of text that an auditor can carry away (F25). Here is
//! the one right content of every file; the service writes with it, the verifier compares with it.

use crate::catalogue;
use crate::encoding::{base64, from_hex, hex};
use crate::envelope::Envelope;
use crate::merkle::{Hash, sha256};
use crate::receipt::Leaf;
use serde_json::{Map, Value};
use std::collections::BTreeMap;

/// The newest log key, one line.
pub const LOG_VKEY: &str = "log.vkey";
/// The signed checkpoint that the bundle reaches.
pub const CHECKPOINT: &str = "checkpoint";
/// Folder of older checkpoints, each named by its size.
pub const CHECKPOINTS: &str = "checkpoints/";
/// Leaf texts in order, each followed by one empty line.
pub const LEAVES: &str = "leaves";
/// Envelopes in their written form, one a line, in seq order.
pub const ENVELOPES: &str = "envelopes.ndjson";
/// Folder of the kinds' schemas.
pub const SCHEMAS: &str = "schemas/";
/// Folder of files named in the log by their SHA-256.
pub const ATTACHMENTS: &str = "attachments/";
/// Folder of issued reports, named in the log by their SHA-256.
pub const REPORTS: &str = "reports/";
/// What the name of a report ends with.
pub const REPORT_ENDING: &str = ".json";
/// SHA-256 of every other file.
pub const SUMS: &str = "SHA256SUMS";

/// What a file is to the note that names it by its SHA-256.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Evidence {
    /// A photo, a paper: any member whose name ends with `_sha256`.
    Attachment,
    /// The JSON of a report that `report.issued` stands for.
    Report,
}

impl Evidence {
    /// Where the file stands in a bundle.
    #[must_use]
    pub fn path(self, hash: &Hash) -> String {
        match self {
            Self::Attachment => format!("{ATTACHMENTS}{}", hex(hash)),
            Self::Report => format!("{REPORTS}{}{REPORT_ENDING}", hex(hash)),
        }
    }
}

/// The files that a note of this kind with this `data` names by their SHA-256.
#[must_use]
pub fn evidence_in(kind: &str, data: &Map<String, Value>) -> Vec<(Evidence, Hash)> {
    let mut named = Vec::new();
    let issued = data.get("sha256").filter(|_| kind == "report.issued.v1");
    named.extend(issued.and_then(Value::as_str).and_then(from_hex::<32>).map(|hash| (Evidence::Report, hash)));
    name_attachments(data, &mut named);
    named
}

fn name_attachments(data: &Map<String, Value>, named: &mut Vec<(Evidence, Hash)>) {
    for (name, value) in data {
        match value {
            Value::String(text) if name.ends_with("_sha256") => named.extend(from_hex::<32>(text).map(|hash| (Evidence::Attachment, hash))),
            Value::Object(inner) => name_attachments(inner, named),
            Value::Array(items) => items.iter().filter_map(Value::as_object).for_each(|inner| name_attachments(inner, named)),
            _ => {}
        }
    }
}

/// Files by their path in the folder, with `/` between its parts.
pub type Files = BTreeMap<String, Vec<u8>>;

/// Collects a bundle note by note, in seq order.
#[derive(Debug, Clone, Default)]
pub struct Writer {
    files: Files,
    leaves: String,
    envelopes: String,
}

impl Writer {
    /// Takes the next note; `body` is `None` where it has been withheld (F23).
    pub fn note(&mut self, leaf: &Leaf, body: Option<&[u8]>) {
        self.leaves.push_str(&leaf_entry(leaf));
        self.envelopes.push_str(&envelope_line(leaf, body));
    }

    /// Takes an older checkpoint, a signed note over `size` leaves.
    pub fn older_checkpoint(&mut self, size: u64, note: &str) {
        self.files.insert(format!("{CHECKPOINTS}{size}"), note.as_bytes().to_vec());
    }

    /// Takes a file that a note names by its SHA-256.
    pub fn attachment(&mut self, content: Vec<u8>) {
        self.files.insert(Evidence::Attachment.path(&sha256(&content)), content);
    }

    /// Takes the JSON of a report that a note names by its SHA-256.
    pub fn report(&mut self, content: Vec<u8>) {
        self.files.insert(Evidence::Report.path(&sha256(&content)), content);
    }

    /// All files, `SHA256SUMS` included. `log_vkey` is the newest log key in its text form,
    /// `checkpoint` the signed note over exactly the notes taken.
    #[must_use]
    pub fn finish(mut self, log_vkey: &str, checkpoint: &str) -> Files {
        self.files.insert(LOG_VKEY.to_owned(), vkey_line(log_vkey).into_bytes());
        self.files.insert(CHECKPOINT.to_owned(), checkpoint.as_bytes().to_vec());
        self.files.insert(LEAVES.to_owned(), self.leaves.into_bytes());
        self.files.insert(ENVELOPES.to_owned(), self.envelopes.into_bytes());
        for (name, content) in catalogue::files() {
            self.files.insert(format!("{SCHEMAS}{name}"), content.to_vec());
        }
        let sums = sums(&self.files);
        self.files.insert(SUMS.to_owned(), sums.into_bytes());
        self.files
    }
}

/// The files of a bundle without attachments and reports; `older` holds older checkpoints by
/// their size, `notes` every leaf in seq order with its body, `None` where it is withheld.
#[must_use]
pub fn write(
    log_vkey: &str,
    checkpoint: &str,
    older: &BTreeMap<u64, String>,
    notes: impl IntoIterator<Item = (Leaf, Option<Vec<u8>>)>,
) -> Files {
    let mut writer = Writer::default();
    for (leaf, body) in notes {
        writer.note(&leaf, body.as_deref());
    }
    for (size, note) in older {
        writer.older_checkpoint(*size, note);
    }
    writer.finish(log_vkey, checkpoint)
}

/// The one line of `log.vkey`.
#[must_use]
pub fn vkey_line(log_vkey: &str) -> String {
    format!("{log_vkey}\n")
}

/// A leaf as it stands in `leaves`: its text and one empty line.
#[must_use]
pub fn leaf_entry(leaf: &Leaf) -> String {
    let mut entry = leaf.text();
    entry.push('\n');
    entry
}

/// A note's line in `envelopes.ndjson`: its written form (F7), or the hash of a withheld body.
#[must_use]
pub fn envelope_line(leaf: &Leaf, body: Option<&[u8]>) -> String {
    let mut line = match body {
        Some(body) => Envelope::written(body, &leaf.signatures),
        None => withheld_form(&leaf.body_sha256),
    };
    line.push('\n');
    line
}

/// What stands in place of a withheld body.
#[must_use]
pub fn withheld_form(body_sha256: &Hash) -> String {
    format!("{{\"withheld\":\"{}\"}}", base64(body_sha256))
}

/// `SHA256SUMS` over `files`, itself left out: sorted by the bytes of the paths.
#[must_use]
pub fn sums(files: &Files) -> String {
    let others = files.iter().filter(|(path, _)| path.as_str() != SUMS);
    others.map(|(path, content)| sum_line(path, &sha256(content))).collect()
}

/// One line of `SHA256SUMS`.
#[must_use]
pub fn sum_line(path: &str, hash: &Hash) -> String {
    format!("{}  {path}\n", hex(hash))
}
