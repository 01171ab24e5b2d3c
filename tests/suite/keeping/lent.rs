//! Loans change presence, not ownership: of groups, of what comes out of them, and over more than one loan.

use super::House;
use crate::reports::given::every_number_is_given;
use selachron_schemas::time::Instant;
use selachron_tests::world::Who;
use serde_json::{Value, json};

fn c(unknown: u64) -> Value {
    json!({"males": 0, "females": 0, "unknown": unknown})
}

fn on(day: &str) -> Instant {
    Instant::parse(&format!("{day}T12:00:00Z")).expect("a day")
}

fn report(house: &House, year: i32) -> Value {
    house.world.read(&format!("/v1/reports/annual/{year}"), &[])
}

/// Cells of the line of all species, males, females and unknown together; and nothing must fail.
#[track_caller]
fn sums<const N: usize>(house: &House, year: i32, list: &str, names: [&str; N]) -> [i64; N] {
    let report = report(house, year);
    assert_eq!(report["completeness"]["failing"], json!([]), "{year}");
    names.map(|name| report[list]["total"][name].as_array().into_iter().flatten().filter_map(Value::as_i64).sum())
}

impl House {
    fn batch(&mut self, label: &str, count: u64) -> String {
        let (group, tank) = (self.fresh("group"), self.nursery.clone());
        let formed = json!({"label": label, "species": self.species, "counts": c(count), "how_counted": "by photo", "came": "received",
            "sender": "another house", "tank": tank});
        self.note("group.formed", &group, &formed);
        group
    }

    fn agree(&mut self, label: &str, direction: &str, which: &[&str]) -> String {
        let loan = self.fresh("loan");
        let agreed = json!({"label": label, "direction": direction, "partner": "another house", "which": which});
        assert_eq!(self.odd(Who::Curator, "loan.agreed", &loan, &agreed), [""; 0]);
        loan
    }

    fn over(&mut self, loan: &str, how: &str, which: &[&str]) {
        self.note("loan.ended", loan, &json!({"how": how, "which": which}));
    }

    fn some_lent(&mut self, group: &str, count: u64) {
        self.note("group.departed", group, &json!({"counts": c(count), "to": "another house", "reason": "loan"}));
    }

    fn recounted(&mut self, group: &str, count: u64) {
        let odd = self.odd(Who::Keeper, "group.counted", group, &json!({"counts": c(count), "full": true}));
        assert_eq!(odd, ["a group is not as many as the record has"]);
    }

    fn lent(&mut self, animal: &str) {
        self.note("animal.departed", animal, &json!({"to": "another house", "reason": "loan", "alive": "alive"}));
    }

    fn back(&mut self, animal: &str) {
        let tank = self.nursery.clone();
        self.note("animal.returned", animal, &json!({"from": "another house", "reason": "end of a loan", "to_tank": tank}));
    }

    fn told_apart(&mut self, group: &str, label: &str) -> String {
        let animal = self.fresh("animal");
        let apart = json!({"group": group, "counted_as": "unknown", "label": label, "sex": "unknown", "how_told": "by its pattern"});
        self.note("animal.told_apart", &animal, &apart);
        animal
    }
}

#[test]
fn a_group_lent_out_and_counted_back_is_counted_once() {
    let mut house = House::open();
    let group = house.batch("Brood", 10);
    let loan = house.agree("L-1", "out", &[&group]);
    house.some_lent(&group, 4);
    let first = ["arrived", "departed", "end"];
    assert_eq!((sums(&house, 2025, "stock", first), sums(&house, 2025, "stock_owned", first)), ([10, 4, 6], [10, 0, 10]));
    house.world.set_clock(on("2026-02-01"));
    house.over(&loan, "returned", &[&group]);
    house.world.pass_days(1);
    let next = ["start", "recount", "end"];
    assert_eq!((sums(&house, 2026, "stock", next), sums(&house, 2026, "stock_owned", next)), ([6, 0, 6], [10, 0, 10]), "on their way");
    house.recounted(&group, 10);
    assert_eq!((sums(&house, 2026, "stock", next), sums(&house, 2026, "stock_owned", next)), ([6, 4, 10], [10, 0, 10]), "and here");
    let restated = report(&house, 2026);
    assert_eq!((restated["stock"]["recounts"].as_array().map(Vec::len), &restated["stock_owned"]["recounts"]), (Some(1), &Value::Null));
    house.world.set_clock(on("2027-02-01"));
    assert_eq!((sums(&house, 2027, "stock", next), sums(&house, 2027, "stock_owned", next)), ([10, 0, 10], [10, 0, 10]));
    assert_eq!(sums(&house, 2025, "stock_owned", first), [10, 0, 10], "the year before stands");
    every_number_is_given(&house.world, &[2025, 2026, 2027]);
}

