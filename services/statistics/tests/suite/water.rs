//! Water against published check values and independent libraries.
//!
//! Sources stand in `tests/reference/water.expected.json`; the values typed in here are those of the
//! table of check values of the trade, with the paper beside each.

use proptest::prelude::*;
use selachron_statistics::water::ammonia::{AmmoniaForm, emerson_pka};
use selachron_statistics::water::oxygen::{garcia_gordon_ml_l, garcia_gordon_umol_kg, weiss_ml_l};
use selachron_statistics::water::units::{
    NitrogenBasis, NitrogenForm, hpa_of_atm, hpa_of_mmhg, oxygen_mg_l_of_ml_l, oxygen_mg_l_of_umol_kg,
};
use selachron_statistics::water::{
    Flag, PhScale, Temperature, density_kg_m3, oxygen_percent, oxygen_saturation, practical_salinity, practical_salinity_of_ratio,
    salinity_of_specific_gravity, specific_gravity, un_ionised_ammonia,
};
use selachron_statistics::{Error, InvalidInput, Reason};
use serde_json::Value;

use crate::support::{assert_near, json, reference};

const ATM_HPA: f64 = 1013.25;

fn t68(t_c: f64) -> Temperature {
    Temperature::ipts68(t_c).expect("a temperature")
}

fn t90(t_c: f64) -> Temperature {
    Temperature::its90(t_c).expect("a temperature")
}

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

fn file() -> Value {
    json(reference!("water.expected.json"))
}

#[track_caller]
fn assert_part(found: f64, expected: &Value, part: f64) {
    assert_near(found, number(expected), part * number(expected));
}

/// UNESCO 36/38 (1981) and Tech. Pap. 44 (1983): density and salinity, also under pressure.
#[test]
fn density_and_salinity_are_unesco_s() {
    let file = file();
    for case in file["eos80_density"].as_array().expect("cases") {
        let found = density_kg_m3(number(&case["S"]), t68(number(&case["T68"])), number(&case["P"])).expect("a density");
        assert_near(found.value, number(&case["published_unesco_1981"]), 5e-6 + 1e-9);
        assert_part(found.value, &case["lib"], 1e-13);
        assert_eq!(found.flags, []);
    }
    let checks = &file["eos80_checks"];
    let deep = density_kg_m3(40.0, t68(40.0), 10_000.0).expect("a density");
    assert_near(deep.value, number(&checks["rho"]["published"]), 1e-5);
    for name in ["salt_R1", "salt_R12", "salt_R065"] {
        let case = &checks[name];
        let found = practical_salinity_of_ratio(number(&case["R"]), t68(number(&case["T68"])), number(&case["P"])).expect("a salinity");
        assert_near(found.value, number(&case["lib"]), 1e-9);
        assert_near(found.value, number(&case["published"]), 1e-6);
    }
}

/// Garcia & Gordon 1992, Weiss 1970, Benson & Krause 1984, on the scale that each asks for.
#[test]
fn oxygen_is_what_the_papers_print() {
    let (file, t) = (file(), |case: &Value| number(&case["t"]));
    for case in file["oxygen"].as_array().expect("cases") {
        let s = number(&case["S"]);
        let part = number(&file["tolerances"]["o2"]);
        let of = |t: Temperature| garcia_gordon_umol_kg(s, t).expect("one").value;
        assert_part(of(t68(t(case))), &case["gg92_umol_kg_t_as_given"], part);
        assert_part(of(t90(t(case))), &case["gg92_umol_kg_t68"], part);
        assert_part(of(t90(t(case))), &case["gsw_O2sol_SP_pt_takes_T90_converts_to_T68"], part);
        assert_part(garcia_gordon_ml_l(s, t68(t(case))).expect("one").value, &case["gg92_bk_ml_l"], part);
        assert_part(weiss_ml_l(s, t90(t(case))).expect("one").value, &case["weiss1970_ml_l_seawater_lib"], part);
        let full = oxygen_saturation(s, t90(t(case)), ATM_HPA).expect("one");
        assert_part(full.oxygen_saturation_mg_l, &case["bk1984_mg_l"], part);
    }
    for case in file["bk1984_pressure"].as_array().expect("cases") {
        let found = oxygen_saturation(number(&case["S"]), t90(t(case)), hpa_of_atm(number(&case["P_atm"]))).expect("one");
        assert_part(found.oxygen_saturation_mg_l, &case["mg_l"], 1e-12);
    }
    for (t, wanted) in file["oxygen_checks"]["bk1984_freshwater_mg_l"].as_object().expect("a table") {
        let found = oxygen_saturation(0.0, t90(t.parse().expect("a temperature")), ATM_HPA).expect("one");
        // At 5 °C the table prints 12.770 where its own equation gives 12.771.
        assert_near(found.oxygen_saturation_mg_l, number(wanted), if t == "5" { 0.0015 } else { 0.0005 });
    }
    // The paper's own check: 282.015 mmol/m³ at 10 °C, S 35; 44.6596 µmol to the mL.
    assert_near(garcia_gordon_ml_l(35.0, t68(10.0)).expect("one").value * 44.6596, 282.015, 0.001);
}

