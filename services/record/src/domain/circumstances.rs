//! What else is so of a case or an animal beside its own life, and what is at odds about that:
//! quarantine, consignments, loans, places, layings that were seen.

use super::discrepancy::{Discrepancy, odd};
use super::house::{every, newest, of};
use super::movement::journey;
use super::state::{Circumstances, LifeState, Noted, OnLoan, ParentStatus, Parentage, SeenLaying, Thing, Travel};
use super::stays::Stay;
use super::told::Told;
use super::told_house::House;
use super::view::{Fact, View};
use selachron_schemas::names::Subject;

impl<'a> View<'a> {
    /// What else is so of a case or an animal; `facts` are its facts in order, `tank` where it is.
    pub(super) fn circumstances(&self, id: &Subject, facts: &[Fact<'a>], tank: Option<&Subject>) -> Circumstances {
        let own: Vec<Fact<'a>> = facts.iter().filter(|fact| fact.subject() == id).cloned().collect();
        let things = |noun: &str| -> Vec<Thing> {
            let named = facts.iter().filter(|fact| fact.subject().noun() == noun && fact.creates_subject());
            named.map(|fact| Thing(fact.subject().clone())).collect()
        };
        let quarantine = self.quarantine_at(id, self.as_of()).or_else(|| self.quarantine_of_water(tank?, self.as_of()));
        Circumstances {
            quarantine: quarantine.map(|(quarantine, _)| quarantine),
            travel: travel(id, facts),
            loan: self.on_loan(id, facts),
            diet: newest(&own, of!(DietSet)),
            matings: every(facts, of!(MatingObserved)).collect(),
            layings: facts.iter().filter_map(laying).collect(),
            advice: newest(&own, of!(BreedingAdvised)),
            samples: things("sample"),
            documents: things("document"),
        }
    }

    fn on_loan(&self, id: &Subject, facts: &[Fact<'a>]) -> Option<OnLoan> {
        let agreed = facts.iter().rev().filter(|fact| matches!(fact.house(), Some(House::LoanAgreed(_))));
        let loans = agreed.filter_map(|fact| self.fold_loan(fact.subject()).0);
        let lent = loans.into_iter().find(|loan| loan.still_lent.iter().any(|thing| thing.0 == *id))?;
        let Noted { when, told } = lent.agreed;
        Some(OnLoan { loan: Thing(lent.id), direction: told.direction, partner: told.partner, until: told.until, when })
    }

    /// What is at odds between a case or an animal and the house.
    pub(super) fn odd_circumstances(&self, id: &Subject, facts: &[Fact<'a>], found: &mut Vec<Discrepancy>) {
        for fact in facts {
            match fact.told() {
                Told::Moved(told) if fact.subject() == id => self.odd_place(id, fact, told.place.as_ref(), &told.to_tank, found),
                Told::House(House::ConsignmentReceived(told)) => {
                    let item = told.items.iter().find(|item| item.which.0 == *id);
                    item.into_iter().for_each(|item| self.odd_arrival(id, fact, item.state, facts, found));
                }
                _ => {}
            }
        }
        self.odd_quarantine(id, found);
        let index = self.nursery().index();
        if !(index.quarantines.is_empty() && index.retirements.is_empty()) {
            self.odd_stays(id, found);
        }
    }

    fn odd_place(&self, id: &Subject, fact: &Fact<'a>, place: Option<&Subject>, tank: &Subject, found: &mut Vec<Discrepancy>) {
        let Some(place) = place else { return };
        let set_up = self.house_facts(place).iter().find_map(|fact| fact.noted(of!(PlaceSetUp)));
        if let Some(elsewhere) = set_up.map(|set_up| set_up.told.tank.0).filter(|elsewhere| elsewhere != tank) {
            let (place, tank, elsewhere) = (self.called(place), self.called(tank), self.called(&elsewhere));
            let says = format!("Moved to the place {place} of {tank}, while that place is in {elsewhere}.");
            found.push(self.discrepancy(odd::PLACE_ELSEWHERE, &[fact.note.seq], [id.clone()], says));
        }
    }

    /// The state on opening a consignment against the note by which it came.
    fn odd_arrival(&self, id: &Subject, fact: &Fact<'a>, on_opening: LifeState, facts: &[Fact<'a>], found: &mut Vec<Discrepancy>) {
        let own = facts.iter().filter(|own| own.subject() == id).find_map(|own| match own.told() {
            Told::EggReceived(told) => Some((own.note.seq, told.state)),
            Told::AnimalReceived(told) => Some((own.note.seq, told.state)),
            _ => None,
        });
        let differs = |state: LifeState| state != on_opening && (state == LifeState::Dead || on_opening == LifeState::Dead);
        if let Some((seq, _)) = own.filter(|(_, state)| differs(*state)) {
            let says = "Dead on arrival by one note, and not by the other.".to_owned();
            found.push(self.discrepancy(odd::ARRIVAL_STATE, &[fact.note.seq, seq], [id.clone()], says));
        }
    }

    fn odd_stays(&self, id: &Subject, found: &mut Vec<Discrepancy>) {
        let stays = self.stays(id);
        for (at, stay) in stays.iter().enumerate() {
            self.left_quarantine(id, stay, stays.get(at + 1), found);
        }
        if let Some(stay) = stays.last().filter(|stay| stay.to.is_none()) {
            let retired = self.house_facts(&stay.tank).into_iter().find(|fact| matches!(fact.house(), Some(House::Retired(_))));
            if let Some(retired) = retired {
                let says =
                    format!("The record has it in {}, which is out of use since {}.", self.called(&stay.tank), self.day(retired.time()));
                let subjects = [id.clone(), stay.tank.clone()];
                found.push(self.discrepancy(odd::RETIRED_IN_USE, &[stay.put_by, retired.note.seq], subjects, says));
            }
        }
    }

    /// A move out of quarantine before the veterinarian's clearance: to a tank that is neither for
    /// quarantine nor under one, or out of the house.
    fn left_quarantine(&self, id: &Subject, stay: &Stay, next: Option<&Stay>, found: &mut Vec<Discrepancy>) {
        let (Some(left), Some(out_by)) = (stay.to, stay.out_by) else { return };
        let own = self.quarantine_at(id, left);
        let under =
            own.or_else(|| self.quarantine_of_water(&stay.tank, left)).filter(|(quarantine, _)| quarantine.started.when.time < left);
        let Some((quarantine, began)) = under else { return };
        let next = next.filter(|next| next.put_by == out_by);
        if next.is_some_and(|next| self.is_for_quarantine(&next.tank) || self.quarantine_of_water(&next.tank, left).is_some()) {
            return;
        }
        let to = next.map_or_else(|| "out of the house".to_owned(), |next| format!("to {}", self.called(&next.tank)));
        let (day, of) = (self.day(left), self.called(&quarantine.of));
        let says = format!("Taken {to} on {day}, while the quarantine of {of} was not cleared.");
        let subjects = [id.clone(), quarantine.of.0];
        found.push(self.discrepancy(odd::LEFT_QUARANTINE, &[began, out_by], subjects, says));
    }

    fn is_for_quarantine(&self, tank: &Subject) -> bool {
        self.creations(tank).iter().any(|fact| matches!(fact.told(), Told::TankSetUp(told) if told.purpose == "quarantine"))
    }

    /// A laying that was seen of another than the dam that the case names.
    pub(super) fn odd_laying(&self, id: &Subject, facts: &[Fact<'a>], dam: &Parentage, found: &mut Vec<Discrepancy>) {
        let known = dam.animals.first().filter(|_| dam.status == ParentStatus::Known);
        let (Some(known), Some(came)) = (known, facts.iter().find(|fact| fact.subject() == id && fact.creates_subject())) else { return };
        for fact in facts.iter().filter(|fact| laying(fact).is_some() && fact.subject().noun() == "animal") {
            if *fact.subject() != known.animal {
                let (seen, named) = (self.called(fact.subject()), self.called(&known.animal));
                let says = format!("{seen} was seen laying this case, while the case names {named} as its dam.");
                let subjects = [id.clone(), fact.subject().clone()];
                found.push(self.discrepancy(odd::LAID_BY_ANOTHER, &[came.note.seq, fact.note.seq], subjects, says));
            }
        }
    }
}

fn laying(fact: &Fact<'_>) -> Option<SeenLaying> {
    Some(SeenLaying { by: Thing(fact.subject().clone()), seen: fact.noted(of!(LayingObserved))? })
}

fn travel(id: &Subject, facts: &[Fact<'_>]) -> Option<Travel> {
    let newest = facts.iter().rev().find(|fact| match fact.house() {
        Some(House::ConsignmentSent(told)) => told.items.iter().any(|item| item.which.0 == *id),
        Some(House::ConsignmentReceived(told)) => told.items.iter().any(|item| item.which.0 == *id),
        _ => false,
    })?;
    let received = newest.noted(of!(ConsignmentReceived)).map(|noted| noted.told);
    let state = journey(received.is_none(), received.as_ref());
    Some(Travel { consignment: Thing(newest.subject().clone()), state, when: newest.moment() })
}
