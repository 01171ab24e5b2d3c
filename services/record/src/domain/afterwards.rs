//! Post-mortems and carcasses, of animals and of cases. A cause as determined comes only from a
//! veterinarian's or a laboratory's key; whatever else is said stays what it is, an opinion.

use super::discrepancy::{Discrepancy, odd};
use super::note::Note;
use super::state::{Afterwards, Said};
use super::told::AnimalNote;
use super::view::{Fact, View};
use selachron_schemas::names::Subject;
use selachron_schemas::replay::keys::Role;

/// Roles whose word determines a cause.
pub(super) const DETERMINE: [Role; 2] = [Role::Veterinarian, Role::Laboratory];

impl<'a> View<'a> {
    /// Takes what a note says of a body into `after`; gives what is odd about it.
    pub(super) fn afterwards(
        &self,
        fact: &Fact<'a>,
        note: &AnimalNote,
        id: &Subject,
        dead: bool,
        after: &mut Afterwards,
    ) -> Vec<Discrepancy> {
        let mut found = Vec::new();
        let mut find = |kind, says: &str| found.push(self.discrepancy(kind, &[fact.note.seq], [id.clone()], says.to_owned()));
        match note {
            AnimalNote::Necropsy(told) => {
                match &told.cause_determined {
                    Some(cause) if self.signed_with(fact.note, &DETERMINE) => after.cause_determined = Some(cause.clone()),
                    Some(_) => find(odd::CAUSE_UNSIGNED, "A cause as determined, and neither veterinarian nor laboratory has signed."),
                    None => {}
                }
                after.necropsies.push(said(fact, (**told).clone()));
            }
            AnimalNote::CarcassKept(told) => {
                if !after.disposed.is_empty() {
                    find(odd::KEPT_AFTER_DISPOSAL, "The body is kept, after it was disposed of.");
                }
                after.kept.push(said(fact, told.clone()));
            }
            AnimalNote::CarcassDisposed(told) => after.disposed.push(said(fact, told.clone())),
            _ => return found,
        }
        if !dead {
            find(odd::BODY_OF_LIVING, "It tells of a body, and no death is noted.");
        }
        found
    }
}

/// What a fact says, with when and by whom.
pub(super) fn said<T>(fact: &Fact<'_>, told: T) -> Said<T> {
    Said { when: fact.moment(), person: author(fact.note), told }
}

fn author(note: &Note) -> Option<String> {
    note.person().map(str::to_owned)
}
