//! Consignments, quarantine, loans.

use super::House;
use selachron_tests::world::Who;
use serde_json::{Map, Value, json};

#[test]
fn what_is_in_transit_is_in_nobodys_stock() {
    let mut house = House::open();
    let nursery = house.nursery.clone();
    let (shark, egg, box_of) = (house.animal("F1", &nursery), house.egg("E1"), house.fresh("consignment"));
    house.world.pass_days(1);
    let expected = house.now().plus_ms(3_600_000).utc_text();
    let sent = json!({"label": "to the coast", "to": "another house", "carrier": "own van", "reason": "transfer", "oxygen": "oxygen in the bag",
        "items": [{"which": shark, "alive": "alive"}, {"which": egg, "alive": "alive"}], "expected_at": expected, "temperature_c": 24});
    let outcome = house.world.say_with(Who::Keeper, "consignment.sent.v1", &box_of, &sent, &Map::new(), &[Who::Curator]);
    let recorded = outcome.recorded().expect("recorded");
    assert_eq!(house.kinds(&recorded.discrepancies), [""; 0]);
    assert_eq!(house.item("/v1/tanks/Nursery")["animals"], json!([]));
    let fate = house.item("/v1/animals/F1")["fate"].clone();
    assert_eq!((&fate["state"], &fate["to"]), (&json!("departed"), &json!("another house")));
    assert_eq!(house.item("/v1/eggs/E1")["fate"]["state"], "removed");
    assert_eq!(house.item("/v1/eggs/E1")["travel"]["state"], "in transit");
    let read = house.item("/v1/consignments/to%20the%20coast");
    assert_eq!((&read["state"], read["in_transit"].as_array().map(Vec::len)), (&json!("in transit"), Some(2)));
    assert_eq!(read["approved_by"].as_array().map(Vec::len), Some(1));
    // The keeper also writes the leaving by itself: it is one leaving.
    house.note("animal.departed", &shark, &json!({"to": "another house", "reason": "transfer", "alive": "alive"}));
    house.world.pass_days(1);
    assert!(house.due().iter().any(|(what, label)| what == "ask after a consignment" && label == "to the coast"));
    let opened = |items: Value| json!({"where": "there", "opened_at": expected, "items": items});
    let some = opened(json!([{"which": shark, "state": "alive"}]));
    let first = house.world.record(Who::Keeper, "consignment.received.v1", &box_of, &some);
    assert_eq!(house.kinds(&first.discrepancies), ["what arrived is not what was sent"]);
    let right = json!({"target": first.id, "reason": "the second bag was opened later",
        "replacement": {"data": opened(json!([{"which": shark, "state": "alive"}, {"which": egg, "state": "dead"}]))}});
    house.note("record.corrected", &box_of, &right);
    let read = house.item("/v1/consignments/to%20the%20coast");
    assert_eq!((&read["state"], &read["in_transit"], &read["dead_on_arrival"]), (&json!("arrived there"), &json!([]), &json!([egg])));
    assert_eq!(house.all_odd(), [""; 0]);
}

#[test]
fn a_consignment_that_left_is_recorded_whoever_signed() {
    let mut house = House::open();
    let nursery = house.nursery.clone();
    let (shark, box_of) = (house.animal("F1", &nursery), house.fresh("consignment"));
    let sent = json!({"label": "box", "to": "another house", "carrier": "own van", "reason": "loan", "items": [{"which": shark, "alive": "alive"}]});
    assert_eq!(house.odd(Who::Keeper, "consignment.sent", &box_of, &sent), ["sent without a second person"]);
    let second = house.fresh("consignment");
    let again = house.odd(Who::Keeper, "consignment.sent", &second, &{
        let mut data = sent;
        data["label"] = json!("box 2");
        data
    });
    assert_eq!(again, ["departed twice", "sent without a second person"]);
    let early = json!({"where": "there", "opened_at": "2025-01-01T00:00:00Z", "items": []});
    assert_eq!(house.odd(Who::Keeper, "consignment.received", &box_of, &early), ["opened before it was sent"]);
}

