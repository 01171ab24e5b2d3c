//! What any event store promises, asked of each of them.

use selachron_record::failure::Failure;
use selachron_record::store::memory::Memory;
use selachron_record::store::sqlite::Sqlite;
use selachron_record::store::{EventStore, Head, StagedEvent};
use selachron_schemas::merkle::{Hash, sha256};
use selachron_schemas::names::KeyId;
use selachron_schemas::receipt::Leaf;
use selachron_schemas::time::Instant;

/// A store, and what must live as long as it.
type Opened = (Box<dyn EventStore>, Option<tempfile::TempDir>);

fn keeps_its_promises(open: impl Fn() -> Opened) {
    for promise in [
        what_is_staged_is_seen_only_when_published,
        positions_have_no_gaps,
        an_id_is_taken_once,
        versions_count_up,
        a_group_that_fails_leaves_nothing,
        a_checkpoint_is_swapped_not_overwritten,
        a_checkpoint_is_over_what_was_staged,
        reads_come_in_pages,
        one_subject_is_read_by_version,
        a_withheld_body_goes_with_its_event,
        older_checkpoints_are_kept,
    ] {
        let (store, _folder) = open();
        promise(&*store);
    }
}

#[test]
fn memory() {
    keeps_its_promises(|| (Box::new(Memory::default()), None));
}

#[test]
fn sqlite() {
    keeps_its_promises(|| {
        let folder = tempfile::tempdir().unwrap();
        (Box::new(Sqlite::create(&folder.path().join("log.sqlite")).unwrap()), Some(folder))
    });
}

#[test]
fn every_store_is_asked() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/src/store");
    let files = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap());
    let mut stores: Vec<String> = files.filter(|name| name.ends_with(".rs") && name != "mod.rs").collect();
    stores.sort();
    assert_eq!(stores, ["memory.rs", "sqlite.rs"], "a store that is not asked for its promises");
}

pub fn event(seq: u64, subject: &str, version: u64) -> StagedEvent {
    let body = format!("{{\"body\":{seq}}}").into_bytes();
    let leaf = Leaf {
        seq,
        recorded_at: Instant(1_772_000_000_000),
        subject_version: version,
        body_sha256: sha256(&body),
        signatures: vec![(KeyId([1; 16]), [2; 64])],
    };
    StagedEvent { leaf, id: format!("id-{seq}"), kind: "egg.candled.v1".to_owned(), subject: subject.to_owned(), body, withholds: None }
}

fn root(size: u64) -> Hash {
    sha256(&size.to_be_bytes())
}

fn head(size: u64) -> Head {
    Head { size, root: root(size), note: format!("note {size}") }
}

/// Stages and publishes `count` events about one subject each.
fn grow(store: &dyn EventStore, count: u64) {
    let before = store.staged().unwrap().map_or(0, |(size, _)| size);
    let events: Vec<StagedEvent> = (before..before + count).map(|seq| event(seq, &format!("egg/{seq}"), 1)).collect();
    store.stage(&events, &root(before + count)).unwrap();
    store.publish(before, &head(before + count)).unwrap();
}

fn broken(outcome: Result<(), Failure>) {
    assert!(matches!(outcome, Err(Failure::Broken(_))), "{outcome:?}");
}

fn what_is_staged_is_seen_only_when_published(store: &dyn EventStore) {
    assert_eq!((store.head().unwrap(), store.staged().unwrap()), (None, None));
    store.stage(&[event(0, "egg/a", 1), event(1, "egg/a", 2)], &root(2)).unwrap();
    assert_eq!(store.staged().unwrap(), Some((2, root(2))));
    assert_eq!(store.read_staged(0, 9).unwrap().len(), 2);
    assert_eq!((store.head().unwrap(), store.seq_of("id-0").unwrap()), (None, None));
    assert!(store.read_all(0, 9).unwrap().is_empty() && store.read_subject("egg/a", 1, 9).unwrap().is_empty());
    store.publish(0, &head(2)).unwrap();
    assert_eq!(store.head().unwrap(), Some(head(2)));
    assert_eq!(store.seq_of("id-1").unwrap(), Some(1));
    let rows = store.read_all(0, 9).unwrap();
    assert_eq!(rows.len(), 2);
    assert_eq!((&rows[1].leaf, rows[1].body.as_ref()), (&event(1, "egg/a", 2).leaf, Some(&event(1, "egg/a", 2).body)));
}

fn positions_have_no_gaps(store: &dyn EventStore) {
    grow(store, 2);
    for wrong in [0, 1, 3] {
        broken(store.stage(&[event(wrong, "egg/x", 1)], &root(3)));
    }
    store.stage(&[event(2, "egg/x", 1)], &root(3)).unwrap();
}

