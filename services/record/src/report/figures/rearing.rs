//! Survival of the young from hatch: Kaplan-Meier in whole local days, Greenwood's variance, log-log
//! interval (DOMAIN section 8).
//!
//! Young hatched here are watched from day 0, one that dies on its hatch day included. Animals that
//! came from elsewhere enter at the age they then had. A death counts on the day it was found.
//! Whoever left is censored on that day, and everybody else not known dead on the day last seen
//! alive, never on the day of the report: that would invent survival.

use super::{Absent, Behind, Cohort, Counted};
use crate::domain::state::{Animal, AnimalFate, AnimalOrigin, Egg, LifeState, Moment};
use crate::report::numbers::{self, Limits, is_none};
use chrono::NaiveDate;
use chrono_tz::Tz;
use selachron_schemas::names::Subject;
use selachron_schemas::time::{Instant, whole_days};
use selachron_statistics::plot::steps::ticks;
use selachron_statistics::reason::Error;
use selachron_statistics::{Curve, InvalidInput, Level, Row, kaplan_meier};
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;
use utoipa::ToSchema;

/// The ages at which survival is told, in days (DOMAIN section 8).
pub const AGES_DAYS: [u32; 3] = [30, 90, 365];

/// How the curve is made, as every answer says.
pub const METHOD: &str = "Kaplan-Meier from hatch in whole days of the collection's calendar; Greenwood's variance, \
    log-log interval 95 %; deaths on the day found; departures censored, all others censored when last seen alive, \
    arrivals enter at the age they came with";

/// The clock and the house rule under which young are counted.
#[derive(Debug, Clone, Copy)]
pub struct Watch {
    /// V.
    pub as_of: Instant,
    /// The collection's time zone.
    pub zone: Tz,
    /// Days without a sighting after which an animal counts as unseen.
    pub unseen_days_max: u32,
}

/// Survival of a cohort of young.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Rearing {
    /// Which young are meant, by their hatch day.
    pub cohort: Cohort,
    /// [`METHOD`].
    pub method: String,
    /// The curve of all of them.
    #[serde(flatten)]
    pub curve: SurvivalCurve,
    /// Young and animals beside the curve.
    pub beside: Beside,
    /// The cases they came from.
    pub behind: Behind,
    /// Animals in the curve that came from elsewhere and entered late.
    pub entered_late: u64,
    /// On request: every animal of the cohort with the notes behind it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cases: Option<Vec<Counted>>,
}

/// A curve, as it is told and drawn.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SurvivalCurve {
    /// Animals in its risk sets.
    pub n: u64,
    /// Deaths among them.
    pub deaths: u64,
    /// Survival at the ages asked for.
    pub points: Vec<Point>,
    /// Its level pieces, in order; empty when there is none.
    pub pieces: Vec<CurvePiece>,
    /// Why there is no curve.
    pub absent: Option<Absent>,
    /// How many were at risk at the ages under the axis.
    pub at_risk: Vec<DayCount>,
    /// How many were censored, at each age.
    pub censored: Vec<DayCount>,
    /// Sentences that belong beside the curve.
    pub notes: Vec<String>,
}

/// Survival at one age.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Point {
    /// The age, in days since hatch.
    pub age_days: u32,
    /// Survival, 4 decimals.
    pub survival: Option<f64>,
    /// Log-log interval 95 %, 4 decimals.
    #[schema(value_type = Option<Vec<f64>>)]
    pub loglog_95: Option<Limits>,
    /// Without a death so far: Clopper and Pearson's lower limit for those at risk, 4 decimals.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub no_event_lower: Option<f64>,
    /// At risk at that age.
    pub at_risk: u64,
    /// Deaths up to and on that day.
    pub deaths: u64,
    /// Why survival or its interval is not there.
    pub absent: Option<Absent>,
}

/// A level piece of the curve.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct CurvePiece {
    /// Where it begins, in days.
    pub from_days: u32,
    /// Where it ends, in days.
    pub to_days: u32,
    /// Survival on it, 4 decimals.
    pub survival: f64,
    /// Log-log interval 95 % on it, 4 decimals.
    #[schema(value_type = Option<Vec<f64>>)]
    pub loglog_95: Option<Limits>,
}

/// An age and how many.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct DayCount {
    /// The age, in days since hatch.
    pub days: u32,
    /// How many.
    pub count: u64,
}

