//! "Recorded" is said only of notes whose receipts were checked; everything else keeps the note.

use crate::stub::Lie;
use crate::world::World;
use selachron_cli::answer::Outcome;
use selachron_cli::fault::Fault;
use selachron_cli::seal;
use selachron_schemas::limits::BATCH_EVENTS_MAX;
use selachron_schemas::receipt::Receipt;

#[test]
fn a_recorded_note_leaves_the_outbox_with_a_receipt_that_holds() {
    let world = World::founded();
    let recorded = world.client.record(&world.keeper, &world.tank("T1"), &[]).expect("recorded");
    assert_eq!(recorded.seq + 1, world.size() as u64);
    assert_eq!(recorded.created, std::slice::from_ref(&recorded.subject));
    let receipt = Receipt::parse(&recorded.receipt).expect("a receipt");
    receipt.check(&world.stub.state().vkey()).expect("it holds");
    assert!(world.keeper.waiting().expect("notes").is_empty());
    assert_eq!(world.client.seen().expect("a checkpoint").map(|seen| seen.size), Some(world.size() as u64));
}

#[test]
fn every_lie_about_a_receipt_is_noticed_and_the_note_is_kept() {
    for (lie, said) in [
        (Lie::OtherLeaf, "another body"),
        (Lie::OtherKey, "not signed by the log key"),
        (Lie::ShortProof, "does not lead"),
        (Lie::OtherSeq, "another place"),
        (Lie::OtherSignature, "author's signature"),
        (Lie::OtherConsistency, "not proved"),
    ] {
        let world = World::founded();
        let seen = world.client.seen().expect("a checkpoint");
        world.stub.state().lie = lie;
        let fault = world.client.record(&world.keeper, &world.tank("T1"), &[]).expect_err("a lie");
        assert!(matches!(&fault, Fault::Broken(text) if text.contains(said)), "{lie:?}: {fault}");
        assert_eq!(fault.exit_code(), 3);
        assert_eq!(world.keeper.waiting().expect("notes").len(), 1, "{lie:?}");
        assert_eq!(world.client.seen().expect("a checkpoint"), seen, "{lie:?}: nothing that was not proved is kept");
    }
}

#[test]
fn after_a_lie_the_true_receipt_still_settles_the_note() {
    let world = World::founded();
    world.stub.state().lie = Lie::ShortProof;
    world.client.record(&world.keeper, &world.tank("T1"), &[]).expect_err("a lie");
    world.stub.state().lie = Lie::None;
    let note = world.keeper.waiting().expect("notes").remove(0);
    let outcomes = world.client.send(&world.keeper, &[note.envelope.expect("its envelope")]).expect("sent");
    assert!(matches!(outcomes.as_slice(), [Outcome::Recorded(_)]));
    assert_eq!(world.size(), 5, "recorded once, however often it was sent");
    assert!(world.keeper.waiting().expect("notes").is_empty());
}

#[test]
fn a_lost_answer_is_asked_for_again_and_gives_the_same_leaf() {
    let world = World::founded();
    world.stub.state().hang_up = true;
    assert!(matches!(world.client.record(&world.keeper, &world.tank("T1"), &[]), Err(Fault::Unreachable(_))));
    world.stub.state().hang_up = false;
    let note = world.keeper.waiting().expect("notes").remove(0);
    assert!(note.sent);
    let envelope = seal::sign(&note.body, &[&world.keeper]);
    let [first, second] = [0, 1]
        .map(|_| world.client.send(&world.keeper, std::slice::from_ref(&envelope)).expect("sent").remove(0).recorded().expect("recorded"));
    assert_eq!((first.seq, &first.receipt), (second.seq, &second.receipt));
    assert_eq!(world.size(), 5);
}

#[test]
fn a_signature_that_comes_after_the_note_was_recorded_is_said_to_be_late() {
    let world = World::founded();
    let body = world.client.write(&world.keeper, &world.tank("T1")).expect("a body");
    world.client.send(&world.keeper, &[seal::sign(&body, &[&world.keeper])]).expect("sent");
    let outcomes = world.client.send(&world.keeper, &[seal::sign(&body, &[&world.keeper, &world.curator])]).expect("sent");
    let recorded = outcomes.into_iter().next().expect("an answer").recorded().expect("recorded");
    assert_eq!(recorded.signatures_too_late, [world.curator.keyid()]);
}

#[test]
fn many_notes_go_in_requests_that_fit_and_keep_their_order() {
    let world = World::founded();
    let before = world.size();
    let count = BATCH_EVENTS_MAX + 3;
    let drafts: Vec<_> = (0..count).map(|at| world.tank(&format!("T{at}"))).collect();
    let outcomes = world.client.record_all(&world.keeper, &drafts, &[]).expect("sent");
    let seqs: Vec<u64> = outcomes.into_iter().map(|outcome| outcome.recorded().expect("recorded").seq).collect();
    assert_eq!(seqs, (before as u64..(before + count) as u64).collect::<Vec<_>>());
    let posts = world.stub.state().asked.iter().filter(|asked| *asked == "POST /v1/events").count();
    assert_eq!(posts, 1 + 3 + 2, "founding, three keys, and two requests for the notes");
    let proofs = world.stub.state().asked.iter().filter(|asked| asked.contains("proof/consistency")).count();
    assert!(proofs <= 1, "one checkpoint covers a whole request; asked {proofs} times");
}

#[test]
fn one_refused_note_among_many_spoils_no_other() {
    let world = World::founded();
    let unknown =
        selachron_cli::draft::Draft::new("tank.searched.v1", world.fresh("tank"), serde_json::json!({"eggs_found": 0, "whole_tank": true}));
    let drafts = [world.tank("T1"), unknown, world.tank("T2")];
    let outcomes = world.client.record_all(&world.keeper, &drafts, &[]).expect("sent");
    assert!(matches!(outcomes.as_slice(), [Outcome::Recorded(_), Outcome::Refused { .. }, Outcome::Recorded(_)]), "{outcomes:?}");
    assert!(world.keeper.waiting().expect("notes").is_empty());
    assert_eq!(world.keeper.outbox().refused().expect("notes").len(), 1);
}

#[test]
fn a_busy_service_is_asked_again_and_a_dead_one_keeps_the_note() {
    let world = World::founded();
    world.stub.state().busy = 3;
    world.client.record(&world.keeper, &world.tank("T1"), &[]).expect("recorded in the end");
    world.stub.state().busy = u32::MAX;
    let fault = world.client.record(&world.keeper, &world.tank("T2"), &[]).expect_err("busy for ever");
    assert!(matches!(&fault, Fault::Unreachable(text) if text.contains("full")), "{fault}");
    world.stub.state().busy = 0;
    world.stub.stop();
    let fault = world.client.record(&world.keeper, &world.tank("T3"), &[]).expect_err("nobody there");
    assert_eq!(fault.exit_code(), 6);
    assert_eq!(world.keeper.waiting().expect("notes").len(), 2);
}
