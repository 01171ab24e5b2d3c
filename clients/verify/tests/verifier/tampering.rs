//! Whatever is changed in a bundle is found, also when `SHA256SUMS` is made right again.

use crate::log::{Log, assert_says, assert_sound, by_key, by_seen, check, mend_sums, told};
use crate::season::season;
use selachron_schemas::audit::Verdict;
use selachron_schemas::audit::trust::Trust;
use selachron_schemas::bundle::{Files, SUMS};

/// Positions over all files, drawn anew from this seed.
const SEED: u64 = 7;
const POSITIONS: usize = 560;
/// Files up to this size are tried byte by byte.
const SMALL_BYTES: usize = 300;

fn next(state: &mut u64) -> u64 {
    *state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
    *state >> 33
}

/// Flips one bit and fails unless it is found; `mended`: with `SHA256SUMS` made right again.
#[track_caller]
fn assert_flip_is_found(files: &mut Files, path: &str, at: usize, bit: u8, mended: bool) {
    let sums = files[SUMS].clone();
    files.get_mut(path).unwrap()[at] ^= 1 << bit;
    if mended {
        mend_sums(files);
    }
    let audit = check(files, &Trust::default());
    assert_eq!(audit.verdict, Verdict::Broken, "{path}, byte {at}, bit {bit}: not found");
    let placed = audit.faults.iter().all(|fault| fault.seq.is_some() || fault.file.is_some());
    assert!(placed, "{path}, byte {at}, bit {bit}: {:?}", told(&audit));
    if path == SUMS || !mended {
        assert!(audit.faults.iter().any(|fault| fault.file.as_deref() == Some(SUMS)), "{:?}", told(&audit));
    }
    files.get_mut(path).unwrap()[at] ^= 1 << bit;
    files.insert(SUMS.to_owned(), sums);
}

#[test]
fn every_flipped_byte_is_found() {
    let mut files = season(1).files();
    let paths: Vec<(String, usize)> = files.iter().map(|(path, bytes)| (path.clone(), bytes.len())).collect();
    let total: usize = paths.iter().map(|(_, length)| length).sum();
    let (mut state, mut tried) = (SEED, 0);
    // At least one position a file, the rest by size: the larger a file, the more.
    for (path, length) in &paths {
        let share = 1 + POSITIONS * length / total;
        for _ in 0..share {
            let (at, bit) = (usize::try_from(next(&mut state)).unwrap() % length, u8::try_from(next(&mut state) % 8).unwrap());
            assert_flip_is_found(&mut files, path, at, bit, path != SUMS && tried % 4 != 0);
            tried += 1;
        }
    }
    assert!(tried >= 500, "only {tried} positions");
}

#[test]
fn every_flipped_byte_of_the_small_files_is_found() {
    let mut files = season(1).files();
    let small: Vec<(String, usize)> =
        files.iter().filter(|(_, bytes)| bytes.len() <= SMALL_BYTES).map(|(path, bytes)| (path.clone(), bytes.len())).collect();
    let names: Vec<&str> = small.iter().map(|(path, _)| path.as_str()).collect();
    assert!(names.contains(&"checkpoint") && names.contains(&"log.vkey") && names.contains(&"checkpoints/20"), "{names:?}");
    for (path, length) in &small {
        for at in 0..*length {
            assert_flip_is_found(&mut files, path, at, u8::try_from(at % 8).unwrap(), true);
        }
    }
}

#[test]
fn bytes_added_to_or_cut_from_any_file_are_found() {
    let files = season(1).files();
    for path in files.keys().filter(|path| *path != SUMS) {
        for change in [|bytes: &mut Vec<u8>| bytes.push(b'\n'), |bytes: &mut Vec<u8>| bytes.truncate(bytes.len() - 1)] {
            let mut changed = files.clone();
            change(changed.get_mut(path).unwrap());
            mend_sums(&mut changed);
            assert_eq!(check(&changed, &Trust::default()).verdict, Verdict::Broken, "{path}");
        }
    }
}

#[test]
fn a_file_added_or_missing_is_found_and_named() {
    let files = season(1).files();
    for extra in ["notes.txt", "checkpoints/021", "checkpoints/x", "schemas/more.json", "reports/x.json", ".hidden", "leaves/0"] {
        let mut changed = files.clone();
        changed.insert(extra.to_owned(), b"{}\n".to_vec());
        mend_sums(&mut changed);
        assert_says(&check(&changed, &Trust::default()), &format!("{extra}: no bundle holds a file of this name"));
    }
    for path in files.keys() {
        let mut changed = files.clone();
        changed.remove(path);
        let audit = check(&changed, &Trust::default());
        assert!(audit.verdict == Verdict::Broken, "{path} is missing");
        let optional = ["checkpoints/", "attachments/", "reports/"].iter().any(|folder| path.starts_with(folder));
        assert_says(&audit, if optional { SUMS } else { path });
    }
}

