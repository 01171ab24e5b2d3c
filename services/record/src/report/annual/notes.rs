//! The notes by which a case, an animal or a group is counted.

use crate::domain::state::{Absence, Animal, Egg, EventId, Group, Moment};
use std::collections::BTreeSet;

fn events<'m>(moments: impl IntoIterator<Item = Option<Moment>>, absences: impl IntoIterator<Item = &'m Absence>) -> BTreeSet<EventId> {
    let of_absences = absences.into_iter().flat_map(|absence| [Some(absence.since), absence.found, absence.written_off]);
    moments.into_iter().chain(of_absences).flatten().map(|moment| moment.event).collect()
}

/// How a case came, was taken in, was seen alive, was missing, was opened and ended.
pub(super) fn notes_of_case(egg: &Egg) -> BTreeSet<EventId> {
    let moments = [Some(egg.came), egg.taken_in, egg.embryo_seen_alive, egg.fate.when()];
    events(moments.into_iter().chain(egg.openings.iter().map(|opening| Some(opening.when))), &egg.absences)
}

/// How an animal came, was seen alive, was away, was sexed and ended.
pub(super) fn notes_of_animal(animal: &Animal) -> BTreeSet<EventId> {
    let moments = [Some(animal.came), Some(animal.known_since()), animal.fate.when(), animal.last_seen_alive];
    events(moments.into_iter().chain(animal.sexings.iter().map(|sexing| Some(sexing.when))), &animal.absences)
}

/// How a group was formed and what changed its numbers.
pub(super) fn notes_of_group(group: &Group) -> BTreeSet<EventId> {
    let moments = [Some(group.formed), group.last_full_count, group.ended];
    events(moments.into_iter().chain(group.changes.iter().map(|change| Some(change.when))), [])
}
