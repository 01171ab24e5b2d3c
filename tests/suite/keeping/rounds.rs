//! Rounds of every kind: what each means to look at, and what a closing owes a reason for.

use super::House;
use selachron_tests::world::Who;
use serde_json::{Value, json};
use std::collections::BTreeSet;

/// A kind of round, its tanks, what it means to look at, and the notes of the looks.
struct Round {
    what: &'static str,
    tanks: Vec<String>,
    means: Vec<String>,
    looks: Vec<(&'static str, String, Value)>,
}

fn kinds(house: &mut House) -> Vec<Round> {
    let (adults, trays, nursery) = (house.adults.clone(), house.trays.clone(), house.nursery.clone());
    let (egg, shark, brood) = (house.egg("E1"), house.animal("F1", &nursery), house.fresh("group"));
    let formed = json!({"label": "Brood", "species": house.species, "counts": {"males": 0, "females": 0, "unknown": 4},
        "how_counted": "by photo", "came": "received", "tank": nursery});
    house.note("group.formed", &brood, &formed);
    let fed = json!({"offered": [{"food": "squid"}], "eaten": "all"});
    let one = |what, tank: &String, means: Vec<&String>, looks| Round {
        what,
        tanks: vec![tank.clone()],
        means: means.into_iter().cloned().collect(),
        looks,
    };
    vec![
        one(
            "candling",
            &trays,
            vec![&egg],
            vec![("egg.candled", egg.clone(), json!({"seen_into": true, "band": 2, "movement": "moving"}))],
        ),
        one(
            "feeding",
            &nursery,
            vec![&shark, &brood],
            vec![("animal.fed", shark.clone(), fed.clone()), ("group.fed", brood.clone(), fed.clone())],
        ),
        one("feeding", &nursery, vec![&shark, &brood], vec![("tank.fed", nursery.clone(), fed)]),
        one("weighing", &nursery, vec![&shark], vec![("animal.measured", shark.clone(), json!({"mass_g": 40, "mass_how": "in water"}))]),
        one("daily walk", &nursery, vec![&nursery], vec![("tank.checked", nursery.clone(), json!({"all_well": true}))]),
        one("egg search", &adults, vec![&adults], vec![("tank.searched", adults.clone(), json!({"eggs_found": 0, "whole_tank": true}))]),
        one(
            "water",
            &nursery,
            vec![&nursery],
            vec![("water.measured", nursery.clone(), json!({"temperature_c": 25, "instrument": "probe 1"}))],
        ),
        one("other", &trays, vec![&trays], vec![("tank.light_set", trays.clone(), json!({"light": "dim", "day_length_hours": 10}))]),
    ]
}

fn set(things: &Value) -> BTreeSet<String> {
    things.as_array().into_iter().flatten().filter_map(|thing| thing.as_str().map(str::to_owned)).collect()
}

#[test]
fn each_kind_of_round_owes_a_reason_for_what_was_not_looked_at() {
    let mut house = House::open();
    house.world.pass_days(1);
    for (number, round) in kinds(&mut house).into_iter().enumerate() {
        let means: BTreeSet<String> = round.means.iter().cloned().collect();
        for (closed, named, looked) in [("bare", false, false), ("named", true, false), ("done", false, true)] {
            house.world.pass_ms(60_000);
            let (id, label) = (house.fresh("round"), format!("{number} {closed}"));
            house.note("round.opened", &id, &json!({"label": label, "what": round.what, "tanks": round.tanks}));
            house.world.pass_ms(60_000);
            for (kind, subject, data) in round.looks.iter().filter(|_| looked) {
                house.note(kind, subject, data);
            }
            house.world.pass_ms(60_000);
            let why = |which: &String| json!({"which": which, "reason": "no time"});
            let not_looked_at: Vec<Value> = round.means.iter().filter(|_| named).map(why).collect();
            let odd = house.odd(Who::Keeper, "round.closed", &id, &json!({"not_looked_at": not_looked_at}));
            let unaccounted = closed == "bare";
            let wanted = if unaccounted { vec!["round closed, something neither looked at nor named"] } else { Vec::new() };
            assert_eq!(odd, wanted, "{} {closed}", round.what);
            let read = house.item(&format!("/v1/rounds/{}", &id["round/".len()..]));
            let (seen, left) = (set(&read["looked_at"]), set(&read["not_yet"]));
            assert_eq!(seen, if looked { means.clone() } else { BTreeSet::new() }, "{} {closed}", round.what);
            assert_eq!(left, if unaccounted { means.clone() } else { BTreeSet::new() }, "{} {closed}", round.what);
        }
    }
}

#[test]
fn a_reason_is_named_for_each_and_a_tank_stands_for_what_is_in_it() {
    let mut house = House::open();
    let (trays, nursery) = (house.trays.clone(), house.nursery.clone());
    let (first, second) = (house.egg("E1"), house.egg("E2"));
    let shark = house.animal("F1", &nursery);
    house.world.pass_ms(60_000);
    let round = house.fresh("round");
    house.note("round.opened", &round, &json!({"label": "r", "what": "candling", "tanks": [trays]}));
    house.world.pass_ms(60_000);
    // A case that has hatched needs no look; one that is gone was looked for.
    let young = house.fresh("animal");
    let hatch = json!({"how_known": "found hatched", "young": [{"animal": young, "state": "alive", "label": "Y1", "tank": nursery}]});
    house.note("egg.hatched", &first, &hatch);
    house.note("egg.missing", &second, &json!({"noticed_at": "the daily look"}));
    house.note("round.closed", &round, &json!({"not_looked_at": []}));
    let bare = json!({"not_looked_at": [{"which": shark}]});
    let feeding = house.fresh("round");
    house.note("round.opened", &feeding, &json!({"label": "f", "what": "feeding", "tanks": [nursery]}));
    assert_eq!(house.world.refusal(Who::Keeper, "round.closed.v1", &feeding, &bare), "body-malformed", "no reason");
    let other = json!({"not_looked_at": [{"which": "tank/01JDH3G6C0TANK000000000001", "reason": "no time"}]});
    let unknown = ["names something unknown", "round closed, something neither looked at nor named"];
    let again = house.fresh("round");
    house.note("round.opened", &again, &json!({"label": "g", "what": "feeding", "tanks": [nursery]}));
    assert_eq!(house.odd(Who::Keeper, "round.closed", &again, &other), unknown);
    house.note("round.closed", &feeding, &json!({"not_looked_at": [{"which": nursery, "reason": "left in peace"}]}));
    assert_eq!(house.item("/v1/rounds/f")["not_yet"], json!([]), "{young} and {shark} are in the tank that is named");
}
