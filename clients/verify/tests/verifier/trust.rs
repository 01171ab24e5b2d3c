//! What the auditor brings along: keys, policies with witnesses, checkpoints and receipts.

use crate::log::{Log, Who, assert_says, assert_sound, by_key, check, note};
use crate::season::season;
use ed25519_dalek::Signer as _;
use selachron_schemas::audit::Verdict;
use selachron_schemas::audit::policy::Policy;
use selachron_schemas::audit::trust::{Kept, Trust};
use selachron_schemas::encoding::{base64, hex};
use selachron_schemas::merkle::sha256;
use selachron_schemas::note::{COSIGNATURE, SignedCheckpoint};
use serde_json::json;

/// The verifier key of an invented witness whose key comes from `seed` (C2SP tlog-cosignature).
fn witness_key(seed: u8) -> String {
    let public = Log::new(seed).key(Who::Witness).verifying_key();
    let value = [&[COSIGNATURE], &public.as_bytes()[..]].concat();
    let name = format!("witness{seed}.example.org");
    let hash = sha256(&[name.as_bytes(), b"\n", &value[..]].concat());
    format!("{name}+{}+{}", hex(&hash[..4]), base64(&value))
}

/// The note with a witness's line under it.
fn cosigned(note: &str, seed: u8) -> String {
    let text = SignedCheckpoint::parse(note).unwrap().checkpoint.text();
    let (key, time_s) = (witness_key(seed), 1_790_000_000_u64);
    let signature = Log::new(seed).key(Who::Witness).sign(format!("cosignature/v1\ntime {time_s}\n{text}").as_bytes());
    let hash = selachron_schemas::encoding::from_hex::<4>(key.split('+').nth(1).unwrap()).unwrap();
    let bytes = [&hash[..], &time_s.to_be_bytes()[..], &signature.to_bytes()[..]].concat();
    format!("{note}\u{2014} {} {}\n", key.split('+').next().unwrap(), base64(&bytes))
}

fn policy(log: &Log, rest: &str) -> Trust {
    let text = format!("# invented\nlog {} https://records.example.org\n{rest}", log.vkey());
    Trust { policy: Some(Policy::parse(text.as_bytes()).unwrap()), ..Trust::default() }
}

#[test]
fn a_policy_without_witnesses_is_as_good_as_its_log_key() {
    let log = season(1);
    assert_sound(&check(&log.files(), &policy(&log, "quorum none\n")));
    let audit = check(&log.files(), &policy(&season(2), "quorum none\n"));
    assert_says(&audit, "signed by no log of your policy");
}

#[test]
fn a_policy_without_a_log_needs_the_log_key_beside_it() {
    let log = season(1);
    let nobody = Policy::parse(b"quorum none\n").unwrap();
    let alone = check(&log.files(), &Trust { policy: Some(nobody.clone()), ..Trust::default() });
    assert_eq!((alone.verdict, alone.faults.len()), (Verdict::NotTied, 0));
    assert_sound(&check(&log.files(), &Trust { policy: Some(nobody), ..by_key(&log) }));
}

#[test]
fn witnesses_count_when_the_policy_names_them() {
    let log = season(1);
    let plain = log.checkpoint().sign(&[&log.key(Who::Log)]);
    let files = log.files_with(&cosigned(&cosigned(&plain, 11), 12));
    let names = format!("witness A {}\nwitness B {}\nwitness C {}\n", witness_key(11), witness_key(12), witness_key(13));
    let two = |rest: &str| policy(&log, &format!("{names}{rest}"));
    assert_sound(&check(&files, &two("group any-two 2 A B C\nquorum any-two\n")));
    assert_sound(&check(&files, &two("group inner any B C\ngroup both all A inner\nquorum both\n")));
    assert_sound(&check(&files, &two("quorum A\n")));
    let missing = "not signed by enough witnesses of your policy";
    assert_says(&check(&files, &two("group all-of-them all A B C\nquorum all-of-them\n")), missing);
    assert_says(&check(&files, &two("quorum C\n")), missing);
    assert_says(&check(&log.files(), &two("quorum A\n")), missing);
}

