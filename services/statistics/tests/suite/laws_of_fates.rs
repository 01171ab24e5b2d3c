//! Laws of competing fates, of comparisons and of life tables that hold for any data, and second
//! methods that share no code with the first.

use proptest::collection::vec;
use proptest::prelude::*;
use selachron_statistics::life_table::{Method, age_classes};
use selachron_statistics::reproduction::Births;
use selachron_statistics::{Design, Fate, Grouped, Incidence, Row, aalen_johansen, gray, kaplan_meier, life_table, log_rank, reproduction};

use crate::support::P95;

const CLOSE: f64 = 1e-12;

/// Cases watched from the origin, on few distinct days so that ties are many.
fn watched() -> impl Strategy<Value = Fate> {
    (0..12u8, 0..3usize, 1..4u64).prop_map(|(exit, cause, weight)| Fate::at(exit.into(), cause).times(weight))
}

/// The same, some of which enter late, none of them without time at risk.
fn late() -> impl Strategy<Value = Fate> {
    (proptest::option::of(0..10u8), 1..8u8, 0..3usize, 1..4u64).prop_map(|(entry, stay, cause, weight)| {
        let exit_days = f64::from(entry.unwrap_or(0) + stay);
        Fate { entry_days: entry.map(f64::from), exit_days, cause, weight }
    })
}

fn table(rows: &[Fate]) -> Incidence {
    aalen_johansen(rows, 2, P95).expect("sound rows")
}

/// The event is any fate.
fn any_fate(row: &Fate) -> Row {
    Row { entry_days: row.entry_days, exit_days: row.exit_days, event: row.cause > 0, weight: row.weight }
}

/// Each row by itself.
fn single(rows: &[Fate]) -> Vec<Fate> {
    rows.iter().flat_map(|row| (0..row.weight).map(|_| row.times(1))).collect()
}

/// The incidence straight from its definition, with a real weight for each case.
fn by_definition(rows: &[Fate], weights: &[f64], cause: usize, age: f64) -> f64 {
    let (mut surv, mut cif) = (1.0, 0.0);
    for day in (0..=age as u32).map(f64::from) {
        let sum = |wanted: &dyn Fn(&Fate) -> bool| -> f64 { rows.iter().zip(weights).filter(|(row, _)| wanted(row)).map(|(_, w)| w).sum() };
        let n = sum(&|row| row.entry_days.is_none_or(|entry| entry < day) && day <= row.exit_days);
        let d = sum(&|row| row.exit_days == day && row.cause > 0);
        if d > 0.0 {
            cif += surv * sum(&|row| row.exit_days == day && row.cause == cause) / n;
            surv *= 1.0 - d / n;
        }
    }
    cif
}

/// The jackknife by what it means: each case is given a little more weight.
fn jackknife(rows: &[Fate], cause: usize, age: f64) -> f64 {
    let (step, even) = (1e-5, vec![1.0; rows.len()]);
    let slope = |index: usize| {
        let moved = |by: f64| {
            let mut weights = even.clone();
            weights[index] += by;
            by_definition(rows, &weights, cause, age)
        };
        (moved(step) - moved(-step)) / (2.0 * step)
    };
    (0..rows.len()).map(|index| slope(index).powi(2)).sum::<f64>().sqrt()
}

/// Sums are good to so much, and their roots only where they are not near 0.
fn same_variance(se: f64, other: f64) -> bool {
    (se * se - other * other).abs() < CLOSE
}

