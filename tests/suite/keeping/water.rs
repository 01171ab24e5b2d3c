//! Tanks, systems, equipment, instruments and places.

use super::House;
use selachron_tests::world::Who;
use serde_json::json;

#[test]
fn a_walk_counts_what_it_sees() {
    let mut house = House::open();
    let (nursery, trays) = (house.nursery.clone(), house.trays.clone());
    let shark = house.animal("F1", &nursery);
    house.world.pass_days(1);
    let seen = |animals: u64, whole: bool| json!({"all_well": true, "animals_seen": animals, "cases_seen": 0, "whole_tank": whole});
    house.note("tank.checked", &nursery, &seen(1, true));
    house.note("tank.checked", &nursery, &seen(0, false));
    assert_eq!(house.odd(Who::Keeper, "tank.checked", &nursery, &seen(2, true)), ["more seen in a tank than the record has"]);
    assert_eq!(
        house.odd(Who::Trainee, "tank.checked", &nursery, &seen(0, true)),
        ["fewer seen in a tank than the record has", "trainee's note not endorsed"]
    );
    let read = house.item("/v1/tanks/Nursery");
    assert_eq!((&read["last_check"]["animals_seen"], &read["last_check"]["all_well"]), (&json!(0), &json!(true)), "{read}");
    // It had been moved before the count: once that is told, nobody was missing.
    house.earlier(2, "animal.moved", &shark, &json!({"to_tank": trays, "from_tank": nursery}));
    let odd = house.all_odd();
    assert!(!odd.iter().any(|kind| kind.starts_with("fewer seen")), "{odd:?}");
    assert_eq!(odd.iter().filter(|kind| kind.starts_with("more seen")).count(), 2, "two counts saw more than none: {odd:?}");
    let findings = json!({"all_well": false, "findings": ["equipment", "not eating"]});
    house.note("tank.checked", &trays, &findings);
    assert_eq!(house.item("/v1/tanks/Trays")["last_check"]["findings"], findings["findings"]);
    let refused = house.world.refusal(Who::Keeper, "tank.checked.v1", &trays, &json!({"all_well": true, "findings": ["dead"]}));
    assert_eq!(refused, "body-malformed");
}

#[test]
fn what_is_done_to_a_tank_is_seen_in_it() {
    let mut house = House::open();
    let (nursery, trays) = (house.nursery.clone(), house.trays.clone());
    let (system, batch) = (house.fresh("system"), house.fresh("food"));
    house.note("system.set_up", &system, &json!({"label": "Warm", "water": "tropical"}));
    house.note("food.received", &batch, &json!({"label": "SQ-1", "food": "squid", "state": "frozen", "best_before": "2025-03-03"}));
    house.note("tank.joined", &nursery, &json!({"system": system}));
    house.note("tank.light_set", &nursery, &json!({"light": "dim", "day_length_hours": 12, "fade_minutes": 30}));
    house.note("diet.set", &nursery, &json!({"foods": [{"food": "squid", "body_mass_percent": 3}], "times_a_week": 3}));
    house.note("system.water_changed", &system, &json!({"volume_percent": 20, "source": "mixed sea water", "reason": "routine"}));
    let fed = json!({"offered": [{"food": "squid", "amount_g": 12.5, "from_batch": batch}], "eaten": "most", "way": "scattered"});
    house.note("tank.fed", &nursery, &fed);
    let read = house.item("/v1/tanks/Nursery");
    assert_eq!(read["system"], json!(system));
    assert_eq!((&read["light"]["light"], &read["last_fed"]["eaten"]), (&json!("dim"), &json!("most")));
    assert_eq!(read["diet"]["foods"][0]["food"], "squid");
    assert_eq!(house.item("/v1/systems/Warm")["last_water_change"]["volume_percent"], json!(20.0));
    assert_eq!(house.item("/v1/systems/Warm")["tanks"], json!([nursery]));
    assert_eq!(house.item("/v1/foods/SQ-1")["feedings"], 1);
    house.world.pass_days(3);
    assert_eq!(house.odd(Who::Keeper, "tank.fed", &nursery, &fed), ["fed from a batch past its date or not accepted"]);
    house.animal("F1", &nursery);
    assert_eq!(house.odd(Who::Curator, "tank.retired", &nursery, &json!({"reason": "the seal leaks"})), ["in a tank that is out of use"]);
    let shark = house.item("/v1/animals/F1")["id"].as_str().expect("an id").to_owned();
    house.note("animal.moved", &shark, &json!({"to_tank": trays}));
    assert!(!house.all_odd().iter().any(|kind| kind == "in a tank that is out of use"), "it was moved");
    house.note("tank.joined", &nursery, &json!({"reason": "cut off"}));
    let read = house.item("/v1/tanks/Nursery");
    assert!(read["system"].is_null() && read["retired"]["reason"] == "the seal leaks", "{read}");
    assert!(house.history("/v1/tanks/Nursery").contains(&"tank.light_set.v1".to_owned()));
}

