//! Fates by age, loss timing, incubation, life table and pedigree, through signed notes and over HTTP:
//! against what can be counted by hand, and against the rows that anybody makes of the same log.

use selachron_cli::compute::args::{ComputeCommand, FatesArgs};
use selachron_record::projections::Projections;
use selachron_schemas::time::Instant;
use selachron_tests::fixture::ulid;
use selachron_tests::world::{Who, World};
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};

/// Ten in the morning, UTC, of that day.
fn ten(day: &str) -> Instant {
    Instant::parse(&format!("{day}T10:00:00Z")).expect("a day")
}

fn subject(noun: &str, number: u64) -> String {
    format!("{noun}/{}", ulid(3, number))
}

struct Nursery(World);

impl Nursery {
    fn founded() -> Self {
        let mut nursery = Self(World::founded_at(ten("2024-01-02")));
        let species = json!({"scientific_name": "Scyliorhinus canicula", "common_name": "small-spotted catshark", "length_basis": "total"});
        nursery.say(Who::Curator, "2024-01-02", "species.listed.v1", &subject("species", 1), &species);
        for (number, label, purpose) in
            [(1, "Adults", "adults"), (2, "Cool", "incubation"), (3, "Mild", "incubation"), (4, "Warm", "incubation")]
        {
            let tank = json!({"label": label, "purpose": purpose});
            nursery.say(Who::Curator, "2024-01-02", "tank.set_up.v1", &subject("tank", number), &tank);
        }
        nursery
    }

    fn say(&mut self, who: Who, day: &str, kind: &str, about: &str, data: &Value) {
        self.0.set_clock(ten(day));
        self.0.record(who, kind, about, data);
    }

    fn keeper(&mut self, day: &str, kind: &str, about: &str, data: &Value) {
        self.say(Who::Keeper, day, kind, about, data);
    }

    fn collect(&mut self, day: &str, number: u64, tank: u64, more: &Value) {
        let mut data = json!({
            "label": format!("E-{number}"), "species": subject("species", 1), "from_tank": subject("tank", 1), "laid": "single",
            "case": "whole", "yolk": "seen", "clutch": subject("clutch", number / 2), "to_tank": subject("tank", tank),
        });
        data.as_object_mut().expect("an object").extend(more.as_object().cloned().unwrap_or_default());
        self.keeper(day, "egg.collected.v1", &subject("egg", number), &data);
    }

    fn search(&mut self, day: &str) {
        self.keeper(day, "tank.searched.v1", &subject("tank", 1), &json!({"eggs_found": 0, "whole_tank": true}));
    }

    fn alive(&mut self, day: &str, number: u64) {
        self.keeper(day, "egg.candled.v1", &subject("egg", number), &json!({"seen_into": true, "band": 3, "movement": "moving"}));
    }

    fn lose(&mut self, day: &str, number: u64) {
        let lost = json!({"apparent_cause": "embryo died", "plainly_dead": true});
        self.keeper(day, "egg.lost.v1", &subject("egg", number), &lost);
    }

    fn hatch(&mut self, day: &str, number: u64, how: &str) {
        let young = json!([{"animal": subject("animal", number), "state": "alive"}]);
        self.keeper(day, "egg.hatched.v1", &subject("egg", number), &json!({"how_known": how, "young": young}));
    }

    fn figure(&self, path: &str, query: &[(&str, &str)]) -> Value {
        self.0.read(&format!("/v1/figures/{path}"), query)
    }
}

