//! Crashes and lies of the store, at every step. A step is before or after one call to the store
//! or to what is outside of it; a failure names store and step, and they fail again alike.

use crate::support::world::{World, leaf, post};
use crate::support::{START, body_of};
use ed25519_dalek::SigningKey;
use selachron_record::failure::{Broken, Busy, Failure};
use selachron_record::journal::outside::{MemoryOutside, Outside};
use selachron_record::journal::published::Condition;
use selachron_record::journal::writer::Parts;
use selachron_record::journal::{Answer, Journal};
use selachron_record::store::memory::Memory;
use selachron_record::store::sqlite::Sqlite;
use selachron_record::store::{EventStore, Head, StagedEvent, StoredEvent, Withholding};
use selachron_schemas::merkle::Hash;
use selachron_schemas::receipt::{Leaf, Receipt};
use serde_json::json;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Counts steps, and is dead from one of them on.
struct Fuse {
    step: AtomicUsize,
    dies_at: usize,
}

impl Fuse {
    fn dying_at(dies_at: usize) -> Arc<Self> {
        Arc::new(Self { step: AtomicUsize::new(0), dies_at })
    }

    fn step(&self) -> Result<(), Failure> {
        if self.step.fetch_add(1, Ordering::SeqCst) >= self.dies_at {
            return Err(Broken::new("crashed").into());
        }
        Ok(())
    }

    fn around<T>(&self, call: impl FnOnce() -> Result<T, Failure>) -> Result<T, Failure> {
        self.step()?;
        let outcome = call();
        self.step()?;
        outcome
    }

    fn burnt(&self) -> bool {
        self.step.load(Ordering::SeqCst) > self.dies_at
    }
}

struct Faulty {
    inner: Arc<dyn EventStore>,
    fuse: Arc<Fuse>,
}

impl EventStore for Faulty {
    fn stage(&self, events: &[StagedEvent], root: &Hash) -> Result<(), Failure> {
        self.fuse.around(|| self.inner.stage(events, root))
    }
    fn publish(&self, before: u64, head: &Head) -> Result<(), Failure> {
        self.fuse.around(|| self.inner.publish(before, head))
    }
    fn head(&self) -> Result<Option<Head>, Failure> {
        self.inner.head()
    }
    fn staged(&self) -> Result<Option<(u64, Hash)>, Failure> {
        self.inner.staged()
    }
    fn read_all(&self, from: u64, limit: usize) -> Result<Vec<StoredEvent>, Failure> {
        self.inner.read_all(from, limit)
    }
    fn read_staged(&self, from: u64, limit: usize) -> Result<Vec<StoredEvent>, Failure> {
        self.fuse.around(|| self.inner.read_staged(from, limit))
    }
    fn read_subject(&self, subject: &str, from_version: u64, limit: usize) -> Result<Vec<StoredEvent>, Failure> {
        self.inner.read_subject(subject, from_version, limit)
    }
    fn seq_of(&self, id: &str) -> Result<Option<u64>, Failure> {
        self.inner.seq_of(id)
    }
    fn withholdings(&self) -> Result<Vec<Withholding>, Failure> {
        self.inner.withholdings()
    }
    fn checkpoints(&self, below: u64, limit: usize) -> Result<Vec<Head>, Failure> {
        self.inner.checkpoints(below, limit)
    }
    fn copy_to(&self, file: &Path) -> Result<(), Failure> {
        self.inner.copy_to(file)
    }
}

struct FaultyOutside {
    inner: MemoryOutside,
    fuse: Arc<Fuse>,
}

impl Outside for FaultyOutside {
    fn marks(&self) -> Result<Vec<String>, Failure> {
        self.inner.marks()
    }
    fn set_mark(&self, note: &str) -> Result<(), Failure> {
        self.fuse.around(|| self.inner.set_mark(note))
    }
    fn sealed(&self) -> Result<Option<String>, Failure> {
        self.inner.sealed()
    }
    fn seal(&self, reason: &str) -> Result<(), Failure> {
        self.inner.seal(reason)
    }
    fn keep(&self, name: &str, text: &str) -> Result<(), Failure> {
        self.inner.keep(name, text)
    }
}

/// Receipts that went out before the crash.
fn season(world: &World, fuse: &Arc<Fuse>) -> Vec<String> {
    let parts = Parts {
        store: Arc::new(Faulty { inner: world.store.clone(), fuse: fuse.clone() }),
        outside: Box::new(FaultyOutside { inner: world.outside.clone(), fuse: fuse.clone() }),
        ..world.parts()
    };
    let Ok(journal) = Journal::open(parts) else { return Vec::new() };
    let mut receipts = Vec::new();
    let (system, set_up) = world.cast.system(START);
    let mut batches = vec![world.cast.beginning(START), vec![set_up]];
    world.log_keys.lock().unwrap().push(SigningKey::from_bytes(&[98; 32]));
    batches.push(vec![world.cast.rekeying(98, START, Some(9))]);
    batches.extend((0..3).map(|_| vec![world.cast.water(&system, START, json!({})), world.cast.water(&system, START, json!({}))]));
    for batch in batches {
        for answer in post(&journal, &batch).unwrap_or_default() {
            if let Answer::Recorded { leaf, .. } = answer {
                receipts.push(journal.handle().published().receipt(&leaf).unwrap().0);
            }
        }
    }
    receipts
}

