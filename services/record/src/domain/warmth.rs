//! At which temperatures a case was kept: the readings of the tanks in which it stood, and of their
//! water, while it stood there.

use super::state::EventId;
use super::told::Told;
use super::view::View;
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use std::collections::BTreeMap;

/// A reading of temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Warmth {
    /// When it was read.
    pub time: Instant,
    /// In °C, as read.
    pub temperature_c: f64,
    /// The note.
    pub event: EventId,
}

/// Readings by tank or system, each in order of time; asked for once for many cases.
#[derive(Debug, Default)]
pub struct Readings(BTreeMap<Subject, Vec<Warmth>>);

impl View<'_> {
    /// The readings along the stays of a case or an animal, in order of time. Those of the tank come
    /// before those of its system; readings at one moment are all given.
    #[must_use]
    pub fn warmth_along(&self, id: &Subject, known: &mut Readings) -> Vec<Warmth> {
        let mut found: Vec<Warmth> = Vec::new();
        for stay in self.stays(id).iter() {
            let to = stay.to.unwrap_or(self.as_of());
            let waters = [Some(stay.tank.clone()), self.system_at(&stay.tank, stay.from)];
            for water in waters.into_iter().flatten() {
                let read = known.0.entry(water.clone()).or_insert_with(|| self.warmth_of(&water));
                let from = read.partition_point(|reading| reading.time < stay.from);
                found.extend(read[from..].iter().take_while(|reading| reading.time <= to).copied());
            }
        }
        found.sort_by_key(|reading| (reading.time, reading.event));
        found.dedup_by_key(|reading| reading.event);
        found
    }

    fn warmth_of(&self, water: &Subject) -> Vec<Warmth> {
        let Some(mentions) = self.nursery().index().mentions.get(water) else { return Vec::new() };
        let known = mentions.routine.iter().filter(|mention| mention.since < self.known_at());
        let facts = known.filter_map(|mention| self.fact(mention.seq)).filter(|fact| fact.subject() == water);
        let mut found: Vec<Warmth> = facts
            .filter_map(|fact| match fact.told() {
                Told::WaterMeasured(told) => Some(Warmth { time: fact.time(), temperature_c: told.temperature_c?, event: fact.note.id }),
                _ => None,
            })
            .collect();
        found.sort_by_key(|reading| (reading.time, reading.event));
        found
    }
}
