//! Consignments, loans and quarantine. What is in transit is in nobody's stock; a loan changes
//! presence, not ownership; quarantine ends by the veterinarian's clearance (DOMAIN section 7).

use super::discrepancy::{Discrepancy, odd};
use super::house::{every, of};
use super::state::{Consignment, ConsignmentAuthorised, ConsignmentReceived, ConsignmentSent, LifeState, Loan, Noted, Quarantine, Thing};
use super::told::Left;
use super::told_house::House;
use super::view::{Fact, View};
use chrono::Days;
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use std::collections::BTreeSet;

impl Fact<'_> {
    /// What a consignment says of the leaving of one of its items.
    pub(super) fn sends(&self, id: &Subject) -> Option<Left> {
        let Some(House::ConsignmentSent(told)) = self.house() else { return None };
        let item = told.items.iter().find(|item| item.which.0 == *id)?;
        Some(Left { reason: told.reason.clone(), to: told.to.clone(), alive: item.alive })
    }
}

impl<'a> View<'a> {
    /// Whether one of two notes of a leaving is the consignment in which the other's subject left:
    /// then they tell of one leaving.
    pub(super) fn one_leaving(&self, one: u64, other: u64) -> bool {
        let sends = |seq: u64| self.fact(seq).is_some_and(|fact| matches!(fact.house(), Some(House::ConsignmentSent(_))));
        sends(one) != sends(other)
    }

    /// Folds the notes about a consignment. It may be known by its sending, its arrival, or both.
    pub(super) fn fold_consignment(&self, id: &Subject) -> (Option<Consignment>, Vec<Discrepancy>) {
        let (facts, mut found) = (self.house_facts(id), Vec::new());
        let (sending, arrival) = (first(&facts, of!(ConsignmentSent)), first(&facts, of!(ConsignmentReceived)));
        let again = |is: fn(&House) -> bool| facts.iter().filter(move |fact| fact.house().is_some_and(is)).map(|fact| fact.note.seq);
        for seqs in
            [again(|house| matches!(house, House::ConsignmentSent(_))), again(|house| matches!(house, House::ConsignmentReceived(_)))]
        {
            self.told_twice(id, &seqs.collect::<Vec<_>>(), &mut found);
        }
        let authorised: Vec<Noted<ConsignmentAuthorised>> = every(&facts, of!(ConsignmentAuthorised)).collect();
        if sending.is_none() && arrival.is_none() && authorised.is_empty() {
            return (None, found);
        }
        if let Some((fact, sent)) = sending.as_ref().filter(|(fact, _)| self.others_behind(fact.note).is_empty()) {
            self.sent_alone(id, fact, &sent.told, &facts, &mut found);
        }
        if let (Some(sending), Some(arrival)) = (&sending, &arrival) {
            self.odd_journey(id, sending, arrival, &mut found);
        }
        let approved_by = sending.as_ref().map_or_else(Vec::new, |(fact, _)| self.others_behind(fact.note));
        (Some(consignment(id, authorised, approved_by, sending.map(|(_, told)| told), arrival.map(|(_, told)| told))), found)
    }

