//! Notes that want more than one person's signature: decisions wait for them, facts never do.
//! People and events are invented.

use selachron_cli::answer::Outcome;
use selachron_cli::fault::Fault;
use selachron_cli::offer::Offered;
use selachron_schemas::time::DAY_MS;
use selachron_tests::fixture::{Hand, enrolment, envelope};
use selachron_tests::world::{Who, World};
use serde_json::{Map, Value, json};

fn half_signed(world: &mut World, who: Who, kind: &str, subject: &str, data: &Value) -> (Vec<u8>, String) {
    let now = world.now();
    let body = world.hand(who).body(kind, subject, now, data);
    let author = world.hand(who).clone();
    let text = envelope(&body, &[&author]);
    (body, text)
}

fn policy(world: &mut World) -> (Vec<u8>, String) {
    half_signed(world, Who::Curator, "policy.set.v1", "collection", &json!({"candling_interval_days": 5}))
}

#[track_caller]
fn waits(world: &World, text: &str) -> Value {
    match world.client().offer(text).expect("the service takes it") {
        Offered::Waits(item) => item,
        Offered::Settled(outcome) => panic!("it was to wait: {outcome:?}"),
    }
}

#[track_caller]
fn recorded(world: &World, text: &str) -> u64 {
    match world.client().offer(text).expect("the service takes it") {
        Offered::Settled(outcome) => outcome.recorded().expect("recorded").seq,
        Offered::Waits(item) => panic!("it was to be recorded: {item}"),
    }
}

#[track_caller]
fn refused(world: &World, text: &str) -> String {
    match world.client().offer(text) {
        Err(Fault::Refused(refused)) => refused.name,
        other => panic!("it was to be refused: {other:?}"),
    }
}

/// Ids of what waits for that person's key, and whether it is theirs to sign.
fn shown(world: &mut World, who: Who) -> Vec<(String, bool)> {
    let answer = world.client_of(who).get("/v1/waiting", &[]).expect("the service answers");
    let items = answer["items"].as_array().cloned().unwrap_or_default();
    items.iter().map(|item| (item["id"].as_str().unwrap().to_owned(), item["yours_to_sign"] == json!(true))).collect()
}

fn size(world: &World) -> u64 {
    world.read("/v1/collection", &[])["size"].as_u64().unwrap()
}

#[test]
fn a_decision_waits_until_another_person_has_signed_it() {
    let mut world = World::new();
    let (body, text) = policy(&mut world);
    let before = size(&world);
    let item = waits(&world, &text);
    assert_eq!(item["wants"], json!([{"roles": ["curator", "registrar"], "persons": 1}]));
    assert_eq!(size(&world), before, "nothing is recorded");
    let id = item["id"].as_str().unwrap().to_owned();
    assert_eq!(shown(&mut world, Who::Curator), [(id.clone(), false)], "the author sees it");
    assert_eq!(shown(&mut world, Who::Registrar), [(id.clone(), true)], "whoever may sign sees it");
    assert_eq!(shown(&mut world, Who::Keeper), [], "nobody else does");
    // A signature that does not count leaves it waiting, with that signature.
    let keeper = world.staff.keeper.clone();
    let item = waits(&world, &envelope(&body, &[&world.staff.curator, &keeper]));
    assert_eq!(item["signed_by"].as_array().unwrap().len(), 2);
    // What waits survives a restart.
    world.restart();
    assert_eq!(shown(&mut world, Who::Registrar).len(), 1);
    // The registrar reads it from the service, signs that very body, and it is recorded.
    let item = world.client_of(Who::Registrar).get(&format!("/v1/waiting/{id}"), &[]).expect("the registrar may");
    let seen = selachron_schemas::envelope::Envelope::read(item["envelope"].as_str().unwrap().as_bytes()).unwrap();
    assert_eq!(seen.body, body);
    let seq = recorded(&world, &envelope(&body, &[&world.staff.curator, &world.staff.registrar]));
    assert_eq!(seq, before);
    let leaf = world.read("/v1/events", &[("after", &(seq - 1).to_string())])["items"][0].clone();
    assert_eq!(leaf["signatures"].as_array().unwrap().len(), 3, "with all signatures that were gathered");
    for who in [Who::Curator, Who::Registrar] {
        assert_eq!(shown(&mut world, who), [], "it waits no more");
    }
    // The author's device asks again and gets the receipt, as for any note.
    assert_eq!(recorded(&world, &text), seq);
}

