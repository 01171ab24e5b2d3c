//! From sightings to rows.

use super::{compute_file, compute_on, reference_json};
use serde_json::{Value, json};

/// Twelve hand-made logs; the file names the rules.
#[test]
fn the_reference_encoder_agrees() {
    let (found, expected) = (compute_file(&["fates"], "encoding.input.json"), reference_json("encoding.expected.json"));
    let (rows, wanted) = (found["rows"].as_array().expect("rows"), expected["expected"].as_array().expect("rows"));
    assert_eq!(rows.len(), wanted.len());
    for (row, wanted) in rows.iter().zip(wanted) {
        for (member, value) in wanted.as_object().expect("a row") {
            assert_eq!(&row[member], value, "{member} of {}", wanted["egg"]);
        }
    }
}

const KEY: &str = "0123456789abcdef0123456789abcdef";

fn ulid(number: u32) -> String {
    format!("01J{number:023}")
}

/// A note of an invented log.
fn note(number: u32, kind: &str, subject: &str, time: &str, data: &Value) -> Value {
    json!({
        "specversion": "1.0", "id": ulid(number), "source": "https://nursery.example/log", "type": kind, "subject": subject, "time": time,
        "keyid": KEY, "keycount": number, "nonce": "AAAAAAAAAAAAAAAAAAAAAA", "signedtime": time, "data": data,
    })
}

fn egg(number: u32) -> String {
    format!("egg/{}", ulid(900 + number))
}

/// Found in March, looked at, opened and hatched; the look that saw it dead was taken back.
fn log() -> Vec<Value> {
    let tank = format!("tank/{}", ulid(800));
    let collected = json!({"label": "A-1", "from_tank": tank});
    vec![
        note(1, "collection.founded.v1", "collection", "2026-01-01T08:00:00+10:00", &json!({"time_zone": "Australia/Brisbane"})),
        note(2, "tank.searched.v1", &tank, "2026-02-27T09:00:00+10:00", &json!({"eggs_found": 0, "whole_tank": true})),
        note(3, "egg.collected.v1", &egg(1), "2026-03-01T09:00:00+10:00", &collected),
        note(4, "egg.candled.v1", &egg(1), "2026-03-08T09:00:00+10:00", &json!({"seen_into": true, "band": 3, "movement": "moving"})),
        note(5, "egg.lost.v1", &egg(1), "2026-03-15T09:00:00+10:00", &json!({"apparent_cause": "embryo died"})),
        note(6, "record.retracted.v1", &egg(1), "2026-03-16T09:00:00+10:00", &json!({"target": ulid(5), "reason": "another case"})),
        note(7, "egg.opened.v1", &egg(1), "2026-06-20T09:00:00+10:00", &json!({"known_dead": false, "outcome": "left to hatch"})),
        hatched(8),
    ]
}

fn hatched(number: u32) -> Value {
    let young = json!([{"animal": format!("animal/{}", ulid(700)), "state": "alive"}]);
    // Nine in the morning of the 22nd in Brisbane, still the 21st in UTC.
    let data = json!({"how_known": "found hatched", "young": young});
    let mut hatched = note(number, "egg.hatched.v1", &egg(1), "2026-06-22T09:00:00+10:00", &data);
    hatched["timeafter"] = json!("2026-06-21T16:00:00+10:00");
    hatched
}

fn lines(notes: &[Value]) -> Vec<u8> {
    notes.iter().map(|note| format!("{note}\n")).collect::<String>().into_bytes()
}

fn rows(notes: &[Value], arguments: &[&str]) -> Value {
    let arguments: Vec<&str> = std::iter::once("fates").chain(arguments.iter().copied()).collect();
    compute_on(&arguments, &lines(notes)).json()
}

#[test]
fn a_log_becomes_rows_by_local_days() {
    let found = rows(&log(), &[]);
    let expected = json!([{
        "egg": egg(1), "entry": 0, "origin_uncertainty_days": 2, "fertile": true, "at_risk": true, "L": 112, "R": 113, "cause": "hatch",
        "assisted": true, "events": [ulid(8)], "made_by": {"L": ulid(8), "R": ulid(8)},
    }]);
    assert_eq!(found["rows"], expected);
    assert_eq!(found["as_of"], json!("2026-06-22"));
}

#[test]
fn what_lies_after_the_day_asked_for_is_not_known() {
    let row = &rows(&log(), &["--as-of", "2026-06-01"])["rows"][0];
    assert_eq!((&row["L"], &row["R"], &row["cause"]), (&json!(7), &Value::Null, &json!("censored")));
    assert_eq!(row["events"], json!([ulid(4)]));
}

#[test]
fn a_correction_is_laid_over_its_note() {
    let mut notes = log();
    let right = json!({"target": ulid(4), "reason": "wrong day", "replacement": {"time": "2026-03-10T09:00:00+10:00"}});
    notes.push(note(9, "record.corrected.v1", &egg(1), "2026-06-23T09:00:00+10:00", &right));
    assert_eq!(rows(&notes, &["--as-of", "2026-06-01"])["rows"][0]["L"], json!(9));
}

#[test]
fn without_the_founding_the_time_zone_is_asked_for() {
    compute_on(&["fates"], &lines(&log()[1..])).fails(1, &["stdin", "--time-zone"]);
    let found = rows(&log()[1..], &["--time-zone", "Australia/Brisbane"]);
    assert_eq!(found["rows"][0]["R"], json!(113));
}

#[test]
fn a_line_that_is_no_note_is_named() {
    let mut input = lines(&log());
    input.extend(b"{\"specversion\":\"1.0\"}\n");
    compute_on(&["fates"], &input).fails(1, &["line 9", "/nonce"]);
    compute_on(&["fates"], b"").fails(1, &["stdin", "empty"]);
    compute_on(&["fates"], b"{\"as_of\": \"2026-01-01\", \"eggs\": [{\"egg\": \"A\", \"laid_found_on\": \"soon\"}]}")
        .fails(1, &["line 1 column"]);
}

#[test]
fn a_withheld_body_is_passed_over_and_said() {
    let mut input = lines(&log());
    input.extend(b"{\"withheld\":\"AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA=\"}\n");
    let found = compute_on(&["fates"], &input).json();
    assert_eq!(found["rows"][0]["R"], json!(113));
    assert!(found["notes"].to_string().contains("withheld"));
}
