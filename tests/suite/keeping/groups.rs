//! Animals that cannot be told apart: counted together, by sex, and counted once.

use super::House;
use crate::reports::given::every_number_is_given;
use selachron_tests::world::Who;
use serde_json::{Value, json};

fn c(males: u64, females: u64, unknown: u64) -> Value {
    json!({"males": males, "females": females, "unknown": unknown})
}

fn brood(house: &mut House, label: &str, counts: &Value) -> String {
    let (group, tank) = (house.fresh("group"), house.nursery.clone());
    let data = json!({"label": label, "species": house.species, "counts": counts, "how_counted": "each lifted once into a second basket",
        "came": "received", "sender": "another house", "hatched_on_estimate": "2025-02-01", "tank": tank});
    house.note("group.formed", &group, &data);
    group
}

/// A path holds no slash within a part.
fn ulid(group: &str) -> &str {
    group.trim_start_matches("group/")
}

fn item(house: &House, group: &str) -> Value {
    house.item(&format!("/v1/groups/{}", ulid(group)))
}

fn counts(house: &House, group: &str) -> Value {
    item(house, group)["counts"].clone()
}

/// The numbers of a group are the sum of what its changes say, class by class.
#[track_caller]
fn adds_up(group: &Value) {
    for class in ["males", "females", "unknown"] {
        let changes = group["changes"].as_array().expect("changes").iter();
        let sum: i64 = changes.map(|change| change["change"][class].as_i64().expect("a number")).sum();
        assert_eq!(Some(sum), group["counts"][class].as_i64(), "{class} of {group}");
    }
}

fn words(group: &Value) -> Vec<&str> {
    group["changes"].as_array().expect("changes").iter().filter_map(|change| change["what"].as_str()).collect()
}

#[test]
fn numbers_are_conserved_through_splits_merges_and_deaths() {
    let mut house = House::open();
    let group = brood(&mut house, "Brood 3", &c(0, 0, 12));
    house.world.pass_days(3);
    let (part, trays) = (house.fresh("group"), house.trays.clone());
    house.note(
        "group.split",
        &group,
        &json!({"into": part, "label": "Brood 3b", "counts": c(0, 0, 5), "tank": trays, "remaining": c(0, 0, 7)}),
    );
    assert_eq!((counts(&house, &group), counts(&house, &part)), (c(0, 0, 7), c(0, 0, 5)));
    let told = item(&house, &part);
    assert_eq!((told["how_counted"].as_str(), told["came"].as_str()), (Some("each lifted once into a second basket"), Some("split")));
    assert_eq!((&told["split_from"], &told["place"]["tank"], &told["species"]), (&json!(group), &json!(trays), &json!(house.species)));
    house.world.pass_days(3);
    // The same seven, three of them sexed: no discrepancy.
    house.note("group.counted", &group, &json!({"counts": c(1, 2, 4), "full": true}));
    house.note("group.counted", &group, &json!({"counts": c(0, 0, 3), "full": false, "how_counted": "counted at feeding"}));
    let died = json!({"counts": c(0, 1, 1), "how_known": "found dead", "apparent_cause": "not determined", "body": "frozen", "remaining": c(1, 1, 3)});
    house.note("group.died", &group, &died);
    house.note("group.fed", &group, &json!({"offered": [{"food": "chopped squid", "amount_g": 40}], "eaten": "most"}));
    let (nursery, adults) = (house.nursery.clone(), house.adults.clone());
    house.note("group.moved", &group, &json!({"from_tank": nursery, "to_tank": adults}));
    house.note("group.merged", &group, &json!({"from_group": part, "counts": c(0, 0, 5), "remaining": c(1, 1, 8)}));
    house.note(
        "group.departed",
        &group,
        &json!({"counts": c(1, 0, 1), "to": "another house", "reason": "transfer", "remaining": c(0, 1, 7)}),
    );
    let told = item(&house, &group);
    adds_up(&told);
    assert_eq!((&told["counts"], &told["place"]["tank"], &told["feeds"]), (&c(0, 1, 7), &json!(adults), &json!(1)));
    assert_eq!(words(&told), ["formed", "split off", "sexed", "died", "merged in", "departed"]);
    assert_eq!((told["how_counted"].as_str(), told["part_counts"][0]["counts"].clone()), (Some("counted at feeding"), c(0, 0, 3)));
    assert_eq!(told["discrepancies"], json!([]));
    let gone = item(&house, &part);
    adds_up(&gone);
    assert_eq!((&gone["counts"], gone["ended"].is_object(), words(&gone)), (&c(0, 0, 0), true, vec!["split from", "merged into"]));
    let history = house.history(&format!("/v1/groups/{}", ulid(&part)));
    assert_eq!(history, ["group.split.v1", "group.merged.v1"]);
    assert_eq!(house.history(&format!("/v1/groups/{}", ulid(&group))).len(), 9);
    assert_eq!(house.world.read("/v1/groups", &[])["items"].as_array().map(Vec::len), Some(2));
}

