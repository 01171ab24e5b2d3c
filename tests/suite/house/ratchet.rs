//! Functions have at most 70 lines and files at most 500. Those that were longer when they were
//! written stand in `ratchet.txt` with their length: they may shrink, never grow.

use super::none;
use super::source::{Source, all_sources};
use selachron_tests::root;
use std::collections::BTreeMap;

const FUNCTION_LINES_MAX: usize = 70;
const FILE_LINES_MAX: usize = 500;
const LIST: &str = "tests/suite/house/ratchet.txt";

/// What is too long: `path` or `path::function`, and its lines.
fn too_long(sources: &[Source]) -> BTreeMap<String, usize> {
    let mut found = BTreeMap::new();
    for source in sources {
        found.insert(source.path.clone(), source.text.lines().count());
        for function in source.functions().into_iter().filter(|_| !source.is_test()) {
            // Of two functions with one name the longer counts.
            let length = found.entry(format!("{}::{}", source.path, function.name)).or_default();
            *length = function.lines.max(*length);
        }
    }
    found.retain(|name, lines| *lines > if name.contains("::") { FUNCTION_LINES_MAX } else { FILE_LINES_MAX });
    found
}

/// `<lines> <name>` on each line; `#` begins a remark.
fn listed(text: &str) -> BTreeMap<String, usize> {
    let lines = text.lines().filter(|line| !line.is_empty() && !line.starts_with('#'));
    let entry = |line: &str| line.split_once(' ').and_then(|(lines, name)| Some((name.to_owned(), lines.parse().ok()?)));
    lines.map(|line| entry(line).unwrap_or_else(|| panic!("{LIST}: {line:?} is not `<lines> <name>`"))).collect()
}

fn compared(found: &BTreeMap<String, usize>, listed: &BTreeMap<String, usize>) -> Vec<String> {
    let mut faults = Vec::new();
    for (name, lines) in found {
        match listed.get(name) {
            None => faults.push(format!("{name} has {lines} lines: make it shorter")),
            Some(allowed) if lines > allowed => faults.push(format!("{name} grew from {allowed} to {lines} lines: make it shorter")),
            Some(allowed) if lines < allowed => faults.push(format!("{name} shrank to {lines} lines: write that in the list, well done")),
            Some(_) => {}
        }
    }
    let gone = listed.keys().filter(|name| !found.contains_key(*name));
    faults.extend(gone.map(|name| format!("{name} is no longer too long: take its line out of the list, well done")));
    faults
}

#[test]
fn long_things_may_shrink_and_short_things_may_not_grow() {
    let text = std::fs::read_to_string(root().join(LIST)).unwrap_or_else(|e| panic!("{LIST}: {e}"));
    let faults = compared(&too_long(&all_sources()), &listed(&text));
    none(&faults, "Functions have at most 70 lines, files 500; older ones stand in tests/suite/house/ratchet.txt:");
}

#[test]
fn growth_is_noticed() {
    let body = "  let x = 1;\n".repeat(FUNCTION_LINES_MAX);
    let text = format!("fn long() {{\n{body}}}\nfn short() {{\n}}\n");
    let library = || Source::from_text("a/src/b.rs", &text);
    let test = Source::from_text("tests/suite/b.rs", &text);
    assert_eq!(too_long(&[library(), test]), BTreeMap::from([("a/src/b.rs::long".to_owned(), 72)]));
    let file = Source::from_text("tests/suite/c.rs", &"//\n".repeat(FILE_LINES_MAX + 1));
    assert_eq!(too_long(&[file]), BTreeMap::from([("tests/suite/c.rs".to_owned(), 501)]));
    let found = too_long(&[library()]);
    for (list, wanted) in [("", "make it shorter"), ("71 a/src/b.rs::long", "grew from 71"), ("80 a/src/b.rs::long", "shrank to 72")] {
        assert!(compared(&found, &listed(list))[0].contains(wanted), "{list}");
    }
    assert!(compared(&found, &listed("# kept\n72 a/src/b.rs::long\n")).is_empty());
    assert_eq!(compared(&BTreeMap::new(), &found).len(), 1, "a line for nothing is noticed too");
}
