//! Every limit stands in `schemas/src/limits.rs`, where they are related to each other.

use super::none;
use super::source::{Source, all_sources, array_lengths};

const LIMITS: &str = "schemas/src/limits.rs";

/// The largest number that may be a size or a count elsewhere.
const SMALL: u128 = 16;

/// Whole numbers that are no limits: each with where, under which name, and why.
const NO_LIMITS: &[(&str, &str, &str)] = &[
    ("schemas/src/time.rs", "SECOND_MS", "what a second is"),
    ("schemas/src/time.rs", "MINUTE_MS", "what a minute is"),
    ("schemas/src/time.rs", "HOUR_MS", "what an hour is"),
    ("schemas/src/time.rs", "DAY_MS", "what a day is"),
    ("clients/cli/src/answer.rs", "BUSY", "HTTP's 503 (RFC 9110)"),
    ("services/record/src/http/door.rs", "HANDSHAKE", "a type of TLS record (RFC 8446 5.1)"),
    ("services/record/src/http/page.rs", "WHOLE", "a weight in thousandths (RFC 9110 12.4.2)"),
    ("services/record/src/http/rates.rs", "REQUEST", "the parts that a request is reckoned in"),
    ("services/record/src/store/sqlite/guard.rs", "APPLICATION_ID", "a name, written as SQLite wants it"),
    ("services/record/src/store/sqlite/guard.rs", "APPLICATION_ID_AT", "SQLite's file format, 1.3.14"),
    ("services/record/src/report/calendar.rs", "LINE_BYTES_MAX", "a line of a calendar (RFC 5545 3.1)"),
    ("services/record/src/report/annual/house.rs", "BESIDE_A_CHANGE_DAYS", "what is compared, a convention of the report"),
    ("services/statistics/src/plot/line.rs", "DOTS_MAX", "how many dots can be told apart; the package knows no other"),
    ("services/statistics/src/incubation/nls.rs", "STEPS_MAX", "how long a search is worth while"),
    ("services/statistics/src/incubation/nls.rs", "HALVINGS_MAX", "how short a step is worth while"),
    ("services/statistics/src/proportion.rs", "CASES_MAX", "how far a method is accurate; the package knows no other"),
    ("services/statistics/src/sweep.rs", "GROUPS_MAX", "how far a method is quick; the package knows no other"),
    ("services/statistics/src/sweep.rs", "CAUSES_MAX", "how far a method is quick; the package knows no other"),
    ("services/statistics/src/pedigree/lineage.rs", "ROWS_MAX", "how far a method is workable; the package knows no other"),
    ("services/statistics/src/pedigree/kinship.rs", "TABLE_CELLS_MAX", "how far a method is workable"),
    ("services/statistics/src/pedigree/pairing.rs", "PAIRS_MAX", "how far a method is workable"),
    ("services/statistics/src/pedigree/exact.rs", "STEPS_MAX", "where a method gives way to another"),
    ("services/statistics/src/pedigree/exact.rs", "NODES_MAX", "where a method gives way to another"),
    ("services/statistics/src/interval/newton.rs", "COLUMNS_MAX", "where one method becomes slower than the other"),
    ("services/statistics/src/interval/em_icm.rs", "ROUNDS_MAX", "when a search that does not converge gives up"),
    ("services/statistics/src/interval/bootstrap.rs", "REPLICATES_MIN", "fewer draws mean nothing; the package knows no other"),
    ("services/statistics/src/interval/bootstrap.rs", "REPLICATES_MAX", "more draws mean nothing; the package knows no other"),
    ("services/statistics/src/incubation/integrate.rs", "HALVINGS", "the digits of a number"),
    ("services/statistics/src/water/gravity.rs", "HALVINGS", "the digits of a number"),
    ("services/statistics/src/development/bands.rs", "STEPS", "how fine a table is; the package knows no other"),
    ("services/statistics/src/development/grid.rs", "CELLS", "how fine a grid is; the package knows no other"),
    ("services/statistics/src/development/grid.rs", "STARTS_MAX", "how fine a grid is; the package knows no other"),
    ("services/statistics/src/development/window.rs", "STEPS_MAX", "the digits of a number"),
];

