//! A note before it is signed (F5). Everything that this machine can check is checked here, so
//! that no count is spent on a note that the service must refuse.

use crate::fault::Fault;
use crate::keyfile::Identity;
use crate::outbox::Take;
use selachron_schemas::catalogue::catalogue;
use selachron_schemas::encoding::{base64, base64url};
use selachron_schemas::event::{Event, Seen};
use selachron_schemas::limits::{INTEGER_MAX, LATE_MINUTES};
use selachron_schemas::names::Subject;
use selachron_schemas::time::{Instant, MINUTE_MS};
use serde_json::{Map, Value, json};
use ulid::Ulid;

/// A note that says what happened to what, and when. It has no author yet.
#[derive(Debug, Clone, PartialEq)]
pub struct Draft {
    /// Kind and version, `egg.candled.v1`.
    pub kind: String,
    /// What it is about.
    pub subject: Subject,
    /// The kind's own members.
    pub data: Map<String, Value>,
    /// When it happened; `None` is the moment of writing.
    pub time: Option<Instant>,
    /// It happened after this and not after `time`.
    pub timeafter: Option<Instant>,
    /// Why it is written afterwards; needed beyond LATE_MINUTES.
    pub late: Option<String>,
    /// The subject's version that the writer has seen.
    pub expect: Option<u32>,
    /// A round.
    pub correlation: Option<String>,
    /// A decision.
    pub causation: Option<String>,
}

impl Draft {
    /// A note of this kind about this subject; `data` is a JSON object.
    #[must_use]
    pub fn new(kind: &str, subject: Subject, data: Value) -> Self {
        let data = match data {
            Value::Object(members) => members,
            // The schema check of `write` names the fault; a draft itself cannot fail.
            other => Map::from_iter([("data".to_owned(), other)]),
        };
        Self {
            kind: kind.to_owned(),
            subject,
            data,
            time: None,
            timeafter: None,
            late: None,
            expect: None,
            correlation: None,
            causation: None,
        }
    }

    /// When it happened.
    #[must_use]
    pub fn time(mut self, time: Instant) -> Self {
        self.time = Some(time);
        self
    }

    /// It happened after this and not after its time.
    #[must_use]
    pub fn timeafter(mut self, after: Instant) -> Self {
        self.timeafter = Some(after);
        self
    }

    /// Why it is written afterwards. Used only when the note is late indeed.
    #[must_use]
    pub fn late(mut self, reason: &str) -> Self {
        self.late = Some(reason.to_owned());
        self
    }

    /// The newest version of the subject that the writer has seen (0 for none).
    #[must_use]
    pub fn expect(mut self, version: u32) -> Self {
        self.expect = Some(version);
        self
    }

    /// The round it belongs to.
    #[must_use]
    pub fn correlation(mut self, id: &str) -> Self {
        self.correlation = Some(id.to_owned());
        self
    }

    /// The decision it follows from.
    #[must_use]
    pub fn causation(mut self, id: &str) -> Self {
        self.causation = Some(id.to_owned());
        self
    }

    /// Takes the author's next count and writes the body; both are kept in the author's outbox
    /// before this returns, and nothing is signed before.
    ///
    /// # Errors
    /// The note breaks the format or its kind's schema (the sentence names the member), it is
    /// late and says no reason, or the outbox cannot be written. Then no count is used.
    pub fn write(&self, author: &Identity, origin: &str, now: Instant, seen: Option<&Seen>) -> Result<Vec<u8>, Fault> {
        let whole = Whole { draft: self, author, origin, now, seen, id: new_ulid(now)?, nonce: nonce()? };
        whole.check()?;
        author.outbox().write(self.take(), |count| whole.body(count))
    }

    /// Whether this author could write it now; no count is used.
    ///
    /// # Errors
    /// As [`Draft::write`].
    pub fn check(&self, author: &Identity, origin: &str, now: Instant) -> Result<(), Fault> {
        Whole { draft: self, author, origin, now, seen: None, id: new_ulid(now)?, nonce: nonce()? }.check()
    }

    fn take(&self) -> Take {
        if self.kind == "note.abandoned.v1" { Take::Next } else { Take::Any }
    }
}

