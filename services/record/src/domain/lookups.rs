//! What the fold of one thing needs to know of others, asked without folding these whole.

use super::discrepancy::{Discrepancy, odd};
use super::state::{Animal, AnimalFate, EggFate, EventId, LaidBasis, LaidWindow, Parentage, tags_borne};
use super::told::{SpeciesListed, TankSearched, Told};
use super::view::{Fact, View};
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use std::sync::Arc;

/// What a case says of its young.
#[derive(Default)]
pub(super) struct CaseFacts {
    pub species: Option<Subject>,
    pub dam: Option<Parentage>,
    pub sire: Option<Parentage>,
}

impl<'a> View<'a> {
    /// The fact by which a subject came, the first in order of time. Another such note, a note
    /// told of a time before, and the want of any, are discrepancies. `own` are its facts in order.
    pub(super) fn came_first<'f>(
        &self,
        id: &Subject,
        own: &[&'f Fact<'a>],
        creates: impl Fn(&Fact<'a>) -> bool,
        found: &mut Vec<Discrepancy>,
    ) -> Option<&'f Fact<'a>> {
        let Some(at) = own.iter().position(|fact| creates(fact)) else {
            if let Some(orphan) = own.first() {
                let says = format!("{} is told of, and no note that stands says how it came.", self.called(id));
                // With it the note that once said so, where there is one: it was taken back or put right.
                let taken_back = self.nursery().index().mentions.get(id).and_then(|mentions| mentions.creations.first());
                let taken_back = taken_back.filter(|mention| mention.since < self.known_at()).map(|mention| mention.seq);
                let seqs: Vec<u64> = taken_back.into_iter().chain([orphan.note.seq]).collect();
                found.push(self.discrepancy(odd::NO_ORIGIN, &seqs, [id.clone()], says));
            }
            return None;
        };
        let first = own[at];
        for early in &own[..at] {
            let (told, came) = (self.day(early.time()), self.day(first.time()));
            let says = format!("Told of on {told}, though it came on {came}.");
            found.push(self.discrepancy(odd::TOLD_BEFORE, &[first.note.seq, early.note.seq], [id.clone()], says));
        }
        for again in own[at + 1..].iter().filter(|fact| creates(fact)) {
            let says = format!("Two notes say how {} came; the earlier one is taken.", self.called(id));
            found.push(self.discrepancy(odd::CREATED_TWICE, &[first.note.seq, again.note.seq], [id.clone()], says));
        }
        Some(first)
    }

    /// The label of a subject, or the subject itself where it bears none.
    #[must_use]
    pub fn called(&self, subject: &Subject) -> String {
        self.label(subject).unwrap_or_else(|| subject.to_string())
    }

    /// The label of a subject.
    #[must_use]
    pub fn label(&self, subject: &Subject) -> Option<String> {
        let own = |fact: &&Fact<'a>| fact.subject() == subject && !fact.creates_subject();
        let given = |fact: &Fact<'a>| fact.told().label().map(str::to_owned);
        // An animal may be given another label than the one it came with.
        if subject.noun() == "animal"
            && let Some(label) = self.facts_but_routine(subject).iter().rev().filter(own).find_map(given)
        {
            return Some(label);
        }
        self.creations(subject).iter().find_map(|fact| match fact.told() {
            Told::EggHatched(hatch) => hatch.young.iter().find(|young| young.animal == *subject)?.label.clone(),
            Told::GroupNote(note) => note.label_of(subject).map(str::to_owned),
            told => told.label().map(str::to_owned),
        })
    }

    /// Whether a case put in this tank is taken into the nursery: any tank but one for adults or
    /// display [a convention of this project].
    pub(super) fn takes_cases(&self, tank: &Subject) -> bool {
        if let Some(known) = self.cache.takes_cases.borrow().get(tank) {
            return *known;
        }
        let set_up = self.creations(tank);
        let purpose = set_up.iter().find_map(|fact| match fact.told() {
            Told::TankSetUp(told) => Some(told.purpose.clone()),
            _ => None,
        });
        let takes = !matches!(purpose.as_deref(), Some("adults" | "display"));
        self.cache.takes_cases.borrow_mut().insert(tank.clone(), takes);
        takes
    }

    /// The species' own listing.
    pub(super) fn listing(&self, species: &Subject) -> Option<SpeciesListed> {
        self.creations(species).iter().find_map(|fact| match fact.told() {
            Told::SpeciesListed(told) => Some((**told).clone()),
            _ => None,
        })
    }

    /// What the case says of species and parents.
    pub(super) fn case_facts(&self, egg: &Subject) -> CaseFacts {
        let facts = self.creations(egg);
        match facts.first().map(Fact::told) {
            Some(Told::EggCollected(told)) => {
                CaseFacts { species: Some(told.species.clone()), dam: told.dam.clone(), sire: told.sire.clone() }
            }
            Some(Told::EggReceived(told)) => {
                CaseFacts { species: Some(told.species.clone()), dam: told.dam.clone(), sire: told.sire.clone() }
            }
            _ => CaseFacts::default(),
        }
    }

