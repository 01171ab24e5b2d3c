//! The log-rank test and Gray's test: by hand, and against R.

use selachron_statistics::gray::gray_of_cause;
use selachron_statistics::log_rank::LogRank;
use selachron_statistics::{Design, Error, Fate, Grouped, InvalidInput, Reason, Row, gray, log_rank};
use serde_json::Value;

use crate::support::{Members, Table, assert_near, json, numbers, reference};

pub fn test(members: &Members<Row>, rho: f64) -> LogRank {
    let design = Design::of_groups(members.labels.len()).with_strata(members.strata);
    log_rank(members.rows.iter().copied(), design, rho).expect("a comparison")
}

/// R's order of groups is that of its factor; ours is by label.
#[track_caller]
pub fn assert_log_rank(found: &LogRank, labels: &[String], expected: &Value, within: f64) {
    let order: Vec<usize> = match expected["group"].as_array() {
        Some(groups) => groups.iter().map(|g| position(labels, g.as_str().expect("a label"))).collect(),
        None => Vec::new(),
    };
    for (index, own) in order.iter().enumerate() {
        assert_eq!(Some(found.n[*own]), expected["n"][index].as_u64());
        assert_near(found.observed[*own], numbers(&expected["observed"])[index], within);
        assert_near(found.expected[*own], numbers(&expected["expected"])[index], within);
        for (other, column) in order.iter().enumerate() {
            assert_near(found.variance[*own][*column], numbers(&expected["var"][index])[other], within);
        }
    }
    let number = |name: &str| expected[name].as_f64().expect("a number");
    assert_near(found.chi2, number("chisq"), within);
    assert_eq!(Some(found.df as u64), expected["df"].as_u64());
    // To the last digits R prints, however small.
    assert_near(found.p, number("p"), 1e-10 * number("p"));
}

fn position(labels: &[String], wanted: &str) -> usize {
    let wanted = wanted.split_once('=').expect("a label such as group=M").1;
    labels.iter().position(|label| label == wanted).expect("the group")
}

/// Groups A: 1, 3; B: 2, 4 (all with the event). By hand, for A:
/// t 1: n 4, E 2/4, V (1/2)(1/2) = 1/4; t 2: n 3, one of A: E 1/3, V 2/9; t 3: n 2, E 1/2, V 1/4;
/// t 4: n 1, E 0, V 0. Observed 2, expected 4/3, V 13/18: (2/3)²/(13/18) = 8/13.
#[test]
fn log_rank_by_hand() {
    let rows = [(1.0, 0), (3.0, 0), (2.0, 1), (4.0, 1)].map(|(days, group)| Row::event_at(days).in_group(group));
    let found = log_rank(rows, Design::of_groups(2), 0.0).expect("a comparison");
    assert_eq!((found.n.as_slice(), found.observed.as_slice(), found.df), ([2, 2].as_slice(), [2.0, 2.0].as_slice(), 1));
    assert_near(found.expected[0], 4.0 / 3.0, 1e-15);
    assert_near(found.variance[0][0], 13.0 / 18.0, 1e-15);
    assert_near(found.variance[0][1], -13.0 / 18.0, 1e-15);
    assert_near(found.chi2, 8.0 / 13.0, 1e-15);
    assert!(!found.stratified && found.excluded.is_empty());
}

/// The same with weights S(t-): 1, 3/4, 1/2, 1/4. Observed for A 1 + 1/2, expected
/// 1/2 + 3/4 · 1/3 + 1/2 · 1/2 = 1, V 1/4 + 9/16 · 2/9 + 1/4 · 1/4 = 7/16: (1/2)²/(7/16) = 4/7.
#[test]
fn weighted_log_rank_by_hand() {
    let rows = [(1.0, 0), (3.0, 0), (2.0, 1), (4.0, 1)].map(|(days, group)| Row::event_at(days).in_group(group));
    let found = log_rank(rows, Design::of_groups(2), 1.0).expect("a comparison");
    assert_near(found.observed[0], 1.5, 1e-15);
    assert_near(found.expected[0], 1.0, 1e-15);
    assert_near(found.chi2, 4.0 / 7.0, 1e-15);
}

/// Two strata of two: in each, one of A and one of B, A first: per stratum O 1, E 1/2, V 1/4, so
/// (1/2 + 1/2)²/(1/4 + 1/4) = 2. Unstratified the four would be ordered 1, 2, 10, 20 by age.
#[test]
fn strata_are_compared_apart() {
    let member = |days, group, stratum| Row::event_at(days).in_group(group).in_stratum(stratum);
    let rows = [member(1.0, 0, 0), member(2.0, 1, 0), member(10.0, 0, 1), member(20.0, 1, 1)];
    let found = log_rank(rows, Design::of_groups(2).with_strata(2), 0.0).expect("a comparison");
    assert_near(found.chi2, 2.0, 1e-15);
    assert!(found.stratified);
}

