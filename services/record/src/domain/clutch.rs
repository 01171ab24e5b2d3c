//! The fold of a clutch, and what it says to its cases.

use super::discrepancy::{Discrepancy, odd};
use super::egg::EggFold;
use super::state::{Clutch, ParentStatus, Parentage};
use super::told::eggs::ClutchFormed;
use super::told::{EggNote, Told};
use super::view::{Fact, View};
use selachron_schemas::names::Subject;

impl<'a> View<'a> {
    /// Folds the notes about a clutch.
    pub(super) fn fold_clutch(&self, id: &Subject, facts: &[Fact<'a>]) -> (Option<Clutch>, Vec<Discrepancy>) {
        let own: Vec<&Fact<'a>> = facts.iter().filter(|fact| fact.subject() == id && !matches!(fact.told(), Told::Endorsed(_))).collect();
        let mut found = Vec::new();
        let Some(first) = self.came_first(id, &own, Fact::creates_subject, &mut found) else { return (None, found) };
        let Some(told) = formed(first) else { return (None, found) };
        let clutch = Clutch {
            id: id.clone(),
            label: told.label.clone(),
            formed: first.moment(),
            eggs: told.eggs.clone(),
            basis: told.basis.clone(),
            dam: told.dam.clone().unwrap_or_default(),
            sire: told.sire.clone().unwrap_or_default(),
            discrepancies: Vec::new(),
        };
        (Some(clutch), found)
    }
}

fn formed<'f>(fact: &'f Fact<'_>) -> Option<&'f ClutchFormed> {
    match fact.told() {
        Told::EggNote(EggNote::ClutchFormed(told)) => Some(told),
        _ => None,
    }
}

impl<'a> EggFold<'_, 'a> {
    /// What clutches say of a case of theirs, where it says nothing of its own.
    pub(super) fn in_clutches(&mut self, facts: &[Fact<'a>]) {
        let mut told_at = self.seqs.came;
        for fact in facts {
            let Some(told) = formed(fact).filter(|told| told.eggs.contains(&self.egg.id)) else { continue };
            if self.egg.clutch.as_ref().is_some_and(|clutch| clutch != fact.subject()) {
                let says = "Two notes put this case into two clutches; the earlier one is taken.".to_owned();
                self.find(odd::IN_TWO_CLUTCHES, &[told_at, fact.note.seq], says);
                continue;
            }
            told_at = fact.note.seq;
            self.egg.clutch = Some(fact.subject().clone());
            fill(&mut self.egg.dam, told.dam.as_ref());
            fill(&mut self.egg.sire, told.sire.as_ref());
        }
    }
}

/// A parent of whom the case itself says nothing.
fn fill(parent: &mut Parentage, said: Option<&Parentage>) {
    if let Some(said) = said.filter(|_| parent.status == ParentStatus::Unknown && parent.basis.is_none()) {
        *parent = said.clone();
    }
}