#[test]
fn what_does_not_add_up_is_recorded_and_told() {
    let mut house = House::open();
    let group = brood(&mut house, "Brood 3", &c(1, 0, 4));
    house.world.pass_days(3);
    let found = house.odd(Who::Keeper, "group.counted", &group, &json!({"counts": c(1, 0, 3), "full": true}));
    assert_eq!(found, ["a group is not as many as the record has"]);
    assert_eq!(words(&item(&house, &group)), ["formed", "recount"], "a recount is a line of its own");
    let part = house.fresh("group");
    let found = house.odd(Who::Keeper, "group.split", &group, &json!({"into": part, "label": "3b", "counts": c(2, 0, 1)}));
    assert_eq!(found, ["more leave a group than are in it"]);
    assert_eq!((counts(&house, &group), counts(&house, "3b")), (c(0, 0, 2), c(2, 0, 1)));
    let died = json!({"counts": c(0, 0, 1), "how_known": "by a veterinarian's decision", "apparent_cause": "illness", "body": "frozen",
        "remaining": c(0, 0, 2)});
    let found = house.odd(Who::Keeper, "group.died", &group, &died);
    assert_eq!(found, ["a group is not as many as the record has", "death by a veterinarian's decision without a veterinarian"]);
    let trays = house.trays.clone();
    let found = house.odd(Who::Keeper, "group.moved", &group, &json!({"from_tank": trays, "to_tank": trays}));
    assert_eq!(found, ["moved from a tank it was not in"]);
    // Two of three are said to have come: the third stays where the record has it.
    let found = house.odd(Who::Keeper, "group.merged", &group, &json!({"from_group": part, "counts": c(1, 0, 1)}));
    assert_eq!(found, ["groups put together do not add up"]);
    assert_eq!((counts(&house, &group), counts(&house, &part)), (c(1, 0, 2), c(1, 0, 0)));
    let died = json!({"counts": c(2, 0, 0), "how_known": "found dead", "apparent_cause": "not determined", "body": "lost"});
    assert_eq!(house.odd(Who::Keeper, "group.died", &part, &died), ["more leave a group than are in it"]);
    let fed = json!({"offered": [{"food": "squid"}], "eaten": "all"});
    assert_eq!(house.odd(Who::Keeper, "group.fed", &part, &fed), ["told of a group with nobody left in it"]);
    adds_up(&item(&house, &group));
    adds_up(&item(&house, &part));
    let down = told(&stock(&house, "2025"), "put_down");
    assert_eq!((down.len(), &down[0]["number"], &down[0]["decided_by"]), (1, &json!("0.0.1"), &json!("no veterinarian has signed")));
    // The label of a group that ended is free.
    brood(&mut house, "3b", &c(0, 0, 1));
}

