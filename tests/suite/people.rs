//! Keys from their enrolment to their end, told through the real service: proof of possession,
//! expiry, rotation, revocation, several people on one device, a stolen key; then names, and
//! bodies that are withheld. People and events are invented.

use selachron_cli::answer::Outcome;
use selachron_schemas::time::{DAY_MS, HOUR_MS};
use selachron_tests::fixture::{Hand, enrolment, envelope};
use selachron_tests::world::{Who, World};
use serde_json::{Map, Value, json};

fn candled(band: u8) -> Value {
    json!({"seen_into": true, "band": band, "movement": "moving"})
}

fn world_with_an_egg() -> (World, String) {
    let mut world = World::new();
    let species = world.species("Inventus exemplaris", "invented shark");
    let (adults, trays) = (world.tank("Adults", "adults"), world.tank("Trays", "incubation"));
    let egg = world.egg("A1", &species, &adults, Some(&trays));
    (world, egg)
}

/// What the service says of an envelope: `recorded`, or the problem's name.
fn said(outcome: Outcome) -> String {
    match outcome {
        Outcome::Recorded(_) => "recorded".to_owned(),
        Outcome::Refused { refused, .. } => refused.name,
        other => panic!("neither recorded nor refused: {other:?}"),
    }
}

/// The registrar enrols a key; `signers` sign beside the registrar.
fn enrol(world: &mut World, new: &Hand, data: &Value, signers: &[&Hand]) -> String {
    let now = world.now();
    let body = world.staff.registrar.body("key.enrolled.v1", &format!("key/{}", new.keyid), now, data);
    let registrar = world.staff.registrar.clone();
    said(world.post(&envelope(&body, &[&[&registrar], signers].concat())))
}

fn candle_by(world: &mut World, hand: &mut Hand, egg: &str) -> String {
    let body = hand.body("egg.candled.v1", egg, world.now(), &candled(3));
    said(world.post(&envelope(&body, &[hand])))
}

fn kinds(world: &World) -> Vec<String> {
    let items = world.read("/v1/discrepancies", &[])["items"].as_array().cloned().unwrap_or_default();
    items.iter().filter(|item| item["open"] == json!(true)).filter_map(|item| item["kind"].as_str().map(str::to_owned)).collect()
}

#[test]
fn a_key_comes_with_proof_that_somebody_holds_it_and_with_a_second_person() {
    let (mut world, egg) = world_with_an_egg();
    let mut new = Hand::new(20);
    let curator = world.staff.curator.clone();
    let data = enrolment(&new, "keeper");
    assert_eq!(enrol(&mut world, &new, &data, &[&curator]), "not-permitted", "the new key has not signed");
    let holder = new.clone();
    assert_eq!(enrol(&mut world, &new, &data, &[&holder]), "recorded", "one registrar and the new key: recorded, and asked about");
    assert_eq!(kinds(&world), ["key enrolled on one person's word"]);
    let seq = world.read("/v1/collection", &[])["size"].as_u64().unwrap() - 1;
    let leaf = world.read("/v1/events", &[("after", &(seq - 1).to_string())])["items"][0].clone();
    let endorsed = json!({"seq": seq, "body_sha256": leaf["body_sha256"]});
    world.record(Who::Veterinarian, "record.endorsed.v1", &format!("key/{}", new.keyid), &endorsed);
    assert_eq!(kinds(&world), [""; 0]);
    assert_eq!(enrol(&mut world, &new, &data, &[&curator, &holder]), "not-permitted", "a key is enrolled once");
    assert_eq!(candle_by(&mut world, &mut new, &egg), "recorded");
}

#[test]
fn a_registrar_gives_no_further_key_to_themselves_alone() {
    let mut world = World::new();
    let mut second = Hand::new(21);
    second.person.clone_from(&world.staff.registrar.person);
    let (data, holder, curator) = (enrolment(&second, "keeper"), second.clone(), world.staff.curator.clone());
    assert_eq!(enrol(&mut world, &second, &data, &[&holder]), "not-permitted");
    assert_eq!(enrol(&mut world, &second, &data, &[&holder, &curator]), "recorded");
}

