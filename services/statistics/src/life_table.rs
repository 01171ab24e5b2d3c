//! Survival by age class: the actuarial table, and the table by exact exposure.
//!
//! Of `n` at the start of a class `w` wide, with `e` entering and `c` lost in it and `d` events:
//! * actuarial: exposed `n' = n + e/2 - c/2`, `q = d/n'`;
//! * by exposure: `m = d/(days at risk)`, `q = 1 - exp(-m w)`;
//!
//! and `l` at the start of the next class is `l (1 - q)`.

use serde::Serialize;

use crate::reason::{Error, InvalidInput, Reason};
use crate::reproduction::{Births, value};
use crate::rows::{Excluded, Gate, Row};

/// What happened in one age class, from `start_days` on and before `end_days`.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct AgeClass {
    /// Where it begins, in days.
    pub start_days: f64,
    /// Where it ends, in days; `None` for an open last class.
    pub end_days: Option<f64>,
    /// Alive and watched at the start.
    pub n_start: u64,
    /// Came under observation in the class.
    pub entered: u64,
    /// Left observation alive in the class.
    pub lost: u64,
    /// Had the event in the class.
    pub n_event: u64,
    /// Days at risk of all cases together, where that is known.
    pub exposure_days: Option<f64>,
    /// Births in the class by those of the table, where they are counted.
    pub births: Option<f64>,
}

impl AgeClass {
    /// A class with these counts, nobody entering, exposure and births unknown.
    pub fn counted(start_days: f64, end_days: Option<f64>, n_start: u64, lost: u64, n_event: u64) -> AgeClass {
        AgeClass { start_days, end_days, n_start, entered: 0, lost, n_event, exposure_days: None, births: None }
    }

    fn width_days(&self) -> Option<f64> {
        self.end_days.map(|end| end - self.start_days)
    }

    /// `n + e/2 - c/2`.
    fn exposed(&self) -> f64 {
        self.n_start as f64 + self.entered as f64 / 2.0 - self.lost as f64 / 2.0
    }
}

/// Which of the two tables; published figures must say.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Method {
    /// Those lost count half a class.
    Actuarial,
    /// Every day at risk is counted.
    Exposure,
}

/// A life table.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LifeTable {
    /// How the probabilities were found.
    pub method: Method,
    /// One for each class, in order.
    pub rows: Vec<LifeRow>,
}

/// One age class of a life table. `None` is "not estimable": nobody was exposed in it or before it,
/// or an open class has no width.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct LifeRow {
    /// What was counted.
    pub class: AgeClass,
    /// Cases exposed: `n'`, or days at risk in the table by exposure.
    pub exposed: f64,
    /// Part of those that reach the class that have the event in it.
    pub q: Option<f64>,
    /// `1 - q`.
    pub p: Option<f64>,
    /// Part that reaches the class.
    pub l: Option<f64>,
    /// Greenwood's standard error of `l`.
    pub se_l: Option<f64>,
    /// Events a day at the middle of the class: `l q/w`.
    pub density_per_day: Option<f64>,
    /// Its standard error.
    pub se_density: Option<f64>,
    /// Hazard a day: `2q/(w(1 + p))` in the actuarial table, `m` in the one by exposure.
    pub hazard_per_day: Option<f64>,
    /// Its standard error.
    pub se_hazard: Option<f64>,
    /// Births by one that reaches the class: `births/n_start`.
    pub m: Option<f64>,
}

/// The table of these classes.
///
/// Actuarial: Berkson & Gage 1950 (Proc Staff Meet Mayo Clin 25:270), Gehan 1969 (J Chron Dis 21:629)
/// for the standard errors of density and hazard, as in Klein & Moeschberger 1997 section 5.4. By
/// exposure: `m = d/days`, `q = 1 - exp(-m w)`, with `d/days²` as the variance of `m`.
///
/// Ties do not matter, only classes do. Not for a handful of animals with known dates, whose curve
/// loses nothing ([`kaplan_meier`](crate::kaplan_meier())), and classes must not be chosen after
/// looking.
///
/// Fails with [`Reason::NoData`] without classes and with [`InvalidInput`] naming the row: classes out
/// of order or with gaps, more events than cases exposed, and no days at risk where they are needed.
pub fn life_table(classes: &[AgeClass], method: Method) -> Result<LifeTable, Error> {
    if classes.is_empty() {
        return Err(Reason::NoData.into());
    }
    let mut reach = Reach { l: Some(1.0), sum: 0.0 };
    let mut rows = Vec::with_capacity(classes.len());
    for (row, class) in classes.iter().enumerate() {
        check_order(row, class, row.checked_sub(1).map(|before| &classes[before]))?;
        let exposed = exposure(row, class, method)?;
        rows.push(reach.row(class, exposed, method));
    }
    Ok(LifeTable { method, rows })
}

