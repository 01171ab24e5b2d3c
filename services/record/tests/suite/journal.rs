//! The journal's own behaviour, over a store in memory.

use crate::support::world::{World, failure, leaf, post, problem};
use crate::support::{START, Signer, body_of, envelope};
use selachron_record::failure::{Busy, Failure};
use selachron_record::journal::outside::Outside as _;
use selachron_record::journal::published::Condition;
use selachron_record::journal::{Answer, Submitted};
use selachron_schemas::encoding::base64;
use selachron_schemas::merkle::consistent;
use selachron_schemas::note::SignedCheckpoint;
use selachron_schemas::receipt::Receipt;
use serde_json::json;

#[test]
fn a_batch_may_found_enrol_and_write() {
    let world = World::in_memory();
    let (journal, _) = world.founded();
    let handle = journal.handle();
    let published = handle.published();
    assert_eq!(published.size(), 5);
    let note = SignedCheckpoint::parse(&published.head().unwrap().note).unwrap();
    assert!(note.signed_by(&world.cast.log_vkey()));
    assert_eq!(world.outside.mark().unwrap(), published.head().map(|head| head.note.clone()));
}

#[test]
fn a_note_by_a_key_enrolled_earlier_in_its_batch_is_taken() {
    let world = World::in_memory();
    let (journal, system) = world.founded();
    let cast = &world.cast;
    let newcomer = Signer::new(6);
    let body = cast.body(&newcomer, "water.measured.v1", &system, START, json!({"temperature_c": 18, "instrument": "probe 3"}), json!({}));
    let note = envelope(&body, &[&newcomer]);
    assert_eq!(problem(&post(&journal, std::slice::from_ref(&note)).unwrap()[0]), "signer-unknown");
    let enrolment = cast.enrolment(&cast.registrar, &[&cast.registrar], &newcomer, &["keeper"], START);
    let answers = post(&journal, &[note.clone(), enrolment, note.clone()]).unwrap();
    assert_eq!(problem(&answers[0]), "signer-unknown");
    assert_eq!((leaf(&answers[1]).seq, leaf(&answers[2]).seq), (5, 6));
    assert_eq!(leaf(&answers[1]).recorded_at, leaf(&answers[2]).recorded_at);
}

#[test]
fn a_repeat_gets_the_same_leaf_and_another_body_under_its_id_does_not() {
    let world = World::in_memory();
    let (journal, system) = world.founded();
    let note = world.cast.water(&system, START, json!({}));
    let answers = post(&journal, &[note.clone(), note.clone()]).unwrap();
    let (first, second) = (leaf(&answers[0]), leaf(&answers[1]));
    assert_eq!(first, second);
    assert!(matches!(answers[1], Answer::Recorded { new: false, .. }));
    world.clock.advance_ms(60_000);
    post(&journal, &[world.cast.water(&system, START, json!({}))]).unwrap();
    let again = post(&journal, std::slice::from_ref(&note)).unwrap();
    assert_eq!(leaf(&again[0]), first);
    let (receipt, size) = journal.handle().published().receipt(first).unwrap();
    assert_eq!(size, 7, "under the newest checkpoint");
    Receipt::parse(&receipt).unwrap().check(&world.cast.log_vkey()).unwrap();
    let id = body_of(&note)["id"].clone();
    let other = world.cast.water(&system, START, json!({"id": id}));
    assert_eq!(problem(&post(&journal, &[other]).unwrap()[0]), "id-reused");
}

#[test]
fn a_wrong_expectation_is_refused_and_the_right_one_is_taken() {
    let world = World::in_memory();
    let (journal, system) = world.founded();
    let with = |expect: u32| world.cast.water(&system, START, json!({"expect": expect}));
    let answers = post(&journal, &[with(0), with(1), with(1), with(2)]).unwrap();
    assert_eq!(problem(&answers[0]), "expect-failed");
    assert_eq!(leaf(&answers[1]).subject_version, 2);
    assert_eq!(problem(&answers[2]), "expect-failed");
    assert_eq!(leaf(&answers[3]).subject_version, 3);
}