    /// What left without a second person's signature needs papers that two people signed before.
    fn sent_alone(&self, id: &Subject, fact: &Fact<'a>, sent: &ConsignmentSent, facts: &[Fact<'a>], found: &mut Vec<Discrepancy>) {
        let before = facts.iter().filter(|papers| papers.note.seq < fact.note.seq);
        let papers: Vec<ConsignmentAuthorised> =
            before.filter_map(|papers| papers.noted(of!(ConsignmentAuthorised))).map(|it| it.told).collect();
        let why_not = |papers: &ConsignmentAuthorised| self.uncovered(papers, sent, fact.time());
        if papers.iter().any(|papers| why_not(papers).is_none()) {
            return;
        }
        let why = papers.iter().rev().find_map(why_not).unwrap_or_else(|| "no departure papers of it were signed before".to_owned());
        let says = format!("The consignment left without a second person's signature, and {why}.");
        found.push(self.discrepancy(odd::SENT_ALONE, &[fact.note.seq], [id.clone()], says));
    }

    /// Why these papers do not cover what left, if they do not.
    fn uncovered(&self, papers: &ConsignmentAuthorised, sent: &ConsignmentSent, left: Instant) -> Option<String> {
        let missing: Vec<String> =
            sent.items.iter().filter(|item| !papers.items.contains(&item.which)).map(|item| self.called(&item.which)).collect();
        if !missing.is_empty() {
            return Some(format!("its papers do not name {}", missing.join(", ")));
        }
        if papers.to != sent.to {
            return Some(format!("its papers are for {:?}", papers.to));
        }
        let in_time = papers.from.0 <= left && left <= papers.until.0;
        (!in_time).then(|| format!("its papers hold from {} until {}", self.day(papers.from.0), self.day(papers.until.0)))
    }

    fn told_twice(&self, id: &Subject, seqs: &[u64], found: &mut Vec<Discrepancy>) {
        for again in seqs.iter().skip(1) {
            let says = format!("Two notes tell of {}; the earlier one is taken.", self.called(id));
            found.push(self.discrepancy(odd::CREATED_TWICE, &[seqs[0], *again], [id.clone()], says));
        }
    }

    fn odd_journey(
        &self,
        id: &Subject,
        (sent, sending): &(&Fact<'a>, Noted<ConsignmentSent>),
        (received, arrival): &(&Fact<'a>, Noted<ConsignmentReceived>),
        found: &mut Vec<Discrepancy>,
    ) {
        let seqs = [sent.note.seq, received.note.seq];
        if arrival.told.opened_at.0 < sending.when.time {
            let says = format!("Opened on {}, before it was sent.", self.day(arrival.told.opened_at.0));
            found.push(self.discrepancy(odd::OPENED_BEFORE_SENT, &seqs, [id.clone()], says));
        }
        let left: BTreeSet<&Thing> = sending.told.items.iter().map(|item| &item.which).collect();
        let came: BTreeSet<&Thing> = arrival.told.items.iter().map(|item| &item.which).collect();
        // Word that it arrived need not list the items again.
        if !came.is_empty() && left != came {
            let names: Vec<String> = left.symmetric_difference(&came).map(|thing| self.called(thing)).collect();
            let subjects = left.symmetric_difference(&came).map(|thing| thing.0.clone()).chain([id.clone()]);
            let says = format!("What arrived is not what was sent: {} at one end only.", names.join(", "));
            found.push(self.discrepancy(odd::ARRIVED_DIFFERENT, &seqs, subjects, says));
        }
    }

    /// Folds the notes about a loan.
    pub(super) fn fold_loan(&self, id: &Subject) -> (Option<Loan>, Vec<Discrepancy>) {
        let (facts, mut found) = (self.house_facts(id), Vec::new());
        let Some(agreed) = self.house_came(id, &facts, of!(LoanAgreed), &mut found) else { return (None, found) };
        let ended: Vec<_> = every(&facts, of!(LoanEnded)).collect();
        let over = |thing: &Thing| ended.iter().any(|end| end.told.which.is_empty() || end.told.which.contains(thing));
        let still_lent = agreed.told.which.iter().filter(|thing| !over(thing)).cloned().collect();
        (Some(Loan { id: id.clone(), agreed, ended, still_lent, discrepancies: Vec::new() }), found)
    }

    /// Quarantines of a subject in order of their beginning; and clearances that end none.
    pub(super) fn quarantines_of(&self, id: &Subject, until: Instant) -> (Vec<(Quarantine, u64)>, Vec<u64>) {
        let (mut all, mut idle): (Vec<(Quarantine, u64)>, Vec<u64>) = (Vec::new(), Vec::new());
        for fact in self.house_facts(id).iter().filter(|fact| fact.time() <= until) {
            let under = all.last().is_some_and(|(quarantine, _)| quarantine.cleared.is_none());
            if let (Some(started), false) = (fact.noted(of!(QuarantineStarted)), under) {
                let days = started.told.planned_days.map(|days| Days::new(days.0));
                let planned_until = days.and_then(|days| self.day(started.when.time).checked_add_days(days));
                all.push((Quarantine { of: Thing(id.clone()), started, planned_until, cleared: None }, fact.note.seq));
            } else if let Some(cleared) = fact.noted(of!(QuarantineCleared)) {
                match all.last_mut().filter(|_| under) {
                    Some((quarantine, _)) => quarantine.cleared = Some(cleared),
                    None => idle.push(fact.note.seq),
                }
            }
        }
        (all, idle)
    }

    /// The quarantine that a subject is under at `time`, with the seq of its beginning.
    pub(super) fn quarantine_at(&self, id: &Subject, time: Instant) -> Option<(Quarantine, u64)> {
        self.quarantines_of(id, time).0.pop().filter(|(quarantine, _)| quarantine.cleared.is_none())
    }

    /// The quarantine of a tank or of the system whose water it has.
    pub(super) fn quarantine_of_water(&self, tank: &Subject, time: Instant) -> Option<(Quarantine, u64)> {
        self.quarantine_at(tank, time).or_else(|| self.quarantine_at(&self.system_at(tank, time)?, time))
    }

    /// Clearances of what was under no quarantine.
    pub(super) fn odd_quarantine(&self, id: &Subject, found: &mut Vec<Discrepancy>) {
        for seq in self.quarantines_of(id, self.as_of()).1 {
            let says = "The note clears a quarantine, and none is noted that began before it.".to_owned();
            found.push(self.discrepancy(odd::CLEARED_NO_QUARANTINE, &[seq], [id.clone()], says));
        }
    }

    /// All quarantines, the newest first.
    #[must_use]
    pub fn quarantines(&self) -> Vec<Quarantine> {
        let listed = self.nursery().index().quarantines.iter();
        let subjects: BTreeSet<Subject> = listed.filter_map(|seq| self.fact(*seq)).map(|fact| fact.subject().clone()).collect();
        let mut all: Vec<Quarantine> =
            subjects.iter().flat_map(|id| self.quarantines_of(id, self.as_of()).0).map(|(quarantine, _)| quarantine).collect();
        all.sort_by(|a, b| (b.started.when.time, &a.of).cmp(&(a.started.when.time, &b.of)));
        all
    }
}

/// The first fact of a kind, with what it says.
fn first<'f, 'a, T>(facts: &'f [Fact<'a>], pick: impl Fn(&House) -> Option<T>) -> Option<(&'f Fact<'a>, Noted<T>)> {
    facts.iter().find_map(|fact| Some((fact, fact.noted(&pick)?)))
}

