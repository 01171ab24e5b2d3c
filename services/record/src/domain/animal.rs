//! The fold of an animal, from its hatch or its arrival on.

use super::discrepancy::{Discrepancy, Oddity, odd};
use super::state::{Afterwards, Animal, AnimalFate, AnimalOrigin, Circumstances, FOUND_HATCHED, LifeState, Measure, Moment, Place, Sex};
use super::told::groups::{Grouped, ToldApart};
use super::told::{
    AnimalDied, AnimalFed, AnimalMeasured, AnimalReceived, Eaten, EggHatched, EggNote, GroupNote, Left, Moved, Told, YoungTold,
};
use super::view::{Fact, View};
use selachron_schemas::names::Subject;
use selachron_schemas::replay::keys::Role;

pub(super) struct AnimalFold<'v, 'a> {
    pub view: &'v View<'a>,
    pub animal: Animal,
    pub place_seq: u64,
    pub end_seq: u64,
    /// The note that last told its sex.
    pub sex_seq: u64,
    /// Note, mass in grams and how it was weighed, of each weighing.
    weighed: Vec<(u64, f64, Option<String>)>,
    pub found: Vec<Discrepancy>,
}

/// What the end of an animal makes of a later note: words for death, words for departure.
pub(super) type After = (Option<Oddity>, Option<Oddity>);

impl<'a> View<'a> {
    /// Folds the notes about an animal. `None` if none that stands says how it came.
    pub(super) fn fold_animal(&self, id: &Subject, facts: &[Fact<'a>]) -> (Option<Animal>, Vec<Discrepancy>) {
        let brings = |fact: &Fact<'a>| match fact.told() {
            Told::EggHatched(hatch) => hatch.young.iter().any(|young| young.animal == *id),
            _ => fact.subject() == id && fact.creates_subject(),
        };
        let concerns =
            |fact: &&Fact<'a>| brings(fact) || fact.sends(id).is_some() || (fact.subject() == id && !fact.told().is_about_a_note());
        let own: Vec<&Fact<'a>> = facts.iter().filter(concerns).collect();
        let mut found = Vec::new();
        let Some(first) = self.came_first(id, &own, brings, &mut found) else { return (None, found) };
        let animal = self.animal_came(id, first);
        let seq = first.note.seq;
        let weighed = animal.measures.iter().filter_map(|measure| Some((seq, measure.mass_g?, measure.mass_how.clone()))).collect();
        let mut fold = AnimalFold { view: self, animal, place_seq: seq, end_seq: seq, sex_seq: seq, weighed, found };
        for fact in own.iter().filter(|fact| (fact.subject() == id && !fact.creates_subject()) || fact.sends(id).is_some()) {
            fold.take(fact);
        }
        fold.best_parents();
        (Some(fold.animal), fold.found)
    }

    fn animal_came(&self, id: &Subject, first: &Fact<'a>) -> Animal {
        match first.told() {
            Told::EggHatched(hatch) => self.young_came(id, first, hatch),
            Told::AnimalReceived(told) => arrived(Animal::bare(id, first.moment()), told),
            Told::GroupNote(GroupNote::ToldApart(told)) => self.told_apart(id, first, told),
            _ => Animal::bare(id, first.moment()),
        }
    }

    /// Its life begins with the group's, which is read without it; out of a group of animals that were
    /// known by themselves, when it is told apart, for nobody knows which of them it was.
    fn told_apart(&self, id: &Subject, first: &Fact<'a>, told: &ToldApart) -> Animal {
        let (group, root) = (self.group_at(&told.group, first.time()), self.group_came(&told.group));
        let from_start = !root.as_ref().is_some_and(|root| root.were_known());
        let begun = group.as_ref().filter(|group| from_start || group.split_from.is_some()).map(|group| group.formed);
        let mut animal = Animal::bare(id, begun.unwrap_or(first.moment()));
        animal.label = Some(told.label.clone());
        animal.species = group.as_ref().and_then(|group| group.species.clone());
        animal.sex = told.sex;
        animal.last_seen_alive = Some(first.moment());
        animal.origin = AnimalOrigin::ToldApart {
            group: told.group.clone(),
            told: first.moment(),
            hatched_here: root.as_ref().is_some_and(|root| root.came == "hatched here, case unknown"),
            hatched_on_estimate: root.and_then(|root| root.hatched_on_estimate),
        };
        let beside = group.and_then(|group| group.place).map(|place| Place { since: first.moment(), ..place });
        animal.place = told.tank.clone().map(|tank| Place { tank, note: None, since: first.moment() }).or(beside);
        animal
    }

