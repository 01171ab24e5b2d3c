//! Ages known only to lie between two looks: against references, by hand, and by the conditions that
//! mark the maximum.

use proptest::collection::vec;
use proptest::prelude::*;
use selachron_statistics::interval::{
    Band, BetweenLooks, BootstrapPlan, CauseBetweenLooks, CompetingNpmle, Npmle, bootstrap, npmle, npmle_competing,
};
use selachron_statistics::{Error, InvalidInput, Level, Reason, Row, kaplan_meier};
use serde_json::Value;

use crate::support::{assert_near, json, reference};

const CLOSE: f64 = 1e-9;

/// Cells of the named columns, line by line.
fn cells<'a>(csv: &'a str, columns: &[&str]) -> Vec<Vec<&'a str>> {
    let mut lines = csv.lines();
    let header: Vec<&str> = lines.next().expect("a header").split(',').collect();
    let at: Vec<usize> = columns.iter().map(|c| header.iter().position(|name| name == c).expect("the column")).collect();
    lines
        .map(|line| {
            let cells: Vec<&str> = line.split(',').collect();
            at.iter().map(|column| cells[*column]).collect()
        })
        .collect()
}

fn looks(left: &str, right: &str) -> BetweenLooks {
    let number = |text: &str| text.parse().expect("a number");
    BetweenLooks::between(number(left), if right.is_empty() { f64::INFINITY } else { number(right) })
}

/// Innermost stretches, masses, support and log-likelihood.
#[track_caller]
fn assert_npmle(found: &Npmle, block: &Value, tolerance: f64) {
    let ends = |side: &str| block["innermost"][side].as_array().expect("ends").clone();
    let stretches: Vec<Value> = found.innermost.iter().map(|s| serde_json::to_value(s).expect("JSON")).collect();
    let expected: Vec<Value> = ends("left").iter().zip(ends("right")).map(|(l, r)| Value::from(vec![l.clone(), r])).collect();
    assert_eq!(stretches.len(), expected.len());
    for (stretch, wanted) in stretches.iter().zip(&expected) {
        assert_eq!([stretch[0].as_f64(), stretch[1].as_f64()], [wanted[0].as_f64(), wanted[1].as_f64()]);
    }
    let em = &block["em"];
    for (mass, wanted) in found.mass.iter().zip(em["prob"].as_array().expect("masses")) {
        assert_near(*mass, wanted.as_f64().expect("a number"), tolerance);
    }
    assert_near(found.loglik, em["loglik"].as_f64().expect("a number"), tolerance);
    let support = &block["support"];
    assert_eq!(found.support.len(), support["left"].as_array().expect("ends").len());
    for (at, (left, right, mass)) in found.support.iter().enumerate() {
        assert_eq!((Some(*left), *right), (support["left"][at].as_f64(), support["right"][at].as_f64()));
        assert_near(*mass, support["prob"][at].as_f64().expect("a number"), tolerance);
    }
    assert!(found.kkt_max_gradient_minus_n <= 1e-7 * found.n as f64, "{}", found.kkt_max_gradient_minus_n);
}

fn group(csv: &str, label: &str) -> Vec<BetweenLooks> {
    cells(csv, &["left", "right", "group"]).iter().filter(|c| c[2] == label).map(|c| looks(c[0], c[1])).collect()
}

/// Finkelstein & Wolfe 1985 (Biometrics 41:933): 94 patients, two treatments.
#[test]
fn breast_cosmesis() {
    let file = json(reference!("ic_breast_cosmesis.expected.json"));
    for label in ["RT", "RCT"] {
        let rows = group(reference!("ic_breast_cosmesis.csv"), label);
        let found = npmle(&rows).expect("sound rows");
        assert_npmle(&found, &file[label], file["tolerance"].as_f64().expect("a tolerance"));
        for published in file["published_4dp"][label].as_array().expect("rows") {
            let (left, right) = (published[0].as_f64(), published[1].as_f64());
            let (_, _, mass) = found.support.iter().find(|s| (Some(s.0), s.1) == (left, right)).expect("the same stretch");
            assert_near(*mass, published[2].as_f64().expect("a mass"), 5.1e-5);
        }
    }
}

