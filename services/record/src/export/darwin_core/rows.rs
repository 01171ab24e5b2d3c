//! What stands in the tables of the archive.

use super::For;
use super::terms::{BASIS, CAPTIVE, PATHWAY, WITHHELD};
use crate::domain::parents::Parent;
use crate::domain::state::{Animal, AnimalOrigin, Measure, ParentStatus, Sex};
use crate::domain::view::View;
use crate::export::cell::row;
use crate::export::shape::Row;
use crate::export::tables::animals::{came, fate_word};
use crate::export::tables::scientific_name;
use selachron_schemas::names::Subject;

/// How things are named outside, and what may be said.
pub struct Naming<'a> {
    /// The log's origin.
    pub origin: &'a str,
    /// For whom.
    pub wanted: &'a For,
}

impl Naming<'_> {
    /// A thing as an address: nothing need answer there.
    fn address(&self, id: &Subject) -> String {
        format!("https://{}/{id}", self.origin)
    }

    /// The row of an animal.
    #[must_use]
    pub fn occurrence(&self, view: &View<'_>, animal: &Animal) -> Row {
        let (address, name) = (self.address(&animal.id), scientific_name(view, animal.species.as_ref()));
        let nameless = name.is_none().then_some("no note that stands says the species");
        let sex = match animal.sex {
            Sex::Male => Some("male"),
            Sex::Female => Some("female"),
            Sex::Unknown => None,
        };
        // What a key under suspicion wrote is marked wherever it is read (F11).
        let doubt = if view.suspected_behind(&animal.id) > 0 { "; a note behind it is by a key that was suspected then" } else { "" };
        let how = format!("{}; {}{doubt}", came(&animal.origin).word.replace('_', " "), fate_word(&animal.fate).replace('_', " "));
        row![
            address.as_str(),
            address.as_str(),
            animal.label.as_ref(),
            BASIS,
            self.wanted.target.present(),
            CAPTIVE,
            PATHWAY,
            "Animalia",
            name,
            nameless,
            sex,
            1_usize,
            when(view, animal),
            how,
            self.wanted.country.as_ref(),
            WITHHELD
        ]
    }

    /// The rows of an animal's measures.
    #[must_use]
    pub fn measures(&self, view: &View<'_>, animal: &Animal) -> Vec<Row> {
        animal.measures.iter().flat_map(|measure| self.measured(view, animal, measure)).collect()
    }

    fn measured(&self, view: &View<'_>, animal: &Animal, measure: &Measure) -> Vec<Row> {
        let length = match measure.length_basis.as_deref() {
            Some("total") => "total length",
            Some("disc width") => "disc width",
            _ => "length",
        };
        let of = [
            ("length", length, measure.length_cm, "cm", measure.length_how.as_ref()),
            ("mass", "mass", measure.mass_g, "g", measure.mass_how.as_ref()),
        ];
        let row = |(which, kind, value, unit, how): (&str, &str, Option<f64>, &str, Option<&String>)| {
            let id = format!("{}#{}/{which}", self.address(&animal.id), measure.when.event);
            value.map(|value| row![self.address(&animal.id), id, kind, value, unit, view.day(measure.when.time).to_string(), how])
        };
        of.into_iter().filter_map(row).collect()
    }

    /// The rows of an animal's parents: those known, and those who may be.
    #[must_use]
    pub fn relations(&self, view: &View<'_>, animal: &Animal) -> Vec<Row> {
        let parents = view.parents(animal);
        [("dam", &parents.dam), ("sire", &parents.sire)]
            .into_iter()
            .flat_map(|(which, parent)| self.related(animal, which, parent))
            .collect()
    }

    fn related(&self, animal: &Animal, which: &str, parent: &Parent) -> Vec<Row> {
        let known = parent.status == ParentStatus::Known;
        let relation = if known { "offspring of" } else { "possibly offspring of" };
        // What a parent rests on is free text and may name places and people, which every row says are withheld.
        let row = |one: &crate::domain::parents::Weighed| {
            let share = if known { "known".to_owned() } else { format!("candidate, weight {}", one.weight) };
            let id = format!("{}#{which}/{}", self.address(&animal.id), one.animal);
            row![self.address(&animal.id), id, relation, self.address(&one.animal), format!("{which}, {share}")]
        };
        parent.animals.iter().map(row).collect()
    }
}

/// When it came: a day, or two days between which it was.
fn when(view: &View<'_>, animal: &Animal) -> String {
    let came = animal.known_since();
    let day = view.day(came.time);
    let after = match &animal.origin {
        AnimalOrigin::Hatched { .. } => animal.hatched_after().map(|closed| closed.time),
        _ => came.timeafter,
    };
    let after = after.map(|after| view.day(after)).filter(|after| *after < day);
    after.map_or_else(|| day.to_string(), |after| format!("{after}/{day}"))
}
