//! Figures that an issued report showed otherwise, and lists that are released with a line that does not
//! add up.

use super::anew::{bundle, issue, kept};
use super::parts::fits;
use super::{Told, YEAR, table};
use crate::keyboard::Desk;
use selachron_record::upkeep::recompute::{Comparison, recompute};
use selachron_tests::world::Who;
use serde_json::{Value, json};

#[test]
fn what_an_issued_report_showed_otherwise_is_restated_with_its_reasons() {
    let mut told = Told::new();
    let asked = [("as_of", "2025-12-31")];
    assert_eq!(told.report(&asked)["restatements"]["footnotes"], json!(["No report was issued until this one was made."]));
    let (text, _) = kept(&told, "report.json");
    issue(&mut told, &text);
    let report = told.report(&asked);
    assert_eq!((&report["restatements"]["rows"], &report["restatements"]["footnotes"]), (&json!([]), &json!([])));
    assert_eq!(table(&report, "studbook", "studbook_changes")["rows"], json!([]));
    // The one that died is found to be another: its death is taken back.
    let death = table(&report, "authority", "deaths")["rows"][0].clone();
    told.world.pass_days(1);
    let back = json!({"target": death["events"][0], "reason": "another animal was meant"});
    let animal = death["subjects"][0].as_str().expect("an animal").to_owned();
    let act = told.world.record(Who::Curator, "record.retracted.v1", &animal, &back);
    told.world.pass_ms(60_000);
    let report = told.report(&asked);
    fits(&report);
    let rows = report["restatements"]["rows"].as_array().expect("rows");
    let shown: Vec<Vec<&str>> = rows.iter().map(|row| (0..6).map(|at| row["cells"][at].as_str().expect("words")).collect()).collect();
    let because = "taken back: another animal was meant";
    assert_eq!(
        shown,
        [
            ["stock list", "Inventus exemplaris", "died within 30 days", "0.0.1", "0.0.0", because],
            ["stock list", "Inventus exemplaris", "end", "1.1.5", "1.1.6", because],
        ]
    );
    for row in rows {
        assert_eq!(row["subjects"], json!([animal]));
        assert!(row["events"].as_array().is_some_and(|events| events.contains(&json!(act.id)) && events.len() == 2), "{row}");
    }
    let page = told.world.client().get_text(YEAR, &[("as_of", "2025-12-31"), ("format", "html")], "text/html").expect("a page");
    assert!(page.contains("Restatements") && page.contains(because));
    let studbook = table(&report, "studbook", "studbook_changes");
    let row =
        studbook["rows"].as_array().into_iter().flatten().find(|row| row["cells"][1] == "state").unwrap_or_else(|| panic!("{studbook}"));
    assert_eq!((&row["cells"][2], &row["cells"][3]), (&json!("corrected"), &json!("died")));
    // The year after starts with what this one ends with, so it tells of the change too.
    let next = told.world.read("/v1/reports/annual/2026", &[("as_of", "2026-12-31")]);
    assert_eq!(next["restatements"]["rows"].as_array().map(Vec::len), Some(2));
    // Once it is issued as it is now, nothing is restated any more.
    let (text, _) = kept(&told, "again.json");
    issue(&mut told, &text);
    assert_eq!(told.report(&asked)["restatements"]["rows"], json!([]));
}

/// Of a part of a group it is known whether it hatched here, also where it is counted by itself.
#[test]
fn what_is_restated_of_a_part_of_a_group_names_it() {
    let mut told = Told::new();
    let tank = told.world.read("/v1/tanks/Adults", &[])["item"]["id"].clone();
    let species = told.world.read("/v1/species", &[])["items"][0]["id"].clone();
    let (brood, half) = (told.world.subject("group"), told.world.subject("group"));
    let formed = json!({"label": "Unseen hatch", "species": species, "counts": {"males": 0, "females": 0, "unknown": 4},
        "how_counted": "by photo", "came": "hatched here, case unknown", "tank": tank});
    told.world.record(Who::Keeper, "group.formed.v1", &brood, &formed);
    let split = json!({"into": half, "label": "half", "counts": {"males": 0, "females": 0, "unknown": 2}});
    told.world.record(Who::Keeper, "group.split.v1", &brood, &split);
    told.world.pass_days(1);
    let (text, _) = kept(&told, "report.json");
    issue(&mut told, &text);
    told.world.pass_days(1);
    let died = json!({"counts": {"males": 0, "females": 0, "unknown": 1}, "how_known": "found dead", "apparent_cause": "injury", "body": "frozen"});
    told.world.record(Who::Keeper, "group.died.v1", &half, &died);
    told.world.pass_ms(60_000);
    let report = told.report(&[("as_of", "2025-12-31")]);
    let rows = report["restatements"]["rows"].as_array().expect("rows");
    let cells: Vec<&Value> = rows.iter().map(|row| &row["cells"][2]).collect();
    assert_eq!(cells, ["died day undetermined", "end"]);
    assert!(rows.iter().all(|row| row["subjects"] == json!([half])), "{rows:?}");
}