#[test]
fn departure_papers_wait_for_a_second_person_and_the_departure_itself_never() {
    let mut house = House::open();
    let nursery = house.nursery.clone();
    let (shark, other) = (house.animal("F1", &nursery), house.animal("F2", &nursery));
    let (day, now) = (86_400_000, house.now());
    let papers = |items: Value, until_days: i64| {
        json!({"label": "box", "to": "another house", "items": items, "from": now.utc_text(), "until": now.plus_ms(until_days * day).utc_text(),
            "papers": [{"paper": "health certificate", "number": "INV-17"}]})
    };
    let sent = |items: &[&String], to: &str| {
        let items: Vec<Value> = items.iter().map(|which| json!({"which": which, "alive": "alive"})).collect();
        json!({"label": "box", "to": to, "carrier": "own van", "reason": "transfer", "items": items})
    };
    let box_of = house.fresh("consignment");
    for who in [Who::Registrar, Who::Curator, Who::Veterinarian, Who::Keeper] {
        assert_eq!(house.world.refusal(who, "consignment.authorised.v1", &box_of, &papers(json!([shark]), 7)), "not-permitted");
    }
    let sign = |house: &mut House, subject: &str, data: &Value| {
        let outcome = house.world.say_with(Who::Registrar, "consignment.authorised.v1", subject, data, &Map::new(), &[Who::Veterinarian]);
        outcome.recorded().expect("papers").id
    };
    sign(&mut house, &box_of, &papers(json!([shark]), 7));
    assert_eq!(house.item("/v1/consignments/box")["state"], "papers signed");
    assert_eq!(house.item("/v1/animals/F1")["fate"]["state"], "present", "papers move nothing");
    assert_eq!(house.odd(Who::Keeper, "consignment.sent", &box_of, &sent(&[&shark], "another house")), [""; 0]);
    assert_eq!(house.item("/v1/animals/F1")["fate"]["state"], "departed");
    // What the papers do not cover is recorded all the same, and the gap is said.
    let mut says = |items: Value, until: i64, pass_days: u32, leaves: &[&String], to: &str| {
        let box_of = house.fresh("consignment");
        let papers = sign(&mut house, &box_of, &papers(items, until));
        house.world.pass_days(pass_days.into());
        let receipt = house.world.record(Who::Keeper, "consignment.sent.v1", &box_of, &sent(leaves, to));
        let odd = house.world.read("/v1/discrepancies", &[])["items"].clone();
        house.note("record.retracted", &box_of, &json!({"target": receipt.id, "reason": "it stayed here"}));
        house
            .world
            .say_with(
                Who::Registrar,
                "record.retracted.v1",
                &box_of,
                &json!({"target": papers, "reason": "not needed"}),
                &Map::new(),
                &[Who::Curator],
            )
            .recorded()
            .expect("taken back");
        odd[0]["says"].as_str().unwrap_or_default().to_owned()
    };
    assert!(says(json!([other]), 7, 0, &[&other], "a third house").ends_with("and its papers are for \"another house\"."));
    let pair = says(json!([other]), 7, 0, &[&other, &shark], "another house");
    assert!(pair.contains("its papers do not name F1"), "{pair}");
    assert!(says(json!([other]), 1, 3, &[&other], "another house").contains("its papers hold from 2025-"));
}