    /// Between when and when a case was laid (DOMAIN section 2: after the last search, before the
    /// find).
    pub(super) fn laid_window(&self, first: &Fact<'a>) -> LaidWindow {
        let came = first.moment();
        let window =
            |not_before, not_after, basis, event| LaidWindow { not_before, not_after, basis, estimate: None, estimate_basis: None, event };
        match first.told() {
            Told::EggCollected(told) => match (came.timeafter, self.searched_before(&told.from_tank, came.time)) {
                (Some(after), _) => window(Some(after), came.time, LaidBasis::Find, came.event),
                (None, Some((search, event))) => window(Some(search), came.time, LaidBasis::LastSearch, event),
                (None, None) => window(None, came.time, LaidBasis::NotKnown, came.event),
            },
            Told::EggReceived(told) => {
                let mut window = window(None, came.time, LaidBasis::NotKnown, came.event);
                if let Some(day) = told.laid_on_estimate {
                    window.not_before = Some(Instant::start_of_day(day, self.zone()));
                    window.not_after = Instant::end_of_day(day, self.zone()).min(came.time);
                    window.basis = LaidBasis::Estimate;
                    window.estimate = Some(day);
                    window.estimate_basis.clone_from(&told.estimate_basis);
                }
                window
            }
            _ => window(None, came.time, LaidBasis::NotKnown, came.event),
        }
    }

    /// The last search of the whole tank before `time`.
    fn searched_before(&self, tank: &Subject, time: Instant) -> Option<(Instant, EventId)> {
        let known = self.cache.searches.borrow().get(tank).cloned();
        let searches = known.unwrap_or_else(|| {
            let all = Arc::new(self.whole_searches(tank));
            self.cache.searches.borrow_mut().insert(tank.clone(), all.clone());
            all
        });
        let before = searches.partition_point(|(search, _)| *search < time);
        before.checked_sub(1).map(|at| searches[at])
    }

    /// Searches of the whole of a tank, in order of time.
    pub(super) fn whole_searches(&self, tank: &Subject) -> Vec<(Instant, EventId)> {
        let listed = self.nursery().index().searches.get(tank).into_iter().flatten();
        let whole =
            |fact: &Fact<'a>| fact.subject() == tank && matches!(fact.told(), Told::TankSearched(TankSearched { whole_tank: true, .. }));
        let facts = listed.filter_map(|seq| self.fact(*seq)).filter(whole);
        let mut searches: Vec<(Instant, EventId)> = facts.map(|fact| (fact.time(), fact.note.id)).collect();
        searches.sort_unstable();
        searches
    }

    /// A label that another of the same noun bears, both being present.
    pub(super) fn label_twice(&self, id: &Subject, label: &str, found: &mut Vec<Discrepancy>) {
        let bearers = self.nursery().index().labels.get(label).map_or(&[][..], Vec::as_slice);
        let others = bearers.iter().filter(|other| *other != id && other.noun() == id.noun());
        for other in others.filter(|other| self.label(other).as_deref() == Some(label) && self.present(other)) {
            let seqs: Vec<u64> =
                [id, other].iter().filter_map(|subject| self.creations(subject).first().map(|fact| fact.note.seq)).collect();
            let says = format!("The label {label:?} is borne by two that are present.");
            found.push(self.discrepancy(odd::LABEL_TWICE, &seqs, [id.clone(), other.clone()], says));
        }
    }

    /// A tag that another animal bears too, both being here: one of the two was taken for another.
    pub(super) fn mark_twice(&self, animal: &Animal, found: &mut Vec<Discrepancy>) {
        for (number, event) in tags_borne(&animal.marks) {
            let bearers = self.nursery().index().tags.get(number).map_or(&[][..], Vec::as_slice);
            for other in bearers.iter().filter(|other| **other != animal.id) {
                let there = self.fold_animal(other, &self.facts(other)).0.filter(|there| there.fate == AnimalFate::Present);
                let also = there.as_ref().and_then(|there| tags_borne(&there.marks).get(number).copied());
                let Some(also) = also else { continue };
                let seqs: Vec<u64> = [event, also].into_iter().filter_map(|event| self.nursery().seq_of(event)).collect();
                let says = format!("The tag {number:?} is noted on two animals that are here.");
                found.push(self.discrepancy(odd::MARK_TWICE, &seqs, [animal.id.clone(), other.clone()], says));
            }
        }
    }

    /// Whether it is here, as far as is known.
    pub(super) fn present(&self, subject: &Subject) -> bool {
        match subject.noun() {
            "egg" => self.fold_egg(subject, &self.facts(subject)).0.is_some_and(|egg| egg.fate == EggFate::Open),
            "animal" => self.fold_animal(subject, &self.facts(subject)).0.is_some_and(|animal| animal.fate == AnimalFate::Present),
            "group" => self.fold_group(subject, &self.facts(subject)).0.is_some_and(|group| group.ended.is_none()),
            _ => !self.creations(subject).is_empty(),
        }
    }
}
