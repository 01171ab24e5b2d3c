//! From which notes a cell of the report is: the same part is computed again for each case, animal or
//! reading by itself, and whichever gives something in that cell is named with its notes. So the answer
//! needs no second account of what is counted where.
//!
//! A cell is a path through the report's JSON in which lines are named by what they are about:
//! `stock/Chiloscyllium punctatum/hatched/unknown`, `ledger/all species/dead`,
//! `hatch_rates/collected/with yolk/x`, `losses/cases_by_cause/no yolk`. A share or an interval is asked
//! for by its denominator: what cannot be added up is told as all that it is of; so are clutches and dams,
//! which several cases share, by the cases. Several cells of one line
//! are asked for together, `stock/Chiloscyllium punctatum/departed+escaped+missing`: so a column of a
//! profile that folds them is explained. Lines of water are told by
//! [`super::cells_of_notes`], and so are the notes of a person.

use super::ledger::{ABOVE_CELLS, LEDGER_CELLS, ledger};
use super::losses::{losses, openings};
use super::material::{Material, Population, Span, Twelve, Year};
use super::notes::{notes_of_animal, notes_of_case, notes_of_group};
use super::profile::CELLS;
use super::stock::{Basis, Within, at_odds, stock_within};
use crate::domain::state::{Animal, Egg, Group};
use crate::report::figures::fates::CAUSES;
use crate::report::figures::{Cohort, Watch, fates, hatch_rates, rearing};
use chrono_tz::Tz;
use selachron_schemas::names::Subject;
use serde::Serialize;
use serde_json::Value;
use std::collections::BTreeMap;
use utoipa::ToSchema;

/// Parts of the report whose cells can be asked for here. Rows of the other parts name their notes
/// themselves. `losses_now` is what stands in the curator's years side by side: the losses of the months as
/// they are known at V, where `losses` are those known at the end of the months.
pub const SECTIONS: [&str; 11] = [
    "hatch_rates",
    "hatch_rates_year_before",
    "fates",
    "losses",
    "losses_now",
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
    let asked = Asked::of(cell, &whole, name);
    let known = |key: &String| parts(key).iter().all(|part| whole.contains_key(part) || is_left_out(&whole, without_class(part)));
    if !asked.keys.iter().all(known) {
        let near: Vec<&str> = whole.keys().filter(|key| shares_a_line(key, cell)).map(String::as_str).collect();
        let near = if near.is_empty() { whole.keys().map(String::as_str).collect() } else { near };
        return Err(none(format!("; there are {}", near.into_iter().take(NEAR_MAX).collect::<Vec<_>>().join(", "))));
    }
    explained(material, name, &whole, vec![asked]).pop().ok_or_else(|| none(String::new()))
}

/// Every number of a section, explained.
#[must_use]
pub fn explain_all(material: &Material, section: &str) -> Vec<CellExplained> {
    let whole = counted(material, section);
    let asked = whole.keys().map(|cell| Asked::of(cell, &whole, section)).collect();
    explained(material, section, &whole, asked)
}

/// What is asked for.
struct Asked {
    cell: String,
    /// The cell that is told.
    told: String,
    /// Its numbers; several of a cell of the stock list.
    keys: Vec<String>,
}

impl Asked {
    fn of(cell: &str, whole: &BTreeMap<String, f64>, section: &str) -> Self {
        let told = counted_by(cell, whole);
        // A cell of the stock list is its three classes.
        let classes = || CLASSES.iter().map(|class| format!("{told}/{class}")).collect();
        let keys = if section.starts_with("stock") && !whole.contains_key(&told) { classes() } else { vec![told.clone()] };
        Self { cell: cell.to_owned(), told, keys }
    }

    fn values(&self, counts: &BTreeMap<String, f64>) -> Vec<f64> {
        let value = |key: &String| parts(key).iter().filter_map(|part| counts.get(part)).sum::<f64>();
        self.keys.iter().map(value).collect()
    }
}

/// Who gives something to each of these cells: every case, animal and group is counted once by itself.
fn explained(material: &Material, section: &str, whole: &BTreeMap<String, f64>, asked: Vec<Asked>) -> Vec<CellExplained> {
    let alone = alone(material, section);
    let nothing = alone(None);
    let tell = |asked: Asked| {
        let value = asked.values(whole);
        (CellExplained { cell: asked.cell.clone(), told: asked.told.clone(), value, rests_on: Vec::new() }, asked.values(&nothing), asked)
    };
    let mut told: Vec<(CellExplained, Vec<f64>, Asked)> = asked.into_iter().map(tell).collect();
    for unit in units(material) {
        let counts = alone(Some(unit.id()));
        for (cell, nothing, asked) in &mut told {
            let gives: Vec<f64> = asked.values(&counts).iter().zip(&*nothing).map(|(alone, nothing)| alone - nothing).collect();
            if gives.iter().any(|part| *part != 0.0) {
                cell.rests_on.push(unit.told(gives));
            }
        }
    }
    told.into_iter().map(|(cell, ..)| cell).collect()
}