#[test]
fn a_line_of_a_witness_that_nobody_named_is_a_fault() {
    let mut log = season(1);
    let cosign = |log: &Log| log.files_with(&cosigned(&log.checkpoint().sign(&[&log.key(Who::Log)]), 11));
    let audit = check(&cosign(&log), &by_key(&log));
    assert_says(&audit, "a line of \"witness11.example.org\" that is of no key which may sign here");
    // The log's own policy may name its witnesses (F25).
    let named = json!({"witnesses": [witness_key(11)]});
    log.record(note(Who::Curator, "policy.set.v1", "collection", named).with(&[Who::Registrar]));
    assert_sound(&check(&cosign(&log), &by_key(&log)));
    // A line that does not verify is no line of that witness.
    let foreign = season(2).checkpoint().sign(&[&log.key(Who::Log)]);
    let line = cosigned(&foreign, 11).lines().last().unwrap().to_owned();
    let forged = format!("{}{line}\n", log.checkpoint().sign(&[&log.key(Who::Log)]));
    assert_says(&check(&log.files_with(&forged), &by_key(&log)), "that is of no key which may sign here");
}

#[test]
fn a_faulty_policy_is_refused_by_line() {
    let (log, a, b) = (season(1).vkey().to_string(), witness_key(11), witness_key(12));
    let cases = [
        (String::new(), "no quorum line"),
        (format!("log {log}\n"), "no quorum line"),
        ("quorum none\nquorum none\n".to_owned(), "line 2 of the policy: a policy has one quorum line"),
        ("quorum A\n".to_owned(), "\"A\" is not defined on an earlier line"),
        (format!("log {log}\nlog {log}\nquorum none\n"), "line 2 of the policy: the key of \"records.example.org/nursery\" stands twice"),
        (format!("witness A {a}\nwitness B {a}\nquorum A\n"), "stands twice"),
        (format!("witness A {a}\nwitness A {b}\nquorum A\n"), "the name \"A\" is taken"),
        (format!("witness none {a}\nquorum none\n"), "the name \"none\" is taken"),
        (format!("witness A {log}\nquorum A\n"), "this is a log's key"),
        (format!("log {a}\nquorum none\n"), "this is a witness's key"),
        (format!("witness A {a}\ngroup G 2 A\nquorum G\n"), "a group of 1 cannot want 2"),
        (format!("witness A {a}\ngroup G 0 A\nquorum G\n"), "a group of 1 cannot want 0"),
        (format!("witness A {a}\ngroup G some A\nquorum G\n"), "all, any or a number"),
        (format!("witness A {a}\ngroup G any\nquorum G\n"), "a group of 0 cannot want 1"),
        (format!("witness A {a}\ngroup G any A A\nquorum G\n"), "stands in a group already"),
        (format!("witness A {a}\ngroup G any A\ngroup H any A\nquorum G\n"), "stands in a group already"),
        ("group G any G\nquorum G\n".to_owned(), "is not defined on an earlier line"),
        ("trust everybody\n".to_owned(), "is no line of a policy"),
        ("quorum none\r\n".to_owned(), "the control character 0x0d"),
        ("log x+y+z\nquorum none\n".to_owned(), "line 1 of the policy"),
    ];
    for (text, words) in cases {
        let refused = Policy::parse(text.as_bytes()).expect_err(&text);
        assert!(refused.contains(words), "{text:?}: {refused}");
    }
    assert!(Policy::parse(format!("  # comment \u{e9}\n\n\twitness  \u{e9}\t{a}  https://w.example\n quorum \u{e9}").as_bytes()).is_ok());
}

#[test]
fn what_was_kept_must_hold_in_itself() {
    let log = season(1);
    let receipt = log.receipt(17);
    assert!(Kept::parse("r", &receipt).is_ok());
    let wrong_leaf = receipt.replace("extra ", "extra AAAA");
    let other = log.receipt(18);
    let (head, _) = receipt.split_once("\n\n").unwrap();
    let (_, older) = log.receipt(17).split_once("\n\n").map(|(a, b)| (a.to_owned(), b.to_owned())).unwrap();
    let mixed = format!("{}\n\n{older}", head.replace(receipt.lines().nth(3).unwrap(), other.lines().nth(4).unwrap()));
    for (text, words) in [
        ("hello\n", "no checkpoint and no receipt"),
        (&wrong_leaf, "not a leaf"),
        (&mixed, "does not lead from its leaf to its checkpoint"),
    ] {
        let refused = Kept::parse("r", text).expect_err(text);
        assert!(refused.contains(words), "{refused}");
    }
    let empty = selachron_schemas::note::Checkpoint { origin: crate::log::ORIGIN.to_owned(), size: 0, root: sha256(b"") };
    assert!(Kept::parse("r", &empty.sign(&[&log.key(Who::Log)])).is_err(), "no notes prove nothing");
}