#[test]
fn a_key_expires_and_another_takes_its_place() {
    let (mut world, egg) = world_with_an_egg();
    let (mut old, mut new) = (Hand::new(22), Hand::new(23));
    new.person.clone_from(&old.person);
    let curator = world.staff.curator.clone();
    let mut data = enrolment(&old, "keeper");
    data["valid_until"] = json!(world.now().plus_ms(DAY_MS).utc_text());
    let holder = old.clone();
    assert_eq!(enrol(&mut world, &old, &data, &[&holder, &curator]), "recorded");
    world.pass_ms(DAY_MS - HOUR_MS);
    assert_eq!(candle_by(&mut world, &mut old, &egg), "recorded");
    // The tablet was out of reach for two hours: signed in time, recorded too late.
    let body = old.body("egg.candled.v1", &egg, world.now(), &candled(3));
    world.pass_ms(2 * HOUR_MS);
    assert_eq!(said(world.post(&envelope(&body, &[&old]))), "key-not-in-force");
    let registrar = world.staff.registrar.clone();
    assert_eq!(said(world.post(&envelope(&body, &[&old, &registrar]))), "recorded", "a registrar vouches for it");
    let history = world.read(&format!("/v1/eggs/{}/history", &egg[4..]), &[]);
    let last = history["notes"].as_array().unwrap().last().unwrap().clone();
    assert_eq!(last["vouched_for_by"], json!([registrar.person]));
    assert_eq!(last["waited_minutes"], json!(120));
    let (data, holder) = (enrolment(&new, "keeper"), new.clone());
    assert_eq!(enrol(&mut world, &new, &data, &[&holder, &curator]), "recorded", "the same person's next key");
    assert_eq!(candle_by(&mut world, &mut new, &egg), "recorded");
    let people = world.read("/v1/people", &[]);
    let person = people["items"].as_array().unwrap().iter().find(|item| item["person"] == json!(old.person)).unwrap().clone();
    assert_eq!((person["keys"].as_array().unwrap().len(), &person["roles"]), (2, &json!(["keeper"])));
}

#[test]
fn several_people_share_a_device_and_each_signs_with_an_own_key() {
    let (mut world, egg) = world_with_an_egg();
    let curator = world.staff.curator.clone();
    let mut hands = [Hand::new(24), Hand::new(25)];
    for hand in &mut hands {
        let mut data = enrolment(hand, "keeper");
        data["device"] = json!("tablet at the warm trays");
        let holder = hand.clone();
        assert_eq!(enrol(&mut world, hand, &data, &[&holder, &curator]), "recorded");
    }
    for hand in &mut hands {
        assert_eq!(candle_by(&mut world, hand, &egg), "recorded", "each with a count of its own, from 1");
        world.pass_ms(HOUR_MS);
    }
    let history = world.read(&format!("/v1/eggs/{}/history", &egg[4..]), &[]);
    let by: Vec<&str> = history["notes"].as_array().unwrap()[1..].iter().filter_map(|note| note["by"]["person"].as_str()).collect();
    assert_eq!(by, hands.iter().map(|hand| hand.person.as_str()).collect::<Vec<_>>());
    assert_eq!(kinds(&world), [""; 0]);
}

#[test]
fn a_trainees_notes_are_marked_until_a_colleague_endorses_them() {
    let (mut world, egg) = world_with_an_egg();
    let noted = world.record(Who::Trainee, "egg.candled.v1", &egg, &candled(2));
    assert_eq!(kinds(&world), ["trainee's note not endorsed"]);
    let event = world.read(&format!("/v1/events/{}", noted.id), &[]);
    let data = json!({"seq": noted.seq, "body_sha256": event["item"]["body_sha256"]});
    assert_eq!(world.refusal(Who::Trainee, "record.endorsed.v1", &egg, &data), "not-permitted");
    world.record(Who::SecondKeeper, "record.endorsed.v1", &egg, &data);
    assert_eq!(kinds(&world), [""; 0]);
}

