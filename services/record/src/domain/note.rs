//! One recorded note as the nursery remembers it.

use super::state::EventId;
use super::told::Told;
use super::whole::whole;
use selachron_schemas::catalogue::{Kind, catalogue};
use selachron_schemas::event::Event;
use selachron_schemas::fold::{Act, Entry, Replace};
use selachron_schemas::merkle::Hash;
use selachron_schemas::names::{KeyId, Subject};
use selachron_schemas::receipt::Leaf;
use selachron_schemas::replay::keys::Role;
use selachron_schemas::replay::ulid_number;
use selachron_schemas::time::Instant;
use serde_json::{Map, Value};
use std::borrow::Cow;
use std::sync::Arc;

/// Whose key it is. A key is enrolled once and its roles never change (F8).
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Holder {
    /// Pseudonym.
    pub person: String,
    /// What the holder may do; none for a root key.
    pub roles: Vec<Role>,
}

/// A signature under a note, with what the key book said at the note's seq.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Signer {
    /// The key.
    pub keyid: KeyId,
    /// Its holder; `None` for a key that the body itself brings.
    pub holder: Option<Arc<Holder>>,
    /// In force at that seq (F11).
    pub in_force: bool,
}

impl Signer {
    /// Whether the holder's key was in force and has one of `roles`.
    #[must_use]
    pub fn has_one_of(&self, roles: &[Role]) -> bool {
        self.in_force && self.holder.as_ref().is_some_and(|holder| holder.roles.iter().any(|role| roles.contains(role)))
    }

    /// The holder's pseudonym.
    #[must_use]
    pub fn person(&self) -> Option<&str> {
        self.holder.as_ref().map(|holder| holder.person.as_str())
    }
}

/// What a note says of the world: the part that acts can put right.
#[derive(Debug, Clone, PartialEq)]
pub struct Written {
    /// When it happened.
    pub time: Instant,
    /// It happened after this.
    pub timeafter: Option<Instant>,
    /// What it is about.
    pub subject: Arc<Subject>,
    /// Its data, typed.
    pub told: Arc<Told>,
    /// Its data as compact JSON, for histories.
    pub data: Arc<str>,
    /// The body is withheld: no correction's data shows through (F23).
    pub withheld: bool,
}

/// What a correction puts in place.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Replacement {
    time: Option<Instant>,
    timeafter: Option<Instant>,
    subject: Option<Arc<Subject>>,
    data: Option<(Arc<Told>, Arc<str>)>,
}

impl Replace<Replacement> for Written {
    fn with(&self, over: &Replacement) -> Self {
        let time = over.time.unwrap_or(self.time);
        let (told, data) = match &over.data {
            Some((told, data)) if !self.withheld => (told.clone(), data.clone()),
            _ => (self.told.clone(), self.data.clone()),
        };
        Self {
            time,
            // A timeafter that is not before the time that stands is dropped (F21).
            timeafter: over.timeafter.or(self.timeafter).filter(|after| *after < time),
            subject: over.subject.as_ref().unwrap_or(&self.subject).clone(),
            told,
            data,
            withheld: self.withheld,
        }
    }
}

impl Replace<Replacement> for Replacement {
    fn with(&self, over: &Self) -> Self {
        Self {
            time: over.time.or(self.time),
            timeafter: over.timeafter.or(self.timeafter),
            subject: over.subject.as_ref().or(self.subject.as_ref()).cloned(),
            data: over.data.as_ref().or(self.data.as_ref()).cloned(),
        }
    }
}

impl Replacement {
    /// The subject it puts in place, if it names one.
    #[must_use]
    pub fn subject(&self) -> Option<&Subject> {
        self.subject.as_deref()
    }

    /// The data it puts in place, if it names any.
    #[must_use]
    pub fn data(&self) -> Option<&Told> {
        self.data.as_ref().map(|(told, _)| &**told)
    }

    /// The same data as JSON.
    #[must_use]
    pub fn data_map(&self) -> Option<Map<String, Value>> {
        self.data.as_ref().map(|(_, text)| map_of(text))
    }

    fn read(data: &Map<String, Value>, kind_behind: &str) -> Self {
        let Some(replacement) = data.get("replacement").and_then(Value::as_object) else { return Self::default() };
        let text = |name: &str| replacement.get(name).and_then(Value::as_str);
        let instant = |name: &str| text(name).and_then(|text| Instant::parse(text).ok());
        let data = replacement.get("data").and_then(Value::as_object);
        Self {
            time: instant("time"),
            timeafter: instant("timeafter"),
            subject: text("subject").and_then(Subject::parse).map(Arc::new),
            data: data.map(|data| (Arc::new(Told::read(kind_behind, data)), text_of(data))),
        }
    }
}

/// A recorded note.
#[derive(Clone)]
pub struct Note {
    /// Place in the log.
    pub seq: u64,
    /// When the log took it.
    pub recorded_at: Instant,
    /// SHA-256 of its body.
    pub body_sha256: Hash,
    /// Everybody who signed, in the leaf's order.
    pub signers: Vec<Signer>,
    /// Its id.
    pub id: EventId,
    /// `egg.candled.v1`.
    pub kind: Cow<'static, str>,
    /// The catalogue's row for that kind.
    pub row: Option<&'static Kind>,
    /// The author's key.
    pub keyid: KeyId,
    /// The number of this note among the author key's notes.
    pub keycount: u32,
    /// The device's clock at signing; `None` if the body is withheld.
    pub signedtime: Option<Instant>,
    /// Why it was written afterwards.
    pub latereason: Option<String>,
    /// What it says, or what it does to an earlier note.
    pub entry: Entry<Written, Replacement>,
    /// Of an act: its own words.
    pub act: Option<ActWords>,
    /// The body is withheld.
    pub withheld: bool,
}

