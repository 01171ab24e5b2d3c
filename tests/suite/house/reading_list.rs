//! The first page of a library is its reading list.

use super::none;
use super::source::{Source, all_sources};

fn unnamed_modules(source: &Source) -> Vec<String> {
    if !source.text.starts_with("//!") {
        return vec![format!("{}: begins with no `//!`", source.path)];
    }
    let page: String = source.text.lines().filter_map(|line| line.strip_prefix("//!")).collect::<Vec<_>>().join("\n");
    let (mut faults, mut last) = (Vec::new(), 0);
    for module in source.modules() {
        match page.find(&format!("`{module}`")) {
            None => faults.push(format!("{}: the module {module} is not on the list", source.path)),
            Some(place) if place < last => faults.push(format!("{}: {module} is declared in another order than listed", source.path)),
            Some(place) => last = place,
        }
    }
    faults
}

#[test]
fn a_library_begins_with_its_reading_list() {
    let libraries: Vec<Source> = all_sources()
        .into_iter()
        .filter(|s| s.path.ends_with("/lib.rs") || s.path == "tests/suite/main.rs" || s.path == "tests/suite/house/mod.rs")
        .collect();
    assert!(libraries.len() > 6, "the libraries are found");
    let faults: Vec<String> = libraries.iter().flat_map(unnamed_modules).collect();
    none(
        &faults,
        "Name each module in backticks under `//!`, in reading order, and declare them in that order (a blank line between them):",
    );
}

#[test]
fn a_missing_name_is_noticed() {
    let page = |text: &str| unnamed_modules(&Source::from_text("a/src/lib.rs", text)).len();
    assert_eq!(page("//! * [`a`], [`b`]\npub mod a;\n\nmod b;\n#[cfg(test)]\nmod tests;"), 0);
    assert_eq!(page("//! * [`a`]\npub mod a;\n\nmod b;"), 1);
    assert_eq!(page("//! * [`b`], [`a`]\npub mod a;\n\nmod b;"), 1);
    assert_eq!(page("pub mod a;"), 1);
}
