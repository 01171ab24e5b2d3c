//! `tests/reference/log`: vectors made from the rules by independent code.

use selachron_schemas::encoding::{base64, from_base64, hex};
use selachron_schemas::merkle::consistent;
use selachron_schemas::names::KeyId;
use selachron_schemas::note::{Checkpoint, SignedCheckpoint, VerifierKey};
use selachron_schemas::receipt::{Leaf, Receipt};
use selachron_schemas::replay::Replay;
use selachron_schemas::replay::judge::Judged;
use selachron_schemas::signing::{Verified, signed_bytes};
use selachron_schemas::time::Instant;
use selachron_schemas::{encoding, envelope::Envelope, merkle};
use serde_json::Value;

/// A file of `tests/reference/log`.
pub fn reference(name: &str) -> Value {
    let path = selachron_tests::reference(&format!("log/{name}"));
    let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    serde_json::from_str(&text).expect("a vector file is JSON")
}

fn text<'a>(value: &'a Value, name: &str) -> &'a str {
    value[name].as_str().unwrap_or_else(|| panic!("{name} is no string"))
}

/// The nine notes of the vectors, judged and taken one after the other.
fn replay_of_the_vectors() -> (Replay, Vec<(Verified, Leaf)>) {
    let vectors = reference("log_vectors.json");
    let (mut replay, mut notes) = (Replay::new(false), Vec::new());
    for (seq, expected) in vectors["events"].as_array().unwrap().iter().enumerate() {
        let body = from_base64(text(expected, "body_base64")).unwrap();
        let signatures: Vec<_> = expected["signatures"].as_array().unwrap().iter().map(signature).collect();
        let note = replay.gate().open(Envelope::written(&body, &signatures).as_bytes()).unwrap();
        let recorded_at = Instant::parse_recorded(text(expected, "recorded_at")).unwrap();
        let Judged::New { subject_version } = replay.judge(&note, recorded_at).unwrap() else { panic!("not new") };
        let leaf = Leaf {
            seq: seq as u64,
            recorded_at,
            subject_version,
            body_sha256: *note.body_sha256(),
            signatures: note.signatures().to_vec(),
        };
        replay.apply(note.event(), &leaf);
        notes.push((note, leaf));
    }
    (replay, notes)
}

fn signature(value: &Value) -> (KeyId, [u8; 64]) {
    (KeyId::parse(text(value, "keyid")).unwrap(), from_base64(text(value, "sig")).unwrap().try_into().unwrap())
}

#[test]
fn key_ids_are_those_of_the_vectors() {
    let vectors = reference("log_vectors.json");
    for (name, key) in vectors["keys"].as_object().unwrap() {
        let public = encoding::from_hex::<32>(text(key, "public_hex")).unwrap();
        assert_eq!(KeyId::of(&public).to_string(), text(key, "keyid"), "{name}");
    }
}

#[test]
fn every_note_of_the_vectors_is_reproduced_byte_for_byte() {
    let vectors = reference("log_vectors.json");
    let (replay, notes) = replay_of_the_vectors();
    for ((note, leaf), expected) in notes.iter().zip(vectors["events"].as_array().unwrap()) {
        let size = leaf.seq + 1;
        assert_eq!(note.event().kind, text(expected, "type"));
        assert_eq!(base64(note.body_sha256()), text(expected, "body_sha256_base64"));
        assert_eq!(hex(&merkle::sha256(&signed_bytes(note.body()))), text(expected, "pae_sha256_hex"));
        assert_eq!(leaf.text(), text(expected, "leaf_utf8"));
        assert_eq!(Leaf::parse(&leaf.text()).as_ref(), Some(leaf));
        assert_eq!(hex(&leaf.hash()), text(expected, "leaf_hash_hex"));
        assert_eq!(hex(&replay.tree().root(size).unwrap()), text(expected, "root_after_hex"));
        let note = SignedCheckpoint::parse(text(expected, "checkpoint_after")).unwrap();
        assert_eq!(note.to_note(), text(expected, "checkpoint_after"));
        assert!(note.signed_by(&replay.log_keys().all()[0]));
        assert_eq!(note.checkpoint.root, replay.tree().root(size).unwrap());
    }
}

#[test]
fn the_receipt_and_the_proofs_of_the_vectors_are_reproduced() {
    let vectors = reference("log_vectors.json");
    let (replay, notes) = replay_of_the_vectors();
    let key = VerifierKey::parse(text(&vectors, "log_vkey")).unwrap();
    assert_eq!(key.to_string(), text(&vectors, "log_vkey"));
    let last = text(&vectors["events"][8], "checkpoint_after");
    let proof = replay.tree().inclusion(5, 9).unwrap();
    let written = Receipt::write(&notes[5].1, &proof, last);
    assert_eq!(written, text(&vectors, "receipt_of_5_at_size_9"));
    let receipt = Receipt::parse(&written).unwrap();
    receipt.check(&key).unwrap();
    let hashes = |name: &str| -> Vec<String> { serde_json::from_value(vectors[name].clone()).unwrap() };
    let written = |proof: &[merkle::Hash]| -> Vec<String> { proof.iter().map(|hash| base64(hash)).collect() };
    assert_eq!(written(&proof), hashes("inclusion_of_5_in_9_base64"));
    let consistency = replay.tree().consistency(5, 9).unwrap();
    assert_eq!(written(&consistency), hashes("consistency_5_to_9_base64"));
    let root = |size| replay.tree().root(size).unwrap();
    assert!(consistent(5, &root(5), 9, &root(9), &consistency));
}

#[test]
fn the_log_key_signs_the_same_note_from_its_checkpoint() {
    // RFC 8032 7.1 TEST 2's secret key is the vectors' log key; Ed25519 here is deterministic.
    let secret = encoding::from_hex::<32>("4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb").unwrap();
    let key = ed25519_dalek::SigningKey::from_bytes(&secret);
    let vectors = reference("log_vectors.json");
    for expected in vectors["events"].as_array().unwrap() {
        let note = text(expected, "checkpoint_after");
        let read = SignedCheckpoint::parse(note).unwrap().checkpoint;
        let again = Checkpoint { origin: read.origin, size: read.size, root: read.root };
        assert_eq!(again.sign(&[&key]), note);
    }
}

#[test]
fn every_bad_envelope_is_refused_with_its_problem() {
    let (replay, _) = replay_of_the_vectors();
    let clock = Instant::parse("2026-07-05T08:00:30Z").unwrap();
    let (mut wrong, mut count) = (Vec::new(), 0);
    for file in ["bad_envelopes.json", "envelopes_more.json"] {
        for case in reference(file)["cases"].as_array().unwrap() {
            let outcome = match replay.gate().open(text(case, "envelope").as_bytes()).map_err(|stopped| stopped.refusal) {
                Ok(note) => replay.judge(&note, clock).map(|_| "ACCEPTED".to_owned()),
                Err(refusal) => Err(refusal),
            };
            let found = outcome.unwrap_or_else(|refusal| refusal.problem.name().to_owned());
            count += 1;
            if found != text(case, "problem") {
                wrong.push(format!("{}: wanted {}, found {found}", text(case, "name"), text(case, "problem")));
            }
        }
    }
    assert_eq!(count, 139, "cases in the two files");
    assert!(wrong.is_empty(), "{} of {count}:\n{}", wrong.len(), wrong.join("\n"));
}
