//! The auditor's check of a bundle (F25, F26), as a pure function: files in, an [`Audit`] out.
//! The service's own rules ([`crate::replay`]) are asked again of every note, in seq order, and
//! every file is compared with its one right content ([`crate::bundle`]).
//!
//! Read in this order:
//! * [`said`]: faults and findings, kept apart;
//! * [`folder`]: the files as they were found, and which may be there;
//! * [`spread`]: how costly work is spread over processors;
//! * [`reading`]: notes from texts, in parallel;
//! * [`walk`]: notes judged one after the other;
//! * [`withheld`]: what can still be said of a note whose body is withheld;
//! * [`counts`]: gaps and doubles in the counts of each key;
//! * [`checkpoints`]: what the log vouched for;
//! * [`policy`] and [`trust`]: what the auditor brings along.

pub mod said;

pub mod folder;

pub mod spread;

mod reading;

mod walk;

mod withheld;

mod counts;

mod checkpoints;

pub mod policy;

pub mod trust;

use crate::encoding::base64;
use crate::merkle::Hash;
use crate::names::KeyId;
use crate::time::Instant;
use folder::Folder;
use said::{Fault, Faults, Finding};
use serde::{Serialize, Serializer};
use spread::Spread;
use trust::{Ties, Trust};
use walk::Walk;

/// What a verification that finds nothing wrong has shown (F26): these words and no more.
pub const SHOWS: &str = "every note is as it was signed, in the order it came, and none has been taken away since the checkpoint";
/// What it has not shown (F26).
pub const SHOWS_NOT: &str = "it does not show that a note is true, nor that everything that happened was noted";
/// What is said of a bundle that agrees with itself when the auditor brought no trust (F26).
pub const NOT_TIED: &str = "consistent with itself; not yet tied to a key you trust";
/// What is said of a log whose founding says `simulated_clock` (F10).
pub const SIMULATED: &str = "invented season, simulated clock";

/// How much a bundle is expected to hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Scope {
    /// All of F25.
    #[default]
    Whole,
    /// Check vectors of encodings: no `schemas/`, and `data` need not satisfy any schema. No
    /// program offers this to its user, for it leaves out rules that a record must obey.
    EncodingsOnly,
}

/// A key by the fingerprint that people compare: its key id (F8).
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct KeyShown {
    /// The key id: 32 hexadecimal characters.
    pub fingerprint: KeyId,
    /// The verifier key of a log key, the pseudonym of a root key's holder.
    pub of: String,
}

/// How an audit ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Nothing is wrong, and it is tied to something that the auditor trusts.
    Sound,
    /// Nothing is wrong in itself, but nothing outside vouches for it.
    NotTied,
    /// Something is wrong.
    Broken,
}

/// What an audit found.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Audit {
    /// How it ended.
    pub verdict: Verdict,
    /// The collection's name, where its founding could be read.
    pub name: Option<String>,
    /// The log's origin, where its founding could be read.
    pub origin: Option<String>,
    /// The founding says that its clock was simulated (F10).
    pub simulated_clock: bool,
    /// Number of notes in the bundle.
    pub size: u64,
    /// Root over them, where all could be read.
    #[serde(serialize_with = "hash_text")]
    pub root: Option<Hash>,
    /// When the newest note was recorded, where all could be read.
    pub newest: Option<Instant>,
    /// Number of notes whose bodies are withheld.
    pub withheld: u64,
    /// The log's keys, oldest first.
    pub log_keys: Vec<KeyShown>,
    /// Root keys in force at the end.
    pub root_keys: Vec<KeyShown>,
    /// What outside this bundle vouches for it.
    pub ties: Ties,
    /// What is wrong with the bundle.
    pub faults: Vec<Fault>,
    /// Faults beyond [`crate::limits::AUDIT_FAULTS_MAX`], only counted.
    pub faults_left_out: u64,
    /// What an auditor may want to ask about; none of it is wrong with the bundle.
    pub findings: Vec<Finding>,
}

fn hash_text<S: Serializer>(hash: &Option<Hash>, serializer: S) -> Result<S::Ok, S::Error> {
    hash.map(|hash| base64(&hash)).serialize(serializer)
}

/// Checks a bundle. The answer does not depend on how `spread` spreads the work.
#[must_use]
pub fn audit(folder: &Folder, trust: &Trust, scope: Scope, spread: &impl Spread) -> Audit {
    let mut faults = Faults::default();
    folder.check_layout(scope, &mut faults);
    let mut walk = Walk::new(scope, &mut faults);
    walk.through(folder, spread);
    let mut walked = walk.finish();
    folder.check_vkey(walked.replay.log_keys().all(), &mut faults);
    folder.check_schemas(scope, &mut faults);
    folder.check_evidence(&mut walked, &mut faults);
    let checkpoints = checkpoints::check(folder, &walked, trust, &mut faults);
    folder.check_sums(spread, &mut faults);
    let ties = trust.ties(&checkpoints, &walked, &mut faults);
    conclude(walked, ties, faults)
}

fn conclude(walked: walk::Walked, ties: Ties, faults: Faults) -> Audit {
    let (replay, size) = (&walked.replay, walked.size);
    let (faults, faults_left_out) = faults.sorted();
    let verdict = match (faults.is_empty(), ties.any()) {
        (false, _) => Verdict::Broken,
        (true, true) => Verdict::Sound,
        (true, false) => Verdict::NotTied,
    };
    let log_key = |key: &crate::note::VerifierKey| KeyShown { fingerprint: KeyId::of(key.public_key().as_bytes()), of: key.to_string() };
    let roots = replay.keys().roots().iter();
    Audit {
        verdict,
        name: replay.founding().map(|founding| founding.name.clone()),
        origin: replay.founding().map(|founding| founding.origin.clone()),
        simulated_clock: replay.founding().is_some_and(|founding| founding.simulated_clock),
        size,
        root: if walked.complete { replay.tree().root(size) } else { None },
        newest: replay.newest().filter(|_| walked.complete),
        withheld: walked.withheld,
        log_keys: replay.log_keys().all().iter().map(log_key).collect(),
        root_keys: roots.map(|(id, person)| KeyShown { fingerprint: *id, of: person.clone() }).collect(),
        ties,
        faults,
        faults_left_out,
        findings: walked.findings,
    }
}
