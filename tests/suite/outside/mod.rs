//! What software that others wrote says of our schemas, envelopes and notes. The checks are
//! Python scripts in `tests/outside`; `tests/run` makes the environment that they run in.

mod exports;

use crate::kinds::examples;
use ed25519_dalek::SigningKey;
use selachron_cli::keyfile::Identity;
use selachron_demo::arguments::Arguments;
use selachron_demo::play::Stage;
use selachron_demo::season::Season;
use selachron_demo::show::Folders;
use selachron_schemas::catalogue::catalogue;
use selachron_schemas::encoding::{from_hex, hex};
use selachron_schemas::envelope::Envelope;
use selachron_schemas::event::Event;
use selachron_schemas::names::KeyId;
use selachron_schemas::signing::sign;
use selachron_tests::{reference, root};
use serde_json::{Map, Value, json};
use std::path::{Path, PathBuf};
use std::process::Command;

/// RFC 8032 7.1 TEST 1: the first root key of the examples. A test key: never use it.
const SECRET: &str = "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60";

/// A season of its own, that nobody tuned anything for.
const SEED: u64 = 11;

/// The interpreter that has what `tests/outside/requirements.txt` lists: the environment below
/// the build folder that `tests/run` makes.
fn python() -> PathBuf {
    let test = std::env::current_exe().expect("a test knows where it is");
    let places = test.ancestors().map(|folder| folder.join("outside/venv/bin/python"));
    places.into_iter().find(|python| python.exists()).unwrap_or_else(|| {
        panic!(
            "the outside checks have no Python environment. Run `tests/run` once: it makes one, with PyPI's securesystemslib, cloudevents and \
             jsonschema. By hand: python3 -m venv target/outside/venv && target/outside/venv/bin/pip install -r tests/outside/requirements.txt \
             (python3 and, on Debian, the package python3-venv must be there)"
        )
    })
}

/// Runs a script of `tests/outside`; its output, and whether it was content.
fn run(script: &str, arguments: &[&Path]) -> (bool, String) {
    let script = root().join("tests/outside").join(script);
    let output = Command::new(python())
        .arg(script)
        .args(arguments)
        .env("PYTHONDONTWRITEBYTECODE", "1")
        .output()
        .expect("the interpreter of the environment runs");
    let said = [output.stdout, output.stderr].concat();
    (output.status.success(), String::from_utf8_lossy(&said).into_owned())
}

/// Runs a script that must be content; its last line.
#[track_caller]
fn content(script: &str, arguments: &[&Path]) -> String {
    let (content, said) = run(script, arguments);
    assert!(content, "{script}:\n{said}");
    said.trim_end().lines().last().unwrap_or_default().to_owned()
}

fn schemas() -> PathBuf {
    root().join("schemas/v1")
}

/// Others read every note of a bundle: as an envelope, as a CloudEvent, by its schemas. How many.
#[track_caller]
pub fn others_read(bundle: &Path) -> usize {
    let said = content("envelopes.py", &[bundle]);
    let checked = said.strip_suffix(" envelopes checked").and_then(|count| count.parse().ok());
    let checked: usize = checked.unwrap_or_else(|| panic!("{said}"));
    let said = content("notes.py", &[&schemas(), bundle]);
    assert!(said.starts_with(&format!("{checked} notes of ")), "{said}");
    checked
}

/// Every good example of every kind as a signed note of its own, the founding first.
fn a_note_of_every_example() -> String {
    let mut all = examples();
    let founding = all.remove_entry("collection.founded.v1").expect("the founding has examples");
    let key = SigningKey::from_bytes(&from_hex(SECRET).expect("a key in hex"));
    let keyid = KeyId::of(key.verifying_key().as_bytes());
    let (mut lines, mut count) = (String::new(), 0);
    for (kind, examples) in [founding].into_iter().chain(all) {
        for data in examples.good {
            count += 1;
            let body = body(&kind, data, &keyid, count);
            Event::parse(body.as_bytes()).unwrap_or_else(|refusal| panic!("{kind}: {refusal}"));
            lines.push_str(&Envelope::written(body.as_bytes(), &[(keyid, sign(&key, body.as_bytes()))]));
            lines.push('\n');
        }
    }
    lines
}

/// A body with every attribute of F5 that can stand without a log.
fn body(kind: &str, data: Map<String, Value>, keyid: &KeyId, count: u32) -> String {
    let noun = &catalogue().kind(kind).unwrap_or_else(|| panic!("no kind {kind}")).subjects[0];
    let subject = match noun.as_str() {
        "collection" => "collection".to_owned(),
        "key" => format!("key/{keyid}"),
        "*" => "egg/01JDH3G6C0EGG0000000000001".to_owned(),
        noun => format!("{noun}/01JDH3G6C0EGG0000000000001"),
    };
    json!({
        "specversion": "1.0", "id": format!("01JDH3G6C0TEST000000{count:06}"), "source": "https://records.example.org/nursery",
        "type": kind, "subject": subject, "time": "2026-07-05T18:00:00.5+10:00", "timeafter": "2026-07-05T07:00:00Z",
        "keyid": keyid.to_string(), "keycount": count, "nonce": "CwsLCwsLCwsLCwsLCwsLCw", "signedtime": "2026-07-05T08:30:00Z",
        "late": true, "latereason": "both hands in the tank", "correlationid": "round 1", "causationid": "decision 1",
        "datacontenttype": "application/json", "data": data,
    })
    .to_string()
}