/// Ten cases of one day. Two die between the looks of day 7 and 14, one between 14 and 28; one leaves
/// on day 20, one is missed on day 21 and found again, one is found without an embryo, five hatch on
/// days 100 to 104, the fifth of them seen; one stays open.
fn ten_cases() -> Nursery {
    let mut nursery = Nursery::founded();
    nursery.search("2024-02-29");
    (0..11).for_each(|number| nursery.collect("2024-03-01", number, 3, &json!({})));
    (0..10).for_each(|number| nursery.alive("2024-03-08", number));
    (0..2).for_each(|number| nursery.lose("2024-03-15", number));
    (2..10).for_each(|number| nursery.alive("2024-03-15", number));
    let sent = json!({"reason": "sent out", "to": "another house", "alive": "alive"});
    nursery.keeper("2024-03-21", "egg.removed.v1", &subject("egg", 3), &sent);
    nursery.keeper("2024-03-22", "egg.missing.v1", &subject("egg", 4), &json!({"noticed_at": "the daily look", "searched": ["the tank"]}));
    nursery.keeper("2024-03-22", "egg.lost.v1", &subject("egg", 10), &json!({"apparent_cause": "no yolk", "plainly_dead": true}));
    nursery.keeper("2024-03-23", "egg.found.v1", &subject("egg", 4), &json!({"where": "under the basket"}));
    nursery.lose("2024-03-29", 2);
    for (number, day) in [(4, "2024-06-09"), (5, "2024-06-10"), (6, "2024-06-11"), (7, "2024-06-12")] {
        nursery.hatch(day, number, "found hatched");
    }
    nursery.hatch("2024-06-13", 8, "seen to hatch");
    nursery.0.set_clock(ten("2024-07-01"));
    nursery
}

#[track_caller]
fn names_its_ground(figure: &Value) {
    for member in ["method", "interval", "numerator", "denominator", "as_of", "root"] {
        assert!(figure[member].as_str().is_some_and(|text| !text.is_empty()), "{member} is missing: {figure}");
    }
    assert!(figure["known_at"].is_u64(), "{figure}");
}

#[test]
fn fates_add_up_at_every_age() {
    let nursery = ten_cases();
    let figure = nursery.figure("egg-fates", &[("year", "2024")]);
    names_its_ground(&figure);
    let count = |name: &str| figure[name].as_u64().expect("a count");
    assert_eq!((count("n"), count("hatched"), count("died"), count("removed"), count("lost"), count("open")), (10, 5, 3, 1, 0, 1));
    assert_eq!(figure["beside"]["infertile"], 1);
    assert_eq!((&figure["behind"]["eggs"], &figure["behind"]["clutches"]), (&json!(10), &json!(5)));
    // By hand: 2 of 10 on day 14; 1 of 8 leaves on day 20, one last seen alive on day 14 is censored then.
    let ages = figure["ages"].as_array().expect("ages");
    assert_eq!((&ages[0]["age_days"], &ages[0]["at_risk"], &ages[0]["died"]["estimate"]), (&json!(14.0), &json!(10), &json!(0.2)));
    assert_eq!((&ages[1]["age_days"], &ages[1]["at_risk"], &ages[1]["removed"]["estimate"]), (&json!(20.0), &json!(7), &json!(0.1143)));
    for age in ages {
        let part = |name: &str| age[name]["estimate"].as_f64().expect("a part");
        let sum = part("hatched") + part("died") + part("removed") + age["open"].as_f64().expect("a part");
        assert!((sum - 1.0).abs() < 2e-4, "{age}");
    }
    let before = nursery.figure("egg-fates", &[("year", "2024"), ("as_of", "2024-03-01")]);
    assert_eq!((&before["n"], &before["open"], &before["ages"]), (&json!(11), &json!(11), &json!([])));
}

/// The same rows come out of the bundle, by the command that any client has.
#[test]
fn every_row_is_that_of_the_bundle() {
    let nursery = ten_cases();
    let of_the_bundle = rows_of_the_bundle(&nursery.0);
    for path in ["egg-fates", "loss-timing"] {
        same_rows(&nursery.figure(path, &[("explain", "true")]), &of_the_bundle);
    }
}

#[track_caller]
fn same_rows(figure: &Value, of_the_bundle: &BTreeMap<String, Value>) {
    let cases = figure["cases"].as_array().expect("cases");
    assert_eq!(cases.len(), of_the_bundle.len());
    for case in cases {
        let row = &of_the_bundle[case["subject"].as_str().expect("a subject")];
        let found = [&case["entry_days"], &case["L"], &case["R"], &case["events"]];
        assert_eq!(found, [&row["entry"], &row["L"], &row["R"], &row["events"]], "{case}");
    }
}

