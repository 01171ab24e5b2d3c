//! One note, parsed: a CloudEvents 1.0 event with the attributes of F5 and no others. The bytes
//! it came from are kept elsewhere and are never made again from this.

use crate::encoding::{from_base64, from_base64_32, from_base64url};
use crate::limits::{CORRELATION_CHARS_MAX, EVENT_BYTES_MAX, INTEGER_MAX, LATE_REASON_CHARS_MAX};
use crate::names::{KeyId, Subject, is_kind, is_ulid};
use crate::refusal::Refusal;
use crate::time::Instant;
use serde_json::{Map, Value};

/// How the `latereason` of a note begins that was written on paper first and is transcribed; what
/// follows says which sheet and by whom (SPEC, choice 52).
pub const FROM_PAPER: &str = "from paper: ";

/// The newest checkpoint that the signing device had verified (F5).
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Seen {
    /// Its tree size, at least 1.
    pub size: u64,
    /// Its root.
    pub root: [u8; 32],
    /// The log's note signature over it, with the four bytes of its key id in front.
    pub signature: Vec<u8>,
}

/// A parsed note. It is well formed; nothing else is known of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Event {
    /// ULID made by the client; the idempotency key for ever.
    pub id: String,
    /// `https://` and the log's origin.
    pub source: String,
    /// Kind and version, `egg.candled.v1`.
    pub kind: String,
    /// What it is about.
    pub subject: Subject,
    /// When it happened: the observer's claim.
    pub time: Instant,
    /// It happened after this, and not after `time`.
    pub timeafter: Option<Instant>,
    /// The author's key.
    pub keyid: KeyId,
    /// The number of this note among the author key's notes.
    pub keycount: u32,
    /// The device's clock at signing.
    pub signedtime: Instant,
    /// `late` as written; judged later (F7's order).
    pub late: Option<bool>,
    /// Why it was written afterwards.
    pub latereason: Option<String>,
    /// The subject's version that the signer had seen.
    pub expect: Option<u32>,
    /// The newest checkpoint that the device had verified.
    pub seen: Option<Seen>,
    /// A round.
    pub correlationid: Option<String>,
    /// A decision.
    pub causationid: Option<String>,
    /// The kind's own members.
    pub data: Map<String, Value>,
}

impl Event {
    /// Reads a body strictly (F4, F5).
    ///
    /// # Errors
    /// `body-malformed`, with the JSON pointer of the member at fault.
    pub fn parse(body: &[u8]) -> Result<Self, Refusal> {
        if body.len() > EVENT_BYTES_MAX {
            let size = body.len();
            return Err(Refusal::body("", format!("the body has {size} bytes; at most {EVENT_BYTES_MAX} are allowed")));
        }
        let value = crate::ijson::parse(body).map_err(|reason| Refusal::body("", format!("the body is not strict JSON: {reason}")))?;
        let Value::Object(members) = value else {
            return Err(Refusal::body("", "the body is not a JSON object"));
        };
        Members(members).event()
    }
}

/// The attributes not yet taken.
struct Members(Map<String, Value>);

impl Members {
    fn event(mut self) -> Result<Event, Refusal> {
        self.fixed("specversion", "1.0", true)?;
        self.fixed("datacontenttype", "application/json", false)?;
        self.nonce()?;
        let event = Event {
            id: self.checked("id", "a ULID: 26 upper-case Crockford characters", is_ulid)?,
            source: self.checked("source", "a URI", |text| !text.is_empty())?,
            kind: self.checked("type", "a kind with its version, such as egg.candled.v1", is_kind)?,
            subject: self.subject()?,
            time: self.required("time").and_then(|v| instant("time", &v))?,
            timeafter: self.take("timeafter").map(|v| instant("timeafter", &v)).transpose()?,
            keyid: self.keyid()?,
            keycount: self.required("keycount").and_then(|v| integer("keycount", &v, 1))?,
            signedtime: self.required("signedtime").and_then(|v| instant("signedtime", &v))?,
            late: self.late()?,
            latereason: self.latereason()?,
            expect: self.take("expect").map(|v| integer("expect", &v, 0)).transpose()?,
            seen: self.seen()?,
            correlationid: self.words("correlationid")?,
            causationid: self.words("causationid")?,
            data: self.data()?,
        };
        if let Some(name) = self.0.keys().next() {
            return Err(Refusal::body(pointer(name), format!("{name:?} is no attribute of an event; remove it")));
        }
        if event.timeafter.is_some_and(|after| after >= event.time) {
            return Err(Refusal::body("/timeafter", "timeafter must lie before time"));
        }
        Ok(event)
    }

    fn take(&mut self, name: &str) -> Option<Value> {
        self.0.shift_remove(name)
    }

    fn required(&mut self, name: &str) -> Result<Value, Refusal> {
        self.take(name).ok_or_else(|| Refusal::body(pointer(name), format!("the attribute {name} is missing")))
    }