#[test]
fn a_list_with_a_failing_line_is_released_by_a_signed_reason_and_page_one_says_so() {
    let mut desk = Desk::with(&["curator"]);
    let species = desk.world.species("Inventus exemplaris", "invented shark");
    let tank = desk.world.tank("Nursery", "nursery");
    let group = desk.world.subject("group");
    let formed = json!({"label": "Pair", "species": species, "counts": {"males": 0, "females": 0, "unknown": 1},
        "how_counted": "lifted once", "came": "hatched here, case unknown", "tank": tank});
    desk.world.record(Who::Keeper, "group.formed.v1", &group, &formed);
    for label in ["Y-1", "Y-2"] {
        desk.world.pass_days(1);
        let animal = desk.world.subject("animal");
        let apart = json!({"group": group, "counted_as": "unknown", "label": label, "sex": "unknown", "how_told": "by its pattern"});
        desk.world.record(Who::Keeper, "animal.told_apart.v1", &animal, &apart);
    }
    desk.world.pass_days(1);
    let file = desk.world.scratch().join("issued.json");
    let name = file.display().to_string();
    assert_eq!(desk.run("curator", &["report", "issue", "2025", "--out", &name]), 2, "a line does not add up, and nobody releases it");
    assert!(!file.exists(), "nothing is left behind");
    let why = "the authority asks for the list by the end of January";
    assert_eq!(desk.run("curator", &["report", "issue", "2025", "--out", &name, "--release", why]), 0);
    let report: Value = serde_json::from_slice(&std::fs::read(&file).expect("the report")).expect("JSON");
    fits(&report);
    let completeness = &report["completeness"];
    assert_eq!((&completeness["complete"], &completeness["released_because"]), (&json!(false), &json!(why)));
    let lines = completeness["failing"].as_array().map_or(0, Vec::len);
    assert!(lines > 0 && completeness["failing"][0]["events"].as_array().is_some_and(|events| !events.is_empty()), "{completeness}");
    // The signed note says the same, and it is the report that its hash names.
    let events = desk.world.read("/v1/events", &[("limit", "100")]).to_string();
    assert!(events.contains("report.issued.v1"));
    let found = recompute(&bundle(&desk.world, "bundle"), &file).expect("a sound bundle");
    assert_eq!(found.comparison, Comparison::Same);
    assert!(found.issued.is_some(), "{found}");
    assert_eq!(desk.run("curator", &["report", "--verify", &name]), 0);
    let page = desk.world.client().get_text(YEAR, &[("release", why), ("format", "html")], "text/html").expect("a page");
    let (first, rest) = page.split_once("<nav").expect("contents");
    assert!(first.contains(why) && first.contains("Released with these lines") && !rest.contains("Complete:"), "on page one");
    let read = desk.world.scratch().join("released.html").display().to_string();
    assert_eq!(desk.run("curator", &["report", "2025", "--html", "--release", why, "--out", &read]), 0, "as it was released");
    assert!(std::fs::read_to_string(read).expect("a page").contains(why));
}

#[test]
fn what_needs_no_release_is_not_released() {
    let told = Told::new();
    let long = "x".repeat(201);
    for (why, wanted) in [
        ("a legal date", "every line adds up"),
        ("", "say in 1 to 200"),
        ("two\nlines", "say in 1 to 200"),
        (long.as_str(), "say in 1 to 200"),
    ] {
        let said = told.world.client().get(YEAR, &[("release", why)]).expect_err("no release").to_string();
        assert!(said.contains("release") && said.contains(wanted), "{said}");
    }
}
