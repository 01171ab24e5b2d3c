//! Where a case, an animal or a group was, and when: one stay after the other, from the notes that put it
//! there.

use super::state::{EggFate, EventId};
use super::told::{AnimalNote, EggNote, GroupNote, Told};
use super::view::{Fact, View};
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use std::collections::BTreeSet;
use std::sync::Arc;

/// A stay in a tank.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Stay {
    /// The tank.
    pub tank: Subject,
    /// Since.
    pub from: Instant,
    /// Until; `None`: it is still there.
    pub to: Option<Instant>,
    /// The note that put it there.
    pub put_by: u64,
    /// The note by which it left for another tank, or the house; `None` if it ended there.
    pub out_by: Option<u64>,
}

impl Stay {
    /// Whether it lasts at `time`; a stay ends where the next begins.
    pub(super) fn covers(&self, time: Instant) -> bool {
        self.from <= time && self.to.is_none_or(|to| time < to)
    }
}

/// Stays in order of time.
pub(super) type Stays = Arc<Vec<Stay>>;

/// What a note does to where something is.
enum Step<'f> {
    In(&'f Subject),
    /// It is told apart, or split off, where the group is.
    Beside(&'f Subject),
    Out,
    /// Nobody knows where it is.
    Lost,
    /// It is where it was before it was lost.
    Back,
    Nothing,
}

fn step<'f>(fact: &'f Fact<'_>, id: &Subject) -> Step<'f> {
    let tank = match fact.told() {
        Told::GroupNote(GroupNote::Split(told)) if told.into == *id => match &told.tank {
            Some(tank) => Some(tank),
            None => return Step::Beside(fact.subject()),
        },
        Told::EggHatched(hatch) => hatch.young.iter().find(|young| young.animal == *id).and_then(|young| young.tank.as_ref()),
        Told::House(_) if fact.sends(id).is_some() => return Step::Out,
        _ if fact.subject() != id => None,
        Told::EggRemoved(_) | Told::AnimalDeparted(_) | Told::GroupNote(GroupNote::Departed(_)) => return Step::Out,
        Told::EggCollected(told) => Some(told.to_tank.as_ref().unwrap_or(&told.from_tank)),
        Told::EggReceived(told) => told.to_tank.as_ref(),
        Told::EggHeldApart(told) => told.to_tank.as_ref(),
        Told::AnimalReceived(told) => told.tank.as_ref(),
        Told::GroupNote(GroupNote::ToldApart(told)) => match &told.tank {
            Some(tank) => Some(tank),
            None => return Step::Beside(&told.group),
        },
        Told::GroupNote(GroupNote::Formed(told)) => told.tank.as_ref(),
        Told::GroupNote(GroupNote::Moved(told)) => Some(&told.to_tank),
        Told::Moved(told) => Some(&told.to_tank),
        Told::EggNote(EggNote::Missing(_)) | Told::AnimalNote(AnimalNote::Missing(_) | AnimalNote::Escaped(_)) => return Step::Lost,
        Told::EggNote(EggNote::Found(told)) | Told::AnimalNote(AnimalNote::Found(told) | AnimalNote::Recaptured(told)) => {
            return told.to_tank.as_ref().map_or(Step::Back, Step::In);
        }
        Told::AnimalNote(AnimalNote::Returned(told)) => told.to_tank.as_ref(),
        _ => None,
    };
    tank.map_or(Step::Nothing, Step::In)
}

impl<'a> View<'a> {
    /// Where a case, an animal or a group was.
    pub(super) fn stays(&self, id: &Subject) -> Stays {
        if let Some(known) = self.cache.stays.borrow().get(id) {
            return known.clone();
        }
        let facts = self.facts_but_routine(id);
        let ended = match id.noun() {
            "egg" => self.fold_egg(id, &facts).0.and_then(|egg| egg.fate.when()),
            "group" => self.fold_group(id, &facts).0.and_then(|group| group.ended),
            _ => self.fold_animal(id, &facts).0.and_then(|animal| animal.fate.when()),
        };
        let stays = Arc::new(self.stays_told(id, &facts, ended.map(|when| (when.time, when.event))));
        self.cache.stays.borrow_mut().insert(id.clone(), stays.clone());
        stays
    }

    fn stays_told(&self, id: &Subject, facts: &[Fact<'a>], ended: Option<(Instant, EventId)>) -> Vec<Stay> {
        let mut stays: Vec<Stay> = facts.iter().find_map(|fact| self.before_the_find(fact)).into_iter().collect();
        let close = |stays: &mut Vec<Stay>, time: Instant, out_by: Option<u64>| {
            if let Some(open) = stays.last_mut().filter(|stay| stay.to.is_none()) {
                (open.to, open.out_by) = (Some(time), out_by);
            }
        };
        for fact in facts.iter().filter(|fact| ended.is_none_or(|(end, event)| fact.time() <= end || fact.note.id == event)) {
            let (time, seq) = (fact.time(), fact.note.seq);
            let put = |stays: &mut Vec<Stay>, tank: Subject| {
                close(stays, time, Some(seq));
                stays.push(Stay { tank, from: time, to: None, put_by: seq, out_by: None });
            };
            match step(fact, id) {
                Step::In(tank) => put(&mut stays, tank.clone()),
                Step::Beside(group) => self.group_tank(group, time).into_iter().for_each(|tank| put(&mut stays, tank)),
                // Whoever is left of a group stays where it is.
                Step::Out if id.noun() == "group" && ended.is_none_or(|(_, event)| fact.note.id != event) => {}
                Step::Out => close(&mut stays, time, Some(seq)),
                Step::Lost => close(&mut stays, time, None),
                Step::Back => {
                    let tank = stays.last().filter(|stay| stay.to.is_some()).map(|stay| stay.tank.clone());
                    stays.extend(tank.map(|tank| Stay { tank, from: time, to: None, put_by: seq, out_by: None }));
                }
                Step::Nothing => {}
            }
        }
        if let Some((end, _)) = ended {
            close(&mut stays, end, None);
        }
        stays
    }

    /// A case was in the adults' tank before it was found there, from the beginning of its window
    /// of laying if that is known (DOMAIN section 2).
    fn before_the_find(&self, fact: &Fact<'a>) -> Option<Stay> {
        let Told::EggCollected(told) = fact.told() else { return None };
        let from = self.laid_window(fact).not_before?;
        let seq = fact.note.seq;
        Some(Stay { tank: told.from_tank.clone(), from, to: None, put_by: seq, out_by: None })
    }

    /// Whether a case, an animal or a group was in that tank at some time from `from` until before `until`; a
    /// case also before it was found there.
    #[must_use]
    pub fn stood_in(&self, id: &Subject, tank: &Subject, from: Instant, until: Instant) -> bool {
        self.stays(id).iter().any(|stay| stay.tank == *tank && stay.from < until && stay.to.is_none_or(|to| from < to))
    }

    /// Cases, animals or groups that were in a tank at `time`.
    pub(super) fn living_in(&self, tank: &Subject, noun: &str, time: Instant) -> BTreeSet<Subject> {
        let seen = self.seen_in(tank);
        let of_noun = seen.iter().filter(|subject| subject.noun() == noun);
        of_noun.filter(|subject| self.stays(subject).iter().any(|stay| stay.tank == *tank && stay.covers(time))).cloned().collect()
    }

    /// Cases and animals that were ever in a tank, or in a tank of a system.
    pub(super) fn residents_ever(&self, housing: &Subject) -> BTreeSet<Subject> {
        let tanks = match housing.noun() {
            "tank" => vec![housing.clone()],
            "system" => self.tanks_ever(housing),
            _ => Vec::new(),
        };
        let seen = tanks.iter().flat_map(|tank| (*self.seen_in(tank)).clone());
        seen.filter(|subject| matches!(subject.noun(), "egg" | "animal" | "group")).collect()
    }

    fn tanks_ever(&self, system: &Subject) -> Vec<Subject> {
        let facts = self.facts_but_routine(system);
        facts.iter().map(|fact| fact.subject()).filter(|subject| subject.noun() == "tank").cloned().collect()
    }

    /// The place within its tank in which a case is.
    pub(super) fn place_within(&self, id: &Subject, facts: &[Fact<'a>], fate: &EggFate) -> Option<Subject> {
        let ended = fate.when().is_some();
        let last = facts.iter().rev().find(|fact| matches!(step(fact, id), Step::In(_)))?;
        match last.told() {
            Told::Moved(told) if !ended => told.place.clone(),
            _ => None,
        }
    }
}
