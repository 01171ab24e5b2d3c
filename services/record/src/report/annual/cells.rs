//! From which notes a cell of the report is: the same part is computed again for each case, animal or
//! reading by itself, and whichever gives something in that cell is named with its notes. So the answer
//! needs no second account of what is counted where.
//!
//! A cell is a path through the report's JSON in which lines are named by what they are about:
//! `stock/Chiloscyllium punctatum/hatched/unknown`, `ledger/all species/dead`,
//! `hatch_rates/collected/with yolk/x`, `losses/cases_by_cause/no yolk`. A share or an interval is asked
//! for by its denominator: what cannot be added up is told as all that it is of. Several cells of one line
//! are asked for together, `stock/Chiloscyllium punctatum/departed+escaped+missing`: so a column of a
//! profile that folds them is explained. Lines of water are told by
//! [`super::cells_of_notes`], and so are the notes of a person.

use super::ledger::{LEDGER_CELLS, ledger};
use super::losses::{losses, openings};
use super::material::{Material, Population, Twelve, Year};
use super::profile::CELLS;
use super::stock::{Basis, stock};
use crate::domain::state::{Animal, Egg, EventId, Group, Moment};
use crate::report::figures::{Cohort, Watch, fates, hatch_rates, rearing};
use selachron_schemas::names::Subject;
use serde::Serialize;
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use utoipa::ToSchema;

/// Parts of the report whose cells can be asked for here. Rows of the other parts name their notes
/// themselves.
pub const SECTIONS: [&str; 10] = [
    "hatch_rates",
    "hatch_rates_year_before",
    "fates",
    "losses",
    "rearing_of_year",
    "rearing_of_all",
    "openings",
    "stock",
    "stock_owned",
    "ledger",
];

/// A cell, explained.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct CellExplained {
    /// The cell that was asked for.
    pub cell: String,
    /// The cell that is told: the same, or the denominator of a share.
    pub told: String,
    /// What stands in it; three numbers (males, females, unknown) of a cell of the stock list.
    pub value: Vec<f64>,
    /// Who gives something, each with its notes; together they give `value`.
    pub rests_on: Vec<RestsOn>,
}

/// A case, an animal, a group, a water or a key in a cell.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct RestsOn {
    /// What it is.
    pub subject: String,
    /// What stands on it; may be empty.
    pub label: String,
    /// What it gives to each of them.
    pub gives: Vec<f64>,
    /// Its notes that the cell is counted by.
    pub events: Vec<String>,
    /// How many more there are, where not all are named.
    #[serde(skip_serializing_if = "is_nought")]
    pub left_out: u64,
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde wants a reference")]
fn is_nought(count: &u64) -> bool {
    *count == 0
}

/// There is no such cell.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("the report has no cell {cell:?} that is counted from notes{near}")]
pub struct NoSuchCell {
    /// As it was asked.
    pub cell: String,
    /// Some that there are.
    pub near: String,
}

/// From which notes that cell of the report of this material is.
///
/// # Errors
/// There is no such cell.
pub fn explain(material: &Material, cell: &str) -> Result<CellExplained, NoSuchCell> {
    let name = cell.split('/').next().unwrap_or_default();
    let none = |near: String| NoSuchCell { cell: cell.to_owned(), near };
    let others = "water, writers, delays, discrepancies, tables";
    let Some(name) = SECTIONS.iter().find(|section| **section == name) else {
        return Err(none(format!("; its parts are {}, {others}", SECTIONS.join(", "))));
    };
    let whole = counted(material, name);
    let told = counted_by(cell);
    // A cell of the stock list is its three classes.
    let classes = || CLASSES.iter().map(|class| format!("{told}/{class}")).collect();
    let keys: Vec<String> = if name.starts_with("stock") && !whole.contains_key(&told) { classes() } else { vec![told.clone()] };
    let value = |counts: &BTreeMap<String, f64>, key: &String| parts(key).iter().filter_map(|part| counts.get(part)).sum::<f64>();
    let values = |counts: &BTreeMap<String, f64>| keys.iter().map(|key| value(counts, key)).collect::<Vec<f64>>();
    let known = |key: &String| parts(key).iter().all(|part| whole.contains_key(part) || is_left_out(&whole, without_class(part)));
    if !keys.iter().all(known) {
        let near: Vec<&str> = whole.keys().filter(|key| shares_a_line(key, cell)).map(String::as_str).collect();
        let near = if near.is_empty() { whole.keys().map(String::as_str).collect() } else { near };
        return Err(none(format!("; there are {}", near.into_iter().take(NEAR_MAX).collect::<Vec<_>>().join(", "))));
    }
    let nothing = values(&counted(&only(material, None), name));
    let mut rests_on = Vec::new();
    for unit in units(material) {
        let alone = values(&counted(&unit.alone(material), name));
        let gives: Vec<f64> = alone.iter().zip(&nothing).map(|(alone, nothing)| alone - nothing).collect();
        if gives.iter().any(|part| *part != 0.0) {
            rests_on.push(unit.told(gives));
        }
    }
    Ok(CellExplained { cell: cell.to_owned(), told, value: values(&whole), rests_on })
}