    fn text(&mut self, name: &str) -> Result<Option<String>, Refusal> {
        match self.take(name) {
            None => Ok(None),
            Some(Value::String(text)) => Ok(Some(text)),
            Some(_) => Err(Refusal::body(pointer(name), format!("{name} must be a string"))),
        }
    }

    fn checked(&mut self, name: &str, wanted: &str, fits: impl Fn(&str) -> bool) -> Result<String, Refusal> {
        let missing = || Refusal::body(pointer(name), format!("the attribute {name} is missing"));
        let text = self.text(name)?.ok_or_else(missing)?;
        if !fits(&text) {
            return Err(Refusal::body(pointer(name), format!("{name} {text:?} is not {wanted}")));
        }
        Ok(text)
    }

    fn fixed(&mut self, name: &str, value: &str, required: bool) -> Result<(), Refusal> {
        match self.text(name)? {
            Some(text) if text == value => Ok(()),
            None if !required => Ok(()),
            _ => Err(Refusal::body(pointer(name), format!("{name} must be {value:?}"))),
        }
    }

    fn nonce(&mut self) -> Result<(), Refusal> {
        let wanted = "16 random bytes in base64url, 22 characters";
        let fits = |text: &str| from_base64url(text).is_some_and(|bytes| bytes.len() == 16);
        self.checked("nonce", wanted, fits).map(|_| ())
    }

    fn subject(&mut self) -> Result<Subject, Refusal> {
        let text =
            self.checked("subject", "of the form collection, key/<keyid> or <noun>/<ULID>", |text| Subject::parse(text).is_some())?;
        Subject::parse(&text).ok_or_else(|| Refusal::body("/subject", "not a subject"))
    }

    fn keyid(&mut self) -> Result<KeyId, Refusal> {
        let text = self.checked("keyid", "32 lower-case hexadecimal characters", |text| KeyId::parse(text).is_some())?;
        KeyId::parse(&text).ok_or_else(|| Refusal::body("/keyid", "not a key id"))
    }

    fn late(&mut self) -> Result<Option<bool>, Refusal> {
        match self.take("late") {
            None => Ok(None),
            Some(Value::Bool(late)) => Ok(Some(late)),
            Some(_) => Err(Refusal::body("/late", "late must be true or absent")),
        }
    }

    fn latereason(&mut self) -> Result<Option<String>, Refusal> {
        let reason = self.text("latereason")?;
        if reason.as_ref().is_some_and(|text| text.chars().count() > LATE_REASON_CHARS_MAX) {
            return Err(Refusal::body("/latereason", format!("latereason is longer than {LATE_REASON_CHARS_MAX} characters")));
        }
        Ok(reason)
    }

    fn words(&mut self, name: &str) -> Result<Option<String>, Refusal> {
        let text = self.text(name)?;
        match &text {
            Some(words) if words.is_empty() || words.chars().count() > CORRELATION_CHARS_MAX => {
                Err(Refusal::body(pointer(name), format!("{name} must have 1 to {CORRELATION_CHARS_MAX} characters, or be absent")))
            }
            _ => Ok(text),
        }
    }

    fn seen(&mut self) -> Result<Option<Seen>, Refusal> {
        let (size, root, signature) = (self.take("seensize"), self.text("seenroot")?, self.text("seensig")?);
        let (size, root, signature) = match (size, root, signature) {
            (None, None, None) => return Ok(None),
            (Some(size), Some(root), Some(signature)) => (size, root, signature),
            _ => return Err(Refusal::body("/seensize", "seensize, seenroot and seensig go together: all three or none")),
        };
        Ok(Some(Seen {
            size: u64::from(integer("seensize", &size, 1)?),
            root: from_base64_32(&root).ok_or_else(|| Refusal::body("/seenroot", "seenroot must be 32 bytes in base64"))?,
            signature: from_base64(&signature).ok_or_else(|| Refusal::body("/seensig", "seensig must be base64"))?,
        }))
    }

    fn data(&mut self) -> Result<Map<String, Value>, Refusal> {
        match self.required("data")? {
            Value::Object(data) => Ok(data),
            _ => Err(Refusal::body("/data", "data must be an object")),
        }
    }
}

fn pointer(name: &str) -> String {
    format!("/{}", name.replace('~', "~0").replace('/', "~1"))
}

fn instant(name: &str, value: &Value) -> Result<Instant, Refusal> {
    let text = value.as_str().ok_or_else(|| Refusal::body(pointer(name), format!("{name} must be a string")))?;
    Instant::parse(text).map_err(|reason| Refusal::body(pointer(name), reason))
}

/// A CloudEvents Integer: only plain digits reach us as `u64`, so `1e2`, `1.0` and `-0` do not.
fn integer(name: &str, value: &Value, least: u64) -> Result<u32, Refusal> {
    value.as_u64().filter(|number| (least..=INTEGER_MAX).contains(number)).and_then(|number| u32::try_from(number).ok()).ok_or_else(|| {
        Refusal::body(pointer(name), format!("{name} must be a whole number from {least} to {INTEGER_MAX}, written in plain digits"))
    })
}