/// Emerson et al. 1975; Clegg & Whitfield 1995 on both scales.
#[test]
fn ammonia_follows_the_scale_of_the_probe() {
    let (file, of) = (file(), |case: &Value, name: &str| number(&case[name]));
    let part = number(&file["tolerances"]["nh3"]);
    for case in file["nh3"].as_array().expect("cases") {
        let (t, s, ph) = (of(case, "t"), of(case, "S"), of(case, "pH"));
        let found = |scale| un_ionised_ammonia(ph, scale, s, t90(t)).expect("a fraction").un_ionised_fraction;
        if s == 0.0 {
            // The file counts from 273.15, the published tables (below) and we from 273.2.
            let fraction = 1.0 / (1.0 + 10f64.powf(emerson_pka(t + 273.15) - ph));
            assert_near(fraction, of(case, "emerson1975_freshwater_fraction"), part);
            assert_near(found(PhScale::Nbs) / fraction, 1.0, 0.004);
            let sea = AmmoniaForm::CleggWhitfield1995Total.pka(0.0, t);
            assert_near(1.0 / (1.0 + 10f64.powf(sea - ph)), of(case, "cw95_total_fraction"), part);
        } else {
            assert_near(found(PhScale::Total), of(case, "cw95_total_fraction"), part);
            assert_near(found(PhScale::Free), of(case, "cw95_free_fraction"), part);
        }
    }
    for case in file["nh3_published_wq"].as_array().expect("cases") {
        for (form, name) in [(AmmoniaForm::CleggWhitfield1995Total, "total"), (AmmoniaForm::CleggWhitfield1995Free, "free")] {
            let fraction = 1.0 / (1.0 + 10f64.powf(form.pka(of(case, "S"), of(case, "t")) - of(case, "pH")));
            assert_near(fraction, of(case, name), 5e-5);
        }
    }
    // 9.2303 molal, 9.2458 per kg of seawater (the model's own check value).
    let molal = AmmoniaForm::CleggWhitfield1995Total.pka(35.0, 25.0);
    assert_near(molal, 9.2303, 1e-4);
    assert_near(molal - (1.0f64 - 0.001005 * 35.0).log10(), 9.2458, 1e-4);
    assert_eq!(un_ionised_ammonia(8.0, PhScale::Unknown, 35.0, t90(20.0)), Err(Error::NotEstimable(Reason::PhScaleUnknown)));
}

