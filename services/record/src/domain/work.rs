//! Rounds, duty, incidents, samples and documents.

use super::discrepancy::{Discrepancy, odd};
use super::house::{every, newest, of};
use super::state::{Document, HandOver, Incident, Noted, Round, RoundClosed, RoundOpened, Sample, Thing};
use super::told::Told;
use super::told_house::House;
use super::view::{Fact, View};
use selachron_schemas::names::Subject;
use selachron_schemas::replay::keys::Role;
use selachron_schemas::time::Instant;
use std::collections::BTreeSet;

/// Whose word a result is (DOMAIN section 5).
const RESULTS: [Role; 2] = [Role::Laboratory, Role::Veterinarian];

/// What is taken of a living animal and may need a licence (DOMAIN section 5).
const LICENSED: [&str; 2] = ["blood", "fin clip"];

impl<'a> View<'a> {
    /// Folds the notes about a round.
    pub(super) fn fold_round(&self, id: &Subject) -> (Option<Round>, Vec<Discrepancy>) {
        let (facts, mut found) = (self.house_facts(id), Vec::new());
        let Some(opened) = self.house_came(id, &facts, of!(RoundOpened), &mut found) else { return (None, found) };
        let is_close = |house: &House| matches!(house, House::RoundClosed(_));
        self.closed_twice(id, &facts, is_close, &mut found);
        let close = facts.iter().find(|fact| fact.house().is_some_and(is_close));
        let closed = close.and_then(|fact| fact.noted(of!(RoundClosed)));
        let meant = self.meant_by(&opened);
        let until = closed.as_ref().map_or(self.as_of(), |closed| closed.when.time);
        let (looked_at, others): (Vec<Thing>, Vec<Thing>) = meant.into_iter().partition(|thing| self.looked_at(thing, &opened, until));
        let not_yet: Vec<Thing> = others.into_iter().filter(|thing| !is_named(closed.as_ref(), thing)).collect();
        if let (Some(close), false) = (close, not_yet.is_empty()) {
            found.push(self.unaccounted(id, &opened, close, &not_yet));
        }
        let author = self.nursery().seq_of(opened.when.event).and_then(|seq| self.nursery().note(seq).person());
        let person = author.map(str::to_owned);
        (Some(Round { id: id.clone(), opened, person, closed, looked_at, not_yet, discrepancies: Vec::new() }), found)
    }

    fn unaccounted(&self, id: &Subject, opened: &Noted<RoundOpened>, close: &Fact<'a>, missed: &[Thing]) -> Discrepancy {
        let names: Vec<String> = missed.iter().map(|thing| self.called(thing)).collect();
        let says = format!("The round {:?} is closed, and {} neither looked at nor named.", opened.told.label, are(&names));
        let seqs: Vec<u64> = self.nursery().seq_of(opened.when.event).into_iter().chain([close.note.seq]).collect();
        self.discrepancy(odd::ROUND_UNACCOUNTED, &seqs, missed.iter().map(|thing| thing.0.clone()).chain([id.clone()]), says)
    }

    /// What a round means to look at: of a candling round its cases and all cases in its tanks at
    /// that moment, of a walk or a search its tanks. Other rounds are accounted for by nobody but
    /// the person who closes them.
    fn meant_by(&self, opened: &Noted<RoundOpened>) -> BTreeSet<Thing> {
        let told = &opened.told;
        match told.what.as_str() {
            "candling" => {
                let at = opened.when.time;
                let housed = told.tanks.iter().flat_map(|tank| self.living_in(tank, "egg", at)).map(Thing);
                told.eggs.iter().cloned().chain(housed).collect()
            }
            "daily walk" | "egg search" => told.tanks.iter().cloned().collect(),
            _ => BTreeSet::new(),
        }
    }