/// B enters at 5 d, when the first of A has died: only the event at 6 d compares the two.
/// One of A, one of B: O_A 1, E 1/2, V 1/4: chi² 1.
#[test]
fn entries_count_from_the_day_after() {
    let a = |days| Row::event_at(days).in_group(0);
    let b = Row::censored_at(9.0).entered_at(5.0).in_group(1);
    let found = log_rank([a(5.0), a(6.0), b], Design::of_groups(2), 0.0).expect("a comparison");
    assert_near(found.chi2, 1.0, 1e-15);
    assert_eq!(found.observed, [2.0, 0.0]);
    assert_eq!(found.expected, [1.5, 0.5]);
}

#[test]
fn groups_that_never_meet_are_not_compared() {
    let early = Row::event_at(3.0).in_group(0);
    let late = Row::event_at(9.0).entered_at(4.0).in_group(1);
    let nothing = Error::from(Reason::NothingToCompare);
    assert_eq!(log_rank([early, late], Design::of_groups(2), 0.0), Err(nothing.clone()));
    assert_eq!(log_rank([early], Design::of_groups(1), 0.0), Err(nothing.clone()));
    assert_eq!(log_rank([], Design::of_groups(0), 0.0), Err(nothing));
    // With weights the pooled curve would be 0 for those that enter later.
    let weighted = log_rank([early, late], Design::of_groups(2), 1.0);
    assert!(matches!(weighted, Err(Error::NotEstimable(Reason::Collapsed { at_days: 3.0, .. }))));
}

/// A third group without any case, and a fourth of one member that leaves before the first event,
/// take no degrees of freedom.
#[test]
fn groups_without_anything_expected_do_not_count() {
    let mut rows: Vec<Grouped<Row>> = [1.0, 3.0].map(|days| Row::event_at(days).in_group(0)).to_vec();
    rows.extend([2.0, 4.0].map(|days| Row::event_at(days).in_group(1)));
    rows.push(Row::censored_at(0.5).in_group(3));
    let found = log_rank(rows, Design::of_groups(4), 0.0).expect("a comparison");
    assert_near(found.chi2, 8.0 / 13.0, 1e-15);
    assert_eq!((found.df, found.n.as_slice()), (1, [2, 2, 0, 1].as_slice()));
}

#[test]
fn bad_members_are_named() {
    let good = Row::event_at(1.0).in_group(0);
    let wrong = |rows: Vec<Grouped<Row>>, rho| log_rank(rows, Design::of_groups(2), rho).expect_err("bad").to_string();
    assert!(wrong(vec![good, Row::event_at(-1.0).in_group(1)], 0.0).starts_with("row 1: exit_days is -1"));
    assert!(wrong(vec![good, good.in_stratum(1)], 0.0).starts_with("row 1: stratum is number 1"));
    assert!(wrong(vec![Row::event_at(1.0).in_group(2)], 0.0).starts_with("row 0: group is number 2"));
    assert!(wrong(vec![good], f64::NAN).starts_with("rho is NaN"));
    let many = log_rank([good], Design::of_groups(1_001), 0.0);
    assert_eq!(many, Err(InvalidInput::TooMany { what: "groups", found: 1_001, max: 1_000 }.into()));
    let strata = log_rank([good], Design::of_groups(2).with_strata(usize::MAX), 0.0).expect_err("too many");
    assert!(strata.to_string().contains("strata are more than"), "{strata}");
    let fate = gray([Fate::at(1.0, 3).in_group(0)], Design::of_groups(2).with_causes(2)).expect_err("no such fate");
    assert!(fate.to_string().starts_with("row 0: cause is 3, but only 1 to 2"), "{fate}");
    let cause = gray_of_cause([Fate::at(1.0, 1).in_group(0)], Design::of_groups(2), 2).expect_err("no such fate");
    assert!(cause.to_string().starts_with("cause 2 cannot be tested"), "{cause}");
}

/// R's survdiff on Miller's leukaemia data, with rho 0 and 1.
#[test]
fn leukaemia() {
    let members = Table::read(reference!("km_aml.csv")).grouped("group", None);
    let file = json(reference!("km_aml.expected.json"));
    for (block, rho) in [("logrank", 0.0), ("peto_peto_rho1", 1.0)] {
        assert_log_rank(&test(&members, rho), &members.labels, &file[block], 1e-9);
    }
}