/// Simulated deaths seen at weekly looks.
#[test]
fn weekly_looks() {
    let file = json(reference!("ic_weekly_sim.expected.json"));
    let rows: Vec<BetweenLooks> = cells(reference!("ic_weekly_sim.csv"), &["left", "right"]).iter().map(|c| looks(c[0], c[1])).collect();
    assert_npmle(&npmle(&rows).expect("sound rows"), &file["npmle"], file["tolerance"].as_f64().expect("a tolerance"));
}

fn competing(csv: &str) -> Vec<CauseBetweenLooks> {
    cells(csv, &["left", "right", "cause"]).iter().map(|c| looks(c[0], c[1]).of_cause(c[2].parse().expect("a cause"))).collect()
}

/// Simulated hatches seen daily and deaths seen weekly.
#[test]
fn hatch_and_death() {
    let file = json(reference!("ic_competing.expected.json"));
    let tolerance = |name: &str| file["tolerance"][name].as_f64().expect("a tolerance");
    let found = npmle_competing(&competing(reference!("ic_competing.csv"))).expect("sound rows");
    assert_near(found.loglik, file["loglik"].as_f64().expect("a number"), tolerance("loglik"));
    let grid = file["grid"].as_array().expect("ages");
    for (at, age) in grid.iter().enumerate() {
        for (cause, name) in [(1, "hatch"), (2, "death")] {
            let band = found.incidence_at(cause, age.as_f64().expect("an age")).expect("a band");
            let expected = |edge: &str| file["cif_bounds"][name][edge][at].as_f64().expect("a number");
            assert_near(band.lower, expected("lower"), tolerance("cif"));
            assert_near(band.upper, expected("upper"), tolerance("cif"));
        }
    }
    let support: Vec<(u32, f64, Option<f64>, f64)> =
        found.causes.iter().flat_map(|c| c.support.iter().map(|(l, r, m)| (c.cause, *l, *r, *m))).collect();
    let expected = file["support"].as_array().expect("rows");
    assert_eq!(support.len(), expected.len());
    for ((cause, left, right, mass), wanted) in support.iter().zip(expected) {
        assert_eq!(
            (u64::from(*cause), Some(*left), *right),
            (wanted["cause"].as_u64().expect("one"), wanted["left"].as_f64(), wanted["right"].as_f64())
        );
        assert_near(*mass, wanted["mass"].as_f64().expect("a mass"), 1e-6);
    }
}

/// (0, 2], (1, 3] and (2, 3]: the innermost stretches are (1, 2] and (2, 3]. With p on the first the
/// likelihood is p * 1 * (1 - p), largest at p = 1/2.
#[test]
fn two_stretches_by_hand() {
    let rows = [BetweenLooks::between(0.0, 2.0), BetweenLooks::between(1.0, 3.0), BetweenLooks::between(2.0, 3.0)];
    let found = npmle(&rows).expect("sound rows");
    assert_eq!(found.support.iter().map(|(l, r, _)| (*l, *r)).collect::<Vec<_>>(), [(1.0, Some(2.0)), (2.0, Some(3.0))]);
    assert_near(found.mass[0], 0.5, CLOSE);
    assert_near(found.loglik, 2.0 * 0.5f64.ln(), CLOSE);
    let band = |age| found.survival_at(age).expect("a band");
    assert_eq!(band(1.0), Band { lower: 1.0, upper: 1.0 });
    assert_near(band(1.5).lower, 0.5, CLOSE);
    assert_near(band(1.5).upper, 1.0, CLOSE);
    assert_near(band(2.0).upper, 0.5, CLOSE);
    assert_near(band(2.5).lower, 0.0, CLOSE);
    let median = found.quantile(0.5).expect("a median");
    assert_eq!((median.left_days, median.right_days), (1.0, 2.0));
}

/// An event seen on day 5 lies in (4, 5] and not in (5, 6].
#[test]
fn a_point_belongs_to_the_stretch_that_ends_there() {
    let rows = [BetweenLooks::exactly(5.0), BetweenLooks::between(4.0, 5.0), BetweenLooks::between(5.0, 6.0)];
    let found = npmle(&rows).expect("sound rows");
    assert_eq!(found.support.iter().map(|(l, r, _)| (*l, *r)).collect::<Vec<_>>(), [(5.0, Some(5.0)), (5.0, Some(6.0))]);
    assert_near(found.mass[0], 2.0 / 3.0, CLOSE);
}

