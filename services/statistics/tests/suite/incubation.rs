//! Incubation: fits against R, sums along a log against exact integration, two published pairs.

use proptest::prelude::*;
use selachron_statistics::incubation::{
    Between, Incubation, Prediction, Rate, TemperatureLog, TemperatureReading, arrhenius, q10, thermal_sum, thermal_sum_on_days, two_point,
};
use selachron_statistics::{Error, InvalidInput, Level, Reason};
use serde_json::Value;

use crate::support::{P95, assert_near, json, numbers, reference};

fn pairs(csv: &str, columns: [usize; 2]) -> Vec<(f64, f64)> {
    let number = |line: &str, column| line.split(',').nth(column).expect("the column").parse().expect("a number");
    csv.lines().skip(1).map(|line| (number(line, columns[0]), number(line, columns[1]))).collect()
}

fn eggs(pairs: &[(f64, f64)]) -> Vec<Incubation> {
    pairs.iter().map(|(temperature_c, days)| Incubation { temperature_c: *temperature_c, days: *days }).collect()
}

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

/// R prints 15 digits, so a day count of 300 is known to 1e-12; the tolerance is the file's.
#[track_caller]
fn assert_members(found: &Value, expected: &Value, names: &[&str], tolerance: f64) {
    for name in names {
        assert_near(number(&found[name]), number(&expected[name]), tolerance);
    }
}

#[track_caller]
fn assert_predictions(predict: impl Fn(f64) -> Prediction, expected: &Value, lower: &str, upper: &str, tolerance: f64) {
    for (at, temperature_c) in numbers(&expected["temp_c"]).into_iter().enumerate() {
        let found = predict(temperature_c);
        assert_near(found.days.expect("days"), numbers(&expected["days"])[at], tolerance);
        assert_near(found.days_pi_lower.expect("a limit"), numbers(&expected[lower])[at], tolerance);
        assert_near(found.days_pi_upper.expect("a limit"), numbers(&expected[upper])[at], tolerance);
        assert_eq!(found.outside_fitted_range, [11.0, 22.0].contains(&temperature_c), "fitted from 11.94 to 20.28");
    }
}

/// 30 simulated eggs at five temperatures, R's `lm`.
#[test]
fn fits_are_those_of_r() {
    let file = json(reference!("incubation_fit.expected.json"));
    let tolerance = number(&file["tolerance"]);
    let eggs = eggs(&pairs(reference!("incubation_fit.csv"), [1, 2]));

    let sum = thermal_sum(&eggs, P95).expect("a fit");
    let (found, expected) = (serde_json::to_value(&sum).expect("JSON"), &file["degree_day_rate_regression"]);
    let names = ["a", "b", "se_a", "se_b", "cov_ab", "sigma", "df", "T0", "se_T0_delta", "K", "se_K_delta"];
    assert_members(&found, expected, &names, tolerance);
    for (limit, wanted) in numbers(&found["T0_fieller"]).iter().zip(numbers(&expected["T0_fieller95"])) {
        assert_near(*limit, wanted, tolerance);
    }
    assert_predictions(|t| sum.predict(t).expect("one"), &expected["predict"], "days_pi95_lower", "days_pi95_upper", tolerance);

    let fit = q10(&eggs, P95).expect("a fit");
    let (found, expected) = (serde_json::to_value(&fit).expect("JSON"), &file["q10_loglinear"]);
    assert_members(&found, expected, &["a", "b", "se_b", "sigma", "df", "Q10"], tolerance);
    for (limit, wanted) in numbers(&found["Q10_ci"]).iter().zip(numbers(&expected["Q10_ci95"])) {
        assert_near(*limit, wanted, tolerance);
    }
    assert_predictions(|t| fit.predict(t).expect("one"), &expected["predict"], "pi95_lower", "pi95_upper", tolerance);

    let fit = arrhenius(&eggs, P95).expect("a fit");
    let (found, expected) = (serde_json::to_value(&fit).expect("JSON"), &file["arrhenius"]);
    assert_members(&found, expected, &["a", "Ea_eV", "se_Ea", "sigma"], tolerance);
    assert_predictions(|t| fit.predict(t).expect("one"), &expected["predict"], "pi95_lower", "pi95_upper", tolerance);
}