#[test]
fn a_sending_waits_where_the_house_says_so() {
    let mut house = House::open();
    let nursery = house.nursery.clone();
    let (shark, box_of) = (house.animal("F1", &nursery), house.fresh("consignment"));
    let approvals = json!({"approvals": [{"kind": "consignment.sent.v1", "roles": ["veterinarian"], "persons": 1}]});
    let world = &mut house.world;
    world.say_with(Who::Curator, "policy.set.v1", "collection", &approvals, &Map::new(), &[Who::Registrar]).recorded().expect("a policy");
    let sent = json!({"label": "box", "to": "another house", "carrier": "own van", "reason": "loan", "items": [{"which": shark, "alive": "alive"}]});
    assert_eq!(world.refusal(Who::Curator, "consignment.sent.v1", &box_of, &sent), "not-permitted");
    assert_eq!(world.read("/v1/animals/F1", &[])["item"]["fate"]["state"], "present", "it has not left");
    world.say_with(Who::Curator, "consignment.sent.v1", &box_of, &sent, &Map::new(), &[Who::Veterinarian]).recorded().expect("it leaves");
    assert_eq!(house.all_odd(), [""; 0]);
}

#[test]
fn dead_on_arrival_is_told_apart() {
    let mut house = House::open();
    let (alive, dead, box_of) = (house.fresh("egg"), house.fresh("egg"), house.fresh("consignment"));
    let now = house.now().utc_text();
    let opened = json!({"label": "from the north", "where": "here", "from": "another house", "opened_at": now, "temperature_c": 22.9, "oxygen_mg_l": 9.1,
        "items": [{"which": alive, "state": "alive"}, {"which": dead, "state": "dead"}], "papers": [{"paper": "health certificate", "number": "17"}]});
    assert_eq!(
        house.odd(Who::Keeper, "consignment.received", &box_of, &opened),
        ["names something unknown"],
        "until each has come by its own note"
    );
    assert_eq!(house.world.read("/v1/eggs", &[])["items"], json!([]), "a consignment brings nothing into the stock by itself");
    let received = |label: &str, state: &str, trays: &str, species: &str| json!({"label": label, "species": species, "from": "another house", "state": state, "case": "whole", "yolk": "seen", "to_tank": trays});
    let (trays, species) = (house.trays.clone(), house.species.clone());
    house.note("egg.received", &alive, &received("E1", "alive", &trays, &species));
    let odd = house.odd(Who::Keeper, "egg.received", &dead, &received("E2", "alive", &trays, &species));
    assert_eq!(odd, ["dead on arrival by one note only"]);
    assert_eq!(house.item("/v1/consignments/from%20the%20north")["dead_on_arrival"], json!([dead]));
    assert_eq!(house.item("/v1/eggs/E1")["travel"]["state"], "arrived here");
}

#[test]
fn quarantine_ends_by_the_veterinarians_word() {
    let mut house = House::open();
    let (apart, second, nursery) = (house.world.tank("Q1", "quarantine"), house.world.tank("Q2", "quarantine"), house.nursery.clone());
    let shark = house.animal("F1", &apart);
    house.world.pass_days(1);
    house.note("quarantine.started", &apart, &json!({"reason": "arrival", "planned_days": 30, "tests_wanted": ["skin scrape"]}));
    assert_eq!(house.item("/v1/animals/F1")["quarantine"]["of"], json!(apart), "what is in the tank is under it");
    house.world.pass_days(1);
    house.note("animal.moved", &shark, &json!({"to_tank": second}));
    house.note("animal.moved", &shark, &json!({"to_tank": apart}));
    house.world.pass_days(1);
    let out = json!({"to_tank": nursery});
    let too_early = house.world.record(Who::Keeper, "animal.moved.v1", &shark, &out);
    assert_eq!(house.kinds(&too_early.discrepancies), ["out of quarantine before clearance"]);
    house.note("record.retracted", &shark, &json!({"target": too_early.id, "reason": "it was another"}));
    let clear = json!({"basis": "thirty days without signs", "tests": [{"test": "skin scrape", "result": "nothing found"}]});
    assert_eq!(house.world.refusal(Who::Curator, "quarantine.cleared.v1", &apart, &clear), "not-permitted");
    house.world.pass_days(30);
    assert!(house.due().iter().any(|(what, label)| what == "clear quarantine" && label == "Q1"));
    assert_eq!(house.odd(Who::Veterinarian, "quarantine.cleared", &apart, &clear), [""; 0]);
    house.world.pass_ms(60_000);
    house.note("animal.moved", &shark, &out);
    assert_eq!(house.odd(Who::Veterinarian, "quarantine.cleared", &apart, &clear), ["quarantine cleared, none begun"]);
    let list = house.world.read("/v1/quarantines", &[])["items"].clone();
    assert_eq!((list.as_array().map(Vec::len), &list[0]["cleared"]["basis"]), (Some(1), &json!("thirty days without signs")));
}

