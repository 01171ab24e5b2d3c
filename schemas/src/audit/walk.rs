//! All notes, one after the other: the rules that the journal asked of each are asked again,
//! against the state just before its place.

use super::counts::Counts;
use super::folder::{Folder, first_difference};
use super::reading::{Body, Opened, Pair, SignedSeen, open, pairs, signed_seen, withheld_facts};
use super::said::{About, Fault, Faults, Finding};
use super::spread::Spread;
use super::{Scope, withheld};
use crate::bundle::{ENVELOPES, Evidence, LEAVES, evidence_in};
use crate::catalogue::{Missing, catalogue};
use crate::event::{Event, Seen};
use crate::limits::{CLOCK_SKEW_MS, OFFLINE_DAYS_MAX, PAGE_EVENTS_MAX};
use crate::merkle::Hash;
use crate::note::VerifierKey;
use crate::receipt::Leaf;
use crate::refusal::{Problem, Refusal};
use crate::replay::Replay;
use crate::replay::judge::Judged;
use crate::replay::keys::Role;
use crate::signing::{Verified, brought_keys};
use crate::time::{DAY_MS, Instant};
use serde_json::{Map, Value};
use std::collections::{BTreeMap, BTreeSet};
use std::ops::ControlFlow;

/// The state after the last note that could be read, and what was learnt on the way.
pub(super) struct Walked {
    /// The log's own rules.
    pub replay: Replay,
    /// Number of notes in the files, read or not.
    pub size: u64,
    /// Whether every note could be read and took its place.
    pub complete: bool,
    /// Number of withheld bodies.
    pub withheld: u64,
    /// SHA-256 of files that notes name, with the first note that does.
    pub attachments: BTreeMap<Hash, u64>,
    /// SHA-256 of issued reports, with the note that issues each.
    pub reports: BTreeMap<Hash, u64>,
    /// Witnesses that the log's own policies have named.
    pub witnesses: Vec<VerifierKey>,
    /// What an auditor may want to ask about.
    pub findings: Vec<Finding>,
    recorded: Vec<Instant>,
}

impl Walked {
    /// Whether the note at `size` was recorded later than the one before; true at the ends.
    pub fn later_across(&self, size: u64) -> bool {
        let at = |seq: u64| usize::try_from(seq).ok().and_then(|seq| self.recorded.get(seq));
        match (size.checked_sub(1).and_then(at), at(size)) {
            (Some(before), Some(after)) => before < after,
            _ => true,
        }
    }
}

/// On the way through the notes.
pub(super) struct Walk<'f> {
    walked: Walked,
    faults: &'f mut Faults,
    counts: Counts,
    /// Facts of withheld notes, by seq, until they are used.
    facts: BTreeMap<u64, Map<String, Value>>,
    /// Seqs whose lines are withheld.
    hidden: BTreeSet<u64>,
    /// Nouns of subjects that withheld bodies may have brought in, and nobody can name now.
    may_have_brought: BTreeSet<&'static str>,
}

impl<'f> Walk<'f> {
    pub fn new(scope: Scope, faults: &'f mut Faults) -> Self {
        let walked = Walked {
            replay: Replay::new(scope == Scope::Whole),
            size: 0,
            complete: false,
            withheld: 0,
            attachments: BTreeMap::new(),
            reports: BTreeMap::new(),
            witnesses: Vec::new(),
            findings: Vec::new(),
            recorded: Vec::new(),
        };
        Self {
            walked,
            faults,
            counts: Counts::default(),
            facts: BTreeMap::new(),
            hidden: BTreeSet::new(),
            may_have_brought: BTreeSet::new(),
        }
    }

    /// Walks through all notes of a folder, or as far as they can be read.
    pub fn through(&mut self, folder: &Folder, spread: &impl Spread) {
        let (Some(leaves), Some(lines)) = (folder.text(LEAVES, self.faults), folder.text(ENVELOPES, self.faults)) else { return };
        let pairs = pairs(leaves, lines, self.faults);
        self.walked.size = pairs.len() as u64;
        if pairs.is_empty() {
            self.faults.add(Fault::in_file(LEAVES, 0, "there is not a single note; a log begins with its founding"));
            return;
        }
        self.facts = withheld_facts(&pairs, spread);
        let flow = self.windows(&pairs, spread);
        self.walked.complete = flow.is_continue();
    }

    /// The founding by itself, because it brings the log key under which others are checked;
    /// the rest in windows, so that memory holds only one window of parsed notes.
    fn windows(&mut self, pairs: &[Pair], spread: &impl Spread) -> ControlFlow<()> {
        let (founding, others) = pairs.split_at(1);
        for window in [founding].into_iter().chain(others.chunks(PAGE_EVENTS_MAX)) {
            let notes = open(window, &self.walked.replay, spread);
            let seen = signed_seen(&notes, &self.walked.replay, spread);
            for note in notes {
                self.take(note, &seen)?;
            }
        }
        ControlFlow::Continue(())
    }

