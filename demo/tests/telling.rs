//! What the demo says and asks: lines made from answers, folders and ports.

use selachron_demo::arguments::{empty_folder, free_address};
use selachron_demo::season::calendar::{LAST_DAY, at};
use selachron_demo::telling;
use serde_json::json;
use std::net::TcpListener;

#[test]
fn a_rate_is_told_with_its_denominator_and_interval() {
    let report = json!({"hatch_rates": {"behind": {"eggs": 56, "clutches": 28}, "collected": [
        {"name": "collected", "x": 27, "n": 56, "open": 0, "estimate": 0.4821, "wilson_95": [0.3567, 0.6099], "could_not_be_judged": 0, "end_not_known": 2},
        {"name": "embryo seen", "x": 1, "n": 3, "open": 1, "estimate": null, "wilson_95": null, "bounds": [0.3333, 0.6667]}
    ]}});
    let lines = telling::hatch_rates(&report);
    assert!(lines[0].contains("56 cases of 28 clutches"), "{lines:?}");
    assert!(lines[1].contains("27 of 56") && lines[1].contains("48.2 %   35.7 to 61.0 %"), "{lines:?}");
    assert!(lines[1].ends_with("(2 left before the end was seen)"), "{lines:?}");
    assert!(lines[2].contains("1 open, so only bounds: 33.3 to 66.7 %"), "no estimate while a case is open: {lines:?}");
}

#[test]
fn an_age_that_nobody_reached_is_said_to_be_so() {
    let points = json!([
        {"age_days": 30, "survival": 0.953, "loglog_95": [0.827, 0.988], "at_risk": 41},
        {"age_days": 365, "survival": null, "loglog_95": null, "at_risk": 0, "absent": {"why": "not reached", "says": "nobody was followed so long"}}
    ]);
    let lines = telling::rearing(&json!({"n": 43, "deaths": 2, "points": points}), at(LAST_DAY, 20, 0));
    assert!(lines[0].contains("43 animals, 2 deaths, until 28 February 2026"), "{lines:?}");
    assert!(lines[1].contains("95.3 %   82.7 to 98.8 %   41 at risk"), "{lines:?}");
    assert!(lines[2].contains("nobody was followed so long"), "{lines:?}");
}

#[test]
fn a_note_put_right_is_shown_beside_what_was_first_written() {
    let weighed = |mass_g: f64| json!({"length_cm": 18.0, "mass_g": mass_g});
    let then =
        json!({"notes": [{"kind": "animal.measured.v1", "time": "2025-04-18T15:00:00Z", "data": weighed(271.0), "standing": "stands"}]});
    let now = json!({"notes": [{
        "kind": "animal.measured.v1", "time": "2025-04-18T15:00:00Z", "data": weighed(27.1), "standing": "put right",
        "as_written": {"data": weighed(271.0)},
        "acts_told": [{"time": "2025-04-20T08:40:00Z", "by": {"roles": ["keeper"]}, "reason": "the point was left out"}]
    }]});
    let lines = telling::two_clocks("bamboo-01a", (&then, LAST_DAY), &now).join("\n");
    assert!(lines.contains("2025-04-18  measured: 18 cm, 271 g\n"), "{lines}");
    assert!(lines.contains("measured: 18 cm, 27.1 g   (first written: measured: 18 cm, 271 g)"), "{lines}");
    assert!(lines.contains("2025-04-20 by a keeper: the point was left out"), "{lines}");
}

#[test]
fn what_is_at_odds_is_counted_by_kind_the_weightiest_first() {
    let item = |kind: &str, weight: &str, open: bool| json!({"kind": kind, "weight": weight, "open": open});
    let items = [
        item("count missing", "mends itself", true),
        item("fed after death", "needs a person today", true),
        item("fed after death", "needs a person today", true),
        item("vouched for", "when convenient", false),
    ];
    let lines = telling::discrepancies(&json!({"items": items}));
    assert_eq!(lines.len(), 3, "{lines:?}");
    assert_eq!(lines[0], "Open discrepancies: 3");
    assert!(lines[1].contains("2 × fed after death") && lines[2].contains("1 × count missing"), "{lines:?}");
}

#[test]
fn a_folder_that_holds_something_is_left_alone() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    empty_folder("--out", &folder.path().join("new/deep")).expect("a new folder is made");
    std::fs::write(folder.path().join("mine.txt"), "mine").expect("writable");
    let trouble = empty_folder("--out", folder.path()).expect_err("it is not empty");
    assert!(trouble.to_string().contains("is not empty"), "{trouble}");
    assert_eq!(trouble.exit_code(), 2);
    let trouble = empty_folder("--out", &folder.path().join("mine.txt/below")).expect_err("a file is no folder");
    assert!(trouble.to_string().contains("cannot make"), "{trouble}");
    assert_eq!(trouble.exit_code(), 1);
}

#[test]
fn a_port_in_use_gives_way_to_the_next() {
    let taken = TcpListener::bind("127.0.0.1:0").expect("a free port");
    let port = taken.local_addr().expect("an address").port();
    let address = free_address(port).expect("another is free");
    assert!(address.port() > port && address.ip().is_loopback(), "{address}");
    assert_eq!(free_address(0).expect("any").port(), 0);
}