/// Assistance without any effect: compared as if it had been known from the start it saves lives;
/// in its own time, or from a landmark on, it does nothing (simulated; R 4.2.2).
#[test]
fn immortal_time() {
    let file = json(reference!("immortal_time.expected.json"));
    let within = file["tolerance"].as_f64().expect("a tolerance");
    let naive = Table::read(reference!("immortal_naive.csv")).grouped("group", None);
    assert_log_rank(&test(&naive, 0.0), &naive.labels, &file["naive_logrank"], within);
    let landmark = Table::read(reference!("immortal_landmark50.csv")).grouped("group", None);
    assert_log_rank(&test(&landmark, 0.0), &landmark.labels, &file["landmark50_logrank"], within);
    let late = Table::read(reference!("immortal_tdc.csv")).grouped("treated", None);
    assert_log_rank(&test(&late, 0.0), &late.labels, &file["late_entry_logrank"], within);
}

/// Three groups, three fates, many ties, with and without strata: R's cmprsk::cuminc, and survdiff with
/// three exponents (`competing.R`).
#[test]
fn three_groups_and_three_fates() {
    let (table, file) = (Table::read(reference!("competing_groups.csv")), json(reference!("competing_groups.expected.json")));
    let within = file["tolerance"].as_f64().expect("a tolerance");
    for (suffix, stratum) in [("", None), ("_stratified", Some("stratum"))] {
        let fates = table.grouped_fates("group", stratum);
        let design = Design::of_groups(3).with_strata(fates.strata);
        let expected = &file[format!("gray{suffix}")];
        let found = gray(fates.rows.iter().copied(), design.with_causes(3)).expect("answers");
        for (index, found) in found.into_iter().map(|found| found.expect("a comparison")).enumerate() {
            assert_near(found.statistic, numbers(&expected["statistic"])[index], within);
            assert_near(found.p, numbers(&expected["p"])[index], within);
            assert_eq!((found.df, found.stratified), (2, stratum.is_some()));
        }
        for (rho, expected) in file[format!("log_rank_of_fate_1{suffix}")].as_object().expect("exponents") {
            let first =
                fates.rows.iter().map(|member| Grouped { case: first_fate(member.case), group: member.group, stratum: member.stratum });
            let found = log_rank(first, design, rho.parse().expect("a number")).expect("a comparison");
            assert_near(found.chi2, expected.as_f64().expect("a number"), within);
        }
    }
}

fn first_fate(fate: Fate) -> Row {
    Row { entry_days: fate.entry_days, exit_days: fate.exit_days, event: fate.cause == 1, weight: fate.weight }
}

/// Two groups of two without ties or other fates, A: 1, 3; B: 2, 4. Then h_r = Y_r/S_r- is 2 in both
/// groups while anybody is at risk. At 1 d: R_A = R_B = 2, so A has 1 - 1/2 too many. At 2 d
/// R_A = 2 · 1/2, R_B = 2: 1/3 of an event expected in A. At 3 d R_A = R_B = 1: 1/2. At 4 d A is
/// empty, and B has all: 0. Score of A 1 - 1/2 - 1/3 + 1 - 1/2 = 2/3, as in the log-rank test, which
/// without other fates has the same numerator.
#[test]
fn the_score_of_gray_by_hand() {
    let rows = [(1.0, 0), (3.0, 0), (2.0, 1), (4.0, 1)].map(|(days, group)| Fate::at(days, 1).in_group(group));
    let found = gray_of_cause(rows, Design::of_groups(2), 1).expect("a comparison");
    assert_near(found.score[0], 2.0 / 3.0, 1e-15);
    assert_near(found.score[1], -2.0 / 3.0, 1e-15);
    assert_eq!(found.df, 1);
}

#[test]
fn gray_is_refused_with_delayed_entry() {
    let late = Fate::at(9.0, 1).entered_at(2.0).in_group(0);
    let refused = gray([late], Design::of_groups(2).with_causes(2)).expect_err("late");
    assert_eq!(refused, Error::NotEstimable(Reason::DelayedEntry));
    assert!(refused.to_string().contains("log-rank"), "{refused}");
    assert_eq!(gray_of_cause([late], Design::of_groups(2), 1), Err(refused));
    // An entry at the origin is not a late one.
    let early = [(1.0, 0), (2.0, 1)].map(|(days, group)| Fate::at(days, 1).entered_at(0.0).in_group(group));
    assert!(gray(early, Design::of_groups(2)).expect("an answer")[0].is_ok());
}

#[test]
fn a_fate_nobody_met_is_not_tested() {
    let rows = [(1.0, 0), (2.0, 1)].map(|(days, group)| Fate::at(days, 1).in_group(group));
    let both = gray(rows, Design::of_groups(2).with_causes(2)).expect("two answers");
    assert!(both[0].is_ok());
    assert_eq!(both[1], Err(Reason::NothingToCompare));
}