/// Nobody has had the event: all mass lies after the last look, and survival is known up to it.
#[test]
fn all_still_waiting() {
    let found = npmle(&[BetweenLooks::after(3.0), BetweenLooks::after(8.0)]).expect("sound rows");
    assert_eq!(found.support, [(8.0, None, 1.0)]);
    assert_eq!(found.survival_at(8.0).expect("a band"), Band { lower: 1.0, upper: 1.0 });
    assert_eq!(found.survival_at(9.0).expect("a band"), Band { lower: 0.0, upper: 1.0 });
    assert_eq!(found.quantile(0.5).expect("a stretch").right(), None);
}

#[test]
fn bad_rows_are_named() {
    let sound = BetweenLooks::between(1.0, 2.0);
    let refused = |row: BetweenLooks| match npmle(&[sound, row]) {
        Err(Error::Input(fault)) => fault.to_string(),
        other => panic!("{other:?}"),
    };
    assert!(refused(BetweenLooks::between(-1.0, 2.0)).starts_with("row 1: left_days is -1"));
    assert!(refused(BetweenLooks::between(f64::NAN, 2.0)).starts_with("row 1: left_days is NaN"));
    assert!(refused(BetweenLooks::after(f64::INFINITY)).starts_with("row 1: left_days is inf"));
    assert!(refused(BetweenLooks::between(1.0, f64::NAN)).starts_with("row 1: right_days is NaN"));
    assert!(refused(BetweenLooks::between(3.0, 2.0)).starts_with("row 1: right_days is 2, before left_days 3"));
    assert!(refused(sound.times(0)).starts_with("row 1: weight is 0"));
    assert_eq!(npmle(&[]), Err(Error::NotEstimable(Reason::NoData)));
    assert_eq!(npmle_competing(&[]), Err(Error::NotEstimable(Reason::NoData)));
    assert!(matches!(npmle(&[sound.times(u64::MAX), sound]), Err(Error::Input(InvalidInput::TooManyCases { .. }))));
    for row in [sound.of_cause(0), BetweenLooks::after(1.0).of_cause(2)] {
        let fault = npmle_competing(&[sound.of_cause(1), row]).expect_err("a cause amiss");
        assert!(fault.to_string().starts_with("row 1: cause is"), "{fault}");
    }
}

/// Looks on a grid of a few days, exact ages and open ends among them.
fn any_looks() -> impl Strategy<Value = BetweenLooks> {
    let width = prop_oneof![3 => (0..6u8).prop_map(Some), 1 => Just(None)];
    (0..20u8, width, 1..4u64).prop_map(|(left, width, weight)| {
        let right = width.map_or(f64::INFINITY, |width| f64::from(left + width));
        BetweenLooks::between(left.into(), right).times(weight)
    })
}

/// Whether mass in a column counts for a row, straight from the definition.
fn sees(row: &BetweenLooks, left: f64, right: f64) -> bool {
    let point = left == right;
    if row.left_days == row.right_days {
        return point && left == row.left_days;
    }
    let begins = if point { row.left_days < left } else { row.left_days <= left };
    begins && right <= row.right_days
}

/// Gradients of all columns, by asking every row.
fn gradients(rows: &[BetweenLooks], found: &Npmle) -> Vec<f64> {
    let columns: Vec<(f64, f64)> = found.innermost.iter().map(|s| (s.left_days, s.right_days)).collect();
    let seen =
        |row: &BetweenLooks| -> f64 { columns.iter().zip(&found.mass).filter(|((l, r), _)| sees(row, *l, *r)).map(|(_, mass)| mass).sum() };
    let pulls: Vec<f64> = rows.iter().map(|row| row.weight as f64 / seen(row)).collect();
    columns.iter().map(|(l, r)| rows.iter().zip(&pulls).filter(|(row, _)| sees(row, *l, *r)).map(|(_, pull)| pull).sum()).collect()
}

fn plan(replicates: u64, seed: u64) -> BootstrapPlan {
    BootstrapPlan { replicates, seed, level: Level::P95 }
}

