//! The material of a report out of the record: the same memory asked at three instants, with the same
//! notes known.

use super::auditor::auditor;
use super::authority::authority;
use super::compile::{NotYet, begun};
use super::curator::curator;
use super::grouped::hatched_here;
use super::material::{Material, Parts, Population, Twelve, Year};
use super::restatements::restatements;
use super::shape::Writer;
use super::studbook::studbook;
use super::title::Loans;
use super::window::Window;
use crate::domain::state::{Egg, WaterReading};
use crate::domain::told::Told;
use crate::domain::view::View;
use selachron_schemas::names::Subject;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// The same without the parts for each reader: all that stock list and egg ledger need.
///
/// # Errors
/// The year has not begun at V.
pub fn books(view: &View<'_>, twelve: Twelve) -> Result<Material, NotYet> {
    let days = begun(twelve, view.zone(), view.as_of())?;
    let closing = counted(&view.nursery().at(days.until(view.as_of()), view.known_at()));
    Ok(material(view, twelve, days, closing, population(view), Parts::default()))
}

/// What stock list and egg ledger of these months are counted from, and nothing else.
///
/// # Errors
/// The year has not begun at V.
pub(super) fn lists(view: &View<'_>, twelve: Twelve) -> Result<Material, NotYet> {
    let days = begun(twelve, view.zone(), view.as_of())?;
    Ok(Material {
        twelve,
        zone: view.zone(),
        as_of: view.as_of(),
        before: counted(&view.nursery().at(days.eve(), view.known_at())),
        closing: counted(&view.nursery().at(days.until(view.as_of()), view.known_at())),
        now: Population::default(),
        species: view.species_list(),
        systems: Vec::new(),
        tanks: Vec::new(),
        readings: Vec::new(),
        discrepancies: Vec::new(),
        suspected: Vec::new(),
        writers: Vec::new(),
        unseen_days_max: view.policy().unseen_days_max,
        parts: Parts::default(),
    })
}

/// What a report of these months is made from, at the (V, S) of the view.
///
/// # Errors
/// The year has not begun at V.
pub fn gather(view: &View<'_>, twelve: Twelve) -> Result<Material, NotYet> {
    let days = begun(twelve, view.zone(), view.as_of())?;
    let closing_view = view.nursery().at(days.until(view.as_of()), view.known_at());
    let closing = counted(&closing_view);
    let now = population(view);
    let window = Window { view, closing_view: &closing_view, closing: &closing, now: &now, twelve, days, span: days.span(view.as_of()) };
    let parts = Parts {
        restatements: restatements(&window),
        curator: curator(&window),
        authority: authority(&window),
        studbook: studbook(&window),
        auditor: auditor(&window),
    };
    Ok(material(view, twelve, days, closing, now, parts))
}

fn material(view: &View<'_>, twelve: Twelve, days: Year, closing: Population, now: Population, parts: Parts) -> Material {
    Material {
        twelve,
        zone: view.zone(),
        as_of: view.as_of(),
        before: counted(&view.nursery().at(days.eve(), view.known_at())),
        closing,
        now,
        species: view.species_list(),
        systems: view.systems(),
        tanks: view.tanks(),
        readings: readings(view),
        discrepancies: view.discrepancies(),
        suspected: view.suspected_notes().map(|note| note.id).collect(),
        writers: writers(view, &days),
        unseen_days_max: view.policy().unseen_days_max,
        parts,
    }
}

fn population(view: &View<'_>) -> Population {
    Population { eggs: view.eggs(), ..without_eggs(view) }
}

fn without_eggs(view: &View<'_>) -> Population {
    let loans = view.subjects("loan").filter_map(|id| view.loan(id)).filter(|loan| loan.agreed.when.time <= view.as_of());
    let (groups, animals) = (view.groups(), view.animals());
    let loans = Arc::new(Loans::new(loans.collect(), &groups, &animals));
    Population { eggs: Vec::new(), animals, hatched_here: hatched_here(&groups), groups, loans }
}

/// The same for the lists, which ask of the looks at a case for the newest alone: looks are most of what a record
/// holds.
fn counted(view: &View<'_>) -> Population {
    let with_newest_look = |mut egg: Egg| {
        egg.looks = egg.looks.pop().into_iter().collect();
        egg
    };
    let eggs = view.subjects("egg").filter_map(|id| view.egg(id)).map(with_newest_look).collect();
    Population { eggs, ..without_eggs(view) }
}

/// Readings that stand, in order of place and time.
fn readings(view: &View<'_>) -> Vec<(Subject, WaterReading)> {
    let places = view.subjects("system").chain(view.subjects("tank"));
    places.flat_map(|place| view.facts(place).into_iter().filter_map(|fact| reading(view, place, &fact))).collect()
}

fn reading(view: &View<'_>, place: &Subject, fact: &crate::domain::view::Fact<'_>) -> Option<(Subject, WaterReading)> {
    match fact.told() {
        Told::WaterMeasured(reading) if fact.subject() == place => {
            let hollow = view.hollow(&reading.instrument, fact.time());
            Some((place.clone(), WaterReading { when: Some(fact.moment()), hollow, ..(**reading).clone() }))
        }
        _ => None,
    }
}

/// Who wrote the notes known at S, by pseudonym. The year is that in which the log took them.
fn writers(view: &View<'_>, days: &Year) -> Vec<Writer> {
    let mut roles: BTreeMap<String, BTreeSet<&'static str>> = BTreeMap::new();
    for key in view.keys() {
        roles.entry(key.person).or_default().extend(key.roles);
    }
    let mut counts: BTreeMap<&str, (u64, u64)> = BTreeMap::new();
    for note in (0..view.known_at()).map(|seq| view.nursery().note(seq)) {
        let (of_year, all) = counts.entry(note.person().unwrap_or("not known")).or_default();
        *of_year += u64::from((days.start..=days.until(view.as_of())).contains(&note.recorded_at));
        *all += 1;
    }
    let writer = |(person, (notes_of_year, notes)): (&str, (u64, u64))| Writer {
        person: person.to_owned(),
        roles: roles.get(person).into_iter().flatten().map(|role| (*role).to_owned()).collect(),
        notes_of_year,
        notes,
    };
    counts.into_iter().map(writer).collect()
}