/// Those that the curve does not show, or shows only up to a sighting.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Beside {
    /// Present, but not seen alive for longer than the house rule; in the curve up to that sighting.
    pub unseen: u64,
    /// The house rule, in days.
    pub unseen_days_max: u32,
    /// Missing; in the curve up to the last sighting alive.
    #[serde(default, skip_serializing_if = "is_none")]
    pub missing: u64,
    /// Escaped; in the curve up to the last sighting alive.
    #[serde(default, skip_serializing_if = "is_none")]
    pub escaped: u64,
    /// Dead when first seen out of their case: not hatched, not in the curve.
    pub dead_at_hatch: u64,
    /// Arrived dead; not in the curve.
    pub dead_on_arrival: u64,
    /// Came from elsewhere, or nobody may say how, with no day of hatch known; not in the curve, whatever the cohort's days.
    pub hatch_day_not_known: u64,
    /// Left or died on the very day they came from elsewhere: no time at risk.
    pub no_time_at_risk: u64,
    /// Their days contradict each other; not in the curve until somebody puts that right.
    pub days_at_odds: u64,
}

/// Survival of the young that hatched on the days asked for; `explain` names the notes. `eggs` are
/// asked only for clutches and dams.
#[must_use]
pub fn rearing(animals: &[Animal], eggs: &[Egg], cohort: &Cohort, watch: Watch, explain: bool) -> Rearing {
    let lives: Vec<Life> = animals.iter().filter_map(|animal| Life::of(animal, cohort, watch)).collect();
    let watched: Vec<&Life> = lives.iter().filter(|life| life.row.is_some()).collect();
    let rows: Vec<Row> = watched.iter().filter_map(|life| life.row).collect();
    let from: BTreeSet<&Subject> = watched.iter().filter_map(|life| life.egg()).collect();
    Rearing {
        cohort: cohort.clone(),
        method: METHOD.to_owned(),
        curve: curve(&rows, &AGES_DAYS).unwrap_or_else(|wrong| SurvivalCurve::none(&wrong)),
        beside: beside(&lives, watch.unseen_days_max),
        behind: Behind::of(eggs.iter().filter(|egg| from.contains(&egg.id))),
        entered_late: rows.iter().filter(|row| row.entry_days.is_some()).count() as u64,
        cases: explain.then(|| lives.iter().map(Life::told).collect()),
    }
}

/// An animal in the curve.
pub(super) struct Followed<'a> {
    pub animal: &'a Animal,
    pub hatched: NaiveDate,
    pub row: Row,
}

/// The animals of the curve, each with its row.
pub(super) fn followed<'a>(animals: &'a [Animal], cohort: &Cohort, watch: Watch) -> Vec<Followed<'a>> {
    let one = |animal: &'a Animal| {
        let row = Life::of(animal, cohort, watch)?.row?;
        Some(Followed { animal, hatched: hatch_day(animal, animal.known_since().time.day(watch.zone))?, row })
    };
    animals.iter().filter_map(one).collect()
}

/// The rows of the same young, the cases they came from, and on request the notes.
pub(super) fn spells(
    animals: &[Animal],
    eggs: &[Egg],
    cohort: &Cohort,
    watch: Watch,
    explain: bool,
) -> (Vec<Row>, Behind, Option<Vec<Counted>>) {
    let lives: Vec<Life> = animals.iter().filter_map(|animal| Life::of(animal, cohort, watch)).collect();
    let watched = || lives.iter().filter(|life| life.row.is_some());
    let from: BTreeSet<&Subject> = watched().filter_map(Life::egg).collect();
    let behind = Behind::of(eggs.iter().filter(|egg| from.contains(&egg.id)));
    (watched().filter_map(|life| life.row).collect(), behind, explain.then(|| lives.iter().map(Life::told).collect()))
}

/// The curve of these rows, told at these ages.
///
/// # Errors
/// A row makes no sense; the error names it.
pub fn curve(rows: &[Row], ages_days: &[u32]) -> Result<SurvivalCurve, InvalidInput> {
    let curve = kaplan_meier(rows, Level::P95)?;
    let longest = curve.followed_to_days.unwrap_or(0.0);
    let at_risk = ticks(longest).into_iter().map(|days| DayCount { days: whole(days), count: curve.n_risk(days) });
    let censored = curve.steps.iter().filter(|step| step.n_censor > 0);
    Ok(SurvivalCurve {
        n: curve.n_cases,
        deaths: curve.n_events,
        points: ages_days.iter().map(|age| point(&curve, *age)).collect(),
        pieces: pieces(&curve),
        absent: absent(&curve),
        at_risk: at_risk.collect(),
        censored: censored.map(|step| DayCount { days: whole(step.days), count: step.n_censor }).collect(),
        notes: curve.notes(),
    })
}