fn check_order(row: usize, class: &AgeClass, before: Option<&AgeClass>) -> Result<(), InvalidInput> {
    let start_days = value(row, "start_days", class.start_days)?;
    let end_days = class.end_days.unwrap_or(f64::INFINITY);
    let follows = before.is_none_or(|before| before.end_days == Some(start_days));
    if end_days > start_days && follows { Ok(()) } else { Err(InvalidInput::ClassOrder { row, start_days, end_days }) }
}

/// Those exposed in the sense of the method.
fn exposure(row: usize, class: &AgeClass, method: Method) -> Result<f64, InvalidInput> {
    value(row, "births", class.births.unwrap_or(0.0))?;
    let n_event = class.n_event;
    let exposed = match method {
        Method::Actuarial => class.exposed(),
        Method::Exposure => value(row, "exposure_days", class.exposure_days.unwrap_or(f64::NAN))?,
    };
    let too_many = match method {
        Method::Actuarial => n_event as f64 > exposed,
        Method::Exposure => n_event > 0 && exposed <= 0.0,
    };
    if too_many { Err(InvalidInput::EventsAboveExposed { row, n_event, exposed }) } else { Ok(exposed) }
}

/// What is carried from class to class: the part that reaches it and `sum q/(n' p)`.
struct Reach {
    l: Option<f64>,
    sum: f64,
}

impl Reach {
    fn row(&mut self, class: &AgeClass, exposed: f64, method: Method) -> LifeRow {
        let risk = risk(class, exposed, method);
        let (l, sum, q) = (self.l, self.sum, risk.map(|risk| risk.q));
        // Where all have the event the term is infinite and the next l is 0: it is not used.
        self.sum += risk.map_or(0.0, |risk| risk.term).min(f64::MAX);
        self.l = l.zip(q).map(|(l, q)| l * (1.0 - q));
        let width = class.width_days();
        let density = |l: f64, q: f64, w: f64| l * q / w;
        let density_per_day = match (l, q, width) {
            (Some(l), Some(q), Some(w)) => Some(density(l, q, w)),
            _ => None,
        };
        LifeRow {
            class: *class,
            exposed,
            q,
            p: q.map(|q| 1.0 - q),
            l,
            se_l: l.map(|l| if l > 0.0 { l * sum.sqrt() } else { 0.0 }),
            density_per_day,
            se_density: density_per_day.zip(risk).and_then(|(density, risk)| risk.se_density(density, sum)),
            hazard_per_day: risk.and_then(|risk| risk.hazard),
            se_hazard: risk.and_then(|risk| risk.se_hazard),
            m: class.births.and_then(|births| births_by_one(births, class.n_start)),
        }
    }
}

/// Births by nobody are none; births without anybody to give them have no rate.
fn births_by_one(births: f64, n_start: u64) -> Option<f64> {
    match n_start {
        0 => (births == 0.0).then_some(0.0),
        n => Some(births / n as f64),
    }
}

/// The risk of one class.
#[derive(Clone, Copy)]
struct Risk {
    q: f64,
    /// `Var q/(1 - q)²`, what the class adds to the relative variance of `l`.
    term: f64,
    hazard: Option<f64>,
    se_hazard: Option<f64>,
}

fn risk(class: &AgeClass, exposed: f64, method: Method) -> Option<Risk> {
    if exposed <= 0.0 {
        return None;
    }
    let d = class.n_event as f64;
    match method {
        Method::Actuarial => Some(actuarial(d / exposed, exposed, class.width_days())),
        Method::Exposure => class.width_days().map(|width| by_exposure(d, exposed, width)),
    }
}

fn actuarial(q: f64, exposed: f64, width: Option<f64>) -> Risk {
    let hazard = width.map(|w| 2.0 * q / (w * (2.0 - q)));
    let se = |(hazard, w): (f64, f64)| match q > 0.0 {
        true => hazard * ((1.0 - (hazard * w / 2.0) * (hazard * w / 2.0)) / (exposed * q)).sqrt(),
        false => 0.0,
    };
    Risk { q, term: q / (exposed * (1.0 - q)), hazard, se_hazard: hazard.zip(width).map(se) }
}

