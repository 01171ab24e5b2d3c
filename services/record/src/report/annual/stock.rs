//! The stock list of a year (DOMAIN section 7), per species and sex:
//! end = start + arrived + hatched + recaptured + found − died within 30 days of hatch − died other −
//! departed − escaped − missing + sexed.
//!
//! Each animal is followed by itself; where its own notes do not add up, the line fails and names it.
//! What comes and goes is entered under the sex known at the end; `sexed` moves those whose sex was
//! another, or unknown, at the start, and sums to nought over the classes.

use super::material::{Population, Span, species_name};
use super::shape::FailingLine;
use crate::domain::state::{Absence, Animal, AnimalFate, AnimalOrigin, LifeState, Moment, Sex, Species};
use chrono_tz::Tz;
use selachron_schemas::limits::EARLY_DEATH_DAYS_MAX;
use selachron_schemas::names::Subject;
use selachron_schemas::time::whole_days;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The stock list.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StockList {
    /// One line for each species that had stock or movement, by scientific name.
    pub lines: Vec<StockLine>,
    /// All species together.
    pub total: StockLine,
    /// Young of the year that were dead when first seen out of their case; in no line.
    pub dead_at_hatch: u64,
    /// Animals of the year that arrived dead; in no line.
    pub dead_on_arrival: u64,
    /// Animals of the year of which the note that says how they came is withheld; under `arrived`.
    pub origin_withheld: u64,
}

/// One line; every cell is males, females, unknown.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StockLine {
    /// Common name; empty if there is none, and for the total.
    pub common_name: String,
    /// Scientific name, or `all species`.
    pub scientific_name: String,
    /// Living at the last instant before the year.
    pub start: Cell,
    /// Arrived alive from elsewhere.
    pub arrived: Cell,
    /// Hatched.
    pub hatched: Cell,
    /// Died within 30 days of hatch.
    pub died_within_30_days: Cell,
    /// Died later, or at an age nobody knows.
    pub died_other: Cell,
    /// Left.
    pub departed: Cell,
    /// Caught again after an escape.
    #[serde(default, skip_serializing_if = "Cell::is_nought")]
    pub recaptured: Cell,
    /// Found again after being missing.
    #[serde(default, skip_serializing_if = "Cell::is_nought")]
    pub found: Cell,
    /// Escaped; no deaths.
    #[serde(default, skip_serializing_if = "Cell::is_nought")]
    pub escaped: Cell,
    /// Went missing; no deaths.
    #[serde(default, skip_serializing_if = "Cell::is_nought")]
    pub missing: Cell,
    /// Moved between the classes because the sex was told.
    pub sexed: Cell,
    /// Living at the end.
    pub end: Cell,
}

/// Males, females, unknown.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Cell(pub [i64; 3]);

impl Cell {
    fn add(&mut self, sex: Sex, count: i64) {
        self.0[class(sex)] += count;
    }

    /// Whether every class is nought.
    #[must_use]
    pub fn is_nought(&self) -> bool {
        self.0 == [0, 0, 0]
    }

    /// The three together.
    #[must_use]
    pub fn sum(&self) -> i64 {
        self.0.iter().sum()
    }

    fn plus(&mut self, other: Self) {
        for (mine, theirs) in self.0.iter_mut().zip(other.0) {
            *mine += theirs;
        }
    }
}

/// `1.2.3`.
impl std::fmt::Display for Cell {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let [males, females, unknown] = self.0;
        write!(f, "{males}.{females}.{unknown}")
    }
}

/// The names of the classes, in the order of a cell.
pub const CLASSES: [&str; 3] = ["males", "females", "unknown"];

fn class(sex: Sex) -> usize {
    match sex {
        Sex::Male => 0,
        Sex::Female => 1,
        Sex::Unknown => 2,
    }
}

impl StockLine {
    /// The end by arithmetic.
    #[must_use]
    pub fn arithmetic(&self) -> Cell {
        let mut end = self.start;
        for comes in [self.arrived, self.hatched, self.recaptured, self.found, self.sexed] {
            end.plus(comes);
        }
        for goes in [self.died_within_30_days, self.died_other, self.departed, self.escaped, self.missing] {
            end.plus(Cell(goes.0.map(|count| -count)));
        }
        end
    }

