//! Each requirement of law and accreditation in `ops/REQUIREMENTS.md` names the tests that show how
//! it is met, or says plainly that it is open.

use super::invariants::{paths_in, tests_of};
use super::none;
use super::source::{Source, all_sources};
use selachron_tests::root;

const PAGE: &str = "ops/REQUIREMENTS.md";

/// What the last cell of a row says where nothing shows that the requirement is met.
const OPEN: &str = "open";

/// The cells of each row of the page's tables, headings and rules left out.
fn rows(page: &str) -> Vec<Vec<&str>> {
    let lines = page.lines().filter(|line| line.starts_with("| "));
    let cells = lines.map(|line| line.trim_matches('|').split('|').map(str::trim).collect::<Vec<_>>());
    cells.filter(|cells| !cells[0].starts_with("---") && cells[0] != "requirement").collect()
}

fn unshown(page: &str, sources: &[Source]) -> Vec<String> {
    let tests = tests_of(sources);
    let mut faults = Vec::new();
    for cells in rows(page) {
        let (what, shown) = (cells[0], cells[cells.len() - 1]);
        let paths = paths_in(shown);
        if paths.is_empty() && !shown.starts_with(OPEN) {
            faults.push(format!("names no test and does not say {OPEN:?}: {what}"));
        }
        let unknown = paths.iter().filter(|path| !tests.iter().any(|test| test.ends_with(&format!("::{path}"))));
        faults.extend(unknown.map(|path| format!("{path} is no test: {what}")));
    }
    faults
}

#[test]
fn each_requirement_names_its_tests() {
    let page = std::fs::read_to_string(root().join(PAGE)).unwrap_or_else(|e| panic!("{PAGE}: {e}"));
    assert!(rows(&page).len() > 10, "{PAGE} has no table of requirements");
    none(&unshown(&page, &all_sources()), "Name the test in the last cell, in backticks, as `module::test_name`, or say that it is open:");
}

#[test]
fn a_requirement_without_a_test_is_noticed() {
    let sources = [Source::from_text("tests/suite/house/clock.rs", "#[test]\nfn one_clock() {}\nfn helper() {}")];
    let page = |cell: &str| format!("| requirement | source | shown by |\n| --- | --- | --- |\n| one clock | a rule | {cell} |\n");
    assert!(unshown(&page("`clock::one_clock`"), &sources).is_empty());
    assert!(unshown(&page("open: not begun"), &sources).is_empty());
    for cell in ["`clock::helper`", "`clock::gone`", "trust us", ""] {
        assert_eq!(unshown(&page(cell), &sources).len(), 1, "{cell}");
    }
}
