//! Proportions: by hand, by Newcombe's published tables, and by sums in 50 digits.

use selachron_statistics::clustered::clustered;
use selachron_statistics::proportion::{CASES_MAX, Tally, clopper_pearson, newcombe_difference, proportion, wilson};
use selachron_statistics::{Error, Interval, InvalidInput, Level, Reason};
use serde_json::Value;

use crate::support::{P95, assert_near, json, numbers, reference};

#[track_caller]
fn assert_interval(found: Interval, expected: &Value, tolerance: f64) {
    let expected = numbers(expected);
    assert_near(found.lower, expected[0], tolerance);
    assert_near(found.upper, expected[1], tolerance);
}

fn count(value: &Value) -> u64 {
    value.as_f64().expect("a count") as u64
}

/// Normal quantiles from mpmath 1.4.1: sqrt(2) erfinv(level).
#[test]
fn the_normal_quantile() {
    let known = [
        (0.5, 0.674_489_750_196_081_7),
        (0.9, 1.644_853_626_951_472_7),
        (0.95, 1.959_963_984_540_054_2),
        (0.99, 2.575_829_303_548_901),
        (0.999, 3.290_526_731_491_895),
    ];
    for (level, z) in known {
        assert_near(Level::new(level).expect("a level").z(), z, 1e-13);
    }
}

/// With z² = 4 and 2 of 4: p = 1/2, centre (1/2 + 1/2)/2 = 1/2, half width
/// 2 sqrt(1/16 + 1/16)/2 = sqrt(1/8). The level with z = 2 is erf(sqrt 2) = 0.954499736103641585...
/// (Abramowitz & Stegun 1964, table 26.1: P(2) = .97724 98680 51821, doubled less one).
#[test]
fn wilson_by_hand() {
    let two_sigma = Level::new(2.0 * 0.977_249_868_051_821 - 1.0).expect("a level");
    assert_near(two_sigma.z(), 2.0, 1e-13);
    let found = wilson(2, 4, two_sigma).expect("an interval");
    assert_near(found.lower, 0.5 - 0.125_f64.sqrt(), 1e-13);
    assert_near(found.upper, 0.5 + 0.125_f64.sqrt(), 1e-13);
}

/// One of one at 90 %: no proportion below p with P(X = 1) = p = 0.05. None of two:
/// (1 - p)² = 0.05. One of two: P(X >= 1) = 1 - (1 - p)² = 0.05, and P(X <= 1) = 1 - p² = 0.05.
#[test]
fn clopper_pearson_by_hand() {
    let p90 = Level::new(0.9).expect("a level");
    let one_of_one = clopper_pearson(1, 1, p90).expect("an interval");
    assert_near(one_of_one.lower, 0.05, 1e-15);
    assert_eq!(one_of_one.upper, 1.0);
    let none_of_two = clopper_pearson(0, 2, p90).expect("an interval");
    assert_eq!(none_of_two.lower, 0.0);
    assert_near(none_of_two.upper, 1.0 - 0.05_f64.sqrt(), 1e-15);
    let one_of_two = clopper_pearson(1, 2, p90).expect("an interval");
    assert_near(one_of_two.lower, 1.0 - 0.95_f64.sqrt(), 1e-15);
    assert_near(one_of_two.upper, 0.95_f64.sqrt(), 1e-15);
}

/// Newcombe 1998 Stat Med 17:857 table I (four decimals) and scipy 1.17.1 / statsmodels 0.15.0.
#[test]
fn intervals_as_published() {
    let file = json(reference!("binomial.expected.json"));
    for case in file["single"].as_array().expect("cases") {
        let found = proportion(count(&case["k"]), count(&case["n"]), P95).expect("a proportion");
        assert_near(found.estimate, case["estimate"].as_f64().expect("a number"), 1e-15);
        assert_interval(found.wilson, &case["wilson"], 1e-12);
        assert_interval(found.clopper_pearson, &case["clopper_pearson"], 1e-12);
        let published = &case["published_newcombe_1998_table_I"];
        if published.is_object() {
            assert_interval(found.wilson, &published["wilson"], 0.5e-4);
            assert_interval(found.clopper_pearson, &published["clopper_pearson"], 0.5e-4);
        }
    }
}

/// Newcombe 1998 Stat Med 17:873 method 10 (56/70 against 48/80: .0524 to .3339) and statsmodels.
#[test]
fn differences_as_published() {
    let file = json(reference!("binomial.expected.json"));
    for case in file["two_sample"].as_array().expect("cases") {
        let first = Tally { k: count(&case["x1"]), n: count(&case["n1"]) };
        let second = Tally { k: count(&case["x2"]), n: count(&case["n2"]) };
        let found = newcombe_difference(first, second, P95).expect("a difference");
        assert_near(found.estimate, case["diff"].as_f64().expect("a number"), 1e-15);
        assert_interval(found.newcombe, &case["newcombe_hybrid_wilson"], 1e-12);
        let published = &case["published_newcombe_1998b_method10"];
        if published.is_array() {
            assert_interval(found.newcombe, published, 0.5e-4);
        }
        let turned = newcombe_difference(second, first, P95).expect("a difference").newcombe;
        assert_near(turned.lower, -found.newcombe.upper, 1e-15);
        assert_near(turned.upper, -found.newcombe.lower, 1e-15);
    }
}

