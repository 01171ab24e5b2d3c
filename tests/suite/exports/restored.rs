//! A log goes out as a bundle and comes back: the same root, sealed until it is unsealed.

use super::Exported;
use selachron_record::clock::SimulatedClock;
use selachron_record::config::Network;
use selachron_record::evidence::Evidence;
use selachron_record::export::{Source, write};
use selachron_record::failure::{Failure, Setup};
use selachron_record::init::{KEY_FILE, STORE_FILE};
use selachron_record::store::EventStore as _;
use selachron_record::store::sqlite::Sqlite;
use selachron_record::upkeep::restore::restore;
use selachron_record::upkeep::unseal::unseal;
use selachron_record::upkeep::{self, Status, status};
use selachron_record::{Service, Settings};
use selachron_schemas::audit::trust::Trust;
use selachron_schemas::encoding::hex;
use selachron_schemas::merkle::sha256;
use selachron_tests::fixture::envelope;
use selachron_tests::world::{Who, World};
use serde_json::json;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// A bundle of a told nursery, in the world's own folder.
fn bundle(told: &Exported) -> PathBuf {
    let bundle = told.world.scratch().join("bundle");
    told.world.client().bundle(&bundle).expect("a bundle");
    bundle
}

fn names(folder: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(folder).expect("a folder").flatten();
    let mut names: Vec<String> = entries.map(|entry| entry.file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    names
}

#[test]
fn a_bundle_comes_back_with_the_same_root_and_sealed() {
    let told = Exported::told();
    let (bundle, back) = (bundle(&told), told.world.scratch().join("back"));
    let served: Status = status(&told.world.log_folder()).expect("the log");
    let restored = restore(&bundle, &back).expect("a sound bundle");
    assert_eq!((restored.size, &restored.root, restored.mark_size), (served.size, &served.root, Some(served.size)));
    assert!(restored.sealed.is_some_and(|why| why.contains("put back from a bundle")));
    assert_eq!(status(&back).expect("a log").root, served.root);
    // The key is in no bundle; with it, and with what the bundle vouches for, the log opens again.
    std::fs::copy(told.world.log_folder().join(KEY_FILE), back.join(KEY_FILE)).expect("the key is put beside");
    let opened = unseal(&back, &[], Some(&bundle)).expect("it reaches the highest checkpoint known");
    assert_eq!((opened.size, opened.root, opened.sealed), (served.size, served.root, None));
}

/// The files of a folder and those below it, by their names.
fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut files = BTreeMap::new();
    for entry in std::fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        let name = path.file_name().expect("a name").to_string_lossy().into_owned();
        if path.is_dir() {
            files.extend(self::files(&path).into_iter().map(|(below, bytes)| (format!("{name}/{below}"), bytes)));
        } else {
            files.insert(name, std::fs::read(&path).expect("a file"));
        }
    }
    files
}

/// A bundle is put back, unsealed and served, and gives a bundle again: the same files, byte for byte. The
/// names of the older checkpoints in it.
#[track_caller]
fn comes_back_byte_for_byte(world: &World) -> Vec<String> {
    let [bundle, back, again] = ["bundle", "back", "again"].map(|name| world.scratch().join(name));
    world.client().bundle(&bundle).expect("a bundle");
    restore(&bundle, &back).expect("a sound bundle");
    for key in names(&world.log_folder()).iter().filter(|name| name.starts_with(KEY_FILE)) {
        std::fs::copy(world.log_folder().join(key), back.join(key)).expect("a key is put beside");
    }
    unseal(&back, &[], Some(&bundle)).expect("it reaches the highest checkpoint known");
    let settings = Settings {
        data_dir: back.clone(),
        listen: "127.0.0.1:0".parse().expect("an address"),
        network: Network::default(),
        clock: Arc::new(SimulatedClock::new(world.now())),
        typesetter: None,
        allow_simulated: true,
    };
    let service = Service::start(settings).expect("it is served");
    write(&again, &Source::of(service.journal(), &Evidence::of(&back)).expect("a published log")).expect("a bundle");
    let (first, second) = (files(&bundle), files(&again));
    assert_eq!(first.keys().collect::<Vec<_>>(), second.keys().collect::<Vec<_>>());
    for (name, bytes) in &first {
        assert_eq!(second.get(name), Some(bytes), "{name}");
    }
    first.into_keys().filter_map(|name| name.strip_prefix("checkpoints/").map(str::to_owned)).collect()
}

