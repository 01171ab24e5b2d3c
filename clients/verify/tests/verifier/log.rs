//! A small log made here: an invented season under keys that anybody can make again. Nothing in
//! it is real. It keeps the rules unless a test tells it not to ask them.

use ed25519_dalek::SigningKey;
use selachron_schemas::audit::folder::Folder;
use selachron_schemas::audit::trust::{Kept, Trust};
use selachron_schemas::audit::{Audit, Scope};
use selachron_schemas::bundle::{Files, SUMS, Writer, sums};
use selachron_schemas::encoding::{base64, base64url};
use selachron_schemas::envelope::Envelope;
use selachron_schemas::event::Event;
use selachron_schemas::merkle::{Tree, sha256};
use selachron_schemas::names::KeyId;
use selachron_schemas::note::{Checkpoint, SignedCheckpoint, VerifierKey};
use selachron_schemas::receipt::{Leaf, Receipt};
use selachron_schemas::replay::Replay;
use selachron_schemas::replay::judge::Judged;
use selachron_schemas::signing::{Verified, sign};
use selachron_schemas::time::{DAY_MS, Instant, MINUTE_MS};
use serde_json::{Map, Value, json};
use std::collections::{BTreeMap, BTreeSet};

/// The invented log's origin.
pub const ORIGIN: &str = "records.example.org/nursery";

/// People and machines, each with one key.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Who {
    RootA,
    RootB,
    Registrar,
    Curator,
    Keeper,
    Second,
    Vet,
    Log,
    Newcomer,
    Witness,
}

/// A note before it is written.
#[derive(Clone)]
pub struct Draft {
    pub kind: &'static str,
    pub subject: String,
    pub data: Value,
    pub author: Who,
    pub others: Vec<Who>,
    /// Attributes laid over the usual ones; null takes one away.
    pub over: Value,
}

/// A note by one author.
pub fn note(author: Who, kind: &'static str, subject: &str, data: Value) -> Draft {
    Draft { kind, subject: subject.to_owned(), data, author, others: Vec::new(), over: json!({}) }
}

impl Draft {
    pub fn with(mut self, others: &[Who]) -> Self {
        self.others = others.to_vec();
        self
    }

    pub fn over(mut self, over: Value) -> Self {
        self.over = over;
        self
    }
}

/// A ULID out of a word of four letters and a number.
pub fn ulid(word: &str, number: u64) -> String {
    format!("01JDH3G6C0{word}{number:012}")
}

/// A log that grows note by note.
#[derive(Clone)]
pub struct Log {
    seed: u8,
    replay: Replay,
    pub notes: Vec<(Leaf, Option<Vec<u8>>)>,
    pub events: Vec<Value>,
    pub checkpoints: BTreeMap<u64, String>,
    pub attachments: Vec<Vec<u8>>,
    pub reports: Vec<Vec<u8>>,
    counts: BTreeMap<Who, u64>,
    pub now: Instant,
    /// What the log's devices last saw.
    pub seen: Option<u64>,
}

impl Log {
    /// An empty log whose keys come from `seed`.
    pub fn new(seed: u8) -> Self {
        Self {
            seed,
            replay: Replay::new(true),
            notes: Vec::new(),
            events: Vec::new(),
            checkpoints: BTreeMap::new(),
            attachments: Vec::new(),
            reports: Vec::new(),
            counts: BTreeMap::new(),
            now: Instant::parse("2026-03-01T00:00:00Z").unwrap(),
            seen: None,
        }
    }

    pub fn key(&self, who: Who) -> SigningKey {
        let mut secret = [self.seed; 32];
        secret[0] = who as u8 + 1;
        SigningKey::from_bytes(&secret)
    }

    pub fn keyid(&self, who: Who) -> KeyId {
        KeyId::of(self.key(who).verifying_key().as_bytes())
    }

    pub fn vkey(&self) -> VerifierKey {
        VerifierKey::new(ORIGIN, self.key(Who::Log).verifying_key())
    }

    pub fn public(&self, who: Who) -> String {
        base64(self.key(who).verifying_key().as_bytes())
    }

    pub fn size(&self) -> u64 {
        self.notes.len() as u64
    }

    pub fn id_of(&self, seq: u64) -> String {
        self.events[usize::try_from(seq).unwrap()]["id"].as_str().unwrap().to_owned()
    }

