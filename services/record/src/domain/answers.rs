//! What a view answers: one thing or all of its kind, with what is at odds about each.

use super::discrepancy::Discrepancy;
use super::housing::Residents;
use super::state::{Animal, AnimalFate, Clutch, Egg, EggFate, Group, LaidBasis, LaidWindow, Species, System, Tank};
use super::told::Told;
use super::view::{Fact, View};
use selachron_schemas::limits::GAP_HOURS;
use selachron_schemas::names::Subject;
use selachron_schemas::replay::keys::key_of;
use selachron_schemas::time::HOUR_MS;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

impl<'a> View<'a> {
    /// An egg case; `None` if no note that stands says how it came.
    #[must_use]
    pub fn egg(&self, id: &Subject) -> Option<Egg> {
        let facts = self.facts(id);
        let (egg, found) = self.whole_egg(id, &facts);
        Some(Egg { discrepancies: self.with_paperwork(id, &facts, found), ..egg? })
    }

    /// All cases, by id.
    #[must_use]
    pub fn eggs(&self) -> Vec<Egg> {
        self.subjects("egg").filter_map(|id| self.egg(id)).collect()
    }

    /// A clutch; `None` if no note that stands puts it together.
    #[must_use]
    pub fn clutch(&self, id: &Subject) -> Option<Clutch> {
        let facts = self.facts(id);
        let (clutch, found) = self.fold_clutch(id, &facts);
        Some(Clutch { discrepancies: self.with_paperwork(id, &facts, found), ..clutch? })
    }

    /// All clutches, by id.
    #[must_use]
    pub fn clutches(&self) -> Vec<Clutch> {
        self.subjects("clutch").filter_map(|id| self.clutch(id)).collect()
    }

    /// A group; `None` if no note that stands puts it together.
    #[must_use]
    pub fn group(&self, id: &Subject) -> Option<Group> {
        let facts = self.facts(id);
        let (group, found) = self.whole_group(id, &facts);
        Some(Group { discrepancies: self.with_paperwork(id, &facts, found), ..group? })
    }

    /// All groups, by id.
    #[must_use]
    pub fn groups(&self) -> Vec<Group> {
        self.subjects("group").filter_map(|id| self.group(id)).collect()
    }

    /// An animal; `None` if no note that stands says how it came.
    #[must_use]
    pub fn animal(&self, id: &Subject) -> Option<Animal> {
        let facts = self.facts(id);
        let (animal, found) = self.whole_animal(id, &facts);
        Some(Animal { discrepancies: self.with_paperwork(id, &facts, found), ..animal? })
    }

    /// All animals, by id.
    #[must_use]
    pub fn animals(&self) -> Vec<Animal> {
        self.subjects("animal").filter_map(|id| self.animal(id)).collect()
    }

    /// A tank.
    #[must_use]
    pub fn tank(&self, id: &Subject) -> Option<Tank> {
        self.whole_tank(id, &self.residents(self.seen_in(id).iter()))
    }

    /// All tanks, by id.
    #[must_use]
    pub fn tanks(&self) -> Vec<Tank> {
        let residents = self.residents(self.subjects("egg").chain(self.subjects("animal")).chain(self.subjects("group")));
        self.subjects("tank").filter_map(|id| self.whole_tank(id, &residents)).collect()
    }

    /// A water system.
    #[must_use]
    pub fn system(&self, id: &Subject) -> Option<System> {
        let (system, found) = self.fold_system(id);
        Some(System { discrepancies: self.with_paperwork(id, &self.facts_but_routine(id), found), ..system? })
    }

    /// All systems, by id.
    #[must_use]
    pub fn systems(&self) -> Vec<System> {
        self.subjects("system").filter_map(|id| self.system(id)).collect()
    }

    /// A species.
    #[must_use]
    pub fn species(&self, id: &Subject) -> Option<Species> {
        let (species, found) = self.fold_species(id);
        // Every case and animal names its species; its own notes are few.
        let own: Vec<Fact<'a>> = self.creations(id).into_iter().chain(self.house_facts(id)).collect();
        Some(Species { discrepancies: self.with_paperwork(id, &own, found), ..species? })
    }

    /// All species, by id.
    #[must_use]
    pub fn species_list(&self) -> Vec<Species> {
        self.subjects("species").filter_map(|id| self.species(id)).collect()
    }

    /// How many notes known at S have their bodies withheld.
    #[must_use]
    pub fn withheld(&self) -> u64 {
        self.nursery().index().withheld.iter().filter(|seq| **seq < self.known_at()).count() as u64
    }

    /// How many notes that name a subject have their bodies withheld.
    #[must_use]
    pub fn withheld_behind(&self, subject: &Subject) -> u64 {
        self.notes_naming(subject).into_iter().filter(|seq| self.nursery().note(*seq).withheld).count() as u64
    }

