//! Drafts and signatures.

use crate::stub::ORIGIN;
use crate::world::World;
use selachron_cli::draft::{Draft, new_subject, new_ulid};
use selachron_cli::fault::Fault;
use selachron_cli::seal;
use selachron_schemas::envelope::Envelope;
use selachron_schemas::event::Event;
use selachron_schemas::names::is_ulid;
use selachron_schemas::time::{Instant, MINUTE_MS};
use serde_json::{Value, json};

#[test]
fn attributes_always_stand_in_one_order() {
    let world = World::founded();
    let draft = world
        .tank("T1")
        .time(world.now().plus_ms(-20 * MINUTE_MS))
        .timeafter(world.now().plus_ms(-60 * MINUTE_MS))
        .late("the tablet was charging")
        .expect(0)
        .correlation("round 7")
        .causation("a decision");
    let body = world.client.write(&world.keeper, &draft).expect("a body");
    let value: Value = serde_json::from_slice(&body).expect("JSON");
    let names: Vec<&String> = value.as_object().expect("an object").keys().collect();
    let wanted = [
        "specversion",
        "id",
        "source",
        "type",
        "subject",
        "time",
        "timeafter",
        "keyid",
        "keycount",
        "nonce",
        "signedtime",
        "late",
        "latereason",
        "expect",
        "seensize",
        "seenroot",
        "seensig",
        "correlationid",
        "causationid",
        "data",
    ];
    assert_eq!(names, wanted);
    let event = Event::parse(&body).expect("a note");
    assert_eq!(event.source, format!("https://{ORIGIN}"));
    assert_eq!((event.late, event.latereason.as_deref()), (Some(true), Some("the tablet was charging")));
    assert_eq!(event.seen.map(|seen| seen.size), Some(world.size() as u64), "the newest checkpoint that was checked here");
}

#[test]
fn two_notes_never_share_an_id_or_a_nonce() {
    let world = World::founded();
    let written = [0, 1].map(|_| world.client.write(&world.keeper, &world.tank("T1")).expect("a body"));
    let [first, second] = written.map(|body| serde_json::from_slice::<Value>(&body).expect("JSON"));
    assert_ne!(first["nonce"], second["nonce"]);
    assert_ne!(first["id"], second["id"]);
    assert_eq!(first["nonce"].as_str().map(str::len), Some(22));
}

#[test]
fn a_late_note_says_why_and_an_early_one_does_not() {
    let world = World::founded();
    let at = |minutes: i64| world.tank("T1").time(world.now().plus_ms(-minutes * MINUTE_MS));
    let fault = world.client.write(&world.keeper, &at(16)).expect_err("late");
    assert!(matches!(&fault, Fault::Usage(text) if text.contains("--late") && text.contains("16 minutes")), "{fault}");
    assert!(world.client.write(&world.keeper, &at(16).late("")).is_err());
    let in_time = world.client.write(&world.keeper, &at(15).late("a reason that is not needed")).expect("a body");
    assert_eq!(Event::parse(&in_time).expect("a note").late, None);
    assert!(world.client.record(&world.keeper, &at(16).late("busy with the pumps"), &[]).is_ok());
}

#[test]
fn what_the_schema_refuses_is_named_before_anything_is_signed() {
    let world = World::founded();
    let egg = world.fresh("egg");
    for (kind, data, named) in [
        ("egg.candled.v1", json!({"seen_into": true, "band": 8, "movement": "moving"}), "/data/band"),
        ("egg.candled.v1", json!({"seen_into": true, "band": 3}), "movement"),
        ("egg.candled.v1", json!({"seen_into": false, "colour": "red"}), "colour"),
        ("egg.boiled.v1", json!({}), "egg.boiled.v1"),
        ("tank.searched.v1", json!({"eggs_found": 0, "whole_tank": true}), "tank"),
    ] {
        let fault = world.client.write(&world.keeper, &Draft::new(kind, egg.clone(), data)).expect_err("not a note");
        assert!(matches!(&fault, Fault::Usage(text) if text.contains(named)), "{kind}: {fault}");
    }
    let draft = world.tank("T1").timeafter(world.now());
    assert!(world.client.write(&world.keeper, &draft).is_err_and(|fault| fault.to_string().contains("timeafter")));
}

#[test]
fn ulids_carry_the_clock_and_are_never_alike() {
    let now = Instant::parse("2026-03-01T08:00:00.123Z").expect("a time");
    let (first, second) = (new_ulid(now).expect("an id"), new_ulid(now).expect("an id"));
    assert!(is_ulid(&first) && first != second);
    assert_eq!(ulid::Ulid::from_string(&first).expect("a ULID").timestamp_ms(), u64::try_from(now.0).expect("after 1970"));
    assert!(new_subject("egg", now).expect("a subject").as_str().starts_with("egg/"));
    assert!(new_subject("bird", now).is_err() && new_ulid(Instant(-1)).is_err());
}

#[test]
fn signatures_are_gathered_over_one_body() {
    let world = World::founded();
    let body = world.client.write(&world.keeper, &world.tank("T1")).expect("a body");
    let alone = seal::sign(&body, &[&world.keeper]);
    let elsewhere = seal::sign(&body, &[&world.curator]);
    let both = seal::gather(&[alone.clone().into_bytes(), elsewhere.into_bytes()], &[]).expect("an envelope");
    assert_eq!(both, seal::sign(&body, &[&world.keeper, &world.curator]));
    assert_eq!(seal::add_signatures(alone.as_bytes(), &[&world.curator, &world.keeper]).expect("an envelope"), both, "a key signs once");
    assert_eq!(seal::add_signatures(&body, &[&world.keeper, &world.curator]).expect("an envelope"), both, "a bare body does as well");
    assert_eq!(Envelope::read(both.as_bytes()).expect("an envelope").signatures.len(), 2);
    let other = world.client.write(&world.keeper, &world.tank("T2")).expect("a body");
    let fault = seal::gather(&[body, other], &[&world.keeper]).expect_err("two bodies");
    assert!(fault.to_string().contains("same body"), "{fault}");
    assert!(matches!(seal::open(b"{}"), Err(Fault::Usage(_))));
}
