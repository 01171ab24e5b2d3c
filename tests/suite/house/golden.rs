//! Golden files show what leaves the house; each belongs to a test.

use super::none;
use super::source::{Source, all_sources, files_below};
use selachron_tests::root;

/// Golden files, named below `tests/golden`, that no test source names.
fn orphans(files: &[String], tests: &[Source]) -> Vec<String> {
    let named = |name: &str| tests.iter().any(|source| source.text.contains(&format!("\"{name}\"")));
    files.iter().filter(|file| !named(file)).cloned().collect()
}

#[test]
fn no_golden_file_is_an_orphan() {
    let folder = root().join("tests/golden");
    let mut files = Vec::new();
    if folder.exists() {
        files_below(&folder, &mut files);
    }
    let files: Vec<String> = files.iter().filter_map(|path| path.strip_prefix("tests/golden/")).map(str::to_owned).collect();
    let tests: Vec<Source> = all_sources().into_iter().filter(Source::is_test).collect();
    none(&orphans(&files, &tests), "Delete the file below tests/golden, or compare something with it: golden(\"<name>\", &found):");
}

#[test]
fn an_orphan_is_noticed() {
    let tests = [Source::from_text("tests/suite/a.rs", "fn f() { golden(\"report/annual.json\", x) }")];
    let files = ["report/annual.json".to_owned(), "annual.json".to_owned()];
    assert_eq!(orphans(&files, &tests), ["annual.json"]);
}