    fn young_came(&self, id: &Subject, first: &Fact<'a>, hatch: &EggHatched) -> Animal {
        let mut animal = Animal::bare(id, first.moment());
        let Some(young) = hatch.young.iter().find(|young| young.animal == *id) else { return animal };
        let (egg, case) = (first.subject(), self.case_facts(first.subject()));
        animal.label.clone_from(&young.label);
        animal.species = case.species;
        animal.sex = young.sex;
        animal.dam = young.dam.clone().or(case.dam).unwrap_or_default();
        animal.sire = young.sire.clone().or(case.sire).unwrap_or_default();
        animal.place = young.tank.clone().map(|tank| Place { tank, note: None, since: first.moment() });
        animal.measures.extend(measure_of(first.moment(), young));
        let after_opening = self.opening_before(&self.facts(egg), first.time());
        let (how_known, still_closed) = (hatch.how_known.clone(), self.still_closed(first, hatch));
        animal.origin = AnimalOrigin::Hatched { egg: egg.clone(), alive: young.alive(), after_opening, how_known, still_closed };
        if young.alive() {
            animal.last_seen_alive = Some(first.moment());
        } else {
            animal.fate = AnimalFate::DeadAtHatch { when: first.moment() };
        }
        animal
    }

    /// The last that is known of a case before its young were found out of it; the same sightings as in
    /// the shared rules of survival rows.
    fn still_closed(&self, first: &Fact<'a>, hatch: &EggHatched) -> Option<Moment> {
        if hatch.how_known != FOUND_HATCHED {
            return None;
        }
        let closed = |told: &Told| {
            let looked = matches!(told, Told::EggCandled(_) | Told::EggNote(EggNote::Examined(_)));
            looked || matches!(told, Told::EggCollected(_) | Told::EggReceived(_))
        };
        let said = first.moment().timeafter.map(|time| Moment { time, timeafter: None, event: first.note.id });
        let facts = self.facts(first.subject());
        let looks = facts.iter().filter(|fact| closed(fact.told()) && fact.time() < first.time()).map(Fact::moment);
        looks.chain(said).max_by_key(|moment| moment.time)
    }
}

impl Animal {
    /// Marks that it bears, in words: given or read, and neither removed nor over.
    #[must_use]
    pub fn identifiers(&self) -> String {
        let mut borne: Vec<String> = Vec::new();
        for mark in self.marks.iter().filter(|mark| !mark.expired) {
            let told = &mark.said.told;
            let name = [Some(&told.by), told.number.as_ref(), told.place_on_body.as_ref()];
            let name = name.into_iter().flatten().map(String::as_str).collect::<Vec<_>>().join(" ");
            match told.what.as_str() {
                "given" | "read" if !borne.contains(&name) => borne.push(name),
                "removed" => borne.retain(|known| *known != name),
                _ => {}
            }
        }
        borne.join("; ")
    }

    /// An animal of which no more is known than that it came.
    pub(crate) fn bare(id: &Subject, came: Moment) -> Self {
        Self {
            id: id.clone(),
            label: None,
            species: None,
            sex: Sex::Unknown,
            came,
            origin: AnimalOrigin::Withheld,
            dam: super::state::Parentage::default(),
            sire: super::state::Parentage::default(),
            place: None,
            feeds: 0,
            first_eaten: None,
            last_eaten: None,
            internal_yolk_used_up: None,
            measures: Vec::new(),
            last_seen_alive: None,
            observations: Vec::new(),
            examinations: Vec::new(),
            treatments: Vec::new(),
            sexings: Vec::new(),
            marks: Vec::new(),
            introductions: Vec::new(),
            parentage_claims: Vec::new(),
            absences: Vec::new(),
            afterwards: Afterwards::default(),
            fate: AnimalFate::Present,
            circumstances: Circumstances::default(),
            discrepancies: Vec::new(),
        }
    }
}

fn arrived(mut animal: Animal, told: &AnimalReceived) -> Animal {
    let came = animal.came;
    animal.label = Some(told.label.clone());
    animal.species = Some(told.species.clone());
    animal.sex = told.sex;
    animal.dam = told.dam.clone().unwrap_or_default();
    animal.sire = told.sire.clone().unwrap_or_default();
    animal.place = told.tank.clone().map(|tank| Place { tank, note: None, since: came });
    animal.origin = AnimalOrigin::Received {
        from: told.from.clone(),
        state: told.state,
        origin: told.origin.clone(),
        hatched_on_estimate: told.hatched_on_estimate,
    };
    if told.length_cm.is_some() || told.mass_g.is_some() {
        let (length_cm, mass_g) = (told.length_cm, told.mass_g);
        animal.measures.push(Measure { when: came, length_cm, length_basis: None, length_how: None, mass_g, mass_how: None });
    }
    match told.state {
        LifeState::Dead => animal.fate = AnimalFate::DeadOnArrival { when: came },
        _ => animal.last_seen_alive = Some(came),
    }
    animal
}

