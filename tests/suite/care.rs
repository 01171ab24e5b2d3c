//! Cases and animals through the real client and the real service: put down, missing, found,
//! escaped; openings authorised by two people; and what the annual report makes of it.

use selachron_tests::world::{Who, World};
use serde_json::{Map, Value, json};

const YEAR: &str = "/v1/reports/annual/2025";

fn animal(world: &mut World, label: &str, species: &str) -> String {
    let animal = world.subject("animal");
    let data =
        json!({"label": label, "species": species, "sex": "female", "from": "another house", "state": "alive", "origin": "bred in care"});
    world.record(Who::Keeper, "animal.received.v1", &animal, &data);
    animal
}

fn approved(world: &mut World, by: Who, kind: &str, subject: &str, data: &Value, with: Who) {
    world.say_with(by, kind, subject, data, &Map::new(), &[with]).recorded().unwrap_or_else(|fault| panic!("{kind}: {fault}"));
}

#[test]
fn what_is_put_down_or_missing_has_lines_of_its_own_in_the_ledger() {
    let mut world = World::new();
    let species = world.species("Inventus exemplaris", "invented shark");
    let (adults, tray) = (world.tank("Adults", "adults"), world.tank("Tray 1", "incubation"));
    let eggs: Vec<String> = (1..=4).map(|n| world.egg(&format!("E-{n}"), &species, &adults, Some(&tray))).collect();
    let clutch = world.subject("clutch");
    let formed = json!({"label": "C-1", "eggs": [eggs[0], eggs[1]], "basis": "seen laid together"});
    world.record(Who::Keeper, "clutch.formed.v1", &clutch, &formed);
    world.pass_days(20);
    let curator = world.staff.curator.person.clone();
    let down = json!({"decided_by": [curator], "reason": "programme advice", "alive": "yes"});
    world.record(Who::Curator, "egg.put_down.v1", &eggs[0], &down);
    for egg in &eggs[1..3] {
        world.record(Who::Keeper, "egg.missing.v1", egg, &json!({"noticed_at": "a full count"}));
    }
    world.pass_days(1);
    world.record(Who::Keeper, "egg.found.v1", &eggs[1], &json!({"where": "filter"}));
    let off = json!({"reason": "three full counts"});
    assert_eq!(world.refusal(Who::Curator, "egg.written_off.v1", &eggs[2], &off), "not-permitted");
    approved(&mut world, Who::Curator, "egg.written_off.v1", &eggs[2], &off, Who::Registrar);

    let told = world.read("/v1/clutches/C-1", &[]);
    assert_eq!(told["item"]["eggs"].as_array().map(Vec::len), Some(2), "{told}");
    assert_eq!(world.read("/v1/eggs/E-1", &[])["item"]["clutch"], json!(clutch));
    let rate = world.read("/v1/figures/hatch-rates", &[])["collected"][0].clone();
    let counts = ["n", "open", "put_down", "put_down_alive", "missing", "end_not_known"].map(|name| rate[name].as_u64());
    assert_eq!(counts, [Some(3), Some(2), Some(1), Some(1), Some(1), Some(1)], "{rate}");
    let report = world.read(YEAR, &[]);
    let line = &report["ledger"]["total"];
    let cells = ["collected", "found_again", "put_down", "missing", "end"].map(|name| line[name].as_i64());
    assert_eq!(cells, [Some(4), Some(1), Some(1), Some(2), Some(2)], "{line}");
    assert_eq!(report["completeness"]["failing"], json!([]));
    assert_eq!(report["losses"]["cases"], json!(0), "nothing put down or missing is a loss");
    assert_eq!(report["losses"]["cases_put_down_alive"], json!(1));
}

#[test]
fn the_missing_the_escaped_and_the_returned_add_up_in_the_stock_list() {
    let mut world = World::new();
    let species = world.species("Inventus exemplaris", "invented shark");
    let animals: Vec<String> = (1..=5).map(|n| animal(&mut world, &format!("F-{n}"), &species)).collect();
    world.pass_days(3);
    world.record(Who::Keeper, "animal.missing.v1", &animals[0], &json!({"noticed_at": "a full count"}));
    world.record(Who::Keeper, "animal.missing.v1", &animals[1], &json!({"noticed_at": "a full count"}));
    world.record(Who::Keeper, "animal.escaped.v1", &animals[2], &json!({"how": "over the edge", "into": "the building"}));
    world.record(Who::Keeper, "animal.departed.v1", &animals[3], &json!({"to": "another house", "reason": "loan", "alive": "alive"}));
    world.pass_days(1);
    world.record(Who::Keeper, "animal.found.v1", &animals[1], &json!({"where": "sump"}));
    world.record(Who::Keeper, "animal.recaptured.v1", &animals[2], &json!({"where": "floor"}));
    world.record(Who::Keeper, "animal.returned.v1", &animals[3], &json!({"from": "another house", "reason": "end of a loan"}));
    // Writing off is a decision, of an animal as of a case: it waits for a second person.
    let off = json!({"reason": "three full counts"});
    assert_eq!(world.refusal(Who::Curator, "animal.written_off.v1", &animals[0], &off), "not-permitted");
    approved(&mut world, Who::Curator, "animal.written_off.v1", &animals[0], &off, Who::Registrar);
    let report = world.read(YEAR, &[]);
    let line = &report["stock"]["total"];
    let cells = ["arrived", "departed", "missing", "found", "escaped", "recaptured", "end"].map(|name| line[name][1].as_i64());
    assert_eq!(cells, [Some(6), Some(1), Some(2), Some(1), Some(1), Some(1), Some(4)], "{line}");
    assert_eq!((&line["died_other"], &report["completeness"]["failing"]), (&json!([0, 0, 0]), &json!([])));
    assert_eq!(world.read("/v1/animals/F-1", &[])["item"]["fate"]["state"], json!("missing"));
}

#[test]
fn an_opening_is_authorised_by_two_people_and_the_authorisation_is_withdrawn_by_one() {
    let mut world = World::new();
    let keeper = world.staff.keeper.person.clone();
    let now = world.now();
    let (from, to) = (now.utc_text(), now.plus_ms(selachron_schemas::time::DAY_MS * 30).utc_text());
    let data = json!({"criteria": ["band 7"], "persons": [keeper], "from": from, "to": to});
    assert_eq!(world.refusal(Who::Keeper, "opening.authorised.v1", "collection", &data), "not-permitted");
    assert_eq!(world.refusal(Who::Curator, "opening.authorised.v1", "collection", &data), "not-permitted");
    approved(&mut world, Who::Curator, "opening.authorised.v1", "collection", &data, Who::Veterinarian);
    let given = world.read("/v1/collection", &[])["opening_authorisations"][0].clone();
    assert_eq!(given["in_force"], json!(true), "{given}");
    let withdrawn = json!({"authorisation": given["given"]["event"], "reason": "under review"});
    world.record(Who::Veterinarian, "opening.withdrawn.v1", "collection", &withdrawn);
    let given = world.read("/v1/collection", &[])["opening_authorisations"][0].clone();
    assert_eq!((given["in_force"].clone(), given["withdrawn"].is_object()), (json!(false), true), "{given}");
}
