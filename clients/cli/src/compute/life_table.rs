//! `compute life-table`: survival by age class, and the rate of increase.

use super::answer::{Notes, counted_from_1, text};
use super::args::{LifeTableArgs, LifeTableMethod};
use super::table::{Column, Source, Table};
use crate::fault::Fault;
use selachron_statistics::life_table::{AgeClass, LifeTable, Method, life_table};
use selachron_statistics::reason::Error;
use selachron_statistics::reproduction::{Reproduction, reproduction};
use serde::Serialize;

#[derive(Serialize)]
struct Answer {
    rows: Vec<Row>,
    #[serde(rename = "R0", skip_serializing_if = "Option::is_none")]
    replacement: Option<Option<f64>>,
    #[serde(rename = "T", skip_serializing_if = "Option::is_none")]
    generation: Option<Option<f64>>,
    #[serde(rename = "r", skip_serializing_if = "Option::is_none")]
    rate: Option<Option<f64>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    lambda: Option<Option<f64>>,
    method: &'static str,
    notes: Notes,
}

#[derive(Serialize)]
struct Row {
    start: f64,
    end: Option<f64>,
    exposed: f64,
    q: Option<f64>,
    p: Option<f64>,
    l: Option<f64>,
    /// Only where births are counted; then `null` is "nobody reaches this class".
    #[serde(skip_serializing_if = "Option::is_none")]
    m: Option<Option<f64>>,
}

pub(super) fn run(asked: &LifeTableArgs) -> Result<String, Fault> {
    let mut table = Table::open(Source::open(asked.input.file.as_deref())?, &["start", "end", "n_start", "lost", "event"], OPTIONAL)?;
    let columns = Columns::of(&table, asked.method)?;
    let mut classes = Vec::new();
    while table.advance()? {
        classes.push(columns.class(&table)?);
    }
    let mut notes = Notes::default();
    let method = if asked.method == LifeTableMethod::Exposure { Method::Exposure } else { Method::Actuarial };
    let made = life_table(&classes, method).map_err(|error| Fault::Failed(format!("{}: {}", table.name(), said(error))))?;
    if made.rows.iter().any(|row| row.q.is_none() || row.l.is_none()) {
        notes.say("q, p and l: not estimable where nobody was exposed, or an open class has no width");
    }
    let with_births = columns.births.is_some();
    let rates = if with_births { Some(rates(&made, &mut notes)?) } else { None };
    let of = |read: fn(&Reproduction) -> f64| rates.as_ref().map(|rates| rates.as_ref().map(read));
    text(&Answer {
        rows: made.rows.iter().map(|row| told(row, with_births)).collect(),
        replacement: of(|rates| rates.r0),
        generation: of(|rates| rates.generation_days),
        rate: of(|rates| rates.rate_per_day),
        lambda: of(|rates| rates.lambda),
        method: words(method),
        notes,
    })
}

fn words(method: Method) -> &'static str {
    match method {
        Method::Actuarial => "actuarial: exposed = n_start + entered/2 - lost/2, q = event/exposed; rates per unit of start and end",
        Method::Exposure => "exposure: exposed = days at risk, q = 1 - exp(-width event/exposed); rates per unit of start and end",
    }
}

fn told(row: &selachron_statistics::life_table::LifeRow, with_births: bool) -> Row {
    let (start, end) = (row.class.start_days, row.class.end_days);
    Row { start, end, exposed: row.exposed, q: row.q, p: row.p, l: row.l, m: with_births.then_some(row.m) }
}

fn rates(table: &LifeTable, notes: &mut Notes) -> Result<Option<Reproduction>, Fault> {
    match table.schedule().and_then(|schedule| reproduction(&schedule)) {
        Ok(found) => Ok(Some(found)),
        Err(Error::NotEstimable(reason)) => {
            notes.say(format!("R0, T, r and lambda: {reason}"));
            Ok(None)
        }
        Err(error) => Err(Fault::Failed(said(error))),
    }
}

fn said(error: Error) -> String {
    match error {
        Error::Input(wrong) => counted_from_1(wrong).to_string(),
        Error::NotEstimable(reason) => reason.to_string(),
    }
}

const OPTIONAL: &[&str] = &["births", "entered", "exposure_days"];

struct Columns {
    start: Column,
    end: Column,
    n_start: Column,
    lost: Column,
    event: Column,
    births: Option<Column>,
    entered: Option<Column>,
    exposure: Option<Column>,
}

impl Columns {
    fn of(table: &Table, method: LifeTableMethod) -> Result<Self, Fault> {
        let exposure = match method {
            LifeTableMethod::Exposure => Some(table.needed("exposure_days")?),
            LifeTableMethod::Actuarial => table.column("exposure_days"),
        };
        Ok(Self {
            start: table.needed("start")?,
            end: table.needed("end")?,
            n_start: table.needed("n_start")?,
            lost: table.needed("lost")?,
            event: table.needed("event")?,
            births: table.column("births"),
            entered: table.column("entered"),
            exposure,
        })
    }

    fn class(&self, table: &Table) -> Result<AgeClass, Fault> {
        let start = table.days(self.start)?;
        let end = if table.is_empty(self.end) { None } else { Some(table.days(self.end)?) };
        if end.is_some_and(|end| end <= start) {
            return Err(table.wrong(self.end, &format!("is not above start, which is {start}; correct one of them")));
        }
        let (n_start, lost, event) = (table.count(self.n_start)?, table.count(self.lost)?, table.count(self.event)?);
        let optional = |column: Option<Column>| column.map(|column| table.days(column)).transpose();
        Ok(AgeClass {
            entered: self.entered.map_or(Ok(0), |column| table.count(column))?,
            exposure_days: optional(self.exposure)?,
            births: optional(self.births)?,
            ..AgeClass::counted(start, end, n_start, lost, event)
        })
    }
}
