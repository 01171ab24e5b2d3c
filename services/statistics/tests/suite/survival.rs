//! Kaplan-Meier by hand: each convention once, with the arithmetic beside it.

use selachron_statistics::confidence::SurvivalInterval::{Log, LogLog, Plain};
use selachron_statistics::proportion::clopper_pearson;
use selachron_statistics::risk_set::Span;
use selachron_statistics::{Curve, Error, InvalidInput, Reason, Row, kaplan_meier, kaplan_meier_given};

use crate::support::{P95, assert_near};

fn died(days: f64) -> Row {
    Row::event_at(days)
}

fn left(days: f64) -> Row {
    Row::censored_at(days)
}

#[track_caller]
fn curve(rows: &[Row]) -> Curve {
    kaplan_meier(rows, P95).expect("sound rows")
}

#[track_caller]
fn reason<T: std::fmt::Debug>(found: Result<T, Error>) -> Reason {
    match found.expect_err("no value") {
        Error::NotEstimable(reason) => reason,
        Error::Input(wrong) => panic!("the input was sound: {wrong}"),
    }
}

/// At risk 5, then 3: S(10) = 4/5 and S(30) = 4/5 · 2/3 = 8/15.
/// Greenwood at 30: 1/(5·4) + 1/(3·2) = 13/60, so se = 8/15 sqrt(13/60).
/// Nelson-Aalen at 30: 1/5 + 1/3 = 8/15, variance 1/25 + 1/9 = 34/225.
#[test]
fn five_cases() {
    let curve = curve(&[died(10.0), left(20.0), died(30.0), left(40.0), left(40.0)]);
    assert_near(curve.at(10.0).expect("S").surv, 4.0 / 5.0, 1e-15);
    assert_near(curve.at(29.0).expect("S").surv, 4.0 / 5.0, 1e-15);
    let at_30 = curve.at(30.0).expect("S");
    assert_near(at_30.surv, 8.0 / 15.0, 1e-15);
    assert_near(at_30.greenwood_se_surv.expect("se"), 8.0 / 15.0 * (13.0_f64 / 60.0).sqrt(), 1e-15);
    assert_eq!(at_30.n_risk, 3);
    let step = curve.steps[2];
    assert_eq!((step.days, step.n_risk, step.n_event, step.n_censor), (30.0, 3, 1, 0));
    assert_near(step.na_cumhaz, 8.0 / 15.0, 1e-15);
    assert_near(step.na_se_cumhaz, (34.0_f64 / 225.0).sqrt(), 1e-15);
    assert_eq!((curve.n_cases, curve.n_events), (5, 2));
}

/// sigma² = 13/60 as above; on the scale of ln(-ln S) the half width is 1.96 sigma / |ln(8/15)|.
#[test]
fn the_log_log_interval() {
    let curve = curve(&[died(10.0), left(20.0), died(30.0), left(40.0), left(40.0)]);
    let found = curve.at(30.0).expect("S").ci_loglog.expect("an interval");
    let (theta, s) = (1.959_963_984_540_054 * (13.0_f64 / 60.0).sqrt(), (8.0_f64 / 15.0).ln());
    assert_near(found.lower, (s * (theta / -s).exp()).exp(), 1e-14);
    assert_near(found.upper, (s * (-theta / -s).exp()).exp(), 1e-14);
}

/// On day 5 one dies and one is lost: both are at risk, S = 1/2. The other order would say 0.
#[test]
fn deaths_come_before_censorings() {
    let curve = curve(&[died(5.0), left(5.0)]);
    assert_eq!(curve.at(5.0).expect("S").surv, 0.5);
}

/// One enters on the day another dies: it is not at risk that day, so S falls from 1/1 to 0 of
/// those two; with a third present S(5) = 1/2 and not 2/3.
#[test]
fn entries_come_after_both() {
    let rows = [died(5.0), left(9.0), left(9.0).entered_at(5.0)];
    let curve = curve(&rows);
    assert_eq!(curve.at(5.0).expect("S").surv, 0.5);
    assert_eq!((curve.n_risk(5.0), curve.n_risk(6.0)), (2, 2));
}

/// A hatchling dead on its first day, watched from the origin: S(0) = 3/4.
#[test]
fn day_0_counts_without_an_entry() {
    let curve = curve(&[died(0.0), left(9.0), left(9.0), left(9.0)]);
    assert_eq!(curve.at(0.0).expect("S").surv, 0.75);
    assert_eq!(curve.n_risk(0.0), 4);
    assert_eq!(curve.treads()[0].surv, 0.75);
}

