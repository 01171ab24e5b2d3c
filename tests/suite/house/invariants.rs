//! What a part does not know is written down in `DEVELOPERS.md`, and each such line names the
//! test that guards it: `module::test_name` in backticks.

use super::none;
use super::source::{Source, all_sources};
use selachron_tests::root;

const PAGE: &str = "DEVELOPERS.md";
const HEADING: &str = "## Invariants";

/// The items of the section: lines that begin with `- `, with those that go on.
fn items(page: &str) -> Vec<String> {
    let section = page.lines().skip_while(|line| line.trim_end() != HEADING).skip(1).take_while(|line| !line.starts_with("## "));
    let mut items: Vec<String> = Vec::new();
    for line in section {
        match (line.strip_prefix("- ").or_else(|| line.strip_prefix("* ")), items.last_mut()) {
            (Some(text), _) => items.push(text.to_owned()),
            (None, Some(item)) if line.starts_with(' ') => item.push_str(line),
            _ => {}
        }
    }
    items
}

/// Names in backticks of the form `a::b`.
pub(super) fn paths_in(item: &str) -> Vec<&str> {
    let quoted = item.split('`').skip(1).step_by(2);
    quoted.filter(|text| text.contains("::") && text.chars().all(|c| c.is_ascii_alphanumeric() || "_:".contains(c))).collect()
}

/// Full names of all tests, as the runner prints them: `house::layout::an_odd_name_is_noticed`.
pub(super) fn tests_of(sources: &[Source]) -> Vec<String> {
    let mut names = Vec::new();
    for source in sources {
        for test in source.tests() {
            let parts = [source.module_path(), test.inside, vec![test.name]].concat();
            names.push(format!("::{}", parts.join("::")));
        }
    }
    names
}

/// Modules by package: `::record::domain::egg`.
fn modules_of(sources: &[Source]) -> Vec<String> {
    let package = |source: &Source| source.path.split_once("/src/").and_then(|(folder, _)| Some(folder.rsplit('/').next()?.to_owned()));
    sources.iter().filter_map(|s| Some(format!("::{}::{}", package(s)?, s.module_path().join("::")))).collect()
}

fn unguarded(page: &str, sources: &[Source]) -> Vec<String> {
    let (tests, modules) = (tests_of(sources), modules_of(sources));
    let known = |names: &[String], path: &str| names.iter().any(|name| name.ends_with(&format!("::{path}")));
    let mut faults = Vec::new();
    for item in items(page) {
        let paths = paths_in(&item);
        if !paths.iter().any(|path| known(&tests, path)) {
            faults.push(format!("names no test that exists: {item}"));
        }
        let unknown = paths.iter().filter(|path| !known(&tests, path) && !known(&modules, path));
        faults.extend(unknown.map(|path| format!("{path} is neither a test nor a module: {item}")));
    }
    faults
}

#[test]
fn each_invariant_names_its_test() {
    let page = std::fs::read_to_string(root().join(PAGE)).unwrap_or_else(|e| panic!("{PAGE}: {e}"));
    assert!(page.lines().any(|line| line.trim_end() == HEADING), "{PAGE} has no section {HEADING:?}");
    assert!(!items(&page).is_empty(), "the section {HEADING:?} of {PAGE} has no item that begins with `- `");
    let faults = unguarded(&page, &all_sources());
    none(&faults, "Write the test and name it in the item, in backticks, as `module::test_name`:");
}

#[test]
fn an_unguarded_invariant_is_noticed() {
    let sources = [Source::from_text("tests/suite/house/clock.rs", "#[test]\nfn one_clock() {}\nfn helper() {}")];
    let page = |items: &str| format!("# Developers\n\n## Invariants\n\nWords.\n\n{items}\n## Next\n\n- not an invariant\n");
    assert!(unguarded(&page("- There is one clock\n  (`house::clock::one_clock`).\n- Again: `clock::one_clock`."), &sources).is_empty());
    assert_eq!(unguarded(&page("- Nobody guards this."), &sources).len(), 1);
    assert_eq!(unguarded(&page("- Guarded by `clock::helper`."), &sources).len(), 2);
    assert_eq!(unguarded(&page("- One of two: `clock::one_clock`, `clock::gone`."), &sources).len(), 1);
}