#[test]
fn an_animal_in_quarantine_does_not_leave_the_house_unseen() {
    let mut house = House::open();
    let nursery = house.nursery.clone();
    let shark = house.animal("F1", &nursery);
    house.world.pass_days(1);
    house.note("quarantine.started", &shark, &json!({"reason": "disease suspected"}));
    house.world.pass_days(1);
    let left = json!({"to": "another house", "reason": "transfer", "alive": "alive"});
    assert_eq!(house.odd(Who::Keeper, "animal.departed", &shark, &left), ["out of quarantine before clearance"]);
}

#[test]
fn a_quarantine_told_afterwards_finds_the_move() {
    let mut house = House::open();
    let (apart, nursery) = (house.world.tank("Q1", "quarantine"), house.nursery.clone());
    let shark = house.animal("F1", &apart);
    house.world.pass_days(3);
    house.note("animal.moved", &shark, &json!({"to_tank": nursery}));
    let time = house.now().plus_ms(-86_400_000);
    let body = house.world.hand(Who::Keeper).body("quarantine.started.v1", &apart, time, &json!({"reason": "arrival"}));
    let sent = selachron_tests::fixture::envelope(&body, &[house.world.hand(Who::Keeper)]);
    let recorded = house.world.post(&sent).recorded().expect("recorded");
    assert_eq!(house.kinds(&recorded.discrepancies), ["out of quarantine before clearance"], "the answer says what a later read says");
}

#[test]
fn a_loan_changes_presence_not_ownership() {
    let mut house = House::open();
    let nursery = house.nursery.clone();
    let (shark, stays, loan) = (house.animal("F1", &nursery), house.animal("F2", &nursery), house.fresh("loan"));
    let agreed = json!({"label": "L-1", "direction": "out", "partner": "another house", "which": [shark, stays], "until": "2025-03-05"});
    assert_eq!(house.odd(Who::Curator, "loan.agreed", &loan, &agreed), [""; 0]);
    house.note("animal.departed", &shark, &json!({"to": "another house", "reason": "loan", "alive": "alive"}));
    let read = house.item("/v1/animals/F1");
    assert_eq!((&read["loan"]["direction"], &read["fate"]["reason"]), (&json!("out"), &json!("loan")));
    assert_eq!(house.item("/v1/animals/F2")["fate"]["state"], "present", "agreed is not gone");
    house.world.pass_days(5);
    assert!(house.due().iter().any(|(what, label)| what == "end loan" && label == "L-1"));
    house.note("loan.ended", &loan, &json!({"how": "ended otherwise", "which": [stays]}));
    assert_eq!(house.item("/v1/loans/L-1")["still_lent"], json!([shark]));
    house.note("loan.ended", &loan, &json!({"how": "given for good"}));
    assert!(house.item("/v1/animals/F1")["loan"].is_null() && house.due().is_empty());
}

