//! The growing memory of notes. It learns one note after the other, in seq order, and forgets
//! none; what is true of the nursery is worked out when somebody asks, from the notes alone, so
//! that live answers and rebuilt answers are the same.

use super::assessed::Answers;
use super::note::{Holder, Note, Signer, Written, map_of};
use super::state::EventId;
use super::told::{AnimalNote, EggNote, Endorsed, GroupNote, KeyRevoked, RootKeys, Told};
use super::told_house::House;
use super::view::View;
use chrono_tz::Tz;
use selachron_schemas::catalogue::Kind;
use selachron_schemas::envelope::SignatureBytes;
use selachron_schemas::event::Event;
use selachron_schemas::fold::{Act, ActIndex, Entry, Replace as _};
use selachron_schemas::names::{KeyId, Subject};
use selachron_schemas::receipt::Leaf;
use selachron_schemas::replay::keys::{KeyBook, key_of};
use selachron_schemas::replay::ulid_number;
use selachron_schemas::time::Instant;
use serde_json::{Map, Value};
use std::collections::{BTreeMap, HashMap, HashSet};
use std::sync::Arc;

/// A note that names a subject, in one of its versions.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Mention {
    /// The note.
    pub seq: u64,
    /// The note or act that first named the subject so; known when S is greater.
    pub since: u64,
}

/// The kind by which somebody says that a copy elsewhere was checked.
const COPY_VERIFIED: &str = "copy.verified.v1";

/// All notes that name a subject, each list in the order in which they came to do so.
#[derive(Debug, Clone, Default)]
pub struct Mentions {
    /// Notes that bring it into the record.
    pub creations: Vec<Mention>,
    /// Others, but for routine ones.
    pub notes: Vec<Mention>,
    /// Feedings of an animal or a tank, daily checks, readings of a system or tank.
    pub routine: Vec<Mention>,
}

impl Mentions {
    fn add(&mut self, mention: Mention, routine: bool, creates: bool) {
        let list = match (creates, routine) {
            (true, _) => &mut self.creations,
            (false, true) => &mut self.routine,
            (false, false) => &mut self.notes,
        };
        // A note may name a subject again through an act: what was first stays.
        if mention.since == mention.seq || !list.iter().any(|known| known.seq == mention.seq) {
            list.push(mention);
        }
    }

    /// All of them.
    pub fn all(&self) -> impl Iterator<Item = &Mention> {
        self.creations.iter().chain(&self.notes).chain(&self.routine)
    }

    /// The first note or act that brought the subject into the record.
    #[must_use]
    pub fn exists_since(&self) -> Option<u64> {
        self.creations.first().map(|mention| mention.since)
    }
}

/// What can be found without looking through all notes. It is made from the notes alone.
#[derive(Debug, Clone, Default)]
pub struct Index {
    /// By subject, sorted.
    pub mentions: BTreeMap<Subject, Mentions>,
    /// Acts by target.
    pub acts: ActIndex,
    /// Endorsements by the seq they endorse.
    pub endorsements: HashMap<u64, Vec<u64>>,
    /// Explanations by the id of the discrepancy they are about.
    pub explanations: HashMap<String, Vec<u64>>,
    /// `opening.authorised` and `opening.withdrawn` notes, about whatever subject.
    pub openings: Vec<u64>,
    /// Searches by tank.
    pub searches: HashMap<Subject, Vec<u64>>,
    /// Notes of the house by what they are about, but for routine ones.
    pub house: HashMap<Subject, Vec<u64>>,
    /// Places by the tank they are in.
    pub places: HashMap<Subject, Vec<u64>>,
    /// `quarantine.started` notes.
    pub quarantines: Vec<u64>,
    /// Notes that take a tank out of use.
    pub retirements: Vec<u64>,
    /// Subjects that ever bore a label, sorted.
    pub labels: HashMap<String, Vec<Subject>>,
    /// Animals that a tag of this number was ever given to or read on, sorted.
    pub tags: HashMap<String, Vec<Subject>>,
    /// Notes by author's key and count (F12).
    pub counts: HashMap<KeyId, BTreeMap<u32, Vec<u64>>>,
    /// Keys with a count used twice.
    pub doubled: HashSet<(KeyId, u32)>,
    /// `note.abandoned` by key.
    pub abandoned: HashMap<KeyId, Vec<u64>>,
    /// Revocations with `suspected_since`, by key.
    pub suspicions: HashMap<KeyId, Vec<(u64, Instant)>>,
    /// `policy.set` notes.
    pub policies: Vec<u64>,
    /// Notes that name root keys.
    pub roots: Vec<u64>,
    /// `copy.verified` notes.
    pub copies: Vec<u64>,
    /// Notes whose bodies are withheld.
    pub withheld: Vec<u64>,
    ids: HashMap<EventId, u64>,
}

