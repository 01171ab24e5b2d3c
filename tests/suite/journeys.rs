//! Journeys through the whole: a person, the client, the service, the auditor. Every one ends with
//! the audit of [`World`].

use selachron_cli::answer::Outcome;
use selachron_schemas::audit::trust::{Kept, Trust};
use selachron_schemas::time::Instant;
use selachron_tests::fixture::{Hand, envelope};
use selachron_tests::world::{Who, World};
use serde_json::{Map, Value, json};
use std::io::{Read as _, Write as _};
use std::net::TcpStream;

fn candled(band: u8) -> Value {
    json!({"seen_into": true, "band": band, "movement": "moving"})
}

fn world_with_an_egg() -> (World, String) {
    let mut world = World::new();
    let species = world.species("Chiloscyllium punctatum", "brownbanded bamboo shark");
    let (adults, trays) = (world.tank("Adults", "adults"), world.tank("Trays", "incubation"));
    let egg = world.egg("A1", &species, &adults, Some(&trays));
    (world, egg)
}

/// What the service answers to a request written by hand: status and problem.
fn raw(world: &World, content_type: &str, body: &[u8]) -> (String, Value) {
    let mut stream = TcpStream::connect(world.service().addr()).expect("the service listens");
    let head = format!(
        "POST /v1/events HTTP/1.1\r\nHost: test\r\nConnection: close\r\nContent-Type: {content_type}\r\nContent-Length: {}\r\n\r\n",
        body.len()
    );
    stream.write_all(head.as_bytes()).expect("a head goes out");
    // The service may answer and close before all of a huge body is written.
    let _ = stream.write_all(body);
    let mut answer = Vec::new();
    let _ = stream.read_to_end(&mut answer);
    let answer = String::from_utf8_lossy(&answer).into_owned();
    let (head, body) = answer.split_once("\r\n\r\n").expect("a head and a body");
    let status = head.split(' ').nth(1).unwrap_or_default().to_owned();
    (status, serde_json::from_str(body).unwrap_or(Value::Null))
}

fn size(world: &World) -> u64 {
    world.read("/v1/collection", &[])["size"].as_u64().expect("a size")
}

#[test]
fn bad_input_gets_one_clear_sentence_and_changes_nothing() {
    let (mut world, egg) = world_with_an_egg();
    let before = size(&world);
    let now = world.now();
    let deep = {
        let data = json!({"how_known": "found hatched", "young": [{"animal": world.subject("animal"), "state": "asleep"}]});
        let body = world.hand(Who::Keeper).body("egg.hatched.v1", &egg, now, &data);
        envelope(&body, &[world.hand(Who::Keeper)])
    };
    let mut stranger = Hand::new(99);
    let unknown = envelope(&stranger.body("egg.candled.v1", &egg, now, &candled(2)), &[&stranger]);
    let future = {
        let time = Instant::parse("2099-01-01T00:00:00Z").expect("a time");
        envelope(&world.hand(Who::Keeper).body("egg.candled.v1", &egg, time, &candled(2)), &[world.hand(Who::Keeper)])
    };
    let huge = vec![b'x'; 20 * 1024 * 1024];
    let cases: [(&str, &[u8], &str, &str, &str); 6] = [
        ("truncated JSON", b"{\"payloadType\":\"appl", "400", "envelope-malformed", "envelope"),
        ("20 MB", &huge, "413", "too-large", "bytes"),
        ("a violation deep inside", deep.as_bytes(), "400", "body-malformed", "asleep"),
        ("an unknown key", unknown.as_bytes(), "401", "signer-unknown", "registrar"),
        ("the year 2099", future.as_bytes(), "422", "time-in-future", "2099"),
        ("nothing", b"", "400", "envelope-malformed", "envelope"),
    ];
    for (what, body, status, name, says) in cases {
        let (found, problem) = raw(&world, "application/json", body);
        assert_eq!((found.as_str(), problem["status"].as_u64()), (status, status.parse().ok()), "{what}: {problem}");
        let kind = problem["type"].as_str().unwrap_or_default();
        assert!(kind.ends_with(name), "{what}: {problem}");
        assert!(problem["detail"].as_str().unwrap_or_default().contains(says), "{what}: {problem}");
    }
    let (_, problem) = raw(&world, "application/json", deep.as_bytes());
    assert_eq!(problem["pointer"], "/data/young/0/state", "the member at fault is named");
    assert_eq!(size(&world), before, "nothing was recorded");
}