    fn cells(&mut self) -> [&mut Cell; 12] {
        [
            &mut self.start,
            &mut self.arrived,
            &mut self.hatched,
            &mut self.recaptured,
            &mut self.found,
            &mut self.died_within_30_days,
            &mut self.died_other,
            &mut self.departed,
            &mut self.escaped,
            &mut self.missing,
            &mut self.sexed,
            &mut self.end,
        ]
    }

    fn plus(&mut self, other: &Self) {
        for (mine, theirs) in self.cells().into_iter().zip(other.clone().cells()) {
            mine.plus(*theirs);
        }
    }

    fn enter(&mut self, life: &Year) {
        let sex = life.sex_at_end;
        for (cell, entered) in [
            (&mut self.arrived, life.arrived),
            (&mut self.hatched, life.hatched),
            (&mut self.died_within_30_days, life.died_early),
            (&mut self.died_other, life.died_other),
            (&mut self.departed, life.departed),
            (&mut self.recaptured, life.recaptured),
            (&mut self.found, life.found),
            (&mut self.escaped, life.escaped),
            (&mut self.missing, life.missing),
            (&mut self.end, i64::from(life.end)),
        ] {
            cell.add(sex, entered);
        }
        if life.start {
            self.start.add(life.sex_at_start, 1);
            self.sexed.add(life.sex_at_start, -1);
            self.sexed.add(sex, 1);
        }
    }
}

/// What the year did to one animal.
struct Year {
    sex_at_start: Sex,
    sex_at_end: Sex,
    start: bool,
    arrived: i64,
    hatched: i64,
    died_early: i64,
    died_other: i64,
    departed: i64,
    recaptured: i64,
    found: i64,
    escaped: i64,
    missing: i64,
    end: bool,
}

impl Year {
    fn of(before: Option<&Animal>, closing: &Animal, span: Span, zone: Tz) -> Self {
        let never_alive = matches!(closing.fate, AnimalFate::DeadAtHatch { .. } | AnimalFate::DeadOnArrival { .. });
        let came = span.has(closing.known_since().time) && !never_alive;
        let hatched = matches!(closing.origin, AnimalOrigin::Hatched { .. });
        let died = death(closing).filter(|when| span.has(when.time));
        let early = died.is_some_and(|when| is_early(closing, when, zone));
        let left = matches!(closing.fate, AnimalFate::Departed { when, .. } if span.has(when.time)) && died.is_none();
        // One that came back has left and arrived; one that was found has been missing.
        let went = |what: &str| absences(closing, what, |absence| Some(absence.since), span);
        let came_back = |what: &str| absences(closing, what, |absence| absence.found, span);
        Self {
            sex_at_start: before.map_or(closing.sex, |animal| animal.sex),
            sex_at_end: closing.sex,
            start: before.is_some_and(is_living),
            arrived: i64::from(came && !hatched) + came_back("departed"),
            hatched: i64::from(came && hatched),
            died_early: i64::from(early),
            died_other: i64::from(died.is_some() && !early),
            departed: i64::from(left) + went("departed"),
            recaptured: came_back("escaped"),
            found: came_back("missing"),
            escaped: went("escaped"),
            missing: went("missing"),
            end: is_living(closing),
        }
    }

    fn adds_up(&self) -> bool {
        let comes = i64::from(self.start) + self.arrived + self.hatched + self.recaptured + self.found;
        let goes = self.died_early + self.died_other + self.departed + self.escaped + self.missing;
        comes - goes == i64::from(self.end)
    }
}

/// How many times in the span it went, or came back, so.
fn absences(animal: &Animal, what: &str, when: fn(&Absence) -> Option<Moment>, span: Span) -> i64 {
    let of_kind = animal.absences.iter().filter(|absence| absence.what == what);
    of_kind.filter_map(when).filter(|moment| span.has(moment.time)).count() as i64
}

fn is_living(animal: &Animal) -> bool {
    animal.fate == AnimalFate::Present
}