/// The memory of a nursery's notes.
#[derive(Debug, Clone)]
pub struct Nursery {
    zone: Tz,
    notes: Vec<Note>,
    index: Index,
    holders: HashMap<KeyId, Arc<Holder>>,
    answers: Answers,
}

impl Default for Nursery {
    fn default() -> Self {
        Self::new(Tz::UTC)
    }
}

impl Nursery {
    /// A nursery of which nothing is known. `zone` holds until the founding note names one.
    #[must_use]
    pub fn new(zone: Tz) -> Self {
        Self { zone, notes: Vec::new(), index: Index::default(), holders: HashMap::new(), answers: Answers::default() }
    }

    /// Number of notes known.
    #[must_use]
    pub fn size(&self) -> u64 {
        self.notes.len() as u64
    }

    /// The collection's time zone.
    #[must_use]
    pub fn zone(&self) -> Tz {
        self.zone
    }

    /// Learns the next note. `book` is the key book as it was just before this note.
    pub fn learn(&mut self, event: &Event, leaf: &Leaf, book: &KeyBook) {
        debug_assert_eq!(leaf.seq, self.size(), "notes are learned in seq order");
        let signers = self.signers(leaf, book);
        let target = self.target_of(event);
        let note = Note::new(event, leaf, signers, target.as_ref().map(|(seq, kind)| (*seq, kind.as_str())));
        self.push(note);
        if event.kind == "body.withheld.v1" {
            self.withhold(&event.data);
        }
    }

    /// Learns the next note, whose body has been withheld: `facts` is the `data` of the later
    /// `body.withheld` that names it (F23). `None`, and nothing learned, if it is no such data.
    pub fn learn_withheld(&mut self, facts: &Map<String, Value>, leaf: &Leaf, book: &KeyBook) -> Option<()> {
        let signers = self.signers(leaf, book);
        self.push(Note::withheld(facts, leaf, signers)?);
        Some(())
    }

    /// Forgets all notes from `size` on. What was withheld stays so.
    pub fn truncate(&mut self, size: u64) {
        self.notes.truncate(usize::try_from(size).unwrap_or(usize::MAX));
        self.reindex();
    }