#[test]
fn a_file_that_no_note_names_is_found() {
    let mut log = season(1);
    log.attachments.push(b"named by nobody".to_vec());
    log.reports.push(b"{}".to_vec());
    let told = told(&check(&log.files(), &by_key(&log)));
    assert_eq!(told.len(), 2, "{told:?}");
    assert!(told.iter().all(|fault| fault.contains("no note names this file")));
}

#[test]
fn notes_swapped_are_found() {
    let mut log = season(1);
    log.notes.swap(30, 31);
    // Seq and hash of the leaves stay with their notes: the numbers no longer run on.
    let audit = check(&log.files(), &by_key(&log));
    assert_says(&audit, "the leaf says seq 31, and stands at 30");
    // Numbered anew the leaves are others than those the published checkpoints sign.
    let mut renumbered = log.clone();
    for (seq, (leaf, _)) in (0..).zip(renumbered.notes.iter_mut()) {
        leaf.seq = seq;
    }
    let audit = check(&renumbered.files(), &by_key(&log));
    assert_says(&audit, "checkpoints/40");
    assert_says(&audit, "another root");
}

#[test]
fn a_body_exchanged_for_another_is_found() {
    let mut log = season(1);
    let (first, second) = (log.notes[30].1.clone(), log.notes[31].1.clone());
    log.notes[30].1 = second;
    log.notes[31].1 = first;
    let audit = check(&log.files(), &by_key(&log));
    assert_eq!(audit.faults[0].seq, Some(30), "{:?}", told(&audit));
}

/// What nobody can find from the bundle alone: whoever holds the log key leaves the newest notes
/// out and signs what is left.
#[test]
fn notes_cut_off_and_signed_again_are_found_only_by_what_was_kept() {
    let log = season(1);
    let newest = log.checkpoints[&log.size()].clone();
    for taken in [1, 2, 7] {
        let cut = log.cut_to(log.size() - taken);
        let mut files = cut.files();
        files.retain(|path, _| !path.starts_with("reports/"));
        mend_sums(&mut files);
        assert_sound(&check(&files, &by_key(&log)));
        assert_sound(&check(&files, &by_seen(&[&log.checkpoints[&20]])));
        for kept in [&newest, &log.receipt(3)] {
            let audit = check(&files, &by_seen(&[kept]));
            assert_says(&audit, "notes have been taken away");
        }
    }
}

/// Whoever holds the log key takes one note out of the middle, numbers the rest anew and signs.
#[test]
fn a_note_taken_out_of_the_middle_is_found_by_any_newer_checkpoint() {
    let log = season(1);
    let mut rewritten = log.clone();
    rewritten.notes.remove(24);
    rewritten.checkpoints.retain(|size, _| *size < 24);
    for (seq, (leaf, _)) in (0..).zip(rewritten.notes.iter_mut()) {
        leaf.seq = seq;
    }
    let files = rewritten.files();
    // Later notes of that case say which version they had, and devices what they saw.
    assert_eq!(check(&files, &by_key(&log)).verdict, Verdict::Broken);
    assert_says(&check(&files, &by_seen(&[&log.checkpoints[&40]])), "another root over the first 40 notes");
}

#[test]
fn a_log_made_up_with_other_keys_is_found_by_key_or_by_what_was_kept() {
    let (log, made_up) = (season(1), season(2));
    assert_eq!(log.size(), made_up.size());
    let files = made_up.files();
    let alone = check(&files, &Trust::default());
    assert_eq!((alone.verdict, alone.faults.len()), (Verdict::NotTied, 0), "consistent with itself");
    assert_says(&check(&files, &by_key(&log)), "not signed by the log key that you trust");
    assert_says(&check(&files, &by_seen(&[&log.checkpoints[&20]])), "signed by no log key of this bundle");
    assert_says(&check(&files, &by_seen(&[&log.receipt(5)])), "signed by no log key of this bundle");
}

#[test]
fn a_checkpoint_of_another_key_is_found() {
    let (log, other) = (season(1), Log::new(9));
    let foreign = log.checkpoint().sign(&[&other.key(crate::log::Who::Log)]);
    let audit = check(&log.files_with(&foreign), &Trust::default());
    assert_says(&audit, "no line by the log key in force at this size");
    assert_says(&audit, "of no key which may sign here");
    let both = log.checkpoint().sign(&[&log.key(crate::log::Who::Log), &other.key(crate::log::Who::Log)]);
    assert_says(&check(&log.files_with(&both), &Trust::default()), "of no key which may sign here");
    let twice = log.checkpoint().sign(&[&log.key(crate::log::Who::Log), &log.key(crate::log::Who::Log)]);
    assert_says(&check(&log.files_with(&twice), &Trust::default()), "a second line by one key");
}
