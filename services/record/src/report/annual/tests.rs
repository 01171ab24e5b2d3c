//! The report of an invented season, and years made to fail.

use super::material::{Material, Span, Year};
use super::stock::{Basis, Cell, StockLine, stock};
use super::*;
use crate::domain::state::{Animal, AnimalOrigin, EggFate, LifeState, Sex};
use crate::report::invented::{
    ZONE, at, day, departed, died, egg, hatched, identity, lost, material, received, season, species, subject, young,
};
use selachron_schemas::time::Instant;

fn report(material: &Material) -> AnnualReport {
    compile(&identity(), material).expect("a report")
}

#[test]
fn the_same_material_gives_the_same_bytes_and_they_read_back() {
    let material = season("2025-12-31");
    let bytes = report(&material).to_bytes().expect("JSON");
    assert_eq!(bytes, report(&material).to_bytes().expect("JSON"));
    let read: AnnualReport = serde_json::from_slice(&bytes).expect("the report reads its own JSON");
    assert_eq!(read, report(&material));
    assert_eq!(read.to_bytes().expect("JSON"), bytes, "and writes it again");
}

#[test]
fn an_invented_season_adds_up_and_is_complete_when_the_year_is_over() {
    let report = report(&season("2025-12-31"));
    assert_eq!(report.completeness.failing, []);
    assert!(report.completeness.complete);
    let ledger = &report.ledger.total;
    assert_eq!((ledger.start, ledger.collected, ledger.end), (7, 23, 4));
    assert_eq!((ledger.hatched_unaided, ledger.hatched_after_opening, ledger.dead, ledger.no_yolk), (16, 2, 6, 2));
    let stock = &report.stock.total;
    assert_eq!([stock.start, stock.arrived, stock.hatched].map(|cell| cell.to_string()), ["1.0.0", "0.1.0", "0.1.17"]);
    assert_eq!([stock.died_within_30_days, stock.died_other, stock.departed].map(|cell| cell.sum()), [2, 1, 1]);
    assert_eq!(stock.end.to_string(), "1.2.13");
}

#[test]
fn a_report_in_the_middle_of_a_year_is_preliminary() {
    let report = report(&season("2025-06-30"));
    assert!(!report.completeness.complete && report.completeness.failing.is_empty());
    assert_eq!(report.completeness.because, ["the year is told only up to 2025-06-30"]);
    assert_eq!(report.hatch_rates.collected[0].x, 0, "nothing of this year's cases had hatched by then");
}

#[test]
fn a_year_that_has_not_begun_has_no_report() {
    assert_eq!(compile(&identity(), &season("2024-12-31")), Err(NotYet::YearNotBegun { year: 2025, first_day: day("2025-01-01") }));
}

#[test]
fn a_later_v_settles_the_cohort_and_leaves_the_books_of_the_year_alone() {
    let eggs = [hatched(egg(1, "2025-11-01"), "2026-03-01"), lost(egg(2, "2025-11-01"), "2026-02-01", "embryo died")];
    let (then, later) = (report(&material(2025, "2025-12-31", &eggs, &[])), report(&material(2025, "2026-06-30", &eggs, &[])));
    assert_eq!(then.hatch_rates.collected[0].open, 2);
    assert_eq!(later.hatch_rates.collected[0].estimate, Some(0.5));
    assert_eq!(then.ledger, later.ledger);
    assert_eq!(later.losses.cases, 0, "it was lost in the year after");
}

#[test]
fn the_year_before_is_told_when_cases_came_in_it() {
    let report = report(&season("2025-12-31"));
    let before = report.hatch_rates_year_before.expect("eight cases came in 2024");
    assert_eq!((before.collected[0].x, before.collected[0].n), (6, 8));
}

