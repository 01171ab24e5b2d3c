//! The season against the log's own rules, without service or network: keys from the seed, the
//! same judge as in journal and verifier, and nothing written to disk. Tests play whole seasons
//! or their beginnings with it.

use crate::facts::{Facts, Report, Unknown, Written, report_query};
use crate::season::calendar::{REPORT_YEAR, text};
use crate::season::chance::Chance;
use crate::season::note::{Handle, Known, Planned, Step};
use crate::season::people::{EVERYBODY, Signer};
use crate::season::{Season, house};
use ed25519_dalek::SigningKey;
use selachron_schemas::bundle::{Files, Writer};
use selachron_schemas::encoding::{base64, base64url, hex};
use selachron_schemas::envelope::Envelope;
use selachron_schemas::merkle::{Hash, sha256};
use selachron_schemas::names::KeyId;
use selachron_schemas::note::{Checkpoint, VerifierKey};
use selachron_schemas::receipt::Leaf;
use selachron_schemas::refusal::Refusal;
use selachron_schemas::replay::Replay;
use selachron_schemas::replay::judge::Judged;
use selachron_schemas::signing::{Verified, sign};
use selachron_schemas::time::Instant;
use serde_json::{Map, Value, json};
use std::collections::{BTreeMap, HashMap};

/// Why a rehearsal stopped.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Fault {
    /// The log's rules refuse a note.
    #[error("{kind} by {author} at {time}: {refusal}")]
    Refused {
        /// The note's kind.
        kind: &'static str,
        /// Its author.
        author: &'static str,
        /// When it happened.
        time: String,
        /// Why.
        refusal: Box<Refusal>,
    },
    /// The season asks for something too early.
    #[error(transparent)]
    Unknown(#[from] Unknown),
    /// A note was sent without having been written, or was recorded already.
    #[error("note {0} cannot be sent")]
    Unsendable(usize),
}

/// A note that the rehearsal recorded.
#[derive(Debug, Clone, PartialEq)]
pub struct Recorded {
    /// The note.
    pub verified: Verified,
    /// Its leaf.
    pub leaf: Leaf,
}

/// A season under rehearsal.
pub struct Rehearsal<'a> {
    season: &'a Season,
    keys: BTreeMap<Signer, SigningKey>,
    log_key: SigningKey,
    facts: Facts,
    counts: BTreeMap<Signer, u32>,
    chance: Chance,
    next: usize,
    envelopes: HashMap<Handle, String>,
    /// The log's own rules, as they stand.
    pub replay: Replay,
    /// Everything recorded so far, in seq order.
    pub log: Vec<Recorded>,
}

impl<'a> Rehearsal<'a> {
    /// Makes keys from the season's seed. Keys that anybody can make again protect nothing: this
    /// is for rehearsing only.
    #[must_use]
    pub fn new(season: &'a Season) -> Self {
        let keys: BTreeMap<Signer, SigningKey> =
            EVERYBODY.into_iter().map(|signer| (signer, key(season.seed, &signer.key_name()))).collect();
        let log_key = key(season.seed, "log");
        let public = keys.iter().map(|(signer, key)| (*signer, key.verifying_key().to_bytes())).collect();
        let vkey = VerifierKey::new(house::ORIGIN, log_key.verifying_key()).to_string();
        let facts = Facts::new(season, public, vkey);
        let chance = Chance::new(season.seed, "rehearsal");
        let (counts, envelopes) = (BTreeMap::new(), HashMap::new());
        Self { season, keys, log_key, facts, counts, chance, next: 0, envelopes, replay: Replay::new(true), log: Vec::new() }
    }

    /// Plays all steps.
    ///
    /// # Errors
    /// The first note that the log's rules refuse.
    pub fn play(&mut self) -> Result<(), Fault> {
        self.play_first(self.season.steps.len())
    }

    /// Plays the first so many steps.
    ///
    /// # Errors
    /// As [`Self::play`].
    pub fn play_first(&mut self, steps: usize) -> Result<(), Fault> {
        self.season.steps.iter().take(steps).try_for_each(|step| self.step(step))
    }

    /// The log's checkpoint as it stands, signed.
    #[must_use]
    pub fn checkpoint(&self) -> String {
        let tree = self.replay.tree();
        let root = tree.root(self.replay.size()).unwrap_or_default();
        Checkpoint { origin: house::ORIGIN.to_owned(), size: self.replay.size(), root }.sign(&[&self.log_key])
    }

    /// The log as a bundle (F25).
    #[must_use]
    pub fn bundle(&self) -> Files {
        let mut writer = Writer::default();
        for recorded in &self.log {
            writer.note(&recorded.leaf, Some(recorded.verified.body()));
        }
        writer.finish(&self.log_vkey().to_string(), &self.checkpoint())
    }

    /// The log's verifier key.
    #[must_use]
    pub fn log_vkey(&self) -> VerifierKey {
        VerifierKey::new(house::ORIGIN, self.log_key.verifying_key())
    }

