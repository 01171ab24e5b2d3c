//! Authorisations of openings: which are known, which hold, and which cover an opening (DOMAIN
//! section 5). One that was recorded after the opening covers nothing: then colleagues endorse.

use super::discrepancy::{Discrepancy, odd};
use super::note::Note;
use super::state::{Authorisation, Egg, Moment};
use super::told::eggs::OpeningAuthorised;
use super::told::{EggNote, EggOpened, Told};
use super::view::{Fact, View};
use selachron_schemas::names::Subject;
use std::collections::BTreeMap;
use std::sync::Arc;

/// An authorisation and the place of the note that gives it.
#[derive(Debug, Clone)]
pub(super) struct Authorised {
    pub seq: u64,
    pub says: Authorisation,
}

impl<'a> View<'a> {
    /// Every authorisation of openings that is known, in order of time.
    #[must_use]
    pub fn authorisations(&self) -> Vec<Authorisation> {
        self.authorised().iter().map(|authorised| authorised.says.clone()).collect()
    }

    /// The same, worked out once in the life of a view: every case asks for those of its own.
    pub(super) fn authorised(&self) -> Arc<Vec<Authorised>> {
        self.cache.authorised.get_or_init(|| Arc::new(self.find_authorised())).clone()
    }

    fn find_authorised(&self) -> Vec<Authorised> {
        let listed = self.nursery().index().openings.iter().filter_map(|seq| self.fact(*seq));
        let mut facts: Vec<Fact<'a>> = listed.collect();
        facts.sort_by_key(|fact| (fact.time(), fact.note.seq));
        let mut withdrawn: BTreeMap<(&str, &Subject), Moment> = BTreeMap::new();
        for fact in &facts {
            if let Told::EggNote(EggNote::OpeningWithdrawn(told)) = fact.told() {
                withdrawn.entry((&told.authorisation, fact.subject())).or_insert_with(|| fact.moment());
            }
        }
        let given = facts.iter().filter_map(|fact| match fact.told() {
            Told::EggNote(EggNote::OpeningAuthorised(told)) => Some((fact, told)),
            _ => None,
        });
        let one = |(fact, told): (&Fact<'a>, &OpeningAuthorised)| {
            let withdrawn = withdrawn.get(&(fact.note.id.to_string().as_str(), fact.subject())).copied();
            Authorised { seq: fact.note.seq, says: self.authorisation(fact, told, withdrawn) }
        };
        given.map(|(fact, told)| one((fact, told))).collect()
    }

    fn authorisation(&self, fact: &Fact<'a>, told: &OpeningAuthorised, withdrawn: Option<Moment>) -> Authorisation {
        let holds = told.from <= self.as_of() && self.as_of() <= told.to && withdrawn.is_none();
        Authorisation {
            given: fact.moment(),
            subject: fact.subject().clone(),
            criteria: told.criteria.clone(),
            persons: told.persons.clone(),
            from: told.from,
            to: told.to,
            species: told.species.clone(),
            extents: told.extents.clone(),
            protocol: told.protocol.clone(),
            reasons_against: told.reasons_against.clone(),
            assessment: told.assessment.clone(),
            withdrawn,
            in_force: holds,
        }
    }

    /// The authorisations that cover an opening of this case.
    pub(super) fn covering(&self, egg: &Egg, fact: &Fact<'a>, told: &EggOpened) -> Vec<Authorised> {
        let all = self.authorised();
        let known = all.iter().filter(|authorised| authorised.seq < fact.note.seq);
        known.filter(|authorised| covers(&authorised.says, egg, fact, told)).cloned().collect()
    }

    /// A withdrawal that names nothing that it could withdraw.
    pub(super) fn withdraws_nothing(&self, id: &Subject, facts: &[Fact<'a>]) -> Vec<Discrepancy> {
        let known = self.authorised();
        let names = |told: &str| known.iter().any(|one| one.says.subject == *id && one.says.given.event.to_string() == told);
        let lost = facts.iter().filter(|fact| match fact.told() {
            Told::EggNote(EggNote::OpeningWithdrawn(told)) => fact.subject() == id && !names(&told.authorisation),
            _ => false,
        });
        let says = "It withdraws an authorisation that no note about the same subject gives.";
        lost.map(|fact| self.discrepancy(odd::AUTHORISATION_UNKNOWN, &[fact.note.seq], [id.clone()], says.to_owned())).collect()
    }
}

fn covers(says: &Authorisation, egg: &Egg, fact: &Fact<'_>, told: &EggOpened) -> bool {
    let time = fact.time();
    let for_it = says.subject == egg.id || (says.subject.noun() == "collection" && (says.species.is_none() || says.species == egg.species));
    let in_time = says.given.time <= time && says.from <= time && time <= says.to;
    let stands = says.withdrawn.is_none_or(|withdrawn: Moment| withdrawn.time > time);
    let reaches = says.extents.is_empty() || says.extents.contains(&told.extent);
    for_it && in_time && stands && reaches && may_open(&says.persons, fact.note)
}

/// Whether the author, or whoever signed the same note, is named.
fn may_open(persons: &[String], note: &Note) -> bool {
    let signed = note.approvals().filter_map(|signer| signer.person());
    note.person().into_iter().chain(signed).any(|person| persons.iter().any(|named| named == person))
}
