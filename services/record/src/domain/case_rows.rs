//! The cases as rows of a survival table, by the rules that all sides share
//! ([`selachron_schemas::fates`]): what stands at (V, S) is handed to them, and nothing is decided here.

use super::note::map_of;
use super::state::EventId;
use super::told::Told;
use super::view::{Fact, View};
use selachron_schemas::fates::of_log::Standing;
use selachron_schemas::fates::{Case, Fate, encode, of_standing};
use selachron_schemas::limits::CASE_NOTES_AT_ONCE;
use selachron_schemas::names::Subject;
use serde_json::{Map, Value, json};
use std::collections::{BTreeMap, BTreeSet};

/// The rows of all cases that have an age.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct CaseRows {
    /// By case.
    pub rows: BTreeMap<Subject, Fate>,
    /// Cases of which nobody knows when they were laid: no age, no row.
    pub without_age: BTreeSet<Subject>,
}

/// Some cases, with what their rows are made from.
#[derive(Default)]
struct Batch<'a> {
    eggs: BTreeSet<&'a str>,
    notes: BTreeMap<u64, Standing>,
    tanks: BTreeSet<Subject>,
}

impl<'a> View<'a> {
    /// The rows of all cases as they stand at the end of V's day, V itself included.
    #[must_use]
    pub fn case_rows(&self) -> CaseRows {
        self.case_rows_by(CASE_NOTES_AT_ONCE)
    }

    /// The same, with about so many notes held at once: a case has its row from its own notes and the searches
    /// of its tank alone.
    #[must_use]
    pub fn case_rows_by(&self, notes_at_once: usize) -> CaseRows {
        let mut all = CaseRows::default();
        let mut batch = Batch::default();
        for egg in self.subjects("egg") {
            for fact in self.facts(egg) {
                if let Told::EggCollected(told) = fact.told() {
                    batch.tanks.insert(told.from_tank.clone());
                }
                batch.notes.entry(fact.note.seq).or_insert_with(|| standing(&fact));
            }
            batch.eggs.insert(egg.as_str());
            if batch.notes.len() >= notes_at_once {
                self.rows_of(std::mem::take(&mut batch), &mut all);
            }
        }
        self.rows_of(batch, &mut all);
        all
    }

    fn rows_of(&self, batch: Batch<'_>, all: &mut CaseRows) {
        let searches = batch.tanks.iter().flat_map(|tank| self.whole_searches_of(tank));
        let found = of_standing(batch.notes.into_values().chain(searches).collect(), self.zone());
        let today = self.day(self.as_of());
        // A note can name cases beside these, of which the others are not here.
        let row = |case: &Case| Some((Subject::parse(&case.egg)?, encode(case, today)?));
        all.rows.extend(found.cases.iter().filter(|case| batch.eggs.contains(&*case.egg)).filter_map(row));
        let without_age = found.without_age.iter().filter(|egg| batch.eggs.contains(egg.as_str()));
        all.without_age.extend(without_age.filter_map(|egg| Subject::parse(egg)));
    }

    fn whole_searches_of(&self, tank: &Subject) -> Vec<Standing> {
        let whole: Map<String, Value> = json!({"whole_tank": true}).as_object().cloned().unwrap_or_default();
        let searches = self.whole_searches(tank).into_iter();
        let note = |(time, event): (_, EventId)| Standing {
            id: event.to_string(),
            kind: "tank.searched.v1".to_owned(),
            seq: 0,
            time,
            timeafter: None,
            subject: tank.clone(),
            data: whole.clone(),
        };
        searches.map(note).collect()
    }
}

fn standing(fact: &Fact<'_>) -> Standing {
    Standing {
        id: fact.note.id.to_string(),
        kind: fact.note.kind.to_string(),
        seq: fact.note.seq,
        time: fact.value.time,
        timeafter: fact.value.timeafter,
        subject: (*fact.value.subject).clone(),
        data: map_of(&fact.value.data),
    }
}
