//! How much memory an export takes while it is sent: a log is filled over HTTP, then each export is read to
//! its end and thrown away, and the highest resident size since the export began is read from Linux. The
//! projections stay in memory and are the size before; what an export adds is the difference.
//!
//! An export that takes more than its limit fails the run. What is made whole in memory before it is sent is only
//! told: the annual report, and a page of what is at odds.
//!
//! `cargo bench -p selachron-tests --bench exports [-- NOTES]`

use selachron_schemas::limits::{BATCH_EVENTS_MAX, EXPORT_MEMORY_MIB_MAX};
use selachron_tests::fixture::{envelope, ulid};
use selachron_tests::world::World;
use serde_json::{Value, json};
use std::io::Read;
use std::time::Instant as Watch;

/// Notes in the log.
const NOTES: usize = 1_000_000;
/// Cases that most looks are about.
const EGGS: usize = 1_000;
/// Notes of one life.
const LIFE_NOTES: usize = 50;
/// What is taken away.
const EXPORTS: [(&str, &[(&str, &str)]); 9] = [
    ("/v1/exports/events", &[("format", "ndjson")]),
    ("/v1/exports/tables", &[("format", "tar")]),
    ("/v1/exports/studbook", &[("format", "csv")]),
    ("/v1/exports/studbook", &[("format", "tar")]),
    ("/v1/exports/studbook", &[("format", "csv"), ("since", "1")]),
    ("/v1/exports/pedigree", &[("format", "fam")]),
    ("/v1/exports/pedigree", &[("format", "tar")]),
    ("/v1/exports/darwin-core", &[("format", "zip")]),
    ("/v1/log/bundle", &[]),
];
/// What is worked out whole before it is sent.
const WHOLE: [(&str, &[(&str, &str)]); 4] = [
    ("/v1/discrepancies", &[]),
    ("/v1/reports/annual/2025", &[("format", "json")]),
    ("/v1/reports/annual/2025", &[("format", "html")]),
    ("/v1/reports/annual/2025/cells", &[("cell", "ledger/all species/collected")]),
];

/// A member of Linux' account of this process, MiB.
fn account_mib(member: &str) -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").expect("Linux says how large a process is");
    let line = status.lines().find(|line| line.starts_with(member)).expect("the member");
    line.split_whitespace().nth(1).and_then(|kib| kib.parse::<u64>().ok()).expect("KiB") / 1024
}

/// Begins to look for the highest resident size anew (proc(5), clear_refs).
fn forget_the_peak() {
    std::fs::write("/proc/self/clear_refs", "5").expect("a process may forget its own peak");
}

/// Half of the notes are looks at a thousand cases, one in twenty of them at odds with the look before; the others
/// are the lives of animals that hatched here.
fn filled(notes: usize) -> World {
    let mut world = World::new();
    world.leave_unaudited();
    let species = world.species("Inventus exemplaris", "invented shark");
    let (adults, trays) = (world.tank("Adults", "adults"), world.tank("Trays", "incubation"));
    let eggs: Vec<String> = (0..EGGS.min(notes)).map(|number| world.egg(&format!("E{number}"), &species, &adults, Some(&trays))).collect();
    let look = |number: usize| {
        let band = if (number / eggs.len()) % 20 == 19 { 2 } else { 4 };
        json!({"seen_into": true, "band": band, "movement": "moving", "yolk_fraction": 0.9, "findings": ["air inside"]})
    };
    let looks = (0..notes / 2).map(|number| ("egg.candled.v1", eggs[number % eggs.len()].clone(), look(number)));
    let lives = (0..notes / 2 / LIFE_NOTES).flat_map(|number| {
        let name = |kind: u64| ulid(kind, number as u64);
        life(&format!("L{number}"), &format!("egg/{}", name(2)), &format!("animal/{}", name(3)), (&species, &adults, &trays))
    });
    let mut all = looks.chain(lives);
    loop {
        let now = world.now();
        let keeper = &mut world.staff.keeper;
        let batch: Vec<String> = all
            .by_ref()
            .take(BATCH_EVENTS_MAX)
            .map(|(kind, subject, data)| {
                let body = keeper.body(kind, &subject, now, &data);
                envelope(&body, &[keeper]) + "\n"
            })
            .collect();
        if batch.is_empty() {
            return world;
        }
        let answer = world.client().transport().post("/v1/events", "application/x-ndjson", &batch.concat()).expect("an answer");
        let refused = answer.lines().find(|line| line.contains("refused"));
        assert!(refused.is_none(), "{refused:?}");
    }
}

/// One life, invented: found, looked at, hatched, fed and measured.
fn life(label: &str, egg: &str, animal: &str, (species, adults, trays): (&str, &str, &str)) -> Vec<(&'static str, String, Value)> {
    let found = json!({"label": label, "species": species, "from_tank": adults, "laid": "single", "case": "whole", "yolk": "seen", "to_tank": trays});
    let look = json!({"seen_into": true, "band": 3, "movement": "moving"});
    let hatched = json!({"how_known": "found hatched", "young": [{"animal": animal, "state": "alive", "length_cm": 14.5, "mass_g": 12.25, "tank": trays}]});
    let fed = json!({"offered": [{"food": "shrimp", "amount_g": 0.5}], "eaten": "most"});
    let measured = json!({"length_cm": 15.5, "length_basis": "total", "mass_g": 14.25});
    let of_egg = [("egg.collected.v1", found), ("egg.candled.v1", look), ("egg.hatched.v1", hatched)]
        .map(|(kind, data)| (kind, egg.to_owned(), data));
    let of_animal = (of_egg.len()..LIFE_NOTES).map(|number| {
        let (kind, data) = if number % 10 == 0 { ("animal.measured.v1", &measured) } else { ("animal.fed.v1", &fed) };
        (kind, animal.to_owned(), data.clone())
    });
    of_egg.into_iter().chain(of_animal).collect()
}

fn main() {
    let notes = std::env::args().skip(1).find_map(|word| word.parse().ok()).unwrap_or(NOTES);
    let start = Watch::now();
    let world = filled(notes);
    println!("{notes} notes in {:.0} s; resident with the projections: {} MiB", start.elapsed().as_secs_f64(), account_mib("VmRSS"));
    let taken = EXPORTS.map(|(path, query)| (path, above(&world, path, query)));
    for (path, query) in WHOLE {
        above(&world, path, query);
    }
    for (path, mib) in taken {
        assert!(mib <= EXPORT_MEMORY_MIB_MAX, "{path} took {mib} MiB beyond what the service held, more than {EXPORT_MEMORY_MIB_MAX}");
    }
}

/// How much more memory than before was taken, MiB, while this was read to its end.
fn above(world: &World, path: &str, query: &[(&str, &str)]) -> u64 {
    forget_the_peak();
    let (before, start) = (account_mib("VmRSS"), Watch::now());
    let mut stream = world.client().get_stream_of(path, query, "*/*").expect("an answer");
    let bytes = std::io::copy(&mut stream.by_ref(), &mut std::io::sink()).expect("to its end");
    let peak = account_mib("VmHWM");
    let above = peak.saturating_sub(before);
    let (seconds, form) = (start.elapsed().as_secs_f64(), query.first().map_or("", |(_, form)| form));
    println!("{path:<32} {form:<30} {:>6} MiB in {seconds:>5.1} s; peak {peak} MiB, {above} above what it was", bytes / (1024 * 1024));
    above
}