#[test]
fn notes_of_a_stolen_key_are_marked_wherever_they_are_read() {
    let (mut world, egg) = world_with_an_egg();
    world.pass_days(1);
    world.record(Who::Keeper, "egg.candled.v1", &egg, &candled(2));
    let stolen_at = world.now().plus_ms(HOUR_MS);
    world.pass_ms(2 * HOUR_MS);
    let strange = world.record(Who::Keeper, "egg.candled.v1", &egg, &candled(5));
    let before = world.read("/v1/collection", &[])["size"].as_u64().unwrap();
    let keyid = world.staff.keeper.keyid;
    let revoked = json!({"reason": "tablet stolen", "suspected_since": stolen_at.utc_text()});
    world.record(Who::Registrar, "key.revoked.v1", &format!("key/{keyid}"), &revoked);
    let id = json!(strange.id);
    let ulid = &egg[4..];
    // The item, its history, the note, lists, figures: all say how many such notes lie behind them.
    for path in [&format!("/v1/eggs/{ulid}"), &format!("/v1/eggs/{ulid}/history"), "/v1/eggs", "/v1/events", "/v1/figures/hatch-rates"] {
        assert_eq!(world.read(path, &[])["suspected"], json!(1), "{path}");
        assert_eq!(world.read(path, &[("known_at", &before.to_string())])["suspected"], json!(0), "{path}: not known yet");
    }
    let history = world.read(&format!("/v1/eggs/{ulid}/history"), &[]);
    let marked: Vec<&Value> = history["notes"].as_array().unwrap().iter().filter(|note| note["suspected"] == json!(true)).collect();
    assert!(marked.len() == 1 && marked[0]["id"] == id, "{marked:?}");
    assert_eq!(world.read(&format!("/v1/events/{}", strange.id), &[])["item"]["suspected"], json!(true));
    let item = world.read(&format!("/v1/eggs/{ulid}"), &[]);
    assert!(item["item"]["discrepancies"].as_array().unwrap().iter().any(|found| found["suspected"] == json!([id])));
    let listed = world.read("/v1/discrepancies", &[]);
    assert!(listed["items"].as_array().unwrap().iter().any(|found| found["suspected"] == json!([id])));
    world.pass_days(8);
    let due = world.read("/v1/due", &[]);
    let candle = due["items"].as_array().unwrap().iter().find(|item| item["what"] == json!("candle")).unwrap().clone();
    assert_eq!(candle["suspected"], json!([id]), "the look that the next one counts from is in doubt");
    let report = world.read("/v1/reports/annual/2025", &[]);
    assert_eq!(report["suspected"], json!([id]));
    let html = world.client().get_text("/v1/reports/annual/2025", &[("format", "html")], "text/html").unwrap();
    assert!(html.contains("By a key under suspicion") && html.contains(&strange.id), "the page names the note");
}

/// What is printed and what is drawn says so too, from the moment on at which it is known.
#[test]
fn sheets_and_drawings_mark_the_notes_of_a_stolen_key() {
    let (mut world, egg) = world_with_an_egg();
    world.pass_days(1);
    let stolen_at = world.now().plus_ms(HOUR_MS);
    world.pass_ms(2 * HOUR_MS);
    let strange = world.record(Who::Keeper, "egg.candled.v1", &egg, &candled(5));
    let before = world.read("/v1/collection", &[])["size"].as_u64().unwrap().to_string();
    let now = world.now().utc_text();
    let revoked = json!({"reason": "tablet stolen", "suspected_since": stolen_at.utc_text()});
    let keyid = world.staff.keeper.keyid;
    world.record(Who::Registrar, "key.revoked.v1", &format!("key/{keyid}"), &revoked);
    let line = |world: &World, more: &[(&str, &str)]| {
        world.read("/v1/rounds/sheet", &[&[("tray", "Trays")], more].concat())["item"]["places"][0]["cases"][0].clone()
    };
    assert_eq!(line(&world, &[])["suspected"], json!([strange.id]), "the look that the sheet shows");
    assert_eq!(line(&world, &[("known_at", &before)])["suspected"], Value::Null, "not known yet");
    let text = |path: &str, media: &str, more: &[(&str, &str)]| world.client().get_text(path, more, media).expect("an answer");
    let ulid = &egg[4..];
    let words = "1 of the notes behind it was recorded while its author&#39;s key was suspected.";
    let drawn = |path: &str, more: &[(&str, &str)]| text(path, "image/svg+xml", &[&[("format", "svg")], more].concat());
    for path in [
        "/v1/figures/hatch-rates",
        "/v1/figures/egg-fates",
        "/v1/figures/rearing",
        "/v1/forecast",
        &format!("/v1/eggs/{ulid}/forecast"),
        "/v1/tanks/Trays/water",
    ] {
        let svg = drawn(path, &[]);
        assert_eq!(svg.matches(words).count(), 2, "seen and described: {path} {svg}");
        assert!(!drawn(path, &[("known_at", &before)]).contains("suspected"), "{path}: not known yet");
    }
    let printed = |more: &[(&str, &str)]| text("/v1/rounds/sheet", "text/html", &[&[("tray", "Trays"), ("format", "html")], more].concat());
    let page = printed(&[]);
    assert!(page.contains(words) && page.contains("band 5, moving (suspected)"), "{page}");
    let then = printed(&[("known_at", &before), ("as_of", &now)]);
    assert!(then.contains("band 5, moving</td>") && !then.contains("suspected"), "{then}");
}