#[test]
fn an_animal_told_apart_leaves_the_group_from_its_start_and_is_counted_once() {
    let mut house = House::open();
    let group = brood(&mut house, "Brood 3", &c(0, 0, 12));
    let started = house.now();
    house.world.pass_days(10);
    house.note("group.counted", &group, &json!({"counts": c(3, 4, 5), "full": true}));
    house.world.pass_days(10);
    let before = house.now();
    house.world.pass_days(1);
    let animal = house.fresh("animal");
    let apart = json!({"group": group, "counted_as": "male", "label": "Y-20", "sex": "male", "how_told": "broken third band, in photos since the start"});
    house.note("animal.told_apart", &animal, &apart);
    let told = item(&house, &group);
    adds_up(&told);
    assert_eq!((&told["counts"], &told["changes"][0]["change"]), (&c(2, 4, 5), &c(0, 0, 11)), "it was never among them");
    assert_eq!((&told["changes"][1]["what"], &told["told_apart"][0]["animal"]), (&json!("sexed"), &json!(animal)));
    let own = house.item("/v1/animals/Y-20");
    assert_eq!(
        (&own["origin"]["group"], &own["species"], &own["place"]["tank"]),
        (&json!(group), &json!(house.species), &json!(house.nursery))
    );
    let came = own["came"]["time"].as_str().and_then(|text| selachron_schemas::time::Instant::parse(text).ok());
    assert!(came.is_some_and(|came| came <= started), "its life begins with the group's: {own}");
    // As of a day before, nobody had been told apart.
    let then = house.world.read(&format!("/v1/groups/{}", ulid(&group)), &[("as_of", &before.utc_text())]);
    assert_eq!(then["item"]["counts"], c(3, 4, 5));
    // A full count afterwards is of those who are left.
    house.note("group.counted", &group, &json!({"counts": c(2, 4, 5), "full": true}));
    let small = brood(&mut house, "Pair", &c(0, 0, 1));
    let (first, second) = (house.fresh("animal"), house.fresh("animal"));
    let apart =
        |label: &str| json!({"group": small, "counted_as": "unknown", "label": label, "sex": "unknown", "how_told": "by its pattern"});
    house.note("animal.told_apart", &first, &apart("Y-21"));
    assert!(item(&house, &small)["ended"].is_object(), "nobody is left who is not known one by one");
    let odd = house.world.record(Who::Keeper, "animal.told_apart.v1", &second, &apart("Y-22"));
    assert_eq!(house.kinds(&odd.discrepancies), ["more leave a group than are in it"]);
    let failing = stock(&house, "2025")["completeness"]["failing"].clone();
    assert_eq!(failing[0]["subjects"], json!([small]), "one came from nowhere, and the line says of which group: {failing}");
    house.note("record.retracted", &second, &json!({"target": odd.id, "reason": "it was Y-21 once more"}));
    let report = stock(&house, "2025");
    assert_eq!(report["completeness"]["failing"], json!([]));
    assert_eq!(report["stock"]["total"]["end"], json!([3, 4, 6]), "eleven of the brood, and two told apart");
}

fn stock(house: &House, year: &str) -> Value {
    house.world.read(&format!("/v1/reports/annual/{year}"), &[])
}

/// Rows of a table of the authority's part, each with its cells by the names of the columns.
fn told(report: &Value, id: &str) -> Vec<Value> {
    let tables = report["authority"]["tables"].as_array().expect("tables");
    let table = tables.iter().find(|table| table["id"] == id).unwrap_or_else(|| panic!("no table {id}"));
    let names = || table["columns"].as_array().into_iter().flatten().filter_map(|column| column["name"].as_str());
    let row = |row: &Value| names().zip(row["cells"].as_array().into_iter().flatten()).map(|(name, cell)| (name, cell.clone())).collect();
    table["rows"].as_array().into_iter().flatten().map(row).collect()
}

