//! Life of a note in the journal. One thread runs this; it is the only one that writes.
//!
//! 1. **Judge** each note in seq order against the state just before it, others of its group
//!    included. A crash here leaves nothing.
//! 2. **Stage** the group: one transaction, on disk. A crash from here on leaves rows that
//!    nobody sees; opening the log goes on at step 3 with them.
//! 3. **Check**: read the rows again over another connection, hash them, extend the tree that was
//!    published, and reach the root that was staged.
//! 4. **Sign** the checkpoint. Ed25519 gives the same note to whoever signs it again.
//! 5. **Mark**: the note is written outside the store, before anybody can be told of it.
//! 6. **Publish**: swap the newest checkpoint. Now readers see the group, and receipts go out.

use super::outside::{FORK_PREFIX, Outside};
use super::published::{Condition, Shared};
use super::recovery;
use super::{Answer, Submitted};
use crate::clock::Clock;
use crate::failure::{Broken, Busy, Failure, Setup};
use crate::store::{EventStore, Head, StagedEvent, StoredEvent, Withholding};
use ed25519_dalek::SigningKey;
use selachron_schemas::envelope::Envelope;
use selachron_schemas::limits::{CLOCK_AHEAD_MS, CLOCK_BACK_MS};
use selachron_schemas::merkle::{Hash, sha256};
use selachron_schemas::note::{Checkpoint, SignedCheckpoint, VerifierKey};
use selachron_schemas::receipt::Leaf;
use selachron_schemas::refusal::{Problem, Refusal};
use selachron_schemas::replay::Replay;
use selachron_schemas::replay::judge::Judged;
use selachron_schemas::signing::Verified;
use selachron_schemas::time::Instant;
use serde_json::Value;
use std::sync::Arc;

/// Where the log's own keys come from.
pub type KeySource = Box<dyn Fn() -> Result<Vec<SigningKey>, Failure> + Send>;

/// What the journal is made of.
pub struct Parts {
    /// Where events are kept.
    pub store: Arc<dyn EventStore>,
    /// The log's own keys, as many as lie here; asked again when a note changes the key.
    pub keys: KeySource,
    /// The clock.
    pub clock: Arc<dyn Clock>,
    /// What is kept outside the store.
    pub outside: Box<dyn Outside>,
}

/// The kind that changes the log's key.
const REKEYED: &str = "log.rekeyed.v1";
/// How the kinds begin that change who may sign.
const RULES: [&str; 3] = ["key.", "root.", "log."];

pub(super) struct Writer {
    parts: Parts,
    shared: Arc<Shared>,
    /// The log's own keys.
    keys: Vec<SigningKey>,
    /// `None` after a group that failed half way: it is read from the store again.
    replay: Option<Replay>,
    /// The latest that the clock ever said here.
    clock_high: Instant,
}

/// What becomes of one note of a group, before the group is recorded.
enum Placed {
    New(usize),
    Repeat { id: String, seq: u64, seen_size: Option<u64> },
    Refused { id: Option<String>, refusal: Refusal },
}

#[derive(Default)]
struct Group {
    placed: Vec<Placed>,
    staged: Vec<StagedEvent>,
    seen_sizes: Vec<Option<u64>>,
}

impl Writer {
    pub(super) fn open(parts: Parts, shared: Arc<Shared>) -> Result<Self, Failure> {
        let mut writer = Self { parts, shared, keys: Vec::new(), replay: None, clock_high: Instant(i64::MIN) };
        writer.recover()?;
        writer.clock_high = writer.replay.as_ref().and_then(Replay::newest).unwrap_or(writer.clock_high);
        Ok(writer)
    }

