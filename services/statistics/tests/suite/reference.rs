//! Kaplan-Meier curves, quantiles and restricted means against R.
//!
//! Every expected file names its data, R 4.2.2 and survival 3.5-3, and its tolerance.

use selachron_statistics::confidence::SurvivalInterval;
use selachron_statistics::{Curve, Row, kaplan_meier, kaplan_meier_given};
use serde_json::Value;

use crate::support::{P95, Table, assert_near, assert_same, json, numbers, reference};

const KINDS: [(&str, SurvivalInterval); 3] =
    [("plain", SurvivalInterval::Plain), ("log", SurvivalInterval::Log), ("loglog", SurvivalInterval::LogLog)];

/// R prints 15 significant digits, so a cumulative hazard of 4 is known to 5e-15 only.
pub fn tolerance(file: &Value) -> f64 {
    file["tolerance"].as_f64().expect("a tolerance")
}

#[track_caller]
fn assert_curve(curve: &Curve, group: &Value, within: f64) {
    let found = serde_json::to_value(curve.columns()).expect("JSON");
    let found = found.as_object().expect("columns");
    assert_eq!(found.len(), group.as_object().expect("columns").len(), "as many columns");
    for (column, values) in found {
        let values = values.as_array().expect("an array");
        let expected = group[column].as_array().expect("the same column");
        assert_eq!(values.len(), expected.len(), "{column}");
        for (index, (value, wanted)) in values.iter().zip(expected).enumerate() {
            assert_same(&format!("{column}[{index}]"), value.as_f64(), wanted, within);
        }
    }
}

#[track_caller]
fn assert_quantiles(curve: &Curve, label: &str, quantiles: &Value) {
    for (name, kind) in KINDS {
        for (index, fraction) in [0.25, 0.5, 0.75].into_iter().enumerate() {
            let found = curve.quantile(fraction, kind).expect("a curve");
            let expected = |part: &str| quantiles[name][part][label][index].clone();
            let what = |part: &str| format!("{label} {name} {part} {fraction}");
            assert_same(&what("q"), found.days.ok(), &expected("q"), 1e-12);
            assert_same(&what("lower"), found.lower_days.ok(), &expected("lower"), 1e-12);
            assert_same(&what("upper"), found.upper_days.ok(), &expected("upper"), 1e-12);
        }
    }
}

/// Every group of a block: curve, quantiles and, where the block has them, restricted means.
#[track_caller]
pub fn assert_block(block: &Value, within: f64, curve_of: impl Fn(&str) -> Curve) {
    for (index, label) in block["groups"].as_object().expect("groups").keys().enumerate() {
        let curve = curve_of(label);
        assert_curve(&curve, &block["groups"][label], within);
        assert_quantiles(&curve, label, &block["quantiles_0.25_0.50_0.75"]);
        if let Some(tau) = block["rmst"]["tau"].as_f64() {
            let mean = curve.restricted_mean(tau).expect("a mean");
            assert_near(mean.mean_days, numbers(&block["rmst"]["rmst"])[index], 1e-9);
            assert_near(mean.se_days, numbers(&block["rmst"]["se"])[index], 1e-9);
        }
    }
}

pub fn curve(rows: &[Row]) -> Curve {
    kaplan_meier(rows, P95).expect("sound rows")
}

pub fn curve_of_group(table: &Table, label: &str) -> Curve {
    let (_, group) = label.split_once('=').expect("a label such as group=M");
    curve(&table.rows(Some(group)))
}

/// 23 patients with acute myelogenous leukaemia: Miller 1997, Survival Analysis; Embury et al. 1977.
#[test]
fn leukaemia() {
    let table = Table::read(reference!("km_aml.csv"));
    let file = json(reference!("km_aml.expected.json"));
    assert_block(&file["pooled"], tolerance(&file), |_| curve(&table.rows(None)));
    assert_block(&file["by_group"], tolerance(&file), |label| curve_of_group(&table, label));
}

/// Hand-made: deaths and censorings on one day.
#[test]
fn ties_on_one_day() {
    let table = Table::read(reference!("km_ties_sameday.csv"));
    let file = json(reference!("km_ties_sameday.expected.json"));
    assert_block(&file["all"], tolerance(&file), |_| curve(&table.rows(None)));
}

/// Hand-made: the two early cases die before seven others enter. R's counts and cumulative hazard
/// hold; its survival of 0 for ever is what is refused here.
#[test]
fn collapse_under_delayed_entry() {
    let table = Table::read(reference!("lefttrunc_collapse.csv"));
    let file = json(reference!("lefttrunc_collapse.expected.json"));
    let refused = curve(&table.rows(None)).columns();
    let group = &file["all"]["groups"]["all"];
    assert_eq!(refused.time, numbers(&group["time"]));
    assert_eq!(serde_json::to_value(&refused.n_risk).expect("JSON"), group["n_risk"]);
    assert_eq!(serde_json::to_value(&refused.n_event).expect("JSON"), group["n_event"]);
    for (index, (h, se)) in refused.na_cumhaz.iter().zip(&refused.na_se_cumhaz).enumerate() {
        assert_near(*h, numbers(&group["na_cumhaz"])[index], tolerance(&file).max(1e-14));
        assert_near(*se, numbers(&group["na_se_cumhaz"])[index], tolerance(&file).max(1e-14));
    }
    assert!(refused.surv.iter().all(Option::is_none), "survival is refused as a whole");
    let given = kaplan_meier_given(&table.rows(None), 6.0, P95).expect("sound rows");
    assert_block(&file["conditional_alive_at_6"], tolerance(&file), |_| given.clone());
}
