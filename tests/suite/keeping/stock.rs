//! The stock list of DOMAIN section 7, through signed notes: both worked lines, and the traps.

use super::House;
use selachron_schemas::time::Instant;
use selachron_tests::world::Who;
use serde_json::{Value, json};

fn report(house: &House, year: i32) -> Value {
    house.world.read(&format!("/v1/reports/annual/{year}"), &[])
}

/// Cells of the line of all species, and nothing must fail.
#[track_caller]
fn cells(house: &House, year: i32, names: &[&str]) -> Vec<[i64; 3]> {
    let report = report(house, year);
    assert_eq!(report["completeness"]["failing"], json!([]), "{year}");
    let cell = |name: &&str| serde_json::from_value(report["stock"]["total"][*name].clone()).unwrap_or_default();
    names.iter().map(cell).collect()
}

impl House {
    fn one(&mut self, label: &str, sex: &str) -> String {
        let (animal, tank) = (self.fresh("animal"), self.nursery.clone());
        let data = json!({"label": label, "species": self.species, "sex": sex, "from": "another house", "state": "alive",
            "origin": "bred in care", "tank": tank});
        self.note("animal.received", &animal, &data);
        animal
    }

    fn hatchling(&mut self, label: &str) -> String {
        let (egg, young, tank) = (self.egg(&format!("case {label}")), self.fresh("animal"), self.nursery.clone());
        let hatch = json!({"how_known": "found hatched", "young": [{"animal": young, "state": "alive", "label": label, "tank": tank}]});
        self.note("egg.hatched", &egg, &hatch);
        young
    }

    fn dies(&mut self, animal: &str) {
        self.note("animal.died", animal, &json!({"how_known": "found dead", "apparent_cause": "not determined", "body": "frozen"}));
    }

    fn departs(&mut self, animal: &str, reason: &str) {
        self.note("animal.departed", animal, &json!({"to": "another house", "reason": reason, "alive": "alive"}));
    }
}

fn on(day: &str) -> Instant {
    Instant::parse(&format!("{day}T12:00:00Z")).expect("a day")
}

/// Start 2.3.4, arrived 0.1.0, hatched 0.0.7, died within 30 days 0.0.2, other 1.0.1, departed 0.1.2,
/// sexed +1.+2.−3: end 2.5.3, total 10. With escaped 0.0.1, missing 0.1.0, found 0.0.1 besides: end
/// 2.4.3, total 9 (DOMAIN section 7).
#[test]
fn both_worked_lines() {
    let mut house = House::open();
    let males = ["M1", "M2"].map(|label| house.one(label, "male"));
    let females = ["F1", "F2", "F3"].map(|label| house.one(label, "female"));
    let unknown = ["U1", "U2", "U3", "U4"].map(|label| house.one(label, "unknown"));
    let lost = house.one("U5", "unknown");
    house.note("animal.missing", &lost, &json!({"noticed_at": "a full count"}));
    house.world.set_clock(on("2026-03-01"));
    house.one("F4", "female");
    let young = ["H1", "H2", "H3", "H4", "H5", "H6", "H7"].map(|label| house.hatchling(label));
    house.world.set_clock(on("2026-03-31"));
    house.dies(&young[0]);
    house.dies(&young[1]);
    house.world.pass_days(1);
    house.dies(&young[2]);
    house.dies(&males[0]);
    for (animal, sex) in unknown.iter().zip(["male", "female", "female"]) {
        house.note("animal.sexed", animal, &json!({"sex": sex, "how": "ultrasound"}));
    }
    for animal in [&females[0], &young[3], &young[4]] {
        house.departs(animal, "transfer");
    }
    let names = ["start", "arrived", "hatched", "died_within_30_days", "died_other", "departed", "sexed", "end"];
    let wanted = [[2, 3, 4], [0, 1, 0], [0, 0, 7], [0, 0, 2], [1, 0, 1], [0, 1, 2], [1, 2, -3], [2, 5, 3]];
    assert_eq!(cells(&house, 2026, &names), wanted);
    assert_eq!(cells(&house, 2025, &["arrived", "missing", "end"]), [[2, 3, 5], [0, 0, 1], [2, 3, 4]]);
    house.note("animal.escaped", &unknown[3], &json!({"how": "over the edge", "into": "the building"}));
    house.note("animal.missing", &females[1], &json!({"noticed_at": "a full count"}));
    house.note("animal.found", &lost, &json!({"where": "behind the filter"}));
    assert_eq!(cells(&house, 2026, &names)[..7], wanted[..7]);
    assert_eq!(cells(&house, 2026, &["escaped", "missing", "found", "end"]), [[0, 0, 1], [0, 1, 0], [0, 0, 1], [2, 4, 3]]);
    let page = house.world.client().get_text("/v1/reports/annual/2026", &[("format", "html")], "text/html").expect("a page");
    assert!(page.contains("2.4.3") && page.contains("+1.+2.−3"), "the cells as the trade writes them");
}

#[test]
fn hatched_in_december_and_dead_in_january() {
    let mut house = House::open();
    house.world.set_clock(on("2025-12-20"));
    let young = house.hatchling("H1");
    house.world.set_clock(on("2026-01-05"));
    house.dies(&young);
    let names = ["start", "hatched", "died_within_30_days", "died_other", "end"];
    assert_eq!(cells(&house, 2025, &names), [[0; 3], [0, 0, 1], [0; 3], [0; 3], [0, 0, 1]]);
    assert_eq!(cells(&house, 2026, &names), [[0, 0, 1], [0; 3], [0, 0, 1], [0; 3], [0; 3]], "more early deaths than hatches");
}

