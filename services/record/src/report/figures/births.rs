//! Births by the age of the dam, where the record knows both: from them replacement, generation time
//! and rate of increase. A collection that breeds to a plan is no closed population; the rate is a
//! description of what was, never a forecast.

use super::Absent;
use super::Cohort;
use super::life_table::of_class;
use super::rearing::{Followed, Watch, followed};
use crate::domain::state::{Animal, AnimalFate, AnimalOrigin, Egg, ParentStatus, Sex};
use crate::report::numbers;
use selachron_schemas::names::Subject;
use selachron_schemas::time::whole_days;
use selachron_statistics::Row;
use selachron_statistics::life_table::LifeTable;
use selachron_statistics::reason::{Error, Reason};
use selachron_statistics::reproduction::{Births, reproduction};
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};
use utoipa::ToSchema;

/// How births are counted, as every answer says.
pub const METHOD: &str = "l is that of the table of all, for the young of unknown sex that die are missed by a table of females: the sexes are \
    taken to live alike; births are daughters hatched alive here whose dam is known, at her age when the case was laid: young known to be \
    female count one, males none, of unknown sex one half (conventions of this project); m = births by the days at risk of females, over \
    the width of the class; R0 = sum l m, T = sum x l m / R0 with x the middle of the class and the mean days from laying to hatch, r the root of \
    sum exp(-r x) l m = 1 per day, lambda = exp(r)";

/// A young animal whose sex nobody knows yet counts so much as a daughter.
const HALF: f64 = 0.5;

/// Decimals of births and of days.
const BIRTHS_DECIMALS: u32 = 1;

/// Decimals of a rate per day.
const RATE_DECIMALS: u32 = 6;

/// Births of the females of a cohort, and what they come to.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct BirthsTold {
    /// [`METHOD`].
    pub method: String,
    /// Females followed.
    pub n: u64,
    /// Of these: dams of the births counted.
    pub dams: u64,
    /// Daughters, 1 decimal.
    pub births: f64,
    /// Young hatched alive here that are counted nowhere: the dam is not known, or her age is not, or
    /// she is not of the cohort, or the case was laid while nobody followed her.
    pub births_not_placed: u64,
    /// Mean days from laying to hatch of those counted, 1 decimal.
    pub incubation_days: Option<f64>,
    /// Classes in which females were followed.
    pub classes: Vec<BirthClass>,
    /// R0, daughters by one newborn female over her life, 4 decimals.
    pub r0: Option<f64>,
    /// T, in days, 1 decimal.
    pub generation_days: Option<f64>,
    /// r, per day, 6 decimals.
    pub rate_per_day: Option<f64>,
    /// lambda, growth in one day, 6 decimals.
    pub lambda: Option<f64>,
    /// Why these are not there.
    pub absent: Option<Absent>,
}

/// One age class of females.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct BirthClass {
    /// Its first day since hatch.
    pub from_days: f64,
    /// Days at risk of females, 1 decimal.
    pub exposure_days: f64,
    /// Part that lives to its start, 4 decimals.
    pub l: Option<f64>,
    /// Daughters in it, 1 decimal.
    pub births: f64,
    /// Daughters by one female that is there for the whole class, 4 decimals.
    pub m: Option<f64>,
}

/// A daughter, or a part of one.
struct Birth<'a> {
    dam: &'a Subject,
    age_days: f64,
    incubation_days: f64,
    weight: f64,
}

/// Births of the females that hatched on the days asked for.
pub(super) fn births(animals: &[Animal], eggs: &[Egg], cohort: &Cohort, watch: Watch, table: Option<&LifeTable>) -> BirthsTold {
    let females: BTreeMap<&Subject, Followed> =
        followed(animals, cohort, watch).into_iter().filter(|one| one.animal.sex == Sex::Female).map(|one| (&one.animal.id, one)).collect();
    let eggs: BTreeMap<&Subject, &Egg> = eggs.iter().map(|egg| (&egg.id, egg)).collect();
    let young: Vec<&Animal> = animals.iter().filter(|animal| hatched_alive_here(animal)).collect();
    let placed: Vec<Birth> = young.iter().filter_map(|young| birth(young, &eggs, &females, watch)).collect();
    let dams: BTreeSet<&Subject> = placed.iter().map(|birth| birth.dam).collect();
    let rows: Vec<Row> = females.values().map(|one| one.row).collect();
    let incubation = mean(placed.iter().map(|birth| birth.incubation_days));
    let told = BirthsTold {
        method: METHOD.to_owned(),
        n: rows.len() as u64,
        dams: dams.len() as u64,
        births: numbers::rounded(placed.iter().map(|birth| birth.weight).sum(), BIRTHS_DECIMALS),
        births_not_placed: (young.len() - placed.len()) as u64,
        incubation_days: incubation.map(|days| numbers::rounded(days, BIRTHS_DECIMALS)),
        classes: Vec::new(),
        r0: None,
        generation_days: None,
        rate_per_day: None,
        lambda: None,
        absent: None,
    };
    match incubation.zip(table) {
        Some((incubation, table)) => with_rates(told, &of_females(table, &rows, &placed), incubation),
        None => BirthsTold { absent: Some(no_births()), ..told },
    }
}