    fn whole_egg(&self, id: &Subject, facts: &[Fact<'a>]) -> (Option<Egg>, Vec<Discrepancy>) {
        let (egg, mut found) = self.fold_egg(id, facts);
        let egg = egg.map(|egg| self.with_circumstances_of_egg(egg, facts));
        if let Some(egg) = &egg {
            self.odd_circumstances(id, facts, &mut found);
            self.odd_laying(id, facts, &egg.dam, &mut found);
        }
        if let Some(egg) = egg.as_ref().filter(|egg| egg.fate == EggFate::Open) {
            self.label_twice(id, &egg.label, &mut found);
        }
        (egg, found)
    }

    fn whole_group(&self, id: &Subject, facts: &[Fact<'a>]) -> (Option<Group>, Vec<Discrepancy>) {
        let (mut group, mut found) = self.fold_group(id, facts);
        if let Some(group) = &mut group {
            let tank = group.place.as_ref().filter(|_| group.ended.is_none()).map(|place| &place.tank);
            let quarantine = self.quarantine_at(id, self.as_of()).or_else(|| self.quarantine_of_water(tank?, self.as_of()));
            group.quarantine = quarantine.map(|(quarantine, _)| quarantine);
            self.odd_circumstances(id, facts, &mut found);
        }
        if let Some(group) = group.as_ref().filter(|group| group.ended.is_none()) {
            self.label_twice(id, &group.label, &mut found);
        }
        (group, found)
    }

    fn whole_animal(&self, id: &Subject, facts: &[Fact<'a>]) -> (Option<Animal>, Vec<Discrepancy>) {
        let (mut animal, mut found) = self.fold_animal(id, facts);
        if let Some(animal) = &mut animal {
            let tank = animal.place.as_ref().filter(|_| animal.fate.when().is_none()).map(|place| &place.tank);
            animal.circumstances = self.circumstances(id, facts, tank);
            self.odd_circumstances(id, facts, &mut found);
        }
        if let Some(label) = animal.as_ref().filter(|animal| animal.fate == AnimalFate::Present).and_then(|animal| animal.label.as_ref()) {
            self.label_twice(id, label, &mut found);
        }
        if let Some(animal) = animal.as_ref().filter(|animal| animal.fate == AnimalFate::Present) {
            self.mark_twice(animal, &mut found);
        }
        (animal, found)
    }

    /// A laying that was seen and names the case narrows the window in which it was laid.
    fn with_circumstances_of_egg(&self, mut egg: Egg, facts: &[Fact<'a>]) -> Egg {
        let tank = egg.place.as_ref().filter(|_| egg.fate.when().is_none()).map(|place| &place.tank);
        egg.circumstances = self.circumstances(&egg.id, facts, tank);
        let came = egg.came.time;
        let seen = egg
            .circumstances
            .layings
            .iter()
            .find(|laying| laying.seen.told.seen != "slim where she was full" && laying.seen.when.time <= came);
        if let Some(when) = seen.map(|laying| laying.seen.when) {
            let not_before = Some(when.timeafter.unwrap_or(when.time));
            egg.laid_window =
                LaidWindow { not_before, not_after: when.time, basis: LaidBasis::SeenLaying, event: when.event, ..egg.laid_window };
        }
        egg
    }

    fn whole_tank(&self, id: &Subject, residents: &Residents) -> Option<Tank> {
        let (tank, found) = self.fold_tank(id, residents);
        let own: Vec<Fact<'a>> = self.facts_but_routine(id).into_iter().filter(|fact| fact.subject() == id).collect();
        Some(Tank { discrepancies: self.with_paperwork(id, &own, found), ..tank? })
    }

    pub(super) fn with_paperwork(&self, id: &Subject, facts: &[Fact<'a>], mut found: Vec<Discrepancy>) -> Vec<Discrepancy> {
        for fact in facts.iter().filter(|fact| fact.subject() == id || fact.note.subject() == Some(id)) {
            self.paperwork_of(fact, &mut found);
        }
        in_order(found)
    }

    /// What the fold of one subject finds, without the paperwork of its notes. Worked out once in
    /// the life of a view.
    #[must_use]
    pub fn odd_about(&self, subject: &Subject) -> Arc<Vec<Discrepancy>> {
        if let Some(known) = self.cache.entities.borrow().get(subject) {
            return known.clone();
        }
        let found = Arc::new(self.find_odd(subject, &self.facts(subject)));
        self.cache.entities.borrow_mut().insert(subject.clone(), found.clone());
        found
    }

    fn find_odd(&self, subject: &Subject, facts: &[Fact<'a>]) -> Vec<Discrepancy> {
        match subject.noun() {
            "egg" => self.whole_egg(subject, facts).1,
            "clutch" => self.fold_clutch(subject, facts).1,
            "group" => self.whole_group(subject, facts).1,
            "animal" => self.whole_animal(subject, facts).1,
            "tank" | "system" => self.odd_housing(subject),
            "species" => self.fold_species(subject).1,
            "instrument" => self.fold_instrument(subject).1,
            "place" => self.fold_place(subject, &Residents::default()).1,
            "food" => self.fold_food(subject).1,
            "round" => self.fold_round(subject).1,
            "incident" => self.fold_incident(subject).1,
            "consignment" => self.fold_consignment(subject).1,
            "loan" => self.fold_loan(subject).1,
            "sample" => self.fold_sample(subject).1,
            "document" => self.fold_document(subject).1,
            "key" => key_of(subject).map(|keyid| self.counts_missing(keyid)).unwrap_or_default(),
            _ => Vec::new(),
        }
    }

    /// All subjects that any note names or is signed by the key of, known at S or not. What is at odds about
    /// each, and the paperwork of each note, are together all [`Self::discrepancies`].
    #[must_use]
    pub fn all_subjects(&self) -> BTreeSet<Subject> {
        let index = self.nursery().index();
        index.mentions.keys().cloned().chain(index.counts.keys().map(|keyid| Subject::key(*keyid))).collect()
    }

    /// Everything that is at odds, the weightiest first, then by id.
    #[must_use]
    pub fn discrepancies(&self) -> Vec<Discrepancy> {
        let mut found: Vec<Discrepancy> = self.all_subjects().iter().flat_map(|subject| self.odd_about(subject).to_vec()).collect();
        found.extend((0..self.known_at()).flat_map(|seq| self.paperwork(seq)));
        let mut all = in_order(found);
        all.sort_by(|a, b| (b.weight, &a.id).cmp(&(a.weight, &b.id)));
        all
    }

    /// What is at odds and rests on the note at `seq`; of an act, on the note at the end of its
    /// chain. A routine note is weighed without the other routine notes of its subject, on which
    /// nothing of it can rest.
    #[must_use]
    pub fn discrepancies_of_event(&self, seq: u64) -> Vec<Discrepancy> {
        let behind = self.nursery().behind(seq);
        let mut found: Vec<Discrepancy> = Vec::new();
        for subject in self.touched_by(behind) {
            match self.nursery().note(behind).written().is_some_and(|written| written.told.is_routine()) {
                true if matches!(subject.noun(), "tank" | "system") => self.odd_routine(&subject, behind, &mut found),
                true => found.extend(self.find_odd(&subject, &self.facts_with_routine(&subject, behind))),
                false => found.extend_from_slice(&self.odd_about(&subject)),
            }
        }
        let id = self.nursery().note(behind).id;
        found.retain(|discrepancy| discrepancy.events.contains(&id));
        found.extend(self.paperwork(behind));
        if behind != seq {
            found.extend(self.paperwork(seq));
        }
        in_order(found)
    }

    /// Subjects whose fold a note can bear on: its own, as written and as it stands, and those
    /// that it brings into the record.
    fn touched_by(&self, seq: u64) -> BTreeSet<Subject> {
        let note = self.nursery().note(seq);
        let versions = note.written().into_iter().cloned().chain(self.value(seq).map(std::borrow::Cow::into_owned));
        let mut touched = BTreeSet::new();
        for version in versions {
            touched.insert((*version.subject).clone());
            touched.extend(version.told.bears_on().into_iter().cloned());
            if let Told::House(told) = &*version.told {
                touched.extend(told.bears_on());
                if told.bears_on_residents() {
                    touched.extend(self.residents_ever(&version.subject));
                }
            }
        }
        // A count can be missing only for so long; before that no key needs to be looked through.
        if self.as_of().0.saturating_sub(note.recorded_at.0) >= GAP_HOURS * HOUR_MS {
            touched.insert(Subject::key(note.keyid));
        }
        touched
    }
}

/// Sorted by id; what two folds found alike is one discrepancy, about the subjects of both.
fn in_order(found: Vec<Discrepancy>) -> Vec<Discrepancy> {
    let mut by_id: BTreeMap<String, Discrepancy> = BTreeMap::new();
    for discrepancy in found {
        match by_id.get_mut(&discrepancy.id) {
            None => drop(by_id.insert(discrepancy.id.clone(), discrepancy)),
            Some(known) => {
                known.subjects.extend(discrepancy.subjects);
                known.subjects.sort_unstable();
                known.subjects.dedup();
            }
        }
    }
    by_id.into_values().collect()
}