fn a_crash_loses_nothing(name: &str, open: impl Fn(&Path) -> Arc<dyn EventStore>, reopen: impl Fn(&Path) -> Option<Arc<dyn EventStore>>) {
    for step in 0.. {
        let folder = tempfile::tempdir().unwrap();
        let mut world = World::over(open(folder.path()));
        let fuse = Fuse::dying_at(step);
        let receipts = season(&world, &fuse);
        if let Some(store) = reopen(folder.path()) {
            world.store = store;
        }
        let journal = world.open().unwrap_or_else(|failure| panic!("{name}, step {step}: {failure}"));
        assert_eq!(journal.handle().condition(), Condition::Writing, "{name}, step {step}");
        for receipt in &receipts {
            holds(&journal, receipt, &format!("{name}, step {step}"));
        }
        assert!(post(&journal, &world.cast.beginning(START)).is_ok(), "{name}, step {step}: it goes on");
        if !fuse.burnt() {
            assert_eq!(receipts.len(), 12);
            assert!(step > 20, "{name}: only {step} steps were tried");
            return;
        }
    }
}

#[track_caller]
fn holds(journal: &Journal, receipt: &str, at: &str) {
    let receipt = Receipt::parse(receipt).unwrap();
    let handle = journal.handle();
    let published = handle.published();
    let checkpoint = &receipt.checkpoint.checkpoint;
    let keys = published.log_keys().at(checkpoint.size);
    assert!(!keys.is_empty(), "{at}: nobody signs at {}", checkpoint.size);
    keys.into_iter().for_each(|key| receipt.check(key).unwrap_or_else(|reason| panic!("{at}: {reason}")));
    assert_eq!(published.root(checkpoint.size), Some(checkpoint.root), "{at}: a receipt's checkpoint is gone");
    assert_eq!(published.leaf_hash(receipt.leaf.seq), Some(receipt.leaf.hash()), "{at}: {:?} is gone", receipt.leaf);
}

#[test]
fn a_crash_at_any_step_loses_nothing_that_was_receipted() {
    a_crash_loses_nothing("memory", |_| Arc::new(Memory::default()), |_| None);
}

#[test]
fn a_crash_at_any_step_loses_nothing_on_disk_either() {
    let file = |folder: &Path| folder.join("log.sqlite");
    a_crash_loses_nothing(
        "sqlite",
        |folder| Arc::new(Sqlite::create(&file(folder)).unwrap()),
        |folder| Some(Arc::new(Sqlite::open(&file(folder)).unwrap())),
    );
}

type Lie = fn(&mut Vec<StoredEvent>);

/// A store that lies when it is read back.
struct Lying {
    inner: Arc<dyn EventStore>,
    lie: Lie,
}

impl EventStore for Lying {
    fn stage(&self, events: &[StagedEvent], root: &Hash) -> Result<(), Failure> {
        self.inner.stage(events, root)
    }
    fn publish(&self, before: u64, head: &Head) -> Result<(), Failure> {
        self.inner.publish(before, head)
    }
    fn head(&self) -> Result<Option<Head>, Failure> {
        self.inner.head()
    }
    fn staged(&self) -> Result<Option<(u64, Hash)>, Failure> {
        self.inner.staged()
    }
    fn read_all(&self, from: u64, limit: usize) -> Result<Vec<StoredEvent>, Failure> {
        self.inner.read_all(from, limit)
    }
    fn read_staged(&self, from: u64, limit: usize) -> Result<Vec<StoredEvent>, Failure> {
        let mut rows = self.inner.read_staged(from, limit)?;
        if rows.iter().any(|row| row.leaf.seq >= 5) {
            (self.lie)(&mut rows);
        }
        Ok(rows)
    }
    fn read_subject(&self, subject: &str, from_version: u64, limit: usize) -> Result<Vec<StoredEvent>, Failure> {
        self.inner.read_subject(subject, from_version, limit)
    }
    fn seq_of(&self, id: &str) -> Result<Option<u64>, Failure> {
        self.inner.seq_of(id)
    }
    fn withholdings(&self) -> Result<Vec<Withholding>, Failure> {
        self.inner.withholdings()
    }
    fn checkpoints(&self, below: u64, limit: usize) -> Result<Vec<Head>, Failure> {
        self.inner.checkpoints(below, limit)
    }
    fn copy_to(&self, file: &Path) -> Result<(), Failure> {
        self.inner.copy_to(file)
    }
}

