//! What can be judged of an envelope before its place in the log is known: form, schema, source
//! and signature mathematics. It is costly and needs no order, so it runs in parallel.

use crate::catalogue::catalogue;
use crate::envelope::Envelope;
use crate::event::Event;
use crate::refusal::{Problem, Refusal};
use crate::signing::{KeyRing, Verified, verify};

/// A view of the log that is enough to open envelopes; cheap to clone, and it may be a little old.
#[derive(Debug, Clone, Default)]
pub struct Gate {
    /// The log's origin; `None` before the founding.
    pub origin: Option<String>,
    /// Every key ever known.
    pub ring: KeyRing,
    /// Off only for check vectors.
    pub schema_checks: bool,
}

/// An envelope that did not pass, with its id where the body could be read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stopped {
    /// The note's id.
    pub id: Option<String>,
    /// Why.
    pub refusal: Refusal,
}

impl Gate {
    /// Opens an envelope: the checks of F7 up to the author's signature, in that order.
    ///
    /// # Errors
    /// The first rule that fails.
    pub fn open(&self, bytes: &[u8]) -> Result<Verified, Stopped> {
        let stop = |refusal| Stopped { id: None, refusal };
        let envelope = Envelope::read(bytes).map_err(stop)?;
        let event = Event::parse(&envelope.body).map_err(stop)?;
        let id = Some(event.id.clone());
        self.examine(envelope, event).map_err(|refusal| Stopped { id, refusal })
    }

    /// The rest of [`Gate::open`], for whoever has read the envelope already.
    ///
    /// # Errors
    /// The first rule that fails.
    pub fn examine(&self, envelope: Envelope, event: Event) -> Result<Verified, Refusal> {
        if self.schema_checks {
            catalogue().check(&event)?;
        }
        self.check_source(&event)?;
        verify(envelope, event, &self.ring)
    }

    fn check_source(&self, event: &Event) -> Result<(), Refusal> {
        let origin = match &self.origin {
            Some(origin) => origin.as_str(),
            // Before the founding the founding note itself says where it belongs.
            None => event.data.get("origin").and_then(serde_json::Value::as_str).unwrap_or_default(),
        };
        if event.source.strip_prefix("https://") == Some(origin) {
            return Ok(());
        }
        let detail = format!("the note was written for {:?}; this log is \"https://{origin}\"", event.source);
        Err(Refusal::at(Problem::WrongLog, "/source", detail))
    }
}
