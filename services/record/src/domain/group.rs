//! The fold of a group: animals that cannot be told apart. What leaves one class or group enters
//! another; what does not add up is recorded and told. Whoever is told apart later is left out
//! from the group's start on, so that nobody is counted twice.

use super::discrepancy::{Discrepancy, Oddity, odd};
use super::state::{Counts, Group, GroupChange, Member, PartCount, Place, Sex};
use super::told::groups::{GroupCounted, GroupDied, GroupFormed, GroupMerged, GroupSplit, Grouped, KNOWN, ToldApart};
use super::told::{GroupNote, Moved, Told};
use super::view::{Fact, View};
use selachron_schemas::names::Subject;
use selachron_schemas::replay::keys::Role;
use selachron_schemas::time::Instant;
use std::collections::BTreeSet;

/// Somebody told apart: when, by which note, and counted as what.
#[derive(Clone, Copy)]
struct Apart {
    time: Instant,
    seq: u64,
    counted_as: Sex,
}

impl Apart {
    fn is_after(&self, fact: &Fact<'_>) -> bool {
        (self.time, self.seq) > (fact.time(), fact.note.seq)
    }
}

/// Numbers without those told apart since, each in the class that is named, or as unknown where nobody
/// had been sexed yet, or in the class in which it was counted by mistake; and who was in none.
fn without(mut counts: Counts, apart: Vec<Apart>) -> (Counts, Vec<Apart>) {
    let mut left = Vec::new();
    for apart in apart {
        let classes = [apart.counted_as, Sex::Unknown, Sex::Male, Sex::Female].map(Counts::one);
        match classes.into_iter().find(|one| counts.holds(*one)) {
            Some(one) => counts = counts.and(one, |all, one| all - one),
            None => left.push(apart),
        }
    }
    (counts, left)
}

struct GroupFold<'v, 'a> {
    view: &'v View<'a>,
    group: Group,
    apart: Vec<Apart>,
    /// Those of them who were not among its first animals: they came with others who joined it.
    joined: Vec<Apart>,
    /// The note that last changed the numbers, or the place.
    numbers_seq: u64,
    place_seq: u64,
    found: Vec<Discrepancy>,
}

impl Fact<'_> {
    fn group_note(&self) -> Option<&GroupNote> {
        match self.told() {
            Told::GroupNote(note) => Some(note),
            _ => None,
        }
    }

    /// An animal told apart from that group.
    fn told_apart_from(&self, group: &Subject) -> Option<&ToldApart> {
        match self.group_note()? {
            GroupNote::ToldApart(told) if told.group == *group => Some(told),
            _ => None,
        }
    }

    pub(super) fn forms_group(&self, id: &Subject) -> bool {
        match self.group_note() {
            Some(GroupNote::Split(told)) => told.into == *id,
            Some(GroupNote::Formed(_)) => self.subject() == id,
            _ => false,
        }
    }

    fn is_about_group(&self, id: &Subject) -> bool {
        let named = self.group_note().is_some_and(|note| note.bears_on().contains(&id));
        named || self.sends(id).is_some() || (self.subject() == id && !self.told().is_about_a_note())
    }
}

