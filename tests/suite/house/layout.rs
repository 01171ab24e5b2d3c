//! What stands at the top of the tree is agreed; tools that others wrote rely on it.

use super::none;
use selachron_tests::root;

/// Everything at the top, in order.
const TOP: &[&str] = &[
    ".ci",
    ".gitignore",
    ".rustfmt.toml",
    "Cargo.lock",
    "Cargo.toml",
    "DEVELOPERS.md",
    "LICENSE",
    "README.md",
    "clients",
    "demo",
    "ops",
    "schemas",
    "services",
    "tests",
];

/// Names in `found` that are not agreed, and agreed ones that are missing.
fn differences(found: &[String], ignored: &[&str]) -> Vec<String> {
    let is_ignored = |name: &str| name == ".git" || ignored.iter().any(|pattern| matches(pattern, name));
    let odd = found.iter().filter(|name| !TOP.contains(&name.as_str()) && !is_ignored(name));
    let missing = TOP.iter().filter(|name| !found.iter().any(|found| found == **name));
    odd.map(|name| format!("{name} is not agreed")).chain(missing.map(|name| format!("{name} is missing"))).collect()
}

/// The two forms that our `.gitignore` uses: a name, or `*` and an ending.
fn matches(pattern: &str, name: &str) -> bool {
    let pattern = pattern.trim_matches('/');
    pattern.strip_prefix('*').map_or(name == pattern, |ending| name.ends_with(ending))
}

#[test]
fn the_top_of_the_tree_is_as_agreed() {
    let ignore = std::fs::read_to_string(root().join(".gitignore")).expect(".gitignore is there");
    let ignored: Vec<&str> = ignore.lines().map(str::trim).filter(|line| !line.is_empty() && !line.starts_with('#')).collect();
    let entries = std::fs::read_dir(root()).expect("the top of the tree can be read").flatten();
    let found: Vec<String> = entries.map(|entry| entry.file_name().to_string_lossy().into_owned()).collect();
    none(&differences(&found, &ignored), "Put it into one of the agreed folders, or bring back what is missing:");
}

#[test]
fn an_odd_name_is_noticed() {
    let mut found: Vec<String> = TOP.iter().map(|name| (*name).to_owned()).collect();
    found.extend(["target", ".git", "log.db", "misc"].map(str::to_owned));
    found.retain(|name| name != "ops");
    assert_eq!(differences(&found, &["target/", "*.db"]), ["misc is not agreed", "ops is missing"]);
}
