//! Opening a sealed log again (F24). It is opened only when its store reaches exactly the highest
//! checkpoint that anybody is known to hold: by putting missing leaves back verbatim, from a
//! bundle. What cannot be brought there is succeeded by another log.

use super::{Status, state};
use crate::clock::SystemClock;
use crate::failure::{Failure, Setup, io};
use crate::init::{self, STORE_FILE};
use crate::journal::outside::{FORK_PREFIX, Folder, Outside as _};
use crate::journal::read_whole;
use crate::store::sqlite::Sqlite;
use crate::store::{EventStore, StagedEvent};
use selachron_schemas::encoding::from_base64_32;
use selachron_schemas::envelope::Envelope;
use selachron_schemas::event::Event;
use selachron_schemas::merkle::Hash;
use selachron_schemas::note::{Checkpoint, SignedCheckpoint};
use selachron_schemas::receipt::{Leaf, Receipt};
use selachron_schemas::replay::Replay;
use serde_json::{Map, Value};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// What somebody holds of this log.
struct Known {
    whence: String,
    note: SignedCheckpoint,
}

/// Opens a sealed log again: with `seen`, checkpoints or receipts that others kept, and
/// `bundle`, the folder of a bundle that holds what the store lacks.
///
/// # Errors
/// `Refused`, saying what the store does not reach; the log stays sealed, and whatever was put
/// back stays, for it is the log's own.
pub fn unseal(folder: &Path, seen: &[PathBuf], bundle: Option<&Path>) -> Result<Status, Failure> {
    let lock = init::lock(folder)?;
    let outside = Folder::new(folder);
    if outside.sealed()?.is_none() {
        return Err(refused("this log is not sealed"));
    }
    if seen.is_empty() && bundle.is_none() {
        return Err(refused("a store cannot vouch for itself: give a checkpoint or receipt that somebody else kept, or a bundle"));
    }
    let store = Sqlite::open(&folder.join(STORE_FILE))?;
    let known = known(folder, &outside, &store, seen, bundle)?;
    if let Some(bundle) = bundle {
        put_back(&store, bundle)?;
    }
    let highest = check(&read_whole(&store)?, &known)?;
    outside.set_mark(&highest.to_note())?;
    outside.break_seal()?;
    drop(store);
    // Opening it signs what was put back: the same leaves, the same key, so the same note.
    let journal = init::open_journal(folder, Arc::new(SystemClock))?;
    let head = journal.handle().published().head().cloned();
    drop((journal, lock));
    state(folder, head, false)
}

pub(super) fn refused(said: impl Into<String>) -> Failure {
    Setup::Refused(said.into()).into()
}

fn known(folder: &Path, outside: &Folder, store: &Sqlite, seen: &[PathBuf], bundle: Option<&Path>) -> Result<Vec<Known>, Failure> {
    let note = |whence: &str, text: &str| {
        let note = SignedCheckpoint::parse(text).map_err(|reason| refused(format!("{whence}: {reason}")))?;
        Ok::<_, Failure>(Known { whence: whence.to_owned(), note })
    };
    let mut known = Vec::new();
    if let Some(mark) = outside.mark()? {
        known.push(note("the high-water mark", &mark)?);
    }
    if let Some(head) = store.head()? {
        known.push(note("the store", &head.note)?);
    }
    for path in seen.iter().cloned().chain(bundle.map(|bundle| bundle.join("checkpoint"))) {
        let text = read(&path)?;
        let whence = path.display().to_string();
        // A receipt has its checkpoint at its end.
        known.push(match Receipt::parse(&text) {
            Ok(receipt) => Known { whence, note: receipt.checkpoint },
            Err(_) => note(&whence, &text)?,
        });
    }
    known.extend(forks(folder)?);
    Ok(known)
}

pub(super) fn read(path: &Path) -> Result<String, Failure> {
    std::fs::read_to_string(path).map_err(|error| io(format!("reading {}", path.display()), &error))
}

/// The checkpoints in notes that showed a fork, kept beside the log (F13).
fn forks(folder: &Path) -> Result<Vec<Known>, Failure> {
    let entries = std::fs::read_dir(folder).map_err(|error| io("reading the folder", &error))?;
    let names = entries.flatten().map(|entry| entry.path());
    let kept = names.filter(|path| path.file_name().is_some_and(|name| name.to_string_lossy().starts_with(FORK_PREFIX)));
    let mut known = Vec::new();
    for path in kept {
        let whence = path.display().to_string();
        let note = fork(&read(&path)?).ok_or_else(|| refused(format!("{whence} is not a note that says what its device had seen")))?;
        known.push(Known { whence, note });
    }
    Ok(known)
}

fn fork(envelope: &str) -> Option<SignedCheckpoint> {
    let event = Event::parse(&Envelope::read(envelope.as_bytes()).ok()?.body).ok()?;
    let seen = event.seen?;
    let checkpoint = Checkpoint { origin: event.source.strip_prefix("https://")?.to_owned(), size: seen.size, root: seen.root };
    SignedCheckpoint::parse(&checkpoint.with_signature(&seen.signature)).ok()
}

