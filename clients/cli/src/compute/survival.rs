//! `compute survival`: Kaplan-Meier curves of groups, and what is read off them.

use super::answer::{Named, Notes, input, text};
use super::args::SurvivalArgs;
use super::cases::{Case, Cases, Columns, Kind, read};
use super::table::Source;
use crate::fault::Fault;
use selachron_statistics::confidence::SurvivalInterval;
use selachron_statistics::curve::Columns as Steps;
use selachron_statistics::rows::Grouped;
use selachron_statistics::sweep::Design;
use selachron_statistics::{Curve, Level, Reason, Row, kaplan_meier_of, log_rank};
use serde::Serialize;

/// How the curves are made.
const METHOD: &str = "Kaplan-Meier, deaths before censorings at a tie, at risk on (entry, time]; Greenwood's variance; Nelson-Aalen with variance \
    sum of d/n^2; intervals plain, log and log-log";

/// The quantiles that are told.
const FRACTIONS: [f64; 3] = [0.25, 0.5, 0.75];

const KINDS: [(&str, SurvivalInterval); 3] =
    [("plain", SurvivalInterval::Plain), ("log", SurvivalInterval::Log), ("loglog", SurvivalInterval::LogLog)];

#[derive(Serialize)]
struct Answer {
    method: String,
    level: f64,
    groups: Named<Steps>,
    quantiles: Named<Quantiles>,
    #[serde(skip_serializing_if = "Option::is_none")]
    rmst: Option<Means>,
    #[serde(skip_serializing_if = "Option::is_none")]
    logrank: Option<Test>,
    excluded: Vec<Excluded>,
    notes: Notes,
}

#[derive(Default, Serialize)]
struct Quantiles {
    q: Named<[Option<f64>; 3]>,
    lower: Named<[Option<f64>; 3]>,
    upper: Named<[Option<f64>; 3]>,
}

#[derive(Serialize)]
struct Means {
    tau: f64,
    groups: Named<Mean>,
}

#[derive(Serialize)]
struct Mean {
    rmst: Option<f64>,
    se: Option<f64>,
}

#[derive(Serialize)]
struct Test {
    chi2: Option<f64>,
    df: Option<usize>,
    p: Option<f64>,
    observed: Named<Option<f64>>,
    expected: Named<Option<f64>>,
    stratified: bool,
}

/// A row that no risk set can hold.
#[derive(Serialize)]
pub(super) struct Excluded {
    pub row: u64,
    pub reason: String,
}

pub(super) fn run(asked: &SurvivalArgs) -> Result<String, Fault> {
    let level = asked.level.checked()?;
    let columns = Columns { from: "entry", to: "time", status: Some("event"), group: &asked.group.column, kind: Kind::Survival };
    let mut cases = read(Source::open(asked.input.file.as_deref())?, columns)?;
    let mut notes = Notes::default();
    let excluded = exclude(&mut cases);
    let mut curves = Vec::new();
    for (label, cases) in cases.by_group() {
        curves.push((label.to_owned(), curve(cases, asked.given, level)?));
    }
    for (label, curve) in &curves {
        beside(label, curve, &mut notes);
    }
    let mut quantiles = Named::default();
    for (name, kind) in KINDS {
        quantiles.push(name, quantiles_of(&curves, (name, kind), &mut notes)?);
    }
    let rmst = asked.tau.map(|tau| means(&curves, tau, &mut notes)).transpose()?;
    let logrank = if curves.len() > 1 { Some(test(&cases, asked, &mut notes)?) } else { None };
    let groups = Named(curves.iter().map(|(label, curve)| (label.clone(), curve.columns())).collect());
    text(&Answer { method: method(asked.given), level: level.value(), groups, quantiles, rmst, logrank, excluded, notes })
}

fn method(given: Option<f64>) -> String {
    given.map_or_else(|| METHOD.to_owned(), |age| format!("{METHOD}; given alive and watched after {age} d"))
}

/// Splits off the cases without time at risk.
pub(super) fn exclude(cases: &mut Cases) -> Vec<Excluded> {
    let is_out = |case: &Case| case.from_days == case.to_days;
    let listed = |case: &Case| Excluded { row: case.row, reason: Reason::NoTimeAtRisk { at_days: case.to_days }.to_string() };
    let mut out: Vec<Excluded> = cases.cases.iter().filter(|case| is_out(case)).map(listed).collect();
    out.sort_by_key(|excluded| excluded.row);
    cases.cases.retain(|case| !is_out(case));
    out
}

