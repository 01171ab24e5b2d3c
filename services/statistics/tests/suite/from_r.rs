//! Against R, on rows of R's survival that are not copied here. `tests/outside/rows.R` writes them into
//! the folder that `SELACHRON_REFERENCE_ROWS` names; `tests/run` does so and runs these.

use selachron_statistics::gray::gray_of_cause;
use selachron_statistics::{Design, gray};

use crate::comparisons::{assert_log_rank, test};
use crate::incidence::{assert_all_near, assert_at_events, table};
use crate::reference::{assert_block, curve_of_group, tolerance};
use crate::support::{assert_near, exported, json, numbers, reference};

/// survival::lung (Loprinzi et al. 1994): 228 patients, many ties.
#[test]
#[ignore = "needs km_lung.csv, exported from R's survival, in SELACHRON_REFERENCE_ROWS"]
fn lung() {
    let (table, file) = (exported("km_lung.csv"), json(reference!("km_lung.expected.json")));
    assert_block(&file["by_group"], tolerance(&file), |label| curve_of_group(&table, label));
}

/// survival::ovarian (Edmunson et al. 1979): 26 patients, heavy censoring.
#[test]
#[ignore = "needs km_ovarian.csv, exported from R's survival, in SELACHRON_REFERENCE_ROWS"]
fn ovarian() {
    let (table, file) = (exported("km_ovarian.csv"), json(reference!("km_ovarian.expected.json")));
    assert_block(&file["by_group"], tolerance(&file), |label| curve_of_group(&table, label));
}

/// survival::veteran (Kalbfleisch & Prentice 1980): four groups, three of which die out.
#[test]
#[ignore = "needs logrank_veteran.csv, exported from R's survival, in SELACHRON_REFERENCE_ROWS"]
fn veteran() {
    let table = exported("logrank_veteran.csv");
    let file = json(reference!("logrank_veteran.expected.json"));
    assert_block(&file["by_group"], tolerance(&file), |label| curve_of_group(&table, label));
}

/// survival::heart (Crowley & Hu 1977): delayed entry at the transplant, half days.
#[test]
#[ignore = "needs lefttrunc_heart.csv, exported from R's survival, in SELACHRON_REFERENCE_ROWS"]
fn heart() {
    let table = exported("lefttrunc_heart.csv");
    let file = json(reference!("lefttrunc_heart.expected.json"));
    assert_block(&file["by_group"], tolerance(&file), |label| curve_of_group(&table, label));
}

#[test]
#[ignore = "needs km_lung.csv, exported from R's survival, in SELACHRON_REFERENCE_ROWS"]
fn log_rank_of_lung() {
    let (table, file) = (exported("km_lung.csv"), json(reference!("km_lung.expected.json")));
    let plain = table.grouped("group", None);
    assert_log_rank(&test(&plain, 0.0), &plain.labels, &file["logrank"], 1e-9);
    let strata = table.grouped("group", Some("stratum"));
    assert_log_rank(&test(&strata, 0.0), &strata.labels, &file["logrank_stratified_by_stratum_excluding_NA"], 1e-9);
}

#[test]
#[ignore = "needs km_ovarian.csv, exported from R's survival, in SELACHRON_REFERENCE_ROWS"]
fn log_rank_of_ovarian() {
    let (table, file) = (exported("km_ovarian.csv"), json(reference!("km_ovarian.expected.json")));
    for (block, stratum) in [("logrank", None), ("logrank_stratified", Some("stratum"))] {
        let members = table.grouped("group", stratum);
        assert_log_rank(&test(&members, 0.0), &members.labels, &file[block], 1e-9);
    }
}

#[test]
#[ignore = "needs logrank_veteran.csv, exported from R's survival, in SELACHRON_REFERENCE_ROWS"]
fn log_rank_of_veteran() {
    let (table, file) = (exported("logrank_veteran.csv"), json(reference!("logrank_veteran.expected.json")));
    for (block, stratum) in [("logrank_4groups", None), ("logrank_4groups_stratified", Some("stratum"))] {
        let members = table.grouped("group", stratum);
        assert_log_rank(&test(&members, 0.0), &members.labels, &file[block], 1e-9);
    }
}

/// The score test of R's exact-ties Cox model.
#[test]
#[ignore = "needs lefttrunc_heart.csv, exported from R's survival, in SELACHRON_REFERENCE_ROWS"]
fn log_rank_of_heart() {
    let (table, file) = (exported("lefttrunc_heart.csv"), json(reference!("lefttrunc_heart.expected.json")));
    let members = table.grouped("group", None);
    assert_log_rank(&test(&members, 0.0), &members.labels, &file["logrank_late_entry"], 1e-9);
}

/// survival::mgus2 (Kyle et al. 2002): survfit's incidences and jackknife, etm's Greenwood.
#[test]
#[ignore = "needs cr_mgus2.csv, exported from R's survival, in SELACHRON_REFERENCE_ROWS"]
fn gammopathy() {
    let (rows, file) = (exported("cr_mgus2.csv"), json(reference!("cr_mgus2.expected.json")));
    let within = file["tolerance"].as_f64().expect("a tolerance");
    for (label, expected) in file["aj"].as_object().expect("groups") {
        let found = table(&rows.fates(Some(label)));
        assert_eq!(found.time, numbers(&expected["time"]));
        assert_eq!(serde_json::to_value(&found.n_risk).expect("JSON"), expected["n_risk"]);
        for (cause, name) in found.causes.iter().zip(["pcm", "death"]) {
            let column = |what: &str| numbers(&expected[&format!("{what}_{name}")]);
            assert_eq!(serde_json::to_value(&cause.n_event).expect("JSON"), expected[format!("n_event_{name}")]);
            assert_all_near(&cause.cif, &column("cif"), within);
            assert_all_near(&cause.se_ij, &column("se_ij"), within);
            assert_at_events(&found, &cause.cif, &expected["etm_time"], &column("etm_cif"), within);
            assert_at_events(&found, &cause.se_greenwood, &expected["etm_time"], &column("etm_se_greenwood"), within);
        }
    }
}

/// R's cmprsk::cuminc.
#[test]
#[ignore = "needs cr_mgus2.csv, exported from R's survival, in SELACHRON_REFERENCE_ROWS"]
fn gray_of_gammopathy() {
    let (table, file) = (exported("cr_mgus2.csv"), json(reference!("cr_mgus2.expected.json")));
    let members = table.grouped_fates("group", None);
    let design = Design::of_groups(2).with_causes(2);
    let both = gray(members.rows.iter().copied(), design).expect("two answers");
    for (found, expected) in both.into_iter().zip(file["gray"]["tests"].as_array().expect("two tests")) {
        let found = found.expect("a comparison");
        assert_near(found.statistic, expected["stat"].as_f64().expect("a number"), 1e-8);
        assert_near(found.p, expected["p"].as_f64().expect("a number"), 1e-8);
        assert_eq!(
            (found.cause.to_string(), Some(found.df as u64)),
            (expected["cause"].as_str().expect("a cause").to_owned(), expected["df"].as_u64())
        );
        assert_eq!(gray_of_cause(members.rows.iter().copied(), design, found.cause), Ok(found));
    }
}
