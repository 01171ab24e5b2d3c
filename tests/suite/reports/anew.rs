//! A report that was issued is computed anew: the same after later notes and corrections, different when
//! somebody touched it, and no answer where the notes cannot give one.

use super::Told;
use crate::keyboard::Desk;
use selachron_record::upkeep::recompute::{Comparison, recompute};
use selachron_schemas::encoding::hex;
use selachron_schemas::merkle::sha256;
use selachron_tests::world::{Who, World};
use serde_json::{Map, Value, json};
use std::path::PathBuf;

/// The report as of the end of the year, at the size that the log has now; and its file.
fn kept(told: &Told, name: &str) -> (String, PathBuf) {
    let size = told.world.client().look().expect("a checkpoint").checkpoint.size.to_string();
    let text = told.text(&[("as_of", "2025-12-31"), ("known_at", &size), ("profile", "common-columns")]);
    let file = told.world.scratch().join(name);
    std::fs::write(&file, &text).expect("a file");
    (text, file)
}

fn bundle(world: &World, name: &str) -> PathBuf {
    let folder = world.scratch().join(name);
    world.client().bundle(&folder).expect("a bundle");
    folder
}

fn issue(told: &mut Told, text: &str) {
    let report: Value = serde_json::from_str(text).expect("JSON");
    let mut data = Map::from_iter([
        ("query".to_owned(), json!("/v1/reports/annual/2025")),
        ("sha256".to_owned(), json!(hex(&sha256(text.as_bytes())))),
    ]);
    for name in ["as_of", "known_at", "root", "software", "tzdb"] {
        data.insert(name.to_owned(), report[name].clone());
    }
    told.world.record(Who::Curator, "report.issued.v1", "collection", &Value::Object(data));
}

#[test]
fn an_issued_report_stays_the_same_after_later_notes_and_corrections() {
    let mut told = Told::new();
    let (text, file) = kept(&told, "report.json");
    issue(&mut told, &text);
    let found = recompute(&bundle(&told.world, "first"), &file).expect("a sound bundle");
    assert_eq!(found.comparison, Comparison::Same);
    assert!(found.issued.as_deref().is_some_and(|by| by.contains(&told.world.staff.curator.person)), "{found}");
    // Later a case is found to have hatched, and a note of the year is taken back.
    told.world.pass_days(5);
    let young = told.world.subject("animal");
    let hatched = json!({"how_known": "found hatched", "young": [{"animal": young, "state": "alive"}]});
    told.world.record(Who::Keeper, "egg.hatched.v1", &told.egg.clone(), &hatched);
    let history = told.world.read("/v1/eggs/E-1/history", &[]);
    let hatch = history["notes"].as_array().into_iter().flatten().find(|note| note["kind"] == "egg.hatched.v1").expect("a hatch");
    let about = hatch["subject"].as_str().expect("a case").to_owned();
    let back = json!({"target": hatch["id"], "reason": "another case was meant"});
    told.world.record(Who::Curator, "record.retracted.v1", &about, &back);
    assert_ne!(told.text(&[("as_of", "2025-12-31"), ("profile", "common-columns")]), text, "what is known now is another report");
    let found = recompute(&bundle(&told.world, "second"), &file).expect("a sound bundle");
    assert_eq!(found.comparison, Comparison::Same);
    let shown = found.to_string();
    assert!(shown.starts_with("same: ") && shown.contains(&hex(&sha256(text.as_bytes()))), "{shown}");
}

#[test]
fn a_report_that_was_touched_is_different_and_the_place_is_named() {
    let told = Told::new();
    let (text, file) = kept(&told, "report.json");
    let bundle = bundle(&told.world, "bundle");
    let mut report: Value = serde_json::from_str(&text).expect("JSON");
    report["ledger"]["total"]["end"] = json!(9);
    std::fs::write(&file, serde_json::to_vec_pretty(&report).expect("JSON")).expect("a file");
    let found = recompute(&bundle, &file).expect("a sound bundle");
    match &found.comparison {
        Comparison::Different(places) => assert_eq!(places[0], "/ledger/total/end: 9 in the report, 1 by the notes"),
        other => panic!("{other:?}"),
    }
    assert!(found.to_string().contains("no note in this bundle issues it"));
    std::fs::write(&file, text.replace(report["root"].as_str().expect("a root"), "AAAA")).expect("a file");
    assert!(
        matches!(recompute(&bundle, &file).expect("a sound bundle").comparison, Comparison::Different(places) if places[0].starts_with("/root"))
    );
    // Other spaces are other bytes, and the hash that was signed is of bytes.
    std::fs::write(&file, format!("{text}\n")).expect("a file");
    assert!(
        matches!(recompute(&bundle, &file).expect("a sound bundle").comparison, Comparison::Different(places) if places[0].contains("written otherwise"))
    );
}

