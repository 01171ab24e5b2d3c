//! A note as the season plans it: all of it but what exists only once keys are made and notes
//! are recorded (ids, seqs, hashes). Those gaps are named, and filled while the season is played.

use super::calendar::after_minutes;
use super::people::Signer;
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use serde_json::{Map, Value};

/// A planned note, by the order in which the season thought of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Handle(pub usize);

/// What a note is about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum About {
    /// A subject known beforehand.
    Subject(Subject),
    /// A signer's key; its id exists once the key is made.
    KeyOf(Signer),
}

/// Something that is known only while the season is played.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Known {
    /// The id of a note.
    IdOf(Handle),
    /// The ids of two notes.
    IdsOf([Handle; 2]),
    /// The seq of a recorded note.
    SeqOf(Handle),
    /// SHA-256 of a recorded note's body, in base64.
    BodyHashOf(Handle),
    /// The count of a note.
    CountOf(Handle),
    /// A public key, in base64.
    PublicKeyOf(Signer),
    /// The root keys with their persons.
    RootKeys,
    /// The log's verifier key.
    LogKey,
    /// One part of the annual report that is being issued.
    Report(ReportPart),
}

/// A part of the report that is being issued.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ReportPart {
    /// The address it was read from.
    Query,
    /// The instant it is about.
    AsOf,
    /// The tree size it knew.
    KnownAt,
    /// The root of that size.
    Root,
    /// SHA-256 of its JSON, in hexadecimal.
    Sha256,
    /// What computed it.
    Software,
    /// The time zone database it used.
    TimeZones,
}

/// How a written note reaches the log.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sending {
    /// With the others of the day, when the tablets are put down in the evening.
    Evening,
    /// As soon as it is signed.
    AtOnce,
    /// Later: it waits on its device until then.
    Waits(Instant),
    /// Never: it was lost with its device's memory. Its count stays used.
    Never,
}

/// One note, planned.
#[derive(Debug, Clone, PartialEq)]
pub struct Planned {
    /// By what the season calls it.
    pub handle: Handle,
    /// Its kind with the version.
    pub kind: &'static str,
    /// What it is about.
    pub about: About,
    /// Whose note it is.
    pub author: Signer,
    /// Who signs the same body besides.
    pub approvals: Vec<Signer>,
    /// When it happened.
    pub time: Instant,
    /// It happened after this.
    pub timeafter: Option<Instant>,
    /// When the device signed it.
    pub signed_at: Instant,
    /// Why it was written afterwards.
    pub late_reason: Option<String>,
    /// Whether it expects the newest version of its subject that the log has told.
    pub expects_newest: bool,
    /// The round it belongs to.
    pub round: Option<String>,
    /// The kind's own members, without those of `gaps`.
    pub data: Map<String, Value>,
    /// Members of `data` that are filled while the season is played.
    pub gaps: Vec<(&'static str, Known)>,
    /// How it reaches the log.
    pub sending: Sending,
}

impl Planned {
    /// A note about a subject.
    #[must_use]
    pub fn new(kind: &'static str, subject: &Subject, author: Signer, time: Instant) -> Self {
        Self::about(kind, About::Subject(subject.clone()), author, time)
    }

    /// A note about a subject or a key. It is signed within the minute and sent in the evening.
    #[must_use]
    pub fn about(kind: &'static str, about: About, author: Signer, time: Instant) -> Self {
        Self {
            handle: Handle(0),
            kind,
            about,
            author,
            approvals: Vec::new(),
            time,
            timeafter: None,
            signed_at: time.plus_ms(21_000),
            late_reason: None,
            expects_newest: false,
            round: None,
            data: Map::new(),
            gaps: Vec::new(),
            sending: Sending::Evening,
        }
    }

    /// With these members of `data`; a member that is null is left out.
    #[must_use]
    pub fn data(mut self, data: Value) -> Self {
        if let Value::Object(members) = data {
            self.data.extend(members.into_iter().filter(|(_, value)| !value.is_null()));
        }
        self
    }

    /// It happened after that.
    #[must_use]
    pub fn after(mut self, time: Instant) -> Self {
        self.timeafter = Some(time);
        self
    }

    /// With further signatures over the same body.
    #[must_use]
    pub fn approved_by(mut self, approvals: &[Signer]) -> Self {
        self.approvals.extend_from_slice(approvals);
        self
    }

    /// Signed so many minutes after it happened, for a reason.
    #[must_use]
    pub fn late(mut self, minutes: i64, reason: &str) -> Self {
        self.signed_at = after_minutes(self.time, minutes);
        self.late_reason = Some(reason.to_owned());
        self
    }

    /// Sent as said.
    #[must_use]
    pub fn sent(mut self, sending: Sending) -> Self {
        self.sending = sending;
        self
    }

    /// A decision made on line: sent at once, expecting what the log last told of its subject.
    #[must_use]
    pub fn decided(mut self) -> Self {
        self.expects_newest = true;
        self.sending = Sending::AtOnce;
        self
    }

    /// Part of a round.
    #[must_use]
    pub fn in_round(mut self, round: String) -> Self {
        self.round = Some(round);
        self
    }

    /// With a member that is filled while the season is played.
    #[must_use]
    pub fn gap(mut self, member: &'static str, known: Known) -> Self {
        self.gaps.push((member, known));
        self
    }

    /// Whether its device could not reach the log when it was signed.
    #[must_use]
    pub fn waited(&self) -> bool {
        matches!(self.sending, Sending::Waits(_))
    }
}

/// What the log is asked to take at one moment of its clock.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// What the service's clock says.
    pub clock: Instant,
    /// The notes, in the order in which they were signed.
    pub sends: Vec<Handle>,
    /// Whether some of them waited on a device that was off line.
    pub after_offline: bool,
}
