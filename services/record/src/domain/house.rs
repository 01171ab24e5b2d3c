//! What the folds of the house share: its notes about one subject, and picking out of them.

use super::discrepancy::{Discrepancy, odd};
use super::state::Noted;
use super::told::Told;
use super::told_house::House;
use super::view::{Fact, View};
use selachron_schemas::names::Subject;

/// Picks the data of one kind.
macro_rules! of {
    ($name:ident) => {
        |house: &$crate::domain::told_house::House| match house {
            $crate::domain::told_house::House::$name(told) => Some((**told).clone()),
            _ => None,
        }
    };
}
pub(super) use of;

impl Fact<'_> {
    /// Its data, if it is a note of the house.
    pub fn house(&self) -> Option<&House> {
        match self.told() {
            Told::House(house) => Some(house),
            _ => None,
        }
    }

    /// What one kind says, with when and by which note.
    pub(super) fn noted<T>(&self, pick: impl Fn(&House) -> Option<T>) -> Option<Noted<T>> {
        Some(Noted { when: self.moment(), told: pick(self.house()?)? })
    }
}

/// What the notes of one kind say, in their order.
pub(super) fn every<'f, T>(facts: &'f [Fact<'f>], pick: impl Fn(&House) -> Option<T> + 'f) -> impl Iterator<Item = Noted<T>> + 'f {
    facts.iter().filter_map(move |fact| fact.noted(&pick))
}

/// What the newest note of one kind says.
pub(super) fn newest<T>(facts: &[Fact<'_>], pick: impl Fn(&House) -> Option<T>) -> Option<Noted<T>> {
    facts.iter().rev().find_map(|fact| fact.noted(&pick))
}

impl<'a> View<'a> {
    /// Notes of the house about a subject, but for routine ones, in order of (time, seq). They are
    /// indexed apart: a tank is named by thousands of others.
    pub(super) fn house_facts(&self, id: &Subject) -> Vec<Fact<'a>> {
        let listed = self.nursery().index().house.get(id).into_iter().flatten();
        let mut facts: Vec<Fact<'a>> = listed.filter_map(|seq| self.fact(*seq)).filter(|fact| fact.subject() == id).collect();
        facts.sort_by_key(|fact| (fact.time(), fact.note.seq));
        facts
    }

    /// The newest routine note of one kind about a tank.
    pub(super) fn newest_routine<T>(&self, id: &Subject, pick: impl Fn(&House) -> Option<T>) -> Option<Noted<T>> {
        let mentions = self.nursery().index().mentions.get(id)?;
        let known = mentions.routine.iter().filter(|mention| mention.since < self.known_at());
        let facts = known.filter_map(|mention| self.fact(mention.seq)).filter(|fact| fact.subject() == id && fact.house().is_some());
        let told = facts.filter_map(|fact| Some(((fact.time(), fact.note.seq), fact.noted(&pick)?)));
        told.max_by_key(|(order, _)| *order).map(|(_, noted)| noted)
    }

    /// How something of the house came, with its facts; what is odd about that is found.
    pub(super) fn house_came<T>(
        &self,
        id: &Subject,
        facts: &[Fact<'a>],
        pick: impl Fn(&House) -> Option<T>,
        found: &mut Vec<Discrepancy>,
    ) -> Option<Noted<T>> {
        let own: Vec<&Fact<'a>> = facts.iter().collect();
        self.came_first(id, &own, Fact::creates_subject, found)?.noted(pick)
    }

    /// Of notes that can come once, those after the first.
    pub(super) fn closed_twice(&self, id: &Subject, facts: &[Fact<'a>], closes: impl Fn(&House) -> bool, found: &mut Vec<Discrepancy>) {
        let closing: Vec<&Fact<'a>> = facts.iter().filter(|fact| fact.house().is_some_and(&closes)).collect();
        for again in closing.iter().skip(1) {
            let says = format!("{} is closed by two notes; the earlier one is taken.", self.called(id));
            found.push(self.discrepancy(odd::CLOSED_TWICE, &[closing[0].note.seq, again.note.seq], [id.clone()], says));
        }
    }
}
