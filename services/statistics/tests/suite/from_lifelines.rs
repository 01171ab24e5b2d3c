//! Against R, on rows that PyPI's lifelines ships and that are not copied here. `tests/outside/rows.py`
//! writes them into the folder that `SELACHRON_REFERENCE_ROWS` names; `tests/run` does so and runs
//! these.

use selachron_statistics::kaplan_meier_given;

use crate::comparisons::{assert_log_rank, test};
use crate::reference::{assert_block, curve, tolerance};
use crate::support::{P95, exported, json, reference};

/// Woolson 1981; Klein & Moeschberger 1997 section 1.15: 26 psychiatric inpatients by age.
#[test]
#[ignore = "needs lefttrunc_psych.csv, exported from lifelines, in SELACHRON_REFERENCE_ROWS"]
fn psychiatric() {
    let table = exported("lefttrunc_psych.csv");
    let file = json(reference!("lefttrunc_psych.expected.json"));
    assert_block(&file["all"], tolerance(&file), |_| curve(&table.rows(None)));
    let given = kaplan_meier_given(&table.rows(None), 30.0, P95).expect("sound rows");
    assert_block(&file["conditional_on_age_30"], tolerance(&file), |_| given.clone());
}

/// The same.
#[test]
#[ignore = "needs lefttrunc_psych.csv, exported from lifelines, in SELACHRON_REFERENCE_ROWS"]
fn log_rank_of_psychiatric() {
    let (table, file) = (exported("lefttrunc_psych.csv"), json(reference!("lefttrunc_psych.expected.json")));
    let members = table.grouped("group", None);
    assert_log_rank(&test(&members, 0.0), &members.labels, &file["logrank_late_entry"], 1e-9);
}