/// What a row says of a case, and which words of the hatch rates may stand beside it.
const SAME: [(&str, &[&str]); 7] = [
    ("hatch", &["hatched unaided", "hatched after opening"]),
    ("death", &["not hatched", "put down by decision"]),
    ("infertile", &["not hatched"]),
    ("dead on arrival", &[]),
    ("removed", &["end not known", "put down by decision, embryo alive", "put down by decision"]),
    ("lost", &["missing", "end not known"]),
    ("censored", &["open"]),
];

/// A season with every end that there is, received cases among them.
fn every_end() -> Nursery {
    let mut nursery = ten_cases();
    (20..27).for_each(|number| nursery.collect("2024-07-01", number, 3, &json!({})));
    received(&mut nursery, 30, "alive");
    received(&mut nursery, 31, "dead");
    for (number, alive) in [(20, "yes"), (21, "no"), (26, "not known")] {
        let data = json!({"reason": "no room", "decided_by": [nursery.0.staff.curator.person], "alive": alive});
        nursery.say(Who::Curator, "2024-08-01", "egg.put_down.v1", &subject("egg", number), &data);
    }
    let opened = json!({"extent": "end slit widened", "known_dead": false, "left": "open in the water", "outcome": "left to hatch"});
    nursery.keeper("2024-09-02", "egg.opened.v1", &subject("egg", 23), &opened);
    nursery.hatch("2024-09-03", 23, "seen to hatch");
    let trapped = json!({"how_known": "found hatched", "young": [{"animal": subject("animal", 22), "state": "dead"}]});
    nursery.keeper("2024-09-03", "egg.hatched.v1", &subject("egg", 22), &trapped);
    nursery.keeper("2024-09-03", "egg.hatched.v1", &subject("egg", 24), &json!({"how_known": "found hatched", "young": []}));
    nursery.keeper("2024-09-03", "egg.missing.v1", &subject("egg", 25), &json!({"noticed_at": "a full count"}));
    nursery.hatch("2024-09-04", 30, "seen to hatch");
    nursery.0.set_clock(ten("2024-09-05"));
    nursery
}

/// The record counts in three ways of its own (hatch rates, fates of the report, rearing); each must
/// say of each case what its row says, which anybody can make of the bundle.
#[test]
fn every_way_of_counting_agrees_with_the_rows() {
    let nursery = every_end();
    let of_the_bundle = rows_of_the_bundle(&nursery.0);
    let figure = nursery.figure("egg-fates", &[("explain", "true")]);
    same_rows(&figure, &of_the_bundle);
    let text = |value: &Value| value.as_str().expect("text").to_owned();
    let told = figure["cases"].as_array().expect("cases").iter();
    let rows: BTreeMap<String, (String, bool)> =
        told.map(|case| (text(&case["subject"]), (text(&case["counted_as"]), case["after_opening"] == json!(true)))).collect();
    let ends: BTreeSet<&str> = rows.values().map(|(end, _)| end.as_str()).collect();
    assert_eq!(ends, SAME.iter().map(|(end, _)| *end).collect(), "every end is there");
    agrees_with_hatch_rates(&nursery.figure("hatch-rates", &[("explain", "true")]), &rows);
    agrees_with_the_report(&nursery.0.read("/v1/reports/annual/2024", &[("as_of", "2024-09-05T10:00:00Z")])["fates"], &rows);
    agrees_with_rearing(&nursery.figure("rearing", &[("explain", "true")]), &rows);
}

#[test]
fn rows_of_cases_looked_through_one_by_one_are_those_of_all_at_once() {
    let world = every_end().0;
    let (projections, journal) = (Projections::new(), world.service().journal());
    let size = journal.published().size();
    projections.catch_up(&**journal.store(), size).expect("the log can be learned");
    let [one_by_one, all] =
        [1, usize::MAX].map(|at_once| projections.at_known(world.now(), size, |view| view.case_rows_by(at_once)).expect("all is known"));
    assert!(all.rows.len() > 10, "{all:?}");
    assert_eq!(one_by_one, all);
}

type Rows = BTreeMap<String, (String, bool)>;