/// The keys that are asked for together.
fn parts(key: &str) -> Vec<String> {
    let (cell, class) = match key.rsplit_once('/').filter(|(_, class)| CLASSES.contains(class)) {
        Some((cell, class)) => (cell, format!("/{class}")),
        None => (key, String::new()),
    };
    let (line, names) = cell.rsplit_once('/').unwrap_or(("", cell));
    names.split('+').map(|name| format!("{line}/{name}{class}")).collect()
}

/// The cell of a class.
pub(super) fn without_class(key: &str) -> &str {
    key.rsplit_once('/').filter(|(_, class)| CLASSES.contains(class)).map_or(key, |(cell, _)| cell)
}

/// So many cells are named to whoever asked for none of them.
const NEAR_MAX: usize = 16;

/// Whether the cell is one that a line leaves out where it is nought.
fn is_left_out(whole: &BTreeMap<String, f64>, cell: &str) -> bool {
    let Some((line, last)) = cell.rsplit_once('/') else { return false };
    let is_cell = CELLS.contains(&last) || LEDGER_CELLS.contains(&last);
    is_cell && whole.keys().any(|key| key.strip_prefix(line).is_some_and(|rest| rest.starts_with('/')))
}

fn shares_a_line(key: &str, cell: &str) -> bool {
    let line = |path: &str| path.rsplit_once('/').map(|(line, _)| line.to_owned());
    line(key) == line(cell)
}

/// A share, an interval or a survival is told by its denominator.
fn counted_by(cell: &str) -> String {
    let (line, last) = cell.rsplit_once('/').unwrap_or(("", cell));
    match last {
        "estimate" | "wilson_95" | "bounds" | "absent" => format!("{line}/n"),
        "survival" | "loglog_95" | "no_event_lower" => format!("{line}/at_risk"),
        _ => cell.to_owned(),
    }
}

/// All counts of a section, by their paths.
pub(super) fn counted(material: &Material, section: &str) -> BTreeMap<String, f64> {
    let mut found = BTreeMap::new();
    walk(&of(material, section).unwrap_or_default(), section.to_owned(), &mut found);
    found
}

/// The section, computed as the report does.
fn of(material: &Material, section: &str) -> Option<Value> {
    let Material { zone, now, closing, before, species, .. } = material;
    let days = Year::of(material.twelve, *zone)?;
    let span = days.span(material.as_of);
    let cohort = Cohort::between(days.first_day, days.last_day);
    let watch = Watch { as_of: material.as_of, zone: *zone, unseen_days_max: material.unseen_days_max };
    let rates = |twelve: Twelve| {
        let days = Year::of(twelve, *zone)?;
        serde_json::to_value(hatch_rates(&now.eggs, &Cohort::between(days.first_day, days.last_day), *zone, false)).ok()
    };
    let value = match section {
        "hatch_rates" => return rates(material.twelve),
        "hatch_rates_year_before" => return rates(material.twelve.earlier(1)),
        "fates" => serde_json::to_value(fates(&now.eggs, &cohort, *zone)),
        "losses" => serde_json::to_value(losses(closing, span)),
        "rearing_of_year" => serde_json::to_value(rearing(&now.animals, &now.eggs, &cohort, watch, false)),
        "rearing_of_all" => serde_json::to_value(rearing(&now.animals, &now.eggs, &Cohort::default(), watch, false)),
        "openings" => serde_json::to_value(openings(closing, now, span, watch)),
        "stock" => serde_json::to_value(stock(before, closing, species, Basis::Presence, span, *zone).0),
        "stock_owned" => serde_json::to_value(stock(before, closing, species, Basis::Ownership, span, *zone).0),
        "ledger" => serde_json::to_value(ledger(before, closing, species, span).0),
        _ => return None,
    };
    value.ok()
}

/// Members by which a line of a list is named.
const NAMES: [&str; 4] = ["scientific_name", "name", "age_days", "days"];

/// The line of all species together.
const ALL_SPECIES: &str = "all species";

/// The classes of a cell of the stock list.
const CLASSES: [&str; 3] = super::stock::CLASSES;