    fn looked_at(&self, thing: &Subject, opened: &Noted<RoundOpened>, until: Instant) -> bool {
        let what = opened.told.what.as_str();
        let is_look = |fact: &Fact<'a>| match fact.told() {
            Told::EggCandled(_) => what == "candling",
            Told::TankSearched(_) => what == "egg search",
            Told::House(house) => what == "daily walk" && matches!(house, House::TankChecked(_)),
            _ => false,
        };
        let mentions = self.nursery().index().mentions.get(thing);
        let known = mentions.into_iter().flat_map(|mentions| mentions.all()).filter(|mention| mention.since < self.known_at());
        let mut facts = known.filter_map(|mention| self.fact(mention.seq)).filter(|fact| fact.subject() == thing);
        facts.any(|fact| (opened.when.time..=until).contains(&fact.time()) && is_look(&fact))
    }

    /// Hand-overs of duty, the newest first.
    #[must_use]
    pub fn hand_overs(&self) -> Vec<HandOver> {
        let facts = self.house_facts(&Subject::collection());
        let told = facts.iter().rev().filter_map(|fact| Some((fact.note.person().map(str::to_owned), fact.noted(of!(DutyHandedOver))?)));
        told.map(|(from, handed)| HandOver { from, handed }).collect()
    }

    /// Folds the notes about an incident.
    pub(super) fn fold_incident(&self, id: &Subject) -> (Option<Incident>, Vec<Discrepancy>) {
        let (facts, mut found) = (self.house_facts(id), Vec::new());
        let Some(opened) = self.house_came(id, &facts, of!(IncidentOpened), &mut found) else { return (None, found) };
        self.closed_twice(id, &facts, |house| matches!(house, House::IncidentClosed(_)), &mut found);
        let notes = every(&facts, of!(IncidentNoted)).collect();
        let closed = every(&facts, of!(IncidentClosed)).next();
        (Some(Incident { id: id.clone(), opened, notes, closed, discrepancies: Vec::new() }), found)
    }

    /// Folds the notes about a sample.
    pub(super) fn fold_sample(&self, id: &Subject) -> (Option<Sample>, Vec<Discrepancy>) {
        let (facts, mut found) = (self.house_facts(id), Vec::new());
        let Some(taken) = self.house_came(id, &facts, of!(SampleTaken), &mut found) else { return (None, found) };
        if LICENSED.contains(&taken.told.what.as_str()) && taken.told.licence_reference.is_none() {
            let seqs: Vec<u64> = self.nursery().seq_of(taken.when.event).into_iter().collect();
            let says = format!("The sample {:?} is of {}, and no reference of a licence is given.", taken.told.label, taken.told.what);
            found.push(self.discrepancy(odd::NO_LICENCE, &seqs, [id.clone()], says));
        }
        for fact in facts.iter().filter(|fact| matches!(fact.house(), Some(House::SampleReported(_)))) {
            if !self.signed_with(fact.note, &RESULTS) {
                let says =
                    "The result was copied out by another: neither the laboratory nor a veterinarian has signed or endorsed it.".to_owned();
                found.push(self.discrepancy(odd::RESULT_TRANSCRIBED, &[fact.note.seq], [id.clone()], says));
            }
        }
        let (sent, reports) = (newest(&facts, of!(SampleSent)), every(&facts, of!(SampleReported)).collect::<Vec<_>>());
        let state = match (reports.is_empty(), &sent) {
            (false, _) => "reported",
            (true, Some(_)) => "sent",
            (true, None) => "taken",
        };
        (Some(Sample { id: id.clone(), taken, state, sent, reports, discrepancies: Vec::new() }), found)
    }

    /// Folds the notes about a document.
    pub(super) fn fold_document(&self, id: &Subject) -> (Option<Document>, Vec<Discrepancy>) {
        let mut found = Vec::new();
        let attached = self.house_came(id, &self.house_facts(id), of!(DocumentAttached), &mut found);
        (attached.map(|attached| Document { id: id.clone(), attached, discrepancies: Vec::new() }), found)
    }
}

fn is_named(closed: Option<&Noted<RoundClosed>>, thing: &Thing) -> bool {
    closed.is_some_and(|closed| closed.told.not_looked_at.iter().any(|missed| missed.which == *thing))
}

fn are(names: &[String]) -> String {
    let verb = if names.len() == 1 { "was" } else { "were" };
    format!("{} {verb}", names.join(", "))
}