#[test]
fn the_next_bundle_is_the_same_file_by_file() {
    let told = Exported::told();
    let older = comes_back_byte_for_byte(&told.world);
    assert!(older.len() > 10, "each note was published by itself: {older:?}");
}

#[test]
fn files_that_notes_name_come_back() {
    let mut world = World::new();
    let (photo, report) = (b"the bytes of an invented photo", b"an invented report");
    let species = world.species("Inventus exemplaris", "invented shark");
    let adults = world.tank("Adults", "adults");
    let egg = world.egg("A1", &species, &adults, None);
    let look = json!({"seen_into": true, "band": 3, "movement": "moving", "photo_sha256": hex(&sha256(photo))});
    world.record(Who::Keeper, "egg.candled.v1", &egg, &look);
    let at = world.read("/v1/collection", &[]);
    let issued = json!({
        "query": "/v1/reports/annual/2025", "as_of": world.now().utc_text(), "known_at": at["size"], "root": at["root"],
        "software": "an invented program", "tzdb": "2026a", "sha256": hex(&sha256(report)),
    });
    world.record(Who::Curator, "report.issued.v1", "collection", &issued);
    for file in [&photo[..], &report[..]] {
        world.client().keep_file(file).expect("a named file is kept");
    }
    comes_back_byte_for_byte(&world);
    let back = files(&world.scratch().join("back"));
    for file in [&photo[..], &report[..]] {
        assert!(back.values().any(|bytes| bytes == file), "it is kept");
    }
}

/// Whoever holds only the former key of a log ties a bundle to it by the last checkpoint that it signed; that
/// must be so of a bundle of the log that was put back.
#[test]
fn a_former_log_key_still_ties_after_a_restore() {
    let mut world = World::new();
    let former = world.client().log_key().expect("a key");
    let (_, new) = upkeep::rekey(&world.log_folder()).expect("a next key");
    let until = world.client().look().expect("a checkpoint").checkpoint.size + 2;
    let data = json!({"log_vkey": new.to_string(), "overlap_until_size": until, "reason": "the machine that holds the key is replaced"});
    let now = world.now();
    let roots = world.roots();
    let body = roots[0].body("log.rekeyed.v1", "collection", now, &data);
    let note = envelope(&body, &[&roots[0], &roots[1]]);
    world.post(&note).recorded().expect("the key is changed");
    for label in ["One", "Two", "Three"] {
        world.tank(label, "nursery");
    }
    comes_back_byte_for_byte(&world);
    let trust = Trust { log_key: Some(former), ..Trust::default() };
    let audit = selachron_verify::bundle(&world.scratch().join("again"), &trust).expect("a bundle");
    assert!(audit.faults.is_empty(), "{:?}", audit.faults);
    assert_eq!(audit.ties.former_log_key_up_to, Some(until));
}