#[test]
fn sexed_later_moves_between_the_classes_and_restates_nothing() {
    let mut house = House::open();
    let young = house.hatchling("H1");
    house.world.set_clock(on("2026-03-01"));
    let before = report(&house, 2025)["stock"].clone();
    house.note("animal.sexed", &young, &json!({"sex": "female", "how": "ultrasound"}));
    assert_eq!(report(&house, 2025)["stock"], before);
    assert_eq!(cells(&house, 2026, &["start", "sexed", "end"]), [[0, 0, 1], [0, 1, -1], [0, 1, 0]]);
    // Sexed and dead in one year: it dies as what it is known to be.
    house.dies(&young);
    let names = ["start", "sexed", "died_within_30_days", "died_other", "end"];
    assert_eq!(cells(&house, 2026, &names), [[0, 0, 1], [0, 1, -1], [0; 3], [0, 1, 0], [0; 3]]);
}

#[test]
fn escaped_and_recaptured_across_the_years_end() {
    let mut house = House::open();
    let [one, other] = ["F1", "F2"].map(|label| house.one(label, "female"));
    let escaped = json!({"how": "over the edge", "into": "the building"});
    house.note("animal.escaped", &one, &escaped);
    house.note("animal.escaped", &other, &escaped);
    house.world.pass_days(2);
    house.note("animal.recaptured", &other, &json!({"where": "the sump"}));
    house.world.set_clock(on("2026-02-01"));
    house.note("animal.recaptured", &one, &json!({"where": "the outflow"}));
    house.dies(&one);
    let names = ["start", "escaped", "recaptured", "died_other", "end"];
    assert_eq!(cells(&house, 2025, &names), [[0; 3], [0, 2, 0], [0, 1, 0], [0; 3], [0, 1, 0]]);
    assert_eq!(cells(&house, 2026, &names), [[0, 1, 0], [0; 3], [0, 1, 0], [0, 1, 0], [0, 1, 0]]);
    let absent = |year: i32| -> Vec<Value> { rows(&report(&house, year), "absences").iter().map(|row| row["cells"][0].clone()).collect() };
    assert_eq!(absent(2025), ["F1", "F2"]);
    assert_eq!(absent(2026), ["F1"], "recaptured in these months, though it escaped before them");
}

/// Rows of a table of the authority's part.
fn rows(report: &Value, id: &str) -> Vec<Value> {
    let tables = report["authority"]["tables"].as_array().into_iter().flatten();
    let mut found = tables.filter(|table| table["id"] == id);
    found.next().and_then(|table| table["rows"].as_array().cloned()).unwrap_or_else(|| panic!("no table {id}"))
}

/// One of ours dies elsewhere, one that is not ours dies here, over the year's end.
#[test]
fn a_death_on_loan_is_ours_where_the_animal_was() {
    let mut house = House::open();
    let (ours, guest) = (house.one("F1", "female"), house.one("G1", "male"));
    let (out, lent) = (house.fresh("loan"), house.fresh("loan"));
    let agreed = |label: &str, direction: &str, which: &str| json!({"label": label, "direction": direction, "partner": "another house", "which": [which]});
    house.odd(Who::Curator, "loan.agreed", &out, &agreed("L-1", "out", &ours));
    house.odd(Who::Curator, "loan.agreed", &lent, &agreed("L-2", "in", &guest));
    house.departs(&ours, "loan");
    house.world.set_clock(on("2026-02-01"));
    house.note("loan.ended", &out, &json!({"how": "died on loan", "which": [ours]}));
    house.dies(&guest);
    house.note("loan.ended", &lent, &json!({"how": "died on loan", "which": [guest]}));
    let told = |year: i32, basis: &str| {
        let report = report(&house, year);
        assert_eq!(report["completeness"]["failing"], json!([]), "{year}");
        ["start", "arrived", "died_other", "departed", "end"].map(|name| report[basis]["total"][name].clone())
    };
    let none = json!([0, 0, 0]);
    let [male, female] = [json!([1, 0, 0]), json!([0, 1, 0])];
    assert_eq!(told(2025, "stock"), [none.clone(), json!([1, 1, 0]), none.clone(), female.clone(), male.clone()]);
    assert_eq!(told(2025, "stock_owned"), [none.clone(), female.clone(), none.clone(), none.clone(), female.clone()]);
    assert_eq!(told(2026, "stock"), [male.clone(), none.clone(), male, none.clone(), none.clone()]);
    assert_eq!(told(2026, "stock_owned"), [female.clone(), none.clone(), female, none.clone(), none]);
    let on_loan = rows(&report(&house, 2026), "deaths_on_loan");
    assert_eq!((on_loan.len(), &on_loan[0]["cells"][0], &on_loan[0]["cells"][2]), (1, &json!("F1"), &json!("0.1.0")));
    let here = rows(&report(&house, 2026), "deaths");
    assert_eq!((here.len(), &here[0]["cells"][0]), (1, &json!("G1")), "whoever died here, whosever it was");
    assert_eq!((rows(&report(&house, 2025), "deaths_on_loan").len(), rows(&report(&house, 2025), "deaths").len()), (0, 0));
    assert!(!report(&house, 2026)["not_covered"].to_string().contains("roup"), "groups and loans are covered");
}