fn an_id_is_taken_once(store: &dyn EventStore) {
    grow(store, 2);
    let again = StagedEvent { id: "id-0".to_owned(), ..event(2, "egg/x", 1) };
    broken(store.stage(&[again], &root(3)));
    let twice = StagedEvent { id: "id-2".to_owned(), ..event(3, "egg/y", 1) };
    broken(store.stage(&[event(2, "egg/x", 1), twice], &root(4)));
}

fn versions_count_up(store: &dyn EventStore) {
    store.stage(&[event(0, "egg/a", 1), event(1, "egg/a", 2)], &root(2)).unwrap();
    for wrong in [1, 2, 4] {
        broken(store.stage(&[event(2, "egg/a", wrong)], &root(3)));
    }
    broken(store.stage(&[event(2, "egg/b", 2)], &root(3)));
    store.stage(&[event(2, "egg/a", 3)], &root(3)).unwrap();
}

fn a_group_that_fails_leaves_nothing(store: &dyn EventStore) {
    grow(store, 1);
    broken(store.stage(&[event(1, "egg/b", 1), event(2, "egg/b", 1)], &root(3)));
    assert_eq!(store.staged().unwrap(), Some((1, root(1))));
    assert_eq!(store.read_staged(0, 9).unwrap().len(), 1);
    store.stage(&[event(1, "egg/b", 1), event(2, "egg/b", 2)], &root(3)).unwrap();
}

fn a_checkpoint_is_swapped_not_overwritten(store: &dyn EventStore) {
    grow(store, 2);
    broken(store.publish(0, &head(2)));
    store.stage(&[event(2, "egg/x", 1)], &root(3)).unwrap();
    broken(store.publish(0, &head(3)));
    broken(store.publish(1, &head(3)));
    assert_eq!(store.head().unwrap(), Some(head(2)));
    store.publish(2, &head(3)).unwrap();
    broken(store.publish(3, &head(3)));
}

fn a_checkpoint_is_over_what_was_staged(store: &dyn EventStore) {
    store.stage(&[event(0, "egg/a", 1), event(1, "egg/b", 1)], &root(2)).unwrap();
    broken(store.publish(0, &head(1)));
    broken(store.publish(0, &head(3)));
    broken(store.publish(0, &Head { root: root(9), ..head(2) }));
    assert_eq!(store.head().unwrap(), None);
}

fn reads_come_in_pages(store: &dyn EventStore) {
    grow(store, 7);
    let seqs = |from, limit| store.read_all(from, limit).unwrap().iter().map(|row| row.leaf.seq).collect::<Vec<_>>();
    assert_eq!(seqs(0, 3), [0, 1, 2]);
    assert_eq!(seqs(3, 3), [3, 4, 5]);
    assert_eq!(seqs(6, 3), [6]);
    assert!(seqs(7, 3).is_empty() && seqs(0, 0).is_empty());
}

fn one_subject_is_read_by_version(store: &dyn EventStore) {
    let events = [event(0, "egg/a", 1), event(1, "egg/b", 1), event(2, "egg/a", 2), event(3, "egg/a", 3)];
    store.stage(&events, &root(4)).unwrap();
    store.publish(0, &head(4)).unwrap();
    let seqs = |from, limit| store.read_subject("egg/a", from, limit).unwrap().iter().map(|row| row.leaf.seq).collect::<Vec<_>>();
    assert_eq!(seqs(1, 9), [0, 2, 3]);
    assert_eq!(seqs(2, 1), [2]);
    assert!(store.read_subject("egg/", 1, 9).unwrap().is_empty(), "exactly this subject");
}

fn a_withheld_body_goes_with_its_event(store: &dyn EventStore) {
    grow(store, 2);
    let withholding = StagedEvent { withholds: Some(0), ..event(2, "collection", 1) };
    store.stage(&[withholding], &root(3)).unwrap();
    store.publish(2, &head(3)).unwrap();
    let rows = store.read_all(0, 9).unwrap();
    assert_eq!(rows.iter().map(|row| row.body.is_some()).collect::<Vec<_>>(), [false, true, true]);
    let named = store.withholdings().unwrap();
    assert_eq!((named.len(), named[0].target, named[0].by), (1, 0, 2));
    broken(store.stage(&[StagedEvent { withholds: Some(3), ..event(3, "collection", 2) }], &root(4)));
}

fn older_checkpoints_are_kept(store: &dyn EventStore) {
    grow(store, 1);
    grow(store, 2);
    grow(store, 3);
    let sizes = |below, limit| store.checkpoints(below, limit).unwrap().iter().map(|head| head.size).collect::<Vec<_>>();
    assert_eq!(sizes(u64::MAX, 9), [6, 3, 1]);
    assert_eq!(sizes(6, 1), [3]);
    assert!(sizes(1, 9).is_empty());
}
