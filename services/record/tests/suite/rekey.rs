//! The log changes its key (F14): who signs which checkpoint.

use crate::support::world::{World, leaf, post, problem};
use crate::support::{ORIGIN, START};
use ed25519_dalek::SigningKey;
use selachron_record::journal::Journal;
use selachron_schemas::note::{SignedCheckpoint, VerifierKey};
use serde_json::json;

fn key(number: u8) -> SigningKey {
    SigningKey::from_bytes(&[number; 32])
}

/// Numbers of the keys that signed the newest checkpoint, of those that these tests know.
fn signers(journal: &Journal) -> Vec<u8> {
    let handle = journal.handle();
    let published = handle.published();
    let note = SignedCheckpoint::parse(&published.head().unwrap().note).unwrap();
    let by = |number: &u8| note.signed_by(&VerifierKey::new(ORIGIN, key(*number).verifying_key()));
    let found: Vec<u8> = [99, 98, 97].into_iter().filter(by).collect();
    assert_eq!(note.signatures.len(), found.len(), "no line by anybody else");
    found
}

#[test]
fn checkpoints_bear_the_lines_of_the_keys_in_force() {
    let world = World::in_memory();
    let (journal, system) = world.founded();
    let say = |journal: &Journal| leaf(&post(journal, &[world.cast.water(&system, START, json!({}))]).unwrap()[0]).seq;
    assert_eq!((say(&journal), signers(&journal)), (5, vec![99]));
    world.log_keys.lock().unwrap().push(key(98));
    assert_eq!(leaf(&post(&journal, &[world.cast.rekeying(98, START, Some(8))]).unwrap()[0]).seq, 6);
    assert_eq!(signers(&journal), [99, 98]);
    assert_eq!((say(&journal), signers(&journal)), (7, vec![99, 98]));
    assert_eq!((say(&journal), signers(&journal)), (8, vec![98]));
    drop(journal);
    // The old key signs nothing any more and may be taken away.
    *world.log_keys.lock().unwrap() = vec![key(98)];
    let journal = world.open().unwrap();
    assert_eq!((say(&journal), signers(&journal)), (9, vec![98]));
    assert_eq!(journal.handle().published().log_keys().all().len(), 2);
}

#[test]
fn a_change_to_a_key_that_does_not_lie_here_is_refused() {
    let world = World::in_memory();
    let (journal, _) = world.founded();
    let note = world.cast.rekeying(98, START, None);
    assert_eq!(problem(&post(&journal, std::slice::from_ref(&note)).unwrap()[0]), "not-permitted");
    // The key is put there while the log is served, and the same note is taken.
    world.log_keys.lock().unwrap().push(key(98));
    assert_eq!(leaf(&post(&journal, &[note]).unwrap()[0]).seq, 5);
    assert_eq!(signers(&journal), [98]);
}

#[test]
fn a_log_whose_key_is_missing_does_not_open() {
    let world = World::in_memory();
    let (journal, _) = world.founded();
    world.log_keys.lock().unwrap().push(key(98));
    post(&journal, &[world.cast.rekeying(98, START, Some(100))]).unwrap();
    drop(journal);
    for left in [99, 98] {
        *world.log_keys.lock().unwrap() = vec![key(left)];
        let Err(said) = world.open() else { panic!("opened with {left} alone") };
        assert!(said.to_string().contains("put it back"), "{said}");
    }
}

#[test]
fn a_change_within_an_overlap_ends_it() {
    let world = World::in_memory();
    let (journal, system) = world.founded();
    world.log_keys.lock().unwrap().extend([key(98), key(97)]);
    post(&journal, &[world.cast.rekeying(98, START, Some(100))]).unwrap();
    assert_eq!(signers(&journal), [99, 98]);
    // The new key was stolen while the old one still signs: neither signs any more.
    assert_eq!(leaf(&post(&journal, &[world.cast.rekeying(97, START, None)]).unwrap()[0]).seq, 6);
    assert_eq!(signers(&journal), [97]);
    drop(journal);
    *world.log_keys.lock().unwrap() = vec![key(97)];
    let journal = world.open().unwrap();
    post(&journal, &[world.cast.water(&system, START, json!({}))]).unwrap();
    assert_eq!(signers(&journal), [97]);
}

#[test]
fn founding_and_change_are_answered_again_when_their_keys_are_gone() {
    let world = World::in_memory();
    let founding = world.cast.beginning(START).remove(0);
    let journal = world.open().unwrap();
    post(&journal, std::slice::from_ref(&founding)).unwrap();
    world.log_keys.lock().unwrap().extend([key(98), key(97)]);
    let change = world.cast.rekeying(98, START, None);
    post(&journal, std::slice::from_ref(&change)).unwrap();
    post(&journal, &[world.cast.rekeying(97, START, None)]).unwrap();
    *world.log_keys.lock().unwrap() = vec![key(97)];
    let again = post(&journal, &[founding, change]).unwrap();
    assert_eq!((leaf(&again[0]).seq, leaf(&again[1]).seq), (0, 1));
}
