//! What a dishonest log let in, and signed with its own key: the verifier asks every rule again.
//! In each case the bundle is whole and its checkpoint is the log's own.

use crate::log::Who::{Curator, Keeper, Newcomer, Registrar, RootA, RootB, Second, Vet};
use crate::log::{Draft, Log, about, assert_fault, assert_sound, by_key, check, note, told};
use crate::season::{candled, egg, enrolment, founding, opened, season, withholding};
use ed25519_dalek::SigningKey;
use selachron_schemas::audit::trust::Trust;
use selachron_schemas::encoding::base64;
use selachron_schemas::note::{Checkpoint, SignedCheckpoint, VerifierKey};
use serde_json::{Value, json};

/// A note that the rules refuse, and the words of the fault.
type Case = (&'static str, fn(&mut Log) -> Draft);

fn fed(author: crate::log::Who) -> Draft {
    let fed = json!({"offered": [{"food": "prawn"}], "eaten": "not seen"});
    note(author, "animal.fed.v1", &crate::season::animal(1), fed)
}

fn act(log: &Log, seq: usize, kind: &'static str, data: Value) -> Draft {
    let event = &log.events[seq];
    let mut data = data;
    data["target"] = event["id"].clone();
    data["reason"] = json!("wrong");
    note(Curator, kind, event["subject"].as_str().unwrap(), data)
}

fn seq_of_kind(log: &Log, kind: &str) -> usize {
    log.events.iter().position(|event| event["type"] == kind).unwrap()
}

/// A checkpoint that the log key signed but that never was this log's.
fn forked(log: &Log, size: u64) -> Value {
    let checkpoint = Checkpoint { origin: crate::log::ORIGIN.to_owned(), size, root: [9; 32] };
    let note = SignedCheckpoint::parse(&checkpoint.sign(&[&log.key(crate::log::Who::Log)])).unwrap();
    json!({"seensize": size, "seenroot": base64(&[9; 32]), "seensig": base64(&note.signature_of(&log.vkey()).unwrap())})
}

const CASES: [Case; 33] = [
    ("a collection is founded once", |log| founding(log)),
    ("needs the signatures of 2 root persons", |log| enrolment(log, Newcomer, json!(["curator"]), RootA).with(&[Newcomer])),
    ("needs the signatures of 2 root persons", |log| {
        enrolment(log, Newcomer, json!(["keeper", "registrar"]), Registrar).with(&[Newcomer, RootB])
    }),
    ("the new key must sign its own enrolment", |log| enrolment(log, Newcomer, json!(["keeper"]), Registrar)),
    ("enrolled and revoked by a registrar", |log| enrolment(log, Newcomer, json!(["keeper"]), Keeper).with(&[Newcomer])),
    ("root keys enrol only registrars", |log| enrolment(log, Newcomer, json!(["keeper"]), RootA).with(&[RootB, Newcomer])),
    ("this key is known already", |log| enrolment(log, Second, json!(["keeper"]), Registrar).with(&[Second])),
    ("the subject of this enrolment must be", |log| {
        let other = format!("key/{}", log.keyid(crate::log::Who::Witness));
        enrolment(log, Newcomer, json!(["keeper"]), Registrar).with(&[Newcomer]).over(json!({"subject": other}))
    }),
    ("enrolled and revoked by a registrar", |log| {
        note(Vet, "key.revoked.v1", &format!("key/{}", log.keyid(Keeper)), json!({"reason": "x"}))
    }),
    ("needs the approval of 1 other person", |_| note(Curator, "policy.set.v1", "collection", json!({"candling_interval_days": 9}))),
    ("needs the approval of 1 other person", |_| {
        note(Curator, "policy.set.v1", "collection", json!({"candling_interval_days": 9})).with(&[Keeper])
    }),
    ("policy.set.v1 is written by", |_| {
        note(Keeper, "policy.set.v1", "collection", json!({"candling_interval_days": 9})).with(&[Registrar])
    }),
    ("animal.fed.v1 is written by", |_| fed(RootA)),
    ("the author's key is not in force", |_| fed(Second)),
    ("the author's key is not in force", |_| fed(Second).with(&[Keeper])),
    ("the note waited too long", |log| {
        fed(Keeper).over(json!({"time": log.notes[12].0.recorded_at.utc_text(), "signedtime": log.notes[12].0.recorded_at.utc_text()}))
    }),
    ("was never brought into this record", |_| candled(99, 2)),
    ("expected 3; look again", |_| candled(1, 2).over(json!({"expect": 3}))),
    ("lies in the future", |_| candled(1, 2).over(json!({"time": "2027-01-01T00:00:00Z"}))),
    ("late-without-reason", |log| candled(1, 2).over(json!({"time": log.notes[50].0.recorded_at.utc_text()}))),
    ("id-reused", |log| candled(1, 2).over(json!({"id": log.id_of(30)}))),
    ("never corrected or retracted", |log| act(log, 0, "record.retracted.v1", json!({}))),
    ("a retraction is not corrected", |log| {
        act(log, seq_of_kind(log, "record.retracted.v1"), "record.corrected.v1", json!({"replacement": {"time": "2026-03-02T00:00:00Z"}}))
    }),
    ("no recorded note has the id", |_| {
        note(Curator, "record.retracted.v1", &egg(1), json!({"target": crate::log::ulid("N0NE", 1), "reason": "x"}))
    }),
    ("the act must have the same subject", |log| act(log, 20, "record.retracted.v1", json!({})).over(json!({"subject": egg(4)}))),
    ("egg.candled.v1 does not allow this", |log| act(log, 20, "record.corrected.v1", json!({"replacement": {"data": {"band": 2}}}))),
    ("endorsed by another person", |log| {
        let data = json!({"seq": 20, "body_sha256": base64(&log.notes[20].0.body_sha256)});
        note(Keeper, "record.endorsed.v1", log.events[20]["subject"].as_str().unwrap(), data)
    }),
    ("no recorded note has this seq and this body", |log| {
        let data = json!({"seq": 20, "body_sha256": base64(&[1; 32])});
        note(Vet, "record.endorsed.v1", log.events[20]["subject"].as_str().unwrap(), data)
    }),
    ("the subject is the author's key", |log| {
        note(Keeper, "note.abandoned.v1", &format!("key/{}", log.keyid(Vet)), json!({"keycount": 3, "reason": "x"}))
    }),
    ("seensig is no signature of this log", |log| {
        candled(1, 2).over(json!({"seensize": 9, "seenroot": base64(&[9; 32]), "seensig": base64(&[8; 68]), "expect": log.size()}))
    }),
    ("a device has seen another root", |log| candled(1, 2).over(forked(log, 9))),
    ("notes have been lost", |log| candled(1, 2).over(forked(log, 1000))),
    ("must be those of the note that is withheld", |log| {
        let mut facts = log.facts_of(60);
        facts["keycount"] = json!(4242);
        note(Registrar, "body.withheld.v1", "collection", facts).with(&[Vet])
    }),
];

#[test]
fn what_the_rules_refuse_is_found_in_a_log_that_let_it_in() {
    let good = season(1);
    assert_sound(&check(&good.files(), &by_key(&good)));
    for (words, make) in CASES {
        let mut log = good.clone();
        log.seen = None;
        let draft = make(&mut log);
        let seq = log.slip_in(draft);
        // A good note after it is judged too, and not blamed.
        log.slip_in(note(Vet, "egg.candled.v1", &egg(3), json!({"seen_into": false})));
        let audit = check(&log.files(), &by_key(&log));
        assert_fault(&audit, seq, words);
        assert!(audit.faults.iter().all(|fault| fault.seq == Some(seq) || words.contains("withheld")), "{words}: {:?}", told(&audit));
    }
}

/// Faults that keep a note from being read at all; nothing after it is judged.
#[test]
fn what_cannot_be_believed_is_found() {
    let good = season(1);
    let cases: [Case; 6] = [
        ("wrong-log", |_| candled(1, 2).over(json!({"source": "https://records.example.org/other"}))),
        ("body-malformed", |_| candled(1, 2).over(json!({"data": {"band": 9}}))),
        ("body-malformed", |_| candled(1, 2).over(json!({"colour": "red"}))),
        ("signer-unknown", |_| note(Newcomer, "egg.candled.v1", &egg(1), json!({"seen_into": false}))),
        ("signer-unknown", |_| candled(1, 2).with(&[Newcomer])),
        ("author-signature-missing", |log| candled(1, 2).over(json!({"keyid": log.keyid(Vet).to_string()}))),
    ];
    for (words, make) in cases {
        let mut log = good.clone();
        let draft = make(&mut log);
        let seq = log.slip_in(draft);
        let audit = check(&log.files(), &by_key(&log));
        assert_fault(&audit, seq, words);
        assert_eq!(audit.root, None, "{words}: what was not read has no root");
    }
}

/// Notes are verified in windows, so that a key enrolled later in the same window is at hand.
#[test]
fn a_note_signed_before_its_key_was_enrolled_is_found() {
    let mut log = season(1);
    let early = log.slip_in(candled(1, 2).with(&[Newcomer]));
    let later = enrolment(&log, Newcomer, json!(["keeper"]), Registrar).with(&[Newcomer]);
    log.slip_in(later);
    let audit = check(&log.files(), &by_key(&log));
    assert_fault(&audit, early, "was not known at this place");
}

#[test]
fn the_same_note_twice_is_found() {
    let mut log = season(1);
    let (leaf, body) = log.notes[30].clone();
    let seq = log.size();
    log.notes.push((selachron_schemas::receipt::Leaf { seq, recorded_at: log.now.plus_ms(1), subject_version: 99, ..leaf }, body));
    let audit = check(&log.files(), &by_key(&log));
    assert_fault(&audit, seq, "the same note stands at seq 30 already");
}

#[test]
fn a_log_that_does_not_begin_with_a_founding_is_found() {
    let mut log = Log::new(1);
    let draft = enrolment(&log, Registrar, json!(["registrar"]), RootA).with(&[RootB, Registrar]);
    log.slip_in(draft);
    assert_eq!(check(&log.files(), &by_key(&log)).faults[0].seq, Some(0));
    let mut short = founding(&Log::new(1));
    short.others.clear();
    let mut log = Log::new(1);
    log.slip_in(short);
    assert_fault(&check(&log.files(), &by_key(&log)), 0, "signed by all its root keys");
}

#[test]
fn a_leaf_that_is_not_what_its_note_and_place_make_is_found() {
    type Change = fn(&mut selachron_schemas::receipt::Leaf);
    let cases: [(&str, Change); 4] = [
        ("the leaf gives its subject version 3", |leaf| leaf.subject_version = 3),
        ("the leaf's signatures are not those of the envelope", |leaf| leaf.signatures[0].1[5] ^= 1),
        ("the body is not the one whose hash the leaf holds", |leaf| leaf.body_sha256[0] ^= 1),
        ("the leaf says seq 4", |leaf| leaf.seq = 4),
    ];
    for (words, change) in cases {
        let mut log = season(1);
        let seq = log.size() - 1;
        let body = log.notes.last().unwrap().1.clone();
        let leaf = log.notes.last_mut().unwrap();
        change(&mut leaf.0);
        let leaf = leaf.0.clone();
        let mut files = log.files();
        // The written envelope keeps its own signatures, whatever the leaf says.
        let right = season(1).files()["envelopes.ndjson"].clone();
        assert!(body.is_some() && leaf.signatures.len() == 1);
        files.insert("envelopes.ndjson".to_owned(), right);
        crate::log::mend_sums(&mut files);
        assert_fault(&check(&files, &by_key(&log)), seq, words);
    }
}

#[test]
fn a_clock_that_goes_back_or_stands_still_across_a_checkpoint_is_found() {
    let mut log = season(1);
    log.now = log.notes[40].0.recorded_at;
    let seq = log.slip_in(note(Vet, "egg.candled.v1", &egg(3), json!({"seen_into": false})));
    assert_fault(&check(&log.files(), &by_key(&log)), seq, "before the note ahead of it");

    let mut log = opened(1);
    while log.size() < 20 {
        log.commit(crate::season::collected(log.size()));
    }
    log.publish();
    let seq = log.join(crate::season::collected(20));
    let audit = check(&log.files(), &by_key(&log));
    assert_fault(&audit, seq, "a checkpoint over 20 notes ends a commit");

    // The same, where only a device has seen the checkpoint.
    log.seen = Some(20);
    log.now = log.now.plus_ms(1000);
    let seq = log.slip_in(crate::season::collected(21));
    let mut files = log.files();
    files.retain(|path, _| !path.starts_with("checkpoints/"));
    crate::log::mend_sums(&mut files);
    assert_fault(&check(&files, &by_key(&log)), seq, "in the middle of a commit");
}

#[test]
fn a_body_withheld_without_authority_is_found() {
    let mut log = season(1);
    log.hide(33);
    assert_fault(&check(&log.files(), &by_key(&log)), 33, "no later note withholds it");
}

#[test]
fn a_body_that_stands_although_it_was_withheld_is_found() {
    let mut log = season(1);
    let draft = withholding(&log, 33);
    let seq = log.record(draft);
    assert_fault(&check(&log.files(), &by_key(&log)), 33, &format!("seq {seq} withholds this body"));
}

#[test]
fn a_bundle_that_ends_before_the_withholding_must_hold_the_body() {
    let whole = season(1);
    let at = whole.events.iter().position(|event| event["type"] == "body.withheld.v1").unwrap() as u64;
    let before = whole.cut_to(at);
    let audit = check(&before.files(), &by_key(&whole));
    assert!(audit.faults.iter().any(|fault| fault.says.contains("no later note withholds it")), "{:?}", told(&audit));
}

#[test]
fn a_withholding_that_does_not_fit_the_leaf_is_found() {
    type Change = fn(&Log, &mut Value);
    let cases: [(&str, Change); 9] = [
        ("which is said to be its author's key", |log, facts| facts["keyid"] = json!(log.keyid(Vet).to_string())),
        ("cannot be withheld", |_, facts| facts["kind"] = json!("record.retracted.v1")),
        ("cannot be withheld", |_, facts| facts["kind"] = json!("egg.invented.v1")),
        ("is taken by the note at seq 12", |log, facts| facts["id"] = json!(log.id_of(12))),
        ("the leaf gives its subject version 6; the notes before it make it 7", |_, facts| facts["subject"] = json!(egg(1))),
        ("was never brought into this record", |_, facts| facts["subject"] = json!(egg(77))),
        ("egg.candled.v1 is about egg, not about tank", |_, facts| facts["subject"] = json!(crate::season::tank(1))),
        ("its time lies after it was recorded", |log, facts| facts["time"] = json!(log.now.utc_text())),
        ("its author holds none of these roles", |log, facts| {
            *facts = log.facts_of(seq_of_kind(log, "record.endorsed.v1") as u64);
            facts["kind"] = json!("species.listed.v1");
        }),
    ];
    for (words, change) in cases {
        let mut log = season(1);
        let mut draft = withholding(&log, 33);
        change(&log, &mut draft.data);
        let hidden = draft.data["seq"].as_u64().unwrap();
        log.slip_in(draft);
        log.hide(hidden);
        assert_fault(&check(&log.files(), &by_key(&log)), hidden, words);
    }
}

#[test]
fn a_withholding_by_one_person_alone_or_a_second_one_is_found() {
    let good = season(1);
    let mut log = good.clone();
    let seq = log.slip_in(withholding(&good, 33).with(&[]));
    log.hide(33);
    assert_fault(&check(&log.files(), &by_key(&log)), seq, "needs the approval of 1 other person");

    let mut log = good.clone();
    log.slip_in(withholding(&good, 33));
    log.hide(33);
    assert!(about(&check(&log.files(), &by_key(&log))).contains("withheld"));
    let again = log.slip_in(withholding(&good, 33));
    assert_fault(&check(&log.files(), &by_key(&log)), again, "or is withheld already");
}

/// A device that says after a change of key that it saw a later checkpoint under the former one: the log
/// made no such checkpoint, also when both notes are read in one go.
#[test]
fn what_a_device_saw_is_judged_by_the_key_of_its_size() {
    let mut log = season(1);
    let next = VerifierKey::new(crate::log::ORIGIN, SigningKey::from_bytes(&[98; 32]).verifying_key());
    let data = json!({"log_vkey": next.to_string(), "reason": "a new machine"});
    let change = log.record(note(RootA, "log.rekeyed.v1", "collection", data).with(&[RootB]));
    let late = log.checkpoint().sign(&[&log.key(crate::log::Who::Log)]);
    let right = log.checkpoint().sign(&[&SigningKey::from_bytes(&[98; 32])]);
    let saw = |text: &str, key: &VerifierKey| {
        let read = SignedCheckpoint::parse(text).unwrap();
        json!({"seensize": read.checkpoint.size, "seenroot": base64(&read.checkpoint.root), "seensig": base64(&read.signature_of(key).unwrap())})
    };
    log.seen = None;
    let looked = || note(Vet, "egg.candled.v1", &egg(3), json!({"seen_into": false}));
    let wrong = log.slip_in(looked().over(saw(&late, &log.vkey())));
    let good = log.slip_in(looked().over(saw(&right, &next)));
    let audit = check(&log.files(), &Trust::default());
    assert!(change < wrong && wrong < good);
    assert_fault(&audit, wrong, "seensig is no signature of this log");
    assert!(!audit.faults.iter().any(|fault| fault.seq == Some(good)), "{:#?}", told(&audit));
}