    /// What is so at `as_of` when `known_at` notes are known (F20).
    #[must_use]
    pub fn at(&self, as_of: Instant, known_at: u64) -> View<'_> {
        View::new(self, as_of, known_at.min(self.size()))
    }

    /// Number of notes recorded at or before `time` (F20).
    #[must_use]
    pub fn size_at(&self, time: Instant) -> u64 {
        self.notes.partition_point(|note| note.recorded_at <= time) as u64
    }

    /// The note at `seq`, which must be below [`Self::size`].
    #[must_use]
    pub fn note(&self, seq: u64) -> &Note {
        &self.notes[usize::try_from(seq).unwrap_or(usize::MAX)]
    }

    /// The note with that id.
    #[must_use]
    pub fn seq_of(&self, id: EventId) -> Option<u64> {
        self.index.ids.get(&id).copied()
    }

    /// The index.
    #[must_use]
    pub fn index(&self) -> &Index {
        &self.index
    }

    /// What was said already at clocks that decisions name.
    pub(super) fn answers(&self) -> &Answers {
        &self.answers
    }

    /// Who signed, by the key book as it was just before this leaf.
    fn signers(&mut self, leaf: &Leaf, book: &KeyBook) -> Vec<Signer> {
        let signer = |(keyid, _): &(KeyId, SignatureBytes)| {
            let enrolled = book.get(keyid).map(|record| record.in_force(leaf.seq, leaf.recorded_at));
            let in_force = enrolled.unwrap_or_else(|| book.roots().contains_key(keyid));
            Signer { keyid: *keyid, holder: self.holder(keyid, book), in_force }
        };
        leaf.signatures.iter().map(signer).collect()
    }

    fn holder(&mut self, keyid: &KeyId, book: &KeyBook) -> Option<Arc<Holder>> {
        if let Some(known) = self.holders.get(keyid) {
            return Some(known.clone());
        }
        if let Some(person) = book.roots().get(keyid) {
            return Some(Arc::new(Holder { person: person.clone(), roles: Vec::new() }));
        }
        let record = book.get(keyid)?;
        let holder = Arc::new(Holder { person: record.person.clone(), roles: record.roles.clone() });
        self.holders.insert(*keyid, holder.clone());
        Some(holder)
    }

    /// Of an act: the seq of its target, and the kind of the note at the end of the chain.
    fn target_of(&self, event: &Event) -> Option<(u64, String)> {
        let id = event.data.get("target").and_then(Value::as_str).and_then(ulid_number)?;
        let target = self.seq_of(EventId(id))?;
        Some((target, self.note(self.behind(target)).kind.clone().into_owned()))
    }

    /// The note at the end of a chain of acts.
    #[must_use]
    pub fn behind(&self, mut seq: u64) -> u64 {
        while let Entry::Act { target, .. } = self.note(seq).entry {
            seq = target;
        }
        seq
    }

    fn push(&mut self, mut note: Note) {
        if let Some(Told::RootKeys(told)) = note.written().map(|written| written.told.clone()).as_deref() {
            self.zone = told.time_zone.as_ref().and_then(|name| name.parse().ok()).unwrap_or(self.zone);
            note.signers.iter_mut().for_each(|signer| brought(signer, told));
        }
        let seq = note.seq;
        self.notes.push(note);
        self.index.add(&self.notes, seq, self.behind(seq));
    }

    /// From here on memory holds of the note what a rebuild would: the facts of the
    /// `body.withheld`, and nothing of the body.
    fn withhold(&mut self, facts: &Map<String, Value>) {
        let seq = facts.get("seq").and_then(Value::as_u64).filter(|seq| *seq < self.size());
        let Some(old) = seq.map(|seq| self.note(seq)).filter(|note| !note.withheld) else { return };
        let (seq, leaf, signers) = (old.seq, old.bare_leaf(), old.signers.clone());
        if let (Some(note), Ok(at)) = (Note::withheld(facts, &leaf, signers), usize::try_from(seq)) {
            self.notes[at] = note;
            self.reindex();
        }
    }

    fn reindex(&mut self) {
        self.index = Index::default();
        self.answers = Answers::default();
        for seq in 0..self.size() {
            self.index.add(&self.notes, seq, self.behind(seq));
        }
    }
}

/// Root keys that a founding note itself brings sign it before the key book knows them.
fn brought(signer: &mut Signer, told: &RootKeys) {
    let root = told.root_keys.iter().find(|root| root.keyid() == Some(signer.keyid));
    if let (None, Some(root)) = (&signer.holder, root) {
        signer.holder = Some(Arc::new(Holder { person: root.person.clone(), roles: Vec::new() }));
        signer.in_force = true;
    }
}

impl Index {
    fn add(&mut self, notes: &[Note], seq: u64, behind: u64) {
        let at = |seq: u64| &notes[usize::try_from(seq).unwrap_or(usize::MAX)];
        let (note, original) = (at(seq), at(behind));
        self.ids.insert(note.id, seq);
        self.count(note);
        if note.withheld {
            self.withheld.push(seq);
        }
        if note.kind == COPY_VERIFIED {
            self.copies.push(seq);
        }
        match &note.entry {
            Entry::Note(written) => self.mention(original, seq, written),
            Entry::Act { target, act } => {
                self.acts.add(*target, seq);
                if let (Act::Correct(replacement), Some(first)) = (act, original.written()) {
                    self.mention(original, seq, &first.with(replacement));
                }
            }
        }
    }