proptest! {
    /// Masses make a distribution; no column's gradient exceeds n, and where there is mass it is n.
    #[test]
    fn the_maximum_satisfies_its_conditions(rows in vec(any_looks(), 1..40)) {
        let found = npmle(&rows).expect("sound rows");
        let n = found.n as f64;
        prop_assert!((found.mass.iter().sum::<f64>() - 1.0).abs() < CLOSE);
        for (g, mass) in gradients(&rows, &found).iter().zip(&found.mass) {
            prop_assert!(*mass >= 0.0 && *g <= n * (1.0 + 1e-7), "gradient {g} of {n}");
            if *mass > 1e-6 {
                prop_assert!((g / n - 1.0).abs() < 1e-7, "gradient {g} of {n} at mass {mass}");
            }
        }
    }

    /// The order of rows is nobody's business, and a weight is so many rows.
    #[test]
    fn order_and_weights_change_nothing(rows in vec(any_looks(), 1..20)) {
        let mut single: Vec<BetweenLooks> = rows.iter().flat_map(|row| (0..row.weight).map(|_| row.times(1))).collect();
        single.reverse();
        let (whole, single) = (npmle(&rows).expect("sound rows"), npmle(&single).expect("sound rows"));
        prop_assert_eq!(&whole.innermost, &single.innermost);
        prop_assert_eq!(whole.mass, single.mass);
    }

    /// Exact events and right-censored cases are what Kaplan and Meier took.
    #[test]
    fn exact_events_give_kaplan_and_meier(cases in vec((0..12u8, any::<bool>()), 1..40)) {
        let looks = cases.iter().map(|(day, event)| if *event { BetweenLooks::exactly((*day).into()) } else { BetweenLooks::after((*day).into()) });
        let rows = cases.iter().map(|(day, event)| if *event { Row::event_at((*day).into()) } else { Row::censored_at((*day).into()) });
        let found = npmle(&looks.collect::<Vec<_>>()).expect("sound rows");
        let curve = kaplan_meier(&rows.collect::<Vec<_>>(), Level::P95).expect("sound rows");
        for step in &curve.steps {
            let band = found.survival_at(step.days).expect("a band");
            prop_assert!((band.upper - step.surv.expect("nobody enters late")).abs() < 1e-7, "{band:?} {step:?}");
        }
    }

    /// With one cause the incidence is 1 - S, whichever code found it.
    #[test]
    fn one_cause_is_no_competition(rows in vec(any_looks(), 1..30)) {
        let caused: Vec<CauseBetweenLooks> =
            rows.iter().map(|row| row.of_cause(if row.right_days.is_finite() { 7 } else { 0 })).collect();
        let (one, many) = (npmle(&rows).expect("sound rows"), npmle_competing(&caused).expect("sound rows"));
        prop_assert!((one.loglik - many.loglik).abs() < 1e-6);
        for age in 0..30u8 {
            let (survival, incidence) = (one.survival_at(age.into()).expect("a band"), many.incidence_at(7, age.into()).expect("a band"));
            // Mass that no end bounds is of no cause yet, so only the certain edge is the same.
            prop_assert!((survival.upper + incidence.lower - 1.0).abs() < 1e-5, "{survival:?} {incidence:?}");
        }
    }

    /// Incidences and those still waiting make up all cases, edge against edge.
    #[test]
    fn all_fates_sum_to_one(rows in vec((any_looks(), 1..4u32), 1..40)) {
        let rows: Vec<CauseBetweenLooks> =
            rows.iter().map(|(row, cause)| row.of_cause(if row.right_days.is_finite() { *cause } else { 0 })).collect();
        let found: CompetingNpmle = npmle_competing(&rows).expect("sound rows");
        let total: f64 = found.causes.iter().flat_map(|c| &c.mass).sum::<f64>() + found.mass_without_event;
        prop_assert!((total - 1.0).abs() < 1e-12);
        for age in [0.0, 3.0, 7.5, 40.0] {
            let come: f64 = found.causes.iter().map(|c| found.incidence_at(c.cause, age).expect("a band").lower).sum();
            prop_assert!((come + found.event_free_at(age).expect("a band").upper - 1.0).abs() < 1e-12);
        }
    }

    /// Pieces to draw join up, and each says what reading the estimate inside it says.
    #[test]
    fn pieces_join_and_agree(rows in vec(any_looks(), 1..30)) {
        let found = npmle(&rows).expect("sound rows");
        let pieces = found.survival_band();
        for pair in pieces.windows(2) {
            prop_assert_eq!(pair[0].to_days, Some(pair[1].from_days));
            prop_assert!(pair[1].band.upper <= pair[0].band.upper + 1e-12);
        }
        prop_assert_eq!(pieces.last().expect("a piece").to_days, None);
    }
}