/// Whoever is counted among the dead of the stock list stands in the table of deaths.
#[track_caller]
fn deaths_are_those_of_the_stock_list(report: &Value) {
    let total = &report["stock"]["total"];
    let died = ["died_within_30_days", "died_other", "died_day_undetermined"];
    let counted = |class: usize| died.iter().filter_map(|cell| total[*cell][class].as_i64()).sum::<i64>();
    let of_row = |row: &Value, class: usize| row["died"].as_str().and_then(|cell| cell.split('.').nth(class)?.parse::<i64>().ok());
    for table in ["deaths", "without_necropsy"] {
        let rows = told(report, table);
        let sum = |class: usize| rows.iter().map(|row| of_row(row, class).expect("a number")).sum::<i64>();
        assert_eq!([0, 1, 2].map(sum), [0, 1, 2].map(counted), "{table}: {rows:?}");
    }
}

#[test]
fn groups_stand_in_the_stock_list_and_nobody_is_counted_twice() {
    let mut house = House::open();
    let group = brood(&mut house, "Brood 3", &c(0, 0, 12));
    let (part, nursery) = (house.fresh("group"), house.nursery.clone());
    house.note("group.split", &group, &json!({"into": part, "label": "3b", "counts": c(0, 0, 5), "remaining": c(0, 0, 7)}));
    let hatched = house.fresh("group");
    let formed = json!({"label": "Unseen hatch", "species": house.species, "counts": c(0, 0, 3), "how_counted": "by photo",
        "came": "hatched here, case unknown", "tank": nursery});
    house.note("group.formed", &hatched, &formed);
    let died = |counts: Value| json!({"counts": counts, "how_known": "found dead", "apparent_cause": "not determined", "body": "frozen"});
    let half = house.fresh("group");
    house.note("group.split", &hatched, &json!({"into": half, "label": "half", "counts": c(0, 0, 2)}));
    house.note("group.died", &half, &died(c(0, 0, 1)));
    house.note("group.counted", &group, &json!({"counts": c(3, 2, 2), "full": true}));
    house.note("group.died", &group, &died(c(1, 0, 0)));
    let animal = house.fresh("animal");
    let apart = json!({"group": part, "counted_as": "unknown", "label": "Y-20", "sex": "female", "how_told": "by its pattern"});
    house.note("animal.told_apart", &animal, &apart);
    house.note("group.merged", &group, &json!({"from_group": part, "counts": c(0, 0, 4)}));
    assert_eq!(house.odd(Who::Keeper, "group.counted", &group, &json!({"counts": c(2, 2, 5), "full": true})).len(), 1);
    let year = stock(&house, "2025");
    let line = &year["stock"]["total"];
    assert_eq!(year["completeness"]["failing"], json!([]));
    assert_eq!((&line["arrived"], &line["hatched"]), (&json!([0, 0, 12]), &json!([0, 0, 3])));
    assert_eq!(
        (&line["died_within_30_days"], &line["died_other"]),
        (&json!([1, 0, 0]), &json!([0, 0, 0])),
        "by the estimate of their hatch"
    );
    assert_eq!(line["died_day_undetermined"], json!([0, 0, 1]), "hatched here, and nobody knows when");
    assert_eq!((&line["sexed"], &line["recount"]), (&json!([3, 3, -6]), &json!([0, 0, -1])));
    assert_eq!(line["end"], json!([2, 3, 7]), "2.2.5 and 0.0.2 in groups, and one by herself");
    assert_eq!(year["stock_owned"], year["stock"]);
    let recounts = year["stock"]["recounts"].as_array().expect("a full count restated the group");
    assert_eq!((recounts.len(), &recounts[0]["label"], &recounts[0]["change"]), (1, &json!("Brood 3"), &json!([0, 0, -1])), "{recounts:?}");
    assert_eq!(year["losses"]["animals"], 2);
    deaths_are_those_of_the_stock_list(&year);
    let deaths = told(&year, "deaths");
    let ages: Vec<&Value> = deaths.iter().map(|row| &row["age_days"]).collect();
    assert_eq!((deaths.len(), ages), (2, vec![&json!(28), &Value::Null]), "by the estimated day of hatch, where there is one");
    assert_eq!((&deaths[0]["died"], &deaths[0]["apparent_cause"]), (&json!("1.0.0"), &json!("not determined")));
    // The year after: one more is told apart, and another dies who had been told apart before.
    house.world.pass_days(330);
    let second = house.fresh("animal");
    let apart = json!({"group": group, "counted_as": "male", "label": "Y-21", "sex": "female", "how_told": "sexed again by claspers"});
    house.note("animal.told_apart", &second, &apart);
    house.note("animal.died", &animal, &json!({"how_known": "found dead", "apparent_cause": "not determined", "body": "frozen"}));
    let next = stock(&house, "2026");
    let line = &next["stock"]["total"];
    assert_eq!(next["completeness"]["failing"], json!([]));
    assert_eq!(line["start"], stock(&house, "2025")["stock"]["total"]["end"], "start(y+1) = end(y)");
    assert_eq!((&line["arrived"], &line["sexed"]), (&json!([0, 0, 0]), &json!([-1, 1, 0])));
    assert_eq!((&line["died_other"], &line["end"]), (&json!([0, 1, 0]), &json!([1, 3, 7])));
    deaths_are_those_of_the_stock_list(&next);
    every_number_is_given(&house.world, &[2025, 2026]);
    // A part of a brood that hatched here has its dead on a day not determined, asked by itself as well; and
    // who was told apart is named with the group that gave her.
    let cell = |year: &str, cell: &str| house.world.read(&format!("/v1/reports/annual/{year}/cells"), &[("cell", cell)]);
    let sexed = cell("2025", "stock/all species/sexed");
    let subjects: Vec<&Value> = sexed["rests_on"].as_array().into_iter().flatten().map(|one| &one["subject"]).collect();
    assert!(subjects.contains(&&json!(animal)) && subjects.contains(&&json!(group)), "the part of which she was is gone again: {sexed}");
    let page = house.world.client().get_text("/v1/reports/annual/2025", &[("format", "html")], "text/html").expect("a page");
    assert!(page.contains("died, day undetermined") && page.contains("Recount of Brood 3 on "), "columns that were needed, and why");
}

