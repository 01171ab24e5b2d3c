//! Numbers that are easily counted wrong: cases that leave in a consignment, absences that end with a leaving,
//! papers noted late, places that are no longer, weights told in part, readings past a calibration.

use super::readers::{Breeding, rows};
use super::{YEAR, table};
use selachron_schemas::time::Instant;
use selachron_tests::world::Who;
use serde_json::{Map, Value, json};

fn at(house: &mut Breeding, time: &str) {
    house.world.set_clock(Instant::parse(time).expect("a time"));
}

fn sent(house: &mut Breeding, which: &[&str]) {
    let items: Vec<Value> = which.iter().map(|which| json!({"which": which, "alive": "alive"})).collect();
    let box_of = house.world.subject("consignment");
    let label = format!("box of {}", which.len());
    let data = json!({"label": label, "to": "another house", "carrier": "own van", "reason": "transfer", "items": items});
    let outcome = house.world.say_with(Who::Keeper, "consignment.sent.v1", &box_of, &data, &Map::new(), &[Who::Curator]);
    outcome.recorded().unwrap_or_else(|fault| panic!("{fault}"));
}

#[test]
fn a_case_in_a_consignment_was_sent_out() {
    let mut house = Breeding::new();
    let (dam, sire) = (house.arrives("F", "female", "wild", json!({})), house.arrives("M", "male", "wild", json!({})));
    let egg = house.laid("E-1", &dam, &sire, true);
    house.world.pass_days(3);
    sent(&mut house, &[&egg]);
    house.world.pass_days(1);
    let line = house.world.read(YEAR, &[])["ledger"]["total"].clone();
    assert_eq!((&line["sent_out"], &line["removed_other"], &line["end"]), (&json!(1), &json!(0), &json!(0)), "{line}");
    assert_eq!(house.world.read("/v1/eggs/E-1", &[])["item"]["fate"]["reason"], "sent out");
}

#[test]
fn whatever_is_missing_and_then_sent_was_found_first() {
    let mut house = Breeding::new();
    let (dam, sire) = (house.arrives("F", "female", "wild", json!({})), house.arrives("M", "male", "wild", json!({})));
    let egg = house.laid("E-1", &dam, &sire, true);
    house.world.record(Who::Keeper, "egg.missing.v1", &egg, &json!({"noticed_at": "a full count"}));
    house.world.record(Who::Keeper, "animal.missing.v1", &sire, &json!({"noticed_at": "a full count"}));
    house.world.pass_days(3);
    sent(&mut house, &[&egg, &sire]);
    house.world.pass_days(1);
    let report = house.world.read(YEAR, &[]);
    assert_eq!(report["completeness"]["failing"], json!([]));
    assert_eq!(report["ledger"]["total"]["found_again"], json!(1));
    let stock = &report["stock"]["total"];
    let males = |cell: &str| stock[cell][0].clone();
    assert_eq!((males("missing"), males("found"), males("departed"), males("end")), (json!(1), json!(1), json!(1), json!(0)));
    let back: Vec<Value> = rows(&report, "authority", "absences").iter().map(|row| row["found_on"].clone()).collect();
    assert!(back.len() == 2 && back.iter().all(Value::is_string), "{back:?}");
}

#[test]
fn a_paper_noted_after_its_use_is_in_the_year_of_the_use() {
    let mut house = Breeding::new();
    let dam = house.arrives("F", "female", "wild", json!({}));
    at(&mut house, "2026-01-05T12:00:00Z");
    let permit = house.world.subject("document");
    let paper =
        json!({"label": "E-1", "what": "export", "number": "INV-1", "authority": "an invented authority", "valid_from": "2025-06-01"});
    house.world.record(Who::Registrar, "permit.recorded.v1", &permit, &paper);
    let late = json!({"time": "2025-12-20T10:00:00.000Z", "late": true, "latereason": "the paper came later"})
        .as_object()
        .cloned()
        .expect("members");
    let used = json!({"for_what": "to another house", "which": [dam]});
    house.world.say_with(Who::Curator, "permit.used.v1", &permit, &used, &late, &[]).recorded().expect("recorded");
    house.world.pass_days(1);
    let now = [("as_of", "2026-01-06T10:00:00Z")];
    let uses = |year: i32| rows(&house.world.read(&format!("/v1/reports/annual/{year}"), &now), "authority", "permits_used").len();
    assert_eq!((uses(2025), uses(2026)), (1, 0));
}