/// Percent un-ionised at S 34 by temperature and pH, as Bower & Bidwell 1978 print it; relative 0.5 %.
#[test]
#[allow(clippy::approx_constant, reason = "6.28 is printed in the table")]
fn ammonia_meets_the_table_of_bower_and_bidwell() {
    let table = [
        (7.5, [0.459, 0.665, 0.963, 1.39]),
        (7.8, [0.912, 1.32, 1.90, 2.74]),
        (8.0, [1.44, 2.07, 2.98, 4.28]),
        (8.1, [1.80, 2.60, 3.73, 5.32]),
        (8.2, [2.26, 3.25, 4.65, 6.61]),
        (8.3, [2.83, 4.06, 5.78, 8.18]),
        (8.5, [4.41, 6.28, 8.87, 12.40]),
    ];
    for (ph, percents) in table {
        for (t, percent) in [10.0, 15.0, 20.0, 25.0].into_iter().zip(percents) {
            let found = un_ionised_ammonia(ph, PhScale::Nbs, 34.0, t90(t)).expect("a fraction");
            assert_near(100.0 * found.un_ionised_fraction, percent, 0.005 * percent);
            assert_eq!(found.flags, []);
            let check = found.check_fraction.expect("the sea on the NBS scale");
            assert!((check / found.un_ionised_fraction - 1.0).abs() < 0.1, "{check}");
        }
    }
    // Check value 24: TAN 0.10 mg/L N at 24 °C, S 34, pH 8.1.
    let found = un_ionised_ammonia(8.1, PhScale::Nbs, 34.0, t90(24.0)).expect("a fraction");
    assert_near(found.un_ionised_mg_l_n(0.10).expect("a mass"), 0.00496, 3e-5);
    // About a quarter for a tenth of pH.
    assert_near(found.ratio_per_tenth_ph, 1.245, 0.005);
}

/// Percent in fresh water, as the tables of Emerson et al. 1975 print it; relative 0.2 %.
#[test]
fn ammonia_in_fresh_water() {
    for (t, ph, percent) in
        [(25.0, 7.0, 0.566), (25.0, 8.0, 5.38), (20.0, 7.0, 0.396), (10.0, 8.0, 1.83), (30.0, 9.0, 44.6), (0.0, 6.5, 0.0261)]
    {
        let found = un_ionised_ammonia(ph, PhScale::Nbs, 0.0, t90(t)).expect("a fraction");
        // Printed to three digits, the smaller ones are rounded by more than 0.2 %.
        assert_near(100.0 * found.un_ionised_fraction, percent, 0.003 * percent);
        assert_eq!((found.form, found.flags.len()), (AmmoniaForm::Emerson1975, 0));
    }
}

/// What lies outside a range is computed and flagged.
#[test]
fn what_is_out_of_range_is_flagged() {
    let flags = |ph, scale, s, t| un_ionised_ammonia(ph, scale, s, t90(t)).expect("a fraction").flags;
    assert_eq!(flags(8.1, PhScale::Nbs, 34.0, 27.0), [Flag::ExtrapolatedWarm]);
    assert_eq!(flags(8.1, PhScale::Nbs, 34.0, 32.0), [Flag::TemperatureOutsideRange]);
    assert_eq!(flags(8.1, PhScale::Nbs, 34.0, 8.0), [Flag::TemperatureOutsideRange]);
    assert_eq!(flags(7.0, PhScale::Nbs, 20.0, 20.0), [Flag::NotAtSalinity34, Flag::PhOutsideRange]);
    assert_eq!(flags(8.0, PhScale::Total, 45.0, 20.0), [Flag::SalinityOutsideRange]);
    assert_eq!(flags(5.0, PhScale::Free, 0.0, 35.0), [Flag::TemperatureOutsideRange, Flag::PhOutsideRange]);
    assert_eq!(density_kg_m3(45.0, t90(41.0), 0.0).expect("one").flags, [Flag::TemperatureOutsideRange, Flag::SalinityOutsideRange]);
    assert_eq!(practical_salinity(1.0, t90(20.0)).expect("one").flags, [Flag::SalinityOutsideRange]);
    assert_eq!(oxygen_saturation(35.0, t90(20.0), 450.0).expect("one").flags, [Flag::PressureOutsideRange]);
    assert_eq!(serde_json::to_value(Flag::ExtrapolatedWarm).expect("JSON"), "extrapolated_warm");
}

