//! Rows of survival, incidence and interval tables. Like rows are counted together while they are
//! read, so that ten million eggs by whole days need no more room than their few thousand different
//! rows; what is computed is the same, since the estimators take weights.

use super::answer::ALL;
use super::table::{Column, Table};
use crate::fault::Fault;
use selachron_schemas::limits::{COMPUTE_DIFFERENT_ROWS_MAX, COMPUTE_LABELS_MAX, COMPUTE_ROWS_HELD_MAX};
use std::cmp::Ordering;
use std::collections::HashMap;

/// Like rows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Case {
    /// Place of its group in [`Cases::groups`].
    pub group: u32,
    /// Place of its stratum in [`Cases::strata`].
    pub stratum: u32,
    /// Entry or left end, in days; minus infinity where the table has no entries.
    pub from_days: f64,
    /// Exit or right end, in days; infinity where it is open.
    pub to_days: f64,
    /// 0 is censored, else the event or its cause.
    pub status: u32,
    /// How many cases.
    pub weight: u64,
    /// The first of these rows, from 1 below the header.
    pub row: u64,
}

impl Case {
    fn order(&self, other: &Self) -> Ordering {
        let places = |case: &Self| (case.group, case.stratum);
        let days = self.from_days.total_cmp(&other.from_days).then(self.to_days.total_cmp(&other.to_days));
        places(self).cmp(&places(other)).then(days).then(self.status.cmp(&other.status)).then(self.row.cmp(&other.row))
    }

    fn is_like(&self, other: &Self) -> bool {
        (self.group, self.stratum, self.status) == (other.group, other.stratum, other.status)
            && (self.from_days, self.to_days) == (other.from_days, other.to_days)
    }
}

/// Labels in the order in which they come.
#[derive(Debug, Default)]
struct Labels {
    names: Vec<String>,
    places: HashMap<String, u32>,
}

impl Labels {
    fn place(&mut self, table: &Table, column: Column) -> Result<u32, Fault> {
        let label = table.label(column)?;
        if let Some(place) = self.places.get(&label) {
            return Ok(*place);
        }
        if self.names.len() >= COMPUTE_LABELS_MAX {
            return Err(
                table.wrong(column, &format!("is one label more than the {COMPUTE_LABELS_MAX} that are allowed; is it the right column?"))
            );
        }
        let place = u32::try_from(self.names.len()).unwrap_or(u32::MAX);
        self.names.push(label.clone());
        self.places.insert(label, place);
        Ok(place)
    }
}

/// The cases of a table, sorted by group and stratum.
#[derive(Debug)]
pub struct Cases {
    /// The labels of the groups, in the order in which they come; `all` where no column tells them apart.
    pub groups: Vec<String>,
    /// The same of the strata.
    pub strata: Vec<String>,
    /// Like rows, counted together.
    pub cases: Vec<Case>,
    /// Whether cases come under observation late.
    pub has_entries: bool,
    /// Whether there are strata.
    pub has_strata: bool,
}

impl Cases {
    /// The cases of each group, in the groups' order.
    pub fn by_group(&self) -> impl Iterator<Item = (&str, &[Case])> {
        let of = |place: usize| {
            let from = self.cases.partition_point(|case| (case.group as usize) < place);
            let to = self.cases.partition_point(|case| (case.group as usize) <= place);
            &self.cases[from..to]
        };
        self.groups.iter().enumerate().map(move |(place, label)| (label.as_str(), of(place)))
    }
}

/// Columns of a table of cases.
#[derive(Debug, Clone, Copy)]
pub struct Columns<'a> {
    /// Entry or left end.
    pub from: &'a str,
    /// Exit or right end.
    pub to: &'a str,
    /// Event, status or cause.
    pub status: Option<&'a str>,
    /// What tells groups apart.
    pub group: &'a str,
    /// What the rows are.
    pub kind: Kind,
}

/// What the rows of a table are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// `time,event`: an event or none.
    Survival,
    /// `time,status`: causes by number.
    Incidence,
    /// `left,right`: intervals, the right end may be open.
    Intervals,
}

const STRATUM: &str = "stratum";
const WEIGHT: &str = "weight";