#[test]
fn an_id_is_taken_for_ever_and_a_repeat_gets_the_same_leaf() {
    let (mut world, egg) = world_with_an_egg();
    let now = world.now();
    let body = world.hand(Who::Keeper).body("egg.candled.v1", &egg, now, &candled(2));
    let other = String::from_utf8(body.clone()).expect("text").replace("\"band\":2", "\"band\":3");
    let sent = envelope(&body, &[world.hand(Who::Keeper)]);
    let forged = envelope(other.as_bytes(), &[world.hand(Who::Keeper)]);
    let first = world.post(&sent).recorded().expect("recorded");
    world.record(Who::Curator, "system.set_up.v1", "system/01JDH3G6C0SYST000000000001", &json!({"label": "S", "water": "tropical"}));
    world.restart();
    let again = world.post(&sent).recorded().expect("a repeat is recorded");
    assert_eq!((first.seq, first.recorded_at, first.subject_version), (again.seq, again.recorded_at, again.subject_version));
    let Outcome::Refused { refused, .. } = world.post(&forged) else { panic!("another body under the same id was taken") };
    assert_eq!(refused.name, "id-reused");
}

#[test]
fn a_decision_taken_on_an_old_view_is_refused() {
    let (mut world, egg) = world_with_an_egg();
    world.record(Who::Keeper, "egg.candled.v1", &egg, &candled(2));
    let expect = |version: u32| Map::from_iter([("expect".to_owned(), json!(version))]);
    let moved = json!({"reason": "no movement seen"});
    let outcome = world.say_with(Who::Curator, "egg.held_apart.v1", &egg, &moved, &expect(1), &[]);
    let Outcome::Refused { refused, .. } = outcome else { panic!("the old view was taken: {outcome:?}") };
    assert_eq!(refused.name, "expect-failed");
    let outcome = world.say_with(Who::Curator, "egg.held_apart.v1", &egg, &moved, &expect(2), &[]);
    assert_eq!(outcome.recorded().expect("the present view is taken").subject_version, 3);
}

#[test]
fn an_opening_without_a_second_person_is_recorded_and_shown_at_once() {
    let (mut world, egg) = world_with_an_egg();
    world.record(Who::Keeper, "egg.candled.v1", &egg, &candled(7));
    let opened = json!({"extent": "end slit widened", "known_dead": false, "left": "open in the water", "outcome": "left to hatch"});
    let alone = world.record(Who::Keeper, "egg.opened.v1", &egg, &opened);
    assert!(!alone.discrepancies.is_empty(), "what happened to an animal is never refused, and never silent");
    let shown = world.read("/v1/discrepancies", &[]);
    let kinds: Vec<&str> = shown["items"].as_array().expect("items").iter().filter_map(|item| item["kind"].as_str()).collect();
    assert!(kinds.iter().any(|kind| kind.contains("second person")), "{kinds:?}");
    let outcome = world.say_with(Who::Keeper, "egg.opened.v1", &egg, &opened, &Map::new(), &[Who::Veterinarian, Who::Curator]);
    let together = outcome.recorded().expect("recorded");
    let second_person = |ids: &[Value], all: &Value| {
        let about = |id: &Value| {
            all["items"]
                .as_array()
                .into_iter()
                .flatten()
                .any(|item| &item["id"] == id && item["kind"].as_str().is_some_and(|k| k.contains("second person")))
        };
        ids.iter().any(about)
    };
    let shown = world.read("/v1/discrepancies", &[]);
    assert!(!second_person(&together.discrepancies, &shown), "two other persons signed");
}