/// The same eggs, R's `nls`; its own tolerance, as a part of numbers of thousands.
#[test]
fn a_fit_on_days_is_that_of_r() {
    let file = json(reference!("incubation_fit.expected.json"));
    let eggs = eggs(&pairs(reference!("incubation_fit.csv"), [1, 2]));
    let expected = &file["nls_days"];
    let found = serde_json::to_value(thermal_sum_on_days(&eggs, P95).expect("a fit")).expect("JSON");
    assert_members(&found, expected, &["K", "T0", "se_K", "se_T0", "sigma", "rss"], number(&expected["tolerance"]));
    assert_eq!(found["df"], 28);
}

/// 2000 d °C above 5 °C: 200 d at 15, 160 at 17.5, 133.33 at 20; no error is left.
#[test]
fn a_curve_without_error_is_found_again() {
    let eggs = eggs(&[(15.0, 200.0), (17.5, 160.0), (20.0, 2000.0 / 15.0)]);
    let found = thermal_sum_on_days(&eggs, P95).expect("a fit");
    assert_near(found.T0, 5.0, 1e-9);
    assert_near(found.K, 2000.0, 1e-6);
    assert!(found.rss < 1e-12);
    let refused = |pairs: &[(f64, f64)]| match thermal_sum_on_days(&self::eggs(pairs), P95) {
        Err(Error::NotEstimable(reason)) => reason.code(),
        other => panic!("{other:?}"),
    };
    assert_eq!(refused(&[(20.0, 100.0), (20.0, 110.0), (20.0, 120.0)]), "single_temperature");
    assert_eq!(refused(&[(20.0, 100.0), (22.0, 90.0)]), "too_few_incubations");
}

proptest! {
    /// No other curve nearby lies nearer, and a fresh start elsewhere ends in the same place.
    #[test]
    fn a_fit_on_days_is_the_nearest_curve(
        noise in prop::collection::vec(-6.0f64..6.0, 6..20),
        k in 800.0f64..4000.0,
        t0 in -2.0f64..8.0,
    ) {
        let temperatures = [12.0, 14.5, 17.0, 20.0, 23.0];
        let pairs: Vec<(f64, f64)> =
            noise.iter().enumerate().map(|(at, noise)| (temperatures[at % 5], k / (temperatures[at % 5] - t0) + noise)).collect();
        let eggs = eggs(&pairs);
        let found = thermal_sum_on_days(&eggs, P95).expect("a fit");
        let rss = |k: f64, t0: f64| eggs.iter().map(|egg| egg.days - k / (egg.temperature_c - t0)).map(|r| r * r).sum::<f64>();
        for (by_k, by_t0) in [(1.001, 0.0), (0.999, 0.0), (1.0, 0.01), (1.0, -0.01), (1.001, -0.01), (0.999, 0.01)] {
            prop_assert!(rss(found.K * by_k, found.T0 + by_t0) >= found.rss - 1e-9 * (1.0 + found.rss));
        }
    }
}

fn log(pairs: &[(f64, f64)]) -> TemperatureLog {
    let readings = pairs.iter().map(|(day, temperature_c)| TemperatureReading { day: *day, temperature_c: *temperature_c });
    TemperatureLog::new(readings.collect()).expect("a log")
}

/// Half-daily readings with a gap from day 100 to 104, integrated exactly.
#[test]
fn sums_along_a_log() {
    let file = json(reference!("temp_integration.expected.json"));
    let (tolerance, params) = (number(&file["tolerance_days"]), &file["params"]);
    let of = |name: &str| number(&params[name]);
    let log = log(&pairs(reference!("temp_integration.csv"), [0, 1]));
    let sum = Rate::ThermalSum { t0_c: of("T0"), k_degree_days: of("K") };
    let heat = Rate::Arrhenius { reference_c: of("Tref_c"), reference_days: of("Dref_days"), ea_ev: of("Ea_eV") };
    assert_near(heat.at(25.0) / heat.at(15.0), of("q10_between_Tref_and_Tref_plus_10"), 1e-12);
    for case in file["cases"].as_array().expect("cases") {
        let start = number(&case["start_day"]);
        for (rate, name) in [(sum, "degree_day"), (heat, "arrhenius")] {
            for (between, how) in [(Between::Linear, "linear"), (Between::HoldPrevious, "locf")] {
                let found = log.forecast(rate, start, between, 1.0).expect("a forecast");
                let expected = case[format!("hatch_day_{name}_{how}")].as_f64();
                match (found.hatch_day, expected) {
                    (Some(day), Some(wanted)) => assert_near(day, wanted, tolerance),
                    (found, expected) => assert_eq!(found, expected),
                }
                assert_eq!(found.fraction_at_end.is_some(), expected.is_none(), "a day or a fraction");
                let crosses = start < 100.0;
                assert_eq!(found.gaps.iter().map(|g| (g.from_day, g.to_day)).collect::<Vec<_>>(), vec![(100.0, 104.0); crosses.into()]);
                let degree_days = log.degree_days(of("T0"), start, start + 60.0, between).expect("a sum");
                assert_near(degree_days, number(&case[format!("degree_days_above_T0_first_60d_{how}")]), tolerance);
            }
        }
    }
}