fn no_births() -> Absent {
    let says = "no young hatched here of a known dam whose hatch day and sex are known, laid while she was followed; so there is no R0, T, r \
        or lambda";
    Absent::new("no events", says)
}

fn mean(days: impl Iterator<Item = f64>) -> Option<f64> {
    let (count, sum) = days.fold((0_u32, 0.0), |(count, sum), days| (count + 1, sum + days));
    (count > 0).then(|| sum / f64::from(count))
}

fn hatched_alive_here(animal: &Animal) -> bool {
    matches!(animal.origin, AnimalOrigin::Hatched { .. }) && !matches!(animal.fate, AnimalFate::DeadAtHatch { .. })
}

fn birth<'a>(
    young: &Animal,
    eggs: &BTreeMap<&Subject, &Egg>,
    females: &BTreeMap<&'a Subject, Followed>,
    watch: Watch,
) -> Option<Birth<'a>> {
    let AnimalOrigin::Hatched { egg, .. } = &young.origin else { return None };
    let (egg, named) = (eggs.get(egg)?, young.dam.animals.first()?);
    let known = young.dam.status == ParentStatus::Known;
    let (dam, female) = females.get_key_value(&named.animal).filter(|_| known)?;
    let laid = egg.laid_window.estimate.unwrap_or_else(|| egg.came.time.day(watch.zone));
    let age_days = whole_days(female.hatched, laid) as f64;
    let was_followed = female.row.entry_days.unwrap_or(0.0) <= age_days && age_days <= female.row.exit_days;
    let weight = match young.sex {
        Sex::Female => 1.0,
        Sex::Male => 0.0,
        Sex::Unknown => HALF,
    };
    let incubation_days = whole_days(laid, young.came.time.day(watch.zone)) as f64;
    was_followed.then_some(Birth { dam, age_days, incubation_days, weight })
}

/// A class of the table with what females did in it.
struct OfFemales {
    start_days: f64,
    end_days: f64,
    l: Option<f64>,
    exposure_days: f64,
    births: f64,
}

impl OfFemales {
    /// Daughters by one female that is there for the whole class.
    fn m(&self) -> Option<f64> {
        (self.exposure_days > 0.0).then(|| self.births * (self.end_days - self.start_days) / self.exposure_days)
    }

    fn told(&self) -> BirthClass {
        BirthClass {
            from_days: self.start_days,
            exposure_days: numbers::rounded(self.exposure_days, BIRTHS_DECIMALS),
            l: self.l.map(numbers::proportion),
            births: numbers::rounded(self.births, BIRTHS_DECIMALS),
            m: self.m().map(numbers::proportion),
        }
    }
}

fn of_females(table: &LifeTable, rows: &[Row], placed: &[Birth]) -> Vec<OfFemales> {
    let one = |row: &selachron_statistics::life_table::LifeRow| {
        let (start_days, end_days) = (row.class.start_days, row.class.end_days.unwrap_or(row.class.start_days));
        let here = placed.iter().filter(|birth| birth.age_days >= start_days && birth.age_days < end_days);
        let exposure_days = of_class(rows, start_days, end_days).exposure_days.unwrap_or_default();
        OfFemales { start_days, end_days, l: row.l, exposure_days, births: here.map(|birth| birth.weight).sum() }
    };
    table.rows.iter().map(one).collect()
}

fn with_rates(told: BirthsTold, classes: &[OfFemales], incubation: f64) -> BirthsTold {
    let followed = classes.iter().filter(|class| class.exposure_days > 0.0).map(OfFemales::told).collect();
    match schedule(classes, incubation).and_then(|schedule| reproduction(&schedule)) {
        Ok(found) => BirthsTold {
            classes: followed,
            r0: Some(numbers::proportion(found.r0)),
            generation_days: Some(numbers::rounded(found.generation_days, BIRTHS_DECIMALS)),
            rate_per_day: Some(numbers::rounded(found.rate_per_day, RATE_DECIMALS)),
            lambda: Some(numbers::rounded(found.lambda, RATE_DECIMALS)),
            ..told
        },
        Err(error) => BirthsTold { classes: followed, absent: Some(Absent::of(&error)), ..told },
    }
}

/// Births stand in the middle of their class, and a daughter is newborn when she hatches.
fn schedule(classes: &[OfFemales], incubation: f64) -> Result<Vec<Births>, Error> {
    let born = classes.iter().filter(|class| class.births > 0.0);
    let one = |class: &OfFemales| {
        let start_days = class.start_days;
        let (survival, births) = class.l.zip(class.m()).ok_or(Reason::EmptyClass { start_days })?;
        Ok(Births { age_days: f64::midpoint(start_days, class.end_days) + incubation, survival, births })
    };
    born.map(one).collect()
}