/// When it died; one that left dead, without a note of its death, on the day it left.
pub(crate) fn death(animal: &Animal) -> Option<Moment> {
    match &animal.fate {
        AnimalFate::Died { when, .. } | AnimalFate::Departed { when, alive: LifeState::Dead, .. } => Some(*when),
        _ => None,
    }
}

fn is_early(animal: &Animal, death: Moment, zone: Tz) -> bool {
    let hatched = match &animal.origin {
        AnimalOrigin::Hatched { .. } => Some(animal.came.time.day(zone)),
        AnimalOrigin::Received { hatched_on_estimate, .. } | AnimalOrigin::ToldApart { hatched_on_estimate, .. } => *hatched_on_estimate,
        AnimalOrigin::Withheld => None,
    };
    hatched.is_some_and(|day| whole_days(day, death.time.day(zone)) <= EARLY_DEATH_DAYS_MAX)
}

/// The stock list of that span, and the lines that do not add up.
#[must_use]
pub fn stock(before: &Population, closing: &Population, species: &[Species], span: Span, zone: Tz) -> (StockList, Vec<FailingLine>) {
    let mut at_start: BTreeMap<&Subject, &Animal> = before.animals.iter().map(|animal| (&animal.id, animal)).collect();
    let mut lines: BTreeMap<String, (StockLine, Vec<&Animal>)> = BTreeMap::new();
    for animal in &closing.animals {
        let year = Year::of(at_start.remove(&animal.id), animal, span, zone);
        let (line, odd) = lines.entry(species_name(species, animal.species.as_ref())).or_default();
        line.enter(&year);
        if !year.adds_up() {
            odd.push(animal);
        }
    }
    // Whoever was there before and is not heard of any more is at odds as well.
    for (_, animal) in at_start.into_iter().filter(|(_, animal)| is_living(animal)) {
        let (line, odd) = lines.entry(species_name(species, animal.species.as_ref())).or_default();
        line.start.add(animal.sex, 1);
        odd.push(animal);
    }
    let mut list = StockList::default();
    let mut failing = Vec::new();
    for (name, (mut line, odd)) in lines {
        line.common_name = species.iter().find(|one| one.scientific_name == name).map_or_else(String::new, |one| one.common_name.clone());
        line.scientific_name = name;
        failing.extend(fails(&line, &odd));
        list.total.plus(&line);
        list.lines.push(line);
    }
    list.lines.retain(StockLine::has_something);
    list.total.scientific_name = "all species".to_owned();
    let of_year = |wanted: fn(&Animal) -> bool| closing.animals.iter().filter(|a| wanted(a) && span.has(a.came.time)).count() as u64;
    list.dead_at_hatch = of_year(|animal| matches!(animal.fate, AnimalFate::DeadAtHatch { .. }));
    list.dead_on_arrival = of_year(|animal| matches!(animal.fate, AnimalFate::DeadOnArrival { .. }));
    list.origin_withheld = of_year(|animal| animal.origin == AnimalOrigin::Withheld);
    (list, failing)
}

impl StockLine {
    fn has_something(&self) -> bool {
        self.clone().cells().iter().any(|cell| !cell.is_nought())
    }
}

/// The line fails in each class whose end differs; and where two animals cancel out, in the class of
/// the first, for their notes are at odds all the same.
fn fails(line: &StockLine, odd: &[&Animal]) -> Vec<FailingLine> {
    let (arithmetic, counted) = (line.arithmetic().0, line.end.0);
    let first_odd = odd.first().map(|animal| class(animal.sex));
    let differs = |at: &usize| arithmetic[*at] != counted[*at] || (arithmetic == counted && first_odd == Some(*at));
    let of_class = |at: usize| odd.iter().filter(move |animal| arithmetic == counted || class(animal.sex) == at);
    let fail = |at: usize| FailingLine {
        table: "stock list".to_owned(),
        species: line.scientific_name.clone(),
        class: CLASSES[at].to_owned(),
        end_by_arithmetic: arithmetic[at],
        end_counted: counted[at],
        subjects: of_class(at).map(|animal| animal.id.to_string()).collect(),
        events: of_class(at).flat_map(|animal| [Some(animal.came), animal.fate.when()]).flatten().map(|m| m.event.to_string()).collect(),
    };
    (0..CLASSES.len()).filter(differs).map(fail).collect()
}
