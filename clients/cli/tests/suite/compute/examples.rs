//! One example a verb: the answers are computed a second time by `tests/reference/compute/answers.py`.

use super::{assert_same, compute, compute_file, reference_json};
use serde_json::{Value, json};

const WITHIN: f64 = 1e-12;

/// The whole answer; `method` and `notes` are compared where the file has them.
#[track_caller]
fn assert_answers(arguments: &[&str], input: &str, answer: &str) -> Value {
    let whole = compute_file(arguments, &format!("compute/{input}"));
    let (mut found, expected) = (whole.clone(), reference_json(&format!("compute/{answer}")));
    for prose in ["method", "notes"] {
        if expected.get(prose).is_none() {
            found.as_object_mut().expect("an object").remove(prose);
        }
    }
    assert_same(&found, &expected, WITHIN);
    whole
}

fn notes(answer: &Value) -> Vec<&str> {
    answer["notes"].as_array().expect("notes").iter().filter_map(Value::as_str).collect()
}

#[test]
fn proportion() {
    assert_answers(&["proportion"], "proportion.csv", "proportion.answer.json");
}

#[test]
fn survival() {
    let answer = assert_answers(&["survival", "--tau", "30"], "survival.csv", "survival.answer.json");
    let notes = notes(&answer);
    assert!(notes.iter().any(|note| note.starts_with("cool: quantile 0.75: not reached")), "{notes:?}");
}

#[test]
fn incidence() {
    assert_answers(&["incidence"], "incidence.csv", "incidence.answer.json");
}

#[test]
fn life_table() {
    assert_answers(&["life-table"], "life_table.csv", "life_table.answer.json");
}

#[test]
fn pedigree() {
    assert_answers(&["pedigree", "--pairs"], "pedigree.csv", "pedigree.answer.json");
}

#[test]
fn fates() {
    assert_answers(&["fates"], "fates.json", "fates.answer.json");
}

/// 0 of 0 is no number, and says so; 0 of 20 has a lower limit of exactly 0.
#[test]
fn proportion_without_a_table() {
    let nothing = compute(&["proportion", "--events", "0", "--total", "0"]).json();
    assert_eq!(nothing["groups"]["all"]["estimate"], Value::Null);
    assert_eq!(nothing["notes"], json!(["proportion: no data"]));
    let none_of_20 = compute(&["proportion", "--events", "0", "--total", "20", "--level", "0.9"]).json();
    assert_eq!((&none_of_20["level"], &none_of_20["groups"]["all"]["wilson"][0]), (&json!(0.9), &json!(0.0)));
}
