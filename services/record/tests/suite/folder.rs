//! The folder of a log, and `selachrond` at the command line.

use crate::support::house::House;
use crate::support::wire::{get, post_one, send};
use crate::support::{Cast, ORIGIN, START, Signer, body_of, envelope};
use selachron_record::clock::{Clock as _, SystemClock};
use selachron_record::failure::{Failure, Setup};
use selachron_record::journal::published::Condition;
use selachron_record::{Service, Settings, export, init, upkeep};
use selachron_schemas::limits::HIGH_WATER_PLACE_BYTES;
use selachron_schemas::note::Checkpoint;
use selachron_schemas::receipt::Receipt;
use selachron_schemas::token::Token;
use serde_json::{Value, json};
use std::io::{BufRead as _, BufReader};
use std::net::SocketAddr;
use std::path::Path;
use std::process::{Child, Command, Output, Stdio};

fn selachrond(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_selachrond")).args(arguments).env_remove("SELACHRON_DATA_DIR").output().unwrap()
}

#[track_caller]
fn fails(arguments: &[&str], code: i32, says: &str) {
    let output = selachrond(arguments);
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(code), "{arguments:?}: {said}");
    assert!(said.contains(says) && output.stdout.is_empty(), "{arguments:?}: {said}");
}

fn path(folder: &Path) -> &str {
    folder.to_str().unwrap()
}

/// A real record: the log key made here, the root keys elsewhere.
fn found_for_real(folder: &Path) -> Cast {
    let cast = Cast::default();
    let root = |signer: &Signer| format!("{}={}", signer.public(), signer.person);
    let (first, second) = (root(&cast.roots[0]), root(&cast.roots[1]));
    let said = selachrond(&[
        "init",
        path(folder),
        "--origin",
        "records.example.org/real",
        "--name",
        "Invented Nursery",
        "--country",
        "AU",
        "--time-zone",
        "Australia/Brisbane",
        "--root",
        &first,
        "--root",
        &second,
    ]);
    assert!(said.status.success(), "{}", String::from_utf8_lossy(&said.stderr));
    let body: Value = serde_json::from_slice(&std::fs::read(folder.join("founding.body.json")).unwrap()).unwrap();
    let signed = folder.join("founding.json");
    std::fs::write(&signed, envelope(&body, &[&cast.roots[0]])).unwrap();
    fails(&["init", path(folder), "--found", path(&signed)], 5, "signed by all its root keys");
    fails(&["serve", path(folder)], 4, "not founded yet");
    std::fs::write(&signed, envelope(&body, &[&cast.roots[0], &cast.roots[1]])).unwrap();
    assert!(selachrond(&["init", path(folder), "--found", path(&signed)]).status.success());
    fails(&["init", path(folder), "--found", path(&signed)], 5, "founded already");
    cast
}

struct Serving {
    child: Child,
    addr: SocketAddr,
}

fn serve(folder: &Path) -> Serving {
    let mut child = Command::new(env!("CARGO_BIN_EXE_selachrond"))
        .args(["serve", path(folder), "--listen", "127.0.0.1:0"])
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut line = String::new();
    BufReader::new(child.stdout.take().unwrap()).read_line(&mut line).unwrap();
    let addr = line.trim().strip_prefix("http://").expect("it says where it listens").parse().unwrap();
    Serving { child, addr }
}

impl Drop for Serving {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

#[test]
fn a_log_that_is_not_there_is_said_and_not_made() {
    let folder = tempfile::tempdir().unwrap();
    let missing = folder.path().join("none");
    for command in ["serve", "status", "rebuild"] {
        fails(&[command, path(&missing)], 4, "holds no log");
    }
    assert!(!missing.exists());
    fails(&["serve", path(folder.path())], 4, "holds no log");
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0, "nothing was created");
    fails(&["serve"], 5, "no folder given");
    fails(&["serve", path(&missing), "--listen", "nowhere"], 2, "--listen");
}