    /// The next note of `draft`'s author, as bytes, at this moment.
    pub fn body(&mut self, draft: &Draft) -> Vec<u8> {
        let number = self.size() + 1;
        let count = self.counts.entry(draft.author).or_insert(0);
        *count += 1;
        let count = *count;
        let mut nonce = [self.seed; 16];
        nonce[..8].copy_from_slice(&number.to_be_bytes());
        let mut event = json!({
            "specversion": "1.0", "id": ulid("TEST", number), "source": format!("https://{ORIGIN}"), "type": draft.kind,
            "subject": draft.subject, "time": self.now.utc_text(), "keyid": self.keyid(draft.author).to_string(), "keycount": count,
            "nonce": base64url(&nonce), "signedtime": self.now.utc_text(),
        });
        if let Some(note) = self.seen.and_then(|size| self.checkpoints.get(&size)) {
            let read = SignedCheckpoint::parse(note).unwrap();
            event["seensize"] = json!(read.checkpoint.size);
            event["seenroot"] = json!(base64(&read.checkpoint.root));
            event["seensig"] = json!(base64(&read.signature_of(&self.vkey()).unwrap()));
        }
        event["data"] = draft.data.clone();
        lay_over(event.as_object_mut().unwrap(), &draft.over);
        serde_json::to_vec(&event).unwrap()
    }

    /// The envelope of a draft, signed by its author and the others.
    pub fn envelope(&mut self, draft: &Draft) -> String {
        let body = self.body(draft);
        let signers = [draft.author].into_iter().chain(draft.others.iter().copied());
        let signatures: Vec<_> = signers.map(|who| (self.keyid(who), sign(&self.key(who), &body))).collect();
        Envelope::written(&body, &signatures)
    }

    /// Records a note that must be permitted, in a commit of its own, and publishes.
    pub fn record(&mut self, draft: Draft) -> u64 {
        let seq = self.commit(draft);
        self.publish();
        seq
    }

    /// Records a note that must be permitted. The clock goes on by a minute before it.
    pub fn commit(&mut self, draft: Draft) -> u64 {
        self.now = self.now.plus_ms(MINUTE_MS);
        self.join(draft)
    }

    /// As [`Log::commit`], at the same moment as the note before.
    pub fn join(&mut self, draft: Draft) -> u64 {
        let envelope = self.envelope(&draft);
        let note = self.replay.gate().open(envelope.as_bytes()).unwrap_or_else(|stopped| panic!("{}: {}", draft.kind, stopped.refusal));
        match self.replay.judge(&note, self.now) {
            Ok(Judged::New { .. }) => self.take(&note),
            other => panic!("{}: {other:?}", draft.kind),
        }
    }

    /// Records a note without asking any rule: what a dishonest log could do.
    pub fn slip_in(&mut self, draft: Draft) -> u64 {
        self.now = self.now.plus_ms(MINUTE_MS);
        let envelope = Envelope::read(self.envelope(&draft).as_bytes()).unwrap();
        let event = Event::parse(&envelope.body);
        let signed = envelope.signatures.iter().map(|(hint, signature)| (KeyId::parse(hint.as_ref().unwrap()).unwrap(), *signature));
        let leaf = Leaf {
            seq: self.size(),
            recorded_at: self.now,
            subject_version: event.as_ref().map_or(1, |event| self.replay.next_version(&event.subject)),
            body_sha256: sha256(&envelope.body),
            signatures: signed.collect(),
        };
        if let Ok(event) = &event {
            self.replay.apply(event, &leaf);
        }
        self.events.push(serde_json::from_slice(&envelope.body).unwrap());
        self.notes.push((leaf, Some(envelope.body)));
        self.publish();
        self.size() - 1
    }

    fn take(&mut self, note: &Verified) -> u64 {
        let leaf = Leaf {
            seq: self.size(),
            recorded_at: self.now,
            subject_version: self.replay.next_version(&note.event().subject),
            body_sha256: *note.body_sha256(),
            signatures: note.signatures().to_vec(),
        };
        self.replay.apply(note.event(), &leaf);
        self.events.push(serde_json::from_slice(note.body()).unwrap());
        self.notes.push((leaf, Some(note.body().to_vec())));
        self.size() - 1
    }

    /// Signs a checkpoint over what is there.
    pub fn publish(&mut self) {
        let note = self.checkpoint().sign(&[&self.key(Who::Log)]);
        self.checkpoints.insert(self.size(), note);
    }

    /// What stands here, whatever the rules say.
    pub fn checkpoint(&self) -> Checkpoint {
        let tree = self.tree();
        Checkpoint { origin: ORIGIN.to_owned(), size: tree.size(), root: tree.root(tree.size()).unwrap() }
    }

    pub fn tree(&self) -> Tree {
        let mut tree = Tree::default();
        self.notes.iter().for_each(|(leaf, _)| tree.push(leaf.hash()));
        tree
    }