impl<'a> View<'a> {
    /// Folds the notes about a group.
    pub(super) fn fold_group(&self, id: &Subject, facts: &[Fact<'a>]) -> (Option<Group>, Vec<Discrepancy>) {
        let own: Vec<&Fact<'a>> = facts.iter().filter(|fact| fact.is_about_group(id)).collect();
        let mut found = Vec::new();
        let Some(first) = self.came_first(id, &own, |fact| fact.forms_group(id), &mut found) else { return (None, found) };
        let apart = own.iter().filter_map(|fact| {
            let counted_as = fact.told_apart_from(id)?.counted_as;
            Some(Apart { time: fact.time(), seq: fact.note.seq, counted_as })
        });
        let seq = first.note.seq;
        // Out of a group of animals that were known by themselves each leaves when it is told apart.
        let were_known = matches!(first.group_note(), Some(GroupNote::Formed(told)) if told.were_known());
        let (apart, group) = (apart.filter(|_| !were_known).collect(), bare(id, first));
        let mut fold = GroupFold { view: self, group, apart, joined: Vec::new(), numbers_seq: seq, place_seq: seq, found };
        match first.group_note() {
            Some(GroupNote::Formed(told)) => fold.formed(first, told),
            Some(GroupNote::Split(told)) => fold.split_from(first, told),
            _ => {}
        }
        // How many left with a consignment, where not all did, a note of that day says.
        let days: BTreeSet<_> =
            own.iter().filter(|fact| matches!(fact.group_note(), Some(GroupNote::Departed(_)))).map(|fact| self.day(fact.time())).collect();
        for fact in own.iter().filter(|fact| !fact.forms_group(id)) {
            match fact.sends(id) {
                Some(_) if days.contains(&self.day(fact.time())) => {}
                Some(_) => fold.sent(fact),
                None => fold.take(fact),
            }
        }
        fold.never_among_them(first);
        (Some(fold.group), fold.found)
    }

    /// The group as it was at a time; nothing of what an animal told apart needs to know lies later.
    pub(super) fn group_at(&self, id: &Subject, time: Instant) -> Option<Group> {
        let mut facts = self.facts_but_routine(id);
        facts.retain(|fact| fact.time() <= time);
        self.fold_group(id, &facts).0
    }

    /// How the animals of a group came, before any split.
    pub(super) fn group_came(&self, id: &Subject) -> Option<GroupFormed> {
        let (mut id, mut seen) = (id.clone(), BTreeSet::new());
        // Notes that were put right may name groups in a ring.
        while seen.insert(id.clone()) {
            let first = self.creations(&id).into_iter().find(|fact| fact.forms_group(&id))?;
            match first.group_note()? {
                GroupNote::Formed(told) => return Some((**told).clone()),
                _ => id = first.subject().clone(),
            }
        }
        None
    }
}

fn why_of(fact: &Fact<'_>, id: &Subject) -> Option<String> {
    match fact.group_note() {
        Some(GroupNote::Died(told)) => Some(told.apparent_cause.clone()),
        Some(GroupNote::Departed(told)) => Some(told.reason.clone()),
        _ => fact.sends(id).map(|left| left.reason),
    }
}

fn how_known(fact: &Fact<'_>) -> Option<String> {
    match fact.group_note() {
        Some(GroupNote::Died(told)) => Some(told.how_known.clone()),
        _ => None,
    }
}

fn bare(id: &Subject, first: &Fact<'_>) -> Group {
    Group {
        id: id.clone(),
        label: first.group_note().and_then(|note| note.label_of(id)).unwrap_or_default().to_owned(),
        species: None,
        formed: first.moment(),
        came: String::new(),
        split_from: None,
        hatched_on_estimate: None,
        how_counted: None,
        counts: Counts::default(),
        changes: Vec::new(),
        part_counts: Vec::new(),
        last_full_count: None,
        full_counts: Vec::new(),
        told_apart: Vec::new(),
        place: None,
        feeds: 0,
        last_eaten: None,
        ended: None,
        quarantine: None,
        discrepancies: Vec::new(),
    }
}

impl<'a> GroupFold<'_, 'a> {
    fn find(&mut self, kind: Oddity, seqs: &[u64], says: String) {
        self.found.push(self.view.discrepancy(kind, seqs, [self.group.id.clone()], says));
    }

    fn formed(&mut self, fact: &Fact<'a>, told: &GroupFormed) {
        self.group.species = Some(told.species.clone());
        self.group.came.clone_from(&told.came);
        self.group.hatched_on_estimate = told.hatched_on_estimate;
        self.group.how_counted = Some(told.how_counted.clone());
        self.put(fact, told.tank.clone(), None);
        self.begin(fact, "formed", told.counts, None);
    }