fn walk(value: &Value, at: String, found: &mut BTreeMap<String, f64>) {
    match value {
        Value::Number(number) => {
            found.insert(at, number.as_f64().unwrap_or_default());
        }
        Value::Object(members) => members.iter().for_each(|(name, member)| match name.as_str() {
            // Lines of a list stand under its own name, and a total is a line of it.
            "lines" => walk(member, at.clone(), found),
            "total" => walk(member, format!("{at}/{ALL_SPECIES}"), found),
            "count" => walk(member, at.clone(), found),
            name if NAMES.contains(&name) => {}
            name => walk(member, format!("{at}/{name}"), found),
        }),
        Value::Array(items) if is_cell(items) => {
            items.iter().zip(CLASSES).for_each(|(count, class)| walk(count, format!("{at}/{class}"), found));
        }
        Value::Array(items) => items.iter().for_each(|item| {
            if let Some(name) = NAMES.iter().find_map(|name| item.get(name)) {
                let name = name.as_str().map_or_else(|| name.to_string(), str::to_owned);
                walk(item, format!("{at}/{name}"), found);
            }
        }),
        _ => {}
    }
}

fn is_cell(items: &[Value]) -> bool {
    items.len() == CLASSES.len() && items.iter().all(Value::is_i64)
}

/// A case, an animal or a group.
enum Unit<'m> {
    Egg(&'m Egg),
    Animal(&'m Animal),
    Group(&'m Group),
}

fn units(material: &Material) -> Vec<Unit<'_>> {
    let now = &material.now;
    now.eggs.iter().map(Unit::Egg).chain(now.animals.iter().map(Unit::Animal)).chain(now.groups.iter().map(Unit::Group)).collect()
}

impl Unit<'_> {
    fn id(&self) -> &Subject {
        match self {
            Self::Egg(egg) => &egg.id,
            Self::Animal(animal) => &animal.id,
            Self::Group(group) => &group.id,
        }
    }

    fn alone(&self, material: &Material) -> Material {
        only(material, Some(self.id()))
    }

    fn told(&self, gives: Vec<f64>) -> RestsOn {
        let mut events: BTreeSet<EventId> = BTreeSet::new();
        let mut add = |moments: &[Option<Moment>]| events.extend(moments.iter().flatten().map(|moment| moment.event));
        let label = match self {
            Self::Egg(egg) => {
                add(&[Some(egg.came), egg.taken_in, egg.embryo_seen_alive, egg.fate.when()]);
                egg.absences.iter().for_each(|absence| add(&[Some(absence.since), absence.found, absence.written_off]));
                egg.openings.iter().for_each(|opening| add(&[Some(opening.when)]));
                egg.label.clone()
            }
            Self::Animal(animal) => {
                add(&[Some(animal.came), animal.fate.when(), animal.last_seen_alive]);
                animal.absences.iter().for_each(|absence| add(&[Some(absence.since), absence.found, absence.written_off]));
                animal.sexings.iter().for_each(|sexing| add(&[Some(sexing.when)]));
                animal.label.clone().unwrap_or_default()
            }
            Self::Group(group) => {
                add(&[Some(group.formed), group.last_full_count, group.ended]);
                group.changes.iter().for_each(|change| add(&[Some(change.when)]));
                group.label.clone()
            }
        };
        RestsOn { subject: self.id().to_string(), label, gives, events: events.iter().map(ToString::to_string).collect(), left_out: 0 }
    }
}

/// The material with at most one case, animal or group. Loans stay: they say whose it is.
pub(super) fn only(material: &Material, wanted: Option<&Subject>) -> Material {
    let of = |population: &Population| Population {
        eggs: one(&population.eggs, wanted, |egg| &egg.id),
        animals: one(&population.animals, wanted, |animal| &animal.id),
        groups: one(&population.groups, wanted, |group| &group.id),
        loans: population.loans.clone(),
    };
    Material {
        before: of(&material.before),
        closing: of(&material.closing),
        now: of(&material.now),
        species: material.species.clone(),
        systems: Vec::new(),
        tanks: Vec::new(),
        readings: Vec::new(),
        discrepancies: Vec::new(),
        suspected: Vec::new(),
        writers: Vec::new(),
        parts: super::material::Parts::default(),
        ..*material
    }
}

/// The one of that id; populations are in the order of their ids.
fn one<T: Clone>(all: &[T], wanted: Option<&Subject>, id: impl Fn(&T) -> &Subject) -> Vec<T> {
    let Some(wanted) = wanted else { return Vec::new() };
    all.binary_search_by(|one| id(one).cmp(wanted)).ok().map(|at| all[at].clone()).into_iter().collect()
}