/// What cannot be is refused by name.
#[test]
fn what_cannot_be_is_refused() {
    let field = |found: Result<(), InvalidInput>| match found {
        Err(InvalidInput::Quantity { field, .. }) => field,
        other => panic!("{other:?}"),
    };
    for t_c in [-3.1, 50.1, f64::NAN, f64::INFINITY] {
        assert_eq!(field(Temperature::its90(t_c).map(|_| ())), "t_c");
    }
    assert_eq!(field(density_kg_m3(-0.1, t90(20.0), 0.0).map(|_| ())), "salinity_psu");
    assert_eq!(field(density_kg_m3(61.0, t90(20.0), 0.0).map(|_| ())), "salinity_psu");
    assert_eq!(field(density_kg_m3(35.0, t90(20.0), -1.0).map(|_| ())), "pressure_dbar");
    assert_eq!(field(practical_salinity(f64::NAN, t90(20.0)).map(|_| ())), "conductivity_ms_cm");
    assert_eq!(field(oxygen_saturation(35.0, t90(20.0), 760.0 * 2.0).map(|_| ())), "pressure_hpa");
    assert_eq!(field(oxygen_percent(-0.1, 35.0, t90(20.0), ATM_HPA).map(|_| ())), "oxygen_mg_l");
    assert_eq!(field(salinity_of_specific_gravity(0.99, t90(20.0), t90(20.0)).map(|_| ())), "specific_gravity");
    for ph in [-0.1, 14.1, f64::NAN] {
        let found = un_ionised_ammonia(ph, PhScale::Nbs, 35.0, t90(20.0));
        assert!(matches!(found, Err(Error::Input(InvalidInput::Quantity { field: "ph", .. }))), "{found:?}");
    }
    let ammonia = un_ionised_ammonia(8.0, PhScale::Nbs, 34.0, t90(20.0)).expect("a fraction");
    assert_eq!(field(ammonia.un_ionised_mg_l_n(-1.0).map(|_| ())), "tan_mg_l_n");
}

/// Check values 8 to 18, 26 to 28 of the trade's table.
#[test]
fn check_values_of_the_trade() {
    assert_near(practical_salinity(53.0, t68(25.0)).expect("one").value, 34.952, 0.002);
    assert_near(garcia_gordon_umol_kg(35.0, t68(10.0)).expect("one").value, 274.610, 0.001);
    assert_near(garcia_gordon_ml_l(35.0, t68(10.0)).expect("one").value, 6.315, 0.0005);
    assert_near(weiss_ml_l(35.0, t68(10.0)).expect("one").value, 6.3185, 0.0005);
    let full = |s, t, hpa| oxygen_saturation(s, t90(t), hpa).expect("one").oxygen_saturation_mg_l;
    let cases = [
        (0.0, 0.0, 14.621),
        (0.0, 20.0, 9.092),
        (0.0, 25.0, 8.263),
        (0.0, 30.0, 7.559),
        (35.0, 10.0, 9.024),
        (35.0, 15.0, 8.135),
        (35.0, 20.0, 7.396),
        (35.0, 25.0, 6.772),
        (35.0, 30.0, 6.237),
        (34.0, 24.0, 6.929),
    ];
    for (s, t, wanted) in cases {
        assert_near(full(s, t, ATM_HPA), wanted, 0.001);
    }
    assert_near(oxygen_percent(5.5, 34.0, t90(24.0), ATM_HPA).expect("one").value, 79.38, 0.02);
    assert_near(full(35.0, 20.0, hpa_of_atm(0.98)) / full(35.0, 20.0, ATM_HPA), 0.97954, 1e-5);
    assert_near(full(34.0, 24.0, hpa_of_mmhg(740.0)), 6.741, 0.001);
    for (t, wanted) in [(25.0, 1.02637), (20.0, 1.02660), (15.0, 1.02690)] {
        assert_near(specific_gravity(35.0, t68(t), t68(t)).expect("one").value, wanted, 1e-5);
    }
    for (t, gravity, wanted) in
        [(25.0, 1.020, 26.57), (25.0, 1.022, 29.22), (25.0, 1.025, 33.19), (25.0, 1.026, 34.51), (20.0, 1.025, 32.90)]
    {
        assert_near(salinity_of_specific_gravity(gravity, t68(t), t68(t)).expect("one").value, wanted, 0.01);
    }
    let whole = NitrogenForm::Nitrate.convert(70.0, NitrogenBasis::Nitrogen, NitrogenBasis::Whole).expect("one");
    assert_near(whole, 309.9, 0.05);
}