    /// Judges, records and answers a group, in the order in which it came.
    pub(super) fn commit(&mut self, notes: Vec<Submitted>) -> Vec<Answer> {
        let ids: Vec<Option<String>> = notes.iter().map(|note| note.id().map(str::to_owned)).collect();
        self.try_commit(notes).unwrap_or_else(|failure| {
            tracing::warn!(%failure, notes = ids.len(), "a group was not recorded");
            ids.into_iter().map(|id| Answer::NotNow { id, failure: failure.clone() }).collect()
        })
    }

    fn try_commit(&mut self, notes: Vec<Submitted>) -> Result<Vec<Answer>, Failure> {
        self.shared.condition().check()?;
        if self.replay.is_none() {
            self.recover()?;
            self.shared.condition().check()?;
        }
        let recorded_at = self.next_time()?;
        let mut group = Group::default();
        for note in notes {
            let placed = self.place(note, recorded_at, &mut group)?;
            group.placed.push(placed);
        }
        if !group.staged.is_empty() {
            let outcome = self.record(&group.staged);
            outcome.inspect_err(|failure| self.after_failure(failure))?;
        }
        self.answers(group)
    }

    /// The replay has taken notes that may not be in the store: it is read again before the
    /// next group. Nothing is vouched for once a check has failed.
    fn after_failure(&mut self, failure: &Failure) {
        self.replay = None;
        if let Failure::Broken(broken) = failure {
            self.shared.set_condition(Condition::Stopped(broken.clone()));
        }
    }

    /// F16: `recorded_at` only grows; one value a commit.
    fn next_time(&mut self) -> Result<Instant, Failure> {
        let now = self.parts.clock.now();
        let back_ms = self.clock_high.0.saturating_sub(now.0);
        if back_ms > CLOCK_BACK_MS {
            return Err(Busy::ClockWentBack { back_ms }.into());
        }
        self.clock_high = self.clock_high.max(now);
        let newest = self.replay.as_ref().and_then(Replay::newest);
        let recorded_at = newest.map_or(now, |newest| now.max(newest.plus_ms(1)));
        self.parts.clock.wait_until(recorded_at.plus_ms(-CLOCK_AHEAD_MS));
        Ok(recorded_at)
    }

    fn place(&mut self, note: Submitted, recorded_at: Instant, group: &mut Group) -> Result<Placed, Failure> {
        let replay = self.replay.as_mut().ok_or_else(|| Broken::new("the journal has no state to judge by"))?;
        let note = match note.opened_with(replay) {
            Ok(note) => note,
            Err(stopped) => return Ok(Placed::Refused { id: stopped.id, refusal: stopped.refusal }),
        };
        let event = note.event();
        if event.kind == REKEYED {
            self.keys = (self.parts.keys)()?;
        }
        let seen_size = event.seen.as_ref().map(|seen| seen.size);
        let judged = replay.judge(&note, recorded_at).and_then(|judged| match judged {
            // What stands in the log already is answered with its receipt (F18), whichever keys lie here now.
            Judged::New { .. } => check_log_key(&note, &self.keys).map(|()| judged),
            _ => Ok(judged),
        });
        match judged {
            Err(refusal) => Ok(Placed::Refused { id: Some(event.id.clone()), refusal }),
            Ok(Judged::Repeat { seq }) => Ok(Placed::Repeat { id: event.id.clone(), seq, seen_size }),
            Ok(Judged::LogForked { detail }) => Err(self.seal_on_fork(&note, &detail)),
            Ok(Judged::New { subject_version }) => {
                let staged = staged(&note, replay.size(), recorded_at, subject_version);
                replay.apply(event, &staged.leaf);
                group.seen_sizes.push(seen_size);
                group.staged.push(staged);
                Ok(Placed::New(group.staged.len() - 1))
            }
        }
    }