#[test]
fn a_use_that_names_animals_counts_them() {
    let mut house = Breeding::new();
    let animals = ["A", "B", "C"].map(|label| house.arrives(label, "female", "wild", json!({})));
    let permit = house.world.subject("document");
    let paper = json!({"label": "E-1", "what": "export", "number": "INV-1", "authority": "an invented authority", "specimens": 2});
    house.world.record(Who::Registrar, "permit.recorded.v1", &permit, &paper);
    let used = |house: &mut Breeding, data: &Value| house.world.record(Who::Curator, "permit.used.v1", &permit, data).discrepancies.len();
    assert_eq!(used(&mut house, &json!({"for_what": "to another house", "which": animals[..2]})), 0);
    assert_eq!(used(&mut house, &json!({"for_what": "to another house", "which": [animals[2]]})), 1, "three of two");
    let read = |house: &Breeding| house.world.read("/v1/permits/E-1", &[])["item"].clone();
    assert_eq!((&read(&house)["used_specimens"], &read(&house)["uses_not_counted"]), (&json!(3), &json!(0)));
    used(&mut house, &json!({"for_what": "nobody says how many"}));
    assert_eq!((&read(&house)["used_specimens"], &read(&house)["uses_not_counted"]), (&json!(3), &json!(1)));
}

#[test]
fn places_are_those_in_use_and_a_missing_case_stands_in_none() {
    let mut house = Breeding::new();
    let (dam, sire) = (house.arrives("F", "female", "wild", json!({})), house.arrives("M", "male", "wild", json!({})));
    let (trays, old, adults) = (house.trays.clone(), house.world.tank("Old trays", "incubation"), house.adults.clone());
    for (order, tank) in (1..).zip([&trays, &old, &adults]) {
        let place = house.world.subject("place");
        let data = json!({"label": format!("P-{order}"), "tank": tank, "order": order, "cases_max": 5});
        house.world.record(Who::Keeper, "place.set_up.v1", &place, &data);
    }
    house.world.record(Who::Keeper, "tank.retired.v1", &old, &json!({"reason": "the seal leaks"}));
    house.laid("E-1", &dam, &sire, true);
    let away = house.laid("E-2", &dam, &sire, true);
    at(&mut house, "2025-12-20T12:00:00Z");
    house.world.record(Who::Keeper, "egg.missing.v1", &away, &json!({"noticed_at": "a full count"}));
    at(&mut house, "2026-01-10T12:00:00Z");
    house.world.record(Who::Keeper, "egg.found.v1", &away, &json!({"where": "in the filter", "to_tank": trays}));
    house.world.pass_days(1);
    let report = house.world.read(YEAR, &[]);
    let told = rows(&report, "curator", "places");
    let of = |on: &str| told.iter().find(|row| row["on"] == on).map(|row| (row["cases"].clone(), row["places"].clone()));
    assert_eq!(of("2025-11-30"), Some((json!(2), json!(5))), "{told:?}");
    assert_eq!(of("2025-12-31"), Some((json!(1), json!(5))), "missing then, found since");
    assert_eq!(report["ledger"]["total"]["end"], json!(1));
}

#[test]
fn cases_by_dam_are_weighed_as_the_studbook_weighs_them() {
    let mut house = Breeding::new();
    let dams = ["A", "B", "C"].map(|label| house.arrives(label, "female", "wild", json!({})));
    let egg = house.world.subject("egg");
    let candidates = json!([{"animal": dams[0], "weight": 0.6}, {"animal": dams[1]}, {"animal": dams[2]}]);
    let found = json!({"label": "E-1", "species": house.species, "from_tank": house.adults, "laid": "single", "case": "whole", "yolk": "seen",
        "dam": {"status": "candidates", "animals": candidates}});
    house.world.record(Who::Keeper, "egg.collected.v1", &egg, &found);
    house.world.pass_days(1);
    let told: Vec<(Value, Value)> =
        rows(&house.world.read(YEAR, &[]), "curator", "per_dam").iter().map(|row| (row["dam"].clone(), row["cases"].clone())).collect();
    assert_eq!(told, [("A", 0.6), ("B", 0.2), ("C", 0.2)].map(|(dam, cases)| (json!(dam), json!(cases))));
}