#[test]
fn recorded_at_only_grows_and_a_clock_that_goes_back_stops_writing() {
    let world = World::in_memory();
    let (journal, system) = world.founded();
    let write = || post(&journal, &[world.cast.water(&system, START, json!({}))]).unwrap().remove(0);
    let first = leaf(&write()).recorded_at;
    world.clock.advance_ms(-5_000);
    assert_eq!(leaf(&write()).recorded_at, first.plus_ms(1), "within CLOCK_BACK");
    world.clock.advance_ms(-1);
    let Failure::Busy(Busy::ClockWentBack { back_ms }) = failure(&write()).clone() else { panic!("written with a clock gone back") };
    assert_eq!(back_ms, 5_001);
    assert_eq!(journal.handle().published().size(), 7);
    world.clock.advance_ms(10_000);
    assert_eq!(leaf(&write()).seq, 7);
}

#[test]
fn a_log_opened_with_a_clock_behind_it_does_not_write() {
    let world = World::in_memory();
    let (journal, system) = world.founded();
    drop(journal);
    world.clock.advance_ms(-60_000);
    let journal = world.open().unwrap();
    let answer = post(&journal, &[world.cast.water(&system, START.plus_ms(-60_000), json!({}))]).unwrap().remove(0);
    assert!(matches!(failure(&answer), Failure::Busy(Busy::ClockWentBack { .. })));
}

#[test]
fn what_a_device_has_seen_is_proved_or_refused_or_seals() {
    let world = World::in_memory();
    let (journal, system) = world.founded();
    let handle = journal.handle();
    let head = handle.published().head().cloned().unwrap();
    let seen = |size: u64, root: &[u8; 32], signature: &[u8]| {
        world.cast.water(&system, START, json!({"seensize": size, "seenroot": base64(root), "seensig": base64(signature)}))
    };
    let signature = SignedCheckpoint::parse(&head.note).unwrap().signature_of(&world.cast.log_vkey()).unwrap();
    let answers = post(&journal, &[seen(head.size, &head.root, &signature), seen(head.size, &[1; 32], &signature)]).unwrap();
    let Answer::Recorded { seen_size: Some(5), .. } = &answers[0] else { panic!("{:?}", answers[0]) };
    assert_eq!(problem(&answers[1]), "seen-signature-invalid");
    let published = handle.published().clone();
    let proof = published.consistency(5, 6).unwrap();
    assert!(consistent(5, &head.root, 6, &published.root(6).unwrap(), &proof));

    // A checkpoint that this log's key has signed, over more notes than the log holds.
    let lost = selachron_schemas::note::Checkpoint { origin: crate::support::ORIGIN.to_owned(), size: 99, root: [3; 32] };
    let note = SignedCheckpoint::parse(&lost.sign(&[&world.cast.log])).unwrap();
    let evidence = seen(99, &[3; 32], &note.signature_of(&world.cast.log_vkey()).unwrap());
    let fine = world.cast.water(&system, START, json!({}));
    let answers = post(&journal, &[fine.clone(), evidence.clone()]).unwrap();
    assert!(answers.iter().all(|answer| matches!(failure(answer), Failure::Sealed(_))), "{answers:?}");
    assert_eq!(handle.published().size(), 6, "nothing is signed any more");
    assert_eq!(world.outside.kept()[0].1.as_bytes(), evidence, "the note is kept beside the log");
    assert!(matches!(post(&journal, std::slice::from_ref(&fine)), Err(Failure::Sealed(_))));
    drop(journal);
    let reopened = world.open().unwrap();
    assert!(matches!(reopened.handle().condition(), Condition::Sealed(_)), "a seal outlives the process");
    assert_eq!(reopened.handle().published().size(), 6, "and the log goes on proving");
}

#[test]
fn a_mark_ahead_of_the_store_seals() {
    let world = World::in_memory();
    let (journal, _) = world.founded();
    drop(journal);
    let ahead = selachron_schemas::note::Checkpoint { origin: crate::support::ORIGIN.to_owned(), size: 6, root: [3; 32] };
    world.outside.set_mark(&ahead.sign(&[&world.cast.log])).unwrap();
    let journal = world.open().unwrap();
    assert!(matches!(journal.handle().condition(), Condition::Sealed(reason) if reason.contains("6 notes")));
    assert_eq!(journal.handle().published().size(), 5);
}