/// Up to a million cases, to twelve significant digits or 1e-16: `clopper_pearson_large.py`
/// (mpmath 1.4.1).
#[test]
fn clopper_pearson_for_large_counts() {
    let file = json(reference!("clopper_pearson_large.expected.json"));
    let relative = file["tolerance_rel"].as_f64().expect("a number");
    let absolute = file["tolerance"].as_f64().expect("a number");
    for case in file["cases"].as_array().expect("cases") {
        let level = Level::new(case["level"].as_f64().expect("a number")).expect("a level");
        let found = clopper_pearson(count(&case["k"]), count(&case["n"]), level).expect("one");
        let expected = numbers(&case["clopper_pearson"]);
        assert_near(found.lower, expected[0], (relative * expected[0]).max(absolute));
        assert_near(found.upper, expected[1], (relative * expected[1]).max(absolute));
    }
}

/// Rao & Scott 1992 Biometrics 48:577; statsmodels for Wilson on the effective number.
#[test]
fn clusters_as_published() {
    let file = json(reference!("binomial.expected.json"));
    for case in file["clustered_rao_scott"]["cases"].as_array().expect("cases") {
        let hatched = numbers(&case["clutch_hatched"]);
        let eggs = numbers(&case["clutch_eggs"]);
        let tallies: Vec<Tally> = hatched.iter().zip(&eggs).map(|(k, n)| Tally { k: *k as u64, n: *n as u64 }).collect();
        let found = clustered(&tallies, P95).expect("a proportion");
        assert_near(found.estimate, case["p"].as_f64().expect("a number"), 1e-15);
        let deff = found.deff.expect("a design effect");
        assert_near(deff, case["deff"].as_f64().expect("a number"), 1e-12);
        assert_near(found.n_eff, case["n_eff"].as_f64().expect("a number"), 1e-12);
        assert_interval(found.wilson, &case["wilson_on_n_eff"], 1e-12);
        assert!(found.few_clusters);
    }
}

/// By hand: clusters 0 of 2 and 2 of 2 give p = 1/2, squares 1 + 1, v = 2 · 2/16 = 1/4,
/// deff = (1/4)/(1/4 / 4) = 4: the four cases are worth one.
#[test]
fn clusters_by_hand() {
    let found = clustered(&[Tally { k: 0, n: 2 }, Tally { k: 2, n: 2 }], P95).expect("one");
    assert_near(found.deff.expect("a design effect"), 4.0, 1e-15);
    assert_near(found.n_eff, 1.0, 1e-15);
}

#[test]
fn where_all_clusters_agree_each_counts_once() {
    let all = [Tally { k: 5, n: 5 }; 4];
    let found = clustered(&all, P95).expect("a proportion");
    assert_eq!((found.deff, found.n_eff, found.wilson.upper), (None, 4.0, 1.0));
    assert_eq!(found.wilson, wilson(4, 4, P95).expect("an interval"));
    let one = clustered(&all[..1], P95).expect_err("one cluster");
    assert_eq!(one, Reason::SingleCluster.into());
    let empty = clustered(&[Tally { k: 0, n: 0 }], P95).expect_err("no cases");
    assert_eq!(empty, Reason::NoData.into());
}

#[test]
fn nothing_counted_is_no_data_and_never_an_interval() {
    let none = Error::NotEstimable(Reason::NoData);
    assert_eq!(proportion(0, 0, P95), Err(none.clone()));
    assert_eq!(wilson(0, 0, P95), Err(none.clone()));
    assert_eq!(clopper_pearson(0, 0, P95), Err(none.clone()));
    let side = newcombe_difference(Tally { k: 1, n: 2 }, Tally { k: 0, n: 0 }, P95);
    assert_eq!(side, Err(none.clone()));
    assert_eq!(none.to_string(), "no data");
}

#[test]
fn the_ends_are_exact() {
    for n in [1, 2, 20, 1_000, CASES_MAX] {
        for of in [wilson, clopper_pearson] {
            let (none, all) = (of(0, n, P95).expect("one"), of(n, n, P95).expect("one"));
            assert_eq!((none.lower, all.upper), (0.0, 1.0), "n {n}");
            assert!(none.upper > 0.0 && all.lower < 1.0, "n {n}");
        }
    }
}

/// The square root of a square is not always the number itself, so the ends are set, not hoped for.
#[test]
fn the_ends_of_wilson_are_exact_for_every_n() {
    for level in [0.8, 0.9, 0.95, 0.99] {
        let level = Level::new(level).expect("a level");
        for n in 1..2_000 {
            assert_eq!(wilson(0, n, level).expect("one").lower.to_bits(), 0, "n {n}");
            assert_eq!(wilson(n, n, level).expect("one").upper, 1.0, "n {n}");
        }
    }
}

#[test]
fn bad_counts_are_named() {
    let above = proportion(3, 2, P95).expect_err("three of two");
    assert_eq!(above, InvalidInput::CountAboveTotal { k: 3, n: 2 }.into());
    assert!(above.to_string().starts_with("k is 3 but n is only 2"), "{above}");
    let n = CASES_MAX + 1;
    let large = wilson(1, n, P95).expect_err("too many");
    assert_eq!(large, InvalidInput::TooManyCases { n, max: CASES_MAX }.into());
    for level in [0.0, 1.0, -0.5, 95.0, f64::NAN] {
        let refused = Level::new(level).expect_err("no level");
        assert!(refused.to_string().contains("such as 0.95"), "{refused}");
    }
}

#[test]
fn a_proportion_travels_with_its_names() {
    let found = proportion(10, 10, P95).expect("a proportion");
    let sent = serde_json::to_value(found).expect("JSON");
    assert_eq!((&sent["k"], &sent["n"]), (&10.into(), &10.into()));
    assert_eq!(sent["level"], 0.95);
    assert_eq!(sent["wilson"].as_array().expect("an array").len(), 2);
    assert_eq!(sent["clopper_pearson"][1], 1.0);
}