#[test]
fn the_schemas_obey_the_metaschema_and_agree_with_their_examples() {
    let said = content("schemas.py", &[&schemas()]);
    let wanted = format!("{} schemas", catalogue().kinds().count() + 2);
    assert!(said.starts_with(&wanted), "{said}: the kinds, the event and what they have in common");
}

#[test]
fn a_note_of_every_kind_is_a_dsse_envelope_around_a_cloud_event() {
    let folder = tempfile::tempdir().unwrap();
    let lines = a_note_of_every_example();
    std::fs::write(folder.path().join("envelopes.ndjson"), &lines).unwrap();
    assert_eq!(others_read(folder.path()), lines.lines().count());
    let said = content("notes.py", &[&schemas(), folder.path()]);
    assert!(said.contains(&format!("of {} kinds", catalogue().kinds().count())), "{said}");
}

#[test]
fn the_bundle_of_the_vectors_is_read_by_others() {
    assert_eq!(content("envelopes.py", &[&reference("log/bundle")]), "8 envelopes checked");
}

#[test]
fn the_outside_checks_are_not_blind() {
    // The vectors' data is not meant to satisfy the kinds' schemas.
    let (content, said) = run("notes.py", &[&schemas(), &reference("log/bundle")]);
    assert!(!content && said.contains("seq 5: egg.candled.v1"), "{said}");
    let folder = tempfile::tempdir().unwrap();
    let mut lines = a_note_of_every_example();
    // The last signature is changed in one character.
    let at = lines.rfind("==").unwrap() - 10;
    let other = if &lines[at..=at] == "A" { "B" } else { "A" };
    lines.replace_range(at..=at, other);
    std::fs::write(folder.path().join("envelopes.ndjson"), lines).unwrap();
    let (content, said) = run("envelopes.py", &[folder.path()]);
    assert!(!content && said.contains("does not verify every signature") && said.contains("1 faults"), "{said}");
}

/// A key under a passphrase is read by others, and theirs by us.
#[test]
fn others_open_our_keys_and_we_theirs() {
    let folder = tempfile::tempdir().unwrap();
    let (ours, theirs, passphrase) = (folder.path().join("ours.pem"), folder.path().join("theirs.pem"), "an invented passphrase");
    let made = Identity::create_protected(&ours, passphrase).unwrap();
    let public = hex(&made.public_key());
    let said = content("keys.py", &[&ours, Path::new(passphrase), Path::new(&public), &theirs]);
    let opened = Identity::open_with(&theirs, |_| Ok(passphrase.to_owned())).unwrap();
    assert_eq!(said, hex(&opened.public_key()));
}

/// The season goes through the real client to the real service, and out as its bundle.
#[test]
fn the_invented_season_is_read_by_others() {
    let season = Season::from_seed(SEED);
    let folders = Folders::make(&Arguments { dir: None, once: true, out: None, port: 0, seed: SEED }).unwrap();
    let mut stage = Stage::found(&season, &folders.folder, "127.0.0.1:0".parse().unwrap()).unwrap();
    let receipts = stage.play().unwrap_or_else(|trouble| panic!("seed {SEED}: {trouble}")).receipts;
    stage.client().bundle(&folders.bundle).unwrap();
    let lines = std::fs::read_to_string(folders.bundle.join("envelopes.ndjson")).unwrap();
    let withheld = lines.lines().filter(|line| line.starts_with("{\"withheld\"")).count();
    assert_eq!(others_read(&folders.bundle) + withheld, receipts);
}

#[test]
fn a_calendar_of_what_is_due_is_read_by_another_program() {
    use selachron_record::domain::record::{DueItem, DueWhat, RoundPlace};
    use selachron_schemas::names::Subject;
    use selachron_schemas::time::Instant;
    let subject = |noun: &str, at: u64| Subject::parse(&format!("{noun}/{}", selachron_tests::fixture::ulid(3, at))).expect("a subject");
    let item = |at: u64, time: &str| DueItem {
        what: DueWhat::LookAgain,
        subject: subject("egg", at),
        label: format!("A{at}; left, top \\ Ä"),
        tank: Some(subject("tank", 1)),
        due_at: Instant::parse(time).expect("a time"),
        overdue_days: 0,
        why: "Held apart; to be looked at again, übermorgen, 48 hours later.\nBy two people.".repeat(3),
        events: Vec::new(),
        whose: Vec::new(),
        discrepancy: None,
        suspected: Vec::new(),
        urgency: 1,
        tank_label: Some("Trays".to_owned()),
        place: Some(RoundPlace { place: subject("place", 1), label: "T1".to_owned(), order: 1, row: None }),
    };
    let as_of = Instant::parse("2026-03-02T00:00:00Z").expect("a time");
    let items = [item(1, "2026-03-01T23:30:00Z"), item(2, "2026-03-02T10:00:00Z")];
    let text = selachron_record::report::calendar::calendar(&items, "records.example.org/nursery", as_of, chrono_tz::Tz::Europe__Helsinki);
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("due.ics");
    std::fs::write(&file, text).expect("a file");
    let (content, said) = run("calendars.py", &[&file]);
    assert!(content, "{said}");
    let lines: Vec<&str> = said.lines().collect();
    // 23:30 UTC is the next day in Helsinki.
    assert_eq!(lines[0], "2026-03-02|look again: A1; left, top \\ Ä|Trays, T1|1");
    assert_eq!(lines.last(), Some(&"2 events"));
}
