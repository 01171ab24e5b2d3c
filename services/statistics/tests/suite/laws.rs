//! Laws that hold for any data, and second methods that share no code with the first.

use proptest::collection::vec;
use proptest::prelude::*;
use selachron_statistics::confidence::SurvivalInterval::{Log, LogLog, Plain};
use selachron_statistics::proportion::{clopper_pearson, wilson};
use selachron_statistics::{Curve, Level, Row, kaplan_meier, kaplan_meier_given};

use crate::support::P95;

const CLOSE: f64 = 1e-12;

fn curve(rows: &[Row]) -> Curve {
    kaplan_meier(rows, P95).expect("sound rows")
}

/// Cases watched from the origin, on few distinct days so that ties are many.
fn watched() -> impl Strategy<Value = Row> {
    (0..12u8, any::<bool>(), 1..4u64).prop_map(|(exit, event, weight)| Row { entry_days: None, exit_days: exit.into(), event, weight })
}

/// The same, some of which enter late, none of them without time at risk.
fn late() -> impl Strategy<Value = Row> {
    (proptest::option::of(0..10u8), 1..8u8, any::<bool>(), 1..4u64).prop_map(|(entry, stay, event, weight)| {
        let exit_days = f64::from(entry.unwrap_or(0) + stay);
        Row { entry_days: entry.map(f64::from), exit_days, event, weight }
    })
}

/// The estimator straight from its definition, asking every case at every age.
fn by_definition(rows: &[Row], age: f64) -> f64 {
    let at_risk = |t: f64| -> u64 {
        let open = |r: &&Row| r.entry_days.is_none_or(|e| e < t) && t <= r.exit_days;
        rows.iter().filter(open).map(|r| r.weight).sum()
    };
    let deaths = |t: f64| -> u64 { rows.iter().filter(|r| r.event && r.exit_days == t).map(|r| r.weight).sum() };
    let days = (0..=age as u32).map(f64::from).filter(|t| deaths(*t) > 0);
    days.map(|t| 1.0 - deaths(t) as f64 / at_risk(t) as f64).product()
}

/// Efron 1967 (Proc. 5th Berkeley Symp. 4:831): a censored case hands its mass in equal parts to all
/// that outlast it; the mass that died is 1 - S.
fn redistributed_to_the_right(rows: &[Row], age: f64) -> f64 {
    let mut cases: Vec<(f64, bool)> = Vec::new();
    for row in rows {
        cases.extend((0..row.weight).map(|_| (row.exit_days, row.event)));
    }
    // Deaths first on a tie, so that those censored that day still outlast them.
    cases.sort_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)));
    let mut mass = vec![1.0 / cases.len() as f64; cases.len()];
    let mut dead = 0.0;
    for (index, (exit, event)) in cases.iter().enumerate() {
        if *event {
            dead += if *exit <= age { mass[index] } else { 0.0 };
        } else {
            let (share, later) = (mass[index], cases.len() - index - 1);
            mass[index + 1..].iter_mut().for_each(|m| *m += share / later as f64);
        }
    }
    1.0 - dead
}

/// P(X >= k) by summing the binomial probabilities.
fn at_least(k: u64, n: u64, p: f64) -> f64 {
    let mut choose = 1.0;
    let mut sum = 0.0;
    for i in 0..=n {
        if i >= k {
            sum += choose * p.powf(i as f64) * (1.0 - p).powf((n - i) as f64);
        }
        choose *= (n - i) as f64 / (i + 1) as f64;
    }
    sum
}

