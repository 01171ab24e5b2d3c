//! What a report is made from: the state of the nursery at three instants and the readings between.

use super::shape::{Collection, Writer};
use crate::domain::discrepancy::Discrepancy;
use crate::domain::state::{Animal, Egg, EventId, Group, Loan, Species, System, Tank, WaterReading};
use chrono::NaiveDate;
use chrono_tz::Tz;
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;

/// Whose report it is, and where in the log it stands.
#[derive(Debug, Clone)]
pub struct Identity {
    /// The collection.
    pub collection: Collection,
    /// S.
    pub known_at: u64,
    /// The root of size S, base64.
    pub root: String,
    /// Withheld bodies behind it.
    pub withheld: u64,
    /// Whether the log's clock is simulated (F10).
    pub simulated_clock: bool,
}

/// Cases, animals, groups and loans at one instant.
#[derive(Debug, Clone, Default)]
pub struct Population {
    /// Cases by id.
    pub eggs: Vec<Egg>,
    /// Animals by id.
    pub animals: Vec<Animal>,
    /// Groups of animals that cannot be told apart, by id.
    pub groups: Vec<Group>,
    /// Loans agreed until then, by id.
    pub loans: Vec<Loan>,
}

/// All that a report needs to know, at S.
#[derive(Debug, Clone)]
pub struct Material {
    /// The calendar year.
    pub year: i32,
    /// The collection's time zone.
    pub zone: Tz,
    /// V.
    pub as_of: Instant,
    /// The last instant before the year.
    pub before: Population,
    /// The last instant of the year, or V if earlier.
    pub closing: Population,
    /// V.
    pub now: Population,
    /// Species the collection lists.
    pub species: Vec<Species>,
    /// Systems.
    pub systems: Vec<System>,
    /// Tanks.
    pub tanks: Vec<Tank>,
    /// Readings that stand, of systems and tanks; those outside the year are left out by the report.
    pub readings: Vec<(Subject, WaterReading)>,
    /// Discrepancies at (V, S).
    pub discrepancies: Vec<Discrepancy>,
    /// Notes recorded while their author's key was suspected, in the log's order.
    pub suspected: Vec<EventId>,
    /// Who wrote notes.
    pub writers: Vec<Writer>,
    /// The house rule for unseen animals, in days.
    pub unseen_days_max: u32,
}

/// The year's bounds in the collection's calendar.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Year {
    /// 1 January.
    pub first_day: NaiveDate,
    /// 31 December.
    pub last_day: NaiveDate,
    /// Its first millisecond.
    pub start: Instant,
    /// Its last millisecond.
    pub end: Instant,
}

impl Year {
    /// `None` beyond the calendar.
    #[must_use]
    pub fn of(year: i32, zone: Tz) -> Option<Self> {
        let (first_day, last_day) = (NaiveDate::from_ymd_opt(year, 1, 1)?, NaiveDate::from_ymd_opt(year, 12, 31)?);
        Some(Self { first_day, last_day, start: Instant::start_of_day(first_day, zone), end: Instant::end_of_day(last_day, zone) })
    }

    /// The last instant before it: the state there is what the year starts with.
    #[must_use]
    pub fn eve(&self) -> Instant {
        self.start.plus_ms(-1)
    }

    /// How far a report of this year reaches when it is made as of V.
    #[must_use]
    pub fn until(&self, as_of: Instant) -> Instant {
        self.end.min(as_of)
    }
}

/// The part of a year that a report covers, first and last millisecond included.
#[derive(Debug, Clone, Copy)]
pub struct Span {
    /// First.
    pub from: Instant,
    /// Last.
    pub until: Instant,
}

impl Span {
    /// Whether the instant lies in it.
    #[must_use]
    pub fn has(&self, time: Instant) -> bool {
        (self.from..=self.until).contains(&time)
    }
}

/// What a species is called, for one that is listed, withheld or never named.
#[must_use]
pub fn species_name(listed: &[Species], id: Option<&Subject>) -> String {
    match id {
        None => "species not known".to_owned(),
        Some(id) => listed.iter().find(|species| &species.id == id).map_or_else(|| id.to_string(), |found| found.scientific_name.clone()),
    }
}