/// What a section counts of one case, animal or group by itself, or of nobody. What only changed hands within
/// the house never sums to nought by itself: it is left out where the whole line leaves it out.
pub(super) fn alone<'m>(material: &'m Material, section: &'m str) -> impl Fn(Option<&Subject>) -> BTreeMap<String, f64> + use<'m> {
    let odd = basis(section).map(|basis| at_odds(&material.before, &material.closing, &material.species, basis, months(material)));
    move |id| numbers(&only(material, id), section, &Within::As(odd.clone().unwrap_or_default()))
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

/// Whether the cell is one that a line, or a list of causes or bands, leaves out where it is nought.
fn is_left_out(whole: &BTreeMap<String, f64>, cell: &str) -> bool {
    let Some((line, last)) = cell.rsplit_once('/') else { return false };
    let is_cell = CELLS.contains(&last) || LEDGER_CELLS.contains(&last) || ABOVE_CELLS.contains(&last);
    let is_word = match line.rsplit_once('/') {
        Some(("losses" | "losses_now", "cases_by_cause")) => CAUSES.contains(&last),
        Some(("losses" | "losses_now", "embryos_by_band_last_seen")) => last.starts_with("band "),
        _ => false,
    };
    is_word || (is_cell && whole.keys().any(|key| key.strip_prefix(line).is_some_and(|rest| rest.starts_with('/'))))
}

fn shares_a_line(key: &str, cell: &str) -> bool {
    let line = |path: &str| path.rsplit_once('/').map(|(line, _)| line.to_owned());
    line(key) == line(cell)
}

/// The cell by which another is told that cannot be added up: a share or an interval by its denominator, a
/// survival and the numbers under its axis by all that the curve follows, those that died among them, and
/// clutches and dams by the cases that share them.
fn counted_by(cell: &str, whole: &BTreeMap<String, f64>) -> String {
    let (line, last) = cell.rsplit_once('/').unwrap_or(("", cell));
    let (above, within) = line.rsplit_once('/').unwrap_or(("", line));
    let curve = above.strip_suffix("/points").unwrap_or(above);
    let instead = match last {
        "estimate" | "wilson_95" | "absent" => format!("{line}/n"),
        "bounds" => format!("{line}/n+end_not_known"),
        "survival" | "loglog_95" | "no_event_lower" if whole.contains_key(&format!("{line}/at_risk")) => format!("{curve}/n"),
        _ if within == "at_risk" => format!("{above}/n"),
        // Cases behind young: those of one case are several.
        _ if within == "behind" && whole.contains_key(&format!("{above}/deaths")) => format!("{above}/n"),
        "clutches" | "dams_known" => format!("{line}/eggs"),
        _ => return cell.to_owned(),
    };
    let is_told = parts(&instead).iter().all(|part| whole.contains_key(part));
    if is_told { instead } else { cell.to_owned() }
}

/// All counts of a section, by their paths.
pub(super) fn counted(material: &Material, section: &str) -> BTreeMap<String, f64> {
    numbers(material, section, &Within::Checked)
}

fn numbers(material: &Material, section: &str, within: &Within) -> BTreeMap<String, f64> {
    let mut found = BTreeMap::new();
    walk(&of(material, section, within).unwrap_or_default(), section.to_owned(), &mut found);
    found
}

/// The stock list of that section.
fn basis(section: &str) -> Option<Basis> {
    match section {
        "stock" => Some(Basis::Presence),
        "stock_owned" => Some(Basis::Ownership),
        _ => None,
    }
}

/// What of the twelve months is covered, and in which zone; nothing beyond the calendar.
fn months(material: &Material) -> (Span, Tz) {
    let nothing = Span { from: material.as_of, until: material.as_of };
    (Year::of(material.twelve, material.zone).map_or(nothing, |days| days.span(material.as_of)), material.zone)
}

/// The section, computed as the report does.
fn of(material: &Material, section: &str, within: &Within) -> Option<Value> {
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
        "losses_now" => serde_json::to_value(losses(now, span)),
        "rearing_of_year" => serde_json::to_value(rearing(&now.animals, &now.eggs, &cohort, watch, false)),
        "rearing_of_all" => serde_json::to_value(rearing(&now.animals, &now.eggs, &Cohort::default(), watch, false)),
        "openings" => serde_json::to_value(openings(closing, now, span, watch)),
        "stock" | "stock_owned" => serde_json::to_value(stock_within(before, closing, species, basis(section)?, (span, *zone), within).0),
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
            // A rule of the house counts nobody.
            "unseen_days_max" => {}
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

    fn told(&self, gives: Vec<f64>) -> RestsOn {
        let (label, events) = match self {
            Self::Egg(egg) => (egg.label.clone(), notes_of_case(egg)),
            Self::Animal(animal) => (animal.label.clone().unwrap_or_default(), notes_of_animal(animal)),
            Self::Group(group) => (group.label.clone(), notes_of_group(group)),
        };
        RestsOn { subject: self.id().to_string(), label, gives, events: events.iter().map(ToString::to_string).collect(), left_out: 0 }
    }
}

/// The material with at most one case, animal or group. Loans stay: they say whose it is; and of a group that
/// was split it is still known whether it hatched here.
fn only(material: &Material, wanted: Option<&Subject>) -> Material {
    let of = |population: &Population| Population {
        eggs: one(&population.eggs, wanted, |egg| &egg.id),
        animals: one(&population.animals, wanted, |animal| &animal.id),
        groups: one(&population.groups, wanted, |group| &group.id),
        loans: population.loans.clone(),
        hatched_here: population.hatched_here.clone(),
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
