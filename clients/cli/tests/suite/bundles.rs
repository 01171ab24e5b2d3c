//! Taking the log or an export away: whole or not at all, and never outside its folder.

use crate::command::Desk;
use crate::stub::{Lie, tar_of};
use crate::world::World;
use selachron_cli::fault::Fault;
use tar::EntryType;

#[test]
fn a_bundle_is_taken_with_a_checkpoint_that_holds() {
    let world = World::founded();
    let folder = world.path("bundle");
    let taken = world.client.bundle(&folder).expect("a bundle");
    assert_eq!((taken.files, taken.checkpoint.checkpoint.size), (3, world.size() as u64));
    assert!(folder.join("leaves").exists() && folder.join("schemas/event.schema.json").exists());
    let fault = world.client.bundle(&folder).expect_err("the folder is not empty");
    assert!(matches!(&fault, Fault::Usage(text) if text.contains("not empty")), "{fault}");
}

#[test]
fn a_bundle_that_does_not_hold_leaves_nothing_behind() {
    let world = World::founded();
    world.stub.state().lie = Lie::OtherKey;
    assert!(matches!(world.client.bundle(&world.path("bundle")), Err(Fault::Broken(_))));
    world.stub.state().lie = Lie::None;
    world.stub.state().archive = Some(tar_of(&[("leaves".to_owned(), "x".to_owned(), EntryType::Regular)]));
    assert!(world.client.bundle(&world.path("bundle")).is_err_and(|fault| fault.to_string().contains("no checkpoint")));
    let left: Vec<_> = std::fs::read_dir(world.folder.path()).expect("a folder").flatten().map(|entry| entry.file_name()).collect();
    assert!(!left.iter().any(|name| name.to_string_lossy().starts_with("bundle")), "{left:?}");
}

#[test]
fn no_name_in_an_archive_leads_outside_the_folder() {
    let world = World::founded();
    let plain = |name: &str| (name.to_owned(), "x".to_owned(), EntryType::Regular);
    for entries in [
        vec![plain("../outside")],
        vec![plain("/outside")],
        vec![plain("a/../../outside")],
        vec![("link".to_owned(), String::new(), EntryType::Symlink), plain("link/outside")],
        vec![("pipe".to_owned(), String::new(), EntryType::Fifo)],
        vec![plain("twice"), plain("twice")],
    ] {
        world.stub.state().archive = Some(tar_of(&entries));
        let fault = world.client.bundle(&world.path("bundle"));
        assert!(fault.is_err(), "{entries:?}");
        assert!(!world.path("outside").exists() && !world.path("bundle").exists());
        assert!(!std::path::Path::new("/outside").exists() && !std::path::Path::new("/tmp/outside").exists());
    }
}

/// What breaks off leaves nothing, whatever had come of it; what a run that was killed had left is swept; and
/// nothing is drawn where nobody looks.
#[test]
fn an_export_is_whole_or_not_there() {
    let desk = Desk::new();
    let left = || {
        let names = std::fs::read_dir(desk.world.folder.path()).expect("a folder").flatten().map(|entry| entry.file_name());
        names.map(|name| name.to_string_lossy().into_owned()).filter(|name| name.starts_with("notes")).collect::<Vec<_>>()
    };
    std::fs::write(desk.world.path("notes.ndjson.partial-1"), "half").expect("what a killed run left");
    desk.world.stub.state().export = (b"{\"seq\":0}\n".to_vec(), false);
    desk.keeper(&["export", "events", "notes.ndjson"]).fails(1, &["broke off", "nothing is left"]);
    assert!(left().is_empty(), "{:?}", left());
    desk.world.stub.state().export = (b"{\"seq\":0}\n{\"seq\":1}\n".to_vec(), true);
    let said = desk.keeper(&["export", "events", "notes.ndjson"]).ok();
    assert_eq!((left(), said.err.as_str()), (vec!["notes.ndjson".to_owned()], ""));
    desk.world.stub.state().export = (b"no tar at all".to_vec(), true);
    let said = desk.keeper(&["export", "tables", "notes"]).fails(1, &["the archive cannot be read"]);
    assert!(!said.err.contains("bundle"), "{}", said.err);
    assert_eq!(left(), ["notes.ndjson"]);
}
