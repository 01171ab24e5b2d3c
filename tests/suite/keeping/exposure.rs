//! Who shared water with whom.

use super::House;
use serde_json::{Value, json};

fn rows(house: &House, subject: &str, more: &[(&str, &str)]) -> Vec<(String, bool, String, Option<String>)> {
    let mut query = vec![("subject", subject)];
    query.extend_from_slice(more);
    let answer = house.world.read("/v1/exposure", &query);
    let text = |item: &Value, name: &str| item[name].as_str().map(str::to_owned);
    let row = |item: &Value| {
        (text(item, "label").unwrap_or_default(), item["tank"].is_string(), text(item, "from").unwrap_or_default(), text(item, "to"))
    };
    answer["items"].as_array().expect("items").iter().map(row).collect()
}

#[test]
fn water_is_shared_through_moves_and_systems() {
    let mut house = House::open();
    let (adults, trays, nursery) = (house.adults.clone(), house.trays.clone(), house.nursery.clone());
    let system = house.fresh("system");
    house.note("system.set_up", &system, &json!({"label": "Warm", "water": "tropical"}));
    let started = house.now().utc_text();
    let ill = house.animal("ill", &nursery);
    house.animal("beside", &nursery);
    house.animal("far", &adults);
    let egg = house.egg("E1");
    house.world.pass_days(10);
    let joined = house.now().utc_text();
    house.note("tank.joined", &nursery, &json!({"system": system}));
    house.note("tank.joined", &trays, &json!({"system": system}));
    house.world.pass_days(5);
    let cut = house.now().utc_text();
    house.note("tank.joined", &trays, &json!({"reason": "cut off"}));
    house.world.pass_days(5);
    let moved = house.now().utc_text();
    house.note("animal.moved", &ill, &json!({"to_tank": adults}));
    house.world.pass_days(1);
    let row = |label: &str, tank: bool, from: &str, to: Option<&str>| (label.to_owned(), tank, from.to_owned(), to.map(str::to_owned));
    let all = [
        row("beside", true, &started, Some(&joined)),
        row("beside", true, &joined, Some(&moved)),
        row("E1", false, &joined, Some(&cut)),
        row("far", true, &moved, None),
    ];
    let mut found = rows(&house, "ill", &[]);
    found.sort();
    let mut wanted = all.to_vec();
    wanted.sort();
    assert_eq!(found, wanted);
    let within = rows(&house, &ill, &[("from", &cut), ("to", &moved)]);
    assert_eq!(within, [row("beside", true, &cut, Some(&moved))]);
    // It is the same from the other side.
    assert_eq!(rows(&house, &egg, &[]).iter().filter(|row| row.0 == "ill").count(), 1);
    assert_eq!(rows(&house, "E1", &[("to", "2025-03-02")]), [], "nothing was shared by then");
    let fault = house.world.client().get("/v1/exposure", &[("subject", "nobody")]).expect_err("nobody").to_string();
    assert!(fault.contains("nobody"), "{fault}");
    assert!(house.world.client().get("/v1/exposure", &[("subject", "ill"), ("from", &moved), ("to", &cut)]).is_err());
}

#[test]
fn a_case_was_with_the_adults_and_its_young_was_where_it_was() {
    let mut house = House::open();
    let (adults, trays, nursery) = (house.adults.clone(), house.trays.clone(), house.nursery.clone());
    house.animal("dam", &adults);
    house.note("tank.searched", &adults, &json!({"eggs_found": 0, "whole_tank": true}));
    let searched = house.now().utc_text();
    house.world.pass_days(2);
    let found = house.now().utc_text();
    let (egg, young) = (house.egg("E1"), house.fresh("animal"));
    house.world.pass_days(60);
    let hatch = json!({"how_known": "found hatched", "young": [{"animal": young, "state": "alive", "label": "Y1", "tank": nursery}]});
    house.note("egg.hatched", &egg, &hatch);
    // A case that was not there when the tank was searched was never with the first.
    house.note("tank.searched", &adults, &json!({"eggs_found": 0, "whole_tank": true}));
    house.world.pass_ms(60_000);
    house.egg("E2");
    let row = |label: &str, from: &str, to: &str| (label.to_owned(), true, from.to_owned(), Some(to.to_owned()));
    assert_eq!(rows(&house, "E1", &[]), [row("dam", &searched, &found)]);
    let answer = house.world.read("/v1/exposure", &[("subject", "Y1")]);
    assert_eq!(rows(&house, "Y1", &[]), [row("dam", &searched, &found)], "{trays}");
    assert_eq!(answer["items"][0]["in_case"], json!(true));
}

