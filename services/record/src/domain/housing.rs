//! The folds of tanks, systems and species.

use super::discrepancy::{Discrepancy, odd};
use super::state::{Search, Species, System, Tank, WaterReading};
use super::told::Told;
use super::view::{Fact, View};
use selachron_schemas::names::Subject;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// Who is where: cases whose fate is open, animals that are present and groups with somebody in them, by tank.
#[derive(Default)]
pub(super) struct Residents {
    pub eggs: BTreeMap<Subject, Vec<Subject>>,
    pub animals: BTreeMap<Subject, Vec<Subject>>,
    pub groups: BTreeMap<Subject, Vec<Subject>>,
    pub places: BTreeMap<Subject, Vec<Subject>>,
}

impl<'a> View<'a> {
    /// Who is where, of the subjects given.
    pub(super) fn residents<'s>(&self, subjects: impl Iterator<Item = &'s Subject>) -> Residents {
        let mut residents = Residents::default();
        for subject in subjects {
            let facts = || self.facts(subject);
            if subject.noun() == "egg"
                && let Some(egg) = self.fold_egg(subject, &facts()).0.filter(|egg| egg.fate.when().is_none())
            {
                let place = self.place_within(subject, &facts(), &egg.fate);
                place.into_iter().for_each(|place| residents.places.entry(place).or_default().push(egg.id.clone()));
                egg.place.into_iter().for_each(|place| residents.eggs.entry(place.tank).or_default().push(egg.id.clone()));
            } else if subject.noun() == "animal"
                && let Some(animal) = self.fold_animal(subject, &facts()).0.filter(|animal| animal.fate.when().is_none())
            {
                animal.place.into_iter().for_each(|place| residents.animals.entry(place.tank).or_default().push(animal.id.clone()));
            } else if subject.noun() == "group"
                && let Some(group) = self.fold_group(subject, &facts()).0.filter(|group| group.ended.is_none())
            {
                group.place.into_iter().for_each(|place| residents.groups.entry(place.tank).or_default().push(group.id.clone()));
            }
        }
        residents
    }

    /// Everything that a note about the tank, or one that names it, is about.
    pub(super) fn seen_in(&self, tank: &Subject) -> Arc<BTreeSet<Subject>> {
        if let Some(known) = self.cache.seen.borrow().get(tank) {
            return known.clone();
        }
        let seen = Arc::new(self.find_seen_in(tank));
        self.cache.seen.borrow_mut().insert(tank.clone(), seen.clone());
        seen
    }

    fn find_seen_in(&self, tank: &Subject) -> BTreeSet<Subject> {
        let facts = self.facts(tank);
        let mut seen: BTreeSet<Subject> = facts.iter().map(|fact| fact.subject().clone()).collect();
        for fact in &facts {
            match fact.told() {
                Told::EggHatched(hatch) => seen.extend(hatch.young.iter().map(|young| young.animal.clone())),
                Told::GroupNote(note) => seen.extend(note.bears_on().into_iter().cloned()),
                _ => {}
            }
        }
        seen
    }

    /// What is at odds about a tank or a system.
    pub(super) fn odd_housing(&self, id: &Subject) -> Vec<Discrepancy> {
        let mut found = Vec::new();
        if let Some(label) = self.set_up(id, &mut found).and_then(|(set_up, _)| set_up.told().label().map(str::to_owned)) {
            self.label_twice(id, &label, &mut found);
        }
        self.odd_care(id, &mut found);
        found
    }

    /// Folds the notes about a tank.
    pub(super) fn fold_tank(&self, id: &Subject, residents: &Residents) -> (Option<Tank>, Vec<Discrepancy>) {
        let found = self.odd_housing(id);
        let Some((set_up, first)) = self.set_up(id, &mut Vec::new()) else { return (None, found) };
        let Told::TankSetUp(told) = set_up.told() else { return (None, found) };
        let tank = Tank {
            id: id.clone(),
            label: told.label.clone(),
            purpose: told.purpose.clone(),
            system: self.system_at(id, self.as_of()),
            volume_l: told.volume_l,
            set_up: first,
            eggs: residents.eggs.get(id).cloned().unwrap_or_default(),
            animals: residents.animals.get(id).cloned().unwrap_or_default(),
            groups: residents.groups.get(id).cloned().unwrap_or_default(),
            last_search: self.last_search(id),
            last_reading: self.last_reading(id),
            care: self.care(id, residents),
            discrepancies: Vec::new(),
        };
        (Some(tank), found)
    }

    /// Folds the notes about a system.
    pub(super) fn fold_system(&self, id: &Subject) -> (Option<System>, Vec<Discrepancy>) {
        let found = self.odd_housing(id);
        let Some((set_up, first)) = self.set_up(id, &mut Vec::new()) else { return (None, found) };
        let Told::SystemSetUp(told) = set_up.told() else { return (None, found) };
        let system = System {
            id: id.clone(),
            label: told.label.clone(),
            water: told.water.clone(),
            volume_l: told.volume_l,
            set_up: first,
            tanks: self.tanks_of(id),
            last_reading: self.last_reading(id),
            care: self.care(id, &Residents::default()),
            discrepancies: Vec::new(),
        };
        (Some(system), found)
    }

    /// Folds the notes about a species.
    pub(super) fn fold_species(&self, id: &Subject) -> (Option<Species>, Vec<Discrepancy>) {
        let mut found = Vec::new();
        let Some((fact, listed)) = self.set_up(id, &mut found) else { return (None, found) };
        let Told::SpeciesListed(told) = fact.told() else { return (None, found) };
        let unordered = |incubation: &super::state::Incubation| {
            incubation.days_low > incubation.days_high || incubation.temperature_c_low > incubation.temperature_c_high
        };
        if told.incubation.as_ref().is_some_and(unordered) {
            let says = "The incubation's low days or temperature lie above the high ones.".to_owned();
            found.push(self.discrepancy(odd::PAIR_UNORDERED, &[fact.note.seq], [id.clone()], says));
        }
        let species = Species {
            id: id.clone(),
            scientific_name: told.scientific_name.clone(),
            common_name: told.common_name.clone(),
            length_basis: told.length_basis.clone(),
            case_shape: told.case_shape.clone(),
            embryos_per_case_max: told.embryos_per_case_max,
            incubation: told.incubation.clone(),
            incubation_points: told.incubation_points.clone(),
            incubation_thermal_sum: told.incubation_thermal_sum.clone(),
            slits_open_fraction: told.slits_open_fraction.clone(),
            band_fraction: told.band_fraction.clone(),
            not_seen_to_eat_days: told.not_seen_to_eat_days,
            first_embryo_seen_day: told.first_embryo_seen_day,
            listed,
            legal_status: self.legal_status(id),
            discrepancies: Vec::new(),
        };
        (Some(species), found)
    }

    /// The fact that set it up, the first in order of time.
    fn set_up(&self, id: &Subject, found: &mut Vec<Discrepancy>) -> Option<(Fact<'a>, super::state::Moment)> {
        let facts = self.creations(id);
        let own: Vec<&Fact<'a>> = facts.iter().filter(|fact| fact.subject() == id).collect();
        let first = self.came_first(id, &own, Fact::creates_subject, found)?;
        Some((first.clone(), first.moment()))
    }

    /// The tanks that have a system's water.
    pub(super) fn tanks_of(&self, system: &Subject) -> Vec<Subject> {
        let facts = self.facts_but_routine(system);
        let tanks: BTreeSet<Subject> = facts.iter().map(|fact| fact.subject()).filter(|tank| tank.noun() == "tank").cloned().collect();
        tanks.into_iter().filter(|tank| self.system_at(tank, self.as_of()).as_ref() == Some(system)).collect()
    }

    fn last_search(&self, tank: &Subject) -> Option<Search> {
        let listed = self.nursery().index().searches.get(tank).into_iter().flatten();
        let facts = listed.filter_map(|seq| self.fact(*seq)).filter(|fact| fact.subject() == tank);
        let newest = facts.max_by_key(|fact| (fact.time(), fact.note.seq))?;
        let Told::TankSearched(told) = newest.told() else { return None };
        Some(Search { when: newest.moment(), eggs_found: told.eggs_found.unwrap_or_default(), whole_tank: told.whole_tank })
    }

    /// The newest reading of a system's or a tank's own water.
    fn last_reading(&self, subject: &Subject) -> Option<WaterReading> {
        let mentions = self.nursery().index().mentions.get(subject)?;
        let known = mentions.routine.iter().filter(|mention| mention.since < self.known_at());
        let facts = known.filter_map(|mention| self.fact(mention.seq)).filter(|fact| fact.subject() == subject);
        let readings = facts.filter(|fact| matches!(fact.told(), Told::WaterMeasured(_)));
        let newest = readings.max_by_key(|fact| (fact.time(), fact.note.seq))?;
        let Told::WaterMeasured(told) = newest.told() else { return None };
        let hollow = self.hollow(&told.instrument, newest.time());
        Some(WaterReading { when: Some(newest.moment()), hollow, ..(**told).clone() })
    }
}