/// The same with an entry of 0 has no time at risk: it is listed, and the rest is unmoved.
#[test]
fn a_case_without_time_at_risk_is_listed() {
    let rows = [left(9.0).entered_at(0.0), died(0.0).entered_at(0.0).times(2), died(7.0).entered_at(0.0)];
    let curve = curve(&rows);
    assert_eq!(curve.n_cases, 2);
    assert_eq!((curve.excluded.len(), curve.excluded[0].row, curve.excluded[0].weight), (1, 1, 2));
    assert_eq!(curve.excluded[0].reason, Reason::NoTimeAtRisk { at_days: 0.0 });
    assert_eq!(curve.at(7.0).expect("S").surv, 0.5);
    assert!(curve.notes()[0].starts_with("row 1 excluded: entry and exit on the same day (0 d)"));
}

#[test]
fn without_cases_there_is_no_data_and_still_the_list() {
    let nothing = curve(&[]);
    assert_eq!(reason(nothing.at(1.0)), Reason::NoData);
    assert_eq!(reason(nothing.quantile(0.5, LogLog)), Reason::NoData);
    assert_eq!(reason(nothing.restricted_mean(5.0)), Reason::NoData);
    assert!(nothing.treads().is_empty());
    let only_excluded = curve(&[died(3.0).entered_at(3.0)]);
    assert_eq!(only_excluded.refusal, Some(Reason::NoData));
    assert_eq!(only_excluded.excluded.len(), 1);
}

#[test]
fn beyond_the_follow_up_nothing_is_said() {
    let curve = curve(&[died(10.0), left(60.0), left(50.0)]);
    assert!(curve.at(60.0).is_ok());
    let beyond = reason(curve.at(90.0));
    assert_eq!(beyond.to_string(), "not reached: nobody followed to 90 d (the longest follow-up is 60 d)");
}

/// All have died by day 20, so S(90) = 0 is known, and no interval exists.
#[test]
fn once_survival_is_0_it_stays_0() {
    let curve = curve(&[died(10.0), died(20.0)]);
    let late = curve.at(90.0).expect("S");
    assert_eq!((late.surv, late.n_risk), (0.0, 0));
    assert_eq!(late.greenwood_se_surv, None);
    assert_eq!(late.ci_loglog, Err(Reason::SurvivalIsZero));
}

/// No death among those at risk at 30 d: never [1, 1], but what Clopper and Pearson say of 2 of 2,
/// (0.025)^(1/2) = 0.158.
#[test]
fn before_the_first_event_no_interval_exists() {
    let curve = curve(&[left(20.0), left(30.0), left(40.0)]);
    let found = curve.at(30.0).expect("S");
    assert_eq!((found.surv, found.n_risk), (1.0, 2));
    assert_eq!(found.ci_loglog, Err(Reason::NoEventYet));
    assert_near(found.no_event_lower.expect("a limit"), 0.025_f64.sqrt(), 1e-14);
    let two_of_two = clopper_pearson(2, 2, P95).expect("an interval");
    assert_eq!(found.no_event_lower, Some(two_of_two.lower));
    for step in &curve.steps {
        assert_eq!([Plain, Log, LogLog].map(|kind| step.ci(kind, P95)), [None; 3]);
    }
    assert_eq!(Reason::NoEventYet.to_string(), "not estimable: no event yet");
}

/// Watched only from 19 d on: nothing is known of day 10, and the note says what S means.
#[test]
fn before_observation_begins_nothing_is_said() {
    let curve = curve(&[died(30.0).entered_at(19.0), left(40.0).entered_at(25.0)]);
    assert!(matches!(reason(curve.at(10.0)), Reason::BeforeObservation { .. }));
    let start = curve.at(19.0).expect("S");
    assert_eq!((start.surv, start.n_risk), (1.0, 1));
    assert_eq!(curve.notes(), ["survival is given alive at 19 d, where observation begins"]);
}

/// The first two are lost by 8 d and the next enters at 12 d: S is carried across, and said to be.
#[test]
fn a_stretch_without_anybody_is_named() {
    let rows = [died(5.0), left(8.0), died(20.0).entered_at(12.0), left(30.0).entered_at(12.0)];
    let curve = curve(&rows);
    assert_eq!(curve.unobserved, [Span { from_days: 8.0, to_days: 12.0 }]);
    assert_eq!(curve.at(8.0).expect("S").surv, 0.5);
    for inside in [9.0, 12.0] {
        assert!(matches!(reason(curve.at(inside)), Reason::ObservationGap { .. }), "{inside}");
    }
    assert_eq!(curve.at(20.0).expect("S").surv, 0.25);
    assert!(curve.notes()[0].contains("between 8 d and 12 d"));
}