    fn split_from(&mut self, fact: &Fact<'a>, told: &GroupSplit) {
        let source = fact.subject();
        let root = self.view.group_came(source);
        self.group.hatched_on_estimate = root.as_ref().and_then(|root| root.hatched_on_estimate);
        self.group.species = root.as_ref().map(|root| root.species.clone());
        // A statement of its own, or else the one that was in force where it came from.
        self.group.how_counted = told.how_counted.clone().or_else(|| self.view.counted_how(source, fact.time()));
        self.group.came = "split".to_owned();
        self.group.split_from = Some(source.clone());
        let tank = told.tank.clone().or_else(|| self.view.group_tank(source, fact.time()));
        self.put(fact, tank, None);
        self.begin(fact, "split from", told.counts, Some(source.clone()));
    }

    fn begin(&mut self, fact: &Fact<'a>, what: &'static str, counts: Counts, with: Option<Subject>) {
        let (first, joined) = without(counts, self.apart_later(fact));
        self.joined = joined;
        self.set(fact, what, first, with);
        let left_out = counts.and(first, |said, first| said - first);
        if let Some(begun) = self.group.changes.last_mut() {
            begun.left_out = (left_out != Counts::default()).then_some(left_out);
        }
    }

    /// What others bring, without those among them who are known by themselves since.
    fn joining(&mut self, fact: &Fact<'a>, counts: Counts) -> Counts {
        let (later, earlier) = self.joined.drain(..).partition(|apart| apart.is_after(fact));
        let (counts, left): (_, Vec<Apart>) = without(counts, later);
        self.joined = earlier;
        self.joined.extend(left);
        self.group.counts.and(counts, |here, more| here + more)
    }

    fn never_among_them(&mut self, first: &Fact<'a>) {
        for apart in std::mem::take(&mut self.joined) {
            let says = "An animal is told apart that was never among those counted here.".to_owned();
            self.find(odd::GROUP_SHORT, &[first.note.seq, apart.seq], says);
        }
    }

    fn put(&mut self, fact: &Fact<'a>, tank: Option<Subject>, note: Option<String>) {
        if let Some(tank) = tank {
            self.place_seq = fact.note.seq;
            self.group.place = Some(Place { tank, note, since: fact.moment() });
        }
    }

    fn apart_later(&self, fact: &Fact<'_>) -> Vec<Apart> {
        self.apart.iter().filter(|apart| apart.is_after(fact)).copied().collect()
    }

    /// Numbers as a note tells them, without those who were still counted in them and are known by
    /// themselves since.
    fn without_those_apart(&mut self, fact: &Fact<'a>, counts: Counts) -> Counts {
        let (counts, left) = without(counts, self.apart_later(fact));
        for apart in left {
            let says = format!("An animal is told apart that was not among the {} counted here.", counts.told());
            self.find(odd::GROUP_SHORT, &[fact.note.seq, apart.seq], says);
        }
        counts
    }

    fn set(&mut self, fact: &Fact<'a>, what: &'static str, counts: Counts, with: Option<Subject>) {
        let change = counts.and(self.group.counts, |now, before| now - before);
        let (why, how_known) = (why_of(fact, &self.group.id), how_known(fact));
        self.group.changes.push(GroupChange { when: fact.moment(), what, change, with, left_out: None, why, how_known });
        self.group.counts = counts;
        self.numbers_seq = fact.note.seq;
        self.group.ended = match (counts.total(), self.group.ended) {
            (0, None) => Some(fact.moment()),
            (0, ended) => ended,
            _ => None,
        };
    }