fn curve(cases: &[Case], given: Option<f64>, level: Level) -> Result<Curve, Fault> {
    kaplan_meier_of(cases.iter().map(row), given, level).map_err(|wrong| input(&wrong))
}

/// The case as it is seen from an age on; `None` where it ended before.
pub(super) fn given(case: &Case, age: Option<f64>) -> Option<Case> {
    let Some(age) = age else { return Some(*case) };
    (case.to_days > age).then(|| Case { from_days: case.from_days.max(age), ..*case })
}

fn row(case: &Case) -> Row {
    let entry_days = case.from_days.is_finite().then_some(case.from_days);
    Row { entry_days, exit_days: case.to_days, event: case.status == 1, weight: case.weight }
}

fn beside(label: &str, curve: &Curve, notes: &mut Notes) {
    for sentence in curve.notes() {
        notes.of(label, &sentence);
    }
    let of = |wanted: fn(f64) -> bool| curve.steps.iter().any(|step| step.surv.is_some_and(wanted));
    if of(|surv| surv >= 1.0) {
        notes.of(label, &format!("intervals where survival is 1: {}", Reason::NoEventYet));
    }
    if of(|surv| surv <= 0.0) {
        notes.of(label, &format!("standard error and intervals where survival is 0: {}", Reason::SurvivalIsZero));
    }
}

fn quantiles_of(curves: &[(String, Curve)], (name, kind): (&str, SurvivalInterval), notes: &mut Notes) -> Result<Quantiles, Fault> {
    let mut told = Quantiles::default();
    for (label, curve) in curves {
        let (mut q, mut lower, mut upper) = ([None; 3], [None; 3], [None; 3]);
        // Where the curve is refused as a whole its own note says so.
        let found = match curve.refusal {
            None => notes.keep(label, "quantiles", curve.quantiles(&FRACTIONS, kind))?,
            Some(_) => None,
        };
        for (at, (fraction, found)) in FRACTIONS.into_iter().zip(found.into_iter().flatten()).enumerate() {
            q[at] = kept(found.days, label, &format!("quantile {fraction}"), notes);
            lower[at] = kept(found.lower_days, label, &format!("quantile {fraction}, lower limit ({name})"), notes);
            upper[at] = kept(found.upper_days, label, &format!("quantile {fraction}, upper limit ({name})"), notes);
        }
        told.q.push(label, q);
        told.lower.push(label, lower);
        told.upper.push(label, upper);
    }
    Ok(told)
}

fn kept(found: Result<f64, Reason>, label: &str, what: &str, notes: &mut Notes) -> Option<f64> {
    found.map_err(|reason| notes.absent(label, what, &reason)).ok()
}

fn means(curves: &[(String, Curve)], tau: f64, notes: &mut Notes) -> Result<Means, Fault> {
    let mut groups = Named::default();
    for (label, curve) in curves {
        let found = notes.keep(label, "rmst", curve.restricted_mean(tau))?;
        groups.push(label, Mean { rmst: found.map(|mean| mean.mean_days), se: found.map(|mean| mean.se_days) });
    }
    Ok(Means { tau, groups })
}

/// Whether the groups differ, over the cases that the curves are made of.
fn test(cases: &Cases, asked: &SurvivalArgs, notes: &mut Notes) -> Result<Test, Fault> {
    let design = Design::of_groups(cases.groups.len()).with_strata(cases.strata.len());
    let kept = cases.cases.iter().filter_map(|case| given(case, asked.given));
    let members = kept.map(|case| Grouped { case: row(&case), group: case.group as usize, stratum: case.stratum as usize });
    let found = notes.keep(super::answer::ALL, "logrank", log_rank(members, design, asked.rho))?;
    let by_group = |values: Option<&Vec<f64>>| {
        let value = |place: usize| values.and_then(|values| values.get(place)).copied();
        Named(cases.groups.iter().enumerate().map(|(place, label)| (label.clone(), value(place))).collect())
    };
    let found = found.as_ref();
    Ok(Test {
        chi2: found.map(|test| test.chi2),
        df: found.map(|test| test.df),
        p: found.map(|test| test.p),
        observed: by_group(found.map(|test| &test.observed)),
        expected: by_group(found.map(|test| &test.expected)),
        stratified: cases.has_strata,
    })
}
