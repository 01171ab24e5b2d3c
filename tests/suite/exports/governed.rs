//! What governs the record itself (F22, F23): root keys replaced, the log's key changed, a body withheld. It
//! stands in every read and every export, and none of it can be overlooked in a file.

use super::{Exported, rows_of};
use selachron_record::upkeep;
use selachron_tests::fixture::{Hand, envelope};
use selachron_tests::world::{Who, World};
use serde_json::{Map, Value, json};

const GOVERNING: [&str; 3] = ["body.withheld.v1", "root.replaced.v1", "log.rekeyed.v1"];

/// A body is withheld, the root keys are replaced, and the new ones change the log's key.
fn govern(world: &mut World, withheld: &Value) -> [Hand; 2] {
    let event = &withheld["event"];
    let data = json!({"seq": withheld["seq"], "id": event["id"], "kind": event["type"], "subject": event["subject"], "time": event["time"],
        "keyid": event["keyid"], "keycount": event["keycount"], "reason": "a visitor's name stood in it", "authority": "privacy rule"});
    world.say_with(Who::Registrar, "body.withheld.v1", "collection", &data, &Map::new(), &[Who::Curator]).recorded().expect("withheld");
    let before = world.roots().clone();
    let after = [Hand::new(71), Hand::new(72)];
    let root = |hand: &Hand| json!({"public_key": hand.public_key(), "person": hand.person});
    let replaced = json!({"root_keys": [root(&after[0]), root(&after[1])], "root_threshold": 2, "reason": "a holder left"});
    let body = before[0].clone().body("root.replaced.v1", "collection", world.now(), &replaced);
    world.post(&envelope(&body, &[&before[0], &before[1]])).recorded().expect("replaced");
    let (_, key) = upkeep::rekey(&world.log_folder()).expect("a next key");
    let rekeyed = json!({"log_vkey": key.to_string(), "overlap_until_size": 10_000, "reason": "a new machine"});
    let body = after[0].clone().body("log.rekeyed.v1", "collection", world.now(), &rekeyed);
    world.post(&envelope(&body, &[&after[0], &after[1]])).recorded().expect("rekeyed");
    after
}

fn kinds<'v>(items: impl IntoIterator<Item = &'v Value>, kind: impl Fn(&Value) -> &Value) -> Vec<&'static str> {
    let found: Vec<Value> = items.into_iter().map(|item| kind(item).clone()).collect();
    GOVERNING.into_iter().filter(|wanted| found.iter().any(|found| found == wanted)).collect()
}

#[test]
fn what_governs_the_record_stands_in_every_read_and_export() {
    let mut told = Exported::told();
    let events = told.world.read("/v1/events", &[("limit", "1000")]);
    let fed = events["items"].as_array().into_iter().flatten().find(|item| item["event"]["type"] == "animal.fed.v1").expect("fed").clone();
    let roots = govern(&mut told.world, &fed);

    let world = &told.world;
    let events = world.read("/v1/events", &[("limit", "1000")]);
    let items = events["items"].as_array().expect("notes");
    assert_eq!(kinds(items, |item| &item["event"]["type"]), GOVERNING);
    let place = items.iter().find(|item| item["seq"] == fed["seq"]).expect("its place is kept");
    assert_eq!((&place["withheld"], &place["body_sha256"], place.get("event")), (&json!(true), &fed["body_sha256"], None));
    let history = world.read("/v1/collection/history", &[]);
    assert_eq!(kinds(history["notes"].as_array().expect("notes"), |note| &note["kind"]), GOVERNING);
    let keys = world.read("/v1/keys", &[]);
    let in_force = |key: &Value| key["root"] == json!(true) && key["in_force"] == json!(true);
    let mut named: Vec<&Value> =
        keys["items"].as_array().into_iter().flatten().filter(|key| in_force(key)).map(|key| &key["person"]).collect();
    named.sort_by_key(ToString::to_string);
    assert_eq!(named, roots.iter().map(|hand| json!(hand.person)).collect::<Vec<_>>().iter().collect::<Vec<_>>());
    // A root key that was replaced is shown as such, and before the replacement it was in force.
    let replaced = items.iter().find(|item| item["event"]["type"] == "root.replaced.v1").expect("replaced")["seq"].as_u64().expect("a seq");
    let roots_at = |size: u64| {
        let keys = world.read("/v1/keys", &[("known_at", &size.to_string())])["items"].clone();
        let all: Vec<Value> = keys.as_array().into_iter().flatten().filter(|key| key["root"] == json!(true)).cloned().collect();
        (all.len(), all.iter().filter(|key| in_force(key)).map(|key| key["keyid"].clone()).collect::<Vec<_>>())
    };
    let ((before, founders), (after, successors)) = (roots_at(replaced), roots_at(replaced + 1));
    assert_eq!((before, after), (founders.len(), founders.len() + successors.iter().filter(|id| !founders.contains(id)).count()));
    assert_ne!(founders, successors);
    for path in ["/v1/events", "/v1/animals", "/v1/eggs", "/v1/figures/hatch-rates", "/v1/exports/studbook"] {
        assert_eq!(world.read(path, &[])["withheld"], json!(1), "{path}");
    }

    let lines: Vec<Value> = told.text("/v1/exports/events", &[]).lines().map(|line| serde_json::from_str(line).expect("a line")).collect();
    assert_eq!(kinds(&lines, |line| &line["event"]["type"]), GOVERNING);
    assert_eq!(lines.iter().filter(|line| line["withheld"] == json!(true)).count(), 1);
    let folder = told.folder("/v1/exports/tables", "tables");
    let notes = rows_of(&folder, "notes.csv");
    assert_eq!(kinds(&notes, |row| &row["kind"]), GOVERNING);
    let package: Value = serde_json::from_slice(&std::fs::read(folder.join("datapackage.json")).expect("a descriptor")).expect("JSON");
    assert_eq!(package["selachron"]["withheld"], json!(1));
    assert!(package["description"].as_str().is_some_and(|says| says.contains("The body of 1 is withheld.")));
    let pedigree = told.folder("/v1/exports/pedigree", "pedigree");
    assert!(std::fs::read_to_string(pedigree.join("README.txt")).expect("a text").contains("The body of 1 is withheld."));
    let report = told.world.read("/v1/reports/annual/2025", &[]);
    assert_eq!(report["withheld"], json!(1));
    let audit = told.world.verify();
    assert!(audit.faults.is_empty() && audit.withheld == 1 && audit.log_keys.len() == 2, "{:?}", audit.faults);
}
