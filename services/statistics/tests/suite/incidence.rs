//! Cumulative incidences of competing fates: by hand, and against R's survfit and etm.

use selachron_statistics::incidence::StandardError::{Greenwood, Ij};
use selachron_statistics::{Fate, Incidence, InvalidInput, Reason, aalen_johansen, aalen_johansen_given};
use serde_json::Value;

use crate::support::{P95, Table, assert_near, json, numbers, reference};

pub fn table(rows: &[Fate]) -> Incidence {
    aalen_johansen(rows, 2, P95).expect("sound rows")
}

/// Five cases: fate 1 at 2 d, censored at 3 d, fate 2 at 5 d, fate 1 at 7 d, censored at 7 d.
/// F1(2) = 1/5; S = 4/5. At 5 d three are at risk: F2(5) = 4/5 · 1/3 = 4/15, S = 8/15. At 7 d two:
/// F1 = 1/5 + 8/15 · 1/2 = 7/15, S = 4/15; 7/15 + 4/15 + 4/15 = 1.
#[test]
fn five_cases() {
    let found = table(&[Fate::at(2.0, 1), Fate::at(3.0, 0), Fate::at(5.0, 2), Fate::at(7.0, 1), Fate::at(7.0, 0)]);
    assert_eq!(found.time, [2.0, 3.0, 5.0, 7.0]);
    assert_eq!(found.n_risk, [5, 4, 3, 2]);
    assert_eq!(found.n_censor, [0, 1, 0, 1]);
    assert_eq!(
        (found.causes[0].n_event.as_slice(), found.causes[1].n_event.as_slice()),
        ([1, 0, 0, 1].as_slice(), [0, 0, 1, 0].as_slice())
    );
    for (values, expected) in
        [(&found.causes[0].cif, [3.0, 3.0, 3.0, 7.0]), (&found.causes[1].cif, [0.0, 0.0, 4.0, 4.0]), (&found.surv, [12.0, 12.0, 8.0, 4.0])]
    {
        values.iter().zip(expected).for_each(|(value, part)| assert_near(*value, part / 15.0, 1e-15));
    }
    assert_eq!(found.index_at(6.0), Some(2));
    assert_eq!(found.index_at(1.0), None);
}

/// Nobody censored before 3 d: F1(2) is 1 of 4, with the variance p(1 - p)/n = 3/64, and its interval
/// is symmetric in ln(-ln(3/4)).
#[test]
fn the_first_standard_error_is_that_of_a_proportion() {
    let found = table(&[Fate::at(2.0, 1), Fate::at(3.0, 2), Fate::at(4.0, 2), Fate::at(5.0, 0)]);
    for kind in [Ij, Greenwood] {
        assert_near(found.causes[0].se(kind)[0], (3.0_f64 / 64.0).sqrt(), 1e-15);
        let interval = found.intervals(1, kind)[0].expect("an interval");
        let spread = 1.959_963_984_540_054 * (3.0_f64 / 64.0).sqrt() / (0.75 * 0.75_f64.ln().abs());
        assert_near(interval.lower, 1.0 - 0.75_f64.powf((-spread).exp()), 1e-14);
        assert_near(interval.upper, 1.0 - 0.75_f64.powf(spread.exp()), 1e-14);
        assert_eq!(found.intervals(2, kind)[0], None, "nobody has met the second fate yet");
        assert!(found.intervals(3, kind).is_empty() && found.intervals(0, kind).is_empty());
    }
}

/// Delayed entry by hand. A meets fate 1 at 1 d, B at 3 d, C enters at 2 d and is censored at 4 d, D
/// from the origin is censored at 2 d. At 1 d three are at risk (A, B, D): F 1/3, S 2/3. At 3 d B and
/// C: F = 1/3 + 2/3 · 1/2 = 2/3.
/// Derivatives by the weight of each at 3 d, with dF = S(t-)(1[event] - a)/n and S(1) moving by
/// -(1[event] - 1/3)/3: A: 2/9 - (2/9)/2 = 1/9; D: -1/9 + (1/9)/2 = -1/18;
/// B: -1/18 + 2/3 (1 - 1/2)/2 = 1/9; C: 2/3 (0 - 1/2)/2 = -1/6.
/// Squares 4/324 + 1/324 + 4/324 + 9/324 = 18/324 = 1/18.
#[test]
fn the_jackknife_by_hand() {
    let rows = [Fate::at(1.0, 1), Fate::at(3.0, 1), Fate::at(4.0, 0).entered_at(2.0), Fate::at(2.0, 0)];
    let found = table(&rows);
    assert_near(found.causes[0].cif[2], 2.0 / 3.0, 1e-15);
    assert_near(found.causes[0].se_ij[2], (1.0_f64 / 18.0).sqrt(), 1e-15);
    // Greenwood: var(F(1)) = var(S(1)) = 2/27, cov -2/27; at 3 d S halves:
    // 2/27 - 2/27 + (1/4)(2/27) + (4/9)(1/4)/2 = 1/54 + 3/54 = 2/27.
    assert_near(found.causes[0].se_greenwood[2], (2.0_f64 / 27.0).sqrt(), 1e-15);
}