#[test]
fn groups_count_wherever_animals_do() {
    let mut house = House::open();
    let (apart, nursery) = (house.world.tank("Q1", "quarantine"), house.nursery.clone());
    let shark = house.animal("F1", &nursery);
    let group = brood(&mut house, "Brood 3", &c(0, 0, 12));
    assert_eq!(house.item("/v1/tanks/Nursery")["groups"], json!([group]));
    house.world.pass_days(1);
    let counted = |seen: u64| json!({"all_well": true, "whole_tank": true, "animals_seen": seen});
    house.note("tank.checked", &nursery, &counted(13));
    assert_eq!(house.odd(Who::Keeper, "tank.checked", &nursery, &counted(12)).len(), 1, "one fewer than shark and brood together");
    // A feeding round means each of them.
    let round = house.fresh("round");
    house.note("round.opened", &round, &json!({"label": "noon", "what": "feeding", "tanks": [nursery]}));
    house.note("group.fed", &group, &json!({"offered": [{"food": "squid"}], "eaten": "most"}));
    let read = house.item("/v1/rounds/noon");
    assert_eq!((&read["looked_at"], &read["not_yet"]), (&json!([group]), &json!([shark])));
    house.world.pass_ms(60_000);
    let close = house.world.record(Who::Keeper, "round.closed.v1", &round, &json!({"not_looked_at": []}));
    assert_eq!(house.kinds(&close.discrepancies), ["round closed, something neither looked at nor named"]);
    let whole = house.fresh("round");
    house.note("round.opened", &whole, &json!({"label": "evening", "what": "feeding", "tanks": [nursery]}));
    house.note("tank.fed", &nursery, &json!({"offered": [{"food": "squid"}], "eaten": "most"}));
    house.note("round.closed", &whole, &json!({"not_looked_at": []}));
    let left = house.fresh("round");
    house.note("round.opened", &left, &json!({"label": "night", "what": "water", "tanks": [nursery, apart]}));
    house.note(
        "round.closed",
        &left,
        &json!({"not_looked_at": [{"which": nursery, "reason": "no time"}, {"which": apart, "reason": "no time"}]}),
    );
    // Whoever shared its water, before and after it moved.
    let shared = house.world.read("/v1/exposure", &[("subject", "F1")])["items"].clone();
    assert_eq!((shared.as_array().map(Vec::len), &shared[0]["with"]), (Some(1), &json!(group)), "{shared}");
    house.world.pass_days(1);
    house.note("group.moved", &group, &json!({"to_tank": apart}));
    house.note("quarantine.started", &group, &json!({"reason": "disease suspected"}));
    assert_eq!(item(&house, &group)["quarantine"]["of"], json!(group));
    let shared = house.world.read("/v1/exposure", &[("subject", "group/Brood 3")])["items"].clone();
    assert!(shared[0]["to"].is_string() && shared[0]["with"] == json!(shark), "{shared}");
    house.world.pass_days(1);
    assert_eq!(house.odd(Who::Keeper, "group.moved", &group, &json!({"to_tank": nursery})), ["out of quarantine before clearance"]);
}