proptest! {
    /// The limits are where the exact binomial test turns.
    #[test]
    fn clopper_pearson_solves_the_binomial_tails(n in 1..60u64, part in 0.0..1.0f64, level in 0.5..0.999f64) {
        let k = (part * (n + 1) as f64) as u64;
        let found = clopper_pearson(k, n, Level::new(level).expect("a level")).expect("one");
        let tail = (1.0 - level) / 2.0;
        if k > 0 {
            prop_assert!((at_least(k, n, found.lower) / tail - 1.0).abs() < 1e-10);
        }
        if k < n {
            prop_assert!(((1.0 - at_least(k + 1, n, found.upper)) / tail - 1.0).abs() < 1e-9);
        }
    }

    /// Both intervals hold the estimate, lie in [0, 1], mirror when events and others change
    /// places, and grow with the level.
    #[test]
    fn intervals_keep_their_order(n in 1..100_000u64, part in 0.0..1.0f64) {
        let k = (part * (n + 1) as f64) as u64;
        for of in [wilson, clopper_pearson] {
            let found = of(k, n, P95).expect("one");
            prop_assert!(0.0 <= found.lower && found.upper <= 1.0);
            prop_assert!(found.contains(k as f64 / n as f64));
            let mirrored = of(n - k, n, P95).expect("one");
            prop_assert!((mirrored.lower - (1.0 - found.upper)).abs() < CLOSE);
            let wider = of(k, n, Level::new(0.99).expect("a level")).expect("one");
            prop_assert!(wider.lower <= found.lower && found.upper <= wider.upper);
        }
    }

    #[test]
    fn survival_is_what_the_definition_says(rows in vec(late(), 1..40)) {
        let curve = curve(&rows);
        prop_assume!(curve.refusal.is_none());
        for step in &curve.steps {
            let surv = step.surv.expect("not refused");
            prop_assert!((surv - by_definition(&rows, step.days)).abs() < CLOSE);
        }
    }

    #[test]
    fn survival_is_mass_handed_to_the_right(rows in vec(watched(), 1..40)) {
        for step in &curve(&rows).steps {
            let surv = step.surv.expect("nobody enters late");
            prop_assert!((surv - redistributed_to_the_right(&rows, step.days)).abs() < CLOSE);
        }
    }

    /// Without censoring the curve is the part still alive and Greenwood's variance p(1 - p)/n.
    #[test]
    fn without_censoring_it_is_a_proportion(days in vec(0..12u8, 1..40)) {
        let rows: Vec<Row> = days.iter().map(|d| Row::event_at((*d).into())).collect();
        let n = rows.len() as f64;
        for step in &curve(&rows).steps {
            let p = rows.iter().filter(|r| r.exit_days > step.days).count() as f64 / n;
            prop_assert!((step.surv.expect("one") - p).abs() < CLOSE);
            let se = step.greenwood_se_surv.unwrap_or(0.0);
            prop_assert!((se - (p * (1.0 - p) / n).sqrt()).abs() < CLOSE);
        }
    }

    /// The order of rows is nobody's business, and a weight is so many rows.
    #[test]
    fn order_and_weights_change_nothing(rows in vec(late(), 1..30), turn in 0..30usize) {
        let mut single: Vec<Row> = Vec::new();
        for row in &rows {
            single.extend((0..row.weight).map(|_| row.times(1)));
        }
        let middle = turn % single.len();
        single.rotate_left(middle);
        single.reverse();
        prop_assert_eq!(curve(&rows), curve(&single));
    }

    /// A case cut in two, censored and entering again on the same day, is the same case.
    #[test]
    fn a_case_may_be_cut_in_two(rows in vec(late(), 1..30), cut in 1..15u8) {
        let cut = f64::from(cut);
        let mut pieces = Vec::new();
        for row in &rows {
            if row.entry_days.unwrap_or(0.0) < cut && cut < row.exit_days {
                pieces.push(Row { exit_days: cut, event: false, ..*row });
                pieces.push(row.entered_at(cut));
            } else {
                pieces.push(*row);
            }
        }
        let (whole, pieces) = (curve(&rows), curve(&pieces));
        prop_assume!(whole.refusal.is_none());
        // The cut may add a step without events, so only the steps of the whole are compared.
        for step in &whole.steps {
            let same = pieces.steps.iter().find(|s| s.days == step.days).expect("the same age");
            prop_assert_eq!((same.n_risk, same.n_event), (step.n_risk, step.n_event));
            prop_assert_eq!((same.surv, same.na_cumhaz), (step.surv, step.na_cumhaz));
        }
    }

    /// S never rises, stays in [0, 1], and lies in each of its intervals; the hazard never falls.
    #[test]
    fn curves_go_down(rows in vec(late(), 1..40)) {
        let curve = curve(&rows);
        prop_assume!(curve.refusal.is_none());
        let (mut surv, mut cumhaz) = (1.0, 0.0);
        for step in &curve.steps {
            let next = step.surv.expect("not refused");
            prop_assert!((0.0..=surv).contains(&next) && step.na_cumhaz >= cumhaz);
            for ci in [Plain, Log, LogLog].into_iter().filter_map(|kind| step.ci(kind, P95)) {
                prop_assert!(ci.contains(next) && ci.lower >= 0.0 && ci.upper <= 1.0);
            }
            (surv, cumhaz) = (next, step.na_cumhaz);
        }
    }

    /// S(t | alive at a) is S(t)/S(a) wherever both are estimable.
    #[test]
    fn conditional_survival_is_a_ratio(rows in vec(watched(), 1..40), age in 0..11u8) {
        let age = f64::from(age);
        let whole = curve(&rows);
        let given = kaplan_meier_given(&rows, age, P95).expect("sound rows");
        for step in &given.steps {
            let ratio = whole.at(step.days).expect("S").surv / whole.at(age).expect("S").surv;
            prop_assert!((step.surv.expect("one") - ratio).abs() < CLOSE);
        }
    }

    /// The pieces to draw join up, and each is what reading the curve at its beginning gives.
    #[test]
    fn treads_join_and_agree_with_the_curve(rows in vec(late(), 1..40)) {
        let curve = curve(&rows);
        let treads = curve.treads();
        for pair in treads.windows(2) {
            prop_assert_eq!(pair[0].to_days, pair[1].from_days);
        }
        for tread in &treads {
            if let Ok(read) = curve.at(tread.from_days) {
                prop_assert_eq!(read.surv, tread.surv);
            }
        }
    }

    /// The mean is the area, here summed day by day.
    #[test]
    fn the_mean_is_the_area(rows in vec(watched(), 1..40), tau in 1..12u8) {
        let curve = curve(&rows);
        if let Ok(mean) = curve.restricted_mean(tau.into()) {
            let area: f64 = (0..tau).map(|day| by_definition(&rows, day.into())).sum();
            prop_assert!((mean.mean_days - area).abs() < CLOSE);
        }
    }

    /// The number at risk is what counting says, at any age.
    #[test]
    fn the_number_at_risk_is_counted(rows in vec(late(), 1..40), age in 0..20u8) {
        let age = f64::from(age);
        let curve = curve(&rows);
        prop_assume!(curve.observed_from_days != Some(age));
        let open = |r: &&Row| r.entry_days.is_none_or(|e| e < age) && age <= r.exit_days;
        prop_assert_eq!(curve.n_risk(age), rows.iter().filter(open).map(|r| r.weight).sum::<u64>());
    }
}

/// A hundred thousand cases, each on its own day: with all censored after the first half the curve
/// ends at one half, and rounding has not piled up on the way.
#[test]
fn many_cases_lose_no_digits() {
    let n = 100_000u32;
    let rows: Vec<Row> = (0..n).map(|i| if i < n / 2 { Row::event_at(i.into()) } else { Row::censored_at(n.into()) }).collect();
    let last = *curve(&rows).steps.last().expect("a step");
    assert!((last.surv.expect("one") - 0.5).abs() < 1e-11, "{last:?}");
    let se = last.greenwood_se_surv.expect("one");
    assert!((se - (0.25 / f64::from(n)).sqrt()).abs() < 1e-12, "{last:?}");
}