#[test]
fn a_collapse_is_refused_and_the_way_out_named() {
    let mut rows = vec![Fate::at(4.0, 1), Fate::at(5.0, 2)];
    rows.push(Fate::at(30.0, 0).entered_at(6.0).times(12));
    rows.push(Fate::at(20.0, 2).entered_at(6.0).times(3));
    let refused = table(&rows);
    let expected = Reason::Collapsed { at_days: 5.0, n_risk: 1, resumes_days: 6.0, given_days: Some(6.0) };
    assert_eq!(refused.refusal, Some(expected.clone()));
    assert!(refused.surv.is_empty() && refused.causes[0].cif.is_empty() && refused.causes[0].se_ij.is_empty());
    assert_eq!(refused.n_risk, [2, 1, 15, 12], "the counts stay");
    assert_eq!(refused.notes()[0], expected.to_string());
    let given = aalen_johansen_given(&rows, 2, 6.0, P95).expect("sound rows");
    assert_near(given.causes[1].cif[0], 3.0 / 15.0, 1e-15);
    assert_eq!((given.n_ended_before, given.given_days), (2, Some(6.0)));
    assert!(aalen_johansen_given(&rows, 2, -1.0, P95).is_err());
}

#[test]
fn without_cases_there_is_no_data() {
    assert_eq!(table(&[]).refusal, Some(Reason::NoData));
    let excluded = table(&[Fate::at(3.0, 1).entered_at(3.0)]);
    assert_eq!((excluded.refusal, excluded.excluded.len()), (Some(Reason::NoData), 1));
    let none = aalen_johansen(&[Fate::at(3.0, 0)], 0, P95).expect("a table without fates");
    assert_eq!((none.surv.as_slice(), none.causes.len()), ([1.0].as_slice(), 0));
}

/// When all have met a fate the incidences end there, with the standard error of a proportion.
#[test]
fn all_fates_are_met() {
    let found = table(&[Fate::at(1.0, 1), Fate::at(2.0, 2), Fate::at(3.0, 1), Fate::at(3.0, 2)]);
    assert_eq!(found.surv.last(), Some(&0.0));
    for cause in &found.causes {
        assert_near(*cause.cif.last().expect("one"), 0.5, 1e-15);
        assert_near(*cause.se_ij.last().expect("one"), 0.25, 1e-15);
    }
}

/// All have met the one fate there is: that is certain, and no rounding is left of it.
#[test]
fn a_certain_fate_has_no_error() {
    let found = table(&(1..40u8).map(|day| Fate::at(day.into(), 2)).collect::<Vec<_>>());
    assert_near(*found.causes[1].cif.last().expect("one"), 1.0, 1e-14);
    assert_eq!((found.causes[1].se_ij.last(), found.causes[1].se_greenwood.last()), (Some(&0.0), Some(&0.0)));
}

#[test]
fn bad_rows_are_named() {
    let wrong = |row: Fate| aalen_johansen(&[Fate::at(1.0, 1), row], 2, P95).expect_err("a bad row");
    assert_eq!(wrong(Fate::at(1.0, 3)), InvalidInput::Cause { row: 1, found: 3, causes: 2 });
    assert!(wrong(Fate::at(f64::NAN, 1)).to_string().starts_with("row 1: exit_days is NaN"));
    assert_eq!(wrong(Fate::at(1.0, 1).times(0)), InvalidInput::WeightZero { row: 1 });
    assert!(matches!(wrong(Fate::at(1.0, 1).entered_at(2.0)), InvalidInput::ExitBeforeEntry { row: 1, .. }));
    assert!(matches!(aalen_johansen(&[], 65, P95), Err(InvalidInput::TooMany { what: "causes", found: 65, .. })));
}

/// 300 cases entering at nine ages: survfit's incidences and jackknife, etm's Greenwood, which differ
/// here (`competing.R`).
#[test]
fn delayed_entry() {
    let file = json(reference!("competing_late.expected.json"));
    let within = file["tolerance"].as_f64().expect("a tolerance");
    let found = table(&Table::read(reference!("competing_late.csv")).fates(None));
    for (cause, number) in found.causes.iter().zip(1..) {
        let column = |what: &str| numbers(&file[format!("{what}_{number}")]);
        for (values, what) in
            [(&cause.cif, "cif"), (&cause.cif, "etm_cif"), (&cause.se_ij, "se_ij"), (&cause.se_greenwood, "etm_se_greenwood")]
        {
            assert_at_events(&found, values, &file["time"], &column(what), within);
        }
        assert!(cause.se_ij.iter().zip(&cause.se_greenwood).any(|(ij, greenwood)| (ij - greenwood).abs() > 1e-5));
    }
    for (days, n_risk) in numbers(&file["time"]).into_iter().zip(numbers(&file["n_risk"])) {
        assert_eq!(found.n_risk[found.index_at(days).expect("an age")] as f64, n_risk);
    }
}

#[track_caller]
pub fn assert_all_near(found: &[f64], expected: &[f64], within: f64) {
    assert_eq!(found.len(), expected.len());
    found.iter().zip(expected).for_each(|(found, expected)| assert_near(*found, *expected, within));
}

/// etm lists the ages with an event only.
#[track_caller]
pub fn assert_at_events(table: &Incidence, found: &[f64], time: &Value, expected: &[f64], within: f64) {
    let at = |days: f64| found[table.index_at(days).expect("an age")];
    let found: Vec<f64> = numbers(time).into_iter().map(at).collect();
    assert_all_near(&found, expected, within);
}