impl std::fmt::Debug for Note {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "note {} ({} {})", self.seq, self.kind, self.id)
    }
}

/// What an act says beside its replacement.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ActWords {
    /// When it was made; it never enters the fold.
    pub time: Instant,
    /// Why.
    pub reason: String,
    /// The subject as written.
    pub subject: Arc<Subject>,
}

impl Note {
    /// Remembers a note. `target` is, of an act, the seq of its target and the kind of the note at
    /// the end of the chain.
    #[must_use]
    pub fn new(event: &Event, leaf: &Leaf, signers: Vec<Signer>, target: Option<(u64, &str)>) -> Self {
        let subject = Arc::new(event.subject.clone());
        let row = catalogue().kind(&event.kind);
        let (entry, act) = match target.filter(|_| row.is_some_and(|kind| kind.is_act)) {
            None => (Entry::Note(written(event.time, event.timeafter, subject, &event.kind, &event.data, false)), None),
            Some((target, kind_behind)) => {
                let act = match event.kind.as_str() {
                    "record.retracted.v1" => Act::Retract,
                    _ => Act::Correct(Replacement::read(&event.data, kind_behind)),
                };
                let reason = event.data.get("reason").and_then(Value::as_str).unwrap_or_default().to_owned();
                (Entry::Act { target, act }, Some(ActWords { time: event.time, reason, subject }))
            }
        };
        Self {
            seq: leaf.seq,
            recorded_at: leaf.recorded_at,
            body_sha256: leaf.body_sha256,
            signers,
            id: EventId(ulid_number(&event.id).unwrap_or_default()),
            kind: kind_name(row, &event.kind),
            row,
            keyid: event.keyid,
            keycount: event.keycount,
            signedtime: Some(event.signedtime),
            latereason: event.latereason.clone(),
            entry,
            act,
            withheld: false,
        }
    }

    /// The same note after its body was withheld, from the `data` of the `body.withheld` (F23):
    /// exactly what a rebuild from the store can know. `None` if `facts` is no such data.
    #[must_use]
    pub fn withheld(facts: &Map<String, Value>, leaf: &Leaf, signers: Vec<Signer>) -> Option<Self> {
        let text = |name: &str| facts.get(name).and_then(Value::as_str);
        let kind = text("kind")?;
        let row = catalogue().kind(kind);
        let nothing = Map::new();
        let data = facts.get("replacement").and_then(Value::as_object).unwrap_or(&nothing);
        let subject = Arc::new(Subject::parse(text("subject")?)?);
        let time = Instant::parse(text("time")?).ok()?;
        let timeafter = text("timeafter").and_then(|text| Instant::parse(text).ok());
        Some(Self {
            seq: leaf.seq,
            recorded_at: leaf.recorded_at,
            body_sha256: leaf.body_sha256,
            signers,
            id: EventId(ulid_number(text("id")?)?),
            kind: kind_name(row, kind),
            row,
            keyid: KeyId::parse(text("keyid")?)?,
            keycount: facts.get("keycount").and_then(|count| whole::<_, u32>(count).ok()).flatten()?,
            signedtime: None,
            latereason: None,
            entry: Entry::Note(written(time, timeafter, subject, kind, data, true)),
            act: None,
            withheld: true,
        })
    }

    /// This note's leaf without its signatures, enough to make [`Note::withheld`] of it.
    #[must_use]
    pub fn bare_leaf(&self) -> Leaf {
        Leaf { seq: self.seq, recorded_at: self.recorded_at, subject_version: 0, body_sha256: self.body_sha256, signatures: Vec::new() }
    }

    /// Whether it governs the record (F22).
    #[must_use]
    pub fn governs(&self) -> bool {
        self.row.is_some_and(|kind| kind.governs)
    }

    /// What it says as written; `None` for an act.
    #[must_use]
    pub fn written(&self) -> Option<&Written> {
        match &self.entry {
            Entry::Note(written) => Some(written),
            Entry::Act { .. } => None,
        }
    }

    /// The subject as written.
    #[must_use]
    pub fn subject(&self) -> Option<&Subject> {
        self.written().map(|written| &*written.subject).or_else(|| self.act.as_ref().map(|act| &*act.subject))
    }

    /// The author's signature.
    #[must_use]
    pub fn author(&self) -> Option<&Signer> {
        self.signers.iter().find(|signer| signer.keyid == self.keyid)
    }

    /// The author's pseudonym.
    #[must_use]
    pub fn person(&self) -> Option<&str> {
        self.author().and_then(Signer::person)
    }

    /// Signatures of other persons whose keys were in force (F9).
    pub fn approvals(&self) -> impl Iterator<Item = &Signer> {
        let author = self.person();
        self.signers.iter().filter(move |signer| signer.in_force && signer.person().is_some() && signer.person() != author)
    }
}

fn written(
    time: Instant,
    timeafter: Option<Instant>,
    subject: Arc<Subject>,
    kind: &str,
    data: &Map<String, Value>,
    withheld: bool,
) -> Written {
    let told = Arc::new(Told::read(kind, data));
    Written { time, timeafter, subject, told, data: text_of(data), withheld }
}

fn kind_name(row: Option<&'static Kind>, name: &str) -> Cow<'static, str> {
    row.map_or_else(|| Cow::Owned(name.to_owned()), |kind| Cow::Borrowed(kind.name.as_str()))
}

fn text_of(data: &Map<String, Value>) -> Arc<str> {
    Arc::from(serde_json::to_string(data).unwrap_or_default())
}

/// The data behind its compact JSON.
#[must_use]
pub fn map_of(text: &str) -> Map<String, Value> {
    serde_json::from_str(text).unwrap_or_default()
}