/// The worked line of DOMAIN section 7: start 2.3.4, arrived 0.1.0, hatched 0.0.7, died within 30
/// days 0.0.2, other 1.0.1, departed 0.1.2, sexed +1.+2.−3 → end 2.5.3, total 10.
#[test]
fn the_worked_line() {
    let mut animals: Vec<Animal> = Vec::new();
    let mut add = |count: u64, make: &dyn Fn(u64) -> Animal| {
        for _ in 0..count {
            animals.push(make(animals.len() as u64 + 1));
        }
    };
    let old = |n, sex| Animal { sex, ..received(n, "2024-05-01", None, "2025-12-30") };
    add(1, &|n| old(n, Sex::Male));
    add(1, &|n| died(old(n, Sex::Male), "2025-05-01"));
    add(2, &|n| old(n, Sex::Female));
    add(1, &|n| departed(old(n, Sex::Female), "2025-06-01", LifeState::Alive));
    add(4, &|n| old(n, Sex::Unknown));
    add(1, &|n| Animal { sex: Sex::Female, ..received(n, "2025-03-01", None, "2025-12-30") });
    add(2, &|n| died(young(n, "2025-03-01", "2025-03-01"), "2025-03-31"));
    add(1, &|n| died(young(n, "2025-03-01", "2025-03-01"), "2025-04-01"));
    add(2, &|n| departed(young(n, "2025-03-01", "2025-03-01"), "2025-09-01", LifeState::NotKnown));
    add(2, &|n| young(n, "2025-03-01", "2025-12-30"));
    let mut found = material(2025, "2025-12-31", &[], &animals);
    for (animal, sex) in found.closing.animals[5..8].iter_mut().zip([Sex::Male, Sex::Female, Sex::Female]) {
        animal.sex = sex;
    }
    let report = report(&found);
    let line = &report.stock.lines[0];
    let told = [line.start, line.arrived, line.hatched, line.died_within_30_days, line.died_other, line.departed, line.sexed, line.end];
    let wanted = [[2, 3, 4], [0, 1, 0], [0, 0, 7], [0, 0, 2], [1, 0, 1], [0, 1, 2], [1, 2, -3], [2, 5, 3]];
    assert_eq!(told.map(|cell| cell.0), wanted);
    assert_eq!((line.end.sum(), report.completeness.failing.len()), (10, 0));
}

/// DOMAIN section 7: hatched 20 December, died 5 January: early deaths may exceed the year's hatches.
#[test]
fn an_early_death_may_belong_to_a_hatch_of_the_year_before() {
    let animals = [died(young(1, "2024-12-20", "2024-12-20"), "2025-01-05")];
    let report = report(&material(2025, "2025-12-31", &[], &animals));
    let line = &report.stock.lines[0];
    assert_eq!((line.hatched.sum(), line.died_within_30_days.sum(), report.completeness.failing.len()), (0, 1, 0));
}

/// Check value D1: hatched 1 January; dead on 31 January is within 30 days, on 1 February no more.
#[test]
fn thirty_whole_days() {
    for (death, early) in [("2025-01-31", 1), ("2025-02-01", 0)] {
        let report = report(&material(2025, "2025-12-31", &[], &[died(young(1, "2025-01-01", "2025-01-01"), death)]));
        assert_eq!(report.stock.lines[0].died_within_30_days.sum(), early, "{death}");
    }
}

#[test]
fn the_dead_at_hatch_and_on_arrival_are_in_no_line() {
    let mut stillborn = young(1, "2025-03-01", "2025-03-01");
    stillborn.fate = crate::domain::state::AnimalFate::DeadAtHatch { when: stillborn.came };
    stillborn.origin = AnimalOrigin::Hatched {
        egg: subject("egg", 1),
        alive: false,
        after_opening: None,
        how_known: "found hatched".to_owned(),
        still_closed: None,
    };
    let report = report(&material(2025, "2025-12-31", &[], &[stillborn]));
    assert_eq!((report.stock.lines.len(), report.stock.dead_at_hatch, report.losses.animals), (0, 1, 0));
}

#[test]
fn a_contradiction_bars_the_word_complete_and_names_the_notes() {
    // Died, by its notes, before it hatched, and in another year.
    let animal = died(young(1, "2025-01-10", "2025-01-10"), "2024-12-30");
    let case = lost(egg(5, "2025-01-10"), "2024-12-30", "not determined");
    let report = report(&material(2025, "2025-12-31", &[case], &[animal]));
    assert!(!report.completeness.complete);
    let failing = &report.completeness.failing;
    let told: Vec<_> =
        failing.iter().map(|line| (line.table.as_str(), line.class.as_str(), line.end_by_arithmetic, line.end_counted)).collect();
    assert_eq!(told, [("stock list", "unknown", 1, 0), ("stock list by ownership", "unknown", 1, 0), ("egg ledger", "cases", 1, 0)]);
    assert_eq!(failing[0].subjects, [subject("animal", 1).to_string()]);
    assert_eq!(failing[0].events, [1000, 1001, 1002].map(|note| ulid::Ulid(note).to_string()), "every note that it is counted by");
    assert_eq!(report.completeness.because, ["3 lines of stock list and egg ledger do not add up"]);
}