    /// A receipt for `seq` under the newest checkpoint.
    pub fn receipt(&self, seq: u64) -> String {
        let proof = self.tree().inclusion(seq, self.size()).unwrap();
        Receipt::write(&self.notes[usize::try_from(seq).unwrap()].0, &proof, &self.checkpoints[&self.size()])
    }

    /// Days pass.
    pub fn wait_days(&mut self, days: i64) {
        self.now = self.now.plus_ms(days * DAY_MS);
    }

    /// Takes a body away, as a log does that records a withholding.
    pub fn hide(&mut self, seq: u64) {
        self.notes[usize::try_from(seq).unwrap()].1 = None;
    }

    /// The facts that a withholding of `seq` repeats.
    pub fn facts_of(&self, seq: u64) -> Value {
        let event = &self.events[usize::try_from(seq).unwrap()];
        json!({
            "seq": seq, "id": event["id"], "kind": event["type"], "subject": event["subject"], "time": event["time"],
            "keyid": event["keyid"], "keycount": event["keycount"], "reason": "a person asked", "authority": "the law of the land",
        })
    }

    /// The bundle, with a fresh checkpoint over all that is there and every third older one.
    pub fn files(&self) -> Files {
        let newest = self.checkpoint().sign(&[&self.key(Who::Log)]);
        self.files_with(&newest)
    }

    pub fn files_with(&self, newest: &str) -> Files {
        let mut writer = Writer::default();
        self.notes.iter().for_each(|(leaf, body)| writer.note(leaf, body.as_deref()));
        let older = self.checkpoints.iter().filter(|(size, _)| **size < self.size() && size.is_multiple_of(20));
        older.for_each(|(size, note)| writer.older_checkpoint(*size, note));
        self.attachments.iter().for_each(|file| writer.attachment(file.clone()));
        self.reports.iter().for_each(|file| writer.report(file.clone()));
        writer.finish(&self.vkey().to_string(), newest)
    }

    /// The log as it was after so many notes, published anew by whoever holds the log key.
    pub fn cut_to(&self, size: u64) -> Self {
        let mut cut = self.clone();
        cut.notes.truncate(usize::try_from(size).unwrap());
        cut.checkpoints.retain(|at, _| *at <= size);
        cut.publish();
        cut
    }
}

fn lay_over(event: &mut Map<String, Value>, over: &Value) {
    for (name, value) in over.as_object().unwrap() {
        if value.is_null() {
            event.remove(name);
        } else {
            event.insert(name.clone(), value.clone());
        }
    }
}

/// Makes `SHA256SUMS` right again, as anybody can who changes a file.
pub fn mend_sums(files: &mut Files) {
    let right = sums(files);
    files.insert(SUMS.to_owned(), right.into_bytes());
}

pub fn check(files: &Files, trust: &Trust) -> Audit {
    selachron_verify::files(&Folder::from(files.clone()), trust, Scope::Whole)
}

pub fn by_key(log: &Log) -> Trust {
    Trust { log_key: Some(log.vkey()), ..Trust::default() }
}

pub fn by_seen(texts: &[&str]) -> Trust {
    let seen = texts.iter().map(|text| Kept::parse("kept", text).unwrap()).collect();
    Trust { seen, ..Trust::default() }
}

/// Fails unless some fault touches `seq` and says `words`.
#[track_caller]
pub fn assert_fault(audit: &Audit, seq: u64, words: &str) {
    let found = audit.faults.iter().any(|fault| fault.seq == Some(seq) && fault.says.contains(words));
    assert!(found, "no fault at seq {seq} that says {words:?} among {:#?}", told(audit));
}

/// Fails unless some fault says `words`.
#[track_caller]
pub fn assert_says(audit: &Audit, words: &str) {
    assert!(audit.faults.iter().any(|fault| fault.to_string().contains(words)), "{words:?} is not among {:#?}", told(audit));
}

#[track_caller]
pub fn assert_sound(audit: &Audit) {
    assert!(audit.faults.is_empty() && audit.ties.any(), "{:#?}", told(audit));
}

/// Faults as people read them.
pub fn told(audit: &Audit) -> Vec<String> {
    audit.faults.iter().map(ToString::to_string).collect()
}

/// Kinds of finding that an audit made, by their word.
pub fn about(audit: &Audit) -> BTreeSet<String> {
    let word = |finding: &selachron_schemas::audit::said::Finding| json!(finding.about).as_str().unwrap().to_owned();
    audit.findings.iter().map(word).collect()
}
