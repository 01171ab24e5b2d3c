//! What may be named only in some places: the clock, the outside world, status codes, stubs.

use super::none;
use super::source::{Named, Source, all_sources, sources};

/// Ways to ask what time it is.
const CLOCK_READS: &[&str] = &["Utc::now", "Local::now", "SystemTime::now", "Instant::now", "SystemTime::UNIX_EPOCH", "time::UNIX_EPOCH"];

/// Types with a clock behind them: under another name they would escape the rule above.
const CLOCK_TYPES: &[&str] = &["chrono::Utc", "chrono::Local", "time::SystemTime", "time::Instant"];

/// The service's clock.
const CLOCK_OF_THE_SERVICE: &str = "services/record/src/clock.rs";

/// The client's sources; one of them may read the clock.
const CLIENT: &str = "clients/cli/src/";

/// Parts that are computed from their arguments alone.
const PURE: &[&str] = &["schemas/src", "services/statistics/src", "services/record/src/domain"];

/// What a pure part may not name: disk, network, environment, chance, tasks, output, clock.
const IMPURE: &[&str] = &[
    "std::fs",
    "std::net",
    "std::env",
    "std::process",
    "std::thread",
    "std::os",
    "std::time",
    "std::io",
    "tokio",
    "rand",
    "getrandom",
    "async",
    "await",
    "println",
    "eprintln",
    "print",
    "eprint",
    "dbg",
];

fn reads_clock(path: &Named) -> bool {
    let renamed = path.renamed && CLOCK_TYPES.iter().any(|kind| path.ends(kind));
    renamed || CLOCK_READS.iter().any(|read| path.ends(read))
}

fn is_impure(path: &Named) -> bool {
    let chance = path.ends("Ulid::new") || path.ends("Ulid::generate") || path.ends("RandomState");
    chance || reads_clock(path) || IMPURE.iter().any(|banned| path.begins(banned))
}

fn naming(sources: &[Source], banned: impl Fn(&Named) -> bool) -> Vec<String> {
    let mut faults = Vec::new();
    for source in sources {
        let named = source.paths().into_iter().filter(&banned);
        faults.extend(named.map(|path| format!("{}: {}", source.at(path.line), path.text())));
    }
    faults
}

/// Reads of a clock outside benches and the two places that may.
fn clock_reads(sources: Vec<Source>) -> Vec<String> {
    let bench = |source: &Source| source.path.starts_with("tests/bench/") || source.path.contains("/benches/");
    let (client, rest): (Vec<_>, Vec<_>) = sources.into_iter().partition(|source| source.path.starts_with(CLIENT));
    let rest: Vec<_> = rest.into_iter().filter(|source| source.path != CLOCK_OF_THE_SERVICE && !bench(source)).collect();
    let mut faults = naming(&rest, reads_clock);
    let reading: Vec<Source> = client.into_iter().filter(|source| source.paths().iter().any(reads_clock)).collect();
    if reading.len() > 1 {
        faults.extend(naming(&reading, reads_clock));
    }
    faults
}

fn of_pure_parts(sources: Vec<Source>) -> Vec<Source> {
    let is_pure = |source: &Source| PURE.iter().any(|part| source.path.strip_prefix(part).is_some_and(|rest| rest.starts_with(['/', '.'])));
    sources.into_iter().filter(is_pure).collect()
}

#[test]
fn the_clock_is_read_in_one_place() {
    none(
        &clock_reads(all_sources()),
        "Take the time as an argument; only services/record/src/clock.rs and one file of clients/cli/src may ask what time it is:",
    );
}

#[test]
fn pure_parts_name_nothing_of_the_world() {
    let faults = naming(&of_pure_parts(all_sources()), is_impure);
    none(&faults, "Schemas, statistics and the domain are computed from their arguments alone; hand them what they need:");
}

#[test]
fn status_codes_stay_under_http() {
    let outside: Vec<Source> =
        sources("services").into_iter().filter(|s| !s.is_test() && !s.path.starts_with("services/record/src/http")).collect();
    let faults = naming(&outside, |path| path.segments.iter().any(|segment| segment == "StatusCode"));
    none(&faults, "Say what failed (failure.rs); only http/ turns a failure into a status code:");
}

#[test]
fn nothing_is_left_for_later() {
    let stub = |path: &Named| ["todo", "unimplemented"].iter().any(|word| path.segments == [*word]);
    let mut faults = naming(&all_sources(), stub);
    // Joined here so that this line does not find itself.
    let marks = [["FIX", "ME"].concat(), ["TO", "DO"].concat()];
    for source in all_sources() {
        let marked = source.text.lines().enumerate().filter(|(_, line)| marks.iter().any(|mark| line.contains(mark.as_str())));
        faults.extend(marked.map(|(at, line)| format!("{}: {}", source.at(at + 1), line.trim())));
    }
    none(&faults, "Finish it, or take it out and say so in the pages of the release:");
}

#[test]
fn errors_have_types_outside_main() {
    let libraries: Vec<Source> = all_sources().into_iter().filter(|source| !source.path.ends_with("/main.rs")).collect();
    let faults = naming(&libraries, |path| path.segments.iter().any(|segment| segment == "anyhow" || segment == "eyre"));
    none(&faults, "Give the failure a type of its own, so that callers can tell who must act:");
}

#[test]
fn a_clock_read_is_noticed() {
    let text = "use std::time::{Duration, SystemTime as T};\nfn f() { let _ = (chrono::Utc::now(), T::now()); run(|| Instant::now()) }";
    let faults = clock_reads(vec![Source::from_text("services/record/src/journal/mod.rs", text)]);
    assert_eq!(faults.len(), 3, "{faults:?}");
    let once = || Source::from_text("clients/cli/src/clock.rs", text);
    assert!(clock_reads(vec![once()]).is_empty(), "one file of the client may");
    let twice = Source::from_text("clients/cli/src/post.rs", "fn f() { SystemTime::now(); }");
    assert_eq!(clock_reads(vec![once(), twice]).len(), 4, "two may not");
    let bench = Source::from_text("tests/bench/throughput.rs", text);
    let service = Source::from_text(CLOCK_OF_THE_SERVICE, text);
    assert!(clock_reads(vec![bench, service]).is_empty());
}

#[test]
fn an_impure_part_is_noticed() {
    let text =
        "use std::{env, fmt};\nasync fn f() { let id = ulid::Ulid::new(); println!(\"{id}\"); }\n#[cfg(test)]\nmod tests { use std::fs; }";
    let sources = ["services/record/src/domain/egg.rs", "services/record/src/domain.rs", "services/record/src/domains.rs"];
    let pure = of_pure_parts(sources.iter().map(|path| Source::from_text(path, text)).collect());
    assert_eq!(pure.len(), 2);
    let faults = naming(&pure, is_impure);
    assert_eq!(faults.len(), 2 * 4, "{faults:?}");
}