proptest! {
    /// All fates and those still without one add up to 1, and nothing ever leaves [0, 1].
    #[test]
    fn fates_add_up(rows in vec(late(), 1..40)) {
        let found = table(&rows);
        for index in 0..found.surv.len() {
            let all = found.surv[index] + found.causes.iter().map(|cause| cause.cif[index]).sum::<f64>();
            prop_assert!((all - 1.0).abs() < CLOSE, "{}", all);
            prop_assert!(found.causes.iter().all(|cause| (0.0..=1.0 + CLOSE).contains(&cause.cif[index])));
        }
    }

    /// With one cause the incidence is 1 - Kaplan-Meier, and Greenwood's error is Greenwood's.
    #[test]
    fn one_cause_is_kaplan_meier(rows in vec(late(), 1..40)) {
        let rows: Vec<Fate> = rows.iter().map(|row| Fate { cause: row.cause.min(1), ..*row }).collect();
        let curve = kaplan_meier(&rows.iter().map(any_fate).collect::<Vec<Row>>(), P95).expect("sound rows");
        let found = aalen_johansen(&rows, 1, P95).expect("sound rows");
        prop_assert_eq!(&found.refusal, &curve.refusal);
        prop_assert_eq!((found.n_cases, &found.unobserved, found.observed_from_days), (curve.n_cases, &curve.unobserved, curve.observed_from_days));
        for (index, step) in curve.steps.iter().enumerate().filter(|_| found.refusal.is_none()) {
            prop_assert_eq!((found.time[index], found.n_risk[index], found.n_censor[index]), (step.days, step.n_risk, step.n_censor));
            prop_assert!((found.causes[0].cif[index] - (1.0 - step.surv.expect("one"))).abs() < CLOSE);
            prop_assert_eq!(found.surv[index], step.surv.expect("one"));
            let se = step.greenwood_se_surv.unwrap_or(found.causes[0].se_greenwood[index]);
            prop_assert!((found.causes[0].se_greenwood[index] - se).abs() < 1e-10);
        }
    }

    /// Survival of the table is the Kaplan-Meier curve of any fate.
    #[test]
    fn its_survival_is_kaplan_meier(rows in vec(late(), 1..40)) {
        let curve = kaplan_meier(&rows.iter().map(any_fate).collect::<Vec<Row>>(), P95).expect("sound rows");
        let found = table(&rows);
        let surv: Vec<f64> = curve.steps.iter().filter_map(|step| step.surv).collect();
        prop_assert_eq!(found.surv, surv);
    }

    /// The incidence, and the derivatives by every case's weight, by the definition.
    #[test]
    fn incidences_are_what_the_definition_says(rows in vec(late(), 1..14)) {
        let (found, single) = (table(&rows), single(&rows));
        prop_assume!(found.refusal.is_none());
        let even = vec![1.0; single.len()];
        for (index, cause) in found.causes.iter().enumerate() {
            for (place, days) in found.time.iter().enumerate() {
                prop_assert!((cause.cif[place] - by_definition(&single, &even, index + 1, *days)).abs() < CLOSE);
                let expected = jackknife(&single, index + 1, *days);
                // A difference quotient is good to some seven digits, and sees cubes of a case's weight.
                prop_assert!((cause.se_ij[place] - expected).abs() < 1e-6, "{} {}", cause.se_ij[place], expected);
            }
        }
    }

    /// Without delayed entry the two standard errors are one.
    #[test]
    fn without_late_entries_the_errors_agree(rows in vec(watched(), 1..14)) {
        // One that outlasts all of them, so that nothing collapses below.
        let rows = [rows, vec![Fate::at(50.0, 0)]].concat();
        let found = table(&rows);
        for (index, days) in found.time.iter().enumerate() {
            let expected = jackknife(&single(&rows), 1, *days);
            prop_assert!((found.causes[0].se_greenwood[index] - expected).abs() < 1e-6);
        }
        // The sums of the jackknife say so too, when an entry that changes nothing makes them run.
        let mut late = rows.clone();
        late.push(Fate::at(60.0, 0).entered_at(30.0));
        let again = table(&late);
        for (index, se) in found.causes[0].se_greenwood.iter().enumerate() {
            prop_assert!(same_variance(again.causes[0].se_ij[index], *se));
        }
    }

    /// The order of rows is nobody's business, and a weight is so many rows.
    #[test]
    fn order_and_weights_change_nothing(rows in vec(late(), 1..30), turn in 0..30usize) {
        let mut each = single(&rows);
        let middle = turn % each.len();
        each.rotate_left(middle);
        each.reverse();
        let (found, again) = (table(&rows), table(&each));
        prop_assert_eq!((&found.time, &found.n_risk, &found.surv), (&again.time, &again.n_risk, &again.surv));
        for (one, other) in found.causes.iter().zip(&again.causes) {
            prop_assert_eq!((&one.cif, &one.se_greenwood), (&other.cif, &other.se_greenwood));
            prop_assert!(one.se_ij.iter().zip(&other.se_ij).all(|(a, b)| same_variance(*a, *b)));
        }
    }

    /// Groups may change their names: the statistic stays, whichever is left out of the inverse.
    #[test]
    fn names_of_groups_do_not_matter(rows in vec((late(), 0..4usize, 0..2usize), 2..40), turn in 1..4usize, rho in 0..2u8) {
        let design = Design::of_groups(4).with_strata(2);
        let rho = f64::from(rho);
        let named = |turn: usize| rows.iter().map(move |(fate, group, stratum)| any_fate(fate).in_group((group + turn) % 4).in_stratum(*stratum));
        match (log_rank(named(0), design, rho), log_rank(named(turn), design, rho)) {
            (Ok(one), Ok(other)) => {
                prop_assert_eq!(one.df, other.df);
                prop_assert!((one.chi2 - other.chi2).abs() < 1e-9 * one.chi2.max(1.0), "{} {}", one.chi2, other.chi2);
                prop_assert!((one.observed.iter().sum::<f64>() - one.expected.iter().sum::<f64>()).abs() < 1e-9);
            }
            (one, other) => prop_assert_eq!(one.is_err(), other.is_err()),
        }
    }

    /// For the same events in every group nothing differs, and without other fates Gray's score is
    /// the log-rank one.
    #[test]
    fn gray_and_log_rank_on_equal_groups(rows in vec(watched(), 2..30)) {
        let grouped = |group: usize| rows.iter().map(move |row| row.in_group(group));
        let design = Design::of_groups(2).with_causes(2);
        for found in gray(grouped(0).chain(grouped(1)), design).expect("answers").into_iter().flatten() {
            prop_assert!(found.statistic.abs() < 1e-18 && (found.p - 1.0).abs() < 1e-8);
        }
    }

    /// Strata that are the same twice double score and variance, so the statistic doubles.
    #[test]
    fn equal_strata_double_the_statistic(rows in vec((watched(), 0..3usize), 3..30)) {
        let of = |stratum: usize| rows.iter().map(move |(fate, group)| Grouped { case: *fate, group: *group, stratum });
        let design = Design::of_groups(3).with_causes(2);
        let once = gray(of(0), design).expect("answers");
        let twice = gray(of(0).chain(of(1)), design.with_strata(2)).expect("answers");
        for (one, two) in once.into_iter().zip(twice) {
            match (one, two) {
                (Ok(one), Ok(two)) => prop_assert!((2.0 * one.statistic - two.statistic).abs() < 1e-9 * two.statistic.max(1.0)),
                (one, two) => prop_assert_eq!(one.is_err(), two.is_err()),
            }
        }
    }

    /// With classes of a day each the actuarial table of whole days without censoring is the curve,
    /// and exposures add up to all days lived.
    #[test]
    fn a_fine_life_table_is_the_curve(days in vec(0..12u8, 1..40)) {
        let rows: Vec<Row> = days.iter().map(|day| Row::event_at(f64::from(*day) + 0.5)).collect();
        let starts: Vec<f64> = (0..13u8).map(f64::from).collect();
        let classes = age_classes(&rows, &starts).expect("classes").classes;
        let lived: f64 = classes.iter().filter_map(|class| class.exposure_days).sum();
        prop_assert!((lived - rows.iter().map(|row| row.exit_days).sum::<f64>()).abs() < 1e-9);
        let curve = kaplan_meier(&rows, P95).expect("sound rows");
        let table = life_table(&classes, Method::Actuarial).expect("a table");
        for row in table.rows.iter().filter(|row| row.l.is_some()) {
            let at = curve.at(row.class.start_days).expect("S");
            prop_assert!((at.surv - row.l.expect("one")).abs() < CLOSE);
            prop_assert!((at.greenwood_se_surv.unwrap_or(0.0) - row.se_l.expect("one")).abs() < CLOSE);
        }
    }

    /// Entered and started less lost and dead go on to the next class.
    #[test]
    fn classes_hand_over_their_cases(rows in vec(late(), 1..40), width in 1..5u8) {
        let rows: Vec<Row> = rows.iter().map(any_fate).collect();
        let starts: Vec<f64> = (0..8u8).map(|class| f64::from(class * width)).collect();
        let classes = age_classes(&rows, &starts).expect("classes").classes;
        let all: u64 = rows.iter().map(|row| row.weight).sum();
        for pair in classes.windows(2) {
            let entered_at_start: u64 = rows.iter().filter(|row| row.entry_days == Some(pair[1].start_days) && pair[1].start_days > 0.0).map(|row| row.weight).sum();
            prop_assert_eq!(pair[0].n_start + pair[0].entered - pair[0].lost - pair[0].n_event + entered_at_start, pair[1].n_start);
        }
        prop_assert_eq!(classes.iter().map(|class| class.lost + class.n_event).sum::<u64>(), all);
    }

    /// The rate balances births, whatever the schedule.
    #[test]
    fn the_rate_balances(schedule in vec((0..2_000u16, 0.0..1.0f64, 0.0..50.0f64), 1..20)) {
        let schedule: Vec<Births> = schedule.iter().map(|(age, survival, births)| Births { age_days: (*age).into(), survival: *survival, births: *births }).collect();
        if let Ok(found) = reproduction(&schedule) {
            let sum: f64 = schedule.iter().map(|b| (-found.rate_per_day * b.age_days).exp() * b.survival * b.births).sum();
            prop_assert!((sum - 1.0).abs() < 1e-9, "{sum} {found:?}");
            prop_assert_eq!(found.rate_per_day > 0.0, found.r0 > 1.0);
        }
    }
}
