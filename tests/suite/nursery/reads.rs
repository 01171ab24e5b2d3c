//! The reads over HTTP: shapes, names, pages, and what the answer of a POST has in common with a
//! later read.

use selachron_schemas::time::Instant;
use selachron_tests::fixture::{envelope, ulid};
use selachron_tests::world::World;
use serde_json::{Value, json};
use std::io::{Read as _, Write as _};
use std::net::TcpStream;

/// A world that is asked without the client, so that its very answers are seen.
struct House {
    world: World,
}

fn named(noun: &str, number: u64) -> String {
    format!("{noun}/{}", ulid(7, number))
}

impl House {
    /// A founded log with a species and two tanks, at nine o'clock of day 0.
    fn open() -> Self {
        let mut house = Self { world: World::founded_at(Instant::parse("2026-01-01T09:00:00Z").unwrap()) };
        let species = json!({"scientific_name": "Inventus exemplaris", "common_name": "Invented shark", "length_basis": "total"});
        house.note("species.listed", &named("species", 1), &species);
        house.note("tank.set_up", &named("tank", 1), &json!({"label": "Adults", "purpose": "adults"}));
        house.note("tank.set_up", &named("tank", 2), &json!({"label": "Inc 1", "purpose": "incubation"}));
        house
    }

    fn day_passes(&self) {
        self.world.pass_days(1);
    }

    fn note(&mut self, kind: &str, subject: &str, data: &Value) -> Value {
        let now = self.world.now();
        let keeper = &mut self.world.staff.keeper;
        let body = keeper.body(&format!("{kind}.v1"), subject, now, data);
        let envelope = envelope(&body, &[keeper]);
        self.send(&envelope)
    }

    fn egg(&mut self, number: u64, label: &str) -> Value {
        let data = json!({"label": label, "species": named("species", 1), "from_tank": named("tank", 1), "laid": "unknown", "case": "whole",
            "yolk": "seen", "to_tank": named("tank", 2)});
        self.note("egg.collected", &named("egg", number), &data)
    }

    fn send(&self, envelope: &str) -> Value {
        let head = format!("POST /v1/events HTTP/1.1\r\nContent-Type: application/json\r\nContent-Length: {}\r\n", envelope.len());
        let (status, answer) = self.exchange(&head, envelope);
        assert_eq!(status, 201, "{answer}");
        answer
    }

    fn get(&self, path: &str) -> Value {
        let (status, answer) = self.exchange(&format!("GET {path} HTTP/1.1\r\n"), "");
        assert_eq!(status, 200, "{path}: {answer}");
        answer
    }

    fn refused(&self, path: &str) -> (u16, Value) {
        self.exchange(&format!("GET {path} HTTP/1.1\r\n"), "")
    }

    fn exchange(&self, head: &str, body: &str) -> (u16, Value) {
        let mut stream = TcpStream::connect(self.world.service().addr()).unwrap();
        write!(stream, "{head}Host: test\r\nConnection: close\r\n\r\n{body}").unwrap();
        let mut answer = String::new();
        stream.read_to_string(&mut answer).unwrap();
        let (head, body) = answer.split_once("\r\n\r\n").unwrap();
        let status = head.split(' ').nth(1).unwrap().parse().unwrap();
        (status, serde_json::from_str(body).unwrap_or_else(|error| panic!("{error}: {answer}")))
    }
}

#[test]
fn a_read_is_told_at_two_clocks_with_its_root() {
    let mut house = House::open();
    house.egg(1, "A1");
    house.day_passes();
    house.note("egg.candled", &named("egg", 1), &json!({"seen_into": true, "band": 2, "movement": "moving"}));
    let now = house.get("/v1/eggs/A1");
    assert_eq!((now["item"]["band"].clone(), now["item"]["id"].clone()), (json!(2), json!(named("egg", 1))));
    assert_eq!((now["simulated_clock"].clone(), now["withheld"].clone()), (json!(true), json!(0)));
    assert!(now["root"].as_str().unwrap().len() == 44 && now["known_at"].as_u64().unwrap() > 8);
    let yesterday = house.get("/v1/eggs/A1?as_of=2026-01-01");
    assert_eq!((yesterday["item"]["looks"].clone(), yesterday["as_of"].clone()), (json!([]), json!("2026-01-01T23:59:59.999Z")));
    let before = now["known_at"].as_u64().unwrap() - 1;
    let unknown = house.get(&format!("/v1/eggs/A1?known_at={before}"));
    assert_eq!((unknown["item"]["looks"].clone(), unknown["known_at"].clone()), (json!([]), json!(before)));
    assert_ne!(unknown["root"], now["root"]);
}

#[test]
fn a_thing_has_one_name_or_the_candidates_are_named() {
    let mut house = House::open();
    house.egg(1, "A1");
    let second = house.egg(2, "A1");
    assert_eq!(second["discrepancies"].as_array().unwrap().len(), 1, "{second}");
    let (status, problem) = house.refused("/v1/eggs/A1");
    assert_eq!((status, problem["candidates"].clone()), (409, json!([named("egg", 1), named("egg", 2)])));
    assert_eq!(house.refused("/v1/eggs/Z9").0, 404);
    assert_eq!(house.refused("/v1/eggs/A1/history").0, 409);
    let ulid = named("egg", 1)[4..].to_owned();
    assert_eq!(house.get(&format!("/v1/eggs/{ulid}"))["item"]["label"], "A1");
    assert_eq!(house.get("/v1/species/Invented%20shark")["item"]["length_basis"], "total");
    assert_eq!(house.get("/v1/tanks/Inc%201")["item"]["eggs"].as_array().unwrap().len(), 2);
}

