//! How a discrepancy stands: what was said of it, and by whom. It ends by a correction, which
//! makes it go, or by a signed word of somebody who may settle one of its weight.

use super::discrepancy::{Discrepancy, Explanation, Oddity, Said, Settled, Weight, stable_id};
use super::note::Note;
use super::state::EventId;
use super::told::Told;
use super::view::View;
use selachron_schemas::names::Subject;
use selachron_schemas::replay::keys::Role;
use std::collections::BTreeSet;

/// Whose word settles what needs a person today, and whose endorsement settles anything.
const ANSWERABLE: [Role; 3] = [Role::Curator, Role::Veterinarian, Role::Registrar];
/// Whose word settles the rest.
const COLLEAGUES: [Role; 4] = [Role::Keeper, Role::Curator, Role::Veterinarian, Role::Registrar];

/// Roles whose word settles a discrepancy of that weight.
fn who_settles(weight: Weight) -> &'static [Role] {
    match weight {
        Weight::NeedsAPersonToday => &ANSWERABLE,
        Weight::WhenConvenient | Weight::MendsItself => &COLLEAGUES,
    }
}

impl<'a> View<'a> {
    /// A discrepancy that rests on the notes at `seqs`.
    #[must_use]
    pub fn discrepancy(&self, kind: Oddity, seqs: &[u64], subjects: impl IntoIterator<Item = Subject>, says: String) -> Discrepancy {
        let mut events: Vec<EventId> = seqs.iter().map(|seq| self.nursery().note(*seq).id).collect();
        events.sort_unstable();
        events.dedup();
        let subjects: BTreeSet<Subject> = subjects.into_iter().collect();
        let newest = seqs.iter().copied().max().unwrap_or_default();
        let id = stable_id(kind, &events);
        let (said, mut standing, asked) = self.said_of(&id, kind.weight);
        if standing == Settled::Open && self.endorsed_by_one_of(newest, &ANSWERABLE) {
            standing = Settled::Endorsed;
        }
        let times = seqs.iter().map(|seq| self.fact(*seq).map_or(self.nursery().note(*seq).recorded_at, |fact| fact.time()));
        let suspected = seqs.iter().map(|seq| self.nursery().note(*seq)).filter(|note| self.suspected(note)).map(|note| note.id);
        Discrepancy {
            id,
            kind: kind.words,
            weight: kind.weight,
            subjects: subjects.into_iter().collect(),
            events,
            says,
            since: times.max().unwrap_or(self.as_of()),
            open: matches!(standing, Settled::Open | Settled::Asked),
            standing,
            asked,
            said,
            suspected: suspected.collect::<BTreeSet<EventId>>().into_iter().collect(),
        }
    }

    fn endorsed_by_one_of(&self, seq: u64, roles: &[Role]) -> bool {
        self.endorsements(seq).any(|note| note.author().is_some_and(|author| author.has_one_of(roles)))
    }

    /// What was said of a discrepancy in order of time, how it stands after the last word that
    /// counts, and who was asked by it.
    fn said_of(&self, id: &str, weight: Weight) -> (Vec<Said>, Settled, Option<String>) {
        let listed = self.nursery().index().explanations.get(id).into_iter().flatten();
        let mut facts: Vec<_> = listed.filter_map(|seq| self.fact(*seq)).collect();
        facts.sort_by_key(|fact| (fact.time(), fact.note.seq));
        let (mut said, mut standing, mut asked) = (Vec::new(), Settled::Open, None);
        for fact in &facts {
            let Told::Explained(told) = fact.told() else { continue };
            if told.about() != id {
                continue;
            }
            let counts = self.may_settle(fact.note, weight);
            // Anybody may say who is to be asked, as long as nobody has settled it.
            if counts || (told.explanation == Explanation::AskAnother && matches!(standing, Settled::Open | Settled::Asked)) {
                standing = settled_by(told.explanation);
                asked.clone_from(&told.person);
            }
            let (event, person) = (fact.note.id, fact.note.person().map(str::to_owned));
            said.push(Said { event, time: fact.time(), person, explanation: told.explanation, counts });
        }
        (said, standing, asked)
    }

    /// A key under suspicion settles nothing.
    fn may_settle(&self, note: &'a Note, weight: Weight) -> bool {
        note.author().is_some_and(|author| author.has_one_of(who_settles(weight))) && !self.suspected(note)
    }
}

fn settled_by(explanation: Explanation) -> Settled {
    match explanation {
        Explanation::Meant => Settled::Meant,
        Explanation::Slip => Settled::Slip,
        Explanation::AskAnother => Settled::Asked,
    }
}
