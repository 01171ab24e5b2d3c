//! What is so at an instant V when S notes are known. A view is made for one question and
//! remembers, while it lives, what it has worked out.

use super::authorised::Authorised;
use super::care::Waters;
use super::discrepancy::Discrepancy;
use super::note::{Note, Signer, Written, map_of};
use super::nursery::{Mention, Nursery, names_others};
use super::state::{EventId, Moment, Policy};
use super::stays::Stays;
use super::told::Told;
use chrono::NaiveDate;
use chrono_tz::Tz;
use selachron_schemas::fold::{Entry, value_of};
use selachron_schemas::names::Subject;
use selachron_schemas::replay::keys::Role;
use selachron_schemas::time::Instant;
use std::borrow::Cow;
use std::cell::{OnceCell, RefCell};
use std::collections::{BTreeSet, HashMap};
use std::sync::Arc;

/// The nursery at (V, S).
pub struct View<'a> {
    nursery: &'a Nursery,
    as_of: Instant,
    known_at: u64,
    pub(super) cache: Cache,
}

/// Searches of a whole tank, in order of time.
pub(super) type Searches = Arc<Vec<(Instant, EventId)>>;

/// What a view has worked out already.
#[derive(Default)]
pub(super) struct Cache {
    pub policies: OnceCell<(Policy, Vec<(u64, Policy)>)>,
    pub searches: RefCell<HashMap<Subject, Searches>>,
    pub takes_cases: RefCell<HashMap<Subject, bool>>,
    pub waters: RefCell<HashMap<Subject, Waters>>,
    pub stays: RefCell<HashMap<Subject, Stays>>,
    pub entities: RefCell<HashMap<Subject, Arc<Vec<Discrepancy>>>>,
    pub authorised: OnceCell<Arc<Vec<Authorised>>>,
    /// Cases, animals and groups that were ever in a tank.
    pub seen: RefCell<HashMap<Subject, Arc<BTreeSet<Subject>>>>,
}

/// A note that stands at (V, S), with what it says there.
#[derive(Debug, Clone)]
pub struct Fact<'a> {
    /// The note.
    pub note: &'a Note,
    /// Its value (F21).
    pub value: Cow<'a, Written>,
}

impl Fact<'_> {
    /// Its effective time.
    #[must_use]
    pub fn time(&self) -> Instant {
        self.value.time
    }

    /// Its effective data.
    #[must_use]
    pub fn told(&self) -> &Told {
        &self.value.told
    }

    /// Its effective subject.
    #[must_use]
    pub fn subject(&self) -> &Subject {
        &self.value.subject
    }

    /// When, and by which note.
    #[must_use]
    pub fn moment(&self) -> Moment {
        Moment { time: self.value.time, timeafter: self.value.timeafter, event: self.note.id }
    }

    /// Whether its kind brings its own subject into the record.
    #[must_use]
    pub fn creates_subject(&self) -> bool {
        self.note.row.is_some_and(|kind| kind.creates_subject)
    }

    /// All subjects that it names, its own first.
    #[must_use]
    pub fn named(&self) -> Vec<Subject> {
        let mut named = vec![self.subject().clone()];
        if let Some(kind) = self.note.row.filter(|kind| names_others(kind)) {
            named.extend(kind.named_in(&map_of(&self.value.data)));
        }
        named
    }
}

impl<'a> View<'a> {
    pub(super) fn new(nursery: &'a Nursery, as_of: Instant, known_at: u64) -> Self {
        Self { nursery, as_of, known_at, cache: Cache::default() }
    }

    /// V.
    #[must_use]
    pub fn as_of(&self) -> Instant {
        self.as_of
    }

    /// S.
    #[must_use]
    pub fn known_at(&self) -> u64 {
        self.known_at
    }

    /// The collection's time zone.
    #[must_use]
    pub fn zone(&self) -> Tz {
        self.nursery.zone()
    }