#[test]
fn a_record_is_founded_served_killed_and_served_again() {
    let folder = tempfile::tempdir().unwrap();
    let cast = found_for_real(folder.path());
    let serving = serve(folder.path());
    fails(&["serve", path(folder.path())], 5, "another process has the log");
    fails(&["rebuild", path(folder.path())], 5, "another process has the log");
    let now = selachron_record::clock::Clock::now(&selachron_record::clock::SystemClock);
    let [first, second] = &cast.roots;
    let data = json!({"public_key": cast.registrar.public(), "person": cast.registrar.person, "roles": ["registrar"], "device": "desk"});
    let more = json!({"source": "https://records.example.org/real", "keycount": 2});
    let body = cast.body(first, "key.enrolled.v1", &format!("key/{}", cast.registrar.id()), now, data, more);
    let note = envelope(&body, &[first, second, &cast.registrar]);
    let reply = post_one(serving.addr, &note);
    assert_eq!(reply.status, 201, "{}", reply.text());
    let receipt = reply.json()["receipt"].as_str().unwrap().to_owned();
    drop(serving);
    let serving = serve(folder.path());
    let again = post_one(serving.addr, &note);
    assert_eq!((again.status, again.json()["receipt"].as_str().unwrap()), (200, receipt.as_str()));
    assert_eq!(Receipt::parse(&receipt).unwrap().leaf.seq, 1);
    let status = String::from_utf8(selachrond(&["status", path(folder.path())]).stdout).unwrap();
    assert!(status.contains("notes       2") && status.contains("in use      yes"), "{status}");
    let taken = serving.addr.to_string();
    let other = tempfile::tempdir().unwrap();
    found_for_real(other.path());
    fails(&["serve", path(other.path()), "--listen", &taken], 5, "is in use by another program");
    fails(&["serve", path(other.path()), "--listen", "0.0.0.0:0"], 5, "can be reached from other machines");
    drop(serving);
    assert!(selachrond(&["rebuild", path(folder.path())]).status.success());
}

#[test]
fn a_log_with_a_simulated_clock_is_not_served_for_real() {
    let house = House::founded();
    fails(&["serve", path(house.path())], 5, "simulated_clock");
    let refused = Service::start(Settings { allow_simulated: false, ..house.settings() });
    assert!(matches!(refused, Err(Failure::Setup(Setup::Refused(_)))));
}

#[test]
fn two_services_do_not_share_a_log() {
    let (house, service) = House::served();
    assert!(matches!(house.start(), Err(Failure::Setup(Setup::InUse(_)))));
    drop(service);
    house.start().unwrap();
}

#[test]
fn a_copy_that_is_put_back_opens_sealed() {
    let (house, service) = House::served();
    post_one(service.addr(), &house.cast.water(&house.system, START, json!({})));
    let to = house.path().join("copy");
    let status = upkeep::backup(house.path(), &to).unwrap();
    assert_eq!((status.size, status.mark_size), (6, Some(6)));
    assert!(!to.join(init::KEY_FILE).exists(), "the key is not in a copy");
    fails(&["backup", path(&to), "--folder", path(house.path())], 1, "making");
    post_one(service.addr(), &house.cast.water(&house.system, START, json!({})));
    service.shutdown();
    std::fs::copy(house.path().join(init::KEY_FILE), to.join(init::KEY_FILE)).unwrap();
    let service = Service::start(Settings { data_dir: to, ..house.settings() }).unwrap();
    assert!(matches!(service.journal().condition(), Condition::Sealed(_)));
    assert_eq!(post_one(service.addr(), &house.cast.water(&house.system, START, json!({}))).problem(), (503, "sealed".to_owned()));
    assert_eq!(get(service.addr(), "/v1/log/checkpoint").status, 200);
}

