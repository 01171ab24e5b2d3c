//! The log changes its key while it is served (F14): the client follows, the auditor is told, and
//! nobody but the root persons can do it.

use ed25519_dalek::SigningKey;
use selachron_cli::client::{Client, ClientSettings};
use selachron_cli::fault::Fault;
use selachron_cli::reading::ReadKey;
use selachron_record::{init, upkeep};
use selachron_schemas::audit::Trust;
use selachron_schemas::audit::trust::Kept;
use selachron_schemas::note::{SignedCheckpoint, VerifierKey};
use selachron_tests::fixture::{ORIGIN, envelope};
use selachron_tests::world::{Who, World};
use serde_json::{Value, json};
use std::path::Path;
use std::sync::Arc;

/// A change of key, signed by both roots.
fn change(world: &mut World, vkey: &VerifierKey, overlap_until_size: Option<u64>) -> String {
    let now = world.now();
    let roots = world.roots();
    let mut data = json!({"log_vkey": vkey.to_string(), "reason": "the machine that holds the key is replaced"});
    if let Some(until) = overlap_until_size {
        data["overlap_until_size"] = json!(until);
    }
    let body = roots[0].body("log.rekeyed.v1", "collection", now, &data);
    envelope(&body, &[&roots[0], &roots[1]])
}

fn size(world: &World) -> u64 {
    world.client().look().expect("a checkpoint").checkpoint.size
}

/// A client of a machine of its own, in `folder`.
fn machine(world: &mut World, folder: &Path, log_vkey: Option<String>) -> Client {
    let now = world.now();
    let settings = ClientSettings {
        log_vkey,
        reader: Some(ReadKey::new(world.hand(Who::Curator).key.clone())),
        ..ClientSettings::new(&world.service().url(), folder, Arc::new(move || now))
    };
    Client::new(settings).expect("a client")
}

fn note_of(world: &World) -> SignedCheckpoint {
    SignedCheckpoint::parse(&world.client().get_text("/v1/log/checkpoint", &[], "text/plain").expect("a checkpoint")).expect("it reads")
}

#[test]
fn a_client_follows_the_log_to_its_next_key_while_keys_overlap() {
    let mut world = World::new();
    world.species("Chiloscyllium punctatum", "brownbanded bamboo shark");
    let old = world.client().log_key().unwrap();
    let before = size(&world);
    let (file, new) = upkeep::rekey(&world.log_folder()).unwrap();
    assert_eq!(file.file_name().unwrap(), "log.key.2");
    let note = change(&mut world, &new, Some(before + 3));
    assert_eq!(world.post(&note).recorded().unwrap().seq, before);
    assert!(note_of(&world).signed_by(&old) && note_of(&world).signed_by(&new));
    assert_eq!(world.client().log_key().unwrap(), new, "it has read the change under the key that it had pinned");
    for label in ["One", "Two", "Three"] {
        world.tank(label, "nursery");
    }
    assert!(size(&world) > before + 3);
    assert!(!note_of(&world).signed_by(&old) && note_of(&world).signed_by(&new), "the overlap is over");
    world.restart();
    assert_eq!(world.client().log_key().unwrap(), new);
    // Whoever pinned the old key and was away meanwhile is told, and can compare.
    let folder = tempfile::tempdir().unwrap();
    let away = machine(&mut world, folder.path(), Some(old.to_string()));
    let Err(Fault::Broken(said)) = away.look() else { panic!("a checkpoint without a line of the pinned key was believed") };
    assert!(said.contains("not signed by the log key that is pinned"), "{said}");
    away.trust_instead(&new).unwrap();
    assert_eq!(away.look().unwrap().checkpoint.size, size(&world));
    let stranger = VerifierKey::new(ORIGIN, SigningKey::from_bytes(&[77; 32]).verifying_key());
    assert!(matches!(away.trust_instead(&stranger), Err(Fault::Broken(_))), "a key that the service does not sign with is not pinned");
}