#[track_caller]
fn agrees_with_hatch_rates(rates: &Value, rows: &Rows) {
    let mut counted = BTreeSet::new();
    for list in ["collected", "received"] {
        let rate = rates[list].as_array().and_then(|rates| rates.iter().find(|rate| rate["name"] == list)).expect("a rate");
        for case in rate["cases"].as_array().expect("cases") {
            let (about, word) = (case["subject"].as_str().expect("a case"), case["counted_as"].as_str().expect("a word"));
            let (end, after_opening) = &rows[about];
            let allowed = SAME.iter().find(|(name, _)| name == end).expect("an end").1;
            assert!(allowed.contains(&word), "{about}: its row says {end}, its hatch rate {word}");
            assert_eq!(word == "hatched after opening", *after_opening, "{about}");
            assert!(counted.insert(about.to_owned()), "{about} is counted twice");
        }
    }
    // Those that arrived dead are in no rate: they are counted beside.
    let (beside, rated): (Vec<_>, Vec<_>) = rows.iter().partition(|(_, (end, _))| end == "dead on arrival");
    assert_eq!(counted, rated.into_iter().map(|(case, _)| case.clone()).collect(), "every case is counted once");
    assert_eq!(rates["dead_on_arrival"], json!(beside.len()));
}

#[track_caller]
fn agrees_with_the_report(fates: &Value, rows: &Rows) {
    let sum = |names: &[&str]| names.iter().map(|name| fates[*name].as_u64().unwrap_or(0)).sum::<u64>();
    let count = |ends: &[&str]| rows.values().filter(|(end, _)| ends.contains(&end.as_str())).count() as u64;
    assert_eq!(sum(&["cases"]), rows.len() as u64, "{fates}");
    assert_eq!(sum(&["hatched_unaided", "hatched_after_opening"]), count(&["hatch"]), "{fates}");
    assert_eq!(sum(&["hatched_after_opening"]), rows.values().filter(|(_, after_opening)| *after_opening).count() as u64);
    assert_eq!(sum(&["dead_on_arrival"]), count(&["dead on arrival"]), "{fates}");
    assert_eq!(sum(&["open"]), count(&["censored"]), "{fates}");
    assert_eq!(sum(&["missing", "young_not_found"]), count(&["lost"]), "{fates}");
    // A case put down dead, or with an embryo that lived, is one line of the report and two ends of a row.
    assert_eq!(sum(&["lost", "put_down", "removed"]), count(&["death", "infertile", "removed"]), "{fates}");
    assert_eq!(sum(&["put_down"]), 3, "{fates}");
}

/// Each of these cases has one young; whoever is followed from day 0 came out of a row that hatched.
#[track_caller]
fn agrees_with_rearing(rearing: &Value, rows: &Rows) {
    let number = |about: &str| about.rsplit('/').next().expect("an id").to_owned();
    let hatched: BTreeSet<String> = rows.iter().filter(|(_, (end, _))| end == "hatch").map(|(case, _)| number(case)).collect();
    let young = rearing["cases"].as_array().expect("cases").iter();
    let (dead, followed): (Vec<&Value>, Vec<&Value>) =
        young.partition(|one| one["counted_as"] == json!("dead when first seen: not hatched"));
    // The young of a case has its number in these notes.
    let followed: BTreeSet<String> = followed.iter().map(|one| number(one["subject"].as_str().expect("an animal"))).collect();
    assert_eq!(followed, hatched);
    assert_eq!(rearing["n"], json!(hatched.len()));
    assert_eq!(dead.len(), 1);
    assert_eq!(rows[&subject("egg", 22)].0, "death", "found dead half out: a lost case, trapped at hatching");
}

fn received(nursery: &mut Nursery, number: u64, state: &str) {
    let data = json!({
        "label": format!("R-{number}"), "species": subject("species", 1), "from": "another house", "state": state, "laid_on_estimate": "2024-06-20", "case": "whole", "yolk": "seen",
        "to_tank": subject("tank", 3),
    });
    nursery.keeper("2024-07-01", "egg.received.v1", &subject("egg", number), &data);
}

