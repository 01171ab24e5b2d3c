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
fn interval() {
    let found = compute_file(&["interval"], "compute/interval.csv");
    let expected = reference_json("compute/interval.answer.json");
    let (found, expected) = (&found["groups"]["all"], &expected["groups"]["all"]);
    for member in ["innermost", "mass", "support", "loglik"] {
        assert_same(&found[member], &expected[member], 1e-9);
    }
    assert!(found["kkt_max_gradient_minus_n"].as_f64().expect("a number") <= 8e-7 && found["iterations"].is_u64());
}

/// A case alone is a cluster unless the table names clusters; the same seed gives the same digits.
#[test]
fn interval_with_a_bootstrap() {
    let draw = |seed: &str| compute_file(&["interval", "--bootstrap", "200", "--seed", seed], "compute/interval.csv");
    let (first, again, other) = (draw("7"), draw("7"), draw("8"));
    assert_eq!(first, again);
    assert_ne!(first["groups"]["all"]["bootstrap"], other["groups"]["all"]["bootstrap"]);
    assert_eq!(first["groups"]["all"]["bootstrap"]["clusters"], json!(8));
    assert!(notes(&first).iter().any(|note| note.contains("column cluster")));
}

#[test]
fn incubation_fit() {
    let mut found = compute_file(&["incubation", "fit", "--at", "17"], "compute/incubation_fit.csv");
    let mut expected = reference_json("compute/incubation_fit.answer.json");
    let searched = |answer: &mut Value| answer.as_object_mut().and_then(|answer| answer.remove("nls_days")).expect("a fit on days");
    let (mut on_days, wanted) = (searched(&mut found), searched(&mut expected));
    assert_same(&found, &expected, WITHIN);
    assert!(on_days.as_object_mut().and_then(|fit| fit.remove("iterations")).is_some_and(|steps| steps.as_u64() < Some(20)));
    // Both search, each in its own way, for numbers of thousands.
    assert_same(&on_days, &wanted, 1e-7);
}

#[test]
fn incubation_integrate() {
    let arguments = ["incubation", "integrate", "--model", "thermal_sum", "--t0", "4", "--k", "1000", "--start", "0"];
    let found = compute_file(&arguments, "compute/incubation_log.csv");
    let expected = reference_json("compute/incubation_log.answer.json");
    for member in ["start", "hatch_day"] {
        assert_same(&found["cases"][0][member], &expected[member], 1e-9);
    }
    assert!(found["cases"][0]["flags"].to_string().contains("no readings between day 0.5 and day"), "{found}");
    let late = compute_file(
        &["incubation", "integrate", "--model", "q10", "--ref-temp", "16", "--ref-days", "150", "--q10", "2", "--start", "50"],
        "compute/incubation_log.csv",
    );
    assert_same(&late["cases"][0]["fraction_at_end"], &json!(50.0 / 150.0), 1e-9);
    assert!(notes(&late).iter().any(|note| note.contains("not reached")));
}

#[test]
fn water() {
    let (found, expected) = (compute_file(&["water"], "compute/water.csv"), reference_json("compute/water.answer.json"));
    for (row, expected) in found["rows"].as_array().expect("rows").iter().zip(expected["rows"].as_array().expect("rows")) {
        for (member, wanted) in expected.as_object().expect("a row") {
            assert_same(&row[member], wanted, 1e-9);
        }
    }
    assert!(found["rows"][1]["flags"].to_string().contains("extrapolated"), "27 degrees are beyond the table: {found}");
    assert!(notes(&found).iter().any(|note| note.contains("pH scale of the probe is not known")));
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