#[test]
fn a_sealed_log_is_opened_only_at_the_highest_checkpoint_known() {
    let (house, service) = House::served();
    let water = || house.cast.water(&house.system, START, json!({}));
    let outside = tempfile::tempdir().unwrap();
    let (copy, seen, bundle) = (house.path().join("copy"), outside.path().join("checkpoint"), outside.path().join("bundle"));
    upkeep::backup(house.path(), &copy).unwrap();
    let old = outside.path().join("old-bundle");
    export::write(&old, &export::Source::of(service.journal(), &selachron_record::evidence::Evidence::of(house.path())).unwrap()).unwrap();
    let late: Vec<Vec<u8>> = vec![water(), water()];
    let receipts: Vec<Value> = late.iter().map(|note| post_one(service.addr(), note).json()["receipt"].clone()).collect();
    std::fs::write(&seen, receipts[1].as_str().unwrap()).unwrap();
    export::write(&bundle, &export::Source::of(service.journal(), &selachron_record::evidence::Evidence::of(house.path())).unwrap())
        .unwrap();
    let newest = service.journal().published().head().cloned().unwrap();
    service.shutdown();
    std::fs::copy(house.path().join(init::KEY_FILE), copy.join(init::KEY_FILE)).unwrap();
    let tries = |arguments: &[&str], says: &str| fails(&[&["unseal", path(&copy)], arguments].concat(), 5, says);
    tries(&[], "cannot vouch for itself");
    tries(&["--seen", path(&seen)], "stands at 7 notes and the store holds 5");
    tries(&["--seen", path(&seen), "--bundle", path(&old)], "stands at 7 notes and the store holds 5");
    let forged = outside.path().join("forged");
    let other = ed25519_dalek::SigningKey::from_bytes(&[55; 32]);
    std::fs::write(&forged, Checkpoint { origin: ORIGIN.to_owned(), size: 5, root: [0; 32] }.sign(&[&other])).unwrap();
    tries(&["--seen", path(&forged)], "no checkpoint that this log has signed");
    std::fs::write(&forged, Checkpoint { origin: ORIGIN.to_owned(), size: 5, root: [0; 32] }.sign(&[&house.cast.log])).unwrap();
    tries(&["--seen", path(&forged)], "has forked");
    assert!(copy.join("sealed").exists());
    let opened = selachrond(&["unseal", path(&copy), "--seen", path(&seen), "--bundle", path(&bundle)]);
    assert!(opened.status.success(), "{}", String::from_utf8_lossy(&opened.stderr));
    let service = Service::start(Settings { data_dir: copy.clone(), ..house.settings() }).unwrap();
    assert_eq!(service.journal().published().head(), Some(&newest), "the same note, signed again");
    assert_eq!(post_one(service.addr(), &late[1]).json()["receipt"], receipts[1], "what was receipted is there");
    assert_eq!(post_one(service.addr(), &water()).json()["seq"], 7);
    service.shutdown();
    tries(&["--seen", path(&seen)], "is not sealed");
}

/// `restore` at the command line; what it gives reads and proves and takes no note until it is unsealed.
#[test]
fn a_log_put_back_from_a_bundle_takes_no_notes() {
    let (house, service) = House::served();
    let outside = tempfile::tempdir().unwrap();
    let (bundle, back) = (outside.path().join("bundle"), outside.path().join("back"));
    let evidence = selachron_record::evidence::Evidence::of(house.path());
    export::write(&bundle, &export::Source::of(service.journal(), &evidence).unwrap()).unwrap();
    let head = service.journal().published().head().cloned();
    service.shutdown();
    let said = selachrond(&["restore", path(&bundle), path(&back)]);
    assert!(said.status.success(), "{}", String::from_utf8_lossy(&said.stderr));
    let status = String::from_utf8(said.stdout).unwrap();
    assert!(status.contains("notes       5\n") && status.contains("put back from a bundle"), "{status}");
    fails(&["restore", path(&bundle), path(&back)], 5, "is not empty");
    std::fs::copy(house.path().join(init::KEY_FILE), back.join(init::KEY_FILE)).unwrap();
    let service = Service::start(Settings { data_dir: back.clone(), ..house.settings() }).unwrap();
    assert_eq!(service.journal().published().head().cloned(), head, "the same note");
    let water = house.cast.water(&house.system, START, json!({}));
    assert_eq!(post_one(service.addr(), &water).problem(), (503, "sealed".to_owned()));
    assert_eq!(get(service.addr(), "/v1/events").json()["items"].as_array().unwrap().len(), 5, "it goes on reading");
    service.shutdown();
    let opened = selachrond(&["unseal", path(&back), "--bundle", path(&bundle)]);
    assert!(opened.status.success(), "{}", String::from_utf8_lossy(&opened.stderr));
    let service = Service::start(Settings { data_dir: back, ..house.settings() }).unwrap();
    assert_eq!(post_one(service.addr(), &water).status, 201);
}