    /// F13: the note goes outside the log, and the log signs nothing from here on. The rest of
    /// its group is not recorded either.
    fn seal_on_fork(&mut self, note: &Verified, detail: &str) -> Failure {
        let id = &note.event().id;
        let reason = format!("{detail} (note {id}, kept beside the log)");
        let envelope = Envelope::written(note.body(), note.signatures());
        let outside = &self.parts.outside;
        let kept = outside.keep(&format!("{FORK_PREFIX}{id}.json"), &envelope).and_then(|()| outside.seal(&reason));
        if let Err(failure) = kept {
            tracing::error!(%failure, "the evidence of a fork could not be kept");
        }
        self.replay = None;
        self.shared.set_condition(Condition::Sealed(reason.clone()));
        Failure::Sealed(reason)
    }

    fn record(&mut self, staged: &[StagedEvent]) -> Result<(), Failure> {
        let replay = self.replay.as_ref().ok_or_else(|| Broken::new("the journal has no state to record by"))?;
        let size = replay.size();
        let root = replay.tree().root(size).ok_or_else(|| Broken::new("the tree has no root"))?;
        self.parts.store.stage(staged, &root)?;
        let withheld: Vec<Withholding> =
            staged.iter().filter_map(|event| event.withholds.map(|target| Withholding { target, by: event.leaf.seq })).collect();
        self.check(size, &root, &withheld)?;
        self.publish(size, root, staged.iter().map(|event| event.leaf.recorded_at), withheld)
    }

    /// Step 3. Only what was read back and hashed enters the tree that will be signed.
    fn check(&self, size: u64, root: &Hash, withheld: &[Withholding]) -> Result<(), Failure> {
        let before = self.shared.published().size();
        let wanted = usize::try_from(size - before).unwrap_or(usize::MAX);
        let rows = self.parts.store.read_staged(before, wanted.saturating_add(1))?;
        let mut published = self.shared.published_mut();
        let outcome = check_rows(&rows, before, size, withheld, |leaf| published.tree.push(leaf));
        let reached = published.tree.root(size);
        if outcome.is_ok() && reached == Some(*root) {
            return Ok(());
        }
        published.tree.truncate(before);
        drop(published);
        outcome?;
        Err(self.first_difference(&rows).into())
    }

    fn first_difference(&self, rows: &[StoredEvent]) -> Broken {
        let said = "what was read back is not what was staged; nothing was signed";
        let differs =
            |row: &&StoredEvent| self.replay.as_ref().and_then(|replay| replay.tree().leaf(row.leaf.seq)) != Some(row.leaf.hash());
        rows.iter().find(differs).map_or_else(|| Broken::new(said), |row| Broken::at(row.leaf.seq, said))
    }

    /// Steps 4 to 6.
    fn publish(&mut self, size: u64, root: Hash, times: impl Iterator<Item = Instant>, withheld: Vec<Withholding>) -> Result<(), Failure> {
        let replay = self.replay.as_ref().ok_or_else(|| Broken::new("the journal has no state to publish"))?;
        let origin = replay.founding().map(|founding| founding.origin.clone());
        let origin = origin.ok_or_else(|| Broken::new("a log that is not founded signs nothing"))?;
        let note = Checkpoint { origin, size, root }.sign(&signers(replay, size, &self.keys)?);
        self.parts.outside.set_mark(&note)?;
        let before = self.shared.published().size();
        let head = Head { size, root, note };
        self.parts.store.publish(before, &head)?;
        let keys_changed = self.shared.gate().ring.len() != replay.ring().len() || before == 0;
        let mut published = self.shared.published_mut();
        published.recorded_at.extend(times);
        let told = published.authors.len() as u64;
        published.authors.extend((told..size).filter_map(|seq| replay.past(seq)).map(|past| past.keyid));
        published.withheld.extend(withheld);
        // Revocations change no ring; the book is small, and the kinds that touch it are rare.
        if keys_changed || self.rules_changed(before, size) {
            published.learn_rules(replay);
        }
        published.head = Some(head);
        drop(published);
        if keys_changed {
            self.shared.set_gate(replay.gate());
        }
        self.shared.tell_grown(size);
        Ok(())
    }

