//! The stock list of a year (DOMAIN section 7), per species and sex:
//! end = start + arrived + hatched + recaptured + found − died within 30 days of hatch − died other −
//! died, day undetermined − departed − escaped − missing + sexed + recount.
//!
//! There are two lists: by presence, who was here, and by ownership, who was ours, here or lent out.
//! Each animal is followed by itself; where its own notes do not add up, the line fails and names it.
//! Groups are counted by their own numbers.
//! What comes and goes is entered under the sex known at the end; `sexed` moves those whose sex was
//! another, or unknown, at the start, and sums to nought over the classes.

use super::followed::{Age, Followed, Year};
use super::grouped::group_of;
use super::material::{Population, Span, species_name};
use super::notes::{notes_of_animal, notes_of_group};
use super::shape::FailingLine;
use super::title::Title;
use crate::domain::state::{Animal, AnimalFate, AnimalOrigin, Group, Sex, Species};
use chrono::NaiveDate;
use chrono_tz::Tz;
use selachron_schemas::names::Subject;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

/// The name of the list of who was here, as completeness and exports have it.
pub const BY_PRESENCE: &str = "stock list";
/// The name of the list of who was ours, here or lent out.
pub const BY_OWNERSHIP: &str = "stock list by ownership";

/// What puts an animal in the list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Basis {
    /// It is here.
    Presence,
    /// It is ours, here or lent out.
    Ownership,
}

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
    /// The full counts behind the cells `recount`, in order of time: each restates what the list said of
    /// a group before it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub recounts: Vec<Recount>,
}

/// A full count of a group that is not as many as the record had. By ownership those that a loan gave back
/// were in the group all along: from the count that shows them, or the note that counts them as another group
/// or tells of the loan's end if they were counted before, they are taken away once.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Recount {
    /// `group/<ULID>`.
    pub group: String,
    /// What the house calls it.
    pub label: String,
    /// The day of the count.
    pub day: NaiveDate,
    /// What it added to each class, or took away.
    pub change: Cell,
    /// The note of the count.
    pub event: String,
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
    /// Died, and nobody knows whether within 30 days: of a group that hatched here on a day not known.
    #[serde(default, skip_serializing_if = "Cell::is_nought")]
    pub died_day_undetermined: Cell,
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
    /// Added, or taken away, by a full count of a group that is not as many as the record had.
    #[serde(default, skip_serializing_if = "Cell::is_nought")]
    pub recount: Cell,
    /// Living at the end.
    pub end: Cell,
}

/// Males, females, unknown.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Cell(pub [i64; 3]);

impl Cell {
    /// One animal.
    pub(super) fn one(sex: Sex) -> Self {
        let mut one = Self::default();
        one.add(sex, 1);
        one
    }

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

    /// Class by class.
    pub(super) fn plus(&mut self, other: Self) {
        for (mine, theirs) in self.0.iter_mut().zip(other.0) {
            *mine += theirs;
        }
    }

    /// Class by class.
    pub(super) fn minus(&mut self, other: Self) {
        self.plus(Self(other.0.map(|count| -count)));
    }

    /// The difference, class by class.
    pub(super) fn less(mut self, other: Self) -> Self {
        self.minus(other);
        self
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
        for comes in [self.arrived, self.hatched, self.recaptured, self.found, self.sexed, self.recount] {
            end.plus(comes);
        }
        let died = [self.died_within_30_days, self.died_other, self.died_day_undetermined];
        for goes in died.into_iter().chain([self.departed, self.escaped, self.missing]) {
            end.minus(goes);
        }
        end
    }

    pub(super) fn died(&mut self, age: Age) -> &mut Cell {
        match age {
            Age::Early => &mut self.died_within_30_days,
            Age::Other => &mut self.died_other,
            Age::Undetermined => &mut self.died_day_undetermined,
        }
    }

    fn cells(&mut self) -> [&mut Cell; 14] {
        [
            &mut self.start,
            &mut self.arrived,
            &mut self.hatched,
            &mut self.recaptured,
            &mut self.found,
            &mut self.died_within_30_days,
            &mut self.died_other,
            &mut self.died_day_undetermined,
            &mut self.departed,
            &mut self.escaped,
            &mut self.missing,
            &mut self.sexed,
            &mut self.recount,
            &mut self.end,
        ]
    }