    /// Indexes `note` under all that this version of it names; `since` is the note or act that
    /// brought the version.
    fn mention(&mut self, note: &Note, since: u64, version: &Written) {
        let (subject, told) = (&*version.subject, &*version.told);
        let mention = Mention { seq: note.seq, since };
        let (created, named) = note.row.filter(|kind| names_others(kind) || kind.creates_subject).map_or_else(Default::default, |kind| {
            let data = map_of(&version.data);
            (kind.created_by(subject, &data), kind.named_in(&data))
        });
        self.of(subject).add(mention, told.is_routine(), created.contains(subject));
        for other in named.iter().filter(|other| *other != subject) {
            self.of(other).add(mention, false, created.contains(other));
        }
        self.label(subject, told);
        if let Told::House(told) = told {
            self.house(note, subject, told);
        }
        self.special(note, since, subject, told);
    }

    fn house(&mut self, note: &Note, subject: &Subject, told: &House) {
        let add = |list: &mut Vec<u64>| {
            if !list.contains(&note.seq) {
                list.push(note.seq);
            }
        };
        match told {
            told if told.is_routine() => return,
            House::PlaceSetUp(place) => add(self.places.entry(place.tank.0.clone()).or_default()),
            House::QuarantineStarted(_) => add(&mut self.quarantines),
            House::Retired(_) if subject.noun() == "tank" => add(&mut self.retirements),
            _ => {}
        }
        add(self.house.entry(subject.clone()).or_default());
    }

    fn of(&mut self, subject: &Subject) -> &mut Mentions {
        self.mentions.entry(subject.clone()).or_default()
    }

    fn label(&mut self, subject: &Subject, told: &Told) {
        if let Some(label) = told.label() {
            self.add_label(label, subject);
        }
        if let Told::GroupNote(GroupNote::Split(split)) = told {
            self.add_label(&split.label, &split.into);
        }
        if let Told::AnimalNote(AnimalNote::Identified(mark)) = told
            && let Some(number) = mark.tag_number()
        {
            add_bearer(&mut self.tags, number, subject);
        }
        if let Told::EggHatched(hatch) = told {
            for (label, animal) in hatch.young.iter().filter_map(|young| Some((young.label.as_ref()?, &young.animal))) {
                self.add_label(label, animal);
            }
        }
    }

    fn add_label(&mut self, label: &str, subject: &Subject) {
        add_bearer(&mut self.labels, label, subject);
    }

    fn special(&mut self, note: &Note, since: u64, subject: &Subject, told: &Told) {
        let keyid = key_of(subject);
        let list = match (told, keyid) {
            (Told::TankSearched(_), _) => self.searches.entry(subject.clone()).or_default(),
            (Told::Endorsed(Endorsed { seq: Some(target) }), _) => self.endorsements.entry(*target).or_default(),
            (Told::Explained(told), _) => self.explanations.entry(told.about()).or_default(),
            (Told::Abandoned(_), Some(keyid)) => self.abandoned.entry(keyid).or_default(),
            (Told::EggNote(EggNote::OpeningAuthorised(_) | EggNote::OpeningWithdrawn(_)), _) => &mut self.openings,
            (Told::PolicySet(_), _) => &mut self.policies,
            (Told::RootKeys(_), _) => &mut self.roots,
            (Told::KeyRevoked(KeyRevoked { suspected_since: Some(moment) }), Some(keyid)) => {
                self.suspicions.entry(keyid).or_default().push((note.seq, *moment));
                return;
            }
            _ => return,
        };
        if since == note.seq || !list.contains(&note.seq) {
            list.push(note.seq);
        }
    }

    fn count(&mut self, note: &Note) {
        let used = self.counts.entry(note.keyid).or_default().entry(note.keycount).or_default();
        used.push(note.seq);
        if used.len() > 1 {
            self.doubled.insert((note.keyid, note.keycount));
        }
    }
}

fn add_bearer(list: &mut HashMap<String, Vec<Subject>>, what: &str, subject: &Subject) {
    let bearers = list.entry(what.to_owned()).or_default();
    if let Err(place) = bearers.binary_search(subject) {
        bearers.insert(place, subject.clone());
    }
}

/// Whether notes of this kind can name more than their own subject.
#[must_use]
pub fn names_others(kind: &Kind) -> bool {
    !kind.names.is_empty() || !kind.creates.is_empty()
}
