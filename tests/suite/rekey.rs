//! The log changes its key while it is served (F14): the client follows, the auditor is told, and
//! nobody but the root persons can do it.

use ed25519_dalek::SigningKey;
use selachron_cli::client::{Client, ClientSettings, Talk};
use selachron_cli::fault::Fault;
use selachron_cli::reading::ReadKey;
use selachron_record::{init, upkeep};
use selachron_schemas::audit::Verdict;
use selachron_schemas::audit::trust::{Kept, Trust};
use selachron_schemas::envelope::Envelope;
use selachron_schemas::names::KeyId;
use selachron_schemas::note::{SignedCheckpoint, VerifierKey};
use selachron_schemas::replay::following::{Followed, Shown, follow};
use selachron_tests::fixture::{Hand, ORIGIN, envelope};
use selachron_tests::world::{Who, World};
use serde_json::{Value, json};
use std::path::Path;
use std::sync::{Arc, Mutex};

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
    machine_that(world, folder, log_vkey, Arc::new(|_| ()))
}

/// The same, with an ear for what it says.
fn machine_that(world: &mut World, folder: &Path, log_vkey: Option<String>, talk: Talk) -> Client {
    let now = world.now();
    let settings = ClientSettings {
        log_vkey,
        talk,
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
    let heard: Arc<Mutex<Vec<String>>> = Arc::default();
    let ear = heard.clone();
    let away =
        machine_that(&mut world, folder.path(), Some(old.to_string()), Arc::new(move |says| ear.lock().unwrap().push(says.to_owned())));
    let Err(Fault::Broken(said)) = away.look() else { panic!("a checkpoint without a line of the pinned key was believed") };
    assert!(said.contains("not signed by the log key that is pinned"), "{said}");
    for _ in 0..2 {
        away.trust_instead(&new).unwrap();
        let changes = heard.lock().unwrap().iter().filter(|says| says.contains("has changed its key")).count();
        assert_eq!(changes, 1, "to compare the key that is pinned already changes nothing");
    }
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
    // Whoever holds the former key alone: a checkpoint by it over these notes ties them to it, for the change
    // of key stands in them; without one nothing does.
    let former = audit(&after, Some(&old), &[]);
    assert!(former.faults.is_empty() && !former.ties.log_key, "{:?}", former.faults);
    assert_eq!((former.verdict, former.ties.former_log_key_up_to), (Verdict::Sound, Some(until)));
    let bare = take(&world, "bare");
    without_older_checkpoints(&bare);
    assert!(said(&audit(&bare, Some(&old), &[])).contains("it is a former key of this log, which changed its key at seq"));
    assert_eq!(audit(&bare, Some(&old), &[&kept]).ties.former_log_key_up_to, Some(until - 2));

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

/// F25: leaving out older checkpoints is no fault.
fn without_older_checkpoints(bundle: &Path) {
    std::fs::remove_dir_all(bundle.join("checkpoints")).unwrap();
    let sums = bundle.join("SHA256SUMS");
    let kept: Vec<String> = std::fs::read_to_string(&sums)
        .unwrap()
        .lines()
        .filter(|line| !line.contains("  checkpoints/"))
        .map(|line| format!("{line}\n"))
        .collect();
    std::fs::write(sums, kept.concat()).unwrap();
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

/// What a client makes of the notes that the service shows.
fn followed(pinned: &VerifierKey, shown: &[Value]) -> Result<Followed, String> {
    let text = |item: &'static str| move |value: &Value| value[item].as_str().unwrap().to_owned();
    let texts: Vec<(String, String)> = shown.iter().map(|value| (text("envelope")(value), text("receipt")(value))).collect();
    let notes: Vec<Shown<'_>> = texts.iter().map(|(envelope, receipt)| Shown { envelope, receipt }).collect();
    follow(pinned, &notes)
}

/// A note as it is shown, with the signatures of these alone.
fn signed_only_by(shown: &Value, hands: &[&Hand]) -> Value {
    let envelope = Envelope::read(shown["envelope"].as_str().unwrap().as_bytes()).unwrap();
    let by = |hint: &Option<String>| hands.iter().find(|hand| *hint == Some(hand.keyid.to_string()));
    let kept: Vec<(KeyId, _)> = envelope.signatures.iter().filter_map(|(hint, bytes)| Some((by(hint)?.keyid, *bytes))).collect();
    json!({"envelope": Envelope::written(&envelope.body, &kept), "receipt": shown["receipt"]})
}

#[test]
fn the_root_keys_vouch_for_a_change_and_the_old_key_alone_does_not() {
    let mut world = World::new();
    let old = world.client().log_key().unwrap();
    let before = world.roots().clone();
    let after = [Hand::new(71), Hand::new(72)];
    let root = |hand: &Hand| json!({"public_key": hand.public_key(), "person": hand.person});
    let replaced = json!({"root_keys": [root(&after[0]), root(&after[1])], "root_threshold": 2, "reason": "a holder left"});
    let mut author = before[0].clone();
    let body = author.body("root.replaced.v1", "collection", world.now(), &replaced);
    world.post(&envelope(&body, &[&before[0], &before[1]])).recorded().unwrap();
    let (_, new) = upkeep::rekey(&world.log_folder()).unwrap();
    let data = json!({"log_vkey": new.to_string(), "overlap_until_size": size(&world) + 50, "reason": "a new machine"});
    let mut author = after[0].clone();
    let body = author.body("log.rekeyed.v1", "collection", world.now(), &data);
    // Another person may sign too: that says nothing here and does no harm.
    let registrar = world.hand(Who::Registrar).clone();
    world.post(&envelope(&body, &[&after[0], &after[1], &registrar])).recorded().unwrap();
    assert_eq!(world.client().log_key().unwrap(), new, "through the replacement of the root keys");

    let answer: Value = world.read("/v1/log/rekeyed", &[]);
    let roots = answer["roots"].as_array().unwrap().clone();
    let [founding, replacement] = &roots[..] else { panic!("{roots:?}") };
    let change = json!({"envelope": answer["envelope"], "receipt": answer["receipt"]});
    let said = |notes: &[&Value]| followed(&old, &notes.iter().map(|note| (*note).clone()).collect::<Vec<_>>()).unwrap_err();
    assert_eq!(followed(&old, &[founding.clone(), replacement.clone(), change.clone()]).unwrap().key, new);
    let one = signed_only_by(&change, &[&after[0], &registrar]);
    assert!(said(&[founding, replacement, &one]).contains("needs the signatures of 2 root persons"));
    let one = signed_only_by(replacement, &[&before[0]]);
    assert!(said(&[founding, &one, &change]).contains("root.replaced.v1 at seq"));
    let one = signed_only_by(founding, &[&before[0]]);
    assert!(said(&[&one, replacement, &change]).contains("not signed by all its root keys"));
    assert!(said(&[founding, &change]).contains("needs the signatures of 2 root persons"), "the founding's roots are no longer in force");
    assert!(said(&[replacement, &change]).contains("does not found"));
    assert!(said(&[founding, &change, replacement]).contains("not in the order"));
    assert!(said(&[founding, replacement]).contains("where log.rekeyed.v1 is wanted"));
    assert!(said(&[&change]).contains("both needed"));
    let stranger = VerifierKey::new(ORIGIN, SigningKey::from_bytes(&[77; 32]).verifying_key());
    assert!(
        followed(&stranger, &[founding.clone(), replacement.clone(), change.clone()]).unwrap_err().contains("not signed by the log key")
    );
    assert!(followed(&new, &[founding.clone(), replacement.clone(), change]).unwrap_err().contains("no other key"));
}