/// DOMAIN section 7: what is missing is written off by a decision of curator and registrar.
#[test]
fn writing_off_waits_for_both_curator_and_registrar() {
    let mut world = World::new();
    let species = world.species("Inventus exemplaris", "invented shark");
    let (adults, trays) = (world.tank("Adults", "adults"), world.tank("Trays", "incubation"));
    let egg = world.egg("A1", &species, &adults, Some(&trays));
    world.record(Who::Keeper, "egg.missing.v1", &egg, &json!({"noticed_at": "a full count"}));
    let before = size(&world);
    for (who, other) in [(Who::Curator, "registrar"), (Who::Registrar, "curator")] {
        let (_, text) = half_signed(&mut world, who, "egg.written_off.v1", &egg, &json!({"reason": "three full counts"}));
        assert_eq!(waits(&world, &text)["wants"], json!([{"roles": [other], "persons": 1}]), "only the other office is asked");
    }
    assert_eq!(size(&world), before, "nothing is recorded");
    let (body, text) = half_signed(&mut world, Who::Curator, "egg.written_off.v1", &egg, &json!({"reason": "three full counts"}));
    waits(&world, &text);
    waits(&world, &envelope(&body, &[&world.staff.curator, &world.staff.keeper]));
    recorded(&world, &envelope(&body, &[&world.staff.curator, &world.staff.registrar]));
    assert_eq!(world.read("/v1/eggs/A1", &[])["item"]["discrepancies"], json!([]));
}

#[test]
fn a_fact_never_waits() {
    let mut world = World::new();
    let species = world.species("Inventus exemplaris", "invented shark");
    let (adults, trays) = (world.tank("Adults", "adults"), world.tank("Trays", "incubation"));
    let egg = world.egg("A1", &species, &adults, Some(&trays));
    let opened = json!({"extent": "end slit widened", "known_dead": false, "left": "closed again", "outcome": "left to hatch",
        "urgent_reason": "young trapped"});
    let (_, text) = half_signed(&mut world, Who::Keeper, "egg.opened.v1", &egg, &opened);
    recorded(&world, &text);
    let due = world.read("/v1/due", &[]);
    let items = due["items"].as_array().unwrap();
    let asked = items.iter().find(|item| item["what"] == json!("sign afterwards")).expect("its signatures are asked for");
    assert_eq!(asked["whose"], json!(["curator", "second person", "veterinarian"]));
}

#[test]
fn what_no_signature_mends_does_not_wait() {
    let mut world = World::new();
    let (_, text) = half_signed(&mut world, Who::Keeper, "policy.set.v1", "collection", &json!({"candling_interval_days": 5}));
    assert_eq!(refused(&world, &text), "not-permitted", "a keeper sets no policy, whoever signs beside");
    assert_eq!(refused(&world, "{}"), "envelope-malformed");
    let (body, first) = policy(&mut world);
    waits(&world, &first);
    // Another body under the same id.
    let mut other: Value = serde_json::from_slice(&body).unwrap();
    other["data"] = json!({"candling_interval_days": 6});
    let other = other.to_string().into_bytes();
    assert_eq!(refused(&world, &envelope(&other, &[&world.staff.curator])), "id-reused");
    // A forged signature changes nothing.
    let stranger = Hand::new(77);
    assert_eq!(refused(&world, &envelope(&body, &[&world.staff.curator, &stranger])), "signer-unknown");
    assert_eq!(shown(&mut world, Who::Registrar).len(), 1);
    let registrar = world.staff.registrar.keyid.to_string();
    let asked = world.client_of(Who::Keeper).get("/v1/waiting", &[("key", &registrar)]).expect_err("with another's key");
    assert!(asked.to_string().contains("ask with a token of"), "{asked}");
}

#[test]
fn what_waits_too_long_is_forgotten() {
    let mut world = World::new();
    let (_, text) = policy(&mut world);
    waits(&world, &text);
    world.pass_ms(14 * DAY_MS);
    assert_eq!(shown(&mut world, Who::Registrar).len(), 1);
    world.pass_ms(1);
    assert_eq!(shown(&mut world, Who::Registrar), []);
}

#[test]
fn an_enrolment_gathers_the_new_keys_signature() {
    let mut world = World::new();
    let new = Hand::new(30);
    let subject = format!("key/{}", new.keyid);
    let (body, text) = half_signed(&mut world, Who::Registrar, "key.enrolled.v1", &subject, &enrolment(&new, "keeper"));
    let item = waits(&world, &text);
    assert_eq!(item["wants"], json!([{"persons": 1, "key": new.keyid.to_string()}]));
    // Its holder reads it here, or is handed it by the registrar, and signs it where the key is.
    assert_eq!(shown(&mut world, Who::Registrar).len(), 1, "its author sees it");
    recorded(&world, &envelope(&body, &[&world.staff.registrar, &world.staff.curator, &new]));
}