    /// One of which no cell is nought, so that each has its name when it is written.
    #[must_use]
    pub fn every_cell() -> Self {
        let mut line = Self::default();
        line.cells().into_iter().for_each(|cell| *cell = Cell([1; 3]));
        line
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
            (&mut self.died_day_undetermined, life.died_undetermined),
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

/// One line while it is made.
#[derive(Default)]
struct Making<'p> {
    line: StockLine,
    /// What only changed hands within the house.
    within: Cell,
    odd: Vec<Odd>,
    groups: Vec<&'p Group>,
}

/// Whose notes do not add up.
struct Odd {
    id: Subject,
    /// The class it is in at the end; a group is in all.
    class: Option<usize>,
    events: Vec<String>,
}

impl Odd {
    fn animal(animal: &Animal) -> Self {
        let events = notes_of_animal(animal).iter().map(ToString::to_string).collect();
        Self { id: animal.id.clone(), class: Some(class(animal.sex)), events }
    }

    fn group(group: &Group) -> Self {
        Self { id: group.id.clone(), class: None, events: notes_of_group(group).iter().map(ToString::to_string).collect() }
    }
}

/// Of what only changed hands within the house, which lines leave it out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Within {
    /// Those in which it does not sum to nought.
    Checked,
    /// Those of these species, whatever it sums to: somebody by itself counts as in the whole list.
    As(BTreeSet<String>),
}

impl<'p> Followed<'p> {
    fn lines(&self, species: &[Species]) -> BTreeMap<String, Making<'p>> {
        let mut lines: BTreeMap<String, Making<'p>> = BTreeMap::new();
        self.animals(species, &mut lines);
        self.groups(species, &mut lines);
        lines
    }
}

/// Species of which what only changed hands within the house does not sum to nought.
pub(super) fn at_odds(
    before: &Population,
    closing: &Population,
    species: &[Species],
    basis: Basis,
    (span, zone): (Span, Tz),
) -> BTreeSet<String> {
    let lines = Followed { before, closing, basis, span, zone }.lines(species);
    lines.into_iter().filter(|(_, making)| making.within.sum() != 0).map(|(name, _)| name).collect()
}

/// The stock list of that span on that basis, and the lines that do not add up.
#[must_use]
pub fn stock(
    before: &Population,
    closing: &Population,
    species: &[Species],
    basis: Basis,
    span: Span,
    zone: Tz,
) -> (StockList, Vec<FailingLine>) {
    stock_within(before, closing, species, basis, (span, zone), &Within::Checked)
}

/// The same, with a say in what is left out.
pub(super) fn stock_within(
    before: &Population,
    closing: &Population,
    species: &[Species],
    basis: Basis,
    (span, zone): (Span, Tz),
    within: &Within,
) -> (StockList, Vec<FailingLine>) {
    let followed = Followed { before, closing, basis, span, zone };
    let mut list = StockList::default();
    let mut failing = Vec::new();
    for (name, mut making) in followed.lines(species) {
        making.line.common_name =
            species.iter().find(|one| one.scientific_name == name).map_or_else(String::new, |one| one.common_name.clone());
        making.line.scientific_name = name;
        making.settle(within);
        failing.extend(making.fails(basis));
        list.total.plus(&making.line);
        list.lines.push(making.line);
    }
    list.lines.retain(StockLine::has_something);
    list.total.scientific_name = "all species".to_owned();
    let of_year = |wanted: fn(&Animal) -> bool| closing.animals.iter().filter(|a| wanted(a) && span.has(a.came.time)).count() as u64;
    list.dead_at_hatch = of_year(|animal| matches!(animal.fate, AnimalFate::DeadAtHatch { .. }));
    list.dead_on_arrival = of_year(|animal| matches!(animal.fate, AnimalFate::DeadOnArrival { .. }));
    list.origin_withheld = of_year(|animal| animal.origin == AnimalOrigin::Withheld);
    list.recounts = followed.recounts();
    (list, failing)
}

impl<'p> Followed<'p> {
    fn animals(&self, species: &[Species], lines: &mut BTreeMap<String, Making<'p>>) {
        let mut at_start: BTreeMap<&Subject, &Animal> = self.before.animals.iter().map(|animal| (&animal.id, animal)).collect();
        for animal in &self.closing.animals {
            let year = self.year(at_start.remove(&animal.id), animal);
            let making = lines.entry(species_name(species, animal.species.as_ref())).or_default();
            making.line.enter(&year);
            making.within.add(year.sex_at_end, year.told_apart - year.grouped);
            if !year.adds_up() {
                making.odd.push(Odd::animal(animal));
            }
        }
        // Whoever was there before and is not heard of any more is at odds as well.
        let held = |animal: &&Animal| Title::of(&animal.id, self.basis, &self.before.loans).holds(&animal.fate);
        for animal in at_start.into_values().filter(held) {
            let making = lines.entry(species_name(species, animal.species.as_ref())).or_default();
            making.line.start.add(animal.sex, 1);
            making.odd.push(Odd::animal(animal));
        }
    }

