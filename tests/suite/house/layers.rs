//! Modules of the service use only what stands on lines above their own in [`LAYERS`].

use super::none;
use super::source::{Named, Source, sources};

/// A module may use those on the lines above its own, never its neighbours.
const LAYERS: &[&[&str]] = &[
    &["failure", "clock"],
    &["tls", "directory"],
    &["config"],
    &["domain", "store", "refusals", "evidence", "typesetter"],
    &["projections", "journal"],
    &["report", "waiting"],
    &["export"],
    &["http", "init"],
    &["service", "upkeep"],
];

fn level(module: &str) -> Option<usize> {
    LAYERS.iter().position(|line| line.contains(&module))
}

/// Where a path of this source leads within its crate; nothing if it leads out of it.
fn within_crate(source: &Source, path: &Named) -> Option<Vec<String>> {
    let mut here = source.module_path();
    here.extend(path.inside.clone());
    let mut rest = path.segments.as_slice();
    match rest.first()?.as_str() {
        "crate" => here.clear(),
        "self" if rest.len() > 1 => {}
        "super" => {
            here.pop();
        }
        _ => return None,
    }
    rest = &rest[1..];
    while rest.first().is_some_and(|segment| segment == "super") {
        here.pop();
        rest = &rest[1..];
    }
    here.extend(rest.iter().cloned());
    Some(here)
}

fn upward_uses(source: &Source) -> Vec<String> {
    let path = source.module_path();
    let Some(module) = path.first() else { return Vec::new() };
    let Some(own) = level(module) else {
        return vec![format!("{}: the module {module} has no line in LAYERS", source.path)];
    };
    let mut faults = Vec::new();
    for named in source.paths() {
        let Some(target) = within_crate(source, &named) else { continue };
        let Some(used) = target.first() else { continue };
        match level(used) {
            _ if used == module => {}
            Some(line) if line < own => {}
            Some(_) => faults.push(format!("{}: {module} may not use {used} ({})", source.at(named.line), named.text())),
            None => faults.push(format!("{}: {} is at the top of the crate; move it to a module", source.at(named.line), named.text())),
        }
    }
    faults
}

#[test]
fn modules_of_the_service_depend_downward() {
    let service = sources("services/record/src");
    // The binary's own modules stand above the library and may use all of it.
    let binary: Vec<String> = service.iter().filter(|s| s.path.ends_with("/src/main.rs")).flat_map(Source::modules).collect();
    let of_library = |source: &&Source| source.module_path().first().is_none_or(|module| !binary.contains(module));
    let faults: Vec<String> = service.iter().filter(of_library).flat_map(upward_uses).collect();
    none(&faults, "Pass what is needed as an argument, or move it to a lower module (LAYERS in tests/suite/house/layers.rs):");
}

#[test]
fn an_upward_use_is_noticed() {
    let text = "use crate::{failure::Failure, http::app};\nfn f() { super::super::journal::open(); self::inner(); crate::Settings; }";
    let source = Source::from_text("services/record/src/store/sqlite.rs", text);
    let faults = upward_uses(&source);
    assert_eq!(faults.len(), 3, "{faults:?}");
    for (fault, wanted) in faults.iter().zip(["store may not use http", "store may not use journal", "crate::Settings"]) {
        assert!(fault.contains(wanted), "{fault}");
    }
    let neighbour = Source::from_text("services/record/src/domain/mod.rs", "use super::store::Head;");
    assert_eq!(upward_uses(&neighbour).len(), 1);
    let stranger = Source::from_text("services/record/src/gadgets.rs", "");
    assert_eq!(upward_uses(&stranger).len(), 1);
}
