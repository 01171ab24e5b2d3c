//! Packages depend one way: schemas ← {record, cli, verify}; statistics ← {record, cli}; tests
//! and demo may use all; the client never uses the service.

use super::none;
use selachron_tests::root;
use serde_json::Value;
use std::collections::BTreeSet;
use std::process::Command;

/// Each package and those of the house that it may use, also in its tests and build script.
const PACKAGES: &[(&str, &[&str])] = &[
    ("schemas", &[]),
    ("statistics", &[]),
    ("record", &["schemas", "statistics"]),
    ("cli", &["schemas", "statistics"]),
    ("verify", &["schemas"]),
    ("typeset", &["schemas", "record", "cli", "demo"]),
    ("demo", &["schemas", "statistics", "record", "cli", "verify"]),
    ("tests", &["schemas", "statistics", "record", "cli", "verify", "demo"]),
];

/// What a package must not link, not even through others.
const NOT_LINKED: &[(&str, &[&str])] = &[
    ("schemas", &["tokio", "reqwest", "hyper", "rusqlite", "axum"]),
    ("statistics", &["tokio", "reqwest", "hyper", "rusqlite", "axum", "chrono", "selachron-schemas"]),
    ("verify", &["tokio", "reqwest", "hyper", "rusqlite", "axum", "selachron-record", "selachron-cli"]),
    ("cli", &["rusqlite", "axum", "selachron-record"]),
    ("record", &["reqwest", "selachron-cli"]),
];

/// `selachron-schemas` is `schemas` here.
fn short(package: &str) -> Option<&str> {
    package.strip_prefix("selachron-")
}

/// What `metadata` says that PACKAGES does not allow.
fn wrong_directions(metadata: &Value) -> Vec<String> {
    let mut faults = Vec::new();
    for package in metadata["packages"].as_array().expect("cargo metadata lists packages") {
        let full = package["name"].as_str().expect("a package has a name");
        let Some((name, allowed)) = PACKAGES.iter().find(|(name, _)| Some(*name) == short(full)) else {
            faults.push(format!("{full} is not in PACKAGES"));
            continue;
        };
        for used in package["dependencies"].as_array().into_iter().flatten().filter_map(|d| short(d["name"].as_str()?)) {
            if !allowed.contains(&used) {
                faults.push(format!("{name} may not use {used}"));
            }
        }
    }
    faults
}

/// Names of all packages that a package links, itself included.
fn linked_by(package: &str) -> BTreeSet<String> {
    let package = format!("selachron-{package}");
    cargo(&["tree", "--package", &package, "--edges", "normal", "--prefix", "none", "--format", "{p}"])
        .lines()
        .filter_map(|line| line.split_whitespace().next().map(str::to_owned))
        .collect()
}

/// The output of cargo, which is asked not to go out for it.
fn cargo(arguments: &[&str]) -> String {
    let program = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
    let output = Command::new(program).args(arguments).args(["--offline", "--locked"]).current_dir(root()).output().expect("cargo runs");
    assert!(output.status.success(), "cargo {arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).expect("cargo writes UTF-8")
}

#[test]
fn packages_depend_one_way() {
    let metadata = cargo(&["metadata", "--no-deps", "--format-version", "1"]);
    let faults = wrong_directions(&serde_json::from_str(&metadata).expect("cargo metadata is JSON"));
    none(
        &faults,
        "Take the dependency out of Cargo.toml, or move what is shared into schemas (PACKAGES in tests/suite/house/packages.rs):",
    );
}

#[test]
fn no_package_links_what_it_must_not() {
    let mut faults = Vec::new();
    for (package, absent) in NOT_LINKED {
        let linked = linked_by(package);
        assert!(linked.contains(&format!("selachron-{package}")), "cargo tree names the package itself");
        faults.extend(absent.iter().filter(|name| linked.contains(**name)).map(|name| format!("{package} links {name}")));
    }
    none(&faults, "Find the way with `cargo tree -p selachron-<package> -i <crate>` and cut it (a feature switched off, code moved):");
}

#[test]
fn a_wrong_direction_is_noticed() {
    let metadata = serde_json::json!({"packages": [
        {"name": "selachron-cli", "dependencies": [{"name": "serde"}, {"name": "selachron-record"}]},
        {"name": "selachron-schemas", "dependencies": [{"name": "selachron-statistics", "kind": "dev"}]},
        {"name": "selachron-novelty", "dependencies": []},
    ]});
    let wanted = ["cli may not use record", "schemas may not use statistics", "selachron-novelty is not in PACKAGES"];
    assert_eq!(wrong_directions(&metadata), wanted);
}
