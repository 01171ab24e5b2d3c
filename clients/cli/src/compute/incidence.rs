//! `compute incidence`: of all cases, how many come to which fate, by age.

use super::answer::{Named, Notes, input, text};
use super::args::IncidenceArgs;
use super::cases::{Case, Cases, Columns, Kind, read};
use super::survival::{exclude, given};
use super::table::Source;
use crate::fault::Fault;
use selachron_schemas::limits::COMPUTE_LISTED_MAX;
use selachron_statistics::reason::Error;
use selachron_statistics::rows::{Fate, Grouped};
use selachron_statistics::sweep::Design;
use selachron_statistics::{Incidence, Reason, aalen_johansen_of, gray};
use serde::Serialize;
use std::collections::BTreeSet;

#[derive(Serialize)]
struct Answer {
    groups: Named<Named<Numbers>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    gray: Option<Named<Test>>,
    notes: Notes,
}

/// One column of a group.
#[derive(Serialize)]
#[serde(untagged)]
enum Numbers {
    Ages(Vec<f64>),
    Counts(Vec<u64>),
    Estimates(Vec<Option<f64>>),
}

#[derive(Default, Serialize)]
struct Test {
    statistic: Option<f64>,
    df: Option<usize>,
    p: Option<f64>,
}

pub(super) fn run(asked: &IncidenceArgs) -> Result<String, Fault> {
    let level = asked.level.checked()?;
    let columns = Columns { from: "entry", to: "time", status: Some("status"), group: &asked.group.column, kind: Kind::Incidence };
    let mut cases = read(Source::open(asked.input.file.as_deref())?, columns)?;
    let mut notes = Notes::default();
    let excluded = exclude(&mut cases);
    for one in excluded.iter().take(COMPUTE_LISTED_MAX) {
        notes.say(format!("row {} excluded: {}", one.row, one.reason));
    }
    if excluded.len() > COMPUTE_LISTED_MAX {
        notes.say(format!("{} rows more excluded for the same reason", excluded.len() - COMPUTE_LISTED_MAX));
    }
    let causes = Causes::of(&cases.cases);
    let mut tables = Vec::new();
    for (label, cases) in cases.by_group() {
        let rows = cases.iter().map(|case| causes.fate(case));
        let table = aalen_johansen_of(rows, causes.0.len(), asked.given, level).map_err(|wrong| input(&wrong))?;
        for sentence in table.notes() {
            notes.of(label, &sentence);
        }
        tables.push((label.to_owned(), table));
    }
    let gray = if tables.len() > 1 { Some(tests(&cases, &causes, asked.given, &mut notes)?) } else { None };
    let groups = Named(tables.iter().map(|(label, table)| (label.clone(), causes.columns(table))).collect());
    text(&Answer { groups, gray, notes })
}

/// The status numbers that occur, in order; the estimators number fates from 1 without gaps.
pub(super) struct Causes(Vec<u32>);

impl Causes {
    fn of(cases: &[Case]) -> Self {
        let found: BTreeSet<u32> = cases.iter().map(|case| case.status).filter(|status| *status > 0).collect();
        Self(found.into_iter().collect())
    }

    fn fate(&self, case: &Case) -> Fate {
        let entry_days = case.from_days.is_finite().then_some(case.from_days);
        let cause = self.0.binary_search(&case.status).map_or(0, |place| place + 1);
        Fate { entry_days, exit_days: case.to_days, cause, weight: case.weight }
    }

    fn columns(&self, table: &Incidence) -> Named<Numbers> {
        // A refused table has its counts and nothing else.
        let all = |found: &[f64]| Numbers::Estimates((0..table.time.len()).map(|at| found.get(at).copied()).collect());
        let mut columns = Named::default();
        columns.push("time", Numbers::Ages(table.time.clone()));
        columns.push("n_risk", Numbers::Counts(table.n_risk.clone()));
        for (number, cause) in self.0.iter().zip(&table.causes) {
            columns.push(&format!("n_event_{number}"), Numbers::Counts(cause.n_event.clone()));
            columns.push(&format!("cif_{number}"), all(&cause.cif));
            columns.push(&format!("se_ij_{number}"), all(&cause.se_ij));
            columns.push(&format!("se_greenwood_{number}"), all(&cause.se_greenwood));
        }
        columns.push("surv", all(&table.surv));
        columns
    }
}

fn tests(cases: &Cases, causes: &Causes, age: Option<f64>, notes: &mut Notes) -> Result<Named<Test>, Fault> {
    let design = Design::of_groups(cases.groups.len()).with_strata(cases.strata.len()).with_causes(causes.0.len());
    let kept = cases.cases.iter().filter_map(|case| given(case, age));
    let members = kept.map(|case| Grouped { case: causes.fate(&case), group: case.group as usize, stratum: case.stratum as usize });
    let found = match gray(members, design) {
        Ok(found) => found,
        Err(Error::Input(wrong)) => return Err(input(&wrong)),
        Err(Error::NotEstimable(reason)) => causes.0.iter().map(|_| Err(reason.clone())).collect(),
    };
    let mut told = Named::default();
    for (number, found) in causes.0.iter().zip(found) {
        let test = found.map(|test| Test { statistic: Some(test.statistic), df: Some(test.df), p: Some(test.p) });
        let refused = |reason: Reason| {
            notes.say(format!("gray, cause {number}: {reason}"));
            Test::default()
        };
        told.push(&number.to_string(), test.unwrap_or_else(refused));
    }
    Ok(told)
}