    fn rules_changed(&self, before: u64, size: u64) -> bool {
        let Some(replay) = &self.replay else { return false };
        (before..size).filter_map(|seq| replay.past(seq)).any(|past| RULES.iter().any(|kinds| past.kind.starts_with(kinds)))
    }

    fn answers(&self, group: Group) -> Result<Vec<Answer>, Failure> {
        let Group { placed, staged, seen_sizes } = group;
        let recorded = |leaf: &Leaf, id: &str, new, seen_size| Answer::Recorded { id: id.to_owned(), leaf: leaf.clone(), new, seen_size };
        let answer = |placed| match placed {
            Placed::Refused { id, refusal } => Ok(Answer::Refused { id, refusal }),
            Placed::New(at) => Ok(recorded(&staged[at].leaf, &staged[at].id, true, seen_sizes[at])),
            Placed::Repeat { id, seq, seen_size } => {
                let leaf = match staged.iter().find(|event| event.leaf.seq == seq) {
                    Some(event) => event.leaf.clone(),
                    None => self.published_leaf(seq)?,
                };
                Ok(recorded(&leaf, &id, false, seen_size))
            }
        };
        placed.into_iter().map(answer).collect()
    }

    fn published_leaf(&self, seq: u64) -> Result<Leaf, Failure> {
        let row = self.parts.store.read_all(seq, 1)?.pop().filter(|row| row.leaf.seq == seq);
        Ok(row.ok_or_else(|| Broken::at(seq, "published, but not in the store"))?.leaf)
    }

    /// Reads the log from its store and finishes what was staged and not published. Start-up is
    /// this, and so is going on after a group that failed.
    fn recover(&mut self) -> Result<(), Failure> {
        let recovered = recovery::read(&*self.parts.store)?;
        self.keys = (self.parts.keys)()?;
        if recovered.replay.size() > 0 {
            signers(&recovered.replay, recovered.replay.size(), &self.keys)?;
        }
        let replay = recovered.replay;
        let (before, size) = (recovered.published.size(), replay.size());
        self.shared.set_gate(replay.gate());
        *self.shared.published_mut() = recovered.published;
        if let Some(reason) = self.reason_to_seal(&replay)? {
            self.shared.set_condition(Condition::Sealed(reason));
            return Ok(());
        }
        let root = replay.tree().root(size).unwrap_or_default();
        self.replay = Some(replay);
        if size > before {
            tracing::info!(before, size, "publishing what was staged before");
            self.publish(size, root, std::iter::empty(), Vec::new())?;
        }
        self.raise_mark()
    }

    /// F24: why this log must not sign, if so.
    fn reason_to_seal(&self, replay: &Replay) -> Result<Option<String>, Failure> {
        if let Some(reason) = self.parts.outside.sealed()? {
            return Ok(Some(reason));
        }
        let marks = self.parts.outside.marks()?;
        let reason = if marks.is_empty() && self.shared.published().size() > 0 {
            Some("the high-water mark is missing: nobody can tell whether this store is the newest".to_owned())
        } else {
            against_marks(&marks, replay)
        };
        if let Some(reason) = &reason {
            self.parts.outside.seal(reason)?;
        }
        Ok(reason)
    }

    /// A mark that was put back from a copy may be behind; the store, checked, is not.
    fn raise_mark(&self) -> Result<(), Failure> {
        let Some(head) = self.shared.published().head().cloned() else { return Ok(()) };
        if self.parts.outside.mark()?.as_deref() == Some(head.note.as_str()) {
            return Ok(());
        }
        self.parts.outside.set_mark(&head.note)
    }
}