    fn take(&mut self, opened: Opened, seen: &SignedSeen) -> ControlFlow<()> {
        let Pair { seq, leaf: entry, line } = opened.pair;
        let Some(leaf) = opened.leaf else {
            let says = "this entry is no leaf; the notes from here on were not judged";
            return self.stop(Fault::in_file(LEAVES, entry.at, says).at_note(seq));
        };
        if let Some(byte) = opened.unlike {
            self.faults.add(Fault::in_file(ENVELOPES, line.at + byte, "the line is not in the written form of its note").at_note(seq));
        }
        self.check_clock(seq, &leaf, entry.at);
        let right = match opened.body {
            Body::Broken(refusal) => {
                let says = format!("{refusal}; the notes from here on were not judged");
                return self.stop(Fault::in_file(ENVELOPES, line.at, says).at_note(seq));
            }
            Body::Note(note) => self.take_note(seq, &leaf, &note, seen),
            Body::Withheld(hash) => self.take_withheld(seq, &leaf, hash)?,
        };
        self.check_leaf(entry.at, entry.text, &leaf, &right);
        if self.faults.full() { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
    }

    fn stop<T>(&mut self, fault: Fault) -> ControlFlow<(), T> {
        self.faults.add(fault);
        ControlFlow::Break(())
    }

    /// recorded_at never goes back; notes of one commit share it (F16).
    fn check_clock(&mut self, seq: u64, leaf: &Leaf, at: usize) {
        if let Some(before) = self.walked.recorded.last().filter(|before| **before > leaf.recorded_at) {
            let says = format!("recorded at {}, before the note ahead of it ({})", leaf.recorded_at.utc_text(), before.utc_text());
            self.faults.add(Fault::in_file(LEAVES, at, says).at_note(seq));
        }
        self.walked.recorded.push(leaf.recorded_at);
    }

    /// The leaf is the one that note, place and history make; its recorded_at is its own.
    fn check_leaf(&mut self, at: usize, found: &str, leaf: &Leaf, right: &Leaf) {
        let Some(byte) = first_difference(found.as_bytes(), right.text().as_bytes()) else { return };
        let says = if leaf.seq != right.seq {
            format!("the leaf says seq {}, and stands at {}", leaf.seq, right.seq)
        } else if leaf.subject_version != right.subject_version {
            format!("the leaf gives its subject version {}; the notes before it make it {}", leaf.subject_version, right.subject_version)
        } else if leaf.body_sha256 != right.body_sha256 {
            "the body is not the one whose hash the leaf holds".to_owned()
        } else if leaf.signatures != right.signatures {
            "the leaf's signatures are not those of the envelope".to_owned()
        } else {
            "the leaf is not written in its one form".to_owned()
        };
        self.faults.add(Fault::in_file(LEAVES, at + byte, says).at_note(right.seq));
    }

    /// Judges a note and takes it, whatever the judgement; gives the leaf that it should have.
    fn take_note(&mut self, seq: u64, leaf: &Leaf, note: &Verified, seen: &SignedSeen) -> Leaf {
        let event = note.event();
        self.check_signers(seq, note);
        self.judge(seq, note, leaf.recorded_at, seen);
        self.find(seq, note, leaf.recorded_at);
        self.learn(seq, event, leaf.recorded_at);
        let right = Leaf {
            seq,
            recorded_at: leaf.recorded_at,
            subject_version: self.walked.replay.next_version(&event.subject),
            body_sha256: *note.body_sha256(),
            signatures: note.signatures().to_vec(),
        };
        self.walked.replay.apply(event, standing(leaf, &right));
        right
    }

    /// Notes are verified in windows, against keys that may come later in the same window.
    fn check_signers(&mut self, seq: u64, note: &Verified) {
        let ring = self.walked.replay.ring();
        let unknown = note.signatures().iter().map(|(id, _)| *id).filter(|id| ring.get(id).is_none());
        let unknown: Vec<_> = unknown.collect();
        if unknown.is_empty() {
            return;
        }
        let brought: Vec<_> = brought_keys(note.event()).iter().map(crate::names::KeyId::of).collect();
        for id in unknown.iter().filter(|id| !brought.contains(id)) {
            let refusal = Refusal::new(Problem::SignerUnknown, format!("the key {id} was not known at this place"));
            self.faults.add(Fault::of_note(seq, refusal.to_string()));
        }
    }

    fn judge(&mut self, seq: u64, note: &Verified, recorded_at: Instant, seen: &SignedSeen) {
        let mut judged = self.judged(note, recorded_at, seen);
        let subject = note.event().subject.clone();
        let unknown = judged.as_ref().is_err_and(|refusal| refusal.problem == Problem::SubjectUnknown);
        if unknown && self.may_have_brought.contains(subject.noun()) {
            let says = format!("whether {subject} was brought in before can no longer be told: a body that may have named it is withheld");
            self.walked.findings.push(Finding::of_note(About::CannotTell, seq, says));
            self.walked.replay.presume(&subject);
            judged = self.judged(note, recorded_at, seen);
        }
        let says = match judged {
            Ok(Judged::New { .. }) => return,
            Ok(Judged::Repeat { seq: first }) => format!("the same note stands at seq {first} already"),
            Ok(Judged::LogForked { detail }) => detail,
            Err(refusal) => refusal.to_string(),
        };
        self.faults.add(Fault::of_note(seq, says));
    }

    fn judged(&self, note: &Verified, recorded_at: Instant, signed: &SignedSeen) -> Result<Judged, Refusal> {
        let replay = &self.walked.replay;
        // Once the log has changed its key within these notes, what the former key signed counts only up
        // to the size at which its time ended (F14): each is asked again.
        let same_keys = signed.log_keys == replay.log_keys().all().len();
        let known = |seen: &Seen| same_keys && signed.seen.contains(&(seen.size, seen.root, seen.signature.clone()));
        let is_signed = |seen: &Seen| known(seen) || replay.seen_is_signed(seen);
        let judged = replay.judge_with(note, recorded_at, is_signed);
        // A checkpoint that a device saw ends a commit, as one in this bundle does (F16).
        match &note.event().seen {
            Some(seen) if judged.is_ok() && seen.size <= replay.size() && !self.walked.later_across(seen.size) => Ok(Judged::LogForked {
                detail: format!("a device has seen a checkpoint over {} notes, in the middle of a commit", seen.size),
            }),
            _ => judged,
        }
    }

    /// What is not wrong, but worth a question; asked of the state just before the note.
    fn find(&mut self, seq: u64, note: &Verified, recorded_at: Instant) {
        let (event, replay) = (note.event(), &self.walked.replay);
        let mut found = Vec::new();
        let ahead_s = (event.signedtime.0 - recorded_at.0).div_euclid(1000);
        if event.signedtime > recorded_at.plus_ms(CLOCK_SKEW_MS) {
            found.push((About::DeviceClock, format!("the device's clock was {ahead_s} s ahead of the log's")));
        }
        if let Some(record) = replay.keys().get(&event.keyid) {
            let waited_ms = recorded_at.0 - event.signedtime.0;
            if !record.in_force(seq, recorded_at) || waited_ms > OFFLINE_DAYS_MAX * DAY_MS {
                let persons = replay.keys().approvers(note, seq, recorded_at, &[Role::Registrar]);
                let persons: Vec<&str> = persons.into_iter().collect();
                found.push((About::VouchedFor, format!("vouched for by {}", persons.join(", "))));
            }
        }
        let approval = catalogue().kind(&event.kind).and_then(|kind| kind.roles.approval.as_ref());
        if approval.is_some_and(|wanted| wanted.missing == Missing::Discrepancy && !replay.approved(note, wanted, recorded_at)) {
            found.push((About::ApprovalMissing, format!("{} without the second signature that its kind wants", event.kind)));
        }
        self.walked.findings.extend(found.into_iter().map(|(about, says)| Finding::of_note(about, seq, says)));
    }

    /// What later checks need of a note.
    fn learn(&mut self, seq: u64, event: &Event, recorded_at: Instant) {
        let number = |name: &str| event.data.get(name).and_then(Value::as_u64);
        self.counts.add(event.keyid, u64::from(event.keycount), seq, recorded_at);
        match event.kind.as_str() {
            "note.abandoned.v1" => {
                if let Some(count) = number("keycount") {
                    self.counts.add(event.keyid, count, seq, recorded_at);
                }
            }
            "body.withheld.v1" => self.learn_withholding(seq, number("seq")),
            "report.issued.v1" => self.learn_report(seq, event),
            "policy.set.v1" => self.learn_witnesses(event),
            _ => {}
        }
        for (place, hash) in evidence_in(&event.kind, &event.data) {
            let named = match place {
                Evidence::Attachment => &mut self.walked.attachments,
                Evidence::Report => &mut self.walked.reports,
            };
            named.entry(hash).or_insert(seq);
        }
    }

    /// A bundle that reaches past a withholding holds that body no longer.
    fn learn_withholding(&mut self, seq: u64, target: Option<u64>) {
        if let Some(target) = target.filter(|target| *target < seq && !self.hidden.contains(target)) {
            let says = format!("seq {seq} withholds this body, and it still stands in {ENVELOPES}");
            self.faults.add(Fault::of_note(target, says));
        }
    }

    fn learn_report(&mut self, seq: u64, event: &Event) {
        let text = |name: &str| event.data.get(name).and_then(Value::as_str);
        let size = event.data.get("known_at").and_then(Value::as_u64).unwrap_or_default();
        let root = text("root").and_then(crate::encoding::from_base64_32);
        if root.is_none() || self.walked.replay.tree().root(size) != root {
            let says = format!("the report was issued over a root of {size} notes that is not this log's");
            self.walked.findings.push(Finding::of_note(About::ReportRoot, seq, says));
        }
    }

    fn learn_witnesses(&mut self, event: &Event) {
        let listed = event.data.get("witnesses").and_then(Value::as_array);
        let keys = listed.into_iter().flatten().filter_map(|key| VerifierKey::parse(key.as_str()?).ok());
        self.walked.witnesses.extend(keys);
    }

    fn take_withheld(&mut self, seq: u64, leaf: &Leaf, hash: Hash) -> ControlFlow<(), Leaf> {
        let Some(facts) = self.facts.remove(&seq) else {
            let says = "the body is withheld, and no later note withholds it; the notes from here on were not judged";
            return self.stop(Fault::of_note(seq, says));
        };
        for says in withheld::faults(&self.walked.replay, &facts, leaf) {
            self.faults.add(Fault::of_note(seq, format!("{says} (its body is withheld)")));
        }
        let text = |name: &str| facts.get(name).and_then(Value::as_str).unwrap_or_default();
        let subject = crate::names::Subject::parse(text("subject"));
        let version = subject.map_or(0, |subject| self.walked.replay.next_version(&subject));
        let right = Leaf { seq, subject_version: version, body_sha256: hash, ..leaf.clone() };
        if self.walked.replay.apply_withheld(&facts, standing(leaf, &right)).is_none() {
            let says = "the note that withholds this body does not say what F23 asks; the notes from here on were not judged";
            return self.stop(Fault::of_note(seq, says));
        }
        self.note_withheld(seq, &facts, leaf.recorded_at);
        ControlFlow::Continue(right)
    }

    fn note_withheld(&mut self, seq: u64, facts: &Map<String, Value>, recorded_at: Instant) {
        let text = |name: &str| facts.get(name).and_then(Value::as_str).unwrap_or_default();
        self.hidden.insert(seq);
        self.walked.withheld += 1;
        // A pointer such as /young/*/animal ends with the noun of what it brings in.
        let creates = catalogue().kind(text("kind")).map_or(&[][..], |kind| &kind.creates);
        self.may_have_brought.extend(creates.iter().filter_map(|pointer| pointer.rsplit('/').next()));
        if let (Some(key), Some(count)) = (crate::names::KeyId::parse(text("keyid")), facts.get("keycount").and_then(Value::as_u64)) {
            self.counts.add(key, count, seq, recorded_at);
        }
        let says = format!("the body of this {} is withheld; its signatures cannot be verified without it", text("kind"));
        self.walked.findings.push(Finding::of_note(About::Withheld, seq, says));
    }

    /// What is left when no more notes come.
    pub fn finish(self) -> Walked {
        let mut walked = self.walked;
        walked.findings.extend(self.counts.findings(walked.replay.newest().unwrap_or(Instant(0))));
        let suspected: Vec<Finding> = (0..walked.replay.size()).filter_map(|seq| suspicion(&walked, seq)).collect();
        walked.findings.extend(suspected);
        walked
    }
}

/// The leaf that goes into the tree: the one that stands in the bundle, so that one wrong leaf
/// does not put the blame on every later note that has seen a root; unless it stands elsewhere.
fn standing<'l>(found: &'l Leaf, right: &'l Leaf) -> &'l Leaf {
    if found.seq == right.seq { found } else { right }
}

/// A note recorded when its author's key is said to have been in other hands (F11).
fn suspicion(walked: &Walked, seq: u64) -> Option<Finding> {
    let past = walked.replay.past(seq)?;
    let since = walked.replay.keys().get(&past.keyid)?.suspected_since(walked.replay.size())?;
    let recorded_at = walked.recorded.get(usize::try_from(seq).ok()?)?;
    let says = || format!("its author's key {} is suspected since {}", past.keyid, since.utc_text());
    (*recorded_at >= since).then(|| Finding::of_note(About::KeySuspected, seq, says()))
}