    fn groups(&self, species: &[Species], lines: &mut BTreeMap<String, Making<'p>>) {
        for group in &self.closing.groups {
            let making = lines.entry(species_name(species, group.species.as_ref())).or_default();
            self.enter_group(&mut making.line, &mut making.within, group);
            making.groups.push(group);
        }
        let known = |group: &&Group| group_of(&self.closing.groups, &group.id).is_some();
        for group in self.before.groups.iter().filter(|group| !known(group)) {
            let making = lines.entry(species_name(species, group.species.as_ref())).or_default();
            making.line.start.plus(self.held_at_start(group));
            making.odd.push(Odd::group(group));
        }
    }
}

impl StockLine {
    /// Whether a cell of that class is below nought that counts animals; sexing and recounts take away.
    fn is_below_nought(&self, at: usize) -> bool {
        let counts = [self.start, self.arrived, self.hatched, self.recaptured, self.found, self.departed, self.escaped, self.missing];
        let died = [self.died_within_30_days, self.died_other, self.died_day_undetermined, self.end];
        counts.iter().chain(&died).any(|cell| cell.0[at] < 0)
    }

    fn has_something(&self) -> bool {
        self.clone().cells().iter().any(|cell| !cell.is_nought())
    }
}

impl Making<'_> {
    /// What changed hands within the house sums to nought and is sexing; where it does not, it is left
    /// out, so that the line fails and names the groups.
    fn settle(&mut self, within: &Within) {
        let left_out = match within {
            Within::Checked => self.within.sum() != 0,
            Within::As(odd) => odd.contains(&self.line.scientific_name),
        };
        if !left_out {
            self.line.sexed.plus(self.within);
        }
        if self.within.sum() != 0 || self.line.sexed.sum() != 0 || (0..CLASSES.len()).any(|at| self.line.is_below_nought(at)) {
            let at_odds = self.groups.iter().filter(|group| !group.discrepancies.is_empty()).copied();
            let at_odds: Vec<&Group> = at_odds.collect();
            let named = if at_odds.is_empty() { &self.groups } else { &at_odds };
            self.odd.extend(named.iter().map(|group| Odd::group(group)));
        }
    }

    /// The line fails in each class whose end differs or that has a cell below nought; where two animals
    /// cancel out, in the class of the first, for their notes are at odds all the same; and where sexing
    /// does not sum to nought, in the class of the unknown.
    fn fails(&self, basis: Basis) -> Vec<FailingLine> {
        let (arithmetic, counted) = (self.line.arithmetic().0, self.line.end.0);
        let first_odd = self.odd.first().map(|odd| odd.class.unwrap_or(class(Sex::Unknown)));
        let makes_animals = |at: &usize| self.line.sexed.sum() != 0 && *at == class(Sex::Unknown);
        let differs = |at: &usize| {
            let odd = arithmetic[*at] != counted[*at] || self.line.is_below_nought(*at) || makes_animals(at);
            odd || (arithmetic == counted && first_odd == Some(*at))
        };
        let of_class = |at: usize| self.odd.iter().filter(move |odd| arithmetic == counted || odd.class.is_none_or(|class| class == at));
        let table = match basis {
            Basis::Presence => BY_PRESENCE,
            Basis::Ownership => BY_OWNERSHIP,
        };
        let fail = |at: usize| FailingLine {
            table: table.to_owned(),
            species: self.line.scientific_name.clone(),
            class: CLASSES[at].to_owned(),
            end_by_arithmetic: arithmetic[at],
            end_counted: counted[at],
            subjects: of_class(at).map(|odd| odd.id.to_string()).collect(),
            events: of_class(at).flat_map(|odd| odd.events.clone()).collect(),
        };
        (0..CLASSES.len()).filter(differs).map(fail).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn failing(line: StockLine) -> Vec<(String, i64, i64)> {
        let mut making = Making { line, ..Making::default() };
        making.settle(&Within::Checked);
        making.fails(Basis::Presence).into_iter().map(|line| (line.class, line.end_by_arithmetic, line.end_counted)).collect()
    }

    #[test]
    fn a_cell_below_nought_fails_though_the_sum_is_right() {
        let line = StockLine { arrived: Cell([0, 1, 0]), departed: Cell([0, -1, 0]), end: Cell([0, 2, 0]), ..StockLine::default() };
        assert_eq!(failing(line), [("females".to_owned(), 2, 2)]);
        let line = StockLine {
            start: Cell([1, 0, 3]),
            sexed: Cell([0, 1, -1]),
            recount: Cell([-1, 0, 0]),
            end: Cell([0, 1, 2]),
            ..StockLine::default()
        };
        assert_eq!(failing(line), [], "sexing and recounts take away");
    }

    #[test]
    fn sexing_makes_no_animals() {
        let line = StockLine { sexed: Cell([1, 0, 0]), end: Cell([1, 0, 0]), ..StockLine::default() };
        assert_eq!(failing(line), [("unknown".to_owned(), 0, 0)]);
    }
}