    fn take(&mut self, fact: &Fact<'a>) {
        let Some(note) = fact.group_note() else { return };
        match note {
            GroupNote::Counted(told) => self.counted(fact, told),
            GroupNote::Split(told) => {
                self.leave(fact, "split off", told.counts, Some(told.into.clone()));
                self.remain(fact, told.remaining);
            }
            GroupNote::Merged(told) if told.from_group == self.group.id => self.merged_away(fact, told),
            GroupNote::Merged(told) => {
                let counts = self.joining(fact, told.counts);
                self.set(fact, "merged in", counts, Some(told.from_group.clone()));
                self.remain(fact, told.remaining);
            }
            GroupNote::Moved(told) => self.moved(fact, told),
            GroupNote::Fed(told) => {
                self.after_end(fact, "Fed");
                self.group.feeds += 1;
                if told.eaten.swallowed() {
                    self.group.last_eaten = Some(fact.moment());
                }
            }
            GroupNote::Died(told) => self.died(fact, told),
            GroupNote::Departed(told) => {
                self.leave(fact, "departed", told.counts, None);
                self.remain(fact, told.remaining);
            }
            GroupNote::ToldApart(told) => {
                let (when, animal) = (fact.moment(), fact.subject().clone());
                if self.group.changes.iter().any(|change| change.what == "merged into") {
                    self.after_end(fact, "Told apart");
                }
                if self.group.came == KNOWN {
                    self.leave(fact, "told apart", Counts::one(told.counted_as), Some(animal.clone()));
                }
                self.group.told_apart.push(Member { when, animal, counted_as: told.counted_as });
            }
            GroupNote::Grouped(told) => self.put_in(fact, told),
            GroupNote::Formed(_) => {}
        }
    }

    /// All that are in it leave with a consignment.
    fn sent(&mut self, fact: &Fact<'a>) {
        self.after_end(fact, "Sent");
        self.leave(fact, "departed", self.group.counts, None);
    }

    /// One that was known by itself. Whether it was there to be put in is told of the animal; one that
    /// was not is not counted.
    fn put_in(&mut self, fact: &Fact<'a>, told: &Grouped) {
        if self.view.was_there(fact.subject(), fact) {
            let counts = self.joining(fact, Counts::one(told.counted_as));
            self.set(fact, "put in", counts, Some(fact.subject().clone()));
        }
        self.remain(fact, told.remaining);
    }

    /// No class can give more than it has; what is said beyond that is told, not taken.
    fn leave(&mut self, fact: &Fact<'a>, what: &'static str, leaving: Counts, with: Option<Subject>) {
        let here = self.group.counts;
        if !here.holds(leaving) {
            let says = format!("{} are said to leave ({what}), and the record has {}.", leaving.told(), here.told());
            let mut seqs = vec![self.numbers_seq, fact.note.seq];
            seqs.extend(self.apart.iter().map(|apart| apart.seq));
            self.find(odd::GROUP_SHORT, &seqs, says);
        }
        self.set(fact, what, here.and(leaving, |here, leaving| (here - leaving).max(0)), with);
    }

    /// A count of those who remain that is at odds with the record sets nothing: that is for a count.
    fn remain(&mut self, fact: &Fact<'a>, remaining: Option<Counts>) {
        let Some(told) = remaining else { return };
        let counted = self.without_those_apart(fact, told);
        if counted != self.group.counts {
            let says = format!("{} are said to remain, and the record has {}.", counted.told(), self.group.counts.told());
            self.find(odd::GROUP_COUNT, &[self.numbers_seq, fact.note.seq], says);
        }
    }

    fn counted(&mut self, fact: &Fact<'a>, told: &GroupCounted) {
        if let Some(how) = &told.how_counted {
            self.group.how_counted = Some(how.clone());
        }
        if !told.full {
            return self.group.part_counts.push(PartCount { when: fact.moment(), counts: told.counts });
        }
        let counted = self.without_those_apart(fact, told.counts);
        let (before, earlier) = (self.group.counts, self.numbers_seq);
        self.group.last_full_count = Some(fact.moment());
        self.group.full_counts.push(fact.moment());
        if counted == before {
            return;
        }
        let same_total = counted.total() == before.total();
        if !same_total {
            let says = format!("{} counted, and the record had {}.", counted.told(), before.told());
            self.find(odd::GROUP_COUNT, &[earlier, fact.note.seq], says);
        }
        self.set(fact, if same_total { "sexed" } else { "recount" }, counted, None);
    }