#[test]
fn the_house_lets_decisions_wait_for_more_and_never_facts() {
    let mut world = World::new();
    let mut set = |lines: Value| {
        let data = json!({"approvals": lines});
        let outcome = world.say_with(Who::Curator, "policy.set.v1", "collection", &data, &Map::new(), &[Who::Registrar]);
        match outcome {
            Outcome::Recorded(_) => "recorded".to_owned(),
            Outcome::Refused { refused, .. } => format!("{} {}", refused.name, refused.pointer.unwrap_or_default()),
            other => panic!("{other:?}"),
        }
    };
    let line = |kind: &str, roles: &[&str]| json!({"kind": kind, "roles": roles, "persons": 1});
    for fact in ["egg.opened.v1", "egg.candled.v1", "key.revoked.v1", "policy.set.v1", "record.corrected.v1", "no.such.v1"] {
        let lines = json!([line("key.enrolled.v1", &["curator"]), line(fact, &["curator"])]);
        assert_eq!(set(lines), "not-permitted /data/approvals/1/kind", "{fact}");
    }
    let lines =
        [line("key.enrolled.v1", &["curator"]), line("key.enrolled.v1", &["veterinarian"]), line("body.withheld.v1", &["veterinarian"])];
    assert_eq!(set(json!(lines)), "recorded");
    let new = Hand::new(31);
    let subject = format!("key/{}", new.keyid);
    let now = world.now();
    let body = world.staff.registrar.body("key.enrolled.v1", &subject, now, &enrolment(&new, "keeper"));
    let item = waits(&world, &envelope(&body, &[&world.staff.registrar, &new]));
    assert_eq!(item["wants"], json!([{"roles": ["curator"], "persons": 1}, {"roles": ["veterinarian"], "persons": 1}]));
    let item = waits(&world, &envelope(&body, &[&world.staff.registrar, &world.staff.curator]));
    assert_eq!(item["wants"], json!([{"roles": ["veterinarian"], "persons": 1}]), "the new key's signature is kept");
    recorded(&world, &envelope(&body, &[&world.staff.registrar, &world.staff.veterinarian]));
    // A stolen key is stopped by one registrar, whatever the house asks of other changes.
    world.record(Who::Registrar, "key.revoked.v1", &subject, &json!({"reason": "tablet lost"}));
}

#[test]
fn a_note_that_waited_too_long_gathers_its_voucher() {
    let mut world = World::new();
    let species = world.species("Inventus exemplaris", "invented shark");
    let (adults, trays) = (world.tank("Adults", "adults"), world.tank("Trays", "incubation"));
    let egg = world.egg("A1", &species, &adults, Some(&trays));
    let (body, text) = half_signed(&mut world, Who::Keeper, "egg.candled.v1", &egg, &json!({"seen_into": false}));
    world.pass_days(15);
    let item = waits(&world, &text);
    assert_eq!(item["wants"], json!([{"roles": ["registrar"], "persons": 1}]));
    recorded(&world, &envelope(&body, &[&world.staff.keeper, &world.staff.registrar]));
}

#[test]
fn a_registrar_puts_no_own_note_right_alone() {
    let mut world = World::new();
    let system = world.subject("system");
    let own = world.record(Who::Registrar, "system.set_up.v1", &system, &json!({"label": "North", "water": "tropical"}));
    let right = json!({"target": own.id, "reason": "a slip", "replacement": {"data": {"label": "North", "water": "temperate"}}});
    for (kind, data) in [("record.corrected.v1", right), ("record.retracted.v1", json!({"target": own.id, "reason": "a slip"}))] {
        assert_eq!(world.refusal(Who::Registrar, kind, &system, &data), "not-permitted", "{kind}");
        let (body, text) = half_signed(&mut world, Who::Registrar, kind, &system, &data);
        let item = waits(&world, &text);
        assert_eq!(item["wants"][0]["persons"], json!(1));
        recorded(&world, &envelope(&body, &[&world.staff.registrar, &world.staff.curator]));
    }
    // A keeper's note the registrar may put right; a keeper's own is the keeper's to put right.
    let pool = world.tank("Pool", "nursery");
    let note = world.read(&format!("/v1/tanks/{}/history", &pool[5..]), &[])["notes"][0]["id"].clone();
    world.record(Who::Registrar, "record.retracted.v1", &pool, &json!({"target": note, "reason": "there is no such pool"}));
}