#[test]
fn whoever_is_not_heard_of_any_more_fails_the_line() {
    let mut found = material(2025, "2025-12-31", &[egg(1, "2024-11-01")], &[young(1, "2024-11-01", "2024-11-01")]);
    (found.closing.eggs, found.closing.animals) = (Vec::new(), Vec::new());
    assert_eq!(report(&found).completeness.failing.len(), 3);
}

#[test]
fn two_errors_that_cancel_out_are_still_named() {
    let too_many = died(young(1, "2025-01-10", "2025-01-10"), "2024-12-30");
    let closing = Population { eggs: Vec::new(), animals: vec![too_many, young(3, "2024-11-01", "2025-12-30")], ..Population::default() };
    let days = Year::of(2025.into(), ZONE).expect("a year");
    let span = Span { from: days.start, until: days.end };
    let (list, failing) =
        stock(&Population::default(), &closing, &[species(1, "Chiloscyllium punctatum", "")], Basis::Presence, span, ZONE);
    assert_eq!(list.total.arithmetic(), list.total.end, "the sums agree by chance");
    assert_eq!(failing.len(), 1);
    assert_eq!(failing[0].subjects.len(), 2);
}

#[test]
fn a_case_taken_for_lost_and_seen_alive_again_is_found_again() {
    let mut found = material(2025, "2025-12-31", &[egg(1, "2024-11-01")], &[]);
    found.before.eggs = vec![lost(egg(1, "2024-11-01"), "2024-12-20", "not determined")];
    let report = report(&found);
    let line = &report.ledger.lines[0];
    assert_eq!((line.start, line.found_again, line.end, report.completeness.failing.len()), (0, 1, 1, 0));
}

#[test]
fn water_of_other_years_is_left_out_and_bases_are_kept_apart() {
    let mut found = season("2025-12-31");
    let mut odd = crate::report::invented::reading("2025-05-01", 20.0, 8.0);
    odd.temperature_scale = None;
    found.readings.push((subject("system", 1), odd));
    let report = report(&found);
    let temperature: Vec<_> = report.water.iter().filter(|line| line.measure == "temperature").collect();
    assert_eq!(temperature.len(), 2, "a reading without its scale is another line");
    let line = temperature.iter().find(|line| line.basis == "ITS-90").expect("four readings");
    // 24.1 24.4 24.6 25.0; the reading of 1 January 2026 is another year's.
    assert_eq!((line.readings, line.min, line.median, line.max), (4, 24.1, 24.5, 25.0));
    assert_eq!((line.label.as_str(), line.instruments), ("S1", 1));
}

#[test]
fn open_discrepancies_come_with_the_weightiest_first() {
    let report = report(&season("2025-12-31"));
    let weights: Vec<&str> = report.discrepancies_open.iter().map(|one| one.weight.as_str()).collect();
    assert_eq!(weights, ["needs a person today", "when convenient"], "and what was explained is left out");
}

#[test]
fn discrepancies_are_counted_by_weight_and_age() {
    let counts = |as_of: &str| -> Vec<[u64; 4]> {
        let counted = report(&season(as_of)).discrepancies_counted;
        counted.iter().map(|line| [line.open_to_7_days, line.open_8_to_30_days, line.open_over_30_days, line.settled]).collect()
    };
    // All three are of 20 December: two weigh most, of which one is settled; one may wait.
    assert_eq!(counts("2025-12-27"), [[1, 0, 0, 1], [1, 0, 0, 0], [0; 4]]);
    assert_eq!(counts("2025-12-28"), [[0, 1, 0, 1], [0, 1, 0, 0], [0; 4]], "an eighth day");
    assert_eq!(counts("2026-02-01"), [[0, 0, 1, 1], [0, 0, 1, 0], [0; 4]]);
}

#[test]
fn notes_of_a_suspected_key_are_named() {
    assert_eq!(report(&season("2025-12-31")).suspected, ["00000000000000000000000002"]);
}