    /// The memory behind it.
    #[must_use]
    pub fn nursery(&self) -> &'a Nursery {
        self.nursery
    }

    /// The date of an instant where the collection is.
    #[must_use]
    pub fn day(&self, instant: Instant) -> NaiveDate {
        instant.day(self.zone())
    }

    /// Whether a subject had been brought into the record when S notes were known; by position
    /// in the log alone (F21).
    #[must_use]
    pub fn exists(&self, subject: &Subject) -> bool {
        let since = self.nursery.index().mentions.get(subject).and_then(|mentions| mentions.exists_since());
        since.is_some_and(|since| since < self.known_at)
    }

    /// Subjects of a noun that had been brought into the record, sorted.
    pub fn subjects(&self, noun: &'static str) -> impl Iterator<Item = &'a Subject> + use<'a> {
        let (nursery, known_at) = (self.nursery, self.known_at);
        let all = nursery.index().mentions.iter();
        all.skip_while(move |(subject, _)| subject.noun() != noun)
            .take_while(move |(subject, _)| subject.noun() == noun)
            .filter(move |(_, mentions)| mentions.exists_since().is_some_and(|since| since < known_at))
            .map(|(subject, _)| subject)
    }

    /// What the note at `seq` says when S notes are known, or nothing (F21).
    #[must_use]
    pub fn value(&self, seq: u64) -> Option<Cow<'a, Written>> {
        let nursery = self.nursery;
        let acts = &nursery.index().acts;
        match &nursery.note(seq).entry {
            Entry::Act { .. } => None,
            Entry::Note(written) if acts.on(seq, self.known_at).next().is_none() => Some(Cow::Borrowed(written)),
            Entry::Note(_) => value_of(seq, self.known_at, acts, &|seq| &nursery.note(seq).entry).map(Cow::Owned),
        }
    }

    /// The note at `seq` if it stands and its time has come.
    #[must_use]
    pub fn fact(&self, seq: u64) -> Option<Fact<'a>> {
        let value = self.value(seq).filter(|value| seq < self.known_at && value.time <= self.as_of)?;
        Some(Fact { note: self.nursery.note(seq), value })
    }

    /// All facts that name `subject`, in order of (time, seq).
    #[must_use]
    pub fn facts(&self, subject: &Subject) -> Vec<Fact<'a>> {
        let Some(mentions) = self.nursery.index().mentions.get(subject) else { return Vec::new() };
        self.in_order(subject, mentions.all())
    }

    /// The same, but of routine notes only the one at `seq`.
    #[must_use]
    pub fn facts_with_routine(&self, subject: &Subject, seq: u64) -> Vec<Fact<'a>> {
        let Some(mentions) = self.nursery.index().mentions.get(subject) else { return Vec::new() };
        let only = mentions.routine.iter().filter(|mention| mention.seq == seq);
        self.in_order(subject, mentions.creations.iter().chain(&mentions.notes).chain(only))
    }

    /// All but routine ones.
    #[must_use]
    pub fn facts_but_routine(&self, subject: &Subject) -> Vec<Fact<'a>> {
        self.facts_with_routine(subject, u64::MAX)
    }

    /// The facts that bring `subject` into the record, in order of (time, seq).
    #[must_use]
    pub fn creations(&self, subject: &Subject) -> Vec<Fact<'a>> {
        let Some(mentions) = self.nursery.index().mentions.get(subject) else { return Vec::new() };
        self.in_order(subject, mentions.creations.iter())
    }

    fn in_order<'b>(&self, subject: &Subject, mentions: impl Iterator<Item = &'b Mention>) -> Vec<Fact<'a>> {
        let known = mentions.filter(|mention| mention.since < self.known_at);
        let mut facts: Vec<Fact<'a>> = known.filter_map(|mention| self.fact(mention.seq)).collect();
        // A note that was put right may no longer name what it named.
        facts.retain(|fact| matches!(fact.value, Cow::Borrowed(_)) || fact.named().contains(subject));
        facts.sort_by_key(|fact| (fact.time(), fact.note.seq));
        facts.dedup_by_key(|fact| fact.note.seq);
        facts
    }

    /// Endorsements of the note at `seq` that stand, by keys in force.
    pub fn endorsements(&self, seq: u64) -> impl Iterator<Item = &'a Note> + '_ {
        let listed = self.nursery.index().endorsements.get(&seq).into_iter().flatten();
        let standing = listed.filter_map(|endorsement| self.fact(*endorsement));
        standing
            .filter(move |fact| matches!(fact.told(), Told::Endorsed(told) if told.seq == Some(seq)))
            .map(|fact| fact.note)
            .filter(|note| note.author().is_some_and(|author| author.in_force))
    }

    /// Everybody but the author who approves a note: with a signature on the same body, or with
    /// an endorsement afterwards (F9). Persons, not keys.
    #[must_use]
    pub fn approvers(&self, note: &'a Note, roles: &[Role]) -> BTreeSet<&'a str> {
        let author = note.person();
        let afterwards = self.endorsements(note.seq).filter_map(Note::author);
        let all = note.approvals().chain(afterwards).filter(|signer| signer.has_one_of(roles));
        all.filter_map(Signer::person).filter(|person| Some(*person) != author).collect()
    }

    /// Whether the author or an approver holds one of `roles`.
    #[must_use]
    pub fn signed_with(&self, note: &'a Note, roles: &[Role]) -> bool {
        note.author().is_some_and(|author| author.has_one_of(roles)) || !self.approvers(note, roles).is_empty()
    }
}
