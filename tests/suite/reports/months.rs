//! Any twelve months, and profiles of jurisdictions.

use super::{Told, YEAR};
use serde_json::{Value, json};

#[test]
fn twelve_months_begin_on_any_day_of_every_year() {
    let told = Told::new();
    let report = told.report(&[("begins", "04-01")]);
    assert_eq!((&report["period"]["first_day"], &report["period"]["last_day"]), (&json!("2025-04-01"), &json!("2026-03-31")));
    // All cases came in March: they are what these months start with.
    let (line, year) = (&report["ledger"]["total"], told.report(&[])["ledger"]["total"].clone());
    assert_eq!((line["start"].as_i64(), line["collected"].as_i64(), &line["end"]), (Some(4), Some(0), &year["end"]));
    assert_eq!(report["completeness"]["failing"], json!([]));
    for (begins, wanted) in [("02-29", "is not a day of every year"), ("4-1", "is not a day"), ("13-01", "is not a day")] {
        let said = told.world.client().get(YEAR, &[("begins", begins)]).expect_err("no such day").to_string();
        assert!(said.contains("begins") && said.contains(wanted), "{said}");
    }
}

#[test]
fn a_profile_folds_the_columns_and_says_so_with_the_numbers() {
    let told = Told::new();
    assert_eq!(told.report(&[])["stock_presented"]["columns"], json!([]));
    let report = told.report(&[("profile", "common-columns")]);
    let shown = &report["stock_presented"];
    let departed = shown["columns"].as_array().into_iter().flatten().position(|heading| heading == "departed").expect("a column");
    assert_eq!(shown["lines"][0]["cells"][departed], json!([1, 0, 0]), "the one that escaped");
    assert!(shown["footnotes"].to_string().contains("escaped 1.0.0"), "{shown}");
    assert_eq!(report["stock"], told.report(&[])["stock"], "the list itself is the same");
    let page = told.world.client().get_text(YEAR, &[("profile", "common-columns"), ("format", "html")], "text/html").expect("a page");
    assert!(page.contains("Profile common-columns") && page.contains("from memory"));
}

/// Writes a house's own profile.
fn profile(told: &Told, name: &str, columns: &Value) {
    let folder = told.world.log_folder().join("profiles");
    std::fs::create_dir_all(&folder).expect("a folder");
    let version = |from: &str| json!({"valid_from": from, "source": "an invented decree", "year_begins": "03-01", "columns": columns});
    let text = json!({"profile": name, "title": "An invented list", "versions": [version("2020-01-01"), version("2025-09-01")]});
    std::fs::write(folder.join(format!("{name}.json")), text.to_string()).expect("a file");
}

#[test]
fn a_houses_own_profile_is_read_and_what_is_wrong_with_it_is_named() {
    let told = Told::new();
    profile(&told, "ours", &json!([{"heading": "gone", "cells": ["departed", "escaped"]}]));
    let report = told.report(&[("profile", "ours")]);
    assert_eq!(report["period"]["first_day"], json!("2025-03-01"), "the year of the profile");
    assert_eq!((&report["profile"]["valid_from"], &report["profile"]["changes_on"]), (&json!("2020-01-01"), &json!("2025-09-01")));
    let page = told.world.client().get_text(YEAR, &[("profile", "ours"), ("format", "html")], "text/html").expect("a page");
    assert!(page.contains("Another version of this profile holds from 2025-09-01 on"));
    profile(&told, "wrong", &json!([{"heading": "born", "cells": ["birthed"]}]));
    for (name, wanted) in [
        ("wrong", "names the cell \"birthed\", which the stock list has not"),
        ("nowhere", "there is no profile"),
        ("../keys", "there is no profile"),
    ] {
        let said = told.world.client().get(YEAR, &[("profile", name)]).expect_err("it cannot be followed").to_string();
        assert!(said.contains("profile") && said.contains(wanted), "{said}");
    }
}