#[test]
fn the_year_is_that_of_the_collections_calendar() {
    // Brisbane is ten hours ahead of UTC: the year begins on 31 December at 14:00 UTC.
    let days = Year::of(2025.into(), ZONE).expect("a year");
    assert_eq!(days.start.utc_text(), "2024-12-31T14:00:00.000Z");
    assert_eq!(days.end.utc_text(), "2025-12-31T13:59:59.999Z");
    let mut late = egg(1, "2025-12-31");
    late.came.time = Instant::parse("2025-12-31T14:00:00Z").expect("a time");
    assert_eq!(report(&material(2025, "2026-01-01", &[late], &[])).ledger.total.collected, 0, "it is 2026 there");
}

#[test]
fn cells_are_written_in_three_parts() {
    assert_eq!(Cell([1, 2, 3]).to_string(), "1.2.3");
    assert_eq!(StockLine::default().arithmetic(), Cell([0, 0, 0]));
}

/// Whoever died made the curve what it is, and a case without a known end is in the bounds.
#[test]
fn shares_are_told_by_all_that_they_are_of() {
    let mut material = season("2025-12-31");
    let survival = cells::explain(&material, "rearing_of_all/points/30/survival").expect("a cell");
    assert_eq!(survival.told, "rearing_of_all/n");
    let named = |number: u64| survival.rests_on.iter().any(|one| one.subject == subject("animal", number).to_string());
    assert!(named(2) && named(3) && named(1), "two that died before that age, and one that lives");
    let left = material.now.eggs.iter_mut().find(|egg| egg.id == subject("egg", 30)).expect("an open case");
    left.fate = EggFate::Removed {
        when: at("2025-12-01", 9),
        reason: "sent out".to_owned(),
        to: "another house".to_owned(),
        alive: LifeState::Alive,
    };
    let of_now = |cell: &str| cells::explain(&material, cell).expect("a cell");
    let (bounds, n) = (of_now("hatch_rates/collected/collected/bounds"), of_now("hatch_rates/collected/collected/n"));
    assert_eq!(bounds.told, "hatch_rates/collected/collected/n+end_not_known");
    assert_eq!((bounds.value[0], bounds.rests_on.len()), (n.value[0] + 1.0, n.rests_on.len() + 1));
}

/// What people outside may rely on.
const SCHEMA_FILE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../schemas/report/annual-report.v1.schema.json");

fn fits(report: &serde_json::Value) -> Vec<String> {
    let text = std::fs::read_to_string(SCHEMA_FILE).expect("the schema of the report");
    let schema: serde_json::Value = serde_json::from_str(&text).expect("a schema is JSON");
    let validator = jsonschema::options().should_validate_formats(true).build(&schema).expect("a sound schema");
    validator.iter_errors(report).map(|error| format!("{}: {error}", error.instance_path())).collect()
}

#[test]
fn reports_fit_their_published_schema() {
    let odd = material(2025, "2025-12-31", &[], &[died(young(1, "2025-01-10", "2025-01-10"), "2024-12-30")]);
    let empty = material(2025, "2025-12-31", &[], &[]);
    for material in [season("2025-12-31"), season("2025-06-30"), season("2026-12-31"), odd, empty] {
        let report = serde_json::to_value(report(&material)).expect("JSON");
        assert_eq!(fits(&report), Vec::<String>::new());
    }
}

#[test]
fn what_the_schema_does_not_know_is_found() {
    let mut report = serde_json::to_value(report(&season("2025-12-31"))).expect("JSON");
    report["rearing_of_all"]["more"] = 1.into();
    assert_eq!(fits(&report).len(), 1);
    report["hatch_rates"]["collected"][0]["x"] = "12".into();
    assert_eq!(fits(&report).len(), 2);
}

/// Every proportion has at most four decimals and every reading three.
#[test]
fn numbers_have_the_digits_that_are_stated() {
    fn decimals(value: &serde_json::Value, most: &mut usize) {
        match value {
            serde_json::Value::Number(number) => {
                let text = number.to_string();
                *most = (*most).max(text.split_once('.').map_or(0, |(_, fraction)| fraction.len()));
            }
            serde_json::Value::Array(items) => items.iter().for_each(|item| decimals(item, most)),
            serde_json::Value::Object(members) => members.values().for_each(|member| decimals(member, most)),
            _ => {}
        }
    }
    let report = serde_json::to_value(report(&season("2025-12-31"))).expect("JSON");
    let (mut all, mut water) = (0, 0);
    decimals(&report, &mut all);
    decimals(&report["water"], &mut water);
    assert!(all == 4 && water <= 3, "{all}, {water}");
}