/// What `selachron compute fates` makes of the envelopes of a bundle, by case.
fn rows_of_the_bundle(world: &World) -> BTreeMap<String, Value> {
    let folder = tempfile::tempdir().expect("a folder");
    let bundle = folder.path().join("bundle");
    world.client().bundle(&bundle).expect("the bundle can be taken");
    let today = world.now().day(chrono_tz::Tz::UTC);
    let asked = FatesArgs { file: Some(bundle.join("envelopes.ndjson")), as_of: Some(today), time_zone: None };
    let answer = selachron_cli::compute::run(&ComputeCommand::Fates(asked)).expect("rows");
    let answer: Value = serde_json::from_str(&answer).expect("JSON");
    let rows = answer["rows"].as_array().expect("rows").iter();
    rows.map(|row| (row["egg"].as_str().expect("an egg").to_owned(), row.clone())).collect()
}

#[test]
fn losses_lie_between_looks() {
    let nursery = ten_cases();
    let figure = nursery.figure("loss-timing", &[("year", "2024")]);
    names_its_ground(&figure);
    assert_eq!((&figure["n"], &figure["deaths"]), (&json!(10), &json!(3)));
    let stretches = figure["stretches"].as_array().expect("stretches");
    assert_eq!((&stretches[0]["after_days"], &stretches[0]["by_days"], &stretches[0]["part"]), (&json!(7.0), &json!(14.0), &json!(0.2)));
    assert_eq!((&stretches[1]["after_days"], &stretches[1]["by_days"]), (&json!(14.0), &json!(28.0)));
    let at = |age: f64| figure["ages"].as_array().expect("ages").iter().find(|one| one["age_days"] == json!(age)).expect("an age").clone();
    // No day is made up: at 7 days nobody need have died and none can have; at 14 days two have.
    assert_eq!((&at(7.0)["lost_at_least"], &at(7.0)["lost_at_most"]), (&json!(0.0), &json!(0.0)));
    assert_eq!((&at(14.0)["lost_at_least"], &at(14.0)["lost_at_most"]), (&json!(0.2), &json!(0.2)));
    assert_eq!((&figure["looks_scheduled"], &figure["looks_prompted"]), (&json!(18), &json!(0)));
    assert!(nursery.figure("loss-timing", &[("year", "2020")])["absent"]["why"] == "no cases");
}

/// 2000 d °C above 4 °C: 200 days at 14, 166.67 at 16, 142.86 at 18, in whole days.
#[test]
fn incubation_by_temperature() {
    let mut nursery = Nursery::founded();
    nursery.search("2024-02-29");
    let tanks = [(2_u64, 14.0, "2024-09-17"), (3, 16.0, "2024-08-15"), (4, 18.0, "2024-07-22")];
    for (at, (tank, _, _)) in tanks.iter().enumerate() {
        (0..3).for_each(|number| nursery.collect("2024-03-01", 10 * at as u64 + number, *tank, &json!({})));
    }
    // Read on these days; whoever hatches, hatches on the day after.
    for day in ["2024-03-01", "2024-05-01", "2024-07-01", "2024-07-21", "2024-08-14", "2024-09-16"] {
        for (tank, temperature_c, _) in tanks {
            let reading = json!({"instrument": "thermometer 1", "temperature_c": temperature_c});
            nursery.keeper(day, "water.measured.v1", &subject("tank", tank), &reading);
        }
        let next = ten(day).day(chrono_tz::Tz::UTC).succ_opt().expect("a day").to_string();
        for at in (0..tanks.len()).filter(|at| tanks[*at].2 == next) {
            (0..3).for_each(|number| nursery.hatch(&next, 10 * at as u64 + number, "seen to hatch"));
        }
    }
    let figure = nursery.figure("incubation", &[("explain", "true")]);
    names_its_ground(&figure);
    let species = &figure["species"][0];
    assert_eq!((&species["hatched"], &species["n"], &species["behind"]["eggs"]), (&json!(9), &json!(9), &json!(9)), "{species}");
    assert_eq!((&species["temperature_min_c"], &species["temperature_max_c"]), (&json!(14.0), &json!(18.0)));
    let letter = |name: &str| species["thermal_sum"][name]["estimate"].as_f64().expect("a letter");
    assert!((letter("t0_c") - 4.0).abs() < 0.2 && (letter("k_degree_days") - 2000.0).abs() < 30.0, "{species}");
    let on_days = &species["thermal_sum_on_days"]["k_degree_days"]["estimate"];
    assert!((on_days.as_f64().expect("a letter") - 2000.0).abs() < 30.0, "{species}");
    assert!(species["cases"][0]["readings"].as_array().is_some_and(|readings| readings.len() >= 3));
    let one = nursery.figure("incubation", &[("as_of", "2024-07-25")]);
    assert_eq!(one["species"][0]["thermal_sum"], Value::Null);
    assert!(one["species"][0]["notes"].to_string().contains("at least two temperatures"), "{one}");
}