/// On one common grid of looks the estimate is Aalen and Johansen's on that grid, here by hand: of 10
/// cases 2 die and 3 hatch by day 7, 1 was last seen then, and of the 4 left 1 dies and 2 hatch by
/// day 14. Hatch: 3/10, then + (1/2)(2/4); death: 2/10, then + (1/2)(1/4).
#[test]
fn a_common_grid_is_aalen_and_johansen() {
    let row = |left: f64, right: f64, cause, weight| BetweenLooks::between(left, right).times(weight).of_cause(cause);
    let open = f64::INFINITY;
    let rows =
        [row(0.0, 7.0, 1, 3), row(0.0, 7.0, 2, 2), row(7.0, open, 0, 1), row(7.0, 14.0, 1, 2), row(7.0, 14.0, 2, 1), row(14.0, open, 0, 1)];
    let found = npmle_competing(&rows).expect("sound rows");
    let at = |cause, age| found.incidence_at(cause, age).expect("a band");
    for (cause, first, second) in [(1, 0.3, 0.55), (2, 0.2, 0.325)] {
        assert_near(at(cause, 7.0).lower, first, CLOSE);
        assert_near(at(cause, 14.0).lower, second, CLOSE);
        assert_near(at(cause, 8.0).upper, second, CLOSE);
    }
    assert_near(found.mass_without_event, 0.125, CLOSE);
    assert_eq!(at(9, 14.0), Band { lower: 0.0, upper: 0.0 });
}

/// The same seed gives the same digits, another seed others, and a cluster more of the same cases
/// draws closer.
#[test]
fn clusters_are_drawn_by_the_seed() {
    let rows = group(reference!("ic_breast_cosmesis.csv"), "RT");
    let each: Vec<u64> = (0..rows.len() as u64).collect();
    let ages = [10.0, 20.0, 30.0];
    let once = bootstrap(&rows, &each, &ages, plan(200, 7)).expect("intervals");
    assert_eq!(once, bootstrap(&rows, &each, &ages, plan(200, 7)).expect("intervals"));
    assert_ne!(once.interval, bootstrap(&rows, &each, &ages, plan(200, 8)).expect("intervals").interval);
    for (band, interval) in once.survival.iter().zip(&once.interval) {
        assert!(interval.lower < band.lower && band.upper < interval.upper, "{band:?} {interval:?}");
    }
    let doubled: Vec<u64> = each.iter().map(|case| case / 2).collect();
    assert_eq!(bootstrap(&rows, &doubled, &ages, plan(200, 7)).expect("intervals").clusters, 23);
    let one = bootstrap(&rows, &vec![1; rows.len()], &ages, plan(200, 7));
    assert_eq!(one, Err(Error::NotEstimable(Reason::SingleCluster)));
    let missing = bootstrap(&rows, &each[1..], &ages, plan(200, 7));
    assert_eq!(missing, Err(Error::Input(InvalidInput::ClusterMissing { rows: 46, clusters: 45 })));
    assert!(matches!(bootstrap(&rows, &each, &ages, plan(0, 7)), Err(Error::Input(InvalidInput::Replicates { .. }))));
}

/// Without uncertainty about ages and clusters of one, the interval of a survival is near that of a
/// proportion: 100 cases, half of them before day 1.
#[test]
fn the_interval_of_a_plain_proportion() {
    let rows: Vec<BetweenLooks> =
        (0..100).map(|case| if case < 50 { BetweenLooks::between(0.0, 1.0) } else { BetweenLooks::after(1.0) }).collect();
    let each: Vec<u64> = (0..100).collect();
    let found = bootstrap(&rows, &each, &[1.0], plan(2_000, 1)).expect("intervals");
    // Binomial: 0.5 -+ 1.96 * 0.05.
    assert_near(found.interval[0].lower, 0.402, 0.02);
    assert_near(found.interval[0].upper, 0.598, 0.02);
}