#[test]
fn a_fault_stays_open_until_it_is_ended() {
    let mut house = House::open();
    let system = house.fresh("system");
    house.note("system.set_up", &system, &json!({"label": "Warm", "water": "tropical"}));
    house.note("equipment.faulted", &system, &json!({"equipment": "pump", "which": "return 2", "effects": ["no flow"]}));
    house.note("equipment.faulted", &system, &json!({"equipment": "chiller"}));
    assert_eq!(house.item("/v1/systems/Warm")["open_faults"][0]["which"], "return 2");
    assert_eq!(house.due(), [("restore equipment".to_owned(), "Warm".to_owned()), ("restore equipment".to_owned(), "Warm".to_owned())]);
    let other = json!({"equipment": "pump", "which": "return 1", "done": "repaired"});
    assert_eq!(house.odd(Who::Keeper, "equipment.restored", &system, &other), ["works again, no fault noted"]);
    house.note("equipment.restored", &system, &json!({"equipment": "pump", "which": "return 2", "done": "replaced"}));
    house.note("equipment.restored", &system, &json!({"equipment": "chiller", "done": "came back by itself"}));
    assert!(house.item("/v1/systems/Warm")["open_faults"].is_null());
    assert_eq!(house.due(), []);
}

#[test]
fn readings_past_the_calibration_interval_are_hollow() {
    let mut house = House::open();
    let (nursery, probe) = (house.nursery.clone(), house.fresh("instrument"));
    let reading = json!({"temperature_c": 24.5, "instrument": "probe 3"});
    let hollow = |house: &House| house.item("/v1/tanks/Nursery")["last_reading"]["hollow"].clone();
    house.note("water.measured", &nursery, &reading);
    assert!(hollow(&house).is_null(), "no such instrument is known");
    house.note("instrument.installed", &probe, &json!({"label": "probe 3", "measures": ["temperature"], "calibration_interval_days": 30}));
    house.note("water.measured", &nursery, &reading);
    assert_eq!(hollow(&house), json!(false));
    house.world.pass_days(31);
    house.note("water.measured", &nursery, &reading);
    assert_eq!(hollow(&house), json!(true));
    assert_eq!(house.due(), [("calibrate".to_owned(), "probe 3".to_owned())]);
    let compared =
        |result: &str| json!({"quantity": "temperature", "standard": "thermometer 2", "result": result, "error_found": "+0.1 °C"});
    house.note("instrument.calibrated", &probe, &compared("adjusted"));
    house.note("water.measured", &nursery, &reading);
    assert_eq!((hollow(&house), house.due()), (json!(false), vec![]));
    assert_eq!(house.item("/v1/instruments/probe%203")["calibrated_until"], "2025-05-01");
    house.note("instrument.calibrated", &probe, &compared("out of limits"));
    house.note("water.measured", &nursery, &reading);
    assert_eq!(hollow(&house), json!(true), "out of limits");
    house.note("instrument.calibrated", &probe, &compared("within limits"));
    house.note("instrument.retired", &probe, &json!({"reason": "the glass is cracked"}));
    house.note("water.measured", &nursery, &reading);
    assert_eq!(hollow(&house), json!(true), "out of use");
}

#[test]
fn places_have_an_order_and_hold_cases() {
    let mut house = House::open();
    let (trays, nursery) = (house.trays.clone(), house.nursery.clone());
    let (second, first, elsewhere) = (house.fresh("place"), house.fresh("place"), house.fresh("place"));
    for (place, label, tank, order) in [(&second, "A-2", &trays, 2), (&first, "A-1", &trays, 1), (&elsewhere, "N-1", &nursery, 1)] {
        house.note("place.set_up", place, &json!({"label": label, "tank": tank, "order": order}));
    }
    let egg = house.egg("E1");
    house.note("egg.moved", &egg, &json!({"to_tank": trays, "place": second}));
    let places = house.item("/v1/tanks/Trays")["places"].clone();
    let labels: Vec<&str> = places.as_array().expect("places").iter().filter_map(|place| place["label"].as_str()).collect();
    assert_eq!((labels, &places[1]["eggs"]), (vec!["A-1", "A-2"], &json!([egg])));
    assert_eq!(house.item("/v1/places/A-2")["eggs"], json!([egg]));
    let wrong = json!({"to_tank": trays, "place": elsewhere});
    assert_eq!(house.odd(Who::Keeper, "egg.moved", &egg, &wrong), ["moved to a place in another tank"]);
}
