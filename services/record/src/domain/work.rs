//! Rounds, duty, incidents, samples and documents.

use super::discrepancy::{Discrepancy, odd};
use super::house::{every, newest, of};
use super::state::{Document, HandOver, Incident, Noted, Round, RoundClosed, RoundOpened, Sample, Thing};
use super::told::{AnimalNote, EggNote, GroupNote, Told};
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
        let not_yet: Vec<Thing> = others.into_iter().filter(|thing| !self.is_named(closed.as_ref(), thing, &opened)).collect();
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

    /// What a round means to look at: the cases named, and of its tanks the cases in them at that
    /// moment (candling), the animals and groups in them (feeding, weighing), or the tanks themselves
    /// (daily walk, egg search, water, other).
    fn meant_by(&self, opened: &Noted<RoundOpened>) -> BTreeSet<Thing> {
        let told = &opened.told;
        let at = opened.when.time;
        let housed = |nouns: &[&str]| -> Vec<Thing> {
            let each = told.tanks.iter().flat_map(|tank| nouns.iter().flat_map(|noun| self.living_in(tank, noun, at)));
            each.map(Thing).collect()
        };
        let of_tanks = match told.what.as_str() {
            "candling" => housed(&["egg"]),
            "feeding" => housed(&["animal", "group"]),
            // Animals that cannot be told apart are not weighed one by one.
            "weighing" => housed(&["animal"]),
            _ => told.tanks.clone(),
        };
        told.eggs.iter().cloned().chain(of_tanks).collect()
    }

    /// Whether a note of the round's time tells that it was looked at, be it by a note about its tank
    /// or its water.
    fn looked_at(&self, thing: &Subject, opened: &Noted<RoundOpened>, until: Instant) -> bool {
        let (what, at) = (opened.told.what.as_str(), opened.when.time);
        let about = match what {
            "feeding" => self.round_tank(thing, opened).cloned(),
            "water" => self.system_at(thing, at),
            _ => None,
        };
        [Some(thing.clone()), about].into_iter().flatten().any(|subject| {
            let mentions = self.nursery().index().mentions.get(&subject);
            let known = mentions.into_iter().flat_map(|mentions| mentions.all()).filter(|mention| mention.since < self.known_at());
            let mut facts = known.filter_map(|mention| self.fact(mention.seq)).filter(|fact| *fact.subject() == subject);
            facts.any(|fact| (at..=until).contains(&fact.time()) && is_look(what, &fact))
        })
    }

    /// The tank of the round in which something was when it began.
    fn round_tank<'r>(&self, thing: &Subject, opened: &'r Noted<RoundOpened>) -> Option<&'r Subject> {
        let at = opened.when.time;
        opened
            .told
            .tanks
            .iter()
            .map(|tank| &tank.0)
            .find(|tank| self.stays(thing).iter().any(|stay| stay.tank == **tank && stay.covers(at)))
    }

    /// Whether the closing names it, or the tank of the round in which it is.
    fn is_named(&self, closed: Option<&Noted<RoundClosed>>, thing: &Thing, opened: &Noted<RoundOpened>) -> bool {
        let Some(closed) = closed.filter(|closed| !closed.told.not_looked_at.is_empty()) else { return false };
        let tank = if thing.0.noun() == "tank" { None } else { self.round_tank(thing, opened) };
        closed.told.not_looked_at.iter().any(|missed| missed.which == *thing || Some(&missed.which.0) == tank)
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
        let (permit, odd_about_it) = self.fold_permit(id);
        found.extend(odd_about_it);
        let is_there = attached.is_some() || permit.is_some();
        (is_there.then(|| Document { id: id.clone(), attached, permit, discrepancies: Vec::new() }), found)
    }
}

/// Whether a note tells of what such a round is for, or of a case or an animal that is none to look at
/// any more: whoever writes it had it at hand, or looked for it.
fn is_look(what: &str, fact: &Fact<'_>) -> bool {
    match (what, fact.told()) {
        ("candling", told) => matches!(told, Told::EggCandled(_) | Told::EggNote(EggNote::Examined(_))) || case_ends(told),
        ("egg search", told) => matches!(told, Told::TankSearched(_)),
        ("daily walk", Told::House(house)) => matches!(house, House::TankChecked(_)),
        ("feeding", Told::House(house)) => matches!(house, House::TankFed(_)),
        ("feeding", told) => matches!(told, Told::AnimalFed(_) | Told::GroupNote(GroupNote::Fed(_))) || animal_ends(told),
        ("water", told) => matches!(told, Told::WaterMeasured(_)),
        ("weighing", told) => matches!(told, Told::AnimalMeasured(_)) || animal_ends(told),
        ("other", _) => true,
        _ => false,
    }
}

fn case_ends(told: &Told) -> bool {
    let by_note = |note: &EggNote| matches!(note, EggNote::Missing(_) | EggNote::PutDown(_));
    let ended = matches!(told, Told::EggHatched(_) | Told::EggLost(_) | Told::EggRemoved(_) | Told::EggOpened(_) | Told::EggHeldApart(_));
    ended || matches!(told, Told::EggNote(note) if by_note(note))
}

fn animal_ends(told: &Told) -> bool {
    let by_note = |note: &AnimalNote| matches!(note, AnimalNote::Missing(_) | AnimalNote::Escaped(_));
    let ended = matches!(told, Told::AnimalDied(_) | Told::AnimalDeparted(_) | Told::GroupNote(GroupNote::Grouped(_)));
    ended || matches!(told, Told::AnimalNote(note) if by_note(note))
}

fn are(names: &[String]) -> String {
    let verb = if names.len() == 1 { "was" } else { "were" };
    format!("{} {verb}", names.join(", "))
}
