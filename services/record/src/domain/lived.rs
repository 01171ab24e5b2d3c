//! The fold of an animal, continued: sightings, examinations and treatments, sex, marks and parents,
//! and the times for which it is missing, at large or elsewhere.

use super::afterwards::{DETERMINE, said};
use super::animal::AnimalFold;
use super::discrepancy::{Oddity, odd};
use super::state::{Absence, AnimalFate, EventId, Mark, Moment, ParentStatus, Parentage, Place, Sex};
use super::told::animals::{Escaped, Examined, Identified, Introduced, Observed, ParentageClaimed, Returned, Treated};
use super::told::eggs::{Found, Missing};
use super::told::{AnimalNote, Eaten, GroupNote, Told};
use super::view::Fact;
use selachron_schemas::names::Subject;
use selachron_schemas::replay::keys::Role;
use selachron_schemas::replay::ulid_number;
use selachron_schemas::time::Instant;

/// What a claim of parentage can rest on, the weakest first.
const BASES: [&str; 6] = ["other", "shared the water", "seen mating", "papers", "seen laying", "genotype"];

/// Procedures that may need a licence (DOMAIN section 5).
const LICENSED: [&str; 3] = ["blood", "tissue", "anaesthesia"];

impl<'a> AnimalFold<'_, 'a> {
    pub(super) fn lived(&mut self, fact: &Fact<'a>, note: &AnimalNote) {
        match note {
            AnimalNote::Observed(told) => self.observed(fact, told),
            AnimalNote::Examined(told) => self.examined(fact, told),
            AnimalNote::Treated(told) => self.treated(fact, told),
            AnimalNote::Sexed(told) => {
                self.licence(fact, told.how == "genotype", told.licence_reference.as_ref());
                self.animal.sexings.push(said(fact, told.clone()));
                self.sexed(fact, told.sex);
            }
            AnimalNote::Identified(told) => self.identified(fact, told),
            AnimalNote::Introduced(told) => self.introduced(fact, told),
            AnimalNote::ParentageClaimed(told) => self.claimed(fact, told),
            AnimalNote::Missing(told) => self.missing(fact, told),
            AnimalNote::Escaped(told) => self.escaped(fact, told),
            AnimalNote::Found(told) => self.found_again(fact, told, odd::FOUND_NOT_MISSING),
            AnimalNote::Recaptured(told) => self.found_again(fact, told, odd::RECAPTURED_NOT_ESCAPED),
            AnimalNote::Returned(told) => self.returned(fact, told),
            AnimalNote::WrittenOff(_) => self.written_off(fact),
            AnimalNote::Necropsy(_) | AnimalNote::CarcassKept(_) | AnimalNote::CarcassDisposed(_) => {
                let dead = self.animal.fate.is_dead();
                let found = self.view.afterwards(fact, note, &self.animal.id, dead, &mut self.animal.afterwards);
                self.found.extend(found);
            }
        }
    }

    /// An absent animal of which somebody tells is here after all; one found dead needs no note of
    /// the find. A feeding says so too, but settles nothing: of feedings nothing hangs on another.
    pub(super) fn here_after_all(&mut self, fact: &Fact<'a>) {
        if !self.animal.fate.is_absent() {
            return;
        }
        let fed = matches!(fact.told(), Told::AnimalFed(told) if told.eaten != Eaten::NotSeen);
        let is_dead = matches!(fact.told(), Told::AnimalDied(_));
        if !fed && !is_dead && !is_at_hand(fact.told()) && fact.sends(&self.animal.id).is_none() {
            return;
        }
        if !is_dead {
            let says = format!("Told of on {}, while it is missing or at large.", self.view.day(fact.time()));
            self.find(odd::SEEN_WHILE_MISSING, &[self.end_seq, fact.note.seq], says);
        }
        if !fed {
            self.back(fact);
        }
    }

    fn back(&mut self, fact: &Fact<'a>) {
        self.animal.fate = AnimalFate::Present;
        if let Some(absence) = self.animal.absences.last_mut() {
            absence.found = Some(fact.moment());
        }
    }

    fn observed(&mut self, fact: &Fact<'a>, told: &Observed) {
        self.ended_before(fact, "Seen", (Some(odd::SEEN_AFTER_DEATH), Some(odd::SEEN_AFTER_DEPARTURE)));
        if let (Some(tank), Some(place)) = (&told.tank, &self.animal.place)
            && *tank != place.tank
        {
            let says = format!("Seen in {}, while the record has it in {}.", self.view.called(tank), self.view.called(&place.tank));
            self.find(odd::MOVED_FROM_ELSEWHERE, &[self.place_seq, fact.note.seq], says);
        }
        self.seen_alive(fact.moment());
        self.animal.observations.push(said(fact, told.clone()));
    }

    fn examined(&mut self, fact: &Fact<'a>, told: &Examined) {
        self.ended_before(fact, "Examined", (Some(odd::SEEN_AFTER_DEATH), Some(odd::SEEN_AFTER_DEPARTURE)));
        if told.diagnosis.is_some() && !self.view.signed_with(fact.note, &DETERMINE) {
            let says = "A diagnosis, and neither veterinarian nor laboratory has signed.".to_owned();
            self.find(odd::CAUSE_UNSIGNED, &[fact.note.seq], says);
        }
        let ordered = told.prognosis.is_some() || told.treatment_order.is_some();
        if ordered && !self.view.signed_with(fact.note, &[Role::Veterinarian]) {
            let says = "A prognosis or the order of a treatment, and no veterinarian has signed.".to_owned();
            self.find(odd::ORDER_UNSIGNED, &[fact.note.seq], says);
        }
        self.licence(fact, told.by.iter().any(|by| LICENSED.contains(&by.as_str())), told.licence_reference.as_ref());
        self.seen_alive(fact.moment());
        self.animal.examinations.push(said(fact, told.clone()));
    }

    /// The reference is asked for; nothing here says that anything is allowed.
    fn licence(&mut self, fact: &Fact<'a>, may_need: bool, reference: Option<&String>) {
        if may_need && reference.is_none() {
            let says = "What was done may need a licence or permit, and no reference is given.".to_owned();
            self.find(odd::LICENCE_NOT_NAMED, &[fact.note.seq], says);
        }
    }

    fn treated(&mut self, fact: &Fact<'a>, told: &Treated) {
        let after = (Some(odd::TREATED_AFTER_END), Some(odd::TREATED_AFTER_END));
        self.ended_before(fact, "Treated", after);
        if !self.view.signed_with(fact.note, &[Role::Veterinarian]) && !self.is_ordered_in(told) {
            let says = "A treatment, and neither this note nor the one it names has a veterinarian's signature.".to_owned();
            self.find(odd::TREATED_UNORDERED, &[fact.note.seq], says);
        }
        self.seen_alive(fact.moment());
        self.animal.treatments.push(said(fact, told.clone()));
    }

    /// Whether the note that is named holds an order for this animal and a veterinarian signed it.
    fn is_ordered_in(&self, told: &Treated) -> bool {
        let named = told.ordered_in.as_deref().and_then(ulid_number);
        let fact = named.and_then(|id| self.view.nursery().seq_of(EventId(id))).and_then(|seq| self.view.fact(seq));
        fact.is_some_and(|fact| {
            let orders = match fact.told() {
                Told::AnimalNote(AnimalNote::Examined(told)) => told.treatment_order.is_some(),
                Told::AnimalNote(AnimalNote::Treated(_)) => true,
                _ => false,
            };
            orders && *fact.subject() == self.animal.id && self.view.signed_with(fact.note, &[Role::Veterinarian])
        })
    }

    pub(super) fn sexed(&mut self, fact: &Fact<'a>, sex: Sex) {
        let before = self.animal.sex;
        if before != sex && before != Sex::Unknown && sex != Sex::Unknown {
            let says = "It was told to be of the other sex before.".to_owned();
            self.find(odd::SEX_CHANGED, &[self.sex_seq, fact.note.seq], says);
        }
        (self.animal.sex, self.sex_seq) = (sex, fact.note.seq);
    }

    fn identified(&mut self, fact: &Fact<'a>, told: &Identified) {
        let may_need = told.what == "given" && matches!(told.by.as_str(), "implanted tag" | "clip or notch");
        self.licence(fact, may_need, told.licence_reference.as_ref());
        if !told.from_body {
            self.ended_before(fact, "Identified", (Some(odd::SEEN_AFTER_DEATH), Some(odd::SEEN_AFTER_DEPARTURE)));
            self.seen_alive(fact.moment());
        }
        if let Some(label) = told.label.as_ref().filter(|_| told.what == "given") {
            self.animal.label = Some(label.clone());
        }
        let expired = told.until.is_some_and(|until| until < self.view.day(self.view.as_of()));
        self.animal.marks.push(Mark { said: said(fact, told.clone()), expired });
    }

    fn introduced(&mut self, fact: &Fact<'a>, told: &Introduced) {
        self.ended_before(fact, "Put with others", (Some(odd::MOVED_AFTER_DEATH), Some(odd::MOVED_AFTER_DEPARTURE)));
        self.seen_alive(fact.moment());
        if self.animal.place.as_ref().is_none_or(|place| place.tank != told.to_tank) {
            self.put(fact, &told.to_tank, None);
        }
        self.animal.introductions.push(said(fact, told.clone()));
    }

    fn claimed(&mut self, fact: &Fact<'a>, told: &ParentageClaimed) {
        let known = |parent: &Option<Parentage>| parent.as_ref().is_some_and(|parent| parent.status == ParentStatus::Known);
        let proves_dam = matches!(told.basis.as_str(), "genotype" | "seen laying");
        if (known(&told.sire) && told.basis != "genotype") || (known(&told.dam) && !proves_dam) {
            let says = "A parent is called known, and no genotype stands behind it: a male in the tank never proves a sire.".to_owned();
            self.find(odd::KNOWN_WITHOUT_PROOF, &[fact.note.seq], says);
        }
        let differs = |mine: &Option<Parentage>, other: &Option<Parentage>| match (mine, other) {
            (Some(mine), Some(other)) => (mine.status, &mine.animals) != (other.status, &other.animals),
            _ => false,
        };
        let genotypes = self.animal.parentage_claims.iter().filter(|claim| told.basis == "genotype" && claim.told.basis == "genotype");
        let other = genotypes.into_iter().find(|claim| differs(&told.dam, &claim.told.dam) || differs(&told.sire, &claim.told.sire));
        if let Some(seq) = other.and_then(|claim| self.view.nursery().seq_of(claim.when.event)) {
            self.find(odd::PARENTS_AT_ODDS, &[seq, fact.note.seq], "Two genotypes name different parents.".to_owned());
        }
        self.animal.parentage_claims.push(said(fact, told.clone()));
    }

    /// The best founded claim is shown as the parent, the newest among equals; a weak one never
    /// displaces what is known.
    pub(super) fn best_parents(&mut self) {
        let rank = |basis: &str| BASES.iter().position(|known| *known == basis).unwrap_or_default();
        let mut claims: Vec<ParentageClaimed> = self.animal.parentage_claims.iter().map(|claim| claim.told.clone()).collect();
        claims.sort_by_key(|claim| rank(&claim.basis));
        for claim in claims {
            for (parent, said) in [(&mut self.animal.dam, claim.dam), (&mut self.animal.sire, claim.sire)] {
                if let Some(said) = said.filter(|_| parent.status != ParentStatus::Known || rank(&claim.basis) >= rank("papers")) {
                    *parent = said;
                }
            }
        }
    }

    fn missing(&mut self, fact: &Fact<'a>, told: &Missing) {
        let fate = AnimalFate::Missing { when: fact.moment(), written_off: None };
        let absence = Absence { searched: told.searched.clone(), ..absence(fact.moment(), "missing", &told.noticed_at) };
        self.gone(fact, fate, absence, told.last_seen_alive);
    }

    fn escaped(&mut self, fact: &Fact<'a>, told: &Escaped) {
        let fate = AnimalFate::Escaped { when: fact.moment(), into: told.into.clone(), written_off: None };
        let absence = absence(fact.moment(), "escaped", &told.how);
        self.gone(fact, fate, absence, told.last_seen_alive);
    }

    fn gone(&mut self, fact: &Fact<'a>, fate: AnimalFate, absence: Absence, last_seen_alive: Option<Instant>) {
        if self.animal.fate.is_absent() {
            let says = "It is missing or at large already.".to_owned();
            return self.find(odd::MISSING_TWICE, &[self.end_seq, fact.note.seq], says);
        }
        if self.ended_before(fact, "Missing", (Some(odd::MISSING_AFTER_END), Some(odd::MISSING_AFTER_END))) {
            return;
        }
        if let Some(time) = last_seen_alive.filter(|time| *time <= fact.time())
            && self.animal.last_seen_alive.is_none_or(|seen| seen.time < time)
        {
            self.seen_alive(Moment { time, timeafter: None, event: fact.note.id });
        }
        self.end_seq = fact.note.seq;
        self.animal.fate = fate;
        self.animal.absences.push(absence);
    }

    fn found_again(&mut self, fact: &Fact<'a>, told: &Found, not_absent: Oddity) {
        match self.animal.fate.is_absent() {
            true => self.back(fact),
            false => self.find(not_absent, &[fact.note.seq], "It was not missing or at large.".to_owned()),
        }
        self.seen_alive(fact.moment());
        self.put_where(fact, told.to_tank.as_ref());
    }

    fn returned(&mut self, fact: &Fact<'a>, told: &Returned) {
        let AnimalFate::Departed { when, reason, .. } = self.animal.fate.clone() else {
            return self.find(odd::RETURNED_NOT_LEFT, &[fact.note.seq], "It came back, and it had not left.".to_owned());
        };
        self.animal.absences.push(Absence { found: Some(fact.moment()), ..absence(when, "departed", &reason) });
        self.animal.fate = AnimalFate::Present;
        self.seen_alive(fact.moment());
        self.animal.place = None;
        self.put_where(fact, told.to_tank.as_ref());
    }

    fn put_where(&mut self, fact: &Fact<'a>, tank: Option<&Subject>) {
        if let Some(tank) = tank {
            self.place_seq = fact.note.seq;
            self.animal.place = Some(Place { tank: tank.clone(), note: None, since: fact.moment() });
        }
    }

    fn written_off(&mut self, fact: &Fact<'a>) {
        self.found.extend(self.view.written_off_alone(fact, &self.animal.id));
        let (AnimalFate::Missing { written_off, .. } | AnimalFate::Escaped { written_off, .. }) = &mut self.animal.fate else {
            return self.find(odd::WRITTEN_OFF_PRESENT, &[fact.note.seq], "Written off, and it was not missing.".to_owned());
        };
        *written_off = Some(fact.moment());
        if let Some(absence) = self.animal.absences.last_mut() {
            absence.written_off = Some(fact.moment());
        }
    }
}

fn absence(since: Moment, what: &'static str, how: &str) -> Absence {
    Absence { since, what, how: how.to_owned(), searched: Vec::new(), found: None, written_off: None }
}

/// Whether whoever writes this has the animal at hand or in sight.
fn is_at_hand(told: &Told) -> bool {
    match told {
        Told::AnimalMeasured(_) | Told::Moved(_) | Told::AnimalDeparted(_) | Told::GroupNote(GroupNote::Grouped(_)) => true,
        Told::AnimalNote(AnimalNote::Treated(told)) => told.given != "not given",
        Told::AnimalNote(AnimalNote::Identified(told)) => !told.from_body,
        Told::AnimalNote(note) => matches!(note, AnimalNote::Observed(_) | AnimalNote::Examined(_) | AnimalNote::Introduced(_)),
        _ => false,
    }
}