/// Where a consignment is.
pub(super) fn journey(sent: bool, received: Option<&ConsignmentReceived>) -> &'static str {
    match received.map(|received| received.r#where.as_str()) {
        Some("here") => "arrived here",
        Some(_) => "arrived there",
        None if sent => "in transit",
        None => "papers signed",
    }
}

fn consignment(
    id: &Subject,
    authorised: Vec<Noted<ConsignmentAuthorised>>,
    approved_by: Vec<String>,
    sent: Option<Noted<ConsignmentSent>>,
    received: Option<Noted<ConsignmentReceived>>,
) -> Consignment {
    let label = sent.as_ref().map(|sent| sent.told.label.clone());
    let label = label.or_else(|| received.as_ref().and_then(|received| received.told.label.clone()));
    let label = label.or_else(|| authorised.last().map(|papers| papers.told.label.clone()));
    let on_the_way = sent.as_ref().filter(|_| received.is_none());
    let in_transit = on_the_way.into_iter().flat_map(|sent| &sent.told.items).map(|item| item.which.clone()).collect();
    let opened = received.iter().flat_map(|received| &received.told.items);
    let dead_on_arrival = opened.filter(|item| item.state == LifeState::Dead).map(|item| item.which.clone()).collect();
    let state = journey(sent.is_some(), received.as_ref().map(|received| &received.told));
    Consignment {
        id: id.clone(),
        label,
        state,
        authorised,
        sent,
        approved_by,
        received,
        in_transit,
        dead_on_arrival,
        discrepancies: Vec::new(),
    }
}