/// Counted before the note of the loan's end; come back as another group; and one fewer than had left.
#[test]
fn groups_come_back_in_more_than_one_way() {
    let mut house = House::open();
    let (counted, anew, fewer) = (house.batch("Counted", 10), house.batch("Anew", 20), house.batch("Fewer", 30));
    let loan = house.agree("L-1", "out", &[&counted, &anew, &fewer]);
    for (group, count) in [(&counted, 4), (&anew, 5), (&fewer, 6)] {
        house.some_lent(group, count);
    }
    assert_eq!((sums(&house, 2025, "stock", ["end"]), sums(&house, 2025, "stock_owned", ["end"])), ([45], [60]));
    house.world.set_clock(on("2026-02-01"));
    house.recounted(&counted, 10);
    house.note("loan.ended", &loan, &json!({"how": "returned"}));
    house.world.pass_days(1);
    house.batch("Come back", 5);
    house.world.pass_days(1);
    house.recounted(&fewer, 29);
    let names = ["start", "arrived", "recount", "end"];
    assert_eq!(sums(&house, 2026, "stock", names), [45, 5, 9, 59]);
    assert_eq!(sums(&house, 2026, "stock_owned", names), [60, 5, -6, 59], "five are another group now, and one did not come back");
    house.world.set_clock(on("2027-02-01"));
    assert_eq!((sums(&house, 2027, "stock", names), sums(&house, 2027, "stock_owned", names)), ([59, 0, 0, 59], [59, 0, 0, 59]));
    every_number_is_given(&house.world, &[2025, 2026, 2027]);
}

/// Of some that were lent out: a death, a gift, and a loan that another one goes on.
#[test]
fn loans_of_groups_end_otherwise() {
    let mut house = House::open();
    let (dies, given, renewed) = (house.batch("Dies", 3), house.batch("Given", 4), house.batch("Renewed", 5));
    let first = house.agree("L-1", "out", &[&dies, &given, &renewed]);
    for group in [&dies, &given, &renewed] {
        house.some_lent(group, 2);
    }
    house.world.set_clock(on("2026-02-01"));
    house.over(&first, "died on loan", &[&dies]);
    house.over(&first, "given for good", &[&given]);
    house.over(&first, "returned", &[&renewed]);
    let second = house.agree("L-2", "out", &[&renewed]);
    house.world.pass_days(1);
    house.note("group.counted", &renewed, &json!({"counts": c(3), "full": true}));
    let names = ["start", "died_other", "departed", "recount", "end"];
    assert_eq!(sums(&house, 2026, "stock_owned", names), [12, 2, 2, 0, 8], "two of the last are away still");
    house.world.set_clock(on("2027-02-01"));
    house.over(&second, "died on loan", &[&renewed]);
    assert_eq!(sums(&house, 2027, "stock_owned", names), [8, 2, 0, 0, 6]);
    assert_eq!(sums(&house, 2027, "stock", names), [6, 0, 0, 0, 6]);
    let table = |year: i32| -> Vec<Value> {
        let report = report(&house, year);
        let tables = report["authority"]["tables"].as_array().cloned().unwrap_or_default();
        let rows = tables.into_iter().find(|table| table["id"] == "deaths_on_loan").and_then(|table| table["rows"].as_array().cloned());
        rows.into_iter().flatten().map(|row| row["cells"][2].clone()).collect()
    };
    assert_eq!((table(2026), table(2027)), (vec![json!("0.0.2")], vec![json!("0.0.2")]));
    every_number_is_given(&house.world, &[2025, 2026, 2027]);
}

#[test]
fn what_comes_out_of_a_lent_group_is_lent() {
    let mut house = House::open();
    let guests = house.batch("Guests", 6);
    let loan = house.agree("L-1", "in", &[&guests]);
    house.world.pass_days(1);
    let part = house.fresh("group");
    house.note("group.split", &guests, &json!({"into": part, "label": "Part", "counts": c(2)}));
    house.world.pass_days(1);
    house.told_apart(&guests, "A-1");
    house.told_apart(&part, "A-2");
    let names = ["start", "arrived", "departed", "end"];
    assert_eq!((sums(&house, 2025, "stock", names), sums(&house, 2025, "stock_owned", names)), ([0, 6, 0, 6], [0; 4]));
    house.world.set_clock(on("2026-02-01"));
    let left = house.told_apart(&guests, "A-3");
    house.world.pass_days(1);
    house.lent(&left);
    assert_eq!((sums(&house, 2026, "stock", names), sums(&house, 2026, "stock_owned", names)), ([6, 0, 1, 5], [0; 4]));
    let footnotes = report(&house, 2026)["studbook"].to_string();
    assert!(!footnotes.contains("Ours that are lent out"), "it went home");
    house.back(&left);
    house.over(&loan, "given for good", &[&guests]);
    house.world.pass_days(1);
    house.told_apart(&guests, "A-4");
    assert_eq!(sums(&house, 2026, "stock_owned", names), [0, 6, 0, 6], "with all that came out of it");
    house.world.set_clock(on("2027-02-01"));
    house.told_apart(&part, "A-5");
    let half = house.fresh("group");
    house.note("group.split", &guests, &json!({"into": half, "label": "Half", "counts": c(1)}));
    assert_eq!((sums(&house, 2027, "stock", names), sums(&house, 2027, "stock_owned", names)), ([6, 0, 0, 6], [6, 0, 0, 6]));
    every_number_is_given(&house.world, &[2025, 2026, 2027]);
}