#[test]
fn a_withheld_body_stays_withheld() {
    let mut world = World::new();
    let tank = world.tank("T", "holding");
    let remark = "an invented person was here";
    let told = world.record(Who::Keeper, "tank.searched.v1", &tank, &json!({"eggs_found": 0, "whole_tank": true, "remark": remark}));
    // Others are told after it, so that it is published before it is withheld, here and where it is put back.
    world.tank("Another", "holding");
    let (now, keyid) = (world.now().utc_text(), world.staff.keeper.keyid.to_string());
    let data = json!({
        "seq": told.seq, "id": told.id, "kind": "tank.searched.v1", "subject": tank, "time": now, "keyid": keyid,
        "keycount": told.keycount, "reason": "a name in a remark", "authority": "privacy law",
    });
    let withheld = world.say_with(Who::Registrar, "body.withheld.v1", "collection", &data, &serde_json::Map::new(), &[Who::Curator]);
    withheld.recorded().expect("two persons withhold");
    let (bundle, back) = (world.scratch().join("bundle"), world.scratch().join("back"));
    world.client().bundle(&bundle).expect("a bundle");
    let served = status(&world.log_folder()).expect("the log");
    assert_eq!(restore(&bundle, &back).expect("a sound bundle").root, served.root);
    let store = Sqlite::open_to_read(&back.join(STORE_FILE)).expect("a store");
    let row = store.read_all(told.seq, 1).expect("it can be read").pop().expect("its leaf is there");
    assert_eq!((row.leaf.seq, row.body), (told.seq, None), "and its body is not");
    let holds = |bytes: &[u8]| bytes.windows(remark.len()).any(|part| part == remark.as_bytes());
    assert!(files(&back).values().all(|bytes| !holds(bytes)), "nor is it anywhere in the folder");
    assert_eq!(store.withholdings().expect("it can be read").len(), 1);
}

#[test]
fn a_bundle_that_was_touched_is_refused_and_leaves_nothing() {
    let told = Exported::told();
    let (bundle, back) = (bundle(&told), told.world.scratch().join("back"));
    let before = names(told.world.scratch());
    let leaves = std::fs::read_to_string(bundle.join("leaves")).expect("leaves");
    std::fs::write(bundle.join("leaves"), leaves.replacen("sig ", "sIg ", 1)).expect("somebody touches it");
    match restore(&bundle, &back) {
        Err(Failure::Setup(Setup::Refused(said))) => assert!(said.contains("does not verify"), "{said}"),
        other => panic!("{other:?}"),
    }
    assert_eq!(names(told.world.scratch()), before, "nothing is left");
}

#[test]
fn a_folder_with_something_in_it_is_left_alone() {
    let told = Exported::told();
    let (bundle, back) = (bundle(&told), told.world.scratch().join("back"));
    std::fs::create_dir(&back).expect("a folder");
    std::fs::write(back.join("letter.txt"), "mine").expect("a file");
    match restore(&bundle, &back) {
        Err(Failure::Setup(Setup::Exists(said))) => assert!(said.contains("is not empty"), "{said}"),
        other => panic!("{other:?}"),
    }
    assert_eq!(names(&back), ["letter.txt"]);
    std::fs::remove_file(back.join("letter.txt")).expect("it goes");
    restore(&bundle, &back).expect("an empty folder is taken");
}

/// Whoever is killed in the middle leaves a folder beside that nobody takes for a log. The next one removes it,
/// also where its process has the same number; what another one is filling, and what is no such folder, stays.
#[test]
fn what_a_killed_restore_leaves_does_not_stand_in_the_way() {
    let told = Exported::told();
    let (bundle, back) = (bundle(&told), told.world.scratch().join("back"));
    let beside = |ending: String| told.world.scratch().join(format!("back.restoring-{ending}"));
    let [own, other, filling, letters] = [std::process::id().to_string(), "1".to_owned(), "2".to_owned(), "of-mine".to_owned()].map(beside);
    for half in [&own, &other, &filling, &letters] {
        std::fs::create_dir(half).expect("half a restore");
        std::fs::write(half.join("half.db"), "half").expect("half a store");
        assert!(!back.exists() && status(half).is_err(), "it is no log");
    }
    let held = std::fs::File::open(&filling).expect("a folder");
    held.lock().expect("another one is filling it");
    restore(&bundle, &back).expect("a sound bundle");
    assert_eq!(status(&back).expect("a log").root, status(&told.world.log_folder()).expect("the log").root);
    assert_eq!([&own, &other, &filling, &letters].map(|path| path.exists()), [false, false, true, true]);
    assert_eq!(names(&filling), ["half.db"]);
}
