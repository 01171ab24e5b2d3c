//! All parts of the report together.

use super::ledger::ledger;
use super::losses::{losses, openings};
use super::material::{Identity, Material, Span, Twelve, Year};
use super::profile::present;
use super::shape::{AnnualReport, Auditor, Completeness, FailingLine, Period, SCHEMA};
use super::stock::{Basis, stock};
use super::water::water;
use crate::report::figures::{Cohort, HatchRates, Watch, fates, hatch_rates, rearing};
use crate::report::words;
use chrono_tz::Tz;
use selachron_schemas::time::Instant;

/// Why there is no report.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NotYet {
    /// V lies before the year.
    #[error("as_of lies before {year} began ({first_day}); ask for an earlier year or a later as_of")]
    YearNotBegun {
        /// The year asked for.
        year: i32,
        /// Its first day.
        first_day: chrono::NaiveDate,
    },
    /// Beyond the calendar.
    #[error("{year} is no year of the calendar; give four digits such as 2026")]
    NoSuchYear {
        /// The year asked for.
        year: i32,
    },
}

/// What computes reports: this package and its version.
#[must_use]
pub fn software() -> String {
    format!("{} {}", env!("CARGO_PKG_NAME"), env!("CARGO_PKG_VERSION"))
}

/// The report of this material, under that identity. The same gives the same.
///
/// # Errors
/// The year has not begun at V.
pub fn compile(identity: &Identity, material: &Material) -> Result<AnnualReport, NotYet> {
    let (twelve, zone) = (material.twelve, material.zone);
    let days = begun(twelve, zone, material.as_of)?;
    let span = Span { from: days.start, until: days.until(material.as_of) };
    let period = period(&days, material, span);
    let watch = Watch { as_of: material.as_of, zone, unseen_days_max: material.unseen_days_max };
    let cohort = Cohort::between(days.first_day, days.last_day);
    let now = &material.now;
    let by = |basis| stock(&material.before, &material.closing, &material.species, basis, span, zone);
    let ((stock, mut failing), (stock_owned, owned_failing)) = (by(Basis::Presence), by(Basis::Ownership));
    failing.extend(owned_failing);
    let (ledger, more) = ledger(&material.before, &material.closing, &material.species, span);
    failing.extend(more);
    Ok(AnnualReport {
        schema: SCHEMA.to_owned(),
        collection: identity.collection.clone(),
        year: twelve.year,
        as_of: material.as_of,
        known_at: identity.known_at,
        root: identity.root.clone(),
        withheld: identity.withheld,
        simulated_clock: identity.simulated_clock,
        software: software(),
        tzdb: chrono_tz::IANA_TZDB_VERSION.to_owned(),
        completeness: completeness(&period, failing),
        period,
        hatch_rates: hatch_rates(&now.eggs, &cohort, zone, false),
        hatch_rates_year_before: year_before(material),
        fates: fates(&now.eggs, &cohort, zone),
        losses: losses(&material.closing, span),
        rearing_of_year: rearing(&now.animals, &now.eggs, &cohort, watch, false),
        rearing_of_all: rearing(&now.animals, &now.eggs, &Cohort::default(), watch, false),
        openings: openings(&material.closing, now, span, watch),
        stock_presented: present(&identity.profile, &stock),
        stock,
        stock_owned,
        ledger,
        water: water(material, span),
        discrepancies_open: super::discrepancies::open(&material.discrepancies),
        discrepancies_counted: super::discrepancies::counted(&material.discrepancies, material.as_of, zone),
        suspected: material.suspected.iter().map(ToString::to_string).collect(),
        writers: material.writers.clone(),
        profile: identity.profile.clone(),
        curator: material.parts.curator.clone(),
        authority: material.parts.authority.clone(),
        studbook: material.parts.studbook.clone(),
        auditor: Auditor { tables: material.parts.auditor.tables.clone(), refused_writes: identity.refused_writes.clone() },
        proof_shows: words::PROOF_SHOWS.to_owned(),
        proof_does_not_show: words::PROOF_DOES_NOT_SHOW.to_owned(),
        cautions: words::CAUTIONS.map(str::to_owned).to_vec(),
        not_covered: words::NOT_COVERED.map(str::to_owned).to_vec(),
    })
}

/// The year's bounds, if it has begun at V.
///
/// # Errors
/// It has not, or the calendar has no such year.
pub fn begun(twelve: Twelve, zone: Tz, as_of: Instant) -> Result<Year, NotYet> {
    let year = twelve.year;
    let days = Year::of(twelve, zone).ok_or(NotYet::NoSuchYear { year })?;
    if as_of < days.start {
        return Err(NotYet::YearNotBegun { year, first_day: days.first_day });
    }
    Ok(days)
}

fn period(days: &Year, material: &Material, span: Span) -> Period {
    Period {
        first_day: days.first_day,
        last_day: days.last_day,
        until: span.until.day(material.zone),
        year_is_over: material.as_of >= days.end,
    }
}

fn year_before(material: &Material) -> Option<HatchRates> {
    let days = Year::of(material.twelve.earlier(1), material.zone)?;
    let rates = hatch_rates(&material.now.eggs, &Cohort::between(days.first_day, days.last_day), material.zone, false);
    (rates.behind.eggs + rates.behind_received.eggs + rates.dead_on_arrival > 0).then_some(rates)
}

fn completeness(period: &Period, failing: Vec<FailingLine>) -> Completeness {
    let mut because = Vec::new();
    match failing.len() {
        0 => {}
        1 => because.push("one line of stock list and egg ledger does not add up".to_owned()),
        lines => because.push(format!("{lines} lines of stock list and egg ledger do not add up")),
    }
    if !period.year_is_over {
        because.push(format!("the year is told only up to {}", period.until));
    }
    Completeness { complete: because.is_empty(), because, failing }
}
