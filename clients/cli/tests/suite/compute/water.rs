//! Water through `compute`, against the reference file at its tolerances, column by column.

use super::{assert_same, compute_on, reference_json};
use serde_json::{Value, json};

#[test]
fn water() {
    let file = reference_json("water.expected.json");
    let within = file["tolerances"]["o2"].as_f64().expect("a tolerance");
    for case in file["bk1984_pressure"].as_array().expect("cases") {
        let hpa = case["P_atm"].as_f64().expect("a pressure") * 1013.25;
        let table = format!("t_c,salinity_psu,pressure_hpa\n{},{},{hpa}\n", case["t"], case["S"]);
        assert_same(&compute_on(&["water"], table.as_bytes()).json()["rows"][0]["oxygen_saturation_mg_l"], &case["mg_l"], within);
    }
    for case in file["oxygen"].as_array().expect("cases") {
        let table = format!("t_c,salinity_psu\n{},{}\n", case["t"], case["S"]);
        assert_same(&compute_on(&["water"], table.as_bytes()).json()["rows"][0]["oxygen_saturation_mg_l"], &case["bk1984_mg_l"], within);
    }
    for case in file["eos80_density"].as_array().expect("cases").iter().filter(|case| case["P"] == json!(0)) {
        // The table gives temperatures on the scale of 1968; a thermometer shows that of 1990.
        let shown = case["T68"].as_f64().expect("a temperature") / 1.00024;
        let table = format!("t_c,salinity_psu\n{shown},{}\n", case["S"]);
        assert_same(&compute_on(&["water"], table.as_bytes()).json()["rows"][0]["density_kg_m3"], &case["lib"], 1e-5);
    }
    for case in file["nh3_published_wq"].as_array().expect("cases").iter().filter(|case| case["S"].as_f64() > Some(0.5)) {
        for scale in ["total", "free"] {
            let table = format!("t_c,salinity_psu,ph,ph_scale\n{},{},{},{scale}\n", case["t"], case["S"], case["pH"]);
            assert_same(&compute_on(&["water"], table.as_bytes()).json()["rows"][0]["un_ionised_fraction"], &case[scale], 5e-5);
        }
    }
}

fn first_row(table: &str) -> Value {
    compute_on(&["water"], table.as_bytes()).json()["rows"][0].clone()
}

/// Ammonia of the sea on both scales, at the file's tolerance. Of the columns that the layout has no
/// room for, the library is asked instead (`water.rs` of its own tests): density under pressure,
/// salinity of a ratio under pressure, Garcia and Gordon's and Weiss's oxygen in other units, and
/// ammonia of fresh water by Clegg and Whitfield.
#[test]
fn ammonia_of_the_sea() {
    let file = reference_json("water.expected.json");
    let within = file["tolerances"]["nh3"].as_f64().expect("a tolerance");
    for case in file["nh3"].as_array().expect("cases").iter().filter(|case| case["S"].as_f64() > Some(0.5)) {
        for scale in ["total", "free"] {
            let row =
                first_row(&format!("t_c,salinity_psu,ph,ph_scale,tan_mg_l_n\n{},{},{},{scale},0.5\n", case["t"], case["S"], case["pH"]));
            let wanted = &case[format!("cw95_{scale}_fraction")];
            assert_same(&row["un_ionised_fraction"], wanted, within);
            assert_same(&row["un_ionised_mg_l_n"], &json!(wanted.as_f64().expect("a fraction") * 0.5), within);
        }
    }
}

/// Emerson et al. 1975: the file counts kelvin from 273.15; the published tables, and we with the rule
/// of the trade, from 273.2. That moves pKa by 2729.92 (1/273.15 - 1/273.2) of T: the two are told
/// apart here to the file's tolerance, and the difference is what the constants make of it.
#[test]
fn ammonia_of_fresh_water_counts_from_273_2() {
    let file = reference_json("water.expected.json");
    let within = file["tolerances"]["nh3"].as_f64().expect("a tolerance");
    let fraction = |t: f64, ph: f64, zero: f64| 1.0 / (1.0 + 10f64.powf(0.09018 + 2729.92 / (zero + t) - ph));
    let mut cases = 0;
    for case in file["nh3"].as_array().expect("cases").iter().filter(|case| case["S"] == json!(0)) {
        let (t, ph) = (case["t"].as_f64().expect("t"), case["pH"].as_f64().expect("a pH"));
        let row = first_row(&format!("t_c,salinity_psu,ph,ph_scale\n{t},0,{ph},nbs\n"));
        let (found, theirs) = (&row["un_ionised_fraction"], &case["emerson1975_freshwater_fraction"]);
        assert_same(&json!(fraction(t, ph, 273.15)), theirs, within);
        assert_same(found, &json!(fraction(t, ph, 273.2)), within);
        let apart = found.as_f64().expect("ours") / theirs.as_f64().expect("theirs") - 1.0;
        assert!((0.002..0.004).contains(&apart), "0.05 K more is 0.3 % more: {apart}");
        cases += 1;
    }
    assert!(cases > 0, "the file has fresh water");
}

/// Oxygen in percent, and the salinity of a conductivity: the ratio 1 at 15 °C is 42.914 mS/cm and
/// salinity 35 (UNESCO 1981).
#[test]
fn oxygen_in_percent_and_salinity_of_a_conductivity() {
    let file = reference_json("water.expected.json");
    let within = file["tolerances"]["o2"].as_f64().expect("a tolerance");
    for case in file["oxygen"].as_array().expect("cases") {
        let row =
            first_row(&format!("t_c,salinity_psu,oxygen_mg_l,pressure_hpa\n{},{},{},1013.25\n", case["t"], case["S"], case["bk1984_mg_l"]));
        assert_same(&row["oxygen_percent"], &json!(100.0), 100.0 * within);
    }
    let shown = 15.0 / 1.00024;
    let row = first_row(&format!("t_c,conductivity_ms_cm\n{shown},42.914\n"));
    assert_same(&row["salinity_psu"], &file["eos80_checks"]["salt_R1"]["lib"], 1e-6);
}