impl SurvivalCurve {
    fn none(wrong: &InvalidInput) -> Self {
        let absent = Some(Absent::new("not estimable", wrong.to_string()));
        let (points, pieces) = (Vec::new(), Vec::new());
        Self { n: 0, deaths: 0, points, pieces, absent, at_risk: Vec::new(), censored: Vec::new(), notes: Vec::new() }
    }
}

fn pieces(curve: &Curve) -> Vec<CurvePiece> {
    let piece = |tread: selachron_statistics::curve::Tread| CurvePiece {
        from_days: whole(tread.from_days),
        to_days: whole(tread.to_days),
        survival: numbers::proportion(tread.surv),
        loglog_95: tread.ci_loglog.map(numbers::limits),
    };
    curve.treads().into_iter().map(piece).collect()
}

fn absent(curve: &Curve) -> Option<Absent> {
    let nobody = || Absent::new("no cases", "no young to follow");
    match &curve.refusal {
        _ if curve.n_cases == 0 => Some(nobody()),
        reason => reason.as_ref().map(Absent::from),
    }
}

fn point(curve: &Curve, age_days: u32) -> Point {
    let age = f64::from(age_days);
    let deaths = curve.steps.iter().filter(|step| step.days <= age).map(|step| step.n_event).sum();
    let told = Point { age_days, survival: None, loglog_95: None, no_event_lower: None, at_risk: curve.n_risk(age), deaths, absent: None };
    match curve.at(age) {
        Ok(at) => Point {
            survival: Some(numbers::proportion(at.surv)),
            loglog_95: at.ci_loglog.as_ref().ok().copied().map(numbers::limits),
            no_event_lower: at.no_event_lower.map(numbers::proportion),
            absent: at.ci_loglog.as_ref().err().map(Absent::from),
            ..told
        },
        Err(Error::NotEstimable(reason)) => Point { absent: absent(curve).or(Some(Absent::from(&reason))), ..told },
        Err(Error::Input(wrong)) => Point { absent: Some(Absent::new("not estimable", wrong.to_string())), ..told },
    }
}

/// Ages are whole numbers of days here, kept as `f64` only by the estimator.
fn whole(days: f64) -> u32 {
    days.round() as u32
}

/// One animal of the cohort.
struct Life<'a> {
    animal: &'a Animal,
    row: Option<Row>,
    kind: Kind,
    unseen: bool,
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    Died,
    Departed,
    SeenAlive,
    Missing,
    Escaped,
    DeadAtHatch,
    DeadOnArrival,
    HatchDayNotKnown,
    NoTimeAtRisk,
    DaysAtOdds,
}

impl Kind {
    fn word(self) -> &'static str {
        match self {
            Self::Died => "died",
            Self::Departed => "departed: censored on that day",
            Self::SeenAlive => "alive when last seen: censored on that day",
            Self::Missing => "missing: censored when last seen alive",
            Self::Escaped => "escaped: censored when last seen alive",
            Self::DeadAtHatch => "dead when first seen: not hatched",
            Self::DeadOnArrival => "dead on arrival",
            Self::HatchDayNotKnown => "day of hatch not known",
            Self::NoTimeAtRisk => "came and went on one day: no time at risk",
            Self::DaysAtOdds => "days contradict each other",
        }
    }
}

impl<'a> Life<'a> {
    /// `None` when the animal is not of the cohort.
    fn of(animal: &'a Animal, cohort: &Cohort, watch: Watch) -> Option<Self> {
        let came = animal.known_since().time.day(watch.zone);
        let hatched = hatch_day(animal, came);
        // Whoever has no hatch day is listed by the day of arrival: nobody disappears.
        if !cohort.covers(hatched.unwrap_or(came), animal.species.as_ref()) || !cohort.has_dam(&animal.dam) {
            return None;
        }
        let (kind, row) = match (&animal.fate, hatched) {
            (AnimalFate::DeadAtHatch { .. }, _) => (Kind::DeadAtHatch, None),
            (AnimalFate::DeadOnArrival { .. }, _) => (Kind::DeadOnArrival, None),
            (_, None) => (Kind::HatchDayNotKnown, None),
            (_, Some(hatched)) => follow(animal, hatched, came, watch.zone),
        };
        Some(Self { animal, row, kind, unseen: is_unseen(animal, watch) })
    }