/// Two published means each; one pair is hardly believed and says so.
#[test]
fn two_published_means() {
    let file = json(reference!("q10_published.expected.json"));
    for case in file["cases"].as_array().expect("cases") {
        let egg = |temperature: &str, days: &str| Incubation { temperature_c: number(&case[temperature]), days: number(&case[days]) };
        let found = two_point(egg("T1", "D1"), egg("T2", "D2")).expect("two means");
        assert_near(found.q10, number(&case["Q10"]), 1e-9);
        assert_near(found.T0.expect("one"), number(&case["T0"]), 1e-9);
        assert_near(found.K.expect("one"), number(&case["K"]), 1e-9);
        assert_eq!(found.implausible, found.q10 > 12.0);
    }
}

/// *Hemiscyllium ocellatum*, 125 d at 27 °C and 100 d at 31 °C (Wheeler et al. 2021, days from
/// summaries): the arithmetic of the trade's paper, section 3.
#[test]
fn check_values_of_the_trade() {
    let egg = |temperature_c, days| Incubation { temperature_c, days };
    let found = two_point(egg(27.0, 125.0), egg(31.0, 100.0)).expect("two means");
    assert_near(found.q10, 1.747, 0.0005);
    assert_near(found.T0.expect("one"), 11.0, 0.05);
    assert_near(found.K.expect("one"), 2000.0, 0.5);
    let (heat, sum) =
        (Rate::Q10 { reference_c: 27.0, reference_days: 125.0, q10: found.q10 }, Rate::ThermalSum { t0_c: 11.0, k_degree_days: 2000.0 });
    assert_near(1.0 / heat.at(24.95), 140.1, 0.05);
    assert_near(1.0 / sum.at(24.95), 143.4, 0.05);
    // 60 days at 27 °C, then 31 °C.
    let log = log(&[(0.0, 27.0), (60.0, 31.0), (200.0, 31.0)]);
    let fraction = log.progress(heat, 0.0, 60.0, Between::HoldPrevious).expect("a fraction");
    assert_near(fraction, 0.480, 1e-9);
    let hatch = log.forecast(heat, 0.0, Between::HoldPrevious, 365.0).expect("a forecast").hatch_day.expect("a day");
    assert_near(hatch - 60.0, 52.0, 0.05);
    // *Haploblepharus pictus* (Pretorius & Griffiths 2013), *D. intermedius* 5700 degree-days in 534 d (Benjamins 2021).
    assert_near(two_point(egg(14.0, 242.0), egg(17.0, 190.0)).expect("two means").q10, 2.240, 0.0005);
    assert_near(5700.0 / 534.0, 10.67, 0.01);
}

/// From 4 to 12 °C in a day over a threshold of 6: above it for 3/4 of the day, by 3 °C on average.
#[test]
fn a_segment_is_cut_where_it_crosses_the_threshold() {
    let log = log(&[(0.0, 4.0), (1.0, 12.0), (2.0, 4.0)]);
    assert_near(log.degree_days(6.0, 0.0, 1.0, Between::Linear).expect("a sum"), 0.75 * 3.0, 1e-12);
    assert_near(log.degree_days(6.0, 0.0, 2.0, Between::Linear).expect("a sum"), 2.0 * 0.75 * 3.0, 1e-12);
    assert_near(log.degree_days(6.0, 0.25, 0.5, Between::Linear).expect("a sum"), 0.25, 1e-12);
    assert_near(log.degree_days(6.0, 0.0, 2.0, Between::HoldPrevious).expect("a sum"), 6.0, 1e-12);
}