/// The highest of what is known, if the store reaches exactly there.
fn check<'a>(replay: &Replay, known: &'a [Known]) -> Result<&'a SignedCheckpoint, Failure> {
    for Known { whence, note } in known {
        if !replay.log_keys().vouch_for(note) {
            return Err(refused(format!("{whence} holds no checkpoint that this log has signed")));
        }
        let Checkpoint { size, root, .. } = &note.checkpoint;
        match replay.tree().root(*size) {
            None => {
                let held = replay.size();
                return Err(refused(format!(
                    "{whence} stands at {size} notes and the store holds {held}: put the missing ones back with --bundle, or found a successor"
                )));
            }
            Some(own) if own != *root => {
                return Err(refused(format!(
                    "{whence} has another root over the first {size} notes: the log has forked; found a successor"
                )));
            }
            Some(_) => {}
        }
    }
    let highest = known.iter().map(|known| &known.note).max_by_key(|note| note.checkpoint.size);
    match highest {
        Some(note) if note.checkpoint.size == replay.size() => Ok(note),
        _ => {
            let said =
                "the store holds notes beyond every checkpoint that is known; give the newest that anybody holds, or a copy made later";
            Err(refused(said))
        }
    }
}

/// Stages the leaves of a bundle that the store lacks, byte for byte as they were.
fn put_back(store: &dyn EventStore, bundle: &Path) -> Result<(), Failure> {
    let replay = read_whole(store)?;
    let held = usize::try_from(replay.size()).unwrap_or(usize::MAX);
    let (leaves, envelopes) = (read(&bundle.join("leaves"))?, read(&bundle.join("envelopes.ndjson"))?);
    let rows: Vec<(&str, &str)> = leaves.split_terminator("\n\n").zip(envelopes.lines()).skip(held).collect();
    let facts = withheld_facts(&rows);
    let events = rows.iter().map(|(leaf, envelope)| missing(leaf, envelope, &facts)).collect::<Result<Vec<_>, _>>()?;
    let mut tree = replay.tree().clone();
    events.iter().for_each(|event| tree.push(event.leaf.hash()));
    let checkpoint = SignedCheckpoint::parse(&read(&bundle.join("checkpoint"))?).map_err(refused)?;
    let reached = (checkpoint.checkpoint.size, Some(checkpoint.checkpoint.root)) == (tree.size(), tree.root(tree.size()));
    if !reached || !replay.log_keys().vouch_for(&checkpoint) {
        return Err(refused("the bundle's leaves, laid after the store's, do not reach a checkpoint of this log; nothing was put back"));
    }
    match (events.is_empty(), tree.root(tree.size())) {
        (false, Some(root)) => store.stage(&events, &root),
        _ => Ok(()),
    }
}

/// What the `body.withheld` notes among the missing rows say of the notes whose bodies they took.
pub(super) fn withheld_facts(rows: &[(&str, &str)]) -> BTreeMap<u64, Map<String, Value>> {
    let events = rows.iter().filter_map(|(_, envelope)| Event::parse(&Envelope::read(envelope.as_bytes()).ok()?.body).ok());
    let withholding = events.filter(|event| event.kind == WITHHELD);
    withholding.filter_map(|event| Some((event.data.get("seq")?.as_u64()?, event.data))).collect()
}

const WITHHELD: &str = "body.withheld.v1";

pub(super) fn missing(leaf: &str, envelope: &str, facts: &BTreeMap<u64, Map<String, Value>>) -> Result<StagedEvent, Failure> {
    let leaf = Leaf::parse(&format!("{leaf}\n")).ok_or_else(|| refused("the bundle's leaves cannot be read"))?;
    let wrong = |reason: String| refused(format!("seq {}: {reason}", leaf.seq));
    if let Some(hash) = withheld_line(envelope) {
        let facts = facts.get(&leaf.seq).filter(|_| hash == leaf.body_sha256);
        return placeholder(leaf, facts.ok_or_else(|| refused("the bundle holds a withheld line that no note in it accounts for"))?);
    }
    let body = Envelope::read(envelope.as_bytes()).map_err(|_| wrong("the bundle does not hold its body".to_owned()))?.body;
    let event = Event::parse(&body).map_err(|refusal| wrong(refusal.to_string()))?;
    let withholds = if event.kind == WITHHELD { event.data.get("seq").and_then(Value::as_u64) } else { None };
    Ok(StagedEvent { id: event.id, kind: event.kind, subject: event.subject.as_str().to_owned(), body, withholds, leaf })
}

fn withheld_line(line: &str) -> Option<Hash> {
    let line: Map<String, Value> = serde_json::from_str(line).ok()?;
    line.get("withheld").and_then(Value::as_str).and_then(from_base64_32)
}

/// A note whose body is withheld: an empty one stands in for it until, in the same transaction,
/// the note that withholds it takes it away.
fn placeholder(leaf: Leaf, facts: &Map<String, Value>) -> Result<StagedEvent, Failure> {
    let text = |name: &str| facts.get(name).and_then(Value::as_str).map(str::to_owned);
    let unfit = || refused("what withholds a body in the bundle does not say what it was");
    let (id, kind, subject) = (text("id").ok_or_else(unfit)?, text("kind").ok_or_else(unfit)?, text("subject").ok_or_else(unfit)?);
    Ok(StagedEvent { leaf, id, kind, subject, body: Vec::new(), withholds: None })
}