/// Two die at 4 and 5 d, nobody is left, twelve enter at 6 and 9 d.
#[test]
fn a_collapsed_curve_is_refused_and_the_way_out_named() {
    let rows = [
        died(4.0),
        died(5.0),
        left(30.0).entered_at(6.0).times(4),
        died(20.0).entered_at(9.0).times(2),
        left(30.0).entered_at(9.0).times(6),
    ];
    let refused = curve(&rows);
    let why = reason(refused.at(20.0));
    let expected = Reason::Collapsed { at_days: 5.0, n_risk: 1, resumes_days: 6.0, given_days: Some(9.0) };
    assert_eq!(why, expected);
    assert!(why.to_string().ends_with("ask for survival given alive at 9 d"), "{why}");
    assert_eq!(reason(refused.quantile(0.5, LogLog)), expected);
    assert_eq!(reason(refused.restricted_mean(10.0)), expected);
    // Nelson-Aalen goes on: 1/2 + 1/1 + 2/12.
    assert_near(refused.steps[2].na_cumhaz, 1.5 + 2.0 / 12.0, 1e-15);
    let given = kaplan_meier_given(&rows, 9.0, P95).expect("sound rows");
    assert_near(given.at(20.0).expect("S").surv, 10.0 / 12.0, 1e-15);
    assert_eq!((given.given_days, given.n_ended_before), (Some(9.0), 2));
}

/// Everybody dies and nobody enters later: that is an honest 0, and no collapse.
#[test]
fn dying_out_is_not_a_collapse() {
    let curve = curve(&[died(4.0), died(9.0).entered_at(2.0)]);
    assert_eq!(curve.refusal, None);
    assert_eq!(curve.at(9.0).expect("S").surv, 0.0);
}

/// An entry on the very day the last one dies is a later entry too.
#[test]
fn an_entry_on_the_day_of_collapse_is_seen() {
    let curve = curve(&[died(4.0), left(9.0).entered_at(4.0)]);
    assert!(matches!(curve.refusal, Some(Reason::Collapsed { given_days: None, .. })));
}

/// Alive past 10 d: of three, one dies at 20 d and its like enter with them; S = 2/3.
#[test]
fn survival_given_an_age() {
    let rows = [died(10.0), died(20.0), left(30.0), left(30.0).entered_at(15.0), left(5.0)];
    let given = kaplan_meier_given(&rows, 10.0, P95).expect("sound rows");
    assert_near(given.at(20.0).expect("S").surv, 2.0 / 3.0, 1e-15);
    assert_eq!((given.n_cases, given.n_ended_before), (3, 2));
    assert!(matches!(reason(given.at(9.0)), Reason::BeforeObservation { .. }));
    let wrong = kaplan_meier_given(&rows, f64::NAN, P95).expect_err("no age");
    assert!(wrong.to_string().starts_with("given_days is NaN"), "{wrong}");
}

/// Four die at 1, 2, 3, 4 d. S = 3/4, 1/2, 1/4, 0: at 1/2 exactly from 2 to 3 d, so the median is
/// 2.5; the third quartile is where S is 1/4, from 3 to 4 d, 3.5.
#[test]
fn quantiles_on_a_level_piece() {
    let curve = curve(&[died(1.0), died(2.0), died(3.0), died(4.0)]);
    assert_eq!(curve.quantile(0.5, LogLog).expect("one").days, Ok(2.5));
    assert_eq!(curve.quantile(0.75, LogLog).expect("one").days, Ok(3.5));
    assert_eq!(curve.quantile(0.6, LogLog).expect("one").days, Ok(3.0));
}

/// S runs level at 1/2 until follow-up ends at 8 d: the middle is (2 + 8)/2.
#[test]
fn a_level_piece_may_last_to_the_end() {
    let curve = curve(&[died(2.0), left(5.0), died(2.0), left(8.0)]);
    assert_eq!(curve.quantile(0.5, LogLog).expect("one").days, Ok(5.0));
}

/// Three of ten die: the median is not reached, and neither are its limits above.
#[test]
fn a_median_may_not_be_reached() {
    let curve = curve(&[died(2.0).times(3), left(60.0).times(7)]);
    let median = curve.quantile(0.5, LogLog).expect("a curve");
    let why = median.days.clone().expect_err("not reached").to_string();
    assert_eq!(why, "not reached: the curve does not come down to 1 - 0.5 before follow-up ends at 60 d");
    assert!(median.upper_days.is_err());
    let sent = serde_json::to_value(&median).expect("JSON");
    assert_eq!(sent["days"]["reason"], "quantile_not_reached");
    assert_eq!(sent["days"]["sentence"], why);
    for fraction in [0.0, 1.0, f64::NAN] {
        assert!(matches!(curve.quantile(fraction, Plain), Err(Error::Input(_))), "{fraction}");
    }
}