#[test]
fn a_life_table_counts_everybody_once() {
    let mut nursery = ten_cases();
    let died = json!({"how_known": "found dead", "apparent_cause": "not determined", "body": "fixed"});
    nursery.keeper("2024-07-02", "animal.died.v1", &subject("animal", 4), &died);
    let fed = json!({"offered": [{"food": "shrimp"}], "eaten": "all"});
    (5..9).for_each(|number| nursery.keeper("2024-10-01", "animal.fed.v1", &subject("animal", number), &fed));
    let figure = nursery.figure("life-table", &[("explain", "true")]);
    names_its_ground(&figure);
    assert_eq!((&figure["n"], &figure["deaths"], &figure["behind"]["eggs"]), (&json!(5), &json!(1), &json!(5)));
    let classes = figure["classes"].as_array().expect("classes");
    let starts: Vec<u64> = classes.iter().filter_map(|class| class["from_days"].as_u64()).collect();
    assert_eq!(starts, [0, 7, 30, 90]);
    // Died on day 23: of 5 exposed from day 7 on, one.
    assert_eq!((&classes[1]["n"], &classes[1]["deaths"], &classes[1]["q"]), (&json!(5), &json!(1), &json!(0.2)));
    assert_eq!((&classes[2]["n"], &classes[2]["l"]), (&json!(4), &json!(0.8)));
    assert_eq!(classes[3]["left"], 4);
    assert_eq!(figure["cases"].as_array().map(Vec::len), Some(5));
}

/// A dam of known hatch day lays at 790 days; three young of hers and two of nobody known hatch after
/// 104 days, one of the five dies and four are followed for two years.
#[test]
fn births_by_the_age_of_the_dam() {
    let mut nursery = Nursery::founded();
    let dam = json!({
        "label": "Dam", "species": subject("species", 1), "from": "another house", "origin": "bred in care", "state": "alive", "sex": "female",
        "tank": subject("tank", 1), "hatched_on_estimate": "2022-01-01",
    });
    nursery.keeper("2024-01-10", "animal.received.v1", &subject("animal", 101), &dam);
    nursery.search("2024-02-29");
    let known = json!({"dam": {"status": "known", "animals": [{"animal": subject("animal", 101)}], "basis": "seen"}});
    (0..3).for_each(|number| nursery.collect("2024-03-01", number, 3, &known));
    (3..5).for_each(|number| nursery.collect("2024-03-01", number, 3, &json!({})));
    let none = nursery.figure("life-table", &[]);
    assert_eq!((&none["births"]["absent"]["why"], &none["births"]["r0"]), (&json!("no events"), &Value::Null), "{none}");
    assert!(none["births"]["absent"]["says"].as_str().is_some_and(|says| says.contains("no R0, T, r or lambda")), "{none}");
    (0..5).for_each(|number| nursery.hatch("2024-06-13", number, "seen to hatch"));
    let died = json!({"how_known": "found dead", "apparent_cause": "not determined", "body": "fixed"});
    nursery.keeper("2024-07-02", "animal.died.v1", &subject("animal", 4), &died);
    let fed = json!({"offered": [{"food": "shrimp"}], "eaten": "all"});
    for number in [0, 1, 2, 3, 101] {
        nursery.keeper("2026-07-01", "animal.fed.v1", &subject("animal", number), &fed);
    }
    let births = nursery.figure("life-table", &[])["births"].clone();
    assert_eq!(
        (&births["n"], &births["dams"], &births["births"], &births["births_not_placed"]),
        (&json!(1), &json!(1), &json!(1.5), &json!(2))
    );
    assert_eq!(births["incubation_days"], json!(104.0));
    // She was there from day 739 on, so for 356 of the 365 days of the class from 730.
    let class = births["classes"].as_array().and_then(|classes| classes.first()).expect("a class").clone();
    assert_eq!((&class["from_days"], &class["exposure_days"], &class["l"]), (&json!(730.0), &json!(356.0), &json!(0.8)), "{births}");
    let (m, age) = (1.5 * 365.0 / 356.0, (730.0 + 1095.0) / 2.0 + 104.0);
    let near = |name: &str, wanted: f64, within: f64| {
        let found = births[name].as_f64().unwrap_or_else(|| panic!("no {name}: {births}"));
        assert!((found - wanted).abs() <= within, "{name}: {found}, not {wanted}");
    };
    near("r0", 0.8 * m, 5e-5);
    near("generation_days", age, 0.05);
    near("rate_per_day", (0.8 * m).ln() / age, 5e-7);
    near("lambda", ((0.8 * m).ln() / age).exp(), 5e-7);
}