/// Both bases: lent out and dead there, lent out and given away, lent out and back, lent in, lent in and
/// given to us, and one that stays.
#[test]
fn the_stock_list_tells_presence_and_ownership() {
    let mut house = House::open();
    let nursery = house.nursery.clone();
    let [dies, given, back, ours, stays] = ["F1", "F2", "F3", "F4", "F5"].map(|label| house.animal(label, &nursery));
    let guests = ["G1", "G2"].map(|label| house.animal(label, &nursery));
    let (out, lent) = (house.fresh("loan"), house.fresh("loan"));
    let agreed = json!({"label": "L-1", "direction": "out", "partner": "another house", "which": [dies, given, back, ours]});
    house.odd(Who::Curator, "loan.agreed", &out, &agreed);
    let agreed = json!({"label": "L-2", "direction": "in", "partner": "another house", "which": guests});
    house.odd(Who::Curator, "loan.agreed", &lent, &agreed);
    for shark in [&dies, &given, &back, &ours] {
        house.note("animal.departed", shark, &json!({"to": "another house", "reason": "loan", "alive": "alive"}));
    }
    let lists = |house: &House, year: &str| {
        let report = house.world.read(&format!("/v1/reports/annual/{year}"), &[]);
        assert_eq!(report["completeness"]["failing"], json!([]));
        ["stock", "stock_owned"].map(|basis| {
            ["start", "arrived", "died_other", "departed", "end"].map(|cell| report[basis]["total"][cell][1].as_i64().expect("females"))
        })
    };
    assert_eq!(lists(&house, "2025"), [[0, 7, 0, 4, 3], [0, 5, 0, 0, 5]], "away is not gone, and a guest is not ours");
    house.world.pass_days(330);
    house.note("loan.ended", &out, &json!({"how": "died on loan", "which": [dies]}));
    house.note("loan.ended", &out, &json!({"how": "given for good", "which": [given]}));
    house.note("loan.ended", &out, &json!({"how": "returned", "which": [back]}));
    house.note("animal.returned", &back, &json!({"from": "another house", "reason": "end of a loan", "to_tank": nursery}));
    house.note("loan.ended", &lent, &json!({"how": "given for good", "which": [guests[0]]}));
    assert_eq!(lists(&house, "2026"), [[3, 1, 0, 0, 4], [5, 1, 1, 1, 4]]);
    assert_eq!(lists(&house, "2025"), [[0, 7, 0, 4, 3], [0, 5, 0, 0, 5]], "the year before stands");
    assert_eq!(house.item("/v1/animals/F5")["id"], json!(stays));
}

#[test]
fn a_group_leaves_with_its_consignment_whole_unless_a_note_of_that_day_says_how_many() {
    let mut house = House::open();
    let nursery = house.nursery.clone();
    let counts = |unknown: u32| json!({"males": 0, "females": 0, "unknown": unknown});
    let mut brood = |label: &str| {
        let group = house.fresh("group");
        let formed = json!({"label": label, "species": house.species, "counts": counts(7), "how_counted": "by photo",
            "came": "hatched here, case unknown", "tank": nursery});
        house.note("group.formed", &group, &formed);
        group
    };
    let (whole, part) = (brood("whole"), brood("part"));
    house.world.pass_days(2);
    let mut send = |group: &str| {
        let box_of = house.fresh("consignment");
        let sent = json!({"label": "box", "to": "another house", "carrier": "own van", "reason": "transfer",
            "items": [{"which": group, "alive": "alive"}]});
        house
            .world
            .say_with(Who::Keeper, "consignment.sent.v1", &box_of, &sent, &Map::new(), &[Who::Curator])
            .recorded()
            .expect("it leaves");
    };
    send(&whole);
    send(&part);
    let departed = json!({"to": "another house", "reason": "transfer", "counts": counts(2), "remaining": counts(5)});
    house.note("group.departed", &part, &departed);
    assert_eq!(house.all_odd(), [""; 0]);
    assert_eq!(house.item("/v1/groups/whole")["counts"], counts(0));
    assert_eq!(house.item("/v1/groups/part")["counts"], counts(5));
    assert_eq!(house.item("/v1/tanks/Nursery")["groups"], json!([part]), "nobody of the other is here any more");
    let report = house.world.read("/v1/reports/annual/2025", &[]);
    assert_eq!(report["completeness"]["failing"], json!([]));
    let total = &report["stock"]["total"];
    assert_eq!((&total["departed"], &total["end"]), (&json!([0, 0, 9]), &json!([0, 0, 5])));
}