/// Lengths of arrays that a standard fixes, and its name.
const FIXED_LENGTHS: &[(u128, &str)] =
    &[(26, "a ULID in characters"), (32, "SHA-256 and Ed25519 keys in bytes"), (64, "an Ed25519 signature in bytes, SHA-256 in hex")];

/// Functions whose argument is a size or a count.
const SIZED: &[&str] = &[
    "with_capacity",
    "channel",
    "sync_channel",
    "bounded",
    "reserve",
    "take",
    "chunks",
    "truncate",
    "buffered",
    "buffer_unordered",
    "worker_threads",
];

fn is_size(kind: &str) -> bool {
    let kind = kind.trim_start_matches('&').trim_start_matches("'static");
    kind.ends_with("Duration")
        || (kind.len() <= 5 && kind.starts_with(['u', 'i']) && (kind.ends_with("size") || kind[1..].parse::<u32>().is_ok()))
}

fn is_exempt(source: &Source) -> bool {
    source.path == LIMITS || source.is_test() || source.path.starts_with("demo/")
}

fn constants_beside_the_limits(source: &Source, no_limits: &[(&str, &str, &str)]) -> Vec<String> {
    let big = |numbers: &[u128]| numbers.iter().any(|number| *number > SMALL);
    let known = |name: &str| no_limits.iter().any(|(path, known, _)| *path == source.path && *known == name);
    let constants = source.constants().into_iter().filter(|c| is_size(&c.kind) && big(&c.numbers) && !known(&c.name));
    constants.map(|c| format!("{}: const {}: {}", source.at(c.line), c.name, c.kind)).collect()
}

fn sizes_without_a_name(source: &Source) -> Vec<String> {
    let mut faults = Vec::new();
    for path in source.paths() {
        let sized = path.segments.last().is_some_and(|name| SIZED.contains(&name.as_str()));
        if let Some(number) = path.numbers.iter().find(|number| sized && **number > SMALL) {
            faults.push(format!("{}: {}({number})", source.at(path.line), path.text()));
        }
    }
    let fixed = |number: u128| FIXED_LENGTHS.iter().any(|(length, _)| *length == number);
    let lengths = array_lengths(source).into_iter().filter(|(_, number)| *number > SMALL && !fixed(*number));
    faults.extend(lengths.map(|(line, number)| format!("{}: an array of {number}", source.at(line))));
    faults
}

#[test]
fn every_limit_stands_in_one_file() {
    let sources: Vec<Source> = all_sources().into_iter().filter(|source| !is_exempt(source)).collect();
    let mut faults: Vec<String> = sources.iter().flat_map(|source| constants_beside_the_limits(source, NO_LIMITS)).collect();
    faults.extend(sources.iter().flat_map(sizes_without_a_name));
    none(
        &faults,
        "Name it in schemas/src/limits.rs and use it from there, or say in NO_LIMITS (tests/suite/house/limits.rs) why it is none:",
    );
}

#[test]
fn what_is_said_to_be_no_limit_exists() {
    let sources = all_sources();
    let exists = |path: &str, name: &str| sources.iter().any(|s| s.path == path && s.constants().iter().any(|c| c.name == name));
    let gone = NO_LIMITS.iter().filter(|(path, name, _)| !exists(path, name));
    none(
        &gone.map(|(path, name, _)| format!("{path}: {name}")).collect::<Vec<_>>(),
        "Take these lines out of NO_LIMITS; the constants are gone:",
    );
}

#[test]
fn a_limit_elsewhere_is_noticed() {
    let text = "pub const PAGE: usize = 4 * 1024;\nconst SMALL: u8 = 16;\nconst RATE: f64 = 100.0;\nstatic WAIT: Duration = Duration::from_secs(30);\n\
        const KNOWN: u64 = 1000;\nfn f() { Vec::with_capacity(300); let b = [0u8; 4096]; let h = [0u8; 32]; let t: [&str; 20] = names(); }";
    let source = Source::from_text("services/record/src/store/mod.rs", text);
    let allowed = [("services/record/src/store/mod.rs", "KNOWN", "for this test")];
    let faults = constants_beside_the_limits(&source, &allowed);
    assert_eq!(faults.len(), 2, "{faults:?}");
    assert!(faults[0].contains("PAGE") && faults[1].contains("WAIT"), "{faults:?}");
    assert_eq!(sizes_without_a_name(&source).len(), 2);
}