/// Reads all of a table.
///
/// # Errors
/// A sentence that names row and column; more different rows than can be held.
pub fn read(source: super::table::Source, columns: Columns<'_>) -> Result<Cases, Fault> {
    let mut required = vec![columns.to];
    let mut optional = vec![columns.group, WEIGHT];
    required.extend(columns.status);
    match columns.kind {
        Kind::Intervals => required.insert(0, columns.from),
        Kind::Survival | Kind::Incidence => optional.extend([columns.from, STRATUM]),
    }
    let table = Table::open(source, &required, &optional)?;
    let reading = Reading::new(&table, columns)?;
    reading.all(table)
}

/// A table while it is read.
struct Reading {
    kind: Kind,
    from: Option<Column>,
    to: Column,
    status: Option<Column>,
    group: Option<Column>,
    stratum: Option<Column>,
    weight: Option<Column>,
    groups: Labels,
    strata: Labels,
    cases: Vec<Case>,
}

impl Reading {
    fn new(table: &Table, columns: Columns<'_>) -> Result<Self, Fault> {
        Ok(Self {
            kind: columns.kind,
            from: table.column(columns.from),
            to: table.needed(columns.to)?,
            status: columns.status.map(|name| table.needed(name)).transpose()?,
            group: table.column(columns.group),
            stratum: table.column(STRATUM).filter(|_| columns.kind != Kind::Intervals),
            weight: table.column(WEIGHT),
            groups: Labels::default(),
            strata: Labels::default(),
            cases: Vec::new(),
        })
    }

    fn all(mut self, mut table: Table) -> Result<Cases, Fault> {
        while table.advance()? {
            let case = self.case(&table)?;
            self.cases.push(case);
            if self.cases.len() >= COMPUTE_ROWS_HELD_MAX {
                self.gather(&table)?;
            }
        }
        self.gather(&table)?;
        self.cases.shrink_to_fit();
        let named = |labels: Labels| if labels.names.is_empty() { vec![ALL.to_owned()] } else { labels.names };
        let (has_entries, has_strata) = (self.from.is_some(), self.stratum.is_some());
        Ok(Cases { groups: named(self.groups), strata: named(self.strata), cases: self.cases, has_entries, has_strata })
    }

    fn case(&mut self, table: &Table) -> Result<Case, Fault> {
        let group = self.group.map_or(Ok(0), |column| self.groups.place(table, column))?;
        let stratum = self.stratum.map_or(Ok(0), |column| self.strata.place(table, column))?;
        let from_days = self.from.map_or(Ok(f64::NEG_INFINITY), |column| table.days(column))?;
        let to_days = if self.kind == Kind::Intervals && table.is_empty(self.to) { f64::INFINITY } else { table.days(self.to)? };
        if to_days < from_days {
            return Err(table.wrong(self.to, &format!("is {to_days}, before {from_days}, where it begins; correct one of them")));
        }
        let status = self.status.map_or(Ok(1), |column| self.status(table, column))?;
        let weight = self.weight.map_or(Ok(1), |column| table.weight(column))?;
        Ok(Case { group, stratum, from_days, to_days, status, weight, row: table.row() })
    }

    fn status(&self, table: &Table, column: Column) -> Result<u32, Fault> {
        if self.kind == Kind::Survival {
            return table.flag(column).map(u32::from);
        }
        let status = table.count(column)?;
        let known = |status: &u32| *status as usize <= COMPUTE_LABELS_MAX;
        let status = u32::try_from(status).ok().filter(known);
        status
            .ok_or_else(|| table.wrong(column, &format!("is too large; causes are numbered from 1 to {COMPUTE_LABELS_MAX}, 0 is censored")))
    }

    /// Counts like rows together. Rows without time at risk stay apart: each of them is listed.
    fn gather(&mut self, table: &Table) -> Result<(), Fault> {
        let listed = |case: &Case| self.kind != Kind::Intervals && case.from_days == case.to_days;
        self.cases.sort_unstable_by(Case::order);
        self.cases.dedup_by(|later, kept| {
            let like = kept.is_like(later) && !listed(kept);
            if like {
                kept.weight = kept.weight.saturating_add(later.weight);
                kept.row = kept.row.min(later.row);
            }
            like
        });
        if self.cases.len() > COMPUTE_DIFFERENT_ROWS_MAX {
            return Err(table.fault(&format!(
                "the first {} rows are more than {COMPUTE_DIFFERENT_ROWS_MAX} different ones; round the ages to whole days, or split the table",
                table.row()
            )));
        }
        Ok(())
    }
}