/// Ten days at 10 °C, ten days unseen, then 20 °C, with K = 200 above 0: by day 10 half is done; the
/// gap brings 10, 15 or 20 a day.
#[test]
fn a_gap_is_bounded_by_its_neighbours() {
    let log = log(&[(0.0, 10.0), (5.0, 10.0), (10.0, 10.0), (20.0, 20.0), (25.0, 20.0), (30.0, 20.0)]);
    let rate = Rate::ThermalSum { t0_c: 0.0, k_degree_days: 200.0 };
    let found = log.forecast(rate, 0.0, Between::Linear, 6.0).expect("a forecast");
    assert_near(found.hatch_day_if_gaps_warm.expect("a day"), 15.0, 1e-9);
    assert_near(found.hatch_day_if_gaps_cold.expect("a day"), 20.0, 1e-9);
    // 10 x + x²/2 = 100 along the line from 10 to 20 °C.
    assert_near(found.hatch_day.expect("a day"), 10.0 + (300f64.sqrt() - 10.0), 1e-9);
    assert_eq!(found.gaps.len(), 1);
    let early = log.forecast(rate, -5.0, Between::Linear, 6.0).expect("a forecast");
    assert_eq!((early.before_log_days, early.hatch_day.expect("a day") < found.hatch_day.expect("a day")), (5.0, true));
    let half = log.day_reaching(rate, 0.0, 0.5, Between::Linear).expect("a day");
    assert_near(half.expect("a day"), 10.0, 1e-9);
    assert_eq!(log.day_reaching(rate, 0.0, 9.0, Between::Linear), Ok(None));
}

#[test]
fn what_cannot_be_fitted_is_refused_with_the_reason() {
    let refused = |pairs: &[(f64, f64)]| match thermal_sum(&eggs(pairs), P95) {
        Err(Error::NotEstimable(reason)) => reason.code(),
        other => panic!("{other:?}"),
    };
    assert_eq!(refused(&[]), "no_data");
    assert_eq!(refused(&[(20.0, 100.0), (20.0, 110.0), (20.0, 120.0)]), "single_temperature");
    assert_eq!(refused(&[(20.0, 100.0), (22.0, 90.0)]), "too_few_incubations");
    assert_eq!(refused(&[(20.0, 100.0), (22.0, 110.0), (24.0, 120.0)]), "rate_does_not_rise");
    // A slope that is barely told from 0 leaves the threshold open.
    let vague = thermal_sum(&eggs(&[(20.0, 100.0), (21.0, 80.0), (22.0, 99.0)]), P95).expect("a fit");
    assert_eq!(vague.t0_fieller, Err(Reason::Unbounded));
    let far = vague.predict(22.0).expect("a prediction");
    assert_eq!((far.days_pi_upper, far.outside_fitted_range), (None, false));
    let line = |pairs: &[(f64, f64)]| thermal_sum(&eggs(pairs), P95).expect_err("a fault").to_string();
    assert!(line(&[(20.0, 100.0), (f64::NAN, 90.0)]).starts_with("row 1: temperature_c is NaN"));
    assert!(line(&[(20.0, 100.0), (22.0, -1.0)]).starts_with("row 1: days is -1"));
    assert!(line(&[(71.0, 100.0)]).starts_with("row 0: temperature_c is 71"));
}

#[test]
fn bad_logs_are_named() {
    let refused = |pairs: &[(f64, f64)]| {
        let readings = pairs.iter().map(|(day, temperature_c)| TemperatureReading { day: *day, temperature_c: *temperature_c });
        TemperatureLog::new(readings.collect()).expect_err("a fault").to_string()
    };
    assert!(refused(&[(0.0, 10.0), (0.0, 11.0)]).starts_with("row 1: day is 0, not after day 0"));
    assert!(refused(&[(0.0, 10.0), (f64::NAN, 11.0)]).starts_with("row 1: day is NaN"));
    assert!(refused(&[(0.0, 10.0), (1.0, 99.0)]).starts_with("row 1: temperature_c is 99"));
    assert_eq!(refused(&[]), "no data");
    let log = log(&[(0.0, 10.0), (1.0, 10.0)]);
    let rate = Rate::Q10 { reference_c: 10.0, reference_days: 100.0, q10: 2.0 };
    let after = log.forecast(rate, 2.0, Between::Linear, 1.0);
    assert_eq!(after, Err(Error::NotEstimable(Reason::AfterTemperatureLog { day: 2.0, log_ends_day: 1.0 })));
    let wrong = Rate::Q10 { reference_c: 10.0, reference_days: 100.0, q10: 0.0 };
    assert!(matches!(log.forecast(wrong, 0.0, Between::Linear, 1.0), Err(Error::Input(InvalidInput::Quantity { field: "q10", .. }))));
    let one = log.forecast(rate, 1.0, Between::Linear, 1.0).expect("at the very end");
    assert_eq!((one.hatch_day, one.fraction_at_end), (None, Some(0.0)));
}