/// Two wild-caught founders, two full sibs by them, and the young of an unfertilised egg.
#[test]
fn kinship_of_a_family() {
    let mut nursery = Nursery::founded();
    let came = |label: &str, sex: &str| {
        json!({
            "label": label, "species": subject("species", 1), "from": "another house", "origin": "wild", "state": "alive", "sex": sex,
            "tank": subject("tank", 1),
        })
    };
    nursery.keeper("2024-01-10", "animal.received.v1", &subject("animal", 101), &came("Dam", "female"));
    nursery.keeper("2024-01-10", "animal.received.v1", &subject("animal", 102), &came("Sire", "male"));
    let known = |number: u64| json!({"status": "known", "animals": [{"animal": subject("animal", number)}], "basis": "seen"});
    (0..2).for_each(|number| nursery.collect("2024-03-01", number, 3, &json!({"dam": known(101), "sire": known(102)})));
    nursery.collect("2024-03-01", 7, 3, &json!({"dam": known(101), "sire": {"status": "none", "basis": "genotype"}}));
    for number in [0, 1, 7] {
        nursery.hatch("2024-06-13", number, "seen to hatch");
    }
    let figure = nursery.figure("pedigree", &[("explain", "true")]);
    names_its_ground(&figure);
    let species = &figure["species"][0];
    assert_eq!((&species["n"], &species["living"], &species["absent"]), (&json!(5), &json!(5), &Value::Null), "{species}");
    let kin = |number: u64| {
        let animals = species["animals"].as_array().expect("animals");
        animals.iter().find(|one| one["animal"] == json!(subject("animal", number))).expect("an animal").clone()
    };
    // Automixis with rho 1: both alleles alike, F = 1; sibs by two unrelated founders: 0.
    assert_eq!((&kin(7)["inbreeding"], &kin(0)["inbreeding"]), (&json!(1.0), &json!(0.0)));
    // Kinship of the five with each: dam .5 0 .25 .25 .5, sire 0 .5 .25 .25 0, sibs .25 .25 .5 .25 .25, young .5 0 .25 .25 1.
    let mean = (1.5 + 1.0 + 1.5 + 1.5 + 2.0) / 25.0;
    assert_eq!(species["mean_kinship"], json!(mean), "{species}");
    assert_eq!(species["gene_diversity"], json!(1.0 - mean));
    assert_eq!(species["parents"], json!({"known": 5, "none": 1, "unknown": 4}));
    assert_eq!(species["behind"]["eggs"], 3);
    let cases = species["cases"].as_array().expect("cases");
    assert!(cases.iter().all(|case| case["events"].as_array().is_some_and(|events| !events.is_empty())));
    let said = nursery.0.client().get("/v1/figures/pedigree", &[("year", "2024")]).expect_err("kinship is not of a year");
    assert!(said.to_string().contains("year"), "{said}");
}
