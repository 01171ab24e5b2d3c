//! Whether an animal was there to be put in a group, asked of its notes without folding it whole: a
//! group and an animal told apart from it would otherwise ask each other for ever. It goes the way of
//! the animal's own fold.

use super::state::LifeState;
use super::told::{AnimalNote, GroupNote, Told};
use super::view::{Fact, View};
use selachron_schemas::names::Subject;

/// Where an animal stands between two notes.
#[derive(Clone, Copy, PartialEq)]
enum Standing {
    NotYet,
    Here,
    /// Missing or at large.
    Away,
    Left,
    /// Dead, or counted in a group already: nothing changes that.
    Ended,
}

impl Standing {
    fn after(self, fact: &Fact<'_>, id: &Subject) -> Self {
        match (self, fact.told()) {
            (Self::NotYet, Told::EggHatched(hatch)) => match hatch.young.iter().find(|young| young.animal == *id) {
                Some(young) => Self::came(young.state != LifeState::Alive),
                None => self,
            },
            (Self::Here | Self::Away, Told::House(_)) if fact.sends(id).is_some() => Self::Left,
            _ if fact.subject() != id => self,
            (Self::NotYet, Told::AnimalReceived(told)) => Self::came(told.state == LifeState::Dead),
            (Self::NotYet, _) if fact.creates_subject() => Self::Here,
            (Self::Here | Self::Away, Told::AnimalDied(_) | Told::GroupNote(GroupNote::Grouped(_))) => Self::Ended,
            (Self::Here | Self::Away, Told::AnimalDeparted(_)) => Self::Left,
            (Self::Left, Told::AnimalNote(AnimalNote::Returned(_))) => Self::Here,
            (Self::Here, Told::AnimalNote(AnimalNote::Missing(_) | AnimalNote::Escaped(_))) => Self::Away,
            (Self::Away, Told::AnimalNote(AnimalNote::Found(_) | AnimalNote::Recaptured(_))) => Self::Here,
            _ => self,
        }
    }

    fn came(dead: bool) -> Self {
        if dead { Self::Ended } else { Self::Here }
    }
}

impl View<'_> {
    /// Whether the animal was there, or only missing, when it was put in a group.
    pub(super) fn was_there(&self, id: &Subject, put_in: &Fact<'_>) -> bool {
        let facts = self.facts_but_routine(id);
        let came = facts.iter().map(|fact| Standing::NotYet.after(fact, id)).find(|standing| *standing != Standing::NotYet);
        let earlier = facts.iter().take_while(|fact| (fact.time(), fact.note.seq) < (put_in.time(), put_in.note.seq));
        let standing = earlier.fold(came.unwrap_or(Standing::NotYet), |standing, fact| standing.after(fact, id));
        matches!(standing, Standing::Here | Standing::Away)
    }
}