#[test]
fn names_stand_beside_the_log_and_nowhere_in_it() {
    let mut world = World::new();
    let person = world.staff.keeper.person.clone();
    let file = world.log_folder().join("people.toml");
    let name = |world: &World| -> Value {
        let people = world.read("/v1/people", &[]);
        people["items"].as_array().unwrap().iter().find(|item| item["person"] == json!(person)).unwrap()["name"].clone()
    };
    assert_eq!(name(&world), Value::Null);
    std::fs::write(&file, format!("[people]\n\"{person}\" = \"Invented Keeper\"\n")).unwrap();
    assert_eq!(name(&world), json!("Invented Keeper"));
    std::fs::write(&file, format!("[people]\n\"{person}\" = \"Invented Colleague\"\n")).unwrap();
    assert_eq!(name(&world), json!("Invented Colleague"), "an edit counts at once");
    world.tank("T1", "nursery");
    let bundle = tempfile::tempdir().unwrap();
    let folder = bundle.path().join("bundle");
    world.client().bundle(&folder).unwrap();
    let envelopes = std::fs::read_to_string(folder.join("envelopes.ndjson")).unwrap();
    assert!(!envelopes.contains("Invented Colleague") && !folder.join("people.toml").exists());
    let report = world.client().get_text("/v1/reports/annual/2025", &[], "application/json").unwrap();
    assert!(report.contains(&person) && !report.contains("Invented Colleague"));
    std::fs::write(&file, "[people]\nkeeper = 1").unwrap();
    assert!(world.client().get("/v1/people", &[]).is_err(), "a list that cannot be read is said to be so");
    std::fs::remove_file(&file).unwrap();
}

/// A hatch, and what withholding its body would say; with a replacement or without.
fn withholding(world: &World, hatch: &selachron_cli::answer::Recorded, replacement: Option<Value>) -> Value {
    let event = world.read(&format!("/v1/events/{}", hatch.id), &[])["item"]["event"].clone();
    let mut data = json!({"seq": hatch.seq, "id": hatch.id, "kind": event["type"], "subject": event["subject"], "time": event["time"],
        "keyid": event["keyid"], "keycount": event["keycount"], "reason": "a visitor's name stood in it", "authority": "privacy rule"});
    if let Some(replacement) = replacement {
        data["replacement"] = replacement;
    }
    data
}

#[test]
fn whoever_withholds_a_hatch_names_its_young_again() {
    let (mut world, egg) = world_with_an_egg();
    let young = world.subject("animal");
    let told =
        json!({"how_known": "found hatched", "young": [{"animal": young, "state": "alive", "label": "Y1"}], "remark": "seen by a visitor"});
    let hatch = world.record(Who::Keeper, "egg.hatched.v1", &egg, &told);
    let say = |world: &mut World, data: &Value| {
        said(world.say_with(Who::Registrar, "body.withheld.v1", "collection", data, &Map::new(), &[Who::Curator]))
    };
    let empty = json!({"how_known": "found hatched", "young": []});
    for replacement in [None, Some(empty)] {
        let data = withholding(&world, &hatch, replacement);
        assert_eq!(say(&mut world, &data), "not-permitted", "nobody could tell afterwards who the young are");
    }
    let replacement = json!({"how_known": "found hatched", "young": [{"animal": young, "state": "alive"}]});
    let data = withholding(&world, &hatch, Some(replacement));
    assert_eq!(said(world.say(Who::Registrar, "body.withheld.v1", "collection", &data)), "not-permitted", "a second person is needed");
    assert_eq!(say(&mut world, &data), "recorded");
    // Whoever starts anew knows the young still: it can be fed, and the bundle verifies.
    world.restart();
    world.record(Who::Keeper, "animal.fed.v1", &young, &json!({"offered": [{"food": "chopped prawn"}], "eaten": "all"}));
    let audit = world.verify();
    assert!(audit.findings.iter().all(|finding| !finding.says.contains("can no longer be told")), "{:?}", audit.findings);
}