#[test]
fn a_mark_with_another_root_or_none_at_all_seals() {
    for wrong in [Some(5), None] {
        let world = World::in_memory();
        drop(world.founded());
        let outside = selachron_record::journal::outside::MemoryOutside::default();
        if let Some(size) = wrong {
            let other = selachron_schemas::note::Checkpoint { origin: crate::support::ORIGIN.to_owned(), size, root: [3; 32] };
            outside.set_mark(&other.sign(&[&world.cast.log])).unwrap();
        }
        let world = World { outside, ..world };
        assert!(matches!(world.open().unwrap().handle().condition(), Condition::Sealed(_)), "{wrong:?}");
    }
}

#[test]
fn a_mark_behind_the_store_is_raised() {
    let world = World::in_memory();
    let (journal, system) = world.founded();
    let old = world.outside.mark().unwrap().unwrap();
    post(&journal, &[world.cast.water(&system, START, json!({}))]).unwrap();
    let new = world.outside.mark().unwrap();
    drop(journal);
    world.outside.set_mark(&old).unwrap();
    let journal = world.open().unwrap();
    assert_eq!(journal.handle().condition(), Condition::Writing);
    assert_eq!(world.outside.mark().unwrap(), new);
}

#[test]
fn a_full_queue_says_busy_and_loses_nothing() {
    let world = World::in_memory();
    let (journal, system) = world.founded();
    let handle = journal.handle();
    let gate = handle.gate();
    let note = Submitted::open(&gate, &world.cast.water(&system, START, json!({})));
    let runtime = tokio::runtime::Builder::new_current_thread().build().unwrap();
    // Holding the published log keeps the journal from publishing, so that its queue fills.
    let held = handle.published();
    let mut waiting = Vec::new();
    let refused = loop {
        let mut answer = Box::pin(handle.record(vec![note.clone()]));
        let polled = runtime.block_on(async { std::future::poll_fn(|cx| std::task::Poll::Ready(answer.as_mut().poll(cx))).await });
        match polled {
            std::task::Poll::Pending => waiting.push(answer),
            std::task::Poll::Ready(outcome) => break outcome,
        }
        assert!(waiting.len() < 10_000, "the queue has no end");
    };
    assert_eq!(refused, Err(Failure::Busy(Busy::QueueFull)));
    drop(held);
    for answer in waiting {
        let answers = runtime.block_on(answer).unwrap();
        assert_eq!(leaf(&answers[0]).seq, 5);
    }
    assert_eq!(handle.published().size(), 6);
}

#[test]
fn a_founding_for_another_log_key_is_refused() {
    let world = World::in_memory();
    let founding = world.cast.founding(START);
    *world.log_keys.lock().unwrap() = vec![ed25519_dalek::SigningKey::from_bytes(&[98; 32])];
    let journal = world.open().unwrap();
    assert_eq!(problem(&post(&journal, &[founding]).unwrap()[0]), "not-permitted");
    assert_eq!(journal.handle().published().size(), 0);
}

#[test]
fn a_withheld_body_is_gone_and_the_log_opens_without_it() {
    let world = World::in_memory();
    let (journal, system) = world.founded();
    let cast = &world.cast;
    let water = cast.water(&system, START, json!({}));
    post(&journal, std::slice::from_ref(&water)).unwrap();
    let body = body_of(&water);
    let data = json!({
        "seq": 5, "id": body["id"], "kind": body["type"], "subject": body["subject"], "time": body["time"], "keyid": body["keyid"],
        "keycount": body["keycount"], "reason": "names a person", "authority": "privacy law", "replacement": {"temperature_c": 19.5, "instrument": "probe 3"},
    });
    let withheld = cast.body(&cast.registrar, "body.withheld.v1", "collection", START, data, json!({}));
    let answers = post(&journal, &[envelope(&withheld, &[&cast.registrar, &cast.curator])]).unwrap();
    assert_eq!(leaf(&answers[0]).seq, 6);
    let rows = world.store.read_all(5, 2).unwrap();
    assert_eq!(rows[0].body, None);
    assert!(rows[1].body.is_some());
    assert_eq!(journal.handle().published().withheld_below(7), 1);
    let before = journal.handle().published().root(7);
    drop(journal);
    let journal = world.open().unwrap();
    assert_eq!(journal.handle().published().root(7), before);
    assert_eq!(leaf(&post(&journal, &[cast.water(&system, START, json!({}))]).unwrap()[0]).subject_version, 3);
    assert_eq!(leaf(&post(&journal, &[water]).unwrap()[0]).seq, 5, "its id still names it");
}