#[test]
fn what_is_read_back_wrongly_is_never_signed() {
    let lies: [(u64, Lie); 5] = [
        (6, |rows| rows[1].body.as_mut().unwrap().push(b' ')),
        (6, |rows| rows[1].leaf.recorded_at = START),
        (5, |rows| rows[0].body = None),
        (5, |rows| rows.truncate(1)),
        (5, |rows| rows.swap(0, 1)),
    ];
    for (number, (seq, lie)) in lies.into_iter().enumerate() {
        let honest: Arc<dyn EventStore> = Arc::new(Memory::default());
        let world = World::over(Arc::new(Lying { inner: honest.clone(), lie }));
        let (journal, system) = world.founded();
        let mark = world.outside.mark().unwrap();
        let notes = [world.cast.water(&system, START, json!({})), world.cast.water(&system, START, json!({}))];
        let answers = post(&journal, &notes).unwrap();
        let Answer::NotNow { failure: Failure::Broken(broken), .. } = &answers[0] else { panic!("lie {number}: {answers:?}") };
        assert_eq!(broken.seq, Some(seq), "lie {number}: {broken}");
        assert_eq!(world.outside.mark().unwrap(), mark, "lie {number}: nothing was signed");
        assert_eq!((honest.head().unwrap().unwrap().size, journal.handle().published().size()), (5, 5));
        assert!(matches!(post(&journal, &notes), Err(Failure::Broken(_))), "lie {number}: writing has stopped");
        drop(journal);
        // Opened over the honest store, what was staged is checked, signed and published.
        let world = World { store: honest, ..world };
        let journal = world.open().unwrap();
        assert_eq!(journal.handle().published().size(), 7);
        assert_eq!(leaf(&post(&journal, &notes).unwrap()[1]).seq, 6, "a repeat of what was staged");
    }
}

#[test]
fn a_staged_row_that_nobody_signed_is_not_published() {
    let world = World::in_memory();
    let (journal, system) = world.founded();
    let first = leaf(&post(&journal, &[world.cast.water(&system, START, json!({}))]).unwrap()[0]).clone();
    drop(journal);
    let mut body = body_of(&world.cast.water(&system, START, json!({})));
    body["data"]["temperature_c"] = json!(4);
    let body = body.to_string().into_bytes();
    let leaf = Leaf { seq: 6, subject_version: 3, body_sha256: selachron_schemas::merkle::sha256(&body), ..first };
    let staged = StagedEvent { id: "x".to_owned(), kind: "water.measured.v1".to_owned(), subject: system, withholds: None, body, leaf };
    let mut tree = selachron_schemas::merkle::Tree::default();
    world.store.read_all(0, 9).unwrap().iter().for_each(|row| tree.push(row.leaf.hash()));
    tree.push(staged.leaf.hash());
    world.store.stage(&[staged], &tree.root(7).unwrap()).unwrap();
    let Err(Failure::Broken(broken)) = world.open() else { panic!("opened over a forged row") };
    assert_eq!(broken.seq, Some(6), "{broken}");
    assert_eq!(world.store.head().unwrap().unwrap().size, 6);
}

#[test]
fn a_full_disk_is_said_and_loses_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let store = Arc::new(Sqlite::create(&folder.path().join("log.sqlite")).unwrap());
    let world = World::over(store.clone());
    let (journal, system) = world.founded();
    store.limit_pages(20).unwrap();
    let mut receipted = 0;
    let full = loop {
        let notes: Vec<_> = (0..64).map(|_| world.cast.water(&system, START, json!({}))).collect();
        match &post(&journal, &notes).unwrap()[0] {
            Answer::Recorded { .. } => receipted += 64,
            Answer::NotNow { failure, .. } => break failure.clone(),
            Answer::Refused { refusal, .. } => panic!("{refusal}"),
        }
    };
    assert_eq!(full, Failure::Busy(Busy::DiskFull));
    assert!(receipted > 0);
    assert_eq!(journal.handle().condition(), Condition::Writing, "room may be made");
    store.limit_pages(100_000).unwrap();
    post(&journal, &[world.cast.water(&system, START, json!({}))]).unwrap();
    assert_eq!(journal.handle().published().size(), 5 + receipted + 1);
}

#[test]
fn a_body_changed_on_disk_is_found_and_named() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("log.sqlite");
    let mut world = World::over(Arc::new(Sqlite::create(&file).unwrap()));
    let (journal, system) = world.founded();
    post(&journal, &[world.cast.water(&system, START, json!({}))]).unwrap();
    let handle = journal.handle();
    assert_eq!(selachron_record::journal::scrub::pass(&handle, 0).unwrap(), 0);
    // Somebody who can write the file can drop its triggers; the tree makes it evident.
    let other = rusqlite::Connection::open(&file).unwrap();
    other
        .execute_batch("DROP TRIGGER bodies_are_never_updated; UPDATE bodies SET body = CAST(replace(CAST(body AS TEXT), '19.5', '4.50') AS BLOB) WHERE seq = 5")
        .unwrap();
    drop(other);
    let Err(Failure::Broken(broken)) = selachron_record::journal::scrub::pass(&handle, 0) else { panic!("the scrub saw nothing") };
    assert_eq!(broken.seq, Some(5));
    drop((journal, handle));
    world.store = Arc::new(Sqlite::open(&file).unwrap());
    let Err(Failure::Broken(broken)) = world.open() else { panic!("opened") };
    assert_eq!(broken.seq, Some(5), "{broken}");
}