/// `ln p = -m w`, so that `Var q/p²` is `w² Var m`.
fn by_exposure(d: f64, days: f64, width: f64) -> Risk {
    let (hazard, se) = (d / days, d.sqrt() / days);
    let q = -libm::expm1(-hazard * width);
    Risk { q, term: width * width * se * se, hazard: Some(hazard), se_hazard: Some(se) }
}

impl Risk {
    /// Of `l q/w`: the relative variances of `l` and of `q` add up.
    fn se_density(&self, density: f64, sum: f64) -> Option<f64> {
        let p = 1.0 - self.q;
        let of_q = self.term * (p / self.q) * (p / self.q);
        match self.q > 0.0 {
            // At q = 1 the term is infinite times zero: q is known to be 1 only because all died.
            true if p <= 0.0 => Some(density * sum.sqrt()),
            true => Some(density * (sum + of_q).sqrt()),
            false => Some(0.0),
        }
    }
}

impl LifeTable {
    /// Survival to each class and births by one that reaches it, for
    /// [`reproduction`](crate::reproduction()). Births stand at the start of their class.
    ///
    /// Fails with [`Reason::NoBirths`] when they are not counted in every class, and with
    /// [`Reason::EmptyClass`] where births have nobody that could give them.
    pub fn schedule(&self) -> Result<Vec<Births>, Error> {
        let schedule = self.rows.iter().map(|row| {
            let start_days = row.class.start_days;
            let births = row.class.births.ok_or(Reason::NoBirths)?;
            if births == 0.0 {
                return Ok(Births { age_days: start_days, survival: row.l.unwrap_or(0.0), births });
            }
            match (row.l, row.m) {
                (Some(survival), Some(births)) => Ok(Births { age_days: start_days, survival, births }),
                _ => Err(Reason::EmptyClass { start_days }.into()),
            }
        });
        schedule.collect()
    }
}

/// Cases sorted into age classes, with those that have no time at risk.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Classed {
    /// The classes, the last one open.
    pub classes: Vec<AgeClass>,
    /// Rows that no class can hold, with the reason.
    pub excluded: Vec<Excluded>,
}

/// Counts cases by age class, with their days at risk. `starts_days` are the beginnings of the
/// classes in order; the last class is open. A class holds ages from its start up to but without
/// its end; a case that leaves at the very start of a class leaves in it with no time there.
///
/// Cases that end before the first class are left out of all counts; those under way at its start
/// are its `n_start`. Entry and exit of one case in one class count as entered and as lost or event.
///
/// Fails with [`InvalidInput`] naming the row, or the class (as its row) when starts are out of order.
pub fn age_classes(rows: &[Row], starts_days: &[f64]) -> Result<Classed, Error> {
    let mut classes: Vec<AgeClass> = Vec::with_capacity(starts_days.len());
    for (row, start) in starts_days.iter().enumerate() {
        let start_days = value(row, "start_days", *start)?;
        let end_days = starts_days.get(row + 1).copied();
        let class = AgeClass { exposure_days: Some(0.0), ..AgeClass::counted(start_days, end_days, 0, 0, 0) };
        check_order(row, &class, classes.last())?;
        classes.push(class);
    }
    if classes.is_empty() {
        return Err(Reason::NoData.into());
    }
    let mut gate = Gate::default();
    for row in rows {
        if let Some(spell) = gate.admit((*row).into(), 1)? {
            let weight = u64::from(spell.weight);
            place(&mut classes, spell.entry.max(0.0), spell.exit, spell.cause > 0, weight);
        }
    }
    Ok(Classed { classes, excluded: gate.excluded })
}

fn place(classes: &mut [AgeClass], entry: f64, exit: f64, event: bool, weight: u64) {
    for class in classes.iter_mut().filter(|class| class.start_days <= exit) {
        let end = class.end_days.unwrap_or(f64::INFINITY);
        if entry >= end {
            continue;
        }
        match entry <= class.start_days {
            true => class.n_start += weight,
            false => class.entered += weight,
        }
        let days = exit.min(end) - entry.max(class.start_days);
        class.exposure_days = class.exposure_days.map(|sum| sum + days * weight as f64);
        if exit < end {
            let counted = if event { &mut class.n_event } else { &mut class.lost };
            *counted += weight;
        }
    }
}