#[test]
fn a_withheld_leaf_is_put_back_without_its_body() {
    let (house, service) = House::served();
    let outside = tempfile::tempdir().unwrap();
    let (copy, bundle) = (house.path().join("copy"), outside.path().join("bundle"));
    upkeep::backup(house.path(), &copy).unwrap();
    let cast = &house.cast;
    let water = cast.water(&house.system, START, json!({}));
    assert_eq!(post_one(service.addr(), &water).status, 201);
    let body = body_of(&water);
    let data = json!({"seq": 5, "id": body["id"], "kind": body["type"], "subject": body["subject"], "time": body["time"],
        "keyid": body["keyid"], "keycount": body["keycount"], "reason": "names a person", "authority": "privacy law"});
    let withheld = cast.body(&cast.registrar, "body.withheld.v1", "collection", START, data, json!({}));
    assert_eq!(post_one(service.addr(), &envelope(&withheld, &[&cast.registrar, &cast.curator])).status, 201);
    export::write(&bundle, &export::Source::of(service.journal(), &selachron_record::evidence::Evidence::of(house.path())).unwrap())
        .unwrap();
    let newest = service.journal().published().head().cloned().unwrap();
    service.shutdown();
    std::fs::copy(house.path().join(init::KEY_FILE), copy.join(init::KEY_FILE)).unwrap();
    // A bundle whose withheld line nothing accounts for puts nothing back.
    let unaccounted = outside.path().join("unaccounted");
    std::fs::create_dir(&unaccounted).unwrap();
    for name in ["checkpoint", "leaves", "envelopes.ndjson"] {
        let text = std::fs::read_to_string(bundle.join(name)).unwrap();
        let kept = if name == "envelopes.ndjson" { text.lines().take(6).map(|line| format!("{line}\n")).collect() } else { text };
        std::fs::write(unaccounted.join(name), kept).unwrap();
    }
    fails(&["unseal", path(&copy), "--bundle", path(&unaccounted)], 5, "no note in it accounts for");
    let opened = selachrond(&["unseal", path(&copy), "--bundle", path(&bundle)]);
    assert!(opened.status.success(), "{}", String::from_utf8_lossy(&opened.stderr));
    let service = Service::start(Settings { data_dir: copy, ..house.settings() }).unwrap();
    assert_eq!(service.journal().published().head(), Some(&newest), "the same note, signed again");
    assert_eq!(service.journal().published().withheld_below(7), 1);
    assert_eq!(post_one(service.addr(), &house.cast.water(&house.system, START, json!({}))).json()["seq"], 7);
}

#[test]
fn an_older_store_under_a_newer_mark_is_sealed() {
    let (house, service) = House::served();
    let old = tempfile::tempdir().unwrap();
    upkeep::backup(house.path(), &old.path().join("copy")).unwrap();
    post_one(service.addr(), &house.cast.water(&house.system, START, json!({})));
    service.shutdown();
    for name in ["log.sqlite", "log.sqlite-wal", "log.sqlite-shm"] {
        let _ = std::fs::remove_file(house.path().join(name));
    }
    std::fs::copy(old.path().join("copy/log.sqlite"), house.path().join("log.sqlite")).unwrap();
    let service = house.start().unwrap();
    assert!(matches!(service.journal().condition(), Condition::Sealed(reason) if reason.contains("6 notes")));
}

