//! The record as plain tables, for whoever computes with other tools: what stands at (V, S), one file
//! a table. Names are ours, with units in them; vocabularies are those of `schemas/v1`.
//!
//! * [`eggs`]: cases, looks at them, openings, clutches;
//! * [`animals`]: animals, their measures and feedings, and what comes and goes;
//! * [`house`]: species, systems, tanks, groups and readings of water;
//! * [`record`]: the notes themselves, keys, and what is at odds.

pub mod eggs;

pub mod animals;

pub mod house;

pub mod record;

use super::cell::{Cell, IntoCell as _};
use super::folder::Table;
use crate::domain::state::{Moment, Species};
use crate::domain::view::View;
use selachron_schemas::names::Subject;
use serde::Serialize;
use serde_json::Value;

/// All tables, in the order in which they are read.
pub const TABLES: [Table; 17] = [
    house::SPECIES,
    house::SYSTEMS,
    house::TANKS,
    eggs::CLUTCHES,
    eggs::EGGS,
    eggs::LOOKS,
    eggs::OPENINGS,
    animals::ANIMALS,
    animals::MEASUREMENTS,
    animals::FEEDINGS,
    animals::TRANSFERS,
    house::GROUPS,
    house::WATER_READINGS,
    record::NOTES,
    record::KEYS,
    record::DISCREPANCIES,
    record::PARENTS,
];

/// The word of a vocabulary that a value is written as.
pub(super) fn word(value: &impl Serialize) -> Cell {
    match serde_json::to_value(value) {
        Ok(Value::String(word)) => word.as_str().cell(),
        _ => Cell::Absent,
    }
}

/// When something was, and after when: two cells.
pub(super) fn when(moment: Option<Moment>) -> (Cell, Cell) {
    (moment.map(|moment| moment.time).cell(), moment.and_then(|moment| moment.timeafter).cell())
}

/// The scientific name of a species, as the collection lists it.
pub(super) fn scientific_name(view: &View<'_>, species: Option<&Subject>) -> Option<String> {
    species.and_then(|id| view.species(id)).map(|species: Species| species.scientific_name)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn tables_and_their_columns_have_names_of_their_own() {
        let names: BTreeSet<&str> = TABLES.iter().map(|table| table.shape.name).collect();
        assert_eq!(names.len(), TABLES.len());
        for table in TABLES {
            let columns: BTreeSet<&str> = table.shape.columns.iter().map(|column| column.name).collect();
            assert_eq!(columns.len(), table.shape.columns.len(), "{}", table.shape.name);
            assert!(!table.shape.key.is_empty() && table.shape.key.iter().all(|key| columns.contains(key)), "{}", table.shape.name);
            for (from, to, there) in table.shape.refers {
                let other = TABLES.iter().find(|other| other.shape.name == *to).expect("a table");
                assert!(columns.contains(from) && other.shape.columns.iter().any(|column| column.name == *there));
            }
        }
    }
}