/// Two papers, two units: mL/L and µmol/kg give the same mg/L, and Benson & Krause's own.
#[test]
fn units_of_oxygen_agree() {
    for (s, t) in [(0.0, 5.0), (20.0, 15.0), (35.0, 25.0)] {
        let by_volume = oxygen_mg_l_of_ml_l(garcia_gordon_ml_l(s, t68(t)).expect("one").value);
        let density = density_kg_m3(s, t68(t), 0.0).expect("one").value;
        let by_mass = oxygen_mg_l_of_umol_kg(garcia_gordon_umol_kg(s, t68(t)).expect("one").value, density);
        let printed = oxygen_saturation(s, t68(t), ATM_HPA).expect("one").oxygen_saturation_mg_l;
        assert_near(by_volume, by_mass, 0.002);
        assert_near(by_volume, printed, 0.002);
    }
}

/// Factors by hand from the atomic masses 14.007, 15.999, 1.008.
#[test]
fn bases_of_nitrogen_by_hand() {
    let factors = [
        (NitrogenForm::Ammonia, 17.031),
        (NitrogenForm::Ammonium, 18.039),
        (NitrogenForm::Nitrite, 46.005),
        (NitrogenForm::Nitrate, 62.004),
    ];
    for (form, whole) in factors {
        let to = |x, from, to| form.convert(x, from, to).expect("one");
        assert_near(to(1.0, NitrogenBasis::Nitrogen, NitrogenBasis::Whole), whole / 14.007, 1e-12);
        assert_near(to(to(3.0, NitrogenBasis::Nitrogen, NitrogenBasis::Whole), NitrogenBasis::Whole, NitrogenBasis::Nitrogen), 3.0, 1e-12);
        assert_near(form.umol_l(14.007, NitrogenBasis::Nitrogen).expect("one"), 1000.0, 1e-9);
    }
    assert!(NitrogenForm::Nitrate.convert(-1.0, NitrogenBasis::Whole, NitrogenBasis::Whole).is_err());
}

proptest! {
    /// Gravity to salinity is the way back.
    #[test]
    fn gravity_turns_back(s in 0.0..60.0f64, sample in 0.0..40.0f64, reference in 4.0..25.0f64) {
        let gravity = specific_gravity(s, t90(sample), t90(reference)).expect("one").value;
        let back = salinity_of_specific_gravity(gravity, t90(sample), t90(reference)).expect("one").value;
        prop_assert!((back - s).abs() < 1e-9);
    }

    /// Salt makes water denser and holds less oxygen; warmth and thin air hold less oxygen; warmth and
    /// pH raise the un-ionised part, on every scale.
    #[test]
    fn directions_are_those_of_nature(s in 1.0..39.0f64, t in 5.0..35.0f64, ph in 6.5..9.0f64, hpa in 700.0..1050.0f64) {
        let density = |s| density_kg_m3(s, t90(t), 0.0).expect("one").value;
        prop_assert!(density(s + 1.0) > density(s));
        let full = |s, t, hpa| oxygen_saturation(s, t90(t), hpa).expect("one").oxygen_saturation_mg_l;
        prop_assert!(full(s + 1.0, t, hpa) < full(s, t, hpa) && full(s, t + 1.0, hpa) < full(s, t, hpa) && full(s, t, hpa - 10.0) < full(s, t, hpa));
        for scale in [PhScale::Nbs, PhScale::Total, PhScale::Free] {
            let part = |ph, t| un_ionised_ammonia(ph, scale, s, t90(t)).expect("one").un_ionised_fraction;
            prop_assert!(part(ph + 0.1, t) > part(ph, t) && part(ph, t + 1.0) > part(ph, t));
            prop_assert!((0.0..=1.0).contains(&part(ph, t)));
        }
    }
}
