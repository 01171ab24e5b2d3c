//! What is done to tanks and systems: checks, feedings, light, water, equipment, and which water
//! a tank has.

use super::discrepancy::{Discrepancy, odd};
use super::house::{newest, of};
use super::housing::Residents;
use super::state::{Care, EquipmentFaulted, EquipmentRestored, FoodReceived, Noted, PlaceWithin, TankChecked, TankFed};
use super::told::Told;
use super::told_house::House;
use super::view::{Fact, View};
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use std::sync::Arc;

/// Since when a tank has which system's water; `None`: its own.
pub(super) type Waters = Arc<Vec<(Instant, Option<Subject>)>>;

impl<'a> View<'a> {
    /// The newest of what is done to a tank or system, and what is open about it.
    pub(super) fn care(&self, id: &Subject, residents: &Residents) -> Care {
        let facts = self.house_facts(id);
        let of_tank = id.noun() == "tank";
        Care {
            last_check: self.newest_routine(id, of!(TankChecked)),
            last_fed: self.newest_routine(id, of!(TankFed)),
            light: newest(&facts, of!(LightSet)),
            diet: newest(&facts, of!(DietSet)),
            last_water_change: newest(&facts, of!(WaterChanged)),
            open_faults: self.open_faults(&facts).0,
            quarantine: self.quarantine_at(id, self.as_of()).map(|(quarantine, _)| quarantine),
            places: if of_tank { self.places_in(id, residents) } else { Vec::new() },
            retired: newest(&facts, of!(Retired)),
        }
    }