#[test]
fn a_guest_put_in_a_group_of_ours_stays_a_guest() {
    let mut house = House::open();
    let (ours, nursery) = (house.batch("Ours", 5), house.nursery.clone());
    let [guest, stays] = ["G1", "G2"].map(|label| house.animal(label, &nursery));
    let loan = house.agree("L-1", "in", &[&guest, &stays]);
    house.world.pass_days(1);
    for animal in [&guest, &stays] {
        house.note("animal.grouped", animal, &json!({"group": ours, "counted_as": "unknown", "reason": "its mark has faded"}));
    }
    let names = ["start", "arrived", "died_other", "end"];
    assert_eq!((sums(&house, 2025, "stock", names), sums(&house, 2025, "stock_owned", names)), ([0, 7, 0, 7], [0, 5, 0, 5]));
    house.world.set_clock(on("2026-02-01"));
    let died = json!({"counts": c(1), "how_known": "found dead", "apparent_cause": "not determined", "body": "frozen"});
    house.note("group.died", &ours, &died);
    assert_eq!(sums(&house, 2026, "stock_owned", names), [5, 0, 1, 4], "nobody has said yet whose it was");
    house.over(&loan, "died on loan", &[&guest]);
    assert_eq!((sums(&house, 2026, "stock", names), sums(&house, 2026, "stock_owned", names)), ([7, 0, 1, 6], [5, 0, 0, 5]));
    house.over(&loan, "given for good", &[&stays]);
    assert_eq!(sums(&house, 2026, "stock_owned", names), [5, 1, 0, 6]);
    every_number_is_given(&house.world, &[2025, 2026]);
}

#[test]
fn whoever_was_given_away_and_came_back_has_left_and_arrived() {
    let mut house = House::open();
    let nursery = house.nursery.clone();
    let [given, otherwise, later] = ["F1", "F2", "F3"].map(|label| house.animal(label, &nursery));
    let loan = house.agree("L-1", "out", &[&given, &otherwise, &later]);
    [&given, &otherwise, &later].into_iter().for_each(|animal| house.lent(animal));
    house.world.pass_days(1);
    house.over(&loan, "given for good", &[&given]);
    house.over(&loan, "ended otherwise", &[&otherwise]);
    let names = ["start", "arrived", "departed", "end"];
    assert_eq!(sums(&house, 2025, "stock_owned", names), [0, 3, 2, 1]);
    house.world.set_clock(on("2026-02-01"));
    house.over(&loan, "ended otherwise", &[&later]);
    house.world.pass_days(1);
    [&given, &otherwise, &later].into_iter().for_each(|animal| house.back(animal));
    assert_eq!((sums(&house, 2026, "stock", names), sums(&house, 2026, "stock_owned", names)), ([0, 3, 0, 3], [1, 3, 1, 3]));
    assert_eq!(sums(&house, 2025, "stock_owned", names), [0, 3, 2, 1], "the year before stands");
    every_number_is_given(&house.world, &[2025, 2026]);
}

/// The first loan ends on paper while they stay away; another one goes on, at once or the year after.
#[test]
fn a_loan_renewed_on_paper_goes_on() {
    let mut house = House::open();
    let nursery = house.nursery.clone();
    let [dies, stays, late] = ["F1", "F2", "F3"].map(|label| house.animal(label, &nursery));
    let first = house.agree("L-1", "out", &[&dies, &stays, &late]);
    [&dies, &stays, &late].into_iter().for_each(|animal| house.lent(animal));
    house.world.set_clock(on("2026-02-01"));
    house.over(&first, "returned", &[&dies]);
    house.over(&first, "ended otherwise", &[&stays, &late]);
    house.world.pass_days(1);
    let second = house.agree("L-2", "out", &[&dies, &stays]);
    let names = ["start", "arrived", "died_other", "departed", "end"];
    assert_eq!(sums(&house, 2026, "stock_owned", names), [3, 0, 0, 1, 2]);
    house.world.set_clock(on("2027-02-01"));
    house.agree("L-3", "out", &[&late]);
    house.over(&second, "died on loan", &[&dies]);
    let report = report(&house, 2027);
    let told = report["authority"]["tables"].as_array().into_iter().flatten().find(|table| table["id"] == "deaths_on_loan");
    assert_eq!(told.map(|table| table["rows"][0]["cells"][0].clone()), Some(json!("F1")));
    assert!(report["studbook"].to_string().contains("Ours that are lent out, and in no row: F2, F3."), "{}", report["studbook"]);
    assert_eq!(sums(&house, 2027, "stock_owned", names), [2, 1, 1, 0, 2]);
    house.over(&second, "given for good", &[&stays]);
    assert_eq!(sums(&house, 2027, "stock_owned", names), [2, 1, 1, 1, 1]);
    assert_eq!(sums(&house, 2026, "stock_owned", names), [3, 0, 0, 1, 2], "the year before stands");
    every_number_is_given(&house.world, &[2025, 2026, 2027]);
}
