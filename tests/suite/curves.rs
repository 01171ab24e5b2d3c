//! Fates by age, loss timing, incubation, life table and pedigree, through signed notes and over HTTP:
//! against what can be counted by hand, and against the rows that anybody makes of the same log.

use selachron_cli::compute::args::{ComputeCommand, FatesArgs};
use selachron_schemas::time::Instant;
use selachron_tests::fixture::ulid;
use selachron_tests::world::{Who, World};
use serde_json::{Value, json};
use std::collections::BTreeMap;

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