    /// Faults that nobody has ended, and notes that end none.
    pub(super) fn open_faults(&self, facts: &[Fact<'a>]) -> (Vec<Noted<EquipmentFaulted>>, Vec<u64>) {
        let (mut open, mut idle): (Vec<Noted<EquipmentFaulted>>, Vec<u64>) = (Vec::new(), Vec::new());
        for fact in facts {
            match fact.house() {
                Some(House::EquipmentFaulted(_)) => open.extend(fact.noted(of!(EquipmentFaulted))),
                Some(House::EquipmentRestored(done)) => {
                    let before = open.len();
                    open.retain(|fault| !ends(done, &fault.told));
                    if open.len() == before {
                        idle.push(fact.note.seq);
                    }
                }
                _ => {}
            }
        }
        (open, idle)
    }

    /// What is at odds about the care of a tank or system.
    pub(super) fn odd_care(&self, id: &Subject, found: &mut Vec<Discrepancy>) {
        for seq in self.open_faults(&self.house_facts(id)).1 {
            let says = "The note says that equipment works again, and no open fault of it is noted.".to_owned();
            found.push(self.discrepancy(odd::RESTORED_NO_FAULT, &[seq], [id.clone()], says));
        }
        self.odd_quarantine(id, found);
        let mentions = self.nursery().index().mentions.get(id);
        let routine = mentions.into_iter().flat_map(|mentions| &mentions.routine).filter(|mention| mention.since < self.known_at());
        routine.for_each(|mention| self.odd_routine(id, mention.seq, found));
    }

    /// What is at odds about one daily check or feeding of a tank.
    pub(super) fn odd_routine(&self, id: &Subject, seq: u64, found: &mut Vec<Discrepancy>) {
        let Some(fact) = self.fact(seq).filter(|fact| fact.subject() == id) else { return };
        match fact.house() {
            Some(House::TankChecked(told)) => self.odd_count(id, &fact, told, found),
            Some(House::TankFed(told)) => self.odd_batch(id, &fact, told, found),
            _ => {}
        }
    }

    /// A count of the whole tank against what the record has in it at that moment. A smaller count
    /// is no death: what is missing is looked for (DOMAIN section 7).
    fn odd_count(&self, id: &Subject, fact: &Fact<'a>, told: &TankChecked, found: &mut Vec<Discrepancy>) {
        if told.whole_tank != Some(true) {
            return;
        }
        for (noun, words, seen) in [("animal", "animals", told.animals_seen), ("egg", "cases", told.cases_seen)] {
            let Some(seen) = seen.map(|count| count.0) else { continue };
            let grouped = if noun == "animal" { self.counted_in(id, fact.time()) } else { 0 };
            let there = self.living_in(id, noun, fact.time()).len() as u64 + grouped;
            let kind = match seen.cmp(&there) {
                std::cmp::Ordering::Less => odd::FEWER_SEEN,
                std::cmp::Ordering::Greater => odd::MORE_SEEN,
                std::cmp::Ordering::Equal => continue,
            };
            let says = format!("{seen} {words} were seen in the whole of {}, while the record has {there} there.", self.called(id));
            found.push(self.discrepancy(kind, &[fact.note.seq], [id.clone()], says));
        }
    }

    /// How many animals of groups were in a tank at `time`.
    fn counted_in(&self, tank: &Subject, time: Instant) -> u64 {
        let groups = self.living_in(tank, "group", time);
        let counts = groups.iter().filter_map(|group| self.group_at(group, time)).map(|group| group.counts.total());
        u64::try_from(counts.sum::<i64>()).unwrap_or(0)
    }

    fn odd_batch(&self, id: &Subject, fact: &Fact<'a>, told: &TankFed, found: &mut Vec<Discrepancy>) {
        for batch in told.offered.iter().filter_map(|food| food.from_batch.as_ref()) {
            let Some(came) = self.batch(batch) else { continue };
            let past = came.best_before.as_ref().is_some_and(|last| *last < self.day(fact.time()).to_string());
            let what = match (past, came.accepted) {
                (_, Some(false)) => "was not accepted",
                (true, _) => "was past its date",
                _ => continue,
            };
            let says = format!("Fed from the batch {:?}, which {what}.", came.label);
            found.push(self.discrepancy(odd::BATCH_UNFIT, &[fact.note.seq], [id.clone(), batch.0.clone()], says));
        }
    }

    fn batch(&self, id: &Subject) -> Option<FoodReceived> {
        self.house_facts(id).iter().find_map(|fact| fact.noted(of!(FoodReceived))).map(|noted| noted.told)
    }

    /// Since when a tank has which system's water.
    pub(super) fn waters(&self, tank: &Subject) -> Waters {
        if let Some(known) = self.cache.waters.borrow().get(tank) {
            return known.clone();
        }
        let set_up = self.creations(tank).into_iter().find_map(|fact| match fact.told() {
            Told::TankSetUp(told) => Some((fact.time(), told.system.clone())),
            _ => None,
        });
        let facts = self.house_facts(tank);
        let joined = facts.iter().filter_map(|fact| Some((fact.time(), fact.noted(of!(TankJoined))?.told.system.map(|thing| thing.0))));
        let waters = Arc::new(set_up.into_iter().chain(joined).collect::<Vec<_>>());
        self.cache.waters.borrow_mut().insert(tank.clone(), waters.clone());
        waters
    }

    /// The system whose water a tank has at `time`; before it was set up that of its setting up.
    pub(super) fn system_at(&self, tank: &Subject, time: Instant) -> Option<Subject> {
        let waters = self.waters(tank);
        let at = waters.partition_point(|(since, _)| *since <= time).saturating_sub(1);
        waters.get(at).and_then(|(_, system)| system.clone())
    }

    /// Places in a tank, in the order of a round.
    fn places_in(&self, tank: &Subject, residents: &Residents) -> Vec<PlaceWithin> {
        let listed = self.nursery().index().places.get(tank).into_iter().flatten();
        let ids = listed.filter_map(|seq| self.fact(*seq)).map(|fact| fact.subject().clone());
        let mut places: Vec<PlaceWithin> = ids.filter_map(|id| self.fold_place(&id, residents).0).collect();
        places.retain(|place| place.set_up.told.tank.0 == *tank);
        places.sort_by(|a, b| (a.set_up.told.order.0, &a.id).cmp(&(b.set_up.told.order.0, &b.id)));
        places.dedup_by(|a, b| a.id == b.id);
        places
    }
}

/// Whether this ends that fault. Without a word which one it was, it ends all of the kind.
fn ends(done: &EquipmentRestored, fault: &EquipmentFaulted) -> bool {
    done.equipment == fault.equipment && (done.which.is_none() || done.which == fault.which)
}