#[test]
fn before_and_after_name_no_case_that_they_do_not_count() {
    let mut house = Breeding::new();
    let (egg, trays) = (house.world.subject("egg"), house.trays.clone());
    let came = json!({"label": "R-1", "species": house.species, "from": "another house", "state": "alive", "case": "whole", "yolk": "seen",
        "to_tank": trays});
    house.world.record(Who::Keeper, "egg.received.v1", &egg, &came);
    house.world.pass_days(1);
    let lit = house.world.record(Who::Keeper, "tank.light_set.v1", &trays, &json!({"light": "dim", "day_length_hours": 12}));
    house.world.pass_days(1);
    let report = house.world.read(YEAR, &[]);
    let told = table(&report, "curator", "changes")["rows"].as_array().expect("rows");
    assert_eq!(told.len(), 2);
    for row in told {
        assert_eq!(row["events"], json!([lit.id]), "no case found here stood in it: {row}");
    }
}

#[test]
fn advice_to_send_on_was_followed_though_it_came_back_and_not_by_a_death() {
    let mut house = Breeding::new();
    let (back, dead) = (house.arrives("Back", "female", "wild", json!({})), house.arrives("Dead", "female", "wild", json!({})));
    for animal in [&back, &dead] {
        let advice = json!({"advice": "send on", "programme": "an invented programme"});
        house.world.record(Who::Curator, "breeding.advised.v1", animal, &advice);
    }
    house.world.pass_days(2);
    for (animal, alive) in [(&back, "alive"), (&dead, "dead")] {
        let left = json!({"to": "another house", "reason": "transfer", "alive": alive});
        house.world.record(Who::Curator, "animal.departed.v1", animal, &left);
    }
    house.world.pass_days(2);
    let returned = json!({"from": "another house", "reason": "not kept there", "to_tank": house.adults});
    house.world.record(Who::Keeper, "animal.returned.v1", &back, &returned);
    house.world.pass_days(1);
    let told: Vec<(Value, Value)> = rows(&house.world.read(YEAR, &[]), "studbook", "advice")
        .iter()
        .map(|row| (row["animal"].clone(), row["followed"].clone()))
        .collect();
    assert_eq!(told, [("Back", "yes: it left"), ("Dead", "not yet")].map(|(animal, followed)| (json!(animal), json!(followed))));
}

#[test]
fn readings_past_a_calibration_are_counted_and_told() {
    let mut house = Breeding::new();
    let (system, probe) = (house.world.subject("system"), house.world.subject("instrument"));
    house.world.record(Who::Keeper, "system.set_up.v1", &system, &json!({"label": "Warm", "water": "tropical"}));
    let installed = json!({"label": "probe 3", "measures": ["temperature"], "system": system, "calibration_interval_days": 30});
    house.world.record(Who::Keeper, "instrument.installed.v1", &probe, &installed);
    for days in [10, 30] {
        house.world.pass_days(days);
        let read = json!({"instrument": "probe 3", "temperature_c": 25.0, "temperature_scale": "ITS-90"});
        house.world.record(Who::Keeper, "water.measured.v1", &system, &read);
    }
    house.world.pass_days(1);
    let report = house.world.read(YEAR, &[]);
    super::parts::fits(&report);
    assert_eq!((&report["water"][0]["readings"], &report["water"][0]["hollow"]), (&json!(2), &json!(1)), "{}", report["water"]);
    let page = house.world.client().get_text(YEAR, &[("format", "html")], "text/html").expect("a page");
    assert!(page.contains("system Warm, temperature: 1 of 2 readings are past the calibration of their instrument"));
}

#[test]
fn whoever_died_young_by_an_estimate_has_an_age() {
    let mut house = Breeding::new();
    let young = house.arrives("Y-1", "female", "bred in care", json!({"hatched_on_estimate": "2025-02-20"}));
    at(&mut house, "2025-03-12T12:00:00Z");
    house.world.record(
        Who::Keeper,
        "animal.died.v1",
        &young,
        &json!({"how_known": "found dead", "apparent_cause": "not determined", "body": "fixed"}),
    );
    house.world.pass_days(1);
    let report = house.world.read(YEAR, &[]);
    assert_eq!(report["stock"]["total"]["died_within_30_days"], json!([0, 1, 0]));
    assert_eq!(rows(&report, "authority", "deaths")[0]["age_days"], json!(20));
}