/// S = 1 to 2 d, 2/3 to 4 d, 1/3 on: up to 5 d the area is 2 + 4/3 + 1/3 = 11/3. Variance: right of
/// 2 d lie 5/3, right of 4 d 1/3, so (5/3)²/(3·2) + (1/3)²/(2·1) = 25/54 + 3/54 = 28/54.
#[test]
fn restricted_mean_by_hand() {
    let curve = curve(&[died(2.0), died(4.0), left(6.0)]);
    let mean = curve.restricted_mean(5.0).expect("a mean");
    assert_near(mean.mean_days, 11.0 / 3.0, 1e-15);
    assert_near(mean.se_days, (28.0_f64 / 54.0).sqrt(), 1e-15);
    assert!(matches!(reason(curve.restricted_mean(7.0)), Reason::MeanBeyondFollowUp { .. }));
    assert!(matches!(curve.restricted_mean(0.0), Err(Error::Input(_))));
}

/// All die at 2 and 4 d: the mean lifetime is 3 d whatever tau, and the standard error that of two
/// lifetimes, sqrt(((2-3)² + (4-3)²)/2/2) = sqrt(1/2).
#[test]
fn when_all_died_the_mean_needs_no_more_follow_up() {
    let curve = curve(&[died(2.0), died(4.0)]);
    let mean = curve.restricted_mean(100.0).expect("a mean");
    assert_near(mean.mean_days, 3.0, 1e-15);
    assert_near(mean.se_days, 0.5_f64.sqrt(), 1e-15);
}

/// The curve as pieces to draw: 1 to 2 d, 1/2 to the end; the censoring at 3 d starts no piece.
#[test]
fn treads_are_the_level_pieces() {
    let curve = curve(&[died(2.0).times(2), left(3.0), left(5.0)]);
    let found: Vec<(f64, f64, f64)> = curve.treads().iter().map(|t| (t.from_days, t.to_days, t.surv)).collect();
    assert_eq!(found, [(0.0, 2.0, 1.0), (2.0, 5.0, 0.5)]);
    let at_2 = curve.at(2.0).expect("S").ci_loglog.ok();
    assert_eq!(curve.treads()[1].ci_loglog, at_2);
}

#[test]
fn a_senseless_row_is_named() {
    let wrong = |row: Row| kaplan_meier(&[died(1.0), row], P95).expect_err("a bad row");
    let negative = wrong(died(-1.0));
    assert!(matches!(negative, InvalidInput::RowAge { row: 1, field: "exit_days", .. }));
    assert_eq!(wrong(died(1.0).entered_at(f64::INFINITY)).to_string(), "row 1: entry_days is inf; give a finite number of days, 0 or more");
    let order = wrong(died(1.0).entered_at(2.0));
    assert_eq!(order, InvalidInput::ExitBeforeEntry { row: 1, entry_days: 2.0, exit_days: 1.0 });
    assert_eq!(wrong(died(1.0).times(0)), InvalidInput::WeightZero { row: 1 });
    assert!(matches!(wrong(died(1.0).times(u64::MAX)), InvalidInput::TooManyCases { .. }));
}

#[test]
fn minus_zero_is_day_0() {
    let curve = curve(&[died(-0.0), left(0.0), left(3.0)]);
    assert_eq!(curve.steps.len(), 2);
    assert!(curve.steps[0].days.is_sign_positive(), "no report says -0 d");
    assert_near(curve.at(0.0).expect("S").surv, 2.0 / 3.0, 1e-15);
}

#[test]
fn a_curve_travels_with_null_where_nothing_can_be_said() {
    let sent = serde_json::to_value(curve(&[left(1.0), died(2.0)])).expect("JSON");
    assert_eq!(sent["steps"][0]["surv"], 1.0);
    assert_eq!(sent["steps"][1]["surv"], 0.0);
    assert_eq!(sent["followed_to_days"], 2.0);
    assert_eq!(sent["refusal"], serde_json::Value::Null);
    let columns = serde_json::to_value(curve(&[left(1.0), died(2.0)]).columns()).expect("JSON");
    assert_eq!(columns["ci_loglog_lower"], serde_json::json!([null, null]));
}
