//! Adults: mating, laying, diet, advice.

use super::House;
use selachron_tests::world::Who;
use serde_json::json;

#[test]
fn a_laying_that_was_seen_narrows_its_window_and_speaks_for_the_dam() {
    let mut house = House::open();
    let adults = house.adults.clone();
    let (seen, other) = (house.animal("F1", &adults), house.animal("F2", &adults));
    let egg = house.fresh("egg");
    house.world.pass_days(1);
    house.note("laying.observed", &seen, &json!({"seen": "laid before our eyes", "laid": "single", "tank": adults}));
    let collected = |dam: &str| {
        json!({"label": "E1", "species": house.species, "from_tank": adults, "laid": "single", "case": "whole", "yolk": "seen", "to_tank": house.trays,
            "dam": {"status": "known", "animals": [{"animal": dam}], "basis": "seen"}})
    };
    let (right, wrong) = (collected(&seen), collected(&other));
    house.note("egg.collected", &egg, &right);
    assert_eq!(house.item("/v1/eggs/E1")["laid_window"]["basis"], "not known");
    house.earlier(1, "laying.observed", &seen, &json!({"seen": "case coming out", "eggs": [egg]}));
    let read = house.item("/v1/eggs/E1");
    assert_eq!(read["laid_window"]["basis"], "seen laying", "{read}");
    assert_eq!(read["laid_window"]["not_before"], read["laid_window"]["not_after"]);
    assert_eq!(read["layings"][0]["by"], json!(seen));
    assert_eq!(house.item("/v1/animals/F1")["layings"].as_array().map(Vec::len), Some(2));
    let (id, again) = (house.fresh("egg"), json!({"seen": "case coming out"}));
    house.note("egg.collected", &id, &{
        let mut data = wrong;
        data["label"] = json!("E2");
        data
    });
    let mut named = again;
    named["eggs"] = json!([id]);
    assert_eq!(house.odd(Who::Keeper, "laying.observed", &seen, &named), ["seen laid by another than the dam"]);
}

#[test]
fn mating_diet_and_advice_stand_with_the_animal() {
    let mut house = House::open();
    let adults = house.adults.clone();
    let (female, male) = (house.animal("F1", &adults), house.animal("M1", &adults));
    house.note("mating.observed", &female, &json!({"sign": "copulation", "partner": male, "certainty": "sure"}));
    house.note("diet.set", &female, &json!({"foods": [{"food": "squid"}], "reason": "breeding season"}));
    let advice = json!({"advice": "breed with the one named", "programme": "an invented programme", "partner": male});
    assert_eq!(house.world.refusal(Who::Keeper, "breeding.advised.v1", &female, &advice), "not-permitted");
    assert_eq!(house.odd(Who::Curator, "breeding.advised", &female, &advice), [""; 0]);
    let read = house.item("/v1/animals/F1");
    assert_eq!((&read["matings"][0]["sign"], &read["diet"]["reason"]), (&json!("copulation"), &json!("breeding season")));
    assert_eq!(read["advice"]["partner"], json!(male));
    assert_eq!(read["sire"]["status"], "unknown", "a male seen mating proves no sire");
    assert_eq!(house.item("/v1/animals/M1")["matings"].as_array().map(Vec::len), Some(1), "it is seen from both sides");
    assert!(house.history("/v1/animals/M1").contains(&"mating.observed.v1".to_owned()));
}

#[test]
fn one_tag_on_two_animals_that_are_here_is_odd_until_one_is_gone() {
    let mut house = House::open();
    let adults = house.adults.clone();
    let (first, second, third) = (house.animal("F1", &adults), house.animal("F2", &adults), house.animal("F3", &adults));
    let tag = |what: &str, by: &str| json!({"what": what, "type": by, "number": "900 000 000 001", "licence_reference": "invented"});
    house.note("animal.identified", &first, &tag("given", "implanted tag"));
    house.note("animal.identified", &first, &tag("read", "implanted tag"));
    // Two may look alike; a description is no number.
    house.note("animal.identified", &third, &tag("read", "natural pattern"));
    assert_eq!(house.odd(Who::Keeper, "animal.identified", &second, &tag("read", "implanted tag")), ["mark borne by two that are present"]);
    assert_eq!(house.all_odd(), ["mark borne by two that are present"], "one discrepancy for the two of them");
    house.note("animal.identified", &second, &tag("not found", "implanted tag"));
    assert_eq!(house.all_odd(), [""; 0], "it was another's");
    house.odd(Who::Keeper, "animal.identified", &second, &tag("read", "implanted tag"));
    let departed = json!({"to": "another house", "reason": "transfer", "alive": "alive"});
    house.odd(Who::Keeper, "animal.departed", &first, &departed);
    assert!(!house.all_odd().contains(&"mark borne by two that are present".to_owned()), "one of them is not here any more");
}