#[test]
fn whoever_is_missing_shares_no_water_until_it_is_found() {
    let mut house = House::open();
    let (adults, nursery) = (house.adults.clone(), house.nursery.clone());
    let began = house.now().utc_text();
    let lost = house.animal("lost", &nursery);
    house.animal("beside", &nursery);
    house.world.pass_days(3);
    let gone = house.now().utc_text();
    house.note("animal.missing", &lost, &json!({"noticed_at": "a full count"}));
    house.world.pass_days(2);
    let back = house.now().utc_text();
    house.note("animal.found", &lost, &json!({"where": "behind the filter"}));
    house.world.pass_days(2);
    let escaped = house.now().utc_text();
    house.note("animal.escaped", &lost, &json!({"how": "through the outflow", "into": "the building"}));
    house.world.pass_days(1);
    house.note("animal.recaptured", &lost, &json!({"where": "the sump", "to_tank": adults}));
    let row = |from: &str, to: &str| ("beside".to_owned(), true, from.to_owned(), Some(to.to_owned()));
    assert_eq!(rows(&house, "lost", &[]), [row(&began, &gone), row(&back, &escaped)]);
}

#[test]
fn a_group_brings_what_its_animals_met_and_whoever_is_put_in_it_goes_on_with_it() {
    let mut house = House::open();
    let (adults, trays, nursery) = (house.adults.clone(), house.trays.clone(), house.nursery.clone());
    house.animal("ill", &nursery);
    let carrier = house.animal("carrier", &nursery);
    let formed = json!({"label": "Brood", "species": house.species, "counts": {"males": 0, "females": 0, "unknown": 4},
        "how_counted": "by photo", "came": "received", "tank": trays});
    let (group, part, other) = (house.fresh("group"), house.fresh("group"), house.fresh("group"));
    house.note("group.formed", &group, &formed);
    house.world.pass_days(2);
    house.note("animal.moved", &carrier, &json!({"to_tank": trays}));
    house.note("animal.grouped", &carrier, &json!({"group": group, "counted_as": "unknown", "reason": "they look alike"}));
    house.world.pass_days(2);
    let split = json!({"into": part, "label": "Part", "counts": {"males": 0, "females": 0, "unknown": 2}, "tank": adults});
    house.note("group.split", &group, &split);
    let resident = json!({"label": "Resident", "species": house.species, "counts": {"males": 0, "females": 0, "unknown": 1},
        "how_counted": "by photo", "came": "received", "tank": adults});
    house.note("group.formed", &other, &resident);
    house.world.pass_days(2);
    house.note("group.merged", &other, &json!({"from_group": part, "counts": {"males": 0, "females": 0, "unknown": 2}}));
    house.world.pass_days(2);
    house.animal("late", &adults);
    house.world.pass_days(1);
    let met = |subject: &str| {
        let mut met: Vec<String> = rows(&house, subject, &[]).into_iter().map(|row| row.0).collect();
        met.sort();
        met.dedup();
        met
    };
    // Who was with the carrier before it was put in; who is with the part that went on.
    assert_eq!(met("group/Brood"), ["ill"], "through the carrier");
    assert_eq!(met("Part"), ["Resident", "ill", "late"], "through the brood, and on with the residents");
    assert_eq!(met("Resident"), ["Part", "ill", "late"]);
    assert_eq!(met("carrier"), ["ill"], "its own group is no other");
    let apart = house.fresh("animal");
    let told = json!({"group": other, "counted_as": "unknown", "label": "Y-1", "sex": "female", "how_told": "by its pattern"});
    house.note("animal.told_apart", &apart, &told);
    assert!(rows(&house, "Y-1", &[]).iter().any(|row| row.0 == "ill"), "and whoever is told apart takes it along");
}
