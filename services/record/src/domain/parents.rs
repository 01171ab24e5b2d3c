//! Who the parents of an animal are, said one way for every reader: the studbook, the pedigree and
//! its figures. The state is a word; there is no stand-in code for a parent whom nobody knows.

use super::state::{Animal, AnimalOrigin, Candidate, Egg, EventId, ParentStatus, Parentage};
use super::told::Told;
use super::view::{Fact, View};
use selachron_schemas::names::Subject;
use serde::Serialize;
use utoipa::ToSchema;

/// Both parents of an animal.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Parents {
    /// The mother.
    pub dam: Parent,
    /// The father.
    pub sire: Parent,
}

/// One parent, with what it rests on.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Parent {
    /// `known`, `candidates`, `unknown`, `none`, `wild_caught`.
    pub status: ParentStatus,
    /// One animal if known, one or more if candidates; their weights are above 0 and sum to 1.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub animals: Vec<Weighed>,
    /// What it rests on, in words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub basis: Option<String>,
    /// The notes that say so.
    #[schema(value_type = Vec<String>)]
    pub events: Vec<EventId>,
}

/// An animal that is, or may be, the parent.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Weighed {
    /// The animal.
    #[schema(value_type = String)]
    pub animal: Subject,
    /// Share of the parentage: 1 of a known parent.
    pub weight: f64,
}

impl Parent {
    /// The parent, where it is known.
    #[must_use]
    pub fn known(&self) -> Option<&Subject> {
        self.animals.first().filter(|_| self.status == ParentStatus::Known).map(|one| &one.animal)
    }

    fn of(told: &Parentage, events: Vec<EventId>) -> Self {
        Self { status: told.status, animals: weighed(&told.animals), basis: told.basis.clone(), events }
    }
}

impl ParentStatus {
    /// Its word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Known => "known",
            Self::Candidates => "candidates",
            Self::Unknown => "unknown",
            Self::None => "none",
            Self::WildCaught => "wild_caught",
        }
    }
}

impl View<'_> {
    /// The parents of an animal as its fold has them ([`Animal::dam`], [`Animal::sire`]), with weights
    /// that sum to 1 and the notes behind. Of an animal taken from the wild of whose parents nothing is
    /// told, they are `wild_caught`.
    #[must_use]
    pub fn parents(&self, animal: &Animal) -> Parents {
        Parents { dam: self.parent(animal, &animal.dam, Side::Dam), sire: self.parent(animal, &animal.sire, Side::Sire) }
    }

    /// The parents of a case, with the note by which it came.
    #[must_use]
    pub fn parents_of_case(&self, egg: &Egg) -> Parents {
        let parent = |told: &Parentage| {
            let events = if *told == Parentage::default() { Vec::new() } else { vec![egg.came.event] };
            Parent::of(told, events)
        };
        Parents { dam: parent(&egg.dam), sire: parent(&egg.sire) }
    }

    fn parent(&self, animal: &Animal, told: &Parentage, side: Side) -> Parent {
        let mut parent = Parent::of(told, self.behind_parent(animal, told, side));
        if is_wild(animal) && parent.status == ParentStatus::Unknown && parent.basis.is_none() {
            parent.status = ParentStatus::WildCaught;
            parent.events = vec![animal.came.event];
        }
        parent
    }

    /// The claims that say just this; without any, the note by which the animal came, or the one by
    /// which its case did.
    fn behind_parent(&self, animal: &Animal, told: &Parentage, side: Side) -> Vec<EventId> {
        let claims = animal.parentage_claims.iter().filter(|claim| side.of(&claim.told.dam, &claim.told.sire) == Some(told));
        let claims: Vec<EventId> = claims.map(|claim| claim.when.event).collect();
        if !claims.is_empty() || *told == Parentage::default() {
            return claims;
        }
        let of_young = |fact: &Fact<'_>| match fact.told() {
            Told::EggHatched(hatch) => {
                let young = hatch.young.iter().find(|young| young.animal == animal.id);
                young.is_some_and(|young| side.of(&young.dam, &young.sire).is_some())
            }
            _ => true,
        };
        match &animal.origin {
            AnimalOrigin::Hatched { egg, .. } if !self.creations(&animal.id).iter().any(of_young) => {
                self.creations(egg).first().map(|fact| fact.moment().event).into_iter().collect()
            }
            _ => vec![animal.came.event],
        }
    }
}

/// Which parent.
#[derive(Clone, Copy)]
enum Side {
    Dam,
    Sire,
}

impl Side {
    fn of<'p>(self, dam: &'p Option<Parentage>, sire: &'p Option<Parentage>) -> Option<&'p Parentage> {
        match self {
            Self::Dam => dam.as_ref(),
            Self::Sire => sire.as_ref(),
        }
    }
}

fn is_wild(animal: &Animal) -> bool {
    matches!(&animal.origin, AnimalOrigin::Received { origin, .. } if origin == "wild")
}

/// Weights that sum to 1. Candidates without a weight share alike what the others leave; where these
/// leave nothing, all count alike, for a candidate is never ruled out by arithmetic.
fn weighed(candidates: &[Candidate]) -> Vec<Weighed> {
    let told: f64 = candidates.iter().filter_map(|one| one.weight).sum();
    let open = candidates.iter().filter(|one| one.weight.is_none()).count();
    let left = 1.0 - told;
    let alike = open > 0 && left <= 0.0;
    let raw = |one: &Candidate| match one.weight {
        _ if alike => 1.0,
        Some(weight) => weight,
        None => left / open as f64,
    };
    let sum: f64 = candidates.iter().map(raw).sum();
    candidates.iter().map(|one| Weighed { animal: one.animal.clone(), weight: raw(one) / sum }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn candidate(number: u8, weight: Option<f64>) -> Candidate {
        let animal = Subject::parse(&format!("animal/01JDH3G6C0ANMA01000000000{number}")).expect("a subject");
        Candidate { animal, weight }
    }

    fn weights(told: &[Option<f64>]) -> Vec<f64> {
        let candidates: Vec<Candidate> = (0..).zip(told).map(|(number, weight)| candidate(number, *weight)).collect();
        weighed(&candidates).into_iter().map(|one| (one.weight * 1e6).round() / 1e6).collect()
    }

    #[test]
    fn weights_sum_to_one() {
        assert_eq!(weights(&[None]), [1.0]);
        assert_eq!(weights(&[None, None]), [0.5, 0.5]);
        assert_eq!(weights(&[Some(0.6), None, None]), [0.6, 0.2, 0.2]);
        assert_eq!(weights(&[Some(0.2), Some(0.2)]), [0.5, 0.5]);
        assert_eq!(weights(&[Some(1.0), None]), [0.5, 0.5]);
        assert_eq!(weights(&[]), [0.0; 0]);
    }
}