#[test]
fn lists_come_in_pages_that_stay_at_their_clocks() {
    let mut house = House::open();
    for number in 1..=5 {
        house.egg(number, &format!("E{number}"));
    }
    let first = house.get("/v1/eggs?limit=2");
    house.egg(6, "E6");
    let mut labels: Vec<Value> = first["items"].as_array().unwrap().iter().map(|egg| egg["label"].clone()).collect();
    let mut next = first["next"].as_str().map(str::to_owned);
    while let Some(cursor) = next {
        let page = house.get(&format!("/v1/eggs?limit=2&cursor={cursor}"));
        labels.extend(page["items"].as_array().unwrap().iter().map(|egg| egg["label"].clone()));
        next = page["next"].as_str().map(str::to_owned);
        assert_eq!(page["known_at"], first["known_at"]);
    }
    assert_eq!(labels, [json!("E1"), json!("E2"), json!("E3"), json!("E4"), json!("E5")]);
    for list in ["animals", "tanks", "systems", "species", "keys"] {
        assert!(house.get(&format!("/v1/{list}"))["items"].is_array(), "{list}");
    }
    assert_eq!(house.get("/v1/tanks?limit=1")["items"].as_array().unwrap().len(), 1);
}

#[test]
fn the_answer_to_a_post_and_a_later_read_say_the_same() {
    let mut house = House::open();
    house.egg(1, "A1");
    house.day_passes();
    let lost = house.note("egg.lost", &named("egg", 1), &json!({"apparent_cause": "not determined"}));
    let ids = lost["discrepancies"].as_array().unwrap();
    let listed = house.get("/v1/discrepancies");
    let listed: Vec<&Value> = listed["items"].as_array().unwrap().iter().collect();
    assert_eq!(listed.iter().map(|item| item["id"].clone()).collect::<Vec<_>>(), *ids);
    let item = listed[0];
    assert_eq!((item["kind"].clone(), item["weight"].clone()), (json!("lost on the first look"), json!("needs a person today")));
    assert_eq!((item["open"].clone(), item["subjects"].clone()), (json!(true), json!([named("egg", 1)])));
    assert!(item["says"].as_str().unwrap().ends_with('.'));
    let history = house.get("/v1/eggs/A1/history");
    assert_eq!(history["item_id"], json!(named("egg", 1)));
    assert_eq!(history["notes"][1]["discrepancies"][0]["id"], ids[0]);
    let note = &history["notes"][0];
    for member in ["seq", "id", "kind", "subject", "time", "recorded_at", "by", "data", "acts", "standing", "discrepancies"] {
        assert!(note.get(member).is_some(), "{member} is missing: {note}");
    }
    assert_eq!(note["by"]["roles"], json!(["keeper"]));
    assert_eq!(house.get("/v1/tanks/Adults/history")["notes"].as_array().unwrap().len(), 2);
    assert_eq!(house.get("/v1/collection/history")["notes"][0]["kind"], "collection.founded.v1");
    let key = house.get("/v1/keys")["items"][3]["keyid"].as_str().unwrap().to_owned();
    assert_eq!(house.get(&format!("/v1/keys/{key}/history"))["notes"].as_array().unwrap().len(), 1);
}

#[test]
fn what_is_due_may_be_asked_ahead() {
    let mut house = House::open();
    house.egg(1, "A1");
    assert_eq!(house.get("/v1/due")["items"], json!([]));
    let ahead = house.get("/v1/due?within_hours=168");
    let item = &ahead["items"][0];
    assert_eq!((item["what"].clone(), item["label"].clone(), item["overdue_days"].clone()), (json!("candle"), json!("A1"), json!(0)));
    assert_eq!((item["subject"].clone(), item["tank"].clone()), (json!(named("egg", 1)), json!(named("tank", 2))));
    assert_eq!(house.refused("/v1/due?within_hours=9000").0, 400);
    assert_eq!(house.refused("/v1/due?within=3").0, 400);
    assert_eq!(house.get("/v1/collection")["policy"]["candling_interval_days"], 7);
}

#[test]
fn the_reads_stand_in_the_description_of_the_api() {
    let house = House::open();
    let description = house.get("/v1/openapi.json");
    for path in ["eggs", "animals", "tanks", "systems", "species", "keys"] {
        for path in [format!("/v1/{path}"), format!("/v1/{path}/{{id}}"), format!("/v1/{path}/{{id}}/history")] {
            assert!(description["paths"].get(&path).is_some(), "{path}");
        }
    }
    assert!(description["paths"].get("/v1/due").is_some() && description["paths"].get("/v1/discrepancies").is_some());
    for schema in ["Egg", "EggFate", "Animal", "Tank", "HistoryNote", "DueItem", "Discrepancy"] {
        assert!(description["components"]["schemas"].get(schema).is_some(), "{schema}");
    }
}
