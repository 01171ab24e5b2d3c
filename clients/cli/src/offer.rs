//! Offering a note for further signatures: the service's waiting place keeps it until it has them.

use crate::answer::Outcome;
use crate::client::Client;
use crate::fault::Fault;
use serde_json::Value;

/// What became of a note that was offered for further signatures.
#[derive(Debug)]
pub enum Offered {
    /// It had all it wants.
    Settled(Box<Outcome>),
    /// It waits; the service's answer says for what.
    Waits(Value),
}

impl Client {
    /// Offers an envelope to the service's waiting place: it is recorded if it has all the
    /// signatures it wants, and waits there for them if not.
    ///
    /// # Errors
    /// The refusal, unreachable, or broken when its receipt does not hold.
    pub fn offer(&self, envelope: &str) -> Result<Offered, Fault> {
        let log_key = self.log_key()?;
        let text = self.transport().post("/v1/waiting", "application/json", envelope)?;
        let answer: Value =
            serde_json::from_str(&text).map_err(|error| Fault::Failed(format!("the service's answer is not JSON: {error}")))?;
        if answer.get("status").and_then(Value::as_str) == Some("waiting") {
            return Ok(Offered::Waits(answer));
        }
        let busy = || Fault::Unreachable("the service is busy; the note can be offered again".to_owned());
        Ok(Offered::Settled(Box::new(self.settle_line(envelope, &answer, &log_key)?.ok_or_else(busy)?)))
    }
}