#[test]
fn where_the_notes_cannot_say_nobody_pretends() {
    let mut told = Told::new();
    let before = bundle(&told.world, "before");
    told.world.pass_days(1);
    told.world.record(Who::Keeper, "animal.fed.v1", &told.dam.clone(), &json!({"offered": [{"food": "shrimp"}], "eaten": "all"}));
    let tank = told.world.read("/v1/tanks/Adults", &[])["item"]["id"].as_str().expect("a tank").to_owned();
    let time = told.world.now().utc_text();
    let found = json!({"eggs_found": 0, "whole_tank": true, "remark": "a name"});
    let searched = told.world.record(Who::Keeper, "tank.searched.v1", &tank, &found);
    let (text, file) = kept(&told, "report.json");
    let why = |folder: &PathBuf| match recompute(folder, &file).expect("a sound bundle").comparison {
        Comparison::CannotTell(why) => why,
        other => panic!("{other:?}"),
    };
    assert!(why(&before).contains("take a newer one"));
    std::fs::write(&file, text.replace("selachron-record ", "selachron-record 9.")).expect("a file");
    let after = bundle(&told.world, "after");
    assert!(why(&after).contains("gives other bytes"));
    std::fs::write(&file, text.replace(&told.world.client().origin().expect("an origin"), "elsewhere.example.org/log")).expect("a file");
    assert!(why(&after).contains("elsewhere.example.org/log"));
    std::fs::write(&file, "{\"schema\":\"a letter\"}").expect("a file");
    assert!(why(&after).contains("no annual report"));
    // A body behind it is withheld since: what it said cannot be counted any more.
    std::fs::write(&file, &text).expect("a file");
    let data = json!({
        "seq": searched.seq, "id": searched.id, "kind": "tank.searched.v1", "subject": tank, "time": time,
        "keyid": told.world.staff.keeper.keyid.to_string(), "keycount": searched.keycount, "reason": "a name in a remark",
        "authority": "privacy law",
    });
    let withheld = told.world.say_with(Who::Registrar, "body.withheld.v1", "collection", &data, &Map::new(), &[Who::Curator]);
    withheld.recorded().expect("two persons withhold");
    assert!(why(&bundle(&told.world, "withheld")).contains("0 bodies behind the report were withheld when it was made, and 1 are now"));
}

/// At the command line: issued by a curator, and compared with what the service tells later.
#[test]
fn an_issued_report_is_compared_at_the_command_line() {
    let mut desk = Desk::with(&["curator"]);
    let tank = desk.world.tank("Adults", "adults");
    let file = desk.world.scratch().join("issued.json").display().to_string();
    let issued = desk.run("curator", &["report", "issue", "2025", "--begins", "03-01", "--profile", "common-columns", "--out", &file]);
    assert_eq!(issued, 0);
    desk.world.pass_days(3);
    desk.world.record(Who::Keeper, "tank.searched.v1", &tank, &json!({"eggs_found": 0, "whole_tank": true}));
    assert_eq!(desk.run("curator", &["report", "--verify", &file]), 0, "the same after later notes");
    let found = recompute(&bundle(&desk.world, "bundle"), file.as_ref()).expect("a sound bundle");
    assert_eq!(found.comparison, Comparison::Same);
    assert!(found.issued.is_some(), "{found}");
    let text = std::fs::read_to_string(&file).expect("the report");
    for (from, to, code) in [
        ("\"withheld\": 0", "\"withheld\": 1", 1),
        ("\"not_taken_in\": 0", "\"not_taken_in\": 4", 3),
        ("\"year\": 2025", "\"year\": \"last\"", 1),
    ] {
        assert!(text.contains(from), "{from}");
        std::fs::write(&file, text.replacen(from, to, 1)).expect("a file");
        assert_eq!(desk.run("curator", &["report", "--verify", &file]), code, "{to}");
    }
    // A PDF needs a typesetter beside the service, and there is none here: said, and nothing is written.
    let pdf = desk.world.scratch().join("report.pdf");
    assert_eq!(desk.run("curator", &["report", "2025", "--pdf", "--out", &pdf.display().to_string()]), 6);
    assert!(!pdf.exists());
}