/// The newest mark that this log has signed counts: a crash while one was written leaves the one
/// before it whole.
fn against_marks(notes: &[String], replay: &Replay) -> Option<String> {
    let mut marks = notes.iter().filter_map(|note| SignedCheckpoint::parse(note).ok());
    let own = |mark: &SignedCheckpoint| replay.size() == 0 || replay.log_keys().vouch_for(mark);
    let Some(mark) = marks.find(own) else {
        return (!notes.is_empty()).then(|| "the high-water mark is not signed by this log".to_owned());
    };
    let Checkpoint { size, root, .. } = mark.checkpoint;
    match replay.tree().root(size) {
        None => Some(format!("the high-water mark stands at {size} notes and the store holds {}: notes have been lost", replay.size())),
        Some(own) if own != root => Some(format!("the high-water mark has another root over the first {size} notes")),
        Some(_) => None,
    }
}

fn staged(note: &Verified, seq: u64, recorded_at: Instant, subject_version: u64) -> StagedEvent {
    let event = note.event();
    let withholds = if event.kind == "body.withheld.v1" { event.data.get("seq").and_then(Value::as_u64) } else { None };
    let signatures = note.signatures().to_vec();
    StagedEvent {
        leaf: Leaf { seq, recorded_at, subject_version, body_sha256: *note.body_sha256(), signatures },
        id: event.id.clone(),
        kind: event.kind.clone(),
        subject: event.subject.as_str().to_owned(),
        body: note.body().to_vec(),
        withholds,
    }
}

fn check_rows(rows: &[StoredEvent], before: u64, size: u64, withheld: &[Withholding], mut push: impl FnMut(Hash)) -> Result<(), Failure> {
    if rows.len() as u64 != size - before {
        return Err(Broken::at(before, format!("{} notes were staged, {} were read back", size - before, rows.len())).into());
    }
    for (row, seq) in rows.iter().zip(before..) {
        let whole = match &row.body {
            Some(body) => sha256(body) == row.leaf.body_sha256,
            None => withheld.iter().any(|withholding| withholding.target == seq),
        };
        if row.leaf.seq != seq || !whole {
            return Err(Broken::at(seq, "what was read back is not what was staged; nothing was signed").into());
        }
        push(row.leaf.hash());
    }
    Ok(())
}

/// A log is founded for a key that lies here, and is changed to one that does: otherwise nothing
/// could be signed any more.
fn check_log_key(note: &Verified, keys: &[SigningKey]) -> Result<(), Refusal> {
    let data = &note.event().data;
    let text = |name: &str| data.get(name).and_then(Value::as_str).unwrap_or_default();
    let vkey = text("log_vkey");
    let of = |origin: &str, key: &SigningKey| VerifierKey::new(origin, key.verifying_key()).to_string();
    let detail = match note.event().kind.as_str() {
        "collection.founded.v1" if keys.iter().any(|key| of(text("origin"), key) == vkey) => return Ok(()),
        "collection.founded.v1" => {
            let own: Vec<String> = keys.iter().map(|key| of(text("origin"), key)).collect();
            format!("this log signs with {}; have the founding body made for it, and signed again", own.join(" or "))
        }
        REKEYED => {
            let origin = vkey.split('+').next().unwrap_or_default();
            if keys.iter().any(|key| of(origin, key) == vkey) {
                return Ok(());
            }
            "the private key of this new log key does not lie in the log's folder; `selachrond rekey DIR` makes one and shows its log_vkey"
                .to_owned()
        }
        _ => return Ok(()),
    };
    Err(Refusal::at(Problem::NotPermitted, "/data/log_vkey", detail))
}

/// The keys here that sign a checkpoint of that size (F14), the newest first.
fn signers<'a>(replay: &Replay, size: u64, keys: &'a [SigningKey]) -> Result<Vec<&'a SigningKey>, Failure> {
    let own = |wanted: &VerifierKey| {
        let found = keys.iter().find(|key| key.verifying_key() == *wanted.public_key());
        found.ok_or_else(|| {
            let said = format!("the key {wanted}, which signs this log at {size} notes, does not lie in its folder; put it back");
            Setup::NotOurs(said).into()
        })
    };
    replay.log_keys().at(size).into_iter().map(own).collect()
}
