//! A log goes out as a bundle and comes back: the same root, sealed until it is unsealed.

use super::Exported;
use selachron_record::failure::{Failure, Setup};
use selachron_record::init::KEY_FILE;
use selachron_record::upkeep::restore::restore;
use selachron_record::upkeep::unseal::unseal;
use selachron_record::upkeep::{Status, status};
use selachron_tests::world::{Who, World};
use serde_json::json;
use std::path::{Path, PathBuf};

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

#[test]
fn a_withheld_body_stays_withheld() {
    let mut world = World::new();
    let tank = world.tank("T", "holding");
    let told = world.record(Who::Keeper, "tank.searched.v1", &tank, &json!({"eggs_found": 0, "whole_tank": true, "remark": "a name"}));
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

/// Whoever is killed in the middle leaves a folder beside that nobody takes for a log, and no other.
#[test]
fn what_a_killed_restore_leaves_does_not_stand_in_the_way() {
    let told = Exported::told();
    let (bundle, back) = (bundle(&told), told.world.scratch().join("back"));
    let half = told.world.scratch().join("back.restoring-1");
    std::fs::create_dir(&half).expect("half a restore");
    assert!(!back.exists() && status(&half).is_err(), "it is no log");
    restore(&bundle, &back).expect("a sound bundle");
    assert_eq!(status(&back).expect("a log").root, status(&told.world.log_folder()).expect("the log").root);
}