/// A draft with all that its body needs but the count.
struct Whole<'a> {
    draft: &'a Draft,
    author: &'a Identity,
    origin: &'a str,
    now: Instant,
    seen: Option<&'a Seen>,
    id: String,
    nonce: String,
}

impl Whole<'_> {
    /// The checks that need no count: a body with count 1 stands for any other.
    fn check(&self) -> Result<(), Fault> {
        if self.is_late() && self.draft.late.is_none() {
            let minutes = (self.now.0 - self.time().0) / MINUTE_MS;
            let detail =
                format!("it happened {minutes} minutes ago; beyond {LATE_MINUTES} minutes a note says why it is late (--late REASON)");
            return Err(Fault::Usage(detail));
        }
        let event = Event::parse(&self.body(1)?)?;
        if self.is_late() && event.latereason.as_deref().unwrap_or_default().is_empty() {
            return Err(Fault::Usage("the reason for being late is empty; say it in a few words (--late REASON)".to_owned()));
        }
        Ok(catalogue().check(&event)?)
    }

    fn time(&self) -> Instant {
        self.draft.time.unwrap_or(self.now)
    }

    fn is_late(&self) -> bool {
        self.now.0 - self.time().0 > LATE_MINUTES * MINUTE_MS
    }

    /// The body: attributes always in this order, compact.
    fn body(&self, count: u32) -> Result<Vec<u8>, Fault> {
        let mut members = Map::new();
        let mut put = |name: &str, value: Value| members.insert(name.to_owned(), value);
        put("specversion", json!("1.0"));
        put("id", json!(self.id));
        put("source", json!(format!("https://{}", self.origin)));
        put("type", json!(self.draft.kind));
        put("subject", json!(self.draft.subject));
        put("time", json!(self.time()));
        self.draft.timeafter.map(|after| put("timeafter", json!(after)));
        put("keyid", json!(self.author.keyid()));
        put("keycount", json!(count));
        put("nonce", json!(self.nonce));
        put("signedtime", json!(self.now));
        if let (true, Some(reason)) = (self.is_late(), &self.draft.late) {
            put("late", json!(true));
            put("latereason", json!(reason));
        }
        self.draft.expect.map(|version| put("expect", json!(version)));
        // A size beyond CloudEvents' Integer cannot be written down; the note does without.
        if let Some(seen) = self.seen.filter(|seen| seen.size <= INTEGER_MAX) {
            put("seensize", json!(seen.size));
            put("seenroot", json!(base64(&seen.root)));
            put("seensig", json!(base64(&seen.signature)));
        }
        self.draft.correlation.as_ref().map(|id| put("correlationid", json!(id)));
        self.draft.causation.as_ref().map(|id| put("causationid", json!(id)));
        put("data", Value::Object(self.draft.data.clone()));
        serde_json::to_vec(&members).map_err(|error| Fault::Failed(error.to_string()))
    }
}

/// A new ULID: the milliseconds of `now`, then 80 random bits.
///
/// # Errors
/// The system has no random bytes, or `now` lies before 1970.
pub fn new_ulid(now: Instant) -> Result<String, Fault> {
    let mut random = [0; 16];
    fill(&mut random[6..])?;
    let ms = u64::try_from(now.0).map_err(|_| Fault::Failed("the clock stands before 1970; set it".to_owned()))?;
    Ok(Ulid::from_parts(ms, u128::from_be_bytes(random)).to_string())
}

/// A new subject, such as `egg/<ULID>`.
///
/// # Errors
/// See [`new_ulid`]; or `noun` is no noun of the format (F1).
pub fn new_subject(noun: &str, now: Instant) -> Result<Subject, Fault> {
    let text = format!("{noun}/{}", new_ulid(now)?);
    Subject::parse(&text).ok_or_else(|| Fault::Usage(format!("{noun:?} is no noun that a subject may begin with")))
}

fn nonce() -> Result<String, Fault> {
    let mut bytes = [0; 16];
    fill(&mut bytes)?;
    Ok(base64url(&bytes))
}

fn fill(bytes: &mut [u8]) -> Result<(), Fault> {
    getrandom::fill(bytes).map_err(|error| Fault::Failed(format!("the system gives no random bytes: {error}")))
}