#[test]
fn an_auditor_follows_the_change_and_finds_lines_of_the_wrong_key() {
    let mut world = World::new();
    let old = world.client().log_key().unwrap();
    let kept = world.client().get_text("/v1/log/checkpoint", &[], "text/plain").unwrap();
    let (_, new) = upkeep::rekey(&world.log_folder()).unwrap();
    let until = size(&world) + 2;
    let note = change(&mut world, &new, Some(until));
    world.post(&note).recorded().unwrap();
    let folder = tempfile::tempdir().unwrap();
    let take = |world: &World, name: &str| {
        let path = folder.path().join(name);
        world.client().bundle(&path).unwrap();
        path
    };
    let during = take(&world, "during");
    world.tank("One", "nursery");
    world.tank("Two", "nursery");
    let after = take(&world, "after");
    let audit = |bundle: &Path, key: Option<&VerifierKey>, seen: &[&str]| {
        let seen = seen.iter().map(|text| Kept::parse("kept", text).unwrap()).collect();
        selachron_verify::bundle(bundle, &Trust { log_key: key.cloned(), seen, ..Trust::default() }).unwrap()
    };
    for (bundle, key) in [(&during, &old), (&during, &new), (&after, &new)] {
        let audit = audit(bundle, Some(key), &[&kept]);
        assert!(audit.faults.is_empty() && audit.ties.log_key && audit.ties.kept_up_to.is_some(), "{:?}", audit.faults);
    }
    let former = audit(&after, Some(&old), &[]);
    assert!(said(&former).contains("it is a former key of this log, which changed its key at seq"), "{}", said(&former));

    let secret = |file: &str| init::read_key(&world.log_folder().join(file)).unwrap();
    let (first, second) = (secret("log.key"), secret("log.key.2"));
    let signed_anew = |bundle: &Path, keys: &[&SigningKey]| {
        let path = bundle.join("checkpoint");
        let checkpoint = SignedCheckpoint::parse(&std::fs::read_to_string(&path).unwrap()).unwrap().checkpoint;
        rewrite(bundle, "checkpoint", &checkpoint.sign(keys));
        said(&audit(bundle, None, &[]))
    };
    assert!(signed_anew(&after, &[&first]).contains("no line by the log key in force at this size"));
    assert!(signed_anew(&after, &[&second, &first]).contains("of no key which may sign here"), "the old key's time is over");
    assert!(signed_anew(&during, &[&second]).contains("no line by the former log key, which overlaps"));
    assert!(signed_anew(&during, &[&first]).contains("no line by the log key in force at this size"));
}

fn said(audit: &selachron_schemas::audit::Audit) -> String {
    audit.faults.iter().map(|fault| fault.says.clone()).collect::<Vec<_>>().join("\n")
}

/// Changes a file of a bundle, and its sum with it.
fn rewrite(bundle: &Path, name: &str, text: &str) {
    let sum = |text: &str| selachron_schemas::encoding::hex(&selachron_schemas::merkle::sha256(text.as_bytes()));
    let (file, sums) = (bundle.join(name), bundle.join("SHA256SUMS"));
    let before = std::fs::read_to_string(&file).unwrap();
    let listed = std::fs::read_to_string(&sums).unwrap().replace(&sum(&before), &sum(text));
    std::fs::write(file, text).unwrap();
    std::fs::write(sums, listed).unwrap();
}

#[test]
fn what_is_shown_as_a_change_of_key_is_not_believed_without_the_pinned_key() {
    let mut world = World::new();
    let (_, new) = upkeep::rekey(&world.log_folder()).unwrap();
    let note = change(&mut world, &new, None);
    // Without an overlap the new key alone signs: the client that posted it cannot believe the answer.
    let outcome = world.post(&note);
    assert!(outcome.recorded().is_err());
    let folder = tempfile::tempdir().unwrap();
    let fresh = machine(&mut world, folder.path(), None);
    assert_eq!(fresh.log_key().unwrap(), new, "who comes now pins the new key");
    world.client().trust_instead(&new).unwrap();
    let answer: Value = world.read("/v1/log/rekeyed", &[]);
    assert!(answer["envelope"].as_str().is_some_and(|text| text.contains("payload")), "{answer}");
}
