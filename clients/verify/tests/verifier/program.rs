//! The command: what it says and how it ends.

use crate::log::{Log, Who};
use crate::season::season;
use selachron_schemas::bundle::Files;
use std::fs;
use std::path::Path;
use std::process::{Command, Output};
use tempfile::TempDir;

fn write(folder: &Path, files: &Files) {
    for (path, content) in files {
        let file = folder.join(path);
        fs::create_dir_all(file.parent().unwrap()).unwrap();
        fs::write(file, content).unwrap();
    }
}

fn bundle(log: &Log) -> TempDir {
    let folder = TempDir::new().unwrap();
    write(folder.path(), &log.files());
    folder
}

fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_selachron-verify")).args(arguments).output().unwrap()
}

fn said(output: &Output) -> (i32, String) {
    (output.status.code().unwrap(), String::from_utf8(output.stdout.clone()).unwrap())
}

fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

#[test]
fn it_ends_as_it_says() {
    let log = season(1);
    let (folder, kept) = (bundle(&log), TempDir::new().unwrap());
    let (vkey, other) = (log.vkey().to_string(), season(2).vkey().to_string());
    let file = |name: &str, content: &str| {
        let path = kept.path().join(name);
        fs::write(&path, content).unwrap();
        text(&path).to_owned()
    };
    let checkpoint = file("checkpoint", &log.checkpoints[&40]);
    let receipt = file("receipt", &log.receipt(3));
    let foreign = file("foreign", &season(2).checkpoints[&40]);
    let policy = file("policy", &format!("log {vkey}\nquorum none\n"));
    let nonsense = file("nonsense", "hello\n");
    let path = text(folder.path());
    let cases: Vec<(i32, Vec<&str>)> = vec![
        (1, vec![path]),
        (0, vec![path, "--self-consistent"]),
        (0, vec![path, "--log-key", &vkey]),
        (3, vec![path, "--log-key", &other]),
        (3, vec![path, "--log-key", &other, "--self-consistent"]),
        (0, vec![path, "--policy", &policy]),
        (0, vec![path, "--seen", &checkpoint, "--seen", &receipt]),
        (3, vec![path, "--seen", &checkpoint, "--seen", &foreign]),
        (2, vec![path, "--seen", &nonsense]),
        (2, vec![path, "--policy", &nonsense]),
        (2, vec![path, "--log-key", "hello"]),
        (2, vec![path, "--without-schemas"]),
        (2, vec![]),
        (4, vec![path, "--seen", "/nowhere/at/all"]),
        (4, vec!["/nowhere/at/all"]),
        (4, vec![&checkpoint]),
    ];
    for (status, arguments) in cases {
        let output = run(&arguments);
        assert_eq!(output.status.code(), Some(status), "{arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
        assert_eq!(output.stdout.is_empty(), ![0, 1, 3].contains(&status), "{arguments:?}");
    }
}

#[test]
fn it_says_what_it_shows_and_what_it_does_not() {
    let log = season(1);
    let folder = bundle(&log);
    let (status, alone) = said(&run(&[text(folder.path())]));
    let root_key = format!("{}  {}", log.keyid(Who::RootA), crate::season::person(Who::RootA));
    for words in [
        "invented season, simulated clock",
        "Consistent with itself; not yet tied to a key you trust.",
        "every note is as it was signed, in the order it came, and none has been taken away since the checkpoint; it does not show that a note is true, nor that everything that happened was noted.",
        &log.vkey().to_string(),
        &log.keyid(Who::Log).to_string(),
        &root_key,
    ] {
        assert!(alone.contains(words), "{words:?} is not in\n{alone}");
    }
    assert_eq!(status, 1);
    let (status, tied) = said(&run(&[text(folder.path()), "--log-key", &log.vkey().to_string()]));
    assert_eq!(status, 0);
    assert!(tied.contains("signed by the log key that you trust") && !tied.contains("not yet tied"), "{tied}");
}

#[test]
fn it_names_the_note_or_the_file_and_byte() {
    let folder = bundle(&season(1));
    let leaves = folder.path().join("leaves");
    let mut bytes = fs::read(&leaves).unwrap();
    let at = bytes.len() - 20;
    bytes[at] ^= 1;
    fs::write(&leaves, bytes).unwrap();
    let (status, words) = said(&run(&[text(folder.path())]));
    assert_eq!(status, 3);
    assert!(words.contains("BROKEN") && words.contains("leaves, byte") && words.contains("SHA256SUMS, byte"), "{words}");
    assert!(!words.contains("It shows"), "nothing is shown by a broken bundle:\n{words}");
}

#[test]
fn its_json_says_the_same() {
    let log = season(1);
    let folder = bundle(&log);
    let (_, json) = said(&run(&[text(folder.path()), "--json"]));
    let answer: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(answer["verdict"], "not-tied");
    assert_eq!(answer["clock"], "invented season, simulated clock");
    assert_eq!(answer["caution"], "consistent with itself; not yet tied to a key you trust");
    assert_eq!(answer["size"], log.size());
    assert_eq!(answer["withheld"], 1);
    assert_eq!(answer["faults"], serde_json::json!([]));
    assert!(answer["findings"].as_array().unwrap().iter().any(|finding| finding["about"] == "vouched-for"));
    fs::write(folder.path().join("more"), "").unwrap();
    let (status, json) = said(&run(&[text(folder.path()), "--json"]));
    let answer: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!((status, &answer["verdict"], &answer["shows"]), (3, &"broken".into(), &serde_json::Value::Null));
    assert_eq!(answer["faults"][0]["file"], "more");
}

#[cfg(unix)]
#[test]
fn a_link_is_no_file_of_a_bundle() {
    let folder = bundle(&season(1));
    let (leaves, elsewhere) = (folder.path().join("leaves"), TempDir::new().unwrap());
    let moved = elsewhere.path().join("leaves");
    fs::copy(&leaves, &moved).unwrap();
    fs::remove_file(&leaves).unwrap();
    std::os::unix::fs::symlink(&moved, &leaves).unwrap();
    let (status, words) = said(&run(&[text(folder.path())]));
    assert_eq!(status, 3);
    assert!(words.contains("leaves: a bundle holds ordinary files only"), "{words}");
}