    fn step(&mut self, step: &Step) -> Result<(), Fault> {
        while let Some(note) = self.season.notes.get(self.next).filter(|note| note.signed_at <= step.clock) {
            self.next += 1;
            self.write(note)?;
        }
        step.sends.iter().try_for_each(|handle| self.record(*handle, step.clock))
    }

    fn write(&mut self, note: &Planned) -> Result<(), Fault> {
        if note.gaps.iter().any(|(_, known)| matches!(known, Known::Report(_))) {
            self.facts.report = Some(self.invented_report());
        }
        let count = self.counts.entry(note.author).or_insert(0);
        *count += 1;
        let keycount = *count;
        let id = self.chance.ulid(note.signed_at);
        let body = self.body(note, &id, keycount)?;
        let signers = std::iter::once(&note.author).chain(&note.approvals);
        let signatures: Vec<_> = signers.map(|signer| &self.keys[signer]).map(|key| (key_id(key), sign(key, &body))).collect();
        self.envelopes.insert(note.handle, Envelope::written(&body, &signatures));
        self.facts.written.insert(note.handle, Written { id, keycount, body_sha256: sha256(&body), seq: None });
        Ok(())
    }

    fn body(&mut self, note: &Planned, id: &str, keycount: u32) -> Result<Vec<u8>, Fault> {
        let nonce: [u8; 16] = (u128::from(self.chance.bits()) << 64 | u128::from(self.chance.bits())).to_be_bytes();
        let mut members: Map<String, Value> = Map::new();
        let mut set = |name: &str, value: Value| members.insert(name.to_owned(), value);
        set("specversion", json!("1.0"));
        set("id", json!(id));
        set("source", json!(format!("https://{}", house::ORIGIN)));
        set("type", json!(note.kind));
        set("subject", json!(self.facts.subject_of(note)?));
        set("time", json!(text(note.time)));
        set("keyid", json!(key_id(&self.keys[&note.author]).to_string()));
        set("keycount", json!(keycount));
        set("nonce", json!(base64url(&nonce)));
        set("signedtime", json!(text(note.signed_at)));
        if let Some(after) = note.timeafter {
            set("timeafter", json!(text(after)));
        }
        if let Some(reason) = &note.late_reason {
            set("late", json!(true));
            set("latereason", json!(reason));
        }
        if let Some(expected) = self.facts.expected(note)? {
            set("expect", json!(expected));
        }
        if let Some(round) = &note.round {
            set("correlationid", json!(round));
        }
        set("data", Value::Object(self.facts.data_of(note)?));
        Ok(Value::Object(members).to_string().into_bytes())
    }

    fn record(&mut self, handle: Handle, clock: Instant) -> Result<(), Fault> {
        let note = self.season.note(handle);
        let (kind, author, time) = (note.kind, note.author.called(), text(note.time));
        let refused = |refusal| Fault::Refused { kind, author, time: time.clone(), refusal: Box::new(refusal) };
        let envelope = self.envelopes.get(&handle).ok_or(Fault::Unsendable(handle.0))?;
        let verified = self.replay.gate().open(envelope.as_bytes()).map_err(|stopped| refused(stopped.refusal))?;
        // All leaves of one step share a moment, and moments rise from step to step (F16).
        match self.replay.judge(&verified, clock).map_err(refused)? {
            Judged::New { subject_version } => self.append(handle, verified, subject_version, clock),
            _ => return Err(Fault::Unsendable(handle.0)),
        }
        Ok(())
    }

    fn append(&mut self, handle: Handle, verified: Verified, subject_version: u64, clock: Instant) {
        let seq = self.replay.size();
        let signatures = verified.signatures().to_vec();
        let leaf = Leaf { seq, recorded_at: clock, subject_version, body_sha256: *verified.body_sha256(), signatures };
        self.replay.apply(verified.event(), &leaf);
        let version = u32::try_from(subject_version).unwrap_or(u32::MAX);
        self.facts.versions.insert(verified.event().subject.clone(), version);
        if let Some(written) = self.facts.written.get_mut(&handle) {
            written.seq = Some(seq);
        }
        self.log.push(Recorded { verified, leaf });
    }

    /// Without a service there is no report: a hash of a sentence stands for it.
    fn invented_report(&self) -> Report {
        let size = self.replay.size();
        let root: Hash = self.replay.tree().root(size).unwrap_or_default();
        Report {
            query: report_query(size),
            as_of: format!("{REPORT_YEAR}-12-31T23:59:59.999Z"),
            known_at: size,
            root: base64(&root),
            sha256: hex(&sha256(b"rehearsal: no report was made")),
            software: "rehearsal".to_owned(),
            time_zones: "none".to_owned(),
        }
    }
}

fn key(seed: u64, name: &str) -> SigningKey {
    let mut chance = Chance::new(seed, &format!("key {name}"));
    let mut secret = [0; 32];
    for part in secret.chunks_mut(8) {
        part.copy_from_slice(&chance.bits().to_be_bytes());
    }
    SigningKey::from_bytes(&secret)
}

fn key_id(key: &SigningKey) -> KeyId {
    KeyId::of(key.verifying_key().as_bytes())
}