    fn merged_away(&mut self, fact: &Fact<'a>, told: &GroupMerged) {
        let brought = self.without_those_apart(fact, told.counts);
        if brought != self.group.counts {
            let says = format!("It brought {} into another group, and the record has {}.", brought.told(), self.group.counts.told());
            self.find(odd::GROUP_NOT_CONSERVED, &[self.numbers_seq, fact.note.seq], says);
        }
        let rest = self.group.counts.and(brought, |here, gone| (here - gone).max(0));
        self.set(fact, "merged into", rest, Some(fact.subject().clone()));
    }

    fn moved(&mut self, fact: &Fact<'a>, told: &Moved) {
        self.after_end(fact, "Moved");
        if let (Some(from), Some(place)) = (&told.from_tank, &self.group.place)
            && *from != place.tank
        {
            let says = format!("Moved out of {}, while the record has it in {}.", self.view.called(from), self.view.called(&place.tank));
            self.find(odd::MOVED_FROM_ELSEWHERE, &[self.place_seq, fact.note.seq], says);
        }
        self.put(fact, Some(told.to_tank.clone()), told.place_note.clone());
    }

    fn died(&mut self, fact: &Fact<'a>, told: &GroupDied) {
        if told.how_known == "by a veterinarian's decision" && !self.view.signed_with(fact.note, &[Role::Veterinarian]) {
            let says = "The note says they died by a veterinarian's decision, and no veterinarian has signed.".to_owned();
            self.find(odd::NO_VETERINARIAN, &[fact.note.seq], says);
        }
        self.leave(fact, "died", told.counts, None);
        self.remain(fact, told.remaining);
    }

    fn after_end(&mut self, fact: &Fact<'a>, doing: &str) {
        if let Some(ended) = self.group.ended {
            let says = format!("{doing} on {}, and nobody is left in it since {}.", self.view.day(fact.time()), self.view.day(ended.time));
            self.find(odd::GROUP_ENDED, &[self.numbers_seq, fact.note.seq], says);
        }
    }
}

impl<'a> View<'a> {
    /// The newest that notes about a group and the groups before it say, up to a time; asked without
    /// folding them, for notes that were put right may name groups in a ring.
    fn newest_before<T>(&self, group: &Subject, time: Instant, pick: impl Fn(&GroupNote, &Fact<'a>, &Subject) -> Option<T>) -> Option<T> {
        let (mut id, mut time, mut seen) = (group.clone(), time, BTreeSet::new());
        while seen.insert(id.clone()) {
            let facts = self.facts_but_routine(&id);
            let before = || facts.iter().rev().filter(|fact| fact.time() <= time);
            if let Some(said) = before().find_map(|fact| pick(fact.group_note()?, fact, &id)) {
                return Some(said);
            }
            let first = facts.iter().find(|fact| fact.forms_group(&id))?;
            (id, time) = (first.subject().clone(), first.time());
        }
        None
    }

    fn counted_how(&self, group: &Subject, time: Instant) -> Option<String> {
        self.newest_before(group, time, |note, fact, id| match note {
            GroupNote::Formed(told) => Some(told.how_counted.clone()),
            GroupNote::Counted(told) if fact.subject() == id => told.how_counted.clone(),
            GroupNote::Split(told) if told.into == *id => told.how_counted.clone(),
            _ => None,
        })
    }

    /// The tank in which a group is at a time.
    pub(super) fn group_tank(&self, group: &Subject, time: Instant) -> Option<Subject> {
        self.newest_before(group, time, |note, fact, id| match note {
            GroupNote::Formed(told) => told.tank.clone(),
            GroupNote::Moved(told) if fact.subject() == id => Some(told.to_tank.clone()),
            GroupNote::Split(told) if told.into == *id => told.tank.clone(),
            _ => None,
        })
    }
}