#[test]
fn a_mark_that_a_crash_has_torn_leaves_the_one_before_it() {
    let (house, service) = House::served();
    let water = || house.cast.water(&house.system, START, json!({}));
    (0..3).for_each(|_| assert_eq!(post_one(service.addr(), &water()).status, 201));
    service.shutdown();
    let path = house.path().join("high-water-mark");
    let whole = std::fs::read(&path).unwrap();
    let newest = String::from_utf8_lossy(&whole).rfind("\n8\n").expect("the newest mark stands at 8 notes");
    let place = newest / HIGH_WATER_PLACE_BYTES * HIGH_WATER_PLACE_BYTES;
    // In the middle of the dash before the signature, in the root, and all of it.
    let dash = place + whole[place..].windows(3).position(|bytes| bytes == "\u{2014}".as_bytes()).unwrap();
    for (from, to) in [(dash + 1, dash + 9), (newest + 4, newest + 5), (place, place + 512)] {
        let mut torn = whole.clone();
        torn[from..to].fill(b'A');
        std::fs::write(&path, torn).unwrap();
        let service = house.start().unwrap();
        assert_eq!(service.journal().condition(), Condition::Writing, "{from}..{to}");
        assert_eq!(service.journal().published().size(), 8);
    }
    std::fs::write(&path, b"nothing of use").unwrap();
    assert!(matches!(house.start().unwrap().journal().condition(), Condition::Sealed(_)));
}

#[test]
fn a_folder_that_cannot_be_written_is_said() {
    let plan = init::Plan {
        origin: "records.example.org/x".to_owned(),
        name: "X".to_owned(),
        country: "AU".to_owned(),
        time_zone: "Australia/Brisbane".to_owned(),
        roots: [1, 2].map(|n| (Signer::new(n).key.verifying_key().to_bytes(), Signer::new(n).person)).to_vec(),
        root_threshold: 2,
        simulated_clock: true,
    };
    let clock = selachron_record::clock::SimulatedClock::new(START);
    // The kernel's own tree takes no new folders from anybody.
    let Err(Failure::Setup(Setup::Io(said))) = init::prepare(Path::new("/proc/selachron"), &plan, &clock) else { panic!("made") };
    assert!(said.starts_with("making /proc/selachron"), "{said}");
    let folder = tempfile::tempdir().unwrap();
    for (wrong, says) in [
        (init::Plan { origin: "https://x".to_owned(), ..plan.clone() }, "origin"),
        (init::Plan { time_zone: "Mars/Base".to_owned(), ..plan.clone() }, "time zone"),
        (init::Plan { country: "au".to_owned(), ..plan.clone() }, "country"),
        (init::Plan { roots: plan.roots[..1].to_vec(), ..plan.clone() }, "root keys"),
        (init::Plan { root_threshold: 3, ..plan.clone() }, "threshold"),
    ] {
        let refused = init::prepare(folder.path(), &wrong, &clock).unwrap_err().to_string();
        assert!(refused.contains(says), "{refused}");
    }
    init::prepare(folder.path(), &plan, &clock).unwrap();
    assert!(matches!(init::prepare(folder.path(), &plan, &clock), Err(Failure::Setup(Setup::Exists(_)))));
}

#[test]
fn a_demonstration_says_that_it_holds_all_keys() {
    let folder = tempfile::tempdir().unwrap();
    let said = selachrond(&[
        "init",
        path(folder.path()),
        "--demo",
        "--origin",
        "records.example.org/demo",
        "--name",
        "N",
        "--country",
        "AU",
        "--time-zone",
        "UTC",
    ]);
    assert!(said.status.success() && String::from_utf8_lossy(&said.stderr).contains("All its keys lie in one folder"));
    let root = init::read_key(&folder.path().join("keys/root-1.pem")).unwrap();
    let served = serve(folder.path());
    assert_eq!(get(served.addr, "/v1/keys").problem(), (401, "token-missing".to_owned()));
    let token = Token::sign(&root, "records.example.org/demo", SystemClock.now(), "01JDH3G6C0TEST000000000001");
    let read = send(served.addr, "GET", "/v1/keys", &[("authorization", &format!("Bearer {token}"))], b"");
    assert_eq!(read.json()["items"].as_array().unwrap().len(), 2);
}