#[test]
fn two_clocks_tell_what_was_known_when() {
    let (mut world, egg) = world_with_an_egg();
    world.pass_days(7);
    let wrong = world.record(Who::Keeper, "egg.candled.v1", &egg, &candled(5));
    let known_then = size(&world).to_string();
    world.pass_days(1);
    let replacement = json!({"target": wrong.id, "reason": "the wrong button", "replacement": {"data": candled(2)}});
    world.record(Who::Keeper, "record.corrected.v1", &egg, &replacement);
    let band = |query: &[(&str, &str)]| {
        let item = world.read("/v1/eggs/A1", query)["item"].clone();
        item["looks"].as_array().and_then(|looks| looks.last()).map(|look| look["band"].clone())
    };
    assert_eq!(band(&[]), Some(json!(2)), "as known now");
    assert_eq!(band(&[("known_at", &known_then)]), Some(json!(5)), "as known then");
    assert_eq!(band(&[("as_of", "2025-03-02")]), None, "on the second day nobody had looked");
    let history = world.read("/v1/eggs/A1/history", &[]);
    let put_right: Vec<&Value> =
        history["notes"].as_array().expect("notes").iter().filter(|note| note["standing"] == "put right").collect();
    assert_eq!(put_right.len(), 1);
    assert_eq!(put_right[0]["as_written"]["data"]["band"].as_i64().or(put_right[0]["as_written"]["band"].as_i64()), Some(5));
}

#[test]
fn notes_cut_off_the_end_are_found_by_whoever_kept_a_receipt() {
    let (mut world, egg) = world_with_an_egg();
    let early = tempfile::tempdir().expect("a folder");
    let early = early.path().join("early");
    world.client().bundle(&early).expect("a bundle");
    let receipt = world.record(Who::Keeper, "egg.candled.v1", &egg, &candled(2)).receipt;
    let key = world.client().log_key().expect("a pinned key");
    let trust = |seen: Vec<Kept>| Trust { log_key: Some(key.clone()), seen, ..Trust::default() };
    // The log key really signed the shorter log, so on its own it is a good bundle ...
    let without = selachron_verify::bundle(&early, &trust(vec![])).expect("readable");
    assert!(without.faults.is_empty(), "{:?}", without.faults);
    // ... and only what somebody kept from later shows that notes are gone.
    let kept = Kept::parse("receipt", &receipt).expect("a receipt");
    let with = selachron_verify::bundle(&early, &trust(vec![kept])).expect("readable");
    assert!(!with.faults.is_empty(), "the kept receipt leads beyond the end of the bundle");
}

#[test]
fn an_act_on_a_governing_note_or_an_unknown_subject_is_refused() {
    let (mut world, _) = world_with_an_egg();
    let enrolment = world.read("/v1/events", &[("limit", "3")])["items"][1]["event"].clone();
    let (id, subject) = (enrolment["id"].as_str().expect("an id").to_owned(), enrolment["subject"].as_str().expect("a subject").to_owned());
    let name = world.refusal(Who::Curator, "record.retracted.v1", &subject, &json!({"target": id, "reason": "x"}));
    assert_eq!(name, "not-permitted");
    let nobody = world.subject("egg");
    assert_eq!(world.refusal(Who::Keeper, "egg.candled.v1", &nobody, &candled(2)), "subject-unknown");
}

#[test]
fn labels_are_accepted_wherever_an_id_is_and_two_bearers_are_named() {
    let (mut world, egg) = world_with_an_egg();
    let by_label = world.read("/v1/eggs/A1", &[]);
    let id = egg.split('/').nth(1).expect("an id");
    assert_eq!(by_label["item"], world.read(&format!("/v1/eggs/{id}"), &[])["item"]);
    let species = by_label["item"]["species"].as_str().expect("a species").to_owned();
    let adults = world.tank("Adults 2", "adults");
    let twin = world.egg("A1", &species, &adults, None);
    let fault = world.client().get("/v1/eggs/A1", &[]).expect_err("ambiguous").to_string();
    assert!(fault.contains(&twin) || fault.contains(twin.split('/').nth(1).expect("an id")), "{fault}");
}