fn put_in(group: &str, counted_as: &str) -> Value {
    json!({"group": group, "counted_as": counted_as, "reason": "its mark has faded"})
}

#[test]
fn an_animal_known_by_itself_is_put_in_a_group_and_counted_once() {
    let mut house = House::open();
    let (nursery, trays) = (house.nursery.clone(), house.trays.clone());
    let [first, second, far] = [("F1", &nursery), ("F2", &nursery), ("F3", &trays)].map(|(label, tank)| house.animal(label, tank));
    let group = brood(&mut house, "Brood 3", &c(0, 0, 4));
    house.world.pass_days(5);
    let mut with = put_in(&group, "female");
    with["remaining"] = c(0, 1, 4);
    let note = house.world.record(Who::Keeper, "animal.grouped.v1", &first, &with);
    assert_eq!(note.discrepancies, [Value::Null; 0]);
    let told = item(&house, &group);
    adds_up(&told);
    assert_eq!((&told["counts"], words(&told), &told["changes"][1]["with"]), (&c(0, 1, 4), vec!["formed", "put in"], &json!(first)));
    assert_eq!(house.item("/v1/animals/F1")["fate"]["state"], "grouped");
    assert_eq!(house.history("/v1/animals/F1"), ["animal.received.v1", "animal.grouped.v1"]);
    let tank = house.item("/v1/tanks/Nursery");
    assert_eq!((&tank["animals"], &tank["groups"]), (&json!([second]), &json!([group])));
    house.note("tank.checked", &nursery, &json!({"all_well": true, "whole_tank": true, "animals_seen": 6}));
    // Nobody can say any more which one it was that ate; and it is in one group, not in two.
    let fed = json!({"offered": [{"food": "squid"}], "eaten": "all"});
    assert_eq!(house.odd(Who::Keeper, "animal.fed", &first, &fed), ["told of by itself while counted in a group"]);
    let twice = house.world.record(Who::Keeper, "animal.grouped.v1", &first, &put_in(&group, "male"));
    assert_eq!(house.kinds(&twice.discrepancies), ["told of by itself while counted in a group"]);
    house.note("animal.died", &second, &json!({"how_known": "found dead", "apparent_cause": "not determined", "body": "frozen"}));
    assert_eq!(house.odd(Who::Keeper, "animal.grouped", &second, &put_in(&group, "female")), ["put in a group after its end"]);
    let unknown = house.fresh("animal");
    assert_eq!(house.world.refusal(Who::Keeper, "animal.grouped.v1", &unknown, &put_in(&group, "female")), "subject-unknown");
    assert_eq!(house.odd(Who::Keeper, "animal.grouped", &far, &put_in(&group, "unknown")), ["put in a group that is in another tank"]);
    assert_eq!(counts(&house, &group), c(0, 1, 5), "neither the dead nor anyone twice");
    let year = stock(&house, "2025");
    let line = &year["stock"]["total"];
    assert_eq!(year["completeness"]["failing"], json!([]));
    assert_eq!((&line["arrived"], &line["sexed"]), (&json!([0, 3, 4]), &json!([0, -1, 1])), "a female is counted as unknown");
    assert_eq!((&line["died_other"], &line["departed"], &line["end"]), (&json!([0, 1, 0]), &json!([0, 0, 0]), &json!([0, 1, 5])));
    // Recognised again: the note is taken back, and it was known by itself all along.
    for id in [twice.id, note.id] {
        house.note("record.retracted", &first, &json!({"target": id, "reason": "its third band is broken: it is F1"}));
    }
    assert_eq!((counts(&house, &group), house.item("/v1/animals/F1")["fate"]["state"].clone()), (c(0, 0, 5), json!("present")));
    assert_eq!(stock(&house, "2025")["stock"]["total"]["end"], json!([0, 1, 5]));
}

