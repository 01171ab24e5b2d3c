//! Rounds, duty, incidents, samples and documents.

use super::House;
use selachron_tests::world::Who;
use serde_json::json;

#[test]
fn a_round_accounts_for_every_case() {
    let mut house = House::open();
    let trays = house.trays.clone();
    let (looked, missed) = (house.egg("E1"), house.egg("E2"));
    house.world.pass_days(1);
    let round = house.fresh("round");
    house.note("round.opened", &round, &json!({"label": "Mon", "what": "candling", "tanks": [trays]}));
    house.world.pass_ms(60_000);
    house.note("egg.candled", &looked, &json!({"seen_into": true, "band": 2, "movement": "moving"}));
    let read = house.item("/v1/rounds/Mon");
    assert_eq!((&read["looked_at"], &read["not_yet"]), (&json!([looked]), &json!([missed])));
    assert!(read["closed"].is_null());
    house.world.pass_ms(60_000);
    let close = house.world.record(Who::Keeper, "round.closed.v1", &round, &json!({"not_looked_at": []}));
    let unaccounted = "round closed, something neither looked at nor named";
    assert_eq!(house.kinds(&close.discrepancies), [unaccounted]);
    // It was looked at, and the note of it waited on another tablet.
    house.world.pass_ms(60_000);
    let named = json!({"not_looked_at": [{"which": missed, "reason": "left in peace"}]});
    assert_eq!(house.odd(Who::Keeper, "round.closed", &round, &named), ["closed twice"]);
    house.note("record.retracted", &round, &json!({"target": close.id, "reason": "closed too early"}));
    assert_eq!(house.all_odd(), [""; 0]);
    assert_eq!(house.item("/v1/rounds/Mon")["closed"]["not_looked_at"][0]["reason"], "left in peace");
    let walk = house.fresh("round");
    house.note("round.opened", &walk, &json!({"label": "walk", "what": "daily walk", "tanks": [trays]}));
    house.note("tank.checked", &trays, &json!({"all_well": true}));
    house.note("round.closed", &walk, &json!({"not_looked_at": []}));
    assert_eq!(house.item("/v1/rounds/walk")["looked_at"], json!([trays]));
}

#[test]
fn duty_is_handed_over_with_what_matters() {
    let mut house = House::open();
    let (egg, to) = (house.egg("E1"), house.world.hand(Who::SecondKeeper).person.clone());
    house.note("duty.handed_over", "collection", &json!({"to": to, "matters": [{"words": "slits open since noon", "about": egg}]}));
    let duty = house.world.read("/v1/duty", &[])["items"].clone();
    assert_eq!((&duty[0]["to"], &duty[0]["matters"][0]["about"]), (&json!(to), &json!(egg)));
    assert_eq!(duty[0]["from"], json!(house.world.hand(Who::Keeper).person));
    assert!(house.history("/v1/eggs/E1").contains(&"duty.handed_over.v1".to_owned()), "the case's history tells of it");
}

#[test]
fn an_incident_is_opened_noted_and_closed_once() {
    let mut house = House::open();
    let (trays, incident) = (house.trays.clone(), house.fresh("incident"));
    let opened = json!({"label": "power", "what": "power failure", "summary": "no current from 02:10 to 04:30", "about": [trays]});
    house.note("incident.opened", &incident, &opened);
    house.note("incident.noted", &incident, &json!({"words": "oxygen back at 92 %", "about": [trays]}));
    assert!(house.item("/v1/incidents/power")["closed"].is_null());
    let closed = json!({"outcome": "nothing lost", "cause": "a tripped breaker"});
    assert_eq!(house.world.refusal(Who::Trainee, "incident.closed.v1", &incident, &closed), "not-permitted");
    house.note("incident.closed", &incident, &closed);
    assert_eq!(house.odd(Who::Curator, "incident.closed", &incident, &closed), ["closed twice"]);
    let read = house.item("/v1/incidents/power");
    assert_eq!((&read["notes"][0]["words"], &read["closed"]["cause"]), (&json!("oxygen back at 92 %"), &json!("a tripped breaker")));
    assert!(house.history("/v1/tanks/Trays").contains(&"incident.opened.v1".to_owned()));
}

#[test]
fn a_result_is_the_laboratorys_or_the_veterinarians_word() {
    let mut house = House::open();
    let nursery = house.nursery.clone();
    let (shark, sample, document) = (house.animal("F1", &nursery), house.fresh("sample"), house.fresh("document"));
    let blood = json!({"label": "B-1", "what": "blood", "of": [shark]});
    assert_eq!(house.odd(Who::Veterinarian, "sample.taken", &sample, &blood), ["no reference of a licence"]);
    house.note("sample.sent", &sample, &json!({"to": "an invented laboratory", "tests_wanted": ["culture"]}));
    assert_eq!(house.item("/v1/samples/B-1")["state"], "sent");
    let result = json!({"by": "an invented laboratory", "results": [{"test": "culture", "result": "nothing found"}]});
    let copied = house.world.record(Who::Keeper, "sample.reported.v1", &sample, &result);
    assert_eq!(house.kinds(&copied.discrepancies), ["result without laboratory or veterinarian"]);
    let note = house.world.read(&format!("/v1/events/{}", copied.id), &[])["item"].clone();
    let endorsed = json!({"seq": copied.seq, "body_sha256": note["body_sha256"]});
    assert_eq!(house.odd(Who::Veterinarian, "record.endorsed", &sample, &endorsed), [""; 0]);
    assert!(!house.all_odd().contains(&"result without laboratory or veterinarian".to_owned()));
    let file = json!({"label": "cert", "title": "health certificate", "file_sha256": "ab".repeat(32), "about": [shark]});
    house.note("document.attached", &document, &file);
    let read = house.item("/v1/animals/F1");
    assert_eq!((&read["samples"], &read["documents"]), (&json!([sample]), &json!([document])));
    assert_eq!(house.item("/v1/documents/cert")["file_sha256"], json!("ab".repeat(32)));
    assert_eq!(house.item("/v1/samples/B-1")["reports"][0]["results"][0]["result"], "nothing found");
}