fn measure_of(when: Moment, young: &YoungTold) -> Option<Measure> {
    (young.length_cm.is_some() || young.mass_g.is_some()).then(|| Measure {
        when,
        length_cm: young.length_cm,
        length_basis: None,
        length_how: young.length_how.clone(),
        mass_g: young.mass_g,
        mass_how: young.mass_how.clone(),
    })
}

impl<'a> AnimalFold<'_, 'a> {
    fn take(&mut self, fact: &Fact<'a>) {
        self.here_after_all(fact);
        match fact.told() {
            Told::AnimalFed(told) => self.fed(fact, told),
            Told::AnimalMeasured(told) => self.measured(fact, told),
            Told::Moved(told) => self.moved(fact, told),
            Told::AnimalDied(told) => self.died(fact, told),
            Told::AnimalDeparted(told) => self.departed(fact, told),
            Told::House(_) => fact.sends(&self.animal.id).iter().for_each(|told| self.departed(fact, told)),
            Told::AnimalNote(note) => self.lived(fact, note),
            Told::GroupNote(GroupNote::Grouped(told)) => self.grouped(fact, told),
            _ => {}
        }
    }

    pub(super) fn find(&mut self, kind: Oddity, seqs: &[u64], says: String) {
        self.found.push(self.view.discrepancy(kind, seqs, [self.animal.id.clone()], says));
    }

    /// Whether the animal had ended before this fact; says so in the words given.
    pub(super) fn ended_before(&mut self, fact: &Fact<'_>, doing: &str, (after_death, after_departure): After) -> bool {
        let Some(when) = self.animal.fate.when().filter(|_| !self.animal.fate.is_absent()) else { return false };
        let (kind, how) = match self.animal.fate {
            AnimalFate::Departed { .. } => (after_departure, "it had left"),
            AnimalFate::Grouped { .. } => (Some(odd::TOLD_AFTER_GROUPED), "it was put in a group"),
            _ => (after_death, "its death"),
        };
        if let Some(kind) = kind {
            let says = format!("{doing} on {}, after {how} on {}.", self.view.day(fact.time()), self.view.day(when.time));
            self.find(kind, &[self.end_seq, fact.note.seq], says);
        }
        true
    }

    pub(super) fn seen_alive(&mut self, when: Moment) {
        if self.animal.fate == AnimalFate::Present {
            self.animal.last_seen_alive = Some(when);
        }
    }

    fn fed(&mut self, fact: &Fact<'a>, told: &AnimalFed) {
        self.ended_before(fact, "Fed", (Some(odd::FED_AFTER_DEATH), Some(odd::FED_AFTER_DEPARTURE)));
        let when = fact.moment();
        self.animal.feeds += 1;
        if told.eaten != Eaten::NotSeen {
            self.seen_alive(when);
        }
        if told.eaten.swallowed() {
            self.animal.first_eaten.get_or_insert(when);
            self.animal.last_eaten = Some(when);
        }
    }

    fn measured(&mut self, fact: &Fact<'a>, told: &AnimalMeasured) {
        let after = (Some(odd::MEASURED_AFTER_DEATH), Some(odd::MEASURED_AFTER_DEPARTURE));
        if !self.ended_before(fact, "Measured", after) {
            self.mass_lost(fact, told);
        }
        let when = fact.moment();
        self.seen_alive(when);
        if let Some(sex) = told.sex {
            self.sexed(fact, sex);
        }
        if told.internal_yolk.as_deref() == Some("used up") {
            self.animal.internal_yolk_used_up.get_or_insert(when);
        }
        if told.length_cm.is_some() || told.mass_g.is_some() {
            self.animal.measures.push(Measure {
                when,
                length_cm: told.length_cm,
                length_basis: told.length_basis.clone(),
                length_how: told.length_how.clone(),
                mass_g: told.mass_g,
                mass_how: told.mass_how.clone(),
            });
        }
    }

    /// A loss of more than the policy's share since the last weighing needs a person (DOMAIN
    /// section 4). Drained and in water are two bases and are not compared.
    fn mass_lost(&mut self, fact: &Fact<'a>, told: &AnimalMeasured) {
        let Some(mass_g) = told.mass_g else { return };
        let before = self.weighed.iter().rev().find(|(_, _, how)| *how == told.mass_how).cloned();
        self.weighed.push((fact.note.seq, mass_g, told.mass_how.clone()));
        let Some((earlier, before_g, _)) = before.filter(|(_, before_g, _)| *before_g > 0.0) else { return };
        let lost_percent = (before_g - mass_g) / before_g * 100.0;
        let most_percent = self.view.policy_at(fact.note.seq).mass_loss_percent_max;
        if lost_percent > most_percent {
            let says = format!("Weighed {mass_g} g after {before_g} g: {lost_percent:.1} % lost, more than {most_percent} %.");
            self.find(odd::MASS_LOST, &[earlier, fact.note.seq], says);
        }
    }

    fn moved(&mut self, fact: &Fact<'a>, told: &Moved) {
        self.ended_before(fact, "Moved", (Some(odd::MOVED_AFTER_DEATH), Some(odd::MOVED_AFTER_DEPARTURE)));
        if let (Some(from), Some(place)) = (&told.from_tank, &self.animal.place)
            && *from != place.tank
        {
            let says = format!("Moved out of {}, while the record has it in {}.", self.view.called(from), self.view.called(&place.tank));
            self.find(odd::MOVED_FROM_ELSEWHERE, &[self.place_seq, fact.note.seq], says);
        }
        self.seen_alive(fact.moment());
        self.put(fact, &told.to_tank, told.place_note.clone());
    }

    pub(super) fn put(&mut self, fact: &Fact<'a>, tank: &Subject, note: Option<String>) {
        self.place_seq = fact.note.seq;
        self.animal.place = Some(Place { tank: tank.clone(), note, since: fact.moment() });
    }

    fn died(&mut self, fact: &Fact<'a>, told: &AnimalDied) {
        if told.how_known == "by a veterinarian's decision" && !self.view.signed_with(fact.note, &[Role::Veterinarian]) {
            let says = "The note says it died by a veterinarian's decision, and no veterinarian has signed.".to_owned();
            self.find(odd::NO_VETERINARIAN, &[fact.note.seq], says);
        }
        // A note of the death of an animal that arrived dead, or was dead at the hatch, adds to it.
        let known_dead = matches!(self.animal.fate, AnimalFate::DeadOnArrival { .. } | AnimalFate::DeadAtHatch { .. });
        if known_dead || self.ended_before(fact, "Died", (Some(odd::DIED_TWICE), Some(odd::DIED_AFTER_DEPARTURE))) {
            return;
        }
        let when = fact.moment();
        if let Some(said) = told.last_seen_alive.filter(|said| *said <= when.time)
            && self.animal.last_seen_alive.is_none_or(|seen| seen.time < said)
        {
            self.seen_alive(Moment { time: said, timeafter: None, event: fact.note.id });
        }
        self.end_seq = fact.note.seq;
        self.animal.fate = AnimalFate::Died {
            when,
            how_known: told.how_known.clone(),
            said_last_seen_alive: told.last_seen_alive,
            apparent_cause: told.apparent_cause.clone(),
        };
    }

    /// It is counted in a group from here on.
    fn grouped(&mut self, fact: &Fact<'a>, told: &Grouped) {
        if self.ended_before(fact, "Put in a group", (Some(odd::GROUPED_AFTER_END), Some(odd::GROUPED_AFTER_END))) {
            return;
        }
        if let (Some(tank), Some(place)) = (self.view.group_tank(&told.group, fact.time()), &self.animal.place)
            && tank != place.tank
        {
            let says =
                format!("Put in a group in {}, while the record has it in {}.", self.view.called(&tank), self.view.called(&place.tank));
            self.find(odd::GROUPED_ELSEWHERE, &[self.place_seq, fact.note.seq], says);
        }
        self.seen_alive(fact.moment());
        self.end_seq = fact.note.seq;
        self.animal.fate = AnimalFate::Grouped { when: fact.moment(), group: told.group.clone() };
    }

    fn departed(&mut self, fact: &Fact<'a>, told: &Left) {
        let alive = told.alive == LifeState::Alive;
        let gone = matches!(self.animal.fate, AnimalFate::Departed { .. });
        if gone && self.view.one_leaving(self.end_seq, fact.note.seq) {
            return;
        }
        // A body is sent on; that is no second leaving.
        let after_death = alive.then_some(odd::DEPARTED_ALIVE_AFTER_DEATH);
        if self.ended_before(fact, "Left", (after_death, Some(odd::DEPARTED_TWICE))) {
            return;
        }
        if told.alive == LifeState::Dead {
            self.find(odd::DEPARTED_DEAD, &[fact.note.seq], "It left dead, and no death is noted.".to_owned());
        }
        if alive {
            self.seen_alive(fact.moment());
        }
        self.end_seq = fact.note.seq;
        let (when, to, reason) = (fact.moment(), told.to.clone(), told.reason.clone());
        self.animal.fate = AnimalFate::Departed { when, to, reason, alive: told.alive };
    }
}