#[test]
fn animals_known_by_themselves_make_a_group_and_leave_it_one_by_one() {
    let mut house = House::open();
    let nursery = house.nursery.clone();
    let sharks = ["F1", "F2", "F3"].map(|label| house.animal(label, &nursery));
    let group = house.fresh("group");
    let formed = |came: &str, counts: Value| json!({"label": "Old three", "species": house.species, "counts": counts, "how_counted": "by eye", "came": came, "tank": nursery});
    let (known, twice) = (formed("known by themselves", c(0, 0, 0)), formed("known by themselves", c(0, 3, 0)));
    assert_eq!(house.world.refusal(Who::Keeper, "group.formed.v1", &group, &twice), "body-malformed", "they would count twice");
    house.note("group.formed", &group, &known);
    for shark in &sharks {
        house.note("animal.grouped", shark, &put_in(&group, "female"));
    }
    assert_eq!((counts(&house, &group), item(&house, &group)["ended"].clone()), (c(0, 3, 0), Value::Null));
    assert_eq!(stock(&house, "2025")["stock"]["total"]["arrived"], json!([0, 3, 0]));
    house.world.pass_days(330);
    // Nobody knows which of the three it was: its life by itself begins here.
    let apart = house.fresh("animal");
    let told = json!({"group": group, "counted_as": "female", "label": "F4", "sex": "female", "how_told": "tagged today"});
    house.note("animal.told_apart", &apart, &told);
    adds_up(&item(&house, &group));
    assert_eq!(words(&item(&house, &group)), ["formed", "put in", "put in", "put in", "told apart"]);
    for year in ["2025", "2026"] {
        let report = stock(&house, year);
        let total = &report["stock"]["total"];
        assert_eq!((&report["completeness"]["failing"], &total["end"]), (&json!([]), &json!([0, 3, 0])), "{year}");
        assert_eq!(total["arrived"], json!([0, if year == "2025" { 3 } else { 0 }, 0]));
    }
}

#[test]
fn a_group_is_due_to_be_fed_walked_to_and_counted_where_the_house_says() {
    let mut house = House::open();
    let nursery = house.nursery.clone();
    let group = brood(&mut house, "Brood 3", &c(0, 0, 4));
    house.world.pass_days(40);
    assert_eq!(house.due(), [], "nothing is due until the house sets it");
    let rules = json!({"walk_interval_hours": 24, "group_count_interval_days": 30});
    let set = house.world.say_with(Who::Curator, "policy.set.v1", "collection", &rules, &serde_json::Map::new(), &[Who::Registrar]);
    set.recorded().expect("the house rules are set");
    let due = |house: &House| house.due().into_iter().map(|(what, label)| format!("{what}: {label}")).collect::<Vec<_>>();
    assert_eq!(due(&house), ["walk to a group: Brood 3", "count a group: Brood 3"]);
    house.note("tank.checked", &nursery, &json!({"all_well": true}));
    house.note("group.counted", &group, &json!({"counts": c(0, 0, 3), "full": false}));
    assert_eq!(due(&house), ["count a group: Brood 3"], "a count in part does not count");
    house.note("group.counted", &group, &json!({"counts": c(0, 0, 4), "full": true}));
    assert_eq!(due(&house), [""; 0]);
}