    fn egg(&self) -> Option<&'a Subject> {
        match &self.animal.origin {
            AnimalOrigin::Hatched { egg, .. } => Some(egg),
            AnimalOrigin::Received { .. } | AnimalOrigin::ToldApart { .. } | AnimalOrigin::Withheld => None,
        }
    }

    fn told(&self) -> Counted {
        let end = match &self.animal.fate {
            AnimalFate::Present | AnimalFate::Missing { .. } | AnimalFate::Escaped { .. } => self.animal.last_seen_alive,
            fate => fate.when(),
        };
        let mut events = vec![self.animal.came.event];
        events.extend(end.map(|end| end.event).filter(|event| *event != self.animal.came.event));
        Counted {
            subject: self.animal.id.to_string(),
            label: self.animal.label.clone().unwrap_or_default(),
            counted_as: self.kind.word().to_owned(),
            events: events.iter().map(ToString::to_string).collect(),
        }
    }
}

fn hatch_day(animal: &Animal, came: NaiveDate) -> Option<NaiveDate> {
    match &animal.origin {
        AnimalOrigin::Hatched { .. } => Some(came),
        AnimalOrigin::Received { hatched_on_estimate, .. } | AnimalOrigin::ToldApart { hatched_on_estimate, .. } => *hatched_on_estimate,
        AnimalOrigin::Withheld => None,
    }
}

/// The row of an animal and how it ended.
fn follow(animal: &Animal, hatched: NaiveDate, came: NaiveDate, zone: Tz) -> (Kind, Option<Row>) {
    let (kind, last) = exit(animal);
    let (entry, exit) = (whole_days(hatched, came), whole_days(hatched, last.time.day(zone)));
    if entry < 0 || exit < entry {
        return (Kind::DaysAtOdds, None);
    }
    let row = if kind == Kind::Died { Row::event_at(exit as f64) } else { Row::censored_at(exit as f64) };
    match animal.origin {
        AnimalOrigin::Hatched { .. } => (kind, Some(row)),
        _ if exit == entry => (Kind::NoTimeAtRisk, None),
        _ => (kind, Some(row.entered_at(entry as f64))),
    }
}

/// The last that is known of it: a death, a departure, or a sighting alive.
fn exit(animal: &Animal) -> (Kind, Moment) {
    let seen = animal.last_seen_alive.unwrap_or(animal.came);
    match &animal.fate {
        AnimalFate::Died { when, .. } | AnimalFate::Departed { when, alive: LifeState::Dead, .. } => (Kind::Died, *when),
        AnimalFate::Departed { when, alive: LifeState::Alive, .. } => (Kind::Departed, *when),
        AnimalFate::Missing { .. } => (Kind::Missing, seen),
        AnimalFate::Escaped { .. } => (Kind::Escaped, seen),
        _ => (Kind::SeenAlive, seen),
    }
}

fn is_unseen(animal: &Animal, watch: Watch) -> bool {
    let seen = animal.last_seen_alive.unwrap_or(animal.came);
    let days = whole_days(seen.time.day(watch.zone), watch.as_of.day(watch.zone));
    animal.fate == AnimalFate::Present && days > i64::from(watch.unseen_days_max)
}

fn beside(lives: &[Life], unseen_days_max: u32) -> Beside {
    let count = |kind| lives.iter().filter(|life| life.kind == kind).count() as u64;
    Beside {
        unseen: lives.iter().filter(|life| life.unseen).count() as u64,
        unseen_days_max,
        missing: count(Kind::Missing),
        escaped: count(Kind::Escaped),
        dead_at_hatch: count(Kind::DeadAtHatch),
        dead_on_arrival: count(Kind::DeadOnArrival),
        hatch_day_not_known: count(Kind::HatchDayNotKnown),
        no_time_at_risk: count(Kind::NoTimeAtRisk),
        days_at_odds: count(Kind::DaysAtOdds),
    }
}
