//! The material of a report out of the record: the same memory asked at three instants, with the same
//! notes known.

use super::compile::{NotYet, begun};
use super::material::{Material, Population, Year};
use super::shape::Writer;
use crate::domain::state::WaterReading;
use crate::domain::told::Told;
use crate::domain::view::View;
use selachron_schemas::names::Subject;
use std::collections::{BTreeMap, BTreeSet};

/// What a report of that year is made from, at the (V, S) of the view.
///
/// # Errors
/// The year has not begun at V.
pub fn gather(view: &View<'_>, year: i32) -> Result<Material, NotYet> {
    let days = begun(year, view.zone(), view.as_of())?;
    let at = |instant| population(&view.nursery().at(instant, view.known_at()));
    Ok(Material {
        year,
        zone: view.zone(),
        as_of: view.as_of(),
        before: at(days.eve()),
        closing: at(days.until(view.as_of())),
        now: population(view),
        species: view.species_list(),
        systems: view.systems(),
        tanks: view.tanks(),
        readings: readings(view),
        discrepancies: view.discrepancies(),
        suspected: view.suspected_notes().map(|note| note.id).collect(),
        writers: writers(view, &days),
        unseen_days_max: view.policy().unseen_days_max,
    })
}

fn population(view: &View<'_>) -> Population {
    let loans = view.subjects("loan").filter_map(|id| view.loan(id)).filter(|loan| loan.agreed.when.time <= view.as_of());
    Population { eggs: view.eggs(), animals: view.animals(), groups: view.groups(), loans: loans.collect() }
}

/// Readings that stand, in order of place and time.
fn readings(view: &View<'_>) -> Vec<(Subject, WaterReading)> {
    let places = view.subjects("system").chain(view.subjects("tank"));
    places.flat_map(|place| view.facts(place).into_iter().filter_map(|fact| reading(place, &fact))).collect()
}

fn reading(place: &Subject, fact: &crate::domain::view::Fact<'_>) -> Option<(Subject, WaterReading)> {
    match fact.told() {
        Told::WaterMeasured(reading) if fact.subject() == place => {
            Some((place.clone(), WaterReading { when: Some(fact.moment()), ..(**reading).clone() }))
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
        *of_year += u64::from((days.start..=days.end).contains(&note.recorded_at));
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
