//! What a report is made from: the state of the nursery at three instants and the readings between.

use super::curator::Curator;
use super::profile::ProfileUsed;
use super::shape::{Collection, RefusedWrites, Writer};
use super::table::{Part, PartTable};
use super::title::Loans;
use crate::domain::discrepancy::Discrepancy;
use crate::domain::state::{Animal, Egg, EventId, Group, Species, System, Tank, WaterReading};
use chrono::NaiveDate;
use chrono_tz::Tz;
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use std::collections::BTreeSet;
use std::sync::Arc;

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
    /// How the lists are presented, and to whom.
    pub profile: ProfileUsed,
    /// Writes that were refused in the twelve months, from beside the log; `None` where only the log is known.
    pub refused_writes: Option<RefusedWrites>,
    /// Why whoever signs the report releases it with lines that do not add up.
    pub release: Option<String>,
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
    /// Loans agreed until then.
    pub loans: Arc<Loans>,
    /// Groups whose animals hatched here, before any split.
    pub hatched_here: BTreeSet<Subject>,
}

/// All that a report needs to know, at S.
#[derive(Debug, Clone)]
pub struct Material {
    /// The twelve months.
    pub twelve: Twelve,
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
    /// The part for each reader, made where the record can be asked.
    pub parts: Parts,
}

/// What each reader's part says.
#[derive(Debug, Clone, Default)]
pub struct Parts {
    /// Figures that an issued report showed otherwise.
    pub restatements: PartTable,
    /// For the curator.
    pub curator: Curator,
    /// For the licensing authority.
    pub authority: Part,
    /// For the studbook keeper.
    pub studbook: Part,
    /// For the auditor.
    pub auditor: Part,
}

/// Twelve months, by the day on which they begin.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Twelve {
    /// The year in which they begin.
    pub year: i32,
    /// The month, from 1.
    pub month: u32,
    /// The day of the month, from 1.
    pub day: u32,
}

impl From<i32> for Twelve {
    /// The calendar year.
    fn from(year: i32) -> Self {
        Self { year, month: 1, day: 1 }
    }
}

impl Twelve {
    /// Reads the day of a year on which twelve months begin, `04-01`. 29 February is none: most years
    /// have no such day.
    #[must_use]
    pub fn beginning(year: i32, text: &str) -> Option<Self> {
        let digits = |part: &str| (part.len() == 2 && part.bytes().all(|byte| byte.is_ascii_digit())).then(|| part.parse().ok()).flatten();
        let (month, day) = text.split_once('-')?;
        let twelve = Self { year, month: digits(month)?, day: digits(day)? };
        // 2025 has no leap day.
        NaiveDate::from_ymd_opt(2025, twelve.month, twelve.day).map(|_| twelve)
    }

    /// The same months so many years earlier.
    #[must_use]
    pub fn earlier(self, years: i32) -> Self {
        Self { year: self.year - years, ..self }
    }

    /// Whether they are a calendar year.
    #[must_use]
    pub fn is_calendar(self) -> bool {
        (self.month, self.day) == (1, 1)
    }
}

/// Bounds of twelve months in the collection's calendar.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Year {
    /// The first day.
    pub first_day: NaiveDate,
    /// The last.
    pub last_day: NaiveDate,
    /// Its first millisecond.
    pub start: Instant,
    /// Its last millisecond.
    pub end: Instant,
}

impl Year {
    /// `None` beyond the calendar.
    #[must_use]
    pub fn of(twelve: Twelve, zone: Tz) -> Option<Self> {
        let first_day = NaiveDate::from_ymd_opt(twelve.year, twelve.month, twelve.day)?;
        let last_day = NaiveDate::from_ymd_opt(twelve.year.checked_add(1)?, twelve.month, twelve.day)?.pred_opt()?;
        Some(Self { first_day, last_day, start: Instant::start_of_day(first_day, zone), end: Instant::end_of_day(last_day, zone) })
    }

    /// The last instant before it: the state there is what the year starts with.
    #[must_use]
    pub fn eve(&self) -> Instant {
        self.start.plus_ms(-1)
    }

    /// The part of it that a report made as of V covers.
    #[must_use]
    pub fn span(&self, as_of: Instant) -> Span {
        Span { from: self.start, until: self.until(as_of) }
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