fn any_log() -> impl Strategy<Value = TemperatureLog> {
    prop::collection::vec((0.1..3.0f64, 2.0..28.0f64), 2..30).prop_map(|steps| {
        let mut day = 0.0;
        let pairs: Vec<(f64, f64)> = steps
            .iter()
            .map(|(step, temperature_c)| {
                day += step;
                (day, *temperature_c)
            })
            .collect();
        log(&pairs)
    })
}

fn any_rate() -> impl Strategy<Value = Rate> {
    prop_oneof![
        (0.0..15.0f64, 10.0..3000.0f64).prop_map(|(t0_c, k_degree_days)| Rate::ThermalSum { t0_c, k_degree_days }),
        (10.0..200.0f64, 1.2..4.0f64).prop_map(|(reference_days, q10)| Rate::Q10 { reference_c: 15.0, reference_days, q10 }),
        (10.0..200.0f64, 0.3..1.0f64).prop_map(|(reference_days, ea_ev)| Rate::Arrhenius { reference_c: 15.0, reference_days, ea_ev }),
    ]
}

/// The sum by many small steps, which shares no code with the closed forms.
fn by_small_steps(log: &TemperatureLog, rate: Rate) -> f64 {
    let steps = 2_000;
    let of = |pair: &[TemperatureReading]| -> f64 {
        let (days, warmer) = (pair[1].day - pair[0].day, pair[1].temperature_c - pair[0].temperature_c);
        let middle = |step: i32| pair[0].temperature_c + warmer * (f64::from(step) + 0.5) / f64::from(steps);
        (0..steps).map(|step| rate.at(middle(step)) * days / f64::from(steps)).sum()
    };
    log.readings().windows(2).map(of).sum()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn the_sum_is_the_area_under_the_rate(log in any_log(), rate in any_rate()) {
        let found = log.progress(rate, log.begins_day(), log.ends_day(), Between::Linear).expect("a sum");
        let wanted = by_small_steps(&log, rate);
        prop_assert!((found - wanted).abs() <= 1e-5 * wanted + 1e-7, "{found} {wanted}");
    }

    /// Progress is additive, and reaching it is its inverse.
    #[test]
    fn progress_adds_up_and_turns_back(log in any_log(), rate in any_rate(), cut in 0.0..1.0f64) {
        let (from, to) = (log.begins_day(), log.ends_day());
        let middle = from + cut * (to - from);
        let part = |a, b| log.progress(rate, a, b, Between::Linear).expect("a sum");
        let (first, second) = (part(from, middle), part(middle, to));
        prop_assert!((first + second - part(from, to)).abs() < 1e-12 * (1.0 + first + second));
        prop_assume!(first > 1e-6);
        let day = log.day_reaching(rate, from, first, Between::Linear).expect("a day").expect("reached");
        prop_assert!((part(from, day) - first).abs() < 1e-12 * (1.0 + first));
    }

    /// The bounds of gaps hold the day between them.
    #[test]
    fn warm_gaps_hatch_first(log in any_log(), rate in any_rate()) {
        let found = log.forecast(rate, log.begins_day(), Between::Linear, 0.5).expect("a forecast");
        if let Some(day) = found.hatch_day {
            prop_assert!(found.hatch_day_if_gaps_warm.expect("earlier still") <= day + 1e-9);
        }
        if let Some(cold) = found.hatch_day_if_gaps_cold {
            prop_assert!(found.hatch_day.expect("earlier still") <= cold + 1e-9);
        }
    }

    /// Eggs that follow a form exactly give its parameters back.
    #[test]
    fn exact_data_give_the_parameters_back(t0 in 0.0..8.0f64, k in 500.0..3000.0f64, factor in 1.2..4.0f64) {
        let temperatures = [12.0, 15.0, 18.0, 21.0];
        let sum: Vec<(f64, f64)> = temperatures.iter().map(|t| (*t, k / (t - t0))).collect();
        let found = thermal_sum(&eggs(&sum), Level::P95).expect("a fit");
        prop_assert!((found.T0 - t0).abs() < 1e-6 && (found.K / k - 1.0).abs() < 1e-8);
        let heat: Vec<(f64, f64)> = temperatures.iter().map(|t| (*t, 100.0 * factor.powf(-(t - 15.0) / 10.0))).collect();
        prop_assert!((q10(&eggs(&heat), Level::P95).expect("a fit").q10 / factor - 1.0).abs() < 1e-9);
    }
}
